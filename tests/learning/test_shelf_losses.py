"""What lots lose on the shelf, from dead eggs counted in looks."""

from __future__ import annotations

from datetime import date

import pytest

from shipping.learning.shelf_losses import Removed, fitted_shelf_loss, removed
from shipping.tables.rows.lots import Look
from tests.ledger.invented import lot, shelf


def test_dead_eggs_are_set_against_the_egg_days_they_came_from() -> None:
    looks = (
        Look(lot="L1", on=date(2026, 11, 18), removed=10),
        Look(lot="L1", on=date(2026, 11, 20), stage="eyed"),
        Look(lot="L1", on=date(2026, 11, 22), removed=0),
    )
    assert removed(shelf(lots=(lot(),), looks=looks)) == Removed(10, 4 * 100 + 2 * 90, 2)


def test_a_lot_of_which_none_is_left_has_no_egg_days() -> None:
    looks = (
        Look(lot="L1", on=date(2026, 11, 18), removed=0, hatched=101),  # one fry more than eggs were counted
        Look(lot="L1", on=date(2026, 11, 22), removed=0),
    )
    assert removed(shelf(lots=(lot(),), looks=looks)) == Removed(0, 4 * 100, 2)


def test_the_setting_stands_where_nobody_counted() -> None:
    assert fitted_shelf_loss(removed(shelf(lots=(lot(),))), 0.01).value == 0.01


@pytest.mark.parametrize(("egg_days", "near"), [(500, 0.0137), (500_000, 0.0499)])
def test_a_few_egg_days_move_the_loss_a_little_and_many_a_lot(egg_days: int, near: float) -> None:
    """Worked by hand: (8 + 25/5) / (800 + 500/5) with 25 dead of 500 egg-days; truth 0.05 a day."""
    loss = fitted_shelf_loss(Removed(egg_days // 20, egg_days, 3), 0.01)
    assert loss.value == pytest.approx(near, abs=0.0008)


def test_one_fungused_lot_does_not_double_the_loss() -> None:
    assert fitted_shelf_loss(Removed(30, 700, 1), 0.01).value < 0.02


def test_the_interval_of_the_loss_is_that_of_its_gamma() -> None:
    """8 deaths of the setting's 800 egg-days, and 100 clumps in 9,200 more: a gamma of 108 over 10,000."""
    loss = fitted_shelf_loss(Removed(500, 46_000, 9), 0.01)
    assert (loss.low, loss.high) == pytest.approx((0.00916, 0.01257), abs=0.00005)
