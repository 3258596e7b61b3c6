"""A week's orders as placed so far: orders put in and taken out in microseconds, with eggs, room, value and
cost at hand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

from shipping.assignment.columns import OrderColumns, WeekColumns
from shipping.assignment.instance import MOST_JOINED, Chosen, Drawn, ParcelColumn, TravelMode
from shipping.assignment.random_set import RandomSet
from shipping.words.keys import LineKey


class FilledLine(NamedTuple):
    """A line of an order, by its number, as filled; ``draws``: lots on a day with their eggs; ``cost``
    without the parcel.
    """

    line: int
    packing: str
    units: int
    draws: tuple[tuple[int, int], ...]
    cost: float


_NONE_DRAWN = 10**9


@dataclass(frozen=True, slots=True)
class Placement:
    """An order by number, at one of its places by number, on a day; its lines, their cost without the parcel,
    and worth.
    """

    order: int
    at: int
    day: int
    lines: tuple[FilledLine, ...]
    cost: float
    value: float
    age: float


def placement(number: int, order: OrderColumns, at: int, lines: tuple[FilledLine, ...]) -> Placement:
    """An order's lines as filled at one of its places."""
    value, age = sum(order.value[line.line] for line in lines), sum(order.age[line.line] for line in lines)
    return Placement(
        number, at, order.departures[at].day, lines, sum(line.cost for line in lines), value, age
    )


@dataclass(eq=False)
class Solution:
    """What is placed. ``left``: eggs that may be drawn, by lot on a day; ``room``: parcels that each day
    still takes.
    """

    week: WeekColumns
    by_order: dict[int, Placement] = field(default_factory=dict)
    value: float = 0.0
    age: float = 0.0
    cost: float = 0.0

    def __post_init__(self) -> None:
        self.width = len(self.week.days)
        self.left = list(self.week.free)
        self.room = list(self.week.room)
        #: Orders that draw on a lot, and that go on a day.
        self.drawing: list[set[int]] = [set() for _ in self.week.lots]
        self.on_day = [RandomSet() for _ in self.week.days]
        self._drawn = [0] * len(self.left)
        self._parcels: dict[tuple[int, str, int], list[int]] = {}
        #: What the parcel of an order costs that no other may join.
        self._postage: dict[int, float] = {}
        self._is_alone = [mates == 1 for mates in self.week.mates]

    def put(self, one: Placement) -> None:
        """Place an order, which must fit."""
        self.by_order[one.order] = one
        self.value += one.value
        self.age += one.age
        self.cost += one.cost + self._parcel_cost_with(one)
        self.on_day[one.day].add(one.order)
        for line in one.lines:
            for at, eggs in line.draws:
                self.drawing[at // self.width].add(one.order)
                self.draw(at, eggs)

    def take(self, number: int) -> Placement:
        """Take an order out again; how it was placed."""
        one = self.by_order.pop(number)
        self.value -= one.value
        self.age -= one.age
        self.cost -= one.cost + self._parcel_cost_without(one)
        self.on_day[one.day].discard(number)
        for line in one.lines:
            for at, eggs in line.draws:
                self.drawing[at // self.width].discard(number)
                self.draw(at, -eggs)
        return one

    def draw(self, at: int, eggs: int) -> None:
        """Draw eggs of a lot on a day, or put some back.

        What is left on a day is what that day and every later day with a draw leave: eggs drawn up to a day
        never exceed what is free that day.
        """
        width, free, drawn, left = self.width, self.week.free, self._drawn, self.left
        drawn[at] += eggs
        start = at - at % width
        total = 0
        for n in range(start, start + width):
            total += drawn[n]
            left[n] = free[n] - total
        least = _NONE_DRAWN
        for n in range(start + width - 1, start - 1, -1):
            own = left[n]
            if own > least:
                left[n] = least
            elif drawn[n]:
                least = own

    def drawn_by(self, number: int, lot: int) -> int:
        """Eggs that a placed order draws from a lot."""
        lines = self.by_order[number].lines
        return sum(eggs for line in lines for at, eggs in line.draws if at // self.width == lot)

    def has_mates(self, number: int) -> bool:
        """Are there other orders of the same address?"""
        return not self._is_alone[number]

    def joins(self, number: int, at: int) -> list[int] | None:
        """Orders in the parcel that an order would join at a place: none where it makes one; None where it is
        full.
        """
        if self._is_alone[number]:
            return _NOBODY
        inside = self._parcels.get(self._parcel(number, at), _NOBODY)
        return inside if len(inside) < MOST_JOINED else None

    def parcel_cost(
        self, number: int, at: int, travel_modes: tuple[TravelMode, ...], inside: list[int]
    ) -> float:
        """What parcels cost more with an order in one, at a place, in these modes; infinite where none takes
        it.
        """
        order = self.week.of(number)
        departure = order.departures[at].departure
        if not inside:
            return self.week.parcel_cost((order.name,), departure, travel_modes)
        others, names = self._inside(inside)
        before = self.week.parcel_cost(names, departure, others)
        return self.week.parcel_cost((*names, order.name), departure, (*others, *travel_modes)) - before

    def _parcel(self, number: int, at: int) -> tuple[int, str, int]:
        departure = self.week.of(number).departures[at]
        return self.week.address[number], departure.departure[1], departure.day

    def _inside(self, numbers: list[int]) -> tuple[tuple[TravelMode, ...], tuple[str, ...]]:
        """The modes of orders placed, and their names."""
        travel_modes = tuple(
            travel_mode
            for number in numbers
            for travel_mode in travel_modes_of(self.week.of(number), self.by_order[number].lines)
        )
        return travel_modes, tuple(self.week.of(number).name for number in numbers)

    def _parcel_cost_with(self, one: Placement) -> float:
        """Put an order in its parcel: what parcels cost more."""
        number, travel_modes = one.order, travel_modes_of(self.week.of(one.order), one.lines)
        if self._is_alone[number]:
            self.room[one.day] -= 1
            self._postage[number] = self.parcel_cost(number, one.at, travel_modes, _NOBODY)
            return self._postage[number]
        inside = self._parcels.setdefault(self._parcel(number, one.at), [])
        if not inside:
            self.room[one.day] -= 1
        cost = self.parcel_cost(number, one.at, travel_modes, inside)
        inside.append(number)
        return cost

    def _parcel_cost_without(self, one: Placement) -> float:
        """Take an order out of its parcel: what parcels cost less."""
        number = one.order
        if self._is_alone[number]:
            self.room[one.day] += 1
            return self._postage.pop(number)
        travel_modes = travel_modes_of(self.week.of(number), one.lines)
        inside = self._parcels[self._parcel(number, one.at)]
        inside.remove(number)
        if not inside:
            self.room[one.day] += 1
        return self.parcel_cost(number, one.at, travel_modes, inside)

    def chosen(self, bound: float) -> Chosen:
        """The choice as it stands, with a bound on any choice's value."""
        drawn: dict[LineKey, Drawn] = {}
        parcels: dict[object, list[int]] = {}
        for number in sorted(self.by_order):
            one, order = self.by_order[number], self.week.of(number)
            for n, packing, _, draws, _ in one.lines:
                eggs = sorted((self.week.lots[at // self.width], count) for at, count in draws)
                drawn[order.lines[n]] = Drawn(
                    order.lines[n], order.departures[one.at].departure, packing, tuple(eggs)
                )
            parcels.setdefault(number if self._is_alone[number] else self._parcel(number, one.at), []).append(
                number
            )
        columns = []
        for inside in parcels.values():
            travel_modes, names = self._inside(sorted(inside))
            departure = self.week.of(inside[0]).departures[self.by_order[inside[0]].at].departure
            columns.append(
                ParcelColumn(
                    names, departure, travel_modes, self.week.parcel_cost(names, departure, travel_modes)
                )
            )
        value = math.fsum(one.value for one in self.by_order.values())
        lines = math.fsum(one.cost for one in self.by_order.values())
        cost = lines + math.fsum(column.cost for column in columns)
        columns.sort(key=lambda column: (column.departure, column.orders))
        return Chosen(
            tuple(columns), dict(sorted(drawn.items())), value, max(bound, value), cost, cheapest=False
        )


_NOBODY: list[int] = []


def travel_modes_of(order: OrderColumns, lines: tuple[FilledLine, ...]) -> tuple[TravelMode, ...]:
    """How each line of an order travels."""
    return tuple((order.lines[one.line], one.packing, one.units) for one in lines)
