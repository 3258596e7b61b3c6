"""A row's cells as typed in, texts that the parsers take out, and what days and numbers leave to ask."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any, cast

from pydantic import ValidationError

from shipping.tables.cells import CELSIUS, Row, as_text, has_two_readings, letters_meant, shortened
from shipping.tables.files.sheet import (
    ERROR_CELL,
    LONGEST_CELL,
    MOST_COLUMNS,
    BadSource,
    Sheet,
    cleaned,
    column_letter,
    notice,
)
from shipping.tables.rows.settings import is_money, is_sign_of
from shipping.tables.shelf import Table
from shipping.tables.spelling import unseen_in
from shipping.tables.typed_days import FIRST_YEAR, date_mend, days_meant, days_without_year
from shipping.words.keys import grouped
from shipping.words.problems import Answer, Problem, Where
from shipping.words.sentence import both, either, joined, say
from shipping.words.units import decimals_of


@dataclass(frozen=True, slots=True)
class PartialRow:
    """What could be read of a row with mistakes: cells of the columns ``bad`` stand in it as blank."""

    row: Row
    bad: frozenset[str]


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
class SheetReading:
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
    #: Rows that can be read, and can be read otherwise where a number was parted: each with its width.
    perhaps_parted: list[tuple[int, Problem]] = field(default_factory=list)
    narrowest: int = MOST_COLUMNS
    not_read: set[int] = field(default_factory=set)

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


def cells_of_row(reading: SheetReading, number: int, cells: list[object]) -> dict[str, object]:
    """The cells that hold something, by column, as the parsers take them.

    This is the loop that every cell of every table goes through, so plain text is let pass without a call.
    """
    if len(cells) > len(reading.places):
        _cells_beyond_the_header(reading, number, cells)
    if reading.blank_headers:
        _cells_without_a_header(reading, number, cells)
    if reading.sheet.all_text and _are_plain(texts := cast(list[str], cells)):
        return _plain_cells(reading, number, texts)
    held: dict[str, object] = {}
    for column, cell in zip(reading.places, cells, strict=False):
        if column is None or cell is None or cell == "":
            continue
        if isinstance(cell, str):
            text = cell.strip()
            if text and not _is_plain(text):
                text = _text_of_cell(reading, number, column, text)
            if read := _figure(reading, number, column, text) if column in reading.figures else text:
                held[column] = read
        elif isinstance(cell, BadSource):
            reading.problem(number, column, "spreadsheet-error", cell.text, cell.mend)
        else:
            held[column] = cell
    return held


def _are_plain(cells: list[str]) -> bool:
    row = " ".join(cells)
    return bool(_is_plain_row(row)) and not ("#" in row or "'" in row or "Err:" in row)


def _plain_cells(reading: SheetReading, number: int, cells: list[str]) -> dict[str, object]:
    """The cells of a row of CSV that is plain text throughout, looked at as one."""
    held: dict[str, object] = {
        column: text
        for column, cell in zip(reading.places, cells, strict=False)
        if column and (text := cell.strip())
    }
    for column, is_settled in reading.figures.items():
        written = held.get(column)
        if isinstance(written, str) and not is_settled(written):
            held[column] = _figure(reading, number, column, written)
            if not held[column]:
                del held[column]
    return held


def _figure(reading: SheetReading, number: int, column: str, text: str) -> str | Decimal:
    """A day or number in our form, as far as sheet or settings say how it is read; a price by decimals."""
    if reading.figures[column](text):
        return text
    if column in reading.table.days:
        return _day_of(reading, number, column, text)
    bare, times = _without_its_unit(reading, number, column, text)
    read = _number_of(reading, number, column, bare)
    if bare != text and read:
        if times != 1:
            read = f"{float(read) * times:.9g}" if _is_number(read) else text
        reading.read_otherwise(number, column, text, read)
    is_price = Decimal in reading.table.kinds[column] and "." in read and has_two_readings(read)
    return Decimal(read) if is_price and decimals_of(reading.currency) == 3 else read


#: A number that a unit may stand beside, and the units that a column may be in, by how its range is told.
_BESIDE_UNIT = re.compile(r"([^\d\s+.,-]*\.?)\s*([+-]?[0-9][0-9.,]*)\s*([^\d\s+.,-]*\.?)")
#: How degrees Celsius are written behind a number in the languages of the page, also by the mark of ordinals.
_DEGREES = re.compile(r"(?:[°º˚]|\b(?:grad|grados?|degrés?))\s*(?:c|celsius)?\.?$", re.IGNORECASE)
_is_number = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?").fullmatch
_OWN_UNITS = {
    CELSIUS: ("°c", "c", "℃"),
    "grams": ("g",),
    "hours": ("h",),
    "millimetres": ("mm",),
    "millilitres": ("ml",),
    "a share": ("%",),
    "a rate": ("%",),
}


def _without_its_unit(reading: SheetReading, number: int, column: str, text: str) -> tuple[str, float]:
    """A number without its column's unit, and what it then is times; with another one as it stands."""
    degrees = _DEGREES.sub("°C", text) if reading.table.unit(column) == CELSIUS else text
    if not (found := _BESIDE_UNIT.fullmatch(degrees)) or not (found[1] or found[3]):
        return text, 1
    if Decimal in reading.table.kinds[column]:
        sign = found[1] + found[3]
        is_ours = bool(reading.currency) and is_sign_of(sign, reading.currency)
        if reading.currency and not is_ours and is_money(sign):
            wrong = say("'{cell}' is not in {currency}.", shortened(text), reading.currency)
            mend = say("Write what it is worth in {currency}, the number alone.", reading.currency)
            reading.problem(number, column, "cell", wrong, mend)
            return "", 1
        return (found[2] if is_ours else text), 1
    unit = reading.table.unit(column)
    if found[1] or found[3].casefold() not in _OWN_UNITS.get(unit, ()):
        return text, 1
    return found[2], 0.01 if found[3] == "%" else 1


def _number_of(reading: SheetReading, number: int, column: str, text: str) -> str:
    """A number with a decimal point, as far as the sheet or the settings say that its comma is one."""
    if reading.decimal_comma:
        return _with_a_point(reading, number, column, text)
    if reading.decimal_comma is None and "," in text:
        return _with_a_comma_asked(reading, number, column, text)
    return text


def _text_of_cell(reading: SheetReading, number: int, column: str, cell: str) -> str:
    """The text without marks nobody sees; blank where it was reported as a mistake."""
    if len(cell) > LONGEST_CELL:
        text, mend = say("has {count} characters.", len(cell)), say("Write at most {most}.", LONGEST_CELL)
        reading.problem(number, column, "too-large", text, mend)
        return ""
    if ERROR_CELL.fullmatch(cell):
        text = say("holds the spreadsheet error {cell}.", cell)
        mend = "Mend the formula in the spreadsheet, then save it again."
        reading.problem(number, column, "spreadsheet-error", text, mend)
        return ""
    if reading.sheet.separator and _BEFORE_A_FORMULA.match(cell):
        cell = cell[1:]
    if meant := letters_meant(cell):
        text = say("'{cell}' has letters that a wrong reading broke.", shortened(cell))
        reading.problem(number, column, "letters", text, say("Write {value}.", meant))
        return ""
    text, changed = cleaned(cell, keep_breaks=column in reading.table.notes)
    if changed:
        told = "held marks that cannot be seen or a line break; they were left out."
        reading.noted(number, column, "unseen-marks", told)
    return text


def _cells_beyond_the_header(reading: SheetReading, number: int, cells: list[object]) -> None:
    beyond = [as_text(cell) for cell in cells[len(reading.places) :] if cell is not None and as_text(cell)]
    if beyond:
        mend = "Put quotes round a cell that holds the separator, or remove the cell."
        reading.problem(number, "", "too-many-cells", _longer_than_header(reading, cells), mend)


def _longer_than_header(reading: SheetReading, cells: list[object]) -> str:
    count = sum(bool(as_text(cell or "")) for cell in cells[len(reading.places) :])
    last = shortened(next(text for cell in reversed(cells) if (text := as_text(cell or ""))))
    if count > 1:
        return say("has {count} cells more than the header ('{last}').", count, last)
    return say("has 1 cell more than the header ('{last}').", last)


#: What may be a number that its own comma parted into two cells; three digits behind are mostly thousands.
is_parted = re.compile(r"[+-]?[0-9]+,[0-9]{1,2}|[+-]?0,[0-9]+").fullmatch
#: So many numbers of one row are looked for.
_MOST_PARTED = 3


def parted_number(reading: SheetReading, number: int, cells: list[object], is_fine: bool) -> Problem | None:
    """What is said of a row of CSV that can be read once the two cells of a parted number are one again;
    ``is_fine``: nothing is wrong with it as it stands, either.
    """
    if reading.sheet.separator != "," or not reading.sheet.all_text:
        return None
    texts, width = [as_text(cell) for cell in cells], len(reading.places)
    lacks = _needed_and_blank(reading, texts)
    pairs = [at for at in range(len(texts) - 1) if is_parted(",".join(texts[at : at + 2]))]
    more = max(1, len(texts) - width)
    for count in range(more if is_fine else 1, 1 + min(_MOST_PARTED, more)):
        ways = (_numbers_as_one(reading, texts, ats) for ats in itertools.combinations(pairs, count))
        found = [numbers for one, numbers in ways if numbers and _can_be_read(reading, one, lacks)]
        if found:
            break
    else:
        return None
    odd = [sum(_is_odd(reading, *one) for one in numbers) for numbers in found]
    likely = [numbers for numbers, count_of_odd in zip(found, odd, strict=True) if count_of_odd == min(odd)]
    if is_fine and min(odd):
        return None
    column, value = "", either(both(map(" ".join, numbers)) for numbers in likely)
    if len(likely) == count == 1:
        column, value = likely[0][0]
    text, mend = say("a number stands in two cells, parted at its comma."), say("Write {value}.", value)
    if is_fine:
        text = _longer_than_header(reading, cells)
        mend = say("Write {value}; or remove the comma at the end of the row.", value)
    return Problem(reading.where(number), reading.label(column), "too-many-cells", text, mend)


def _numbers_as_one(
    reading: SheetReading, texts: list[str], ats: Sequence[int]
) -> tuple[list[object], list[tuple[str, str]]]:
    """A row's cells, with each at one of these places and its right neighbour as one number; and the columns
    and numbers, none where a column holds no such number.
    """
    cells = list[object](texts)
    for at in reversed(ats):
        cells[at : at + 2] = [".".join(texts[at : at + 2])]
    numbers = [(reading.places[at - before : at - before + 1], at) for before, at in enumerate(ats)]
    told = [(column[0] or "", ".".join(texts[at : at + 2])) for column, at in numbers if column]
    fit = len(told) == len(ats) and all(column in reading.table.fractions for column, _ in told)
    apart = all(later - at > 1 for at, later in itertools.pairwise(ats))
    return cells, told if fit and apart else []


def _is_odd(reading: SheetReading, column: str, value: str) -> bool:
    """Is it like ``23.80``: seldom what a breeder measures, unless it is a price?"""
    is_long = re.fullmatch(r"[1-9][0-9]*\.[0-9]{2}", value) is not None
    return is_long and Decimal not in reading.table.kinds[column]


def _needed_and_blank(reading: SheetReading, cells: Sequence[object]) -> set[str]:
    filled = {column for column, cell in zip(reading.places, cells, strict=False) if cell}
    return {*reading.table.required_columns} - filled


def _can_be_read(reading: SheetReading, cells: list[object], may_lack: set[str]) -> bool:
    """Can each cell of a row be read, and does it lack no more of what is needed?"""
    fresh: dict[str, Any] = {name: [] for name in ("problems", "other_days", "comma_numbers", "two_readings")}
    alone = replace(reading, read_as={}, blank_headers=set(), **fresh)
    held = cells_of_row(alone, 0, cells)
    if alone.problems or not _needed_and_blank(reading, cells) <= may_lack:
        return False
    try:
        return all(reading.table.parsed(column, cell) is not held for column, cell in held.items())
    except ValidationError:
        return False


def _cells_without_a_header(reading: SheetReading, number: int, cells: list[object]) -> None:
    """A column whose header is blank is said once."""
    for place in sorted(reading.blank_headers):
        if place < len(cells) and cells[place] is not None and as_text(cells[place]):
            reading.blank_headers.discard(place)
            text = say("has a cell in column {place}, which has no header.", column_letter(place))
            reading.problem(number, "", "no-header", text, "Write its header, or empty the column.")


def _day_of(reading: SheetReading, number: int, column: str, text: str) -> str:
    """A day of another form as the settings read it; unsaid, a first reading stands until it is asked."""
    meant = {order: day.isoformat() for order, day in days_meant(text).items() if day.year >= FIRST_YEAR}
    if not meant and reading.today and days_without_year(text):
        wrong = say("'{cell}' has no year.", shortened(text))
        past = column.endswith(("on", "laid_from", "laid_to"))
        reading.problem(number, column, "cell", wrong, date_mend(text, reading.today, reading.dates, past))
        return ""
    if not meant or "from 1900" in meant:
        return text
    if reading.dates is None:
        reading.other_days.append(
            OtherForm(reading.where(number), reading.label(column), shortened(text), meant)
        )
        return next(iter(meant.values()))
    read = meant.get(reading.dates) or meant.get("named")
    if read is None:
        order = (
            say("'{cell}' is no date with the month first, as is set.", shortened(text))
            if reading.dates == "month first"
            else say("'{cell}' is no date with the day first, as is set.", shortened(text))
        )
        reading.problem(number, column, "cell", order, date_mend(text))
        return ""
    reading.read_otherwise(number, column, text, read)
    return read


def _with_a_comma_asked(reading: SheetReading, number: int, column: str, text: str) -> str:
    """A decimal comma where none is expected, kept to be asked about; what has two readings is a mistake."""
    is_unsure = has_two_readings(text) and float(text.replace(",", "")) <= reading.table.most(column)
    if not _COMMA_NUMBER.fullmatch(text) or is_unsure:
        return text
    read = text.replace(",", ".")
    reading.comma_numbers.append(
        OtherForm(reading.where(number), reading.label(column), text, {"comma": read})
    )
    return read


def _with_a_point(reading: SheetReading, number: int, column: str, cell: str) -> str:
    """A number with a decimal comma, with a point; two readings are asked about, unless the column tells."""
    if int in reading.table.kinds[column] and has_two_readings(cell):
        return cell  # a count: its own parser asks
    if _COMMA_NUMBER.fullmatch(cell):
        read = cell.replace(",", ".")
        if not reading.sheet.decimal_comma:  # else its form says so already
            reading.read_otherwise(number, column, cell, read)
        reading.has_commas = True
        return read
    if "." in cell and not _THOUSANDS.fullmatch(cell):
        reading.has_points = True
    elif _THOUSANDS.fullmatch(cell):
        whole = cell.replace(".", "")
        if cell.count(".") == 1 and float(whole) > reading.table.most(column):
            return cell
        meant = either((whole, cell.replace(".", ","))) if cell.count(".") == 1 else whole
        mend = say("Write {value}.", meant)
        two = Problem(
            reading.where(number),
            reading.label(column),
            "two-readings",
            say("'{cell}' has two readings here.", cell),
            mend,
        )
        if cell.count(".") > 1 or Decimal in reading.table.kinds[column]:
            reading.problems.append(two)
            return ""
        reading.two_readings.append(two)
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
