"""The ways of a week given as numbers say what the numbers say; and a part of it is only that part."""

from __future__ import annotations

import math
from dataclasses import replace

from shipping.assignment.columns import UNLIMITED, columns_of_instance, part_of
from shipping.assignment.instance import Departure, Instance, OneLotFill, TravelMode
from shipping.words.keys import LineKey
from tests.assignment.test_solve import a_task, day, one_line
from tests.every_case import every
from tests.week.tiny_weeks import TINY, a_tiny_week, singles_of


def modes_by_place(instance: Instance, order: str) -> dict[LineKey, dict[Departure, set[TravelMode]]]:
    """How each line of an order may travel."""
    found: dict[LineKey, dict[Departure, set[TravelMode]]] = {}
    every = [(f.travel_mode, f.departure) for f in instance.fills] + [
        (shared_fill.travel_mode, shared_fill.departure) for shared_fill in instance.shared_fills
    ]
    for travel_mode, departure in every:
        if travel_mode[0][0] == order:
            found.setdefault(travel_mode[0], {}).setdefault(departure, set()).add(travel_mode)
    return found


@every("number", TINY)
def test_an_order_has_the_places_where_all_its_lines_can_go_or_some_if_it_may_split(number: int) -> None:
    instance = a_tiny_week(number)
    week = columns_of_instance(instance)
    for at, name in enumerate(week.names):
        order = week.of(at)
        own = {
            frozenset(travel_mode[0] for travel_mode in column.travel_modes)
            for column in instance.columns
            if column.orders == (name,)
        }
        assert order.may_split == (len(own) > 1)
        sets = [set(departures) for departures in modes_by_place(instance, name).values()]
        expected = (set.union(*sets) if order.may_split else set.intersection(*sets)) if sets else set()
        assert [one.departure for one in order.departures] == sorted(expected)
        assert [week.days[one.day] for one in order.departures] == [
            one.departure[0] for one in order.departures
        ]


@every("number", TINY)
def test_every_filling_and_split_of_a_place_is_there_and_no_other(number: int) -> None:
    instance = a_tiny_week(number)
    week = columns_of_instance(instance)
    width = len(week.days)
    for at in range(len(week.names)):
        order = week.of(at)
        for departure in order.departures:
            for key, line in zip(order.lines, departure.lines, strict=True):
                fills = [f for f in instance.fills if (f.line, f.departure) == (key, departure.departure)]
                shared_fills = [
                    s for s in instance.shared_fills if (s.line, s.departure) == (key, departure.departure)
                ]
                assert (line is None) == (not fills and not shared_fills)
                made = [
                    OneLotFill(key, departure.departure, packing, units, week.lots[lot // width], eggs, cost)
                    for lot, eggs, cost, units, packing in singles_of(line)
                ]
                assert sorted(made, key=lambda f: f.rank) == sorted(fills, key=lambda f: f.rank)
                costs = {
                    (shared_fill.packing, units): cost
                    for shared_fill in (line.shared_fills if line else ())
                    for units, cost in enumerate(shared_fill.costs)
                    if cost < math.inf
                }
                assert costs == {(s.packing, s.units): s.cost for s in shared_fills}


@every("number", TINY)
def test_a_parcel_costs_what_its_way_says_however_its_orders_are_named_and_no_other_is_made(
    number: int,
) -> None:
    instance = a_tiny_week(number)
    week = columns_of_instance(instance)
    for column in instance.columns:
        assert (
            week.parcel_cost(column.orders[::-1], column.departure, column.travel_modes[::-1]) == column.cost
        )
        assert week.parcel_cost(column.orders, (day(9), "letter"), column.travel_modes) == math.inf
        assert week.parcel_cost(("nobody",), column.departure, column.travel_modes) == math.inf


def test_orders_are_of_one_address_where_some_parcel_takes_both() -> None:
    instance = next(
        a_tiny_week(n) for n in TINY if any(len(column.orders) > 1 for column in a_tiny_week(n).columns)
    )
    week = columns_of_instance(instance)
    number = {name: n for n, name in enumerate(week.names)}
    joined = {frozenset(column.orders) for column in instance.columns if len(column.orders) > 1}
    for one in week.names:
        for two in week.names:
            together = one == two or any({one, two} <= names for names in joined)
            assert (week.address[number[one]] == week.address[number[two]]) == together


def test_a_day_takes_what_is_left_of_its_limit() -> None:
    pairs = [one_line("A", "L1", 5), one_line("A", "L1", 5, on=1)]
    instance = a_task(
        *pairs, free={("L1", day(0)): 9, ("L1", day(1)): 8}, parcels_a_day=3, parcels_made={day(1): 2}
    )
    assert columns_of_instance(instance).room == [3, 1]
    assert columns_of_instance(replace(instance, parcels_made={day(1): 5})).room == [3, 0]
    assert columns_of_instance(replace(instance, parcels_a_day=None)).room == [UNLIMITED, UNLIMITED]
    assert columns_of_instance(instance).free == [9, 8]


@every("number", TINY)
def test_a_part_has_its_orders_ways_only_and_every_parcel_of_them_alone(number: int) -> None:
    instance = a_tiny_week(number)
    names = {column.orders[0] for column in instance.columns[::2]} - {"A"}
    part = part_of(instance, names)
    assert part.fills == tuple(f for f in instance.fills if f.line[0] in names)
    assert part.shared_fills == tuple(s for s in instance.shared_fills if s.line[0] in names)
    assert part.columns == tuple(column for column in instance.columns if set(column.orders) <= names)
    assert (part.free, part.parcels_a_day, part.parcels_made) == (
        instance.free,
        instance.parcels_a_day,
        instance.parcels_made,
    )
