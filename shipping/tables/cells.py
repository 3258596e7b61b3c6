"""One cell in, one value out, or a BadCell that says what is wrong and what to write instead.

The reader hands over text (from CSV) or a typed value (from a workbook); a blank cell never reaches a parser.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import lru_cache
from operator import itemgetter
from typing import Annotated, Any, ClassVar, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, GetCoreSchemaHandler
from pydantic_core.core_schema import CoreSchema, no_info_before_validator_function

from shipping.tables.as_meant import (
    FIRST_YEAR,
    date_mend,
    days_meant,
    days_without_year,
    has_two_readings,
    number_mend,
    numbers_meant,
)
from shipping.tables.files.sheet import UNSEEN, nearest
from shipping.tables.spelling import visible
from shipping.words.problems import Where
from shipping.words.sentence import either, joined, say

#: A count above this is a slip of the finger, not a number of fish eggs.
MOST_EGGS = 1_000_000
#: A cell longer than this is not what the column is for; keys end up in file names and on tube tags.
LONGEST_KEY = 60
LONGEST_TEXT = 200
LONGEST_NOTE = 2_000

_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")
_ISO_DATE = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")


class BadCell(ValueError):
    """What is wrong with a cell, and how to mend it: two short sentences a breeder understands."""

    def __init__(self, text: str, mend: str) -> None:
        super().__init__(f"{text}. {mend}")
        self.text = text
        self.mend = mend


def as_text(cell: object) -> str:
    """A cell as the breeder sees it."""
    if isinstance(cell, str):
        return cell.strip()
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, datetime) and cell.time() == time(0):
        return cell.date().isoformat()
    return str(cell).strip()


def parse_number(cell: object, what: str = "") -> float:
    """A number; ``what`` names what it counts or measures, for the mend."""
    if isinstance(cell, bool):
        raise BadCell(say("'{cell}' is not a number", as_text(cell)), "Write digits.")
    if isinstance(cell, int | float | Decimal):
        number = float(cell)
    elif isinstance(cell, str) and cell.isascii() and cell.isdigit() and len(cell) < 16:
        return float(cell)
    else:
        text = as_text(cell)
        if not _NUMBER.fullmatch(text):
            raise BadCell(say("'{cell}' is not a number", shortened(text)), number_mend(text, what))
        number = float(text)
    if not math.isfinite(number):
        raise BadCell(say("'{cell}' is not a number", cell), "Write digits, with a decimal point.")
    return number


def shortened(text: str, longest: int = 40) -> str:
    """The text as a message quotes it: on one line, without marks nobody sees, and cut where it is long."""
    line = " ".join(UNSEEN.sub("", text).split())
    return line if len(line) <= longest else f"{line[:longest]}..."


def number_between(low: float, high: float, what: str, above: bool = False) -> Callable[[object], float]:
    """A parser for numbers in [low, high], or (low, high] where ``above``; ``what`` names the unit."""
    unit = "" if what.startswith("a ") else what

    def parse(cell: object) -> float:
        number = parse_number(cell, unit)
        if number < low or number > high or (above and number == low):
            within = (say(what), f"{low:g}", f"{high:g}")
            mend = say("Write {what} from {low} to {high}.", *within)
            if above:
                mend = say("Write {what} above {low} to {high}.", *within)
            raise BadCell(say("'{cell}' is out of range", as_text(cell)), mend)
        return number

    return parse


#: A whole amount with its cents: mostly a price that stands in a column of counts.
_LIKE_MONEY = re.compile(r"[0-9]+[.,]00")


def whole_between(low: int, high: int) -> Callable[[object], int]:
    """A parser for whole numbers in [low, high]."""

    def parse(cell: object) -> int:
        if isinstance(cell, str) and len(cell) < 9 and cell.isascii() and cell.isdigit():
            whole = int(cell)
            if low <= whole <= high:
                return whole
        text = as_text(cell)
        if isinstance(cell, str) and has_two_readings(text):
            raise BadCell(say("'{cell}' has two readings", text), whole_mend(text))
        if isinstance(cell, str) and _LIKE_MONEY.fullmatch(text):
            raise BadCell(say("'{cell}' is written as money is, not as a count", text), whole_mend(text))
        try:
            number = parse_number(cell)
        except BadCell as bad:
            raise BadCell(bad.text, whole_mend(text)) from None
        if not number.is_integer():
            below = math.floor(number)
            near = [str(whole) for whole in (below, below + 1) if low <= whole <= high]
            mend = say("Write {value}.", either(near)) if near else otherwise
            raise BadCell(say("'{cell}' is not a whole number", text), mend)
        if not low <= number <= high:
            raise BadCell(say("'{cell}' is out of range", text), otherwise)
        return int(number)

    def whole_mend(text: str) -> str:
        numbers = map(float, numbers_meant(text))
        meant = [f"{number:.0f}" for number in numbers if number.is_integer() and low <= number <= high]
        return say("Write {value}.", either(meant)) if meant else otherwise

    otherwise = say("Write a whole number from {low} to {high}.", low, high)
    return parse


def parse_date(cell: object) -> date:
    """A day from `FIRST_YEAR` on: earlier ones are what spreadsheets make of nothing, or of a zero."""
    day = cell.date() if isinstance(cell, datetime) else cell if isinstance(cell, date) else None
    day = day or _date_from(as_text(cell))
    if day.year < FIRST_YEAR:
        text = say("'{day}' is long past, and what spreadsheets make of nothing", day.isoformat())
        raise BadCell(text, "Write the day, or leave it blank.")
    return day


@lru_cache(maxsize=4096)
def _date_from(text: str) -> date:
    if match := _ISO_DATE.fullmatch(text):
        try:
            return date(int(match[1]), int(match[2]), int(match[3]))
        except ValueError:
            wrong = say("'{cell}' is not a day of the calendar", text)
            raise BadCell(wrong, "Write the day as 2026-11-30.") from None
    if not days_meant(text) and days_without_year(text):
        raise BadCell(say("'{cell}' has no year", shortened(text)), date_mend(text))
    raise BadCell(say("'{cell}' is not a date as year-month-day", shortened(text)), date_mend(text))


def parse_text(longest: int) -> Callable[[object], str]:
    def parse(cell: object) -> str:
        if isinstance(cell, str) and len(cell) <= longest:
            return cell.strip()
        if not isinstance(cell, str) and isinstance(cell, date | time | timedelta):
            mend = "Set the column to text in the spreadsheet and write it again."
            raise BadCell(say("'{cell}' is a date or time where text belongs", as_text(cell)), mend)
        text = as_text(cell)
        if len(text) > longest:
            wrong = say("'{cell}' has {count} characters", shortened(text), len(text))
            raise BadCell(wrong, say("Write at most {most}.", longest))
        return text

    return parse


@dataclass(frozen=True, slots=True)
class WordParser:
    """A parser for one of a few words, whatever their case."""

    words: tuple[str, ...]

    def __call__(self, cell: object) -> str:
        if isinstance(cell, str) and cell in self.words:
            return cell
        text = as_text(cell).casefold()
        if text not in self.words:
            like = nearest(text, list(self.words), cutoff=0.7)
            mend = say("Write {value}.", either(self.words))
            mend = joined((mend, say("Did you mean {name}?", like))) if like else mend
            raise BadCell(say("'{cell}' is not one of its words", shortened(as_text(cell))), mend)
        return text


class OneWord:
    """Marks a ``Literal``: a cell is one of its words, whatever their case."""

    def __get_pydantic_core_schema__(self, words: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return no_info_before_validator_function(WordParser(get_args(words)), handler(words))


def parse_yes_no(cell: object) -> bool:
    if isinstance(cell, bool):
        return cell
    return WordParser(("yes", "no"))(cell) == "yes"


_A_PIECE = re.compile(r"\b(each|apiece|per|ea\.?|a piece|pro|je|stück|pièce)\b|/", re.IGNORECASE)


_is_plain_money = re.compile(r"[0-9]{1,7}(?:\.[0-9]{1,2})?").fullmatch


def parse_money(cell: object) -> Decimal:
    if isinstance(cell, str) and _is_plain_money(cell):
        return Decimal(cell)
    if isinstance(cell, str) and has_two_readings(cell):
        raise BadCell(say("'{cell}' has two readings", cell), number_mend(cell))
    try:
        parse_number(cell)
    except BadCell:
        if isinstance(cell, str) and _A_PIECE.search(cell):
            text = say("'{cell}' is the price of one", shortened(cell))
            raise BadCell(text, "Write the price of the whole line.") from None
        raise
    amount = Decimal(repr(cell) if isinstance(cell, int | float) else as_text(cell))
    if not 0 <= amount <= 10_000_000:
        text = say("'{cell}' is out of range", shortened(as_text(cell)))
        raise BadCell(text, "Write an amount from 0 to 10000000.")
    return amount


def parse_country(cell: object) -> str:
    """The two letters of a country written as code or by its name; a name that fits two is refused."""
    return _country_from(as_text(cell))


@lru_cache(maxsize=4096)
def _country_from(typed: str) -> str:
    from shipping.tables.country_codes import codes_named, is_place, like_named, meant_by, name_of

    if re.fullmatch(r"[A-Za-z]{2}", typed):
        return typed.upper()  # whether that is a country is for the checks, which say each code once
    codes = codes_named(typed)
    if len(codes) == 1:
        return codes[0]
    if codes:
        choices = either(say("{code} ({country})", code, name_of(code)) for code in codes)
        text = say("'{cell}' may be more than one country", shortened(typed))
        raise BadCell(text, say("Write {value}.", choices))
    if is_place(typed.upper()):
        where = typed.upper()
        mend = say("Write {country} here, and {region} in region.", where[:2], where)
        raise BadCell(say("'{cell}' is a part of a country", where), mend)
    mend = "Write the two letters of ISO 3166, such as DK."
    if meant := meant_by(typed):
        mend = say("Did you mean {name}?", meant)
    elif like := like_named(typed):
        mend = say("Did you mean {code} ({country})?", like, name_of(like))
    raise BadCell(say("'{cell}' is not a country code", shortened(typed)), mend)


def parse_list(separator: str) -> Callable[[object], tuple[str, ...]]:
    def parse(cell: object) -> tuple[str, ...]:
        if isinstance(cell, tuple | list):
            return tuple(cell)
        parts = re.split(r"[\s,;]+" if separator == " " else separator, as_text(cell))
        return tuple(part.strip() for part in parts if part.strip())

    return parse


#: The parser of free text that may run over several lines.
parse_note = parse_text(LONGEST_NOTE)
_text_of_a_key = parse_text(LONGEST_KEY)
_is_plain_key = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _-]*(?<! )").fullmatch
_NOT_IN_A_KEY = re.compile(r"[/\\\x00-\x1f\x7f]")


def parse_key(cell: object) -> str:
    """A name others refer to: short, on one line, and harmless in the name of a file."""
    if isinstance(cell, str) and len(cell) <= LONGEST_KEY and _is_plain_key(cell):
        return cell
    written = _text_of_a_key(cell)
    text = " ".join(visible(written).split())
    if not text or _NOT_IN_A_KEY.search(written) or text.startswith("."):
        wrong = say("'{cell}' cannot be a name here", shortened(text))
        raise BadCell(wrong, "Write letters, digits, - and _.")
    return text


Count = Annotated[int, BeforeValidator(whole_between(0, MOST_EGGS))]
Ordered = Annotated[int, BeforeValidator(whole_between(1, MOST_EGGS))]
Share = Annotated[float, BeforeValidator(number_between(0, 1, "a share"))]
ShareAbove = Annotated[float, BeforeValidator(number_between(0, 1, "a share", above=True))]
Days = Annotated[float, BeforeValidator(number_between(0, 1000, "days"))]
DaysAbove = Annotated[float, BeforeValidator(number_between(0, 1000, "days", above=True))]
Celsius = Annotated[float, BeforeValidator(number_between(-60, 60, "degrees Celsius"))]
Hours = Annotated[float, BeforeValidator(number_between(0, 1000, "hours"))]
Grams = Annotated[float, BeforeValidator(number_between(0, 100_000, "grams"))]
GramsAbove = Annotated[float, BeforeValidator(number_between(0, 100_000, "grams", above=True))]
Millimetres = Annotated[float, BeforeValidator(number_between(0, 5_000, "millimetres"))]
Millilitres = Annotated[float, BeforeValidator(number_between(0, 100_000, "millilitres"))]
Rate = Annotated[float, BeforeValidator(number_between(0, 50, "a rate"))]
Positive = Annotated[float, BeforeValidator(number_between(0, 1e6, "a number", above=True))]
Day = Annotated[date, BeforeValidator(parse_date)]
Text = Annotated[str, BeforeValidator(parse_text(LONGEST_TEXT))]
Note = Annotated[str, BeforeValidator(parse_note)]
Key = Annotated[str, BeforeValidator(parse_key)]
YesNo = Annotated[bool, BeforeValidator(parse_yes_no)]
Money = Annotated[Decimal, BeforeValidator(parse_money)]
Country = Annotated[str, BeforeValidator(parse_country)]
Words = Annotated[tuple[str, ...], BeforeValidator(parse_list(";"))]
Places = Annotated[tuple[str, ...], BeforeValidator(parse_list(" "))]


class Row(BaseModel):
    """What every row of every table is: frozen, no unknown columns, and it knows where it stands."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    #: The columns that say which row it is; none is the first column.
    cited_by: ClassVar[tuple[str, ...]] = ()
    #: Names that shelves made before gave to columns, each with its name of today.
    former: ClassVar[Mapping[str, str]] = {}

    at: Where = Field(default=Where(""), repr=False, exclude=True)

    @property
    def cited(self) -> str:
        """The file and what tells the row from others, such as ``rules.csv (DE, *)``."""
        return f"{self.at.file} ({', '.join(self._key_words())})"

    @property
    def cited_without_file(self) -> str:
        """The table and what tells the row from others, such as ``rules DE *``, whatever the file."""
        table = self.at.file.partition("[")[2].rstrip("]") or self.at.file.partition(".")[0]
        return " ".join((table, *self._key_words()))

    def _key_words(self) -> tuple[str, ...]:
        columns = self.cited_by or (next(name for name in type(self).model_fields if name != "at"),)
        values = (getattr(self, column) for column in columns)
        return tuple(
            " ".join(value) if isinstance(value, tuple) else str(value)
            for value in values
            if value not in (None, "")
        )


def values_of(*columns: str) -> Callable[[Row], tuple[Any, ...]]:
    """The values of those fields of a row, out of its dictionary, as large tables ask every row."""
    get = itemgetter(*columns)
    return lambda row: get(row.__dict__)
