"""Some work in two parts and what to make of each in, what came of both out; in two processes where that pays."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection
from typing import TypeVar

from shipping.week.side_by_side import can_fork

Made = TypeVar("Made")
Part = TypeVar("Part")

#: Fewer parts than this are done before a second process has begun.
MANY_PARTS = 200


def _halves(parts: Sequence[Part]) -> tuple[Sequence[Part], Sequence[Part]]:
    """The first and the second half."""
    middle = (len(parts) + 1) // 2
    return parts[:middle], parts[middle:]


def of_two_parts(parts: Sequence[Part], make: Callable[[Sequence[Part]], Made], processes: int = 2) -> tuple[Made, ...]:
    """What ``make`` makes of the first half of some parts and of the second, or of all where one process does it.

    What it makes is to be the same whichever parts stand beside one another. It may return anything that can be pickled.
    Where a process cannot be forked, or the second one fails, this one does it all.
    """
    if processes < 2 or len(parts) < MANY_PARTS or not can_fork():
        return (make(parts),)
    import multiprocessing

    context = multiprocessing.get_context("fork")
    mine, others = _halves(parts)
    ours, theirs = context.Pipe(duplex=False)
    second = context.Process(target=_send, args=(theirs, others, make))
    second.start()
    theirs.close()
    made = make(mine)
    try:
        rest: Made = pickle.loads(ours.recv_bytes())
    except EOFError:
        rest = make(others)
    second.join()
    return made, rest


def _send(to: Connection, parts: Sequence[Part], make: Callable[[Sequence[Part]], object]) -> None:
    """What the second process does."""
    to.send_bytes(pickle.dumps(make(parts), protocol=pickle.HIGHEST_PROTOCOL))
    to.close()
