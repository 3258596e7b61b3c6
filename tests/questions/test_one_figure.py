"""One figure in plan, answers and margin: what one says of a draw, the others say to the last digit."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from shipping.options.option_factory import OptionFactory
from shipping.questions.can_it_ship import ask
from shipping.questions.margin import margin_of_route
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from shipping.week.plan_data import Draw, Parcel, Plan, PlannedLine
from shipping.words.units import iso_week, rounded, shipped_folder
from tests.reference.letter_shelves import write_shelf


def whole_draws(plan: Plan) -> Iterator[tuple[Parcel, PlannedLine, Draw]]:
    """Lines that one lot fills with a margin."""
    for parcel in plan.parcels:
        for line in parcel.lines:
            if len(line.draws) == 1:
                yield parcel, line, line.draws[0]


def shelf_of(number: int, folder: Path) -> Shelf:
    demo = read_shelf(shipped_folder("demo_orders"), date(2026, 11, 30)).shelf
    if number:
        demo = read_shelf(folder, write_shelf(folder, number)).shelf
    assert demo is not None
    return demo


#: The demo, and generated weeks of which one has a disruption.
@pytest.mark.parametrize("number", [0, 1, 5, 9])
def test_plan_answer_and_margin_give_one_figure(number: int, tmp_path: Path) -> None:
    shelf = shelf_of(number, tmp_path)
    plan, factory = make_plan(shelf, iso_week(shelf.today)), OptionFactory(shelf)
    checked = 0
    for parcel, line, draw in list(whole_draws(plan))[:: 1 if number else 3]:
        order = shelf.order_by_name[line.order]
        if order.line(line.line).overpack != "usual":
            continue
        there = factory.destination(order)
        reply = ask(shelf, draw.lot, there, on=parcel.dispatch_on, service=parcel.service, eggs=line.ordered)
        (one,) = (asked for asked in reply.options if asked.option.ride.packing.packing == draw.packing)
        said = one.as_json()
        assert (said["pack"], said["p_enough"]) == (draw.pack, rounded(line.p_enough))
        for name in ("h_per_egg", "h_any", "v_per_egg"):
            assert said[name] == draw.as_json()[name], (parcel.parcel, name)
        assert said["arrive"] == parcel.arrive.as_json()
        assert said["this_week"] == parcel.as_json()["this_week"]
        if there.town:
            continue
        to = f"{there.country}-{there.subdivision}" if there.subdivision else there.country
        margin = margin_of_route(
            shelf, line.ordered, draw.packing, parcel.service, to, parcel.dispatch_on, True, lot=draw.lot
        )
        assert (margin.pack, rounded(margin.p_enough)) == (draw.pack, rounded(line.p_enough))
        assert rounded(margin.expected_alive) == rounded(line.expected_alive)
        checked += 1
    assert checked
