"""One count of eggs: plan, pick list, why, forecast and ledger say the same of a lot for the same day."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from shipping.eggs.lot_forecast import lot_forecast
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import eggs_counted
from shipping.ledger.planning_again import shelf_left
from shipping.papers.documents.contents import units_of
from shipping.questions.forecast import outlooks
from shipping.questions.why import why
from shipping.week.plan import make_plan
from shipping.words.units import iso_week
from tests.questions.test_one_figure import shelf_of


@pytest.mark.parametrize(
    "number", [0, 4, *(pytest.param(n, marks=pytest.mark.slow) for n in range(1, 12) if n != 4)]
)
def test_every_answer_counts_the_same_eggs(number: int, tmp_path: Path) -> None:
    tables = tmp_path / "tables"
    tables.mkdir()
    shelf = shelf_of(number, tables)
    plan = make_plan(shelf, iso_week(shelf.today))
    drawn, picked = Counter[str](), Counter[str]()
    for parcel in plan.parcels:
        for unit in units_of(parcel, shelf):
            picked[unit.lot.lot] += unit.eggs
        for line in parcel.lines:
            drawn.update({draw.lot: draw.pack for draw in line.draws})
    for parcel in plan.parcels[:1]:
        assert why(shelf, parcel.orders[0], plan.week).parcel == parcel
    told = {one.forecast.lot.lot: one.as_json() for one in outlooks(shelf)}
    for use in plan.lots:
        assert (use.drawn, use.drawn) == (picked[use.lot], drawn[use.lot]), use.lot
        assert use.eggs == told[use.lot]["eggs_today"]
        assert use.left == int(str(told[use.lot]["free"])) - use.drawn >= 0, use.lot
    with Ledger.open(tmp_path, shelf.today, create=True) as ledger:
        placed = {order.order: order.placed_on for order in shelf.orders}
        ledger.keep_plan(plan.as_json(), eggs_counted(shelf), placed)
        after = shelf_left(shelf, ledger)
    for use in plan.lots:
        assert lot_forecast(after, use.lot).free_on(shelf.today) == use.left, use.lot
