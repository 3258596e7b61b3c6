"""The demo week shows what its page says it shows."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date

import pytest

from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from shipping.week.plan_data import LineOut, Parcel, Plan
from shipping.words.units import iso_week, shipped_folder, weekday

DEMO = shipped_folder("demo_orders")
TODAY = date.fromisoformat((DEMO / "today.txt").read_text(encoding="utf-8").strip())


@pytest.fixture(scope="module")
def shelf() -> Shelf:
    reading = read_shelf(DEMO, TODAY)
    assert [str(problem) for problem in reading.problems] == []
    assert reading.shelf is not None
    return reading.shelf


@pytest.fixture(scope="module")
def plan(shelf: Shelf) -> Plan:
    return make_plan(shelf, iso_week(TODAY))


@pytest.fixture(scope="module")
def parcels(plan: Plan) -> Mapping[str, Parcel]:
    return {order: parcel for parcel in plan.parcels for order in parcel.orders}


@pytest.fixture(scope="module")
def out(plan: Plan) -> Mapping[str, LineOut]:
    return {line.order: line for line in plan.lines_out}


def lots_drawn(parcel: Parcel, order: str) -> set[str]:
    return {draw.lot for line in parcel.lines if line.order == order for draw in line.draws}


def test_it_is_one_monday_with_as_many_lots_orders_and_countries_as_its_page_says(shelf: Shelf) -> None:
    assert weekday(TODAY) == "Mon"
    assert len(shelf.lots) == 18
    assert len(shelf.orders) == 36
    assert len({order.country for order in shelf.orders}) == 24


def test_every_buyer_is_invented(shelf: Shelf) -> None:
    assert {order.mail.partition("@")[2] for order in shelf.orders} == {"example.org"}


def test_the_plan_is_proven_best(plan: Plan) -> None:
    assert plan.proof.gap == 0


def test_a_fast_lot_goes_next_day_but_not_abroad(
    parcels: Mapping[str, Parcel], out: Mapping[str, LineOut]
) -> None:
    assert parcels["D02"].service == "courier next day"
    assert "FL-31" in lots_drawn(parcels["D02"], "D02")
    assert {reason.code for reason in out["D03"].reasons} == {"would-hatch"}


@pytest.mark.parametrize(
    ("order", "verdict", "code"),
    [
        ("D07", "stop", "too-young"),
        ("D12", "hold", "too-cold"),
        ("D28", "hold", "too-cold"),
        ("D29", "hold", "overdue"),
        ("D18", "hold", "no-rule"),
        ("D19", "hold", "no-rule"),
        ("D14", "hold", "stale-rule"),
        ("D20", "stop", "closed"),
        ("D21", "stop", "closed"),
        ("D11", "wait", "too-hot"),
        ("D16", "stop", "too-cold"),
        ("D15", "stop", "other-population"),
        ("D22", "hold", "unpaid"),
        ("D26", "hold", "papers"),
        ("D26", "hold", "ask-post"),
        ("D30", "hold", "ask-rule"),
        ("D32", "hold", "not-before"),
    ],
)
def test_an_order_stays_behind_for_the_reason_the_page_gives(
    out: Mapping[str, LineOut], order: str, verdict: str, code: str
) -> None:
    assert out[order].verdict == verdict
    assert code in {reason.code for reason in out[order].reasons}


def test_a_lot_covers_two_of_three_orders_and_the_youngest_waits(
    parcels: Mapping[str, Parcel], out: Mapping[str, LineOut]
) -> None:
    assert lots_drawn(parcels["D04"], "D04") == lots_drawn(parcels["D05"], "D05") == {"SC-07"}
    assert out["D06"].verdict == "wait"


def test_a_holiday_on_8_december_moves_the_last_day_in_italy(parcels: Mapping[str, Parcel]) -> None:
    (holiday,) = parcels["D08"].holidays
    assert (holiday.on, holiday.name) == (date(2026, 12, 8), "Immaculate Conception")
    # Six working days after Monday 30 November are Tuesday 8 December; the holiday makes it Wednesday.
    assert parcels["D08"].dispatch_on == date(2026, 11, 30)
    assert parcels["D08"].arrive.p95 == date(2026, 12, 9)


def test_the_cold_is_bridged_by_a_foam_box_with_a_bottle(shelf: Shelf, parcels: Mapping[str, Parcel]) -> None:
    keep_min = shelf.species["sophiae"].keep_min_c
    assert keep_min is not None
    assert parcels["D13"].low_c < keep_min
    assert [draw.look_first for line in parcels["D13"].lines for draw in line.draws] == [True]
    assert (parcels["D13"].box, parcels["D13"].bottle_ml) == ("foam box", 2200)


def test_populations_are_never_mixed(shelf: Shelf, plan: Plan) -> None:
    for parcel in plan.parcels:
        for line in parcel.lines:
            kept = {
                (shelf.lot_by_name[d.lot].species, shelf.lot_by_name[d.lot].population) for d in line.draws
            }
            assert kept == {(line.species, line.population or "")}


def test_a_line_is_filled_from_two_lots(parcels: Mapping[str, Parcel]) -> None:
    assert lots_drawn(parcels["D09"], "D09") == {"AU-20", "AU-21"}


def test_two_orders_of_one_addressee_share_a_parcel(parcels: Mapping[str, Parcel]) -> None:
    assert parcels["D23"] is parcels["D24"]


def test_the_page_names_only_orders_and_lots_that_are_there(shelf: Shelf) -> None:
    page = (DEMO / "README.md").read_text(encoding="utf-8")
    assert set(re.findall(r"\bD\d\d\b", page)) <= set(shelf.order_by_name)
    assert set(re.findall(r"\b[A-Z]{2}-\d\d\b", page)) <= set(shelf.lot_by_name)
