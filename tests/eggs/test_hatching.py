"""Hatching on the way: shares by date, the chance of any, and lots that are damp or cold."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from shipping.eggs.clock import fresh_clock, shelf_heat
from shipping.eggs.hatching import hatch_risk
from tests.eggs.one_trip import hatch_shares
from tests.eggs.test_clock import a_lot
from tests.post.a_shelf import a_species


def test_a_parcel_below_the_zero_hatches_nothing() -> None:
    species, lot = a_species(), a_lot()
    clock = fresh_clock(species, lot, shelf_heat(species, lot, ()))
    assert hatch_shares(clock, 150.0, 0.0 * np.array([1, 5, 30])).tolist() == [0, 0, 0]


def test_where_no_egg_can_be_whole_any_more_all_are_due() -> None:
    species, lot = a_species(), a_lot()
    clock = fresh_clock(species, lot, shelf_heat(species, lot, ()))
    assert hatch_shares(clock, 1e6, np.array([0.0, 5.0])).tolist() == [1, 1]


def test_shares_are_of_the_eggs_still_whole_at_dispatch() -> None:
    species, lot = a_species(hatch_usual_d=14), a_lot(kept_at_c=24)
    clock = fresh_clock(species, lot, shelf_heat(species, lot, ()))
    # half are due by day 14, 95 % by day 21: of those whole on day 14, nine in ten hatch in the next seven
    # days
    assert hatch_shares(clock, 14.0 * 14, 14.0 * np.array([7]))[0] == pytest.approx(0.9, abs=2e-4)


def test_damp_eggs_that_are_ready_already_are_due_with_those_that_get_ready_on_the_way() -> None:
    species, lot = a_species(incubation="damp", hatch_usual_d=14), a_lot(medium="peat", kept_at_c=24)
    clock = fresh_clock(species, lot, shelf_heat(species, lot, ()))
    due = hatch_shares(clock, 14.0 * 14, 14.0 * np.array([0, 7]))
    # half are ready on day 14, 95 % on day 21, and all of them are whole until they are wetted
    assert due == pytest.approx([0.5, 0.95], abs=2e-4)


def test_the_mean_over_dates_is_what_a_ceiling_is_compared_with() -> None:
    risk = hatch_risk(np.array([0.0, 0.1]), np.array([0.75, 0.25]), 10)
    assert risk.per_egg == pytest.approx(0.025)
    assert risk.any_egg == pytest.approx(0.25 * (1 - 0.9**10))


def test_the_chance_of_any_is_not_that_of_the_mean_share() -> None:
    # eggs of a parcel share its journey: a late one hatches many, the others none
    risk = hatch_risk(np.array([0.0, 0.5]), np.array([0.9, 0.1]), 20)
    assert risk.any_egg == pytest.approx(0.1, abs=1e-6)
    assert risk.any_egg < 1 - (1 - risk.per_egg) ** 20


def test_all_hatched_is_certain_and_finite() -> None:
    risk = hatch_risk(np.array([1.0]), np.array([1.0]), 25)
    assert (risk.per_egg, risk.any_egg) == (1.0, 1.0)


def test_a_lot_seen_alive_today_is_not_due_yesterday() -> None:
    species, lot = a_species(), a_lot(kept_at_c=24)
    heat = shelf_heat(species, lot, ())
    late = heat.at(lot.laid_from + timedelta(days=18))
    clock = fresh_clock(species, lot, heat).seen("laid", late, species, 0.1)
    early = heat.at(lot.laid_from + timedelta(days=10))
    assert hatch_shares(clock, early, 14.0 * np.array([1]))[0] == 0
