"""Pairs: eggs and the shares that hatch, grow up and are female in, exact chances of pairs out."""

from __future__ import annotations

import math


def chance_of(eggs: int, males: int, females: int, grown_share: float, female_share: float = 0.5) -> float:
    """P(at least ``males`` males and ``females`` females) from ``eggs`` eggs, by the exact multinomial sum.

    ``grown_share`` is the chance that an egg becomes a grown fish (hatch share times raise share).

    Notes
    -----
    One less the outcomes with too few males, less those with too few females, plus those with too few of both.
    """
    p_female, p_male = grown_share * female_share, grown_share * (1.0 - female_share)
    p_none = max(0.0, 1.0 - p_female - p_male)

    def exactly(m: int, f: int) -> float:
        rest = eggs - m - f
        ways = math.comb(eggs, m) * math.comb(eggs - m, f)
        return ways * p_male**m * p_female**f * p_none**rest if rest >= 0 else 0.0

    few_males = (_binomial(eggs, m, p_male) for m in range(min(males, eggs + 1)))
    few_females = (_binomial(eggs, f, p_female) for f in range(min(females, eggs + 1)))
    few_of_both = (exactly(m, f) for m in range(min(males, eggs + 1)) for f in range(min(females, eggs - m + 1)))
    chance = 1.0 - math.fsum(few_males) - math.fsum(few_females) + math.fsum(few_of_both)
    return min(1.0, max(0.0, chance))


def _binomial(n: int, k: int, p: float) -> float:
    """P(exactly ``k`` of ``n``)."""
    return math.comb(n, k) * p**k * (1.0 - p) ** (n - k)


def eggs_for(males: int, females: int, chance: float, grown_share: float, female_share: float = 0.5) -> int | None:
    """The fewest eggs for that wish at that chance; None where 400 would not do."""
    return next(
        (n for n in range(males + females, 401) if chance_of(n, males, females, grown_share, female_share) >= chance),
        None,
    )


def pair_chances(eggs: int, grown_share: float, female_share: float = 0.5) -> dict[str, float]:
    """Chances of one pair, two pairs, and a trio (one male, two females)."""
    return {
        "pair": chance_of(eggs, 1, 1, grown_share, female_share),
        "two pairs": chance_of(eggs, 2, 2, grown_share, female_share),
        "trio": chance_of(eggs, 1, 2, grown_share, female_share),
    }
