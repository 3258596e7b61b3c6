"""Alive on arrival, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shipping.eggs.overpack import alive_shares

LOSSES = {"loss_handling": 0.03, "loss_per_day": 0.01, "fry_live": 0.0, "fertile_share": 1.0}


def test_losses_of_handling_and_days_multiply() -> None:
    v = alive_shares(np.array([0, 3]), np.zeros(2), **LOSSES)
    assert v == pytest.approx([math.exp(-0.03), math.exp(-0.06)])


def test_fry_count_as_far_as_the_packing_keeps_them_alive() -> None:
    h = np.array([0.2])
    assert alive_shares(np.array([0]), h, **(LOSSES | {"loss_handling": 0.0}))[0] == pytest.approx(0.8)
    half = alive_shares(np.array([0]), h, **(LOSSES | {"loss_handling": 0.0, "fry_live": 0.5}))
    assert half[0] == pytest.approx(0.9)


def test_eggs_not_yet_seen_fertile_are_counted_at_the_fertile_share() -> None:
    v = alive_shares(np.array([0]), np.zeros(1), **(LOSSES | {"fertile_share": 0.85}))
    assert v[0] == pytest.approx(0.85 * math.exp(-0.03))


def test_a_daily_loss_of_one_percent_leaves_81_percent_after_three_weeks() -> None:
    # 0.99 and 0.97 a day for 21 days leave 0.80973 and 0.52748 (mathbench.umd.edu, rates).
    for daily, left in ((0.99, 0.80973), (0.97, 0.52748)):
        v = alive_shares(
            np.array([21]), np.zeros(1), **(LOSSES | {"loss_handling": 0.0, "loss_per_day": -math.log(daily)})
        )
        assert v[0] == pytest.approx(left, abs=1e-5)
