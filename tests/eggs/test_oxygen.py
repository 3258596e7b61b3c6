"""Oxygen in a tube: what makes it last and what does not."""

from __future__ import annotations

import pytest

from shipping.eggs.oxygen import air_hours, oxygen_in_water, oxygen_use, usable_oxygen


def test_ten_degrees_warmer_the_eggs_use_twice_as_much() -> None:
    assert oxygen_use(20, 0.21, 35) == pytest.approx(2 * oxygen_use(20, 0.21, 25))
    assert oxygen_use(20, 0.21, 25) == pytest.approx(4.2)


def test_headspace_and_not_water_is_the_store() -> None:
    assert air_hours(15, 5, 20, 22, 0.21) > 5 * air_hours(15, 15, 20, 22, 0.21)


def test_twice_the_eggs_last_half_as_long() -> None:
    assert air_hours(15, 5, 20, 22, 0.21) == pytest.approx(air_hours(15, 5, 10, 22, 0.21) / 2)


def test_salt_water_holds_less() -> None:
    assert usable_oxygen(10, 0, 25, 35) < usable_oxygen(10, 0, 25, 0)


def test_a_tube_fuller_than_it_is_large_holds_no_air() -> None:
    assert air_hours(5, 8, 10, 25, 0.21) == pytest.approx(usable_oxygen(8, 0, 25) / oxygen_use(10, 0.21, 25))


def test_what_is_below_the_floor_is_no_use_to_an_egg() -> None:
    # of 8 mg/L in water two and a half are left when a large share of embryos dies
    assert usable_oxygen(10, 0, 25) == pytest.approx(10 * (oxygen_in_water(25) - 2.5))
