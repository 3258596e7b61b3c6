"""Lots of one population on many legs in every packing, as arrays: what speaks against each ride, and eggs
for a count.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.overpack import chance_enough, most_eggs, overpacks
from shipping.eggs.oxygen import air_hours
from shipping.eggs.tube_rule import is_barred
from shipping.options.journey import Curves, Ints, Journeys, bit
from shipping.options.lot_days import LotDays
from shipping.options.option import Floats
from shipping.options.option_factory import KNOWN_RATE
from shipping.options.shared_factors import WeekFactors
from shipping.tables.rows.lots import DAMP_MEDIA
from shipping.tables.rows.packings import Packing

Bools = NDArray[np.bool_]

#: A journey on which less than this share hatches by any date is like one on which none does.
NONE_HATCH = 1e-13


@dataclass(frozen=True, eq=False)
class RideTable:
    """Rides by lot, leg and packing: what no count ordered changes.

    ``free`` and ``whole``: eggs free of each lot on each day, with and without the share showing eyes (L, D).
    ``codes``: what speaks against each (L, J, P), -1 where a packing does not take the lot's medium. The R
    rides that nothing stops, by destination, are ``lot``, ``leg``, ``packing`` (R,), with the mean of h
    ``h_per_egg`` (R,), and h itself the product of what is ``due`` by date (L, J, T) and what each packing
    lets hatch, ``sent`` (L, P). ``air``: hours of oxygen for one egg in a unit (R,). Rides of one ``kind``
    (R,) share ``v`` by date, the ``chances`` of the dates (kinds, T) and ``kappa`` (kinds,).
    """

    packings: tuple[Packing, ...]
    days: tuple[LotDays, ...]
    journeys: Journeys
    free: Ints
    whole: Ints
    codes: Ints
    lot: Ints
    leg: Ints
    packing: Ints
    due: Floats
    sent: Floats
    h_per_egg: Floats
    air: Floats
    kind: Ints
    v: Floats
    chances: Floats
    kappa: Floats

    def h(self, at: Ints) -> Floats:
        """The share that hatches on some of the rides by each date (n, T)."""
        lot = self.lot[at]
        return np.asarray(self.due[lot, self.leg[at]] * self.sent[lot, self.packing[at]][:, None])

    @cached_property
    def hatched(self) -> Floats:
        """The mean share that hatches on each ride, whatever speaks against it (L, J, P)."""
        due = np.einsum("ljt,jt->lj", self.due, self.journeys.chances)
        return np.asarray(due[:, :, None] * self.sent[:, None, :])

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
    days, curves, due = _due(lots, journeys, factors)
    due_mean = np.einsum("ljt,jt->lj", due, journeys.chances)
    sent = 1.0 - np.array([[_held(packing, one) for packing in packings] for one in days])
    codes = _codes(packings, days, journeys, due_mean[:, :, None] * sent[:, None, :])
    for n, one in enumerate(days):
        codes[n] |= factors.warmth(one.forecast.species, journeys)
    closed = (journeys.codes & bit("closed-day")) != 0
    at = tuple(axis.astype(np.int64) for axis in np.nonzero((codes == 0) & ~closed[None, :, None]))
    lot, leg, packing = at
    none = due.max(axis=2, initial=0.0)[lot, leg] * sent[lot, packing] < NONE_HATCH
    curve = np.array([one.curve for one in curves])[lot, leg]
    kind, first = _kinds(packings, days, journeys, at, np.where(none, -1, curve))
    lot, leg, packing = (axis[first] for axis in at)
    v = _alive(packings, days, journeys, (lot, leg, packing), due[lot, leg] * sent[lot, packing][:, None])
    chances, kappa = journeys.chances[leg], np.array([one.kappa for one in packings])[packing]
    order = np.argsort(journeys.place[at[1]], kind="stable")
    lot, leg, packing = at = tuple(axis[order] for axis in at)
    return RideTable(
        packings=packings,
        days=days,
        journeys=journeys,
        free=np.array([one.free for one in days]),
        whole=np.array([one.whole for one in days]),
        codes=codes,
        lot=lot,
        leg=leg,
        packing=packing,
        due=due,
        sent=sent,
        h_per_egg=due_mean[lot, leg] * sent[lot, packing],
        air=_air(packings, days, journeys, at),
        kind=kind[order],
        v=v,
        chances=chances,
        kappa=kappa,
    )


def _due(
    lots: Iterable[LotDays], journeys: Journeys, factors: WeekFactors
) -> tuple[tuple[LotDays, ...], list[Curves], Floats]:
    """The lots, the curves of each one's species, and the share due by each date of each leg (L, J, T)."""
    known: dict[tuple[float, float | None], Curves] = {}
    days, curves, dues = [], [], []
    for one in lots:
        species = one.forecast.species
        if (species.zero_c, species.keep_max_c) not in known:
            known[(species.zero_c, species.keep_max_c)] = factors.curves(species, journeys)
        days.append(one)
        curves.append(known[(species.zero_c, species.keep_max_c)])
        dues.append(one.due(curves[-1]))
    due = np.empty((len(days), *journeys.t.shape))
    for n, (one_due, of_lot) in enumerate(zip(dues, curves, strict=True)):
        np.take(one_due, of_lot.point, out=due[n], mode="clip")
    return tuple(days), curves, due


def _codes(
    packings: tuple[Packing, ...], days: tuple[LotDays, ...], journeys: Journeys, h_per_egg: Floats
) -> Ints:
    """What lots and hatching say against each ride (L, J, P); -1 where the packing takes no eggs kept so."""
    ceiling = np.array([packing.hatch_ceiling for packing in packings])
    dated = np.array([one.forecast.has_dates for one in days], dtype=bool)
    near = np.array(
        [[is_barred(p.is_a, one.forecast.stage, one.forecast.is_overdue) for p in packings] for one in days],
        dtype=bool,
    )
    takes = np.array(
        [[one.forecast.lot.medium in packing.media for packing in packings] for one in days], dtype=bool
    )
    codes = np.repeat(np.array([one.codes for one in days])[:, journeys.day, None], len(packings), axis=2)
    codes[near[:, None, :] | (dated[:, None, None] & (h_per_egg > ceiling))] |= bit("would-hatch")
    codes[np.broadcast_to(~takes[:, None, :], codes.shape)] = -1
    return codes


def _held(packing: Packing, one: LotDays) -> float:
    """The share of hatching that the packing holds back."""
    is_damp = one.forecast.species.is_damp and packing.travels_in(one.forecast.lot.medium) in DAMP_MEDIA
    return 1.0 if is_damp else packing.held


def _alive(
    packings: tuple[Packing, ...],
    days: tuple[LotDays, ...],
    journeys: Journeys,
    at: tuple[Ints, ...],
    h: Floats,
) -> Floats:
    """v by date of the rides ``at`` (n, T), as `arrival.alive_shares` has it."""
    lot, leg, packing = at
    handling = np.array([one.loss_handling for one in packings])[packing, None]
    daily = np.array([one.loss_per_day for one in packings])[packing, None]
    fry = np.array([one.fry_live for one in packings])[packing, None]
    fertile = np.array([one.fertile_share for one in days])[lot, None]
    return np.asarray(np.exp(-handling - daily * journeys.t[leg]) * (1.0 - h * (1.0 - fry)) * fertile)


def _kinds(
    packings: tuple[Packing, ...],
    days: tuple[LotDays, ...],
    journeys: Journeys,
    at: tuple[Ints, ...],
    curve: Ints,
) -> tuple[Ints, Ints]:
    """A number for each ride, the same for rides that no count tells apart, and the first ride of each
    number.

    Such rides lose alike, arrive alike, and hatch alike: not at all (``curve`` -1), or as eggs of one lot on
    one curve.
    """
    lot, leg, packing = at
    parts = (
        _numbers([(p.loss_handling, p.loss_per_day, p.fry_live, p.kappa) for p in packings])[packing],
        _numbers([one.fertile_share for one in days])[lot],
        journeys.kind[leg],
        curve + 1,
        np.where(curve < 0, 0, lot),
        np.where(
            curve < 0,
            0,
            _numbers([_held(p, one) for one in days for p in packings])[lot * len(packings) + packing],
        ),
    )
    number = np.zeros(lot.size, dtype=np.int64)
    for part in parts:
        number = number * (1 + int(part.max(initial=0))) + part
    _, first, kind = np.unique(number, return_index=True, return_inverse=True)
    return kind.astype(np.int64), first.astype(np.int64)


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
