"""The model by which a plan is verified beside the rooms that made it: what a lot holds, when it waits."""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from scipy import stats

from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.oxygen import air_hours
from shipping.options.journey import lot_day
from shipping.post.foam_box import Holding
from shipping.tables.reader import read_shelf
from shipping.tables.rows.lots import Look, Lot
from shipping.week.second_model import PlainJourney, PlainLot, PlainRide, _mean_gain, chance_enough
from shipping.words.units import shipped_folder
from tests.post.a_shelf import TODAY, a_packing, a_species
from tests.week.a_week import a_lot, a_row, a_week, ago

DAYS = [TODAY + timedelta(days=n) for n in range(0, 21, 3)]


def test_both_models_count_the_same_eggs_of_every_lot_of_the_demo_week() -> None:
    shelf = read_shelf(shipped_folder("demo_orders"), date(2026, 11, 30)).shelf
    assert shelf is not None
    more = []
    for lot in shelf.lots:
        again = PlainLot(shelf, lot.lot)
        for day in DAYS:
            first = lot_day(shelf, lot.lot, day)
            if not first.reasons:
                more.append(again.free(day) - first.free)
                assert not again.must_wait(day)
    # an egg within a hundredth of an egg is there for the second model alone
    assert set(more) <= {0, 1}
    assert sum(more) <= 0.05 * len(more)


def test_a_lot_has_gathered_what_it_was_kept_at_until_the_day_of_a_look_that_moved_it() -> None:
    """Eight days at 24 C, then three at 18 and four at 20: 14, 8 and 10 above the zero."""
    looks = (
        Look(lot="G1", on=TODAY, kept_at_c=18),
        Look(lot="G1", on=TODAY + timedelta(days=2), stage="eyed"),
        Look(lot="G1", on=TODAY + timedelta(days=3), kept_at_c=20),
    )
    lot = PlainLot(a_week(a_row("A"), looks=looks), "G1")
    by_day = {-1: 7 * 14, 0: 8 * 14, 1: 8 * 14 + 8, 3: 8 * 14 + 3 * 8, 7: 8 * 14 + 3 * 8 + 4 * 10}
    for days, degrees in by_day.items():
        assert lot.gathered(TODAY + timedelta(days=days)).tolist() == [degrees]


def waits(lot: Lot, day: date) -> tuple[bool, str]:
    """Does it wait by the first model, and why by the second?"""
    shelf = a_week(a_row("A"), lots=(lot,))
    return bool(lot_forecast(shelf, lot.lot).doubts(day)), PlainLot(shelf, lot.lot).must_wait(day)


def test_a_lot_is_too_old_where_it_is_by_the_first_model_and_on_no_day_before() -> None:
    lot = a_lot(laid_from=ago(12), laid_to=ago(12), counted_on=ago(3), stage_on=ago(3))
    by_day = [waits(lot, TODAY + timedelta(days=n)) for n in range(40)]
    assert [first for first, _ in by_day] == [bool(why) for _, why in by_day]
    assert by_day[0] == (False, "")
    assert by_day[-1] == (True, "too old")


@pytest.mark.parametrize("kept_at_c", [12, 30])
def test_a_lot_whose_looks_and_clock_disagree_waits_by_both(kept_at_c: float) -> None:
    lot = a_lot(laid_from=ago(14), laid_to=ago(12), kept_at_c=kept_at_c)
    first, why = waits(lot, TODAY)
    assert first == bool(why)


def test_none_goes_on_the_day_on_which_a_look_saw_no_eyes() -> None:
    lot = a_lot(stage="fertile", stage_on=TODAY, counted_on=ago(2))
    shelf = a_week(a_row("A"), lots=(lot,))
    assert (PlainLot(shelf, lot.lot).free(TODAY), lot_day(shelf, lot.lot, TODAY).free) == (0, 0)
    later = TODAY + timedelta(days=2)
    assert PlainLot(shelf, lot.lot).free(later) == lot_day(shelf, lot.lot, later).free > 0


@pytest.mark.parametrize("celsius", [5.0, 15.0, 25.0, 30.0])
def test_a_tube_holds_air_for_as_many_hours_by_both(celsius: float) -> None:
    """10 ml, 4 of them water, and 30 eggs that use 0.21 ug an hour at 25 C; ten degrees more, twice that."""
    species = a_species(o2_basis="published", o2_ug_egg_h=0.21)
    ride = PlainRide(
        lot=cast(PlainLot, SimpleNamespace(species=species, lot=a_lot(salt_g_l=2))),
        packing=a_packing(volume_ml=10, water_ml=4),
        journey=cast(
            PlainJourney, SimpleNamespace(trip=SimpleNamespace(hottest=SimpleNamespace(high_c=celsius)))
        ),
        holds=Holding(),
    )
    assert ride.hours_of_air(30) == pytest.approx(air_hours(10, 4, 30, celsius, 0.21, 2), rel=1e-9)


@pytest.mark.parametrize("least", [1e-12, 1e-9, 1e-3, 1.0 - 1e-9])
def test_the_sum_of_two_lots_is_that_of_scipy_also_where_hardly_an_egg_can_live(least: float) -> None:
    """Against scipy's Beta and binomial distributions, both Betas at one quantile, as the model says."""
    u = (np.arange(4000) + 0.5) / 4000
    alive, outcomes = np.array([least, 0.9]), np.array([0.3, 0.7])
    share = np.clip(stats.beta.ppf(u, 40 * alive[:, None], 40 * (1 - alive[:, None])), 1e-12, 1 - 1e-12)
    some = np.arange(21)[:, None, None]
    enough = stats.binom.pmf(some, 20, share) * stats.binom.sf(19 - some, 11, share)
    journey, packing = SimpleNamespace(outcomes=outcomes), SimpleNamespace(kappa=40.0)
    ride = cast(PlainRide, SimpleNamespace(alive=alive, journey=journey, packing=packing))
    expected = float(outcomes @ enough.sum(axis=0).mean(axis=1))
    assert chance_enough([(20, ride), (11, ride)], 20) == pytest.approx(expected, abs=1e-3)


def test_the_last_recount_is_what_the_second_model_counts_from_too() -> None:
    looks = (Look(lot="G1", on=ago(2), alive=60), Look(lot="G1", on=ago(1), alive=50))
    shelf = a_week(a_row("A"), lots=(a_lot(counted_on=ago(4)),), looks=looks)
    again = PlainLot(shelf, "G1").free(TODAY)
    assert again - lot_forecast(shelf, "G1").free_on(TODAY) in (0, 1)
    assert 40 < again <= 50


def test_days_past_the_warmest_a_fish_is_kept_at_gain_what_that_does() -> None:
    """From 10 to 28 C a degree gains one more; 26 to 30 C gain 17 on the first half, then 18."""
    fish = a_species(zero_c=10, keep_max_c=28)
    low, high = np.array([26.0, 28.0, 30.0, 8.0, 5.0]), np.array([30.0, 28.5, 31.0, 12.0, 9.0])
    assert _mean_gain(low, high, fish).tolist() == pytest.approx([17.5, 18, 18, 0.5, 0])
