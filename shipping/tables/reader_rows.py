"""A Sheet and its Table in, frozen rows and problems out; what rows say of each other is left to the checks."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from pydantic import ValidationError

from shipping.tables.cells import BadCell, Row, as_text, shortened
from shipping.tables.reader_cells import ReadAs, Work, cells_of_row
from shipping.tables.sheet import (
    BadSource,
    Sheet,
    Unreadable,
    cleaned,
    did_you_mean,
    nearest,
    notice,
)
from shipping.tables.table_list import Table
from shipping.words.problems import Level, Problem, Where

#: A blank of which columns is another row's fault: fills the cells of a row and names those columns.
Fill = Callable[[dict[str, object]], frozenset[str]]


@dataclass(frozen=True)
class TableRows:
    """One table as read. ``names`` are the keys of all rows, those with mistakes too, so that none is missed twice.

    ``complete`` is false where the header was wrong or the reading broke off: then nothing is said of missing names.
    """

    table: Table
    file: str
    columns: frozenset[str] = frozenset()
    rows: tuple[Row, ...] = ()
    names: frozenset[str] = frozenset()
    problems: tuple[Problem, ...] = ()
    read_as: tuple[ReadAs, ...] = ()
    complete: bool = False
    labels: Mapping[str, str] = field(default_factory=dict)


def read_rows(table: Table, sheet: Sheet, fill: Fill | None = None) -> TableRows:
    """The rows of one table, and every problem of its header and cells.

    A wrong header is one message a column, and then no row is judged.
    """
    comma_columns = table.numbers if sheet.decimal_comma else frozenset()
    work = Work(table, sheet, problems=list(sheet.notices), comma_columns=comma_columns)
    complete = False
    try:
        if _header_is_good(work):
            for number, cells in sheet.rows:
                _read_row(work, number, cells, fill)
            complete = True
    except Unreadable as broken_off:
        work.problems.append(broken_off.problem)
    if complete and not work.rows and not work.names:
        work.problems.append(notice(sheet.file, 0, "", "no-rows", "has a header and no rows."))
    return TableRows(
        table,
        sheet.file,
        frozenset(place for place in work.places if place),
        tuple(work.rows),
        frozenset(work.names),
        tuple(work.problems),
        tuple(work.read_as.values()),
        complete,
        {place: work.label(place) for place in work.places if place},
    )


def _header_is_good(work: Work) -> bool:
    number, cells = next(work.sheet.rows, (0, []))
    if not cells:
        header = ",".join(work.table.required_columns)
        work.problem(0, "", "no-header", "is empty.", f"Write a header: {header}.")
        return False
    before = len(work.problems)
    known = {column.casefold(): column for column in work.table.columns}
    for cell in cells:
        name = cleaned(as_text(cell), keep_breaks=False)[0] if not isinstance(cell, BadSource) else cell.text
        column = known.get(name.casefold())
        if not name or name.startswith("_"):
            if not name:
                work.blank_headers.add(len(work.places))
            work.places.append(None)
        elif column is None:
            work.places.append(None)
            _unknown_column(work, number, name)
        elif column in work.places:
            work.places.append(None)
            work.problem(number, column, "column-twice", "stands twice in the header.", "Remove or rename one.")
        else:
            work.places.append(column)
    missing = [column for column in work.table.required_columns if column not in work.places]
    if len(work.problems) == before or not any(problem.code == "unknown-column" for problem in work.problems[before:]):
        for column in missing:
            work.problem(number, column, "no-column", "is missing from the header.", "Add the column.")
    else:
        _missing_beside_unknown(work, number, missing, before)
    return len(work.problems) == before


def _unknown_column(work: Work, number: int, name: str) -> None:
    columns = list(work.table.columns)
    mend = did_you_mean(name, columns, f"Its columns are {', '.join(columns)}.")
    own = "" if nearest(name, columns) else " A column of your own begins with _."
    work.problem(number, shortened(name), "unknown-column", f"is no column of {work.table.name}.", mend + own)


def _missing_beside_unknown(work: Work, number: int, missing: list[str], before: int) -> None:
    """A missing column whose misspelling was just reported is the same cause, and is not said again."""
    said = " ".join(problem.mend for problem in work.problems[before:] if problem.code == "unknown-column")
    for column in missing:
        if f"'{column}'" not in said:
            work.problem(number, column, "no-column", "is missing from the header.", "Add the column.")


def _read_row(work: Work, number: int, cells: list[object], fill: Fill | None) -> None:
    before = len(work.problems)
    found = cells_of_row(work, number, cells)
    key = work.table.key
    if key in found:
        work.names.add(as_text(found[key]))
    unread = {problem.column for problem in work.problems[before:] if problem.level is Level.ERROR}
    if "" in unread:
        return  # the cells may stand under the wrong headers, so nothing more is said of them
    others_fault = fill(found) if fill else frozenset()
    found["at"] = Where(work.sheet.file, number)
    try:
        row = work.table.model.model_validate(found)
    except ValidationError as error:
        for problem in problems_of(error, found, work, number):
            if problem.column not in unread and problem.column.partition(" ")[0] not in others_fault:
                work.problems.append(problem)
        return
    if not unread:
        work.rows.append(row)


def problems_of(error: ValidationError, found: Mapping[str, object], work: Work, number: int) -> Iterator[Problem]:
    """The problems of one row, one a column, in the order of the columns."""
    seen: set[str] = set()
    for detail in error.errors(include_url=False):
        column = str(detail["loc"][0])
        if column in seen:
            continue
        seen.add(column)
        where = Where(work.sheet.file, number)
        cause = detail.get("ctx", {}).get("error")
        if isinstance(cause, BadCell):
            yield Problem(where, work.label(column), "cell", f"{cause.text}.", cause.mend)
        elif detail["type"] == "missing":
            yield Problem(where, work.label(column), "blank", "is blank.", what_to_write(work.table.kinds[column]))
        else:
            text = f"'{shortened(as_text(found.get(column, '')))}' cannot be read."
            yield Problem(where, work.label(column), "cell", text, what_to_write(work.table.kinds[column]))


def what_to_write(kinds: frozenset[Any]) -> str:
    """The mend of a blank cell, by what the column holds."""
    if date in kinds:
        return "Write the day as 2026-11-30."
    if int in kinds:
        return "Write a whole number."
    if float in kinds or Decimal in kinds:
        return "Write a number."
    return "Write it, or remove the row."
