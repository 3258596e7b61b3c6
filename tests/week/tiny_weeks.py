"""Tiny weeks that can be tried out to the last choice, in many kinds, and a generated week of some size; for tests."""

from __future__ import annotations

import math
import tempfile
from collections import Counter
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from random import Random

from shipping.tables.reader import read_shelf
from shipping.week.choices import Choices
from shipping.week.insertion import any_placing
from shipping.week.options import Reckoner
from shipping.week.placed import Placed
from shipping.week.task import Task, Way
from shipping.week.values import dispatch_days, next_week
from tests.timings.week_check import WeekCheck
from tests.timings.weeks import TODAY, generated_week
from tests.week.a_week import WEEK
from tests.week.test_allocation import a_random_task, best_by_trying

#: Numbers of tiny weeks whose best choice is found in a moment each.
TINY = range(60)


@lru_cache(maxsize=None)
def a_tiny_week(number: int) -> Task:
    """Every fourth with lots shared; by turns lots gain eggs, orders may split, and parcels of a day are already made."""
    task = a_random_task(number, with_splits=number % 4 == 3)
    if number % 2:
        task = with_lots_that_gain(task)
    if number % 3 == 0:
        task = with_orders_that_may_split(task, number)
    if number % 5 == 0 and task.ways:
        task = replace(task, parcels_a_day=2, parcels_made={min(way.place[0] for way in task.ways): 1})
    return task


@lru_cache(maxsize=None)
def best_of(number: int) -> float:
    """The value of the best choice of a tiny week, found by trying all."""
    return best_by_trying(a_tiny_week(number))[0]


def with_lots_that_gain(task: Task) -> Task:
    """The week with as many eggs on the first day as it had on the last, and the other way round: looked at, they show eyes."""
    days = sorted({on for _, on in task.free})
    turned = dict(zip(days, reversed(days), strict=True))
    return replace(task, free={(lot, on): task.free[(lot, turned[on])] for lot, on in task.free})


def with_orders_that_may_split(task: Task, number: int) -> Task:
    """The week with parcels of one line alone of every order of two lines, at costs drawn by lot."""
    chance = Random(number)
    lines = Counter(line[0] for line in task.value)
    modes = {(one.mode, one.place) for one in (*task.fillings, *task.splits) if lines[one.line[0]] > 1}
    alone = tuple(Way((mode[0][0],), place, (mode,), float(chance.randint(1, 5))) for mode, place in sorted(modes))
    return replace(task, ways=tuple(sorted((*task.ways, *alone), key=lambda way: (way.orders, way.place, way.modes))))


@lru_cache(maxsize=None)
def generated_choices(orders: int = 70, lots: int = 50, number: int = 3) -> Choices:
    """The choices of a generated week."""
    with tempfile.TemporaryDirectory() as name:
        shelf = read_shelf(generated_week(orders, lots, number, Path(name) / "shelf"), TODAY).shelf
    assert shelf is not None
    choices = Choices(Reckoner(shelf), dispatch_days(shelf, WEEK), dispatch_days(shelf, next_week(WEEK)))
    choices.reckon()
    return choices


@lru_cache(maxsize=None)
def generated_task(orders: int = 70, lots: int = 50, number: int = 3) -> Task:
    """The same week as numbers."""
    return generated_choices(orders, lots, number).task()


def filled_at_random(placed: Placed, chance: Random, share: float = 1.0) -> None:
    """Put in what fits, in an order drawn by lot; so great a share of the orders is tried."""
    numbers = list(range(len(placed.week.names)))
    chance.shuffle(numbers)
    for number in numbers:
        if chance.random() < share and (one := any_placing(placed, number, chance)) is not None:
            placed.put(one)


def limits_broken(task: Task, placed: Placed) -> list[str]:
    """What the choice as it stands breaks, its cost included."""
    chosen, check = placed.chosen(0.0), WeekCheck(task)
    found = check.broken(chosen)
    if not found and not math.isclose(check.cost(chosen), placed.cost, rel_tol=1e-9, abs_tol=1e-6):
        found.append(f"it costs {check.cost(chosen)}, not {placed.cost}")
    return found
