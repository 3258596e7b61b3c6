"""Days ahead on which a line may be filled: its options on all of them in, days worth a closer look and
single draws out.

A day left out is one on which no option can do; a day on which several lots may do together is decided by the
options.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from shipping.options.journey import ASKING, SCARCITY, Ints
from shipping.options.option import LEAST_DRAW, Floats
from shipping.options.option_arrays import LineOptions, OptionTable, tables_for
from shipping.options.ride_arrays import Bools
from shipping.tables.rows.orders import Line, Order
from shipping.week.left_out.stock import Draws, EggsLeft
from shipping.words.keys import LineKey


@dataclass(frozen=True, eq=False)
class OpenOptions:
    """The options of a line on days ahead that only a lack of eggs, or a person's answer, may stand against:
    n cells.

    Sorted by ``day`` (its place among the days asked about), ``pack``, lot, service, packing; ``lot`` is the
    place among ``lots``, ``together`` the same number for cells that may share a line; ``passes``: nothing
    else stands against it. ``asks``: what a person has to answer first. ``free``: eggs free of each lot on
    each day (L, D).
    """

    lots: tuple[str, ...]
    free: Ints
    day: Ints
    lot: Ints
    together: Ints
    pack: Ints
    passes: Bools
    asks: Bools

    @classmethod
    def of(cls, options: LineOptions, days: tuple[date, ...]) -> OpenOptions:
        """The open ones of a line's options."""
        number = {day: n for n, day in enumerate(days)}
        on_day = np.array([number[leg.day] for leg in options.legs], dtype=np.int64)
        cells = np.nonzero(
            (options.codes >= 0) & ((options.codes & ~(SCARCITY | ASKING)) == 0) & (options.pack > 0)
        )
        lot, leg, packing = (axis.astype(np.int64) for axis in cells)
        codes, pack = options.codes[cells], options.pack[cells]
        ranks = [_ranks([one.lot for one in options.lots])[lot]]
        ranks += [_ranks([one.service.service for one in options.legs])[leg]]
        ranks += [_ranks([one.packing for one in options.packings])[packing]]
        order = np.lexsort((ranks[2], ranks[1], ranks[0], pack, on_day[leg]))
        free = np.zeros((len(options.lots), len(days)), dtype=np.int64)
        free[:, on_day] = options.free
        return cls(
            lots=tuple(one.lot for one in options.lots),
            free=free.astype(np.int32),
            day=on_day[leg][order].astype(np.int16),
            lot=lot[order].astype(np.int32),
            together=np.unique(leg * len(options.packings) + packing, return_inverse=True)[1][order].astype(
                np.int32
            ),
            pack=pack[order].astype(np.int32),
            passes=(codes & ~ASKING)[order] == 0,
            asks=(codes & ASKING)[order] != 0,
        )


@dataclass(eq=False)
class DaysAhead:
    """What waiting lines may be filled with on all days ahead; reckoned together when the first is asked
    for.
    """

    left: EggsLeft
    days: tuple[date, ...]
    waiting: tuple[tuple[Order, Line], ...]
    known: dict[LineKey, OpenOptions] = field(default_factory=dict)

    def draws_for(
        self, order: Order, line: Line, days: frozenset[date], answered: bool
    ) -> Iterator[tuple[date, Draws | None]]:
        """The days, in order, on which the line may be filled, with the draw that does; None where only
        several lots may.

        One lot where one does, with the fewest eggs. ``answered``: what a person has to answer first is taken
        as answered.
        """
        options = self._of(order, line)
        if not options.day.size:
            return
        left = np.array(
            [
                self.left.ahead(lot, self.days, free)
                for lot, free in zip(options.lots, options.free, strict=True)
            ]
        )
        may = self._is_asked(days)[options.day] & (answered | ~options.asks)
        eggs = left[options.lot, options.day]
        alone = may & options.passes & (options.pack <= eggs)
        share = np.where(may & (eggs >= LEAST_DRAW), np.minimum(eggs / options.pack, 1.0), 0.0)
        sums = np.bincount(options.together, share)  # a leg is on one day
        several = ~alone & (sums >= 1.0 - 1e-9)[options.together] & (share > 0)
        for day in sorted({*options.day[alone].tolist(), *options.day[several].tolist()}):
            here = options.day == day
            if (alone & here).any():
                cell = int(np.argmax(alone & here))
                yield self.days[day], ((options.lots[options.lot[cell]], int(options.pack[cell])),)
            elif self._may_do_together(options, share, here):
                yield self.days[day], None

    def may_go(self, order: Order, line: Line) -> bool:
        """Does nothing but a lack of eggs or an answer stand against some option of a line on these days?"""
        return bool(self._of(order, line).day.size)

    def _may_do_together(self, options: OpenOptions, share: Floats, here: Bools) -> bool:
        """Is enough left of a few lots by one leg in one packing?"""
        most = self.left.reckoner.shelf.settings.plan.lots_a_line
        groups: dict[int, list[float]] = {}
        for group, part in zip(options.together[here].tolist(), share[here].tolist(), strict=True):
            groups.setdefault(group, []).append(part)
        return any(math.fsum(sorted(parts)[-most:]) >= 1.0 for parts in groups.values())

    def _is_asked(self, days: frozenset[date]) -> Bools:
        return np.array([day in days for day in self.days], dtype=bool)

    def _of(self, order: Order, line: Line) -> OpenOptions:
        if line.key not in self.known:
            missing = (
                [(one, wish) for one, wish in self.waiting if wish.key not in self.known]
                if not self.known
                else []
            )
            self._reckon(missing if any(wish.key == line.key for _, wish in missing) else [(order, line)])
        return self.known[line.key]

    def _reckon(self, lines: list[tuple[Order, Line]]) -> None:
        wishes = [(order, line.species) for order, line in lines]
        for table in tables_for(self.left.reckoner, wishes, self.days, passing_only=True):
            own = [(order, line) for order, line in lines if line.species == table.species.species]
            self.known |= open_options(table, own, self.days)


def open_options(
    table: OptionTable, lines: Sequence[tuple[Order, Line]], days: tuple[date, ...]
) -> dict[LineKey, OpenOptions]:
    """What some lines of one species may be filled with on the days of its table; lines alike share it."""
    made: dict[int, tuple[LineOptions, OpenOptions]] = {}  # the options too, so that no other gets their id
    found = {}
    for order, line in lines:
        options = table.of(order, line, line.population)
        if id(options) not in made:
            made[id(options)] = (options, OpenOptions.of(options, days))
        found[line.key] = made[id(options)][1]
    return found


def _ranks(names: list[str]) -> Ints:
    """The place of each name among all of them, sorted."""
    place = {name: n for n, name in enumerate(sorted(set(names)))}
    return np.array([place[name] for name in names], dtype=np.int64)
