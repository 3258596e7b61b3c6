"""Chances of pairs against tables."""

from __future__ import annotations

import pytest

from shipping.eggs.pairs import chance_of, eggs_for, pair_chances

#: Grown fish, even sexes: 1 - 0.5^(n-1); n = 3 and 6 are common practice, no source; the others calculated.
EVEN = (
    (2, 0.5),
    (3, 0.75),
    (4, 0.875),
    (5, 0.9375),
    (6, 0.96875),
    (8, 0.99219),
    (10, 0.99805),
    (12, 0.99951),
)
#: Each egg yields a fish with 0.6, even sexes: 1 - 2 (1 - s/2)^n + (1 - s)^n, calculated.
SIX_IN_TEN = ((4, 0.5454), (6, 0.7688), (8, 0.8854), (10, 0.9436), (12, 0.9723), (15, 0.9905), (20, 0.9984))
#: Sexes 30 to 70, all grown, calculated.
SKEWED = ((3, 0.63), (6, 0.8816), (8, 0.9423), (10, 0.9717), (12, 0.9862))


@pytest.mark.parametrize(("fish", "chance"), EVEN)
def test_so_many_grown_fish_hold_a_pair(fish: int, chance: float) -> None:
    assert chance_of(fish, 1, 1, 1.0) == pytest.approx(chance, abs=6e-6)


@pytest.mark.parametrize(("eggs", "chance"), SIX_IN_TEN)
def test_so_many_eggs_give_a_pair(eggs: int, chance: float) -> None:
    assert pair_chances(eggs, 0.6)["pair"] == pytest.approx(chance, abs=6e-5)


@pytest.mark.parametrize(("fish", "chance"), SKEWED)
@pytest.mark.parametrize("females", [0.3, 0.7])
def test_a_skewed_brood_needs_more(fish: int, chance: float, females: float) -> None:
    assert chance_of(fish, 1, 1, 1.0, females) == pytest.approx(chance, abs=6e-5)


def test_the_eggs_to_order_for_a_wish_are_the_fewest_that_do() -> None:
    n = eggs_for(2, 2, 0.95, 0.5)
    assert n is not None
    assert chance_of(n, 2, 2, 0.5) >= 0.95 > chance_of(n - 1, 2, 2, 0.5)


def test_no_number_of_eggs_gives_females_where_there_are_none() -> None:
    assert eggs_for(1, 1, 0.95, 1.0, female_share=0.0) is None
