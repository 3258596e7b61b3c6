"""The form of a row of the breeder's tables: a table's words and a row, or none yet, in; its cells as a form
out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qs, urlencode

from flask import Response, request

from shipping.papers.page.fonts import letters_of_orders
from shipping.tables.editing.starter import ShelfColumn
from shipping.tables.list_words import STAGE_WORDS
from shipping.tables.mapped_orders.mapped_sheet import orders_named
from shipping.tables.mapped_orders.mapping import ADDRESS_COLUMNS, read_map
from shipping.tables.shelf import Shelf
from shipping.tables.spelling import folded
from shipping.words.problems import Problem, ShelfProblems
from shipping.worktop import context, table_row
from shipping.worktop.kept_week import fish_name
from shipping.worktop.order_text import marked, next_order
from shipping.worktop.page_language import countries_by_name, day_shown, name_of_country, named, tr
from shipping.worktop.table_words import (
    RowAsTyped,
    SheetWords,
    columns_first,
    hint_of,
    label_of,
    rows_as_typed,
)
from shipping.worktop.wishes import AskedFish

#: Tables whose names a column of another one takes.
_LISTED_IN = {
    "species": "species",
    "lot": "lots",
    "service": "services",
    "box": "boxes",
    "population": "lots",
}
#: Ticked where the buyer takes any population; a blank one is none that was forgotten.
ANY_POPULATION = "any-population"
#: What a further fish of an order needs of its own; all else is that of the order's first line.
OF_A_FURTHER_FISH = frozenset({"order", "species", "population", "eggs", "price"})
#: What is named of the cells that are folded away, where a table has it.
WORTH_NAMING = frozenset({"tel", "mail", "not_before"})
MOST_ROWS = 60
#: What a new order of a buyer takes from one before.
_OF_A_BUYER = frozenset(ADDRESS_COLUMNS) | {"tel", "mail", "language"}


@dataclass(frozen=True, slots=True)
class MailBeside:
    """A buyer's mail that fills a form: its text, further fish, what was not understood, its ``days``."""

    text: str
    further: tuple[AskedFish, ...] = ()
    puzzling: tuple[str, ...] = ()
    days: tuple[str, ...] = ()


class RowForm(context.View):
    """A row as a form: its fields with hints and choices, the mail that it came from, the order it is of."""

    def _begun(self, table: str, asked: dict[str, str]) -> dict[str, str]:
        """A form that was just opened: an order has the next number and was placed today, no other table says
        a day that nobody has named; an order that is named gets a further line, which takes all else from its
        first; ``like`` another it has its buyer.
        """
        if table != "orders" or "order" in asked:
            return asked
        if like := asked.pop("like", ""):
            first = next((row.cells for row, _ in self._lines_of(like)), {})
            asked |= {name: text for name, text in first.items() if name in _OF_A_BUYER and text}
        begun = {"placed_on": self.worktop.today.isoformat()}
        with suppress(ShelfProblems):
            begun["order"] = self._next_order()
        return {**begun, **asked}

    def _next_order(self) -> str:
        """A number for a new order that neither the tables nor a kept parcel have."""
        with self.shelf_state.ledger() as ledger:
            kept = tuple(ledger.orders()) if ledger else ()
        own = (row.cells.get("order", "") for row in rows_as_typed(self.shelf_state.folder / "orders.csv"))
        return next_order(tuple(own), tuple(self._orders_of_sheets().values()), kept)

    def _orders_of_sheets(self) -> dict[str, str]:
        """The number of each order in a sheet of another shop, as it is compared and as it stands there."""
        folder, reading = self.shelf_state.folder, self.shelf.settings.reading
        every = (orders_named(folder, mapped, reading.encoding) for mapped in read_map(folder)[0])
        return {folded(order): order for orders in every for order in orders}

    def _form(
        self,
        words: SheetWords,
        row: RowAsTyped | None,
        typed: Mapping[str, str],
        trouble: str,
        status: int = 200,
        at: Mapping[str, str] | None = None,
        mail: MailBeside | None = None,
    ) -> Response:
        first, more = columns_first(words)
        there = {**(row.cells if row else {}), **typed}
        mail = mail or self._mail_beside(words, row, there)
        is_further = row is None and words.table == "orders" and self._is_begun(there.get("order", ""))
        if is_further:
            more = (*(column for column in first if column.name not in OF_A_FURTHER_FISH), *more)
            first = tuple(column for column in first if column.name in OF_A_FURTHER_FISH)
        return self.worktop.page(
            "row.html",
            status,
            words=words,
            row=row,
            first=[self._field(words, column, there) for column in first],
            more=[self._field(words, column, there) for column in more],
            trouble=trouble,
            wrong=at or {},
            in_workbook=table_row.is_in_workbook(self.shelf_state.folder, words.table),
            any_population=bool(request.form.get(ANY_POPULATION))
            or bool(row and not there.get("population")),
            more_names=_named(more),
            is_further=is_further,
            letters=self._letters(words, row),
            order=there.get("order", ""),
            lines=self._lines_of(there.get("order", "")) if words.table == "orders" else (),
            mail=mail,
            mail_marked=marked(mail.text, there, (*mail.days, *(fish.species for fish in mail.further))),
            further=[(urlencode(wish.cells()), self._wished(wish)) for wish in mail.further],
        )

    def _mail_beside(self, words: SheetWords, row: RowAsTyped | None, there: Mapping[str, str]) -> MailBeside:
        """The mail that the form before came from, and the fish of it that are still to be written."""
        if words.table != "orders" or row is not None:
            return MailBeside("")
        wished = request.form.getlist("further") or request.args.getlist("further")
        further = tuple(_wish(text) for text in wished[:MOST_ROWS])
        text = request.form.get("mail-beside", "")
        if "from-mail" in request.args:
            rows = rows_as_typed(self.shelf_state.folder / "orders.csv")
            own = (
                known.cells.get("note", "") for known in rows if known.cells.get("order") == there["order"]
            )
            text = next(filter(None, own), "")
        form = request.form
        return MailBeside(text, further, tuple(form.getlist("puzzling")), tuple(form.getlist("mail-day")))

    def _wished(self, wish: AskedFish) -> str:
        """A fish of a mail as it is listed: how many eggs of what."""
        fish = f"{wish.species}, {wish.population}" if wish.population else wish.species
        with suppress(ShelfProblems):
            fish = fish_name(wish.species, wish.population, self.shelf)
        return f"{wish.eggs or '?'} {fish}"

    def _lines_of(self, order: str) -> list[tuple[RowAsTyped, str]]:
        """The rows of an order, each with how many eggs of what."""
        rows = rows_as_typed(self.shelf_state.folder / "orders.csv") if order else ()
        own = (row for row in rows if row.cells.get("order") == order)
        return [(row, self._wished(_wish(urlencode(row.cells)))) for row in own]

    def _letters(self, words: SheetWords, row: RowAsTyped | None) -> str:
        """What of an order's row cannot be printed, and what to write instead; "" where all can be."""
        if words.table != "orders" or row is None:
            return ""
        with suppress(ShelfProblems):
            found = letters_by_row(self.shelf).get(row.row)
            if found:
                return context.in_labels(
                    named(tr(label_of(found.column)), f"{tr(found.text)} {tr(found.mend)}")
                )
        return ""

    def _is_begun(self, order: str) -> bool:
        """Has this order a line in the breeder's own table?"""
        rows = rows_as_typed(self.shelf_state.folder / "orders.csv")
        return bool(order) and any(row.cells.get("order") == order for row in rows)

    def _field(self, words: SheetWords, column: ShelfColumn, there: Mapping[str, str]) -> dict[str, Any]:
        value = there.get(column.name, "")
        if column.kind == "day":
            value = day_shown(value)
        own = {word: tr(STAGE_WORDS.get(word, word)) for word in column.words}
        choices = own or self._choices(words, column.name)
        return {
            "name": column.name,
            "label": tr(label_of(column.name)),
            "value": value,
            "choices": choices,
            "is_list": bool(column.words) or (column.name in ("country", "species") and bool(choices)),
            "kind": column.kind,
            "is_day": column.kind == "day",
            "needed": _needed(words, column),
            "any_will_do": (words.table, column.name) == ("orders", "population"),
            "hint": self._hint(words, column),
        }

    def _hint(self, words: SheetWords, column: ShelfColumn) -> str:
        """What is said below a cell; of an order's price in which money, and for what."""
        if (words.table, column.name) == ("orders", "price"):
            with suppress(ShelfProblems):
                money = self.shelf.settings.plan.currency
                return tr("for all eggs of this fish, in {currency}", currency=money)
        return tr(hint_of(words.table, column))

    def _choices(self, words: SheetWords, column: str) -> dict[str, str]:
        """What a cell may hold of a list, and how each is shown: countries, or another table's names."""
        if column == "country":
            with_orders: frozenset[str] = frozenset()
            with suppress(ShelfProblems):
                orders = self.shelf.orders
                with_orders = frozenset(order.country for order in orders)
            return {code: f"{name_of_country(code)} ({code})" for code in countries_by_name(with_orders)}
        table = _LISTED_IN.get(column)
        if table is None or table == words.table:
            return {}
        try:
            rows = rows_as_typed(self.shelf_state.folder / f"{table}.csv")
        except ShelfProblems:
            return {}
        every = [row.cells for row in rows if row.cells.get(column)]
        return {cells[column]: _shown(cells, column) for cells in every}


def _wish(text: str) -> AskedFish:
    """A fish of a mail, as its form carries it to the next."""
    said = {name: values[0] for name, values in parse_qs(text).items()}
    instead = tuple(filter(None, said.get("instead", "").split("; ")))
    return AskedFish(said.get("species", ""), said.get("population", ""), said.get("eggs", ""), instead)


def letters_by_row(shelf: Shelf | None) -> dict[int, Problem]:
    """The first text of each row of the breeder's orders that no font prints."""
    found: dict[int, Problem] = {}
    for problem in letters_of_orders(shelf) if shelf else ():
        if problem.where.file == "orders.csv":
            found.setdefault(problem.where.row, problem)
    return found


def _named(columns: Sequence[ShelfColumn]) -> str:
    """What the first of some columns are called, so that one sees what is folded away."""
    told = [column for column in columns if column.name in WORTH_NAMING] or columns[:3]
    names = [tr(label_of(column.name)).partition(",")[0] for column in told[:3]]
    return ", ".join(names) + (" …" if len(columns) > len(names) else "")


def _needed(words: SheetWords, column: ShelfColumn) -> str:
    """Whether a cell must be filled, as its label says it."""
    if words.table == "orders" and column.name in ("delivery_1", "postcode", "town"):
        return tr("needed to post it")
    if column.required or (words.table, column.name) == ("orders", "population"):
        return tr("needed")
    return ""


def _shown(cells: Mapping[str, str], column: str) -> str:
    """How a name of another table is shown in a list: a fish by its scientific name, and its key."""
    name, key = cells.get("scientific_name", ""), cells[column]
    return f"{name} ({key})" if column == "species" and name else key
