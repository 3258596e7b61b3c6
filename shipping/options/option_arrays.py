"""Every option of many lines as arrays: lines in; eggs, chances and what speaks against each, by lot, leg and
packing, out, and of them those that pass.

What many options share (legs, lots on days, shares due, eggs for a promise) is reckoned once and looked up.
One option with its reasons in words is `option_factory`'s; which option is chosen is `week`'s.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from shipping.options.journey import ASKING, SCARCITY, Ints, LotDays, bit, lot_days
from shipping.options.option import LEAST_DRAW, Destination, Floats, Leg
from shipping.options.option_factory import OptionFactory
from shipping.options.ride_arrays import RideTable, WeekFactors, counted, ride_table
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import Line, Order, wish_of
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.species import Species
from shipping.words.keys import Departure, grouped, numbered
from shipping.words.long_work import of_each

Result = TypeVar("Result")


@dataclass(frozen=True, eq=False)
class LineOptions:
    """All options of one line by lot, leg and packing: arrays of shape (L, J, P).

    ``codes``: what speaks against each, as bits; 0 passes; -1 is no option at all. ``pack``: eggs to pack, 0
    where no count keeps the promise or it was not worth reckoning. ``free``: eggs free by lot and leg (L, J).
    """

    lots: tuple[Lot, ...]
    legs: tuple[Leg, ...]
    packings: tuple[Packing, ...]
    codes: Ints
    pack: Ints
    units: Ints
    p_enough: Floats
    free: Ints


@dataclass(frozen=True, eq=False)
class _Counted:
    """A count ordered from some lots to some destinations, whoever ordered it: each (L, J, P).

    ``at``: where the legs of each destination stand. ``post``: what weight and thickness would add, None
    where nothing.
    """

    at: Mapping[Destination, slice]
    codes: Ints
    pack: Ints
    units: Ints
    p_enough: Floats
    post: Ints | None


#: A count ordered and whether more than it is packed; who asked for it, by population.
_Count = tuple[int, str]
_Asked = dict[str, dict[_Count, set[Destination]]]


@dataclass(eq=False)
class OptionTable:
    """The options of all lines of one species, over some days; what a population shares is kept."""

    factors: WeekFactors
    species: Species
    lots: tuple[Lot, ...]
    asked: _Asked
    _rides: dict[tuple[str, Destination], RideTable] = field(default_factory=dict)
    _counts: dict[tuple[str, Destination, _Count], _Counted] = field(default_factory=dict)
    _lines: dict[tuple[object, ...], LineOptions] = field(default_factory=dict)
    _lot_days: dict[str, LotDays] = field(default_factory=dict)
    _media: dict[str, tuple[tuple[str, ...], Ints]] = field(default_factory=dict)

    @cached_property
    def asked_of_lots(self) -> int:
        """How many counts of how many lots for how many places, multiplied, over all populations."""
        return sum(
            len(self.lots_of(population)) * sum(len(places) for places in counts.values())
            for population, counts in self.asked.items()
        )

    def of(self, order: Order, line: Line, population: str) -> LineOptions:
        """The options of a line from a population's lots ("": any); lines alike share them."""
        to, wanted = self.factors.destination(order), population.casefold()
        asks = (line.paid, order.not_before, order.not_after, order.service, order.papers)
        key = (to, wanted, line.eggs, line.overpack, asks)
        if key not in self._lines:
            self._lines[key] = self._options(order, line, to, wanted)
        return self._lines[key]

    def hatching(self, order: Order, population: str) -> Floats:
        """The mean share hatched on the way of each option of `of`, whatever else speaks (L, J, P)."""
        to, wanted = self.factors.destination(order), population.casefold()
        lots = self.lots_of(wanted)
        if not lots:
            return np.zeros((0, len(self.factors.journeys.to((to,)).legs), len(self.factors.packings)))
        rides = self._rides_to(to, wanted, lots)
        return rides.hatched[:, rides.journeys.at[to]]

    def forget(self) -> None:
        """Drop all that was reckoned; what is asked again is reckoned again."""
        self.forget_counts(rides=True)
        self._lot_days.clear()
        self.factors.forget()

    def forget_counts(self, *, rides: bool) -> None:
        """Drop what was reckoned of counts ordered and, if so asked, of the rides they are reckoned by."""
        for kept in (self._lines, self._counts, *((self._rides,) if rides else ())):
            kept.clear()

    def free_on(self, days: tuple[date, ...]) -> Mapping[str, tuple[int, ...]]:
        """Eggs free, on each of some of the table's days, of every lot that was asked about."""
        numbers = [self.factors.days.index(day) for day in days]
        return {lot: tuple(of_lot.free[numbers].tolist()) for lot, of_lot in self._lot_days.items()}

    def _options(self, order: Order, line: Line, to: Destination, population: str) -> LineOptions:
        packings, lots = self.factors.packings, self.lots_of(population)
        if not lots:
            legs = self.factors.journeys.to((to,)).legs
            none = np.zeros((0, len(legs), len(packings)), dtype=np.int64)
            return LineOptions(lots, legs, packings, none, none, none, np.zeros(none.shape), none[:, :, 0])
        rides = self._rides_to(to, population, lots)
        found = self._counted(to, population, (line.eggs, line.overpack), rides)
        there, here = rides.journeys.at[to], found.at[to]
        legs, day = rides.journeys.legs[there], rides.journeys.day[there]
        of_order = rides.journeys.codes[there] | _of_order(order, line, legs)
        codes = found.codes[:, here] | of_order[None, :, None]
        codes |= self._of_rules(to, population, lots, order.papers)[:, day]
        if found.post is not None:
            codes |= np.where((codes & ~ASKING) == 0, found.post[:, here], 0)
        pack, units, p_enough = found.pack[:, here], found.units[:, here], found.p_enough[:, here]
        return LineOptions(lots, legs, packings, codes, pack, units, p_enough, rides.free[:, day])

    def lots_of(self, population: str) -> tuple[Lot, ...]:
        """The lots of a population, written casefolded, or all of the species for ""."""
        return self._lots_by_population.get(population, ()) if population else self.lots

    @cached_property
    def _lots_by_population(self) -> Mapping[str, tuple[Lot, ...]]:
        found = grouped((lot.population.casefold(), lot) for lot in self.lots)
        return {population: tuple(lots) for population, lots in found.items()}

    def _of_rules(
        self, to: Destination, population: str, lots: tuple[Lot, ...], papers: frozenset[str]
    ) -> Ints:
        """What the rules say, by lot, day and packing (L, D, P)."""
        media, which = self._media_of(population, lots)
        says = np.array([self.factors.rules(to, self.species, medium, papers) for medium in media])
        return np.asarray(says[which].swapaxes(1, 2))

    def _media_of(self, population: str, lots: tuple[Lot, ...]) -> tuple[tuple[str, ...], Ints]:
        """The media a population's eggs may travel in, and the number of each lot's (L, P)."""
        if population not in self._media:
            every = [packing.travels_in(lot.medium) for lot in lots for packing in self.factors.packings]
            media = tuple(sorted(set(every)))
            which = np.array([media.index(medium) for medium in every], dtype=np.int64)
            self._media[population] = (media, which.reshape(len(lots), -1))
        return self._media[population]

    def _rides_to(self, to: Destination, population: str, lots: tuple[Lot, ...]) -> RideTable:
        """The rides of a population's lots, to all destinations asked for it at once."""
        if (population, to) not in self._rides:
            asked = {one for places in self.asked.get(population, {}).values() for one in places}
            together = asked if to in asked else {to}
            self._rides |= dict.fromkeys(
                ((population, one) for one in together), self._new_rides(together, lots)
            )
        return self._rides[(population, to)]

    def _new_rides(self, together: Set[Destination], lots: tuple[Lot, ...]) -> RideTable:
        days = (self._days_of(lot) for lot in lots)
        journeys = self.factors.journeys.to(tuple(sorted(together, key=repr)))
        return ride_table(self.factors.packings, days, journeys, self.factors)

    def _days_of(self, lot: Lot) -> LotDays:
        if lot.lot not in self._lot_days:
            self._lot_days[lot.lot] = lot_days(self.factors.factory.shelf, lot.lot, self.factors.days)
        return self._lot_days[lot.lot]

    def _counted(self, to: Destination, population: str, count: _Count, rides: RideTable) -> _Counted:
        """A count from a population's lots, to all destinations that asked for it at once."""
        if (population, to, count) not in self._counts:
            asked = self.asked.get(population, {}).get(count, set())
            together = [one for one in rides.journeys.at if one in asked] if to in asked else [to]
            found = self._count(rides, tuple(together), count)
            self._counts |= {(population, one, count): found for one in together}
        return self._counts[(population, to, count)]

    def _count(self, rides: RideTable, together: tuple[Destination, ...], count: _Count) -> _Counted:
        eggs, overpack = count
        journeys = rides.journeys
        legs = np.concatenate([np.arange(journeys.at[to].start, journeys.at[to].stop) for to in together])
        ends = np.cumsum([0, *(journeys.at[to].stop - journeys.at[to].start for to in together)]).tolist()
        place = np.full(len(journeys.legs), -1, dtype=np.int64)
        place[legs] = np.arange(legs.size)
        found = counted(
            rides,
            np.flatnonzero((place >= 0)[rides.leg]),
            eggs,
            overpack,
            self.factors.factory.shelf.settings.plan.promise,
        )
        codes = rides.codes[:, legs]
        pack, p_enough, post = (
            np.zeros(codes.shape, dtype=np.int64),
            np.zeros(codes.shape),
            np.zeros(codes.shape, dtype=np.int64),
        )
        each_most = np.array([packing.eggs_max for packing in rides.packings])
        units = np.broadcast_to(np.maximum(1, -(-eggs // each_most)), codes.shape).copy()
        leg, packing = rides.leg[found.at], rides.packing[found.at]
        cells = (rides.lot[found.at], place[leg], packing)
        pack[cells], p_enough[cells] = found.pack, found.p_enough
        codes[cells] |= found.codes
        units[cells] = np.maximum(1, -(-np.where(found.pack > 0, found.pack, eggs) // each_most[packing]))
        good = found.codes == 0
        post[tuple(axis[good] for axis in cells)] = self.factors.post(
            packing[good], units[cells][good], leg[good], journeys
        )
        at = {to: slice(ends[n], ends[n + 1]) for n, to in enumerate(together)}
        for shared in (pack, units, p_enough):  # by all lines that ordered so many
            shared.setflags(write=False)
        return _Counted(at, codes, pack, units, p_enough, post if post.any() else None)


def _of_order(order: Order, line: Line, legs: tuple[Leg, ...]) -> Ints:
    """What the order asks of each leg (J,); -1 where it does not go by its service."""
    codes = np.full(len(legs), 0 if line.paid else bit("unpaid"), dtype=np.int64)
    if order.not_before:
        codes[[leg.day < order.not_before for leg in legs]] |= bit("not-before")
    if order.not_after:
        codes[[leg.arrivals.p95 > order.not_after for leg in legs]] |= bit("not-after")
    codes[[not leg.service.serves(order.service) for leg in legs]] = -1
    return codes


def tables_for(
    factory: OptionFactory,
    wishes: Iterable[tuple[Order, str]],
    days: tuple[date, ...],
    passing_only: bool = False,
) -> Iterator[OptionTable]:
    """A table for each species ordered, one by one; ``passing_only``: of others not all reasons are told."""
    asked: dict[str, _Asked] = {}
    factors = WeekFactors(factory, days, passing_only)
    for order, species in {(order.order, species): (order, species) for order, species in wishes}.values():
        to, of_species = factors.destination(order), asked.setdefault(species, {})
        for line in order.lines:
            for population in _populations(line, species):
                of_species.setdefault(population.casefold(), {}).setdefault(
                    (line.eggs, line.overpack), set()
                ).add(to)
    for species in sorted(asked):
        found = factory.shelf.species.get(species)
        if found is not None:
            lots = tuple(lot for lot in factory.shelf.lots if lot.species == species)
            yield OptionTable(factors, found, lots, asked[species])


def _populations(line: Line, species: str) -> Iterator[str]:
    wishes = ((line.species, line.population), *map(wish_of, line.instead))
    yield from (population for name, population in wishes if name == species)


def of_each_table(
    tables: Sequence[OptionTable],
    make: Callable[[OptionTable], Result],
    least: int,
    processes: int = 2,
    *,
    keep: bool = False,
) -> list[Result]:
    """What ``make`` makes of each table, in their order; unless it is to ``keep`` it, a table forgets what it
    reckoned for it.

    In two processes where at least so many counts are asked of lots.
    """

    def made(table: OptionTable) -> Result:
        result = make(table)
        if not keep:
            table.forget()
        return result

    if tables:
        _ = tables[0].factors.journeys  # so that both processes find them
    return of_each(tables, made, lambda table: table.asked_of_lots, least, processes)


Bools = NDArray[np.bool_]
Shorts = NDArray[np.int16]
Records = NDArray[np.void]
#: A line, its order, and the population that may fill it.
Wish = tuple[Order, Line, str]
_AT = [("lot", np.int32), ("departure", np.int16), ("packing", np.int16)]
#: One lot that does alone: eggs to pack in so many units, and the chance that they are enough.
ALONE = np.dtype([*_AT, ("pack", np.int32), ("units", np.int32), ("p_enough", np.float64)])
#: One lot of several: eggs that alone would do, and how many of them may be drawn.
SHARED = np.dtype([*_AT, ("alone", np.int32), ("most", np.int32)])


@dataclass(frozen=True, eq=False, slots=True)
class LineCandidates:
    """What may fill one line this week; lines alike share it.

    ``lots``: names (L,), of which ``group`` numbers the population (L,) and ``later`` says that it may go
    for the line next week too (L,). ``departures``: this week's days and services to where it goes.
    ``alone``: records of `ALONE` (n,), and ``shared``: of `SHARED` (m,), by lot, departure and packing,
    which are numbers among ``lots``, ``departures`` and the shelf's packings. ``reckoned``: options looked
    at, lots by legs by packings of all days, whether or not they pass.
    """

    lots: tuple[str, ...]
    group: Shorts
    later: Bools
    departures: tuple[Departure, ...]
    alone: Records
    shared: Records
    reckoned: int

    @property
    def is_fillable(self) -> bool:
        """Could the line go this week, by itself?"""
        return bool(self.alone.size or self.shared.size)


@dataclass(eq=False)
class _Reducer:
    """Reduces the options of lines to their candidates; names that many lines share are held once."""

    days: frozenset[date]
    lots_a_line: int
    _departures: dict[tuple[Departure, ...], tuple[Departure, ...]] = field(default_factory=dict)
    _lots: dict[tuple[str, ...], tuple[tuple[str, ...], Shorts]] = field(default_factory=dict)

    def reduced(self, options: LineOptions) -> LineCandidates:
        """The candidates of one line."""
        now = np.array([leg.day in self.days for leg in options.legs], dtype=bool)
        legs, passes = np.flatnonzero(now), options.codes == 0
        departures = tuple((options.legs[j].day, options.legs[j].service.service) for j in legs.tolist())
        lots, group = self._named(options)
        return LineCandidates(
            lots=lots,
            group=group,
            later=passes[:, ~now].any(axis=(1, 2)),
            departures=self._departures.setdefault(departures, departures),
            alone=_alone(options, legs, passes),
            shared=_shared(options, legs, group, self.lots_a_line),
            reckoned=options.codes.size,
        )

    def _named(self, options: LineOptions) -> tuple[tuple[str, ...], Shorts]:
        names = tuple(lot.lot for lot in options.lots)
        if names not in self._lots:
            group = numbered(lot.population for lot in options.lots)
            self._lots[names] = names, np.array(group, dtype=np.int16)
        return self._lots[names]


def _alone(options: LineOptions, legs: Ints, passes: Bools) -> Records:
    """Lots of which each fills the line by itself."""
    lot, departure, packing = np.nonzero(passes[:, legs])
    at = (lot, legs[departure], packing)
    found = np.empty(lot.size, dtype=ALONE)
    found["lot"], found["departure"], found["packing"] = lot, departure, packing
    found["pack"], found["units"], found["p_enough"] = (
        options.pack[at],
        options.units[at],
        options.p_enough[at],
    )
    return found


def _shared(options: LineOptions, legs: Ints, group: Shorts, lots_a_line: int) -> Records:
    """Lots that may be one of several: of each population, leg and packing at least two, enough together."""
    codes, pack = options.codes[:, legs], options.pack[:, legs]
    most = np.minimum(options.free[:, legs, None], pack)
    able = (codes >= 0) & ((codes & ~SCARCITY) == 0) & (most >= LEAST_DRAW)
    enough = np.zeros(able.shape, dtype=bool)
    for number in range(1 + int(group.max(initial=-1))) if lots_a_line > 1 else ():
        own = np.flatnonzero(group == number)
        if own.size > 1 and able[own].any():
            share = np.where(able[own], most[own] / np.maximum(pack[own], 1), 0.0)
            share[::-1].sort(axis=0)  # the greatest first
            total = share[0].copy()
            for rank in range(1, min(lots_a_line, own.size)):
                total += share[rank]
            enough[own] = able[own] & (total >= 1.0) & (share[1] > 0)
    lot, departure, packing = np.nonzero(enough)
    found = np.empty(lot.size, dtype=SHARED)
    found["lot"], found["departure"], found["packing"] = lot, departure, packing
    found["alone"], found["most"] = pack[enough], most[enough]
    return found


@dataclass(frozen=True, eq=False)
class SpeciesCandidates:
    """The candidates of each wish, in their order, and eggs free of each lot on each of the days."""

    wishes: Sequence[LineCandidates]
    free: Mapping[str, tuple[int, ...]]


def candidates_of(table: OptionTable, wishes: Sequence[Wish], days: tuple[date, ...]) -> SpeciesCandidates:
    """What may fill each line on some days.

    Count after count, so that few arrays are in memory at once.
    """
    reducer = _Reducer(frozenset(days), table.factors.factory.shelf.settings.plan.lots_a_line)
    found: dict[int, LineCandidates] = {}
    order = sorted(
        range(len(wishes)), key=lambda n: (wishes[n][2].casefold(), wishes[n][1].eggs, wishes[n][1].overpack)
    )
    known: dict[int, LineCandidates] = {}
    before: tuple[object, ...] = ()
    for n in order:
        of_order, line, population = wishes[n]
        count = (population.casefold(), line.eggs, line.overpack)
        if count != before:
            table.forget_counts(rides=count[:1] != before[:1])
            known, before = {}, count
        options = table.of(of_order, line, population)
        if id(options) not in known:
            known[id(options)] = reducer.reduced(options)
        found[n] = known[id(options)]
    return SpeciesCandidates([found[n] for n in range(len(wishes))], table.free_on(days))
