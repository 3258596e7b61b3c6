"""What a buyer wrote in, the cells of an order out, for the breeder to look over; nothing is written here."""

from __future__ import annotations

import re

from shipping.tables.cells import BadCell, parse_country
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf

_MAIL = re.compile(r"[\w.+-]+@[\w-]+(?:\.[\w-]+)+")
_EGGS = re.compile(
    r"\b([1-9][0-9]{0,3})\s*(?:x|×|live\s+)?\s*(?:eggs|eier|œufs|oeufs|huevos|uova|æg|ägg)\b", re.I
)
_POSTCODE = re.compile(r"^(?:[A-Z]{1,2}-)?([0-9]{4,6}|[0-9]{3} ?[0-9]{2})\s+(\D.+)$")
_TELEPHONE = re.compile(r"^\+?[0-9][0-9 ()/-]{6,}$")


def order_from_text(text: str, shelf: Shelf) -> dict[str, str]:
    """The cells that could be read from a mail or a message, and the next free order number.

    What could not be read is left blank, never guessed; the whole text stays in the note.
    """
    lines = [" ".join(line.split()) for line in text.splitlines()]
    found = {"order": next_order(shelf), "placed_on": shelf.today.isoformat(), "note": text.strip()}
    address: list[str] = []
    for line in (line for line in lines if line):
        if mail := _MAIL.search(line):
            found.setdefault("mail", mail[0])
        elif _TELEPHONE.match(line):
            found.setdefault("tel", line)
        elif eggs := _EGGS.search(line):
            found.setdefault("eggs", eggs[1])
        elif place := _POSTCODE.match(line):
            found |= {"postcode": place[1], "town": place[2]}
        elif "country" not in found and (country := _country(line)):
            found["country"] = country
        elif len(line) < 45 and not line.endswith((".", "!", "?", ",", ":")):
            address.append(line)
    fish = _fish(text, shelf)
    if fish:
        found["species"] = fish
        if population := _population(text, fish, shelf):
            found["population"] = population
    fish_names = [name for row in shelf.species.values() for name in _names_of(row)]
    names = [line for line in address if not _names(line, *fish_names)]
    for column, line in zip(("addressee", "delivery_1", "delivery_2", "delivery_3"), names, strict=False):
        found[column] = line
    return found


def next_order(shelf: Shelf) -> str:
    """An order number above every one in the tables that ends in a number, in the form of the last."""
    numbers = [
        (int(match[2]), match[1], match[2])
        for order in shelf.orders
        if (match := re.fullmatch(r"(\D*)([0-9]{1,9})", order.order))
    ]
    if not numbers:
        return "1"
    number, letters, digits = max(numbers)
    return f"{letters}{number + 1:0{len(digits)}d}"


def _country(line: str) -> str:
    try:
        return parse_country(line) if len(line) > 2 else ""
    except BadCell:
        return ""


def _fish(text: str, shelf: Shelf) -> str:
    """The one species of the tables that the text names; "" where it names none or several."""
    named = {row.species for row in shelf.species.values() if _names(text, *_names_of(row))}
    return next(iter(named)) if len(named) == 1 else ""


def _names_of(fish: Species) -> tuple[str, ...]:
    """What a fish is called; the short name of a row for a whole genus is in the names of others too."""
    short = () if fish.scientific_name.endswith(" sp.") else (fish.species,)
    return (fish.scientific_name, fish.common_name, *fish.synonyms, *short)


def _population(text: str, fish: str, shelf: Shelf) -> str:
    """The one population on hand of a fish that the text names; "" where it names none or several."""
    named = {lot.population for lot in shelf.lots_of(fish) if _names(text, lot.population)}
    return next(iter(named)) if len(named) == 1 else ""


def _names(text: str, *names: str) -> bool:
    """Does a text name one of these, as words of their own?"""
    return any(name and re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text, re.I) for name in names)
