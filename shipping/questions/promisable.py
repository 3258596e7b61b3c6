"""How many eggs can be promised to a destination, day by day: lots in, counts and reasons out."""

from __future__ import annotations

import itertools
import math
from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

import numpy as np

from shipping.eggs.clock import forget_clocks_with_eyes
from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.overpack import most_eggs, most_promised
from shipping.options.journey import Ints, bit, lot_days
from shipping.options.option import LEAST_DRAW, Destination, Leg, units_for
from shipping.options.option_factory import KNOWN_RATE, OptionFactory
from shipping.options.ride_arrays import Bools, RideTable, WeekFactors, ride_table
from shipping.post.calendar import is_hand_over_day
from shipping.post.quote import quote
from shipping.post.restrictions import says_yes
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.services import Service
from shipping.tables.shelf import Shelf
from shipping.week.left_out.stock import EggsLeft
from shipping.words.reasons import Reason

Kind = tuple[str, str]


@dataclass(frozen=True, slots=True)
class LargestOrder:
    """What one service carries on one day: the largest order promised, and from how many free eggs."""

    order: int
    eggs: int
    packing: str


@dataclass(frozen=True)
class Reach:
    """A population and a destination: what can be promised by day and service, and what a person must answer
    first.

    ``days``: day -> service -> what it can carry. ``asks``: what is to be answered before anything goes.
    ``against``: what stands in the way where no day is left; ``scarce``: but for the number of eggs it could
    go. ``closed``: a rule forbids it. ``last_open``: the last day asked about on which each service takes
    anything in; ``first_open``: the first on which any does.
    """

    to: Destination
    days: dict[date, dict[str, LargestOrder]]
    asks: tuple[Reason, ...]
    against: tuple[Reason, ...]
    closed: bool
    scarce: bool
    last_open: dict[str, date | None]
    first_open: date | None = None

    def order_on(self, day: date) -> int:
        """The largest order that can be promised for a day."""
        return max((served.order for served in self.days.get(day, {}).values()), default=0)

    def eggs_on(self, day: date) -> int:
        """Free eggs of the lots that can go that day."""
        return max((served.eggs for served in self.days.get(day, {}).values()), default=0)


@dataclass(frozen=True, slots=True)
class _Going:
    """A lot that may go in a packing on a leg, and as it fares there: so many eggs of those ``left``."""

    lot: Lot
    kind: int
    eggs: int
    left: int


@dataclass(frozen=True, slots=True, eq=False)
class _Load:
    """One packing on one leg: the lots that will do, and the largest order by the promise."""

    packing: Packing
    medium: str
    going: tuple[_Going, ...]
    order: int


@dataclass(eq=False)
class _Stock:
    """What is left of a population's lots on the days asked about, and every ride of theirs.

    ``eggs``: of each lot on each day, none where nothing of it may be packed (L, D). ``leg``: where each
    service's leg from a day stands among those of ``rides``. ``open_rides``: lot, packing and kind of the
    rides that nothing stops, by leg (3, R); a leg has those from ``starts[leg]`` up to ``starts[leg + 1]``.
    """

    lots: tuple[Lot, ...]
    eggs: Ints
    rides: RideTable
    leg: Mapping[tuple[str, Destination, date], int]
    open_rides: Ints
    starts: Ints
    loads: dict[tuple[int, bytes], tuple[_Load, ...]] = field(default_factory=dict)
    largest: dict[tuple[int, int], int] = field(default_factory=dict)
    packs: dict[int, dict[int, int]] = field(default_factory=dict)

    @classmethod
    def of(cls, lots: tuple[Lot, ...], eggs: Ints, rides: RideTable) -> _Stock:
        """The rides of the lots, in order."""
        order = np.lexsort((rides.packing, rides.lot, rides.leg))
        legs = rides.journeys.legs
        starts = np.searchsorted(rides.leg[order], np.arange(len(legs) + 1))
        leg = {(one.service.service, one.destination, one.day): n for n, one in enumerate(legs)}
        open_rides = np.array([rides.lot[order], rides.packing[order], rides.kind[order]])
        return cls(lots, eggs, rides, leg, open_rides, starts)

    def packs_of(self, going: Sequence[_Going], ordered: int, promise: float) -> list[int]:
        """Eggs of each lot alone that keep the promise of an order; 0 where no count does."""
        known = self.packs.setdefault(ordered, {})
        missing = np.array(sorted({one.kind for one in going} - known.keys()), dtype=np.int64)
        for kinds in self.rides.kinds if missing.size else ():
            here = missing[(missing >= kinds.numbers.start) & (missing < kinds.numbers.stop)]
            if here.size:
                pack = kinds.eggs_to_pack(here - kinds.first, ordered, "usual", promise).pack
                known |= zip(here.tolist(), pack.tolist(), strict=True)
        return [known[one.kind] for one in going]

    def alone(self, going: _Going, eggs: int, promise: float) -> int:
        """The largest order that so many eggs of one lot keep the promise for."""
        key = (going.kind, eggs)
        if key not in self.largest:
            kinds, (row,) = self.rides.kind_of(going.kind)
            v, chances, kappa = kinds.v[row], kinds.chances[row], float(kinds.kappa[row])
            self.largest[key] = most_promised(eggs, v, chances, kappa, promise)
        return self.largest[key]

    def most_of(self, kind: int, eggs: int, any_ceiling: float) -> int:
        """So many of the eggs as the packing's ceiling on any hatching lets go: all, if it holds for all."""
        kinds, row = self.rides.kind_of(kind)

        def is_over(count: int) -> bool:
            return float(kinds.any_hatched(row, np.array([count]))[0]) > any_ceiling

        if any_ceiling >= 1 or not is_over(eggs):
            return eggs
        return bisect_left(range(eggs), True, key=lambda count: is_over(count + 1))


@dataclass(eq=False)
class Reachable:
    """All questions of one offer, to some places; what legs share is reckoned once."""

    factory: OptionFactory
    left: EggsLeft
    days: tuple[date, ...]
    least: int
    places: tuple[Destination, ...]
    _stocks: dict[Kind, _Stock | None] = field(default_factory=dict)
    _fitting: dict[tuple[str, int, str, tuple[str, str]], bool] = field(default_factory=dict)
    _last_days: dict[tuple[str, Destination], date | None] = field(default_factory=dict)

    @property
    def shelf(self) -> Shelf:
        return self.factory.shelf

    def reach(self, kind: Kind, lots: tuple[Lot, ...], to: Destination) -> Reach:
        """What can be promised of a population to a destination on each of the days."""
        every, services = self.factory.services(to.place), self._services(to)
        media, asks, closed = self._rules(kind[0], lots, to)
        if not closed:
            asks += self.factory.post_asks(every, to, self.days[0])
        if closed or not services:
            return Reach(to, {}, tuple(asks), _no_route(to) if not closed else (), closed, False, {})
        days: dict[date, dict[str, LargestOrder]] = {}
        against: dict[str, Reason] = {}
        scarce = False
        stock = self._stock(kind, lots)
        for n, service in self._days_of(stock, services):
            leg = self.factory.leg(service, to, self.days[n])
            if stock is None or leg.blocks:
                continue
            loads = self._loads_of(stock, n, leg)
            served = self._served(stock, leg, [load for load in loads if load.medium in media])
            if served and served.order >= self.least:
                days.setdefault(leg.day, {})[service.service] = served
            elif not days:
                scarce = scarce or any(load.order < self.least for load in loads)
                self._add_reasons(against, stock, n, leg)
                for reason in self._unposted(loads, service, to):
                    against.setdefault(reason.code, reason)
        for reason in () if days else self._doubts(lots, services, late=not against):
            against.setdefault(reason.code, reason)
        last_open = {service.service: self._last_open(service, to) for service in services}
        in_the_way = () if days else tuple(against.values())
        return Reach(to, days, tuple(asks), in_the_way, False, scarce, last_open, self._first_open(services))

    def _services(self, to: Destination) -> tuple[Service, ...]:
        """The services by which something may go: those whose operators said yes, or else all."""
        every = self.factory.services(to.place)
        return tuple(one for one in every if says_yes(self.shelf, one)) or every

    def _doubts(self, lots: tuple[Lot, ...], services: tuple[Service, ...], late: bool) -> list[Reason]:
        """What a look today would settle; if ``late``, what will be so by the first day to post too."""
        today = [
            reason for lot in lots for reason in lot_forecast(self.shelf, lot.lot).doubts(self.shelf.today)
        ]
        if today or not late:
            return today
        first = self._first_open(services)
        return (
            [reason for lot in lots for reason in self.factory.lot_day(lot.lot, first).reasons]
            if first
            else []
        )

    def _first_open(self, services: tuple[Service, ...]) -> date | None:
        """The first of the days on which any of the services takes anything in."""
        home = self.shelf.settings.home
        return next(
            (day for day in self.days if any(is_hand_over_day(day, service, home) for service in services)),
            None,
        )

    @staticmethod
    def _days_of(stock: _Stock | None, services: tuple[Service, ...]) -> Iterator[tuple[int, Service]]:
        """The days on which something is left that may be packed, by number, with each of the services."""
        open_days = np.flatnonzero((stock.eggs > 0).sum(axis=0)).tolist() if stock else []
        return itertools.product(open_days, services)

    @cached_property
    def _factors(self) -> WeekFactors:
        factors = WeekFactors(self.factory, self.days)
        factors.also_to(self.places)
        return factors

    @cached_property
    def _open_legs(self) -> Bools:
        """The legs that anything is handed over to, by services that are asked about (J,)."""
        asked = {to: {one.service for one in self._services(to)} for to in self.places}
        legs = self._factors.journeys.legs
        return np.array(
            [not one.blocks and one.service.service in asked[one.destination] for one in legs], dtype=bool
        )

    def _stock(self, kind: Kind, lots: tuple[Lot, ...]) -> _Stock | None:
        """What is left of a population; None where nothing is, on any of the days.

        One population is asked about after the other: what the last one's rides were is dropped.
        """
        if kind not in self._stocks:
            self._stocks.clear()
            self.factory.forget_rides()
            forget_clocks_with_eyes()
            self._stocks[kind] = self._new_stock(lots)
        return self._stocks[kind]

    def _new_stock(self, lots: tuple[Lot, ...]) -> _Stock | None:
        every = [(lot, lot_days(self.shelf, lot.lot, self.days)) for lot in lots]
        left = [
            np.where(own.codes == 0, self.left.ahead(lot.lot, self.days, own.free), 0) for lot, own in every
        ]
        some = [n for n, eggs in enumerate(left) if eggs.any()]
        if not some:
            return None
        eggs = np.array([left[n] for n in some])
        every_leg = self._factors.journeys
        wanted = (eggs.max(axis=0) > 0)[every_leg.day] & self._open_legs
        if not wanted.any():
            return None
        journeys = every_leg.those(wanted)
        table = ride_table(self.shelf.packings, (every[n][1] for n in some), journeys, self._factors)
        return _Stock.of(tuple(every[n][0] for n in some), eggs, table)

    def _last_open(self, service: Service, to: Destination) -> date | None:
        """The last of the days on which a service takes anything in."""
        key = (service.service, to)
        if key not in self._last_days:
            home = self.shelf.settings.home
            self._last_days[key] = max(
                (day for day in self.days if is_hand_over_day(day, service, home)), default=None
            )
        return self._last_days[key]

    def _rules(
        self, species: str, lots: tuple[Lot, ...], to: Destination
    ) -> tuple[frozenset[str], list[Reason], bool]:
        """Media in which the eggs may travel, what is to be answered first, and whether all is closed."""
        fish, kept_in = self.shelf.species[species], {lot.medium for lot in lots}
        ruled = self.factory.rulings(to, fish, kept_in, self._rule_days)
        if ruled.passing:
            return ruled.passing, [], False
        return ruled.unclosed, ruled.reasons, not ruled.unclosed

    @cached_property
    def _rule_days(self) -> tuple[date, ...]:
        """The days on which rules must be asked: one, unless some row begins or ends within them."""
        first, last = self.days[0], self.days[-1]
        edges = (edge for rule in self.shelf.rules for edge in (rule.from_, rule.until) if edge)
        return self.days if any(first <= edge <= last for edge in edges) else (first,)

    def _loads_of(self, stock: _Stock, day: int, leg: Leg) -> tuple[_Load, ...]:
        at = stock.leg[leg.service.service, leg.destination, leg.day]
        rides = stock.open_rides[:, stock.starts[at] : stock.starts[at + 1]]
        key = (day, rides.tobytes())
        if key not in stock.loads:
            stock.loads[key] = self._new_loads(stock, day, rides)
        return stock.loads[key]

    def _new_loads(self, stock: _Stock, day: int, rides: Ints) -> tuple[_Load, ...]:
        by_packing: dict[tuple[str, str], list[_Going]] = {}
        for n, p, kind in rides.T.tolist():
            lot, packing, eggs = stock.lots[n], self.shelf.packings[p], int(stock.eggs[n, day])
            if eggs and (most := stock.most_of(kind, eggs, packing.any_ceiling)):
                medium = packing.travels_in(lot.medium)
                by_packing.setdefault((packing.packing, medium), []).append(_Going(lot, kind, most, eggs))
        packings = self.shelf.packing_by_name
        return tuple(
            _Load(packings[p], medium, tuple(going), self._largest_of(stock, going))
            for (p, medium), going in sorted(by_packing.items())
        )

    def _add_reasons(self, against: dict[str, Reason], stock: _Stock, day: int, leg: Leg) -> None:
        """Add why rides of a leg may not go, lot by lot: the first reason of each code alone is told."""
        at = stock.leg[leg.service.service, leg.destination, leg.day]
        for n, p in zip(*np.nonzero(stock.rides.codes[:, at] > 0), strict=True):
            said = sum(map(bit, against))
            if stock.eggs[n, day] and int(stock.rides.codes[n, at, p]) & ~said:
                lot_day = self.factory.lot_day(stock.lots[n].lot, leg.day)
                hatched = float(stock.rides.hatched[n, at, p])
                for reason in self.factory.ride_reasons(lot_day, self.shelf.packings[p], leg, hatched):
                    against.setdefault(reason.code, reason)

    def _largest_of(self, stock: _Stock, going: list[_Going]) -> int:
        """The largest order that the eggs of one lot, or of several together, keep the promise for."""
        alone = max((stock.alone(one, one.eggs, self._promise) for one in going), default=0)
        able = [one for one in going if one.eggs >= LEAST_DRAW]
        if len(able) < 2 or self.shelf.settings.plan.lots_a_line < 2:
            return alone
        largest = sorted(stock.alone(one, one.eggs, self._promise) for one in able)
        near = sum(largest[-self.shelf.settings.plan.lots_a_line :])  # hardly ever far off
        most = sum(one.eggs for one in able)
        return _greatest(alone, most + 1, near, lambda order: self._suffice(stock, able, order))

    @property
    def _promise(self) -> float:
        return self.shelf.settings.plan.promise

    def _suffice(self, stock: _Stock, going: list[_Going], ordered: int) -> bool:
        """Do the best few lots together do: sum(n / m) >= 1?"""
        packs = stock.packs_of(going, ordered, self._promise)
        shares = [one.eggs / pack if pack else 0.0 for one, pack in zip(going, packs, strict=True)]
        return math.fsum(sorted(shares, reverse=True)[: self.shelf.settings.plan.lots_a_line]) >= 1.0

    def _served(self, stock: _Stock, leg: Leg, loads: list[_Load]) -> LargestOrder | None:
        """The largest order of a day by a service; of equal ones the packing that sorts first."""
        found = [(self._posted(stock, load, leg), load) for load in loads]
        eggs = sum({one.lot.lot: one.left for posted, load in found if posted for one in load.going}.values())
        order, load = max(found, key=lambda one: one[0], default=(0, None))
        return LargestOrder(order, eggs, load.packing.packing) if load and order else None

    def _posted(self, stock: _Stock, load: _Load, leg: Leg) -> int:
        """The largest order of a load that box, postage and air take; of one lot, if all are too many."""
        units = sum(units_for(load.packing, one.eggs) for one in load.going)
        most_units = next((n for n in range(units, 0, -1) if self._fits(load.packing, n, leg)), 0)
        if self._is_doubtful(load):
            return next(
                (order for order in range(load.order, self.least - 1, -1) if self._takes(load, order, leg)), 0
            )
        if most_units == units:
            return load.order
        eggs = most_units * load.packing.eggs_max
        return max((stock.alone(one, min(one.eggs, eggs), self._promise) for one in load.going), default=0)

    def _is_doubtful(self, load: _Load) -> bool:
        """Must each count be asked about: is the air known, or more packed than ever is for a line?"""
        known = load.packing.is_a.is_sealed and any(
            self.shelf.species_of(one.lot.species, one.lot.population).o2_basis in KNOWN_RATE
            for one in load.going
        )
        return known or any(one.eggs > most_eggs(load.order) for one in load.going)

    def _takes(self, load: _Load, order: int, leg: Leg) -> bool:
        """Can an order of that size go from one lot?"""
        for one in load.going:
            ride = self.factory.ride(self.factory.lot_day(one.lot.lot, leg.day), load.packing, leg)
            option = self.factory.option(ride, None, None, order)
            if (
                option.pack
                and option.pack <= one.eggs
                and not option.blocks
                and self._fits(load.packing, option.units, leg)
            ):
                return True
        return False

    def _fits(self, packing: Packing, units: int, leg: Leg) -> bool:
        """Do a box and its postage take so many units?"""
        key = (packing.packing, units, leg.service.service, leg.destination.place)
        if key not in self._fitting:
            self._fitting[key] = not self._post_reasons(packing, units, leg.service, leg.destination)
        return self._fitting[key]

    def _post_reasons(
        self, packing: Packing, units: int, service: Service, to: Destination
    ) -> tuple[Reason, ...]:
        """Why no box or no postage takes so many units; empty where one does."""
        return quote(self.shelf, ((packing, units),), service, *to.place).reasons

    def _unposted(self, loads: tuple[_Load, ...], service: Service, to: Destination) -> Iterator[Reason]:
        for load in loads:
            if load.order >= self.least:
                yield from self._post_reasons(load.packing, 1, service, to)


def _greatest(low: int, high: int, near: int, holds: Callable[[int], bool]) -> int:
    """The greatest number below ``high`` that holds, from ``near`` in growing steps, then by halving."""
    at, step = min(max(near, low + 1), high - 1), 1
    while high - low > 1:
        if holds(at):
            low, at = at, at + step
        else:
            high, at = at, at - step
        step *= 2
        if not low < at < high:
            at = (low + high) // 2
    return low


def _no_route(to: Destination) -> tuple[Reason, ...]:
    text = f"No service goes to {to.country}: add a row to services and postage."
    return (Reason("no-route", text, {"to": to.country}, "services"),)
