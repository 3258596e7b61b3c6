"""What is placed stays true to itself, however often orders are put in and taken out."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from random import Random

import pytest

from shipping.assignment.columns import WeekColumns, columns_of_instance
from shipping.assignment.insertion import any_placement, cheapest_placement
from shipping.assignment.instance import Instance, ParcelColumn
from shipping.assignment.solution import RandomSet, Solution
from tests.assignment.test_solve import a_task, day, one_line
from tests.every_case import every
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


def assert_as_reckoned_from_nothing(solution: Solution, instance: Instance) -> None:
    """Eggs, room, value, age and cost, by putting all in anew, and by counting what is there."""
    week, width = solution.week, len(solution.week.days)
    fresh = Solution(week)
    for number in sorted(solution.by_order):
        fresh.put(solution.by_order[number])
    same, drawing = (
        (solution.left, solution.room) == (fresh.left, fresh.room),
        solution.drawing == fresh.drawing,
    )
    assert same
    assert drawing
    for one, two in ((solution.value, fresh.value), (solution.age, fresh.age), (solution.cost, fresh.cost)):
        assert one == pytest.approx(two, abs=1e-9)
    drawn = [0] * len(week.free)
    for one_placed in solution.by_order.values():
        for line in one_placed.lines:
            for at, eggs in line[3]:
                drawn[at] += eggs
    for start in range(0, len(drawn), width):
        free, of_lot = week.free[start : start + width], drawn[start : start + width]
        for n in range(width):
            left, most = max(0, solution.left[start + n]), most_that_may_be_drawn(free, of_lot, n)
            assert left == most
    chosen = solution.chosen(0.0)
    loads = Counter(column.departure[0] for column in chosen.columns)
    room, expected = solution.room, [room - loads[on] for room, on in zip(week.room, week.days, strict=True)]
    assert room == expected
    value, age, cost = solution.value, solution.age, solution.cost
    assert value == pytest.approx(math.fsum(instance.value[line] for line in chosen.drawn))
    assert age == pytest.approx(math.fsum(instance.age[line] for line in chosen.drawn))
    expected_cost = WeekCheck(instance).cost(chosen)
    assert cost == pytest.approx(expected_cost)


def one_change(solution: Solution, chance: Random) -> None:
    """An order drawn by lot: taken out if it is placed, else put in where it fits."""
    number = int(chance.random() * len(solution.week.names))
    if number in solution.by_order:
        solution.take(number)
        return
    found = (
        any_placement(solution, number, chance)
        if chance.random() < 0.5
        else cheapest_placement(solution, number)
    )
    if found is not None:
        solution.put(found)


@every("number", TINY)
def test_after_any_changes_all_is_as_if_reckoned_from_nothing(number: int) -> None:
    instance, chance = a_tiny_week(number), Random(number)
    solution = Solution(columns_of_instance(instance))
    for _ in range(25 if solution.week.names else 0):
        one_change(solution, chance)
        assert_as_reckoned_from_nothing(solution, instance)


def test_after_any_changes_of_a_generated_week_all_is_as_if_reckoned_from_nothing() -> None:
    solution, chance, joined = Solution(generated_ways()), Random(6), 0
    for _ in range(6):
        for _ in range(80):
            one_change(solution, chance)
            joined += len(solution.by_order) > len(
                {(solution.week.address[n], one.day) for n, one in solution.by_order.items()}
            )
        assert_as_reckoned_from_nothing(solution, generated_task())
        broken = limits_broken(generated_task(), solution)
        assert broken == []
    assert joined > 20


@every("number", TINY)
def test_what_is_undone_leaves_all_as_before(number: int) -> None:
    instance, chance = a_tiny_week(number), Random(number)
    solution = Solution(columns_of_instance(instance))
    names = range(len(solution.week.names))
    for _ in range(6):
        for _ in range(3 if names else 0):
            one_change(solution, chance)
        placed, left = dict(solution.by_order), list(solution.left)
        solution.begin()
        taken = [solution.take(n) for n in sorted(placed) if chance.random() < 0.6]
        put = []
        for n in names:
            if n not in solution.by_order and (one := any_placement(solution, n, chance)) is not None:
                solution.put(one)
                put.append(one)
        solution.undo(put, taken)
        assert solution.by_order == placed
        assert solution.left == left
        assert_as_reckoned_from_nothing(solution, instance)


@every("number", TINY[:20])
def test_a_cost_that_was_not_counted_is_counted_afterwards(number: int) -> None:
    instance, chance = a_tiny_week(number), Random(number)
    solution = Solution(columns_of_instance(instance))
    solution.count_cost(False)
    for _ in range(25 if solution.week.names else 0):
        one_change(solution, chance)
    assert solution.cost == 0.0
    solution.count_cost()
    assert_as_reckoned_from_nothing(solution, instance)
    for _ in range(10 if solution.week.names else 0):
        one_change(solution, chance)
    assert_as_reckoned_from_nothing(solution, instance)


@every("number", TINY)
def test_with_all_taken_out_it_is_as_at_the_beginning(number: int) -> None:
    week = columns_of_instance(a_tiny_week(number))
    solution, chance = Solution(week), Random(number)
    for _ in range(12 if week.names else 0):
        one_change(solution, chance)
    for one in sorted(solution.by_order, key=lambda n: (n * 7) % 5):
        solution.take(one)
    assert (solution.left, solution.room, solution.by_order) == (week.free, week.room, {})
    assert (solution.value, solution.age, solution.cost) == pytest.approx((0.0, 0.0, 0.0), abs=1e-9)
    assert not any(solution.drawing)
    assert not any(len(on) for on in solution.on_day)


def two_mates(cost_alone: float, cost_joined: float) -> tuple[WeekColumns, Instance]:
    """Orders A and B of one address, and C of another, each 5 eggs on Monday."""
    pairs = [one_line(name, "L1", 5) for name in "ABC"]
    pairs = [(fill, replace(column, cost=cost_alone)) for fill, column in pairs]
    joined = ParcelColumn(
        ("A", "B"), (day(0), "letter"), (pairs[0][0].travel_mode, pairs[1][0].travel_mode), cost_joined
    )
    instance = a_task(*pairs, free={("L1", day(0)): 15}, parcels_a_day=2)
    instance = replace(instance, columns=(*instance.columns, joined))
    return columns_of_instance(instance), instance


def put(solution: Solution, number: int) -> None:
    found = any_placement(solution, number, Random(1))
    assert found is not None
    solution.put(found)


@pytest.mark.parametrize("first", [0, 1])
def test_orders_of_one_address_are_one_parcel_and_pay_for_one(first: int) -> None:
    solution = Solution(two_mates(2.0, 2.5)[0])
    put(solution, first)
    assert solution.room == [1]
    assert solution.cost == pytest.approx(1 + 2.0)
    put(solution, 1 - first)
    assert solution.room == [1]
    assert solution.cost == pytest.approx(1 + 1 + 2.5)
    put(solution, 2)
    assert solution.room == [0]
    assert solution.cost == pytest.approx(3 + 2.5 + 2.0)
    solution.take(first)
    assert solution.room == [0]
    assert solution.cost == pytest.approx(2 + 2.0 + 2.0)
    solution.take(1 - first)
    assert solution.room == [1]
    assert solution.cost == pytest.approx(1 + 2.0)


def test_a_mate_joins_a_full_day_where_a_stranger_does_not() -> None:
    week = two_mates(2.0, 2.5)[0]
    solution = Solution(replace(week, room=[1]))
    put(solution, 0)
    assert any_placement(solution, 2, Random(1)) is None
    put(solution, 1)
    assert [column.orders for column in solution.chosen(0.0).columns] == [("A", "B")]


def test_no_parcel_holds_more_orders_than_may_be_joined() -> None:
    week = two_mates(2.0, 2.5)[0]
    five = replace(
        week,
        names=tuple("ABCDE"),
        address=[0] * 5,
        free=[25],
        make=lambda n: replace(week.of(0), name="ABCDE"[n]),
    )
    solution = Solution(replace(five, parcel_cost=lambda names, departure, travel_modes: 2.0, _made={}))
    for number in range(4):
        put(solution, number)
    assert any_placement(solution, 4, Random(1)) is None
    assert solution.room == [1]


def of_one_lot(free: tuple[int, int]) -> Solution:
    """A lot on Monday and Tuesday."""
    pairs = [one_line("A", "L1", 5), one_line("A", "L1", 5, on=1)]
    return Solution(
        columns_of_instance(a_task(*pairs, free={("L1", day(0)): free[0], ("L1", day(1)): free[1]}))
    )


def test_a_lot_that_loses_eggs_leaves_on_monday_what_tuesdays_draw_needs() -> None:
    solution = of_one_lot((30, 28))
    solution.draw(0, 15)
    assert solution.left == [15, 13]
    solution.draw(1, 10)
    assert solution.left == [3, 3]
    solution.draw(0, -15)
    assert solution.left == [18, 18]


def test_a_draw_on_monday_may_pass_what_is_free_on_tuesday_if_nothing_is_drawn_then() -> None:
    solution = of_one_lot((30, 2))
    solution.draw(0, 30)
    assert solution.left[0] == 0
    assert solution.left[1] <= 0


def test_a_lot_that_gains_eggs_gives_the_new_ones_only_later() -> None:
    solution = of_one_lot((10, 30))
    solution.draw(1, 25)
    assert solution.left == [5, 5]
    solution.draw(1, -25)
    solution.draw(0, 10)
    assert solution.left == [0, 20]


def test_the_choice_says_what_it_is_worth_and_never_less_than_that_for_the_bound() -> None:
    week, instance = two_mates(2.0, 2.5)
    solution = Solution(week)
    put(solution, 0)
    put(solution, 2)
    assert (solution.chosen(25.0).value, solution.chosen(25.0).bound) == (20.0, 25.0)
    assert solution.chosen(0.0).bound == 20.0
    assert WeekCheck(instance).broken(solution.chosen(25.0)) == []


def numbers_of(*numbers: int) -> RandomSet:
    made = RandomSet()
    for number in numbers:
        made.add(number)
    return made


def test_it_holds_what_a_set_would() -> None:
    chance, made, plain = Random(1), RandomSet(), set[int]()
    for _ in range(500):
        number = chance.randrange(12)
        if chance.random() < 0.5:
            made.add(number)
            plain.add(number)
        else:
            made.discard(number)
            plain.discard(number)
        assert len(made) == len(plain)
        assert set(made.some(chance, 99)) == plain


def test_each_number_is_drawn_about_as_often() -> None:
    made, chance = numbers_of(3, 5, 8, 13), Random(2)
    made.discard(5)
    drawn = Counter(made.one(chance) for _ in range(3000))
    assert set(drawn) == {3, 8, 13}
    assert min(drawn.values()) > 900


def test_some_are_different_numbers_and_no_more_than_there_are() -> None:
    made = numbers_of(1, 2, 3, 4)
    assert len(set(made.some(Random(1), 3))) == 3
    assert sorted(made.some(Random(1), 9)) == [1, 2, 3, 4]
    assert RandomSet().some(Random(1), 3) == []


def test_the_same_chance_draws_the_same() -> None:
    assert [numbers_of(*range(9)).one(Random(n)) for n in range(20)] == [
        numbers_of(*range(9)).one(Random(n)) for n in range(20)
    ]
