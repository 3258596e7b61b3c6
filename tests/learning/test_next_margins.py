"""What next week's margins would be: eggs to pack before and after what was learned, for the routes in
use.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from shipping.learning.lesson import Learned, Lesson, learn
from shipping.learning.losses import LOSS_DOUBT, Losses
from shipping.learning.next_margins import (
    MOST_ROUTES,
    NextMargin,
    kept_sentence,
    left_out_sentence,
    margin_lines,
    margin_sentence,
    next_margins,
    one_line_sentence,
    silence_sentence,
)
from shipping.learning.silence import scale_of_promises
from shipping.ledger.kept_parcel import kept_parcels
from shipping.questions.margin import Margin, margin_of_route
from shipping.tables.learned_values import applied
from shipping.words.problems import Where
from shipping.words.three_point import Z95
from tests.ledger.desk import draw, line, parcel, plan
from tests.ledger.invented import TODAY, drawn, outcome, rate, shelf
from tests.week.a_week import a_row, orders

TRUTH = Losses(0.08, 0.03, 15.0)


def test_margins_grow_where_more_was_lost_than_the_table_says() -> None:
    found = drawn(300, TRUTH, 1)
    (margin,) = next_margins(shelf(), found, learn(shelf(), found))
    assert (margin.packing, margin.service, margin.to, margin.ordered) == ("tube", "letter", "DK", 20)
    assert margin.on == date(2026, 12, 7), "the first dispatch day of next week"
    assert margin.before == margin_of_route(shelf(), 20, "tube", "letter", "DK", margin.on, True)
    assert margin.before.pack is not None
    assert margin.after.pack is not None
    assert margin.after.pack > margin.before.pack + 2
    assert (
        list(margin_lines((margin,)))[1]
        == f"  tube, letter to Denmark: {margin.before.pack} -> {margin.after.pack}"
    )


def test_margins_stand_where_nothing_was_learned() -> None:
    (margin,) = next_margins(shelf(), [outcome(1)], Lesson((), 1, 0))
    assert margin.before == margin.after


def test_the_routes_most_used_are_shown_and_none_of_eggs_bought_in() -> None:
    many = [outcome(n, to=to) for n, to in enumerate(["DE", "DE", "DK", "FR"])]
    bought = outcome(9, to="SE", bought_from="SE")
    margins = next_margins(shelf(), [*many, bought, outcome(10, packing="gone")], Lesson((), 0, 0))
    assert [margin.to for margin in margins] == ["DE", "DK", "FR"]
    assert len(margins) <= MOST_ROUTES


@pytest.mark.parametrize("ruined", [0, 1])
def test_a_single_disaster_does_not_double_a_margin_of_next_week(ruined: int) -> None:
    found = (*drawn(10, Losses(0.03, 0.01, 40.0), 5), *(outcome(90_000 + n, living=0) for n in range(ruined)))
    (margin,) = next_margins(shelf(), found, learn(shelf(), found))
    assert margin.before.pack is not None
    assert margin.after.pack is not None
    assert margin.after.pack - 20 <= margin.before.pack - 20 + 2


def test_what_rests_on_one_line_is_said_with_the_count_without_it() -> None:
    small = outcome(3, packed=12, living=12)  # as few alive, and all of them
    few = (*(outcome(n, living=24) for n in range(2)), small, outcome(7, packed=25, living=15))
    margins = next_margins(shelf(), few, learn(shelf(), few))
    (without,) = next_margins(shelf(), few[:-1], learn(shelf(), few[:-1]))
    said = one_line_sentence(shelf(), few, margins)
    assert f": 15 of 25 alive. Without it {without.after.pack} would do." in said
    several = tuple(outcome(n, packed=25, living=16) for n in range(4))
    assert one_line_sentence(shelf(), several, next_margins(shelf(), several, learn(shelf(), several))) == ""


def test_a_count_that_falls_rests_on_no_bad_line() -> None:
    """The others are so good that fewer eggs do; without the bad one even fewer would."""
    few = (*(outcome(n, living=24) for n in range(6)), outcome(7, living=20))
    margins = next_margins(shelf(), few, learn(shelf(), few))
    assert (margins[0].after.pack or 0) < (margins[0].before.pack or 0)
    assert one_line_sentence(shelf(), few, margins) == ""


def test_the_sentence_says_how_sure_it_is_and_which_kept_lines_it_concerns() -> None:
    found = drawn(300, TRUTH, 1)
    (waiting,) = kept_parcels(plan(parcel("2026-W49-07", "", line("S70", 1, 20, draw("L1", 24)))), 1, {})
    (margin,) = next_margins(shelf(), found, learn(shelf(), found), [waiting])
    assert margin.least is not None
    assert margin.most is not None
    assert margin.least <= (margin.after.pack or 0) <= margin.most <= margin.least + 8
    said = margin_sentence([margin])
    assert f"({margin.least} to {margin.most}, by what is known of the losses)" in said
    assert said.endswith("1 kept line is planned by the old count: S70:1.")


def test_hundreds_of_lines_narrow_what_all_losses_may_be_multiplied_by() -> None:
    """Far narrower than what is believed of a packing before anything was sent, and round the truth."""
    every = drawn(300, Losses(0.03, 0.01, 40.0), 3)
    scale = scale_of_promises(shelf(), [replace(one, living=None, arrived_on=None) for one in every[:150]])
    assert scale.low < scale.value < scale.high
    told = scale_of_promises(shelf(), every)
    assert told.low < 1.0 < told.high
    assert math.log(told.high / told.low) < Z95 * LOSS_DOUBT


def test_what_silence_may_hide_is_said_as_two_counts() -> None:
    """Bad news alone was told: 30 of 300 lines, all of them broken."""
    every = drawn(300, Losses(0.03, 0.01, 40.0), 3)
    broken = sorted((one for one in every if one.living is not None), key=lambda one: one.living / one.packed)
    told = {one.parcel for one in broken[:30]}
    found = [one if one.parcel in told else replace(one, living=None, arrived_on=None) for one in every]
    margins = next_margins(shelf(), found, learn(shelf(), found))
    said = silence_sentence(shelf(), found, margins)
    good, alike = map(int, re.findall(r"(\d+) to pack if all 270 silent lines were good, (\d+) if", said)[0])
    assert abs(good - (margins[0].before.pack or 0)) <= 1
    assert alike > good + 2
    assert silence_sentence(shelf(), every, margins) == ""


def margin_of(to: str, before: int | None, after: int | None, *kept: str) -> NextMargin:
    told = [Margin(20, pack, 0.95, 20.0, 0.95, "") for pack in (before, after)]
    return NextMargin("tube", "letter", to, date(2026, 12, 7), 20, *told, kept=kept)


def test_the_sentence_tells_the_count_that_changes_most_up_or_down() -> None:
    said = margin_sentence([margin_of("DE", 22, 24), margin_of("DK", 30, 25), margin_of("FR", 23, 23)])
    assert said.startswith(
        "Routes with another count next week: 2 of 3. For 20 eggs in tube by letter to Denmark 25"
    )


def test_lines_kept_by_an_old_count_are_named_up_to_six_and_the_others_counted() -> None:
    lines = [f"S{n}:1" for n in range(1, 9)]
    said = margin_sentence([margin_of("DE", 22, 24, *lines[:4]), margin_of("DK", 22, 23, *lines[3:])])
    assert said.endswith(f" 8 kept lines are planned by the old count: {', '.join(lines[:6])} and 2 more.")


def test_lines_already_packed_are_not_planned_again() -> None:
    made = (parcel(f"2026-W49-0{n}", "", line(f"S{n}", 1, 20, draw("L1", 24))) for n in (1, 2))
    waiting, packed = kept_parcels(plan(*made), 1, {})
    (margin,) = next_margins(
        shelf(), [outcome(1)], Lesson((), 1, 0), [waiting, replace(packed, state="packed")]
    )
    assert margin.kept == ("S1:1",)


def test_where_more_routes_were_used_than_are_shown_the_least_used_is_left_out() -> None:
    places = ["AT", "BE", "BG", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "IE", "IT", "NL"]
    many = [outcome(n, to=to) for n, to in enumerate([*places, *places[:3], *places[4:]])]
    assert len(places) == MOST_ROUTES + 1
    shown = [margin.to for margin in next_margins(shelf(), many, Lesson((), 0, 0))]
    assert shown == [to for to in places if to != "CZ"]


def test_a_margin_is_of_the_median_line_in_hand_the_larger_of_two() -> None:
    rows = (a_row("A", eggs=12, species="gardneri"), a_row("B", eggs=30, species="gardneri"))
    (margin,) = next_margins(replace(shelf(), orders=orders(*rows)), [outcome(1)], Lesson((), 1, 0))
    assert margin.ordered == 30


def test_a_week_without_a_day_to_post_is_asked_about_a_week_from_today() -> None:
    place = shelf()
    days = place.settings.plan.model_copy(update={"dispatch_days": ()})
    place = replace(place, settings=place.settings.model_copy(update={"plan": days}))
    (margin,) = next_margins(place, [outcome(1)], Lesson((), 1, 0))
    assert margin.on == date(2026, 12, 7) == TODAY + timedelta(days=7)


def learned(what: str, before: float, after: float, low: float, high: float, **more: bool) -> Learned:
    return Learned(what, "tube/water", before, after, "", 30, low, high, "", **more)


def test_each_end_of_a_margin_goes_the_root_of_a_half_of_the_way_in_each_loss() -> None:
    """Handling 0.05 (0.02 to 0.10), 0.02 a day (0.01 to 0.05); how alike eggs fare stays as learned."""
    rates = (
        learned("loss_handling", 0.03, 0.05, 0.02, 0.10),
        learned("loss_per_day", 0.01, 0.02, 0.01, 0.05),
        learned("kappa", 40.0, 20.0, 5.0, 80.0),
    )
    (margin,) = next_margins(shelf(), [outcome(1)], Lesson(rates, 1, 0))
    ends = []
    for handling, per_day in ((0.02 / 0.05, 0.01 / 0.02), (0.10 / 0.05, 0.05 / 0.02)):
        values = (0.05 * handling ** math.sqrt(0.5), 0.02 * per_day ** math.sqrt(0.5), 20.0)
        rows = [rate(one.what, one.for_, value, TODAY) for one, value in zip(rates, values, strict=True)]
        ends.append(
            margin_of_route(applied(shelf(rates=tuple(rows))), 20, *margin.route, margin.on, True).pack
        )
    assert [margin.least, margin.most] == ends
    assert margin.after.pack not in ends


def test_a_loss_learned_as_none_has_no_ends_and_what_the_breeder_overrules_stays_his() -> None:
    none = learned("loss_handling", 0.03, 0.0, 0.001, 0.01)
    his = learned("loss_per_day", 0.01, 0.2, 0.1, 0.3, overruled=True)
    (margin,) = next_margins(shelf(), [outcome(1)], Lesson((none, his), 1, 0))
    assert margin.least == margin.most == margin.after.pack
    assert margin.after.pack < (margin.before.pack or 0)


def test_the_margins_of_today_are_by_the_rates_that_hold_today() -> None:
    place = shelf(rates=(rate("loss_handling", "tube", 0.3, TODAY),))
    (margin,) = next_margins(place, [outcome(1)], Lesson((), 1, 0))
    assert margin.before == margin_of_route(applied(place), 20, *margin.route, margin.on, True)
    assert margin.before != margin_of_route(shelf(), 20, *margin.route, margin.on, True)


def test_what_is_learned_again_that_day_is_in_the_place_of_what_was_learned_before() -> None:
    kept = rate("loss_handling", "tube/water", 0.3, TODAY).model_copy(update={"basis": "learned"})
    place = shelf(rates=(kept.model_copy(update={"at": Where("learned.csv", 9)}),))
    lesson = Lesson((learned("loss_handling", 0.3, 0.01, 0.01, 0.01),), 1, 0)
    (margin,) = next_margins(place, [outcome(1)], lesson)
    assert (margin.after.pack or 0) < (margin.before.pack or 0)


def test_what_silence_may_hide_is_told_of_the_route_most_used() -> None:
    sent = drawn(60, Losses(0.03, 0.01, 40.0), 3)
    found = [
        replace(one, to="DK" if n < 20 else "DE", living=one.living if n % 4 else None)
        for n, one in enumerate(sent)
    ]
    margins = next_margins(shelf(), found, Lesson((), 0, 0))
    assert [margin.to for margin in margins] == ["DE", "DK"]
    assert "in tube by letter to Germany: " in silence_sentence(shelf(), found, margins)


def test_eggs_that_reports_leave_out_are_said_to_be_read_as_lost() -> None:
    partly = replace(outcome(1, living=20), packed=23)
    whole = replace(outcome(2, living=20, dead=2, missing=1), packed=23)
    assert left_out_sentence([partly, replace(partly, bought_from="DE"), whole, outcome(3, living=None)]) == (
        "Left out of reports: 3 eggs in 1 line. Here they are read as lost; under 'Lost by post' they are not"
        " told of."
    )
    assert left_out_sentence([whole]) == ""


def test_what_was_written_says_how_much_of_it_was_told_of() -> None:
    told, beside = (rate("loss_handling", way, 0.03, TODAY) for way in ("tube/water", "bag/damp"))
    rows = [told.model_copy(update={"n": 1}), beside.model_copy(update={"n": 0})]
    assert kept_sentence("learned.csv", rows).startswith(
        "Values kept: 2. From what was told or seen: 1; of packings that nobody told of,"
    )
    assert kept_sentence("learned.csv", []).startswith("Nothing new: ")
