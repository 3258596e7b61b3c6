"""Degree-days of the way against sums over hours and small steps of temperature, cold, hot and boxed."""

from __future__ import annotations

import numpy as np
import pytest

from shipping.eggs.hatching import mean_effective_degrees, trip_nodes
from shipping.post.foam_box import Holding
from tests.eggs.one_trip import trip_degrees
from tests.every_case import every
from tests.post.a_shelf import a_species

STEPS = (np.arange(2000) + 0.5) / 2000


@every("keep_max_c", [None, 26.0])
@every("warm_h", [0.0, 20.0])
@every("span", [(2.0, 8.0), (6.0, 16.0), (14.0, 22.0), (20.0, 34.0), (28.0, 36.0), (30.0, 30.0)])
def test_degree_days_of_the_way_are_the_mean_of_what_each_hour_gives(
    keep_max_c: float | None, warm_h: float, span: tuple[float, float]
) -> None:
    species = a_species(keep_max_c=keep_max_c)
    hours = np.arange(72) + 0.5
    lead = np.exp(-hours / warm_h) if warm_h else np.zeros(72)
    low, high = (24.0 * lead + out * (1.0 - lead) for out in span)
    felt = low[:, None] + (high - low)[:, None] * STEPS
    top = np.inf if keep_max_c is None else keep_max_c
    gained = np.maximum(np.minimum(felt, top) - species.zero_c, 0.0).mean(axis=1).reshape(3, 24).mean(axis=1)
    days = (np.full(3, out) for out in span)
    found = trip_degrees(*days, species, 24.0, Holding(warm_h), 0.0)
    assert found[:, 0] == pytest.approx(np.concatenate(([0.0], gained.cumsum())), abs=2e-3)


def test_a_span_without_width_gives_what_its_one_temperature_gives() -> None:
    one = np.array([4.0, 18.0, 31.0])
    found = mean_effective_degrees(one, one, a_species(keep_max_c=26.0))
    assert found == pytest.approx([0.0, 18.0 - a_species().zero_c, 26.0 - a_species().zero_c])


def test_the_nodes_of_a_trips_warmth_have_its_mean_and_spread_and_without_spread_there_is_one() -> None:
    assert [side.tolist() for side in trip_nodes(0.0)] == [[0.0], [1.0]]
    warmer, weights = trip_nodes(2.5)
    moments = [float(weights @ warmer**power) for power in (0, 1, 2, 4)]
    assert moments == pytest.approx([1, 0, 2.5**2, 3 * 2.5**4])
