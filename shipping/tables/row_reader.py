"""A Sheet and its Table in, frozen rows and problems out; comparing rows is left to the checks."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from pydantic import ValidationError

from shipping.tables.asked_once import OtherForm
from shipping.tables.cell_reader import ReadAs, Work, cells_of_row
from shipping.tables.cells import BadCell, Row, as_text, shortened
from shipping.tables.files.sheet import (
    BadSource,
    Sheet,
    Unreadable,
    cleaned,
    nearest,
    notice,
)
from shipping.tables.rows.settings import ReadingRules
from shipping.tables.table_list import Table
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say

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
        said = {"file": self.file, "table": self.table, "as": self.form}
        return {**said, "rows": self.rows, "complete": self.complete}


def files_told(files: Iterable[FileRead]) -> tuple[str, ...]:
    """A line for each form that files were read as, with those files."""
    by_form: dict[str, list[str]] = {}
    for file in files:
        by_form.setdefault(file.form, []).append(str(file))
    return tuple(f"Read as {form}: {', '.join(told)}." for form, told in by_form.items())


@dataclass(frozen=True)
class TableRows:
    """One table as read. ``names`` are the keys of all rows, those with mistakes too, so that none is missed
    twice.

    ``failed`` are the keys of the rows with mistakes.

    ``complete`` is false where the header was wrong or the reading broke off: then nothing is said of missing
    names.
    """

    table: Table
    file: str
    columns: frozenset[str] = frozenset()
    rows: tuple[Row, ...] = ()
    names: frozenset[str] = frozenset()
    failed: frozenset[str] = frozenset()
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
    table: Table, sheet: Sheet, fill: Fill | None = None, rules: ReadingRules | None = None
) -> TableRows:
    """The rows of one table, and every problem of its header and cells.

    A wrong header is one message a column, and then no row is judged.
    """
    said = rules or ReadingRules()
    decimal_comma = said.decimals == "comma" if said.decimals else True if sheet.decimal_comma else None
    notices = list(sheet.notices)
    work = Work(table, sheet, problems=notices, decimal_comma=decimal_comma, dates=said.dates)
    complete = False
    try:
        if _header_is_found(work):
            for number, cells in sheet.rows:
                _read_row(work, number, cells, fill)
            complete = table.key in work.places
    except Unreadable as broken_off:
        work.problems.append(broken_off.problem)
    if work.waiting:
        rows = rows_named(work.waiting)
        text = say("{rows} go with rows above that have a mistake, and cannot be read before.", rows)
        if len(work.waiting) == 1:
            text = say("{row} goes with a row above it that has a mistake, and cannot be read before.", rows)
        work.problems.append(notice(sheet.file, work.waiting[0], "", "waits", text, "Mend that row first."))
    if sheet.skipped:
        rows = rows_named(sheet.skipped)
        text = say("{rows} begin with # and are not read.", rows)
        if len(sheet.skipped) == 1:
            text = say("{row} begins with # and is not read.", rows)
        mend = "Take the # away where they count."
        work.problems.append(notice(sheet.file, sheet.skipped[0], "", "skipped-rows", text, mend))
    reported = any(problem.level is Level.ERROR for problem in work.problems)
    if complete and table.required and not (work.rows or work.names or reported):
        work.problems.append(notice(sheet.file, 0, "", "no-rows", "has a header and no rows."))
    return TableRows(
        table,
        sheet.file,
        frozenset(place for place in work.places if place),
        tuple(work.rows),
        frozenset(work.names),
        frozenset(work.failed),
        tuple(work.problems),
        tuple(work.read_as.values()),
        complete,
        {place: work.label(place) for place in work.places if place},
        sheet.form,
        tuple(work.other_days),
        tuple(work.comma_numbers),
    )


def rows_named(rows: Sequence[int], most: int = 12) -> str:
    """The rows of a sheet in words: ``row 3``, ``rows 3, 5``, and how many more there are."""
    shown = ", ".join(map(str, rows[:most]))
    if len(rows) > most:
        return say("rows {rows} and {count} more", shown, len(rows) - most)
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
        work.problems.append(notice(work.sheet.file, number, name, "own-column", text, mend))


def _by_its_former_name(work: Work, number: int, name: str, known: Mapping[str, str]) -> str | None:
    """The column that a shelf made before wrote by another name, with a notice; None where there is none."""
    column = known.get(work.table.model.former.get(name, ""))
    if column:
        text = say("is the former name of {column}, and is read as it.", column)
        mend = say("Write {column}.", column)
        work.problems.append(notice(work.sheet.file, number, name, "former-name", text, mend))
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
    before = len(work.problems)
    held = cells_of_row(work, number, cells)
    name = as_text(held.get(work.key, ""))
    if name:
        work.names.add(name)
    accepted = len(work.rows)
    _judge_row(work, number, held, before, fill)
    if len(work.rows) == accepted:
        work.failed.add(name)


def _judge_row(work: Work, number: int, cells: dict[str, object], before: int, fill: Fill | None) -> None:
    """Adds the row, or the problems that speak against it."""
    of_cells = work.problems[before:]
    unread = {problem.column for problem in of_cells if problem.level is Level.ERROR} if of_cells else ()
    if "" in unread:
        if fill:
            fill({})  # the rows below may rest on this one
        return  # the cells may stand under the wrong headers, so nothing more is said of them
    others_fault = fill(cells) if fill else frozenset()
    cells["at"] = Where(work.sheet.file, number)
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
        return
    if "country" in cells:
        _say_a_named_country(work, number, cells["country"], getattr(row, "country", ""))
    if not unread:
        work.rows.append(row)


def _say_a_named_country(work: Work, number: int, cell: object, read: str) -> None:
    """A country written by its name is shown with its code, each name once."""
    if cell != read and (written := as_text(cell)).upper() != read:
        country = ReadAs(Where(work.sheet.file, number), work.label("country"), shortened(written), read)
        work.read_as.setdefault(f"country {written}", country)


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
        where, label = Where(work.sheet.file, number), work.label(column)
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
