"""What hatches unsold is what the plan leaves of lots that hatch by the last posting day of next week."""

from __future__ import annotations

from datetime import date

import pytest

from shipping.questions.week_summary import Cause, Unsold, causes, unsold
from shipping.week.plan import make_plan
from shipping.week.plan_data import LineOut
from shipping.words.reasons import Reason, Verdict
from tests.post.a_shelf import a_rule, a_species
from tests.week.a_week import WEEK, a_lot, a_row, a_week, ago

#: Every egg hatches on the fourteenth day.
SURE = a_species(keep_min_c=10, keep_max_c=27, hatch_early_d=14, hatch_usual_d=14, hatch_late_d=14)
FRIDAY_AFTER = date(2026, 12, 11)


def test_only_eggs_left_in_water_that_hatch_by_friday_of_next_week_are_named() -> None:
    lots = (
        a_lot("OLD", laid_from=ago(9), laid_to=ago(9)),  # hatches on 5 December
        a_lot("EDGE", laid_from=ago(3), laid_to=ago(3), stage="fertile"),  # on 11 December
        a_lot("YOUNG", laid_from=ago(2), laid_to=ago(2), stage="fertile"),  # on 12 December
        a_lot("MOSS", laid_from=ago(9), laid_to=ago(9), medium="moss"),
    )
    alone = a_week(lots=lots, species={"gar": SURE})
    assert unsold(make_plan(alone, WEEK), alone) == (
        Unsold("EDGE", 100, FRIDAY_AFTER),
        Unsold("OLD", 100, FRIDAY_AFTER),
    )
    ordered = a_week(a_row("A"), lots=lots, species={"gar": SURE})
    plan = make_plan(ordered, WEEK)
    drawn = {use.lot: use.drawn for use in plan.lots}
    assert drawn["OLD"] > 0
    named = {one.lot: one.eggs for one in unsold(plan, ordered)}
    assert named == {"EDGE": 100 - drawn["EDGE"], "OLD": 100 - drawn["OLD"]}


def test_a_lot_whose_fish_is_closed_at_home_is_not_called_unsold() -> None:
    lots = (a_lot("OLD", laid_from=ago(9), laid_to=ago(9)),)
    for verdict, named in (("open", ["OLD"]), ("closed", [])):
        shelf = a_week(lots=lots, species={"gar": SURE}, rules=(a_rule(2, verdict=verdict),))
        assert [one.lot for one in unsold(make_plan(shelf, WEEK), shelf)] == named


@pytest.mark.parametrize(
    ("codes", "more"),
    [((["short"],), 0), ((["short", "short"],), 0), ((["short"], ["short", "unpaid", "no-rule"]), 2)],
)
def test_further_reasons_are_those_of_other_kinds_beside_the_one_that_decides(
    codes: tuple[list[str], ...], more: int
) -> None:
    lines = tuple(
        LineOut(
            "A",
            n,
            Verdict.WAIT,
            None,
            tuple(Reason(code, f"{code} {m}", {}, "") for m, code in enumerate(of)),
        )
        for n, of in enumerate(codes)
    )
    assert Cause(Verdict.WAIT, lines[0].reasons[0], lines).more == more


def test_lines_that_share_a_cause_and_need_unlike_counts_say_the_least_and_the_most() -> None:
    def told(*needed: int) -> object:
        short = (Reason("short", "", {"lot": "L", "free": 0, "needed": n}, "") for n in needed)
        (cause,) = causes([LineOut("A", n, Verdict.STOP, None, (one,)) for n, one in enumerate(short)])
        return cause.reason.facts["needed"]

    assert told(28, 19) == "19–28"
    assert told(28, 28) == 28
