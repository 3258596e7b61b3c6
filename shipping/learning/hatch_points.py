"""How a species really develops: looks in; its hatch days, zero and share of the way to eyes out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.clock import effective_degrees, shelf_heat
from shipping.eggs.distributions import phi
from shipping.learning.estimate import (
    Estimate,
    FittedPoints,
    Floats,
    covariance,
    fitted_share,
    half_width,
    logit,
    share_of,
)
from shipping.learning.outcomes import Outcome
from shipping.tables.rows.lots import Look, Lot
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf

#: Doubt about the table's usual day and about its two sides (standard deviation of the log; assumed).
USUAL_DOUBT = 0.08
SIDE_DOUBT = 0.3
#: How alike the eggs of one lot are, beyond what the table says (one thermometer, one bowl; assumed): a lot
#: of n eggs weighs as n / (1 + (n - 1) ALIKE) eggs.
ALIKE = 0.3
NARROWEST = 0.01
#: How far apart the cost is looked at for the doubt about the logs.
STEP = 0.02


@dataclass(frozen=True, eq=False)
class HatchRecord:
    """Eggs watched over a time: ``edges`` what an egg of each laying day had gathered at each look (days,
    looks), the first the start of watching; ``hatched`` between one look and the next (looks - 1,); ``whole``
    at the last.

    All in degree-days [C-d].
    """

    edges: Floats
    hatched: Floats
    whole: float

    @cached_property
    def eggs(self) -> float:
        return float(self.hatched.sum()) + self.whole


def records(
    shelf: Shelf, species: str, population: str | None, outcomes: Iterable[Outcome]
) -> tuple[HatchRecord, ...]:
    """Looks at lots of a species (of one population, or of all where None), and arrivals of its eggs.

    Lots kept damp say nothing: they hatch when they are wetted.
    """
    lots = lots_in_water(shelf, species, population)
    by_name = {lot.lot: lot for lot in lots}
    kept = [_of_looks(shelf, lot) for lot in lots]
    sent_on = cache(lambda lot, day: _gathered(shelf, shelf.species[species], by_name[lot], [day]))
    for outcome in outcomes:
        if _says_when(outcome, by_name, shelf):
            sent = sent_on(outcome.lots[0][0], outcome.sent_on)
            kept.append(_of_journey(outcome, sent, shelf.species[species]))
    return tuple(record for record in kept if record is not None and record.eggs > 0)


def lots_in_water(shelf: Shelf, species: str, population: str | None) -> list[Lot]:
    """The lots of a species, or of one population of it, that are not kept damp."""
    return [
        lot
        for lot in shelf.lots
        if lot.species == species and not lot.kept_damp and population in (None, lot.population)
    ]


def _gathered(shelf: Shelf, species: Species, lot: Lot, days: Sequence[date]) -> Floats:
    """What an egg of each laying day has gathered by each of ``days``: (laying days, days)."""
    heat = shelf_heat(species, lot, shelf.looks_by_lot.get(lot.lot, ()))
    laid = [lot.laid_from + timedelta(days=n) for n in range((lot.laid_to - lot.laid_from).days + 1)]
    at = np.array([heat.at(day) for day in days])
    laid_at = np.array([heat.at(day) for day in laid])
    return np.asarray(np.maximum(at[None, :] - laid_at[:, None], 0.0))


def _of_looks(shelf: Shelf, lot: Lot) -> HatchRecord | None:
    looks = [look for look in shelf.looks_by_lot.get(lot.lot, ()) if look.hatched is not None]
    if not any(look.hatched for look in looks):
        return None
    start = lot.counted_on if lot.counted_on < looks[0].on else lot.laid_from
    edges = _gathered(shelf, shelf.species[lot.species], lot, [start, *(look.on for look in looks)])
    hatched = np.array([float(look.hatched or 0) for look in looks])
    return HatchRecord(edges, hatched, float(_whole_at_last(shelf, lot, looks)))


def _whole_at_last(shelf: Shelf, lot: Lot, hatched: Sequence[Look]) -> int:
    """Live eggs at the last look that counted fry: a recount, else the last count less those gone."""
    looks = [look for look in shelf.looks_by_lot.get(lot.lot, ()) if look.on <= hatched[-1].on]
    recounts = [(look.on, look.alive) for look in looks if look.alive is not None]
    on, eggs = max([(lot.counted_on, lot.eggs), *recounts])
    if on >= hatched[-1].on:
        return eggs
    gone = sum((look.hatched or 0) + (look.removed or 0) for look in looks if look.on > on)
    gone += sum(n for day, n in shelf.packed.get(lot.lot, {}).items() if on <= day <= hatched[-1].on)
    return max(0, eggs - gone)


def _says_when(outcome: Outcome, lots: dict[str, Lot], shelf: Shelf) -> bool:
    """Does a line say how many hatched on the way, from one lot of the tables, in free water?"""
    packing = shelf.packing_by_name.get(outcome.packing)
    told = (outcome.hatched_alive, outcome.low_c, outcome.high_c)
    if not outcome.is_reported or None in told or packing is None or packing.held:
        return False
    return len(outcome.lots) == 1 and outcome.lots[0][0] in lots


def _of_journey(outcome: Outcome, sent: Floats, species: Species) -> HatchRecord:
    """Eggs whole when sent, having gathered ``sent``, and found hatched or whole; the dead say nothing."""
    a_day = effective_degrees(((outcome.low_c or 0.0) + (outcome.high_c or 0.0)) / 2, species)
    fry = float(outcome.hatched_alive or 0)
    edges = np.concatenate((sent, sent + a_day * outcome.days), axis=1)
    return HatchRecord(edges, np.array([fry]), float((outcome.living or 0) - fry))


def best_fit(species: Species, records: Sequence[HatchRecord]) -> FittedPoints:
    """The likeliest hatch days at ``incubation_c``, held near the table's, with their intervals; their cost
    is up to a constant.

    Notes
    -----
    Interval-censored: an egg that hatched between two looks had K between what it had gathered at each, one
    still whole had more than it had at the last, all of them more than at the start, averaged over laying
    days. Each lot weighs as n / (1 + (n - 1) `ALIKE`) eggs. Log-normal priors around the table's usual day
    and two sides.
    """
    table = species.hatch_days
    if not records:
        return FittedPoints.of_table(table)
    from scipy.optimize import minimize

    sides = [math.log(max(NARROWEST, side)) for side in (table.spread_below, table.spread_above)]
    middle = np.array([math.log(table.usual), *sides])
    doubt = np.array([USUAL_DOUBT, SIDE_DOUBT, SIDE_DOUBT])
    watched = _Watched.of(records, effective_degrees(species.incubation_c, species))

    def cost(x: Floats) -> float:
        off = (x - middle) / doubt
        return 0.5 * float(off @ off) - watched.log_likelihood(x)

    exact = {"xatol": 1e-5, "fatol": 1e-8, "maxiter": 3000}
    best = minimize(cost, middle, method="Nelder-Mead", options=exact)
    return FittedPoints.of(best.x, covariance(cost, best.x, STEP), float(best.fun))


@dataclass(frozen=True, eq=False)
class _Watched:
    """All records as flat arrays, those of the same edges put together.

    ``log_edges``: log of each edge over the degrees of a day at ``incubation_c`` (edges x laying days,).
    ``starts``: where each edge's laying days begin (edges,). ``first``, ``last``: a record's first and last
    edge (records,). ``between``: the edge before each interval (intervals,). ``hatched``, ``whole``: eggs,
    weighed (intervals,) and (records,); ``all_eggs``: both together (records,).
    """

    log_edges: Floats
    starts: NDArray[np.int64]
    days: Floats
    first: NDArray[np.int64]
    last: NDArray[np.int64]
    between: NDArray[np.int64]
    hatched: Floats
    whole: Floats
    all_eggs: Floats

    @classmethod
    def of(cls, records: Sequence[HatchRecord], a_day: float) -> _Watched:
        """The records' arrays."""
        alike: dict[tuple[tuple[int, ...], bytes], tuple[Floats, Floats, float]] = {}
        for record in records:
            weight = 1.0 / (1.0 + max(0.0, record.eggs - 1.0) * ALIKE)
            key = (record.edges.shape, np.round(record.edges, 6).tobytes())
            _, hatched, whole = alike.get(key, (record.edges, np.zeros(record.hatched.size), 0.0))
            alike[key] = (record.edges, hatched + weight * record.hatched, whole + weight * record.whole)
        kept = list(alike.values())
        looks = np.array([edges.shape[1] for edges, _, _ in kept], dtype=np.int64)
        days = np.repeat([edges.shape[0] for edges, _, _ in kept], looks)
        last = np.cumsum(looks) - 1
        is_last = np.zeros(int(looks.sum()), dtype=bool)
        is_last[last] = True
        with np.errstate(divide="ignore"):
            log_edges = np.log(np.concatenate([edges.T.ravel() for edges, _, _ in kept]) / a_day)
        return cls(
            log_edges=log_edges,
            starts=np.cumsum(days) - days,
            days=days.astype(float),
            first=last - looks + 1,
            last=last,
            between=np.flatnonzero(~is_last),
            hatched=np.concatenate([hatched for _, hatched, _ in kept]),
            whole=np.array([whole for _, _, whole in kept]),
            all_eggs=np.array([hatched.sum() + whole for _, hatched, whole in kept]),
        )

    def log_likelihood(self, x: Floats) -> float:
        """The sum over all records, each lot weighing as its eggs; x: logs of usual day and two sides."""
        from scipy.special import ndtr

        off = self.log_edges - x[0]
        above = ndtr(-off / np.where(off < 0, math.exp(x[1]), math.exp(x[2])))
        beyond = np.add.reduceat(above, self.starts) / self.days
        between = np.maximum(beyond[self.between] - beyond[self.between + 1], 1e-12)
        start, last = (np.maximum(beyond[edge], 1e-12) for edge in (self.first, self.last))
        return float(
            self.hatched @ np.log(between) + self.whole @ np.log(last) - self.all_eggs @ np.log(start)
        )


#: Doubt about the table's zero [C], and about its eyed share (standard deviation of the logit); both assumed.
ZERO_DOUBT = 1.5
EYED_DOUBT = 0.25
#: Lots must differ by so much in warmth [C] before they say anything of the zero (assumed).
WARMTH_APART = 1.5
#: How far from the table's a zero is looked for [C].
ZERO_REACH = 4.5
_LEAST, _MOST = 0.05, 0.95


@dataclass(frozen=True, slots=True)
class Seen:
    """A lot seen without eyes and later with them: days of the two looks."""

    lot: Lot
    without: date
    with_eyes: date


def fitted_zero(shelf: Shelf, species: Species, population: str | None) -> Estimate | None:
    """The likeliest zero of development [C]; None where lots do not differ in warmth.

    Notes
    -----
    For each zero the hatch days are fitted anew (`best_fit`), and the zero of the least cost
    wins: the right one makes warm and cool lots agree on the degree-days to hatching. A normal prior holds it
    near the table's.
    """
    watched = [
        lot
        for lot in lots_in_water(shelf, species.species, population)
        if any(look.hatched for look in shelf.looks_by_lot.get(lot.lot, ()))
    ]
    warmths = [lot.kept_at_c for lot in watched]
    if len(watched) < 2 or max(warmths) - min(warmths) < WARMTH_APART:
        return None
    from scipy.optimize import minimize_scalar

    def cost(zero: float) -> float:
        other = species.model_copy(update={"zero_c": zero})
        place = replace(shelf, species={**shelf.species, species.species: other}, populations={})
        fitted = best_fit(other, records(place, species.species, population, ()))
        return fitted.cost + 0.5 * ((zero - species.zero_c) / ZERO_DOUBT) ** 2

    highest = min(species.zero_c + ZERO_REACH, min(warmths) - 1.0, species.incubation_c - 1.0)
    lowest = species.zero_c - ZERO_REACH
    if highest <= lowest:
        return None
    best = minimize_scalar(cost, bounds=(lowest, highest), method="bounded", options={"xatol": 0.05})
    zero = float(best.x)
    off = ZERO_DOUBT * half_width(lambda steps: cost(zero + ZERO_DOUBT * steps), 0.0, 0.2)
    return Estimate(zero, zero - off, zero + off, len(watched))


def seen_both_ways(shelf: Shelf, species: Species, population: str | None) -> tuple[Seen, ...]:
    """The lots seen live without eyes (`fertile`) and later with them: one way dates nothing."""
    lots = (_seen(shelf, lot) for lot in lots_in_water(shelf, species.species, population))
    return tuple(seen for seen in lots if seen is not None)


def _seen(shelf: Shelf, lot: Lot) -> Seen | None:
    stages = [(look.on, look.stage) for look in shelf.looks_by_lot.get(lot.lot, ()) if look.stage]
    if lot.stage:
        stages.append((lot.stage_on or lot.counted_on, lot.stage))
    without = [on for on, stage in stages if stage == "fertile"]
    with_eyes = [on for on, stage in stages if stage in ("eyed", "ready")]
    if not without or not with_eyes or max(without) >= min(with_eyes):
        return None
    return Seen(lot, max(without), min(with_eyes))


def fitted_eyed_at(shelf: Shelf, species: Species, seen: Iterable[Seen]) -> Estimate:
    """The likeliest share of the way to hatching at which eyes show, held near the table's.

    Notes
    -----
    ``P(eyes between two looks) = q(a2) - q(a1)``, with the model's ``q(a) = Phi(ln(a / (f K)) / s)``, s the
    spread of looks and K's own together, averaged over laying days; ``species`` gives K, as learned. A lot is
    one observation.
    """
    seen = tuple(seen)
    if not seen:
        return Estimate.of_table(species.eyed_at)
    days = species.hatch_days
    usual = math.log(days.usual * effective_degrees(species.incubation_c, species))
    own = (days.spread_below + days.spread_above) / 2
    spread = math.hypot(shelf.settings.plan.look_spread, own)
    gathered = [_gathered(shelf, species, each.lot, (each.without, each.with_eyes)) for each in seen]
    edges = [np.log(np.maximum(days, 1e-9)).T for days in gathered]
    middle = logit(species.eyed_at)

    def cost(x: float) -> float:
        at = usual + math.log(share_of(x))
        between = [(phi((later - at) / spread) - phi((first - at) / spread)).mean() for first, later in edges]
        return 0.5 * ((x - middle) / EYED_DOUBT) ** 2 - float(np.log(np.maximum(between, 1e-12)).sum())

    value, low, high = (min(_MOST, max(_LEAST, share)) for share in fitted_share(cost, middle, 2.0, 1e-4))
    return Estimate(value, low, high, len(seen))
