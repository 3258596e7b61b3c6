"""Pairs: eggs and the shares that hatch, grow up and are female in, exact chances of pairs out."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.distributions import log_gamma

Floats = NDArray[np.float64]
#: For no wish are more eggs looked for.
MOST_EGGS = 10_000
#: No more nodes than this over the female share of a brood.
_MOST_NODES = 96


def chance_of(eggs: int, males: int, females: int, grown_share: float, female_share: float = 0.5) -> float:
    """P(at least ``males`` males and ``females`` females) from ``eggs`` eggs, by the exact multinomial sum.

    ``grown_share`` is the chance that an egg becomes a grown fish (hatch share times raise share).
    """
    return float(_chances(eggs, males, females, grown_share, np.array([female_share]))[0])


def _chances(eggs: int, males: int, females: int, grown_share: float, shares: Floats) -> Floats:
    """`chance_of` for each female share of ``shares``: (n,).

    Notes
    -----
    The multinomial, summed over the number of females: ``sum_k P(F = k) P(M >= males | F = k)`` with
    ``F ~ Bin(n, pf)`` and ``M | F = k ~ Bin(n - k, pm / (1 - pf))``. Every term is positive and taken from
    logarithms, so that nothing overflows or cancels with thousands of eggs.
    """
    if eggs < males + females:
        return np.zeros(shares.size)
    p_female, p_male = grown_share * shares[:, None], grown_share * (1.0 - shares[:, None])
    with np.errstate(divide="ignore", invalid="ignore"):
        p_of_rest = np.where(p_female < 1.0, np.minimum(1.0, p_male / (1.0 - p_female)), 0.0)
    k = np.arange(females, eggs - males + 1)
    exactly = np.exp(_log_ways(eggs, k) + _log_powers(p_female, k, eggs - k))
    return np.asarray(
        np.clip((exactly * _at_least(males, eggs - females, p_of_rest)[:, ::-1]).sum(axis=1), 0.0, 1.0)
    )


def _at_least(wanted: int, most: int, p: Floats) -> Floats:
    """P(at least ``wanted`` of N) for N = ``wanted`` ... ``most`` and each p (n, 1): (n, N).

    Summed over the try that brings the last one wanted (negative binomial), so that every term is positive.
    """
    tries = np.arange(wanted, most + 1)
    if not wanted:
        return np.ones((p.shape[0], tries.size))
    last = np.exp(_log_ways(tries - 1, wanted - 1) + _log_powers(p, wanted, tries - wanted))
    return np.asarray(np.clip(last.cumsum(axis=1), 0.0, 1.0))


def _log_ways(n: NDArray[np.int64] | int, k: NDArray[np.int64] | int) -> Floats:
    """The log of the number of ways to choose k of n."""
    parts = (np.asarray(part, dtype=np.float64) + 1.0 for part in (n, k, np.subtract(n, k)))
    whole, chosen, other = map(log_gamma, parts)
    return whole - chosen - other


def _log_powers(p: Floats, k: NDArray[np.int64] | int, other: NDArray[np.int64]) -> Floats:
    """The log of ``p^k (1 - p)^other``, where nothing to the power of nothing is one."""
    with np.errstate(divide="ignore", invalid="ignore"):
        parts = [
            np.where(np.asarray(n) == 0, 0.0, n * log) for n, log in ((k, np.log(p)), (other, np.log1p(-p)))
        ]
    return np.asarray(sum(parts))


@lru_cache(maxsize=256)
def _brood_shares(female_share: float, sex_kappa: float, nodes: int) -> tuple[Floats, Floats]:
    """Female shares of broods and the weight of each: Gauss-Jacobi nodes of their Beta, (nodes,) each.

    Notes
    -----
    Golub and Welsch (1969): the nodes are the eigenvalues of the matrix of the recurrence of the Jacobi
    polynomials (NIST Digital Library of Mathematical Functions, 18.9.2). Checked against
    ``scipy.special.roots_sh_jacobi``.
    """
    alpha, beta = (1.0 - female_share) * sex_kappa - 1.0, female_share * sex_kappa - 1.0
    n = np.arange(nodes, dtype=np.float64)
    both = 2 * n + alpha + beta
    with np.errstate(divide="ignore", invalid="ignore"):  # the first of each is written below
        middle = (beta**2 - alpha**2) / (both * (both + 2))
    middle[0] = (beta - alpha) / (alpha + beta + 2)
    n, both = n[1:], both[1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        beside = 4 * n * (n + alpha) * (n + beta) * (n + alpha + beta) / (both**2 * (both + 1) * (both - 1))
    beside[:1] = 4 * (1 + alpha) * (1 + beta) / ((2 + alpha + beta) ** 2 * (3 + alpha + beta))
    found, vectors = np.linalg.eigh(
        np.diag(middle) + np.diag(np.sqrt(beside), 1) + np.diag(np.sqrt(beside), -1)
    )
    return np.clip((found + 1.0) / 2.0, 0.0, 1.0), vectors[0] ** 2


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
    return float(min(1.0, np.dot(weights, _chances(eggs, males, females, grown_share, shares))))


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
