"""A Sheet and its Table in, frozen rows and problems out; comparing rows is left to the checks."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any, cast, get_origin

from pydantic import ValidationError

from shipping.tables.cells import (
    FIRST_YEAR,
    BadCell,
    Row,
    as_text,
    date_mend,
    days_meant,
    days_without_year,
    has_two_readings,
    letters_meant,
    shortened,
)
from shipping.tables.files.csv_reader import SEPARATORS
from shipping.tables.files.sheet import (
    ERROR_CELL,
    LONGEST_CELL,
    ROWS_NAMED,
    BadSource,
    Sheet,
    Unreadable,
    cleaned,
    column_letter,
    nearest,
    notice,
)
from shipping.tables.rows.settings import ReadingRules, is_sign_of
from shipping.tables.shelf import TABLES, Table
from shipping.tables.spelling import unseen_in
from shipping.words.keys import grouped
from shipping.words.problems import Answer, Level, Problem, Where
from shipping.words.sentence import either, joined, say

#: A blank of which columns is another row's fault: fills the cells of a row and names those columns.
Fill = Callable[[dict[str, object]], frozenset[str]]


@dataclass(frozen=True, slots=True)
class FileRead:
    """What a file or sheet was read as: table, form in words, and how many rows (if any) were accepted."""

    file: str
    table: str
    form: str
    rows: int | None
    complete: bool

    def __str__(self) -> str:
        """Such as ``orders.csv (31 rows)``; the table too where the file is not named like it."""
        is_named = self.file in (f"{self.table}.csv", "shelf.toml") or self.file.endswith(f"[{self.table}]")
        parts = [] if is_named else [self.table]
        parts += [] if self.rows is None else ["1 row"] if self.rows == 1 else [f"{self.rows} rows"]
        parts += [] if self.complete else ["not to its end"]
        return f"{self.file} ({', '.join(parts)})" if parts else self.file

    def as_json(self) -> dict[str, object]:
        told = {"file": self.file, "table": self.table, "as": self.form}
        return told | {"rows": self.rows, "complete": self.complete}


def files_told(files: Iterable[FileRead]) -> tuple[str, ...]:
    """A line for each form that files were read as, with those files."""
    by_form = grouped((file.form, str(file)) for file in files)
    return tuple(f"Read as {form}: {', '.join(told)}." for form, told in by_form.items())


@dataclass(frozen=True, slots=True)
class PartialRow:
    """What could be read of a row with mistakes: cells of the columns ``bad`` stand in it as blank."""

    row: Row
    bad: frozenset[str]


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

    @property
    def told(self) -> FileRead:
        """The file and what it was read as."""
        return FileRead(self.file, self.table.name, self.form, len(self.rows), self.complete)


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
    work = Work(
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
        if _header_is_found(work):
            for number, cells in sheet.rows:
                _read_row(work, number, cells, fill)
            complete = table.key in work.places
    except Unreadable as broken_off:
        work.problems.append(broken_off.problem)
    if work.other_separators:
        work.problems.append(_separators_problem(work))
    if work.has_commas or not work.has_points:
        work.problems += work.two_readings
    if work.waiting:
        rows = rows_named(work.waiting)
        text = say("{rows} go with rows above that have a mistake, and cannot be read before.", rows)
        if len(work.waiting) == 1:
            text = say("{row} goes with a row above it that has a mistake, and cannot be read before.", rows)
        work.noted(work.waiting[0], "", "waits", text, "Mend that row first.")
    if sheet.skipped:
        rows = rows_named(sheet.skipped)
        text = say("{rows} begin with # and are not read.", rows)
        if len(sheet.skipped) == 1:
            text = say("{row} begins with # and is not read.", rows)
        work.noted(sheet.skipped[0], "", "skipped-rows", text, "Take the # away where they count.")
    reported = any(problem.level is Level.ERROR for problem in work.problems)
    if complete and table.required and not (work.rows or work.names or reported):
        work.noted(0, "", "no-rows", "has a header and no rows.")
    return TableRows(
        table,
        sheet.file,
        frozenset(place for place in work.places if place),
        tuple(work.rows),
        frozenset(work.names),
        frozenset(work.failed),
        tuple(work.partial),
        tuple(work.problems),
        tuple(work.read_as.values()),
        complete,
        {place: work.label(place) for place in work.places if place},
        sheet.form,
        tuple(work.other_days),
        tuple(work.comma_numbers),
    )


def rows_named(rows: Sequence[int]) -> str:
    """The rows of a sheet in words: ``row 3``, ``rows 3, 5``, and how many more there are."""
    shown = ", ".join(map(str, rows[:ROWS_NAMED]))
    if len(rows) > ROWS_NAMED:
        return say("rows {rows} and {count} more", shown, len(rows) - ROWS_NAMED)
    return say("row {rows}", shown) if len(rows) == 1 else say("rows {rows}", shown)


def _header_is_found(work: Work) -> bool:
    """Is there a header? What is wrong with single columns is said, and hides nothing of the others."""
    number, cells = next(work.sheet.rows, (0, []))
    if not cells:
        header = ",".join(work.table.required_columns)
        work.problem(0, "", "no-header", "is empty.", say("Write a header: {header}.", header))
        return False
    before = len(work.problems)
    unknown: list[str] = []
    own: list[str] = []
    known = {column.casefold(): column for column in work.table.columns}
    for cell in cells:
        text = cell.text if isinstance(cell, BadSource) else "" if cell is None else as_text(cell)
        name = cleaned(text, keep_breaks=False)[0]
        column = known.get(name.casefold()) or _by_its_former_name(work, number, name.casefold(), known)
        if not name or name.startswith("_"):
            if not name:
                work.blank_headers.add(len(work.places))
            elif name[1:].casefold() in known:
                own.append(name)
            work.places.append(None)
        elif column is None:
            work.places.append(None)
            unknown.append(name)
        elif column in work.places:
            work.places.append(None)
            text = "stands twice in the header."
            work.problem(number, column, "column-twice", text, "Remove or rename one.")
        else:
            work.places.append(column)
    if not any(work.places):
        del work.problems[before:]
        _no_header_at_all(work, number, cells)
        return False
    _own_columns_named_like_ours(work, number, own)
    missing = [column for column in work.table.required_columns if column not in work.places]
    if unknown:
        _unknown_columns(work, number, unknown, missing)
    else:
        for column in missing:
            work.problem(number, column, "no-column", "is missing from the header.", "Add the column.")
    work.lacking = frozenset(missing)
    return True


def _own_columns_named_like_ours(work: Work, number: int, own: list[str]) -> None:
    """``_paid_on`` is the breeder's own and not read: said, as its absence may change what goes out."""
    for name in own:
        ours = name[1:].casefold()
        if ours in work.places:
            continue
        text = say("is a column of your own, so {ours} is not read.", ours)
        mend = say("Take the _ away; or give it a name that is not ours, such as _my_{ours}.", ours)
        work.noted(number, name, "own-column", text, mend)


def _by_its_former_name(work: Work, number: int, name: str, known: Mapping[str, str]) -> str | None:
    """The column that a shelf made before wrote by another name, with a notice; None where there is none."""
    column = known.get(work.table.model.former.get(name, ""))
    if column:
        text = say("is the former name of {column}, and is read as it.", column)
        work.noted(number, name, "former-name", text, say("Write {column}.", column))
    return column


def _no_header_at_all(work: Work, number: int, cells: list[object]) -> None:
    """The first row holds no column of the table: mostly a title, another separator, or no header."""
    texts = (as_text(cell or "") for cell in cells if not isinstance(cell, BadSource))
    first = next((shortened(text) for text in texts if text), "")
    text = say("the first row ('{first}') is no header of {name}.", first, work.table.name)
    needed = ",".join(work.table.required_columns)
    mend = say("Write {needed} above the rows, with commas, semicolons or tabs between.", needed)
    for below, others in itertools.islice(work.sheet.rows, _MOST_TITLES):
        names = {as_text(cell).casefold() for cell in others if isinstance(cell, str)}
        if names.issuperset(work.table.required_columns):
            title = say("rows {first} to {last}", number, below - 1)
            if below == number + 1:
                title = say("row {rows}", number)
            mend = say("Remove {title}: the header stands on row {below}.", title, below)
            break
    work.problem(number, "", "no-header", text, mend)


#: A title may stand so many rows above the header.
_MOST_TITLES = 20


def _unknown_columns(work: Work, number: int, unknown: list[str], missing: list[str]) -> None:
    """Columns that are none of the table's, each with the one it may be, which then is not missing."""
    named = {*unknown, *(place for place in work.places if place)}
    other = next((table.name for table in TABLES if missing and named <= {*table.columns}), None)
    if other:
        mend = say("Write the rows of {name} here, and these into {other}.csv.", work.table.name, other)
        work.problem(number, "", "no-header", say("has the columns of {other}.", other), mend)
        return
    columns = [column for column in work.table.columns if column not in work.places]
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
        text = say("is no column of {name}.", work.table.name)
        work.problem(number, shortened(name), "unknown-column", text, mend)
    if lacking and all(meant.values()):
        for column in lacking:
            work.problem(number, column, "no-column", "is missing from the header.", "Add the column.")


def _read_row(work: Work, number: int, cells: list[object], fill: Fill | None) -> None:
    if other := _other_separator(work, cells):
        work.other_separators.append((number, other))
        work.names.add(str(cells[0]).split(other)[0].strip())
        work.failed.add(str(cells[0]).split(other)[0].strip())
        if fill:
            fill({})  # the rows below may rest on this one
        return
    before = len(work.problems)
    held = cells_of_row(work, number, cells)
    name = as_text(held.get(work.table.key, ""))
    if name:
        work.names.add(name)
    accepted = len(work.rows)
    _judge_row(work, number, held, before, fill)
    if len(work.rows) == accepted:
        work.failed.add(name)


def _other_separator(work: Work, cells: Sequence[object]) -> str:
    """What parts the cells of a row of a CSV file whose header has another separator; "" where they are
    parted alike: then a key stands in the first cell, and no row of cells.
    """
    first = cells[0] if cells else ""
    if not work.sheet.separator or not isinstance(first, str):
        return ""
    filled = sum(bool(str(cell).strip()) for cell in cells)
    for other in SEPARATORS:
        parts = sum(str(cell).count(other) for cell in cells) + 1
        if other != work.sheet.separator and first.count(other) >= 2 and parts >= max(2 * filled, 4):
            return other
    return ""


def _separators_problem(work: Work) -> Problem:
    """Rows whose cells are parted otherwise than those of the header: one cause, said once."""
    rows, other = [row for row, _ in work.other_separators], work.other_separators[0][1]
    words = {",": say("commas"), ";": say("semicolons"), "\t": say("tabs")}
    here, there = words[work.sheet.separator], words[other]
    text = say("the header has {here} between its cells, and {rows} {there}.", here, rows_named(rows), there)
    mend = say("Write {here} between the cells there too.", here)
    if not work.rows and not work.failed - work.names and len(work.names) <= len(rows):
        mend = say("Write {there} between the cells of the header too.", there)
    return Problem(work.where(rows[0]), "", "separators", text, mend)


def _judge_row(work: Work, number: int, cells: dict[str, object], before: int, fill: Fill | None) -> None:
    """Adds the row, or the problems that speak against it."""
    of_cells = work.problems[before:]
    unread = {problem.column for problem in of_cells if problem.level is Level.ERROR} if of_cells else ()
    if "" in unread:
        if fill:
            fill({})  # the rows below may rest on this one
        return  # the cells may stand under the wrong headers, so nothing more is said of them
    others_fault = fill(cells) if fill else frozenset()
    cells["at"] = work.where(number)
    try:
        row = work.table.model.model_validate(cells)
    except ValidationError as error:
        told = [
            problem
            for problem in problems_of(error, cells, work, number)
            if problem.column not in unread
            and problem.column.partition(" ")[0] not in others_fault | work.lacking
        ]
        if not told and not unread and others_fault:
            work.waiting.append(number)
        work.problems += _blanks_as_one(told, fill is not None)
        _keep_what_can_be_read(work, number, cells)
        return
    read = getattr(row, "country", "")
    if "country" in cells and (written := as_text(cells["country"])).upper() != read:
        # a country written by its name is shown with its code, each name once
        work.read_otherwise(number, "country", written, read, key=f"country {written}")
    if unread:
        work.partial.append(PartialRow(row, frozenset(unread)))
    else:
        work.rows.append(row)


def _keep_what_can_be_read(work: Work, number: int, cells: Mapping[str, object]) -> None:
    """The row without its bad cells, so that what it names is looked for all the same."""
    table, values, bad = work.table, dict[str, Any](), set[str]()
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
        values["at"] = work.where(number)
        row = table.model.model_construct(None, **values)
        work.partial.append(PartialRow(row, frozenset(bad)))


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
    error: ValidationError, cells: Mapping[str, object], work: Work, number: int
) -> Iterator[Problem]:
    """The problems of one row, one a column, in the order of the columns."""
    seen: set[str] = set()
    for detail in error.errors(include_url=False):
        column = str(detail["loc"][0])
        if column in seen:
            continue
        seen.add(column)
        where, label = work.where(number), work.label(column)
        cause = detail.get("ctx", {}).get("error")
        if isinstance(cause, BadCell):
            yield Problem(where, label, "cell", say("{text}.", cause.text), cause.mend)
        elif detail["type"] == "missing":
            yield Problem(where, label, "blank", "is blank.", what_to_write(work.table.kinds[column]))
        else:
            text = say("'{cell}' cannot be read.", shortened(as_text(cells.get(column, ""))))
            yield Problem(where, label, "cell", text, what_to_write(work.table.kinds[column]))


def what_to_write(kinds: frozenset[Any]) -> str:
    """The mend of a blank cell, by what the column holds."""
    if date in kinds:
        return "Write the day as 2026-11-30."
    if int in kinds:
        return "Write a whole number."
    if float in kinds or Decimal in kinds:
        return "Write a number."
    return "Write it, or remove the row."


_is_iso = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}").fullmatch
_COMMA_NUMBER = re.compile(r"[+-]?[0-9]*,[0-9]+")
#: An apostrophe guards a leading = + - @ in CSV, so that a spreadsheet does not take text for a formula.
_BEFORE_A_FORMULA = re.compile(r"'[=+\-@]")
#: Text that needs no closer look: printable ASCII and composed letters of Latin-1 (no second half of a broken
#: letter is one), not too long, and not begun as an error or a guarded formula is.
_LETTERS = "À-ÖØ-öø-ÿ"
_is_plain = re.compile(rf"""(?!Err:)[!"$-&(-~{_LETTERS}][ -~{_LETTERS}]{{0,{LONGEST_CELL - 1}}}""").fullmatch
_is_plain_row = re.compile(rf"[ -~{_LETTERS}]{{0,{LONGEST_CELL}}}").fullmatch
_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}(\.[0-9]{3})+")


@dataclass(frozen=True, slots=True)
class ReadAs:
    """A cell that was read as something not letter for letter the same; the first of its kind in a column."""

    where: Where
    column: str
    written: str
    read: str

    def __str__(self) -> str:
        unseen = unseen_in(self.written)
        why = f" (it holds a {unseen})" if unseen else ""
        return f"{self.where}: {self.column}: '{self.written}' was read as '{self.read}'{why}."


@dataclass
class Work:
    """What gathers while one sheet is read."""

    table: Table
    sheet: Sheet
    places: list[str | None] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    failed: set[str] = field(default_factory=set)
    partial: list[PartialRow] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    read_as: dict[str, ReadAs] = field(default_factory=dict)
    blank_headers: set[int] = field(default_factory=set)

    #: Is a comma a number's own? None: it may be, if the breeder says so.
    decimal_comma: bool | None = None
    dates: str | None = None
    today: date | None = None
    currency: str = ""
    #: Needed columns that the header does not have: said once, not on every row.
    lacking: frozenset[str] = frozenset()
    other_days: list[OtherForm] = field(default_factory=list)
    comma_numbers: list[OtherForm] = field(default_factory=list)
    #: Rows whose cells are parted by another separator than the header's, each with that.
    other_separators: list[tuple[int, str]] = field(default_factory=list)
    #: What decimals were met, and numbers that are clear only once all are.
    has_points: bool = False
    has_commas: bool = False
    two_readings: list[Problem] = field(default_factory=list)
    #: Rows that say nothing wrong, but rest on a row above that does.
    waiting: list[int] = field(default_factory=list)

    @cached_property
    def figures(self) -> dict[str, Callable[[str], object]]:
        """The columns of days and numbers that are there, each with what says that a text is in our form."""
        known: dict[str, Callable[[str], object]] = {
            **dict.fromkeys(self.table.numbers, str.isdigit),
            **dict.fromkeys(self.table.days, _is_iso),
        }
        return {column: known[column] for column in self.places if column in known}

    def label(self, column: str) -> str:
        """The column as messages name it, with its letter in a workbook or its own header where mapped."""
        if column in self.sheet.labels:
            return self.sheet.labels[column]
        if self.sheet.is_workbook and column in self.places:
            return say("{name} (column {letter})", column, column_letter(self.places.index(column)))
        return column

    def problem(self, row: int, column: str, code: str, text: str, mend: str) -> None:
        self.problems.append(Problem(self.where(row), self.label(column), code, text, mend))

    def noted(self, row: int, column: str, code: str, text: str, mend: str = "") -> None:
        """Say what stops nothing."""
        self.problems.append(notice(self.sheet.file, row, self.label(column), code, text, mend))

    def where(self, row: int) -> Where:
        return Where(self.sheet.file, row)

    def read_otherwise(self, row: int, column: str, written: str, read: str, key: str = "") -> None:
        """Keep what was read as something else: the first of a column, or of a ``key`` in it."""
        as_read = ReadAs(self.where(row), self.label(column), shortened(written), read)
        self.read_as.setdefault(key or column, as_read)


def cells_of_row(work: Work, number: int, cells: list[object]) -> dict[str, object]:
    """The cells that hold something, by column, as the parsers take them.

    This is the loop that every cell of every table goes through, so plain text is let pass without a call.
    """
    if len(cells) > len(work.places):
        _cells_beyond_the_header(work, number, cells)
    if work.blank_headers:
        _cells_without_a_header(work, number, cells)
    if work.sheet.all_text and _are_plain(texts := cast(list[str], cells)):
        return _plain_cells(work, number, texts)
    held: dict[str, object] = {}
    for column, cell in zip(work.places, cells, strict=False):
        if column is None or cell is None or cell == "":
            continue
        if isinstance(cell, str):
            text = cell.strip()
            if text and not _is_plain(text):
                text = _text_of_cell(work, number, column, text)
            if column in work.figures:
                text = _figure(work, number, column, text)
            if text:
                held[column] = text
        elif isinstance(cell, BadSource):
            work.problem(number, column, "spreadsheet-error", cell.text, cell.mend)
        else:
            held[column] = cell
            if column == "postcode":
                _postcode_as_a_number(work, number, column, cell)
    return held


def _are_plain(cells: list[str]) -> bool:
    row = " ".join(cells)
    return bool(_is_plain_row(row)) and not ("#" in row or "'" in row or "Err:" in row)


def _plain_cells(work: Work, number: int, cells: list[str]) -> dict[str, object]:
    """The cells of a row of CSV that is plain text throughout, looked at as one."""
    held: dict[str, object] = {
        column: text
        for column, cell in zip(work.places, cells, strict=False)
        if column and (text := cell.strip())
    }
    for column, is_settled in work.figures.items():
        written = held.get(column)
        if isinstance(written, str) and not is_settled(written):
            held[column] = _figure(work, number, column, written)
            if not held[column]:
                del held[column]
    return held


def _figure(work: Work, number: int, column: str, text: str) -> str:
    """A day or a number in our form, as far as the sheet or the settings say how it is read."""
    if work.figures[column](text):
        return text
    if column in work.table.days:
        return _day_of(work, number, column, text)
    bare, times = _without_its_unit(work, column, text)
    read = _number_of(work, number, column, bare)
    if bare == text or not read:
        return read
    if times != 1:
        read = f"{float(read) * times:.9g}" if _is_number(read) else text
    work.read_otherwise(number, column, text, read)
    return read


#: A number that a unit may stand beside, and the units that a column may be in, by how its range is told.
_BESIDE_UNIT = re.compile(r"([^\d\s+.,-]*\.?)\s*([+-]?[0-9][0-9.,]*)\s*([^\d\s+.,-]*\.?)")
_is_number = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?").fullmatch
_OWN_UNITS = {
    "degrees Celsius": ("°c", "c", "°", "℃"),
    "grams": ("g",),
    "hours": ("h",),
    "millimetres": ("mm",),
    "millilitres": ("ml",),
    "a share": ("%",),
    "a rate": ("%",),
}


def _without_its_unit(work: Work, column: str, text: str) -> tuple[str, float]:
    """A number without the unit that its column is in, and what it then is times; with any other unit as it
    stands, to be refused.
    """
    if not (found := _BESIDE_UNIT.fullmatch(text.replace("° C", "°C"))) or not (found[1] or found[3]):
        return text, 1
    if Decimal in work.table.kinds[column]:
        is_ours = bool(work.currency) and is_sign_of(found[1] + found[3], work.currency)
        return (found[2] if is_ours else text), 1
    unit = work.table.unit(column)
    if found[1] or found[3].casefold() not in _OWN_UNITS.get(unit, ()):
        return text, 1
    return found[2], 0.01 if found[3] == "%" else 1


def _number_of(work: Work, number: int, column: str, text: str) -> str:
    """A number with a decimal point, as far as the sheet or the settings say that its comma is one."""
    if work.decimal_comma:
        return _with_a_point(work, number, column, text)
    if work.decimal_comma is None and "," in text:
        return _with_a_comma_asked(work, number, column, text)
    return text


def _postcode_as_a_number(work: Work, number: int, column: str, cell: object) -> None:
    text = say("{cell} is kept as a number, so a zero in front may be lost.", as_text(cell))
    work.noted(number, column, "number-as-postcode", text, "Set the column to text.")


def _text_of_cell(work: Work, number: int, column: str, cell: str) -> str:
    """The text without marks nobody sees; blank where it was reported as a mistake."""
    if len(cell) > LONGEST_CELL:
        text, mend = say("has {count} characters.", len(cell)), say("Write at most {most}.", LONGEST_CELL)
        work.problem(number, column, "too-large", text, mend)
        return ""
    if ERROR_CELL.fullmatch(cell):
        text = say("holds the spreadsheet error {cell}.", cell)
        mend = "Mend the formula in the spreadsheet, then save it again."
        work.problem(number, column, "spreadsheet-error", text, mend)
        return ""
    if work.sheet.separator and _BEFORE_A_FORMULA.match(cell):
        cell = cell[1:]
    if meant := letters_meant(cell):
        text = say("'{cell}' has letters that a wrong reading broke.", shortened(cell))
        work.problem(number, column, "letters", text, say("Write {value}.", meant))
        return ""
    text, changed = cleaned(cell, keep_breaks=column in work.table.notes)
    if changed:
        told = "held marks that cannot be seen or a line break; they were left out."
        work.noted(number, column, "unseen-marks", told)
    return text


def _cells_beyond_the_header(work: Work, number: int, cells: list[object]) -> None:
    beyond = [as_text(cell) for cell in cells[len(work.places) :] if cell is not None and as_text(cell)]
    if beyond:
        last = shortened(beyond[-1])
        text = say("has {count} cells more than the header ('{last}').", len(beyond), last)
        if len(beyond) == 1:
            text = say("has 1 cell more than the header ('{last}').", last)
        mend = "Put quotes round a cell that holds the separator, or remove the cell."
        work.problem(number, "", "too-many-cells", text, mend)


def _cells_without_a_header(work: Work, number: int, cells: list[object]) -> None:
    """A column whose header is blank is said once."""
    for place in sorted(work.blank_headers):
        if place < len(cells) and cells[place] is not None and as_text(cells[place]):
            work.blank_headers.discard(place)
            text = say("has a cell in column {place}, which has no header.", column_letter(place))
            work.problem(number, "", "no-header", text, "Write its header, or empty the column.")


def _day_of(work: Work, number: int, column: str, text: str) -> str:
    """A day of another form as the settings read it; unsaid, a first reading stands until it is asked."""
    meant = {order: day.isoformat() for order, day in days_meant(text).items() if day.year >= FIRST_YEAR}
    if not meant and work.today and days_without_year(text):
        wrong = say("'{cell}' has no year.", shortened(text))
        work.problem(number, column, "cell", wrong, date_mend(text, work.today))
        return ""
    if not meant or "from 1900" in meant:
        return text
    if work.dates is None:
        work.other_days.append(OtherForm(work.where(number), work.label(column), shortened(text), meant))
        return next(iter(meant.values()))
    read = meant.get(work.dates) or meant.get("named")
    if read is None:
        return text
    work.read_otherwise(number, column, text, read)
    return read


def _with_a_comma_asked(work: Work, number: int, column: str, text: str) -> str:
    """A decimal comma where none is expected, kept to be asked about; what has two readings is a mistake."""
    whole = text.replace(",", "")
    is_unsure = has_two_readings(text) and float(whole) <= work.table.most(column)
    if not _COMMA_NUMBER.fullmatch(text) or is_unsure:
        return text
    read = text.replace(",", ".")
    work.comma_numbers.append(OtherForm(work.where(number), work.label(column), text, {"comma": read}))
    return read


def _with_a_point(work: Work, number: int, column: str, cell: str) -> str:
    """A number with a decimal comma, with a point; one that has two readings is asked about, unless its
    column holds only one of them, or all other decimals of the table have points.
    """
    if int in work.table.kinds[column] and has_two_readings(cell):
        return cell  # a count: its own parser asks
    if _COMMA_NUMBER.fullmatch(cell):
        read = cell.replace(",", ".")
        if not work.sheet.decimal_comma:  # else its form says so already
            work.read_otherwise(number, column, cell, read)
        work.has_commas = True
        return read
    if "." in cell and not _THOUSANDS.fullmatch(cell):
        work.has_points = True
    elif _THOUSANDS.fullmatch(cell):
        whole = cell.replace(".", "")
        if cell.count(".") == 1 and float(whole) > work.table.most(column):
            return cell
        meant = either((whole, cell.replace(".", ","))) if cell.count(".") == 1 else whole
        mend = say("Write {value}.", meant)
        two = Problem(
            work.where(number),
            work.label(column),
            "two-readings",
            say("'{cell}' has two readings here.", cell),
            mend,
        )
        if cell.count(".") > 1 or Decimal in work.table.kinds[column]:
            work.problems.append(two)
            return ""
        work.two_readings.append(two)
    return cell


@dataclass(frozen=True, slots=True)
class OtherForm:
    """A cell of another form: ``readings`` are what it may mean, by the answer that reads it so."""

    where: Where
    column: str
    written: str
    readings: Mapping[str, str]


def questions(dates: Sequence[OtherForm], decimals: Sequence[OtherForm]) -> Iterator[Problem]:
    """One question about all days of another form, one about all decimal commas."""
    if dates:
        yield _question("dates", say("a date as year-month-day"), dates)
    if decimals:
        yield _question("decimals", say("a number"), decimals)


def _question(key: str, what: str, cells: Sequence[OtherForm]) -> Problem:
    """Two of the breeder's own cells with every reading, and the answers that fit all of them."""
    first = max(cells, key=lambda cell: len(cell.readings))
    second = next((cell for cell in cells if cell.written != first.written), None)
    text = say("'{cell}' is not {what}", first.written, what)
    if len(cells) > 1:
        more = len(cells) - 1
        text = (
            say("{text}, nor is 1 more", text)
            if more == 1
            else say("{text}, nor are {count} more", text, more)
        )
        text = (
            say("{text}, such as '{cell}' ({where})", text, second.written, second.where) if second else text
        )
    readings = list(dict.fromkeys(answer for cell in cells for answer in cell.readings if answer != "named"))
    fits = (reading for reading in readings if all({reading, "named"} & set(cell.readings) for cell in cells))
    answers = list(fits) or readings
    # months with names are read the same by either answer: the one that is written so is proposed
    answers = answers or ["month first" if first.written[:1].isalpha() else "day first"]
    shown = (_shown(key, answer, (first, second) if second else (first,)) for answer in answers)
    mend = say("Write {answer} below [reading] in shelf.toml.", either(shown))
    if len(cells) == 1:
        keys = either(f'{key} = "{answer}"' for answer in answers)
        told = (either(dict.fromkeys(first.readings.values())), keys)
        mend = say("Write {value}. Or, for all: {keys} below [reading] in shelf.toml.", *told)
    answered = tuple(Answer(key, answer) for answer in answers)
    return Problem(first.where, first.column, key, say("{text}.", text), mend, answers=answered)


def _shown(key: str, answer: str, cells: Sequence[OtherForm]) -> str:
    read = (
        say("'{cell}' is {value}", cell.written, cell.readings.get(answer) or cell.readings["named"])
        for cell in cells
        if {answer, "named"} & set(cell.readings)
    )
    return say('{key} = "{answer}" ({read})', key, answer, joined(read, ", "))


def encodings_once(problems: Sequence[Problem]) -> list[Problem]:
    """The problems, with the same question about the encoding of several files asked once."""
    questions = (problem for problem in problems if problem.code == "encoding" and problem.answers)
    asked = grouped((question.answers, question) for question in questions)
    again = {id(problem) for same in asked.values() for problem in same[1:]}
    first = {id(same[0]): same for same in asked.values() if len(same) > 1}
    return [
        _for_all(problem, first[id(problem)][1:]) if id(problem) in first else problem
        for problem in problems
        if id(problem) not in again
    ]


def _for_all(problem: Problem, others: Sequence[Problem]) -> Problem:
    files = ", ".join(str(other.where) for other in others)
    return replace(problem, text=say("{text} So are {files}.", problem.text, files))
