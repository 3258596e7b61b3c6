"""Legs from some days to some destinations as arrays, and one lot over them: what is free and due by each."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from shipping.eggs import hatching
from shipping.eggs.clock import Clock
from shipping.eggs.lot_forecast import LotForecast, lot_forecast
from shipping.options.option import Destination, Floats, Leg, LotDay
from shipping.post.foam_box import Holding
from shipping.post.restrictions import closed_at_home
from shipping.post.warmth import TripWarmth
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.words.keys import numbered
from shipping.words.reasons import ASKS, NEARNESS, SCARCE, Reason

Ints = NDArray[np.int64]


def bit(code: str) -> int:
    """A reason's code as one bit of a whole number: many codes are then one number."""
    return 1 << NEARNESS[code]


def bits(reasons: Iterable[Reason]) -> int:
    """The codes of some reasons as one number."""
    found = 0
    for reason in reasons:
        found |= bit(reason.code)
    return found


#: Codes of `ASKS`, beside which weight and thickness still count, and of `SCARCE`.
ASKING, SCARCITY = sum(map(bit, ASKS)), sum(map(bit, SCARCE))


@dataclass(frozen=True, eq=False)
class Journeys:
    """All legs to some destinations over some days, as arrays of J legs and T dates.

    ``at``: where the legs of each destination stand. ``rows``: where each leg stands among all that were
    asked for (J,). ``day``: which of the days each leg starts on (J,). ``t``: days on the way to each date
    (J, T). ``chances``: of the dates, zero beyond a leg's last (J, T), of which there are ``dates`` (J,).
    ``kind``: legs of one kind have the same days and chances (J,). ``lane``: legs of one service to one
    country have one number (J,). ``feel``: legs of one number have the same warmth and exposure (J,).
    ``codes``: what speaks against each leg (J,). ``hours``: to the 95 % arrival [h] (J,). ``p95``: that day's
    ordinal (J,).
    """

    legs: tuple[Leg, ...]
    at: Mapping[Destination, slice]
    rows: Ints
    day: Ints
    t: Ints
    chances: Floats
    dates: Ints
    kind: Ints
    lane: Ints
    feel: Ints
    codes: Ints
    hours: Floats
    p95: Ints

    @classmethod
    def of(cls, legs: Mapping[Destination, tuple[Leg, ...]], days: tuple[date, ...]) -> Journeys:
        """Legs by destination as one row of arrays, in the order given."""
        every = tuple(leg for own in legs.values() for leg in own)
        ends = np.cumsum([0, *(len(own) for own in legs.values())]).tolist()
        number = {day: n for n, day in enumerate(days)}
        dates = _ints(leg.date_days.size for leg in every)
        most = int(dates.max(initial=1))
        t, chances = np.zeros((len(every), most), dtype=np.int64), np.zeros((len(every), most))
        for n, leg in enumerate(every):
            t[n, : leg.date_days.size], chances[n, : leg.date_days.size] = (
                leg.date_days,
                leg.arrivals.chances,
            )
        return cls(
            legs=every,
            at={to: slice(ends[n], ends[n + 1]) for n, to in enumerate(legs)},
            rows=np.arange(len(every)),
            day=_ints(number[leg.day] for leg in every),
            t=t,
            chances=chances,
            dates=dates,
            kind=_ints(numbered(leg.date_days.tobytes() + leg.arrivals.chances.tobytes() for leg in every)),
            lane=_ints(numbered((leg.service.service, leg.destination.place) for leg in every)),
            feel=_ints(numbered(map(_felt, every))),
            codes=_ints(bits(leg.reasons) for leg in every),
            hours=np.array([24.0 * (leg.arrivals.p95 - leg.day).days for leg in every], dtype=np.float64),
            p95=_ints(leg.arrivals.p95.toordinal() for leg in every),
        )

    @property
    def spread_c(self) -> float:
        """The spread of a whole trip's warmth [C], which all legs share."""
        return self.legs[0].spread_c if self.legs else 0.0

    @cached_property
    def node_weights(self) -> Floats:
        """The weight of each node of a trip's warmth (nodes,)."""
        return hatching.trip_nodes(self.spread_c)[1]

    @cached_property
    def assumed(self) -> NDArray[np.bool_]:
        """Did nobody give the warmth that cold or heat is judged by? (J,)"""
        ends = ((leg.trip.coldest.basis, leg.trip.hottest.basis) for leg in self.legs)
        return np.array(["assumed" in basis for basis in ends], dtype=bool)

    @cached_property
    def place(self) -> Ints:
        """The number of each leg's destination (J,)."""
        return np.repeat(np.arange(len(self.at)), [one.stop - one.start for one in self.at.values()])

    def to(self, destinations: tuple[Destination, ...]) -> Journeys:
        """The legs to some of the destinations alone, in the order given."""
        rows = [np.arange(self.at[to].start, self.at[to].stop) for to in destinations]
        return self._some(dict(zip(destinations, rows, strict=True)))

    def those(self, wanted: NDArray[np.bool_]) -> Journeys:
        """Some of the legs (J,), by destination."""
        every = {to: np.arange(one.start, one.stop) for to, one in self.at.items()}
        return self._some({to: rows[wanted[rows]] for to, rows in every.items()})

    def _some(self, of: Mapping[Destination, Ints]) -> Journeys:
        rows = np.concatenate(list(of.values()))
        most = int(self.dates[rows].max(initial=1))
        ends = np.cumsum([0, *(own.size for own in of.values())]).tolist()
        names = ("rows", "day", "dates", "kind", "lane", "feel", "codes", "hours", "p95")
        return Journeys(
            legs=tuple(self.legs[n] for n in rows.tolist()),
            at={to: slice(ends[n], ends[n + 1]) for n, to in enumerate(of)},
            t=self.t[rows, :most],
            chances=self.chances[rows, :most],
            **{name: getattr(self, name)[rows] for name in names},
        )


def _felt(leg: Leg) -> tuple[float, ...]:
    """What cold and heat are judged by."""
    cold, hot = leg.trip.coldest, leg.trip.hottest
    ends = (cold.low_c, cold.mean_c, hot.high_c, hot.mean_c)
    return (*ends, float(leg.trip.days_to_p95), leg.service.exposed_h)


def _ints(values: Iterable[int]) -> Ints:
    return np.array(list(values), dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Ways:
    """The trips of some journeys, whatever is sent on them; a trip that is the beginning of another is part
    of it.

    ``low_c``, ``high_c``: the spans of days that differ [C] (U,). ``span``: which of them each day of each
    way has, way by way (N,). ``number``: which day on the way it is (N,). ``lengths``: days of each way (C,).
    ``day``: the day of dispatch of each row that a leg arrives on, and ``rows`` where it stands among the
    ways' days and starts (R,). ``row``: at which of those each date of each leg stands (J, T).
    """

    low_c: Floats
    high_c: Floats
    span: Ints
    number: Ints
    lengths: Ints
    day: Ints
    rows: Ints
    row: Ints

    def gathered(self, species: Species, kept_at_c: float, holds: Holding, shift: Floats) -> Floats:
        """Degree-days by each row, at each node of the trip's warmth (R, nodes)."""
        low, high = self.low_c[:, None] + shift, self.high_c[:, None] + shift
        daily = hatching.mean_effective_degrees(low, high, species)[self.span]
        warm_days = math.ceil(holds.gone_h / 24.0)
        early = np.flatnonzero(self.number < warm_days)
        if early.size:
            alike, which = np.unique(
                self.number[early] * self.low_c.size + self.span[early], return_inverse=True
            )
            number, span = np.divmod(alike, self.low_c.size)
            leads = holds.leads(hatching.hours_of(np.arange(warm_days)))[number]
            daily[early] = hatching.held_degrees(low[span], high[span], leads, species, kept_at_c)[which]
        found = np.zeros((self.span.size + self.lengths.size, shift.size))
        for days, rows in self._by_length():
            found[rows] = np.cumsum(daily[days], axis=1)
        return found[self.rows]

    def _by_length(self) -> Iterator[tuple[Ints, Ints]]:
        """Where the days of ways of one length stand, and the rows after them, each (ways, length)."""
        starts = np.concatenate(([0], np.cumsum(self.lengths)))[:-1]
        for length in sorted(set(self.lengths.tolist())):
            ways = np.flatnonzero(self.lengths == length)
            days = starts[ways][:, None] + np.arange(length)
            yield days, days + ways[:, None] + 1


@lru_cache(maxsize=2)
def ways_of(journeys: Journeys) -> Ways:
    """The ways of all legs, by the day they start on."""
    of_leg, longest = _longest_ways(journeys)
    lengths = np.array([len(trip.days) for _, trip in longest], dtype=np.int64)
    starts = np.concatenate(([0], np.cumsum(lengths + 1)))
    spans, span = np.unique(
        np.frombuffer(b"".join(trip.key for _, trip in longest), np.complex128), return_inverse=True
    )
    row = starts[:-1][of_leg][:, None] + journeys.t
    used = np.zeros(starts[-1], dtype=bool)
    used[row] = True
    day = np.repeat(np.array([day for day, _ in longest], dtype=np.int64), lengths + 1)
    return Ways(
        low_c=spans.real,
        high_c=spans.imag,
        span=span.astype(np.int64),
        number=np.concatenate([np.zeros(0, dtype=np.int64), *(np.arange(one) for one in lengths.tolist())]),
        lengths=lengths,
        day=day[used],
        rows=np.flatnonzero(used),
        row=(np.cumsum(used) - 1)[row],
    )


def _longest_ways(journeys: Journeys) -> tuple[Ints, Sequence[tuple[int, TripWarmth]]]:
    """The way that each leg is on (J,), and the day and the longest trip of each, by day."""
    trips = {(n, leg.trip.key): leg.trip for n, leg in zip(journeys.day.tolist(), journeys.legs, strict=True)}
    longest: list[tuple[int, TripWarmth]] = []
    way: dict[tuple[int, bytes], int] = {}
    for day, key in sorted(trips, reverse=True):  # what begins with a key comes right after it
        if not longest or longest[-1][0] != day or not longest[-1][1].key.startswith(key):
            longest.append((day, trips[(day, key)]))
        way[(day, key)] = len(longest)
    of_leg = [way[(n, leg.trip.key)] for n, leg in zip(journeys.day.tolist(), journeys.legs, strict=True)]
    return len(longest) - np.array(of_leg, dtype=np.int64), longest[::-1]


@dataclass(frozen=True, eq=False)
class Curves:
    """What parcels on some journeys gather, in boxes that hold warmth alike.

    ``day``: the day of dispatch of each row (R,), by day. ``gathered``: by each row, at each node of the
    trip's warmth (R, nodes) [C-d]. ``row``: where each date of each leg stands among the rows (J, T); dates
    between which nothing is gathered share one.
    ``known``: what was asked of all rows, by whom it was asked for.
    """

    day: Ints
    gathered: Floats
    row: Ints
    known: dict[object, Floats] = field(default_factory=dict)

    def of_legs(self, journeys: Journeys) -> Curves:
        """The same rows for some of the legs."""
        return replace(self, row=self.row[journeys.rows, : journeys.t.shape[1]])

    @classmethod
    def of(cls, journeys: Journeys, species: Species, kept_at_c: float, holds: Holding) -> Curves:
        """The curves of boxes packed at so much, as eggs of a species count what they gather."""
        ways, shift = ways_of(journeys), hatching.trip_nodes(journeys.spread_c)[0]
        gathered = ways.gathered(species, kept_at_c, holds, shift)
        changes = np.ones(ways.day.size, dtype=bool)  # days too cold to gather anything are one row
        changes[1:] = (ways.day[1:] != ways.day[:-1]) | (gathered[1:] != gathered[:-1]).any(axis=1)
        return cls(ways.day[changes], gathered[changes], (np.cumsum(changes) - 1)[ways.row])


def lot_day(shelf: Shelf, name: str, day: date) -> LotDay:
    """What is free of a lot on a day, by which clock it is judged, and why nothing of it may go."""
    on = lot_days(shelf, name, (day,))
    forecast, reasons = on.forecast, list(on.forecast.doubts(day))
    if home := closed_at_home(shelf, forecast.species, forecast.lot.medium):
        reasons.extend(home.reasons)
    if forecast.is_unsettled(day):
        reasons.append(_unsettled(forecast, day))
    return LotDay(forecast, day, int(on.free[0]), on.look_first, on.shares_eyed[0], tuple(reasons))


def _unsettled(forecast: LotForecast, day: date) -> Reason:
    lot = forecast.lot
    text = (
        f"Lot {lot.lot} was laid until {lot.laid_to}; eggs bear no jolts in the first {forecast.settle_d}"
        f" days (assumed), and {day} is too soon."
    )
    facts: dict[str, object] = {"lot": lot.lot, "on": day.isoformat(), "settle_d": forecast.settle_d}
    return Reason("too-young", text, facts, lot.cited)


@dataclass(frozen=True, eq=False)
class LotDays:
    """One lot over D days. ``free`` and ``whole``: eggs free to pack with and without the share showing eyes
    (D,); ``shares_eyed``: that share, 1 where nobody has to look for eyes (D,); ``codes``: why nothing may go
    (D,).
    """

    forecast: LotForecast
    days: tuple[date, ...]
    look_first: bool
    shares_eyed: list[float]
    free: Ints
    whole: Ints
    codes: Ints

    @property
    def kept_at_c(self) -> float:
        """What the lot is kept at on all of the days [C]: what no look has changed yet stays."""
        return self.forecast.kept_at_c(self.days[-1] if self.days else self.forecast.today)

    def due(self, curves: Curves) -> Floats:
        """The share of whole eggs due to hatch by each row of the curves, at each node (R, nodes)."""
        if not self.forecast.has_dates:
            return np.ones(curves.gathered.shape)
        key = (self.forecast.alike, self.look_first)
        if key not in curves.known:
            curves.known[key] = self._due(curves)
        return curves.known[key]

    def _due(self, curves: Curves) -> Floats:
        x, found = self.forecast.x_on(self.days), np.ones(curves.gathered.shape)
        for clock, first, last in self._clocks():
            rows = slice(*np.searchsorted(curves.day, (first, last + 1)).tolist())
            found[rows] = hatching.hatch_shares_by_day(
                clock, x[first : last + 1], curves.day[rows] - first, curves.gathered[rows]
            )
        return found

    def _clocks(self) -> Iterator[tuple[Clock, int, int]]:
        """Each clock by which eggs of the lot are judged, from which of the days to which."""
        if not self.look_first:
            yield self.forecast.clock, 0, len(self.days) - 1
            return
        for number, day in enumerate(self.days):
            yield self.forecast.clock_with_eyes(day), number, number


def lot_days(shelf: Shelf, name: str, days: tuple[date, ...]) -> LotDays:
    """A lot over some days: `lot_day` of each, as arrays."""
    forecast = lot_forecast(shelf, name)
    plan = shelf.settings.plan
    home = closed_at_home(shelf, forecast.species, forecast.lot.medium)
    at_home = bits(home.reasons) if home else 0
    doubts, whole = forecast.standing_on(days)
    shares, look_first = [1.0] * len(days), not forecast.is_sendable(plan.send_from)
    if look_first:
        shares = forecast.shares_eyed(days) if forecast.has_dates else [0.0] * len(days)
    free = whole
    if look_first:  # those taken showed eyes: of the eggs left fewer do
        taken = forecast.set_aside_on(days)
        each = zip(whole, taken, shares, strict=True)
        free = [max(0, math.floor(eggs * share - gone * (1.0 - share) + 1e-9)) for eggs, gone, share in each]
    unsettled = np.array([forecast.is_unsettled(day) for day in days], dtype=bool)
    codes = np.array([at_home | sum(map(bit, codes)) for codes in doubts], dtype=np.int64)
    return LotDays(
        forecast=forecast,
        days=days,
        look_first=look_first,
        shares_eyed=shares,
        free=np.where(unsettled, 0, np.array(free, dtype=np.int64)),
        whole=np.array(whole, dtype=np.int64),
        codes=codes | np.where(unsettled, bit("too-young"), 0),
    )
