"""A bound on the value of a large week by prices: its orders' ways in, the least sum that prices of eggs and
room prove out. The same for what orders that all go cost, whose prices guide a search that spends less.

With a price for an egg of each lot on each day and for room on each day, every order takes what is best for
it alone; what that is worth beyond its price, with what all eggs and room are worth, no choice can pass
(Lagrangian duality). The prices are found on a smooth function near that sum, nearer from turn to turn
(Nesterov 2005, Math. Program. 103, 127-152), by scipy's L-BFGS-B; the sum itself is then reckoned exactly, so
that it is a bound whatever the prices are. Each order's cheapest way takes eggs and room that another could
use better: with those prices on top of what it costs, it leaves them to that one.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from shipping.assignment.columns import (
    UNLIMITED,
    DepartureColumns,
    LineColumns,
    OrderColumns,
    SeveralLotsColumns,
    SharedColumns,
    WeekColumns,
    shared_columns,
)
from shipping.assignment.instance import MOST_JOINED
from shipping.assignment.mip import Budget, Floats
from shipping.assignment.relaxation_bound import lot_rows, needs
from shipping.assignment.solution import Placement, Solution, placement

Ints = NDArray[np.int32]
#: How far the smooth function is from the sum, as shares of what a line is worth on average, from turn to
#: turn.
SMOOTH = (0.1, 0.025, 0.006, 0.0015, 0.0004, 0.0001)
#: The prices of so many turns guide a search.
GUIDING_TURNS = 2
#: An order that must go is worth so many times what any costs at most.
MOST_TIMES = 4.0
#: The same, and steps in a turn, of costs.
SAVING_SMOOTH, SAVING_TURN_STEPS = (0.1, 0.02), 30
#: So many steps in a turn, fewer where there are many rows: a step looks at each row twice.
STEPS, FEWEST_STEPS, ROWS_IN_ALL = 200, 15, 60_000_000


def _until_spent(budget: Budget) -> Callable[[Floats], None]:
    def look(prices: Floats) -> None:
        if budget.is_spent:
            raise StopIteration

    return look


@dataclass(frozen=True, eq=False)
class LagrangianBound:
    """What prices prove of a week.

    Its ways as rows: (n,) of a lot on a day with eggs needed and what that costs, by need (l,), which lines
    alike have in common; of a line at a place with its ``need`` and value (m,), by order and place (k,), by
    order; where nothing costs anything a day is a place. ``of_need``, ``of_place``, ``of_order``: where the
    rows of each begin among the ones before. Prices are those of eggs drawn of a lot up to a day (lots x
    days), and of room (days,). ``counts``: as how many an egg of a lot drawn on a day counts among those up
    to a day (lots x days up to x days of draws). ``unit``: what a line is worth, or an order costs, on
    average.
    """

    lots: int
    days: int
    at: Ints
    eggs: Ints
    cost: Floats
    of_need: Ints
    need: Ints
    value: Floats
    of_place: Ints
    day: Ints
    share: Floats
    of_order: Ints
    counts: Floats
    limits: Floats
    is_limited: NDArray[np.bool_]
    unit: float

    @classmethod
    def of(cls, week: WeekColumns) -> LagrangianBound:
        """All rows of a week; nothing else of it is looked at afterwards."""
        rows = _Rows(week)
        for number in range(len(week.names)):
            rows.add(number, week.of(number))
        return cls._of_rows(week, rows, math.fsum(rows.value) / max(1, len(rows.value)))

    @classmethod
    def of_costs(cls, week: WeekColumns, numbers: Sequence[int]) -> LagrangianBound:
        """The rows of what these orders cost, each worth more than all its places cost: they all go."""
        rows, orders = _Rows(week), [(number, week.of(number)) for number in numbers]
        costs = [[place.with_parcel for place in order.departures] for _, order in orders]
        most = max((cost for own in costs for cost in own if cost < math.inf), default=0.0)
        least = [cost for own in costs if (cost := min(own, default=math.inf)) < math.inf]
        for number, order in orders:
            rows.add_costs(number, order, MOST_TIMES * most)
        unit = math.fsum(least) / max(1, len(least))
        return cls._of_rows(week, rows, unit)

    @classmethod
    def _of_rows(cls, week: WeekColumns, rows: _Rows, unit: float) -> LagrangianBound:
        lots, days = len(week.lots), len(week.days)
        counts, most = np.zeros((lots, days, days)), np.zeros((lots, days))
        is_row = np.zeros((lots, days), dtype=bool)
        for lot in range(lots):
            for limit, row in lot_rows(week.free, range(lot * days, (lot + 1) * days)):
                last = max(row) - lot * days
                counts[lot, last, : last + 1] = [row[at] for at in sorted(row)]
                most[lot, last], is_row[lot, last] = limit, True
        is_open = np.array([room < UNLIMITED for room in week.room], dtype=bool)
        room = np.where(is_open, np.array(week.room, dtype=np.float64), 0.0)
        return cls(
            lots,
            days,
            np.array(rows.at),
            np.array(rows.eggs),
            np.array(rows.cost or [0.0]),
            np.array(rows.of_need),
            np.array(rows.need),
            np.array(rows.value),
            np.array(rows.of_place),
            np.array(rows.day),
            np.array(rows.share),
            np.array(rows.of_order),
            counts,
            np.concatenate((most.ravel(), room)),
            np.concatenate((is_row.ravel(), is_open)),
            unit,
        )

    def guiding_prices(self, budget: Budget) -> Floats:
        """Prices found in a few turns, (rows,): near enough to guide a search."""
        return self._found_in(SMOOTH[:GUIDING_TURNS], budget)

    def saving_prices(self, budget: Budget) -> Floats:
        """Prices of costs found in a few short turns, (rows,): near enough to guide a search that saves."""
        return self._found_in(SAVING_SMOOTH, budget, SAVING_TURN_STEPS)

    def _found_in(self, turns: Sequence[float], budget: Budget, steps: int = STEPS) -> Floats:
        prices = np.zeros(self.limits.size)
        for share in turns:
            prices = self._nearer(prices, share, budget, steps)
        return prices

    def bound_within(self, budget: Budget, prices: Floats | None = None) -> float:
        """The least bound found, from guiding prices on; it holds however soon the time is up."""
        prices = self.guiding_prices(budget) if prices is None else prices
        best = min(self.bound(np.zeros(self.limits.size)), self.bound(prices))
        for share in SMOOTH[GUIDING_TURNS:]:
            prices = self._nearer(prices, share, budget)
            best = min(best, self.bound(prices))
        return best

    def _nearer(self, prices: Floats, share: float, budget: Budget, steps: int = STEPS) -> Floats:
        """Prices that bring the smooth function down, from these on; the same where the time is up."""
        from scipy.optimize import minimize

        if budget.is_spent or not self.of_order.size:
            return prices
        most = [(0.0, None if limit else 0.0) for limit in self.is_limited]
        rows = self.at.size + self.need.size
        options = {"maxiter": min(steps, max(FEWEST_STEPS, ROWS_IN_ALL // rows))}
        near, look = (share * self.unit,), _until_spent(budget)
        found = minimize(
            self.smooth, prices, near, "L-BFGS-B", jac=True, bounds=most, options=options, callback=look
        )
        nearer: Floats = np.maximum(found.x, 0.0)
        return nearer

    def egg_prices(self, prices: Floats) -> Floats:
        """What an egg of a lot on a day pays, (lots on days,): in the rows up to it and to each later day."""
        of_rows = prices[: self.lots * self.days].reshape(self.lots, -1)
        return np.asarray(np.einsum("lud,lu->ld", self.counts, of_rows).ravel())

    def day_prices(self, prices: Floats) -> Floats:
        """What a parcel pays for room on a day, (days,)."""
        return prices[-self.days :]

    def bound(self, prices: Floats) -> float:
        """The sum that these prices prove."""
        if not self.of_order.size:
            return 0.0
        cost = self.cost + self.egg_prices(prices)[self.at] * self.eggs
        least = np.minimum.reduceat(cost, self.of_need)[self.need]
        gain = np.add.reduceat(self.value - least, self.of_place)
        gain -= self.day_prices(prices)[self.day] * self.share
        return float(np.maximum(np.maximum.reduceat(gain, self.of_order), 0.0).sum() + self.limits @ prices)

    def smooth(self, prices: Floats, near: float) -> tuple[float, Floats]:
        """A smooth function a little above or below that sum, and its slope."""
        cost = self.cost + self.egg_prices(prices)[self.at] * self.eggs
        need_rows = np.diff(self.of_need, append=self.at.size)
        place_rows = np.diff(self.of_place, append=self.need.size)
        order_rows = np.diff(self.of_order, append=self.of_place.size)
        least = np.minimum.reduceat(cost, self.of_need)
        weight = np.exp((np.repeat(least, need_rows) - cost) / near)
        weights = np.add.reduceat(weight, self.of_need)
        paid = least - near * np.log(weights)
        gain = np.add.reduceat(self.value - paid[self.need], self.of_place)
        gain -= self.day_prices(prices)[self.day] * self.share
        most = np.maximum(np.maximum.reduceat(gain, self.of_order), 0.0)
        chance = np.exp((gain - np.repeat(most, order_rows)) / near)
        chances = np.exp(-most / near) + np.add.reduceat(chance, self.of_order)
        total = float((most + near * np.log(chances)).sum() + self.limits @ prices)
        chance /= np.repeat(chances, order_rows)
        asked = np.bincount(self.need, np.repeat(chance, place_rows), minlength=weights.size)
        weight *= np.repeat(asked / weights, need_rows)
        cells = self.lots * self.days
        used = np.bincount(self.at, weight * self.eggs, minlength=cells).reshape(self.lots, -1)
        slope = self.limits.copy()
        slope[:cells] -= np.einsum("lud,ld->lu", self.counts, used).ravel()
        slope[-self.days :] -= np.bincount(self.day, chance * self.share, minlength=self.days)
        return total, np.where(self.is_limited, slope, 0.0)


class _Rows:
    """The rows of all orders in turn; lines of an order that may split count as orders of their own."""

    def __init__(self, week: WeekColumns) -> None:
        self._width = len(week.days)
        self._mates = week.mates
        self.at, self.eggs, self.cost, self.of_need = array("i"), array("i"), array("d"), array("i")
        self._needs: dict[tuple[tuple[int, int], ...], int] = {}
        self.need, self.value = array("i"), array("d")
        self.of_place, self.day, self.share = array("i"), array("i"), array("d")
        self.of_order = array("i")

    def add(self, number: int, order: OrderColumns) -> None:
        lines = [(order.value[n], need) for n, need in needs(order)]
        together = [[line] for line in lines] if order.may_split else [lines]
        share = 1.0 / min(MOST_JOINED, self._mates[number]) / max(1, len(together))
        for group in together:
            days = (
                sorted(set.intersection(*({at % self._width for at in need} for _, need in group)))
                if group
                else []
            )
            if days:
                self.of_order.append(len(self.of_place))
            for day in days:
                self.of_place.append(len(self.need))
                self.day.append(day)
                self.share.append(share)
                for value, need in group:
                    on_day = tuple((at, need[at]) for at in sorted(need) if at % self._width == day)
                    self.need.append(self._number(on_day))
                    self.value.append(value)

    def add_costs(self, number: int, order: OrderColumns, worth: float) -> None:
        """An order that goes at one of its places, worth so much there less its parcel, however it is filled;
        of a line that only several lots fill, each lot stands for the share that it gives.
        """
        places = [one for one in order.departures if one.with_parcel < math.inf]
        if places:
            self.of_order.append(len(self.of_place))
        for place in places:
            self.of_place.append(len(self.need))
            self.day.append(place.day)
            self.share.append(1.0 / min(MOST_JOINED, self._mates[number]))
            left = worth - (place.with_parcel - place.least_cost)
            for line in filter(None, place.lines):
                self.need.append(len(self.of_need))
                self.value.append(left)
                self.of_need.append(len(self.at))
                for at, eggs, cost in _ways(line):
                    self.at.append(at)
                    self.eggs.append(eggs)
                    self.cost.append(cost)
                left = 0.0

    def _number(self, need: tuple[tuple[int, int], ...]) -> int:
        """The number of a need, whose rows are added where it is new."""
        number = self._needs.setdefault(need, len(self._needs))
        if number == len(self.of_need):
            self.of_need.append(len(self.at))
            self.at.extend(at for at, _ in need)
            self.eggs.extend(eggs for _, eggs in need)
        return number


def _ways(line: LineColumns) -> Iterator[tuple[int, int, float]]:
    """Lots on a day that may fill a line, the eggs of each and what those cost, the cheapest way of each."""
    own, cost = line.one_lot, line.cost
    for at, _, start, end in own.by_lot:
        n = min(range(start, end), key=cost.__getitem__)
        yield at, own.eggs[n], cost[n]
    if not own.at:
        shared = line.shared_fills[0]
        for at, alone, _, egg_cost in shared.parts:
            yield at, alone, line.shared_cost + min(shared.costs) + alone * egg_cost


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
        """What an order that goes by itself costs more than that; nothing where it stays, or is joined."""
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
