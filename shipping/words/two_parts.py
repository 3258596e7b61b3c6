"""Some work in two parts and what to make of each in, what came of both out; in two processes where that
pays.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from shipping.words.second_process import Beside, can_fork

Made = TypeVar("Made")
Part = TypeVar("Part")

#: Fewer parts than this are done before a second process has begun.
MANY_PARTS = 200


def _halves(parts: Sequence[Part]) -> tuple[Sequence[Part], Sequence[Part]]:
    """The first and the second half."""
    middle = (len(parts) + 1) // 2
    return parts[:middle], parts[middle:]


def of_two_parts(
    parts: Sequence[Part], make: Callable[[Sequence[Part]], Made], processes: int = 2
) -> tuple[Made, ...]:
    """What ``make`` makes of the first half of some parts and of the second, or of all where one process does
    it.

    What it makes is to be the same whichever parts stand beside one another. It may return anything that can
    be pickled. Where a process cannot be forked, or the second one fails, this one does it all.
    """
    if processes < 2 or len(parts) < MANY_PARTS or not can_fork():
        return (make(parts),)
    mine, others = _halves(parts)
    second = Beside(lambda: make(others))
    return make(mine), second.found()
