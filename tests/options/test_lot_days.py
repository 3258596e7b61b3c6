"""A lot over many days at once against the same lot day by day, and its hatching against one journey at a
time.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from shipping.eggs.lot_forecast import lot_forecast
from shipping.options.journey import Curves, bit, bits, lot_day, lot_days
from shipping.options.option import Destination
from shipping.options.option_factory import OptionFactory
from shipping.options.ride_arrays import WeekFactors
from shipping.post.foam_box import Holding
from shipping.tables.reader import read_shelf
from shipping.tables.rows.weather import Weather
from shipping.tables.shelf import Shelf
from shipping.week.objective import dispatch_days, next_week
from shipping.week.second_model import PlainLot
from shipping.words.units import shipped_folder
from tests.eggs.one_trip import hatch_shares, trip_degrees
from tests.post.a_shelf import a_rule, a_species
from tests.timings.weeks import generated_week
from tests.week.a_week import TUBE, a_lot, a_week, ago

WEEK = "2026-W49"
TODAY = date(2026, 11, 30)


@pytest.fixture(scope="module", params=["demo", "generated"])
def shelf(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    folder = shipped_folder("demo_orders")
    if request.param == "generated":
        folder = generated_week(10, 30, 5, tmp_path_factory.mktemp("week") / "shelf")
    found = read_shelf(folder, TODAY).shelf
    assert found is not None
    return found


def days_of(shelf: Shelf) -> tuple[date, ...]:
    return dispatch_days(shelf, WEEK) + dispatch_days(shelf, next_week(WEEK))


def test_many_days_at_once_say_what_each_day_says(shelf: Shelf) -> None:
    days = days_of(shelf)
    for lot in shelf.lots:
        together = lot_days(shelf, lot.lot, days)
        alone = [lot_day(shelf, lot.lot, day) for day in days]
        assert together.free.tolist() == [one.free for one in alone]
        assert together.whole.tolist() == [one.forecast.free_on(one.day) for one in alone]
        assert together.codes.tolist() == [bits(one.reasons) for one in alone]
        assert {together.look_first} == {one.look_first for one in alone}


def test_a_fish_that_is_closed_at_home_goes_on_no_day_however_old_the_row() -> None:
    home = a_rule(3, to="DK", verdict="closed", checked_on="2019-01-01")
    shelf, days = a_week(rules=(a_rule(2), home)), (TODAY, TODAY + timedelta(days=3))
    together = lot_days(shelf, "G1", days).codes.tolist()
    assert together == [bits(lot_day(shelf, "G1", day).reasons) for day in days] == [bit("closed")] * 2


def test_hatching_on_all_legs_at_once_is_that_on_each_leg(shelf: Shelf) -> None:
    days = days_of(shelf)
    factors = WeekFactors(OptionFactory(shelf), days)
    for order in shelf.orders:
        factors.destination(order)
    journeys = factors.journeys
    for lot in shelf.lots:
        together = lot_days(shelf, lot.lot, days)
        species = together.forecast.species
        holds = factors.holdings[lot.eggs % len(factors.holdings)]
        curves = Curves.of(journeys, species, together.kept_at_c, holds)
        due = together.due(curves)[curves.row].reshape(len(journeys.legs), -1)
        for n in range(0, len(journeys.legs), 17):
            leg, alone = journeys.legs[n], lot_day(shelf, lot.lot, journeys.legs[n].day)
            expected = np.ones(leg.days.size)
            if together.forecast.has_dates:
                trip = (leg.trip.low_c, leg.trip.high_c)
                by_day = trip_degrees(*trip, species, lot.kept_at_c, holds, leg.spread_c)
                gathered = by_day[leg.date_days].ravel()
                expected = hatch_shares(alone.clock, together.forecast.x(leg.day), gathered)
            assert due[n, : leg.days.size] == pytest.approx(expected, abs=1e-12)


def test_in_the_cold_each_day_has_rows_of_its_own() -> None:
    """Nothing is gathered on any of them, but damp eggs that are ready by then are due on each."""
    cold = tuple(Weather(to="*", month=month, low_c=-20, high_c=-15) for month in range(1, 13))
    shelf, days = a_week(weather=cold), (TODAY, ago(-1), ago(-2))
    factors = WeekFactors(OptionFactory(shelf), days)
    factors.also_to((Destination("DK"),))
    curves = Curves.of(factors.journeys, shelf.species["gar"], 24.0, Holding(0.0))
    assert curves.day.tolist() == [0, 1, 2]
    assert not curves.gathered.any()


def test_rules_are_asked_again_on_the_day_a_row_begins(shelf: Shelf) -> None:
    days = days_of(shelf)
    factors = WeekFactors(OptionFactory(shelf), days)
    order = shelf.orders[0]
    to, species = factors.destination(order), shelf.species[order.lines[0].species]
    before = factors.rules(to, species, "water", frozenset())
    row = shelf.rules[0].model_copy(
        update={
            "to": to.country,
            "taxon": species.species,
            "medium": None,
            "verdict": "closed",
            "from_": days[2],
            "until": days[4],
        }
    )
    later = WeekFactors(OptionFactory(replace(shelf, rules=(*shelf.rules, row))), days)
    later.destination(order)
    after = later.rules(to, species, "water", frozenset())
    changed = [bool(one != other) for one, other in zip(before.tolist(), after.tolist(), strict=True)]
    assert changed == [days[2] <= day <= days[4] for day in days]


@pytest.mark.parametrize("stage", [None, "fertile", "eyed"])
@pytest.mark.parametrize("send_from", ["eyed", "fertile"])
def test_of_eggs_that_go_all_are_fertile(stage: str | None, send_from: str) -> None:
    """Clear or with eyes they are seen before they go; the share that was counted is of eggs nobody saw."""
    told = {} if stage is None else {"stage": stage, "stage_on": TODAY}
    plain = {"stage": None, "stage_on": None} | told
    alive = []
    for share in (None, 0.7):
        lot = a_lot(**plain, fertile_share=share)
        shelf = a_week(lots=(lot,), settings={"plan": {"send_from": send_from}})
        factory = OptionFactory(shelf)
        leg = factory.leg(shelf.services[0], Destination("DK"), TODAY)
        alive.append(factory.ride(factory.lot_day("G1", TODAY), TUBE, leg).v_per_egg)
    assert alive[0] == alive[1]
    assert alive[0] == pytest.approx(math.exp(-TUBE.loss_handling - TUBE.loss_per_day), abs=1e-3)


@pytest.mark.parametrize("medium", ["water", "peat"])
@pytest.mark.parametrize("send_from", ["eyed", "fertile"])
def test_no_eggs_that_nobody_saw_clear_go_without_a_look(medium: str, send_from: str) -> None:
    species = {"gar": a_species(incubation="either", keep_min_c=10, keep_max_c=27)}
    lot = a_lot(medium=medium, stage="laid")
    shelf = a_week(lots=(lot,), species=species, settings={"plan": {"send_from": send_from}})
    assert lot_day(shelf, "G1", TODAY).look_first


def test_eggs_held_for_a_later_day_are_all_there_on_it() -> None:
    """Counted as gone today they were held as fewer by their day, and another week was offered the rest;
    counted until then as they are, what dies or hatches of the lot in between was taken from them alone.
    """
    shelf = a_week(lots=(a_lot(laid_from=ago(12), laid_to=ago(10)),))
    days = tuple(TODAY + timedelta(days=n) for n in range(4))
    held = replace(shelf, held={"G1": {days[2]: 20}})
    alone, left = (lot_days(one, "G1", days).free.tolist() for one in (shelf, held))
    assert alone[0] > 1.1 * alone[2] > 20
    assert left[2] == alone[2] - 20
    whole = replace(lot_forecast(shelf, "G1"), held=()).shares_left(days)
    kept = [eggs - 20 * share / whole[2] for eggs, share in zip(alone, whole, strict=True)]
    assert left[:2] == pytest.approx(kept[:2], abs=1.0)
    assert left[0] < alone[0] - 22
    assert left[3] == pytest.approx(alone[3] * left[2] / alone[2], abs=1.0)
    assert left == [PlainLot(held, "G1").free(day) for day in days]


def test_what_is_free_before_a_kept_parcel_leaves_it_its_eggs_whatever_dies_till_then() -> None:
    """Of 100 at 3 % a day 81 are left in a week, 40 of them kept: 60 were free, then 32 left for the 40."""
    lot = a_lot(medium="moss", eggs=100, counted_on=TODAY, stage="fertile", keep_back=0)
    species = {"gar": a_species(incubation="damp", hatch_early_d=60, hatch_late_d=90)}
    shelf = a_week(lots=(lot,), species=species, settings={"plan": {"shelf_loss_per_day": "0.03"}})
    day = TODAY + timedelta(days=7)
    held = replace(shelf, held={"G1": {day: 40}})
    free = lot_day(held, "G1", TODAY).free
    assert free == PlainLot(held, "G1").free(TODAY) == math.floor(100 - 40 * math.exp(0.21)) == 50
    drawn = replace(shelf, packed={"G1": {TODAY: free}})
    assert lot_day(drawn, "G1", day).free >= 40


def test_eggs_held_for_a_day_by_which_none_would_be_left_are_held_as_they_are() -> None:
    shelf = a_week(lots=(a_lot(laid_from=ago(12), laid_to=ago(10)),))
    held = replace(shelf, held={"G1": {TODAY + timedelta(days=40): 20}})
    free = lot_day(held, "G1", TODAY).free
    assert free == PlainLot(held, "G1").free(TODAY) == lot_day(shelf, "G1", TODAY).free - 20 > 0


def test_where_eyes_are_looked_for_the_eggs_held_are_of_those_that_show_them() -> None:
    """Of 60 with eyes 30 are held: 30 are left, not 60 of each hundred left."""
    lot = a_lot(laid_from=ago(8), laid_to=ago(6), stage="fertile", stage_on=ago(2))
    shelf = a_week(lots=(lot,))
    free = lot_day(shelf, "G1", TODAY)
    assert 0.2 < free.share_eyed < 0.9
    for taken in ("held", "packed"):
        left = replace(shelf, **{taken: {"G1": {TODAY: 15}}})
        assert lot_day(left, "G1", TODAY).free == PlainLot(left, "G1").free(TODAY) == free.free - 15


def test_nothing_of_a_lot_is_free_on_the_days_its_eggs_bear_no_jolts() -> None:
    lot = a_lot(laid_to=ago(1), stage="fertile")
    shelf = a_week(lots=(lot,), settings={"plan": {"send_from": "fertile", "settle_d": "2"}})
    days = (TODAY, TODAY.replace(month=12, day=1))
    together = lot_days(shelf, "G1", days)
    assert together.free[0] == 0
    assert together.free[1] > 90
    assert together.codes.tolist() == [bits(lot_day(shelf, "G1", day).reasons) for day in days]
    assert [lot_day(shelf, "G1", day).free for day in days] == together.free.tolist()
