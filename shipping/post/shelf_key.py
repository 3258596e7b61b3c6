"""A shelf as the key of a cache: two keys are equal only if they hold the very same shelf."""

from __future__ import annotations

from shipping.tables.shelf import Shelf


class ShelfKey:
    """Holds a shelf (which never changes) and compares by identity, so that a cache never mixes two shelves."""

    __slots__ = ("shelf",)

    def __init__(self, shelf: Shelf) -> None:
        self.shelf = shelf

    def __hash__(self) -> int:
        return id(self.shelf)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, ShelfKey) and other.shelf is self.shelf
