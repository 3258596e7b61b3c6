"""Every option of many lines as arrays: lines in; eggs, chances and what speaks against each, by lot, leg and packing, out.

What many options share (legs, lots on days, shares due, eggs for a promise) is reckoned once and looked up. One option
with its reasons in words is `options`'s; which option is chosen is `plan`'s.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.overpack import chance_enough, most_eggs, overpacks
from shipping.eggs.oxygen import air_hours
from shipping.post.restrictions import ruling
from shipping.post.weight import box_for, parcel_weight, postage_reasons
from shipping.tables.lots import DAMP_MEDIA, Lot
from shipping.tables.orders import Line, Order
from shipping.tables.packings import Packing
from shipping.tables.species import Species
from shipping.week.lot_days import Ints, Journeys, LotDays, bit, bits, lot_days
from shipping.week.options import KNOWN_RATE, Reckoner, packing_warmth
from shipping.week.rides import Destination, Floats, Leg

Bools = NDArray[np.bool_]

#: A journey on which less than this share hatches by any date is like one on which none does.
NONE_HATCH = 1e-13
_ASKED_OF_THE_ORDER = bit("unpaid") | bit("ask-post")


@dataclass(frozen=True, eq=False)
class LineOptions:
    """All options of one line by lot, leg and packing: arrays of shape (L, J, P).

    ``codes``: what speaks against each, as bits; 0 passes; -1 is no option at all. ``pack``: eggs to pack, 0 where no
    count keeps the promise or it was not worth reckoning. ``free``: eggs free by lot and leg (L, J).
    """

    lots: tuple[Lot, ...]
    legs: tuple[Leg, ...]
    packings: tuple[Packing, ...]
    codes: Ints
    pack: Ints
    units: Ints
    p_enough: Floats
    free: Ints


@dataclass(frozen=True, eq=False)
class _Rides:
    """Lots (of one species and population) in one packing on the legs to one destination: what no count changes.

    ``codes`` (L, J). For the ``at`` rides nothing stops: their h and v by date (rides, T); ``alike``: rides of one
    number share h and v.
    """

    codes: Ints
    at: tuple[Ints, Ints]
    h: Floats
    v: Floats
    alike: Ints


@dataclass(eq=False)
class OptionTable:
    """The options of all lines that want one species, over some days."""

    reckoner: Reckoner
    species: Species
    days: tuple[date, ...]
    lots: tuple[Lot, ...]
    journeys: Mapping[Destination, Journeys]
    _rides: dict[tuple[Destination, str, str], _Rides] = field(default_factory=dict)
    _counts: dict[tuple[Destination, str, int, str], tuple[Ints, Ints, Ints, Floats]] = field(default_factory=dict)
    _rules: dict[tuple[Destination, str, frozenset[str]], Ints] = field(default_factory=dict)
    _posts: dict[tuple[str, int, str, str], int] = field(default_factory=dict)

    @cached_property
    def lot_days(self) -> dict[str, LotDays]:
        asked = tuple(self.journeys[to] for to in sorted(self.journeys, key=repr))
        return {lot.lot: lot_days(self.reckoner.shelf, lot.lot, self.days, asked) for lot in self.lots}

    def of(self, order: Order, line: Line, population: str) -> LineOptions:
        """The options of a line from the lots of a population ("": any of the species)."""
        to = self.reckoner.destination(order)
        journeys = self.journeys[to]
        lots = self._lots_of(population)
        if not lots:
            none = np.zeros((0, len(journeys.legs), len(self.reckoner.shelf.packings)), dtype=np.int64)
            return LineOptions(
                lots, journeys.legs, self.reckoner.shelf.packings, none, none, none, np.zeros(none.shape), none[:, :, 0]
            )
        codes, pack, units, p_enough = self._counted(to, population.casefold(), line.eggs, line.overpack)
        codes = codes | self._of_order(order, line, journeys)[None, :, None]
        codes |= self._of_rules(to, lots, order.papers)[:, journeys.day, :]
        codes |= self._of_post(order, journeys, codes, units)
        codes[self._no_option(order, lots, journeys)] = -1
        free = np.array([self.lot_days[lot.lot].free for lot in lots])[:, journeys.day]
        return LineOptions(lots, journeys.legs, self.reckoner.shelf.packings, codes, pack, units, p_enough, free)

    def _lots_of(self, population: str) -> tuple[Lot, ...]:
        wanted = population.casefold()
        return tuple(lot for lot in self.lots if not wanted or lot.population.casefold() == wanted)

    def _no_option(self, order: Order, lots: tuple[Lot, ...], journeys: Journeys) -> Bools:
        takes = np.array([[lot.medium in packing.media for packing in self.reckoner.shelf.packings] for lot in lots], dtype=bool)
        goes = np.array([order.service in (None, leg.service.service) for leg in journeys.legs], dtype=bool)
        return np.asarray(~(takes[:, None, :] & goes[None, :, None]))

    def _of_order(self, order: Order, line: Line, journeys: Journeys) -> Ints:
        """What the order and the post ask (J,)."""
        codes = journeys.codes.copy()
        if not line.paid:
            codes |= bit("unpaid")
        if order.not_before:
            codes[[leg.day < order.not_before for leg in journeys.legs]] |= bit("not-before")
        if order.not_after:
            codes[[leg.arrivals.p95 > order.not_after for leg in journeys.legs]] |= bit("not-after")
        return codes

    def _of_rules(self, to: Destination, lots: tuple[Lot, ...], papers: frozenset[str]) -> Ints:
        """What the rules say, by lot, day and packing (L, D, P)."""
        packings = self.reckoner.shelf.packings
        found = np.zeros((len(lots), len(self.days), len(packings)), dtype=np.int64)
        for n, lot in enumerate(lots):
            for p, packing in enumerate(packings):
                found[n, :, p] = self._ruled(to, packing.travels_in(lot.medium), papers)
        return found

    def _ruled(self, to: Destination, medium: str, papers: frozenset[str]) -> Ints:
        key = (to, medium, papers)
        if key not in self._rules:
            shelf = self.reckoner.shelf
            rulings = [ruling(shelf, to.country, to.subdivision, self.species, medium, day, papers) for day in self.days]
            self._rules[key] = np.array([bits(one.reasons) for one in rulings], dtype=np.int64)
        return self._rules[key]

    def _of_post(self, order: Order, journeys: Journeys, codes: Ints, units: Ints) -> Ints:
        """What the post says of weight and thickness, by number of units; asked only where nothing else stops (L, J, P)."""
        found = np.zeros_like(codes)
        open_to = (codes & ~self._asking) == 0
        for p, packing in enumerate(self.reckoner.shelf.packings):
            here = open_to[:, :, p]
            for count in np.unique(units[:, :, p][here]).tolist():
                says = [
                    0 if leg.service.is_collection else self._posted(packing, count, leg.service.service, order.country)
                    for leg in journeys.legs
                ]
                found[:, :, p] |= np.where(here & (units[:, :, p] == count), np.array(says, dtype=np.int64)[None, :], 0)
        return found

    @cached_property
    def _asking(self) -> int:
        """Codes of asking, beside which weight and thickness still count."""
        rules = ("papers", "stale-rule", "no-rule", "ask-rule", "closed")
        return _ASKED_OF_THE_ORDER | sum(bit(code) for code in rules)

    def _posted(self, packing: Packing, units: int, service: str, country: str) -> int:
        key = (packing.packing, units, service, country)
        if key not in self._posts:
            shelf = self.reckoner.shelf
            packed = ((packing, units),)
            box = box_for(shelf, packed)
            if box is None:
                self._posts[key] = bit("no-packing")
            else:
                weight = parcel_weight(packed, box)
                self._posts[key] = bits(postage_reasons(shelf, service, country, weight, box.thick_mm))
        return self._posts[key]

    def _counted(self, to: Destination, population: str, eggs: int, overpack: str) -> tuple[Ints, Ints, Ints, Floats]:
        """Codes, eggs, units and chances of a count to one destination, whoever ordered it: each (L, J, P)."""
        key = (to, population, eggs, overpack)
        if key not in self._counts:
            self._counts[key] = self._count(to, population, eggs, overpack)
        return self._counts[key]

    def _count(self, to: Destination, population: str, eggs: int, overpack: str) -> tuple[Ints, Ints, Ints, Floats]:
        lots, journeys, packings = self._lots_of(population), self.journeys[to], self.reckoner.shelf.packings
        shape = (len(lots), len(journeys.legs), len(packings))
        codes, pack = np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64)
        units, p_enough = np.ones(shape, dtype=np.int64), np.zeros(shape)
        for p, packing in enumerate(packings):
            rides = self._rides_of(to, population, packing, lots)
            codes[:, :, p] = rides.codes
            found, chance = self._eggs_for(rides, packing, journeys, eggs, overpack)
            lot, leg = rides.at
            pack[lot, leg, p], p_enough[lot, leg, p] = found, chance
            units[:, :, p] = np.maximum(1, -(-np.where(pack[:, :, p] > 0, pack[:, :, p], eggs) // packing.eggs_max))
            codes[lot, leg, p] |= self._of_count(rides, packing, lots, journeys, found)
        return codes, pack, units, p_enough

    def _eggs_for(self, rides: _Rides, packing: Packing, journeys: Journeys, eggs: int, overpack: str) -> tuple[Ints, Floats]:
        """Eggs to pack and their chance for each open ride (rides,); each kind of ride is reckoned once."""
        _, first, kind = np.unique(rides.alike, return_index=True, return_inverse=True)
        v, chances = rides.v[first], journeys.chances[rides.at[1][first]]
        if overpack == "none":
            found = [chance_enough(((eggs, a, packing.kappa),), b, eggs) for a, b in zip(v, chances, strict=True)]
            return np.full(kind.size, eggs, dtype=np.int64), np.array(found, dtype=np.float64)[kind]
        many = first.size
        caps, kappa = np.full(many, most_eggs(eggs)), np.full(many, packing.kappa)
        promise = self.reckoner.shelf.settings.plan.promise
        packed = overpacks(v, chances, np.full(many, eggs), caps, kappa, promise)
        return packed.pack[kind], packed.p_enough[kind]

    def _of_count(self, rides: _Rides, packing: Packing, lots: tuple[Lot, ...], journeys: Journeys, pack: Ints) -> Ints:
        """What speaks against a count, for each open ride: any hatching, air, too few (rides,)."""
        lot, leg = rides.at
        codes = np.zeros(pack.size, dtype=np.int64)
        if packing.any_ceiling < 1:
            missed = np.log1p(-np.minimum(rides.h, 1.0 - 1e-16))
            h_any = (-np.expm1(pack[:, None] * missed) * journeys.chances[leg]).sum(axis=1)
            codes[(pack > 0) & (h_any > packing.any_ceiling)] |= bit("would-hatch")
        codes[self._lacks_air(packing, lots, journeys, lot, leg, pack)] |= bit("no-air")
        days = [self.lot_days[one.lot] for one in lots]
        day = journeys.day[leg]
        free = np.array([one.free for one in days])[lot, day]
        whole = np.array([one.whole for one in days])[lot, day]
        unseen = np.array([one.look_first for one in days], dtype=bool)[lot]
        few = (pack == 0) | (pack > free)
        young = few & unseen & ((pack == 0) | (whole >= pack))
        codes[young] |= bit("too-young")
        codes[few & ~young] |= bit("short")
        return codes

    def _lacks_air(self, packing: Packing, lots: tuple[Lot, ...], journeys: Journeys, lot: Ints, leg: Ints, pack: Ints) -> Bools:
        """Does a unit run out of oxygen before the 95 % arrival, on a known rate? (rides,)"""
        species = self.species
        if packing.kind != "tube" or packing.volume_ml is None or packing.water_ml is None or species.o2_basis not in KNOWN_RATE:
            return np.zeros(pack.size, dtype=bool)
        needed = np.array([24.0 * (one.arrivals.p95 - one.day).days for one in journeys.legs])[leg]
        units = np.maximum(1, -(-pack // packing.eggs_max))
        each = np.maximum(1, -(-pack // units))
        alone = {
            (a, b): air_hours(
                packing.volume_ml, packing.water_ml, 1, journeys.legs[b].warmth.high_c, species.o2_ug_egg_h, lots[a].salt_g_l
            )
            for a, b in sorted(set(zip(lot.tolist(), leg.tolist(), strict=True)))
        }
        hours = np.array([alone[pair] for pair in zip(lot.tolist(), leg.tolist(), strict=True)]) / each
        return np.asarray((pack > 0) & (hours < needed))

    def _rides_of(self, to: Destination, population: str, packing: Packing, lots: tuple[Lot, ...]) -> _Rides:
        key = (to, population, packing.packing)
        if key not in self._rides:
            self._rides[key] = self._new_rides(self.journeys[to], packing, lots)
        return self._rides[key]

    def _new_rides(self, journeys: Journeys, packing: Packing, lots: tuple[Lot, ...]) -> _Rides:
        days = [self.lot_days[lot.lot] for lot in lots]
        codes = np.array([one.codes for one in days])[:, journeys.day]
        stopped = (codes != 0) | ((journeys.codes & bit("closed-day")) != 0)[None, :]
        codes |= self._warmth_codes(journeys, packing)[None, :]
        due = np.array([one.due[journeys.destination] for one in days])
        held = np.array([self._held(packing, lot) for lot in lots])
        h = due * (1.0 - held)[:, None, None]
        h_per_egg = np.einsum("ljt,jt->lj", h, journeys.chances)
        dated = np.array([one.has_dates for one in days], dtype=bool)[:, None]
        near = np.array([packing.kind == "tube" and one.near_hatching for one in days], dtype=bool)[:, None]
        codes[near | (dated & (h_per_egg > packing.hatch_ceiling))] |= bit("would-hatch")
        takes = np.array([lot.medium in packing.media for lot in lots], dtype=bool)[:, None]
        open_lot, open_leg = np.nonzero((codes == 0) & ~stopped & takes)
        at = (open_lot.astype(np.int64), open_leg.astype(np.int64))
        fertile = np.array([one.fertile_share for one in days])
        kept = np.exp(-packing.loss_handling - packing.loss_per_day * journeys.t)
        open_h = h[at]
        v = kept[at[1]] * (1.0 - open_h * (1.0 - packing.fry_live)) * fertile[at[0], None]
        return _Rides(codes, at, open_h, v, _alike(at, open_h, fertile[at[0]], journeys))

    def _held(self, packing: Packing, lot: Lot) -> float:
        return 1.0 if self.species.is_damp and packing.travels_in(lot.medium) in DAMP_MEDIA else packing.held

    def _warmth_codes(self, journeys: Journeys, packing: Packing) -> Ints:
        shelf = self.reckoner.shelf
        return np.array([bits(packing_warmth(shelf, packing, self.species, leg)) for leg in journeys.legs], dtype=np.int64)


def _alike(at: tuple[Ints, Ints], h: Floats, fertile: Floats, journeys: Journeys) -> Ints:
    """A number for each ride, the same for rides that no count tells apart: equal legs, and no egg of either hatches."""
    legs: dict[bytes, int] = {}
    leg_kind = np.array(
        [
            legs.setdefault(t.tobytes() + chances.tobytes(), len(legs))
            for t, chances in zip(journeys.t, journeys.chances, strict=True)
        ],
        dtype=np.int64,
    )
    quiet = h.max(axis=1, initial=0.0) < NONE_HATCH
    shares = np.unique(fertile, return_inverse=True)[1]
    own = leg_kind.size * (shares.max(initial=0) + 1) + np.arange(h.shape[0])
    return np.where(quiet, leg_kind[at[1]] + leg_kind.size * shares, own)


def tables_for(reckoner: Reckoner, wishes: Iterable[tuple[Order, str]], days: tuple[date, ...]) -> Iterator[OptionTable]:
    """A table for each species that orders wish, one after the other: its lots' arrays are dropped with it."""
    asked: dict[str, set[Destination]] = {}
    for order, species in wishes:
        asked.setdefault(species, set()).add(reckoner.destination(order))
    journeys: dict[Destination, Journeys] = {}
    for species in sorted(asked):
        for to in asked[species]:
            if to not in journeys:
                legs = [reckoner.leg(service, to, day) for day in days for service in reckoner.services(to.country)]
                journeys[to] = Journeys.of(to, tuple(legs), days)
        lots = tuple(lot for lot in reckoner.shelf.lots if lot.species == species)
        found = reckoner.shelf.species.get(species)
        if found is not None:
            yield OptionTable(reckoner, found, days, lots, {to: journeys[to] for to in asked[species]})
