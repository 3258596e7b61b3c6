"""The chance beside the counts is the plan's own, reckoned again for the eggs that were counted."""

from __future__ import annotations

import pytest
from scipy.stats import betabinom

from shipping.worktop.kept_week import kept_parcel_now, kept_parcels_now
from shipping.worktop.promise import line_promise, rides_of
from tests.worktop.conftest import FIRST, Desk


def test_with_the_counts_of_the_plan_the_chance_is_that_of_the_plan(desk: Desk) -> None:
    reckoner = desk.worktop.shelf_state.tables().reckoner
    for kept in kept_parcels_now(desk.worktop.shelf_state):
        for line in kept.parcel.lines:
            counts = {draw.lot: (draw.pack,) for draw in line.draws}
            found = line_promise(reckoner, kept.parcel, line, counts)
            assert found.chance == pytest.approx(line.p_enough, abs=1e-6)
            assert found.holds


def test_with_fewer_eggs_it_is_the_beta_binomial_chance(desk: Desk) -> None:
    kept = kept_parcel_now(desk.worktop.shelf_state, FIRST)
    assert kept is not None
    reckoner = desk.worktop.shelf_state.tables().reckoner
    line = kept.parcel.lines[0]
    rides = rides_of(reckoner, kept.parcel, line)
    assert rides is not None
    ride = rides["FL-31"]
    kappa = ride.packing.kappa
    expected = sum(
        chance * betabinom.sf(line.ordered - 1, 21, v * kappa, (1 - v) * kappa)
        for chance, v in zip(ride.leg.chances, ride.v, strict=True)
    )
    found = line_promise(reckoner, kept.parcel, line, {"FL-31": (21,)})
    assert found.chance == pytest.approx(expected, rel=1e-9)
    assert not found.holds


def test_no_egg_counted_is_no_chance(desk: Desk) -> None:
    kept = kept_parcel_now(desk.worktop.shelf_state, FIRST)
    assert kept is not None
    found = line_promise(
        desk.worktop.shelf_state.tables().reckoner, kept.parcel, kept.parcel.lines[0], {"FL-31": (0,)}
    )
    assert (found.chance, found.holds) == (0.0, False)


def test_more_eggs_in_a_tube_are_more_likely_to_bring_a_fry_and_that_is_said(desk: Desk) -> None:
    kept = kept_parcel_now(desk.worktop.shelf_state, FIRST)
    assert kept is not None
    found = line_promise(
        desk.worktop.shelf_state.tables().reckoner, kept.parcel, kept.parcel.lines[0], {"FL-31": (30, 30)}
    )
    assert found.holds
    assert [text for text in found.cautions if "the chance that any hatches on the way" in text]
