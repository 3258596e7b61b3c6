"""A cell read as a person would: text in, every number or day it may mean out; others ask which."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from datetime import date, timedelta
from functools import lru_cache

from shipping.words.sentence import either, say

_QUOTES = "\"'`´“”„‟‘’‚«»‹›"
#: What parts groups of thousands beside comma and point.
_GROUPING = re.compile(r"(?<=[0-9])[\s'’_](?=[0-9]{3}(?![0-9]))")
CURRENCY = r"(?:[€$£¥₤]|kr\.?|eur|usd|gbp|chf|dkk|sek|nok|pln|czk|huf|jpy|aud|cad|euro|us\$)"
_UNITS = (
    r"(?:eggs?|œufs?|oeufs?|eier|ei|ovos?|huevos?|uova|æg|ägg|pcs?\.?|pieces?|stk\.?|st\.?|stück|x|each|ea\.?|live|"
    r"days?|tage?|jours?|d|hours?|h|hrs?|grams?|gr?|kg|mm|cm|ml|l|mg|°?\s?c|°|deg\.?|degrees?|celsius|fish)"
)
_AROUND = re.compile(
    rf"(?:{CURRENCY}|ca\.?|circa|about|approx\.?|~|≈|\+)?\s*([+-]?[0-9][0-9.,]*)\s*(?:{CURRENCY}|{_UNITS})?"
    rf"(?:\s+{_UNITS})*\.?",
    re.IGNORECASE,
)
_PERCENT = re.compile(r"([0-9]{1,3}(?:[.,][0-9]{1,3})?)\s*(?:%|percent|per cent|prozent|pct)", re.IGNORECASE)
_DOZENS = re.compile(r"(?:([0-9]{1,3})\s*)?(?:dozens?|dz\.?|dutzend)(?: eggs?)?", re.IGNORECASE)
_SUM = re.compile(r"([0-9]{1,5})\s*([+x×*])\s*([0-9]{1,5})(?:\s*(?:eggs?|free|extra))?", re.IGNORECASE)
_SPAN = re.compile(r"([0-9]+)\s*(?:-|–|—|to|or|/|bis|à)\s*([0-9]+)", re.IGNORECASE)

_OTHER_DATE = re.compile(r"([0-9]{1,4})[./ -]+([0-9]{1,2})[./ -]+([0-9]{1,4})\.?")
_TIME_BEHIND = re.compile(
    r"(.+?)(?:T|,?\s+)[0-9]{1,2}[:.][0-9]{2}(?:[:.][0-9]{2}(?:\.[0-9]+)?)?(?:\s*[ap]\.?m\.?)?"
    r"(?:\s*(?:Z|UTC|GMT|[A-Z]{2,4}|[+-][0-9]{2}:?[0-9]{2}))?",
    re.IGNORECASE,
)
_ONE_PIECE = re.compile(r"([0-9]{4})([0-9]{2})([0-9]{2})")
_NAMED_MONTH = re.compile(
    r"(?:[^\W\d_]{2,10}\.?,?\s+)?(?:([0-9]{1,2})(?:st|nd|rd|th|er|\.)?[ /-]*(?:of |de )?)?"
    r"([^\W\d_]{3,12})\.?(?: de)?[ /-]*"
    r"(?:([0-9]{1,2})(?:st|nd|rd|th)?[, /-]+)?([0-9]{4}|[0-9]{2})"
)
#: Languages whose names of months are understood (ISO 639-1).
_MONTHS_OF = ("en", "de", "da", "es", "fr", "it", "nl", "pt", "sv", "nb", "pl", "cs", "fi", "hu")
#: Days as spreadsheets count them: from this one on, or from 1904.
_FIRST_DAY, _LATER_FIRST_DAY = date(1899, 12, 30), date(1904, 1, 1)
FIRST_YEAR = 2000
_ANY_DAY = "Write the day as 2026-11-30."
#: A year that has every day there is.
_LEAP_YEAR = 2000


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
        whole = re.sub("[.,]", "", digits)
        return (whole, f"{float(digits.replace(',', '.')):g}")
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
_UNIT_BEHIND = re.compile(r"(kg|mg|cm|mm|cl|l|h|hours?|days?|d)\.?$", re.IGNORECASE)
_IN_OURS = {
    ("kg", "grams"): 1000.0,
    ("mg", "grams"): 0.001,
    ("cm", "millimetres"): 10.0,
    ("l", "millilitres"): 1000.0,
    ("cl", "millilitres"): 10.0,
    ("mm", "centimetres"): 0.1,
    **{(day, "hours"): 24.0 for day in ("d", "day", "days")},
    **{(hour, "days"): 1 / 24 for hour in ("h", "hour", "hours")},
}


_EGGS_WITHIN = re.compile(
    r"[^0-9]*?\b([0-9]{1,5})\s*(?:eggs?|eier|huevos|œufs|oeufs|æg|ägg|uova|ovos)\b[^0-9]*", re.IGNORECASE
)


def eggs_within(text: str) -> str | None:
    """The count in a text that names eggs and no other number (``Pack size: 20 eggs``), or None."""
    match = _EGGS_WITHIN.fullmatch(plain_text(text))
    return match[1] if match else None


def number_mend(text: str, what: str = "") -> str:
    """What to write instead of text that is no number; ``what`` names what is counted or measured."""
    if meant := numbers_meant(text):
        unit = _UNIT_BEHIND.search(plain_text(text))
        times = _IN_OURS.get((unit[1].casefold(), what), 1.0) if unit else 1.0
        return say(
            "Write {value}.",
            either(meant if times == 1 else (f"{float(number) * times:g}" for number in meant)),
        )
    if re.search("[0-9]", text) and re.search(r"[^\W\d_]|[€$£¥°]", text):
        return say("Write the number alone, in {unit}.", say(what)) if what else "Write the number alone."
    if what:
        return say("Write {what} in digits, with a decimal point.", say(what))
    return "Write digits, with a decimal point."


def date_mend(text: str) -> str:
    """Every reading of what looks like a date, the year to be filled in; else how a day is written."""
    readings = list(dict.fromkeys(day.isoformat() for day in days_meant(text).values()))
    if readings:
        return say("Write {value}.", either(readings))
    of_a_year = [f"YYYY-{day:%m-%d}" for day in days_without_year(text)]
    return say("Write the year too, as {value}.", either(of_a_year)) if of_a_year else _ANY_DAY


def days_without_year(text: str) -> tuple[date, ...]:
    """The days of a leap year that ``16.11.`` or ``16 Nov`` may mean; none where the text is no such day."""
    bare = plain_text(text).strip(" ,./-")
    found = {**days_meant(f"{bare}.{_LEAP_YEAR}"), **days_meant(f"{bare} {_LEAP_YEAR}")}
    return tuple(dict.fromkeys(day for day in found.values() if day.year == _LEAP_YEAR))


@lru_cache(maxsize=4096)
def days_meant(text: str) -> dict[str, date]:
    """Every day that a text may mean, by how it is read: ``day first``, ``month first`` or ``named``."""
    plain = plain_text(text).strip(" ,")
    if match := _TIME_BEHIND.fullmatch(plain):
        plain = match[1].strip(" ,")
    if match := _OTHER_DATE.fullmatch(plain):
        return dict(_numbered_days(*match.groups()))
    if match := _ONE_PIECE.fullmatch(plain):
        return dict(_days(named=(int(match[1]), int(match[2]), int(match[3]))))
    if match := _NAMED_MONTH.fullmatch(plain):
        month, day = month_named(match[2]), match[1] or match[3]
        year = int(match[4]) + (2000 if len(match[4]) == 2 else 0)
        return dict(_days(named=(year, month, int(day)))) if month and day else {}
    if re.fullmatch("[345][0-9]{4}", plain):
        count = timedelta(days=int(plain))
        return {"from 1900": _FIRST_DAY + count, "from 1904": _LATER_FIRST_DAY + count}
    return {}


def _numbered_days(first: str, second: str, third: str) -> Iterator[tuple[str, date]]:
    """The days of three numbers; a year of four digits in front is a year."""
    if len(first) > 2:
        if len(first) == 4 and len(third) <= 2:
            yield from _days(named=(int(first), int(second), int(third)))
        return
    if len(third) not in (2, 4):
        return
    year = int(third) + (2000 if len(third) == 2 else 0)
    day_first, month_first = (year, int(second), int(first)), (year, int(first), int(second))
    yield from _days(**{"day first": day_first, "month first": month_first})


def _days(**parts: tuple[int, int, int]) -> Iterator[tuple[str, date]]:
    """Those of (year, month, day) that are in the calendar."""
    for name, (year, month, day) in parts.items():
        try:
            yield name, date(year, month, day)
        except ValueError:
            continue


def month_named(word: str) -> int | None:
    """The month (1-12) that a word in one of `_MONTHS_OF` names, whole or cut short, or None."""
    plain = word.casefold().rstrip(".")
    return _months().get(plain) or (_months().get(plain[:3]) if len(plain) >= 3 else None)


@lru_cache(maxsize=1)
def _months() -> dict[str, int]:
    """Names of months, whole and cut short, as Unicode CLDR has them, where all languages agree."""
    from babel import Locale

    names: dict[str, set[int]] = {}
    for language in _MONTHS_OF:
        months = Locale(language).months
        for context in ("format", "stand-alone"):
            for width in ("wide", "abbreviated"):
                for number, name in months[context][width].items():
                    plain = str(name).casefold().rstrip(".")
                    names.setdefault(plain, set()).add(int(number))
                    names.setdefault(plain[:3], set()).add(int(number))
    return {
        name: next(iter(numbers))
        for name, numbers in names.items()
        if len(numbers) == 1 and not name.isdigit()
    }
