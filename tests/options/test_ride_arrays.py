"""Kinds of rides: those alike in everything share a number, and no others do."""

from __future__ import annotations

import itertools

import numpy as np

from shipping.options.ride_arrays import _together


def test_rides_have_one_number_where_they_are_alike_in_all_parts_and_only_there() -> None:
    """All 24 combinations of two, three and four, each twice."""
    every = np.array([*itertools.product(range(2), range(3), range(4))] * 2)
    numbers = _together(every.T, len(every)).tolist()
    alike = [tuple(row) for row in every.tolist()]
    assert len(set(numbers)) == 24
    assert len({*zip(numbers, alike, strict=True)}) == 24
