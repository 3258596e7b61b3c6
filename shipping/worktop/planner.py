"""The week planned from what stands now: a state and a week in, a plan out, beside the requests."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from shipping.ledger.planning_again import planned_again, shelf_left, with_held_orders
from shipping.worktop.background import Background, Going
from shipping.worktop.page_language import day_words, tr
from shipping.worktop.shelf_state import ShelfState

if TYPE_CHECKING:
    from shipping.assignment.search import Tell
    from shipping.tables.shelf import Shelf
    from shipping.week.plan_data import Plan
    from shipping.worktop.kept_week import Kept


@dataclass(frozen=True)
class Planned:
    """A plan, the shelf it was made from, how many entries the ledger had then, and whether the search for it
    was stopped.
    """

    plan: Plan
    shelf: Shelf
    entries: int
    is_stopped: bool = False


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
        self._plans: Background[Planned] = Background("The week could not be planned", aside)

    def ask(self, week: str) -> Planned | None:
        """The plan of a week; None while it is being reckoned.

        Raises
        ------
        ShelfProblems
            If it cannot be made.
        """
        key = (self.shelf_state.tables().stamp, self.shelf_state.plan_mark())
        return self._plans.ask(week, key, lambda going: self._reckon(week, going))

    def ask_awhile(self, week: str) -> Planned | None:
        """As `ask`, but a plan that takes no longer than a page may is waited for."""
        return self._plans.ask_awhile(lambda: self.ask(week))

    def progress(self, week: str) -> Going:
        """How far the plan of a week is that is being reckoned."""
        return self._plans.going(week)

    def stop(self, week: str) -> None:
        """The plan that is being reckoned is the best found so far, if it is not done by itself before."""
        self._plans.stop(week)

    def forget(self, week: str) -> None:
        """The plan of a week is reckoned again when it is next asked for."""
        self._plans.forget(week)

    def wait(self, week: str) -> Planned:
        """The plan of a week, once it is there."""
        return self._plans.wait(lambda: self.ask(week))

    def now(self, week: str) -> Planned:
        """The plan from what stands at this very moment, reckoned anew where anything was recorded since."""
        found = self.wait(week)
        return found if found.entries == len(self.shelf_state.entries()) else plan_now(self.shelf_state, week)

    def _reckon(self, week: str, going: Going) -> Planned:
        from shipping.assignment.mip import ended_by

        with ended_by(going.asked_to_stop):
            found = plan_now(self.shelf_state, week, going.tell)
        return replace(found, is_stopped=going.is_stopped)


def changes_of(
    fresh: Planned, kept: tuple[Kept, ...], without: frozenset[tuple[str, int]] = frozenset()
) -> tuple[str, ...]:
    """What a new plan would change of the parcels kept and not yet packed, a sentence a line; lines
    ``without`` are not looked at.
    """

    def way(service: str, day: date, pack: int) -> str:
        return tr("{pack} eggs by {service} on {day}", pack=pack, service=service, day=day_words(day))

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
        tr(
            "{order} line {line}: {before}, now {now}.",
            order=key[0],
            line=key[1],
            before=before.get(key) or tr("not in the plan kept"),
            now=now.get(key) or tr("not in the plan"),
        )
        for key in sorted((before.keys() | now.keys()) - without)
        if before.get(key) != now.get(key)
    )
