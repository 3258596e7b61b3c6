"""A draw says the same of its eggs whether it was planned or counted."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from shipping.eggs.lot_forecast import lot_forecast
from shipping.options.option import Destination
from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.week.draws import WET_ON_ARRIVAL, draw_of, with_one_bottle
from shipping.week.plan_data import Draw
from shipping.words.reasons import Note
from shipping.words.units import shipped_folder
from tests.post.a_shelf import a_packing, a_service, a_species
from tests.week.a_week import a_lot, a_row, a_week, plan_of

TODAY = date(2026, 11, 30)


def test_a_unit_nobody_looked_into_may_hold_an_infertile_egg_however_it_was_packed() -> None:
    shelf = read_shelf(shipped_folder("demo_orders"), TODAY).shelf
    assert shelf is not None
    factory = OptionFactory(shelf)
    unseen = [lot.lot for lot in shelf.lots if factory.lot_day(lot.lot, TODAY).look_first]
    name = next(lot for lot in unseen if not factory.lot_day(lot, TODAY).forecast.known_fertile)
    lot_day = factory.lot_day(name, TODAY)
    packing = next(one for one in shelf.packings if lot_day.forecast.lot.medium in one.media)
    leg = factory.leg(factory.services(("DE", ""))[0], Destination("DE"), TODAY)
    ride = factory.ride(lot_day, packing, leg)
    fertile = shelf.settings.plan.fertile_share
    for units, each in ((2, 10), (4, 5)):
        counted = draw_of(ride, 20, shelf, units)
        assert (counted.units, counted.unit_eggs) == (units, (each,) * units)
        assert counted.unfit_chance == pytest.approx(1 - fertile**each)


def test_a_parcel_of_several_lots_has_one_bottle_no_warmer_than_the_coolest_of_them_is_kept() -> None:
    warm, cool, air = Note("bottle", {"start": 24}), Note("bottle", {"start": 21}), Note("air", {})
    assert with_one_bottle((warm, air, cool)) == (air, cool)
    assert with_one_bottle((cool, air, warm)) == (cool, air)
    assert with_one_bottle((air,)) == (air,)


def damp_draw(**lot: object) -> Draw:
    species = {"gar": a_species(incubation="damp", keep_min_c=10, keep_max_c=27)}
    kept = a_lot(**{"medium": "peat", "stage": "fertile", **lot})
    packing = a_packing(packing="damp bag", kind="damp bag", media="peat", weight_g=20)
    plan = plan_of(a_week(a_row("A"), lots=(kept,), species=species, packings=(packing,)))
    return plan.parcels[0].lines[0].draws[0]


def test_wetting_never_begins_before_the_first_parcel_can_be_there() -> None:
    draw = damp_draw(wet_from=TODAY, wet_until=TODAY + timedelta(days=60))
    assert draw.wet is not None
    assert draw.wet.begin == TODAY + timedelta(days=1)  # posted on a Monday, there on Tuesday
    assert draw.wet.until == TODAY + timedelta(days=60)


def test_that_eggs_may_rest_is_said_only_where_the_breeder_gave_no_day_to_wet_them() -> None:
    given = damp_draw(wet_from=TODAY, wet_until=TODAY + timedelta(days=60))
    assert ["resting" in [note.code for note in draw.cautions] for draw in (given, damp_draw())] == [
        False,
        True,
    ]


def test_the_bench_is_told_where_eggs_may_arrive_after_their_last_day_to_wet() -> None:
    for until, is_told in ((0, True), (1, True), (2, False)):  # there on the day after TODAY
        draw = damp_draw(wet_from=TODAY - timedelta(days=9), wet_until=TODAY + timedelta(days=until))
        assert (WET_ON_ARRIVAL in [note.code for note in draw.cautions]) is is_told


def test_the_share_with_eyes_on_arrival_is_that_of_the_usual_day() -> None:
    species = {"gar": a_species(incubation="damp", keep_min_c=10, keep_max_c=27)}
    packing = a_packing(packing="damp bag", kind="damp bag", media="peat", weight_g=20)
    slow = a_service(early_d=1, usual_d=3, late_d=9, live_eggs="yes")
    lots = (a_lot(medium="peat", stage="fertile"),)
    shelf = a_week(a_row("A"), lots=lots, species=species, packings=(packing,), services=(slow,))
    (parcel,) = plan_of(shelf).parcels
    eyed = [
        lot_forecast(shelf, "G1").share_eyed(day) for day in (parcel.arrive.p50, parcel.arrive.p95) if day
    ]
    assert parcel.lines[0].draws[0].eyed_on_arrival == pytest.approx(eyed[0])
    assert eyed[0] < eyed[1] - 0.05
