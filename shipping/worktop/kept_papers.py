"""A kept parcel as the papers want it: what was kept and counted, and the tables, in; a parcel of a plan out.

So that the papers say what was counted into the parcel, not what a plan of today would pack.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

from shipping.ledger.kept import KeptLine
from shipping.ledger.packing_day import rides_of
from shipping.options.option import Ride
from shipping.papers.writing import write_papers
from shipping.post.transit import moved_by
from shipping.tables.rows.orders import Order
from shipping.tables.shelf import Shelf
from shipping.week.draws import draw_of, with_bench_notes
from shipping.week.plan_data import Parcel, Plan, PlannedLine, Proof
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.reasons import Reason
from shipping.words.sentence import say
from shipping.words.three_point import Dates
from shipping.worktop.kept_week import Kept, cut_off_of, line_now
from shipping.worktop.page_language import shown_name
from shipping.worktop.promise import line_promise
from shipping.worktop.shelf_state import ShelfState


def papers_of(shelf_state: ShelfState, kept: Sequence[Kept], week: str, *, whole_day: bool) -> bytes:
    """One PDF of everything to print for one parcel, or for several in packing order with their pick list.
    Raises ShelfProblems if the tables no longer hold an order, lot, packing or service of a parcel, or a text
    cannot be printed.
    """
    shelf = shelf_state.readable_tables().known
    with shelf_state.lock:
        parcels = tuple(parcel_for_papers(shelf_state, parcel) for parcel in kept)
    items = {parcel.name: parcel.parcel.item for parcel in kept if parcel.parcel.item}
    plan = Plan(week, shelf.today, parcels, (), (), Proof(0.0, 0.0, 0.0, 0.0))
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        only = None if whole_day else kept[0].name
        made = write_papers(
            plan, shelf, folder, parcel=only, items=items, shelf_folder=shelf_state.folder, processes=1
        )
        place = "print" if whole_day else "parcels"
        printed = [path for path in made if path.parent.name == place and not path.stem.endswith("-labels")]
        return printed[0].read_bytes()


def parcel_for_papers(shelf_state: ShelfState, kept: Kept) -> Parcel:
    """The parcel with the eggs counted where it was packed, else with those planned.

    One that went on another day than planned is told with that day, and one past its day with the next on
    which it can go.
    """
    planned = (kept.parcel.dispatch_on, str(kept.facts["service"]))
    kept = _as_it_leaves(kept, shelf_state.today_of())
    facts, shelf = kept.facts, shelf_state.readable_tables().known
    orders = [_order(shelf, name, kept) for name in facts["orders"]]
    rides = {line.key: _rides(shelf_state, kept, line) for line in kept.parcel.lines}
    lines = tuple(_line(shelf_state, kept, line, rides[line.key]) for line in kept.parcel.lines)
    lines = with_bench_notes(lines, rides, shelf, str(facts["box"]))
    leg = next(iter(next(iter(rides.values())).values())).leg
    is_as_planned = (leg.day, leg.service.service) == planned
    box = shelf.box_by_name.get(str(facts["box"]))
    address = orders[0].address
    return Parcel(
        parcel=kept.name,
        orders=tuple(facts["orders"]),
        address=replace(address, addressee=shown_name(address.addressee)),
        service=kept.parcel.service,
        dispatch_on=kept.parcel.sent_on or leg.day,
        arrive=_dates(facts["arrive"]) if is_as_planned else leg.arrivals.spread,
        box=str(facts["box"]),
        weight_g=float(facts["weight_g"]),
        postage=Decimal(str(facts["postage"])),
        lines=lines,
        low_c=leg.warmth.low_c,
        high_c=leg.warmth.high_c,
        warmth_basis=leg.warmth.basis,
        language=next((order.language for order in orders if order.language), None),
        tel=shown_name(next((order.tel for order in orders if order.tel), ""), ""),
        mail=shown_name(next((order.mail for order in orders if order.mail), ""), ""),
        importer_ref=next((order.importer_ref for order in orders if order.importer_ref), ""),
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
        this_week=leg.this_week,
        cut_off=cut_off_of(kept.parcel.service, shelf),
    )


def _as_it_leaves(kept: Kept, today: date) -> Kept:
    """A parcel handed over as of the day it went, one past its day as from today; any other as planned."""
    parcel = kept.parcel
    leaves = parcel.sent_on or max(parcel.dispatch_on, today if parcel.is_overdue(today) else date.min)
    return replace(kept, parcel=replace(parcel, dispatch_on=leaves))


def _gone(kept: Kept, what: str) -> ShelfProblems:
    text = say(
        "{what} of parcel {parcel} is no longer in the tables, so its papers cannot be set.", what, kept.name
    )
    return ShelfProblems(
        (Problem(Where("papers"), kept.name, "gone", text, "Put it back, or print the papers from a plan."),)
    )


def _order(shelf: Shelf, name: str, kept: Kept) -> Order:
    if name not in shelf.order_by_name:
        raise _gone(kept, say("order {name}", name))
    return shelf.order_by_name[name]


def _rides(shelf_state: ShelfState, kept: Kept, line: KeptLine) -> dict[str, Ride]:
    tables = shelf_state.readable_tables()
    rides = rides_of(tables.reckoner, kept.parcel, line, counted=tables.counted)
    if isinstance(rides, str):
        raise _gone(kept, say("an order, lot, packing or service"))
    return rides


def _line(shelf_state: ShelfState, kept: Kept, line: KeptLine, rides: Mapping[str, Ride]) -> PlannedLine:
    facts = next(facts for facts in kept.facts["lines"] if (facts["order"], facts["line"]) == line.key)
    counted = {count.lot: count.eggs for count in kept.parcel.counts if (count.order, count.line) == line.key}
    shelf = shelf_state.readable_tables().known
    eggs = {
        draw["lot"]: counted.get(draw["lot"], 0) if counted else int(draw["pack"]) for draw in facts["draws"]
    }
    draws = tuple(
        draw_of(rides[name], eggs[name], shelf, min(int(draw["units"]), eggs[name]))
        for draw in facts["draws"]
        if eggs[name := draw["lot"]]
    )
    promise = line_promise(
        shelf_state.readable_tables().reckoner,
        kept.parcel,
        line,
        {draw.lot: draw.unit_eggs for draw in draws},
    )
    ordered = line_now(line, shelf)
    changed = ordered is not None and (ordered.species, ordered.population) != (line.species, line.population)
    return PlannedLine(
        order=line.order,
        line=line.line,
        species=line.species,
        population=line.population,
        ordered=line.ordered,
        pack=sum(draw.pack for draw in draws),
        p_enough=line.p_enough if promise.chance is None else promise.chance,
        expected_alive=sum(draw.pack * draw.v_per_egg for draw in draws),
        draws=draws,
        reasons=tuple(
            Reason(reason["code"], reason["text"], reason["facts"], reason["source"])
            for reason in facts["reasons"]
        ),
        price=ordered.price if ordered else None,
        instead_of=(
            "/".join(filter(None, (ordered.species, ordered.population))) if ordered and changed else ""
        ),
        message=ordered.message if ordered else "",
    )


def _dates(facts: Mapping[str, str | None]) -> Dates:
    days = (date.fromisoformat(text) if text else None for text in (facts["p05"], facts["p50"], facts["p95"]))
    return Dates(*days)
