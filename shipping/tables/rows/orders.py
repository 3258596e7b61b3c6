"""Orders: rows as the breeder keeps them, filled from an order's first, and the order they add up to."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, model_validator

from shipping.tables.cells import (
    BadCell,
    Country,
    EggsOrdered,
    Fish,
    Key,
    Money,
    Note,
    OneWord,
    Row,
    Text,
    Words,
    as_text,
    parse_key,
    shortened,
    values_of,
)
from shipping.tables.countries import part_named
from shipping.tables.country_parts import region_of, subdivision_code
from shipping.tables.files.sheet import Sheet, cleaned
from shipping.tables.spelling import folded
from shipping.tables.typed_days import Day
from shipping.words.keys import grouped
from shipping.words.sentence import say

#: Codes of countries, or of none, that people write for the language spoken there.
_MEANT_LANGUAGE = {
    "at": "de",
    "cz": "cs",
    "dk": "da",
    "gb": "en",
    "gr": "el",
    "jp": "ja",
    "kr": "ko",
    "ua": "uk",
    "us": "en",
}


def parse_language(cell: object) -> str:
    """The two letters of a language of ISO 639-1."""
    return _language_from(as_text(cell))


@lru_cache(maxsize=256)
def _language_from(typed: str) -> str:
    from babel import Locale

    text = typed.casefold()
    known = Locale("en").languages
    if re.fullmatch(r"[a-z]{2}", text) and text in known:
        return text
    codes = (code for code in sorted(known) if len(code) == 2 and str(known[code]).casefold() == text)
    with_place = text[2:3] in ("-", "_") and text[:2] in known
    meant = _MEANT_LANGUAGE.get(text) or next(codes, text[:2] if with_place else None)
    mend = say("Did you mean {name}?", meant) if meant else "Write the two letters of ISO 639, such as de."
    raise BadCell(say("'{cell}' is not a language code", shortened(typed)), mend)


Overpack = Annotated[Literal["usual", "none"], OneWord()]
Parts = Annotated[Literal["together", "may split"], OneWord()]
Language = Annotated[str, BeforeValidator(parse_language)]


class OrderRow(Row):
    """One row of ``orders``: one line of an order, with the order's own fields repeated on it."""

    cited_by: ClassVar[tuple[str, ...]] = ("order", "species", "population")

    order: Key
    placed_on: Day
    paid_on: Day | None = None
    addressee: Text
    delivery_1: Text = ""
    delivery_2: Text = ""
    delivery_3: Text = ""
    delivery_4: Text = ""
    postcode: Text = ""
    town: Text = ""
    region: Text = ""
    country: Country
    tel: Text = ""
    mail: Text = ""
    language: Language | None = None
    species: Fish
    population: Text = ""
    eggs: EggsOrdered
    price: Money | None = None
    instead: Words = ()
    service: Key | None = None
    not_before: Day | None = None
    not_after: Day | None = None
    overpack: Overpack = "usual"
    parts: Parts = "together"
    papers: Words = ()
    importer_ref: Text = ""
    message: Note = ""
    cancelled_on: Day | None = None
    note: Note = ""
    local_1: Text = ""
    local_2: Text = ""
    local_3: Text = ""
    local_4: Text = ""

    @model_validator(mode="before")
    @classmethod
    def _keep_the_part(cls, cells: Any) -> Any:
        """A part of a country that was written for the country (Scotland, Madeira) stays as its region."""
        country = cells.get("country") if isinstance(cells, dict) else None
        part = part_named(country) if isinstance(country, str) else None
        if part is None:
            return cells
        region = as_text(cells.get("region") or "").strip()
        return {**cells, "region": f"{region}, {part}" if region else part}


class OwedRow(OrderRow):
    """A line owed again after a claim: it stands in no table, and goes before others of equal value.

    ``value`` is what its eggs were sold for, which customs is told; they cost nothing now.
    """

    value: Decimal | None = None


#: What every row of one order must agree on; a blank on a later row takes the first row's value.
_DELIVERY = ("delivery_1", "delivery_2", "delivery_3", "delivery_4")
_LOCAL = ("local_1", "local_2", "local_3", "local_4")
ORDER_FIELDS = (
    *("placed_on", "addressee", *_DELIVERY, "postcode", "town", "region", "country", "tel", "mail"),
    *("language", "service", "not_before", "not_after", "parts", "importer_ref", *_LOCAL),
)


def wish_of(text: str) -> tuple[str, str]:
    """Species and population of ``species/population``."""
    species, _, population = text.partition("/")
    return species.strip(), population.strip()


def is_met(wish: tuple[str, str], species: str, population: str) -> bool:
    """Is a wish for a species and population met by such a fish? Where it names no population any does."""
    wanted, own = wish
    return wanted.casefold() == species.casefold() and own.casefold() in ("", population.casefold())


@dataclass(frozen=True, slots=True)
class Line:
    """One wish of an order, numbered from 1 within it; ``paid`` is true where no payment column is kept."""

    order: str
    number: int
    species: str
    population: str
    eggs: int
    price: Decimal | None
    instead: tuple[str, ...]
    overpack: str
    paid: bool
    message: str
    note: str
    row: OrderRow

    @property
    def key(self) -> tuple[str, int]:
        return (self.order, self.number)

    @property
    def named(self) -> str:
        """The fish as ordered, its population behind a stroke where the buyer wants just that one."""
        return "/".join(filter(None, (self.species, self.population)))

    def is_met_by(self, species: str, population: str) -> bool:
        """Is that what was ordered?"""
        return is_met((self.species, self.population), species, population)


@dataclass(frozen=True, slots=True)
class Address:
    """Where a parcel goes, as typed; ``local`` is the same in the buyer's own script, where it was given."""

    addressee: str
    delivery: tuple[str, ...]
    postcode: str
    town: str
    region: str
    country: str
    local: tuple[str, ...] = ()

    @property
    def part(self) -> str:
        """The part of the country it lies in, as named or as the postcode tells; "" where it is not sure."""
        return region_of(self.country, self.region, self.postcode)

    @property
    def named_part(self) -> str:
        """The same, only as named: its public holidays hold; "" for free text, where the national ones do."""
        return subdivision_code(self.country, self.region)


@dataclass(frozen=True, slots=True)
class Order:
    """All lines of one order: one buyer, one address, one set of bounds; ``papers`` are those held for any
    line.

    ``is_owed``: its eggs are owed again after a claim.
    """

    order: str
    placed_on: date
    address: Address
    tel: str
    mail: str
    language: str | None
    service: str | None
    not_before: date | None
    not_after: date | None
    may_split: bool
    papers: frozenset[str]
    importer_ref: str
    lines: tuple[Line, ...]
    is_owed: bool = False

    @property
    def country(self) -> str:
        return self.address.country

    @property
    def place(self) -> tuple[str, str]:
        """Its country and the part of it, "" where that is not sure."""
        return (self.address.country, self.address.part)

    def line(self, number: int) -> Line:
        """The line of that number: not always the number-th, as lines already sent may be missing."""
        return next(line for line in self.lines if line.number == number)


def orders_from_rows(rows: Sequence[OrderRow], has_paid_on: bool) -> tuple[Order, ...]:
    """The orders that rows add up to, sorted by their name; lines are numbered in the order of their rows.

    ``has_paid_on``: does the table keep payments at all? Rows of one order have been checked to agree. A row
    that was cancelled keeps its number and is left out, so that the others keep theirs.
    """
    by_order = grouped((row.order, row) for row in rows)
    return tuple(
        _order(name, by_order[name], has_paid_on)
        for name in sorted(by_order)
        if any(not row.cancelled_on for row in by_order[name])
    )


def cancelled_lines(rows: tuple[OrderRow, ...]) -> frozenset[tuple[str, int]]:
    """The order and number of every line whose row was cancelled."""
    touched = {row.order for row in rows if row.cancelled_on is not None}
    numbers: Counter[str] = Counter()
    cancelled = set()
    for row in rows if touched else ():
        if row.order in touched:
            numbers[row.order] += 1
            if row.cancelled_on is not None:
                cancelled.add((row.order, numbers[row.order]))
    return frozenset(cancelled)


def _order(name: str, rows: list[OrderRow], has_paid_on: bool) -> Order:
    fields = fields_of_order(rows)
    paid = not has_paid_on or any(row.paid_on is not None for row in rows)
    lines = tuple(
        Line(
            order=name,
            number=number,
            species=row.species,
            population=row.population,
            eggs=row.eggs,
            price=row.price,
            instead=row.instead,
            overpack=row.overpack,
            paid=paid,
            message=row.message,
            note=row.note,
            row=row,
        )
        for number, row in enumerate(rows, start=1)
        if row.cancelled_on is None
    )
    return Order(
        order=name,
        placed_on=rows[0].placed_on,
        address=Address(
            addressee=fields["addressee"],
            delivery=tuple(filter(None, map(fields.__getitem__, _DELIVERY))),
            postcode=fields["postcode"],
            town=fields["town"],
            region=fields["region"],
            country=rows[0].country,
            local=tuple(filter(None, map(fields.__getitem__, _LOCAL))),
        ),
        tel=fields["tel"],
        mail=fields["mail"],
        language=fields["language"],
        service=fields["service"],
        not_before=fields["not_before"],
        not_after=fields["not_after"],
        may_split=fields["parts"] == "may split",
        papers=frozenset({p.casefold(): p for row in rows for p in row.papers or ()}.values()),
        importer_ref=fields["importer_ref"],
        lines=lines,
        is_owed=isinstance(rows[0], OwedRow),
    )


_values_of_order = values_of(*ORDER_FIELDS)


def fields_of_order(rows: list[OrderRow]) -> dict[str, Any]:
    """What belongs to the order as a whole, by column: the first value that is not blank."""
    first = values = _values_of_order(rows[0])
    for row in rows[1:]:
        if (later := _values_of_order(row)) != first:
            pairs = zip(values, later, strict=True)
            values = tuple(theirs if mine in (None, "") else mine for mine, theirs in pairs)
    return dict(zip(ORDER_FIELDS, values, strict=True))


def whole_row(rows: list[OrderRow]) -> OrderRow:
    """The first row that has all that belongs to the order; the first of all where none has."""
    if len(rows) == 1:
        return rows[0]
    wanted = tuple(fields_of_order(rows).values())
    return next((row for row in rows if _values_of_order(row) == wanted), rows[0])


_OF_THE_ORDER = frozenset(ORDER_FIELDS)


class FillFromFirstRow:
    """Fills an order's later rows from its first, and names columns that are the first row's fault."""

    def __init__(self) -> None:
        self._first_rows: dict[str, dict[str, object]] = {}
        self._names: dict[str, str] = {}
        self._as_written: dict[str, str] = {}
        self._a_name_was_lost = False

    def _one_name(self, written: str, cells: dict[str, object]) -> str:
        """The order's name as its first row spells it; blank where the cell can name no order."""
        first = self._as_written.get(written)
        if first is not None:
            if first != written:
                cells["order"] = first
            return first
        try:
            name = parse_key(written)
        except BadCell:
            return ""
        first = self._names.setdefault(folded(name), name)
        if first != name:
            cells["order"] = first
        self._as_written[written] = first
        return first

    def __call__(self, cells: dict[str, object]) -> frozenset[str]:
        name = self._one_name(str(cells.get("order", "")), cells)
        if not name:
            self._a_name_was_lost = True
            return _OF_THE_ORDER.difference(cells)
        first = self._first_rows.get(name)
        if first is None:
            self._first_rows[name] = cells.copy()
            # the row above, whose name could not be read, may be the one that gives what is blank here
            follows, self._a_name_was_lost = self._a_name_was_lost, False
            return _OF_THE_ORDER.difference(cells) if follows else frozenset()
        blank = _OF_THE_ORDER.difference(cells)
        for column in blank.intersection(first):
            cells[column] = first[column]
        return blank


def of_orders_alone(sheet: Sheet, orders: Collection[str]) -> Sheet:
    """The sheet with its header and the rows of these orders; what stands on other rows is not judged."""
    wanted = frozenset(map(folded, orders))

    def rows() -> Iterator[tuple[int, list[object]]]:
        header = next(sheet.rows, None)
        if header is None:
            return
        yield header
        names = [cleaned(str(cell or ""), keep_breaks=False)[0].casefold() for cell in header[1]]
        place = names.index("order") if "order" in names else None
        is_wanted: dict[object, bool] = {}
        for number, cells in sheet.rows:
            name = cells[place] if place is not None and place < len(cells) else None
            if isinstance(name, str) and name not in is_wanted:
                is_wanted[name] = folded(name) in wanted
            if not isinstance(name, str) or is_wanted[name]:
                yield number, cells

    return replace(sheet, rows=rows())


def split_address(address: Address) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """(Delivery lines of the label's first block, lines of its second), top first.

    The second has ``local_1`` to ``local_4``; else the delivery lines in other letters than Latin ones, where
    there are some in Latin ones too.
    """
    if address.local:
        return address.delivery, address.local
    latin = tuple(line for line in address.delivery if not is_in_other_letters(line))
    if not any(any(map(str.isalpha, line)) for line in latin):
        return address.delivery, ()
    return latin, tuple(line for line in address.delivery if is_in_other_letters(line))


def is_in_other_letters(line: str) -> bool:
    """Is a line written in letters, and none of them Latin?"""
    letters = [letter for letter in line if letter.isalpha()]
    return bool(letters) and not any(
        unicodedata.name(letter, "").startswith(("LATIN", "FULLWIDTH LATIN")) for letter in letters
    )
