"""Orders of the table and of mapped sheets made one, and what changed in mapped sheets since."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from shipping.tables.files.csv_file import is_there, sheet_from_csv
from shipping.tables.files.find_sheets import SEEN_FILE
from shipping.tables.files.sheet import Unreadable, notice
from shipping.tables.files.whole_file import not_written, write_whole
from shipping.tables.row_reader import TableRows
from shipping.tables.rows.orders import OrderRow
from shipping.tables.shelf import TABLE_BY_NAME
from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say

COLUMNS = TABLE_BY_NAME["orders"].columns
HEADER = ("sheet", "line", *COLUMNS)
_TAKE = "If that is right, run check --take."
#: The texts of the rows of one order, line by line.
Texts = tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class MergedOrders:
    """All rows of orders; ``mapped`` are those of mapped sheets, by sheet and order.

    ``keeps_payments`` are the files that have ``paid_on``; ``broken`` those mapped sheets that were not read
    without error.
    """

    rows: tuple[OrderRow, ...]
    mapped: Mapping[tuple[str, str], tuple[OrderRow, ...]]
    keeps_payments: frozenset[str]
    broken: frozenset[str]
    problems: tuple[Problem, ...] = ()


def merged_orders(own: TableRows, mapped: Sequence[TableRows]) -> MergedOrders:
    """The rows of the orders table and of mapped sheets as one.

    An order that stands in the table is taken from there, so that the breeder can overrule a sheet. The same
    order in two mapped sheets counts once where it is the same, and is an error where it differs.
    """
    rows = [row for row in own.rows if isinstance(row, OrderRow)]
    of_sheets = ((table.file, row) for table in mapped for row in table.rows)
    by_order = grouped(((file, row.order), row) for file, row in of_sheets if isinstance(row, OrderRow))
    taken: dict[str, list[OrderRow]] = {}
    problems: list[Problem] = []
    for (_, order), lines in by_order.items():
        earlier = taken.get(order)
        if order in own.names:
            text = say("'{order}' stands in {file} too, and is taken from there.", order, own.file)
            problems.append(Problem(lines[0].at, "order", "overruled", text, "", Level.NOTICE))
        elif earlier is None:
            taken[order] = lines
        elif texts_of(earlier) != texts_of(lines):
            text = say("'{order}' stands in {at} too, with other values.", order, earlier[0].at)
            problems.append(Problem(lines[0].at, "order", "twice", text, "Give one of the sheets a prefix."))
    return MergedOrders(
        rows=(*rows, *(row for lines in taken.values() for row in lines)),
        mapped={key: tuple(lines) for key, lines in by_order.items()},
        keeps_payments=frozenset(table.file for table in (own, *mapped) if "paid_on" in table.columns),
        broken=frozenset(
            table.file
            for table in mapped
            if not table.complete or any(problem.level is Level.ERROR for problem in table.problems)
        ),
        problems=tuple(problems),
    )


def texts_of(rows: Sequence[OrderRow]) -> Texts:
    """Each row's values as text, in the order of the columns."""
    return tuple(tuple(_text(getattr(row, column)) for column in COLUMNS) for row in rows)


def _text(value: object) -> str:
    if value is None:
        return ""
    return ";".join(map(str, value)) if isinstance(value, tuple) else str(value)


def changes(folder: Path, merged: MergedOrders, take: bool) -> Iterator[Problem]:
    """What differs from what was taken last, before and after: an error, or with ``take`` a notice."""
    level = Level.NOTICE if take else Level.ERROR
    try:
        seen = _read_seen(folder)
    except Unreadable as broken:
        mend = "Run check --take to write it anew."
        yield Problem(broken.problem.where, "", broken.problem.code, broken.problem.text, mend, level)
        return
    for key, before in seen.items():
        sheet, order = key
        if sheet in merged.broken:
            continue
        if key not in merged.mapped:
            text = say("order '{order}' was read before and is gone.", order)
            yield Problem(Where(sheet), "order", "changed", text, _TAKE, level)
            continue
        rows = merged.mapped[key]
        after = texts_of(rows)
        if len(after) != len(before):
            told = (order, len(before), len(after))
            text = say("lines of order '{order}': {count} when it was read before, and now {now}.", *told)
            yield Problem(rows[0].at, "order", "changed", text, _TAKE, level)
        for row, old, new in zip(rows, before, after, strict=False):
            for column, was, now in zip(COLUMNS, old, new, strict=True):
                if was != now:
                    text = say("was '{was}' when it was read before, and is now '{now}'.", was, now)
                    yield Problem(row.at, column, "changed", text, _TAKE, level)
    new_orders = [key for key in merged.mapped if key not in seen]
    if new_orders and not take:
        count = len(new_orders)
        text = say("{count} orders are new.", count) if count > 1 else say("1 order is new.")
        yield notice(new_orders[0][0], 0, "", "new", text, "Run check --take to be told of later changes.")


def _read_seen(folder: Path) -> dict[tuple[str, str], Texts]:
    """What was taken last, by sheet and order."""
    path = folder / SEEN_FILE
    if not is_there(path):
        return {}
    rows = [[str(cell) for cell in cells] for _, cells in sheet_from_csv(path, comments=False).rows]
    header = rows[0] if rows else []
    is_ours = header[:3] == list(HEADER[:3]) and set(header) <= set(HEADER)
    if not is_ours or any(len(row) != len(header) for row in rows):
        raise Unreadable(Problem(Where(SEEN_FILE), "", "no-header", "is not as it was written.", ""))
    seen: dict[tuple[str, str], list[tuple[str, ...]]] = {}
    for row in rows[1:]:
        cells = dict(zip(header, row, strict=True))  # a column that is newer than the file was blank then
        texts = tuple(cells.get(column, "").removeprefix("'") for column in COLUMNS)
        seen.setdefault((cells["sheet"], texts[0]), []).append(texts)
    return {key: tuple(rows_of_order) for key, rows_of_order in seen.items()}


def keep_as_seen(folder: Path, merged: MergedOrders) -> None:
    """Write the rows of all mapped sheets as they stand, in one step, as UTF-8 with mark."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(HEADER)
    for (sheet, _), rows in sorted(merged.mapped.items()):
        for line, cells in enumerate(texts_of(rows), start=1):
            writer.writerow([sheet, line, *(_guarded(cell) for cell in cells)])
    path = folder / SEEN_FILE
    try:
        write_whole(path, text.getvalue().encode("utf-8-sig"))
    except OSError as error:
        raise not_written(path, error) from error


def _guarded(cell: str) -> str:
    """Text that a spreadsheet would take for a formula, with an apostrophe in front."""
    return f"'{cell}" if cell.startswith(("=", "+", "-", "@", "'")) else cell
