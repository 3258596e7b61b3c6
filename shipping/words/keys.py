"""How an order's line and a departure are named in every room; and an unchanging value as a cache's key."""

from __future__ import annotations

from datetime import date
from typing import Generic, TypeVar

#: An order's name and the number of its line.
LineKey = tuple[str, int]
#: A dispatch day and a service.
Departure = tuple[date, str]

T = TypeVar("T")


class IdentityKey(Generic[T]):
    """Holds a value and compares by identity, so that a cache never mixes two that are alike."""

    __slots__ = ("value",)

    def __init__(self, value: T) -> None:
        self.value = value

    def __hash__(self) -> int:
        return id(self.value)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, IdentityKey) and other.value is self.value
