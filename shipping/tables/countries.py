"""What a person wrote as a country in; its code of ISO 3166, its names, languages, money and place out."""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from shipping.tables.spelling import nearest
from shipping.words.sentence import either, say
from shipping.words.units import Written

#: Codes that Babel lists beside the countries of ISO 3166-1: reserved, grouping and test codes.
_NO_COUNTRIES = frozenset(
    ["AC", "CP", "CQ", "DG", "EA", "EU", "EZ", "IC", "QO", "TA", "UN", "XA", "XB", "ZZ"]
)
#: The European Union (from memory; look up a change of membership).
_MEMBERS = "AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK"
EU = frozenset(_MEMBERS.split())
#: Codes people write that are not the standard's, each before the one that is meant.
_CODES_MEANT = "UK=GB EL=GR EN=GB SF=FI YU=RS KO=XK DA=DK SP=ES A=AT B=BE D=DE E=ES F=FR I=IT N=NO P=PT S=SE"
_MEANT = dict(pair.split("=") for pair in _CODES_MEANT.split())


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


def meant_by(code: str) -> str | None:
    """The country for which people write letters that are no code of the standard; None where none is."""
    return _MEANT.get(code.upper())


def country_mend(code: str, zones: list[str]) -> str:
    """What to write instead of a code that is no country: the one it is meant for, or all that it may be."""
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


#: What buyers write that the name lists do not know, by its code; by several: the writer must choose.
ALIASES: Mapping[str, tuple[str, ...]] = {
    name: tuple(codes.split())
    for codes, names in {
        "AE": "uae",
        "AT": "oesterreich",
        "BA": "bosnia",
        "CD": "dr congo",
        "CD CG": "congo|kongo",
        "CI": "ivory coast",
        "CV": "cape verde",
        "CZ": "czech republic|republica checa",
        "DK": "daenemark",
        "FO": "faroes",
        "GB": "great britain|grossbritannien|u.k.|uk",
        "HK": "hong kong|hongkong",
        "IE": "eire|republic of ireland",
        "KR": "korea|republic of korea|south korea",
        "MF SX": "saint martin|st martin",
        "MK": "macedonia",
        "MM": "burma",
        "MO": "macao|macau",
        "NL": "holland",
        "RU": "russian federation",
        "SK": "slovak republic",
        "SZ": "swaziland",
        "TL": "east timor",
        "TR": "tuerkei|turkey",
        "US": "america|u.s.|u.s.a.|ee.uu.|ee. uu.|eeuu|ee uu|united states of america|usa",
        "VG VI": "virgin islands",
    }.items()
    for name in names.split("|")
}
#: Parts of a country that buyers write for it, by their code of ISO 3166-2, in tongues of our papers (usage,
#: no source). A part with a country code of its own, as Jersey and Puerto Rico, is none.
PARTS: Mapping[str, tuple[str, ...]] = {
    code: tuple(names.split("|"))
    for code, names in {
        "AU-TAS": "tasmania",
        "ES-CE": "ceuta",
        "ES-CN": "canary islands|canarias|islas canarias|kanaren|kanarische inseln|iles canaries"
        "|isole canarie|ilhas canarias|canarische eilanden|kanarieoarna|de kanariske oer"
        "|wyspy kanaryjskie|kanarske ostrovy",
        "ES-IB": "balearic islands|baleares|islas baleares|balearen",
        "ES-ML": "melilla",
        "FR-20R": "corsica|corse|korsika",
        "GB-ENG": "england|angleterre|inglaterra|inghilterra|engeland|anglia|anglie",
        "GB-NIR": "northern ireland|nordirland|irlande du nord|irlanda del norte|irlanda del nord"
        "|irlanda do norte|noord-ierland|irlandia polnocna|severni irsko",
        "GB-SCT": "scotland|schottland|ecosse|escocia|scozia|schotland|skotland|skottland|szkocja|skotsko",
        "GB-WLS": "wales|pays de galles|gales|galles|walia",
        "IT-82": "sicily|sicilia|sizilien|sicile",
        "IT-88": "sardinia|sardegna|sardinien|sardaigne",
        "PT-20": "azores|acores|azoren",
        "PT-30": "madeira|madere",
        "US-AK": "alaska",
        "US-HI": "hawaii|hawai",
    }.items()
}
_SHORTEST_PART = 5
_PART_BY_NAME = {name: code for code, names in PARTS.items() for name in names}
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
    if part := _PART_BY_NAME.get(name):
        return (part.partition("-")[0],)
    return ALIASES.get(name) or codes_by_name().get(_words_of(name), ())


def part_named(text: str) -> str | None:
    """The code of the part of a country (ISO 3166-2, ``GB-SCT``) written for the country, or None."""
    if len(text) < _SHORTEST_PART:
        return None
    return _PART_BY_NAME.get(plain_name(text).removeprefix("the "))


@lru_cache(maxsize=4096)
def like_named(text: str) -> str | None:
    """The one code whose name is almost what was written; None where none is, or several are."""
    name = nearest(_words_of(text), sorted(codes_by_name()), cutoff=0.85)
    codes = codes_by_name()[name] if name else ()
    return codes[0] if len(codes) == 1 else None


def name_of(code: str) -> str:
    """The country's name in English, as CLDR has it."""
    return Written(names_in("en").get(code, code), code, "country")


#: Names that English puts "the" before (usage, no source).
_WITH_THE = re.compile(
    r"(?:United|U\.S\.|Bahamas|Gambia|Netherlands|Philippines|Maldives|Seychelles|Comoros|Isle of)\b"
    r"|(?!the )[^,]*\b(?:Islands|Republic|Federation|Territory|Territories|Netherlands)$"
)


def with_the(name: object) -> str:
    """``the Netherlands``: a country's name as it stands in running English text; ``{{ to|the }}``."""
    return f"the {name}" if _WITH_THE.match(str(name)) else str(name)


def in_text(code: str) -> str:
    """The country's name as running text has it."""
    return Written(with_the(name_of(code)), code, "country")


def plain_name(text: str) -> str:
    """A name for comparing: no accents, no case, one space between words."""
    letters = unicodedata.normalize("NFKD", text.casefold().replace("’", "'"))
    return " ".join("".join(letter for letter in letters if not unicodedata.combining(letter)).split())


def _words_of(name: str) -> str:
    """A country's name for comparing: however its words are joined, and its saint cut short or not."""
    words = plain_name(name).replace("-", " ").split()
    return " ".join("saint" if word in ("st", "st.") else word for word in words if word not in _JOINING)


#: Words within a country's name that some leave out, or write as a sign.
_JOINING = frozenset({"&", "and", "the"})


@lru_cache(maxsize=1)
def codes_by_name() -> Mapping[str, tuple[str, ...]]:
    """Every name of a country in every one of `LANGUAGES`, by its words, with the codes it stands for."""
    codes: dict[str, set[str]] = {}
    for language in LANGUAGES:
        for code, name in names_in(language).items():
            codes.setdefault(_words_of(name), set()).add(code)
    return {name: tuple(sorted(meant)) for name, meant in codes.items()}


@lru_cache(maxsize=64)
def names_in(language: str) -> Mapping[str, str]:
    """The countries' names by code in a language; none where it is not one of `LANGUAGES`."""
    from babel import Locale

    if language not in LANGUAGES:
        return {}
    territories = Locale.parse(language).territories.items()
    return {str(code): str(name) for code, name in territories if is_country(str(code))}


#: Money withdrawn since Babel's tables were made, and the first day of the euro there: Bulgaria's by the
#: Council of the European Union, 8 July 2025.
_EURO_SINCE = {"BG": ("BGN", date(2026, 1, 1))}


def money_of(country: str, first: date, last: date) -> list[str]:
    """What was the money of a country on any of some days, as CLDR has it; the newest first."""
    from babel.numbers import get_territory_currencies

    known = list(get_territory_currencies(country, start_date=first, end_date=last))
    before, euro_from = _EURO_SINCE.get(country, ("", date.max))
    if last < euro_from:
        return known
    return [*dict.fromkeys(("EUR", *(money for money in known if money != before or first < euro_from)))]


@lru_cache(maxsize=512)
def languages_of(country: str) -> frozenset[str]:
    """Its official languages (ISO 639-1), and those one in twenty of a part speaks. Source: as below."""
    return frozenset(
        language.partition("_")[0]
        for language, facts in _spoken_in(country).items()
        if facts["official_status"] in _OFFICIAL
        or (facts["official_status"] and facts["population_percent"] >= SPOKEN_PERCENT)
    )


def spoken_in(country: str) -> frozenset[str]:
    """The languages (ISO 639-1) that one in twenty of a country speaks, or that a part of it has."""
    return frozenset(
        language.partition("_")[0]
        for language, facts in _spoken_in(country).items()
        if facts["official_status"] or facts["population_percent"] >= SPOKEN_PERCENT
    )


def main_language_of(country: str) -> str:
    """The official language that most people of a country know, "" where none is known."""
    official = {
        language.partition("_")[0]: facts["population_percent"]
        for language, facts in _spoken_in(country).items()
        if facts["official_status"] in _OFFICIAL
    }
    return max(official, key=lambda language: official[language], default="")


def _spoken_in(country: str) -> dict[str, Any]:
    """What is spoken in a country.

    References
    ----------
    Unicode CLDR, as Babel ships it.
    """
    from babel.languages import get_territory_language_info

    return dict(get_territory_language_info(country)) if is_country(country) else {}


_OFFICIAL = ("official", "de_facto_official")
#: A language of a part of a country counts from this share of all its people on [%]. Assumed.
SPOKEN_PERCENT = 5


@dataclass(frozen=True, slots=True)
class Country:
    """One country or territory: ``on_mail`` is an address's last line; latitude, longitude [degrees]."""

    code: str
    name_en: str
    name_fr: str
    on_mail: str
    latitude: float
    longitude: float


@lru_cache(maxsize=1)
def countries() -> Mapping[str, Country]:
    """Every country of the list by its ISO 3166-1 alpha-2 code, and XK (Kosovo), sorted by code.

    References
    ----------
    ISO 3166-1; names from Unicode CLDR; places from the tz database. See the first line of ``countries.csv``.
    """
    text = files("shipping.tables").joinpath("countries.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    found = {
        row["code"]: Country(
            code=row["code"],
            name_en=row["name_en"],
            name_fr=row["name_fr"],
            on_mail=row["on_mail"],
            latitude=float(row["latitude"]),
            longitude=float(row["longitude"]),
        )
        for row in rows
    }
    return MappingProxyType(dict(sorted(found.items())))
