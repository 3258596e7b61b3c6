"""How long a service really takes: recorded working days in, the three points nearest to them out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta
from functools import lru_cache

import numpy as np

from shipping.learning.estimate import FittedPoints, Floats, covariance
from shipping.post.calendar import is_delivery_day
from shipping.tables.country_parts import subdivision_code
from shipping.tables.rows.services import Service
from shipping.words.three_point import ThreePoint, whole_days

#: The table's own chances weigh as much as this many recorded parcels (assumed; the model's section 3).
PRIOR_PARCELS = 12.0
#: A parcel later than so many times the table's late day is a straggler: of so few that one in so many, or
#: one alone, is such, it tells of the tail and not of the usual days.
STRAGGLER, STRAGGLERS_AT_MOST = 2.0, 0.05
#: The narrowest side that is learned, in the log of days: a service is never learned to be exact.
NARROWEST = 0.02
#: How far apart the cost is looked at for the doubt about the logs.
STEP = 0.02


def working_days(sent_on: date, arrived_on: date, service: Service, country: str, region: str) -> int:
    """Delivery days at the destination after sending, up to the arrival; at least 1 by post."""
    days = _delivery_days(sent_on, arrived_on, service.saturday, country, region)
    return days if service.is_collection else max(1, days)


@lru_cache(maxsize=65536)
def _delivery_days(after: date, until: date, saturday: bool, country: str, region: str) -> int:
    subdivision = subdivision_code(country, region)
    days = (after + timedelta(days=n) for n in range(1, (until - after).days + 1))
    return sum(is_delivery_day(day, country, subdivision, saturday) for day in days)


def day_counts(days: Sequence[int]) -> tuple[int, ...]:
    """How many parcels took 0, 1, 2 .. working days."""
    return tuple(int(count) for count in np.bincount(np.asarray(days, dtype=int))) if days else ()


def without_stragglers(service: Service, days: Sequence[int]) -> tuple[list[int], int]:
    """The working days without those of stragglers, and how many stragglers there were.

    Where more than `STRAGGLERS_AT_MOST` of the parcels (and more than one) are so late, they are the
    service's own days, and none is left out.
    """
    border = service.border_days
    late = STRAGGLER * (service.working_days.late + (border.late if border else 0.0))
    usual = [day for day in days if day <= late]
    left_out = len(days) - len(usual)
    if left_out > max(1.0, STRAGGLERS_AT_MOST * len(days)):
        return list(days), 0
    return usual, left_out


def fitted_days(service: Service, at_home: Sequence[int], abroad: Sequence[int]) -> FittedPoints:
    """The three points nearest to the posterior of the working days, from parcels at home and across a
    border, with the interval of each, as sure as the parcels and the table's weight together.

    Notes
    -----
    Posterior mean of a Dirichlet around the table's chances, which weigh `PRIOR_PARCELS` parcels:
    ``(12 prior + counts) / (12 + parcels)``. Of a parcel that may have been held at the border, only the
    share of its days that the base explains counts (expectation-maximisation; the chance and length of a hold
    stay the table's). The three points are those of least cross-entropy to it: what the posterior is, said in
    the table's own words; without parcels they are the table's own.
    """
    table = service.working_days
    if service.is_collection or not (at_home or abroad):
        return FittedPoints.of_table(table)
    posterior = _posterior(service, day_counts(at_home), day_counts(abroad))
    return _nearest(posterior, table, PRIOR_PARCELS + len(at_home) + len(abroad))


def _posterior(service: Service, at_home: tuple[int, ...], abroad: tuple[int, ...]) -> Floats:
    prior_days = whole_days(service.working_days)
    size = max(prior_days.size, len(at_home), len(abroad))
    prior, home, away = (_padded(values, size) for values in (prior_days, at_home, abroad))
    border = service.border_days
    total = PRIOR_PARCELS + home.sum() + away.sum()
    if border is None or not away.sum():
        return np.asarray((PRIOR_PARCELS * prior + home + away) / total)
    hold = service.border_share * _padded(whole_days(border)[:size], size)
    hold[0] += 1.0 - service.border_share
    base = prior
    for _ in range(200):
        better = (PRIOR_PARCELS * prior + home + _explained(base, hold, away)) / total
        settled = float(np.abs(better - base).max()) < 1e-10
        base = better / better.sum()
        if settled:
            break
    return base


def _explained(base: Floats, hold: Floats, seen: Floats) -> Floats:
    """Parcels by base day: those seen on each day, shared among the (base, hold) that add up to it."""
    shared = np.zeros(base.size)
    for day in np.flatnonzero(seen):
        ways = base[: day + 1] * hold[: day + 1][::-1]
        if ways.sum() > 0:
            shared[: day + 1] += seen[day] * ways / ways.sum()
        else:
            shared[day] += seen[day]
    return shared


def _padded(values: Sequence[float] | Floats, size: int) -> Floats:
    padded = np.zeros(size)
    padded[: len(values)] = values
    return padded


def _nearest(posterior: Floats, table: ThreePoint, weight: float) -> FittedPoints:
    from scipy.optimize import minimize
    from scipy.special import ndtr

    sides = (math.log(max(NARROWEST, side)) for side in (table.spread_below, table.spread_above))
    start = np.array([math.log(table.usual), *sides])
    edges = np.log(np.arange(1, posterior.size + 1) + 0.5)

    def cost(x: Floats) -> float:
        usual, below, above = x[0], math.exp(x[1]), math.exp(x[2])
        z = (edges - usual) / np.where(edges < usual, below, above)
        reached = ndtr(z)
        chances = np.diff(np.concatenate(([0.0], reached)))
        return -float(posterior[1:] @ np.log(np.maximum(chances[: posterior.size - 1], 1e-12)))

    limits = [(math.log(0.3), math.log(200.0)), (math.log(NARROWEST), 0.7), (math.log(NARROWEST), 0.7)]
    exact = {"xatol": 1e-5, "fatol": 1e-9, "maxiter": 2000}
    best = minimize(cost, start, method="Nelder-Mead", bounds=limits, options=exact)
    known = covariance(lambda x: weight * cost(x), best.x, STEP)
    return FittedPoints.of(best.x, known, float(best.fun))
