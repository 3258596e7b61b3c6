"""The week planned from what stands now: a state and a week in, a plan out, beside the requests.

A plan takes about a second; a page asks for it, is told that it is on its way, and asks again.
"""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from shipping.ledger.planning_again import planned_again, shelf_left, with_held_orders
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.worktop.shelf_state import ShelfState

if TYPE_CHECKING:
    from shipping.assignment.search import Tell
    from shipping.tables.shelf import Shelf
    from shipping.week.plan_data import Plan
    from shipping.worktop.kept_week import Kept

_Key = tuple[str, int, str]
#: The page that asked goes out first [s].
_ANSWER_FIRST_S = 0.05
#: So long a page waits for a plan before it shows how far it is; and nothing waits longer than the other [s].
_AWHILE_S, LONGEST_PLAN_S = 1.5, 600.0


@dataclass(frozen=True)
class Planned:
    """A plan, the shelf it was made from, how many entries the ledger had then, and whether the search for it
    was stopped.
    """

    plan: Plan
    shelf: Shelf
    entries: int
    is_stopped: bool = False


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a plan is: when it began [monotonic s], the value served, and what no plan can pass (0 where
    that is not known yet).
    """

    began: float
    value: float = 0.0
    bound: float = 0.0

    @property
    def seconds(self) -> int:
        return int(time.monotonic() - self.began)


def plan_now(shelf_state: ShelfState, week: str, tell: Tell | None = None) -> Planned:
    """The plan of a week from the tables as the ledger leaves them, with names that are free in it; ``tell``
    is told of value and bound on the way.
    """
    from shipping.week.plan import make_plan

    with shelf_state.ledger() as ledger:
        shelf = shelf_left(shelf_state.tables().shelf, ledger, week)
        entries = len(ledger.entries()) if ledger else 0
    plan = make_plan(shelf, week, tell=tell)
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
        self._progress: dict[str, Progress] = {}
        self._stopped: set[str] = set()

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

    def ask_awhile(self, week: str) -> Planned | None:
        """As `ask`, but a plan that takes no longer than a page may is waited for."""
        found, until = self.ask(week), time.monotonic() + _AWHILE_S
        while found is None and time.monotonic() < until:
            self.settle(until - time.monotonic())
            found = self.ask(week)
        return found

    def progress(self, week: str) -> Progress:
        """How far the plan of a week is that is being reckoned."""
        return self._progress.get(week, Progress(time.monotonic()))

    def stop(self, week: str) -> None:
        """The plan that is being reckoned is the best found so far, if it is not done by itself before."""
        from shipping.assignment.mip import end_searches

        with self._lock:
            if any(key[2] == week for key in self._running):
                self._stopped.add(week)
                end_searches()

    def forget(self, week: str) -> None:
        """The plan of a week is reckoned again when it is next asked for."""
        with self._lock:
            self._done.pop(week, None)

    def wait(self, week: str) -> Planned:
        """The plan of a week, once it is there."""
        while (found := self.ask(week)) is None:
            self.settle()
        return found

    def now(self, week: str) -> Planned:
        """The plan from what stands at this very moment, reckoned anew where anything was recorded since."""
        found = self.wait(week)
        return found if found.entries == len(self.shelf_state.entries()) else plan_now(self.shelf_state, week)

    def settle(self, seconds: float = LONGEST_PLAN_S) -> None:
        """Waits until nothing is being reckoned, but no longer than that."""
        until = time.monotonic() + seconds
        with self._lock:
            threads = [thread for thread in self._running.values() if thread is not None]
        for thread in threads:
            thread.join(max(0.0, until - time.monotonic()))

    def _reckon(self, key: _Key) -> None:
        from shipping.assignment.mip import let_searches_go_on

        found: Planned | ShelfProblems
        week, began = key[2], time.monotonic()
        self._progress[week] = Progress(began)

        def tell(value: float, bound: float) -> None:
            best = max(value, self._progress[week].value)
            self._progress[week] = Progress(began, best, bound)

        try:
            found = plan_now(self.shelf_state, week, tell)
        except ShelfProblems as problems:
            found = problems
        except Exception as bug:
            text = f"The week could not be planned: {type(bug).__name__}: {str(bug)[:200]}."
            found = ShelfProblems(
                (Problem(Where("plan"), "", "plan", text, "This is our own mistake; please report it."),)
            )
        with self._lock:
            if week in self._stopped and isinstance(found, Planned):
                found = replace(found, is_stopped=True)
            if self._stopped:
                self._stopped.discard(week)
                let_searches_go_on()
            self._done[week] = (key, found)
            self._running.pop(key, None)


def changes_of(
    fresh: Planned, kept: tuple[Kept, ...], without: frozenset[tuple[str, int]] = frozenset()
) -> tuple[str, ...]:
    """What a new plan would change of the parcels kept and not yet packed, a sentence a line; lines
    ``without`` are not looked at.
    """

    def way(service: str, day: object, pack: int) -> str:
        return f"{pack} eggs by {service} on {day}"

    before = {
        line.key: way(one.parcel.service, one.parcel.dispatch_on, line.pack)
        for one in kept
        if one.parcel.is_planned
        for line in one.parcel.lines
    }
    gone = {key for one in kept if not one.parcel.is_planned for key in one.parcel.line_keys}
    now = {
        (line.order, line.line): way(parcel.service, parcel.dispatch_on, line.pack)
        for parcel in fresh.plan.parcels
        for line in parcel.lines
        if (line.order, line.line) not in gone
    }
    return tuple(
        f"{key[0]} line {key[1]}: {before.get(key, 'not in the plan kept')}, now"
        f" {now.get(key, 'not in the plan')}."
        for key in sorted((before.keys() | now.keys()) - without)
        if before.get(key) != now.get(key)
    )
