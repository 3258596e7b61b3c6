"""A sheet of another shop in, the mapping that would read it out, as a guess: from its headers and its cells;
nothing is written.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from shipping.tables.as_meant import days_meant, numbers_meant
from shipping.tables.cells import as_text
from shipping.tables.files.sheet import BadSource, Unreadable
from shipping.tables.mapped_orders.mapped_sheet import mapped_orders, open_mapped
from shipping.tables.mapped_orders.mapping import ADDRESS, PACKS, PRICE_EACH, WISH, MappedSheet
from shipping.tables.mapped_orders.their_header import headers_of, sounds_like_a_status
from shipping.tables.mapped_orders.wishes import names_of_fish, split_wish
from shipping.tables.row_reader import TableRows
from shipping.tables.rows.settings import ReadingRules
from shipping.tables.rows.species import Species
from shipping.tables.spelling import folded

#: What sheets call our columns, in several languages; the first that a sheet has is taken. Common usage.
HEADERS: Mapping[str, tuple[str, ...]] = {
    "order": (
        "order number",
        "order no",
        "order no.",
        "order id",
        "order",
        "no",
        "no.",
        "nr",
        "nr.",
        "number",
        "bestellnummer",
        "bestellung",
        "ordrenummer",
        "commande",
        "pedido",
        "id",
        "#",
    ),
    "placed_on": (
        "order date",
        "placed on",
        "date",
        "created",
        "created at",
        "ordered",
        "day",
        "timestamp",
        "datum",
        "bestelldatum",
        "dato",
        "fecha",
        "data",
    ),
    "paid_on": ("paid on", "paid at", "payment date", "date paid", "paid", "bezahlt am", "bezahlt", "betalt"),
    "addressee": (
        "ship to",
        "recipient",
        "full name",
        "ship name",
        "buyer",
        "customer",
        "name",
        "who",
        "empfänger",
        "kunde",
        "navn",
        "nom",
        "nombre",
    ),
    "delivery_1": (
        "address",
        "delivery address",
        "shipping address",
        "address 1",
        "street",
        "street 1",
        "ship address",
        "straße",
        "strasse",
        "adresse",
    ),
    "delivery_2": ("address 2", "street 2", "apartment", "adresszusatz"),
    "postcode": ("postcode", "postal code", "zip", "zip code", "zipcode", "ship zipcode", "plz", "postnr"),
    "town": ("town", "city", "ship city", "ort", "stadt", "by", "ville", "ciudad"),
    "region": ("region", "state", "province", "ship state", "county", "bundesland"),
    "country": ("country", "ship country", "land", "pays", "país", "country code"),
    "tel": ("phone", "telephone", "tel", "mobile", "telefon"),
    "mail": ("e-mail", "email", "mail", "e-mail address", "email address"),
    WISH: (
        "item",
        "item name",
        "items",
        "product",
        "title",
        "what",
        "wish",
        "wishes",
        "species",
        "fish",
        "artikel",
        "vare",
        "art",
        "description",
    ),
    PACKS: ("quantity", "qty", "anzahl", "menge", "antal", "cantidad", "quantité", "count"),
    "eggs": ("eggs", "eier", "number of eggs", "æg", "œufs", "huevos"),
    PRICE_EACH: ("unit price", "price each", "item price", "einzelpreis"),
    "price": ("total", "amount", "order total", "price", "sum", "preis", "summe", "betrag"),
    "note": ("note", "notes", "comment", "comments", "bemerkung"),
}
_is_iso = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}").fullmatch
_ROWS_LOOKED_AT = 200
_TITLES = 20
_WORDS_SHOWN = 6


@dataclass(frozen=True)
class Proposal:
    """What a sheet seems to hold: the mapping, what each of its columns is taken for, and rows as read."""

    mapped: MappedSheet
    header_row: int
    unused: tuple[str, ...]
    lacking: tuple[str, ...]
    read: TableRows
    header: tuple[str, ...]
    asks: tuple[str, ...] = field(default=())
    statuses: tuple[tuple[str, tuple[str, ...]], ...] = ()

    def as_toml(self) -> str:
        """The text of an ``orders.toml`` that reads the sheet so."""
        lacking = "".join(f'# {column} = "their header"   # needed\n' for column in self.lacking)
        return self.mapped.as_toml() + lacking + ("".join(map(_status_lines, self.statuses)))

    def as_json(self) -> dict[str, object]:
        return {
            "file": self.mapped.file,
            "header_row": self.header_row,
            "columns": {column: list(headers) for column, headers in self.mapped.columns.items()},
            "unused": list(self.unused),
            "lacking": list(self.lacking),
            "questions": list(self.asks),
            "problems": [problem.as_json() for problem in self.read.problems],
            "orders_toml": self.as_toml(),
        }


def proposal(path: Path, species: tuple[Species, ...], rules: ReadingRules) -> Proposal:
    """The mapping that a sheet seems to want, by its headers and cells.

    Raises
    ------
    Unreadable
        If the file cannot be read at all.
    """
    blank = MappedSheet(file=path.name)
    sheet = open_mapped(path.parent, blank, rules.encoding)
    rows = [row for row, _ in zip(sheet.rows, range(_ROWS_LOOKED_AT), strict=False)]
    number, header, guessed = _best_header(rows)
    cells = _cells_below(rows, number, header)
    columns = _with_address(_with_counts(guessed, cells, names_of_fish(blank, species)), cells)
    order, asks = _order_of_days(columns, cells)
    mapped = MappedSheet(
        file=path.name, dates=order, columns={name: (said,) for name, said in columns.items()}
    )
    used = set(columns.values())
    needed: tuple[str, ...] = ("order", "placed_on", "addressee", "country")
    needed = ("order", "placed_on") if ADDRESS in columns else needed
    lacking = [name for name in needed if name not in columns]
    statuses = tuple(
        (name, tuple(dict.fromkeys(cells[name]))[:_WORDS_SHOWN])
        for name in header
        if name and name not in used and sounds_like_a_status(name)
    )
    asks += [f"{name} holds {', '.join(words)}: which of them do not go?" for name, words in statuses]
    lacking += [] if WISH in columns else [name for name in ("species", "eggs") if name not in columns]
    return Proposal(
        mapped,
        number,
        tuple(name for name in header if name and name not in used),
        tuple(lacking),
        mapped_orders(path.parent, mapped, species, rules),
        tuple(name for name in header if name),
        tuple(asks),
        statuses,
    )


def _status_lines(status: tuple[str, tuple[str, ...]]) -> str:
    """What would leave rows out by a column of their status, for the breeder to choose from."""
    name, words = status
    section = MappedSheet(file="x.csv", leave_out={name: words}).as_toml().partition("[sheet.leave_out]")
    return "".join(f"# {line}\n" for line in f"{section[1]}{section[2]}".splitlines())


def _best_header(
    rows: Sequence[tuple[int, list[object]]],
) -> tuple[int, list[str], dict[str, str]]:
    """The row among the first whose cells are most like headers we know, with what each is taken for."""
    best: tuple[int, list[str], dict[str, str]] = (0, [], {})
    for number, cells in rows[:_TITLES]:
        header = headers_of(cells)
        guessed = _guessed(header)
        if not best[1] or len(guessed) > len(best[2]):
            best = (number, header, guessed)
    return best


def _guessed(header: Sequence[str]) -> dict[str, str]:
    """Our columns by their headers."""
    theirs = {folded(name): name for name in header if name}
    found: dict[str, str] = {}
    for column, names in HEADERS.items():
        name = next((theirs[name] for name in map(folded, names) if name in theirs), None)
        if name is not None and name not in found.values():
            found[column] = name
    return found


def _cells_below(
    rows: Sequence[tuple[int, list[object]]], number: int, header: Sequence[str]
) -> dict[str, list[str]]:
    """The cells below each header that hold something, as text."""
    found: dict[str, list[str]] = {name: [] for name in header if name}
    for row, cells in rows:
        for name, cell in zip(header, cells, strict=False):
            if (
                row > number
                and name
                and cell is not None
                and not isinstance(cell, BadSource)
                and as_text(cell)
            ):
                found[name].append(as_text(cell))
    return found


def _with_counts(
    guessed: Mapping[str, str], cells: Mapping[str, list[str]], names: Mapping[str, str]
) -> dict[str, str]:
    """The guess with what the cells say: an item with its count is a wish, else its count is beside it."""
    columns = dict(guessed)
    items = cells.get(columns.get(WISH, ""), [])
    counted = [item for item in items if split_wish(item, names) is not None or item[:1].isdigit()]
    if WISH in columns and len(counted) * 2 < len(items):
        columns["species"] = columns.pop(WISH)
        if "eggs" not in columns and PACKS in columns:
            columns["eggs"] = columns.pop(PACKS)
    if WISH in columns and "eggs" in columns:
        columns.setdefault(PACKS, columns.pop("eggs"))
    counts = cells.get(columns.get(PACKS, ""), [])
    if PACKS in columns and not any(len(numbers_meant(count)) == 1 for count in counts):
        del columns[PACKS]
    if PRICE_EACH in columns:
        columns.pop("price", None)
    return columns


def _with_address(columns: dict[str, str], cells: Mapping[str, list[str]]) -> dict[str, str]:
    """The guess, with what was taken for a street as a whole address where most of its cells have three
    parts.
    """
    name = columns.get("delivery_1", "")
    whole = [text for text in cells.get(name, []) if len(re.split(r"[\n;,]+", text.strip(" \n;,"))) > 2]
    if whole and len(whole) * 2 > len(cells[name]) and "town" not in columns:
        del columns["delivery_1"]
        columns[ADDRESS] = name
    return columns


def _order_of_days(
    columns: Mapping[str, str], cells: Mapping[str, list[str]]
) -> tuple[Literal["dmy", "mdy"] | None, list[str]]:
    """``dmy`` or ``mdy`` where a cell tells; None, with a question, where every day may be read both ways."""
    days = [text for column in ("placed_on", "paid_on") for text in cells.get(columns.get(column, ""), [])]
    meant = [set(days_meant(text)) & {"day first", "month first"} for text in days]
    single = {next(iter(orders)) for orders in meant if len(orders) == 1}
    if days and not any(meant) and any("named" in days_meant(text) and not _is_iso(text) for text in days):
        return "dmy", []  # months with names are read the same by either
    if single == {"day first"}:
        return "dmy", []
    if single == {"month first"}:
        return "mdy", []
    unsure = next((text for text, orders in zip(days, meant, strict=True) if len(orders) == 2), None)
    if unsure is None:
        return None, []
    first, second = days_meant(unsure).values()
    return None, [f'\'{unsure}\': is it {first} (dates = "dmy") or {second} (dates = "mdy")?']


__all__ = ["HEADERS", "Proposal", "Unreadable", "proposal"]
