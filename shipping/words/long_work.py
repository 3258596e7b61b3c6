"""Long work: a function, or parts and what to make of them, in; what came of it out, from a second process
while this one goes on, and without looks for rubbish among what is all kept.

Only this module forks. Whatever is made is the same from one process or two; where none can be forked
(another system, other threads at work, one core), or the second one fails, this one does it all.
"""

from __future__ import annotations

import gc
import os
import pickle
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Generic, TypeVar

Result = TypeVar("Result")
Part = TypeVar("Part")
#: Fewer parts than this are done before a second process has begun.
MANY_PARTS = 200


class SecondProcess(Generic[Result]):
    """Work begun in a forked process; where that cannot be, or fails, it is done here when asked for."""

    def __init__(self, work: Callable[[], Result]) -> None:
        self._work = work
        self._process = None
        if can_fork() and _cores() > 1:
            import multiprocessing

            context = multiprocessing.get_context("fork")
            self._ours, theirs = context.Pipe(duplex=False)

            def send() -> None:
                gc.disable()  # a look at all there is would copy it
                try:
                    theirs.send_bytes(pickle.dumps(work(), protocol=pickle.HIGHEST_PROTOCOL))
                except BaseException:  # Ctrl-C too: what there is to say is said by the first process
                    os._exit(1)
                theirs.close()

            self._process = context.Process(target=send)
            self._process.start()
            theirs.close()

    @property
    def is_done(self) -> bool:
        """Has a second process done it, and was it not asked for yet?"""
        return self._process is not None and self._ours.poll()

    def stop(self) -> None:
        """Give it up."""
        if self._process is not None:
            self._process.terminate()
            self._process.join()
            self._process = None

    def result(self) -> Result:
        """What the work returned, when it is done."""
        if self._process is None:
            return self._work()
        try:
            made: Result = pickle.loads(self._ours.recv_bytes())
        except (EOFError, OSError):  # it died, perhaps while it sent
            made = self._work()
        self._process.join()
        self._process = None
        self._work = lambda: made
        return made


def of_two_halves(
    parts: Sequence[Part], make: Callable[[Sequence[Part]], Result], processes: int = 2
) -> tuple[Result, ...]:
    """What ``make`` makes of the first half of some parts and of the second, or of all where one process does
    it.

    What it makes is to be the same whichever parts stand beside one another, and can be pickled.
    """
    if processes < 2 or len(parts) < MANY_PARTS or not can_fork():
        return (make(parts),)
    middle = (len(parts) + 1) // 2
    second = SecondProcess(lambda: make(parts[middle:]))
    return make(parts[:middle]), second.result()


def of_each(
    parts: Sequence[Part],
    make: Callable[[Part], Result],
    work: Callable[[Part], int],
    least: int,
    processes: int = 2,
) -> list[Result]:
    """What ``make`` makes of each part, in their order, best little; in two processes from ``least`` work on.

    ``work``: how much a part is; the greatest come first, each where there is less to do so far.
    """
    loads = [work(part) for part in parts]
    if processes < 2 or len(parts) < 2 or sum(loads) < least or not can_fork():
        return [make(part) for part in parts]
    mine, others = _balanced(loads)
    second = SecondProcess(lambda: [make(parts[n]) for n in others])
    made = {n: make(parts[n]) for n in mine} | dict(zip(others, second.result(), strict=True))
    return [made[n] for n in range(len(parts))]


def _balanced(loads: Sequence[int]) -> tuple[list[int], list[int]]:
    """Numbers of parts in two shares of about equal work."""
    shares: tuple[list[int], list[int]] = ([], [])
    done = [0, 0]
    for n in sorted(range(len(loads)), key=lambda n: (-loads[n], n)):
        lighter = 0 if done[0] <= done[1] else 1
        shares[lighter].append(n)
        done[lighter] += loads[n]
    return sorted(shares[0]), sorted(shares[1])


def can_fork() -> bool:
    """May a second process be forked? Not on every system, and not while other threads are at work."""
    import multiprocessing

    return "fork" in multiprocessing.get_all_start_methods() and threading.active_count() == 1


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def all_is_kept() -> Iterator[None]:
    """Python looks for no rubbish within, as most is kept: of 20,000 orders 4 s of 11. A decorator, too."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()
