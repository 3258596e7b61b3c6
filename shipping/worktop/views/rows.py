"""The pages of the breeder's tables: rows as they stand; a row added, changed or taken back, out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from functools import partial
from typing import ClassVar
from urllib.parse import quote, urlencode

from flask import Response, abort, request

from shipping.papers.page.fonts import letters_of_orders
from shipping.tables.countries import countries
from shipping.tables.editing.settings_writer import Setting, change_settings
from shipping.tables.editing.starter import starter_columns
from shipping.tables.files.settings_reader import SETTINGS_FILE, settings_from_text
from shipping.tables.list_words import STAGE_WORDS
from shipping.tables.spelling import folded
from shipping.words.problems import Answer, Problem, ShelfProblems, Where
from shipping.worktop import context, table_row
from shipping.worktop.access import is_loopback
from shipping.worktop.page_language import (
    day_cell,
    day_meant,
    day_shown,
    day_words,
    name_of_country,
    named,
    tr,
)
from shipping.worktop.table_words import (
    SHEET_BY_TABLE,
    SHEETS,
    RowAsTyped,
    SheetWords,
    columns_first,
    label_of,
    rows_as_typed,
)
from shipping.worktop.views.row_form import ANY_POPULATION, MOST_ROWS, RowForm, _wish

#: A cell is no longer, and so many rows are listed unless one looks for some.
LONGEST_CELL = 2000
#: What says, beside its title, that a row is still the one that was shown: other cells may have changed.
_SAYS_WHICH = frozenset({"species", "on", "service", "to", "up_to_g", "taxon", "month"})
#: The day on which a row of orders was called off.
CANCELLED = "cancelled_on"


class RowsPage(RowForm):
    """Every table of the shelf, row by row, in the trade's words."""

    pages: ClassVar[context.Addresses] = (
        ("/tables", "tables"),
        ("/tables/<table>", "rows"),
        ("/tables/<table>/new", "new_row"),
        ("/tables/<table>/<int:row>", "row"),
    )
    forms: ClassVar[context.Addresses] = (
        ("/tables/<table>/new", "add_row"),
        ("/tables/<table>/<int:row>", "change_row"),
        ("/tables/<table>/<int:row>/back", "take_row_back"),
        ("/answer", "answer_question"),
    )

    def tables(self) -> Response:
        asked = [problem for problem in self._problems() if problem.answers]
        return self.worktop.page(
            "tables.html",
            sheets=SHEETS,
            asked=asked,
            shelves=self.worktop.open_shelf and is_loopback(request.remote_addr or ""),
        )

    def _problems(self) -> tuple[Problem, ...]:
        """What is said of the tables as they stand."""
        try:
            return self.shelf_state.tables().shelf.notices
        except ShelfProblems as broken:
            return broken.problems

    def answer_question(self) -> Response:
        """Writes an answer into the settings: how days or numbers are read, or that a cell is meant."""
        key, value = request.form.get("key", ""), request.form.get("value", "")
        if Answer(key, value) not in {answer for one in self._problems() for answer in one.answers}:
            return self.worktop.told_at("/tables", tr("Not written: the tables no longer ask this."))
        folder = self.shelf_state.folder
        with self.shelf_state.lock:
            there, _ = settings_from_text((folder / SETTINGS_FILE).read_text(encoding="utf-8-sig"))
            before = there.reading.meant if there else ()
            new: Setting = [*before, value] if key == "meant" else value
            copy = change_settings(folder, {("reading", key): new})
        small = tr("as it was: {place}", place=f"{copy.parent.name}/{copy.name}")
        return self.worktop.told_at("/tables", f"{tr('Settings written.')}\n{small}")

    def rows(self, table: str) -> Response:
        words, find = _words(table), context.sought()
        rows = rows_as_typed(self.shelf_state.folder / f"{table}.csv")
        wanted = rows_found(rows, find)
        listed = []
        for row in wanted if find else wanted[:MOST_ROWS]:
            title, *parts = (_told(table, name, row.cells.get(name, "")) for name in words.titles)
            listed.append({"row": row.row, "title": title, "rest": ", ".join(filter(None, parts))})
        return self.worktop.page(
            "rows.html",
            words=words,
            rows=listed,
            every=len(rows),
            find=find,
            in_workbook=table_row.is_in_workbook(self.shelf_state.folder, table),
        )

    def new_row(self, table: str) -> Response:
        asked = {name: value for name, value in request.args.items() if len(value) <= LONGEST_CELL}
        return self._form(_words(table), None, self._begun(table, asked), "")

    def row(self, table: str, row: int) -> Response:
        words = _words(table)
        return self._form(words, self._row(words, row), {}, "")

    def _row(self, words: SheetWords, number: int) -> RowAsTyped:
        rows = rows_as_typed(self.shelf_state.folder / f"{words.table}.csv")
        row = next((row for row in rows if row.row == number), None)
        if row is None:
            abort(404)
        return row

    def _typed(self, words: SheetWords) -> dict[str, str]:
        """The cells of a form; blank ones too. Refused where a cell is too long: none is cut."""
        columns = [column for part in columns_first(words) for column in part if column.name in request.form]
        cells = {column.name: request.form[column.name].replace("\r\n", "\n").strip() for column in columns}
        for name, value in cells.items():
            if len(value) > LONGEST_CELL:
                text = tr(
                    "{letters} letters are too many; {most} are taken.", letters=len(value), most=LONGEST_CELL
                )
                raise _not_written({name: f"{text} {tr('Shorten it.')}"})
        if words.table == "orders" and not (cells.get("population", "x") or request.form.get(ANY_POPULATION)):
            blank, mend = (
                tr("The population is blank."),
                tr("Name it, or tick that the buyer takes any population."),
            )
            raise _not_written({"population": f"{blank} {mend}"})
        read = {column.name: _READ_AS.get(column.kind, str) for column in columns}
        read |= dict.fromkeys(("not_before", "not_after"), partial(day_cell, ahead=True))
        return {
            name: text if text == request.form.get(f"was-{name}") else read[name](text)
            for name, text in cells.items()
        }

    def add_row(self, table: str) -> Response:
        words, there = _words(table), dict(request.form)

        def add() -> Response:
            cells = self._typed(words)
            if same := self._same_row(table, cells):
                return self._written_before(table, same)
            is_order = "order" in cells and table == "orders"
            if is_order and there.get("proposed") == cells["order"] and self._is_begun(cells["order"]):
                with suppress(ShelfProblems):
                    there["order"] = self._next_order()
                    text = tr("Order {order} was written meanwhile: this is the next free number.", **cells)
                    raise _not_written({"order": text})
            self._ask_when_ordered(table, cells)
            self._refuse_a_shops_number(table, cells.get("order", ""))
            with self._refusing_cells(words, None):
                written, warnings = table_row.add_checked_row(self.shelf_state, table, cells)
            if is_order and request.form.get("then") == "fish":
                said = self._with_warnings(table, table_row.written_words(written), written.row, warnings)
                return self.worktop.told_at(self._next_fish(cells["order"]), said)
            return self._written(words, table_row.written_words(written), written.row, warnings)

        return self._tried(words, None, there, add)

    def _ask_when_ordered(self, table: str, cells: Mapping[str, str]) -> None:
        """A new order stands as ordered today; where it was paid before, its day is asked for."""
        days = {name: day_meant(cells.get(name, "")) for name in ("placed_on", "paid_on")}
        ordered, paid = days["placed_on"], days["paid_on"]
        if table == "orders" and ordered and paid and paid < ordered == self.worktop.today:
            asked = tr("It was paid on {day}: write the day it was ordered.", day=day_words(paid))
            raise _not_written({"placed_on": asked})

    def _refuse_a_shops_number(self, table: str, order: str) -> None:
        """An order in the breeder's own table stands for a shop's of that number, which would not go."""
        if table != "orders" or self._is_begun(order):
            return
        with suppress(ShelfProblems):
            if there := self._orders_of_sheets().get(folded(order)):
                text = tr("Order {order} is in a shop's sheet, and would not go any more.", order=there)
                mend = tr("Take another number, or change that order among the orders.")
                raise _not_written({"order": f"{text} {mend}"})

    def _next_fish(self, order: str) -> str:
        """Where the next line of an order is written, with the next fish of the mail in it."""
        first, *further = request.form.getlist("further") or [""]
        asked = [("order", order), *((name, text) for name, text in _wish(first).cells().items())]
        asked += [("further", text) for text in further]
        if "mail-beside" in request.form:
            asked.append(("from-mail", "yes"))
        return f"/tables/orders/new?{urlencode(asked)}"

    def _written_before(self, table: str, row: int) -> Response:
        """A form was sent twice, or another window did the same."""
        said = tr("It was recorded already; nothing was recorded twice.")
        if request.form.get("then") == "fish":
            return self.worktop.told_at(self._next_fish(request.form.get("order", "")), said)
        return self.worktop.told_at(_after(table), said, f"row-{row}")

    def _same_row(self, table: str, cells: Mapping[str, str]) -> int:
        """The table's last row where a new one says the same, whose form was then sent twice; else 0."""
        rows = rows_as_typed(self.shelf_state.folder / f"{table}.csv")
        last = rows[-1] if rows else None
        return last.row if last and _as_read(table, last.cells) == _as_read(table, cells) else 0

    def change_row(self, table: str, row: int) -> Response:
        words = _words(table)
        there, shown = self._row(words, row), dict(request.form)

        def change() -> Response:
            cells = self._typed(words)
            was = {name: request.form.get(f"was-{name}", "") for name in cells if name in there.cells}
            new = {name: value for name, value in cells.items() if value != was.get(name, "")}
            shown.update({name: there.cells[name] for name in was.keys() - new})
            if not new:
                said = tr("Nothing was changed: all cells are as before.")
                return self.worktop.told_at(f"/tables/{table}", said)
            if _as_read(table, new) == _as_read(table, {name: there.cells.get(name, "") for name in new}):
                return self._written_before(table, row)
            told = (
                name for name in there.cells if name in new or name in _SAYS_WHICH or name in words.titles[:1]
            )
            before = {name: request.form[f"was-{name}"] for name in told if f"was-{name}" in request.form}
            with self._refusing_cells(words, row):
                written, warnings = table_row.change_checked_row(self.shelf_state, table, row, new, before)
            return self._written(words, table_row.written_words(written, new), row, warnings)

        return self._tried(words, there, shown, change)

    @contextmanager
    def _refusing_cells(self, words: SheetWords, row: int | None) -> Iterator[None]:
        """Problems within refuse it: those of cells of the typed row (None: a new one) here, others above."""
        file = f"{words.table}.csv"
        there = {known.row for known in rows_as_typed(self.shelf_state.folder / file)}
        try:
            yield
        except ShelfProblems as found:
            at: dict[str, str] = {}
            others = []
            for problem in map(context.mended_here, found.problems):
                where = problem.where
                is_typed = where.row == row if row else where.row and where.row not in there
                if where.file == file and is_typed and problem.column:
                    at[problem.column] = f"{at.get(problem.column, '')} {context.of_cell(problem)}".strip()
                else:
                    others.append(context.in_labels(context.plain_problem(problem)))
            raise _not_written(at, others) from None

    def take_row_back(self, table: str, row: int) -> Response:
        """The row is a comment; of orders it gets its day in ``cancelled_on``, or loses it: so it keeps its
        number, and the other lines of its order keep theirs.
        """
        words = _words(table)
        there = self._row(words, row)

        def take_back() -> Response:
            was = {name: request.form.get(f"was-{name}", "") for name in words.titles if name in there.cells}
            if table == "orders":
                if request.form.get(f"was-{CANCELLED}", now := there.cells.get(CANCELLED, "")) != now:
                    return self._written_before(table, row)
                new = {CANCELLED: "" if there.cells.get(CANCELLED) else self.worktop.today.isoformat()}
                with self._refusing_cells(words, row):
                    written, warnings = table_row.change_checked_row(self.shelf_state, table, row, new, was)
                now_there = {name: there.cells[name] for name in was} | new
                marks = {f"was-{name}": text for name, text in now_there.items()}
                undo = context.Undo(f"/tables/{table}/{row}/back", marks)
                said = f"{self._cancelled(there)}{table_row.small_print(written)}"
                return self._written(words, said, row, warnings, undo)
            with context.refusing("Not taken back: {why}"):
                written, warnings = table_row.take_checked_row_back(self.shelf_state, table, row, was)
            taken = tr(
                "Taken back: {what}. It stays in the file as a comment.",
                what=table_row.row_named(words, there.cells),
            )
            return self._written(words, f"{taken}{table_row.small_print(written)}", row, warnings)

        return self._tried(words, there, {}, take_back)

    def _cancelled(self, was: RowAsTyped) -> str:
        """What became of an order whose row was cancelled or brought back just now."""
        order, name = was.cells.get("order", ""), "orders.csv"
        rows = [
            row for row in rows_as_typed(self.shelf_state.folder / name) if row.cells.get("order") == order
        ]
        if was.cells.get(CANCELLED):
            return tr("Order {order}: this line counts again.", order=order)
        if all(row.cells.get(CANCELLED) for row in rows):
            return tr("Order {order} is cancelled.", order=order)
        return tr("A line of order {order} is cancelled.", order=order)

    def _tried(
        self,
        words: SheetWords,
        row: RowAsTyped | None,
        there: Mapping[str, str],
        write: Callable[[], Response],
    ) -> Response:
        """What writing answers, or its form again, with what stood ``there``, and why not."""
        try:
            return write()
        except context.Refused as refused:
            return self._form(words, row, there, refused.said, refused.status, refused.at)

    def _unprintable(self, table: str, row: int) -> Iterator[str]:
        """What of an order's row no font prints: its papers could not be printed."""
        shelf = self.shelf if table == "orders" else None
        found = letters_of_orders(shelf) if shelf else ()
        columns = [one.column for one in found if one.where == Where(f"{table}.csv", row)]
        if columns:
            cells = ", ".join(tr(label_of(column)) for column in columns)
            yield tr(
                "No font here prints what stands in {cells}: write it in Latin letters, or its papers"
                " cannot be printed.",
                cells=cells,
            )

    def _with_warnings(self, table: str, said: str, row: int, warnings: Sequence[Problem]) -> str:
        """What was written of a row, and before it what warns, which a small window would else not show."""
        at = Where(f"{table}.csv", row)
        told = [
            named(tr(label_of(one.column)), context.of_cell(one))
            if one.where == at and one.column
            else context.plain_problem(one)
            for one in warnings
        ]
        told += self._unprintable(table, row)
        return " ".join([tr("Written, but look:"), *told, said]) if told else said

    def _written(
        self,
        words: SheetWords,
        said: str,
        row: int,
        warnings: tuple[Problem, ...],
        undo: context.Undo | None = None,
    ) -> Response:
        said = self._with_warnings(words.table, said, row, warnings)
        if words.table == "lots" and (lot := request.form.get("lot", "").strip()):
            return self.worktop.told_at(f"/lots?at={quote(lot)}", said, f"h-{lot}")
        return self.worktop.told_at(_after(words.table), said, f"row-{row}", undo)


def _after(table: str) -> str:
    """The page that follows on a form: the one that it names, else its table's."""
    after = request.form.get("after", "")
    return after if after in ("/", "/lots", "/orders", "/rules", "/setup") else f"/tables/{table}"


def rows_found(rows: Sequence[RowAsTyped], find: str) -> list[RowAsTyped]:
    """Those of some rows that hold what is looked for, the newest first."""
    return [
        row
        for row in reversed(rows)
        if not find or any(find.casefold() in value.casefold() for value in row.cells.values())
    ]


def _number_cell(typed: str) -> str:
    """A number with the point that tables take for a typed comma; what may be a thousand stays."""
    is_decimal = re.fullmatch(r"[^0-9,.]*[0-9]+,[0-9]{1,2}[^0-9,.]*", typed)
    return typed.replace(",", ".") if is_decimal else typed


#: How a cell of a form is read, by the kind of its column.
_READ_AS: Mapping[str, Callable[[str], str]] = {"day": day_cell, "number": _number_cell}


def _as_read(table: str, cells: Mapping[str, str]) -> dict[str, str]:
    """The filled cells of a row, days and numbers in our form, whatever the form of the table's own."""
    read = {column.name: _READ_AS.get(column.kind, str) for column in starter_columns(table)}
    return {name: read.get(name, str)(text) for name, text in cells.items() if text}


def _told(table: str, name: str, text: str) -> str:
    """A cell in a list of rows: days, words, countries as the page says them, numbers with their unit."""
    column = next(one for one in starter_columns(table) if one.name == name)
    if not text or column.kind == "day":
        return day_shown(text)
    label = tr(label_of(name))
    if column.kind in ("whole", "number"):
        return named(label, text)
    if name == "to":
        return ", ".join(name_of_country(part) if part in countries() else part for part in text.split())
    told = tr(STAGE_WORDS.get(text, text)) if text in column.words else text
    return named(tr("Live eggs"), told) if name == "live_eggs" else told


def _not_written(at: Mapping[str, str], others: Sequence[str] = ()) -> context.Refused:
    """What is wrong ``at`` single cells is said there, the rest above."""
    cells = ", ".join(tr(label_of(column)) for column in at)
    marked = [tr("look at what is marked: {cells}.", cells=cells)] if at else []
    return context.Refused(tr("Not written: {why}", why=" ".join((*others, *marked))), at=at)


def _words(table: str) -> SheetWords:
    if table not in SHEET_BY_TABLE:
        abort(404)
    return SHEET_BY_TABLE[table]
