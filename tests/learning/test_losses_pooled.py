"""What all packings cost, learned together: the intervals are those of the posterior itself."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shipping.learning.losses import (
    Counts,
    Losses,
    ReportedPacking,
    forgivable,
    loss_prior,
    pooled_losses,
    weighed_likelihood,
)
from shipping.words.three_point import Z95

TABLE, TRUTH = Losses(0.03, 0.01, 40.0), Losses(0.08, 0.03, 15.0)
#: Doubt about the sum of what all parcels share, a kind's do and a packing's own (deviations of the log).
DOUBT = np.sqrt(np.array([0.9**2 + 0.1**2 + 0.15**2, 0.9**2 + 0.1**2 + 0.15**2, 1.0 + 0.12**2 + 0.2**2]))


def reported(lines: int) -> Counts:
    """Lines of 20 eggs, two, four or nine days on the way, drawn by the truth."""
    rng = np.random.default_rng(3)
    days = rng.choice([2.0, 4.0, 9.0], lines)
    v = np.exp(-TRUTH.loss_handling - TRUTH.loss_per_day * days)
    living = rng.binomial(20, rng.beta(v * TRUTH.kappa, (1 - v) * TRUTH.kappa))
    return Counts.of(np.full(lines, 20.0), living, days, np.ones(lines))


def logs(losses: Losses) -> np.ndarray:
    return np.log([losses.loss_handling, losses.loss_per_day, losses.kappa])


def test_an_interval_is_as_wide_as_the_posterior_summed_up_over_a_grid() -> None:
    """Standard deviations of the three logs, of 2,000 lines: the sum of likelihood times prior over 11 x 11 x
    11 points three and a half of them wide on each side. Stated error 2 %.
    """
    counts = reported(2000)
    (taught,) = pooled_losses([ReportedPacking("tube", "tube", TABLE, counts)])
    told = (logs(taught.high) - logs(taught.low)) / 2 / Z95
    middle, forgiven = loss_prior(TABLE)[0], forgivable(counts, TABLE)
    axes = logs(taught.losses)[:, None] + np.linspace(-3.5, 3.5, 11) * told[:, None]

    def cost(*x: float) -> float:
        chance, _ = weighed_likelihood(counts, forgiven, Losses(*map(math.exp, x)))
        return float((((x - middle) / DOUBT) ** 2).sum()) / 2 - chance

    costs = np.array([[[cost(a, b, c) for c in axes[2]] for b in axes[1]] for a in axes[0]])
    weights = np.exp(costs.min() - costs)
    for n, axis in enumerate(axes):
        own = weights.sum(axis=tuple({0, 1, 2} - {n})) / weights.sum()
        spread = math.sqrt(float(own @ (axis - own @ axis) ** 2))
        assert told[n] == pytest.approx(spread, rel=0.02)
