"""The options of one line left behind, as arrays: a line in, what speaks against each and the nearest to
going out, put into words one by one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.overpack import most_eggs
from shipping.options.journey import SCARCITY, Ints, bit, bits
from shipping.options.option import Floats, Leg, Option
from shipping.options.option_arrays import LineOptions, OptionTable
from shipping.options.option_factory import KNOWN_RATE, OptionFactory
from shipping.post.foam_box import holding
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import Line, Order
from shipping.tables.rows.packings import Packing
from shipping.tables.shelf import Shelf
from shipping.week.parcel_columns import ParcelColumns
from shipping.words.reasons import LOOKS, STOPS, Reason

CLOSED_DAY, SHORT, _YOUNG = bit("closed-day"), bit("short"), bit("too-young")
#: So many options of a line are put into words in the search for the nearest.
MOST_SAID = 24
#: What a look at a lot tells, and what stops a lot or a ride whatever the count.
LOOK, _STOPS = sum(map(bit, LOOKS)), sum(map(bit, STOPS))
_HATCH, AIR, HOT, COLD = (bit(code) for code in ("would-hatch", "no-air", "too-hot", "too-cold"))
WARMTH = HOT | COLD
#: How far a set of codes is from none: the least is the nearest to going.
Rank = Callable[[int], tuple[int, ...]]


@dataclass(eq=False)
class LineCells:
    """The options of a line on some legs: arrays (L, J, P) in the order of `Choices.options_of`.

    ``codes``: what is known to speak against each, -1 where there is no option. ``may_add``: codes that may
    join once the eggs are counted, which a stopped ride's are not; cleared as cells are put into words.
    ``over``: of each what would hatch on the way, as a multiple of what its packing bears. ``holds_h``: how
    long the box of each packing holds its warmth [h] (P,).
    """

    order: Order
    line: Line
    options: LineOptions
    legs: Ints
    codes: Ints
    may_add: Ints
    over: Floats
    holds_h: Floats
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
        boxes = table.factors.factory.shelf.box_by_name
        holds_h = np.array([holding(one, boxes.get(one.box or "")).gone_h for one in options.packings])
        most = np.array([one.hatch_ceiling for one in options.packings])
        over = np.divide(hatched, most, out=np.full_like(hatched, np.inf), where=most > 0)
        found = cls(order, line, options, legs, codes, np.zeros_like(codes), over, holds_h)
        if options.lots and (codes >= 0).any():
            found._mark_unsure(table.factors.factory, hatched)
            found._mark_too_few(table.factors.factory)
        return found

    def _mark_too_few(self, factory: OptionFactory) -> None:
        """Mark stopped rides whose lots together hold fewer eggs than ordered: short besides, or young."""
        seen = np.array([_is_seen(factory.shelf, lot) for lot in self.options.lots])
        stopped = (self.codes >= 0) & ((self.codes & _STOPS) != 0) & ((self.codes & (LOOK | SCARCITY)) == 0)
        few = stopped & (self._free(factory.shelf) < self.line.eggs)[None, :, None]
        self.codes |= np.where(few, np.where(seen, SHORT, _YOUNG)[:, None, None], 0)

    def _free(self, shelf: Shelf) -> Ints:
        """Eggs free of as many lots as may fill a line, by leg (J,)."""
        most = np.sort(self.options.free[:, self.legs], axis=0)[-shelf.settings.plan.lots_a_line :]
        return np.asarray(most.sum(axis=0))

    def _mark_unsure(self, factory: OptionFactory, hatched: Floats) -> None:
        """Mark what the codes of a stopped ride do not tell."""
        packings, lots = self.options.packings, self.options.lots
        species = [factory.shelf.species_of(lot.species, lot.population) for lot in lots]
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
        self.may_add[stopped & air] |= AIR
        self.may_add &= ~np.where(self.codes >= 0, self.codes, 0)

    def passing(self) -> list[tuple[int, int]]:
        """Lot and leg, among the legs asked about, of the options that nothing speaks against."""
        return [(n, j) for n, j in np.argwhere((self.codes == 0).any(axis=2)).tolist()]

    def wanted(self, rank: Rank) -> list[tuple[Lot, Leg, Packing]]:
        """The ride that is needed first."""
        cell = self._nearest_cell(rank)
        places = self._places([] if cell is None else [cell[1]])
        return [(self.options.lots[n], self.options.legs[j], self.options.packings[p]) for n, j, p in places]

    def nearest(
        self, rank: Rank, factory: OptionFactory, parcels: ParcelColumns
    ) -> tuple[tuple[int, ...], Option] | None:
        """The option that lacks least to go, and how much; None where there is no option at all."""
        found = self._nearest_cell(rank)
        while found is not None and found[1] not in self.said and len(self.said) < MOST_SAID:
            self.say([found[1]], factory, parcels)
            found = self._nearest_cell(rank)
        if found is None:
            return None
        if found[1] not in self.said:
            self.say([found[1]], factory, parcels)
        return found[0], self.said[found[1]]

    def _nearest_cell(self, rank: Rank) -> tuple[tuple[int, ...], int] | None:
        """The cell of least rank, the first of those alike."""
        flat = self.codes.ravel()
        cells = np.flatnonzero(flat >= 0)
        if not cells.size:
            return None
        first = {
            code: self._first_of(code, cells[flat[cells] == code])
            for code in sorted(set(flat[cells].tolist()))
        }
        return min((rank(code), cell) for code, cell in first.items())

    def _first_of(self, code: int, alike: Ints) -> int:
        """Of cells alike the nearest to going: where warmth stops them those in the box that bridges it
        longest, of these the one that hatches least over its limit or whose lot has most eggs free; one that
        is in words already before others as near, then the first.
        """
        far = np.zeros(alike.size)
        if code & _HATCH:
            far = self.over.ravel()[alike]
        elif code & SCARCITY:
            lot, leg, _ = np.unravel_index(alike, self.codes.shape)
            far = -self.options.free[lot, self.legs[leg]].astype(np.float64)
        warm = -self.holds_h[alike % self.holds_h.size] if code & WARMTH else np.zeros(alike.size)
        unsaid = np.array([cell not in self.said for cell in alike.tolist()])
        return int(alike[np.lexsort((alike, unsaid, far, warm))[0]])

    def is_unsure(self, cell: int) -> bool:
        """May more speak against an option than its codes say?"""
        return bool(self.may_add.flat[cell])

    def say(self, cells: list[int], factory: OptionFactory, parcels: ParcelColumns) -> None:
        """Put some options into words: from then on all is known of them."""
        eggs, made = self.line.eggs, []
        for cell, (lot, leg, packing) in zip(cells, self._places(cells), strict=True):
            journey, unit = self.options.legs[leg], self.options.packings[packing]
            ride = factory.ride(factory.lot_day(self.options.lots[lot].lot, journey.day), unit, journey)
            pack = int(self.options.pack[lot, leg, packing])
            is_counted = pack > 0 or not (self.is_unsure(cell) or self.codes.flat[cell] & CLOSED_DAY)
            made.append(
                (cell, ride, (pack, float(self.options.p_enough[lot, leg, packing])) if is_counted else None)
            )
        factory.prepare([ride for _, ride, known in made if known is None], eggs, self.line.overpack)
        leg_of = dict(zip(cells, np.unravel_index(cells, self.codes.shape)[1].tolist(), strict=True))
        for cell, ride, known in made:
            option = parcels.weighed(self.order, factory.option(ride, self.order, self.line, eggs, known))
            needed = self._needed(cell, option, factory)
            if not bits(option.reasons) & SCARCITY and self._free(factory.shelf)[leg_of[cell]] < needed:
                option = self._with_too_few(option, needed, factory.shelf)
            self.said[cell] = option
            self.codes.flat[cell] = bits(option.reasons)
            self.may_add.flat[cell] = 0

    def _needed(self, cell: int, option: Option, factory: OptionFactory) -> int:
        """Eggs a stopped ride would need at the least; 0 where a look comes first, or if counted."""
        codes = int(self.codes.flat[cell])
        if not codes & _STOPS or codes & LOOK:
            return 0
        if (
            codes & _HATCH
        ):  # of eggs that would hatch no count keeps the promise, and a younger lot needs fewer
            return self.line.eggs
        return factory.alone(option.ride, self.line.eggs, self.line.overpack)[0] or self.line.eggs

    def _with_too_few(self, option: Option, needed: int, shelf: Shelf) -> Option:
        """The option with the reason that too few eggs are free, or show eyes."""
        forecast, day, free = option.ride.lot_day.forecast, option.ride.leg.day, option.ride.lot_day.free
        is_young = not _is_seen(shelf, forecast.lot)
        showing = " that are reckoned to show eyes" if is_young else ""
        has = forecast.free_words(free, day)
        text = f"Lot {forecast.lot.lot} has {has}{showing}; at least {needed} are needed."
        facts = forecast.free_facts(free, day) | {"needed": needed, "ordered": self.line.eggs}
        reason = Reason("too-young" if is_young else "short", text, facts, "overpack")
        return replace(option, blocks=(*option.blocks, reason))

    def _places(self, cells: list[int]) -> list[tuple[int, int, int]]:
        """Lot, leg and packing of some cells."""
        lot, leg, packing = np.unravel_index(np.array(cells, dtype=np.int64), self.codes.shape)
        return list(zip(lot.tolist(), self.legs[leg].tolist(), packing.tolist(), strict=True))


def _is_seen(shelf: Shelf, lot: Lot) -> bool:
    """Has a look shown a stage from which the lot's eggs may go?"""
    return lot_forecast(shelf, lot.lot).is_sendable(shelf.settings.plan.send_from)
