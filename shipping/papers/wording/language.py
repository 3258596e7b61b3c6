"""Days, numbers and shares in the language of a paper, through Babel; letters set beside each other."""

from __future__ import annotations

import re
import unicodedata
from datetime import date
from decimal import Decimal
from functools import lru_cache

from shipping.tables.countries import main_language_of
from shipping.words.sentence import LANGUAGES

#: Blocks whose letters change shape, change places or stand on one another (Unicode's block list), Hangul's
#: left out.
_SHAPED = ((0x0900, 0x109F), (0x1700, 0x1CFF), (0xA800, 0xA95F), (0xA980, 0xABFF), (0x11000, 0x11FFF))


def runs_leftward(letter: str) -> bool:
    """Does the letter belong to writing that runs from right to left (Arabic, Hebrew, Syriac and others)?"""
    return unicodedata.bidirectional(letter) in ("R", "AL", "AN")


def stands_alone(letter: str) -> bool:
    """Is the letter right when set beside the one before it, as in Chinese, Japanese and Korean?"""
    is_mark = unicodedata.category(letter) in ("Mn", "Mc", "Me")
    is_shaped = any(first <= ord(letter) <= last for first, last in _SHAPED)
    return not (runs_leftward(letter) or is_mark or is_shaped)


#: All white space but the no-break space.
_BLANKS = re.compile(r"[ \t\r\n\f\v\x85\u2028\u2029]+")
#: The language spoken in a country, for its post (from memory).
SPOKEN = {
    **dict.fromkeys(("AT", "CH", "DE", "LI"), "de"),
    **dict.fromkeys(("BE", "FR", "LU", "MC"), "fr"),
    **dict.fromkeys(("AR", "CL", "CO", "CR", "EC", "ES", "MX", "PE", "UY"), "es"),
    **dict.fromkeys(("IT", "SM"), "it"),
    **dict.fromkeys(("BR", "PT"), "pt"),
    "CZ": "cs",
    "DK": "da",
    "NL": "nl",
    "PL": "pl",
    "SE": "sv",
}
#: Countries of several languages: the post there reads the one that the buyer named, of these (from memory).
SEVERAL = {"BE": ("fr", "nl", "de"), "CA": ("en", "fr"), "CH": ("de", "fr", "it"), "LU": ("fr", "de")}
#: Where another of them is spoken than most speak, by how postcodes begin, the first that fits (from memory).
_AREAS = {
    "BE": (("47", "de"), ("1[0-4]|[4-7]", "fr"), ("[1-9]", "nl")),
    "CA": (("[GHJ]", "fr"),),
    "CH": (("1|2[0-46-9]", "fr"),),
}


def post_language(country: str, buyers: str | None = None, postcode: str = "") -> str:
    """What the post of a country reads: of several languages the buyer's own, if it is one of them, else the
    one of the postcode's area, else what most there speak.
    """
    if buyers and buyers in SEVERAL.get(country, ()):
        return buyers
    typed = re.sub(r"^[A-Z]+-|\s", "", postcode.upper())
    areas = (language for begins, language in _AREAS.get(country, ()) if re.match(begins, typed))
    there = next(areas, SPOKEN.get(country) or main_language_of(country))
    return there if there in SPOKEN.values() else "en"


def paper_language(wanted: str | None) -> str:
    """The language a buyer's papers are printed in."""
    return wanted if wanted in LANGUAGES else "en"


@lru_cache(maxsize=65536)
def clean(text: str) -> str:
    """The text in NFC, on one line, without control and format marks."""
    one_line = _BLANKS.sub(" ", unicodedata.normalize("NFC", text)).strip()
    return "".join(letter for letter in one_line if unicodedata.category(letter) not in ("Cc", "Cf"))


def _even(text: str) -> str:
    """Narrow no-break spaces made plain ones, which the fonts have in both weights."""
    return text.replace("\u202f", "\u00a0").replace("\u2009", "\u00a0")


#: A day as it stands by itself and in running text, by language: no shortened words in running text, whose
#: stops would stand before a sentence's own; French and Spanish with their article.
_DAYS = {
    "en": ("EEE d MMM y", "EEE d MMM", "d MMM", "d MMM", "d MMM y"),
    "de": ("EEE d. MMM y", "EEE d. MMM", "d. MMM", "d. MMMM", "d. MMMM y"),
    "fr": ("EEE d MMM y", "EEE d MMM", "d MMM", "'le' d MMMM", "'le' d MMMM y"),
    "es": ("EEE d MMM y", "EEE d MMM", "d MMM", "'el' d 'de' MMMM", "'el' d 'de' MMMM 'de' y"),
}
_FULL, _BENCH, _SHORT, _RUNNING, _DATED = range(5)


def day(when: date, language: str) -> str:
    """``Thu 3 Dec 2026``."""
    return _day(when, language, _FULL)


def bench_day(when: date, language: str) -> str:
    """``Thu 3 Dec``: for the packing bench, which plans by weekdays."""
    return _day(when, language, _BENCH)


def short_day(when: date, language: str) -> str:
    """``3 Dec``."""
    return _day(when, language, _SHORT)


def first_and_last(first: date, last: date, language: str, year: int) -> tuple[str, str]:
    """``5 Apr`` and ``2 May``, a day of another year than ``year`` with its own; both with theirs where the
    first could be read as of the last one's: ``5 Apr 2027`` and ``19 Oct 2028``.
    """
    is_longer = first.year < last.year and (first.month, first.day) <= (last.month, last.day)

    def said(when: date) -> str:
        return short_day(when, language) + (f" {when.year}" if is_longer or when.year != year else "")

    return said(first), said(last)


def full_day(when: date, language: str) -> str:
    """``3 Dec``, ``le 3 décembre``: for running text."""
    return _day(when, language, _RUNNING)


def dated_day(when: date, language: str) -> str:
    """``3 Dec 2026``, ``le 3 décembre 2026``: for running text that may be read in another year."""
    return _day(when, language, _DATED)


@lru_cache(maxsize=4096)
def _day(when: date, language: str, form: int) -> str:
    from babel.dates import format_date

    locale = "en_GB" if language == "en" else language
    said = re.sub(r"\bSept\b", "Sep", _even(format_date(when, _DAYS[language][form], locale=locale)))
    return re.sub(r"\b1\b", "1er", said, count=1) if language == "fr" and when.day == 1 else said


def name_of_month(month: int, language: str) -> str:
    """``December``, by its number."""
    from babel.dates import get_month_names

    return str(get_month_names("wide", "stand-alone", locale=language)[month])


@lru_cache(maxsize=4096)
def number(value: float, language: str, places: int = 1) -> str:
    """A number with at most ``places`` decimals."""
    from babel.numbers import format_decimal

    return _even(format_decimal(round(value, places) + 0.0, format="#,##0." + "#" * places, locale=language))


def warmth(celsius: float, language: str) -> str:
    """``23.5 °C``: to a tenth, as `degrees` of ``words/units.py``."""
    return f"{number(celsius, language)}\u00a0°C"


@lru_cache(maxsize=4096)
def money(amount: Decimal, language: str) -> str:
    """Money with two decimals, without its currency."""
    from babel.numbers import format_decimal

    return _even(format_decimal(amount, format="#,##0.00", locale=language))


def share(value: float, language: str) -> str:
    """A share as a percentage: no decimals, one below 10 % and above 99 %; never rounded to 0 or to 100."""
    from babel.numbers import format_decimal

    if 0 < value < 0.001:
        return "<\u00a0" + share(0.001, language)
    if 0.999 < value < 1:
        return ">\u00a099" + number(0.9, language)[1:] + "\u00a0%"
    shown = format_decimal(
        round(value * 100, 1 if value < 0.1 or value > 0.99 else 0), format="0.#", locale=language
    )
    return f"{shown}\u00a0%"


@lru_cache(maxsize=1024)
def country_name(code: str, language: str) -> str:
    """The country's name in the language, or its code where there is none."""
    from babel import Locale

    return str(Locale.parse(language).territories.get(code, code))
