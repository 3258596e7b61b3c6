"""The pages of the breeder's tables: rows as they stand; a row added, changed or taken back, out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from typing import Any
from urllib.parse import quote

from flask import Flask, Response, abort, request

from shipping.post.countries import countries
from shipping.tables.editing.row_writer import append_rows
from shipping.tables.editing.starter import TableColumn, columns_of
from shipping.tables.mapped_orders.mapped_rows import COLUMNS as ORDER_COLUMNS
from shipping.tables.mapped_orders.mapped_rows import texts_of
from shipping.tables.shelf import Shelf
from shipping.words.problems import Problem, ShelfProblems
from shipping.worktop.context import Worktop, day_from, plain_problem, plain_problems
from shipping.worktop.kept_week import fish_name
from shipping.worktop.order_needs import Need, needs_of_orders
from shipping.worktop.order_text import next_order, order_from_text
from shipping.worktop.page_language import day_and_year, day_meant, name_of_country, tr
from shipping.worktop.sheets import (
    SHEET_BY_TABLE,
    SHEETS,
    RowAsTyped,
    SheetWords,
    columns_first,
    hint_of,
    label_of,
    rows_as_typed,
)
from shipping.worktop.table_row import (
    add_checked_row,
    change_checked_row,
    change_tried,
    is_in_workbook,
    tables_folder_words,
    take_checked_row_back,
)

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
OF_A_FURTHER_FISH = frozenset({"order", "species", "population", "eggs"})
#: What is named of the cells that are folded away, where a table has it.
WORTH_NAMING = frozenset({"tel", "mail", "not_before"})
#: A cell is no longer, and so many rows are listed unless one looks for some.
LONGEST_CELL = 2000
MOST_ROWS = 60


class RowsPage:
    """Every table of the shelf, row by row, in the trade's words."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/tables", "tables", self.index)
        app.add_url_rule("/tables/<table>", "rows", self.show)
        app.add_url_rule("/tables/<table>/new", "new_row", self.new)
        app.add_url_rule("/tables/<table>/new", "add_row", self.add, methods=["POST"])
        app.add_url_rule("/tables/<table>/<int:row>", "row", self.row)
        app.add_url_rule("/tables/<table>/<int:row>", "change_row", self.change, methods=["POST"])
        app.add_url_rule("/tables/<table>/<int:row>/back", "take_row_back", self.back, methods=["POST"])
        app.add_url_rule("/orders/paste", "paste", self.paste, methods=["POST"])
        app.add_url_rule("/orders/<order>/copy", "copy_order", self.copy_in, methods=["POST"])
        app.add_url_rule("/orders/<order>/paid", "paid", self.paid, methods=["POST"])
        app.add_url_rule("/orders/<order>/region", "region", self.region)
        app.add_url_rule("/orders/<order>/region", "region_named", self.region_named, methods=["POST"])

    def index(self) -> Response:
        return self.worktop.page("tables.html", sheets=SHEETS)

    def show(self, table: str) -> Response:
        words = _words(table)
        rows = rows_as_typed(self.worktop.shelf_state.folder / f"{table}.csv")
        if table == "orders":
            rows = _with_payments(rows)
        find = " ".join(request.args.get("find", "").split())
        wanted = [
            row
            for row in reversed(rows)
            if not find or any(find.casefold() in value.casefold() for value in row.cells.values())
        ]
        facts: dict[str, Any] = {}
        if table == "orders":
            needs = needs_of_orders(self.worktop)
            wanted.sort(key=lambda row: _rank(row, needs or {}))
            facts = {
                "needs": needs or {},
                "is_reckoning": needs is None,
                "dropped": self._dropped_orders(find),
            }
        shelf = self._shelf() if table == "orders" else None
        shown = wanted if find else wanted[:MOST_ROWS]
        listed = [self._listed(words, row, shelf) for row in shown]
        if table == "orders":
            names = [_group(row, facts["needs"])[1] for row in shown]
            held = (row.row for row, own in zip(shown, names, strict=True) if own in HELD)
            facts["next_row"] = next(held, 0)
            facts["groups"] = [
                (tr(name), [row for row, own in zip(listed, names, strict=True) if own == name])
                for name in dict.fromkeys(names)
            ]
        return self.worktop.page(
            "orders.html" if table == "orders" else "rows.html",
            words=words,
            rows=listed,
            every=len(rows),
            find=find,
            in_workbook=is_in_workbook(self.worktop.shelf_state.folder, table),
            **facts,
        )

    def _listed(self, words: SheetWords, row: RowAsTyped, shelf: Shelf | None) -> dict[str, Any]:
        parts = [row.cells.get(name, "") for name in words.titles]
        rest = ", ".join(part for part in parts[1:] if part)
        if words.table == "orders":
            rest = self._wish(row.cells, shelf)
        return {
            "row": row.row,
            "title": parts[0],
            "rest": rest,
            "cells": row.cells,
        }

    def _shelf(self) -> Shelf | None:
        """The tables as read, None where a mistake keeps them from it."""
        with suppress(ShelfProblems):
            return self.worktop.shelf_state.readable_tables().shelf
        return None

    def _wish(self, cells: Mapping[str, str], shelf: Shelf | None) -> str:
        """Who wants how many eggs of what, and where to, of a row of orders as people say it."""
        fish, to = cells.get("species", ""), cells.get("country", "")
        if shelf:
            population = cells.get("population", "")
            fish = fish_name(fish, "", shelf) + (f" ({population})" if population else "")
        wish = f"{cells.get('eggs', '')} {fish}".strip()
        if to:
            to = name_of_country(to) if to in countries() else to
            wish = tr("{wish}, for {to}", wish=wish, to=to)
        name = "" if self.worktop.hide_names else cells.get("addressee", "")
        return f"{name}: {wish}" if name else wish

    def new(self, table: str) -> Response:
        typed = {name: value for name, value in request.args.items() if len(value) <= LONGEST_CELL}
        return self._form(_words(table), None, self._begun(table, typed), "")

    def _begun(self, table: str, typed: dict[str, str]) -> dict[str, str]:
        """A form that was just opened: days that are needed are today, an order has the next number; one
        that is named gets a further line, which takes all else from its first.
        """
        if "order" in typed:
            return typed
        today = self.worktop.today.isoformat()
        days = {one.name: today for one in columns_of(table) if one.kind == "day" and one.required}
        if table == "orders":
            with suppress(ShelfProblems):
                days["order"] = next_order(self.worktop.shelf_state.readable_tables().shelf)
        return {**days, **typed}

    def row(self, table: str, row: int) -> Response:
        words = _words(table)
        return self._form(words, self._row(words, row), {}, "")

    def _row(self, words: SheetWords, number: int) -> RowAsTyped:
        rows = rows_as_typed(self.worktop.shelf_state.folder / f"{words.table}.csv")
        found = next((row for row in rows if row.row == number), None)
        if found is None:
            abort(404)
        return found

    def _form(
        self,
        words: SheetWords,
        row: RowAsTyped | None,
        typed: Mapping[str, str],
        trouble: str,
        status: int = 200,
    ) -> Response:
        first, more = columns_first(words)
        there = {**(row.cells if row else {}), **typed}
        is_further = row is None and words.table == "orders" and self._is_begun(there.get("order", ""))
        if is_further:
            more = (*(one for one in first if one.name not in OF_A_FURTHER_FISH), *more)
            first = tuple(one for one in first if one.name in OF_A_FURTHER_FISH)
        return self.worktop.page(
            "row.html",
            status,
            words=words,
            row=row,
            first=[self._field(words, column, there) for column in first],
            more=[self._field(words, column, there) for column in more],
            trouble=trouble,
            wrong=frozenset(name for name in there if f"{name}:" in trouble.casefold()),
            in_workbook=is_in_workbook(self.worktop.shelf_state.folder, words.table),
            any_population=bool(request.form.get(ANY_POPULATION))
            or bool(row and not there.get("population")),
            near_days=[self.worktop.today + timedelta(days=n) for n in range(-10, 22)],
            more_names=_named(more),
            is_further=is_further,
            order=there.get("order", ""),
        )

    def _is_begun(self, order: str) -> bool:
        """Has this order a line in the breeder's own table?"""
        rows = rows_as_typed(self.worktop.shelf_state.folder / "orders.csv")
        return bool(order) and any(row.cells.get("order") == order for row in rows)

    def _field(self, words: SheetWords, column: TableColumn, there: Mapping[str, str]) -> dict[str, Any]:
        value = there.get(column.name, "")
        if column.kind == "day" and (day := day_from(value)):
            value = day_and_year(day)
        choices = {word: tr(word) for word in column.words} or self._choices(words, column.name)
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
            "hint": tr(hint_of(words.table, column)),
        }

    def _choices(self, words: SheetWords, column: str) -> dict[str, str]:
        """What a cell may hold of a list, and how each is shown: countries, or names of another table that
        can be read.
        """
        if column == "country":
            names = sorted((name_of_country(code), code) for code in countries())
            return {code: f"{name} ({code})" for name, code in names}
        table = _LISTED_IN.get(column)
        if table is None or table == words.table:
            return {}
        try:
            rows = rows_as_typed(self.worktop.shelf_state.folder / f"{table}.csv")
        except ShelfProblems:
            return {}
        every = [row.cells for row in rows if row.cells.get(column)]
        return {cells[column]: _shown(cells, column) for cells in every}

    def _typed(self, words: SheetWords) -> dict[str, str]:
        """The cells of a form; blank ones too.

        Raises
        ------
        ShelfProblems
            If a cell is too long: none is cut.
        """
        first, more = columns_first(words)
        cells = {
            column.name: request.form.get(column.name, "").replace("\r\n", "\n").strip()
            for column in (*first, *more)
            if column.name in request.form
        }
        for name, value in cells.items():
            if len(value) > LONGEST_CELL:
                raise _too_long(label_of(name), len(value))
        if words.table == "orders" and not (cells.get("population", "x") or request.form.get(ANY_POPULATION)):
            raise _no_population()
        return cells | {name: _day_cell(name, cells[name]) for name in _days_of(words) if name in cells}

    def add(self, table: str) -> Response:
        words = _words(table)
        try:
            cells = self._typed(words)
            written, warnings = add_checked_row(self.worktop.shelf_state, table, cells)
        except ShelfProblems as trouble:
            return self._form(
                words, None, dict(request.form), tr("Not written: {why}", why=plain_problems(trouble)), 422
            )
        if request.form.get("then") == "fish":
            said = " ".join([tables_folder_words(written), *map(plain_problem, warnings)])
            return self.worktop.told_at(f"/tables/orders/new?order={quote(cells['order'])}", said)
        return self._written(words, tables_folder_words(written), written.row, warnings)

    def change(self, table: str, row: int) -> Response:
        words = _words(table)
        there = self._row(words, row)
        try:
            cells = self._typed(words)
            was = {name: request.form.get(f"was-{name}", "") for name in cells if name in there.cells}
            new = {
                name: value
                for name, value in cells.items()
                if value != there.cells.get(name, "") or was.get(name, "") != there.cells.get(name, "")
            }
            if not new:
                return self.worktop.told_at(
                    f"/tables/{table}", tr("Nothing was changed: all cells are as before.")
                )
            before = {name: was[name] for name in new if name in was}
            written, warnings = change_checked_row(self.worktop.shelf_state, table, row, new, before)
        except ShelfProblems as trouble:
            text = tr("Not written: {why}", why=plain_problems(trouble))
            return self._form(words, there, dict(request.form), text, 422)
        return self._written(words, tables_folder_words(written), row, warnings)

    def back(self, table: str, row: int) -> Response:
        words = _words(table)
        there = self._row(words, row)
        try:
            was = {name: request.form.get(f"was-{name}", "") for name in words.titles if name in there.cells}
            written, warnings = take_checked_row_back(self.worktop.shelf_state, table, row, was)
        except ShelfProblems as trouble:
            return self._form(words, there, {}, tr("Not taken back: {why}", why=plain_problems(trouble)), 409)
        taken = tr("Taken back: row {row} of {file} is a comment now.", row=row, file=f"{table}.csv")
        said = f"{taken} {tables_folder_words(written)}"
        return self._written(words, said, row, warnings)

    def _written(self, words: SheetWords, said: str, row: int, warnings: tuple[Problem, ...]) -> Response:
        said = " ".join([said, *map(plain_problem, warnings)])
        after = request.form.get("after", "")
        address = (
            after if after in ("/", "/lots", "/orders", "/rules", "/setup") else f"/tables/{words.table}"
        )
        return self.worktop.told_at(address, said, f"row-{row}")

    def paid(self, order: str) -> Response:
        """Writes today into the paid days of every line of an order that has none."""
        cells = {"paid_on": self.worktop.today.isoformat()}
        return self._write_in_order(order, cells, tr("Order {order} is paid.", order=order), only_blank=True)

    def region(self, order: str, trouble: str = "", status: int = 200) -> Response:
        """Which region an order goes to, where its country's rules differ inside."""
        from shipping.post.restrictions import regions_needed, regions_of

        shelf = self.worktop.shelf_state.readable_tables().shelf
        known = shelf.order_by_name.get(order)
        if known is None:
            abort(404)
        return self.worktop.page(
            "region.html",
            status,
            order=order,
            address=known.address,
            country=name_of_country(known.country),
            needed=next((one for one in regions_needed(shelf) if one.order == order), None),
            regions=regions_of(known.country),
            trouble=trouble,
            is_hidden=self.worktop.hide_names,
        )

    def region_named(self, order: str) -> Response:
        """Writes the region named into every row of an order."""
        from shipping.post.restrictions import regions_of

        known = self.worktop.shelf_state.readable_tables().shelf.order_by_name.get(order)
        if known is None:
            abort(404)
        region = request.form.get("region", "")
        if region not in regions_of(known.country):
            return self.region(order, tr("Not written: choose the region from the list."), 422)
        place = f"{known.country}-{region}"
        done = tr("Order {order} goes to {place}.", order=order, place=place)
        return self._write_in_order(order, {"region": place}, done)

    def _write_in_order(
        self, order: str, cells: Mapping[str, str], done: str, only_blank: bool = False
    ) -> Response:
        """Writes cells into every row of an order, or into those where they are blank; an order of a dropped
        sheet is copied into the breeder's own table with them.
        """
        shelf_state, table = self.worktop.shelf_state, _words("orders")
        rows = [
            row
            for row in rows_as_typed(shelf_state.folder / "orders.csv")
            if row.cells.get("order") == order
            and not (only_blank and all(row.cells.get(name) for name in cells))
        ]
        if not rows:
            return self._copied_in(order, cells, f"{done} {tr('It stands in your own table now.')}")
        with shelf_state.lock:
            try:
                for row in rows:
                    was = {"order": order}
                    written, warnings = change_checked_row(shelf_state, "orders", row.row, cells, was)
            except ShelfProblems as trouble:
                return self.worktop.told_at(
                    "/tables/orders", tr("Not written: {why}", why=plain_problems(trouble))
                )
        return self._written(table, f"{done} {tables_folder_words(written)}", rows[0].row, warnings)

    def _dropped_orders(self, find: str) -> list[dict[str, str]]:
        """Orders that stand in dropped sheets: number, what it is, and its sheet."""
        try:
            orders = self.worktop.shelf_state.readable_tables().shelf.orders
        except ShelfProblems:
            return []
        hidden = self.worktop.hide_names
        found = []
        for order in orders:
            fish = ", ".join(f"{line.eggs} {line.species}" for line in order.lines)
            name = "" if hidden else order.address.addressee
            rest = ", ".join(part for part in (name, fish, order.country) if part)
            file = order.lines[0].row.at.file
            if file != "orders.csv" and find.casefold() in f"{order.order} {rest}".casefold():
                found.append({"order": order.order, "rest": rest, "file": file})
        return found

    def copy_in(self, order: str) -> Response:
        """The rows of a dropped sheet's order into the breeder's own table, which counts from then on."""
        done = tr("Order {order} stands in your own table now, and can be changed there.", order=order)
        return self._copied_in(order, {}, done)

    def _copied_in(self, order: str, more: Mapping[str, str], done: str) -> Response:
        known = self.worktop.shelf_state.readable_tables().shelf.order_by_name.get(order)
        if known is None or known.lines[0].row.at.file == "orders.csv":
            abort(404)
        texts = texts_of([line.row for line in known.lines])
        rows = [
            {**{name: text for name, text in zip(ORDER_COLUMNS, row, strict=True) if text}, **more}
            for row in texts
        ]
        shelf_state, words = self.worktop.shelf_state, _words("orders")
        try:
            written, warnings = change_tried(
                shelf_state, "orders", lambda path: append_rows(path, rows, ORDER_COLUMNS)
            )
        except ShelfProblems as trouble:
            return self.worktop.told_at(
                "/tables/orders", tr("Not written: {why}", why=plain_problems(trouble))
            )
        said = f"{done} {tables_folder_words(written)}"
        return self._written(words, said, written.row, warnings)

    def paste(self) -> Response:
        """A block of text as a form of an order, for the breeder to correct and write."""
        text = request.form.get("text", "")
        words = _words("orders")
        if len(text) > 20_000:
            return self._form(words, None, {}, tr("Not read: the text is too long. Paste one order."), 422)
        try:
            shelf = self.worktop.shelf_state.tables().shelf
        except ShelfProblems as broken:
            return self._form(words, None, {"note": text}, plain_problems(broken), 409)
        return self._form(words, None, order_from_text(text, shelf), "")


def _named(columns: Sequence[TableColumn]) -> str:
    """What the first of some columns are called, so that one sees what is folded away."""
    told = [column for column in columns if column.name in WORTH_NAMING] or columns[:3]
    names = [tr(label_of(column.name)).partition(",")[0] for column in told[:3]]
    return ", ".join(names) + (" …" if len(columns) > len(names) else "")


def _days_of(words: SheetWords) -> list[str]:
    return [column.name for column in columns_of(words.table) if column.kind == "day"]


def _day_cell(name: str, typed: str) -> str:
    """A day as tables have it; what is in the table already, or can be read in two ways, stays as it is."""
    day = None if typed == request.form.get(f"was-{name}") else day_meant(typed)
    return day.isoformat() if day else typed


def _needed(words: SheetWords, column: TableColumn) -> str:
    """Whether a cell must be filled, as its label says it."""
    if words.table == "orders" and column.name in ("delivery_1", "postcode", "town"):
        return tr("needed to post it")
    if column.required or (words.table, column.name) == ("orders", "population"):
        return tr("needed")
    return ""


def _no_population() -> ShelfProblems:
    from shipping.words.problems import Where

    text = tr("The population is blank.")
    mend = tr("Name it, or tick that the buyer takes any population.")
    return ShelfProblems(
        (Problem(Where("form"), "population", "no-population", f"population: {text}", mend),)
    )


def _too_long(label: str, letters: int) -> ShelfProblems:
    from shipping.words.problems import Where

    text = tr("{letters} letters are too many; {most} are taken.", letters=letters, most=LONGEST_CELL)
    return ShelfProblems((Problem(Where("form"), label, "too-long", f"{label}: {text}", tr("Shorten it.")),))


def _shown(cells: Mapping[str, str], column: str) -> str:
    """How a name of another table is shown in a list: a fish by its scientific name, and its key."""
    name, key = cells.get("scientific_name", ""), cells[column]
    return f"{name} ({key})" if column == "species" and name else key


#: How orders are listed, those first that want a hand.
GROUPS: Mapping[str, str] = {
    "to mend": "Held: you can mend these yourself",
    "not paid": "Not paid yet",
    "held": "Held until others answer",
    "stopped": "Cannot be sent",
    "to send": "Packed, to be sent",
    "to pack": "To pack",
    "planned": "In the plan, which is not kept yet",
    "waiting": "Go in a later week; nothing to do",
    "": "New",
    "sent": "Sent",
    "arrived": "Arrived",
}
#: Groups of which the first order is what to do next.
HELD = (GROUPS["to mend"], GROUPS["held"])
#: Where orders stand that have come to their end.
ENDED = "Ended"


def _group(row: RowAsTyped, needs: Mapping[str, Need]) -> tuple[int, str]:
    """Among which an order is listed: its place, and its name."""
    need = needs.get(row.cells.get("order", ""))
    state = "not paid" if row.cells.get("paid_on") == "" else need.state if need else ""
    places = list(GROUPS)
    return (places.index(state), GROUPS[state]) if state in GROUPS else (len(places), ENDED)


def _with_payments(rows: Sequence[RowAsTyped]) -> tuple[RowAsTyped, ...]:
    """Rows of orders, with the day on which any line of the same order was paid: that pays all of it."""
    paid = {row.cells.get("order", ""): row.cells["paid_on"] for row in rows if row.cells.get("paid_on")}
    return tuple(
        replace(row, cells={**row.cells, "paid_on": paid[order]})
        if (order := row.cells.get("order", "")) in paid
        else row
        for row in rows
    )


def _rank(row: RowAsTyped, needs: Mapping[str, Need]) -> tuple[int, bool]:
    """The place of an order in the list: by its group, and in it those first that only want a look."""
    need = needs.get(row.cells.get("order", ""))
    return _group(row, needs)[0], not (need and need.address.startswith("/lots"))


def _words(table: str) -> SheetWords:
    if table not in SHEET_BY_TABLE:
        abort(404)
    return SHEET_BY_TABLE[table]
