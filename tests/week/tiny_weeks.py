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

from shipping.assignment.columns import LineColumns, WeekColumns, part_of
from shipping.assignment.insertion import any_placement
from shipping.assignment.instance import Instance, ParcelColumn
from shipping.assignment.solution import Solution
from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.week.choices import Choices, columns_of_choices
from tests.assignment.test_solve import a_random_task, best_by_trying
from tests.timings.week_check import WeekCheck
from tests.timings.weeks import TODAY, generated_week
from tests.week.a_week import WEEK

#: Numbers of tiny weeks whose best choice is found in a moment each; trying out those left out takes far
#: longer.
TINY = tuple(number for number in range(62) if number not in (15, 51, 55, 59))


@cache
def a_tiny_week(number: int) -> Instance:
    """Every fourth with lots shared; by turns lots gain eggs, orders may split, and parcels of a day are
    already made.
    """
    instance = a_random_task(number, with_splits=number % 4 == 3)
    if number % 2:
        instance = with_lots_that_gain(instance)
    if number % 3 == 0:
        instance = with_orders_that_may_split(instance, number)
    if number % 5 == 0 and instance.columns:
        instance = replace(
            instance,
            parcels_a_day=2,
            parcels_made={min(column.departure[0] for column in instance.columns): 1},
        )
    return instance


@cache
def best_of(number: int) -> float:
    """The value of the best choice of a tiny week, found by trying all."""
    return best_by_trying(a_tiny_week(number))[0]


def with_lots_that_gain(instance: Instance) -> Instance:
    """The week with as many eggs on the first day as it had on the last, and the other way round: looked at,
    they show eyes.
    """
    days = sorted({on for _, on in instance.free})
    turned = dict(zip(days, reversed(days), strict=True))
    return replace(instance, free={(lot, on): instance.free[(lot, turned[on])] for lot, on in instance.free})


def with_orders_that_may_split(instance: Instance, number: int) -> Instance:
    """The week with parcels of one line alone of every order of two lines, at costs drawn by lot."""
    chance = Random(number)
    lines = Counter(line[0] for line in instance.value)
    travel_modes = {(f.travel_mode, f.departure) for f in instance.fills} | {
        (shared_fill.travel_mode, shared_fill.departure) for shared_fill in instance.shared_fills
    }
    travel_modes = {
        (travel_mode, departure) for travel_mode, departure in travel_modes if lines[travel_mode[0][0]] > 1
    }
    alone = tuple(
        ParcelColumn((travel_mode[0][0],), departure, (travel_mode,), float(chance.randint(1, 5)))
        for travel_mode, departure in sorted(travel_modes)
    )
    return replace(
        instance,
        columns=tuple(
            sorted(
                (*instance.columns, *alone),
                key=lambda column: (column.orders, column.departure, column.travel_modes),
            )
        ),
    )


@cache
def generated_choices(orders: int = 70, lots: int = 50, number: int = 3) -> Choices:
    """The choices of a generated week."""
    with tempfile.TemporaryDirectory() as name:
        shelf = read_shelf(generated_week(orders, lots, number, Path(name) / "shelf"), TODAY).shelf
    assert shelf is not None
    choices = Choices.of_week(OptionFactory(shelf), WEEK)
    choices.reckon()
    return choices


def generated_ways(orders: int = 70, lots: int = 50, number: int = 3) -> WeekColumns:
    """The ways of a generated week of which so many eggs were eaten that not every order can go."""
    week = columns_of_choices(generated_choices(orders, lots, number))
    task = generated_task(orders, lots, number)
    return replace(week, free=[_uneaten(eggs) for eggs in week.free], part=lambda names: part_of(task, names))


@cache
def generated_task(orders: int = 70, lots: int = 50, number: int = 3) -> Instance:
    """The same week as numbers."""
    instance = generated_choices(orders, lots, number).instance()
    return replace(instance, free={lot_on_day: _uneaten(eggs) for lot_on_day, eggs in instance.free.items()})


def _uneaten(eggs: int) -> int:
    return eggs * 8 // 10


#: A line filled from one lot: lot on a day, eggs, cost, units, packing.
Single = tuple[int, int, float, int, str]


def singles_of(columns: LineColumns | None) -> list[Single]:
    """The ways to fill a line from one lot, the cheapest first."""
    if columns is None:
        return []
    one = columns.one_lot
    ways = list(zip(one.at, one.eggs, columns.cost, one.units, one.packing, strict=True))
    return [ways[n] for n in columns.by_cost]


def filled_at_random(solution: Solution, chance: Random, share: float = 1.0) -> None:
    """Put in what fits, in an order drawn by lot; so great a share of the orders is tried."""
    numbers = list(range(len(solution.week.names)))
    chance.shuffle(numbers)
    for number in numbers:
        if chance.random() < share and (one := any_placement(solution, number, chance)) is not None:
            solution.put(one)


def limits_broken(instance: Instance, solution: Solution) -> list[str]:
    """What the choice as it stands breaks, its cost included."""
    chosen, check = solution.chosen(0.0), WeekCheck(instance)
    found = check.broken(chosen)
    if not found and not math.isclose(check.cost(chosen), solution.cost, rel_tol=1e-9, abs_tol=1e-6):
        found.append(f"it costs {check.cost(chosen)}, not {solution.cost}")
    return found
