"""A kept parcel as the papers want it: what was kept and counted, and the tables, in; a parcel of a plan out.

So that papers say what is in the ledger, not what a plan of today would pack.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from shipping.ledger.disagreements import order_questions
from shipping.ledger.kept_parcel import KeptLine, KeptParcel
from shipping.ledger.lot_counts import LotCounts, eggs_counted
from shipping.ledger.packing_day import chance_of_enough, line_now, line_of, rides_of
from shipping.options.option import Ride
from shipping.post.transit import moved_by
from shipping.tables.learned_values import applied
from shipping.tables.rows.orders import Order
from shipping.tables.shelf import Shelf
from shipping.week.draws import draw_of, with_bench_notes
from shipping.week.plan_data import Parcel, Plan, PlannedLine, of_leg
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.reasons import Reason
from shipping.words.sentence import say
from shipping.words.three_point import Dates

if TYPE_CHECKING:
    from shipping.ledger.ledger import Ledger
    from shipping.ledger.parcel_states import OrderKept
    from shipping.options.option_factory import OptionFactory


@dataclass(frozen=True)
class PaperTables:
    """What papers of kept parcels are set from: tables with learned values, the ledger's counts, orders."""

    factory: OptionFactory
    counted: Mapping[str, LotCounts]
    orders: Mapping[str, OrderKept]

    @property
    def shelf(self) -> Shelf:
        return self.factory.shelf


def plan_as_kept(
    plan: Plan, shelf: Shelf, ledger: Ledger | None, named: str = ""
) -> tuple[Plan, dict[str, ShelfProblems]]:
    """The plan of a week with the parcels kept for it in place of those planned anew, and why others that are
    kept cannot be set, by name; the plan itself where none is kept that is not packed yet, nor ``named``,
    which is set as counted once it is packed.

    ``shelf`` has all orders. Lines left out are the new plan's, but for those that are in a kept parcel.
    """
    from shipping.options.option_factory import OptionFactory

    of_week = [one for one in ledger.parcels() if one.week == plan.week] if ledger else []
    planned = [one for one in of_week if one.is_planned or one.parcel == named]
    if ledger is None or not planned:
        return plan, {}
    tables = PaperTables(OptionFactory(applied(shelf)), eggs_counted(shelf), ledger.orders())
    facts = {
        (entry, str(parcel["parcel"])): parcel
        for entry in sorted({one.plan_entry for one in planned})
        for parcel in ledger.plan_kept(entry)["parcels"]
    }
    parcels, not_set = [], {}
    for one in planned:
        try:
            parcels.append(parcel_for_papers(tables, one, facts[one.plan_entry, one.parcel], plan.today))
        except ShelfProblems as why:
            not_set[one.parcel] = why
    kept = {key for one in planned if one.parcel not in not_set for key in one.line_keys}
    left_out = tuple(line for line in plan.lines_out if (line.order, line.line) not in kept)
    return replace(plan, parcels=tuple(parcels), lines_out=left_out), not_set


def parcel_for_papers(
    tables: PaperTables, parcel: KeptParcel, facts: Mapping[str, Any], today: date
) -> Parcel:
    """The parcel with the eggs counted where it was packed, else with those planned.

    One that went on another day than planned is told with that day, and one past its day with the next on
    which it can go. ``facts`` is what its plan's JSON says of it. Raises ShelfProblems if the tables no
    longer hold an order, lot, packing or service of it, or an order's number may mean another one now.
    """
    planned = (parcel.dispatch_on, str(facts["service"]))
    parcel, shelf = _as_it_leaves(parcel, today), tables.shelf
    orders = [_order(tables, name, parcel) for name in facts["orders"]]
    rides = {line.key: _rides(tables, parcel, line) for line in parcel.lines}
    lines = tuple(_line(parcel, line, facts, rides[line.key], shelf) for line in parcel.lines)
    lines = with_bench_notes(lines, rides, shelf, str(facts["box"]))
    leg = next(iter(next(iter(rides.values())).values())).leg
    is_as_planned = (leg.day, leg.service.service) == planned
    box = shelf.box_by_name.get(str(facts["box"]))
    return Parcel(
        **of_leg(leg, orders),
        parcel=parcel.parcel,
        dispatch_on=parcel.sent_on or leg.day,
        arrive=_dates(facts["arrive"]) if is_as_planned else leg.arrivals.spread,
        box=str(facts["box"]),
        weight_g=float(facts["weight_g"]),
        postage=Decimal(str(facts["postage"])),
        lines=lines,
        thick_mm=box.thick_mm if box else None,
        holidays=moved_by(
            leg.service,
            leg.day,
            leg.destination.country,
            leg.destination.calendar_part,
            longer_d=leg.longer_d,
        ),
        bottle_ml=float(facts.get("bottle_ml", 0.0)),
        warm_h=float(facts.get("warm_h", 0.0)),
        parcel_lost_share=float(facts.get("parcel_lost_share", 0.0)),
    )


def _as_it_leaves(parcel: KeptParcel, today: date) -> KeptParcel:
    """A parcel handed over as of the day it went, one past its day as from today; any other as planned."""
    leaves = parcel.sent_on or max(parcel.dispatch_on, today if parcel.is_overdue(today) else date.min)
    return replace(parcel, dispatch_on=leaves)


def _not_set(parcel: KeptParcel, text: str, mend: str = "") -> ShelfProblems:
    mend = mend or say("Put it back as it was, or let the parcel go: spawnpost drop {parcel}.", parcel.parcel)
    return ShelfProblems((Problem(Where("papers"), parcel.parcel, "gone", text, mend),))


def _gone(parcel: KeptParcel, what: str) -> ShelfProblems:
    text = "{what} of parcel {parcel} is no longer in the tables, so its papers cannot be set."
    return _not_set(parcel, say(text, what, parcel.parcel))


def _order(tables: PaperTables, name: str, parcel: KeptParcel) -> Order:
    """An order of a parcel as the tables have it, where it is sure to be the one that was kept."""
    order = tables.shelf.order_by_name.get(name)
    if order is None and name in {cancelled for cancelled, _ in tables.shelf.cancelled}:
        told = (name, parcel.parcel)
        raise _not_set(parcel, say("order {name} of parcel {parcel} is cancelled: it has no papers.", *told))
    if order is None:
        raise _gone(parcel, say("order {name}", name))
    for question in order_questions((order,), tables.orders):
        raise _not_set(parcel, question.text, question.mend)
    return order


def _rides(tables: PaperTables, parcel: KeptParcel, line: KeptLine) -> dict[str, Ride]:
    if parcel.is_planned and isinstance(asked_for := line_of(tables.shelf, line), str):
        raise _not_set(parcel, asked_for)
    rides = rides_of(tables.factory, parcel, line, counted=tables.counted)
    if isinstance(rides, str):
        raise _gone(parcel, say("an order, lot, packing or service"))
    return rides


def _line(
    parcel: KeptParcel, line: KeptLine, plan_facts: Mapping[str, Any], rides: Mapping[str, Ride], shelf: Shelf
) -> PlannedLine:
    facts = next(facts for facts in plan_facts["lines"] if (facts["order"], facts["line"]) == line.key)
    counted = parcel.packed_from(line.key)
    eggs = {
        draw["lot"]: counted.get(draw["lot"], 0) if counted else int(draw["pack"]) for draw in facts["draws"]
    }
    draws = tuple(
        draw_of(rides[name], eggs[name], shelf, min(int(draw["units"]), eggs[name]))
        for draw in facts["draws"]
        if eggs[name := draw["lot"]]
    )
    ordered = line_now(line, shelf)
    return PlannedLine(
        order=line.order,
        line=line.line,
        species=line.species,
        population=line.population,
        ordered=line.ordered,
        pack=sum(draw.pack for draw in draws),
        p_enough=chance_of_enough(rides, eggs, line.ordered),
        expected_alive=sum(draw.pack * draw.v_per_egg for draw in draws),
        draws=draws,
        reasons=tuple(
            Reason(reason["code"], reason["text"], reason["facts"], reason["source"])
            for reason in facts["reasons"]
        ),
        price=ordered.price if ordered else None,
        instead_of=(
            "" if ordered is None or ordered.is_met_by(line.species, line.population) else ordered.named
        ),
        message=ordered.message if ordered else "",
    )


def _dates(facts: Mapping[str, str | None]) -> Dates:
    days = (date.fromisoformat(text) if text else None for text in (facts["p05"], facts["p50"], facts["p95"]))
    return Dates(*days)
