"""Which two letters are a country of ISO 3166-1; what a country is called is left to others."""

from __future__ import annotations

from functools import lru_cache

from shipping.tables.files.sheet import nearest
from shipping.words.sentence import either, say

#: Codes that Babel lists beside the countries of ISO 3166-1: reserved, grouping and test codes.
_NO_COUNTRIES = frozenset(
    ["AC", "CP", "CQ", "DG", "EA", "EU", "EZ", "IC", "QO", "TA", "UN", "XA", "XB", "ZZ"]
)
#: Codes people write that are not the standard's.
_MEANT = {
    "UK": "GB",
    "EL": "GR",
    "EN": "GB",
    "SF": "FI",
    "YU": "RS",
    "KO": "XK",
    "DA": "DK",
    "SP": "ES",
    "A": "AT",
    "B": "BE",
    "D": "DE",
    "E": "ES",
    "F": "FR",
    "I": "IT",
    "N": "NO",
    "P": "PT",
    "S": "SE",
}


@lru_cache(maxsize=1)
def country_codes() -> frozenset[str]:
    """The codes of ISO 3166-1 alpha-2, and XK for Kosovo. Source: Unicode CLDR, as Babel ships it."""
    from babel import Locale

    codes = {str(code) for code in Locale("en").territories}
    return frozenset(code for code in codes if len(code) == 2 and code.isalpha()) - _NO_COUNTRIES


def is_country(code: str) -> bool:
    return code in country_codes()


def is_place(text: str) -> bool:
    """Is it a country, or a country and its subdivision as ``GB-NIR``?"""
    country, dash, part = text.partition("-")
    return is_country(country) and (not dash or (part.isascii() and part.isalnum() and len(part) <= 3))


@lru_cache(maxsize=256)
def known_parts(country: str) -> tuple[str, ...]:
    """The subdivisions that the holiday calendar of a country knows; none where it has no calendar."""
    from shipping.tables.holiday_calendars import holiday_calendar

    calendar = holiday_calendar(country)
    return tuple(sorted(calendar.subdivisions)) if calendar is not None else ()


def like_part(place: str) -> str | None:
    """The subdivision that ``GB-EN`` is a slip for; None where it is one, or like none of them."""
    from shipping.tables.country_names import PARTS

    country, dash, part = place.partition("-")
    parts = known_parts(country) if dash and place not in PARTS else ()
    if not parts or part in parts:
        return None
    begins = [known for known in parts if known.startswith(part.upper()) or part.upper().startswith(known)]
    return f"{country}-{begins[0]}" if len(begins) == 1 else None


def meant_by(code: str) -> str | None:
    """The country for which people write letters that are no code of the standard; None where none is."""
    return _MEANT.get(code.upper())


def country_mend(code: str, zones: list[str]) -> str:
    """What to write instead of a code that is no country: the one it is meant for, or all that it may be."""
    from shipping.tables.country_names import codes_named, name_of

    meant = meant_by(code)
    if meant is None and is_place(code.upper()):
        meant = code.upper()
    if meant is None:
        meant = nearest(code, zones)
    named = codes_named(code) if meant is None else ()
    if len(named) > 1:
        return say("Write {value}.", either(say("{code} ({country})", code, name_of(code)) for code in named))
    meant = meant or next(iter(named), None)
    return say("Did you mean '{name}'?", meant) if meant else "Write the two letters of ISO 3166, such as DK."
