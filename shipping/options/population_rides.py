"""The rides of one population's lots, by destination, as the counting of cells needs them: a ride table in,
its parts out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from shipping.options.journey import Ints
from shipping.options.line_choices import Bools, Shorts
from shipping.options.option import Destination
from shipping.options.ride_arrays import RideTable

#: The rules for a destination and papers: what speaks against each medium on each day (M, D).
Rules = Callable[[Destination, frozenset[str]], Ints]


@dataclass(frozen=True, eq=False)
class Rivals:
    """Pairs of rides of one lot on one leg, of which ``better`` may outclass ``worse`` (n,).

    ``first``: it does so also where both ask as much (n,). ``ends``: of each destination's pairs
    (destinations + 1,).
    """

    better: Ints
    worse: Ints
    first: Bools
    ends: Ints


@dataclass(eq=False)
class PopulationRides:
    """One population's rides R, by destination: ``to`` numbers those, and ``ends`` says where each one's
    rides are.

    ``this_week``: which of the days are this week's (D,). ``media``: the number of the medium that eggs of
    each lot travel in, in each packing (L, P).
    """

    table: RideTable
    this_week: Bools
    media: Ints
    rules: Rules
    rival_packings: Sequence[tuple[int, int, bool]]
    _open: dict[tuple[Destination, frozenset[str]], Bools] = field(default_factory=dict)

    @cached_property
    def to(self) -> dict[Destination, int]:
        return {to: n for n, to in enumerate(self.table.journeys.at)}

    @cached_property
    def ends(self) -> Ints:
        return np.searchsorted(self.table.journeys.place[self.table.leg], np.arange(len(self.to) + 1))

    @cached_property
    def is_this_week(self) -> Bools:
        return np.asarray(self.this_week[self.table.day])

    @cached_property
    def _may_leave(self) -> Bools:
        return np.asarray((self.table.journeys.codes == 0)[self.table.leg])

    @cached_property
    def _medium(self) -> Ints:
        return np.asarray(self.media[self.table.lot, self.table.packing])

    def open_to(self, to: Destination, papers: frozenset[str]) -> Bools:
        """Which of the rides to a destination neither the operator nor the rules stop, with such papers."""
        key = (to, papers)
        if key not in self._open:
            n = self.to[to]
            here = slice(int(self.ends[n]), int(self.ends[n + 1]))
            allowed = self.rules(to, papers) == 0
            self._open[key] = self._may_leave[here] & allowed[self._medium[here], self.table.day[here]]
        return self._open[key]

    @cached_property
    def place(self) -> Shorts:
        """The number of each leg's day and service among this week's to its destination (J,)."""
        journeys = self.table.journeys
        now = self.this_week[journeys.day]
        place = np.empty(now.size, dtype=np.int16)
        for here in journeys.at.values():
            place[here] = np.cumsum(now[here]) - 1
        return place

    @cached_property
    def rivals(self) -> Rivals:
        """Rides of this week that may outclass one another, by destination."""
        table = self.table
        lots, legs, packings = table.codes.shape
        number = np.full((legs * lots, packings), -1, dtype=np.int32)
        number[table.leg * lots + table.lot, table.packing] = np.where(
            self.is_this_week, np.arange(table.leg.size), -1
        )
        better, worse, first = (
            [np.zeros(0, dtype=np.int64)],
            [np.zeros(0, dtype=np.int64)],
            [np.zeros(0, dtype=bool)],
        )
        for one, other, is_first in self.rival_packings:
            both = np.flatnonzero((number[:, one] >= 0) & (number[:, other] >= 0))
            better.append(number[both, one].astype(np.int64))
            worse.append(number[both, other].astype(np.int64))
            first.append(np.full(both.size, is_first))
        every = np.concatenate(better)
        order = np.argsort(every, kind="stable")
        every = every[order]
        ends = np.searchsorted(every, self.ends)
        return Rivals(every, np.concatenate(worse)[order], np.concatenate(first)[order], ends)
