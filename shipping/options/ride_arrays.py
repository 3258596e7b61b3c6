"""Lots of one population on many legs in every packing, as arrays: what speaks against each ride, and eggs
for a count.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.overpack import chance_enough, most_eggs, overpacks
from shipping.eggs.oxygen import air_hours
from shipping.eggs.tube_rule import is_barred
from shipping.options.journey import Ints, Journeys, bit
from shipping.options.lot_days import LotDays
from shipping.options.option import Floats
from shipping.options.option_factory import KNOWN_RATE
from shipping.options.shared_factors import WeekFactors
from shipping.options.trip_curves import Curves
from shipping.post.foam_box import Holding
from shipping.tables.rows.lots import DAMP_MEDIA
from shipping.tables.rows.packings import Packing

Bools = NDArray[np.bool_]

#: A journey on which less than this share hatches by any date is like one on which none does.
NONE_HATCH = 1e-13


@dataclass(frozen=True, eq=False)
class RideTable:
    """Rides by lot, leg and packing: what no count ordered changes.

    ``free`` and ``whole``: eggs free of each lot on each day, with and without the share showing eyes (L, D).
    ``codes``: what speaks against each (L, J, P), -1 where a packing does not take the lot's medium.
    ``hatched``: the mean share that hatches on each, whatever speaks against it (L, J, P). The R rides that
    nothing stops, by destination, are ``lot``, ``leg``, ``packing`` (R,). ``air``: hours of oxygen for one
    egg in a unit (R,). Rides of one ``kind`` (R,) share v and chances by outcome; ``v``, ``chances`` and
    ``kappa`` are of kinds, and ``h_of_kind`` of those on which any egg hatches, which come first (K, T).
    """

    packings: tuple[Packing, ...]
    days: tuple[LotDays, ...]
    journeys: Journeys
    free: Ints
    whole: Ints
    codes: Ints
    hatched: Floats
    lot: Ints
    leg: Ints
    packing: Ints
    air: Floats
    kind: Ints
    v: Floats
    chances: Floats
    kappa: Floats
    h_of_kind: Floats

    def h(self, at: Ints) -> Floats:
        """The share that hatches on some of the rides by each outcome (n, T)."""
        kind = self.kind[at]
        found = np.zeros((at.size, self.journeys.t.shape[1]))
        some = kind < self.h_of_kind.shape[0]
        found[some] = self.h_of_kind[kind[some]]
        return found

    @cached_property
    def h_per_egg(self) -> Floats:
        """The mean of h of each ride (R,)."""
        return np.asarray(self.hatched[self.lot, self.leg, self.packing])

    @cached_property
    def each_most(self) -> Ints:
        """Eggs that a unit of each ride's packing holds (R,)."""
        return np.array([one.eggs_max for one in self.packings], dtype=np.int64)[self.packing]

    @cached_property
    def any_ceiling(self) -> Floats:
        """The chance that any egg hatches which each ride's packing allows (R,)."""
        return np.array([one.any_ceiling for one in self.packings], dtype=np.float64)[self.packing]

    @cached_property
    def hours(self) -> Floats:
        """To the 95 % arrival of each ride [h] (R,)."""
        return self.journeys.hours[self.leg]

    @cached_property
    def day(self) -> Ints:
        """The number of each ride's day (R,)."""
        return self.journeys.day[self.leg]

    @cached_property
    def free_eggs(self) -> Ints:
        """Eggs free of each ride's lot on its day (R,)."""
        return np.asarray(self.free[self.lot, self.day])

    @cached_property
    def unseen_eggs(self) -> Ints:
        """The same where a look has to show eyes first, also of eggs without them; -1 elsewhere (R,)."""
        unseen = np.array([one.look_first for one in self.days], dtype=bool)[:, None]
        return np.asarray(np.where(unseen, self.whole, -1)[self.lot, self.day])


@dataclass(frozen=True, eq=False)
class Counted:
    """A count ordered on some rides of a table: ``at`` which of them (n,), ``pack``, ``p_enough`` and
    ``codes`` of each (n,).
    """

    at: Ints
    pack: Ints
    p_enough: Floats
    codes: Ints


def ride_table(
    packings: tuple[Packing, ...], lots: Iterable[LotDays], journeys: Journeys, factors: WeekFactors
) -> RideTable:
    """The rides of some lots on some journeys, which are among those of ``factors``.

    Each lot is asked all at once, so that its clocks need not be kept.
    """
    curves: dict[tuple[object, ...], Curves] = {}
    days, codes, hatched = [], [], []
    open_rides = _OpenRides(packings, journeys)
    for one in lots:
        dues = _dues(one, journeys, factors, curves)
        sent = 1.0 - np.array([_held(packing, one) for packing in packings])
        mean = np.array([(due * journeys.chances).sum(axis=1) for due in dues]).T * sent
        says = _codes(packings, one, journeys, mean)
        says |= np.where(says >= 0, factors.warmth(one.forecast.species, journeys, one.kept_at_c), 0)
        open_rides.add(one, says, dues, sent)
        days.append(one)
        codes.append(says)
        hatched.append(mean)
    shape = (len(days), len(journeys.legs), len(packings))
    lot, leg, packing, kind, of_kinds = open_rides.made()
    order = np.argsort(journeys.place[leg], kind="stable")
    lot, leg, packing = at = (lot[order], leg[order], packing[order])
    return RideTable(
        packings=packings,
        days=tuple(days),
        journeys=journeys,
        free=np.array([one.free for one in days]),
        whole=np.array([one.whole for one in days]),
        codes=np.array(codes, dtype=np.int64).reshape(shape),
        hatched=np.array(hatched, dtype=np.float64).reshape(shape),
        lot=lot,
        leg=leg,
        packing=packing,
        air=_air(packings, tuple(days), journeys, at),
        kind=kind[order],
        v=of_kinds.v,
        chances=of_kinds.chances,
        kappa=of_kinds.kappa,
        h_of_kind=of_kinds.h,
    )


def _dues(
    one: LotDays, journeys: Journeys, factors: WeekFactors, known: dict[tuple[object, ...], Curves]
) -> list[Floats]:
    """The share due by each outcome of each leg, for each packing: (P of (J, T)); packings that hold warmth
    alike share it.
    """
    species, found = one.forecast.species, dict[Holding, Floats]()
    for holds in factors.holdings:
        if holds not in found:
            kept_at_c = one.kept_at_c if holds.gone_h > 0 else 0.0  # what holds no warmth asks for none
            key = (species.zero_c, species.keep_max_c, kept_at_c, holds)
            if key not in known:
                known[key] = factors.curves(species, journeys, kept_at_c, holds)
            found[holds] = one.due(known[key])[known[key].point]
    return [found[holds] for holds in factors.holdings]


@dataclass(frozen=True, eq=False)
class _Kinds:
    """How eggs of each kind of ride fare: ``v``, ``chances`` by outcome (kinds, T), ``kappa`` (kinds,), and
    ``h`` of the first of them, on which any hatch (K, T).
    """

    v: Floats
    chances: Floats
    kappa: Floats
    h: Floats


@dataclass(eq=False)
class _OpenRides:
    """The rides that nothing stops, as lots are added: those with hatching lot by lot, others at the end."""

    packings: tuple[Packing, ...]
    journeys: Journeys
    days: list[LotDays] = field(default_factory=list)
    _hatching: list[tuple[Ints, ...]] = field(default_factory=list)
    _plain: list[tuple[Ints, ...]] = field(default_factory=list)
    _h: list[Floats] = field(default_factory=list)
    _v: list[Floats] = field(default_factory=list)
    _firsts: list[tuple[Ints, Ints]] = field(default_factory=list)
    _kinds: int = 0

    def add(self, one: LotDays, codes: Ints, dues: list[Floats], sent: Floats) -> None:
        """Take up a lot's rides, by what speaks against each (J, P)."""
        number = len(self.days)
        self.days.append(one)
        closed = (self.journeys.codes & bit("closed-day")) != 0
        leg, packing = (axis.astype(np.int64) for axis in np.nonzero((codes == 0) & ~closed[:, None]))
        most = np.array([due.max(axis=1, initial=0.0) for due in dues]).T * sent
        plain = most[leg, packing] < NONE_HATCH
        self._plain.append((np.full(int(plain.sum()), number), leg[plain], packing[plain]))
        leg, packing = leg[~plain], packing[~plain]
        if leg.size:
            self._add_hatching(number, leg, packing, dues, sent)

    def _add_hatching(self, lot: int, leg: Ints, packing: Ints, dues: list[Floats], sent: Floats) -> None:
        journeys, names = self.journeys, dict[int, int]()
        same_due = np.array([names.setdefault(id(due), len(names)) for due in dues], dtype=np.int64)
        curve = np.zeros(leg.size, dtype=np.int64)
        for number in range(len(names)):
            here = same_due[packing] == number
            due = dues[int(np.flatnonzero(same_due == number)[0])]
            curve[here] = _numbers([row.tobytes() for row in due])[leg[here]]
        parts = (
            _loses_alike(self.packings)[packing],
            _numbers(sent.tolist())[packing],
            same_due[packing],
            journeys.kind[leg],
            curve,
        )
        _, first, kind = np.unique(_together(parts, leg.size), return_index=True, return_inverse=True)
        h = np.array(
            [dues[p][j] * sent[p] for j, p in zip(leg[first].tolist(), packing[first].tolist(), strict=True)]
        )
        self._hatching.append((np.full(leg.size, lot), leg, packing, self._kinds + kind.astype(np.int64)))
        self._kinds += first.size
        self._h.append(h)
        self._v.append(self._alive(np.full(first.size, lot), leg[first], packing[first], h))
        self._firsts.append((leg[first], packing[first]))

    def made(self) -> tuple[Ints, Ints, Ints, Ints, _Kinds]:
        """Lot, leg, packing and kind of each ride; how the eggs of each kind survive, and hatch where any
        do.
        """
        none = np.zeros(0, dtype=np.int64)
        lot, leg, packing = (
            np.concatenate([none, *(rides[n] for rides in self._plain)]).astype(np.int64) for n in range(3)
        )
        fertile = _numbers([one.fertile_share for one in self.days])
        parts = (_loses_alike(self.packings)[packing], fertile[lot], self.journeys.kind[leg])
        _, first, kind = np.unique(_together(parts, lot.size), return_index=True, return_inverse=True)
        width = self.journeys.t.shape[1]
        plain = (lot, leg, packing, self._kinds + kind.astype(np.int64))
        unhatched = self._alive(lot[first], leg[first], packing[first], np.zeros((first.size, width)))
        firsts = [*self._firsts, (leg[first], packing[first])]
        of_leg, of_packing = (np.concatenate([one[n] for one in firsts]) for n in range(2))
        of_kinds = _Kinds(
            v=np.concatenate([*self._v, unhatched]).reshape(-1, width),
            chances=self.journeys.chances[of_leg],
            kappa=np.array([one.kappa for one in self.packings])[of_packing],
            h=np.concatenate([np.zeros((0, width)), *self._h]),
        )
        every = [np.concatenate(axis) for axis in zip(*self._hatching, plain, strict=True)]
        return every[0], every[1], every[2], every[3], of_kinds

    def _alive(self, lot: Ints, leg: Ints, packing: Ints, h: Floats) -> Floats:
        """v by outcome of some rides (n, T), as `arrival.alive_shares` has it."""
        handling = np.array([one.loss_handling for one in self.packings])[packing, None]
        daily = np.array([one.loss_per_day for one in self.packings])[packing, None]
        fry = np.array([one.fry_live for one in self.packings])[packing, None]
        fertile = np.array([one.fertile_share for one in self.days])[lot, None]
        kept = np.exp(-handling - daily * self.journeys.t[leg])
        return np.asarray(kept * (1.0 - h * (1.0 - fry)) * fertile)


def _loses_alike(packings: tuple[Packing, ...]) -> Ints:
    """A number for each packing, the same for packings that lose eggs alike."""
    return _numbers([(p.loss_handling, p.loss_per_day, p.fry_live, p.kappa) for p in packings])


def _together(parts: Iterable[Ints], size: int) -> Ints:
    """One number for each combination of numbers (size,)."""
    number = np.zeros(size, dtype=np.int64)
    for part in parts:
        number = number * (1 + int(part.max(initial=0))) + part
    return number


def _codes(packings: tuple[Packing, ...], one: LotDays, journeys: Journeys, h_per_egg: Floats) -> Ints:
    """What a lot and its hatching say against each ride (J, P); -1: the packing takes no eggs kept so."""
    forecast = one.forecast
    ceiling = np.array([packing.hatch_ceiling for packing in packings])
    near = np.array([is_barred(p.is_a, forecast.stage, forecast.is_overdue) for p in packings], dtype=bool)
    takes = np.array([forecast.lot.medium in packing.media for packing in packings], dtype=bool)
    codes = np.repeat(one.codes[journeys.day, None], len(packings), axis=1)
    over = (h_per_egg > ceiling) if forecast.has_dates else np.zeros(h_per_egg.shape, dtype=bool)
    codes[near[None, :] | over] |= bit("would-hatch")
    if forecast.last_wetting:
        codes[journeys.p95 > forecast.last_wetting.toordinal()] |= bit("past-wetting")
    codes[:, ~takes] = -1
    return codes


def _held(packing: Packing, one: LotDays) -> float:
    """The share of hatching that the packing holds back."""
    is_damp = one.forecast.species.is_damp and packing.travels_in(one.forecast.lot.medium) in DAMP_MEDIA
    return 1.0 if is_damp else packing.held


def _numbers(values: Sequence[object]) -> Ints:
    """Equal values get equal numbers, counted from 0."""
    known: dict[object, int] = {}
    return np.array([known.setdefault(value, len(known)) for value in values], dtype=np.int64)


def _air(
    packings: tuple[Packing, ...], days: tuple[LotDays, ...], journeys: Journeys, at: tuple[Ints, ...]
) -> Floats:
    """Hours of oxygen for one egg in a unit (R,); endless where the rate is not known or the packing is no
    tube.
    """
    lot, leg, packing = at
    hours = np.full(lot.size, np.inf)
    warm, of_leg = np.unique([one.warmth.high_c for one in journeys.legs], return_inverse=True)
    for n, one in enumerate(days):
        species, salt = one.forecast.species, one.forecast.lot.salt_g_l
        for p, unit in enumerate(packings):
            if (
                species.o2_basis in KNOWN_RATE
                and unit.is_a.is_sealed
                and unit.volume_ml is not None
                and unit.water_ml is not None
            ):
                rate, here = species.o2_ug_egg_h, (lot == n) & (packing == p)
                alone = [
                    air_hours(unit.volume_ml, unit.water_ml, 1, high, rate, salt) for high in warm.tolist()
                ]
                hours[here] = np.array(alone)[of_leg[leg[here]]]
    return hours


def counted(table: RideTable, at: Ints, eggs: int, overpack: str, promise: float) -> Counted:
    """Eggs to pack for a count ordered on some of the rides (n,), and what speaks against each."""
    asked = np.zeros(table.kappa.size, dtype=bool)
    asked[table.kind[at]] = True
    rows = np.flatnonzero(asked)
    pack, p_enough = np.zeros(asked.size, dtype=np.int64), np.zeros(asked.size)
    if overpack == "none":
        pack[rows] = eggs
        draws = [((eggs, table.v[row], float(table.kappa[row])),) for row in rows.tolist()]
        p_enough[rows] = [
            chance_enough(draw, table.chances[row], eggs)
            for draw, row in zip(draws, rows.tolist(), strict=True)
        ]
    else:
        counts, caps = np.full(rows.size, eggs), np.full(rows.size, most_eggs(eggs))
        found = overpacks(table.v[rows], table.chances[rows], counts, caps, table.kappa[rows], promise)
        pack[rows], p_enough[rows] = found.pack, found.p_enough
    kind = table.kind[at]
    return Counted(at, pack[kind], p_enough[kind], _of_count(table, at, pack[kind]))


def _of_count(table: RideTable, at: Ints, pack: Ints) -> Ints:
    """What speaks against a count on the rides ``at``: any hatching, air, too few eggs (n,)."""
    codes = np.zeros(pack.size, dtype=np.int64)
    any_ceiling = table.any_ceiling[at]
    maybe = np.flatnonzero((any_ceiling < 1) & (pack * table.h_per_egg[at] > any_ceiling * (1 - 1e-9)))
    if maybe.size:  # the chance that any hatches is never above the eggs expected to hatch
        missed = np.log1p(-np.minimum(table.h(at[maybe]), 1.0 - 1e-16))
        h_any = (-np.expm1(pack[maybe, None] * missed) * table.journeys.chances[table.leg[at[maybe]]]).sum(
            axis=1
        )
        codes[maybe[h_any > any_ceiling[maybe]]] |= bit("would-hatch")
    air = table.air[at]
    tight = np.flatnonzero((air < np.inf) & (pack > 0))
    if tight.size:
        rows = at[tight]
        units = np.maximum(1, -(-pack[tight] // table.each_most[rows]))
        each = np.maximum(1, -(-pack[tight] // units))
        codes[tight[air[tight] / each < table.hours[rows]]] |= bit("no-air")
    free, unseen = table.free_eggs[at], table.unseen_eggs[at]
    few = np.flatnonzero((pack == 0) | (pack > free))
    unseen = unseen[few]
    young = (unseen >= 0) & ((pack[few] == 0) | (unseen >= pack[few]))
    codes[few] |= np.where(young, bit("too-young"), bit("short"))
    return codes
