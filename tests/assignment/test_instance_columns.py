"""The ways of a week given as numbers say what the numbers say; and a part of it is only that part."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from shipping.assignment.columns import UNLIMITED
from shipping.assignment.instance import Filling, Mode, Place, Task
from shipping.assignment.instance_columns import part_of, ways_of_task
from shipping.words.keys import LineKey
from tests.assignment.test_solve import a_task, day, one_line
from tests.week.tiny_weeks import TINY, a_tiny_week, singles_of


def modes_by_place(task: Task, order: str) -> dict[LineKey, dict[Place, set[Mode]]]:
    """How each line of an order may travel."""
    found: dict[LineKey, dict[Place, set[Mode]]] = {}
    every = [(f.mode, f.place) for f in task.fillings] + [(split.mode, split.place) for split in task.splits]
    for mode, place in every:
        if mode[0][0] == order:
            found.setdefault(mode[0], {}).setdefault(place, set()).add(mode)
    return found


@pytest.mark.parametrize("number", TINY)
def test_an_order_has_the_places_where_all_its_lines_can_go_or_some_if_it_may_split(number: int) -> None:
    task = a_tiny_week(number)
    week = ways_of_task(task)
    for at, name in enumerate(week.names):
        order = week.of(at)
        own = {frozenset(mode[0] for mode in way.modes) for way in task.ways if way.orders == (name,)}
        assert order.may_split == (len(own) > 1)
        sets = [set(places) for places in modes_by_place(task, name).values()]
        expected = (set.union(*sets) if order.may_split else set.intersection(*sets)) if sets else set()
        assert [one.place for one in order.places] == sorted(expected)
        assert [week.days[one.day] for one in order.places] == [one.place[0] for one in order.places]


@pytest.mark.parametrize("number", TINY)
def test_every_filling_and_split_of_a_place_is_there_and_no_other(number: int) -> None:
    task = a_tiny_week(number)
    week = ways_of_task(task)
    width = len(week.days)
    for at in range(len(week.names)):
        order = week.of(at)
        for place in order.places:
            for key, line in zip(order.lines, place.lines, strict=True):
                fillings = [f for f in task.fillings if (f.line, f.place) == (key, place.place)]
                splits = [s for s in task.splits if (s.line, s.place) == (key, place.place)]
                assert (line is None) == (not fillings and not splits)
                made = [
                    Filling(key, place.place, packing, units, week.lots[lot // width], eggs, cost)
                    for lot, eggs, cost, units, packing in singles_of(line)
                ]
                assert sorted(made, key=lambda f: f.rank) == sorted(fillings, key=lambda f: f.rank)
                costs = {
                    (split.packing, units): cost
                    for split in (line.splits if line else ())
                    for units, cost in enumerate(split.costs)
                    if cost < math.inf
                }
                assert costs == {(s.packing, s.units): s.cost for s in splits}


@pytest.mark.parametrize("number", TINY)
def test_a_parcel_costs_what_its_way_says_however_its_orders_are_named_and_no_other_is_made(
    number: int,
) -> None:
    task = a_tiny_week(number)
    week = ways_of_task(task)
    for way in task.ways:
        assert week.parcel_cost(way.orders[::-1], way.place, way.modes[::-1]) == way.cost
        assert week.parcel_cost(way.orders, (day(9), "letter"), way.modes) == math.inf
        assert week.parcel_cost(("nobody",), way.place, way.modes) == math.inf


def test_orders_are_of_one_address_where_some_parcel_takes_both() -> None:
    task = next(a_tiny_week(n) for n in TINY if any(len(way.orders) > 1 for way in a_tiny_week(n).ways))
    week = ways_of_task(task)
    number = {name: n for n, name in enumerate(week.names)}
    joined = {frozenset(way.orders) for way in task.ways if len(way.orders) > 1}
    for one in week.names:
        for two in week.names:
            together = one == two or any({one, two} <= names for names in joined)
            assert (week.address[number[one]] == week.address[number[two]]) == together


def test_a_day_takes_what_is_left_of_its_limit() -> None:
    pairs = [one_line("A", "L1", 5), one_line("A", "L1", 5, on=1)]
    task = a_task(
        *pairs, free={("L1", day(0)): 9, ("L1", day(1)): 8}, parcels_a_day=3, parcels_made={day(1): 2}
    )
    assert ways_of_task(task).room == [3, 1]
    assert ways_of_task(replace(task, parcels_made={day(1): 5})).room == [3, 0]
    assert ways_of_task(replace(task, parcels_a_day=None)).room == [UNLIMITED, UNLIMITED]
    assert ways_of_task(task).free == [9, 8]


@pytest.mark.parametrize("number", TINY)
def test_a_part_has_its_orders_ways_only_and_every_parcel_of_them_alone(number: int) -> None:
    task = a_tiny_week(number)
    names = {way.orders[0] for way in task.ways[::2]} - {"A"}
    part = part_of(task, names)
    assert part.fillings == tuple(f for f in task.fillings if f.line[0] in names)
    assert part.splits == tuple(s for s in task.splits if s.line[0] in names)
    assert part.ways == tuple(way for way in task.ways if set(way.orders) <= names)
    assert (part.free, part.parcels_a_day, part.parcels_made) == (
        task.free,
        task.parcels_a_day,
        task.parcels_made,
    )
