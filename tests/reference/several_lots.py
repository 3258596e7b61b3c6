"""The chance of enough from several lots once more, naively: one quantile for all of their Betas."""

from __future__ import annotations

import numpy as np
from scipy.stats import beta, binom


def chance_of_several(draws: list[tuple[int, float, float]], ordered: int, quantiles: int = 400) -> float:
    """P(sum of survivors >= ordered) for draws of (eggs, v, kappa) that share one journey."""
    total = 0.0
    for u in (np.arange(quantiles) + 0.5) / quantiles:
        alive = np.ones(1)
        for eggs, v, kappa in draws:
            share = max(1e-9, float(beta.ppf(u, v * kappa, (1 - v) * kappa)))
            alive = np.convolve(alive, binom.pmf(np.arange(eggs + 1), eggs, share))
        total += float(alive[ordered:].sum()) / quantiles
    return total
