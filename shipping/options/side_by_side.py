"""A week's option tables and what to make of each in, what came of each, in order, out; in two processes
where that pays.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, TypeVar

from shipping.options.option_arrays import OptionTable
from shipping.words.second_process import can_fork

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

Made = TypeVar("Made")

#: Fewer counts asked of lots than this are reckoned before a second process has begun.
MANY_ASKED = 3000


def of_each(
    tables: Sequence[OptionTable],
    make: Callable[[OptionTable], Made],
    processes: int = 2,
    many: int | None = None,
) -> list[Made]:
    """What ``make`` makes of each table, in their order: the same whether one process does it or two.

    ``make`` may return anything that can be pickled, best little: what the second process made is sent to
    this one. Where a process cannot be forked (another system, other threads at work), or the second one
    fails, this one does it all. A table forgets what it reckoned once it was made something of, so that few
    are in memory at once. Fewer counts asked of lots than ``many`` (`MANY_ASKED`) are left to one process.
    """
    mine, others = _halves(tables)
    asked = sum(table.asked_of_lots for table in tables)
    is_small = processes < 2 or not others or asked < (MANY_ASKED if many is None else many)
    if (
        is_small or not can_fork() or not tables[0].factors.journeys.legs
    ):  # the legs, so that both processes find them
        return [_made(table, make) for table in tables]
    import multiprocessing

    context = multiprocessing.get_context("fork")
    ours, theirs = context.Pipe(duplex=False)
    second = context.Process(target=_send, args=(theirs, [tables[n] for n in others], make))
    second.start()
    theirs.close()
    made = {n: _made(tables[n], make) for n in mine}
    for n in others:
        try:
            made[n] = pickle.loads(ours.recv_bytes())
        except (EOFError, OSError):  # it died, perhaps while it sent
            made[n] = _made(tables[n], make)
    second.join()
    return [made[n] for n in range(len(tables))]


def _made(table: OptionTable, make: Callable[[OptionTable], Made]) -> Made:
    made = make(table)
    table.forget()
    return made


def _send(to: Connection, tables: Sequence[OptionTable], make: Callable[[OptionTable], object]) -> None:
    """What the second process does: it sends when all is made, for the first one listens only when its own
    is.
    """
    made = [_made(table, make) for table in tables]
    while made:
        to.send_bytes(pickle.dumps(made.pop(0), protocol=pickle.HIGHEST_PROTOCOL))
    to.close()


def _halves(tables: Sequence[OptionTable]) -> tuple[list[int], list[int]]:
    """The tables' numbers in two parts of about equal work: the greatest first, each to the part that has
    less so far.
    """
    work = [10 * len(table.lots) + table.asked_of_lots for table in tables]
    parts: tuple[list[int], list[int]] = ([], [])
    loads = [0, 0]
    for n in sorted(range(len(tables)), key=lambda n: (-work[n], n)):
        lighter = 0 if loads[0] <= loads[1] else 1
        parts[lighter].append(n)
        loads[lighter] += work[n]
    return sorted(parts[0]), sorted(parts[1])
