"""The week planned from what stands now: a state and a week in, a plan out, beside the requests."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from shipping.ledger.planning_again import (
    PlannedWay,
    lines_changed,
    planned_again,
    shelf_left,
    with_held_orders,
)
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
    """A plan, its shelf, how many entries the ledger had, and whether the search was stopped."""

    plan: Plan
    shelf: Shelf
    entries: int
    is_stopped: bool = False


def plan_now(shelf_state: ShelfState, week: str, tell: Tell | None = None) -> Planned:
    """A week's plan from tables and ledger, with free names; ``tell`` hears value and bound."""
    from shipping.week.plan import make_plan

    with shelf_state.ledger() as ledger:
        shelf = shelf_left(shelf_state.tables().shelf, ledger, week)
        entries = len(ledger.entries()) if ledger else 0
    plan = make_plan(shelf, week, tell=tell)
    with shelf_state.ledger() as ledger:
        found = planned_again(plan, shelf_state.tables().shelf, ledger)
    return Planned(found, with_held_orders(shelf, shelf_state.tables().shelf, found), entries)


def planner_of(shelf_state: ShelfState, aside: bool = True) -> Background[Planned]:
    """Plans by week, each reckoned once for a state of tables and kept plans."""

    def mark(week: str) -> tuple[str, int]:
        return shelf_state.tables().stamp, shelf_state.plan_mark()

    def reckon(week: str, going: Going) -> Planned:
        from shipping.assignment.mip import ended_by

        with ended_by(going.asked_to_stop):
            found = plan_now(shelf_state, week, going.tell)
        return replace(found, is_stopped=going.is_stopped)

    return Background("The week could not be planned", mark, reckon, aside)


def changes_of(
    fresh: Planned, kept: tuple[Kept, ...], without: frozenset[tuple[str, int]] = frozenset()
) -> tuple[str, ...]:
    """What a new plan changes of parcels kept and not packed, a sentence each, lines ``without`` aside."""

    def said(way: PlannedWay | None, other: PlannedWay | None, otherwise: str) -> str:
        if way is None:
            return otherwise
        day, service, pack, drawn = way
        if other and way[:3] == other[:3]:
            return drawn
        return tr("{pack} eggs by {service} on {day}", pack=pack, service=service, day=day_words(day))

    return tuple(
        tr(
            "{order} line {line}: {before}, now {now}.",
            order=key[0],
            line=key[1],
            before=said(before, now, tr("not in the plan kept")),
            now=said(now, before, tr("not in the plan")),
        )
        for key, before, now in lines_changed(fresh.plan, (one.parcel for one in kept))
        if key not in without
    )
