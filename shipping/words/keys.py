"""How lines and departures are named in every room; values by their key, and one as the key of a cache."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Generic, TypeVar

#: An order's name and the number of its line.
LineKey = tuple[str, int]
#: A dispatch day and a service.
Departure = tuple[date, str]

T = TypeVar("T")
Key = TypeVar("Key")


def grouped(pairs: Iterable[tuple[Key, T]]) -> dict[Key, list[T]]:
    """The values of each key, keys and values in the order in which they come."""
    values: dict[Key, list[T]] = {}
    for key, value in pairs:
        values.setdefault(key, []).append(value)
    return values


class IdentityKey(Generic[T]):
    """Holds a value and compares by identity, so that a cache never mixes two that are alike."""

    __slots__ = ("value",)

    def __init__(self, value: T) -> None:
        self.value = value

    def __hash__(self) -> int:
        return id(self.value)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, IdentityKey) and other.value is self.value
