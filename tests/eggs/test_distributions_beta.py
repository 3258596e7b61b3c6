"""The beta distribution by our own arrays against scipy's, which only tests load here."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import betainc, betaincinv

from shipping.eggs.distributions import _log_chance, beta_quantiles, log_beta

U = (np.polynomial.legendre.leggauss(32)[0] + 1.0) / 2.0


@pytest.mark.parametrize("kappa", [0.5, 5.0, 40.0, 400.0, 9_000.0, 1e6])
def test_quantiles_are_those_of_another_library_to_twelve_places(kappa: float) -> None:
    v = np.concatenate(
        (
            np.random.default_rng(3).uniform(0.0, 1.0, 60),
            [1e-12, 1e-6, 1e-3, 0.5, 0.999, 1.0 - 1e-6, 1.0 - 1e-9, 1.0 - 1e-12],
        )
    )
    a, b = v * kappa, (1.0 - v) * kappa
    assert np.abs(beta_quantiles(a, b, U) - betaincinv(a[:, None], b[:, None], U)).max() < 1e-12


def test_chances_are_those_of_another_library_however_small() -> None:
    random = np.random.default_rng(4)
    a, b = random.uniform(0.01, 100.0, (2, 5_000))
    x = random.uniform(1e-6, 1.0 - 1e-6, 5_000)
    expected = betainc(a, b, x)
    seen = expected > 1e-280
    density = a * np.log(x) + b * np.log1p(-x) - log_beta(a, b)
    chance = np.exp(_log_chance(a, b, density, x, 1.0 - x))
    assert np.abs(chance[seen] / expected[seen] - 1.0).max() < 2e-12
