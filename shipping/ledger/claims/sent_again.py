"""Claims settled by sending again: settlements and rows of orders in, rows owed again out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from shipping.ledger.entries import ClaimSettled, Entry
from shipping.ledger.kept import LineKey
from shipping.tables.rows.orders import OrderRow, OwedRow, fields_of_order
from shipping.words.problems import Where

SEND_AGAIN = "send again"


@dataclass(frozen=True, slots=True)
class Owed:
    """Eggs of a line owed again since a day; ``order`` is the new order's name, its only line is 1."""

    order: str
    of: LineKey
    eggs: int
    since: date
    entry: int


def owed_order(key: LineKey) -> str:
    """The name of the order that sends a line again: ``S10-2-again``."""
    return f"{key[0]}-{key[1]}-again"


def owed(settled: Iterable[Entry]) -> tuple[Owed, ...]:
    """What is owed again, by the new order's name; later settlements of a line add to the earlier."""
    by_name: dict[str, Owed] = {}
    for entry in settled:
        body = entry.body
        if isinstance(body, ClaimSettled) and body.eggs > 0:
            name = owed_order((body.order, body.line))
            before = by_name[name].eggs if name in by_name else 0
            by_name[name] = Owed(name, (body.order, body.line), before + body.eggs, entry.day, entry.seq)
    return tuple(by_name[name] for name in sorted(by_name))


def owed_rows(owed_lines: Iterable[Owed], rows: Iterable[OrderRow], file: str) -> Iterator[OwedRow]:
    """A row for each line owed whose order still stands in the tables; an order owed may be owed again.

    It keeps the day the order was placed, its address, papers and wishes, and costs nothing; it has no
    bounds.
    """
    by_order: dict[str, list[OrderRow]] = {}
    for row in rows:
        by_order.setdefault(row.order, []).append(row)
    for line in sorted(owed_lines, key=lambda owed: (owed.order.count("-again"), owed.order)):
        name, number = line.of
        of_order = by_order.get(name, ())
        if len(of_order) >= number and line.order not in by_order:
            row = _row(line, list(of_order), file)
            by_order[line.order] = [row]
            yield row


def _row(line: Owed, rows: list[OrderRow], file: str) -> OwedRow:
    original = rows[line.of[1] - 1]
    cells = {name: getattr(original, name) for name in type(original).model_fields} | fields_of_order(rows)
    changed = {
        "at": Where(file, line.entry),
        "order": line.order,
        "paid_on": line.since,
        "eggs": line.eggs,
        "price": Decimal(0),
        "not_before": None,
        "not_after": None,
        "note": f"sent again for {line.of[0]}:{line.of[1]}",
    }
    return OwedRow.model_construct(**{**cells, **changed})
