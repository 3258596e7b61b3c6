"""Names that belong together: pairs that are linked in, one name for each family out."""

from __future__ import annotations

from collections.abc import Hashable


class UnionFind:
    """Families of names; two names are of one family where links lead from one to the other."""

    def __init__(self) -> None:
        self._root: dict[Hashable, Hashable] = {}

    def family(self, name: Hashable) -> Hashable:
        """One name of the family, the same for all in it."""
        root = self._root
        while root.setdefault(name, name) != name:
            root[name] = root[root[name]]
            name = root[name]
        return name

    def link(self, one: Hashable, two: Hashable) -> None:
        self._root[self.family(one)] = self.family(two)
