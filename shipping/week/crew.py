"""Several small tasks chosen side by side: tasks in, choices out in the same order; how many cores there are changes nothing."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from types import TracebackType

from shipping.week.program import Budget
from shipping.week.side_by_side import can_fork
from shipping.week.task import Chosen, Task

#: A task, the time for it, and whether its cost matters yet.
Job = tuple[Task, Budget, bool]
Choose = Callable[[Task, Budget, bool], Chosen]
#: Parts chosen side by side: the same everywhere, so that the plan is the same everywhere.
SIDE_BY_SIDE = 2


class Crew:
    """Processes that choose; on one core, or where other threads run, this process chooses one task after the other."""

    size = SIDE_BY_SIDE

    def __init__(self, choose: Choose) -> None:
        self._choose = choose
        cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
        self._pool = ProcessPoolExecutor(SIDE_BY_SIDE, get_context("fork")) if can_fork() and cores > 1 else None

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def choose(self, jobs: Sequence[Job]) -> list[Chosen]:
        """The choice of each job."""
        if self._pool is None or len(jobs) == 1:
            return [self._choose(*job) for job in jobs]
        return [future.result() for future in [self._pool.submit(self._choose, *job) for job in jobs]]
