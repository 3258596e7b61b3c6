"""Pairs: eggs and the shares that hatch, grow up and are female in, exact chances of pairs out."""

from __future__ import annotations

import math


def chance_of(eggs: int, males: int, females: int, grown_share: float, female_share: float = 0.5) -> float:
    """P(at least ``males`` males and ``females`` females) from ``eggs`` eggs, by the exact multinomial sum.

    ``grown_share`` is the chance that an egg becomes a grown fish (hatch share times raise share).
    """
    p_female, p_male = grown_share * female_share, grown_share * (1.0 - female_share)
    p_none = max(0.0, 1.0 - p_female - p_male)
    chance = 0.0
    for m in range(males, eggs + 1):
        for f in range(females, eggs - m + 1):
            chance += math.comb(eggs, m) * math.comb(eggs - m, f) * p_male**m * p_female**f * p_none ** (eggs - m - f)
    return min(1.0, chance)


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
