"""What a new plan must know of the ledger: the shelf as left, and where every line stands beside it."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from shipping.ledger.errors import LEDGER_FILE
from shipping.tables.learned_values import applied
from shipping.tables.rows.orders import Order
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Draw, LineOut, Plan
from shipping.words.keys import LineKey
from shipping.words.problems import Level, Problem, Where
from shipping.words.reasons import Reason, Verdict
from shipping.words.sentence import say
from shipping.words.units import many, short_day

if TYPE_CHECKING:
    from shipping.ledger.kept_parcel import KeptParcel, PlannedDraw
    from shipping.ledger.ledger import Ledger
    from shipping.ledger.lot_counts import LotCounts

#: When a line leaves, by which service, how many eggs of it, and of which lots in which packings.
PlannedWay = tuple[date, str, int, str]


def shelf_left(shelf: Shelf, ledger: Ledger | None, week: str = "") -> Shelf:
    """The shelf for planning a week: rates applied, without eggs packed or held and lines already in parcels.

    What is only planned for that very ``week`` is free again, since the new plan replaces it. Eggs of kept
    parcels are held for their day, and all of a lot that may be one sold under another name. An order whose
    number meant another order is left out until that is answered. Without a ledger only the rates are
    applied.
    """
    known = applied(shelf) if shelf.rates else shelf
    if ledger is None:
        return known
    from shipping.ledger.disagreements import lots_gone, order_questions
    from shipping.ledger.lot_counts import eggs_counted, name_now

    ledger.check_newest()
    counted = eggs_counted(shelf)
    held: dict[str, Counter[date]] = {}
    held_for: dict[str, tuple[str, ...]] = {}
    for parcel in ledger.parcels():
        for count in parcel.planned_counts() if parcel.is_planned and parcel.week != week else ():
            lot = name_now(count.lot, counted)
            held.setdefault(lot, Counter())[max(parcel.dispatch_on, shelf.today)] += count.eggs
            held_for[lot] = tuple(dict.fromkeys((*held_for.get(lot, ()), parcel.parcel)))
    left = ledger.eggs_left(counted)
    for gone in lots_gone(ledger, shelf, counted):
        for alike in gone.alike:
            held.setdefault(alike.lot, Counter())[shelf.today] += left[alike.lot]
    asked = {question.order for question in order_questions(known.orders, ledger.orders())}
    answered = [order for order in known.orders if order.order not in asked]
    orders = orders_left(answered, ledger.parcels(), week)
    made: dict[date, int] = {}
    for parcel in ledger.parcels():
        if not parcel.is_planned or parcel.week != week:
            day = parcel.left_on
            made[day] = made.get(day, 0) + 1
    without = replace(without_packed(known, ledger, counted), held=held, held_for=held_for)
    return replace(without, orders=orders, parcels_made=made)


def without_packed(shelf: Shelf, ledger: Ledger, counted: Mapping[str, LotCounts]) -> Shelf:
    """The shelf without the eggs that the ledger says were packed; it goes before what the shelf was told."""
    from shipping.ledger.lot_counts import packed_between_counts

    packed = {**shelf.packed, **ledger.packed_by_lot(counted)}
    return replace(
        shelf,
        packed={lot: dict(packed[lot]) for lot in sorted(packed)},
        packed_between=packed_between_counts(ledger.packings(counted), counted),
    )


def orders_left(orders: Iterable[Order], parcels: Iterable[KeptParcel], week: str) -> tuple[Order, ...]:
    """The orders without the lines that are in a parcel; lines keep their numbers."""
    taken: set[LineKey] = set()
    for parcel in parcels:
        if not (parcel.is_planned and parcel.week == week):
            taken |= parcel.line_keys
    lines = ((order, tuple(line for line in order.lines if line.key not in taken)) for order in orders)
    return tuple(replace(order, lines=left) for order, left in lines if left)


def with_free_names(plan: Plan, parcels: Iterable[KeptParcel], numbers: Iterable[str]) -> Plan:
    """The plan with the names its week's ledger knows: a parcel of the very same lines keeps its name, others
    get numbers above any that ``numbers`` says was ever used.

    So a name on a slip is the same parcel in the ledger, packed or not. Without any nothing changes.
    """
    of_this_week = re.compile(rf"{re.escape(plan.week)}-(\d+)").fullmatch
    used = [int(match[1]) for match in map(of_this_week, numbers) if match]
    if not used:
        return plan
    planned = (parcel for parcel in parcels if parcel.week == plan.week and parcel.is_planned)
    names = {parcel.line_keys: parcel.parcel for parcel in planned}
    free = itertools.count(max(used) + 1)
    renamed = []
    for parcel in plan.parcels:
        lines = frozenset((line.order, line.line) for line in parcel.lines)
        renamed.append(replace(parcel, parcel=names.get(lines) or f"{plan.week}-{next(free):02d}"))
    return replace(plan, parcels=tuple(renamed))


def _drawn(draws: Iterable[Draw | PlannedDraw]) -> str:
    """``FL-31 (23, tube 15 ml)``: the lots of a line, by name."""
    return ", ".join(sorted(f"{draw.lot} ({draw.pack}, {draw.packing})" for draw in draws))


def lines_changed(
    plan: Plan, kept: Iterable[KeptParcel]
) -> Iterator[tuple[LineKey, PlannedWay | None, PlannedWay | None]]:
    """Lines of kept parcels not yet packed that a plan has otherwise: as kept and as planned, or None."""
    parcels = tuple(kept)
    gone = {key for parcel in parcels if not parcel.is_planned for key in parcel.line_keys}
    before: dict[LineKey, PlannedWay] = {
        line.key: (parcel.dispatch_on, parcel.service, line.pack, _drawn(line.draws))
        for parcel in parcels
        if parcel.is_planned
        for line in parcel.lines
    }
    now: dict[LineKey, PlannedWay] = {
        (line.order, line.line): (parcel.dispatch_on, parcel.service, line.pack, _drawn(line.draws))
        for parcel in plan.parcels
        for line in parcel.lines
        if (line.order, line.line) not in gone
    }
    for key in sorted(before.keys() | now.keys()):
        if before.get(key) != now.get(key):
            yield key, before.get(key), now.get(key)


def with_held_orders(left: Shelf, shelf: Shelf, plan: Plan) -> Shelf:
    """The shelf left for planning, with the orders that the plan holds only for their number put back."""
    held = {line.order for line in plan.lines_out} - left.order_by_name.keys()
    orders = (*left.orders, *(shelf.order_by_name[name] for name in held))
    return replace(left, orders=tuple(sorted(orders, key=lambda order: order.order))) if held else left


def planned_again(plan: Plan, shelf: Shelf, ledger: Ledger | None) -> Plan:
    """The plan as the ledger lets it be kept: free names, and orders on hold whose number meant another one.

    ``shelf`` has all orders, as the tables have them.
    """
    if ledger is None:
        return plan
    from shipping.ledger.disagreements import order_questions

    named = with_free_names(plan, ledger.parcels(), ledger.numbers())
    held = [
        LineOut(line.order, line.number, Verdict.HOLD, None, (reason,))
        for question in order_questions(shelf.orders, ledger.orders())
        for reason in (Reason("same-number", question.sentence, question.facts, "ledger"),)
        for line in shelf.order_by_name[question.order].lines
    ]
    return replace(named, lines_out=(*held, *named.lines_out))


#: Where a line may stand, in the order in which it goes.
STANDS = ("planned", "out", "kept", "packed", "sent", "arrived", "lost", "returned", "cancelled")


@dataclass(frozen=True, slots=True)
class PlanAccount:
    """Every line of the orders in one of `STANDS`; kept parcels left alone, overdue first; what to settle."""

    today: date
    stands: dict[LineKey, str]
    beside: tuple[KeptParcel, ...]
    to_settle: Mapping[str, tuple[str, ...]]

    @property
    def counts(self) -> dict[str, int]:
        """How many lines there are, and how many of them in each stand."""
        counted = Counter(self.stands.values())
        return {"lines": len(self.stands), **{stand: counted[stand] for stand in STANDS}}

    def as_json(self) -> dict[str, object]:
        kept = [self._facts(kept) for kept in self.beside]
        return {"account": self.counts, "kept": kept, "to_settle": sorted(self.to_settle)}

    def _facts(self, kept: KeptParcel) -> dict[str, object]:
        return {
            "parcel": kept.parcel,
            "week": kept.week,
            "state": kept.state,
            "dispatch_on": kept.dispatch_on.isoformat(),
            "overdue": kept.is_overdue(self.today),
            "eggs": kept.eggs,
            "lines": [{"order": order, "line": line} for order, line in sorted(kept.line_keys)],
        }

    def lines(self) -> Iterator[str]:
        """What stands beside the plan, for a person: what is overdue first."""
        yield from overdue_lines(self.beside, self.today)
        for kept in self.beside:
            if not kept.is_handed_over and not kept.is_overdue(self.today):
                doing, day = "kept" if kept.is_planned else "packed", short_day(kept.dispatch_on)
                yield f"Parcel {kept.parcel} is {doing} for {day}: {many(kept.eggs, 'egg')}."
        if due := [f"{name} ({', '.join(about)})" for name, about in self.to_settle.items()]:
            yield f"Not settled with the buyer yet: {', '.join(due)}. Facts and ways: spawnpost claim"


#: Of more parcels that were to go and were never packed all are told at once.
FEW_OVERDUE = 3
_LOOK_AT_IT = "Look at its eggs before you hand it over: they went on towards hatching."


def overdue_lines(parcels: Iterable[KeptParcel], today: date) -> Iterator[str]:
    """What is overdue of some kept parcels, for a person: many that were never packed in one line."""
    overdue = [kept for kept in parcels if kept.is_overdue(today)]
    planned = [kept.parcel for kept in overdue if kept.is_planned]
    is_folded = len(planned) > FEW_OVERDUE
    for kept in overdue:
        if not (is_folded and kept.is_planned):
            yield f"Overdue: {' '.join(_overdue_words(kept))}"
    if is_folded:
        told = f"{len(planned)} parcels were to go and are only planned. Pack them, or let them go:"
        yield f"Overdue: {told}"
        yield f"  spawnpost drop {' '.join(planned)}"


def _overdue_words(kept: KeptParcel) -> tuple[str, str]:
    """What is overdue about a parcel whose day has passed, and what to do."""
    told = (kept.parcel, short_day(kept.dispatch_on), say(kept.state))
    pack = say("Pack it, or let it go: spawnpost drop {parcel}.", kept.parcel)
    text = say("{parcel} was to go on {day} and is only {state}.", *told)
    return text, pack if kept.is_planned else _LOOK_AT_IT


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
    still_open = [parcel for parcel in beside if parcel.state in ("planned", "packed", "sent")]
    still_open.sort(key=lambda kept: (not kept.is_overdue(shelf.today), kept.dispatch_on, kept.parcel))
    due: Mapping[str, tuple[str, ...]] = {}
    if any(parcel.is_handed_over for parcel in beside):
        from shipping.ledger.claims import to_settle

        due = to_settle(beside, shelf.settings.claims)
    return PlanAccount(shelf.today, dict(sorted(stands.items())), tuple(still_open), due)


def overdue_problems(parcels: Iterable[KeptParcel], today: date) -> Iterator[Problem]:
    """A notice for each kept parcel whose day has passed: the tables are right, but it waits."""
    for parcel in parcels:
        if parcel.is_overdue(today):
            where = Where(LEDGER_FILE, parcel.plan_entry)
            yield Problem(where, "parcel", "overdue-parcel", *_overdue_words(parcel), Level.NOTICE)
