"""One cell in, one value out, every value a person may mean by it, or a BadCell that says what to write.

The reader hands over text (from CSV) or a typed value (from a workbook); a blank cell never reaches a parser.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import lru_cache
from operator import itemgetter
from typing import Annotated, Any, ClassVar, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, GetCoreSchemaHandler
from pydantic_core.core_schema import CoreSchema, no_info_before_validator_function

from shipping.tables.files.sheet import UNSEEN
from shipping.tables.list_words import meant_in_list
from shipping.tables.spelling import nearest, visible
from shipping.words.problems import Where
from shipping.words.sentence import either, joined, say

_QUOTES = "\"'`´“”„‟‘’‚«»‹›"
#: What parts groups of thousands beside comma and point.
_GROUPING = re.compile(r"(?<=[0-9])[\s'’_](?=[0-9]{3}(?![0-9]))")
CURRENCY = r"(?:[€$£¥₤]|kr\.?|eur|usd|gbp|chf|dkk|sek|nok|pln|czk|huf|jpy|aud|cad|euro|us\$|kč|zł)"
_UNITS = (
    r"(?:eggs?|œufs?|oeufs?|eier|ei|ovos?|huevos?|uova|æg|ägg|pcs?\.?|pieces?|stk\.?|st\.?|stück|x|each|ea\.?|live|"
    r"days?|tage?|jours?|d[ií]as?|d|hours?|h|hrs?|std\.?|stunden?|heures?|horas?|grams?|gr?|kg|mm|cm|ml|l|mg|"
    r"°?\s?c|°|deg\.?|degrees?|celsius|fish)"
)
#: Words before a number that is near enough, in the languages of the page.
_NEARLY = (
    r"(?:ca\.?|circa|about|around|approx\.?|~|≈|\+|etwa|ungefähr|rund|zirka|env\.?|environ|vers|un[oa]s|aprox\.?|"
    r"cerca de|alrededor de)"
)
#: What stands beside a count and leaves it what it is: the most, a doubt.
_BESIDE_COUNT = re.compile(r"^max\.?\s*|\s*[?!]$", re.IGNORECASE)
_AROUND = re.compile(
    rf"(?:{CURRENCY}|{_NEARLY})?\s*([+-]?[0-9][0-9.,]*)\s*(?:{CURRENCY}|{_UNITS})?"
    rf"(?:\s+{_UNITS})*\.?",
    re.IGNORECASE,
)
_PERCENT = re.compile(r"([0-9]{1,3}(?:[.,][0-9]{1,3})?)\s*(?:%|percent|per cent|prozent|pct)", re.IGNORECASE)
_DOZENS = re.compile(
    r"(?:([0-9]{1,3})\s*)?(?:dozens?|dz\.?|dutzend|douzaines?|docenas?)(?: eggs?)?", re.IGNORECASE
)
_SUM = re.compile(r"([0-9]{1,5})\s*([+x×*])\s*([0-9]{1,5})(?:\s*(?:eggs?|free|extra))?", re.IGNORECASE)
_SPAN = re.compile(r"([0-9]+)\s*(?:-|–|—|to|or|/|bis|à)\s*([0-9]+)", re.IGNORECASE)
#: Raised and lowered digits: a note or a power behind a number, and no part of it.
_RAISED = re.compile("[\u00b2\u00b3\u00b9\u2070-\u209f]")


def plain_text(text: str) -> str:
    """The text with plain digits and spaces, without quotes round it and marks nobody sees."""
    letters = (
        str(unicodedata.digit(letter)) if letter.isdecimal() else letter
        for letter in unicodedata.normalize("NFKC", _RAISED.sub(" ", text))
        if unicodedata.category(letter) != "Cf"
    )
    return " ".join("".join(letters).split()).strip(_QUOTES + " ")


#: How text begins that was written as UTF-8 and read as an old encoding of the West.
_BROKEN = re.compile(
    "[\u00c2-\u00f4][\u0080-\u00bf\u0152\u0153\u0160\u0161\u0178\u017d\u017e\u0192\u02c6\u02dc\u2013-\u203a\u20ac\u2122]"
)


def letters_meant(text: str) -> str | None:
    """What a text says whose letters a wrong reading broke (``SÃ¸ren``: Søren); None where they are whole."""
    if _BROKEN.search(text) is None:
        return None
    for encoding in ("cp1252", "latin-1"):
        try:
            return text.encode(encoding).decode("utf-8")
        except UnicodeError:
            continue
    return None


def numbers_meant(text: str) -> tuple[str, ...]:
    """Every number that a text may mean, with a decimal point: one where it is sure, none where it is no
    number.

    Digits of any script, typographic quotes, currency signs, units, groups of thousands and decimal commas
    are understood; ``1.000`` and ``1,000`` are both a thousand and one.
    """
    plain = re.sub(r"[.,]\s*[-–—]+$", "", plain_text(text))
    if match := _PERCENT.fullmatch(plain):
        return (f"{float(match[1].replace(',', '.')) / 100:g}",)
    if match := _SPAN.fullmatch(plain):
        return (match[1], match[2])
    if match := _DOZENS.fullmatch(plain):
        return (str(int(match[1] or 1) * 12),)
    if match := _SUM.fullmatch(plain):
        first, second = int(match[1]), int(match[3])
        return (str(first + second if match[2] == "+" else first * second),)
    while _GROUPING.search(plain):
        plain = _GROUPING.sub("", plain)
    match = _AROUND.fullmatch(plain)
    return _digits_meant(match[1].rstrip(".,")) if match else ()


def _digits_meant(digits: str) -> tuple[str, ...]:
    """The readings of digits with points and commas between."""
    if re.fullmatch(r"[+-]?[0-9]+(\.[0-9]+)?", digits) and not has_two_readings(digits):
        return (digits,)
    if re.fullmatch(r"[+-]?[1-9][0-9]{0,2}([.,][0-9]{3})", digits):
        return (re.sub("[.,]", "", digits), f"{float(digits.replace(',', '.')):g}")
    if re.fullmatch(r"[+-]?[1-9][0-9]{0,2}(\.[0-9]{3})+(,[0-9]+)?", digits):
        return (digits.replace(".", "").replace(",", "."),)
    if re.fullmatch(r"[+-]?[1-9][0-9]{0,2}(,[0-9]{3})+(\.[0-9]+)?", digits):
        return (digits.replace(",", ""),)
    if re.fullmatch(r"[+-]?[0-9]+,[0-9]+", digits):
        return (digits.replace(",", "."),)
    return ()


def has_two_readings(digits: str) -> bool:
    """Is it ``1.000`` or ``1,000``: a thousand in one country and one in the next?"""
    return re.fullmatch(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}", digits) is not None


#: What a unit behind a number is of the one that a column is in.
_HOURS, _DAYS = r"(?:h|hours?|std|stunden?|heures?|horas?)", r"(?:d|days?|tage?|jours?|d[ií]as?)"
_UNIT_BEHIND = re.compile(rf"(?<![^\W\d_])(kg|mg|cm|mm|cl|l|{_HOURS}|{_DAYS})\.?$", re.IGNORECASE)
_IN_OURS = {
    ("kg", "grams"): 1000.0,
    ("mg", "grams"): 0.001,
    ("cm", "millimetres"): 10.0,
    ("l", "millilitres"): 1000.0,
    ("cl", "millilitres"): 10.0,
    ("mm", "centimetres"): 0.1,
    ("d", "hours"): 24.0,
    ("h", "days"): 1 / 24,
}
CELSIUS = "degrees Celsius"
_FAHRENHEIT = re.compile(
    r"(-?[0-9]+(?:[.,][0-9]+)?)\s*(?:°|º|deg\.?|degrees?)?\s*f(?:ahrenheit)?\.?", re.IGNORECASE
)
_EGGS_WITHIN = re.compile(
    r"[^0-9]*?\b([0-9]{1,5})\s*(?:eggs?|eier|huevos|œufs|oeufs|æg|ägg|uova|ovos)\b[^0-9]*", re.IGNORECASE
)


def eggs_within(text: str) -> str | None:
    """The count in a text that names eggs and no other number (``Pack size: 20 eggs``), or None."""
    match = _EGGS_WITHIN.fullmatch(plain_text(text))
    return match[1] if match else None


#: How buyers ask for all that there is, in the languages of the page.
_ALL_THERE_ARE = re.compile(
    r"\b(?:all(?: of them| you have)?|everything|as many as|as many \S+(?: \S+){0,3} as|as much as"
    r"|max(?:imum|imal|imo)?"
    r"|alle[sn]?|so ?viele?\b.{0,30}?\b(?:wie|möglich|gehen?|da sind)|soviele?|möglichst viele?"
    r"|autant que|autant d\W\w+ que|autant de \S+(?: \S+)? que|tous|toutes|le plus possible|le maximum"
    r"|todos|todas|tantos|tantas|cuantos|cuantas|los más|lo máximo|máximo)\b",
    re.IGNORECASE,
)


def all_there_are(text: str) -> bool:
    """Does a text ask for as many as there are, and name no number of its own?"""
    return _ALL_THERE_ARE.search(text) is not None and not re.search("[0-9]", text)


def number_mend(text: str, what: str = "") -> str:
    """What to write instead of text that is no number; ``what`` names what is counted or measured."""
    if what == CELSIUS and (degrees := _FAHRENHEIT.fullmatch(plain_text(text))):
        return _in_celsius(float(degrees[1].replace(",", ".")))
    if meant := numbers_meant(text):
        unit = _UNIT_BEHIND.search(plain_text(text))
        name = unit[1].casefold() if unit else ""
        name = "h" if re.fullmatch(_HOURS, name) else "d" if re.fullmatch(_DAYS, name) else name
        times = _IN_OURS.get((name, what), 1.0)
        return say(
            "Write {value}.",
            either(meant if times == 1 else (f"{float(number) * times:g}" for number in meant)),
        )
    if re.search("[0-9]", text) and re.search(r"[^\W\d_]|[€$£¥°]", text):
        return say("Write the number alone, in {unit}.", say(what)) if what else "Write the number alone."
    if what:
        return say("Write {what} in digits, with a decimal point.", say(what))
    return "Write digits, with a decimal point."


def celsius_of(fahrenheit: float) -> float:
    """Degrees Fahrenheit as a table of ours has them [C]."""
    return round((fahrenheit - 32) / 1.8, 1)


def _in_celsius(fahrenheit: float) -> str:
    return say("Write {celsius:g} for {fahrenheit:g} °F.", celsius_of(fahrenheit), fahrenheit)


#: A count above this is a slip of the finger, not a number of fish eggs.
MOST_EGGS = 1_000_000
#: A cell longer than this is not what the column is for; keys end up in file names and on tube tags.
LONGEST_KEY = 60
LONGEST_TEXT = 200
LONGEST_NOTE = 2_000
_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")


class BadCell(ValueError):
    """What is wrong with a cell, and how to mend it: two short sentences a breeder understands."""

    def __init__(self, text: str, mend: str) -> None:
        super().__init__(f"{text}. {mend}")
        self.text = text
        self.mend = mend


def as_text(cell: object) -> str:
    """A cell as the breeder sees it; one that holds nothing is ""."""
    if cell is None:
        return ""
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


@dataclass(frozen=True, slots=True)
class NumberParser:
    """A parser for numbers in [low, high], or (low, high] where ``above``; ``what`` names the unit."""

    low: float
    high: float
    what: str
    above: bool = False

    def __call__(self, cell: object) -> float:
        number = parse_number(cell, "" if self.what.startswith("a ") else self.what)
        if number < self.low or number > self.high or (self.above and number == self.low):
            within = (say(self.what), f"{self.low:g}", f"{self.high:g}")
            mend = say("Write {what} from {low} to {high}.", *within)
            if self.above:
                mend = say("Write {what} above {low} to {high}.", *within)
            if self.what == CELSIUS and celsius_of(number) <= self.high < number:
                mend = _in_celsius(number)
            raise BadCell(say("'{cell}' is out of range", as_text(cell)), mend)
        return number


#: How people say that there is none, in the languages of the page.
_NONE = re.compile(
    r"none|no|nil|zero|keine?[rs]?|null|aucune?|z[ée]ro|rien|ningun[oa]|ningún|nada|cero", re.I
)
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
        plain = re.sub("[Oo]", "0", text) if re.fullmatch("[1-9][0-9Oo]*", text) else text
        plain = "0" if _NONE.fullmatch(plain) else plain
        numbers = map(float, numbers_meant(_BESIDE_COUNT.sub("", plain.strip())))
        meant = [f"{number:.0f}" for number in numbers if number.is_integer() and low <= number <= high]
        return say("Write {value}.", either(meant)) if meant else otherwise

    otherwise = say("Write a whole number from {low} to {high}.", low, high)
    return parse


_counted = whole_between(0, MOST_EGGS)
_is_estimate = re.compile(rf"{_NEARLY}\s*[0-9].*|.*[0-9]\s*\?", re.IGNORECASE).fullmatch


def _eggs_counted(cell: object) -> int:
    """A count of a lot; of one told as near enough, its basis is told too."""
    try:
        return _counted(cell)
    except BadCell as bad:
        if not _is_estimate(as_text(cell)):
            raise
        mend = joined((bad.mend, say("Write estimated in count_basis.")))
        raise BadCell(bad.text, mend) from None


_ordered = whole_between(1, MOST_EGGS)


def _eggs_ordered(cell: object) -> int:
    """A count of eggs; a wish for all there are is told where their number stands."""
    try:
        return _ordered(cell)
    except BadCell as bad:
        if not all_there_are(as_text(cell)):
            raise
        mend = "Write a number: spawnpost offer says how many can be promised; or ask the buyer."
        raise BadCell(bad.text, mend) from None


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
    """A parser for one of a few words, whatever their case, also as another language has it."""

    words: tuple[str, ...]

    def __call__(self, cell: object) -> str:
        if isinstance(cell, str) and cell in self.words:
            return cell
        text = as_text(cell).casefold()
        if text not in self.words:
            if meant := meant_in_list(text, self.words):
                return meant
            like = nearest(text, list(self.words), cutoff=0.7)
            mend = say("Write {value}.", either(map(say, self.words)))
            mend = joined((mend, say("Did you mean {name}?", say(like)))) if like else mend
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
_MONEY = re.compile(CURRENCY, re.IGNORECASE)
_is_plain_money = re.compile(r"[0-9]{1,7}(?:\.[0-9]{1,2})?").fullmatch


def parse_money(cell: object) -> Decimal:
    if isinstance(cell, str) and _is_plain_money(cell):
        return Decimal(cell)
    if isinstance(cell, str) and has_two_readings(cell):
        raise BadCell(say("'{cell}' has two readings", cell), number_mend(cell))
    try:
        parse_number(cell)
    except BadCell as bad:
        if isinstance(cell, str) and _A_PIECE.search(cell):
            text = say("'{cell}' is the price of one", shortened(cell))
            raise BadCell(text, "Write the price of the whole line.") from None
        if _MONEY.search(as_text(cell)):
            raise BadCell(
                bad.text, joined((bad.mend, say("It is read in the currency of the settings.")))
            ) from None
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
    from shipping.tables.countries import codes_named, is_place, like_named, meant_by, name_of

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
_NOT_IN_A_FISH = re.compile(r"[\\\x00-\x1f\x7f]")


def parse_key(cell: object) -> str:
    """A name others refer to: short, on one line, and harmless in the name of a file."""
    return _key(cell, _NOT_IN_A_KEY)


def _parse_fish(cell: object) -> str:
    """The key of a fish of another table, or several with ``/`` between, which checks refuse."""
    return _key(cell, _NOT_IN_A_FISH)


def _key(cell: object, barred: re.Pattern[str]) -> str:
    if isinstance(cell, str) and len(cell) <= LONGEST_KEY and _is_plain_key(cell):
        return cell
    written = _text_of_a_key(cell)
    text = " ".join(visible(written).split())
    if not text or barred.search(written) or text.startswith("."):
        wrong = say("'{cell}' cannot be a name here", shortened(text))
        parted = re.fullmatch(r"[\w-]+(?:/[\w-]+)+", text)
        dashed = say("Write {value}.", text.replace("/", "-"))
        raise BadCell(wrong, dashed if parted else "Write letters, digits, - and _.")
    return text


Count = Annotated[int, BeforeValidator(whole_between(0, MOST_EGGS))]
EggsCounted = Annotated[int, BeforeValidator(_eggs_counted)]
Ordered = Annotated[int, BeforeValidator(whole_between(1, MOST_EGGS))]
EggsOrdered = Annotated[int, BeforeValidator(_eggs_ordered)]
Share = Annotated[float, BeforeValidator(NumberParser(0, 1, "a share"))]
ShareAbove = Annotated[float, BeforeValidator(NumberParser(0, 1, "a share", above=True))]
Days = Annotated[float, BeforeValidator(NumberParser(0, 1000, "days"))]
DaysAbove = Annotated[float, BeforeValidator(NumberParser(0, 1000, "days", above=True))]
Celsius = Annotated[float, BeforeValidator(NumberParser(-60, 60, CELSIUS))]
Hours = Annotated[float, BeforeValidator(NumberParser(0, 1000, "hours"))]
Grams = Annotated[float, BeforeValidator(NumberParser(0, 100_000, "grams"))]
GramsAbove = Annotated[float, BeforeValidator(NumberParser(0, 100_000, "grams", above=True))]
Millimetres = Annotated[float, BeforeValidator(NumberParser(0, 5_000, "millimetres"))]
Millilitres = Annotated[float, BeforeValidator(NumberParser(0, 100_000, "millilitres"))]
Rate = Annotated[float, BeforeValidator(NumberParser(0, 50, "a rate"))]
Positive = Annotated[float, BeforeValidator(NumberParser(0, 1e6, "a number", above=True))]
Text = Annotated[str, BeforeValidator(parse_text(LONGEST_TEXT))]
Note = Annotated[str, BeforeValidator(parse_note)]
Key = Annotated[str, BeforeValidator(parse_key)]
Fish = Annotated[str, BeforeValidator(_parse_fish)]
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
