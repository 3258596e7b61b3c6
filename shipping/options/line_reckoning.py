"""What fills the lines that want one species: its rides as arrays and the lines in, passing and shareable
cells of each out.

Lines that ask for one count of one population are reckoned together, wherever they go. The choosing is left
to others.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from shipping.options.count_cells import CountCells, SharePlan, cells_of, ranges
from shipping.options.journey import Ints, Journeys
from shipping.options.line_choices import Bools, SpeciesChoices, SpeciesRows
from shipping.options.option import Destination
from shipping.options.option_arrays import OptionTable
from shipping.options.outclassed import rival_packings
from shipping.options.population_rides import PopulationRides
from shipping.options.ride_arrays import counted
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import Line, Order
from shipping.tables.shelf import Shelf

#: A line, its order, and the population that may fill it.
Wish = tuple[Order, Line, str]
#: What an order asks of its legs: paid, days bound, service named.
_Asks = tuple[bool, date | None, date | None, str | None]
_NOTHING: _Asks = (True, None, None, None)
#: Numbers of the wishes alike, by what they ask, by destination and papers.
_Buyers = dict[tuple[Destination, frozenset[str]], dict[_Asks, list[int]]]


def species_choices(
    shelf: Shelf, table: OptionTable, wishes: Iterable[Wish], days: tuple[date, ...], egg_value: float
) -> tuple[SpeciesChoices, Ints]:
    """What fills each line on some days, and the number of each wish among them."""
    asked: dict[str, dict[tuple[int, str], _Buyers]] = {}
    many = 0
    for many, (order, line, population) in enumerate(wishes, start=1):
        buyer = (table.factors.destination(order), order.papers)
        asks = (line.paid, order.not_before, order.not_after, order.service)
        buyers = asked.setdefault(population.casefold(), {}).setdefault((line.eggs, line.overpack), {})
        buyers.setdefault(buyer, {}).setdefault(asks, []).append(many - 1)
    work = _Work(shelf, table, days, egg_value > 0, np.zeros(many, dtype=np.int64))
    for population, counts in asked.items():
        work.add(population, counts)
    return SpeciesChoices.of(work.rows, days, work.free), work.numbers


@dataclass(eq=False)
class _Work:
    """One species' lines as they are reckoned, population by population; ``numbers``: of each wish among the
    rows.
    """

    shelf: Shelf
    table: OptionTable
    days: tuple[date, ...]
    eggs_cost: bool
    numbers: Ints
    rows: SpeciesRows = field(default_factory=SpeciesRows)
    free: dict[str, tuple[int, ...]] = field(default_factory=dict)
    _legs: dict[tuple[Destination, _Asks], Bools] = field(default_factory=dict)

    def add(self, population: str, counts: dict[tuple[int, str], _Buyers]) -> None:
        """Reckon the lines that want one population."""
        lots, factors = self.table.lots_of(population), self.table.factors
        number = self.rows.add_lots(lots)
        if not lots:
            for buyers in counts.values():
                for (to, _), asks in buyers.items():
                    self._set(asks.values(), self.rows.add_empty(number, self._places(to), 0, 0))
            return
        rides = self._rides(population, lots)
        this_week = [n for n, day in enumerate(factors.days) if day in self.days]
        for lot, free in zip(lots, rides.table.free[:, this_week].tolist(), strict=True):
            self.free[lot.lot] = tuple(free)
        known: dict[str, int] = {}
        group = np.array([known.setdefault(lot.population, len(known)) for lot in lots], dtype=np.int64)
        sharing = SharePlan(self.shelf.settings.plan.lots_a_line, group)
        for count, buyers in counts.items():
            for buyers_once in _one_a_place(buyers):
                others = self.table.asked[population][count] - {to for to, _ in buyers_once}
                self._count(
                    number, rides, count, buyers_once | {(to, frozenset()): {} for to in others}, sharing
                )

    def _rides(self, population: str, lots: tuple[Lot, ...]) -> PopulationRides:
        factors, species = self.table.factors, self.table.species
        media, which = self.table.media_of(population, lots)
        return PopulationRides(
            table=self.table.rides_of(population, lots),
            this_week=np.array([day in self.days for day in factors.days], dtype=bool),
            media=which,
            rules=lambda to, papers: np.array(
                [factors.rules(to, species, medium, papers) for medium in media]
            ),
            rival_packings=rival_packings(self.shelf),
        )

    def _places(self, to: Destination) -> int:
        legs = self.table.factors.legs_to(to)
        return self.rows.add_places(
            to, lambda: tuple((leg.day, leg.service.service) for leg in legs if leg.day in self.days)
        )

    def _count(
        self,
        population: int,
        rides: PopulationRides,
        count: tuple[int, str],
        buyers: _Buyers,
        sharing: SharePlan,
    ) -> None:
        """Reckon the lines that want one count of the population."""
        asked = sorted(buyers, key=lambda one: rides.to[one[0]])
        to = [rides.to[one] for one, _ in asked]
        at = ranges(rides.ends[to], rides.ends[[n + 1 for n in to]])
        found = counted(rides.table, at, *count, self.shelf.settings.plan.promise)
        units = np.maximum(1, -(-np.where(found.pack > 0, found.pack, count[0]) // rides.table.each_most[at]))
        made = cells_of(rides, found, units, asked, self.table.factors, sharing, self.eggs_cost)
        start = self.rows.add_cells(made.cells, made.shared)
        lots, journeys = rides.table.free.shape[0], rides.table.journeys
        later = np.zeros((len(asked), lots), dtype=bool)
        later[np.repeat(np.arange(len(asked)), np.diff(made.later_ends)), made.later_lot] = True
        flags = self.rows.add_later(later)
        for n, buyer in enumerate(asked):
            here = journeys.at[buyer[0]]
            size = lots * (here.stop - here.start) * len(rides.table.packings)
            places = self._places(buyer[0])
            cells, shared = made.cell_ends[n : n + 2].tolist(), made.shared_ends[n : n + 2].tolist()
            for asks, wishes in buyers[buyer].items():
                if asks == _NOTHING:
                    ends = (
                        flags + n * lots,
                        start[0] + cells[0],
                        start[0] + cells[1],
                        start[1] + shared[0],
                        start[1] + shared[1],
                    )
                    passing = int(made.passing_ends[n + 1] - made.passing_ends[n])
                    row = self.rows.add(population, places, passing, size, ends)
                elif not asks[0]:
                    row = self.rows.add_empty(population, places, lots, size)
                else:
                    row = self._asking(
                        population, places, size, made, n, self._legs_for(buyer[0], asks, journeys), lots
                    )
                self._set([wishes], row)

    def _asking(
        self, population: int, places: int, size: int, made: CountCells, n: int, legs: Bools, lots: int
    ) -> int:
        """The row of a line that may go by some of the legs only."""
        a, b = made.cell_ends[n : n + 2].tolist()
        c, d = made.shared_ends[n : n + 2].tolist()
        e, f = made.later_ends[n : n + 2].tolist()
        g, h = made.passing_ends[n : n + 2].tolist()
        cells, shared = (
            made.cells[a:b][legs[made.cell_leg[a:b]]],
            made.shared[c:d][legs[made.shared_leg[c:d]]],
        )
        later = np.zeros(lots, dtype=bool)
        later[made.later_lot[e:f][legs[made.later_leg[e:f]]]] = True
        start, flags = self.rows.add_cells(cells, shared), self.rows.add_later(later)
        ends = (flags, start[0], start[0] + cells.size, start[1], start[1] + shared.size)
        return self.rows.add(population, places, int(legs[made.passing[g:h]].sum()), size, ends)

    def _legs_for(self, to: Destination, asks: _Asks, journeys: Journeys) -> Bools:
        """Which of the legs an order's bounds and service allow (J,); those to other destinations are not
        asked about.
        """
        key, here = (to, asks), journeys.at[to]
        if key not in self._legs:
            _, before, after, service = asks
            self._legs[key] = np.array(
                [
                    (not before or leg.day >= before)
                    and (not after or leg.arrivals.p95 <= after)
                    and (not service or leg.service.service == service)
                    for leg in journeys.legs[here]
                ],
                dtype=bool,
            )
        legs = np.zeros(len(journeys.legs), dtype=bool)
        legs[here] = self._legs[key]
        return legs

    def _set(self, alike: Iterable[list[int]], row: int) -> None:
        for wishes in alike:
            self.numbers[wishes] = row


def _one_a_place(buyers: _Buyers) -> Iterable[_Buyers]:
    """The buyers in parts of which each has a destination once, with one set of papers."""
    parts: list[_Buyers] = []
    seen: dict[Destination, int] = {}
    for (to, papers), asks in buyers.items():
        n = seen.get(to, 0)
        seen[to] = n + 1
        if n == len(parts):
            parts.append({})
        parts[n][(to, papers)] = asks
    return parts
