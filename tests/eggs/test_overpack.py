"""Eggs to pack against scipy's beta-binomial, mixed over arrival dates the plain way."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import beta as beta_distribution
from scipy.stats import betabinom, binom

from shipping.eggs.overpack import (
    chance_enough,
    count_chances,
    most_chance,
    most_eggs,
    most_promised,
    overpacks,
)
from tests.reference.several_lots import chance_of_several


def chance_by_hand(n: int, k: int, v: np.ndarray, chances: np.ndarray, kappa: float) -> float:
    return float(
        sum(c * betabinom.sf(k - 1, n, x * kappa, (1 - x) * kappa) for x, c in zip(v, chances, strict=True))
    )


def fewest_by_hand(k: int, cap: int, v: np.ndarray, chances: np.ndarray, kappa: float, promise: float) -> int:
    return next((n for n in range(k, cap + 1) if chance_by_hand(n, k, v, chances, kappa) >= promise), 0)


def some_cases(count: int) -> list[tuple[int, int, np.ndarray, np.ndarray, float]]:
    """Invented cases: ordered, cap, survival by date, chances of the dates, concentration."""
    random = np.random.default_rng(7)
    found = []
    for _ in range(count):
        dates = int(random.integers(1, 6))
        chances = random.dirichlet(np.ones(dates))
        v = np.sort(random.uniform(0.5, 0.99, dates))[::-1]
        found.append(
            (
                int(random.integers(3, 41)),
                int(random.integers(20, 90)),
                v,
                chances,
                float(random.uniform(5, 400)),
            )
        )
    return found


def test_the_fewest_eggs_over_mixed_dates_agree_with_brute_force() -> None:
    cases = some_cases(60)
    most = max(v.size for _, _, v, _, _ in cases)
    v, chances = np.full((60, most), 0.5), np.zeros((60, most))
    for n, (_, _, row, row_chances, _) in enumerate(cases):
        v[n, : row.size], chances[n, : row.size] = row, row_chances
    found = overpacks(
        v,
        chances,
        np.array([c[0] for c in cases]),
        np.array([c[1] for c in cases]),
        np.array([c[4] for c in cases]),
        0.95,
    )
    seen = set()
    for n, (k, cap, row, row_chances, kappa) in enumerate(cases):
        expected = fewest_by_hand(k, cap, row, row_chances, kappa, 0.95)
        assert found.pack[n] == expected
        seen.add(expected > 0)
        if expected:
            by_hand = chance_by_hand(expected, k, row, row_chances, kappa)
            assert found.p_enough[n] == pytest.approx(by_hand, abs=1e-9)
        elif cap >= k:
            with_all = chance_by_hand(cap, k, row, row_chances, kappa)
            assert with_all < 0.95
            assert most_chance(row[None], row_chances[None], k, cap, np.array([kappa]))[0] >= with_all
    assert seen == {True, False}


def test_counts_alive_are_the_beta_binomial() -> None:
    for eggs, v, kappa in ((10, 0.4, 5.0), (30, 0.93, 40.0), (200, 0.85, 12.0), (5, 0.999, 40.0)):
        expected = betabinom.pmf(np.arange(eggs + 1), eggs, v * kappa, (1 - v) * kappa)
        assert count_chances(eggs, np.array([v]), kappa)[0] == pytest.approx(expected, abs=1e-10)


def test_lots_of_one_line_share_their_journey() -> None:
    # both Betas at one quantile u, whose mean is taken over 20,000 even steps
    v1, v2, chances = np.array([0.95, 0.6]), np.array([0.9, 0.5]), np.array([0.7, 0.3])
    u = (np.arange(20_000) + 0.5) / 20_000
    expected = 0.0
    for a, b, chance in zip(v1, v2, chances, strict=True):
        first = beta_distribution.ppf(u, a * 40, (1 - a) * 40)
        second = beta_distribution.ppf(u, b * 20, (1 - b) * 20)
        enough = sum(binom.pmf(n, 12, first) * binom.sf(15 - n - 1, 10, second) for n in range(13))
        expected += chance * float(np.mean(enough))
    assert chance_enough(((12, v1, 40.0), (10, v2, 20.0)), chances, 15) == pytest.approx(expected, abs=1e-4)


def test_three_lots_of_one_line_share_their_journey_too() -> None:
    v = [np.array([0.95, 0.6]), np.array([0.9, 0.5]), np.array([0.8, 0.7])]
    chances, eggs = np.array([0.7, 0.3]), (8, 7, 9)
    expected = sum(
        float(chance)
        * chance_of_several([(n, float(one[row]), 40.0) for n, one in zip(eggs, v, strict=True)], 17)
        for row, chance in enumerate(chances)
    )
    draws = tuple((n, one, 40.0) for n, one in zip(eggs, v, strict=True))
    assert chance_enough(draws, chances, 17) == pytest.approx(expected, abs=1e-3)


def test_two_units_of_one_lot_are_one_draw() -> None:
    v, chances = np.array([0.9, 0.8]), np.array([0.6, 0.4])
    together = chance_enough(((22, v, 30.0),), chances, 18)
    assert chance_enough(((12, v, 30.0), (10, v, 30.0)), chances, 18) == pytest.approx(together, abs=1e-4)


def test_an_egg_that_surely_lives_or_dies_is_one_in_several_draws_too() -> None:
    sure, never = np.array([1.0]), np.array([0.0])
    assert chance_enough(((5, sure, 40.0), (6, never, 40.0)), np.ones(1), 5) == pytest.approx(1)
    assert chance_enough(((5, sure, 40.0), (6, never, 40.0)), np.ones(1), 6) == pytest.approx(0)


def test_eggs_that_never_die_need_no_extra() -> None:
    found = overpacks(
        np.ones((1, 1)), np.ones((1, 1)), np.array([20]), np.array([50]), np.array([40.0]), 0.95
    )
    assert (found.pack[0], found.p_enough[0]) == (20, pytest.approx(1.0))
    sure_and_never = count_chances(5, np.array([1.0, 0.0]), 40.0).tolist()
    assert sure_and_never == [[0, 0, 0, 0, 0, 1], [1, 0, 0, 0, 0, 0]]


def test_too_few_eggs_for_the_order_have_no_chance() -> None:
    found = overpacks(
        np.full((1, 1), 0.9), np.ones((1, 1)), np.array([20]), np.array([19]), np.array([40.0]), 0.95
    )
    assert (found.pack[0], found.p_enough[0]) == (0, 0)


@pytest.mark.parametrize(("v", "ordered", "needed"), [(1.0, 20, 20), (0.9, 20, 26), (0.9, 1, 2)])
def test_as_many_eggs_as_are_allowed_may_be_needed_and_one_fewer_is_too_few(
    v: float, ordered: int, needed: int
) -> None:
    caps = np.array([needed - 1, needed, needed + 1])
    same = np.full((3, 1), v)
    found = overpacks(same, np.ones((3, 1)), np.full(3, ordered), caps, np.full(3, 40.0), 0.95)
    assert found.pack.tolist() == [0, needed, needed]
    assert v == 1.0 or fewest_by_hand(ordered, 99, same[0], np.ones(1), 40.0, 0.95) == needed


def test_no_more_than_eight_times_the_eggs_ordered_and_a_hundred_are_ever_packed() -> None:
    assert [most_eggs(ordered) for ordered in (1, 20)] == [108, 260]


def test_a_journey_that_kills_most_is_never_packed_for() -> None:
    found = overpacks(
        np.full((1, 1), 0.02),
        np.ones((1, 1)),
        np.array([20]),
        np.array([most_eggs(20)]),
        np.array([40.0]),
        0.95,
    )
    assert (found.pack[0], found.p_enough[0]) == (0, 0)


def test_no_chance_exceeds_what_it_is_said_to_be_at_most() -> None:
    for k, cap, v, chances, kappa in some_cases(40):
        n = max(cap, k)
        by_hand = chance_by_hand(n, k, v, chances, kappa)
        assert most_chance(v[None], chances[None], k, n, np.array([kappa]))[0] >= by_hand


def test_several_cases_at_once_are_as_each_alone() -> None:
    v, kappa = np.array([[0.9, 0.8], [0.7, 0.6], [0.95, 0.9]]), np.array([40.0, 40.0, 10.0])
    chances, k = np.array([[0.5, 0.5], [0.9, 0.1], [1.0, 0.0]]), np.array([20, 10, 20])
    together = overpacks(v, chances, k, np.array([99, 99, 99]), kappa, 0.95)
    for n in range(3):
        one = slice(n, n + 1)
        alone = overpacks(v[one], chances[one], k[one], np.array([99]), kappa[one], 0.95)
        assert alone.pack[0] == together.pack[n]
        assert alone.p_enough[0] == pytest.approx(together.p_enough[n], abs=1e-12)


def test_the_largest_order_is_the_one_whose_overpack_just_fits() -> None:
    for _, eggs, v, chances, kappa in some_cases(25):
        largest = most_promised(eggs, v, chances, kappa, 0.95)
        by_hand = max(
            (k for k in range(1, eggs + 1) if chance_by_hand(eggs, k, v, chances, kappa) >= 0.95), default=0
        )
        assert largest == by_hand
        if largest:
            ordered, caps = np.array([largest]), np.array([999])
            assert overpacks(v[None], chances[None], ordered, caps, np.array([kappa]), 0.95).pack[0] <= eggs


def test_of_no_eggs_none_is_promised_and_of_eggs_that_never_die_all() -> None:
    assert most_promised(0, np.array([0.9]), np.ones(1), 40.0, 0.95) == 0
    assert most_promised(12, np.array([1.0]), np.ones(1), 40.0, 0.95) == 12
    assert most_promised(12, np.array([0.0]), np.ones(1), 40.0, 0.95) == 0


def test_one_egg_asked_for_on_a_journey_that_three_in_a_hundred_outlive_is_packed_for() -> None:
    # 1 - 0.97^99 is the first chance above 0.95, by hand
    found = overpacks(
        np.array([[0.03]]), np.ones((1, 1)), np.array([1]), np.array([most_eggs(1)]), np.array([1e9]), 0.95
    )
    assert found.pack.tolist() == [99]
