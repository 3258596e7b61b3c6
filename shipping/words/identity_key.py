"""An unchanging value as the key of a cache: two keys are equal only if they hold the very same value."""

from __future__ import annotations

from typing import Generic, TypeVar

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
