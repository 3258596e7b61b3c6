"""Kinds of rides: those alike in everything share a number, and no others do."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from shipping.options.journey import lot_days
from shipping.options.option import Destination
from shipping.options.option_factory import OptionFactory
from shipping.options.ride_arrays import WeekFactors, _together, ride_table
from tests.post.a_shelf import TODAY
from tests.week.a_week import BAG, a_lot, a_row, a_week, ago


@pytest.mark.parametrize("sizes", [(2, 3, 4), (4, 3, 2)])
def test_rides_have_one_number_where_they_are_alike_in_all_parts_and_only_there(
    sizes: tuple[int, ...],
) -> None:
    """All 24 combinations of two, three and four, each twice."""
    every = np.array([*itertools.product(*map(range, sizes))] * 2)
    numbers = _together(every.T, len(every)).tolist()
    alike = [tuple(row) for row in every.tolist()]
    assert len(set(numbers)) == 24
    assert len({*zip(numbers, alike, strict=True)}) == 24


@pytest.mark.parametrize("heat_pack_h", [0.0, 1.0, 40.0])
def test_as_much_hatches_over_a_heat_pack_of_an_hour_or_many_as_ride_by_ride(heat_pack_h: float) -> None:
    """Eggs kept at 24 degrees go into 15 to 21: each hour that is bridged hatches more of them."""
    warmed = BAG.model_copy(update={"heat_pack_h": heat_pack_h})
    lots = (a_lot(laid_from=ago(12), laid_to=ago(12)),)
    factory, to = OptionFactory(a_week(a_row("A"), lots=lots, packings=(warmed,))), Destination("DK")
    factors = WeekFactors(factory, (TODAY,))
    factors.also_to((to,))
    journeys = factors.journeys.to((to,))
    table = ride_table((warmed,), [lot_days(factory.shelf, "G1", (TODAY,))], journeys, factors)
    (leg,) = table.journeys.legs
    alone = factory.ride(factory.lot_day("G1", TODAY), warmed, leg).h_per_egg
    assert 0.001 < alone < 0.9
    assert table.hatched[0, 0, 0] == pytest.approx(alone, abs=1e-12)
