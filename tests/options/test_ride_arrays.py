"""Kinds of rides: those alike in everything share a number, and no others do."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from shipping.options.ride_arrays import _together


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
