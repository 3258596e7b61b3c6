"""One row of raw cells in, the cells that hold something out, cleaned; parsing is left to the rows."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import cast

from shipping.tables.as_meant import FIRST_YEAR, days_meant, has_two_readings, letters_meant
from shipping.tables.asked_once import OtherForm
from shipping.tables.cells import Row, as_text, shortened
from shipping.tables.files.sheet import (
    ERROR_CELL,
    LONGEST_CELL,
    BadSource,
    Sheet,
    cleaned,
    column_letter,
    notice,
)
from shipping.tables.spelling import unseen_in
from shipping.tables.table_list import Table
from shipping.words.problems import Problem, Where
from shipping.words.sentence import either, say

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
    problems: list[Problem] = field(default_factory=list)
    read_as: dict[str, ReadAs] = field(default_factory=dict)
    blank_headers: set[int] = field(default_factory=set)

    #: Is a comma a number's own? None: it may be, if the breeder says so.
    decimal_comma: bool | None = None
    dates: str | None = None
    #: Needed columns that the header does not have: said once, not on every row.
    lacking: frozenset[str] = frozenset()
    other_days: list[OtherForm] = field(default_factory=list)
    comma_numbers: list[OtherForm] = field(default_factory=list)
    #: Rows that say nothing wrong, but rest on a row above that does.
    waiting: list[int] = field(default_factory=list)

    @cached_property
    def key(self) -> str:
        """The column that others refer to."""
        return self.table.key

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
        self.problems.append(Problem(Where(self.sheet.file, row), self.label(column), code, text, mend))


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
    if work.decimal_comma:
        return _with_a_point(work, number, column, text)
    if work.decimal_comma is None and "," in text:
        return _with_a_comma_asked(work, number, column, text)
    return text


def _postcode_as_a_number(work: Work, number: int, column: str, cell: object) -> None:
    text = say("{cell} is kept as a number, so a zero in front may be lost.", as_text(cell))
    label, mend = work.label(column), "Set the column to text."
    work.problems.append(notice(work.sheet.file, number, label, "number-as-postcode", text, mend))


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
        work.problems.append(notice(work.sheet.file, number, work.label(column), "unseen-marks", told))
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
    """A day of another form as the settings say to read it; unsaid, it is kept to be asked about, and a first
    reading stands for it until then.
    """
    meant = {order: day.isoformat() for order, day in days_meant(text).items() if day.year >= FIRST_YEAR}
    if not meant or "from 1900" in meant:
        return text
    where = Where(work.sheet.file, number)
    if work.dates is None:
        work.other_days.append(OtherForm(where, work.label(column), shortened(text), meant))
        return next(iter(meant.values()))
    read = meant.get(work.dates) or meant.get("named")
    if read is None:
        return text
    work.read_as.setdefault(column, ReadAs(where, work.label(column), shortened(text), read))
    return read


def _with_a_comma_asked(work: Work, number: int, column: str, text: str) -> str:
    """A decimal comma where none is expected, kept to be asked about; what has two readings is a mistake."""
    if not _COMMA_NUMBER.fullmatch(text) or has_two_readings(text):
        return text
    read = text.replace(",", ".")
    where = Where(work.sheet.file, number)
    work.comma_numbers.append(OtherForm(where, work.label(column), text, {"comma": read}))
    return read


def _with_a_point(work: Work, number: int, column: str, cell: str) -> str:
    """A number with a decimal comma, with a point; one that has two readings is asked about."""
    if int in work.table.kinds[column] and has_two_readings(cell):
        return cell  # a count: its own parser asks
    if _COMMA_NUMBER.fullmatch(cell):
        read = cell.replace(",", ".")
        where = Where(work.sheet.file, number)
        work.read_as.setdefault(column, ReadAs(where, work.label(column), cell, read))
        return read
    if _THOUSANDS.fullmatch(cell):
        whole = cell.replace(".", "")
        meant = either((whole, cell.replace(".", ","))) if cell.count(".") == 1 else whole
        mend = say("Write {value}.", meant)
        work.problem(number, column, "two-readings", say("'{cell}' has two readings here.", cell), mend)
        return ""
    return cell
