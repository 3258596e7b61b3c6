"""Until when a line waits: days on which what the plan leaves will do, and what spawning groups should give
by then.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta
from typing import Any

import pytest

from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.tables.rows.lots import Group
from shipping.week.choices import Choices
from shipping.week.left_out.queue import Queue
from shipping.week.left_out.stock import HORIZON_D
from shipping.week.objective import dispatch_days, next_week
from shipping.week.plan import make_plan
from shipping.week.plan_data import LineOut, Plan
from shipping.words.reasons import LOOKS, Verdict
from shipping.words.units import shipped_folder, weekday
from tests.post.a_shelf import TODAY, a_service, a_species
from tests.week.a_week import WEEK, a_lot, a_row, a_week, ago, going, plan_of


def out(plan: Plan, order: str, line: int = 1) -> LineOut:
    return next(one for one in plan.lines_out if (one.order, one.line) == (order, line))


def a_group(**cells: Any) -> Group:
    return Group(**({"group": "trio", "species": "gar", "eggs_a_day": 10} | cells))


def young(name: str, **cells: Any) -> Any:
    """A lot that shows eyes next week only."""
    return a_lot(name, **({"laid_from": ago(1), "laid_to": ago(1), "stage": "laid"} | cells))


def test_a_damp_lot_whose_days_to_wet_end_on_the_way_asks_for_no_look() -> None:
    shelf = read_shelf(shipped_folder("demo_orders"), TODAY).shelf
    assert shelf is not None
    found = out(make_plan(shelf, next_week(WEEK)), "D27")
    assert found.verdict is not Verdict.HOLD
    assert LOOKS.isdisjoint(reason.code for reason in found.reasons)


def test_a_line_whose_eggs_go_to_others_waits_for_the_group_and_says_until_when() -> None:
    rows = (a_row("A", price="10"), a_row("B", price="12"))
    plan = plan_of(a_week(*rows, lots=(a_lot(eggs=30),), groups=(a_group(),)))
    assert going(plan) == {"B"}
    # 1.5 x 20 eggs at 8.5 fertile a day are 3.5 days; eyes show after half of the usual 15.9 days: 12 or 11
    # days from Monday
    until = out(plan, "A").until
    assert until is not None
    assert TODAY + timedelta(days=11) <= until <= TODAY + timedelta(days=14)


def test_without_a_group_nobody_knows() -> None:
    plan = plan_of(a_week(a_row("A", price="10"), a_row("B", price="12"), lots=(a_lot(eggs=30),)))
    assert (out(plan, "A").verdict, out(plan, "A").until) == (Verdict.WAIT, None)


def test_two_lines_never_wait_for_the_same_eggs() -> None:
    rows = (a_row("OLD", placed_on=ago(9)), a_row("NEW", placed_on=ago(2)))
    enough = plan_of(a_week(*rows, lots=(young("Y", eggs=100),)))
    assert out(enough, "OLD").until == out(enough, "NEW").until is not None
    scarce = plan_of(a_week(*rows, lots=(young("Y", eggs=35),)))
    assert out(scarce, "OLD").until is not None
    assert (out(scarce, "NEW").verdict, out(scarce, "NEW").until) == (Verdict.WAIT, None)


@pytest.mark.parametrize("not_before", [None, TODAY + timedelta(days=9)])
def test_too_few_eggs_are_waited_for_in_every_week_until_their_lot_is_too_far(
    not_before: date | None,
) -> None:
    """A hundred eggs show eyes next week, and ninety ordered ask for more; the week after they hatch."""
    shelf = a_week(a_row("A", 90, not_before=not_before), lots=(young("Y", eggs=100),))
    weeks = (WEEK, next_week(WEEK), next_week(next_week(WEEK)))
    found = [out(make_plan(shelf, week), "A") for week in weeks]
    wanted = [Verdict.WAIT, Verdict.WAIT, Verdict.STOP]
    assert [(one.verdict, one.until) for one in found] == [(verdict, None) for verdict in wanted]
    assert ("not-before" in {reason.code for reason in found[0].reasons}) is (not_before is not None)


def test_what_a_group_gives_goes_to_the_older_order_first() -> None:
    rows = (a_row("OLD", placed_on=ago(9)), a_row("NEW", placed_on=ago(2)))
    plan = plan_of(a_week(*rows, lots=(), groups=(a_group(eggs_a_day=3),)))
    old, new = out(plan, "OLD").until, out(plan, "NEW").until
    assert old is not None
    assert new is not None
    # 30 eggs at 2.55 fertile a day are 11.8 days of laying: so much later
    assert (new - old).days in range(10, 15)


def test_eggs_the_plan_draws_are_not_waited_for() -> None:
    """Twenty-eight eggs on the cool shelf: this week's order takes them, so the one that may go later has
    none.
    """
    cool = a_lot("COOL", laid_from=ago(30), laid_to=ago(30), kept_at_c=14, eggs=28)
    later = TODAY + timedelta(days=7)
    plan = plan_of(a_week(a_row("A"), a_row("B", not_before=later), lots=(cool,)))
    assert going(plan) == {"A"}
    assert (out(plan, "B").verdict, out(plan, "B").until) == (Verdict.WAIT, None)
    alone = plan_of(a_week(a_row("B", not_before=later), lots=(cool,)))
    assert out(alone, "B").until == later


def test_two_lots_that_do_together_are_waited_for() -> None:
    lots = (young("Y1", eggs=18), young("Y2", eggs=18))
    assert out(plan_of(a_week(a_row("A"), lots=lots)), "A").until is not None
    settings = {"plan": {"lots_a_line": 1}}
    assert out(plan_of(a_week(a_row("A"), lots=lots, settings=settings)), "A").until is None


def test_a_date_is_a_day_to_post_with_hand_over() -> None:
    letter = a_service(early_d=1, usual_d=1, late_d=1, live_eggs="yes", hand_over="Tue")
    plan = plan_of(a_week(a_row("A"), lots=(), groups=(a_group(),), services=(letter,)))
    until = out(plan, "A").until
    assert until is not None
    assert until.weekday() == 1


def test_an_order_that_travels_whole_waits_for_its_last_line() -> None:
    species = {
        "gar": a_species(keep_min_c=10, keep_max_c=27),
        "jor": a_species(species="jor", keep_min_c=10, keep_max_c=27),
    }
    lots = (young("Y"), young("Z", species="jor", kept_at_c=19))
    rows = (a_row("A"), a_row("A", species="jor"))
    whole = plan_of(a_week(*rows, lots=lots, species=species))
    assert out(whole, "A", 1).until == out(whole, "A", 2).until
    split = plan_of(
        a_week(*(row.model_copy(update={"parts": "may split"}) for row in rows), lots=lots, species=species)
    )
    first, second = out(split, "A", 1).until, out(split, "A", 2).until
    assert first is not None
    assert second is not None
    assert first < second == out(whole, "A", 1).until


def test_a_line_of_an_order_that_travels_whole_has_no_date_while_another_is_stopped() -> None:
    species = {
        "gar": a_species(keep_min_c=10, keep_max_c=27),
        "jor": a_species(species="jor", keep_min_c=10, keep_max_c=27),
    }
    plan = plan_of(a_week(a_row("A"), a_row("A", species="jor"), lots=(young("Y"),), species=species))
    assert (out(plan, "A", 1).verdict, out(plan, "A", 1).until) == (Verdict.WAIT, None)
    assert out(plan, "A", 2).verdict is Verdict.STOP


def test_a_group_that_ends_too_early_gives_no_date() -> None:
    ending = a_group(until_day=TODAY + timedelta(days=2))
    assert out(plan_of(a_week(a_row("A"), lots=(), groups=(ending,))), "A").verdict is Verdict.STOP


@pytest.mark.parametrize(
    ("not_after", "verdict"), [(date(2026, 12, 4), Verdict.STOP), (date(2026, 12, 31), Verdict.WAIT)]
)
def test_a_group_is_not_waited_for_past_the_order_s_last_day(not_after: date, verdict: Verdict) -> None:
    plan = plan_of(a_week(a_row("A", not_after=not_after), lots=(), groups=(a_group(),)))
    assert out(plan, "A").verdict is verdict


def test_later_days_begin_after_the_week_and_are_days_to_post() -> None:
    shelf = a_week()
    days = dispatch_days(shelf, WEEK)
    choices = Choices(OptionFactory(shelf), days, dispatch_days(shelf, next_week(WEEK)))
    later = Queue.behind(choices, ()).later_days
    assert later[0] == next_day_to_post(days[-1], shelf.settings.plan.dispatch_days)
    assert {weekday(day) for day in later} == set(shelf.settings.plan.dispatch_days)
    assert later[-1] <= TODAY + timedelta(days=HORIZON_D)


def next_day_to_post(last: date, names: Collection[str]) -> date:
    ahead = (last + timedelta(days=n) for n in range(1, 8))
    return next(day for day in ahead if weekday(day) in names)


def old(name: str, **cells: Any) -> Any:
    """A lot that hatches next week."""
    return a_lot(name, **({"laid_from": ago(11), "laid_to": ago(11)} | cells))


def test_a_line_of_next_week_that_may_still_go_this_week_is_told_to_be_planned_first() -> None:
    found = out(make_plan(a_week(a_row("A"), lots=(old("G1"),)), next_week(WEEK)), "A")
    assert (found.verdict, found.until) == (Verdict.WAIT, TODAY)
    first, *others = found.reasons
    assert (first.code, first.facts) == ("sooner", {"week": WEEK})
    assert "would-hatch" in {reason.code for reason in others}


def test_eggs_that_go_sooner_are_promised_to_one_line_only() -> None:
    plan = make_plan(a_week(a_row("A"), a_row("B"), lots=(old("G1", eggs=30),)), next_week(WEEK))
    assert [out(plan, order).verdict for order in "AB"] == [Verdict.WAIT, Verdict.STOP]


@pytest.mark.parametrize(("parts", "verdict"), [("may split", Verdict.WAIT), ("together", Verdict.STOP)])
def test_an_order_that_travels_whole_goes_sooner_only_with_all_its_lines(
    parts: str, verdict: Verdict
) -> None:
    rows = (a_row("A", parts=parts), a_row("A", population="Nowhere", parts=parts))
    plan = make_plan(a_week(*rows, lots=(old("G1", population=""),)), next_week(WEEK))
    assert out(plan, "A").verdict is verdict


def test_what_may_go_instead_goes_sooner_too() -> None:
    row = a_row("A", population="Nowhere", instead="gar/Somewhere")
    found = out(make_plan(a_week(row, lots=(old("G1", population="Somewhere"),)), next_week(WEEK)), "A")
    assert found.reasons[0].code == "sooner"
