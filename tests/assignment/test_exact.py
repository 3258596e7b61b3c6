"""From any choice to begin with, the most value is found, then the least cost; a choice that is best already
stays.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from shipping.assignment.columns import columns_of_instance
from shipping.assignment.exact import cheapest, most_valuable
from shipping.assignment.instance import Chosen, Drawn, Instance, OneLotFill, ParcelColumn
from shipping.assignment.mip import Budget
from shipping.assignment.solve import allocate
from tests.assignment.test_solve import a_task, best_by_trying, day, one_line
from tests.every_case import every
from tests.timings.week_check import WeekCheck
from tests.week.tiny_weeks import TINY, a_tiny_week, best_of


def nothing(instance: Instance) -> Chosen:
    """The choice that nobody is served, and no better bound than all."""
    return Chosen((), {}, 0.0, math.fsum(instance.value[line] for line in instance.lines), 0.0, False)


def choice_of(instance: Instance, *pairs: tuple[OneLotFill, ParcelColumn]) -> Chosen:
    drawn = {f.line: Drawn(f.line, f.departure, f.packing, ((f.lot, f.eggs),)) for f, _ in pairs}
    value, cost = (
        math.fsum(instance.value[line] for line in drawn),
        math.fsum(f.cost + column.cost for f, column in pairs),
    )
    return Chosen(tuple(column for _, column in pairs), drawn, value, value, cost, False)


@every("number", [number for number in TINY if a_tiny_week(number).columns])
def test_from_nothing_the_best_of_a_tiny_week_is_found(number: int) -> None:
    instance = a_tiny_week(number)
    value, age, cost, _ = (
        best_by_trying(instance) if not instance.shared_fills else (best_of(number), None, None, None)
    )
    most = most_valuable(instance, nothing(instance), Budget(None), 0.0)
    assert (most.value, most.bound) == pytest.approx((value, value), abs=1e-6)
    best = cheapest(instance, most, Budget(None))
    assert best.value == pytest.approx(value, abs=1e-6)
    broken = WeekCheck(instance).broken(best)
    assert broken == []
    assert WeekCheck(instance).cost(best) == pytest.approx(best.cost, abs=1e-6)
    if age is not None:
        assert math.fsum(instance.age[line] for line in best.drawn) == pytest.approx(age, abs=1e-6)
        assert best.cost == pytest.approx(cost, abs=1e-5)
        assert best.cheapest


def test_a_choice_that_is_the_best_already_stays_as_it_is() -> None:
    pairs = [one_line("A", "L1", 20), one_line("B", "L2", 20)]
    instance = a_task(*pairs, free={("L1", day(0)): 20, ("L2", day(0)): 20})
    start = choice_of(instance, *pairs)
    assert most_valuable(instance, start, Budget(None), 0.0) == start
    assert cheapest(instance, start, Budget(None)).columns == start.columns


def test_of_choices_worth_the_same_older_orders_stand_before_those_in_hand_and_cheap() -> None:
    young, old = one_line("A", "L1", 20), one_line("B", "L1", 20, cost=99)
    instance = a_task(young, old, free={("L1", day(0)): 25})
    aged = replace(instance, age={("A", 1): 1.0, ("B", 1): 3.0})
    assert set(most_valuable(aged, choice_of(aged, young), Budget(None), 0.0).drawn) == {("B", 1)}


def test_of_choices_worth_the_same_and_as_old_the_one_in_hand_stands() -> None:
    dear, cheap = one_line("A", "L1", 20, cost=99), one_line("B", "L1", 20)
    instance = a_task(dear, cheap, free={("L1", day(0)): 25})
    for in_hand in (dear, cheap):
        start = choice_of(instance, in_hand)
        assert most_valuable(instance, start, Budget(None), 0.0) == start


def test_a_dear_choice_is_made_cheap_without_serving_less() -> None:
    dear, cheap = one_line("A", "L1", 20, cost=9.0), one_line("A", "L1", 20, cost=4.0, on=1)
    instance = a_task(dear, cheap, free={("L1", day(0)): 20, ("L1", day(1)): 20})
    found = cheapest(instance, choice_of(instance, dear), Budget(None))
    assert (found.columns, found.value, found.cost, found.cheapest) == ((cheap[1],), 10.0, 4.0 + 2.0, True)


def test_with_no_time_the_choice_in_hand_is_kept_and_nothing_is_said_to_be_proven() -> None:
    dear, cheap = one_line("A", "L1", 20, cost=9.0), one_line("A", "L1", 20, cost=4.0, on=1)
    instance = a_task(dear, cheap, free={("L1", day(0)): 20, ("L1", day(1)): 20})
    start = replace(choice_of(instance, dear), bound=10.0)
    found = cheapest(instance, start, Budget(0.0))
    assert (found.value, found.cheapest) == (10.0, False)
    assert WeekCheck(instance).broken(found) == []


@pytest.mark.parametrize("numbers", [range(105, 120), pytest.param(range(120), marks=pytest.mark.slow)])
def test_a_week_of_which_columns_were_left_out_is_bounded_by_the_relaxation_of_the_whole(
    numbers: range,
) -> None:
    open_gaps = 0
    for number in numbers:
        instance = a_tiny_week(number)
        whole = allocate(columns_of_instance(instance))
        cut = allocate(columns_of_instance(replace(instance, is_whole=False)))
        assert cut.value == whole.value
        assert cut.bound >= whole.bound
        assert not (cut.bound > whole.bound and cut.cheapest)
        open_gaps += cut.bound > whole.bound
    assert open_gaps > 0
