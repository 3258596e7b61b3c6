"""Every line of the tables has a place in the account that stands beside a plan."""

from __future__ import annotations

from dataclasses import replace

import pytest

from shipping.ledger.planning_again import plan_account
from tests.week.a_week import a_lot, a_row, a_week, plan_of


def test_every_line_is_planned_or_left_out() -> None:
    shelf = a_week(a_row("A"), a_row("B", eggs=500), lots=(a_lot(),))
    account = plan_account(plan_of(shelf), shelf, None)
    assert account.stands == {("A", 1): "planned", ("B", 1): "out"}
    assert account.counts["lines"] == 2


def test_a_line_that_the_plan_forgot_is_our_mistake() -> None:
    shelf = a_week(a_row("A"), a_row("B", eggs=500), lots=(a_lot(),))
    forgetful = replace(plan_of(shelf), lines_out=())
    with pytest.raises(AssertionError, match="without a place"):
        plan_account(forgetful, shelf, None)
