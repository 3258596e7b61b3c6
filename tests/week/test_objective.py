"""What serving a line is worth: its value, and what it would be worth for each week waited."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from shipping.week.objective import base_values, dispatch_days, egg_value, weeks_waited, worths
from tests.post.a_shelf import TODAY
from tests.week.a_week import WEEK, a_row, a_week, ago


def test_age_is_the_value_for_each_week_waited() -> None:
    worth = worths(a_week(a_row("A", placed_on=ago(14)), a_row("B", placed_on=ago(14), price="30")))
    one, other = worth["A", 1], worth["B", 1]
    assert one.age == pytest.approx(2 * 10)
    assert other.age == pytest.approx(2 * 30)


def test_what_is_owed_again_is_worth_more_than_all_orders_of_its_fish_that_wait() -> None:
    shelf = a_week(a_row("A", placed_on=ago(21)), a_row("B", placed_on=ago(3)), a_row("C", placed_on=ago(-1)))
    old, owed, young = shelf.orders
    assert [weeks_waited(shelf, order) for order in shelf.orders] == pytest.approx([3, 3 / 7, 0])
    own = worths(shelf)["B", 1].value
    worth = worths(replace(shelf, orders=(old, replace(owed, is_owed=True), young)))
    assert worth["B", 1].value == pytest.approx(worth["A", 1].value + worth["C", 1].value + own)


def test_a_line_given_free_counts_its_eggs_at_the_median_price_of_an_egg() -> None:
    """Eggs at 0.50, 1 and 4 each; the free ones are not dearer for being owed."""
    rows = [a_row(name, eggs=eggs, price=price) for name, eggs, price in (("A", 20, "10"), ("B", 10, "10"))]
    shelf = a_week(*rows, a_row("C", eggs=5, price="20"), a_row("D", eggs=30, price="0"))
    *paid, free = shelf.orders
    shelf = replace(shelf, orders=(*paid, replace(free, is_owed=True)))
    assert egg_value(shelf) == 1
    assert list(base_values(shelf).values()) == [10, 10, 20, 30]


def test_where_a_line_has_no_price_eggs_are_what_counts() -> None:
    shelf = a_week(a_row("A", eggs=20, price="90"), a_row("B", eggs=12, price=None))
    assert list(base_values(shelf).values()) == [20, 12]


def test_today_is_a_day_to_post_and_yesterday_is_none() -> None:
    shelf = a_week(
        today=TODAY + timedelta(days=2), settings={"plan": {"dispatch_days": ["Tue", "Wed", "Fri"]}}
    )
    assert [day - TODAY for day in dispatch_days(shelf, WEEK)] == [timedelta(days=2), timedelta(days=4)]
