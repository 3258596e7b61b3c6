"""What is placed stays true to itself, however often orders are put in and taken out."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from random import Random

import pytest

from shipping.assignment.columns import WeekWays
from shipping.assignment.insertion import any_placing, cheapest_placing
from shipping.assignment.instance import Task, Way
from shipping.assignment.instance_columns import ways_of_task
from shipping.assignment.solution import Placed
from tests.assignment.test_solve import a_task, day, one_line
from tests.timings.week_check import WeekCheck
from tests.week.tiny_weeks import TINY, a_tiny_week, generated_task, generated_ways, limits_broken


def most_that_may_be_drawn(free: list[int], drawn: list[int], on: int) -> int:
    """Trying one egg after the other: up to every day with a draw, no more than is free that day."""
    count = 0
    while count <= max(free):
        after = [eggs + (count + 1 if n == on else 0) for n, eggs in enumerate(drawn)]
        if any(eggs and sum(after[: n + 1]) > free[n] for n, eggs in enumerate(after)):
            break
        count += 1
    return count


def assert_as_reckoned_from_nothing(placed: Placed, task: Task) -> None:
    """Eggs, room, value, age and cost, by putting all in anew, and by counting what is there."""
    week, width = placed.week, len(placed.week.days)
    fresh = Placed(week)
    for number in sorted(placed.by_order):
        fresh.put(placed.by_order[number])
    same, drawing = (placed.left, placed.room) == (fresh.left, fresh.room), placed.drawing == fresh.drawing
    assert same
    assert drawing
    for one, two in ((placed.value, fresh.value), (placed.age, fresh.age), (placed.cost, fresh.cost)):
        assert one == pytest.approx(two, abs=1e-9)
    drawn = [0] * len(week.free)
    for one_placed in placed.by_order.values():
        for line in one_placed.lines:
            for at, eggs in line[3]:
                drawn[at] += eggs
    for start in range(0, len(drawn), width):
        free, of_lot = week.free[start : start + width], drawn[start : start + width]
        for n in range(width):
            left, most = max(0, placed.left[start + n]), most_that_may_be_drawn(free, of_lot, n)
            assert left == most
    chosen = placed.chosen(0.0)
    loads = Counter(way.place[0] for way in chosen.ways)
    room, expected = placed.room, [room - loads[on] for room, on in zip(week.room, week.days, strict=True)]
    assert room == expected
    value, age, cost = placed.value, placed.age, placed.cost
    assert value == pytest.approx(math.fsum(task.value[line] for line in chosen.drawn))
    assert age == pytest.approx(math.fsum(task.age[line] for line in chosen.drawn))
    expected_cost = WeekCheck(task).cost(chosen)
    assert cost == pytest.approx(expected_cost)


def one_change(placed: Placed, chance: Random) -> None:
    """An order drawn by lot: taken out if it is placed, else put in where it fits."""
    number = int(chance.random() * len(placed.week.names))
    if number in placed.by_order:
        placed.take(number)
        return
    found = any_placing(placed, number, chance) if chance.random() < 0.5 else cheapest_placing(placed, number)
    if found is not None:
        placed.put(found)


@pytest.mark.parametrize("number", TINY)
def test_after_any_changes_all_is_as_if_reckoned_from_nothing(number: int) -> None:
    task, chance = a_tiny_week(number), Random(number)
    placed = Placed(ways_of_task(task))
    for _ in range(25 if placed.week.names else 0):
        one_change(placed, chance)
        assert_as_reckoned_from_nothing(placed, task)


def test_after_any_changes_of_a_generated_week_all_is_as_if_reckoned_from_nothing() -> None:
    placed, chance, joined = Placed(generated_ways()), Random(4), 0
    for _ in range(6):
        for _ in range(80):
            one_change(placed, chance)
            joined += len(placed.by_order) > len(
                {(placed.week.address[n], one.day) for n, one in placed.by_order.items()}
            )
        assert_as_reckoned_from_nothing(placed, generated_task())
        broken = limits_broken(generated_task(), placed)
        assert broken == []
    assert joined > 20


@pytest.mark.parametrize("number", TINY)
def test_with_all_taken_out_it_is_as_at_the_beginning(number: int) -> None:
    week = ways_of_task(a_tiny_week(number))
    placed, chance = Placed(week), Random(number)
    for _ in range(12 if week.names else 0):
        one_change(placed, chance)
    for one in sorted(placed.by_order, key=lambda n: (n * 7) % 5):
        placed.take(one)
    assert (placed.left, placed.room, placed.by_order) == (week.free, week.room, {})
    assert (placed.value, placed.age, placed.cost) == pytest.approx((0.0, 0.0, 0.0), abs=1e-9)
    assert not any(placed.drawing)
    assert not any(len(on) for on in placed.on_day)


def two_mates(cost_alone: float, cost_joined: float) -> tuple[WeekWays, Task]:
    """Orders A and B of one address, and C of another, each 5 eggs on Monday."""
    pairs = [one_line(name, "L1", 5) for name in "ABC"]
    pairs = [(filling, replace(way, cost=cost_alone)) for filling, way in pairs]
    joined = Way(("A", "B"), (day(0), "letter"), (pairs[0][0].mode, pairs[1][0].mode), cost_joined)
    task = a_task(*pairs, free={("L1", day(0)): 15}, parcels_a_day=2)
    task = replace(task, ways=(*task.ways, joined))
    return ways_of_task(task), task


def put(placed: Placed, number: int) -> None:
    found = any_placing(placed, number, Random(1))
    assert found is not None
    placed.put(found)


@pytest.mark.parametrize("first", [0, 1])
def test_orders_of_one_address_are_one_parcel_and_pay_for_one(first: int) -> None:
    placed = Placed(two_mates(2.0, 2.5)[0])
    put(placed, first)
    assert placed.room == [1]
    assert placed.cost == pytest.approx(1 + 2.0)
    put(placed, 1 - first)
    assert placed.room == [1]
    assert placed.cost == pytest.approx(1 + 1 + 2.5)
    put(placed, 2)
    assert placed.room == [0]
    assert placed.cost == pytest.approx(3 + 2.5 + 2.0)
    placed.take(first)
    assert placed.room == [0]
    assert placed.cost == pytest.approx(2 + 2.0 + 2.0)
    placed.take(1 - first)
    assert placed.room == [1]
    assert placed.cost == pytest.approx(1 + 2.0)


def test_a_mate_joins_a_full_day_where_a_stranger_does_not() -> None:
    week = two_mates(2.0, 2.5)[0]
    placed = Placed(replace(week, room=[1]))
    put(placed, 0)
    assert any_placing(placed, 2, Random(1)) is None
    put(placed, 1)
    assert [way.orders for way in placed.chosen(0.0).ways] == [("A", "B")]


def test_no_parcel_holds_more_orders_than_may_be_joined() -> None:
    week = two_mates(2.0, 2.5)[0]
    five = replace(
        week,
        names=tuple("ABCDE"),
        address=[0] * 5,
        free=[25],
        make=lambda n: replace(week.of(0), name="ABCDE"[n]),
    )
    placed = Placed(replace(five, parcel_cost=lambda names, place, modes: 2.0, _made={}))
    for number in range(4):
        put(placed, number)
    assert any_placing(placed, 4, Random(1)) is None
    assert placed.room == [1]


def of_one_lot(free: tuple[int, int]) -> Placed:
    """A lot on Monday and Tuesday."""
    pairs = [one_line("A", "L1", 5), one_line("A", "L1", 5, on=1)]
    return Placed(ways_of_task(a_task(*pairs, free={("L1", day(0)): free[0], ("L1", day(1)): free[1]})))


def test_a_lot_that_loses_eggs_leaves_on_monday_what_tuesdays_draw_needs() -> None:
    placed = of_one_lot((30, 28))
    placed.draw(0, 15)
    assert placed.left == [15, 13]
    placed.draw(1, 10)
    assert placed.left == [3, 3]
    placed.draw(0, -15)
    assert placed.left == [18, 18]


def test_a_draw_on_monday_may_pass_what_is_free_on_tuesday_if_nothing_is_drawn_then() -> None:
    placed = of_one_lot((30, 2))
    placed.draw(0, 30)
    assert placed.left[0] == 0
    assert placed.left[1] <= 0


def test_a_lot_that_gains_eggs_gives_the_new_ones_only_later() -> None:
    placed = of_one_lot((10, 30))
    placed.draw(1, 25)
    assert placed.left == [5, 5]
    placed.draw(1, -25)
    placed.draw(0, 10)
    assert placed.left == [0, 20]


def test_the_choice_says_what_it_is_worth_and_never_less_than_that_for_the_bound() -> None:
    week, task = two_mates(2.0, 2.5)
    placed = Placed(week)
    put(placed, 0)
    put(placed, 2)
    assert (placed.chosen(25.0).value, placed.chosen(25.0).bound) == (20.0, 25.0)
    assert placed.chosen(0.0).bound == 20.0
    assert WeekCheck(task).broken(placed.chosen(25.0)) == []
