"""The ways made of a week's choices are those of the week as numbers, order by order; and they lead to the
same plan.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from shipping.assignment.columns import OrderColumns, WeekColumns, columns_of_instance
from shipping.assignment.instance import Departure, Instance
from shipping.assignment.relaxation_bound import needs
from shipping.assignment.solve import allocate
from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.week.choices import Choices, columns_of_choices
from shipping.week.objective import dispatch_days, next_week
from shipping.words.keys import LineKey
from tests.timings.week_check import WeekCheck
from tests.week.a_week import WEEK, a_row, a_week
from tests.week.tiny_weeks import generated_choices, singles_of

DEMO = Path(__file__).resolve().parents[2] / "demo_orders"
WEEKS = [(70, 50, 6), (70, 50, 2), (40, 30, 5)]

#: Of a line at a place: from one lot (lot, day, eggs, units, packing, cost), and shared (packing, eggs a unit
#: holds, lots at
#: most, least draw, costs by units, parts by lot), with the shares of lots that go together.
Said = dict[tuple[LineKey, Departure], tuple[list[object], list[object]]]


def lot_on_day(week: WeekColumns, at: int) -> tuple[str, date]:
    return week.lots[at // len(week.days)], week.days[at % len(week.days)]


def rounded(cost: float) -> float:
    """So that sums made in another order are the same."""
    return cost if cost == math.inf else round(cost, 6)


def said(week: WeekColumns, order: OrderColumns) -> Said:
    found: Said = {}
    for departure in order.departures:
        for key, line in zip(order.lines, departure.lines, strict=True):
            if line is None:
                continue
            one_lot: list[object] = [
                (lot_on_day(week, at), eggs, units, packing, rounded(cost))
                for at, eggs, cost, units, packing in singles_of(line)
            ]
            shared_fills: list[object] = [
                (
                    shared_fill.packing,
                    shared_fill.eggs_max,
                    shared_fill.lots_most,
                    shared_fill.least_draw,
                    tuple(rounded(line.shared_cost + cost) for cost in shared_fill.costs),
                    sorted(
                        (lot_on_day(week, at), alone, most, rounded(egg))
                        for at, alone, most, egg in shared_fill.parts
                    ),
                )
                for shared_fill in line.shared_fills
            ]
            shared_fills += [
                sorted((lot_on_day(week, at), alone, most) for at, alone, most in shares)
                for shares in line.several.shares
            ]
            found[key, departure.departure] = sorted(one_lot, key=str), sorted(shared_fills, key=str)
    return found


def of_name(week: WeekColumns) -> dict[str, int]:
    return {name: number for number, name in enumerate(week.names)}


def both(numbers: tuple[int, int, int]) -> tuple[WeekColumns, WeekColumns, Instance]:
    choices = generated_choices(*numbers)
    instance = choices.instance()
    return columns_of_choices(choices), columns_of_instance(instance), instance


@pytest.mark.parametrize("numbers", WEEKS)
def test_both_say_the_same_of_every_order(numbers: tuple[int, int, int]) -> None:
    one, two, _ = both(numbers)
    known, shared = of_name(two), 0
    for number, name in enumerate(one.names):
        first = one.of(number)
        if name not in known:
            assert first.departures == ()
            continue
        second = two.of(known[name])
        there = said(two, second)
        here = said(one, first)
        assert here == there
        shared += sum(bool(shared_fills) for _, shared_fills in here.values())
        worth = {
            key: (value, age) for key, value, age in zip(first.lines, first.value, first.age, strict=True)
        }
        for key, value, age in zip(second.lines, second.value, second.age, strict=True):
            assert worth[key] == pytest.approx((value, age))
        assert second.worth == pytest.approx(first.worth)
        first_needs = {
            first.lines[n]: {lot_on_day(one, at): eggs for at, eggs in need.items()}
            for n, need in needs(first)
        }
        second_needs = {
            second.lines[n]: {lot_on_day(two, at): eggs for at, eggs in need.items()}
            for n, need in needs(second)
        }
        assert first_needs == second_needs
        assert {one.lots[lot] for lot in first.lots} >= {two.lots[lot] for lot in second.lots}
    assert shared > 100
    assert set(known) <= set(one.names)


@pytest.mark.parametrize("numbers", WEEKS)
def test_both_say_the_same_of_parcels_room_and_eggs(numbers: tuple[int, int, int]) -> None:
    one, two, instance = both(numbers)
    for column in instance.columns:
        costs = [
            week.parcel_cost(column.orders, column.departure, column.travel_modes) for week in (one, two)
        ]
        assert costs == [column.cost, column.cost]
    rooms = [dict(zip(week.days, week.room, strict=True)) for week in (one, two)]
    assert rooms[0] == rooms[1]
    eggs = dict(zip([lot_on_day(one, at) for at in range(len(one.free))], one.free, strict=True))
    assert all(eggs[at] == count for at, count in instance.free.items())
    departures = {
        order: [
            (at, column.departure) for at, column in enumerate(instance.columns) if order in column.orders
        ]
        for order in two.names
    }
    assert all(departures.values())


def test_parcels_made_already_leave_a_day_less_room_and_never_less_than_none() -> None:
    choices = generated_choices(*WEEKS[0])
    limit, days = choices.shelf.settings.plan.parcels_per_day, choices.days
    assert limit is not None
    shelf = replace(choices.shelf, parcels_made={days[0]: 3, days[1]: limit + 9})
    week = columns_of_choices(Choices(OptionFactory(shelf), days, choices.later_days))
    assert week.room == [limit - 3, 0] + [limit] * (len(days) - 2)


@pytest.mark.parametrize("numbers", WEEKS)
def test_orders_that_may_go_in_one_parcel_have_one_address_in_both(numbers: tuple[int, int, int]) -> None:
    one, two, instance = both(numbers)
    joined = 0
    for week in (one, two):
        number = of_name(week)
        for column in instance.columns:
            assert len({week.address[number[order]] for order in column.orders}) == 1
            joined += len(column.orders) > 1
        orders = generated_choices(*numbers).shelf.order_by_name
        assert len(set(week.address)) >= len({orders[name].address for name in week.names})
    assert joined or numbers != WEEKS[0]


@pytest.mark.parametrize("numbers", WEEKS)
def test_no_way_of_a_line_costs_less_than_is_said_of_its_place(numbers: tuple[int, int, int]) -> None:
    week = both(numbers)[0]
    for number in range(len(week.names)):
        for departure in week.of(number).departures:
            for line in departure.lines:
                if line is not None:
                    costs = [single[2] for single in singles_of(line)]
                    least = min(
                        (line.shared_cost + one.least_cost for one in line.shared_fills), default=math.inf
                    )
                    assert costs == sorted(costs)
                    assert line.least_shared <= least + 1e-9
                    assert min(one[0] for one in line.least) <= min([least, *costs]) + 1e-9


@pytest.mark.parametrize("numbers", WEEKS)
def test_what_lots_give_to_lines_alike_is_held_once(numbers: tuple[int, int, int]) -> None:
    week = columns_of_choices(generated_choices(*numbers))
    lines = [
        line
        for number in range(len(week.names))
        for departure in week.of(number).departures
        for line in departure.lines
        if line is not None
    ]
    fills = [fill for line in lines for fill in line.shared_fills]
    assert len({id(fill.parts) for fill in fills}) == len({fill.parts for fill in fills}) < len(fills)
    assert len({id(fill) for fill in fills}) == len(set(fills)) < len(fills)
    assert len({id(line.one_lot) for line in lines}) < len(lines)
    assert len({id(line.several) for line in lines}) < len(lines)


def test_a_part_of_the_week_is_the_same_from_both() -> None:
    one, two, _ = both(WEEKS[0])
    names = two.names[::3]
    parts = [week.part(names) for week in (one, two)]
    assert set(parts[0].fills) == set(parts[1].fills)
    assert set(parts[0].shared_fills) == set(parts[1].shared_fills)
    assert set(parts[0].columns) == set(parts[1].columns)
    assert parts[0].parcels_a_day == parts[1].parcels_a_day


def test_the_best_choice_of_the_demo_week_is_the_same_from_both() -> None:
    shelf = read_shelf(DEMO, date(2026, 11, 30)).shelf
    assert shelf is not None
    choices = Choices(OptionFactory(shelf), dispatch_days(shelf, WEEK), dispatch_days(shelf, next_week(WEEK)))
    choices.reckon()
    instance = choices.instance()
    one, two = allocate(columns_of_choices(choices)), allocate(columns_of_instance(instance))
    assert (one.columns, one.drawn) == (two.columns, two.drawn)
    assert (one.value, one.bound, one.cost) == pytest.approx((two.value, two.bound, two.cost))
    check = WeekCheck(instance)
    broken = check.broken(one)
    assert broken == []


def test_a_parcel_of_two_orders_holds_a_line_of_each_where_both_may_split() -> None:
    same = {"addressee": "Buyer A", "delivery_1": "Gade A", "parts": "may split"}
    shelf = a_week(*(a_row(order, eggs=eggs, **same) for order in ("A", "B") for eggs in (10, 20)))
    choices = Choices.of_week(OptionFactory(shelf), WEEK)
    choices.reckon()
    columns = choices.instance().columns
    assert {len(column.orders) for column in columns} == {1, 2}
    for column in columns:
        assert {line[0] for line, _, _ in column.travel_modes} == set(column.orders)
