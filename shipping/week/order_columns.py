"""The ways of a week's orders made of its choices, one order after the other, when asked for: choices in,
ways out.
"""

from __future__ import annotations

import itertools
import math
from array import array
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial

import numpy as np

from shipping.assignment.columns import (
    UNLIMITED,
    DepartureColumns,
    LineColumns,
    OneLotColumns,
    OrderColumns,
    ParcelCost,
    Part,
    SharedColumns,
    WeekColumns,
    numbered,
    order_columns,
    shared_columns,
)
from shipping.assignment.instance import Departure, TravelMode
from shipping.options.candidates import LineCandidates, Records
from shipping.options.journey import Ints
from shipping.options.option import LEAST_DRAW, units_for
from shipping.tables.rows.orders import Line, Order
from shipping.week.choices import Choices


def columns_of_choices(choices: Choices) -> WeekColumns:
    """The ways of all orders of which something can go, made one by one when asked for."""
    shelf, days = choices.shelf, choices.days
    orders = [order for order in shelf.orders if any(choices.is_fillable(line.key) for line in order.lines)]
    lots = {lot.lot: n for n, lot in enumerate(shelf.lots)}
    limit, made = shelf.settings.plan.parcels_per_day, shelf.parcels_made
    country = {order.order: order.country for order in orders}

    def cost(names: tuple[str, ...], departure: Departure, travel_modes: tuple[TravelMode, ...]) -> float:
        found = choices.parcels.cost(country[names[0]], departure[1], travel_modes)
        return math.inf if found is None else found

    addresses = numbered(order.address for order in orders)
    maker = _FromChoices(choices, {day: n for n, day in enumerate(days)}, lots, cost)
    week = WeekColumns(
        days,
        tuple(lots),
        [choices.free_if_known(lot, day) for lot in lots for day in days],
        [UNLIMITED if limit is None else max(0, limit - made.get(day, 0)) for day in days],
        tuple(order.order for order in orders),
        addresses,
        lambda number: maker.columns(orders[number], week.mates[number] == 1),
        cost,
        choices.instance,
    )
    return week


@dataclass(eq=False)
class _FromChoices:
    """Makes orders' ways; numbers that many ways hold are held once: a week may have a hundred thousand
    orders.
    """

    choices: Choices
    day: Mapping[date, int]
    lot: Mapping[str, int]
    parcel_cost: ParcelCost

    def __post_init__(self) -> None:
        self.at = list(range(len(self.lot) * len(self.day)))
        self.packings = self.choices.shelf.packings
        self.unit_cost = self.choices.unit_costs

    def columns(self, order: Order, is_alone: bool) -> OrderColumns:
        found = [self.choices.candidates(line.key) for line in order.lines]
        worth = [self.choices.worths[line.key] for line in order.lines]
        return order_columns(
            order.order,
            tuple(line.key for line in order.lines),
            (tuple(one.value for one in worth), tuple(one.age for one in worth)),
            order.may_split,
            [self._line(line, one) if one else {} for line, one in zip(order.lines, found, strict=True)],
            [self._lots_of(one) if one else frozenset() for one in found],
            self.day,
            self.parcel_cost,
            is_alone,
            partial(self._needs, order),
        )

    def _lots_of(self, found: LineCandidates) -> frozenset[int]:
        """Numbers of the lots that a line may draw on."""
        own = set(found.alone["lot"].tolist()) | set(found.shared["lot"].tolist())
        return frozenset(self.lot[found.lots[n]] for n in own)

    def _line(self, line: Line, found: LineCandidates) -> dict[Departure, LineColumns]:
        """How a line may be filled, by place."""
        one_lot, least = self._one_lot(line, found), self._least_shared(line, found)
        return {
            found.departures[j]: LineColumns(
                one_lot.get(j, OneLotColumns()), least.get(j, math.inf), partial(self._shared_fills, line, j)
            )
            for j in sorted(one_lot.keys() | least.keys())
        }

    def _lots_on_days(self, found: LineCandidates, cells: Records) -> Ints:
        """The lot on a day of every cell, as a number."""
        lot = np.array([self.lot[name] for name in found.lots], dtype=np.int64)
        day = np.array([self.day[departure[0]] for departure in found.departures], dtype=np.int64)
        return np.asarray(lot[cells["lot"]] * len(self.day) + day[cells["departure"]])

    def _held(self, numbers: Ints) -> tuple[int, ...]:
        """The numbers, of which each is in memory once."""
        return tuple(self.at[number] for number in numbers.tolist())

    def _one_lot(self, line: Line, found: LineCandidates) -> dict[int, OneLotColumns]:
        """Of each place the lots that fill the line alone."""
        cells, cost = found.alone, self.choices.costs(line, found)
        at = self._lots_on_days(found, cells)
        order = np.lexsort((cells["packing"], cells["units"], cells["pack"], at, cost, cells["departure"]))
        at, cost, cells = at[order], cost[order], cells[order]
        ends = np.flatnonzero(np.diff(cells["departure"], prepend=-1, append=len(found.departures))).tolist()
        return {
            int(cells["departure"][start]): OneLotColumns(
                self._held(at[start:end]),
                tuple(cells["pack"][start:end].tolist()),
                array("d", cost[start:end].tobytes()),
                tuple(cells["units"][start:end].tolist()),
                tuple(self.packings[p].packing for p in cells["packing"][start:end].tolist()),
            )
            for start, end in itertools.pairwise(ends)
        }

    def _least_shared(self, line: Line, found: LineCandidates) -> dict[int, float]:
        """Of each place where lots fill the line together, what none of them costs less than."""
        shared = found.shared
        if not shared.size:
            return {}
        egg = self.choices.shared_egg_costs(found)[shared["lot"]]
        cost = shared["alone"] * egg + 2 * self.unit_cost[shared["packing"]]
        least = np.full(len(found.departures), math.inf)
        np.minimum.at(least, shared["departure"], cost)
        return {
            j: one + self.choices.shared_cost(line, found.departures[j])
            for j, one in enumerate(least.tolist())
            if one < math.inf
        }

    def _shared_fills(self, line: Line, departure: int) -> list[SharedColumns]:
        """The ways to fill a line from several lots at a place, by its number."""
        found = self.choices.candidates(line.key)
        if found is None:
            return []
        cells = found.shared[found.shared["departure"] == departure]
        groups: dict[tuple[int, int], list[Part]] = {}
        of_group, egg_costs = found.group.tolist(), self.choices.shared_egg_costs(found).tolist()
        for (n, _, p, alone, most), at in zip(
            cells.tolist(), self._held(self._lots_on_days(found, cells)), strict=True
        ):
            groups.setdefault((p, of_group[n]), []).append((at, alone, most, egg_costs[n]))
        lots_a_line = self.choices.shelf.settings.plan.lots_a_line
        fixed = self.choices.shared_cost(line, found.departures[departure])
        unit_cost, shared_fills = self.unit_cost.tolist(), []
        for (p, _), parts in sorted(groups.items(), key=lambda group: group[0]):
            most_lots = min(lots_a_line, len(parts))
            units = units_for(self.packings[p], max(part[1] for part in parts)) + most_lots - 1
            costs = (math.inf, math.inf, *(fixed + n * unit_cost[p] for n in range(2, units + 1)))
            packing = self.packings[p]
            shared_fills.append(
                shared_columns(packing.packing, packing.eggs_max, costs, most_lots, LEAST_DRAW, tuple(parts))
            )
        return shared_fills

    def _needs(self, order: Order, departures: tuple[DepartureColumns, ...]) -> list[dict[int, int]]:
        """Of each line the fewest eggs that would do, by lot on a day."""
        wanted = {one.departure for one in departures}
        needs: list[dict[int, int]] = []
        for line in order.lines:
            least: dict[int, int] = {}
            found = self.choices.candidates(line.key)
            if found is not None:
                is_wanted = np.array([departure in wanted for departure in found.departures], dtype=bool)
                for cells, eggs in ((found.alone, "pack"), (found.shared, "alone")):
                    kept = cells[is_wanted[cells["departure"]]]
                    for at, count in zip(
                        self._lots_on_days(found, kept).tolist(), kept[eggs].tolist(), strict=True
                    ):
                        if count < least.get(at, count + 1):
                            least[at] = count
            needs.append(least)
        return needs
