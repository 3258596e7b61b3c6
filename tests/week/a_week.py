"""A small invented week for tests: one species, its lots, orders, packings and services; tests change what
they name.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import Order, OrderRow, orders_from_rows
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.weather import Weather
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from shipping.week.plan_data import Plan
from tests.post.a_shelf import TODAY, a_packing, a_price, a_rule, a_service, a_shelf, a_species

#: The ISO week of TODAY, a Monday.
WEEK = "2026-W49"


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def a_lot(name: str = "G1", **cells: Any) -> Lot:
    """Eggs laid eight days ago, eyed today."""
    filled = {
        "lot": name,
        "species": "gar",
        "laid_from": ago(8),
        "laid_to": ago(8),
        "medium": "water",
        "kept_at_c": 24,
        "eggs": 100,
        "counted_on": TODAY,
        "stage": "eyed",
        "stage_on": TODAY,
    }
    return Lot(**(filled | cells))


def a_row(order: str, eggs: int = 20, **cells: Any) -> OrderRow:
    filled = {
        "order": order,
        "placed_on": ago(7),
        "addressee": f"Buyer {order}",
        "delivery_1": f"Gade {order}",
        "postcode": "8000",
        "town": "Aarhus",
        "country": "DK",
        "species": "gar",
        "eggs": eggs,
        "price": "10",
    }
    return OrderRow(**(filled | cells))


def orders(*rows: OrderRow, has_paid_on: bool = False) -> tuple[Order, ...]:
    return orders_from_rows(rows, has_paid_on)


TUBE = a_packing(any_ceiling=0.1, loss_handling=0.03, loss_per_day=0.01, weight_g=18, cost="0.40")
BAG: Packing = a_packing(
    packing="bag",
    kind="breathing bag",
    eggs_max=60,
    hatch_ceiling=0.05,
    loss_handling=0.03,
    loss_per_day=0.01,
    weight_g=265,
    cost="0.60",
)


def a_week(*rows: OrderRow, lots: tuple[Lot, ...] | None = None, **tables: Any) -> Shelf:
    """Next-day letters at home, at 15 to 21 degrees, to buyers who may have what they ordered."""
    filled: dict[str, Any] = {
        "lots": tuple(sorted((a_lot(),) if lots is None else lots, key=lambda lot: lot.lot)),
        "orders": orders(*rows),
        "species": {"gar": a_species(keep_min_c=10, keep_max_c=27)},
        "services": (a_service(early_d=1, usual_d=1, late_d=1, live_eggs="yes"),),
        "postage": (a_price("*", 100, "3"), a_price("*", 2000, "6")),
        "packings": (BAG, TUBE),
        "rules": (a_rule(2),),
        "weather": tuple(Weather(to="*", month=month, low_c=15, high_c=21) for month in range(1, 13)),
    }
    return a_shelf(**(filled | tables))


def plan_of(shelf: Shelf) -> Plan:
    return make_plan(shelf, WEEK)


def going(plan: Plan) -> set[str]:
    """Orders of which a line goes."""
    return {line.order for parcel in plan.parcels for line in parcel.lines}
