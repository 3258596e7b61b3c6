"""Prices leave the eggs and the room that are short to the order that saves most with them."""

from __future__ import annotations

from random import Random

import pytest

from shipping.assignment.columns import WeekColumns, columns_of_instance
from shipping.assignment.insertion import cheapest_placement
from shipping.assignment.lagrangian_bound import SavingPrices
from shipping.assignment.mip import Budget
from shipping.assignment.neighbourhood import SAVING_HEAT, Search
from shipping.assignment.solution import Solution
from tests.assignment.test_solve import a_task, day, one_line
from tests.week.tiny_weeks import generated_task, generated_ways, limits_broken

A, B = 0, 1


def found(week: WeekColumns) -> SavingPrices:
    return SavingPrices.found(week, range(len(week.names)), Budget(None))


@pytest.fixture
def two_lots() -> WeekColumns:
    """A lot that holds enough for one of two orders; A saves 8 with it, and B 2."""
    costs = (("A", "L1", 1.0), ("A", "L2", 9.0), ("B", "L1", 1.0), ("B", "L2", 3.0))
    pairs = [one_line(order, lot, 20, cost) for order, lot, cost in costs]
    return columns_of_instance(a_task(*pairs, free={("L1", day(0)): 20, ("L2", day(0)): 60}))


@pytest.fixture
def two_days() -> WeekColumns:
    """A day that takes one of two parcels; A saves 8 on it, and B 2."""
    costs = (("A", 0, 1.0), ("A", 1, 9.0), ("B", 0, 1.0), ("B", 1, 3.0))
    pairs = [one_line(order, "L1", 5, cost, on) for order, on, cost in costs]
    free = {("L1", day(0)): 100, ("L1", day(1)): 100}
    return columns_of_instance(a_task(*pairs, free=free, parcels_a_day=1))


def test_eggs_that_are_short_cost_more_than_one_saves_with_them_and_less_than_the_other(
    two_lots: WeekColumns,
) -> None:
    short, other = found(two_lots).of_egg
    assert 2.0 < 20 * short < 8.0
    assert other == pytest.approx(0.0, abs=1e-6)


def test_room_that_is_short_costs_more_than_one_saves_with_it_and_less_than_the_other(
    two_days: WeekColumns,
) -> None:
    prices = found(two_days)
    assert 2.0 < prices.of_day[0] - prices.of_day[1] < 8.0
    assert max(prices.of_egg) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("week", ["two_lots", "two_days"])
def test_at_prices_each_order_goes_where_both_together_cost_least_and_is_counted_without_them(
    week: str, request: pytest.FixtureRequest
) -> None:
    columns: WeekColumns = request.getfixturevalue(week)
    solution, prices = Solution(columns), found(columns)
    costs = []
    for number in (B, A):
        one = cheapest_placement(solution, number, None, prices)
        assert one is not None
        costs.append(one.cost)
        solution.put(one)
    assert costs == pytest.approx([3.0, 1.0])
    assert solution.cost == pytest.approx(4.0 + 2 * 2.0), "with two parcels"
    assert cheapest_placement(Solution(columns), B) != solution.by_order[B], "without prices"


def test_room_counts_where_the_eggs_that_are_cheapest_there_are_gone() -> None:
    costs = (("A", "L1", 0, 1.0), ("B", "L1", 0, 1.0), ("B", "L2", 0, 2.5), ("B", "L2", 1, 3.0))
    pairs = [one_line(order, lot, 20, cost, on) for order, lot, on, cost in costs]
    free = {("L1", day(0)): 20, ("L2", day(0)): 60, ("L2", day(1)): 60}
    week = columns_of_instance(a_task(*pairs, free=free))
    solution, prices = Solution(week), SavingPrices(week, [0.0] * len(week.free), [1.0, 0.0])
    first = cheapest_placement(solution, A)
    assert first is not None
    solution.put(first)
    second = cheapest_placement(solution, B, None, prices)
    assert second is not None
    assert (second.day, second.cost) == (1, 3.0)


@pytest.mark.parametrize("week", ["two_lots", "two_days"])
def test_what_an_order_costs_more_than_it_might_counts_eggs_and_room(
    week: str, request: pytest.FixtureRequest
) -> None:
    columns: WeekColumns = request.getfixturevalue(week)
    prices = found(columns)
    cheapest, dear = Solution(columns), Solution(columns)
    for number in (B, A):
        for solution, at_prices in ((cheapest, prices), (dear, None)):
            one = cheapest_placement(solution, number, None, at_prices)
            assert one is not None
            solution.put(one)
    assert [prices.excess(cheapest, number) for number in (A, B)] == pytest.approx([0.0, 0.0], abs=1e-6)
    assert min(prices.excess(dear, number) for number in (A, B)) > 0.5
    dear.take(A)
    assert prices.excess(dear, A) == 0.0


def test_of_the_same_steps_those_at_prices_save_more_and_keep_every_limit() -> None:
    week, costs = generated_ways(70, 50, 6), {False: 0.0, True: 0.0}
    for number in range(3):
        search = Search(Solution(week), Random(number))
        search.fill()
        value, start = search.solution.value, dict(search.solution.by_order)
        for is_priced in costs:
            search.back_to(start)
            if is_priced:
                search.spend_at(SavingPrices.found(week, sorted(start), Budget(None)))
            search.save(200, SAVING_HEAT, lambda: True)
            assert search.solution.value >= value - 1e-6
            assert limits_broken(generated_task(70, 50, 6), search.solution) == []
            costs[is_priced] += search.solution.cost
    assert costs[True] < 0.98 * costs[False]


def test_of_no_orders_nothing_costs_more() -> None:
    week = generated_ways()
    prices = SavingPrices.found(week, [], Budget(None))
    assert max(*prices.of_egg, *prices.of_day) == 0.0
