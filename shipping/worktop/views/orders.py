"""The pages of the orders: where each stands, what it needs; paid, pasted, copied in, told its region."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from hashlib import sha256
from typing import Any
from urllib.parse import quote

from flask import Response, abort, request

from shipping.ledger.errors import LEDGER_FILE
from shipping.ledger.kept_parcel import NOT_COME, KeptParcel
from shipping.ledger.packing_day import line_now
from shipping.tables.countries import countries
from shipping.tables.editing.row_writer import append_rows, column_names
from shipping.tables.reader import texts_of
from shipping.tables.rows.orders import Order
from shipping.tables.shelf import ORDER_COLUMNS, Shelf
from shipping.week.objective import default_week
from shipping.words.problems import ShelfProblems
from shipping.words.reasons import ANSWERED, CODES, NO_SUCH_EGGS, SCARCE, STOPS
from shipping.worktop import kept_week
from shipping.worktop.context import Refused, Worktop, go_to, plain_problems, refusing, sought
from shipping.worktop.order_text import read_mail
from shipping.worktop.page_language import day_words, name_of_country, named, shown_name, tr
from shipping.worktop.running_list import NO_MONEY_YET, NextStep, asked_in_vain, listed_lines
from shipping.worktop.table_row import change_checked_rows, change_tried, is_in_workbook, small_print
from shipping.worktop.table_words import SHEET_BY_TABLE, RowAsTyped, label_of, rows_as_typed
from shipping.worktop.views.row_form import MOST_ROWS, MailBeside, letters_by_row
from shipping.worktop.views.rows import CANCELLED, RowsPage, rows_found

#: How orders are listed, those first that want a hand.
GROUPS: Mapping[str, str] = {
    "to mend": "Held: you can mend these yourself",
    "not paid": "Not paid yet",
    "held": "Held until others answer",
    "stopped": "Cannot be sent",
    "to send": "Packed, to be sent",
    "to pack": "To pack",
    "planned": "In the plan, which is not kept yet",
    "waiting": "Go in a later week by themselves",
    "": "New",
    "sent": "Sent",
    "arrived": "Arrived",
    "cancelled": "Cancelled",
    "ended": "Ended",
}
#: So many orders of a group stand open; those that go are folded by day where they are more.
MOST_OPEN = 8
#: Groups of which the first order is what to do next.
HELD = ("to mend", "held")
ORDERS = SHEET_BY_TABLE["orders"]


class OrdersPage(RowsPage):
    """The orders by where they stand, and what is written in all rows of one."""

    pages = (
        ("/tables/orders", "orders"),
        ("/orders/<order>", "order"),
        ("/orders/<order>/region", "region"),
        ("/orders/pasted/<mark>", "pasted"),
    )
    forms = (
        ("/orders/paste", "paste"),
        ("/orders/<order>/copy", "copy_order"),
        ("/orders/<order>/paid", "paid"),
        ("/orders/<order>/cancel", "cancel_order"),
        ("/orders/<order>/region", "region_named"),
    )

    def __init__(self, worktop: Worktop) -> None:
        super().__init__(worktop)
        self._pasted: Mapping[str, str] = {}

    def _rows(self) -> tuple[RowAsTyped, ...]:
        return rows_as_typed(self.shelf_state.folder / "orders.csv")

    def orders(self) -> Response:
        find, rows = sought(), _with_the_orders_own(self._rows())
        states, is_reckoning = states_of_orders(self.worktop)
        wanted = sorted(rows_found(rows, find), key=lambda row: _rank(row, states))
        shelf, groups = self._shelf(), dict[str, list[dict[str, Any]]]()
        shown, first = wanted if find else wanted[:MOST_ROWS], dict[str, int]()
        for row in shown:
            title, rest = row.cells.get("order", ""), self._wish(row.cells, shelf)
            first.setdefault(title, row.row)
            listed = {"row": row.row, "title": title, "rest": rest, "cells": row.cells}
            groups.setdefault(_group(row, states), []).append(listed)
        elsewhere = self._orders_elsewhere(shelf, find)
        held = [listed["row"] for name in HELD for listed in groups.get(name, ())]
        return self.worktop.page(
            "orders.html",
            words=ORDERS,
            rows=shown,
            every=len(rows),
            find=find,
            first=first,
            in_workbook=is_in_workbook(self.shelf_state.folder, "orders"),
            states=states,
            is_reckoning=is_reckoning,
            dropped=[one for one in elsewhere if one["file"] != LEDGER_FILE],
            owed=[one for one in elsewhere if one["file"] == LEDGER_FILE],
            next_row=next(iter(held), 0),
            letters={
                row: tr("{field}: no font prints its letters", field=tr(label_of(letters.column)))
                for row, letters in letters_by_row(shelf).items()
            },
            groups=[
                (
                    tr("Not reckoned yet") if is_reckoning and not name else tr(GROUPS[name]),
                    own,
                    _by_day(own, states, find),
                )
                for name, own in groups.items()
            ],
        )

    def _shelf(self) -> Shelf | None:
        """The tables as read, None where a mistake keeps them from it."""
        try:
            return self.shelf
        except ShelfProblems:
            return None

    def _wish(self, cells: Mapping[str, str], shelf: Shelf | None) -> str:
        """Who wants how many eggs of what, and where to, of a row of orders as people say it."""
        fish, to = cells.get("species", ""), cells.get("country", "")
        if shelf:
            population = cells.get("population", "")
            fish = kept_week.fish_name(fish, "", shelf) + (f" ({population})" if population else "")
        wish = f"{cells.get('eggs', '')} {fish}".strip()
        if to:
            wish += f" – {name_of_country(to) if to in countries() else to}"
        name = shown_name(cells.get("addressee", ""), "")
        return named(name, wish) if name else wish

    def _orders_elsewhere(self, shelf: Shelf | None, find: str) -> list[dict[str, str]]:
        """Orders that stand in dropped sheets, or that the ledger owes: number, what it is, and its file."""
        elsewhere = []
        for order in shelf.orders if shelf else ():
            fish = ", ".join(f"{line.eggs} {line.species}" for line in order.lines)
            name = shown_name(order.address.addressee, "")
            rest = ", ".join(filter(None, (name, fish, order.country)))
            file = order.lines[0].row.at.file
            if file != "orders.csv" and find.casefold() in f"{order.order} {rest}".casefold():
                elsewhere.append({"order": order.order, "rest": rest, "file": file})
        return elsewhere

    def _order(self, name: str) -> Order:
        order = self.shelf.order_by_name.get(name)
        if order is None:
            abort(404)
        return order

    def order(self, order: str) -> Response:
        """On to the order's first row, or where one that stands in no table of one's own is listed."""
        row = next((row.row for row in self._rows() if row.cells.get("order") == order), 0)
        return go_to(f"/tables/orders/{row}" if row else f"/tables/orders?find={quote(order)}")

    def paid(self, order: str) -> Response:
        """Writes today into the paid days of every line of an order that has none."""
        cells = {"paid_on": self.worktop.today.isoformat()}
        return self._write_in_order(order, cells, tr("Order {order} is paid.", order=order), only_blank=True)

    def cancel_order(self, order: str) -> Response:
        """Writes today as the day on which each line of an order that still counts was called off."""
        cells = {CANCELLED: self.worktop.today.isoformat()}
        return self._write_in_order(
            order, cells, tr("Order {order} is cancelled.", order=order), only_blank=True
        )

    def region(self, order: str, trouble: str = "", status: int = 200) -> Response:
        """Which region an order goes to, where its country's rules differ inside."""
        from shipping.post.restrictions import regions_needed
        from shipping.tables.country_parts import regions_of

        known = self._order(order)
        needed = regions_needed(self.shelf)
        return self.worktop.page(
            "region.html",
            status,
            order=order,
            address=known.address,
            country=name_of_country(known.country),
            needed=next((need for need in needed if need.order == order), None),
            regions=regions_of(known.country),
            trouble=trouble,
        )

    def region_named(self, order: str) -> Response:
        """Writes the region named into every row of an order."""
        from shipping.tables.country_parts import regions_of

        country, region = self._order(order).country, request.form.get("region", "")
        if region not in regions_of(country):
            return self.region(order, tr("Not written: choose the region from the list."), 422)
        place = f"{country}-{region}"
        done = tr("Order {order} goes to {place}.", order=order, place=place)
        return self._write_in_order(order, {"region": place}, done)

    def _write_in_order(
        self, order: str, cells: Mapping[str, str], done: str, only_blank: bool = False
    ) -> Response:
        """Writes cells into every row of an order, or where blank; one of a dropped sheet is copied first."""
        own = [row for row in self._rows() if row.cells.get("order") == order]
        rows = [row for row in own if not (only_blank and all(row.cells.get(name) for name in cells))]
        if own and not rows:
            return self._written_before("orders", own[0].row)
        if not rows:
            return self._copied_in(order, cells, f"{done} {tr('It stands in your own table now.')}")
        try:
            with self.shelf_state.lock, refusing("Not written: {why}"):
                changes = {row.row: cells for row in rows}
                written, warnings = change_checked_rows(self.shelf_state, "orders", changes, {"order": order})
        except Refused as refused:
            return self.worktop.told_at("/tables/orders", refused.said)
        return self._written(ORDERS, f"{done}{small_print(written)}", rows[0].row, warnings)

    def copy_order(self, order: str) -> Response:
        """The rows of a dropped sheet's order into the breeder's own table, which counts from then on."""
        done = tr("Order {order} stands in your own table now, and can be changed there.", order=order)
        return self._copied_in(order, {}, done)

    def _copied_in(self, order: str, more: Mapping[str, str], done: str) -> Response:
        lines = self._order(order).lines
        if lines[0].row.at.file == "orders.csv":
            abort(404)
        rows = [
            {**{name: text for name, text in zip(ORDER_COLUMNS, row, strict=True) if text}, **more}
            for row in texts_of([line.row for line in lines])
        ]
        try:
            with refusing("Not written: {why}"):
                done += self._keep_payment(rows, lines[0].paid)
                written, warnings = change_tried(
                    self.shelf_state, "orders", lambda path: append_rows(path, rows, ORDER_COLUMNS)
                )
        except Refused as refused:
            return self.worktop.told_at("/tables/orders", refused.said)
        return self._written(ORDERS, f"{done}{small_print(written)}", written.row, warnings)

    def _keep_payment(self, rows: list[dict[str, str]], is_paid: bool) -> str:
        """Lets rows of another sheet count as paid or not in the own table as they did there; what to say."""
        path = self.shelf_state.folder / "orders.csv"
        is_paid = is_paid or any(row.get("paid_on") for row in rows)
        if path.exists() and "paid_on" not in column_names(path):
            if not is_paid:
                raise Refused(
                    tr("Not written: it is not paid, and would count as paid in your own table."), 409
                )
            for row in rows:  # with the column, all other orders of the table would be unpaid
                row.pop("paid_on", None)
        elif is_paid and not any(row.get("paid_on") for row in rows):
            rows[0]["paid_on"] = placed_on = rows[0]["placed_on"]
            return " " + tr(
                "Its sheet keeps no payments, so it counts as paid on the day it was placed, {day}: if it"
                " is not, empty that day.",
                day=day_words(date.fromisoformat(placed_on)),
            )
        return ""

    def paste(self) -> Response:
        """A block of text taken in: its form has an address, to which a browser goes back without asking."""
        text = request.form.get("text", "")
        if len(text) > 20_000:
            return self._form(ORDERS, None, {}, tr("Not read: the text is too long. Paste one order."), 422)
        mark = sha256(text.encode()).hexdigest()[:12]
        self._pasted = {mark: text}
        return go_to(f"/orders/pasted/{mark}")

    def pasted(self, mark: str) -> Response:
        """The text pasted last as a form of an order, for the breeder to correct and write."""
        if (text := self._pasted.get(mark)) is None:
            return go_to("/tables/orders/new")
        try:
            shelf = self.shelf_state.tables().shelf
        except ShelfProblems as broken:
            return self._form(ORDERS, None, {"note": text}, plain_problems(broken), 409)
        mail = read_mail(text, shelf)
        cells = {"order": self._next_order(), **mail.cells}
        return self._form(
            ORDERS, None, cells, "", mail=MailBeside(text, mail.further, mail.puzzling, mail.days)
        )


def _group(row: RowAsTyped, states: Mapping[str, OrderState]) -> str:
    """Among which of `GROUPS` an order is listed."""
    order_state = states.get(row.cells.get("order", ""))
    state = order_state.state if order_state else ""
    if row.cells.get("cancelled_on") and state not in ("to mend", "sent", "arrived", *NOT_COME):
        return "cancelled"
    if row.cells.get("paid_on") == "" and state not in (*HELD, "stopped"):  # there money alone does not help
        state = "not paid"
    return state if state in GROUPS else "ended"


def _rank(row: RowAsTyped, states: Mapping[str, OrderState]) -> tuple[int, bool]:
    """The place of an order in the list: by its group, and in it those first that only want a look."""
    order_state = states.get(row.cells.get("order", ""))
    is_to_look = bool(order_state and order_state.next.address.startswith("/lots"))
    return list(GROUPS).index(_group(row, states)), not is_to_look


def _by_day(
    rows: Sequence[dict[str, Any]], states: Mapping[str, OrderState], find: str
) -> list[tuple[date | None, list[dict[str, Any]]]]:
    """A group's orders that go by day, where they are many and none is sought; all others, in front."""
    days: dict[date | None, list[dict[str, Any]]] = {}
    for row in rows:
        order_state = states.get(row["title"])
        folded = order_state and not order_state.next.address and len(rows) > MOST_OPEN and not find
        days.setdefault(order_state.on if order_state and folded else None, []).append(row)
    return sorted(days.items(), key=lambda one: one[0] or date.min)


#: What is said of an order in one row and holds for its others, where they leave it blank.
_OF_THE_ORDER = ("addressee", "country", "paid_on")


def _with_the_orders_own(rows: Sequence[RowAsTyped]) -> tuple[RowAsTyped, ...]:
    """Rows of orders with what any row of the same order says of buyer, country and day of payment."""
    said: dict[str, dict[str, str]] = {}
    for row in rows:
        for name in _OF_THE_ORDER:
            if row.cells.get("order") and row.cells.get(name):
                said.setdefault(row.cells["order"], {}).setdefault(name, row.cells[name])
    return tuple(replace(row, cells={**row.cells, **_blanks_of(row, said)}) for row in rows)


def _blanks_of(row: RowAsTyped, said: Mapping[str, Mapping[str, str]]) -> dict[str, str]:
    """What other rows of its order say where a row is blank."""
    own = said.get(row.cells.get("order", ""), {})
    return {name: text for name, text in own.items() if not row.cells.get(name)}


# -- where each order stands


_STATES = {"hold": "held", "wait": "waiting", "stop": "stopped"}
#: What holds an order until somebody else has answered; all else the breeder mends alone.
_OTHERS_ANSWER = frozenset({"rules", "region", "service", "order", ""})
#: What neither an answer nor the breeder mends, where it decides of a line that is held for other things too.
_NOBODY_MENDS = (STOPS | SCARCE) - ANSWERED


@dataclass(frozen=True, slots=True)
class OrderState:
    """Where an order stands, in a word of the page; what is in its way or how it goes, and what comes next;
    ``is_vain``: money alone would not let it go, so none is asked for; ``on``: the day on which one
    goes, or from which one that waits may.
    """

    state: str
    next: NextStep
    is_vain: bool = False
    on: date | None = None


def states_of_orders(worktop: Worktop) -> tuple[dict[str, OrderState], bool]:
    """Each order that a kept parcel, the plan of now or else the one kept knows; a line that does not go
    speaks for its order. And whether that plan is still being reckoned, which will know more.
    """
    shelf_state = worktop.shelf_state
    try:
        shelf, kept = shelf_state.readable_tables().shelf, kept_week.kept_parcels_now(shelf_state)
        now = worktop.week_now(default_week(shelf))
    except ShelfProblems:
        return {}, False
    states: dict[str, OrderState] = {}
    unpaid = {order.order for order in shelf.orders if not all(line.paid for line in order.lines)}
    vain = unpaid.intersection(asked_in_vain(now.lines_out, shelf))
    for line in listed_lines(now.lines_out, shelf, frozenset()):
        for step in line.reasons[:1]:
            state = _STATES.get(line.verdict, line.verdict)
            if step.code in NO_SUCH_EGGS:
                state = "stopped"
            elif step.code == "unpaid":
                state = "not paid"
            elif state == "held" and step.code in _NOBODY_MENDS:
                state = "stopped"  # what is asked besides would be answered in vain
            elif state == "held" and CODES[step.code].mend not in _OTHERS_ANSWER:
                state = "to mend"
            if line.order in vain:
                step = step._replace(text=f"{tr(NO_MONEY_YET)} {step.text}")
            states.setdefault(line.order, OrderState(state, step, line.order in vain, line.until))
    for order, order_state in (*_of_kept(kept, shelf), *_of_plan(now.proposed, shelf)):
        states.setdefault(order, order_state)
    return states, now.is_reckoning


def _of_kept(kept: tuple[kept_week.Kept, ...], shelf: Shelf) -> Iterator[tuple[str, OrderState]]:
    """Orders in kept parcels, the newest of an order first; of one cancelled since, what to do with it."""
    for parcel in (kept_parcel.parcel for kept_parcel in reversed(kept)):
        on = parcel.sent_on or parcel.dispatch_on
        day = day_words(on)
        if parcel.is_planned:
            order_state = OrderState("to pack", NextStep(tr("Goes with the plan on {day}.", day=day)), on=on)
        elif parcel.state == "packed":
            order_state = OrderState("to send", NextStep(tr("Packed, goes on {day}.", day=day)), on=on)
        else:
            order_state = OrderState(parcel.state, NextStep(tr("Sent on {day}.", day=day)), on=on)
        gone = {line.order for line in parcel.lines if line_now(line, shelf) is None}
        for order in dict.fromkeys(line.order for line in parcel.lines):
            is_gone = order in gone and not parcel.is_handed_over
            yield order, _of_gone(parcel, shelf) if is_gone else order_state


def _of_gone(parcel: KeptParcel, shelf: Shelf) -> OrderState:
    """What to do with the parcel of an order that was cancelled since, or cannot be read."""
    text, name = kept_week.gone_orders(parcel, shelf), parcel.parcel
    if any(kept_week.is_unread(line, shelf) for line in parcel.lines):
        return OrderState("to mend", NextStep(text, "", "/", tr("Mend it")))
    if parcel.is_planned:
        return OrderState("to mend", NextStep(text, "", f"/parcels/{name}/move", tr("Let its parcel go")))
    return OrderState("to mend", NextStep(text, "", f"/packing?at={name}#h-{name}", tr("Take the eggs out")))


def _of_plan(parcels: Sequence[Mapping[str, Any]], shelf: Shelf) -> Iterator[tuple[str, OrderState]]:
    """Orders in parcels of a plan that is not kept."""
    for parcel in parcels:
        on = date.fromisoformat(parcel["dispatch_on"])
        step = NextStep(tr("Goes with the plan on {day}.", day=day_words(on)))
        order_state = OrderState("planned", step, on=on)
        lines = [line for line in parcel["lines"] if (line["order"], line["line"]) not in shelf.cancelled]
        yield from ((line["order"], order_state) for line in lines)
