"""A breeder's folder in, a Shelf and every problem out; nothing the breeder wrote is changed.

Orders of the table and of mapped sheets are made one here, and what changed in mapped sheets is said.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from shipping.tables.cells import Row
from shipping.tables.cells_as_typed import ReadAs, encodings_once, questions
from shipping.tables.checks.addresses import own_code_of
from shipping.tables.checks.all_checks import problems_across
from shipping.tables.files.csv_file import is_there, sheet_from_csv
from shipping.tables.files.find_sheets import SEEN_FILE, find_sheets
from shipping.tables.files.settings_reader import MAP_FILE, SETTINGS_FILE, read_settings
from shipping.tables.files.sheet import Sheet, Unreadable, notice
from shipping.tables.files.whole_file import not_written, write_whole
from shipping.tables.one_spelling import one_spelling
from shipping.tables.row_reader import FileRead, TableRows, read_rows
from shipping.tables.rows.lots import Group, Look, Lot
from shipping.tables.rows.orders import (
    FillFromFirstRow,
    Order,
    OrderRow,
    cancelled_lines,
    of_orders_alone,
    orders_from_rows,
)
from shipping.tables.rows.settings import ReadingRules, Settings
from shipping.tables.rows.species import Species, as_of_today
from shipping.tables.shelf import ORDER_COLUMNS, TABLE_BY_NAME, TABLES, Draft, Shelf
from shipping.words.keys import grouped
from shipping.words.long_work import all_is_kept
from shipping.words.problems import Level, Problem, Where, worst_first
from shipping.words.sentence import say

if TYPE_CHECKING:
    from shipping.tables.mapped_orders.combined_cells import KeptFish
    from shipping.tables.mapped_orders.mapping import MappedSheet

AnyRow = TypeVar("AnyRow", bound=Row)
#: Adds rows that stand in no table (eggs bought in, orders owed again) before the checks compare all rows.
Join = Callable[[Draft], Draft]


@dataclass(frozen=True)
class Reading:
    """What came of reading a folder: ``shelf`` is None exactly if some problem is an error.

    ``problems`` are worst first; ``read_as`` are cells read as something else, ``files`` what each file was
    read as.
    """

    shelf: Shelf | None
    problems: tuple[Problem, ...]
    read_as: tuple[ReadAs, ...] = ()
    files: tuple[FileRead, ...] = ()


def fish_and_rules(folder: Path) -> tuple[tuple[Species, ...], ReadingRules, KeptFish]:
    """The species of a shelf, how its cells are read, and what fish are kept, as far as it can be read."""
    settings, _ = read_settings(folder)
    rules = settings.reading if settings else ReadingRules()
    sheets = find_sheets(folder, frozenset(TABLE_BY_NAME), encoding=rules.encoding).sheets
    tables = {
        name: read_rows(TABLE_BY_NAME[name], sheets[name][0], None, rules)
        for name in ("species", "lots", "groups")
        if sheets.get(name)
    }
    species = rows_of(tables["species"], Species) if "species" in tables else ()
    return species, rules, _kept_fish(tables)


def _kept_fish(tables: Mapping[str, TableRows]) -> KeptFish:
    """Species and population of every lot and group."""
    lots = rows_of(tables["lots"], Lot) if "lots" in tables else ()
    groups = rows_of(tables["groups"], Group) if "groups" in tables else ()
    return frozenset((lot.species, lot.population) for lot in lots) | frozenset(
        (group.species, group.population) for group in groups
    )


def find_shelf(start: Path) -> Path | None:
    """The nearest folder, from ``start`` upward, that holds ``shelf.toml``; None where there is none."""
    start = start.resolve()
    return next((folder for folder in (start, *start.parents) if (folder / SETTINGS_FILE).is_file()), None)


def read_shelf(
    folder: Path,
    today: date,
    take: bool = False,
    join: Join | None = None,
    orders: Collection[str] | None = None,
) -> Reading:
    """The shelf in a folder as it stands on a day, and every problem of every file in one go.

    ``join`` adds rows that stand in no table, to be checked with all others. Nothing is written, but with
    ``take``: then rows of mapped sheets that changed are accepted, and kept as seen. With ``orders``, only
    their rows are read of the table of orders, and no arrivals: what the packing bench needs.
    """
    with all_is_kept():
        return _read_shelf(folder, today, take, join, orders)


def _read_shelf(
    folder: Path, today: date, take: bool, join: Join | None, orders: Collection[str] | None
) -> Reading:
    settings, setting_problems = read_settings(folder)
    rules = settings.reading if settings else ReadingRules()
    currency = settings.plan.currency if settings else ""
    maps, map_problems = _maps(folder)
    has_map = bool(maps or map_problems)
    may_lack = frozenset({"orders"} if has_map else ())
    there = find_sheets(folder, may_lack, frozenset(mapped.file for mapped in maps), rules.encoding)
    tables: dict[str, TableRows] = {}
    for table in TABLES:
        sheets = there.sheets.get(table.name, [])
        if orders is not None:
            sheets = _for_the_bench(table.name, sheets, orders)
        if sheets:
            fill = FillFromFirstRow() if table.name == "orders" else None
            tables[table.name] = read_rows(table, sheets[0], fill, rules, today, currency)
        else:
            is_complete = table.name not in there.unreadable
            tables[table.name] = TableRows(table, f"{table.name}.csv", complete=is_complete)
    fish = rows_of(tables["species"], Species)
    kept = _kept_fish(tables)
    mapped = [_mapped_orders(folder, mapping, fish, settings, kept) for mapping in maps]
    merged = merged_orders(tables["orders"], mapped)
    everything = [*tables.values(), *mapped]
    draft = draft_of(today, settings, tables, merged.rows)
    draft = join(draft) if join else draft
    named, bad_cells = _with_partial_rows(draft, everything)
    draft, respelt = one_spelling(draft)
    problems = [*setting_problems, *map_problems, *there.problems]
    problems += [problem for rows in everything for problem in rows.problems]
    days = [cell for rows in everything for cell in rows.other_days]
    unsure = {cell.where for cell in days}
    across = [
        problem
        for problem in problems_across(draft, named)
        if (problem.where not in unsure or problem.code not in _OF_DAYS)
        and (problem.where, problem.column) not in bad_cells
    ]
    problems += [_with_letter(problem, everything) for problem in (*merged.problems, *across)]
    problems += questions(days, [cell for rows in everything for cell in rows.comma_numbers])
    problems = encodings_once(problems)
    if maps:
        problems += [_with_letter(problem, everything) for problem in changed_since(folder, merged, take)]
    in_order = worst_first(problems, [SETTINGS_FILE, *(rows.file for rows in everything)])
    settings_file = FileRead(SETTINGS_FILE, "settings", "TOML", None, settings is not None)
    told = [settings_file] if (folder / SETTINGS_FILE).exists() else []
    files = (*told, *(rows.told(in_order) for rows in everything if rows.form))
    read_as = tuple(cell for rows in everything for cell in rows.read_as)
    read_as += tuple(replace(cell, column=_label(cell.where, cell.column, everything)) for cell in respelt)
    if settings is None or any(problem.level is Level.ERROR for problem in in_order):
        return Reading(None, in_order, read_as, files)
    if maps and take:
        keep_as_seen(folder, merged)
    draft = replace(draft, species=tuple(map(as_of_today, draft.species)))
    return Reading(shelf_of(draft, settings, merged.keeps_payments, in_order), in_order, read_as, files)


def _with_partial_rows(
    draft: Draft, tables: Sequence[TableRows]
) -> tuple[Draft | None, frozenset[tuple[Where, str]]]:
    """The draft with what could be read of rows with mistakes too, each name as its table spells it, and the
    bad cells of those rows; None where there are no such rows.
    """
    rows: dict[str, list[Row]] = {}
    for table in tables:
        if table.partial:
            rows.setdefault(table.table.field, []).extend(one.row for one in table.partial)
    if not rows:
        return None, frozenset()
    bad = frozenset((one.row.at, column) for table in tables for one in table.partial for column in one.bad)
    more: dict[str, Any] = {field: (*getattr(draft, field), *found) for field, found in rows.items()}
    return one_spelling(replace(draft, **more))[0], bad


def _maps(folder: Path) -> tuple[tuple[MappedSheet, ...], tuple[Problem, ...]]:
    """How other shops' sheets are read: few shelves have such, and load what they need."""
    if not is_there(folder / MAP_FILE):
        return (), ()
    from shipping.tables.mapped_orders.mapping import read_map

    return read_map(folder)


def _mapped_orders(
    folder: Path, mapped: MappedSheet, species: tuple[Species, ...], settings: Settings | None, kept: KeptFish
) -> TableRows:
    from shipping.tables.mapped_orders.mapped_sheet import mapped_orders

    if settings is None:
        return mapped_orders(folder, mapped, species, None, kept)
    return mapped_orders(folder, mapped, species, settings.reading, kept, settings.plan.currency)


def _for_the_bench(table: str, sheets: list[Sheet], orders: Collection[str]) -> list[Sheet]:
    if table == "orders":
        return [of_orders_alone(sheet, orders) for sheet in sheets]
    return [] if table == "arrivals" else sheets


#: What rests on the days of a row, which may be read otherwise once the question about them is answered.
_OF_DAYS = frozenset(
    [
        *("order", "future", "long-laying", "long-wait", "stage-day", "backwards", "recount", "losses"),
        *("asked", "twice", "disagree"),
    ]
)


def rows_of(table: TableRows, model: type[AnyRow]) -> tuple[AnyRow, ...]:
    """The rows of a table, as rows of its model."""
    return tuple(row for row in table.rows if isinstance(row, model))


def draft_of(
    today: date, settings: Settings | None, tables: Mapping[str, TableRows], order_rows: tuple[OrderRow, ...]
) -> Draft:
    """All that was read, ready for the checks."""
    rows: dict[str, Any] = {table.field: tables[table.name].rows for table in TABLES}
    return Draft(
        today=today,
        settings=settings,
        names={name: rows.names for name, rows in tables.items()},
        complete=frozenset(name for name, rows in tables.items() if rows.complete),
        failed={name: rows.failed for name, rows in tables.items()},
        **rows | {"order_rows": order_rows},
    )


def shelf_of(
    draft: Draft, settings: Settings, keeps_payments: frozenset[str], notices: tuple[Problem, ...]
) -> Shelf:
    """The shelf of a draft without errors, sorted so that the order of rows never matters."""
    tables: dict[str, Any] = {table.field: table.sorted(getattr(draft, table.field)) for table in TABLES}
    del tables["order_rows"]
    tables["species"] = {row.species: row for row in tables["species"]}
    tables["zones"] = {row.zone: frozenset(row.countries) for row in tables["zones"]}
    tables["lots"] = tuple(map(_with_stage_day, tables["lots"]))
    return Shelf(
        today=draft.today,
        settings=settings,
        orders=_orders(
            _in_their_country(_without_doubted_payments(draft.order_rows, notices), notices), keeps_payments
        ),
        cancelled=cancelled_lines(draft.order_rows),
        came_back=draft.came_back,
        notices=notices,
        lots_stopped=_lots_stopped(draft, notices),
        **tables,
    )


def _without_doubted_payments(
    rows: tuple[OrderRow, ...], problems: tuple[Problem, ...]
) -> tuple[OrderRow, ...]:
    """The rows, in which a day of payment that is asked about does not count."""
    held = {problem.where for problem in problems if problem.level is Level.ORDER}
    if not held:
        return rows
    names = {row.order for row in rows if row.at in held}
    return tuple(row.model_copy(update={"paid_on": None}) if row.order in names else row for row in rows)


def _in_their_country(rows: tuple[OrderRow, ...], problems: tuple[Problem, ...]) -> tuple[OrderRow, ...]:
    """The rows, each in the country whose postcode it has, unless the breeder said it is right as written."""
    asked = {problem.where for problem in problems if problem.code == "other-country"}
    own = {row.order: own_code_of(row.country, row.postcode) for row in rows if row.at in asked}
    return tuple(row.model_copy(update={"country": own.get(row.order) or row.country}) for row in rows)


def _orders(rows: tuple[OrderRow, ...], keeps_payments: frozenset[str]) -> tuple[Order, ...]:
    """The orders, sorted; a row without ``paid_on`` is unpaid only where its own sheet keeps payments."""
    paying = [row for row in rows if row.at.file in keeps_payments]
    others = [row for row in rows if row.at.file not in keeps_payments] if len(paying) < len(rows) else []
    orders = (*orders_from_rows(paying, has_paid_on=True), *orders_from_rows(others, has_paid_on=False))
    return tuple(sorted(orders, key=attrgetter("order"))) if paying and others else orders


def _with_stage_day(lot: Lot) -> Lot:
    """The lot, with the day of its count as the day of its stage where none was written."""
    return lot.model_copy(update={"stage_on": lot.counted_on}) if lot.stage and lot.stage_on is None else lot


def _lots_stopped(draft: Draft, problems: tuple[Problem, ...]) -> dict[str, Problem]:
    """The lots that one of the problems leaves out, with that problem."""
    stopping = [problem for problem in problems if problem.level is Level.LOT]
    rows: tuple[Lot | Look, ...] = (*draft.lots, *draft.looks) if stopping else ()
    named = {row.at: row.lot for row in rows}
    stopped: dict[str, Problem] = {}
    for problem in stopping:
        stopped.setdefault(named[problem.where], problem)
    return dict(sorted(stopped.items()))


def _with_letter(problem: Problem, tables: Sequence[TableRows]) -> Problem:
    """In a workbook the problem with the letter of its column, in a mapped sheet with its header there."""
    label = _label(problem.where, problem.column, tables)
    return problem if label == problem.column else replace(problem, column=label)


def _label(where: Where, column: str, tables: Sequence[TableRows]) -> str:
    """The column as messages of that file name it."""
    labels = (rows.labels for rows in tables if rows.file == where.file)
    return next((names[column] for names in labels if column in names), column)


_SEEN_HEADER = ("sheet", "line", *ORDER_COLUMNS)
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
    return tuple(tuple(_text(getattr(row, column)) for column in ORDER_COLUMNS) for row in rows)


def _text(value: object) -> str:
    if value is None:
        return ""
    return ";".join(map(str, value)) if isinstance(value, tuple) else str(value)


def changed_since(folder: Path, merged: MergedOrders, take: bool) -> Iterator[Problem]:
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
            for column, was, now in zip(ORDER_COLUMNS, old, new, strict=True):
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
    is_ours = header[:3] == list(_SEEN_HEADER[:3]) and set(header) <= set(_SEEN_HEADER)
    if not is_ours or any(len(row) != len(header) for row in rows):
        raise Unreadable(Problem(Where(SEEN_FILE), "", "no-header", "is not as it was written.", ""))
    seen: dict[tuple[str, str], list[tuple[str, ...]]] = {}
    for row in rows[1:]:
        cells = dict(zip(header, row, strict=True))  # a column that is newer than the file was blank then
        texts = tuple(cells.get(column, "").removeprefix("'") for column in ORDER_COLUMNS)
        seen.setdefault((cells["sheet"], texts[0]), []).append(texts)
    return {key: tuple(rows_of_order) for key, rows_of_order in seen.items()}


def keep_as_seen(folder: Path, merged: MergedOrders) -> None:
    """Write the rows of all mapped sheets as they stand, in one step, as UTF-8 with mark."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(_SEEN_HEADER)
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
