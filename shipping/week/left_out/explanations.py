"""One line's options as cells of arrays: what speaks against each in codes, and the few that tell all reasons
in words.

A line has hundreds of options and few distinct reasons: only the options that say one first are put into
words.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from shipping.eggs.overpack import most_eggs
from shipping.options.journey import Ints, bit
from shipping.options.option import Floats, Leg, Option
from shipping.options.option_arrays import LineOptions, OptionTable
from shipping.options.option_factory import KNOWN_RATE, Reckoner
from shipping.options.ride_arrays import Bools
from shipping.post.restrictions import closed_at_home
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import Line, Order
from shipping.tables.rows.packings import Packing
from shipping.week.parcel_columns import ParcelColumns

CLOSED_DAY = bit("closed-day")
_HATCH, _AIR, _HOT, _CLOSED = (bit(code) for code in ("would-hatch", "no-air", "too-hot", "closed"))
#: A lot or a ride with one of these is stopped whatever the count, or may be.
_STOPS = sum(
    bit(code)
    for code in ("recount", "misdated", "overdue", "too-old", "too-hot", "too-cold", "would-hatch", "closed")
)
_LAST = np.iinfo(np.int64).max


@dataclass(eq=False)
class LineCells:
    """The options of a line on some legs: arrays (L, J, P) in the order of `Choices.options_of`.

    ``codes``: what is known to speak against each, -1 where there is no option. ``count``: how many reasons
    are known. ``may_add``: codes that may join once the eggs are counted, which a stopped ride's are not;
    ``may_double``: a code may stand twice. Both are cleared as cells are put into words.
    """

    order: Order
    line: Line
    options: LineOptions
    legs: Ints
    codes: Ints
    count: Ints
    may_add: Ints
    may_double: Bools
    said: dict[int, Option] = field(default_factory=dict)

    @classmethod
    def of(
        cls, table: OptionTable, order: Order, line: Line, population: str, days: Iterable[date]
    ) -> LineCells:
        """The options of a line from the lots of a population on some days."""
        options, wanted = table.of(order, line, population), frozenset(days)
        legs = np.array([n for n, leg in enumerate(options.legs) if leg.day in wanted], dtype=np.int64)
        codes = options.codes[:, legs]
        hatched = table.hatching(order, population)[:, legs]
        count = np.bitwise_count(np.maximum(codes, 0)).astype(np.int64)
        found = cls(
            order, line, options, legs, codes, count, np.zeros_like(codes), np.zeros(codes.shape, dtype=bool)
        )
        if options.lots and (codes >= 0).any():
            found._mark_unsure(table.factors.reckoner, hatched)
        return found

    def _mark_unsure(self, reckoner: Reckoner, hatched: Floats) -> None:
        """Mark what the codes of a stopped ride do not tell."""
        packings, lots = self.options.packings, self.options.lots
        species = [reckoner.shelf.species_of(lot.species, lot.population) for lot in lots]
        stopped = (self.codes >= 0) & ((self.codes & _STOPS) != 0)
        any_ceiling = np.array([packing.any_ceiling for packing in packings])
        under = hatched <= np.array([packing.hatch_ceiling for packing in packings])
        # the chance that any hatches is never above the eggs expected to hatch
        some = (any_ceiling < 1) & under & (most_eggs(self.line.eggs) * hatched > any_ceiling * (1 - 1e-9))
        known = np.array([one.o2_basis in KNOWN_RATE for one in species], dtype=bool)
        tubes = np.array(
            [p.is_a.is_sealed and p.volume_ml is not None and p.water_ml is not None for p in packings],
            dtype=bool,
        )
        air = known[:, None, None] & tubes
        self.may_add[stopped & some] |= _HATCH
        self.may_add[stopped & air] |= _AIR
        self.may_add &= ~np.where(self.codes >= 0, self.codes, 0)
        heated = np.array([packing.heat_pack_h > 0 for packing in packings], dtype=bool)
        self.may_double |= ((self.codes & _HOT) != 0) & heated
        self.may_double |= ((self.codes & _HATCH) != 0) & some
        rulings = [
            closed_at_home(reckoner.shelf, one, lot.medium) for one, lot in zip(species, lots, strict=True)
        ]
        at_home = np.array([found is not None for found in rulings], dtype=bool)
        self.may_double |= ((self.codes & _CLOSED) != 0) & at_home[:, None, None]
        self.may_double &= self.codes >= 0

    @property
    def handed_over(self) -> Bools:
        """Which are options on a day on which their service takes something in."""
        return np.asarray((self.codes >= 0) & ((self.codes & CLOSED_DAY) == 0))

    def passing(self) -> list[tuple[int, int]]:
        """Lot and leg, among the legs asked about, of the options that nothing speaks against."""
        return [(n, j) for n, j in np.argwhere((self.codes == 0).any(axis=2)).tolist()]

    def every(self, reckoner: Reckoner, parcels: ParcelColumns) -> list[Option]:
        """All options in words, in their order."""
        cells = np.flatnonzero(self.codes >= 0).tolist()
        self.say([n for n in cells if n not in self.said], reckoner, parcels)
        return [self.said[n] for n in cells]

    def wanted(self) -> list[tuple[Lot, Leg, Packing]]:
        """The rides whose reasons are needed first."""
        places = self._places(self._firsts())
        return [(self.options.lots[n], self.options.legs[j], self.options.packings[p]) for n, j, p in places]

    def telling(self, reckoner: Reckoner, parcels: ParcelColumns) -> list[Option]:
        """Options, in their order, among which is for each lot and code the one with the fewest reasons that
        has it.
        """
        wanted = self._firsts()
        while unsure := [n for n in wanted if self.is_unsure(n)]:
            self.say(unsure, reckoner, parcels)
            wanted = self._firsts()
        self.say([n for n in wanted if n not in self.said], reckoner, parcels)
        return [self.said[n] for n in sorted(wanted)]

    def _firsts(self) -> list[int]:
        """Cells that are, or that may turn out to be, the first of a lot with a code."""
        lots, each = self.codes.shape[0], int(np.prod(self.codes.shape[1:]))
        asked = self.handed_over.reshape(lots, each)
        codes = np.where(asked, self.codes.reshape(lots, each), 0)
        may = np.where(asked, self.may_add.reshape(lots, each), 0)
        rank = self.count.reshape(lots, each) * each + np.arange(each)
        every = int(np.bitwise_or.reduce(codes | may, axis=None))
        found: set[int] = set()
        for code in (1 << n for n in range(every.bit_length()) if every >> n & 1):
            first = _least(np.where(codes & code, rank, _LAST))
            maybe = _least(np.where(may & code, rank + each, _LAST))
            for lot, ((known, cell), (perhaps, other)) in enumerate(zip(first, maybe, strict=True)):
                if perhaps < known:
                    found.add(lot * each + other)
                if known < _LAST:
                    found.add(lot * each + cell)
        return sorted(found)

    def is_unsure(self, cell: int) -> bool:
        """May more speak against an option than its codes say?"""
        return bool(self.may_add.flat[cell] or self.may_double.flat[cell])

    def say(self, cells: list[int], reckoner: Reckoner, parcels: ParcelColumns) -> None:
        """Put some options into words: from then on all is known of them."""
        eggs, usual = self.line.eggs, self.line.overpack == "usual"
        made = []
        for cell, (lot, leg, packing) in zip(cells, self._places(cells), strict=True):
            journey, unit = self.options.legs[leg], self.options.packings[packing]
            ride = reckoner.ride(reckoner.lot_day(self.options.lots[lot].lot, journey.day), unit, journey)
            pack = int(self.options.pack[lot, leg, packing])
            is_counted = pack > 0 or not (self.is_unsure(cell) or self.codes.flat[cell] & CLOSED_DAY)
            made.append(
                (cell, ride, (pack, float(self.options.p_enough[lot, leg, packing])) if is_counted else None)
            )
        reckoner.prepare([(ride, eggs) for _, ride, known in made if known is None and usual])
        for cell, ride, known in made:
            option = parcels.weighed(self.order, reckoner.option(ride, self.order, self.line, eggs, known))
            self.said[cell] = option
            self.codes.flat[cell] = sum({bit(reason.code) for reason in option.reasons})
            self.count.flat[cell] = len(option.reasons)
            self.may_add.flat[cell], self.may_double.flat[cell] = 0, False

    def _places(self, cells: list[int]) -> list[tuple[int, int, int]]:
        """Lot, leg and packing of some cells."""
        lot, leg, packing = np.unravel_index(np.array(cells, dtype=np.int64), self.codes.shape)
        return list(zip(lot.tolist(), self.legs[leg].tolist(), packing.tolist(), strict=True))


def _least(ranks: Ints) -> list[tuple[int, int]]:
    """The least rank of each row, and where it stands."""
    at = ranks.argmin(axis=1)
    return list(zip(ranks[np.arange(at.size), at].tolist(), at.tolist(), strict=True))
