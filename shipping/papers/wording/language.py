"""Days, numbers and shares in the language of a paper: values in, words out (through Babel); no wording lives
here.
"""

from __future__ import annotations

import re
import unicodedata
from datetime import date
from decimal import Decimal
from functools import lru_cache

#: All white space but the no-break space.
_BLANKS = re.compile(r"[ \t\r\n\f\v\x85\u2028\u2029]+")

#: The languages whose wording ships with the program; any other is given English.
LANGUAGES = ("en", "de", "fr", "es")


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


@lru_cache(maxsize=4096)
def day(when: date, language: str) -> str:
    """``Thu, Dec 3, 2026`` as that language writes it (English as ``Thu 3 Dec 2026``)."""
    return _day(when, language, year=True)


@lru_cache(maxsize=4096)
def short_day(when: date, language: str) -> str:
    """``Thu 3 Dec``: without the year."""
    return _day(when, language, year=False)


#: A day in running text, by language: no shortened words, whose stops would stand before a sentence's own.
_FULL_DAY = {
    "en": "EEEE d MMMM",
    "de": "EEEE, d. MMMM",
    "fr": "'le' EEEE d MMMM",
    "es": "'el' EEEE d 'de' MMMM",
}


@lru_cache(maxsize=4096)
def full_day(when: date, language: str) -> str:
    """``Thursday 3 December``: for running text; French and Spanish with their article."""
    from babel.dates import format_date

    return _first(_even(format_date(when, _FULL_DAY[language], locale=language)), when, language)


def _first(text: str, when: date, language: str) -> str:
    """French says ``1er`` for the first of a month."""
    return re.sub(r"\b1\b", "1er", text, count=1) if language == "fr" and when.day == 1 else text


def _day(when: date, language: str, year: bool) -> str:
    from babel.dates import format_date, format_skeleton

    if language == "en":
        return _even(format_date(when, "EEE d MMM y" if year else "EEE d MMM", locale="en_GB"))
    return _first(
        _even(format_skeleton("yMMMEd" if year else "MMMEd", when, locale=language)), when, language
    )


@lru_cache(maxsize=4096)
def number(value: float, language: str, places: int = 1) -> str:
    """A number with at most ``places`` decimals."""
    from babel.numbers import format_decimal

    return _even(format_decimal(round(value, places) + 0.0, format="#,##0." + "#" * places, locale=language))


@lru_cache(maxsize=4096)
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


@lru_cache(maxsize=4096)
def money(amount: Decimal, currency: str, language: str) -> str:
    """An amount of money in its currency."""
    from babel.numbers import format_currency

    return _even(format_currency(amount, currency, locale=language))


@lru_cache(maxsize=1024)
def country_name(code: str, language: str) -> str:
    """The country's name in the language, or its code where there is none."""
    from babel import Locale

    return str(Locale.parse(language).territories.get(code, code))
