"""One piece of work done in a second process while this one goes on: a function without arguments in, what it
returns out.
"""

from __future__ import annotations

import os
import pickle
import threading
from collections.abc import Callable
from typing import Generic, TypeVar

Found = TypeVar("Found")


class Beside(Generic[Found]):
    """Work begun in a forked process; where that cannot be, or it fails there, it is done here when it is
    asked for.
    """

    def __init__(self, work: Callable[[], Found]) -> None:
        self._work = work
        self._process = None
        if can_fork() and _cores() > 1:
            import multiprocessing

            context = multiprocessing.get_context("fork")
            self._ours, theirs = context.Pipe(duplex=False)

            def send() -> None:
                theirs.send_bytes(pickle.dumps(work(), protocol=pickle.HIGHEST_PROTOCOL))
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

    def found(self) -> Found:
        """What the work returned, when it is done."""
        if self._process is None:
            return self._work()
        try:
            found: Found = pickle.loads(self._ours.recv_bytes())
        except (EOFError, OSError):  # it died, perhaps while it sent
            found = self._work()
        self._process.join()
        self._process = None
        self._work = lambda: found
        return found


def can_fork() -> bool:
    """May a second process be forked? Not on every system, and not while other threads are at work."""
    import multiprocessing

    return "fork" in multiprocessing.get_all_start_methods() and threading.active_count() == 1


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
