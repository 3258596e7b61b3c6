"""The week planned from what stands now: a state and a week in, a plan out, beside the requests.

A plan takes about a second; a page asks for it, is told that it is on its way, and asks again.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shipping.ledger.planning_again import planned_again, shelf_left, with_held_orders
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.worktop.shelf_state import ShelfState

if TYPE_CHECKING:
    from shipping.tables.shelf import Shelf
    from shipping.week.plan_data import Plan

_Key = tuple[str, int, str]
#: The page that asked goes out first [s].
_ANSWER_FIRST_S = 0.05


@dataclass(frozen=True)
class Planned:
    """A plan, the shelf it was made from, and how many entries the ledger had then."""

    plan: Plan
    shelf: Shelf
    entries: int


def plan_now(shelf_state: ShelfState, week: str) -> Planned:
    """The plan of a week from the tables as the ledger leaves them, with names that are free in it."""
    from shipping.week.plan import make_plan

    with shelf_state.ledger() as ledger:
        shelf = shelf_left(shelf_state.tables().shelf, ledger, week)
        entries = len(ledger.entries()) if ledger else 0
    plan = make_plan(shelf, week)
    with shelf_state.ledger() as ledger:
        found = planned_again(plan, shelf_state.tables().shelf, ledger)
    return Planned(found, with_held_orders(shelf, shelf_state.tables().shelf, found), entries)


class Planner:
    """Plans by week, each reckoned once for a state of tables and kept plans; ``aside`` False reckons while
    one waits.
    """

    def __init__(self, shelf_state: ShelfState, aside: bool = True) -> None:
        self.shelf_state = shelf_state
        self.aside = aside
        self._lock = threading.Lock()
        self._done: dict[str, tuple[_Key, Planned | ShelfProblems]] = {}
        self._running: dict[_Key, threading.Thread | None] = {}

    def ask(self, week: str) -> Planned | None:
        """The plan of a week; None while it is being reckoned.

        Raises
        ------
        ShelfProblems
            If it cannot be made.
        """
        key = (self.shelf_state.tables().stamp, self.shelf_state.plan_mark(), week)
        with self._lock:
            done = self._done.get(week)
            if done is not None and done[0] == key:
                if isinstance(done[1], ShelfProblems):
                    raise done[1]
                return done[1]
            if self.aside and key in self._running:
                return None
            thread = threading.Timer(_ANSWER_FIRST_S, self._reckon, (key,)) if self.aside else None
            self._running[key] = thread
        if thread is not None:
            thread.daemon = True
            thread.start()
            return None
        self._reckon(key)
        return self.ask(week)

    def wait(self, week: str) -> Planned:
        """The plan of a week, once it is there."""
        while (found := self.ask(week)) is None:
            self.settle()
        return found

    def now(self, week: str) -> Planned:
        """The plan from what stands at this very moment, reckoned anew where anything was recorded since."""
        found = self.wait(week)
        return found if found.entries == len(self.shelf_state.entries()) else plan_now(self.shelf_state, week)

    def settle(self) -> None:
        """Waits until nothing is being reckoned."""
        with self._lock:
            threads = [thread for thread in self._running.values() if thread is not None]
        for thread in threads:
            thread.join()

    def _reckon(self, key: _Key) -> None:
        found: Planned | ShelfProblems
        try:
            found = plan_now(self.shelf_state, key[2])
        except ShelfProblems as problems:
            found = problems
        except Exception as bug:
            text = f"The week could not be planned: {type(bug).__name__}: {str(bug)[:200]}."
            found = ShelfProblems(
                (Problem(Where("plan"), "", "plan", text, "This is our own mistake; please report it."),)
            )
        with self._lock:
            self._done[key[2]] = (key, found)
            self._running.pop(key, None)
