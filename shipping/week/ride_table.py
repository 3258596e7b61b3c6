"""Lots of one population on many legs in every packing, as arrays: what speaks against each ride, and eggs for a count."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.overpack import chance_enough, most_eggs
from shipping.eggs.oxygen import air_hours
from shipping.eggs.survival import Survival
from shipping.tables.lots import DAMP_MEDIA
from shipping.tables.packings import Packing
from shipping.tables.species import Species
from shipping.week.journeys import Curves, Ints, Journeys, bit
from shipping.week.lot_days import LotDays
from shipping.week.options import KNOWN_RATE
from shipping.week.rides import Floats

Bools = NDArray[np.bool_]

#: A journey on which less than this share hatches by any date is like one on which none does.
NONE_HATCH = 1e-13


@dataclass(frozen=True, eq=False)
class RideTable:
    """Rides by lot, leg and packing: what no count ordered changes.

    ``free`` and ``whole``: eggs free of each lot on each day, with and without the share showing eyes (L, D).
    ``codes``: what speaks against each (L, J, P), -1 where a packing does not take the lot's medium. The R rides that
    nothing stops are ``lot``, ``leg``, ``packing`` (R,), with h by date (R, T) and its mean ``h_per_egg`` (R,); ``air``:
    hours of oxygen for one egg in a unit (R,). Rides of one ``kind`` (R,) share v and chances; ``survival`` is of kinds.
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
    h: Floats
    h_per_egg: Floats
    air: Floats
    kind: Ints
    survival: Survival


@dataclass(frozen=True, eq=False)
class Counted:
    """A count ordered on some rides of a table: ``at`` which of them (n,), ``pack``, ``p_enough`` and ``codes`` of each (n,)."""

    at: Ints
    pack: Ints
    p_enough: Floats
    codes: Ints


def ride_table(
    packings: tuple[Packing, ...], lots: Iterable[LotDays], journeys: Journeys, warmth: Callable[[Species], Ints]
) -> RideTable:
    """The rides of some lots on some journeys; ``warmth``: what it says for a species against each leg and packing (J, P).

    Each lot is asked all at once, so that its clocks need not be kept.
    """
    days, curves, due = _due(lots, journeys)
    due_mean = np.einsum("ljt,jt->lj", due, journeys.chances)
    sent = 1.0 - np.array([[_held(packing, one) for packing in packings] for one in days])
    codes = _codes(packings, days, journeys, due_mean[:, :, None] * sent[:, None, :])
    for n, one in enumerate(days):
        codes[n] |= warmth(one.forecast.species)
    closed = (journeys.codes & bit("closed-day")) != 0
    at = tuple(axis.astype(np.int64) for axis in np.nonzero((codes == 0) & ~closed[None, :, None]))
    lot, leg, packing = at
    h = due[lot, leg] * sent[lot, packing][:, None]
    curve = np.array([one.curve for one in curves])[lot, leg]
    kind, first = _kinds(packings, days, journeys, at, np.where(h.max(axis=1, initial=0.0) < NONE_HATCH, -1, curve))
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
        h=h,
        h_per_egg=due_mean[lot, leg] * sent[lot, packing],
        air=_air(packings, days, journeys, at),
        kind=kind,
        survival=Survival(
            v=_alive(packings, days, journeys, tuple(axis[first] for axis in at), h[first]),
            chances=journeys.chances[leg[first]],
            kappa=np.array([one.kappa for one in packings])[packing[first]],
        ),
    )


def _due(lots: Iterable[LotDays], journeys: Journeys) -> tuple[tuple[LotDays, ...], list[Curves], Floats]:
    """The lots, the curves of each one's species, and the share due by each date of each leg (L, J, T)."""
    known: dict[tuple[float, float | None], Curves] = {}
    days, curves, due = [], [], []
    for one in lots:
        species = one.forecast.species
        if (species.zero_c, species.keep_max_c) not in known:
            known[(species.zero_c, species.keep_max_c)] = Curves.of(journeys, species)
        days.append(one)
        curves.append(known[(species.zero_c, species.keep_max_c)])
        due.append(one.due(curves[-1])[curves[-1].point])
    return tuple(days), curves, np.array(due)


def _codes(packings: tuple[Packing, ...], days: tuple[LotDays, ...], journeys: Journeys, h_per_egg: Floats) -> Ints:
    """What lots and hatching say against each ride (L, J, P); -1 where the packing takes no eggs kept so."""
    ceiling = np.array([packing.hatch_ceiling for packing in packings])
    dated = np.array([one.forecast.has_dates for one in days], dtype=bool)
    near = np.array([[packing.kind == "tube" and one.near_hatching for packing in packings] for one in days], dtype=bool)
    takes = np.array([[one.forecast.lot.medium in packing.media for packing in packings] for one in days], dtype=bool)
    codes = np.repeat(np.array([one.codes for one in days])[:, journeys.day, None], len(packings), axis=2)
    codes[near[:, None, :] | (dated[:, None, None] & (h_per_egg > ceiling))] |= bit("would-hatch")
    codes[np.broadcast_to(~takes[:, None, :], codes.shape)] = -1
    return codes


def _held(packing: Packing, one: LotDays) -> float:
    """The share of hatching that the packing holds back."""
    is_damp = one.forecast.species.is_damp and packing.travels_in(one.forecast.lot.medium) in DAMP_MEDIA
    return 1.0 if is_damp else packing.held


def _alive(
    packings: tuple[Packing, ...], days: tuple[LotDays, ...], journeys: Journeys, at: tuple[Ints, ...], h: Floats
) -> Floats:
    """v by date of the rides ``at`` (n, T), as `arrival.alive_shares` has it."""
    lot, leg, packing = at
    handling = np.array([one.loss_handling for one in packings])[packing, None]
    daily = np.array([one.loss_per_day for one in packings])[packing, None]
    fry = np.array([one.fry_live for one in packings])[packing, None]
    fertile = np.array([one.fertile_share for one in days])[lot, None]
    return np.asarray(np.exp(-handling - daily * journeys.t[leg]) * (1.0 - h * (1.0 - fry)) * fertile)


def _kinds(
    packings: tuple[Packing, ...], days: tuple[LotDays, ...], journeys: Journeys, at: tuple[Ints, ...], curve: Ints
) -> tuple[Ints, Ints]:
    """A number for each ride, the same for rides that no count tells apart, and the first ride of each number.

    Such rides lose alike, arrive alike, and hatch alike: not at all (``curve`` -1), or as eggs of one lot on one curve.
    """
    lot, leg, packing = at
    parts = (
        _numbers([(p.loss_handling, p.loss_per_day, p.fry_live, p.kappa) for p in packings])[packing],
        _numbers([one.fertile_share for one in days])[lot],
        journeys.kind[leg],
        curve + 1,
        np.where(curve < 0, 0, lot),
        np.where(curve < 0, 0, _numbers([_held(p, one) for one in days for p in packings])[lot * len(packings) + packing]),
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


def _air(packings: tuple[Packing, ...], days: tuple[LotDays, ...], journeys: Journeys, at: tuple[Ints, ...]) -> Floats:
    """Hours of oxygen for one egg in a unit (R,); endless where the rate is not known or the packing is no tube."""
    lot, leg, packing = at
    hours = np.full(lot.size, np.inf)
    warm, of_leg = np.unique([one.warmth.high_c for one in journeys.legs], return_inverse=True)
    for n, one in enumerate(days):
        species, salt = one.forecast.species, one.forecast.lot.salt_g_l
        for p, unit in enumerate(packings):
            if (
                species.o2_basis in KNOWN_RATE
                and unit.kind == "tube"
                and unit.volume_ml is not None
                and unit.water_ml is not None
            ):
                rate, here = species.o2_ug_egg_h, (lot == n) & (packing == p)
                alone = [air_hours(unit.volume_ml, unit.water_ml, 1, high, rate, salt) for high in warm.tolist()]
                hours[here] = np.array(alone)[of_leg[leg[here]]]
    return hours


def counted(table: RideTable, legs: Bools, eggs: int, overpack: str, promise: float) -> Counted:
    """Eggs to pack for a count ordered on the rides of some legs (J,), and what speaks against each."""
    at = np.flatnonzero(legs[table.leg])
    alive = table.survival
    asked = np.zeros(alive.kappa.size, dtype=bool)
    asked[table.kind[at]] = True
    rows = np.flatnonzero(asked)
    pack, p_enough = np.zeros(asked.size, dtype=np.int64), np.zeros(asked.size)
    if overpack == "none":
        pack[rows] = eggs
        draws = [((eggs, alive.v[row], float(alive.kappa[row])),) for row in rows.tolist()]
        p_enough[rows] = [chance_enough(draw, alive.chances[row], eggs) for draw, row in zip(draws, rows.tolist(), strict=True)]
    else:
        pack[rows], p_enough[rows] = alive.packs(rows, eggs, most_eggs(eggs), promise)
    kind = table.kind[at]
    return Counted(at, pack[kind], p_enough[kind], _of_count(table, at, pack[kind]))


def _of_count(table: RideTable, at: Ints, pack: Ints) -> Ints:
    """What speaks against a count on the rides ``at``: any hatching, air, too few eggs (n,)."""
    codes = np.zeros(pack.size, dtype=np.int64)
    lot, leg, packing = table.lot[at], table.leg[at], table.packing[at]
    any_ceiling = np.array([one.any_ceiling for one in table.packings])[packing]
    maybe = np.flatnonzero((any_ceiling < 1) & (pack * table.h_per_egg[at] > any_ceiling * (1 - 1e-9)))
    if maybe.size:  # the chance that any hatches is never above the eggs expected to hatch
        missed = np.log1p(-np.minimum(table.h[at[maybe]], 1.0 - 1e-16))
        h_any = (-np.expm1(pack[maybe, None] * missed) * table.journeys.chances[leg[maybe]]).sum(axis=1)
        codes[maybe[h_any > any_ceiling[maybe]]] |= bit("would-hatch")
    each_most = np.array([one.eggs_max for one in table.packings])[packing]
    units = np.maximum(1, -(-pack // each_most))
    each = np.maximum(1, -(-pack // units))
    codes[(pack > 0) & (table.air[at] / each < table.journeys.hours[leg])] |= bit("no-air")
    day = table.journeys.day[leg]
    free, whole = table.free[lot, day], table.whole[lot, day]
    unseen = np.array([one.look_first for one in table.days], dtype=bool)[lot]
    few = (pack == 0) | (pack > free)
    young = few & unseen & ((pack == 0) | (whole >= pack))
    codes[young] |= bit("too-young")
    codes[few & ~young] |= bit("short")
    return codes
