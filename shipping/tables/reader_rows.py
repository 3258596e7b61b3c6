"""A Sheet and its Table in, frozen rows and problems out; what rows say of each other is left to the checks."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from pydantic import ValidationError

from shipping.tables.cells import BadCell, Row, as_text, shortened
from shipping.tables.sheet import (
    ERROR_CELL,
    LONGEST_CELL,
    BadSource,
    Sheet,
    Unreadable,
    cleaned,
    column_letter,
    did_you_mean,
    nearest,
    notice,
)
from shipping.tables.table_list import Table
from shipping.words.problems import Level, Problem, Where

#: A blank of which columns is another row's fault: fills the cells of a row and names those columns.
Fill = Callable[[dict[str, object]], frozenset[str]]

_COMMA_NUMBER = re.compile(r"[+-]?[0-9]*,[0-9]+")
#: An apostrophe guards a leading = + - @ in CSV, so that a spreadsheet does not take text for a formula.
_BEFORE_A_FORMULA = re.compile(r"'[=+\-@]")
#: Plain text with one of these in front is looked at more closely: an error, or a guarded formula.
_MAY_BE_SPECIAL = frozenset("#E'")
_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}(\.[0-9]{3})+")


@dataclass(frozen=True, slots=True)
class ReadAs:
    """A cell that was read as something not letter for letter the same; the first of its kind in a column."""

    where: Where
    column: str
    written: str
    read: str

    def __str__(self) -> str:
        return f"{self.where}: {self.column}: '{self.written}' was read as '{self.read}'."


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


@dataclass
class _Work:
    """What gathers while one sheet is read."""

    table: Table
    sheet: Sheet
    places: list[str | None] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    problems: list[Problem] = field(default_factory=list)
    read_as: dict[str, ReadAs] = field(default_factory=dict)
    blank_headers: set[int] = field(default_factory=set)

    comma_columns: frozenset[str] = frozenset()

    def label(self, column: str) -> str:
        """The column as messages name it; in a workbook with its letter, in a mapped sheet with its own header."""
        if column in self.sheet.labels:
            return self.sheet.labels[column]
        if self.sheet.is_workbook and column in self.places:
            return f"{column} (column {column_letter(self.places.index(column))})"
        return column

    def problem(self, row: int, column: str, code: str, text: str, mend: str) -> None:
        self.problems.append(Problem(Where(self.sheet.file, row), self.label(column), code, text, mend))


def read_rows(table: Table, sheet: Sheet, fill: Fill | None = None) -> TableRows:
    """The rows of one table, and every problem of its header and cells.

    A wrong header is one message a column, and then no row is judged.
    """
    comma_columns = table.numbers if sheet.decimal_comma else frozenset()
    work = _Work(table, sheet, problems=list(sheet.notices), comma_columns=comma_columns)
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


def _header_is_good(work: _Work) -> bool:
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


def _unknown_column(work: _Work, number: int, name: str) -> None:
    columns = list(work.table.columns)
    mend = did_you_mean(name, columns, f"Its columns are {', '.join(columns)}.")
    own = "" if nearest(name, columns) else " A column of your own begins with _."
    work.problem(number, shortened(name), "unknown-column", f"is no column of {work.table.name}.", mend + own)


def _missing_beside_unknown(work: _Work, number: int, missing: list[str], before: int) -> None:
    """A missing column whose misspelling was just reported is the same cause, and is not said again."""
    said = " ".join(problem.mend for problem in work.problems[before:] if problem.code == "unknown-column")
    for column in missing:
        if f"'{column}'" not in said:
            work.problem(number, column, "no-column", "is missing from the header.", "Add the column.")


def _read_row(work: _Work, number: int, cells: list[object], fill: Fill | None) -> None:
    before = len(work.problems)
    found = _cells_of_row(work, number, cells)
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


def _cells_of_row(work: _Work, number: int, cells: list[object]) -> dict[str, object]:
    """The cells that hold something, by column, as the parsers take them.

    This is the loop that every cell of every table goes through, so plain text is let pass without a call.
    """
    if len(cells) > len(work.places):
        _cells_beyond_the_header(work, number, cells)
    found: dict[str, object] = {}
    for place, (column, cell) in enumerate(zip(work.places, cells, strict=False)):
        if cell is None or cell == "":
            continue
        if column is None:
            if place in work.blank_headers and as_text(cell):
                _cell_without_a_header(work, number, place)
        elif isinstance(cell, str):
            text = cell.strip()
            if not (text.isascii() and text.isprintable() and len(text) <= LONGEST_CELL) or text[:1] in _MAY_BE_SPECIAL:
                text = _text_of_cell(work, number, column, text)
            if text and column in work.comma_columns:
                text = _with_a_point(work, number, column, text)
            if text:
                found[column] = text
        elif isinstance(cell, BadSource):
            work.problem(number, column, "spreadsheet-error", cell.text, cell.mend)
        else:
            found[column] = cell
            if column == "postcode":
                _postcode_as_a_number(work, number, column, cell)
    return found


def _postcode_as_a_number(work: _Work, number: int, column: str, cell: object) -> None:
    text = f"{as_text(cell)} is kept as a number, so a zero in front may be lost."
    told = notice(work.sheet.file, number, work.label(column), "number-as-postcode", text, "Set the column to text.")
    work.problems.append(told)


def _text_of_cell(work: _Work, number: int, column: str, cell: str) -> str:
    """The text without marks nobody sees; blank where it was reported (too long, or a spreadsheet's error)."""
    if len(cell) > LONGEST_CELL:
        work.problem(number, column, "too-large", f"has {len(cell)} characters.", f"Write at most {LONGEST_CELL}.")
        return ""
    if ERROR_CELL.fullmatch(cell):
        mend = "Mend the formula in the spreadsheet, then save it again."
        work.problem(number, column, "spreadsheet-error", f"holds the spreadsheet error {cell}.", mend)
        return ""
    if work.sheet.separator and _BEFORE_A_FORMULA.match(cell):
        cell = cell[1:]
    text, changed = cleaned(cell, keep_breaks=column in work.table.notes)
    if changed:
        told = "held marks that cannot be seen or a line break; they were left out."
        work.problems.append(notice(work.sheet.file, number, work.label(column), "unseen-marks", told))
    return text


def _cells_beyond_the_header(work: _Work, number: int, cells: list[object]) -> None:
    beyond = [as_text(cell) for cell in cells[len(work.places) :] if cell is not None and as_text(cell)]
    if beyond:
        many = "cell" if len(beyond) == 1 else "cells"
        text = f"has {len(beyond)} {many} more than the header ('{shortened(beyond[-1])}')."
        mend = "Put quotes round a cell that holds the separator, or remove the cell."
        work.problem(number, "", "too-many-cells", text, mend)


def _cell_without_a_header(work: _Work, number: int, place: int) -> None:
    """A column whose header is blank is said once."""
    work.blank_headers.discard(place)
    text = f"has a cell in column {column_letter(place)}, which has no header."
    work.problem(number, "", "no-header", text, "Write its header, or empty the column.")


def _with_a_point(work: _Work, number: int, column: str, cell: str) -> str:
    """A number with a decimal comma, with a point; one that has two readings is asked about."""
    if _COMMA_NUMBER.fullmatch(cell):
        read = cell.replace(",", ".")
        work.read_as.setdefault(column, ReadAs(Where(work.sheet.file, number), work.label(column), cell, read))
        return read
    if _THOUSANDS.fullmatch(cell):
        whole = cell.replace(".", "")
        mend = f"Write {whole} or {cell.replace('.', ',')}." if cell.count(".") == 1 else f"Write {whole}."
        work.problem(number, column, "two-readings", f"'{cell}' has two readings here.", mend)
        return ""
    return cell


def problems_of(error: ValidationError, found: Mapping[str, object], work: _Work, number: int) -> Iterator[Problem]:
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
