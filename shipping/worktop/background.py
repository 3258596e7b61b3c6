"""Long work for a page, done in the background of its requests: a name in; what came of the work of that
name, once it is there, out.

A page asks for it, is told that it is on its way and how far it is, and asks again.
"""

from __future__ import annotations

import contextvars
import threading
import time
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.sentence import say

T = TypeVar("T")
#: The page that asked goes out first [s].
_ANSWER_FIRST_S = 0.05
#: So long a page waits for work before it shows how far it is; and nothing waits longer than the other [s].
_AWHILE_S, LONGEST_WORK_S = 1.5, 600.0


@dataclass(slots=True)
class Going:
    """Work on its way: since when [monotonic s], what it reached, and cannot pass (0: unknown)."""

    began: float = field(default_factory=time.monotonic)
    value: float = 0.0
    bound: float = 0.0
    asked_to_stop: threading.Event = field(default_factory=threading.Event)
    thread: threading.Thread | None = None

    @property
    def seconds(self) -> int:
        return int(time.monotonic() - self.began)

    @property
    def is_stopped(self) -> bool:
        return self.asked_to_stop.is_set()

    def tell(self, value: float, bound: float) -> None:
        """It has come so far; the best that was reached is kept."""
        self.value, self.bound = max(value, self.value), bound


class Background(Generic[T]):
    """Works by name, each done once for its key; ``aside`` False does them while one waits.

    ``failing`` says what could not be done where our own mistake ended it; ``key`` gives what the work of a
    name rests on now, and ``work`` does it.
    """

    def __init__(
        self,
        failing: str,
        key: Callable[[str], Hashable],
        work: Callable[[str, Going], T],
        aside: bool = True,
    ) -> None:
        self.failing, self.key, self.work, self.aside = failing, key, work, aside
        self._lock = threading.Lock()
        self._done: dict[str, tuple[Hashable, T | ShelfProblems]] = {}
        self._going: dict[tuple[str, Hashable], Going] = {}

    def ask(self, name: str = "") -> T | None:
        """What came of the work; None while it goes on. Raises ShelfProblems if it cannot be done."""
        key = self.key(name)
        with self._lock:
            done = self._done.get(name)
            if done is not None and done[0] == key:
                if isinstance(done[1], ShelfProblems):
                    raise done[1]
                return done[1]
            if self.aside and (name, key) in self._going:
                return None
            going = self._going[name, key] = Going()
            if self.aside:
                doing = (self._do, name, key, going)
                going.thread = threading.Timer(_ANSWER_FIRST_S, contextvars.copy_context().run, doing)
                going.thread.daemon = True
        if going.thread is not None:
            going.thread.start()
            return None
        self._do(name, key, going)
        return self.ask(name)

    def ask_awhile(self, name: str = "") -> T | None:
        """As `ask`; work that takes no longer than a page may is waited for."""
        answer, until = self.ask(name), time.monotonic() + _AWHILE_S
        while answer is None and time.monotonic() < until:
            self.settle(until - time.monotonic())
            answer = self.ask(name)
        return answer

    def wait(self, name: str = "") -> T:
        """What came of the work, once it is there."""
        while (answer := self.ask(name)) is None:
            self.settle()
        return answer

    def going(self, name: str = "") -> Going:
        """How far the work of that name is."""
        with self._lock:
            return next((going for key, going in self._going.items() if key[0] == name), Going())

    def stop(self, name: str = "") -> None:
        """What is done by now will do, if the work does not end by itself before."""
        with self._lock:
            for key, going in self._going.items():
                if key[0] == name:
                    going.asked_to_stop.set()

    def forget(self, name: str = "") -> None:
        """The work is done again when it is next asked for."""
        with self._lock:
            self._done.pop(name, None)

    def settle(self, seconds: float = LONGEST_WORK_S) -> None:
        """Waits until nothing goes on, but no longer than that."""
        until = time.monotonic() + seconds
        with self._lock:
            threads = [going.thread for going in self._going.values() if going.thread is not None]
        for thread in threads:
            thread.join(max(0.0, until - time.monotonic()))

    def _do(self, name: str, key: Hashable, going: Going) -> None:
        done: T | ShelfProblems
        try:
            done = self.work(name, going)
        except ShelfProblems as problems:
            done = problems
        except Exception as bug:
            text = say("{failing}: {bug}.", say(self.failing), f"{type(bug).__name__}: {str(bug)[:200]}")
            mend = "This is our own mistake; please report it."
            done = ShelfProblems((Problem(Where("page"), "", "page", text, mend),))
        with self._lock:
            self._done[name] = (key, done)
            self._going.pop((name, key), None)
