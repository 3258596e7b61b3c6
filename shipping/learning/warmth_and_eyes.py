"""Where development stops and when eyes show: looks of lots in, the likeliest zero and eyed share out."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from shipping.eggs.clock import effective_degrees, shelf_heat
from shipping.eggs.normal import phi
from shipping.learning.doubt import off_of
from shipping.learning.hatch_points import best_fit, lots_in_water, records
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf

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


@dataclass(frozen=True, slots=True)
class FittedValue:
    """A value as fitted, the interval that holds it with 90 %, and the lots it rests on."""

    value: float
    low: float
    high: float
    lots: int


def fitted_zero(shelf: Shelf, species: Species, population: str | None) -> FittedValue | None:
    """The likeliest zero of development [C]; None where lots do not differ in warmth.

    Notes
    -----
    For each zero the hatch days are fitted anew (`hatch_points.best_fit`), and the zero of the least cost
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
    off = ZERO_DOUBT * off_of(lambda steps: cost(zero + ZERO_DOUBT * steps), 0.0, 0.2)
    return FittedValue(zero, zero - off, zero + off, len(watched))


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


def fitted_eyed_at(shelf: Shelf, species: Species, seen: Iterable[Seen]) -> FittedValue:
    """The likeliest share of the way to hatching at which eyes show, held near the table's.

    Notes
    -----
    ``P(eyes between two looks) = q(a2) - q(a1)``, with the model's ``q(a) = Phi(ln(a / (f K)) / s)``, s the
    spread of looks and K's own together, averaged over laying days; ``species`` gives K, as learned. A lot is
    one observation.
    """
    seen = tuple(seen)
    if not seen:
        return FittedValue(species.eyed_at, species.eyed_at, species.eyed_at, 0)
    from scipy.optimize import minimize_scalar

    days = species.hatch_days
    usual = math.log(days.usual * effective_degrees(species.incubation_c, species))
    own = (days.spread_below + days.spread_above) / 2
    spread = math.hypot(shelf.settings.plan.look_spread, own)
    edges = [_log_gathered(shelf, species, lot) for lot in seen]
    middle = math.log(species.eyed_at / (1 - species.eyed_at))

    def cost(logit: float) -> float:
        share = 1.0 / (1.0 + math.exp(-logit))
        at = usual + math.log(share)
        between = [(phi((later - at) / spread) - phi((first - at) / spread)).mean() for first, later in edges]
        return 0.5 * ((logit - middle) / EYED_DOUBT) ** 2 - float(np.log(np.maximum(between, 1e-12)).sum())

    best = minimize_scalar(
        cost, bounds=(middle - 2.0, middle + 2.0), method="bounded", options={"xatol": 1e-4}
    )
    logit = float(best.x)
    off = off_of(cost, logit, 0.05)
    value, low, high = (
        min(_MOST, max(_LEAST, 1.0 / (1.0 + math.exp(-end)))) for end in (logit, logit - off, logit + off)
    )
    return FittedValue(value, low, high, len(seen))


def _log_gathered(shelf: Shelf, species: Species, seen: Seen) -> tuple[np.ndarray, np.ndarray]:
    """The log of what an egg of each laying day had gathered at the two looks: two arrays (days,)."""
    lot = seen.lot
    heat = shelf_heat(species, lot, shelf.looks_by_lot.get(lot.lot, ()))
    laid = np.array(
        [heat.at(lot.laid_from + timedelta(days=n)) for n in range((lot.laid_to - lot.laid_from).days + 1)]
    )
    first, later = (np.log(np.maximum(heat.at(day) - laid, 1e-9)) for day in (seen.without, seen.with_eyes))
    return first, later
