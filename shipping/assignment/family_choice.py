"""The best choice for the orders that draw on lots of one family, all others staying as they are: a week as
placed so far in, a better one out.

Lots belong to one family that some line may draw on, or any chain of such lines. A large neighbourhood
searched whole by the exact program (Fischetti and Lodi 2003, Math. Program. 98, 23-47, give the idea).
"""

from __future__ import annotations

import itertools
import math
import sys
from collections.abc import Collection, Mapping
from dataclasses import replace

from shipping.assignment.columns import OrderColumns, WeekColumns
from shipping.assignment.exact import best_on_days
from shipping.assignment.instance import Instance
from shipping.assignment.mip import SAME, Budget
from shipping.assignment.placements import put_as_chosen
from shipping.assignment.relaxation_bound import RelaxationBound, needs
from shipping.assignment.solution import Placement, Solution
from shipping.assignment.union_find import UnionFind

#: The program of one family is looked into no further than so many nodes.
MOST_NODES = 5
#: A family whose orders may draw in more ways than this stays as it is.
MOST_DRAWS = 300


def families(week: WeekColumns) -> list[list[int]]:
    """Of each family of lots the numbers of the orders that may draw on it, and of those that may join them,
    in order.
    """
    linked, width = UnionFind(), len(week.days)
    lots = [
        [{at // width for at in need} for _, need in needs(week.of(number))]
        for number in range(len(week.names))
    ]
    for line in itertools.chain(*lots):
        for lot in line:
            linked.link(min(line), lot)
    found: dict[object, set[int]] = {}
    for number, lines in enumerate(lots):
        for line in lines:
            found.setdefault(linked.family(min(line)), set()).update((number, *week.mates_of(number)))
    return sorted(map(sorted, found.values()))


def choose_again(solution: Solution, orders: list[int], budget: Budget) -> None:
    """Place these orders to serve more, if that is found: those placed stay on their days or go out, others
    come in on any day; nothing else is moved.
    """
    week = solution.week
    out = [solution.take(number) for number in orders if number in solution.by_order]
    reached, days = math.fsum(one.value for one in out), {one.order: one.day for one in out}
    rest = _rest(solution, orders, days)
    put: list[Placement] = []
    bound = RelaxationBound(rest)
    if sum(len(need) for n in range(len(orders)) for _, need in needs(rest.of(n))) <= MOST_DRAWS:
        most = bound.whole(reached, budget, sys.maxsize, MOST_NODES)
    if bound.answer is not None:
        on = {rest.names[n]: {week.days[day] for day in own} for n, own in bound.answer.days.items()}
        put = put_as_chosen(solution, best_on_days(rest.part(sorted(on)), on, most, budget))
    if math.fsum(one.value for one in put) <= reached + SAME:
        for one in put:
            solution.take(one.order)
        for one in out:
            solution.put(one)


def _rest(solution: Solution, orders: list[int], days: Mapping[int, int]) -> WeekColumns:
    """The week of these orders, none of them placed, with the eggs and the room that others leave; those with
    a day go on that day only.
    """
    week = solution.week
    free, room = [max(0, eggs) for eggs in solution.left], [max(0, parcels) for parcels in solution.room]

    def make(n: int) -> OrderColumns:
        order, day = week.of(orders[n]), days.get(orders[n])
        return order if day is None else _on_day(order, day, len(week.days))

    def part(names: Collection[str]) -> Instance:
        return _with_left(week.part(names), replace(week, free=free, room=room))

    names, address = tuple(week.names[n] for n in orders), [week.address[n] for n in orders]
    return WeekColumns(week.days, week.lots, free, room, names, address, make, week.parcel_cost, part)


def _on_day(order: OrderColumns, day: int, width: int) -> OrderColumns:
    """An order that may go on one day only."""

    def at_day() -> list[dict[int, int]]:
        return [{at: eggs for at, eggs in need.items() if at % width == day} for need in order.needs()]

    departures = tuple(departure for departure in order.departures if departure.day == day)
    return replace(order, departures=departures, by_cost=tuple(range(len(departures))), needs=at_day)


def _with_left(part: Instance, week: WeekColumns) -> Instance:
    """The task with the eggs and the room of a week."""
    width = len(week.days)
    left = {
        (lot, day): week.free[n * width + at]
        for n, lot in enumerate(week.lots)
        for at, day in enumerate(week.days)
    }
    limit = part.parcels_a_day or 0
    made = {day: limit - room for day, room in zip(week.days, week.room, strict=True) if room <= limit}
    return replace(
        part, free={key: left.get(key, eggs) for key, eggs in part.free.items()}, parcels_made=made
    )
