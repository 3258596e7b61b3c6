"""What the ledger adds to the tables: lots bought in and orders owed again, from its entries."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import pairwise

from pydantic import ValidationError

from shipping.ledger.entries import Bought, ClaimSettled, Entry
from shipping.ledger.errors import LedgerError
from shipping.ledger.kept_parcel import KeptLine, KeptParcel
from shipping.tables.cells import BadCell
from shipping.tables.one_spelling import fish_names
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import OrderRow, OwedRow, fields_of_order
from shipping.tables.shelf import Shelf
from shipping.tables.spelling import did_you_mean
from shipping.words.keys import LineKey, grouped, owed_order
from shipping.words.problems import Where
from shipping.words.sentence import say
from shipping.words.units import many

SEND_AGAIN = "send again"
CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Owed:
    """Eggs of a ``line`` sent (None: unknown) owed again since a day, as line 1 of a new ``order``."""

    order: str
    of: LineKey
    eggs: int
    since: date
    entry: int
    line: KeptLine | None = None


def owed(settled: Iterable[Entry], parcels: Mapping[str, KeptParcel] | None = None) -> tuple[Owed, ...]:
    """What is owed again by new order; later settlements add. ``parcels``: those the claims are about."""
    by_name: dict[str, Owed] = {}
    for entry in settled:
        body = entry.body
        if isinstance(body, ClaimSettled) and body.eggs > 0:
            name = owed_order((body.order, body.line))
            key, before = (body.order, body.line), by_name[name].eggs if name in by_name else 0
            line = parcels[body.parcel].line(key) if parcels else None
            by_name[name] = Owed(name, key, before + body.eggs, entry.day, entry.seq, line)
    return tuple(by_name[name] for name in sorted(by_name))


def owed_rows(owed_lines: Iterable[Owed], rows: Iterable[OrderRow], file: str) -> Iterator[OwedRow]:
    """A row for each line owed that still stands in the tables for the same fish; an order owed may be owed
    again.

    It keeps the day the order was placed, its address, papers and wishes, and costs nothing; its value is its
    eggs' part of the line's price. It has no bounds.
    """
    by_order = grouped((row.order, row) for row in rows)
    for line in sorted(owed_lines, key=lambda owed: (owed.order.count("-again"), owed.order)):
        name, number = line.of
        of_order = by_order.get(name, ())
        is_there = len(of_order) >= number and (line.line is None or line.line.is_for(of_order[number - 1]))
        if is_there and line.order not in by_order:
            row = _row(line, list(of_order), file)
            by_order[line.order] = [row]
            yield row


def _row(line: Owed, rows: list[OrderRow], file: str) -> OwedRow:
    original = rows[line.of[1] - 1]
    cells = {name: getattr(original, name) for name in type(original).model_fields} | fields_of_order(rows)
    sold = original.value if isinstance(original, OwedRow) else original.price
    value = None if sold is None else (sold * line.eggs / original.eggs).quantize(CENT)
    changed = {
        "at": Where(file, line.entry),
        "order": line.order,
        "paid_on": line.since,
        "eggs": line.eggs,
        "price": Decimal(0),
        "value": value,
        "not_before": None,
        "not_after": None,
        "note": f"sent again for {line.of[0]}:{line.of[1]}",
    }
    return OwedRow.model_construct(**{**cells, **changed})


FERTILE_STAGES = frozenset({"fertile", "eyed", "ready"})


def bought_lot(bought: Bought, at: Where) -> Lot:
    """The lot that eggs bought in become, counted on arrival. Raises LedgerError if a value cannot be one."""
    cells: dict[str, object] = {
        "at": at,
        "lot": bought.lot,
        "species": bought.species,
        "population": bought.population,
        "laid_from": bought.laid_from,
        "laid_to": bought.laid_to,
        "medium": bought.medium,
        "kept_at_c": bought.kept_at_c,
        "eggs": bought.alive,
        "counted_on": bought.arrived_on,
        "keep_back": bought.keep_back,
        "origin": bought.from_whom or "bought in",
        "note": bought.note,
    }
    if bought.stage:
        cells |= {"stage": bought.stage, "stage_on": bought.arrived_on}
    try:
        return Lot.model_validate(cells)
    except ValidationError as error:
        first = error.errors()[0]
        cause = first.get("ctx", {}).get("error")
        column = ".".join(str(part) for part in first["loc"])
        if isinstance(cause, BadCell):
            raise LedgerError(say("{column}: {text}.", column, cause.text), cause.mend) from error
        raise LedgerError(f"{column}: {first['msg']}.", "Write it as in the table lots.") from error


def check_bought(bought: Bought, shelf: Shelf, lots_bought: Iterable[str]) -> None:
    """Raises LedgerError if the eggs cannot become a lot of the shelf, naming the first obstacle."""
    bought_lot(bought, Where(""))
    for text, mend in _wrong(bought, shelf, frozenset(lots_bought)):
        raise LedgerError(text, mend)


def _wrong(bought: Bought, shelf: Shelf, lots_bought: frozenset[str]) -> Iterator[tuple[str, str]]:
    if bought.lot in shelf.lot_by_name or bought.lot in lots_bought:
        yield say("there is a lot {lot} already.", bought.lot), "Give the new one a name of its own."
    if bought.species not in shelf.species:
        mend = fish_names(shelf.species.values()).mend(bought.species) or "Add it there."
        yield say("'{species}' is not in species.", bought.species), mend
    counted = bought.alive + (bought.hatched_alive or 0) + (bought.dead or 0)
    if bought.sent < 1 or min(bought.alive, bought.hatched_alive or 0, bought.dead or 0) < 0:
        yield "a count is below zero, or none were sent.", "Give how many were sent and how many were found."
    if counted > bought.sent:
        text = say("{sent} eggs were sent, but {found} were found.", bought.sent, counted)
        yield text, "Count the extra eggs as sent, too."
    if bought.keep_back > bought.alive:
        text = say("{kept} are kept back of {alive} alive.", bought.keep_back, bought.alive)
        yield text, "Keep back fewer."
    told = (
        (say("laid from"), bought.laid_from),
        (say("laid to"), bought.laid_to),
        (say("posted"), bought.posted_on),
        (say("arrived"), bought.arrived_on),
    )
    days = [(name, day) for name, day in told if day is not None]
    for (name, day), (later, after) in pairwise(days):
        if day > after:
            text = say("{name} {day} is after {later} {after}.", name, day, later, after)
            yield text, "Mend one of the two days."
    packings = sorted(shelf.packing_by_name)
    if bought.packing and bought.packing not in packings:
        mend = did_you_mean(bought.packing, packings, "Leave it away: then it teaches no losses.")
        yield say("'{packing}' is not in packings.", bought.packing), mend
    names = sorted({row.service for row in shelf.services})
    if bought.service and bought.service not in names:
        mend = did_you_mean(bought.service, names, "Leave it away: then it teaches no days.")
        yield say("'{service}' is not in services.", bought.service), mend


def shown_lot(bought: Bought) -> tuple[str, ...]:
    """What follows from a purchase, for a person."""
    if bought.posted_on is None:
        taught = "How long they took is not known (--posted), so they teach nothing."
    else:
        days = (bought.arrived_on - bought.posted_on).days
        taught = f"They took {many(days, 'day')}; `spawnpost learn` takes that in" + (
            "." if bought.packing or bought.service else ", once their service or packing is one of yours."
        )
    return (
        f"Lot {bought.lot} is on the shelf with {many(bought.alive, 'egg')}; looks at it go into"
        " inspections.",
        taught,
    )
