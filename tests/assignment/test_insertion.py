"""What is put in fits, the cheapest placing is the cheapest, and shares of lots make up a line exactly."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from shipping.assignment.columns import SplitWays, split_ways
from shipping.assignment.insertion import any_placing, cheapest_placing, shared_out
from shipping.assignment.instance import Task
from shipping.assignment.instance_columns import ways_of_task
from shipping.assignment.solution import Placed
from tests.assignment.test_solve import a_random_task, a_task, day, one_line
from tests.week.tiny_weeks import (
    TINY,
    a_tiny_week,
    filled_at_random,
    generated_task,
    generated_ways,
    limits_broken,
    singles_of,
)


@pytest.mark.parametrize("number", TINY)
def test_what_was_put_in_keeps_every_limit(number: int) -> None:
    task, chance = a_tiny_week(number), Random(number)
    for _ in range(3):
        placed = Placed(ways_of_task(task))
        filled_at_random(placed, chance, 0.5)
        for order in range(len(placed.week.names)):
            if order not in placed.by_order and (one := cheapest_placing(placed, order)) is not None:
                placed.put(one)
            broken = limits_broken(task, placed)
            assert broken == []


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_what_was_put_in_a_generated_week_keeps_every_limit(share: float) -> None:
    placed, chance = Placed(generated_ways()), Random(2)
    filled_at_random(placed, chance, share)
    for order in range(len(placed.week.names)):
        if order not in placed.by_order and (one := cheapest_placing(placed, order)) is not None:
            placed.put(one)
    count = len(placed.by_order)
    assert count > 30
    broken = limits_broken(generated_task(), placed)
    assert broken == []


def with_one_price_a_place(task: Task, chance: Random) -> Task:
    """The week with postage by place alone, and one more for each order that joins."""
    price = {place: float(chance.randint(1, 6)) for place in sorted({way.place for way in task.ways})}
    return replace(
        task, ways=tuple(replace(way, cost=price[way.place] + len(way.orders) - 1) for way in task.ways)
    )


def least_by_trying(placed: Placed, number: int) -> float:
    """The least that an order costs: every place, every lot of every line; infinite where nothing fits."""
    week, order = placed.week, placed.week.of(number)
    least = math.inf
    for place in order.places:
        mates = [
            other
            for other, one in placed.by_order.items()
            if week.address[other] == week.address[number]
            and week.of(other).places[one.at].place == place.place
        ]
        if placed.room[place.day] <= 0 and not mates:
            continue
        ways = [singles_of(one) for one in place.lines]
        for picks in itertools.product(*ways):
            drawn: dict[int, int] = {}
            for at, eggs, *_ in picks:
                drawn[at] = drawn.get(at, 0) + eggs
            modes = tuple((line, one[4], one[3]) for line, one in zip(order.lines, picks, strict=True))
            if all(placed.left[at] >= eggs for at, eggs in drawn.items()):
                parcel = placed.parcel_cost(number, order.places.index(place), modes, mates)
                least = min(least, math.fsum(one[2] for one in picks) + parcel)
    return least


@pytest.mark.parametrize("batch", range(8))
def test_the_cheapest_placing_is_the_cheapest_of_all_where_postage_goes_by_place(batch: int) -> None:
    found_some = 0
    for number in range(2000 + 25 * batch, 2025 + 25 * batch):
        chance = Random(number)
        placed = Placed(ways_of_task(with_one_price_a_place(a_random_task(number), chance)))
        filled_at_random(placed, chance, 0.5)
        for order in range(len(placed.week.names)):
            if order in placed.by_order or placed.week.of(order).is_crossed:
                continue
            found, before, least = (
                cheapest_placing(placed, order),
                placed.cost,
                least_by_trying(placed, order),
            )
            if found is None:
                assert least == math.inf
                continue
            placed.put(found)
            assert placed.cost - before == pytest.approx(least)
            placed.take(order)
            found_some += 1
    assert found_some > 5


@pytest.mark.parametrize("batch", range(4))
def test_an_order_of_one_line_is_placed_cheapest_where_postage_goes_by_packing_and_units_too(
    batch: int,
) -> None:
    found_some = 0
    for number in range(3000 + 25 * batch, 3025 + 25 * batch):
        placed = Placed(ways_of_task(a_random_task(number)))
        filled_at_random(placed, Random(number), 0.3)
        for order in range(len(placed.week.names)):
            if order in placed.by_order or placed.has_mates(order) or len(placed.week.of(order).lines) != 1:
                continue
            found, before, least = (
                cheapest_placing(placed, order),
                placed.cost,
                least_by_trying(placed, order),
            )
            assert (found is None) == (least == math.inf)
            if found is not None:
                placed.put(found)
                assert placed.cost - before == pytest.approx(least)
                placed.take(order)
                found_some += 1
    assert found_some > 5


@pytest.mark.parametrize("number", TINY)
def test_any_placing_finds_a_place_wherever_the_cheapest_does(number: int) -> None:
    chance = Random(number)
    placed = Placed(ways_of_task(a_tiny_week(number)))
    filled_at_random(placed, chance, 0.5)
    for order in range(len(placed.week.names)):
        if order not in placed.by_order and not placed.week.of(order).is_crossed:
            any_one, cheapest = any_placing(placed, order, chance), cheapest_placing(placed, order)
            assert (any_one is None) == (cheapest is None)


def two_lines(eggs: int, free: int, may_split: bool) -> Placed:
    """An order of two lines that both want lot L1, on Monday."""
    pairs = [one_line("A", "L1", eggs), one_line("A", "L1", eggs)]
    lines = [replace(pair[0], line=("A", n)) for n, pair in enumerate(pairs, start=1)]
    way = replace(pairs[0][1], modes=tuple(line.mode for line in lines))
    parts = [replace(way, modes=(line.mode,)) for line in lines] if may_split else []
    task = a_task((lines[0], way), free={("L1", day(0)): free})
    value = {line.line: 10.0 for line in lines}
    return Placed(
        ways_of_task(
            replace(
                task, fillings=tuple(lines), ways=(way, *parts), value=value, age=dict.fromkeys(value, 0.0)
            )
        )
    )


def test_two_lines_of_an_order_never_count_the_same_eggs() -> None:
    for free, fits in ((29, False), (30, True)):
        placed = two_lines(15, free, may_split=False)
        assert (any_placing(placed, 0, Random(1)) is not None) is fits
        assert (cheapest_placing(placed, 0) is not None) is fits
        assert placed.left == [free]


def test_an_order_that_may_split_goes_with_the_line_that_fits() -> None:
    placed = two_lines(15, 29, may_split=True)
    found = cheapest_placing(placed, 0)
    assert found is not None
    assert (len(found.lines), found.value) == (1, 10.0)
    assert placed.left == [29]


# -- shares of lots -----------------------------------------------------------------------------


def a_random_split(chance: Random, lots: int) -> tuple[SplitWays, list[int]]:
    """A line that lots share, with as many units as such a line may have, and what is left of the lots."""
    like = chance.randint(8, 60)
    parts = tuple(
        (
            at,
            alone := max(6, like + chance.randint(-4, 8)),
            chance.randint(5, max(5, alone - 1)),
            chance.choice((0.5, 0.75)),
        )
        for at in range(lots)
    )
    eggs_max, lots_most = chance.choice((10, 25, 30, 60)), chance.randint(2, lots)
    units = math.ceil(max(part[1] for part in parts) / eggs_max) + lots_most - 1
    costs = (math.inf, math.inf, *(1.0 + 0.4 * n for n in range(2, units + 1)))
    return split_ways("bag", eggs_max, costs, lots_most, 5, parts), [
        chance.randint(0, like) for _ in range(lots)
    ]


def feasible(split: SplitWays, left: list[int]) -> list[tuple[int, ...]]:
    """Every way to draw on two of a split's lots, by trying all; exactly."""
    found = []
    for one, two in itertools.combinations(split.parts, 2):
        for eggs in itertools.product(
            *(range(split.least_draw, min(part[2], left[part[0]]) + 1) for part in (one, two))
        ):
            units = sum(-(-n // split.eggs_max) for n in eggs)
            enough = Fraction(eggs[0], one[1]) + Fraction(eggs[1], two[1]) >= 1
            if enough and units < len(split.costs):
                found.append((one[0], two[0], *eggs))
    return found


@pytest.mark.parametrize("batch", range(5))
def test_shares_of_lots_make_up_a_line_exactly_in_whole_eggs(batch: int) -> None:
    chance, found_some = Random(batch), 0
    for _ in range(400):
        split, left = a_random_split(chance, chance.randint(2, 5))
        found = shared_out(split, left)
        if found is None:
            continue
        units, draws, cost = found
        parts = {part[0]: part for part in split.parts}
        found_some += 1
        assert all(isinstance(eggs, int) and isinstance(at, int) for at, eggs in draws)
        assert sum(Fraction(eggs, parts[at][1]) for at, eggs in draws) >= 1
        assert all(split.least_draw <= eggs <= min(left[at], parts[at][2]) for at, eggs in draws)
        assert 2 <= len({at for at, _ in draws}) == len(draws) <= split.lots_most
        assert units == sum(math.ceil(eggs / split.eggs_max) for _, eggs in draws)
        assert cost == pytest.approx(
            split.costs[units] + math.fsum(parts[at][3] * eggs for at, eggs in draws)
        )
    assert found_some > 60


@pytest.mark.parametrize("batch", range(4))
def test_two_lots_are_shared_wherever_they_can_be(batch: int) -> None:
    chance, none = Random(100 + batch), 0
    for _ in range(150):
        split, left = a_random_split(chance, 2)
        found = shared_out(split, left)
        assert (found is None) == (feasible(split, left) == []), (split, left)
        none += found is None
    assert 20 < none < 140


@pytest.mark.parametrize("lots", [3, 4])
def test_of_more_lots_two_are_shared_wherever_two_can_be(lots: int) -> None:
    chance = Random(lots)
    for _ in range(150):
        split, left = a_random_split(chance, lots)
        split = replace(split, lots_most=2)
        if feasible(split, left):
            assert shared_out(split, left) is not None, (split, left)


def test_no_egg_is_drawn_that_the_shares_do_without() -> None:
    split = split_ways("bag", 60, (math.inf, math.inf, 1.0), 2, 5, ((0, 20, 19, 0.5), (1, 20, 19, 0.5)))
    found = shared_out(split, [18, 30])
    assert found is not None
    assert found[1] == ((0, 15), (1, 5))


def test_nineteen_of_twenty_and_four_of_eighty_are_not_one_line_but_a_fifth_egg_makes_it() -> None:
    # 19/20 + 3/80 < 1, and 19/20 + 4/80 = 1 exactly
    parts = ((0, 20, 19, 0.1), (1, 80, 79, 0.5))
    split = split_ways("bag", 100, (math.inf, math.inf, 1.0), 2, 3, parts)
    assert shared_out(split, [19, 3]) is None
    found = shared_out(split, [19, 4])
    assert found is not None
    assert found[1] == ((0, 19), (1, 4))
