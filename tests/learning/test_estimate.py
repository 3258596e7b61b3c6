"""How far fitted values may lie from the truth: curvatures that are known, and the ends of three points."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shipping.learning.estimate import Estimate, FittedPoints, covariance, half_width
from shipping.words.three_point import Z95


def test_the_covariance_of_a_bowl_is_the_inverse_of_its_bends() -> None:
    bends = np.array([[4.0, 1.0], [1.0, 2.0]])
    found = covariance(lambda x: float(x @ bends @ x) / 2, np.zeros(2), 1e-3)
    assert found == pytest.approx(np.linalg.inv(bends), rel=1e-6)


def test_the_ends_of_an_interval_of_90_percent_lie_1645_standard_deviations_off() -> None:
    assert half_width(lambda x: ((x - 3.0) / 0.5) ** 2 / 2, 3.0, 1e-3) == pytest.approx(1.645 * 0.5, rel=1e-3)


@pytest.mark.parametrize("doubtful", [0, 1, 2])
def test_doubt_about_the_usual_day_moves_all_three_points_and_doubt_about_a_side_its_own_point(
    doubtful: int,
) -> None:
    """Logs of 15 days and of sides of 0.1 and 0.2, one of them with a standard deviation of 0.3: the log of a
    point moves by that, and by 1.645 sides for each unit of a side's log.
    """
    known = np.zeros((3, 3))
    known[doubtful, doubtful] = 0.3**2
    found = FittedPoints.of(np.log([15.0, 0.1, 0.2]), known, 7.0)
    points = (15 * math.exp(-Z95 * 0.1), 15.0, 15 * math.exp(Z95 * 0.2))
    moves = ((1, 1, 1), (Z95 * 0.1, 0, 0), (0, 0, Z95 * 0.2))[doubtful]
    offs = [math.exp(Z95 * 0.3 * move) for move in moves]
    assert (found.points.early, found.points.usual, found.points.late) == pytest.approx(points)
    assert found.low == pytest.approx([point / off for point, off in zip(points, offs, strict=True)])
    assert found.high == pytest.approx([point * off for point, off in zip(points, offs, strict=True)])
    assert found.cost == 7.0


def test_a_value_by_a_factor_is_in_doubt_as_the_factor_is() -> None:
    assert Estimate(1.5, 0.5, 2.5, n=7).times(0.04) == Estimate(0.06, 0.02, 0.1, n=7)
