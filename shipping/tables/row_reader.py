"""A Sheet and its Table in, frozen rows and problems out; comparing rows is left to the checks."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, get_origin

from pydantic import ValidationError

from shipping.tables.cells import BadCell, Row, as_text, shortened
from shipping.tables.cells_as_typed import (
    OtherForm,
    PartialRow,
    ReadAs,
    SheetReading,
    cells_of_row,
    parted_number,
)
from shipping.tables.files.csv_file import SEPARATORS
from shipping.tables.files.sheet import ROWS_NAMED, BadSource, Sheet, Unreadable, cleaned
from shipping.tables.rows.settings import ReadingRules
from shipping.tables.shelf import TABLES, Table
from shipping.tables.spelling import nearest
from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say

#: A blank of which columns is another row's fault: fills the cells of a row and names those columns.
Fill = Callable[[dict[str, object]], frozenset[str]]


@dataclass(frozen=True, slots=True)
class FileRead:
    """What a file was read as: table, form in words, how many rows (if any), how many of them in error."""

    file: str
    table: str
    form: str
    rows: int | None
    complete: bool
    failed: int = 0

    def __str__(self) -> str:
        """Such as ``orders.csv (31 rows)``; the table too where the file is not named like it."""
        is_named = self.file in (f"{self.table}.csv", "shelf.toml") or self.file.endswith(f"[{self.table}]")
        parts = [] if is_named else [self.table]
        parts += [] if self.rows is None else ["1 row"] if self.rows == 1 else [f"{self.rows} rows"]
        parts += [f"{self.failed} of them with a mistake"] if self.failed else []
        parts += [] if self.complete else ["not to its end"]
        return f"{self.file} ({', '.join(parts)})" if parts else self.file

    def as_json(self) -> dict[str, object]:
        told = {"file": self.file, "table": self.table, "as": self.form}
        return told | {"rows": self.rows, "rows_with_a_mistake": self.failed, "complete": self.complete}


def files_told(files: Iterable[FileRead]) -> tuple[str, ...]:
    """A line for each form that files were read as, with those files."""
    by_form = grouped((file.form, str(file)) for file in files)
    return tuple(f"Read as {form}: {', '.join(told)}." for form, told in by_form.items())


@dataclass(frozen=True)
class TableRows:
    """One table as read. ``names`` are the keys of all rows, those with mistakes too, so that none is missed
    twice.

    ``failed`` are the keys of the rows with mistakes, ``partial`` what can be read of those rows.

    ``complete`` is false where the header was wrong or the reading broke off: then nothing is said of missing
    names.
    """

    table: Table
    file: str
    columns: frozenset[str] = frozenset()
    rows: tuple[Row, ...] = ()
    names: frozenset[str] = frozenset()
    failed: frozenset[str] = frozenset()
    partial: tuple[PartialRow, ...] = ()
    problems: tuple[Problem, ...] = ()
    read_as: tuple[ReadAs, ...] = ()
    complete: bool = False
    labels: Mapping[str, str] = field(default_factory=dict)
    form: str = ""
    other_days: tuple[OtherForm, ...] = ()
    comma_numbers: tuple[OtherForm, ...] = ()
    not_read: frozenset[int] = frozenset()

    def told(self, problems: Iterable[Problem]) -> FileRead:
        """The file, what it was read as, and how many of its rows are in error by these problems."""
        every = self.not_read.union(row.at.row for row in self.rows)
        wrong = (one.where for one in problems if one.level is Level.ERROR)
        failed = self.not_read.union(where.row for where in wrong if where.file == self.file) & every
        return FileRead(self.file, self.table.name, self.form, len(every), self.complete, len(failed))


def read_rows(
    table: Table,
    sheet: Sheet,
    fill: Fill | None = None,
    rules: ReadingRules | None = None,
    today: date | None = None,
    currency: str = "",
) -> TableRows:
    """The rows of one table, and every problem of its header and cells.

    A wrong header is one message a column, and then no row is judged. ``today``, where it is known, says
    which year a day without one most likely means; ``currency`` is that of prices.
    """
    said = rules or ReadingRules()
    decimal_comma = said.decimals == "comma" if said.decimals else True if sheet.decimal_comma else None
    notices = list(sheet.notices)
    reading = SheetReading(
        table,
        sheet,
        problems=notices,
        decimal_comma=decimal_comma,
        dates=said.dates,
        today=today,
        currency=currency,
    )
    complete = False
    try:
        if _header_is_found(reading):
            for number, cells in sheet.rows:
                _read_row(reading, number, cells, fill)
            complete = table.key in reading.places
    except Unreadable as broken_off:
        reading.problems.append(broken_off.problem)
    parted = [one for width, one in reading.perhaps_parted if width > reading.narrowest]
    if parted:
        reading.problems += parted
        not_read = {one.where for one in parted}
        reading.rows = [row for row in reading.rows if row.at not in not_read]
    if reading.other_separators:
        reading.problems.append(_separators_problem(reading))
    if reading.has_commas or not reading.has_points:
        reading.problems += reading.two_readings
    if reading.waiting:
        rows = rows_named(reading.waiting)
        text = say("{rows} go with rows above that have a mistake, and cannot be read before.", rows)
        if len(reading.waiting) == 1:
            text = say("{row} goes with a row above it that has a mistake, and cannot be read before.", rows)
        reading.noted(reading.waiting[0], "", "waits", text, "Mend that row first.")
    if sheet.skipped:
        rows = rows_named(sheet.skipped)
        text = say("{rows} begin with # and are not read.", rows)
        if len(sheet.skipped) == 1:
            text = say("{row} begins with # and is not read.", rows)
        reading.noted(sheet.skipped[0], "", "skipped-rows", text, "Take the # away where they count.")
    reported = any(problem.level is Level.ERROR for problem in reading.problems)
    if complete and table.required and not (reading.rows or reading.names or reported):
        reading.noted(0, "", "no-rows", "has a header and no rows.")
    return TableRows(
        table,
        sheet.file,
        frozenset(place for place in reading.places if place),
        tuple(reading.rows),
        frozenset(reading.names),
        frozenset(reading.failed),
        tuple(reading.partial),
        tuple(reading.problems),
        tuple(reading.read_as.values()),
        complete,
        {place: reading.label(place) for place in reading.places if place},
        sheet.form,
        tuple(reading.other_days),
        tuple(reading.comma_numbers),
        frozenset(reading.not_read),
    )


def rows_named(rows: Sequence[int]) -> str:
    """The rows of a sheet in words: ``row 3``, ``rows 3, 5``, and how many more there are."""
    shown = ", ".join(map(str, rows[:ROWS_NAMED]))
    if len(rows) > ROWS_NAMED:
        return say("rows {rows} and {count} more", shown, len(rows) - ROWS_NAMED)
    return say("row {rows}", shown) if len(rows) == 1 else say("rows {rows}", shown)


def _header_is_found(reading: SheetReading) -> bool:
    """Is there a header? What is wrong with single columns is said, and hides nothing of the others."""
    number, cells = next(reading.sheet.rows, (0, []))
    if not cells:
        header = ",".join(reading.table.required_columns)
        reading.problem(0, "", "no-header", "is empty.", say("Write a header: {header}.", header))
        return False
    before = len(reading.problems)
    unknown: list[str] = []
    own: list[str] = []
    known = {column.casefold(): column for column in reading.table.columns}
    for cell in cells:
        text = cell.text if isinstance(cell, BadSource) else "" if cell is None else as_text(cell)
        name = cleaned(text, keep_breaks=False)[0]
        column = known.get(name.casefold()) or _by_its_former_name(reading, number, name.casefold(), known)
        if not name or name.startswith("_"):
            if not name:
                reading.blank_headers.add(len(reading.places))
            elif name[1:].casefold() in known:
                own.append(name)
            reading.places.append(None)
        elif column is None:
            reading.places.append(None)
            unknown.append(name)
        elif column in reading.places:
            reading.places.append(None)
            text = "stands twice in the header."
            reading.problem(number, column, "column-twice", text, "Remove or rename one.")
        else:
            reading.places.append(column)
    if not any(reading.places):
        del reading.problems[before:]
        _no_header_at_all(reading, number, cells)
        return False
    _own_columns_named_like_ours(reading, number, own)
    missing = [column for column in reading.table.required_columns if column not in reading.places]
    if unknown:
        _unknown_columns(reading, number, unknown, missing)
    else:
        for column in missing:
            reading.problem(number, column, "no-column", "is missing from the header.", "Add the column.")
    reading.lacking = frozenset(missing)
    return True


def _own_columns_named_like_ours(reading: SheetReading, number: int, own: list[str]) -> None:
    """``_paid_on`` is the breeder's own and not read: said, as its absence may change what goes out."""
    for name in own:
        ours = name[1:].casefold()
        if ours in reading.places:
            continue
        text = say("is a column of your own, so {ours} is not read.", ours)
        mend = say("Take the _ away; or give it a name that is not ours, such as _my_{ours}.", ours)
        reading.noted(number, name, "own-column", text, mend)


def _by_its_former_name(
    reading: SheetReading, number: int, name: str, known: Mapping[str, str]
) -> str | None:
    """The column that a shelf made before wrote by another name, with a notice; None where there is none."""
    column = known.get(reading.table.model.former.get(name, ""))
    if column:
        text = say("is the former name of {column}, and is read as it.", column)
        reading.noted(number, name, "former-name", text, say("Write {column}.", column))
    return column


def _no_header_at_all(reading: SheetReading, number: int, cells: list[object]) -> None:
    """The first row holds no column of the table: mostly a title, another separator, or no header."""
    texts = (as_text(cell or "") for cell in cells if not isinstance(cell, BadSource))
    first = next((shortened(text) for text in texts if text), "")
    text = say("the first row ('{first}') is no header of {name}.", first, reading.table.name)
    needed = ",".join(reading.table.required_columns)
    mend = say("Write {needed} above the rows, with commas, semicolons or tabs between.", needed)
    for below, others in itertools.islice(reading.sheet.rows, _MOST_TITLES):
        names = {as_text(cell).casefold() for cell in others if isinstance(cell, str)}
        if names.issuperset(reading.table.required_columns):
            title = say("rows {first} to {last}", number, below - 1)
            if below == number + 1:
                title = say("row {rows}", number)
            mend = say("Remove {title}: the header stands on row {below}.", title, below)
            break
    reading.problem(number, "", "no-header", text, mend)


#: A title may stand so many rows above the header.
_MOST_TITLES = 20


def _unknown_columns(reading: SheetReading, number: int, unknown: list[str], missing: list[str]) -> None:
    """Columns that are none of the table's, each with the one it may be, which then is not missing."""
    named = {*unknown, *(place for place in reading.places if place)}
    other = next((table.name for table in TABLES if missing and named <= {*table.columns}), None)
    if other:
        mend = say("Write the rows of {name} here, and these into {other}.csv.", reading.table.name, other)
        reading.problem(number, "", "no-header", say("has the columns of {other}.", other), mend)
        return
    from shipping.tables.mapped_orders.their_header import sounds_like  # which reads rows itself

    columns = [column for column in reading.table.columns if column not in reading.places]
    meant = {name: nearest(name, columns) for name in unknown}
    lacking = [column for column in missing if column not in meant.values()]
    for name in unknown:
        if meant[name]:
            mend = say("Did you mean '{name}'?", meant[name])
        elif lacking:
            mend = say(
                "The header lacks {lacking}: rename it, or begin the name of a column of your own with _.",
                ", ".join(lacking),
            )
        else:
            mend = say("It may also have {columns}. A column of your own begins with _.", ", ".join(columns))
            if "message" in reading.table.columns and "note" in sounds_like(name):
                mend = say("What is for you alone stands in note; message is printed for the buyer.")
        text = say("is no column of {name}.", reading.table.name)
        reading.problem(number, shortened(name), "unknown-column", text, mend)
    if lacking and all(meant.values()):
        for column in lacking:
            reading.problem(number, column, "no-column", "is missing from the header.", "Add the column.")


def _read_row(reading: SheetReading, number: int, cells: list[object], fill: Fill | None) -> None:
    if other := _other_separator(reading, cells):
        reading.other_separators.append((number, other))
        reading.names.add(str(cells[0]).split(other)[0].strip())
        reading.failed.add(str(cells[0]).split(other)[0].strip())
        reading.not_read.add(number)
        if fill:
            fill({})  # the rows below may rest on this one
        return
    before = len(reading.problems)
    held = cells_of_row(reading, number, cells)
    name = as_text(held.get(reading.table.key, ""))
    if name:
        reading.names.add(name)
    accepted, in_part = len(reading.rows), len(reading.partial)
    _judge_row(reading, number, held, before, fill)
    reading.narrowest = min(reading.narrowest, len(cells))
    if len(reading.rows) == accepted:
        reading.failed.add(name)
        reading.not_read.add(number)
    is_fine = len(reading.rows) > accepted or len(reading.problems) == before
    if is_fine and len(cells) <= len(reading.places):
        return
    if parted := parted_number(reading, number, cells, is_fine):
        if is_fine:
            reading.perhaps_parted.append((len(cells), parted))
        else:
            reading.problems[before:], reading.partial[in_part:] = [parted], []


def _other_separator(reading: SheetReading, cells: Sequence[object]) -> str:
    """What parts the cells of a CSV row whose header has another separator; "" where both are alike."""
    first = cells[0] if cells else ""
    if not reading.sheet.separator or not isinstance(first, str):
        return ""
    filled = sum(bool(str(cell).strip()) for cell in cells)
    for other in SEPARATORS:
        parts = sum(str(cell).count(other) for cell in cells) + 1
        if other != reading.sheet.separator and first.count(other) >= 2 and parts >= max(2 * filled, 4):
            return other
    return ""


def _separators_problem(reading: SheetReading) -> Problem:
    """Rows whose cells are parted otherwise than those of the header: one cause, said once."""
    rows, other = [row for row, _ in reading.other_separators], reading.other_separators[0][1]
    words = {",": say("commas"), ";": say("semicolons"), "\t": say("tabs")}
    here, there = words[reading.sheet.separator], words[other]
    text = say("the header has {here} between its cells, and {rows} {there}.", here, rows_named(rows), there)
    mend = say("Write {here} between the cells there too.", here)
    if not reading.rows and not reading.failed - reading.names and len(reading.names) <= len(rows):
        mend = say("Write {there} between the cells of the header too.", there)
    return Problem(reading.where(rows[0]), "", "separators", text, mend)


def _judge_row(
    reading: SheetReading, number: int, cells: dict[str, object], before: int, fill: Fill | None
) -> None:
    """Adds the row, or the problems that speak against it."""
    of_cells = reading.problems[before:]
    unread = {problem.column for problem in of_cells if problem.level is Level.ERROR} if of_cells else ()
    if "" in unread:
        if fill:
            fill({})  # the rows below may rest on this one
        return  # the cells may stand under the wrong headers, so nothing more is said of them
    others_fault = fill(cells) if fill else frozenset()
    cells["at"] = reading.where(number)
    try:
        row = reading.table.model.model_validate(cells)
    except ValidationError as error:
        told = [
            problem
            for problem in problems_of(error, cells, reading, number)
            if problem.column not in unread
            and problem.column.partition(" ")[0] not in others_fault | reading.lacking
        ]
        if not told and not unread and others_fault:
            reading.waiting.append(number)
        reading.problems += _blanks_as_one(told, fill is not None)
        _keep_what_can_be_read(reading, number, cells)
        return
    read = getattr(row, "country", "")
    if "country" in cells and (written := as_text(cells["country"])).upper() != read:
        # a country written by its name is shown with its code, each name once
        reading.read_otherwise(number, "country", written, read, key=f"country {written}")
    if unread:
        reading.partial.append(PartialRow(row, frozenset(unread)))
    else:
        reading.rows.append(row)


def _keep_what_can_be_read(reading: SheetReading, number: int, cells: Mapping[str, object]) -> None:
    """The row without its bad cells, so that what it names is looked for all the same."""
    table, values, bad = reading.table, dict[str, Any](), set[str]()
    for column, info in table.fields.items():
        if column in cells:
            try:
                values[column] = table.parsed(column, cells[column])
                continue
            except ValidationError:
                bad.add(column)
        if info.is_required():
            bad.add(column)
            kinds = table.kinds[column]
            is_list = any(get_origin(kind) is tuple for kind in kinds)
            values[column] = "" if str in kinds else () if is_list else None
        else:
            values[column] = info.get_default(call_default_factory=True)
    if not bad & {table.key, "scientific_name"}:
        values["at"] = reading.where(number)
        row = table.model.model_construct(None, **values)
        reading.partial.append(PartialRow(row, frozenset(bad)))


def _blanks_as_one(problems: list[Problem], has_first_rows: bool) -> list[Problem]:
    """A first row that lacks several of the order's cells mostly belongs to another order: one cause."""
    blank = [problem for problem in problems if problem.code == "blank"]
    if not has_first_rows or len(blank) < 2:
        return problems
    columns = ", ".join(problem.column for problem in blank)
    text = say("is blank, and so is what else the first row of an order says ({columns}).", columns)
    mend = "Write them here, or mend the order's name."
    whole = Problem(blank[0].where, blank[0].column, "blank", text, mend)
    return [whole, *(problem for problem in problems if problem.code != "blank")]


def problems_of(
    error: ValidationError, cells: Mapping[str, object], reading: SheetReading, number: int
) -> Iterator[Problem]:
    """The problems of one row, one a column, in the order of the columns."""
    seen: set[str] = set()
    for detail in error.errors(include_url=False):
        column = str(detail["loc"][0])
        if column in seen:
            continue
        seen.add(column)
        where, label = reading.where(number), reading.label(column)
        cause = detail.get("ctx", {}).get("error")
        if isinstance(cause, BadCell):
            yield Problem(where, label, "cell", say("{text}.", cause.text), cause.mend)
        elif detail["type"] == "missing":
            yield Problem(where, label, "blank", "is blank.", what_to_write(reading.table.kinds[column]))
        else:
            text = say("'{cell}' cannot be read.", shortened(as_text(cells.get(column, ""))))
            yield Problem(where, label, "cell", text, what_to_write(reading.table.kinds[column]))


def what_to_write(kinds: frozenset[Any]) -> str:
    """The mend of a blank cell, by what the column holds."""
    if date in kinds:
        return "Write the day as 2026-11-30."
    if int in kinds:
        return "Write a whole number."
    if float in kinds or Decimal in kinds:
        return "Write a number."
    return "Write it, or remove the row."
