"""What serving a line is worth: its value, and what it would be worth for each week waited."""

from __future__ import annotations

import pytest

from shipping.week.objective import worths
from tests.week.a_week import a_row, a_week, ago


def test_age_is_the_value_for_each_week_waited() -> None:
    worth = worths(a_week(a_row("A", placed_on=ago(14)), a_row("B", placed_on=ago(14), price="30")))
    one, other = worth["A", 1], worth["B", 1]
    assert one.age == pytest.approx(2 * 10)
    assert other.age == pytest.approx(2 * 30)
