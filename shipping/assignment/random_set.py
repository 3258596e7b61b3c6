"""Numbers of which some are drawn by lot: put in, taken out and drawn in the same time however many there
are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from random import Random
from typing import TypeVar

Thing = TypeVar("Thing")


class RandomSet:
    """Different numbers; which is drawn depends on what was put in and taken out, and on the chance."""

    def __init__(self) -> None:
        self._numbers: list[int] = []
        self._at: dict[int, int] = {}

    def __len__(self) -> int:
        return len(self._numbers)

    def __iter__(self) -> Iterator[int]:
        return iter(tuple(self._numbers))

    def add(self, number: int) -> None:
        """Put a number in, if it is not there."""
        if number not in self._at:
            self._at[number] = len(self._numbers)
            self._numbers.append(number)

    def discard(self, number: int) -> None:
        """Take a number out, if it is there."""
        at = self._at.pop(number, None)
        if at is not None:
            last = self._numbers.pop()
            if last != number:
                self._numbers[at], self._at[last] = last, at

    def one(self, chance: Random) -> int:
        """One of the numbers; there must be some."""
        return self._numbers[int(chance.random() * len(self._numbers))]

    def some(self, chance: Random, most: int) -> list[int]:
        """So many of the numbers, or all where there are fewer."""
        return some_of(self._numbers, most, chance)


def some_of(things: Sequence[Thing], most: int, chance: Random) -> list[Thing]:
    """So many of some things in an order drawn by lot, or all where there are fewer; a few of many are drawn
    faster than by the library.
    """
    pool, random = list(things), chance.random
    count = len(pool)
    for n in range(min(most, count)):
        other = n + int(random() * (count - n))
        pool[n], pool[other] = pool[other], pool[n]
    return pool[:most]
