"""The one distribution: what it hits, how it rounds to days, and what it refuses."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shipping.words.three_point import ThreePoint, three_point, whole_days


@pytest.mark.parametrize(
    ("early", "usual", "late"), [(12, 14, 21), (1, 3, 6), (0.5, 0.5001, 40), (7, 8.4, 8.5)]
)
def test_the_three_points_are_hit_exactly(early: float, usual: float, late: float) -> None:
    points = ThreePoint(early, usual, late)
    assert points.cdf(early) == pytest.approx(0.05, abs=1e-5)
    assert points.cdf(usual) == 0.5
    assert points.cdf(late) == pytest.approx(0.95, abs=1e-5)


def test_a_missing_usual_value_is_the_geometric_mean() -> None:
    assert three_point(4, None, 9).usual == 6


def test_equal_points_are_a_step_at_that_value() -> None:
    sure = ThreePoint(5, 5, 5)
    assert (sure.cdf(4.999), sure.cdf(5)) == (0, 1)


def test_a_side_of_width_zero_puts_half_the_chance_on_the_usual_value() -> None:
    points = ThreePoint(10, 10, 20)
    assert (points.cdf(9.99), points.cdf(10)) == (0.0, 0.5)
    assert points.cdf(20) == pytest.approx(0.95, abs=1e-5)


def test_three_zeros_are_collected_on_the_day() -> None:
    assert ThreePoint(0, 0, 0).days().tolist() == [1.0]


@pytest.mark.parametrize("points", [(3, 2, 4), (1, 3, 2), (0, 1, 2), (-1, 1, 2), (1, 2, math.inf)])
def test_points_out_of_order_are_refused(points: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="in that order"):
        ThreePoint(*points)


def test_whole_days_are_differences_of_the_curve_at_the_half_days() -> None:
    points = ThreePoint(2, 4, 9)
    days = whole_days(points)
    assert days[0] == 0
    assert days[1] == pytest.approx(points.cdf(1.5), abs=1e-8)
    assert days[5] == pytest.approx(points.cdf(5.5) - points.cdf(4.5), abs=1e-8)
    assert days.sum() == pytest.approx(1, abs=1e-12)


def test_all_below_a_day_and_a_half_counts_as_one_day() -> None:
    assert whole_days(ThreePoint(0.1, 0.2, 0.3)).tolist() == [0, 1]


def test_the_tail_is_cut_where_less_than_a_billionth_is_left() -> None:
    points = ThreePoint(1, 3, 6)
    days = whole_days(points)
    assert 1 - points.cdf(days.size - 0.5) < 1e-9 <= 1 - points.cdf(days.size - 1.5)


def test_a_tail_of_centuries_is_cut_after_four_years() -> None:
    days = whole_days(three_point(1, 2, 40))
    assert len(days) == 1001
    assert days.sum() == pytest.approx(1, abs=1e-12)
    assert days[20:40].sum() == pytest.approx(
        three_point(1, 2, 40).cdf(39.5) - three_point(1, 2, 40).cdf(19.5), rel=1e-3
    )


def test_a_next_day_service_arrives_on_the_first_working_day_for_sure() -> None:
    assert whole_days(ThreePoint(1, 1, 1)).tolist() == [0, 1]


def test_shared_chances_cannot_be_written_over() -> None:
    with pytest.raises(ValueError, match="read-only"):
        whole_days(ThreePoint(1, 2, 3))[0] = 1


def test_the_split_normal_is_continuous_at_the_usual_value() -> None:
    points = ThreePoint(12, 14, 21)
    assert points.cdf(np.nextafter(14.0, 0)) == pytest.approx(points.cdf(14), abs=1e-12)
