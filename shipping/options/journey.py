"""All legs from some days to some destinations as arrays: legs in; days on the way, chances and codes by leg
and date out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.trip import trip_nodes
from shipping.options.option import Destination, Floats, Leg
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
        kinds: dict[bytes, int] = {}
        lanes: dict[tuple[str, str], int] = {}
        feels: dict[tuple[float, ...], int] = {}
        kind, lane, feel = [], [], []
        for n, leg in enumerate(every):
            t[n, : leg.date_days.size], chances[n, : leg.date_days.size] = (
                leg.date_days,
                leg.arrivals.chances,
            )
            of_kind = leg.date_days.tobytes() + leg.arrivals.chances.tobytes()
            kind.append(kinds.setdefault(of_kind, len(kinds)))
            feel.append(feels.setdefault(_felt(leg), len(feels)))
            way = (leg.service.service, leg.destination.country)
            lane.append(lanes.setdefault(way, len(lanes)))
        return cls(
            legs=every,
            at={to: slice(ends[n], ends[n + 1]) for n, to in enumerate(legs)},
            rows=np.arange(len(every)),
            day=_ints(number[leg.day] for leg in every),
            t=t,
            chances=chances,
            dates=dates,
            kind=_ints(kind),
            lane=_ints(lane),
            feel=_ints(feel),
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
        return trip_nodes(self.spread_c)[1]

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
        """Some of the legs to each destination."""
        rows = np.concatenate(list(of.values()))
        most = int(self.dates[rows].max(initial=1))
        ends = np.cumsum([0, *(own.size for own in of.values())]).tolist()
        return Journeys(
            legs=tuple(self.legs[n] for n in rows.tolist()),
            at={to: slice(ends[n], ends[n + 1]) for n, to in enumerate(of)},
            rows=self.rows[rows],
            day=self.day[rows],
            t=self.t[rows, :most],
            chances=self.chances[rows, :most],
            dates=self.dates[rows],
            kind=self.kind[rows],
            lane=self.lane[rows],
            feel=self.feel[rows],
            codes=self.codes[rows],
            hours=self.hours[rows],
            p95=self.p95[rows],
        )


def _felt(leg: Leg) -> tuple[float, ...]:
    """What cold and heat are judged by."""
    cold, hot = leg.trip.coldest, leg.trip.hottest
    ends = (cold.low_c, cold.mean_c, hot.high_c, hot.mean_c)
    return (*ends, float(leg.trip.days_to_p95), leg.service.exposed_h)


def _ints(values: Iterable[int]) -> Ints:
    return np.array(list(values), dtype=np.int64)
