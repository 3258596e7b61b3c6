"""Eggs to pack against tables of the binomial and the beta-binomial, and both against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import betabinom, binom

from shipping.eggs.overpack import count_chances, overpacks
from tests.every_case import every

#: Smallest n with P(at least k alive) >= 0.95 (0.90, 0.99 beside it), calculated: k -> share alive -> n.
SHARES = (0.95, 0.90, 0.85, 0.80, 0.70, 0.60, 0.50)
ROWS = {
    10: ((12, 12, 13), (13, 13, 14), (14, 14, 16), (16, 15, 18), (19, 18, 21), (23, 21, 26), (28, 26, 33)),
    12: ((14, 14, 15), (16, 15, 17), (17, 16, 19), (19, 18, 20), (22, 21, 25), (27, 25, 30), (33, 31, 38)),
    15: ((18, 17, 19), (19, 18, 21), (21, 20, 23), (23, 22, 25), (27, 25, 30), (32, 30, 36), (40, 37, 45)),
    20: ((23, 22, 24), (25, 24, 27), (27, 26, 29), (29, 28, 32), (35, 33, 38), (42, 40, 46), (51, 48, 57)),
    25: ((28, 28, 30), (31, 30, 33), (33, 32, 36), (36, 35, 39), (43, 41, 46), (51, 49, 56), (62, 59, 69)),
    30: ((34, 33, 35), (37, 36, 39), (40, 39, 42), (43, 42, 46), (50, 49, 54), (60, 58, 65), (74, 70, 80)),
    50: (
        (56, 55, 57),
        (60, 59, 62),
        (64, 63, 67),
        (69, 68, 73),
        (81, 79, 86),
        (96, 93, 102),
        (117, 113, 125),
    ),
    100: (
        (109, 108, 111),
        (117, 116, 120),
        (125, 124, 129),
        (135, 132, 139),
        (156, 153, 162),
        (185, 180, 193),
        (224, 218, 235),
    ),
}
#: So concentrated a beta-binomial is a binomial.
VERY_LARGE = 1e9


def packed(k: int, share: float, kappa: float, promise: float) -> int:
    found = overpacks(
        np.array([[share]]),
        np.ones((1, 1)),
        np.array([k]),
        np.array([8 * k + 100]),
        np.array([kappa]),
        promise,
    )
    return int(found.pack[0])


@every("k", ROWS)
@every("column", range(len(SHARES)))
def test_eggs_that_live_or_die_each_for_itself_follow_the_binomial_table(k: int, column: int) -> None:
    for promise, n in zip((0.95, 0.90, 0.99), ROWS[k][column], strict=True):
        assert packed(k, SHARES[column], VERY_LARGE, promise) == n
        # the table itself against scipy
        assert binom.sf(k - 1, n, SHARES[column]) >= promise > binom.sf(k - 1, n - 1, SHARES[column])


#: Eggs that share a parcel's fate: Beta(a, b), n for 10, 20 and 30 alive at 0.95, calculated.
SHARED_FATES = (
    ((18, 2), (14, 27, 40)),
    ((36, 4), (14, 26, 39)),
    ((9, 1), (15, 29, 43)),
    ((16, 4), (17, 33, 49)),
    ((8, 2), (19, 37, 54)),
)


@pytest.mark.parametrize(("fate", "counts"), SHARED_FATES)
def test_eggs_that_share_a_parcel_need_more(fate: tuple[int, int], counts: tuple[int, ...]) -> None:
    a, b = fate
    for k, n in zip((10, 20, 30), counts, strict=True):
        assert packed(k, a / (a + b), a + b, 0.95) == n
        assert betabinom.sf(k - 1, n, a, b) >= 0.95 > betabinom.sf(k - 1, n - 1, a, b)


def test_fifteen_of_two_in_five_at_evens_take_37() -> None:
    # common practice, no source: smallest n with P(X >= 15) >= 0.5 at p = 0.4.
    assert packed(15, 0.4, VERY_LARGE, 0.5) == 37


def test_the_chance_of_four_of_ten_with_a_2_b_3() -> None:
    # calculated: C(10,4) B(6,9) / B(2,3)
    assert count_chances(10, np.array([0.4]), 5)[0, 4] == pytest.approx(0.13986, abs=1e-5)


#: Zero-failure samples: no loss in n says with 95 % that no more than so many percent are lost (ln 0.05 /
#: ln(1 - p)).
@pytest.mark.parametrize(("loss", "n"), [(0.10, 29), (0.05, 59), (0.01, 299)])
def test_so_many_whole_eggs_bound_the_loss(loss: float, n: int) -> None:
    all_alive = [count_chances(eggs, np.array([1 - loss]), VERY_LARGE)[0, eggs] for eggs in (n, n - 1)]
    assert all_alive[0] <= 0.05 < all_alive[1]
