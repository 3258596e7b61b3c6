"""What next week's margins would be: eggs to pack before and after what was learned, for the routes in
use.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import date

import pytest

from shipping.learning.lesson import Lesson, learn
from shipping.learning.losses import LOSS_DOUBT, Losses
from shipping.learning.next_margins import (
    MOST_ROUTES,
    margin_lines,
    margin_sentence,
    next_margins,
    silence_sentence,
)
from shipping.learning.silence import scale_of_promises
from shipping.ledger.kept import kept_parcels
from shipping.questions.margin import margin_of_route
from shipping.words.three_point import Z95
from tests.ledger.desk import draw, line, parcel, plan
from tests.ledger.invented import drawn, outcome, shelf

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
        == f"  tube, letter to DK: {margin.before.pack} -> {margin.after.pack}"
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
