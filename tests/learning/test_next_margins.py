"""What next week's margins would be: eggs to pack before and after what was learned, for the routes in
use.
"""

from __future__ import annotations

from datetime import date

import pytest

from shipping.learning.lesson import Lesson, learn
from shipping.learning.losses import Losses
from shipping.learning.next_margins import MOST_ROUTES, margin_lines, next_margins
from shipping.questions.margin import margin_of_route
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
