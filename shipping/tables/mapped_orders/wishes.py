"""A cell that says how many of what in, counts and fish by the names of table and mapping out."""

from __future__ import annotations

import re
from collections.abc import Mapping

from shipping.tables.mapped_orders.mapping import MappedSheet
from shipping.tables.rows.species import Species

_TIMES = r"(?:x|×|\*|pcs\.?|eggs(?:\s+of)?|of)"
_COUNT_FIRST = re.compile(rf"([0-9]{{1,7}})\s*(?:{_TIMES}\s+|{_TIMES}(?=[A-Z])|\s)\s*(\S.*)", re.IGNORECASE)
_COUNT_LAST = re.compile(rf"(\S.*?)\s*(?:\s|[x×*:])\s*([0-9]{{1,7}})(?:\s*{_TIMES})?", re.IGNORECASE)
_BETWEEN_LINES = re.compile(r"[;\n\r]+")
_BETWEEN_WISHES = re.compile(r"[,+]")


def names_of_fish(mapped: MappedSheet, species: tuple[Species, ...]) -> dict[str, str]:
    """What each name without case means: ``species`` or ``species/population``; the mapping's names win."""
    names: dict[str, str] = {}
    for row in species:
        for name in (row.common_name, row.scientific_name, row.species):
            if name:
                names[plain_words(name)] = row.species
    return names | {plain_words(name): meant for name, meant in sorted(mapped.names.items())}


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
