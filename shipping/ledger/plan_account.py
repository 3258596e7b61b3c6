"""Where every line of the orders stands beside a new plan: plan, shelf and ledger in, each line once out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from shipping.ledger.kept import WAITING, KeptParcel, LineKey
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Plan
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say
from shipping.words.units import short_day

if TYPE_CHECKING:
    from shipping.ledger.ledger import Ledger

#: Where a line may stand, in the order in which it goes.
STANDS = ("planned", "out", "kept", "packed", "sent", "arrived", "lost", "returned", "cancelled")


@dataclass(frozen=True, slots=True)
class KeptBeside:
    """A kept parcel that a new plan leaves as it is."""

    parcel: str
    week: str
    state: str
    dispatch_on: date
    is_overdue: bool
    eggs: int
    lines: tuple[LineKey, ...]

    def as_json(self) -> dict[str, object]:
        return {
            "parcel": self.parcel,
            "week": self.week,
            "state": self.state,
            "dispatch_on": self.dispatch_on.isoformat(),
            "overdue": self.is_overdue,
            "eggs": self.eggs,
            "lines": [{"order": order, "line": line} for order, line in self.lines],
        }


@dataclass(frozen=True, slots=True)
class PlanAccount:
    """Every line of the orders in one of `STANDS`, and the kept parcels beside the plan, overdue first."""

    stands: dict[LineKey, str]
    beside: tuple[KeptBeside, ...]

    @property
    def counts(self) -> dict[str, int]:
        """How many lines there are, and how many of them in each stand."""
        counted = Counter(self.stands.values())
        return {"lines": len(self.stands), **{stand: counted[stand] for stand in STANDS}}

    def as_json(self) -> dict[str, object]:
        return {"account": self.counts, "kept": [kept.as_json() for kept in self.beside]}

    def lines(self) -> Iterator[str]:
        """What stands beside the plan, for a person: what is overdue first."""
        for kept in self.beside:
            if kept.is_overdue:
                yield f"Overdue: {' '.join(overdue_words(kept.parcel, kept.state, kept.dispatch_on))}"
        waiting = [kept for kept in self.beside if kept.state in WAITING and not kept.is_overdue]
        for kept in waiting:
            doing = "kept" if kept.state == "planned" else "packed"
            day = short_day(kept.dispatch_on)
            yield f"Parcel {kept.parcel} is {doing} for {day}: {kept.eggs} eggs."


def overdue_words(parcel: str, state: str, day: date) -> tuple[str, str]:
    """What is overdue about a parcel whose day has passed, and what to do."""
    text = say("{parcel} was to go on {day} and is only {state}.", parcel, short_day(day), say(state))
    pack = say("Pack it, or let it go: spawnpost drop {parcel}.", parcel)
    return text, pack if state == "planned" else "Hand it over."


def plan_account(plan: Plan, shelf: Shelf, ledger: Ledger | None) -> PlanAccount:
    """Where every line stands once the plan is made; ``shelf`` has all orders, those in parcels too.

    Notes
    -----
    A kept parcel of the plan's own week that is not packed is planned anew, so its lines stand by the plan.
    A line cancelled in the tables, or of an order that is gone from them, counts as cancelled until its
    parcel was handed over; then it stands where the parcel is.
    """
    parcels = ledger.parcels() if ledger else ()
    beside = [parcel for parcel in parcels if not (parcel.is_planned and parcel.week == plan.week)]
    stands: dict[LineKey, str] = dict.fromkeys(shelf.cancelled, "cancelled")
    known = {line.key for order in shelf.orders for line in order.lines}
    for parcel in beside:
        state = "kept" if parcel.is_planned else parcel.state
        for key in parcel.line_keys:
            if key in known or (key in shelf.cancelled and parcel.is_handed_over):
                stands[key] = state
            elif not parcel.is_handed_over:
                stands[key] = "cancelled"
    stands |= {(out.order, out.line): "out" for out in plan.lines_out}
    stands |= {(line.order, line.line): "planned" for parcel in plan.parcels for line in parcel.lines}
    if lacking := known - stands.keys():
        raise AssertionError(f"lines without a place in the plan's account: {sorted(lacking)[:5]}")
    still_open = (parcel for parcel in beside if parcel.state in ("planned", "packed", "sent"))
    told = (_beside(parcel, shelf.today) for parcel in still_open)
    ranked = sorted(told, key=lambda kept: (not kept.is_overdue, kept.dispatch_on, kept.parcel))
    return PlanAccount(dict(sorted(stands.items())), tuple(ranked))


def _beside(parcel: KeptParcel, today: date) -> KeptBeside:
    eggs = sum(count.eggs for count in parcel.counts or parcel.planned_counts())
    return KeptBeside(
        parcel.parcel,
        parcel.week,
        parcel.state,
        parcel.dispatch_on,
        parcel.is_overdue(today),
        eggs,
        tuple(sorted(parcel.line_keys)),
    )


def overdue_problems(parcels: Iterable[KeptParcel], today: date, file: str) -> Iterator[Problem]:
    """A notice for each kept parcel whose day has passed: the tables are right, but it waits."""
    for parcel in parcels:
        if parcel.is_overdue(today):
            words = overdue_words(parcel.parcel, parcel.state, parcel.dispatch_on)
            where = Where(file, parcel.plan_entry)
            yield Problem(where, "parcel", "overdue-parcel", *words, Level.NOTICE)
