"""What lots lose on the shelf, from dead eggs counted in looks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from shipping.learning.losses import DeadEggs, dead_eggs, fitted_shelf_loss
from shipping.tables.rows.lots import Look
from tests.ledger.invented import lot, shelf


def test_dead_eggs_are_set_against_the_egg_days_they_came_from() -> None:
    looks = (
        Look(lot="L1", on=date(2026, 11, 18), removed=10),
        Look(lot="L1", on=date(2026, 11, 20), stage="eyed"),
        Look(lot="L1", on=date(2026, 11, 22), removed=0),
    )
    assert dead_eggs(shelf(lots=(lot(),), looks=looks)) == DeadEggs(10, 4 * 100 + 2 * 90, 2)


def test_a_look_on_the_day_of_the_count_says_nothing_of_the_days_before() -> None:
    looks = (
        Look(lot="L1", on=date(2026, 11, 14), removed=5),
        Look(lot="L1", on=date(2026, 11, 18), removed=3),
    )
    assert dead_eggs(shelf(lots=(lot(),), looks=looks)) == DeadEggs(3, 4 * 100, 1)


def test_eggs_packed_by_a_look_are_no_longer_there_and_a_recount_tells_how_many_are() -> None:
    """100 counted on the 14th: 30 packed that day and 20 on the day of the first look, which are still there
    in the morning; on the 22nd 40 are counted, and 10 packed.
    """
    looks = (
        Look(lot="L1", on=date(2026, 11, 18), removed=0),
        Look(lot="L1", on=date(2026, 11, 20), removed=4),
        Look(lot="L1", on=date(2026, 11, 22), alive=40),
        Look(lot="L1", on=date(2026, 11, 25), removed=1),
        Look(lot="L1", on=date(2026, 11, 26), removed=0),
    )
    packed = {"L1": {date(2026, 11, 14): 30, date(2026, 11, 18): 20, date(2026, 11, 22): 10}}
    found = dead_eggs(replace(shelf(lots=(lot(),), looks=looks), packed=packed))
    assert found == DeadEggs(5, 4 * 100 + 2 * 70 + 3 * 40 + 1 * 29, 4)


def test_the_loss_rests_on_the_looks_that_counted() -> None:
    assert fitted_shelf_loss(DeadEggs(30, 700, 4), 0.01).n == 4


def test_a_lot_of_which_none_is_left_has_no_egg_days() -> None:
    looks = (
        Look(lot="L1", on=date(2026, 11, 18), removed=0, hatched=101),  # one fry more than eggs were counted
        Look(lot="L1", on=date(2026, 11, 22), removed=0),
    )
    assert dead_eggs(shelf(lots=(lot(),), looks=looks)) == DeadEggs(0, 4 * 100, 2)


def test_the_setting_stands_where_nobody_counted() -> None:
    assert fitted_shelf_loss(dead_eggs(shelf(lots=(lot(),))), 0.01).value == 0.01


@pytest.mark.parametrize(("egg_days", "near"), [(500, 0.0137), (500_000, 0.0499)])
def test_a_few_egg_days_move_the_loss_a_little_and_many_a_lot(egg_days: int, near: float) -> None:
    """Worked by hand: (8 + 25/5) / (800 + 500/5) with 25 dead of 500 egg-days; truth 0.05 a day."""
    loss = fitted_shelf_loss(DeadEggs(egg_days // 20, egg_days, 3), 0.01)
    assert loss.value == pytest.approx(near, abs=0.0008)


def test_one_fungused_lot_does_not_double_the_loss() -> None:
    assert fitted_shelf_loss(DeadEggs(30, 700, 1), 0.01).value < 0.02


def test_the_interval_of_the_loss_is_that_of_its_gamma() -> None:
    """8 deaths of the setting's 800 egg-days, and 100 clumps in 9,200 more: a gamma of 108 over 10,000."""
    loss = fitted_shelf_loss(DeadEggs(500, 46_000, 9), 0.01)
    assert (loss.low, loss.high) == pytest.approx((0.00916, 0.01257), abs=0.00005)
