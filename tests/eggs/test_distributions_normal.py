"""The normal distribution's function by our table against scipy's, which only tests load here."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from shipping.eggs.distributions import phi, phi_falling
from tests.every_case import every


def test_the_table_is_good_to_thirteen_places_and_exact_far_out() -> None:
    z = np.linspace(-12, 12, 100_003)
    assert np.abs(phi(z) - ndtr(z)).max() < 1e-13
    assert phi(np.array([-np.inf, -50.0, 50.0, np.inf])).tolist() == [0.0, 0.0, 1.0, 1.0]


@every("step", [1e-5, 2.3e-4, 1 / 512, 0.0031, 0.02, 0.7])
@every("first", [-np.inf, -9.5, -1.0, 0.0, 3.7, 9.0, 14.2])
def test_equal_steps_give_what_each_value_gives(first: float, step: float) -> None:
    found = np.empty(2000)
    phi_falling(first, step, found)
    assert np.abs(found - ndtr(first - step * np.arange(2000))).max() < 1e-13


def test_a_chance_against_all_odds_is_as_exact_as_a_likely_one() -> None:
    z = np.linspace(-36, -3, 100_003)
    assert np.abs(phi(z) / ndtr(z) - 1).max() < 1e-7


@every("step", [1e-5, 2.3e-4, 0.0031, 0.02, 0.7])
@every("first", [-30.0, -12.5, -8.9, 0.0])
def test_equal_steps_keep_small_chances_too(first: float, step: float) -> None:
    z = first - step * np.arange(2000)
    found = np.empty(z.size)
    phi_falling(first, step, found)
    seen = z > -36
    assert np.abs(found[seen] / ndtr(z[seen]) - 1).max() < 2e-7
