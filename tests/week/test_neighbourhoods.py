"""Large weeks, made of exact choices of small parts: against the best of all choices, and against every limit."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import pytest

from shipping.tables.reader import read_shelf
from shipping.week import allocation
from shipping.week.allocation import allocate
from shipping.week.choices import Choices
from shipping.week.crew import Crew
from shipping.week.options import Reckoner
from shipping.week.program import Budget
from shipping.week.served import most_served
from shipping.week.task import Task
from shipping.week.thinning import lean, thinned
from shipping.week.values import dispatch_days, next_week
from tests.timings.week_check import WeekCheck
from tests.timings.weeks import generated_week
from tests.week.test_allocation import a_random_task, best_by_trying

WEEK = "2026-W49"
SEEDS = range(40)
#: Trying every choice of lots shared takes seconds a week.
FEW_SEEDS = range(4)


@pytest.fixture(scope="module")
def a_week(tmp_path_factory: pytest.TempPathFactory) -> Task:
    shelf = read_shelf(generated_week(70, 40, 5, tmp_path_factory.mktemp("week") / "shelf"), date(2026, 11, 30)).shelf
    assert shelf is not None
    choices = Choices(Reckoner(shelf), dispatch_days(shelf, WEEK), dispatch_days(shelf, next_week(WEEK)))
    choices.reckon()
    return choices.task()


def in_parts(task: Task, monkeypatch: pytest.MonkeyPatch) -> allocation.Chosen:
    monkeypatch.setattr(allocation, "MOST_LINES", 0)
    return allocate(task)


@pytest.mark.parametrize("with_splits", [False, True])
def test_no_choice_is_worth_more_than_the_bound(with_splits: bool) -> None:
    tight = 0
    seeds = FEW_SEEDS if with_splits else SEEDS
    for seed in seeds:
        task = a_random_task(seed, with_splits)
        best, *_ = best_by_trying(task)
        for whole in (False, True):
            bound = most_served(task, Budget(None), whole).bound
            assert bound >= best - 1e-6
        tight += bound == pytest.approx(best)
    assert tight > len(seeds) / 2


def test_a_choice_made_of_parts_keeps_every_limit_and_is_mostly_the_best(monkeypatch: pytest.MonkeyPatch) -> None:
    reached = 0
    for seed in SEEDS:
        task = a_random_task(seed)
        best, *_ = best_by_trying(task)
        chosen = in_parts(task, monkeypatch)
        assert WeekCheck(task).broken(chosen) == []
        assert chosen.value <= best + 1e-6 <= chosen.bound + 2e-6
        reached += chosen.value == pytest.approx(best)
    assert reached > 0.8 * len(SEEDS)


def test_leaving_out_what_serves_no_more_loses_no_value() -> None:
    for seed in SEEDS:
        task = a_random_task(seed, with_splits=seed % 2 == 0)
        assert allocate(thinned(task)).value == pytest.approx(allocate(task).value)


def test_few_ways_keep_every_lot_of_every_line(a_week: Task) -> None:
    few = lean(a_week)
    assert len(few.ways) < len(a_week.ways) / 2
    carried = {(mode, way.place) for way in a_week.ways for mode in way.modes}
    able = {(f.line, f.lot, f.place[0]) for f in a_week.fillings if (f.mode, f.place) in carried}
    assert {(f.line, f.lot, f.place[0]) for f in few.fillings} == able


def test_a_generated_week_made_of_parts_serves_most_and_keeps_every_limit(a_week: Task, monkeypatch: pytest.MonkeyPatch) -> None:
    chosen = in_parts(a_week, monkeypatch)
    assert WeekCheck(a_week).broken(chosen) == []
    assert chosen.cost == pytest.approx(WeekCheck(a_week).cost(chosen), abs=1e-6)
    assert chosen.value > 0.85 * chosen.bound
    assert chosen.value == pytest.approx(math.fsum(a_week.value[line] for line in chosen.drawn))


def test_one_process_or_two_choose_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    tasks = [a_random_task(seed, with_splits=True) for seed in range(6)]
    jobs = [(task, Budget(None), True) for task in tasks]
    with Crew(allocation.quick) as crew:
        beside = crew.choose(jobs)
    assert beside == [allocation.quick(*job) for job in jobs]


def test_time_that_is_up_still_gives_a_choice_that_keeps_every_limit(a_week: Task, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(allocation, "MOST_LINES", 0)
    for seconds in (0.0, 0.5, 2.0):
        chosen = allocate(a_week, seconds)
        assert WeekCheck(a_week).broken(chosen) == []
        assert chosen.bound >= chosen.value


def test_more_eggs_never_lower_the_bound() -> None:
    for seed in SEEDS:
        task = a_random_task(seed)
        richer = replace(task, free={key: eggs + 5 for key, eggs in task.free.items()})
        assert most_served(richer, Budget(None)).bound >= most_served(task, Budget(None)).bound - 1e-6
