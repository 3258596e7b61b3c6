"""What parcels on many legs gather day by day: journeys, a box and a species in, degree-days by day and node
out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from shipping.eggs.trip import held_degrees, hours_of, mean_effective_degrees, trip_nodes
from shipping.options.journey import Ints, Journeys
from shipping.options.option import Floats
from shipping.post.foam_box import Holding
from shipping.post.warmth import TripWarmth
from shipping.tables.rows.species import Species


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
        daily = mean_effective_degrees(low, high, species)[self.span]
        early = np.flatnonzero(self.number < math.ceil(holds.gone_h / 24.0))
        if early.size:
            alike, which = np.unique(
                self.number[early] * self.low_c.size + self.span[early], return_inverse=True
            )
            number, span = np.divmod(alike, self.low_c.size)
            leads = holds.leads(hours_of(number))
            daily[early] = held_degrees(low[span], high[span], leads, species, kept_at_c)[which]
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
        ways, shift = ways_of(journeys), trip_nodes(journeys.spread_c)[0]
        gathered = ways.gathered(species, kept_at_c, holds, shift)
        changes = np.ones(ways.day.size, dtype=bool)  # days too cold to gather anything are one row
        changes[1:] = (ways.day[1:] != ways.day[:-1]) | (gathered[1:] != gathered[:-1]).any(axis=1)
        return cls(ways.day[changes], gathered[changes], (np.cumsum(changes) - 1)[ways.row])
