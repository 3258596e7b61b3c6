"""Parcels, lines that wait and the check of a plan come out the same from two processes as from one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.choices import Choices
from shipping.week.left_out import queue as waiting
from shipping.week.left_out.queue import lines_out
from shipping.week.plan import make_plan
from shipping.week.plan_data import Plan
from shipping.week.verify import NotAsPromised, verify_plan
from shipping.words import long_work
from tests.timings.weeks import generated_week

WEEK = "2026-W49"


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    found = read_shelf(
        generated_week(25, 20, 3, tmp_path_factory.mktemp("week") / "shelf"), date(2026, 11, 30)
    ).shelf
    assert found is not None
    return found


@pytest.fixture(scope="module")
def plan(shelf: Shelf) -> Plan:
    return make_plan(shelf, WEEK)


@pytest.fixture(autouse=True)
def _however_few(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(long_work, "MANY_PARTS", 1)
    monkeypatch.setattr(waiting, "MANY_WAITING", 1)


def test_two_processes_write_the_plan_that_one_writes(shelf: Shelf, plan: Plan) -> None:
    again = make_plan(shelf, WEEK)
    assert again.parcels == plan.parcels
    assert again.as_json() == plan.as_json()


def test_lines_out_are_the_same_from_one_process_or_two(shelf: Shelf, plan: Plan) -> None:
    choices = Choices.of_week(OptionFactory(shelf), WEEK)
    choices.reckon()
    one, two = (lines_out(choices, plan.parcels, processes) for processes in (1, 2))
    assert one == two == plan.lines_out
    assert one


@pytest.mark.parametrize("processes", [1, 2])
def test_a_broken_limit_is_found_by_whichever_process_meets_it(
    shelf: Shelf, plan: Plan, processes: int
) -> None:
    for n in (0, len(plan.parcels) - 1):
        lighter = replace(plan.parcels[n], weight_g=plan.parcels[n].weight_g - 1)
        broken = replace(plan, parcels=(*plan.parcels[:n], lighter, *plan.parcels[n + 1 :]))
        with pytest.raises(NotAsPromised, match=f"{lighter.parcel}: weight or postage is off"):
            verify_plan(broken, shelf, processes)
