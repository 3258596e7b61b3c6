"""From orders to choices: every passing way to fill each line, as arrays, and the week as numbers for some orders; for `plan`."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shipping.tables.lots import Lot
from shipping.tables.orders import Line, Order
from shipping.tables.packings import Packing
from shipping.tables.shelf import Shelf
from shipping.week.journeys import bit
from shipping.week.option_table import LineOptions, OptionTable, tables_for
from shipping.week.options import Reckoner
from shipping.week.outclassed import without_outclassed
from shipping.week.parcel_ways import ParcelWays
from shipping.week.ride_table import Bools
from shipping.week.rides import LEAST_DRAW, Option, Ride, units_for
from shipping.week.task import Filling, LineKey, Place, Share, Split, Task
from shipping.week.values import base_values, egg_value, weeks_waited

Cells = tuple[NDArray[np.intp], ...]
#: What several lots together may mend.
SHARED = frozenset({"short", "too-young"})
_SHARED_BITS = bit("short") | bit("too-young")


@dataclass(frozen=True, eq=False)
class _Found:
    """What fills one line this week: passing cells and shareable ones of its options, by (lot, leg, packing)."""

    options: LineOptions
    passing: Cells
    shared: Cells
    later: Bools

    @property
    def is_fillable(self) -> bool:
        return bool(self.passing[0].size or self.shared[0].size)


@dataclass(eq=False)
class Choices:
    """All choices of a week, reckoned once; ask `reckon` first."""

    reckoner: Reckoner
    days: tuple[date, ...]
    later_days: tuple[date, ...]
    #: The species and population a line is filled with where the buyer agreed to something instead.
    instead: dict[LineKey, tuple[str, str]] = field(default_factory=dict)
    _found: dict[LineKey, _Found] = field(default_factory=dict)
    _options: dict[LineKey, list[Option]] = field(default_factory=dict)
    _later: dict[tuple[LineKey, str], bool] = field(default_factory=dict)
    _free: dict[tuple[str, date], int] = field(default_factory=dict)

    @property
    def shelf(self) -> Shelf:
        return self.reckoner.shelf

    @cached_property
    def egg_value(self) -> float:
        return egg_value(self.shelf)

    @cached_property
    def parcels(self) -> ParcelWays:
        return ParcelWays(self.reckoner)

    def reckon(self) -> None:
        """What fills each line: its own species, or else the first of what the buyer agreed to that does."""
        self._reckon([(order, line, line.species, line.population) for order in self.shelf.orders for line in order.lines])
        wish = 0
        while missing := [
            (order, line, *_wish(line.instead[wish]))
            for order in self.shelf.orders
            for line in order.lines
            if len(line.instead) > wish and not self.is_fillable(line.key)
        ]:
            self._reckon(missing)
            wish += 1

    def _reckon(self, wishes: list[tuple[Order, Line, str, str]]) -> None:
        by_species: dict[str, list[tuple[Order, Line, str]]] = {}
        for order, line, species, population in wishes:
            by_species.setdefault(species, []).append((order, line, population))
        asked = [(order, species) for order, _, species, _ in wishes]
        for table in tables_for(self.reckoner, asked, self.days + self.later_days):
            for order, line, population in by_species[table.species.species]:
                self._look_at(table, order, line, population)

    def _look_at(self, table: OptionTable, order: Order, line: Line, population: str) -> None:
        options = table.of(order, line, population)
        this_week = np.array([leg.day in self.days for leg in options.legs], dtype=bool)
        passes = options.codes == 0
        later = passes[:, ~this_week, :].any(axis=(1, 2))
        passing = without_outclassed(self.shelf, options, passes & this_week[None, :, None], self.egg_value)
        for lot, free in zip(options.lots, options.free.tolist(), strict=True):
            self._free |= {(lot.lot, leg.day): eggs for leg, eggs in zip(options.legs, free, strict=True)}
        found = _Found(options, np.nonzero(passing), np.nonzero(self._shareable(options, this_week)), later)
        for lot, may in zip(options.lots, later.tolist(), strict=True):
            self._later[(line.key, lot.lot)] = may
        wanted = (line.species, line.population)
        if found.is_fillable and (table.species.species, population) != wanted:
            self.instead[line.key] = (table.species.species, population)
        if found.is_fillable or line.key not in self._found:
            self._found[line.key] = found

    def _shareable(self, options: LineOptions, this_week: Bools) -> Bools:
        """Cells that may be one of several lots for a line: of each place and packing at least two, enough together."""
        plan = self.shelf.settings.plan
        most = np.minimum(options.free[:, :, None], options.pack)
        open_to = (options.codes >= 0) & ((options.codes & ~_SHARED_BITS) == 0) & (most >= LEAST_DRAW)
        open_to &= this_week[None, :, None]
        if plan.lots_a_line < 2 or len(options.lots) < 2:
            return np.zeros(open_to.shape, dtype=bool)
        share = np.where(open_to, most / np.maximum(options.pack, 1), 0.0)
        kept = np.zeros(open_to.shape, dtype=bool)
        populations = np.array([lot.population for lot in options.lots])
        for population in sorted(set(populations.tolist())):
            own = populations == population
            best = -np.sort(-share[own], axis=0)[: plan.lots_a_line]
            enough = (best.sum(axis=0) >= 1.0) & (open_to[own].sum(axis=0) >= 2)
            kept[own] = open_to[own] & enough[None]
        return np.asarray(kept)

    def is_fillable(self, key: LineKey) -> bool:
        """Could the line go this week, by itself?"""
        return key in self._found and self._found[key].is_fillable

    def may_be_shared(self, key: LineKey) -> bool:
        """Could several lots together fill it this week?"""
        return key in self._found and bool(self._found[key].shared[0].size)

    def passing_options(self, key: LineKey) -> int:
        """How many of its options pass this week, whether or not another outclasses them."""
        found = self._found.get(key)
        if found is None:
            return 0
        this_week = np.array([leg.day in self.days for leg in found.options.legs], dtype=bool)
        return int((found.options.codes[:, this_week] == 0).sum())

    def options(self, order: Order, line: Line) -> list[Option]:
        """Every option of a line this week, with its reasons in words; what goes instead too, where something does."""
        if line.key not in self._options:
            wishes = [(line.species, line.population)]
            wishes += [self.instead[line.key]] if line.key in self.instead else []
            self._options[line.key] = [option for wish in wishes for option in self.options_of(order, line, *wish, self.days)]
        return self._options[line.key]

    def lots_for(self, species: str, population: str) -> tuple[Lot, ...]:
        """Lots of a species, and of that population where one is named."""
        return tuple(
            lot
            for lot in self.shelf.lots
            if lot.species == species and (not population or lot.population.casefold() == population.casefold())
        )

    def rides_of(self, order: Order, species: str, population: str, days: Iterable[date]) -> list[Ride]:
        """Every ride of every lot that could fill a line, on the days given."""
        destination = self.reckoner.destination(order)
        found: list[Ride] = []
        for lot in self.lots_for(species, population):
            packings = [packing for packing in self.shelf.packings if lot.medium in packing.media]
            for day in days:
                lot_day = self.reckoner.lot_day(lot.lot, day)
                for service in self.reckoner.services(order.country, order.service):
                    leg = self.reckoner.leg(service, destination, day)
                    found += [self.reckoner.ride(lot_day, packing, leg) for packing in packings]
        return found

    def options_of(self, order: Order, line: Line, species: str, population: str, days: Iterable[date]) -> list[Option]:
        """The options of a line from the lots of a species and population on some days."""
        rides = self.rides_of(order, species, population, days)
        self.reckoner.prepare([(ride, line.eggs) for ride in rides if line.overpack == "usual"])
        return [self.parcels.weighed(order, self.reckoner.option(ride, order, line, line.eggs)) for ride in rides]

    def ride(self, line: LineKey, place: Place, packing: str, lot: str) -> Ride:
        """The ride by which a lot fills a line at a place in a packing."""
        order = self.shelf.order_by_name[line[0]]
        service = next(one for one in self.reckoner.services(order.country) if one.service == place[1])
        leg = self.reckoner.leg(service, self.reckoner.destination(order), place[0])
        return self.reckoner.ride(self.reckoner.lot_day(lot, place[0]), self.shelf.packing_by_name[packing], leg)

    def short_cost(self, line: Line) -> float:
        """What falling short of a line costs: its price, or its eggs at `egg_value` where it has none."""
        price = float(line.price) if line.price is not None else line.eggs * self.egg_value
        return self.shelf.settings.plan.short_cost * price

    def later_cost(self, line: Line, lot: str) -> float:
        """Half an egg's value where the lot could still go for that line next week, else nothing."""
        return 0.5 * self.egg_value if self._later.get((line.key, lot), False) else 0.0

    def task(self, orders: Collection[str] | None = None) -> Task:
        """The week as numbers, for some orders or all."""
        fillings: list[Filling] = []
        splits: list[Split] = []
        chosen = [order for order in self.shelf.orders if orders is None or order.order in orders]
        for order in chosen:
            for line in order.lines:
                if line.key in self._found:
                    fillings += self._fillings(line, self._found[line.key])
                    splits += self._splits(line, self._found[line.key])
        fillings.sort(key=lambda f: (f.line, f.rank))
        splits.sort(key=lambda s: (s.line, s.rank))
        ways = sorted(self.parcels.ways(chosen, fillings, splits), key=lambda way: (way.orders, way.place, way.modes))
        base, weight = self._base_values, self.shelf.settings.plan.waiting_weight
        waited = {order.order: self._waited[order.order] for order in chosen}
        lots = {(f.lot, f.place[0]) for f in fillings} | {(share.lot, s.place[0]) for s in splits for share in s.shares}
        return Task(
            fillings=tuple(fillings),
            splits=tuple(splits),
            ways=tuple(ways),
            value={key: value * (1.0 + weight * waited[key[0]]) for key, value in base.items() if key[0] in waited},
            age={key: value * waited[key[0]] for key, value in base.items() if key[0] in waited},
            free={(lot, day): self.free(lot, day) for lot, day in lots},
            parcels_a_day=self.shelf.settings.plan.parcels_per_day,
            parcels_made=self.shelf.parcels_made,
        )

    @cached_property
    def _base_values(self) -> Mapping[LineKey, float]:
        return base_values(self.shelf)

    @cached_property
    def _waited(self) -> Mapping[str, float]:
        return {order.order: weeks_waited(self.shelf, order) for order in self.shelf.orders}

    def free(self, lot: str, day: date) -> int:
        """Eggs of a lot that are free on a day."""
        if (lot, day) not in self._free:
            self._free[(lot, day)] = self.reckoner.lot_day(lot, day).free
        return self._free[(lot, day)]

    def _fillings(self, line: Line, found: _Found) -> list[Filling]:
        options = found.options
        lot, leg, packing = found.passing
        pack, units = options.pack[found.passing], options.units[found.passing]
        later = 0.5 * self.egg_value * found.later[lot]
        unit_cost = np.array([float(one.cost) for one in options.packings])[packing]
        short = self.short_cost(line) * (1.0 - options.p_enough[found.passing])
        cost = units * unit_cost + (pack - line.eggs) * self.egg_value + short + pack * later
        places = [(one.day, one.service.service) for one in options.legs]
        return [
            Filling(line.key, places[j], options.packings[p].packing, u, options.lots[n].lot, eggs, c)
            for n, j, p, u, eggs, c in zip(
                lot.tolist(), leg.tolist(), packing.tolist(), units.tolist(), pack.tolist(), cost.tolist(), strict=True
            )
        ]

    def _splits(self, line: Line, found: _Found) -> list[Split]:
        """Ways to fill the line from two or more lots of one population, in one packing at one place."""
        options = found.options
        groups: dict[tuple[int, int, str], list[Share]] = {}
        for n, j, p in zip(*(axis.tolist() for axis in found.shared), strict=True):
            lot, alone = options.lots[n], int(options.pack[n, j, p])
            most = min(int(options.free[n, j]), alone)
            share = Share(lot.lot, alone, most, self.egg_value * (1.5 if found.later[n] else 1.0))
            groups.setdefault((j, p, lot.population), []).append(share)
        return [
            split
            for (j, p, _), shares in sorted(groups.items())
            for split in self._split(line, (options.legs[j].day, options.legs[j].service.service), options.packings[p], shares)
        ]

    def _split(self, line: Line, place: Place, packing: Packing, shares: list[Share]) -> list[Split]:
        plan = self.shelf.settings.plan
        lots_most = min(plan.lots_a_line, len(shares))
        fixed = self.short_cost(line) * (1.0 - plan.promise) - line.eggs * self.egg_value
        most_units = units_for(packing, max(share.alone for share in shares)) + lots_most - 1
        return [
            Split(
                line=line.key,
                place=place,
                packing=packing.packing,
                units=units,
                eggs_max=packing.eggs_max,
                shares=tuple(sorted(shares, key=lambda share: share.lot)),
                lots_most=lots_most,
                least_draw=LEAST_DRAW,
                cost=fixed + units * float(packing.cost),
            )
            for units in range(2, most_units + 1)
        ]


def _wish(text: str) -> tuple[str, str]:
    """Species and population of ``species/population``."""
    species, _, population = text.partition("/")
    return species.strip(), population.strip()
