"""Pairs, by counting every outcome."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

import numpy as np
import pytest
from scipy.special import roots_sh_jacobi
from scipy.stats import betabinom, binom

from shipping.eggs.pairs import _brood_shares, brood_chance, chance_of, eggs_for, pair_chances
from tests.every_case import every


def by_counting(eggs: int, males: int, females: int, grown: float, female_share: float) -> float:
    chances = {"m": grown * (1 - female_share), "f": grown * female_share, "-": 1 - grown}
    total = 0.0
    for outcome in itertools.product("mf-", repeat=eggs):
        if outcome.count("m") >= males and outcome.count("f") >= females:
            product = 1.0
            for fate in outcome:
                product *= chances[fate]
            total += product
    return total


@pytest.mark.parametrize(("males", "females"), [(0, 0), (1, 1), (1, 2), (2, 2), (0, 3), (4, 4)])
def test_every_outcome_counted_gives_the_same_chance(males: int, females: int) -> None:
    expected = by_counting(7, males, females, 0.6, 0.4)
    assert chance_of(7, males, females, 0.6, 0.4) == pytest.approx(expected, abs=1e-12)


def test_two_pairs_are_harder_than_a_trio_and_a_trio_than_a_pair() -> None:
    chances = pair_chances(12, 0.5)
    assert chances["pair"] > chances["trio"] > chances["two pairs"] > 0


def test_a_pair_for_sure_is_out_of_reach() -> None:
    assert eggs_for(1, 1, 1.0, 0.0) is None


def test_the_chance_holds_for_hundreds_of_eggs_too() -> None:
    assert chance_of(400, 1, 1, 0.7) == pytest.approx(1)
    assert chance_of(400, 4, 4, 0.0) == 0
    assert chance_of(3, 2, 2, 1.0) == 0


def by_fractions(eggs: int, males: int, females: int, grown: Fraction, female_share: Fraction) -> Fraction:
    """One less the outcomes with too few males, less those with too few females, plus those with too few of
    both.
    """
    p_female, p_male = grown * female_share, grown * (1 - female_share)

    def exactly(n: int, k: int, p: Fraction) -> Fraction:
        return math.comb(n, k) * p**k * (1 - p) ** (n - k)

    both = Fraction(0)
    for m, f in itertools.product(range(males), range(females)):
        ways = math.comb(eggs, m) * math.comb(eggs - m, f)
        both += ways * p_male**m * p_female**f * (1 - grown) ** (eggs - m - f)
    few_males = sum((exactly(eggs, m, p_male) for m in range(males)), Fraction(0))
    few_females = sum((exactly(eggs, f, p_female) for f in range(females)), Fraction(0))
    return 1 - few_males - few_females + both


@pytest.mark.parametrize("eggs", [600, 3_000, 10_000])
@pytest.mark.parametrize(("males", "females"), [(1, 1), (3, 3), (1, 2)])
def test_thousands_of_eggs_give_the_chance_that_whole_fractions_give(
    eggs: int, males: int, females: int
) -> None:
    grown, share = Fraction(3, eggs), Fraction(2, 5)
    exact = float(by_fractions(eggs, males, females, grown, share))
    assert chance_of(eggs, males, females, float(grown), 0.4) == pytest.approx(exact, abs=1e-11)


def test_a_chance_far_too_small_to_subtract_is_still_exact() -> None:
    # one male and one female from two eggs of a millionth each: 2 pm pf
    assert chance_of(2, 1, 1, 1e-6) == pytest.approx(2 * 0.5e-6**2, rel=1e-12)


def test_a_rare_wish_is_answered_with_thousands_of_eggs() -> None:
    n = eggs_for(1, 1, 0.95, 0.001)
    assert n is not None
    assert 7_000 < n < 8_000
    assert chance_of(n, 1, 1, 0.001) >= 0.95 > chance_of(n - 1, 1, 1, 0.001)


def test_an_uncertain_sex_ratio_makes_a_pair_less_likely_and_is_summed_exactly() -> None:
    # grown fish are binomial, and of so many the females are beta-binomial: every count added up
    eggs, grown, share, kappa = 12, 0.6, 0.4, 20.0
    exact = 0.0
    for fish in range(2, eggs + 1):
        of_fish = betabinom.pmf(np.arange(fish + 1), fish, share * kappa, (1 - share) * kappa)
        exact += binom.pmf(fish, eggs, grown) * float(of_fish[1:fish].sum())
    found = brood_chance(eggs, 1, 1, grown, share, kappa)
    assert found == pytest.approx(exact, abs=1e-12)
    assert found < chance_of(eggs, 1, 1, grown, share)
    assert brood_chance(eggs, 1, 1, grown, share, 1e6) == pytest.approx(
        chance_of(eggs, 1, 1, grown, share), abs=1e-4
    )


@every("nodes", [1, 2, 13, 96])
@every(("share", "kappa"), [(0.5, 1.0), (0.5, 2.0), (0.4, 2.5), (0.5, 8.0), (0.7, 150.0)])
def test_nodes_over_the_female_share_are_those_of_the_beta(share: float, kappa: float, nodes: int) -> None:
    """Against scipy, whose weights are scaled to one."""
    shares, weights = _brood_shares(share, kappa, nodes)
    at, of_each = roots_sh_jacobi(nodes, kappa - 1.0, share * kappa)
    assert shares == pytest.approx(at, abs=1e-10)
    assert weights == pytest.approx(of_each / of_each.sum(), abs=1e-10)
