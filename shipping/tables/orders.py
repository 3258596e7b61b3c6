"""Orders: rows as the breeder keeps them (one a line), and the order they add up to."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BeforeValidator

from shipping.tables.cells import (
    BadCell,
    Country,
    Day,
    Key,
    Money,
    Note,
    Ordered,
    Row,
    Text,
    Words,
    as_text,
    parse_word,
)


def parse_language(cell: object) -> str:
    text = as_text(cell).casefold()
    if not re.fullmatch(r"[a-z]{2}", text):
        raise BadCell(f"'{as_text(cell)}' is not a language code", "Write the two letters of ISO 639, such as de.")
    return text


Overpack = Annotated[Literal["usual", "none"], BeforeValidator(parse_word("usual", "none"))]
Parts = Annotated[Literal["together", "may split"], BeforeValidator(parse_word("together", "may split"))]
Language = Annotated[str, BeforeValidator(parse_language)]


class OrderRow(Row):
    """One row of ``orders``: one line of an order, with the order's own fields repeated on it."""

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
    species: Key
    population: Text = ""
    eggs: Ordered
    price: Money | None = None
    instead: Words = ()
    service: Key | None = None
    not_before: Day | None = None
    not_after: Day | None = None
    overpack: Overpack = "usual"
    parts: Parts = "together"
    papers: Words = ()
    importer_ref: Text = ""
    note: Note = ""


#: What every row of one order must agree on; a blank on a later row takes the first row's value.
ORDER_FIELDS = (
    "placed_on",
    "addressee",
    "delivery_1",
    "delivery_2",
    "delivery_3",
    "delivery_4",
    "postcode",
    "town",
    "region",
    "country",
    "tel",
    "mail",
    "language",
    "service",
    "not_before",
    "not_after",
    "parts",
    "importer_ref",
)


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
    note: str
    row: OrderRow

    @property
    def key(self) -> tuple[str, int]:
        return (self.order, self.number)


@dataclass(frozen=True, slots=True)
class Address:
    """Where a parcel goes, as the breeder typed it."""

    addressee: str
    delivery: tuple[str, ...]
    postcode: str
    town: str
    region: str
    country: str


@dataclass(frozen=True, slots=True)
class Order:
    """All lines of one order: one buyer, one address, one set of bounds; ``papers`` are those held for any line."""

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

    @property
    def country(self) -> str:
        return self.address.country


def orders_from_rows(rows: tuple[OrderRow, ...], has_paid_on: bool) -> tuple[Order, ...]:
    """The orders that rows add up to, sorted by their name; lines are numbered in the order of their rows.

    ``has_paid_on``: does the table keep payments at all? Rows of one order have been checked to agree.
    """
    by_order: dict[str, list[OrderRow]] = {}
    for row in rows:
        by_order.setdefault(row.order, []).append(row)
    return tuple(_order(name, by_order[name], has_paid_on) for name in sorted(by_order))


def _order(name: str, rows: list[OrderRow], has_paid_on: bool) -> Order:
    first = rows[0]

    def of_order(column: str) -> object:
        return next(
            (value for row in rows if (value := getattr(row, column)) not in (None, "")),
            getattr(first, column),
        )

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
            paid=row.paid_on is not None or not has_paid_on,
            note=row.note,
            row=row,
        )
        for number, row in enumerate(rows, start=1)
    )
    deliveries = (of_order(f"delivery_{n}") for n in range(1, 5))
    text = {column: str(of_order(column)) for column in ("addressee", "postcode", "town", "region")}
    return Order(
        order=name,
        placed_on=first.placed_on,
        address=Address(
            addressee=text["addressee"],
            delivery=tuple(str(line) for line in deliveries if line),
            postcode=text["postcode"],
            town=text["town"],
            region=text["region"],
            country=first.country,
        ),
        tel=str(of_order("tel")),
        mail=str(of_order("mail")),
        language=next((row.language for row in rows if row.language), None),
        service=next((row.service for row in rows if row.service), None),
        not_before=max((row.not_before for row in rows if row.not_before), default=None),
        not_after=min((row.not_after for row in rows if row.not_after), default=None),
        may_split=any(row.parts == "may split" for row in rows),
        papers=frozenset(paper.casefold() for row in rows for paper in row.papers),
        importer_ref=str(of_order("importer_ref")),
        lines=lines,
    )
