"""What a buyer wrote as a country in, the codes it may mean out; which codes there are is left to
country_codes.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from functools import lru_cache

from shipping.tables.country_codes import is_country
from shipping.tables.files.sheet import nearest

#: What buyers write that the name lists do not know; more than one code: the writer must choose.
ALIASES: Mapping[str, tuple[str, ...]] = {
    "america": ("US",),
    "bosnia": ("BA",),
    "burma": ("MM",),
    "cape verde": ("CV",),
    "congo": ("CD", "CG"),
    "czech republic": ("CZ",),
    "daenemark": ("DK",),
    "dr congo": ("CD",),
    "east timor": ("TL",),
    "eire": ("IE",),
    "england": ("GB",),
    "faroes": ("FO",),
    "great britain": ("GB",),
    "grossbritannien": ("GB",),
    "holland": ("NL",),
    "hong kong": ("HK",),
    "hongkong": ("HK",),
    "ivory coast": ("CI",),
    "kongo": ("CD", "CG"),
    "korea": ("KR",),
    "macao": ("MO",),
    "macau": ("MO",),
    "macedonia": ("MK",),
    "northern ireland": ("GB",),
    "oesterreich": ("AT",),
    "republic of ireland": ("IE",),
    "republic of korea": ("KR",),
    "republica checa": ("CZ",),
    "russian federation": ("RU",),
    "saint martin": ("MF", "SX"),
    "scotland": ("GB",),
    "slovak republic": ("SK",),
    "south korea": ("KR",),
    "st martin": ("MF", "SX"),
    "swaziland": ("SZ",),
    "tuerkei": ("TR",),
    "turkey": ("TR",),
    "u.k.": ("GB",),
    "u.s.": ("US",),
    "u.s.a.": ("US",),
    "uae": ("AE",),
    "uk": ("GB",),
    "united states of america": ("US",),
    "usa": ("US",),
    "virgin islands": ("VG", "VI"),
    "wales": ("GB",),
}

#: Languages whose names of countries are understood (ISO 639-1).
LANGUAGES = (
    *("bg", "cs", "da", "de", "el", "en", "es", "et", "fi", "fr", "hr", "hu", "it", "ja", "ko", "lt", "lv"),
    *("nb", "nl", "pl", "pt", "ro", "ru", "sk", "sl", "sv", "tr", "uk", "zh"),
)


def codes_named(text: str) -> tuple[str, ...]:
    """The codes of ISO 3166 that a code or name may mean, sorted: one where it is sure, none where it is
    unknown.

    Takes names in any of `LANGUAGES`, whatever their case and accents, and what people write beside them.

    References
    ----------
    Unicode CLDR, as Babel ships it; `ALIASES` are common usage, no source.
    """
    typed = text.strip()
    if is_country(typed.upper()):
        return (typed.upper(),)
    name = plain_name(typed).removeprefix("the ")
    return ALIASES.get(name) or codes_by_name().get(name, ())


def like_named(text: str) -> str | None:
    """The one code whose name is almost what was written; None where none is, or several are."""
    found = nearest(plain_name(text), sorted(codes_by_name()), cutoff=0.85)
    codes = codes_by_name()[found] if found else ()
    return codes[0] if len(codes) == 1 else None


def name_of(code: str) -> str:
    """The country's name in English, as CLDR has it."""
    return names_in("en").get(code, code)


def plain_name(text: str) -> str:
    """A name for comparing: no accents, no case, one space between words."""
    letters = unicodedata.normalize("NFKD", text.casefold().replace("’", "'"))
    return " ".join("".join(letter for letter in letters if not unicodedata.combining(letter)).split())


@lru_cache(maxsize=1)
def codes_by_name() -> Mapping[str, tuple[str, ...]]:
    """Every name of a country in every one of `LANGUAGES`, plain, with the codes it stands for."""
    found: dict[str, set[str]] = {}
    for language in LANGUAGES:
        for code, name in names_in(language).items():
            found.setdefault(plain_name(name), set()).add(code)
    return {name: tuple(sorted(codes)) for name, codes in found.items()}


@lru_cache(maxsize=64)
def names_in(language: str) -> Mapping[str, str]:
    """The countries' names by code in a language; none where it is not one of `LANGUAGES`."""
    from babel import Locale

    if language not in LANGUAGES:
        return {}
    return {
        str(code): str(name)
        for code, name in Locale.parse(language).territories.items()
        if is_country(str(code))
    }
