"""One count of eggs: plan, pick list, why, forecast, offer, page and ledger agree on every lot and day."""

from __future__ import annotations

import re
import shutil
from collections import Counter, defaultdict
from pathlib import Path

import pytest

from shipping.eggs.lot_forecast import lot_forecast
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import eggs_counted
from shipping.ledger.planning_again import shelf_left
from shipping.papers.documents.contents import units_of
from shipping.questions.forecast import outlooks
from shipping.questions.offer import offer
from shipping.questions.why import why
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from shipping.week.plan_data import Plan
from shipping.words.units import iso_week, shipped_folder
from tests.questions.test_one_figure import shelf_of
from tests.worktop.conftest import Desk

#: The demo, and generated weeks in which a lot is alone of its kind, surely good, and in nobody's way.
WITH_DAYS_TO_COMPARE = (0, 4, 1, 3, 6, 7, 8, 9, 11)


@pytest.mark.parametrize(
    "number", [0, 4, *(pytest.param(n, marks=pytest.mark.slow) for n in range(1, 12) if n != 4)]
)
def test_every_answer_counts_the_same_eggs(number: int, tmp_path: Path) -> None:
    tables = tmp_path / "tables"
    tables.mkdir()
    shelf = shelf_of(number, tables)
    if not number:
        shutil.copytree(shipped_folder("demo_orders"), tables, dirs_exist_ok=True)
    plan = make_plan(shelf, iso_week(shelf.today))
    drawn, picked = Counter[str](), Counter[str]()
    for parcel in plan.parcels:
        for unit in units_of(parcel, shelf):
            picked[unit.lot.lot] += unit.eggs
        for line in parcel.lines:
            drawn.update({draw.lot: draw.pack for draw in line.draws})
    for parcel in plan.parcels[:1]:
        assert why(shelf, parcel.orders[0], plan.week).parcel == parcel
    seen = {one.forecast.lot.lot: one for one in outlooks(shelf)}
    told = {lot: one.as_json() for lot, one in seen.items()}
    for use in plan.lots:
        assert (use.drawn, use.drawn) == (picked[use.lot], drawn[use.lot]), use.lot
        assert use.eggs == told[use.lot]["eggs_today"]
        assert use.left == int(str(told[use.lot]["free"])) - use.drawn >= 0, use.lot
    with Ledger.open(tables, shelf.today, create=True) as ledger:
        placed = {order.order: order.placed_on for order in shelf.orders}
        ledger.keep_plan(plan.as_json(), eggs_counted(shelf), placed)
        after = shelf_left(shelf, ledger)
    page = Desk(tables, shelf.today)
    for use in plan.lots:
        assert lot_forecast(after, use.lot).free_on(shelf.today) == use.left, use.lot
        free = _free_on_the_page(page, use.lot)
        assert free == use.left or (free is None and seen[use.lot].doubts), use.lot
    compared = _days_offered_as_forecast_less_drawn(shelf, plan)
    assert compared > 0 or number not in WITH_DAYS_TO_COMPARE


def _free_on_the_page(page: Desk, lot: str) -> int | None:
    """What the page of the lots calls free of one; None where it says that none may go before a look."""
    card = page.get("/lots", at=lot).text.partition(f'id="h-{lot}"')[2]
    said = re.search(r'<b class="count">(\d+)</b> eggs here(.*?)\.(<|$)', card)
    assert said is not None, lot
    if "none may go before a look" in said[2]:
        return None
    if "held for no parcel" in said[2]:
        return int(said[1])
    free = re.search(r"(\d+) (?:of them )?free", said[2])
    assert free or "none free" in said[2], said[0]
    return int(free[1]) if free else 0


def _days_offered_as_forecast_less_drawn(shelf: Shelf, plan: Plan) -> int:
    """Of fish that one lot alone has, surely good, and of which orders in hand take no more than the plan:
    each day's eggs offered are what the forecast calls free that day, less what the plan draws. How many days
    that was.
    """
    lots = defaultdict[tuple[str, str], list[str]](list)
    for lot in shelf.lots:
        lots[lot.species, lot.population.casefold()].append(lot.lot)
    drawn = {use.lot: use.drawn for use in plan.lots}
    found, days = offer(shelf, plan), 0
    more = {(one.species, one.population.casefold()) for one in found.taken if one.all > one.planned}
    for one in found.offers:
        kind = (one.species, one.population.casefold())
        if len(lots[kind]) > 1 or kind in more:
            continue
        (name,) = lots[kind]
        forecast = lot_forecast(shelf, name)
        sure = ("fertile", "eyed", "ready") if forecast.lot.kept_damp else ("eyed", "ready")
        if forecast.stage not in sure:
            continue  # of others only those eggs are offered that show eyes by the day
        for day in one.days:
            assert day.eggs_free == forecast.free_on(day.on) - drawn[name], (kind, day)
            days += 1
    return days
