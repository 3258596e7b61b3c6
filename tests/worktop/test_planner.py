"""The week is planned beside the requests, once for a state of the tables."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from shipping.assignment.mip import Budget
from shipping.assignment.search import Tell
from shipping.words.problems import ShelfProblems
from shipping.worktop import planner as planner_module
from shipping.worktop.planner import Planned, plan_now, planner_of
from shipping.worktop.shelf_state import ShelfState
from tests.worktop.conftest import TODAY, Desk

WEEK = "2026-W49"


def test_a_page_is_not_kept_waiting_for_the_plan(shelf: Path) -> None:
    planner = planner_of(ShelfState(shelf, lambda: TODAY))
    assert planner.ask(WEEK) is None
    assert len(planner.wait(WEEK).plan.parcels) == 16


def test_a_plan_is_reckoned_once_until_a_table_changes(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[str] = []

    def counted(shelf_state: ShelfState, week: str, tell: object = None) -> Planned:
        made.append(week)
        return plan_now(shelf_state, week)

    monkeypatch.setattr(planner_module, "plan_now", counted)
    for _ in range(3):
        desk.get("/week")
    assert made == [WEEK]
    settings = desk.folder / "shelf.toml"
    settings.write_text(settings.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    desk.get("/week")
    assert made == [WEEK, WEEK]


def test_a_plan_that_fails_is_told_and_not_tried_for_ever(
    shelf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(shelf_state: ShelfState, week: str, tell: object = None) -> Planned:
        raise ZeroDivisionError("by an egg")

    monkeypatch.setattr(planner_module, "plan_now", broken)
    planner = planner_of(ShelfState(shelf, lambda: TODAY), aside=False)
    with pytest.raises(ShelfProblems, match="ZeroDivisionError: by an egg"):
        planner.ask(WEEK)


def test_a_plan_that_is_stopped_is_the_best_found_and_says_so_until_it_is_planned_to_its_end(
    shelf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf_state = ShelfState(shelf, lambda: TODAY)
    planner = planner_of(shelf_state)
    budgets: list[bool] = []

    def while_it_runs(shelf_state: ShelfState, week: str, tell: Tell | None = None) -> Planned:
        assert tell is not None
        tell(10.0, 40.0)
        tell(7.0, 30.0)  # a step back is no loss: the best is kept
        assert (planner.going(WEEK).value, planner.going(WEEK).bound) == (10.0, 30.0)
        if not budgets:
            planner.stop(WEEK)
        budgets.append(Budget(None).is_spent)
        return made

    made = plan_now(shelf_state, WEEK)
    monkeypatch.setattr(planner_module, "plan_now", while_it_runs)
    assert planner.wait(WEEK).is_stopped
    planner.forget(WEEK)
    assert not planner.wait(WEEK).is_stopped
    assert budgets == [True, False]


def test_stopping_one_plan_stops_no_other(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    mine_of, theirs_of = (ShelfState(shelf, lambda: TODAY) for _ in range(2))
    mine, theirs = planner_of(mine_of), planner_of(theirs_of)
    made = plan_now(mine_of, WEEK)
    both, stopped = threading.Barrier(2, timeout=120), threading.Event()

    def while_it_runs(shelf_state: ShelfState, week: str, tell: Tell | None = None) -> Planned:
        both.wait()
        if shelf_state is mine_of:
            mine.stop(WEEK)
            stopped.set()
        assert stopped.wait(120)
        assert Budget(None).is_spent is (shelf_state is mine_of)
        return made

    monkeypatch.setattr(planner_module, "plan_now", while_it_runs)
    assert (mine.ask(WEEK), theirs.ask(WEEK)) == (None, None)
    assert mine.wait(WEEK).is_stopped
    assert not theirs.wait(WEEK).is_stopped
