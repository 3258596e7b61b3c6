"""The parcels of a week as they were kept, with what their plan said: a state in, kept parcels out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from shipping.eggs.lot_forecast import lot_forecast
from shipping.ledger.disagreements import parcels_moved
from shipping.ledger.entries import Entry, PlanKept, undone_entries
from shipping.ledger.kept_parcel import KeptLine, KeptParcel
from shipping.ledger.packing_day import line_now
from shipping.ledger.parcel_states import OrderKept
from shipping.post.transit import services_to, takes_in
from shipping.tables.shelf import Shelf
from shipping.words.keys import LineKey, grouped
from shipping.words.units import iso_week
from shipping.worktop.page_language import shown_name, tr
from shipping.worktop.shelf_state import ShelfState


@dataclass(frozen=True)
class Kept:
    """A kept parcel, what its plan's JSON says of it, and what the ledger knows of its orders."""

    parcel: KeptParcel
    facts: Mapping[str, Any]
    orders: Mapping[str, OrderKept] = field(default_factory=dict)

    @property
    def name(self) -> str:
        return self.parcel.parcel

    @property
    def number(self) -> str:
        """``01`` of ``2026-W49-01``."""
        return self.name.rpartition("-")[2]

    @property
    def addressee(self) -> str:
        return str(self.facts.get("addressee", ""))

    def units_of(self, order: str, line: int, lot: str) -> int:
        """How many tubes or bags a draw is packed in."""
        for one in self.facts["lines"]:
            for draw in one["draws"] if (one["order"], one["line"]) == (order, line) else ():
                if draw["lot"] == lot:
                    return int(draw["units"])
        return 1


@dataclass(frozen=True)
class WeekNow:
    """A week as its plan of now has it, else the plan kept: the JSON of either, that of the plan ``kept``,
    None where none is, the lines in parcels, and whether the plan of now is still being reckoned.
    """

    facts: Mapping[str, Any]
    kept: Mapping[str, Any] | None
    taken: frozenset[LineKey]
    is_reckoning: bool

    @property
    def lines_out(self) -> tuple[Mapping[str, Any], ...]:
        """The lines that do not go and are in no parcel."""
        lines = self.facts.get("lines_out", ())
        return tuple(line for line in lines if (line["order"], line["line"]) not in self.taken)

    @property
    def proposed(self) -> tuple[Mapping[str, Any], ...]:
        """Parcels of the plan of now that are not kept, with their lines that are in no kept one."""
        left = (
            (parcel, [line for line in parcel["lines"] if (line["order"], line["line"]) not in self.taken])
            for parcel in self.facts.get("parcels", ())
        )
        return tuple({**parcel, "lines": lines} for parcel, lines in left if lines)


def facts_as_counted(kept: Kept) -> Mapping[str, Any]:
    """What the plan said of a parcel, with the eggs counted in place of those planned once it is packed, and
    with its own day, way and chances where it was sent otherwise than planned.
    """
    parcel = kept.parcel
    if not parcel.counts:
        return kept.facts

    def counted(line: Mapping[str, Any]) -> dict[str, Any]:
        eggs = parcel.packed_of((line["order"], line["line"]))
        chance = line["p_enough"] if eggs == line["pack"] else None
        if parcel.reckoned_on:
            chance = parcel.chances.get((line["order"], line["line"]))
        return {**line, "pack": eggs, "p_enough": chance}

    facts = {**kept.facts, "lines": [counted(line) for line in kept.facts["lines"]]}
    if parcel.reckoned_on and parcel.sent_on and parcel.p50 and parcel.p95:
        arrive = {"p50": parcel.p50.isoformat(), "p95": parcel.p95.isoformat()}
        facts |= {"dispatch_on": parcel.sent_on.isoformat(), "service": parcel.service, "arrive": arrive}
    return facts


def kept_parcels_now(shelf_state: ShelfState) -> tuple[Kept, ...]:
    """Every kept parcel of every week, by name."""
    with shelf_state.ledger() as ledger:
        parcels, orders = (ledger.parcels(), ledger.orders()) if ledger else ((), {})
        return tuple(with_facts(shelf_state, parcel, orders) for parcel in parcels)


def kept_parcel_now(shelf_state: ShelfState, name: str) -> Kept | None:
    """The kept parcel of that name, or None: names come from outside, and only known ones are looked at."""
    with shelf_state.ledger() as ledger:
        found = next((one for one in ledger.parcels() if one.parcel == name), None) if ledger else None
        return with_facts(shelf_state, found, ledger.orders()) if ledger and found else None


def with_facts(shelf_state: ShelfState, parcel: KeptParcel, orders: Mapping[str, OrderKept]) -> Kept:
    """The parcel with what its plan said of it, for the name that its orders have now, if corrected."""
    facts = shelf_state.parcel_facts(parcel.plan_entry, parcel.parcel)
    mine = {line.order: orders[line.order] for line in parcel.lines if line.order in orders}
    name = next((kept.addressee for kept in mine.values() if kept.renamed_in > parcel.plan_entry), "")
    return Kept(parcel, {**facts, "addressee": name} if name else facts, mine)


def moved_text(kept: Kept, shelf: Shelf) -> str:
    """What to do with a parcel whose buyer's name or address was changed since; "" where it was not."""
    moved = next(parcels_moved((kept.parcel,), shelf, kept.orders), None)
    said = tr(moved.sentence) if moved else ""
    return said[:1].upper() + said[1:]


def gone_orders(parcel: KeptParcel, shelf: Shelf) -> str:
    """What of a parcel that is still here was cancelled since, or is gone; "" where nothing was."""
    lines = () if parcel.is_handed_over else parcel.lines
    here = grouped((line.order, line_now(line, shelf) is None) for line in lines)
    unread = {line.order for line in lines if is_unread(line, shelf)}
    said = (
        tr(
            "Order {order} is not found whole, since a row of your tables cannot be read: mend that first.",
            order=order,
        )
        if order in unread
        else tr("Order {order} is cancelled, or no longer in the tables.", order=order)
        if all(gone)
        else tr("A line of order {order} is cancelled, or no longer in the tables.", order=order)
        for order, gone in here.items()
        if any(gone)
    )
    return " ".join(said)


def is_unread(line: KeptLine, shelf: Shelf) -> bool:
    """Is a kept line not found, and may it stand in a row that cannot be read?"""
    return shelf.is_partly_read and line_now(line, shelf) is None and line.key not in shelf.cancelled


def of_week(kept: Iterable[Kept], week: str) -> tuple[Kept, ...]:
    """Those that were kept for a week, or leave in it."""

    def weeks(parcel: KeptParcel) -> tuple[str, ...]:
        return parcel.week, iso_week(parcel.dispatch_on), iso_week(parcel.sent_on or parcel.dispatch_on)

    return tuple(one for one in kept if week in weeks(one.parcel))


def last_plan_kept(entries: tuple[Entry, ...], week: str) -> Entry | None:
    """The entry that last kept a plan of the week and was not taken back."""
    gone = undone_entries(entries)
    found = (one for one in reversed(entries) if isinstance(one.body, PlanKept) and one.seq not in gone)
    return next((one for one in found if isinstance(one.body, PlanKept) and one.body.week == week), None)


def in_packing_order(kept: Iterable[Kept]) -> tuple[Kept, ...]:
    """Day by day in the order of their numbers, which is the order in which the plan would pack them."""
    return tuple(sorted(kept, key=lambda one: (one.parcel.dispatch_on, one.name)))


def has_text(kept: Kept, find: str) -> bool:
    """Does a parcel's name, number, item, addressee, or one of its orders or lots hold what is looked for?"""
    parcel = kept.parcel
    words = [kept.name, parcel.item, shown_name(kept.addressee, "")]
    words += [line.order for line in parcel.lines]
    words += [draw.lot for line in parcel.lines for draw in line.draws]
    return any(find.casefold() in word.casefold() for word in words)


def is_taken_in(service: str, day: date, place: tuple[str, str], shelf: Shelf) -> bool:
    """Does a service take a parcel to a place in that day? So where the tables no longer have it."""
    rows = [row for row in services_to(shelf, *place) if row.service == service]
    return not rows or any(takes_in(row, day, shelf, *place) for row in rows)


def lots_to_look_at(kept: Kept, shelf: Shelf) -> tuple[str, ...]:
    """The lots of a parcel whose eyes the plan counted on, and nobody has seen yet."""
    wanted = {draw.lot for line in kept.parcel.lines for draw in line.draws if draw.look_first}
    return tuple(sorted(lot for lot in wanted if not shows_enough(lot, shelf)))


def lots_to_count(lines: Iterable[Mapping[str, Any]], shelf: Shelf) -> tuple[str, ...]:
    """The lots drawn by lines of a plan's JSON whose count is too old for it, and not counted since."""
    wanted = {draw["lot"] for line in lines for draw in line["draws"] if draw.get("count_first")}
    known = (lot_forecast(shelf, lot) for lot in sorted(wanted) if lot in shelf.lot_by_name)
    return tuple(one.lot.lot for one in known if one.is_guess(shelf.today))


def shows_enough(lot: str, shelf: Shelf) -> bool:
    """Has a look seen eyes in the lot, or what its eggs may go with before?"""
    return lot in shelf.lot_by_name and lot_forecast(shelf, lot).is_sendable(shelf.settings.plan.send_from)


def fish_name(species: str, population: str, shelf: Shelf) -> str:
    """``Aphyosemion australe, Cap Esterias``."""
    row = shelf.species.get(species)
    name = row.scientific_name if row else species
    return f"{name}, {population}" if population else name
