"""Of a line's options those that pass this week, and those that may share the line: arrays of all in, few
records out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import NDArray

from shipping.options.journey import SCARCITY, Ints
from shipping.options.option import LEAST_DRAW
from shipping.options.option_arrays import LineOptions, OptionTable
from shipping.tables.rows.orders import Line, Order
from shipping.words.keys import Departure

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
            known: dict[str, int] = {}
            group = [known.setdefault(lot.population, len(known)) for lot in options.lots]
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
    reducer = _Reducer(frozenset(days), table.factors.reckoner.shelf.settings.plan.lots_a_line)
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
