"""The reason that decides: the law where a line stops by it, what a person must answer where it is held."""

from __future__ import annotations

import pytest

from shipping.words.reasons import Reason, Verdict, decisive, nearest_first, over_limit


def test_a_held_line_is_decided_by_what_a_person_must_answer_and_not_by_its_own_day() -> None:
    reasons = nearest_first([Reason("too-cold", "down to 4"), Reason("not-before", "not before the 14th")])
    assert [reason.code for reason in reasons] == ["not-before", "too-cold"]
    assert decisive(Verdict.HOLD, reasons).code == "too-cold"
    assert decisive(Verdict.WAIT, reasons).code == "not-before"


def test_a_line_that_stops_by_law_is_decided_by_the_law() -> None:
    reasons = nearest_first([Reason("closed", "forbidden"), Reason("unpaid", "not paid")])
    assert decisive(Verdict.STOP, reasons).code == "closed"


def test_a_stop_is_headed_by_what_no_look_and_no_answer_removes() -> None:
    look, assumed = Reason("overdue", "still whole"), Reason("too-hot", "30", {"basis": "assumed"})
    reasons = nearest_first([look, assumed, Reason("would-hatch", "half of it")])
    assert reasons[-1].code != "would-hatch"
    assert decisive(Verdict.STOP, reasons).code == "would-hatch"
    assert decisive(Verdict.STOP, nearest_first([look, assumed])).code == "overdue"
    hatched = [Reason("too-old", "most likely hatched"), Reason("would-hatch", "10 % of it")]
    assert decisive(Verdict.STOP, nearest_first(hatched)).code == "too-old"
    assert decisive(Verdict.STOP, nearest_first([*hatched, Reason("too-cold", "4")])).code == "too-cold"


def test_fewer_eggs_than_are_ordered_come_before_what_another_box_or_month_mends() -> None:
    """Nobody opens the boxes for an order of 1000 where 196 eggs are; the law still comes first."""
    cold = Reason("too-cold", "Too cold.", {"basis": "weather"})
    short = Reason("short", "Too few.", {"lot": "N1", "free": 196, "ordered": 1000})
    nearly = Reason("short", "Too few.", {"lot": "N1", "free": 24, "ordered": 20})
    other = Reason("short", "Too few.", {"lot": "N2", "free": 900, "ordered": 1000})
    closed = Reason("closed", "Closed.")
    assert decisive(Verdict.STOP, [short, cold]) is short
    assert decisive(Verdict.STOP, [nearly, cold]) is cold
    assert decisive(Verdict.STOP, [short, other, cold]) is cold
    assert decisive(Verdict.STOP, [short, cold, closed]) is closed


@pytest.mark.parametrize(
    ("near", "far"),
    [
        ({"h_per_egg": 0.06, "hatch_ceiling": 0.05}, {"h_per_egg": 0.03, "hatch_ceiling": 0.01}),
        (
            {"h_per_egg": 0.9, "hatch_ceiling": 0.05},
            {"h_per_egg": 0.001, "near": True, "hatch_ceiling": 0.05},
        ),
        ({"inside_c": 9.0, "limit_c": 10.0}, {"inside_c": 4.0, "limit_c": 10.0}),
        ({"inside_c": 31.0, "limit_c": 30.0}, {"inside_c": 36.0, "limit_c": 30.0}),
        ({"free": 20, "needed": 26}, {"free": 4, "needed": 26}),
        ({"free": 4, "needed": 26}, {"free": 25, "needed": None}),
        ({}, {"inside_c": 9.5, "limit_c": 10.0}),
    ],
)
def test_how_far_a_figure_is_over_its_limit(near: dict[str, object], far: dict[str, object]) -> None:
    assert over_limit(Reason("short", "", near)) < over_limit(Reason("short", "", far))
