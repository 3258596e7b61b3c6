"""Oxygen in water, in air and in a sealed tube against the tables."""

from __future__ import annotations

import pytest

from shipping.eggs.oxygen import air_hours, gas_growth, oxygen_in_air, oxygen_in_water, usable_oxygen

#: APHA 1985 (Benson and Krause), fresh water at one atmosphere [mg/L]; as the standard table, from memory.
FRESH = (
    (0, 14.62),
    (5, 12.77),
    (10, 11.29),
    (15, 10.08),
    (18, 9.47),
    (20, 9.09),
    (22, 8.74),
    (24, 8.42),
    (25, 8.26),
    (26, 8.11),
    (28, 7.83),
    (30, 7.56),
    (35, 6.95),
)


@pytest.mark.parametrize(("celsius", "mg_l"), FRESH)
def test_fresh_water_holds_what_the_standard_table_says(celsius: float, mg_l: float) -> None:
    assert oxygen_in_water(celsius) == pytest.approx(mg_l, abs=0.006)


#: The same at 25 C by salinity; the term from memory.
@pytest.mark.parametrize(("salt", "mg_l"), [(0, 8.26), (5, 8.03), (10, 7.81), (20, 7.38), (35, 6.77)])
def test_salt_drives_oxygen_out(salt: float, mg_l: float) -> None:
    assert oxygen_in_water(25, salt) == pytest.approx(mg_l, abs=0.006)


#: Ideal gas, 20.946 % of dry air, saturated with water vapour: calculated [ug/mL].
@pytest.mark.parametrize(("celsius", "ug_ml"), [(15, 278.7), (20, 272.2), (25, 265.4), (30, 258.2)])
def test_moist_air_holds_some_thirty_times_as_much_as_water(celsius: float, ug_ml: float) -> None:
    assert oxygen_in_air(celsius) == pytest.approx(ug_ml, abs=0.15)
    assert 27 < oxygen_in_air(celsius) / oxygen_in_water(celsius) < 35


#: Sealed tubes at 25 C down to 2.5 mg/L, calculated with the medaka rate (Marty, Hinton & Cech 1990: 51.5 ug
#: an egg
#: over 240 h): water mL, air mL, eggs, usable ug, hours at 0.21, hours at 0.42 ug/egg/h.
TUBES = (
    (1.5, 0.5, 10, 101.2, 48.2, 24.1),
    (1.5, 0.5, 20, 101.2, 24.1, 12.0),
    (1.0, 1.0, 20, 190.9, 45.4, 22.7),
    (5, 10, 10, 1880.0, 895.2, 447.6),
    (5, 10, 30, 1880.0, 298.4, 149.2),
    (20, 30, 50, 5668.9, 539.9, 269.9),
)


@pytest.mark.parametrize(("water", "air", "eggs", "usable", "slow", "quick"), TUBES)
def test_a_sealed_tube_lasts_as_long_as_its_oxygen(
    water: float, air: float, eggs: int, usable: float, slow: float, quick: float
) -> None:
    assert usable_oxygen(water, air, 25) == pytest.approx(usable, rel=1e-3)
    assert air_hours(water + air, water, eggs, 25, 0.21) == pytest.approx(slow, rel=2e-3)
    assert air_hours(water + air, water, eggs, 25, 0.42) == pytest.approx(quick, rel=4e-3)


def test_trapped_moist_gas_grows_by_a_third_at_cabin_pressure() -> None:
    # Standard atmosphere at 2,438 m, 75.26 kPa; the cabin limit and the formula from memory.
    assert gas_growth(25) == pytest.approx(1.361, abs=0.001)
    assert gas_growth(25) > 101.325 / 75.26  # dry gas: 1.346
