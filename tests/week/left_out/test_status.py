"""Where a line stands that the plan leaves behind: held where a look decides, stopped where none would do."""

from __future__ import annotations

import pytest

from shipping.options.journey import bit
from shipping.week.left_out.status import StatusOfLines
from shipping.words.reasons import Verdict
from tests.post.a_shelf import a_species
from tests.week.a_week import TUBE, a_lot, a_row, a_week, ago, plan_of


def test_where_the_weather_decides_an_option_that_lacks_more_than_warmth_and_its_day_comes_after() -> None:
    rank = StatusOfLines.rank(False, False, awaits_weather=True)
    warmth, young, day = bit("too-cold") | bit("too-hot"), bit("too-young"), bit("not-before")
    nearest_first = sorted([bit("too-cold") | young, young, warmth | day], key=rank)
    assert nearest_first[0] == warmth | day


@pytest.mark.parametrize(
    ("breath", "stands"), [(2.0, Verdict.HOLD), (400.0, Verdict.STOP)], ids=["air enough", "too little air"]
)
def test_a_lot_presumed_hatched_is_held_for_a_look_only_where_its_tube_has_air_for_the_eggs(
    breath: float, stands: Verdict
) -> None:
    """20 eggs that are known to breathe 2 ug an hour each live in 5 ml of air for a day; at 400 ug not one
    does, and then no look lets the line go.
    """
    species = a_species(keep_min_c=10, keep_max_c=27, o2_basis="published", o2_ug_egg_h=breath)
    old = a_lot(laid_from=ago(25), laid_to=ago(25), counted_on=ago(24), stage=None, stage_on=None)
    tube = TUBE.model_copy(update={"volume_ml": 10, "water_ml": 5})
    (out,) = plan_of(a_week(a_row("A"), lots=(old,), species={"gar": species}, packings=(tube,))).lines_out
    assert out.reasons[0].code == "too-old"
    assert out.verdict == stands
    assert ("no-air" in {reason.code for reason in out.reasons}) == (stands == Verdict.STOP)


@pytest.mark.parametrize(("kept_back", "stands"), [(5, Verdict.HOLD), (6, Verdict.STOP)])
def test_no_look_is_asked_for_where_what_is_kept_back_leaves_too_few_whatever_it_shows(
    kept_back: int, stands: Verdict
) -> None:
    old = {"laid_from": ago(40), "laid_to": ago(40), "counted_on": ago(20), "stage": None, "stage_on": None}
    plan = plan_of(a_week(a_row("A", eggs=20), lots=(a_lot(**old, eggs=25, keep_back=kept_back),)))
    assert [out.verdict for out in plan.lines_out] == [stands]


def test_a_day_that_is_full_is_no_reason_where_others_are_not() -> None:
    week = a_week(
        a_row("A", eggs=20),
        a_row("B", eggs=20),
        lots=(a_lot(eggs=30),),
        settings={"plan": {"parcels_per_day": 1}},
    )
    (out,) = plan_of(week).lines_out
    assert [reason.code for reason in out.reasons] == ["short"]


def test_a_lot_that_is_whole_and_will_have_hatched_by_friday_is_held_for_no_look() -> None:
    """Too near hatching on each day till then: a look of today keeps no egg whole until Friday."""
    species = a_species(hatch_early_d=6, hatch_usual_d=7.5, hatch_late_d=9, keep_min_c=10, keep_max_c=27)
    old = a_lot(laid_from=ago(7), laid_to=ago(7))
    (out,) = plan_of(a_week(a_row("A", eggs=5), lots=(old,), species={"gar": species})).lines_out
    assert (out.verdict, [reason.code for reason in out.reasons]) == (Verdict.STOP, ["would-hatch"])


def test_a_line_that_lots_might_have_shared_names_those_whose_eggs_go_to_others() -> None:
    lots = tuple(a_lot(name, eggs=eggs) for name, eggs in (("G1", 30), ("G2", 30), ("G3", 5)))
    (out,) = plan_of(a_week(a_row("A", eggs=40, price="90"), a_row("B", eggs=40), lots=lots)).lines_out
    (reason,) = out.reasons
    assert (out.order, reason.facts["lots"], reason.facts["takers"]) == ("B", ["G1", "G2"], "A")
