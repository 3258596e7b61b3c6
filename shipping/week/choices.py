"""From orders to choices: every passing way to fill each line, as arrays, and the week as numbers."""

from __future__ import annotations

import itertools
import math
from array import array
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property, partial
from typing import NamedTuple

import numpy as np

from shipping.assignment.columns import (
    UNLIMITED,
    DepartureColumns,
    LineColumns,
    OneLotColumns,
    OrderColumns,
    ParcelCost,
    Part,
    SeveralLotsColumns,
    Share,
    SharedColumns,
    WeekColumns,
    order_columns,
    shared_columns,
)
from shipping.assignment.instance import Departure, Instance, LotShare, OneLotFill, SharedFill, TravelMode
from shipping.options import option_arrays
from shipping.options.journey import Ints
from shipping.options.option import LEAST_DRAW, Floats, Option, Ride, units_for
from shipping.options.option_factory import OptionFactory
from shipping.tables.rows.orders import Line, Order, wish_of
from shipping.tables.rows.packings import Packing
from shipping.tables.shelf import Shelf
from shipping.week.objective import Worth, dispatch_days, egg_value, next_week, worths
from shipping.week.parcel_columns import ParcelColumns
from shipping.words.keys import LineKey, grouped, numbered
from shipping.words.long_work import all_is_kept

#: Fewer counts asked of lots than this are reckoned before a second process has begun.
MANY_ASKED = 3000


@dataclass(frozen=True, eq=False, slots=True)
class SharedGroup:
    """Lots of one population in one packing at one place: at most ``lots_most`` of them fill a line together.

    ``draws``: each lot's number, eggs that alone would do, and how many of them may be drawn. ``costs``: what
    so many units cost, but for the eggs.
    """

    departure: Departure
    packing: Packing
    draws: Sequence[tuple[int, int, int]]
    lots_most: int
    costs: Mapping[int, float]


@dataclass(eq=False, repr=False)
class Choices:
    """All choices of a week, reckoned once; ask `reckon` first."""

    factory: OptionFactory
    days: tuple[date, ...]
    later_days: tuple[date, ...]
    #: The species and population a line is filled with where the buyer agreed to something instead.
    instead: dict[LineKey, tuple[str, str]] = field(default_factory=dict)
    #: The options of all lines by species, in a week so small that they need not be forgotten.
    tables: dict[str, option_arrays.OptionTable] = field(default_factory=dict)
    _candidates: dict[LineKey, option_arrays.LineCandidates] = field(default_factory=dict)
    _options: dict[LineKey, list[Option]] = field(default_factory=dict)
    _free: dict[tuple[str, date], int] = field(default_factory=dict)
    _lost_shares: dict[tuple[tuple[str, str], str], float] = field(default_factory=dict)

    @classmethod
    def of_week(cls, factory: OptionFactory, week: str) -> Choices:
        """The choices of an ISO week, and for its lines that wait those of the next."""
        shelf = factory.shelf
        return cls(factory, dispatch_days(shelf, week), dispatch_days(shelf, next_week(week)))

    @property
    def shelf(self) -> Shelf:
        return self.factory.shelf

    @cached_property
    def egg_value(self) -> float:
        return egg_value(self.shelf)

    @cached_property
    def parcels(self) -> ParcelColumns:
        return ParcelColumns(self.factory)

    @all_is_kept()
    def reckon(self) -> None:
        """What fills each line: its own species, or else the first of what the buyer agreed to that does."""
        self._reckon(
            [
                (order, line, line.species, line.population)
                for order in self.shelf.orders
                for line in order.lines
            ]
        )
        wish = 0
        while missing := [
            (order, line, *wish_of(line.instead[wish]))
            for order in self.shelf.orders
            for line in order.lines
            if len(line.instead) > wish and not self.is_fillable(line.key)
        ]:
            self._reckon(missing)
            wish += 1

    def _reckon(self, wishes: list[tuple[Order, Line, str, str]]) -> None:
        by_species = grouped(
            (species, (order, line, population)) for order, line, species, population in wishes
        )
        asked = [(order, species) for order, _, species, _ in wishes]
        tables = list(option_arrays.tables_for(self.factory, asked, self.days + self.later_days))
        is_small = sum(table.asked_of_lots for table in tables) < MANY_ASKED
        if is_small:
            self.tables = {table.species.species: table for table in tables} | self.tables

        def made(table: option_arrays.OptionTable) -> option_arrays.SpeciesCandidates:
            return option_arrays.candidates_of(table, by_species[table.species.species], self.days)

        each = option_arrays.of_each_table(tables, made, MANY_ASKED, keep=is_small)
        for table, found in zip(tables, each, strict=True):
            for lot, of_days in found.free.items():
                self._free |= {(lot, day): eggs for day, eggs in zip(self.days, of_days, strict=True)}
            species = table.species.species
            for (_, line, population), candidates in zip(by_species[species], found.wishes, strict=True):
                if candidates.is_fillable and (species, population) != (line.species, line.population):
                    self.instead[line.key] = (species, population)
                if candidates.is_fillable or line.key not in self._candidates:
                    self._candidates[line.key] = candidates

    def candidates(self, key: LineKey) -> option_arrays.LineCandidates | None:
        """What may fill a line this week; None where it wants a species that is not on the shelf."""
        return self._candidates.get(key)

    def is_fillable(self, key: LineKey) -> bool:
        """Could the line go this week, by itself?"""
        candidates = self._candidates.get(key)
        return candidates is not None and candidates.is_fillable

    def may_be_shared(self, key: LineKey) -> bool:
        """Could several lots together fill it this week?"""
        candidates = self.candidates(key)
        return candidates is not None and bool(candidates.shared.size)

    def share_no_more(self, keys: Iterable[LineKey]) -> None:
        """Fill these lines from one lot only."""
        for key in keys:
            found = self._candidates[key]
            self._candidates[key] = replace(found, shared=found.shared[:0])

    def passing_options(self, key: LineKey) -> int:
        """How many of its options pass this week."""
        candidates = self.candidates(key)
        return candidates.alone.size if candidates else 0

    @property
    def options_reckoned(self) -> int:
        """Options of every line, this week and next: lots by legs by packings, whether or not they pass."""
        return sum(candidates.reckoned for candidates in self._candidates.values())

    def options(self, order: Order, line: Line) -> list[Option]:
        """A line's options this week, with reasons in words; of what goes instead too."""
        if line.key not in self._options:
            wishes = [(line.species, line.population)]
            wishes += [self.instead[line.key]] if line.key in self.instead else []
            self._options[line.key] = [
                option for wish in wishes for option in self.options_of(order, line, *wish, self.days)
            ]
        return self._options[line.key]

    def rides_of(self, order: Order, species: str, population: str, days: Iterable[date]) -> list[Ride]:
        """Every ride of every lot that could fill a line, on the days given."""
        services = self.factory.services(order.place, order.service)
        lots = self.shelf.lots_of(species, population)
        return self.factory.rides(lots, days, services, self.factory.destination(order))

    def options_of(
        self, order: Order, line: Line, species: str, population: str, days: Iterable[date]
    ) -> list[Option]:
        """The options of a line from the lots of a species and population on some days."""
        rides = self.rides_of(order, species, population, days)
        self.factory.prepare(rides, line.eggs, line.overpack)
        return [
            self.parcels.weighed(order, self.factory.option(ride, order, line, line.eggs)) for ride in rides
        ]

    def ride(self, line: LineKey, departure: Departure, packing: str, lot: str) -> Ride:
        """The ride by which a lot fills a line at a place in a packing."""
        order = self.shelf.order_by_name[line[0]]
        (service,) = self.factory.services(order.place, departure[1])
        leg = self.factory.leg(service, self.factory.destination(order), departure[0])
        return self.factory.ride(
            self.factory.lot_day(lot, departure[0]), self.shelf.packing_by_name[packing], leg
        )

    def short_cost(self, line: Line) -> float:
        """What falling short of a line costs: its price, or its eggs at `egg_value` where it has none."""
        return self.shelf.settings.plan.short_cost * self._price(line)

    def _price(self, line: Line) -> float:
        """A line's price, or its eggs at `egg_value` where it has none."""
        return float(line.price) if line.price is not None else line.eggs * self.egg_value

    def lost_cost(self, line: Line, service: str) -> float:
        """What the chance that a service loses its parcel costs a line: its price times that chance."""
        key = (self.shelf.order_by_name[line.order].place, service)
        if key not in self._lost_shares:
            (row,) = self.factory.services(*key)
            self._lost_shares[key] = row.parcel_lost_share
        return self._price(line) * self._lost_shares[key]

    def later_cost(self, line: Line, lot: str) -> float:
        """Half an egg's value where the lot could still go for that line next week, else nothing."""
        found = self.candidates(line.key)
        may_wait = found and lot in found.lots and found.later[found.lots.index(lot)]
        return 0.5 * self.egg_value if may_wait else 0.0

    def instance(self, orders: Collection[str] | None = None) -> Instance:
        """The week as numbers, for some orders or all."""
        fills: list[OneLotFill] = []
        shared_fills: list[SharedFill] = []
        chosen = [order for order in self.shelf.orders if orders is None or order.order in orders]
        for order in chosen:
            for line in order.lines:
                if (found := self.candidates(line.key)) is not None:
                    fills += self._fills(line, found)
                    shared_fills += self._shared_fills(line, found)
        fills.sort(key=lambda f: (f.line, f.rank))
        shared_fills.sort(key=lambda s: (s.line, s.rank))
        columns = sorted(
            self.parcels.columns(chosen, fills, shared_fills),
            key=lambda column: (column.orders, column.departure, column.travel_modes),
        )
        worth = {line.key: self.worths[line.key] for order in chosen for line in order.lines}
        lots = {(f.lot, f.departure[0]) for f in fills} | {
            (share.lot, s.departure[0]) for s in shared_fills for share in s.shares
        }
        return Instance(
            fills=tuple(fills),
            shared_fills=tuple(shared_fills),
            columns=tuple(columns),
            value={key: one.value for key, one in worth.items()},
            age={key: one.age for key, one in worth.items()},
            free={(lot, day): self.free(lot, day) for lot, day in lots},
            parcels_a_day=self.shelf.settings.plan.parcels_per_day,
            parcels_made=self.shelf.parcels_made,
            is_whole=self.parcels.is_whole,
        )

    @cached_property
    def worths(self) -> Mapping[LineKey, Worth]:
        """What serving each line is worth."""
        return worths(self.shelf)

    def free(self, lot: str, day: date) -> int:
        """Eggs of a lot that are free on a day."""
        if (lot, day) not in self._free:
            self._free[(lot, day)] = self.factory.lot_day(lot, day).free
        return self._free[(lot, day)]

    def free_if_known(self, lot: str, day: date) -> int:
        """Eggs of a lot that are free on a day, or 0 where no line was looked at that could have them."""
        return self._free.get((lot, day), 0)

    def _fills(self, line: Line, found: option_arrays.LineCandidates) -> list[OneLotFill]:
        packings, departures, lots = self.shelf.packings, found.departures, found.lots
        return [
            OneLotFill(line.key, departures[j], packings[p].packing, u, lots[n], eggs, cost)
            for (n, j, p, eggs, u, _), cost in zip(
                found.alone.tolist(), self.costs(line, found).tolist(), strict=True
            )
        ]

    def costs(self, line: Line, found: option_arrays.LineCandidates) -> Floats:
        """What each passing cell costs a line in expectation, without the parcel (n,)."""
        cells = found.alone
        later = 0.5 * self.egg_value * found.later[cells["lot"]]
        short = self.short_cost(line) * (1.0 - cells["p_enough"])
        lost = np.array([self.lost_cost(line, service) for _, service in found.departures], dtype=np.float64)
        return np.asarray(
            cells["units"] * self.unit_costs[cells["packing"]]
            + (cells["pack"] - line.eggs) * self.egg_value
            + short
            + lost[cells["departure"]]
            + cells["pack"] * later
        )

    @cached_property
    def unit_costs(self) -> Floats:
        """What a unit of each packing costs (packings,)."""
        return np.array([float(packing.cost) for packing in self.shelf.packings])

    def shared_cost(self, line: Line, departure: Departure) -> float:
        """What a split costs beside eggs: the chances of falling short, and of a lost parcel."""
        keeps = self.shelf.settings.plan.promise
        if line.overpack == "none":
            keeps = self._best_chance(line, departure)
        short = self.short_cost(line) * (1.0 - keeps)
        return short + self.lost_cost(line, departure[1]) - line.eggs * self.egg_value

    def _best_chance(self, line: Line, departure: Departure) -> float:
        """The best chance one lot alone gives a line there, or 0: several have no better."""
        found = self._candidates[line.key]
        here = found.alone["departure"] == found.departures.index(departure)
        return float(found.alone["p_enough"][here].max(initial=0.0))

    def shared_egg_costs(self, found: option_arrays.LineCandidates) -> Floats:
        """What an egg of each lot costs a split (lots,)."""
        return np.asarray(self.egg_value * np.where(found.later, 1.5, 1.0))

    def shared_groups(
        self, found: option_arrays.LineCandidates, departure: int | None = None
    ) -> Iterator[SharedGroup]:
        """Groups of lots that may fill lines alike together, at one of their places (by number) or any."""
        cells = found.shared if departure is None else found.shared[found.shared["departure"] == departure]
        population = found.group[cells["lot"]].tolist()
        rows = zip(population, cells.tolist(), strict=True)
        groups = grouped(((j, p, group), (n, alone, most)) for group, (n, j, p, alone, most) in rows)
        for (j, p, _), draws in sorted(groups.items()):
            packing, lots_most = self.shelf.packings[p], min(self.shelf.settings.plan.lots_a_line, len(draws))
            unit_cost = float(self.unit_costs[p])
            most_units = units_for(packing, max(alone for _, alone, _ in draws)) + lots_most - 1
            costs = {units: units * unit_cost for units in range(2, most_units + 1)}
            yield SharedGroup(found.departures[j], packing, draws, lots_most, costs)

    def _shared_fills(self, line: Line, found: option_arrays.LineCandidates) -> Iterator[SharedFill]:
        """Ways to fill the line from two or more lots of one population, in one packing at one place."""
        egg_costs = self.shared_egg_costs(found).tolist()
        for group in self.shared_groups(found):
            fixed = self.shared_cost(line, group.departure)
            shares = (LotShare(found.lots[n], alone, most, egg_costs[n]) for n, alone, most in group.draws)
            by_name = tuple(sorted(shares, key=lambda share: share.lot))
            for units, cost in group.costs.items():
                yield SharedFill(
                    line=line.key,
                    departure=group.departure,
                    packing=group.packing.packing,
                    units=units,
                    eggs_max=group.packing.eggs_max,
                    shares=by_name,
                    lots_most=group.lots_most,
                    least_draw=LEAST_DRAW,
                    cost=fixed + cost,
                )


def columns_of_choices(choices: Choices) -> WeekColumns:
    """The ways of all orders of which something can go, made one by one when asked for."""
    shelf, days = choices.shelf, choices.days
    orders = [order for order in shelf.orders if any(choices.is_fillable(line.key) for line in order.lines)]
    lots = {lot.lot: n for n, lot in enumerate(shelf.lots)}
    limit, made = shelf.settings.plan.parcels_per_day, shelf.parcels_made
    place = {order.order: order.place for order in orders}

    def cost(names: tuple[str, ...], departure: Departure, travel_modes: tuple[TravelMode, ...]) -> float:
        found = choices.parcels.cost(place[names[0]], departure[1], travel_modes)
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


class _InCommon(NamedTuple):
    """What lines alike have in common: the ``order`` of cells of one lot (n,), and by place, by its number,
    which of them and how they fill a line, and what a split costs at the least and all of them once asked
    for.
    """

    order: Ints
    one_lot: Mapping[int, tuple[slice, OneLotColumns]]
    least_shared: Mapping[int, float]
    several: dict[int, SeveralLotsColumns]


@dataclass(eq=False)
class _FromChoices:
    """Makes orders' ways; numbers that many ways hold are held once, as orders may be many."""

    choices: Choices
    day: Mapping[date, int]
    lot: Mapping[str, int]
    parcel_cost: ParcelCost

    def __post_init__(self) -> None:
        self.at = list(range(len(self.lot) * len(self.day)))
        #: What lines alike have in common, and splits, with what each lot gives: alike for many lines.
        self.in_common: dict[option_arrays.LineCandidates, _InCommon] = {}
        self.lots: dict[frozenset[int], frozenset[int]] = {}
        self.parts: dict[tuple[Part, ...], tuple[Part, ...]] = {}
        self.fills: dict[SharedColumns, SharedColumns] = {}
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

    def _lots_of(self, found: option_arrays.LineCandidates) -> frozenset[int]:
        """Numbers of the lots that a line may draw on."""
        own = set(found.alone["lot"].tolist()) | set(found.shared["lot"].tolist())
        lots = frozenset(self.lot[found.lots[n]] for n in own)
        return self.lots.setdefault(lots, lots)

    def _line(self, line: Line, found: option_arrays.LineCandidates) -> dict[Departure, LineColumns]:
        """How a line may be filled, by place."""
        if found not in self.in_common:
            self.in_common[found] = self._what_is_common(found)
        alike, made = self.in_common[found], {}
        cost = self.choices.costs(line, found)[alike.order]
        for j in sorted(alike.one_lot.keys() | alike.least_shared.keys()):
            ways, own = alike.one_lot.get(j, (slice(0), OneLotColumns()))
            shared_cost = self.choices.shared_cost(line, departure := found.departures[j])
            made[departure] = LineColumns(
                own,
                array("d", cost[ways].tobytes()),
                shared_cost,
                shared_cost + alike.least_shared.get(j, math.inf),
                partial(self._several, found, j),
            )
        return made

    def _what_is_common(self, found: option_arrays.LineCandidates) -> _InCommon:
        cells = found.alone
        at, unit_costs = self._lots_on_days(found, cells), self.unit_cost[cells["packing"]]
        cost = cells["units"] * unit_costs
        order = np.lexsort((cells["packing"], cost, cells["pack"], at, cells["departure"]))
        at, cells = at[order], cells[order]
        held, eggs, units = self._held(at), tuple(cells["pack"].tolist()), tuple(cells["units"].tolist())
        packing = tuple(self.packings[p].packing for p in cells["packing"].tolist())
        ends = np.flatnonzero(np.diff(cells["departure"], prepend=-1, append=len(found.departures))).tolist()
        one_lot = {
            int(cells["departure"][start]): (
                own := slice(start, end),
                OneLotColumns(held[own], eggs[own], units[own], packing[own]),
            )
            for start, end in itertools.pairwise(ends)
        }
        return _InCommon(order, one_lot, self._least_shared(found), {})

    def _lots_on_days(self, found: option_arrays.LineCandidates, cells: option_arrays.Records) -> Ints:
        """The lot on a day of every cell, as a number."""
        lot = np.array([self.lot[name] for name in found.lots], dtype=np.int64)
        day = np.array([self.day[departure[0]] for departure in found.departures], dtype=np.int64)
        return np.asarray(lot[cells["lot"]] * len(self.day) + day[cells["departure"]])

    def _held(self, numbers: Ints) -> tuple[int, ...]:
        """The numbers, of which each is in memory once."""
        return tuple(self.at[number] for number in numbers.tolist())

    def _least_shared(self, found: option_arrays.LineCandidates) -> dict[int, float]:
        """Of each place where lots fill lines together, what units and eggs do not cost less than."""
        shared = found.shared
        if not shared.size:
            return {}
        egg = self.choices.shared_egg_costs(found)[shared["lot"]]
        least = np.full(len(found.departures), math.inf)
        np.minimum.at(
            least, shared["departure"], shared["alone"] * egg + 2 * self.unit_cost[shared["packing"]]
        )
        return {j: one for j, one in enumerate(least.tolist()) if one < math.inf}

    def _several(self, found: option_arrays.LineCandidates, departure: int) -> SeveralLotsColumns:
        """The ways to fill lines alike from several lots at a place, by its number."""
        several = self.in_common[found].several
        if not several:
            several.update(
                (j, SeveralLotsColumns(shares, LEAST_DRAW, partial(self._shared_fills, found, j)))
                for j, shares in self._shares(found)
            )
        return several[departure]

    def _shares(
        self, found: option_arrays.LineCandidates
    ) -> Iterator[tuple[int, tuple[tuple[Share, ...], ...]]]:
        """Of each place, by number, the shares of lots of each population that may fill lines together."""
        cells = found.shared
        group = found.group[cells["lot"]]
        order = np.lexsort((cells["lot"], group, cells["departure"]))
        cells, group = cells[order], group[order]
        lot, departure = cells["lot"], cells["departure"]
        first = np.flatnonzero((np.diff(departure, prepend=-1) != 0) | (np.diff(lot, prepend=-1) != 0))
        alone = np.minimum.reduceat(cells["alone"], first).tolist()
        most = np.maximum.reduceat(cells["most"], first).tolist()
        held = self._held(self._lots_on_days(found, cells)[first])
        keys = zip(departure[first].tolist(), group[first].tolist(), strict=True)
        of_groups = grouped(zip(keys, zip(held, alone, most, strict=True), strict=True))
        return (
            (j, tuple(tuple(shares) for _, shares in of_place))
            for j, of_place in itertools.groupby(of_groups.items(), key=lambda one: one[0][0])
        )

    def _shared_fills(self, found: option_arrays.LineCandidates, departure: int) -> Iterator[SharedColumns]:
        egg_costs = self.choices.shared_egg_costs(found).tolist()
        on, days = self.day[found.departures[departure][0]], len(self.day)
        for group in self.choices.shared_groups(found, departure):
            parts = (
                (self.at[self.lot[found.lots[n]] * days + on], alone, most, egg_costs[n])
                for n, alone, most in group.draws
            )
            columns = shared_columns(
                group.packing.packing,
                group.packing.eggs_max,
                (math.inf, math.inf, *group.costs.values()),
                group.lots_most,
                LEAST_DRAW,
                self.parts.setdefault(own := tuple(parts), own),
            )
            yield self.fills.setdefault(columns, columns)

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
