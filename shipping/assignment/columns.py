"""How each order of a week may go, as plain numbers for a search that places orders by the thousand.

A lot on a day is one number (the lot's times the days, and the day's), so that eggs left are looked up in a
list. An order's ways are made when they are first asked for.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import partial

from shipping.assignment.instance import Mode, Place, Task
from shipping.words.keys import LineKey

#: A lot's part of a split: lot on a day, eggs that alone would do, the most that may be drawn, cost of an
#: egg.
Part = tuple[int, int, int, float]
#: Postage and box of these orders' lines in one parcel at a place; infinite where there is no such parcel.
ParcelCost = Callable[[tuple[str, ...], Place, tuple[Mode, ...]], float]


@dataclass(frozen=True, slots=True)
class SplitWays:
    """A line shared among lots in one packing at one place; ``costs``: without eggs, by units, infinite where
    too few.
    """

    packing: str
    eggs_max: int
    costs: tuple[float, ...]
    lots_most: int
    least_draw: int
    parts: tuple[Part, ...]
    least_cost: float


def split_ways(
    packing: str,
    eggs_max: int,
    costs: tuple[float, ...],
    lots_most: int,
    least_draw: int,
    parts: tuple[Part, ...],
) -> SplitWays:
    """A split, and what it costs at the very least."""
    least = min(costs) + min(alone * egg_cost for _, alone, _, egg_cost in parts)
    return SplitWays(packing, eggs_max, costs, lots_most, least_draw, parts, least)


@dataclass(eq=False, slots=True)
class Singles:
    """Lots that fill a line alone, the cheapest first, in columns: lot on a day, eggs, cost, units,
    packing.
    """

    at: tuple[int, ...] = ()
    eggs: tuple[int, ...] = ()
    cost: Sequence[float] = ()
    units: tuple[int, ...] = ()
    packing: tuple[str, ...] = ()


@dataclass(eq=False, slots=True)
class LineWays:
    """How one line may be filled at one place: from one lot, or shared among several, the cheapest first.

    ``least_split``: no split costs less; infinite where there is none. Splits are made when they are first
    asked for.
    """

    singles: Singles
    least_split: float
    make_splits: Callable[[], Iterable[SplitWays]]
    _splits: tuple[SplitWays, ...] | None = None

    @property
    def splits(self) -> tuple[SplitWays, ...]:
        if self._splits is None:
            made = self.make_splits() if self.least_split < math.inf else ()
            self._splits = tuple(sorted(made, key=lambda one: (one.least_cost, one.packing, one.parts)))
        return self._splits

    @property
    def least(self) -> list[tuple[float, str, int]]:
        """What it costs at the very least in each packing and number of units; shared, about as much as
        alone.
        """
        if not self.singles.at:
            return [(split.least_cost, split.packing, 2) for split in self.splits]
        found: dict[tuple[str, int], float] = {}
        for packing, units, cost in zip(
            self.singles.packing, self.singles.units, self.singles.cost, strict=True
        ):
            found.setdefault((packing, units), cost)
        return [(min(cost, self.least_split), *mode) for mode, cost in found.items()]

    @property
    def modes(self) -> set[tuple[str, int]]:
        """Every packing and number of units it may travel in."""
        shared = {
            (one.packing, units)
            for one in self.splits
            for units, cost in enumerate(one.costs)
            if cost < math.inf
        }
        return shared | set(zip(self.singles.packing, self.singles.units, strict=True))


@dataclass(frozen=True, slots=True)
class PlaceWays:
    """A place, the number of its day, and how every line of an order may be filled there; None where it
    cannot.

    ``least_cost``: of its lines, and ``with_parcel``: with the parcel for the cheapest of each; an estimate.
    """

    place: Place
    day: int
    lines: tuple[LineWays | None, ...]
    least_cost: float
    with_parcel: float


@dataclass(frozen=True, slots=True)
class OrderWays:
    """All places of one order. ``value``, ``age``: of each line; ``lots``: the numbers of those it may draw
    on.

    ``is_crossed``: two of its lines may want the same lot. ``by_cost``: the places' numbers, the cheapest
    first. ``needs``: of each line the fewest eggs that would do, by lot on a day, at any of the places.
    """

    name: str
    lines: tuple[LineKey, ...]
    value: tuple[float, ...]
    age: tuple[float, ...]
    may_split: bool
    places: tuple[PlaceWays, ...]
    lots: tuple[int, ...]
    is_crossed: bool
    by_cost: tuple[int, ...]
    needs: Callable[[], list[dict[int, int]]]

    @property
    def worth(self) -> float:
        """The value of all lines that could go."""
        return math.fsum(v for n, v in enumerate(self.value) if any(place.lines[n] for place in self.places))


@dataclass(eq=False)
class WeekWays:
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
    make: Callable[[int], OrderWays]
    parcel_cost: ParcelCost
    part: Callable[[Collection[str]], Task]
    _made: dict[int, OrderWays] = field(default_factory=dict)

    def __post_init__(self) -> None:
        counts = Counter(self.address)
        #: How many orders there are of each order's address, itself among them.
        self.mates = [counts[address] for address in self.address]

    def of(self, number: int) -> OrderWays:
        """The ways of one order."""
        found = self._made.get(number)
        if found is None:
            found = self._made[number] = self.make(number)
        return found


#: Room on a day without a limit.
UNLIMITED = 10**9


def numbered(keys: Iterable[object]) -> list[int]:
    """A number for each key, the same for equal ones."""
    known: dict[object, int] = {}
    return [known.setdefault(key, len(known)) for key in keys]


def order_ways(
    name: str,
    keys: tuple[LineKey, ...],
    worth: tuple[tuple[float, ...], tuple[float, ...]],
    may_split: bool,
    lines: Sequence[Mapping[Place, LineWays]],
    lots: Sequence[frozenset[int]],
    day: Mapping[date, int],
    parcel_cost: ParcelCost,
    is_alone: bool,
    needs: Callable[[tuple[PlaceWays, ...]], list[dict[int, int]]],
) -> OrderWays:
    """An order's places: those where all its lines can be filled, or some where it may split.

    ``worth``: values and ages of its lines; ``lots``: those each line may draw on; ``is_alone``: no other
    order may join it; ``needs``: of its lines, at places. A place that no parcel of all its lines can be sent
    to is none.
    """
    each = [set(line) for line in lines]
    places = sorted(set.union(*each) if may_split else set.intersection(*each)) if each else []
    made = (
        _place(name, keys, place, day[place[0]], [line.get(place) for line in lines], parcel_cost)
        for place in places
    )
    found = tuple(
        one for one in made if may_split or not is_alone or _may_be_sent(name, keys, one, parcel_cost)
    )
    by_cost = sorted(range(len(found)), key=lambda at: (found[at].with_parcel, at))
    every = frozenset().union(*lots)
    is_crossed = sum(map(len, lots)) > len(every)
    return OrderWays(
        name,
        keys,
        *worth,
        may_split,
        found,
        tuple(sorted(every)),
        is_crossed,
        tuple(by_cost),
        partial(needs, found),
    )


def _place(
    name: str,
    keys: Sequence[LineKey],
    place: Place,
    day: int,
    lines: Sequence[LineWays | None],
    parcel_cost: ParcelCost,
) -> PlaceWays:
    least = [
        [(key, *mode) for mode in line.least]
        for key, line in zip(keys, lines, strict=True)
        if line is not None
    ]
    cost = math.fsum(min(mode[1] for mode in modes) for modes in least)
    cheapest = [min(modes, key=lambda mode: (mode[1], mode[2:])) for modes in least]
    with_parcel = math.inf
    for n, modes in enumerate(least):
        for mode in modes:
            picked = [*cheapest[:n], mode, *cheapest[n + 1 :]]
            parcel = parcel_cost(
                (name,), place, tuple((key, packing, units) for key, _, packing, units in picked)
            )
            with_parcel = min(with_parcel, parcel + math.fsum(one[1] for one in picked))
    return PlaceWays(place, day, tuple(lines), cost, with_parcel)


#: So many parcels are tried before a place is taken to be one that some parcel can be sent to.
MOST_TRIED = 2000


def _may_be_sent(name: str, keys: Sequence[LineKey], place: PlaceWays, parcel_cost: ParcelCost) -> bool:
    """Does the post take some parcel of all lines there?"""
    if place.with_parcel < math.inf:
        return True
    modes = [
        [(key, *mode) for mode in sorted(line.modes)]
        for key, line in zip(keys, place.lines, strict=True)
        if line
    ]
    if math.prod(map(len, modes)) > MOST_TRIED:
        return True
    return any(parcel_cost((name,), place.place, picked) < math.inf for picked in itertools.product(*modes))
