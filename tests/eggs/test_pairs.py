"""Pairs, by counting every outcome."""

from __future__ import annotations

import itertools

import pytest

from shipping.eggs.pairs import chance_of, eggs_for, pair_chances


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
