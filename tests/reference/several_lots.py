"""The chance of enough from several lots once more, naively: one quantile for all of their Betas."""

from __future__ import annotations

import numpy as np
from scipy.stats import beta, binom


def chance_of_several(draws: list[tuple[int, float, float]], ordered: int, quantiles: int = 400) -> float:
    """P(sum of survivors >= ordered) for draws of (eggs, v, kappa) that share one journey."""
    at = (np.arange(quantiles) + 0.5) / quantiles
    of_draws = []
    for eggs, v, kappa in draws:
        share = np.fmax(1e-9, beta.ppf(at, v * kappa, (1 - v) * kappa))
        of_draws.append(binom.pmf(np.arange(eggs + 1), eggs, share[:, None]))
    total = 0.0
    for each in zip(*of_draws, strict=True):
        alive = np.ones(1)
        for one in each:
            alive = np.convolve(alive, one)
        total += float(alive[ordered:].sum()) / quantiles
    return total
