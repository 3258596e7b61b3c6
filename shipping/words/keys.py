"""How lines and departures are named in every room; keys with their numbers, values and families."""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterable, Iterator
from datetime import date
from typing import Generic, TypeVar

#: An order's name and the number of its line.
LineKey = tuple[str, int]
#: The name of an order that sends a line of another again, perhaps not for the first time; it has one line.
OWED_AGAIN = re.compile(r"([^\s(]+?)-(\d+)-again((?:-1-again)*)(?:/1)?(?!\w)")
#: A dispatch day and a service.
Departure = tuple[date, str]
T = TypeVar("T")
Key = TypeVar("Key")


def owed_order(key: LineKey) -> str:
    """The name of the order that sends a line again: ``S10-2-again``."""
    return f"{key[0]}-{key[1]}-again"


def grouped(pairs: Iterable[tuple[Key, T]]) -> dict[Key, list[T]]:
    """The values of each key, keys and values in the order in which they come."""
    values: dict[Key, list[T]] = {}
    for key, value in pairs:
        values.setdefault(key, []).append(value)
    return values


def in_turn(name: str) -> tuple[bool, int, str]:
    """For sorting names as a person counts: numbers by their value, then all others."""
    return (False, int(name), name) if name.isdecimal() else (True, 0, name)


def numbered(keys: Iterable[object]) -> list[int]:
    """A number for each key, the same for equal ones, counted from 0."""
    known: dict[object, int] = {}
    return [known.setdefault(key, len(known)) for key in keys]


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


def repeated(pairs: Iterable[tuple[Key, T]]) -> Iterator[tuple[T, T]]:
    """Each value whose key came before, behind the first value of that key."""
    first: dict[Key, T] = {}
    for key, value in pairs:
        earlier = first.setdefault(key, value)
        if earlier is not value:
            yield earlier, value


class IdentityKey(Generic[T]):
    """Holds a value and compares by identity, so that a cache never mixes two that are alike."""

    __slots__ = ("value",)

    def __init__(self, value: T) -> None:
        self.value = value

    def __hash__(self) -> int:
        return id(self.value)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, IdentityKey) and other.value is self.value
