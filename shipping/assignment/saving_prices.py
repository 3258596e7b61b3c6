"""What eggs and room are worth to orders that would spend less with them: a week and the orders that go in,
their ways with those prices on top out.

Each order's cheapest way takes eggs and room that another could use better. With the prices of a Lagrangian
relaxation on top of what it costs, it leaves them to that one.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from shipping.assignment.columns import (
    DepartureColumns,
    LineColumns,
    OrderColumns,
    SeveralLotsColumns,
    SharedColumns,
    WeekColumns,
    shared_columns,
)
from shipping.assignment.lagrangian_bound import LagrangianBound
from shipping.assignment.mip import Budget
from shipping.assignment.solution import Placement, Solution, placement


@dataclass(eq=False)
class SavingPrices:
    """``of_egg``: by the number of a lot on a day; ``of_day``: of a parcel's room, by the day's number."""

    week: WeekColumns
    of_egg: Sequence[float]
    of_day: Sequence[float]
    _orders: dict[int, OrderColumns] = field(default_factory=dict)
    #: Splits of lines alike, with those they come from, so that these stay what their identity says.
    _several: dict[int, tuple[SeveralLotsColumns, SeveralLotsColumns]] = field(default_factory=dict)

    @classmethod
    def found(cls, week: WeekColumns, orders: Sequence[int], budget: Budget) -> SavingPrices:
        """Those at which these orders, by number, can hardly spend less by themselves."""
        relaxation = LagrangianBound.of_costs(week, orders)
        prices = relaxation.saving_prices(budget)
        of_egg, of_day = relaxation.egg_prices(prices), relaxation.day_prices(prices)
        return cls(week, of_egg.tolist(), of_day.tolist())

    def of(self, number: int) -> OrderColumns:
        """The places of an order, those first that cost least with eggs and room."""
        priced = self._orders.get(number)
        if priced is None:
            priced = self._orders[number] = self._priced(self.week.of(number))
        return priced

    def make(self, numbers: Sequence[int]) -> None:
        """Make the places of these orders now, so that processes begun later have them."""
        for number in numbers:
            self.of(number)

    def least(self, number: int) -> float:
        """The least that an order costs with eggs and room, at a place for itself."""
        order = self.of(number)
        return order.departures[order.by_cost[0]].with_parcel if order.by_cost else 0.0

    def excess(self, solution: Solution, number: int) -> float:
        """What an order that goes by itself costs more than that; nothing where it stays, or others may join
        it.
        """
        one = solution.by_order.get(number)
        if one is None or solution.has_mates(number):
            return 0.0
        return one.cost + solution.postage(number) + self._on_top(one) - self.least(number)

    def without(self, one: Placement) -> Placement:
        """An order so placed, with what that costs without the prices."""
        of_egg = self.of_egg
        lines = tuple(
            [
                line._replace(cost=line.cost - sum([of_egg[at] * eggs for at, eggs in line.draws]))
                for line in one.lines
            ]
        )
        return placement(one.order, self.week.of(one.order), one.at, lines)

    def _on_top(self, one: Placement) -> float:
        of_egg = self.of_egg
        return self.of_day[one.day] + sum([of_egg[at] * eggs for at, eggs in one.draws])

    def _priced(self, order: OrderColumns) -> OrderColumns:
        places = tuple(self._place(place) for place in order.departures)
        by_cost = sorted(range(len(places)), key=lambda at: (places[at].with_parcel, at))
        return replace(order, departures=places, by_cost=tuple(by_cost))

    def _place(self, place: DepartureColumns) -> DepartureColumns:
        lines = tuple(line and self._line(line) for line in place.lines)
        least = math.fsum(min(min(one.cost, default=math.inf), one.least_shared) for one in lines if one)
        parcel = place.with_parcel - place.least_cost if place.with_parcel < math.inf else math.inf
        with_parcel = least + parcel + self.of_day[place.day]
        return DepartureColumns(place.departure, place.day, lines, least, with_parcel)

    def _line(self, line: LineColumns) -> LineColumns:
        own, of_egg = line.one_lot, self.of_egg
        ways = zip(line.cost, own.at, own.eggs, strict=True)
        cost = array("d", [cost + of_egg[at] * eggs for cost, at, eggs in ways])
        return LineColumns(own, cost, line.shared_cost, line.least_shared, lambda: self._shared(line.several))

    def _shared(self, several: SeveralLotsColumns) -> SeveralLotsColumns:
        if id(several) not in self._several:
            priced = SeveralLotsColumns(several.shares, several.least_draw, lambda: self._fills(several))
            self._several[id(several)] = priced, several
        return self._several[id(several)][0]

    def _fills(self, several: SeveralLotsColumns) -> Iterator[SharedColumns]:
        for one in several.fills:
            parts = tuple((at, alone, most, cost + self.of_egg[at]) for at, alone, most, cost in one.parts)
            yield shared_columns(one.packing, one.eggs_max, one.costs, one.lots_most, one.least_draw, parts)
