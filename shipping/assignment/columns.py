"""How each order of a week may go, as plain numbers for a search that places orders by the thousand.

A lot on a day is one number (the lot's times the days, and the day's), so that eggs left are looked up in a
list. An order's ways are made when they are first asked for.
"""

from __future__ import annotations

import itertools
import math
from array import array
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial

from shipping.assignment.instance import Departure, Instance, OneLotFill, SharedFill, TravelMode
from shipping.words.keys import LineKey, UnionFind, grouped, numbered

#: A lot's part of a split: lot on a day, eggs that alone would do, the most that may be drawn, cost of an
#: egg.
Part = tuple[int, int, int, float]
#: Of a lot on a day that may share a line: the fewest eggs that alone would do, and the most to be drawn.
Share = tuple[int, int, int]
#: A lot on a day, the fewest eggs of it that fill a line alone, and where its ways begin and end.
LotAlone = tuple[int, int, int, int]
#: Postage and box of these orders' lines in one parcel at a place; infinite where there is no such parcel.
ParcelCost = Callable[[tuple[str, ...], Departure, tuple[TravelMode, ...]], float]


@dataclass(frozen=True, slots=True)
class SharedColumns:
    """A line shared among lots in one packing at one place; ``costs``: of units, by their number, infinite
    where too few. ``least_cost``: of units and eggs at the very least.
    """

    packing: str
    eggs_max: int
    costs: tuple[float, ...]
    lots_most: int
    least_draw: int
    parts: tuple[Part, ...]
    least_cost: float


def shared_columns(
    packing: str,
    eggs_max: int,
    costs: tuple[float, ...],
    lots_most: int,
    least_draw: int,
    parts: tuple[Part, ...],
) -> SharedColumns:
    """A split, and what it costs at the very least."""
    least = min(costs) + min(alone * egg_cost for _, alone, _, egg_cost in parts)
    return SharedColumns(packing, eggs_max, costs, lots_most, least_draw, parts, least)


@dataclass(eq=False, slots=True)
class OneLotColumns:
    """Lots that fill a line alone, in columns, lot by lot, fewest eggs first; lines alike share them."""

    at: tuple[int, ...] = ()
    eggs: tuple[int, ...] = ()
    units: tuple[int, ...] = ()
    packing: tuple[str, ...] = ()
    _by_lot: tuple[LotAlone, ...] | None = None
    _travel_modes: int | None = None

    @property
    def by_lot(self) -> tuple[LotAlone, ...]:
        """Every lot on a day, the fewest eggs of it that do, and where its ways begin and end."""
        if self._by_lot is None:
            starts = [n for n, at in enumerate(self.at) if not n or at != self.at[n - 1]]
            ends = itertools.pairwise([*starts, len(self.at)])
            self._by_lot = tuple((self.at[start], self.eggs[start], start, end) for start, end in ends)
        return self._by_lot

    @property
    def travel_modes(self) -> int:
        """How many packings and numbers of units there are."""
        if self._travel_modes is None:
            self._travel_modes = len(set(zip(self.packing, self.units, strict=True)))
        return self._travel_modes

    def is_left(self, left: Sequence[int]) -> bool:
        """Does what is left of some lot do?"""
        return any(left[at] >= eggs for at, eggs, _, _ in self.by_lot)


@dataclass(eq=False, slots=True)
class SeveralLotsColumns:
    """Of a line at one place, the shares of lots that may go together, in any packing, and its splits, those
    first that cost least, made when they are first asked for. Lines alike share them.
    """

    shares: tuple[tuple[Share, ...], ...] = ()
    least_draw: int = 1
    make_fills: Callable[[], Iterable[SharedColumns]] = tuple
    _fills: tuple[SharedColumns, ...] | None = None

    @property
    def fills(self) -> tuple[SharedColumns, ...]:
        if self._fills is None:
            by_cost = sorted(self.make_fills(), key=lambda one: (one.least_cost, one.packing, one.parts))
            self._fills = tuple(by_cost)
        return self._fills


def several_lots(fills: Sequence[SharedColumns]) -> SeveralLotsColumns:
    """Splits with the shares of lots that some split takes together, in any packing."""
    of_lot: dict[int, dict[int, tuple[int, int]]] = {}
    for fill in fills:
        own = next((of_lot[at] for at, *_ in fill.parts if at in of_lot), {})
        for at, alone, most, _ in fill.parts:
            other = of_lot.setdefault(at, own)
            if other is not own:
                own |= other
                of_lot |= dict.fromkeys(other, own)
            known = own.get(at, (alone, most))
            own[at] = min(known[0], alone), max(known[1], most)
    together = {id(own): own for own in of_lot.values()}.values()
    shares = tuple(tuple((at, *own[at]) for at in sorted(own)) for own in together)
    return SeveralLotsColumns(
        shares, min((fill.least_draw for fill in fills), default=1), partial(tuple, fills)
    )


@dataclass(eq=False, slots=True)
class LineColumns:
    """How one line may be filled at one place: from one lot, at what ``cost`` each way, or from several.

    ``shared_cost``: what it costs, so shared, beside units and eggs; ``least_shared``: no split costs less,
    with that; infinite where there is none. Splits are made when they are first asked for.
    """

    one_lot: OneLotColumns
    cost: Sequence[float]
    shared_cost: float
    least_shared: float
    make_several: Callable[[], SeveralLotsColumns]
    _several: SeveralLotsColumns | None = None
    _by_cost: Sequence[int] | None = None

    @property
    def several(self) -> SeveralLotsColumns:
        if self._several is None:
            self._several = self.make_several() if self.least_shared < math.inf else SeveralLotsColumns()
        return self._several

    @property
    def shared_fills(self) -> tuple[SharedColumns, ...]:
        return self.several.fills

    @property
    def by_cost(self) -> Sequence[int]:
        """The ways of one lot by number, the cheapest first."""
        if self._by_cost is None:
            self._by_cost = array("i", sorted(range(len(self.cost)), key=self.cost.__getitem__))
        return self._by_cost

    def asks_no_more(self, other: LineColumns) -> bool:
        """Does it need no more eggs of any lot than another, and allow it more packings or as many?"""
        alone = {at: eggs for at, eggs, _, _ in self.one_lot.by_lot}
        if not all(alone.get(at, math.inf) <= eggs for at, eggs, _, _ in other.one_lot.by_lot):
            return False  # splits, which take longest to make, are not asked for
        shares = {at: (eggs, most) for group in self.several.shares for at, eggs, most in group}
        return (
            all(
                at in shares and shares[at][0] <= eggs and shares[at][1] >= most
                for group in other.several.shares
                for at, eggs, most in group
            )
            and self.travel_modes >= other.travel_modes
        )

    @property
    def least(self) -> list[tuple[float, str, int]]:
        """Its least cost in each packing and number of units; shared, about as much as alone."""
        if not self.one_lot.at:
            return [(self.shared_cost + one.least_cost, one.packing, 2) for one in self.shared_fills]
        found: dict[tuple[str, int], float] = {}
        for packing, units, cost in zip(self.one_lot.packing, self.one_lot.units, self.cost, strict=True):
            if cost < found.get((packing, units), math.inf):
                found[packing, units] = cost
        return [(min(cost, self.least_shared), *travel_mode) for travel_mode, cost in found.items()]

    @property
    def travel_modes(self) -> set[tuple[str, int]]:
        """Every packing and number of units it may travel in."""
        shared = {
            (one.packing, units)
            for one in self.shared_fills
            for units, cost in enumerate(one.costs)
            if cost < math.inf
        }
        return shared | set(zip(self.one_lot.packing, self.one_lot.units, strict=True))


@dataclass(frozen=True, slots=True)
class DepartureColumns:
    """A place, the number of its day, and how every line of an order may be filled there; None where it
    cannot.

    ``least_cost``: of its lines, and ``with_parcel``: with the parcel for the cheapest of each; an estimate.
    """

    departure: Departure
    day: int
    lines: tuple[LineColumns | None, ...]
    least_cost: float
    with_parcel: float


@dataclass(frozen=True, slots=True)
class OrderColumns:
    """All places of one order. ``value``, ``age``: of each line; ``lots``: the numbers of those it may draw
    on, and those of each line.

    ``is_crossed``: two of its lines may want the same lot. ``by_cost``: the places' numbers, the cheapest
    first. ``needs``: of each line the fewest eggs that would do, by lot on a day, at any of the places.
    """

    name: str
    lines: tuple[LineKey, ...]
    value: tuple[float, ...]
    age: tuple[float, ...]
    may_split: bool
    departures: tuple[DepartureColumns, ...]
    lots: tuple[int, ...]
    lots_of_lines: tuple[frozenset[int], ...]
    is_crossed: bool
    by_cost: tuple[int, ...]
    needs: Callable[[], list[dict[int, int]]]

    @property
    def worth(self) -> float:
        """The value of all lines that could go."""
        return math.fsum(
            v for n, v in enumerate(self.value) if any(departure.lines[n] for departure in self.departures)
        )


@dataclass(eq=False)
class WeekColumns:
    """The ways of a week's orders, by number. ``free``: eggs by lot on a day, 0 where nothing draws;
    ``room``: by day.

    ``address``: orders of one number may go in one parcel. ``part``: the week as numbers
    for some orders, by name.
    """

    days: tuple[date, ...]
    lots: tuple[str, ...]
    free: list[int]
    room: list[int]
    names: tuple[str, ...]
    address: list[int]
    make: Callable[[int], OrderColumns]
    parcel_cost: ParcelCost
    part: Callable[[Collection[str]], Instance]
    _made: dict[int, OrderColumns] = field(default_factory=dict)

    def __post_init__(self) -> None:
        counts = Counter(self.address)
        #: How many orders there are of each order's address, itself among them.
        self.mates = [counts[address] for address in self.address]

    @property
    def everything(self) -> float:
        """The value of all lines that could go by themselves."""
        return math.fsum(self.of(number).worth for number in range(len(self.names)))

    def mates_of(self, number: int) -> list[int]:
        """The other orders of an order's address."""
        if self.mates[number] == 1:
            return []
        own = self.address[number]
        return [other for other, address in enumerate(self.address) if address == own and other != number]

    def only(self, numbers: Sequence[int]) -> WeekColumns:
        """The week with these orders alone, each with the ways it has here; all eggs and room are theirs."""
        names, address = self.names, self.address
        return replace(
            self,
            names=tuple(names[number] for number in numbers),
            address=[address[number] for number in numbers],
            make=lambda n: self.of(numbers[n]),
            _made={},
        )

    def of(self, number: int) -> OrderColumns:
        """The ways of one order."""
        found = self._made.get(number)
        if found is None:
            found = self._made[number] = self.make(number)
        return found


#: Room on a day without a limit.
UNLIMITED = 10**9


def order_columns(
    name: str,
    keys: tuple[LineKey, ...],
    worth: tuple[tuple[float, ...], tuple[float, ...]],
    may_split: bool,
    lines: Sequence[Mapping[Departure, LineColumns]],
    lots: Sequence[frozenset[int]],
    day: Mapping[date, int],
    parcel_cost: ParcelCost,
    is_alone: bool,
    needs: Callable[[tuple[DepartureColumns, ...]], list[dict[int, int]]],
) -> OrderColumns:
    """An order's places: those where all its lines can be filled, or some where it may split.

    ``worth``: values and ages of its lines; ``lots``: those each line may draw on; ``is_alone``: no other
    order may join it; ``needs``: of its lines, at places. A place that no parcel of all its lines, or of a
    line where it may split, can be sent to is none.
    """
    if may_split:
        lines = [
            {
                at: columns
                for at, columns in line.items()
                if _may_go_alone(name, key, at, columns, parcel_cost)
            }
            for key, line in zip(keys, lines, strict=True)
        ]
    each = [set(line) for line in lines]
    departures = sorted(set.union(*each) if may_split else set.intersection(*each)) if each else []
    made = (
        _place(name, keys, departure, day[departure[0]], [line.get(departure) for line in lines], parcel_cost)
        for departure in departures
    )
    found = tuple(
        one for one in made if may_split or not is_alone or _may_be_sent(name, keys, one, parcel_cost)
    )
    by_cost = sorted(range(len(found)), key=lambda at: (found[at].with_parcel, at))
    every = frozenset().union(*lots)
    is_crossed = sum(map(len, lots)) > len(every)
    return OrderColumns(
        name,
        keys,
        *worth,
        may_split,
        found,
        tuple(sorted(every)),
        tuple(lots),
        is_crossed,
        tuple(by_cost),
        partial(needs, found),
    )


def _place(
    name: str,
    keys: Sequence[LineKey],
    departure: Departure,
    day: int,
    lines: Sequence[LineColumns | None],
    parcel_cost: ParcelCost,
) -> DepartureColumns:
    least = [
        [(key, *travel_mode) for travel_mode in line.least]
        for key, line in zip(keys, lines, strict=True)
        if line is not None
    ]
    cost = math.fsum(min(travel_mode[1] for travel_mode in travel_modes) for travel_modes in least)
    cheapest = [
        min(travel_modes, key=lambda travel_mode: (travel_mode[1], travel_mode[2:])) for travel_modes in least
    ]
    with_parcel = math.inf
    for n, travel_modes in enumerate(least):
        for travel_mode in travel_modes:
            picked = [*cheapest[:n], travel_mode, *cheapest[n + 1 :]]
            parcel = parcel_cost(
                (name,), departure, tuple((key, packing, units) for key, _, packing, units in picked)
            )
            with_parcel = min(with_parcel, parcel + math.fsum(one[1] for one in picked))
    return DepartureColumns(departure, day, tuple(lines), cost, with_parcel)


def _may_go_alone(
    name: str, key: LineKey, departure: Departure, columns: LineColumns, parcel_cost: ParcelCost
) -> bool:
    """Is a line filled from one lot there, or does the post take it by itself as several lots fill it?"""
    return bool(columns.one_lot.at) or any(
        parcel_cost((name,), departure, ((key, *travel_mode),)) < math.inf
        for travel_mode in sorted(columns.travel_modes)
    )


#: So many parcels are tried before a place is taken to be one that some parcel can be sent to.
MOST_TRIED = 2000


def _may_be_sent(
    name: str, keys: Sequence[LineKey], departure: DepartureColumns, parcel_cost: ParcelCost
) -> bool:
    """Does the post take some parcel of all lines there?"""
    if departure.with_parcel < math.inf:
        return True
    travel_modes = [
        [(key, *travel_mode) for travel_mode in sorted(line.travel_modes)]
        for key, line in zip(keys, departure.lines, strict=True)
        if line
    ]
    if math.prod(map(len, travel_modes)) > MOST_TRIED:
        return True
    return any(
        parcel_cost((name,), departure.departure, picked) < math.inf
        for picked in itertools.product(*travel_modes)
    )


def columns_of_instance(instance: Instance) -> WeekColumns:
    """The ways of a week given as numbers."""
    days = tuple(
        sorted({day for _, day in instance.free} | {column.departure[0] for column in instance.columns})
    )
    lots = tuple(sorted({lot for lot, _ in instance.free}))
    names = tuple(sorted({order for column in instance.columns for order in column.orders}))
    costs: dict[tuple[frozenset[str], Departure, frozenset[TravelMode]], float] = {}
    together = UnionFind()
    joins: set[str] = set()
    may_split: dict[str, set[frozenset[LineKey]]] = {}
    for column in instance.columns:
        costs[(frozenset(column.orders), column.departure, frozenset(column.travel_modes))] = column.cost
        for order in column.orders:
            together.link(column.orders[0], order)
        joins |= set(column.orders) if len(column.orders) > 1 else set()
        if len(column.orders) == 1:
            may_split.setdefault(column.orders[0], set()).add(
                frozenset(travel_mode[0] for travel_mode in column.travel_modes)
            )
    fills = grouped((fill.line[0], fill) for fill in instance.fills)
    shared_fills = grouped((shared_fill.line[0], shared_fill) for shared_fill in instance.shared_fills)
    day, lot = {one: n for n, one in enumerate(days)}, {one: n for n, one in enumerate(lots)}

    def cost(orders: tuple[str, ...], departure: Departure, travel_modes: tuple[TravelMode, ...]) -> float:
        return costs.get((frozenset(orders), departure, frozenset(travel_modes)), math.inf)

    def make(number: int) -> OrderColumns:
        name = names[number]
        own = _lines_of_instance(fills.get(name, ()), shared_fills.get(name, ()), lot, day)
        keys = tuple(sorted(own))
        worth = tuple(instance.value[key] for key in keys), tuple(instance.age[key] for key in keys)
        lines = [own[key] for key in keys]
        drawn_on = [
            frozenset(at // len(days) for columns in line.values() for at, _ in _eggs_of(columns))
            for line in lines
        ]
        return order_columns(
            name,
            keys,
            worth,
            len(may_split.get(name, ())) > 1,
            lines,
            drawn_on,
            day,
            cost,
            name not in joins,
            _needs,
        )

    return WeekColumns(
        days,
        lots,
        [instance.free.get((one, on), 0) for one in lots for on in days],
        [UNLIMITED if instance.parcels_a_day is None else instance.room(on) for on in days],
        names,
        numbered(together.family(name) for name in names),
        make,
        cost,
        lambda orders: part_of(instance, orders),
    )


def part_of(instance: Instance, orders: Collection[str]) -> Instance:
    """The week as numbers for some of its orders."""
    names = frozenset(orders)
    return Instance(
        tuple(fill for fill in instance.fills if fill.line[0] in names),
        tuple(shared_fill for shared_fill in instance.shared_fills if shared_fill.line[0] in names),
        tuple(column for column in instance.columns if names.issuperset(column.orders)),
        instance.value,
        instance.age,
        instance.free,
        instance.parcels_a_day,
        instance.parcels_made,
        instance.is_whole,
    )


def _lines_of_instance(
    fills: Iterable[OneLotFill],
    shared_fills: Iterable[SharedFill],
    lot: Mapping[str, int],
    day: Mapping[date, int],
) -> dict[LineKey, dict[Departure, LineColumns]]:
    one_lot: dict[tuple[LineKey, Departure], list[tuple[int, int, float, int, str]]] = {}
    width = len(day)
    for one in fills:
        cell = (lot[one.lot] * width + day[one.departure[0]], one.eggs, one.cost, one.units, one.packing)
        one_lot.setdefault((one.line, one.departure), []).append(cell)
    groups: dict[tuple[LineKey, Departure], dict[tuple[object, ...], list[SharedFill]]] = {}
    for shared_fill in shared_fills:
        groups.setdefault((shared_fill.line, shared_fill.departure), {}).setdefault(
            (shared_fill.packing, shared_fill.shares), []
        ).append(shared_fill)
    found: dict[LineKey, dict[Departure, LineColumns]] = {}
    for key in sorted(one_lot.keys() | groups.keys()):
        shared = []
        for alike in groups.get(key, {}).values():
            costs = {shared_fill.units: shared_fill.cost for shared_fill in alike}
            first, on = alike[0], day[key[1][0]]
            parts = tuple((lot[s.lot] * width + on, s.alone, s.most, s.egg_cost) for s in first.shares)
            by_units = tuple(costs.get(units, math.inf) for units in range(max(costs) + 1))
            shared.append(
                shared_columns(
                    first.packing, first.eggs_max, by_units, first.lots_most, first.least_draw, parts
                )
            )
        least = min((shared_fill.least_cost for shared_fill in shared), default=math.inf)
        own = _columns(one_lot.get(key, []))
        columns = LineColumns(*own, 0.0, least, partial(several_lots, shared))
        found.setdefault(key[0], {})[key[1]] = columns
    return found


def _columns(one_lot: list[tuple[int, int, float, int, str]]) -> tuple[OneLotColumns, Sequence[float]]:
    """Lot on a day, eggs, cost, units and packing of each as columns, with the cost by itself."""
    if not one_lot:
        return OneLotColumns(), ()
    at, eggs, cost, units, packing = zip(*sorted(one_lot), strict=True)
    return OneLotColumns(at, eggs, units, packing), cost


def _eggs_of(columns: LineColumns) -> Iterator[tuple[int, int]]:
    """Lots on a day and eggs that would do."""
    yield from zip(columns.one_lot.at, columns.one_lot.eggs, strict=True)
    yield from ((part[0], part[1]) for shared_fill in columns.shared_fills for part in shared_fill.parts)


def _needs(departures: tuple[DepartureColumns, ...]) -> list[dict[int, int]]:
    """Of each line the fewest eggs that would do, by lot on a day."""
    needs: list[dict[int, int]] = [{} for _ in (departures[0].lines if departures else ())]
    for departure in departures:
        for least, columns in zip(needs, departure.lines, strict=True):
            for at, eggs in _eggs_of(columns) if columns is not None else ():
                least[at] = min(least.get(at, eggs), eggs)
    return needs
