"""The trade's rules of thumb against the model: common practice, no source; its own table is assumed.

A quick hard-water species, no looks, kept and carried equally warm.
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from shipping.eggs.clock import effective_degrees, fresh_clock, shelf_heat
from shipping.eggs.hatching import HatchRisk, hatch_risk
from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.overpack import chance_enough, overpacks
from shipping.eggs.pairs import pair_chances
from shipping.tables.rows.weather import Weather
from shipping.words.reasons import Verdict
from tests.eggs.one_trip import hatch_shares
from tests.post.a_shelf import TODAY, a_service, a_species
from tests.week.a_week import a_lot, a_row, a_week, ago, going, plan_of

#: Hatches 10 to 15 days after laying.
QUICK = a_species(hatch_early_d=10, hatch_usual_d=None, hatch_late_d=15, incubation_c=24)
SAME_WARMTH = tuple(Weather(to="*", month=month, low_c=24, high_c=24) for month in range(1, 13))


def by_age(days: float) -> float:
    """The share hatched so many days after laying."""
    lot = a_lot(laid_from=TODAY, laid_to=TODAY, stage=None, stage_on=None)
    clock = fresh_clock(QUICK, lot, shelf_heat(QUICK, lot, ()))
    return 1 - float(clock.weight_beyond(days * effective_degrees(24, QUICK))[0])


def after_post(days: int, eggs: int = 25) -> HatchRisk:
    """What hatches of a lot five days old that spends so many days in the post."""
    lot = a_lot(laid_from=ago(5), laid_to=ago(5), stage=None, stage_on=None)
    heat = shelf_heat(QUICK, lot, ())
    h = hatch_shares(
        fresh_clock(QUICK, lot, heat), heat.at(TODAY), effective_degrees(24, QUICK) * np.array([days])
    )
    return hatch_risk(h, np.ones(1), eggs)


def test_a_quick_species_hatches_ten_to_fifteen_days_after_laying() -> None:
    assert by_age(15) - by_age(10) == pytest.approx(0.9, abs=1e-3)
    assert by_age(14) - by_age(10) > 0.8
    assert by_age(9) < 0.01


def test_four_or_five_days_show_which_eggs_are_fertile_and_not_yet_eyes() -> None:
    for days in (4, 5):
        shelf = a_week(
            lots=(a_lot(laid_from=ago(days), laid_to=ago(days), stage="fertile"),), species={"gar": QUICK}
        )
        found = lot_forecast(shelf, "G1")
        assert found.likelihood > 0.85
        assert not found.doubts(TODAY)
    shelf = a_week(
        lots=(a_lot(laid_from=ago(4), laid_to=ago(4), stage=None, stage_on=None),), species={"gar": QUICK}
    )
    assert lot_forecast(shelf, "G1").share_eyed(TODAY) < 0.01


def test_five_days_old_and_sent_next_day_a_tube_is_safe() -> None:
    assert after_post(1).per_egg < 0.01
    assert after_post(1).any_egg < 0.01


def test_after_four_days_in_the_post_a_tube_of_25_is_no_longer_comfortable() -> None:
    assert after_post(4).any_egg > 0.10
    assert after_post(4).per_egg < 0.05


def test_after_seven_days_in_the_post_about_four_eggs_in_ten_have_hatched() -> None:
    assert after_post(7).per_egg == pytest.approx(0.4, abs=0.05)


def packed_in(working_days: int, **order: object) -> set[str]:
    """The packings planned for a lot five days old with eyes that show early, so that they tell little of its
    age.
    """
    shelf = a_week(
        a_row("A", **order),
        lots=(a_lot(laid_from=ago(5), laid_to=ago(5)),),
        species={"gar": QUICK.model_copy(update={"eyed_at": 0.35})},
        services=(
            a_service(early_d=working_days, usual_d=working_days, late_d=working_days, live_eggs="yes"),
        ),
        weather=SAME_WARMTH,
    )
    plan = plan_of(shelf)
    if not plan.parcels:
        assert "would-hatch" in {reason.code for reason in plan.lines_out[0].reasons}
    return {draw.packing for parcel in plan.parcels for line in parcel.lines for draw in line.draws}


def test_next_day_goes_in_a_tube_and_four_days_in_a_breathing_bag() -> None:
    assert packed_in(1) == {"tube 10"}
    assert packed_in(4, not_after=TODAY + timedelta(days=4)) == {"bag"}


def test_no_packing_will_do_for_seven_days() -> None:
    # five working days from a Monday are seven calendar days
    assert packed_in(5) == set()


@pytest.mark.parametrize("loss", [0.10, 0.12, 0.15])
def test_twenty_eggs_ordered_are_sent_as_25_to_30(loss: float) -> None:
    found = overpacks(
        np.full((1, 1), 1 - loss), np.ones((1, 1)), np.array([20]), np.array([100]), np.array([40.0]), 0.95
    )
    assert 25 <= found.pack[0] <= 30


def test_nineteen_alive_of_twenty_is_a_short_count() -> None:
    # each egg lives with 0.99, for itself: all twenty live with 0.99^20, and nothing less is enough
    chance = chance_enough(((20, np.array([0.99]), 1e9),), np.ones(1), 20)
    assert chance == pytest.approx(0.99**20, abs=1e-6)


def test_a_unit_of_eggs_not_seen_fertile_almost_surely_holds_one_that_will_fungus() -> None:
    assert 1 - chance_enough(((5, np.array([0.85]), 1e9),), np.ones(1), 5) == pytest.approx(
        1 - 0.85**5, abs=1e-6
    )
    assert 1 - 0.85**20 > 0.95


def test_twenty_eggs_give_a_pair_with_luck_a_trio_and_two_sets_make_two_pairs() -> None:
    # half to three quarters of the eggs become grown fish
    for grown in (0.3, 0.5, 0.7):
        one, two = pair_chances(20, grown), pair_chances(40, grown)
        assert one["pair"] > 0.9
        assert one["pair"] > one["trio"] > 0.75
        assert two["two pairs"] > 0.9


def test_a_lot_past_its_late_day_and_whole_is_held_for_a_person_and_never_goes_in_a_tube() -> None:
    shelf = a_week(
        a_row("A"),
        lots=(a_lot(laid_from=ago(25), laid_to=ago(25), stage_on=ago(19)),),
        species={"gar": QUICK},
    )
    found = lot_forecast(shelf, "G1")
    assert found.is_overdue
    assert found.eggs_on(TODAY) == 100
    assert found.free_on(TODAY) == 0
    plan = plan_of(shelf)
    assert not going(plan)
    (out,) = plan.lines_out
    assert out.verdict is Verdict.HOLD
    assert out.reasons[0].code == "overdue"
