"""Pairs: eggs and the shares that hatch, grow up and are female in, exact chances of pairs out."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
#: For no wish are more eggs looked for.
MOST_EGGS = 10_000
#: No more nodes than this over the female share of a brood.
_MOST_NODES = 96
#: Above this concentration broods hardly differ in their share of females.
_ALIKE = 200.0


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


@lru_cache(maxsize=256)
def _brood_shares(female_share: float, sex_kappa: float, nodes: int) -> tuple[Floats, Floats]:
    """Female shares of broods and the weight of each: Gauss-Jacobi nodes of their Beta, (nodes,) each."""
    from scipy.special import roots_sh_jacobi

    a, b = female_share * sex_kappa, (1.0 - female_share) * sex_kappa
    if sex_kappa > _ALIKE:  # broods hardly differ, and the Jacobi polynomials overflow: quantiles instead
        from scipy.special import betaincinv

        at, weights = np.polynomial.legendre.leggauss(64)
        return np.asarray(betaincinv(a, b, (at + 1.0) / 2.0)), np.asarray(weights / 2.0)
    shares, weights = roots_sh_jacobi(nodes, a + b - 1.0, a)
    return np.asarray(shares), np.asarray(weights / weights.sum())


def brood_chance(
    eggs: int,
    males: int,
    females: int,
    grown_share: float,
    female_share: float = 0.5,
    sex_kappa: float | None = None,
) -> float:
    """`chance_of` where the female share of the brood is itself uncertain: a Beta of mean ``female_share``
    and concentration ``sex_kappa`` (the smaller, the more broods differ); None: the share is sure.

    Notes
    -----
    The chance is a polynomial of degree ``eggs`` in the share, so Gauss-Jacobi nodes give its mean exactly
    with half as many nodes as eggs; beyond `_MOST_NODES` nodes it is good to 1e-6.
    """
    if sex_kappa is None or not 0.0 < female_share < 1.0:
        return chance_of(eggs, males, females, grown_share, female_share)
    nodes = min(_MOST_NODES, eggs // 2 + 1)
    shares, weights = _brood_shares(female_share, sex_kappa, nodes)
    each = [chance_of(eggs, males, females, grown_share, share) for share in shares.tolist()]
    return float(min(1.0, np.dot(weights, each)))


def eggs_for(
    males: int,
    females: int,
    chance: float,
    grown_share: float,
    female_share: float = 0.5,
    sex_kappa: float | None = None,
) -> int | None:
    """The fewest eggs for that wish at that chance; None where `MOST_EGGS` would not do.

    Notes
    -----
    An egg more never lowers the chance, so the fewest is found by halving.
    """

    def is_enough(eggs: int) -> bool:
        return brood_chance(eggs, males, females, grown_share, female_share, sex_kappa) >= chance

    if not is_enough(MOST_EGGS):
        return None
    too_few, enough = males + females - 1, MOST_EGGS
    while enough - too_few > 1:
        middle = (too_few + enough) // 2
        too_few, enough = (too_few, middle) if is_enough(middle) else (middle, enough)
    return enough


def pair_chances(
    eggs: int, grown_share: float, female_share: float = 0.5, sex_kappa: float | None = None
) -> dict[str, float]:
    """Chances of one pair, two pairs, and a trio (one male, two females)."""
    return {
        "pair": brood_chance(eggs, 1, 1, grown_share, female_share, sex_kappa),
        "two pairs": brood_chance(eggs, 2, 2, grown_share, female_share, sex_kappa),
        "trio": brood_chance(eggs, 1, 2, grown_share, female_share, sex_kappa),
    }
