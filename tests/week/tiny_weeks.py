"""Tiny weeks that can be tried out to the last choice, in many kinds, and a generated week of some size; for
tests.
"""

from __future__ import annotations

import math
import tempfile
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

from shipping.assignment.columns import LineWays, WeekWays
from shipping.assignment.insertion import any_placing
from shipping.assignment.instance import Task, Way
from shipping.assignment.solution import Placed
from shipping.options.option_factory import Reckoner
from shipping.tables.reader import read_shelf
from shipping.week.choices import Choices
from shipping.week.objective import dispatch_days, next_week
from shipping.week.order_columns import ways_of_choices
from tests.assignment.test_solve import a_random_task, best_by_trying
from tests.timings.week_check import WeekCheck
from tests.timings.weeks import TODAY, generated_week
from tests.week.a_week import WEEK

#: Numbers of tiny weeks whose best choice is found in a moment each; trying out those left out takes far
#: longer.
TINY = tuple(number for number in range(62) if number not in (15, 51, 55, 59))


@cache
def a_tiny_week(number: int) -> Task:
    """Every fourth with lots shared; by turns lots gain eggs, orders may split, and parcels of a day are
    already made.
    """
    task = a_random_task(number, with_splits=number % 4 == 3)
    if number % 2:
        task = with_lots_that_gain(task)
    if number % 3 == 0:
        task = with_orders_that_may_split(task, number)
    if number % 5 == 0 and task.ways:
        task = replace(task, parcels_a_day=2, parcels_made={min(way.place[0] for way in task.ways): 1})
    return task


@cache
def best_of(number: int) -> float:
    """The value of the best choice of a tiny week, found by trying all."""
    return best_by_trying(a_tiny_week(number))[0]


def with_lots_that_gain(task: Task) -> Task:
    """The week with as many eggs on the first day as it had on the last, and the other way round: looked at,
    they show eyes.
    """
    days = sorted({on for _, on in task.free})
    turned = dict(zip(days, reversed(days), strict=True))
    return replace(task, free={(lot, on): task.free[(lot, turned[on])] for lot, on in task.free})


def with_orders_that_may_split(task: Task, number: int) -> Task:
    """The week with parcels of one line alone of every order of two lines, at costs drawn by lot."""
    chance = Random(number)
    lines = Counter(line[0] for line in task.value)
    modes = {(f.mode, f.place) for f in task.fillings} | {(split.mode, split.place) for split in task.splits}
    modes = {(mode, place) for mode, place in modes if lines[mode[0][0]] > 1}
    alone = tuple(
        Way((mode[0][0],), place, (mode,), float(chance.randint(1, 5))) for mode, place in sorted(modes)
    )
    return replace(
        task, ways=tuple(sorted((*task.ways, *alone), key=lambda way: (way.orders, way.place, way.modes)))
    )


@cache
def generated_choices(orders: int = 70, lots: int = 50, number: int = 6) -> Choices:
    """The choices of a generated week."""
    with tempfile.TemporaryDirectory() as name:
        shelf = read_shelf(generated_week(orders, lots, number, Path(name) / "shelf"), TODAY).shelf
    assert shelf is not None
    choices = Choices(Reckoner(shelf), dispatch_days(shelf, WEEK), dispatch_days(shelf, next_week(WEEK)))
    choices.reckon()
    return choices


def generated_ways(orders: int = 70, lots: int = 50, number: int = 6) -> WeekWays:
    """The ways of a generated week of which so many eggs were eaten that not every order can go."""
    week = ways_of_choices(generated_choices(orders, lots, number))
    return replace(week, free=[_uneaten(eggs) for eggs in week.free])


@cache
def generated_task(orders: int = 70, lots: int = 50, number: int = 6) -> Task:
    """The same week as numbers."""
    task = generated_choices(orders, lots, number).task()
    return replace(task, free={lot_on_day: _uneaten(eggs) for lot_on_day, eggs in task.free.items()})


def _uneaten(eggs: int) -> int:
    return eggs * 8 // 10


#: A line filled from one lot: lot on a day, eggs, cost, units, packing.
Single = tuple[int, int, float, int, str]


def singles_of(ways: LineWays | None) -> list[Single]:
    """The ways to fill a line from one lot, in their order."""
    one = ways.singles if ways else None
    return list(zip(one.at, one.eggs, one.cost, one.units, one.packing, strict=True)) if one else []


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
