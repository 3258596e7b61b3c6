"""The week as numbers: ways to fill lines and make up parcels in, what was chosen out; data only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from shipping.words.keys import LineKey

#: Orders of one address are joined in parcels of at most so many orders.
MOST_JOINED = 4
#: (dispatch day, service)
Departure = tuple[date, str]
#: (line, packing, units): how one line travels
TravelMode = tuple[LineKey, str, int]


@dataclass(frozen=True, slots=True)
class _Fill:
    """A line filled at a place, in units of a packing."""

    line: LineKey
    departure: Departure
    packing: str
    units: int

    @property
    def travel_mode(self) -> TravelMode:
        return (self.line, self.packing, self.units)


@dataclass(frozen=True, slots=True)
class OneLotFill(_Fill):
    """A line filled at a place from one lot: eggs drawn, units of a packing, and its expected cost."""

    lot: str
    eggs: int
    cost: float

    @property
    def rank(self) -> tuple[object, ...]:
        return (*self.departure, (self.lot,), self.packing, self.units)


@dataclass(frozen=True, slots=True)
class LotShare:
    """One lot's part of a split: ``alone`` eggs of it would do, at most ``most`` may be drawn."""

    lot: str
    alone: int
    most: int
    egg_cost: float


@dataclass(frozen=True, slots=True)
class SharedFill(_Fill):
    """A line filled at a place from two or more lots: whole eggs n_j with sum(n_j / alone_j) >= 1."""

    eggs_max: int
    shares: tuple[LotShare, ...]
    lots_most: int
    least_draw: int
    cost: float

    @property
    def rank(self) -> tuple[object, ...]:
        return (*self.departure, tuple(share.lot for share in self.shares), self.packing, self.units)


@dataclass(frozen=True, slots=True)
class ParcelColumn:
    """One parcel at a place: the orders in it, how each of its lines travels, and postage with box."""

    orders: tuple[str, ...]
    departure: Departure
    travel_modes: tuple[TravelMode, ...]
    cost: float


@dataclass(frozen=True)
class Instance:
    """The week as numbers. ``free``: eggs of a lot on a day. ``value``, ``age``: of a line if it is
    served. ``is_whole``: no column is left out; else what holds of it is no bound on the week.
    """

    fills: tuple[OneLotFill, ...]
    shared_fills: tuple[SharedFill, ...]
    columns: tuple[ParcelColumn, ...]
    value: Mapping[LineKey, float]
    age: Mapping[LineKey, float]
    free: Mapping[tuple[str, date], int]
    parcels_a_day: int | None
    parcels_made: Mapping[date, int] = field(default_factory=dict)
    is_whole: bool = True

    @cached_property
    def lines(self) -> tuple[LineKey, ...]:
        """The lines that some parcel may carry, sorted."""
        return tuple(
            sorted({travel_mode[0] for column in self.columns for travel_mode in column.travel_modes})
        )

    def room(self, day: date) -> int:
        """How many parcels the day still takes."""
        return max(0, (self.parcels_a_day or 0) - self.parcels_made.get(day, 0))


@dataclass(frozen=True, slots=True)
class Drawn:
    """How one line is filled in the end: (lot, eggs) of each draw."""

    line: LineKey
    departure: Departure
    packing: str
    draws: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Chosen:
    """A choice: parcels, fillings by line, its value, the bound on any choice's value, and its cost.

    ``cheapest``: no choice of the same value costs less, and that was proven.
    """

    columns: tuple[ParcelColumn, ...]
    drawn: Mapping[LineKey, Drawn]
    value: float
    bound: float
    cost: float
    cheapest: bool = True
