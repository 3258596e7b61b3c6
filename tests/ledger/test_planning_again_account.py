"""Every line of the tables has a place in the account that stands beside a plan."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from shipping.ledger.kept_parcel import kept_parcels
from shipping.ledger.ledger import Ledger
from shipping.ledger.planning_again import PlanAccount, overdue_lines, plan_account
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import LineOut
from shipping.words.reasons import Reason, Verdict
from tests.ledger.desk import TODAY, draw, line, parcel
from tests.ledger.desk import plan as desk_plan
from tests.week.a_week import a_lot, a_row, a_week, plan_of


def test_every_line_is_planned_or_left_out() -> None:
    shelf = a_week(a_row("A"), a_row("B", eggs=500), lots=(a_lot(),))
    account = plan_account(plan_of(shelf), shelf, None)
    assert account.stands == {("A", 1): "planned", ("B", 1): "out"}
    assert account.counts["lines"] == 2


def beside(ledger: Ledger, shelf: Shelf, *lines_out: LineOut, on: date = TODAY) -> PlanAccount:
    """The account of a plan of week 49 that makes no parcel."""
    plan = replace(plan_of(a_week()), lines_out=lines_out)
    return plan_account(plan, replace(shelf, today=on), ledger)


def parcel_of(order: str, number: int, week: str = "2026-W49", on: str = "2026-11-30") -> dict[str, Any]:
    kept = parcel(f"{week}-{number:02d}", f"Buyer {order}", line(order, 1, 20, draw("G1", 24)))
    return kept | {"dispatch_on": on}


def test_lines_in_parcels_stand_where_their_parcel_is_and_are_kept_only_for_another_week(
    tmp_path: Path,
) -> None:
    shelf = a_week(*(a_row(name) for name in "ABCD"))
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        ledger.keep_plan(desk_plan(parcel_of("A", 1), parcel_of("B", 2), parcel_of("C", 3)))
        ledger.keep_plan(desk_plan(parcel_of("D", 1, "2026-W50", "2026-12-07"), week="2026-W50"))
        ledger.pack("2026-W49-01")
        ledger.pack("2026-W49-02")
        ledger.send("2026-W49-02")
        waits = LineOut("C", 1, Verdict.WAIT, None, (Reason("short", "Too few.", {}, ""),))
        account = beside(ledger, shelf, waits)
    assert account.stands == {("A", 1): "packed", ("B", 1): "sent", ("C", 1): "out", ("D", 1): "kept"}
    assert [kept.parcel for kept in account.beside] == ["2026-W49-01", "2026-W49-02", "2026-W50-01"]
    assert list(account.lines()) == [
        "Parcel 2026-W49-01 is packed for Mon 30 Nov: 24 eggs.",
        "Parcel 2026-W50-01 is kept for Mon 7 Dec: 24 eggs.",
    ]


def test_a_cancelled_line_and_one_gone_from_the_tables_count_as_cancelled_until_the_parcel_is_handed_over(
    tmp_path: Path,
) -> None:
    shelf = replace(a_week(), cancelled=frozenset({("A", 1), ("B", 1)}))
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        ledger.keep_plan(desk_plan(*(parcel_of(name, n) for n, name in enumerate("ABCD", 1))))
        for number in range(1, 5):
            ledger.pack(f"2026-W49-{number:02d}")
        cancelled = dict.fromkeys([(name, 1) for name in "ABCD"], "cancelled")
        assert beside(ledger, shelf).stands == cancelled
        for number in (2, 4):
            ledger.send(f"2026-W49-{number:02d}")
        account = beside(ledger, shelf)
    assert account.stands == {("A", 1): "cancelled", ("B", 1): "sent", ("C", 1): "cancelled"}


def test_what_is_overdue_is_told_first_then_by_day(tmp_path: Path) -> None:
    """On Wednesday: one of tomorrow, one of today, one of Monday that nobody packed."""
    wednesday = TODAY + timedelta(days=2)
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        days = {"A": "2026-12-03", "B": "2026-12-02", "C": "2026-11-30"}
        kept = (parcel_of(name, n, "2026-W48", day) for n, (name, day) in enumerate(days.items(), 1))
        ledger.keep_plan(desk_plan(*kept, week="2026-W48"))
        account = beside(ledger, a_week(*(a_row(name) for name in "ABC")), on=wednesday)
    assert [kept.parcel for kept in account.beside] == ["2026-W48-03", "2026-W48-02", "2026-W48-01"]


def test_a_line_that_the_plan_forgot_is_our_mistake() -> None:
    shelf = a_week(a_row("A"), a_row("B", eggs=500), lots=(a_lot(),))
    forgetful = replace(plan_of(shelf), lines_out=())
    with pytest.raises(AssertionError, match="without a place"):
        plan_account(forgetful, shelf, None)


@pytest.mark.parametrize(("planned", "is_folded"), [(2, False), (3, False), (4, True)])
def test_more_than_three_parcels_never_packed_are_told_at_once_whatever_else_is_overdue(
    planned: int, is_folded: bool
) -> None:
    names = [f"2026-W49-{n:02d}" for n in range(1, planned + 3)]
    every = kept_parcels(desk_plan(*(parcel_of(f"S{n}", n) for n in range(1, planned + 3))), 1, {})
    packed = [replace(one, state="packed") for one in every[planned:]]
    told = list(overdue_lines([*every[:planned], *packed], TODAY + timedelta(days=1)))
    assert (f"  spawnpost drop {' '.join(names[:planned])}" in told) is is_folded
    assert len(told) == 2 + (2 if is_folded else planned)
