"""Worse news never asks for fewer eggs, better news never for more: whatever else was told."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from shipping.eggs.overpack import overpacks
from shipping.learning.losses import Counts, Losses, ReportedPacking, as_read, forgiven_share, pooled_losses

many = settings(deadline=None, derandomize=True, max_examples=15)
KINDS = {"tube": "tube", "foam": "tube", "bag": "damp bag"}
TABLES = {"tube": Losses(0.03, 0.01, 40), "foam": Losses(0.03, 0.01, 40), "bag": Losses(0.02, 0.005, 40)}
#: A packing, eggs packed, eggs alive.
Line = tuple[str, int, int]
lines = st.sampled_from(sorted(KINDS)).flatmap(
    lambda name: st.integers(8, 40).flatmap(
        lambda packed: st.tuples(st.just(name), st.just(packed), st.integers(0, packed))
    )
)
told = st.lists(lines, min_size=1, max_size=7)


def counts(found: list[Line], days: float) -> Counts:
    if not found:
        return Counts(*(np.zeros(0) for _ in range(5)))
    packed, living = (np.array([line[n] for line in found], dtype=float) for n in (1, 2))
    return Counts.of(packed, living, np.full(packed.size, days), np.ones(packed.size))


def eggs(found: list[Line], days: float) -> dict[str, int]:
    """Eggs to pack for 20, in each packing on the way that the lines took; more than any count is 999."""
    packings = [
        ReportedPacking(name, kind, TABLES[name], counts([line for line in found if line[0] == name], days))
        for name, kind in KINDS.items()
    ]
    pack = {}
    for packing, taught in zip(packings, pooled_losses(packings), strict=True):
        losses = taught.losses
        v = np.array([[math.exp(-losses.loss_handling - days * losses.loss_per_day)]])
        kappa = np.array([losses.kappa])
        found_eggs = overpacks(v, np.ones((1, 1)), np.array([20]), np.array([260]), kappa, 0.95)
        pack[packing.key] = int(found_eggs.pack[0]) or 999
    return pack


def assert_no_fewer(worse: list[Line], better: list[Line], days: int) -> None:
    asked, before = eggs(worse, days), eggs(better, days)
    assert all(asked[name] >= before[name] for name in KINDS), (asked, before)


@example([("tube", 25, 15), ("tube", 24, 24), ("tube", 24, 24), ("tube", 12, 12)], 3, 2)
@example([("tube", 19, 0), ("tube", 35, 12)], 23, 2)
@given(told, st.integers(1, 40), st.integers(1, 4))
@many
def test_a_line_of_which_fewer_live_never_asks_for_fewer_eggs(found: list[Line], by: int, days: int) -> None:
    name, packed, living = found[0]
    assert_no_fewer([(name, packed, max(0, living - by)), *found[1:]], found, days)


@example([("tube", 24, 15)], ("tube", 24, 0), 2)
@given(told, lines, st.integers(1, 4))
@many
def test_one_more_line_of_which_none_live_never_asks_for_fewer_eggs(
    found: list[Line], line: Line, days: int
) -> None:
    assert_no_fewer([*found, (*line[:2], 0)], found, days)


@example([("tube", 24, 7)] * 14, ("tube", 40, 40), 2)
@given(told, lines, st.integers(1, 4))
@many
def test_one_more_line_of_which_all_live_never_asks_for_more_eggs(
    found: list[Line], line: Line, days: int
) -> None:
    assert_no_fewer(found, [*found, (*line[:2], line[1])], days)


@given(told, st.integers(0, 6), st.integers(1, 40))
@many
def test_no_worse_count_is_read_as_a_better_one_nor_makes_another_be_read_so(
    found: list[Line], which: int, by: int
) -> None:
    which %= len(found)
    living = np.array([line[2] for line in found], dtype=float)
    worse = np.maximum(living - by * (np.arange(len(found)) == which), 0.0)
    packed, ones = np.array([line[1] for line in found], dtype=float), np.ones(len(found))
    table = TABLES["tube"]
    better, lower = (Counts(packed, alive, 2 * ones, ones, ones) for alive in (living, worse))
    reads = [as_read(one, table, forgiven_share([(one, table)])).living for one in (better, lower)]
    assert (reads[1] <= reads[0] + 1e-9).all()


@pytest.mark.parametrize(("days", "perfect_days"), [(2, 1), (2, 6), (4, 1)])
def test_a_perfect_parcel_of_another_way_asks_for_hardly_more_eggs_on_any(
    days: int, perfect_days: int
) -> None:
    """Two losses told of by ways unlike each other lean on one another: no more than 3 in 100."""
    bad = counts([("tube", 30, 15)] * 14, days)
    perfect = counts([("tube", 40, 40)], perfect_days)
    joined = [
        np.concatenate([getattr(part, name) for part in (bad, perfect)]) for name in Counts.__match_args__
    ]
    asked = []
    for found in (bad, Counts(*joined)):
        (taught,) = pooled_losses([ReportedPacking("tube", "tube", TABLES["tube"], found)])
        way = np.array([[1.0], [2.0], [3.0], [6.0]])
        v = np.exp(-taught.losses.loss_handling - taught.losses.loss_per_day * way)
        kappa = np.full(4, taught.losses.kappa)
        asked.append(overpacks(v, np.ones((4, 1)), np.full(4, 20), np.full(4, 400), kappa, 0.95).pack)
    assert (asked[1] <= 1.03 * asked[0]).all(), asked
