"""Oxygen in a sealed tube: water, headspace, salt, warmth and eggs in, hours of air out."""

from __future__ import annotations

import math

#: Usable until dissolved oxygen falls to this [mg/L]: a large share of salmonid embryos survives it.
FLOOR_MG_L = 2.5
#: The rate is given at this temperature [C]; it doubles every 10 K.
RATE_C = 25.0


def oxygen_in_water(celsius: float, salt_g_l: float = 0.0) -> float:
    """Dissolved oxygen of air-saturated water at one atmosphere [mg/L]; valid 0-40 C, 0-40 g/L.

    References
    ----------
    APHA 1985, after Benson and Krause; the salinity term from memory.
    """
    kelvin = celsius + 273.15
    log_c = (
        -139.34411
        + 1.575701e5 / kelvin
        - 6.642308e7 / kelvin**2
        + 1.243800e10 / kelvin**3
        - 8.621949e11 / kelvin**4
    )
    salt = salt_g_l * (0.017674 - 10.754 / kelvin + 2140.7 / kelvin**2)
    return math.exp(log_c - salt)


def oxygen_in_air(celsius: float) -> float:
    """Oxygen in water-saturated air at one atmosphere [ug/mL]: ideal gas, 20.946 %."""
    kelvin = celsius + 273.15
    vapour_atm = math.exp(11.8571 - 3840.70 / kelvin - 216961 / kelvin**2)
    return (1.0 - vapour_atm) * 0.20946 * 101325 / (8.314462618 * kelvin) * 31.998


def usable_oxygen(water_ml: float, air_ml: float, celsius: float, salt_g_l: float = 0.0) -> float:
    """Oxygen the eggs can use before the water falls to `FLOOR_MG_L` [ug], water and headspace in balance."""
    saturation = oxygen_in_water(celsius, salt_g_l)
    store = water_ml * saturation + air_ml * oxygen_in_air(celsius)
    return max(0.0, store * (1.0 - FLOOR_MG_L / saturation))


def oxygen_use(eggs: int, rate_ug_egg_h: float, celsius: float) -> float:
    """What the eggs use [ug/h]; the rate at 25 C, Q10 = 2."""
    return eggs * rate_ug_egg_h * math.exp2((celsius - RATE_C) / 10.0)


def air_hours(
    volume_ml: float, water_ml: float, eggs: int, celsius: float, rate_ug_egg_h: float, salt_g_l: float = 0.0
) -> float:
    """Hours until a sealed tube's oxygen is used down to the floor [h]."""
    store = usable_oxygen(water_ml, max(0.0, volume_ml - water_ml), celsius, salt_g_l)
    return store / oxygen_use(eggs, rate_ug_egg_h, celsius)


#: The least pressure in the hold of an aeroplane [kPa].
CABIN_KPA = 75.26


def gas_growth(celsius: float) -> float:
    """How much a bubble of moist gas grows from sea level to cabin pressure: about 1.36 at 25 C.

    References
    ----------
    Standard atmosphere at 2,438 m, 75.26 kPa; the formula and the cabin limit from memory.
    """
    kelvin = celsius + 273.15
    vapour = math.exp(11.8571 - 3840.70 / kelvin - 216961 / kelvin**2) * 101.325
    return (101.325 - vapour) / (CABIN_KPA - vapour)
