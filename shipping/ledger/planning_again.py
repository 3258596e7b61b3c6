"""What a new plan must know of the ledger: a shelf and what stands in, the shelf as it is left out."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from shipping.ledger.kept import KeptParcel, LineKey
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import eggs_counted, name_now, packed_between_counts
from shipping.ledger.lots_gone import lots_gone
from shipping.ledger.order_identity import order_questions
from shipping.tables.learned_values import applied
from shipping.tables.rows.orders import Order
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import LineOut, Plan
from shipping.words.reasons import Reason, Verdict


def shelf_left(shelf: Shelf, ledger: Ledger | None, week: str = "") -> Shelf:
    """The shelf for planning a week: rates applied, without eggs packed or held and lines already in parcels.

    What is only planned for that very ``week`` is free again, since the new plan replaces it. Held eggs count
    as packed today, and so do all of a lot that may be one sold under another name. An order whose number
    meant another order is left out until that is answered. Without a ledger only the rates are applied.
    """
    known = applied(shelf)
    if ledger is None:
        return known
    ledger.check_newest()
    counted = eggs_counted(shelf)
    packed = ledger.packed_by_lot(counted)
    for lot, eggs in ledger.held_by_lot(without_week=week).items():
        days = packed.setdefault(name_now(lot, counted), {})
        days[shelf.today] = days.get(shelf.today, 0) + eggs
    left = ledger.eggs_left(counted)
    for gone in lots_gone(ledger, shelf, counted):
        for alike in gone.alike:
            days = packed.setdefault(alike.lot, {})
            days[shelf.today] = days.get(shelf.today, 0) + left[alike.lot]
    asked = {question.order for question in order_questions(known.orders, ledger.orders())}
    answered = [order for order in known.orders if order.order not in asked]
    orders = orders_left(answered, ledger.parcels(), week)
    made: dict[date, int] = {}
    for parcel in ledger.parcels():
        if not parcel.is_planned or parcel.week != week:
            day = parcel.sent_on or parcel.dispatch_on
            made[day] = made.get(day, 0) + 1
    between = packed_between_counts(ledger.packings(counted), counted)
    names = sorted(shelf.packed.keys() | packed.keys())  # the ledger goes before what the shelf was told
    packed = {lot: dict(packed.get(lot, shelf.packed.get(lot, {}))) for lot in names}
    return replace(known, packed=packed, packed_between=between, orders=orders, parcels_made=made)


def orders_left(orders: Iterable[Order], parcels: Iterable[KeptParcel], week: str) -> tuple[Order, ...]:
    """The orders without the lines that are in a parcel; lines keep their numbers."""
    taken: set[LineKey] = set()
    for parcel in parcels:
        if not (parcel.is_planned and parcel.week == week):
            taken |= parcel.line_keys
    lines = ((order, tuple(line for line in order.lines if line.key not in taken)) for order in orders)
    return tuple(replace(order, lines=left) for order, left in lines if left)


def with_free_names(plan: Plan, parcels: Iterable[KeptParcel], numbers: Iterable[str]) -> Plan:
    """The plan with the names its week's ledger knows: a parcel of the very same lines keeps its name, others
    get numbers above any that ``numbers`` says was ever used.

    So a name on a slip is the same parcel in the ledger, packed or not. Without any nothing changes.
    """
    of_this_week = re.compile(rf"{re.escape(plan.week)}-(\d+)").fullmatch
    used = [int(match[1]) for match in map(of_this_week, numbers) if match]
    if not used:
        return plan
    planned = (parcel for parcel in parcels if parcel.week == plan.week and parcel.is_planned)
    names = {parcel.line_keys: parcel.parcel for parcel in planned}
    free = itertools.count(max(used) + 1)
    renamed = []
    for parcel in plan.parcels:
        lines = frozenset((line.order, line.line) for line in parcel.lines)
        renamed.append(replace(parcel, parcel=names.get(lines) or f"{plan.week}-{next(free):02d}"))
    return replace(plan, parcels=tuple(renamed))


def with_held_orders(left: Shelf, shelf: Shelf, plan: Plan) -> Shelf:
    """The shelf left for planning, with the orders that the plan holds only for their number put back."""
    held = {line.order for line in plan.lines_out} - left.order_by_name.keys()
    orders = (*left.orders, *(shelf.order_by_name[name] for name in held))
    return replace(left, orders=tuple(sorted(orders, key=lambda order: order.order))) if held else left


def planned_again(plan: Plan, shelf: Shelf, ledger: Ledger | None) -> Plan:
    """The plan as the ledger lets it be kept: free names, and orders on hold whose number meant another one.

    ``shelf`` has all orders, as the tables have them.
    """
    if ledger is None:
        return plan
    named = with_free_names(plan, ledger.parcels(), ledger.numbers())
    held = [
        LineOut(line.order, line.number, Verdict.HOLD, None, (reason,))
        for question in order_questions(shelf.orders, ledger.orders())
        for reason in (Reason("same-number", question.sentence, question.facts, "ledger"),)
        for line in shelf.order_by_name[question.order].lines
    ]
    return replace(named, lines_out=(*held, *named.lines_out))
