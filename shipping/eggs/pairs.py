"""Pairs: eggs and the shares that hatch, grow up and are female in, exact chances of pairs out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
#: For no wish are more eggs looked for.
MOST_EGGS = 10_000


def chance_of(eggs: int, males: int, females: int, grown_share: float, female_share: float = 0.5) -> float:
    """P(at least ``males`` males and ``females`` females) from ``eggs`` eggs, by the exact multinomial sum.

    ``grown_share`` is the chance that an egg becomes a grown fish (hatch share times raise share).

    Notes
    -----
    The multinomial, summed over the number of females: ``sum_k P(F = k) P(M >= males | F = k)`` with
    ``F ~ Bin(n, pf)`` and ``M | F = k ~ Bin(n - k, pm / (1 - pf))``. Every term is positive and taken from
    logarithms, so that nothing overflows or cancels with thousands of eggs.
    """
    from scipy.special import bdtrc

    if eggs < males + females:
        return 0.0
    p_female, p_male = grown_share * female_share, grown_share * (1.0 - female_share)
    k = np.arange(females, eggs - males + 1)
    male_of_rest = min(1.0, p_male / (1.0 - p_female)) if p_female < 1.0 else 0.0
    enough_males = bdtrc(males - 1, eggs - k, male_of_rest) if males > 0 else np.ones(k.size)
    return float(min(1.0, np.dot(_exactly(eggs, k, p_female), enough_males)))


def _exactly(n: int, k: NDArray[np.int64], p: float) -> Floats:
    """P(exactly k of ``n``) for each k, from logarithms."""
    from scipy.special import gammaln, xlog1py, xlogy

    ways = gammaln(n + 1.0) - gammaln(k + 1.0) - gammaln(n - k + 1.0)
    return np.asarray(np.exp(ways + xlogy(k, p) + xlog1py(n - k, -p)))


def eggs_for(
    males: int, females: int, chance: float, grown_share: float, female_share: float = 0.5
) -> int | None:
    """The fewest eggs for that wish at that chance; None where `MOST_EGGS` would not do.

    Notes
    -----
    An egg more never lowers the chance, so the fewest is found by halving.
    """

    def is_enough(eggs: int) -> bool:
        return chance_of(eggs, males, females, grown_share, female_share) >= chance

    if not is_enough(MOST_EGGS):
        return None
    too_few, enough = males + females - 1, MOST_EGGS
    while enough - too_few > 1:
        middle = (too_few + enough) // 2
        too_few, enough = (too_few, middle) if is_enough(middle) else (middle, enough)
    return enough


def pair_chances(eggs: int, grown_share: float, female_share: float = 0.5) -> dict[str, float]:
    """Chances of one pair, two pairs, and a trio (one male, two females)."""
    return {
        "pair": chance_of(eggs, 1, 1, grown_share, female_share),
        "two pairs": chance_of(eggs, 2, 2, grown_share, female_share),
        "trio": chance_of(eggs, 1, 2, grown_share, female_share),
    }
