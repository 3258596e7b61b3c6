"""What a new plan must know of the ledger: a shelf and what stands in, the shelf as it is left out; planning
is week's.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from shipping.ledger.kept import KeptParcel
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import eggs_counted, name_now
from shipping.tables.learned_values import applied
from shipping.tables.rows.orders import Order
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Plan


def shelf_left(shelf: Shelf, ledger: Ledger | None, week: str = "") -> Shelf:
    """The shelf for planning a week: rates applied, packed and held eggs gone, and lines already in parcels
    left out.

    What is only planned for that very ``week`` is free again, since the new plan replaces it. Held eggs count
    as packed today. Without a ledger only the rates are applied.
    """
    known = applied(shelf)
    if ledger is None:
        return known
    counted = eggs_counted(shelf)
    packed = ledger.packed_by_lot(counted)
    for lot, eggs in ledger.held_by_lot(without_week=week).items():
        days = packed.setdefault(name_now(lot, counted), {})
        days[shelf.today] = days.get(shelf.today, 0) + eggs
    orders = orders_left(known.orders, ledger.parcels(), week)
    made: dict[date, int] = {}
    for parcel in ledger.parcels():
        if parcel.state != "planned" or parcel.week != week:
            day = parcel.sent_on or parcel.dispatch_on
            made[day] = made.get(day, 0) + 1
    return replace(known, packed=_merged(shelf.packed, packed), orders=orders, parcels_made=made)


def orders_left(orders: Iterable[Order], parcels: Iterable[KeptParcel], week: str) -> tuple[Order, ...]:
    """The orders without the lines that are in a parcel; lines keep their numbers, and empty orders are left
    out.
    """
    taken = {
        line.key
        for parcel in parcels
        if not (parcel.state == "planned" and parcel.week == week)
        for line in parcel.lines
    }
    left = (
        replace(order, lines=tuple(line for line in order.lines if line.key not in taken)) for order in orders
    )
    return tuple(order for order in left if order.lines)


def _merged(
    ours: Mapping[str, Mapping[date, int]], theirs: Mapping[str, Mapping[date, int]]
) -> dict[str, dict[date, int]]:
    """The eggs packed by lot and day; what the ledger says takes the place of what the shelf was told
    before.
    """
    return {lot: dict(theirs.get(lot, ours.get(lot, {}))) for lot in sorted(ours.keys() | theirs.keys())}


def with_free_names(plan: Plan, parcels: Iterable[KeptParcel]) -> Plan:
    """The plan with the names its week's ledger knows: a parcel of the very same lines keeps its name, others
    get new ones.

    So a name on a slip is the same parcel in the ledger, packed or not. Without kept parcels nothing changes.
    """
    of_week = [parcel for parcel in parcels if parcel.week == plan.week]
    if not of_week:
        return plan
    names = {frozenset(parcel.line_keys): parcel.parcel for parcel in of_week if parcel.state == "planned"}
    numbers = [
        int(found[1])
        for parcel in of_week
        if (found := re.fullmatch(rf"{re.escape(plan.week)}-(\d+)", parcel.parcel))
    ]
    free = itertools.count(max(numbers, default=0) + 1)
    renamed = []
    for parcel in plan.parcels:
        lines = frozenset((line.order, line.line) for line in parcel.lines)
        renamed.append(replace(parcel, parcel=names.get(lines) or f"{plan.week}-{next(free):02d}"))
    return replace(plan, parcels=tuple(renamed))
