"""Hatching on the way: a lot's clock, a box, a route's dates in; what eggs gather, shares hatched out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.clock import Clock
from shipping.tables.rows.packings import PackingKind
from shipping.tables.rows.species import Species

Floats = NDArray[np.float64]
#: Nodes at which the unknown warmth of one trip is taken (the model's section 4).
NODES = 7
#: Spans narrower than this are one temperature [C].
_NARROW_C = 1e-6
#: So many days are reckoned hour by hour at once: as many as stay in the processor's cache.
DAYS_AT_ONCE = 300


@lru_cache(maxsize=64)
def trip_nodes(spread_c: float) -> tuple[Floats, Floats]:
    """How much warmer or cooler a whole trip is [C], and the weight of each such node: (n,), rising.

    Notes
    -----
    Gauss-Hermite nodes of a normal of spread ``spread_c``; one node of 0 C where that is 0.
    """
    if spread_c <= 0:
        return np.zeros(1), np.ones(1)
    nodes, weights = np.polynomial.hermite.hermgauss(NODES)
    return nodes * math.sqrt(2.0) * spread_c, weights / weights.sum()


def mean_effective_degrees(low_c: Floats, high_c: Floats, species: Species) -> Floats:
    """The mean of g over temperatures spread evenly from low to high [C-d a day]: same shape as both.

    Notes
    -----
    g is piecewise linear, so the mean is exact: the rise of its integral over the width of the span. A span
    without width has g of its one temperature.
    """
    width = high_c - low_c
    narrow = width < _NARROW_C
    most = math.inf if species.keep_max_c is None else species.keep_max_c
    lower, upper = (np.minimum(np.maximum(side, species.zero_c), most) for side in (low_c, high_c))
    rise = (upper - lower) * ((upper + lower) / 2 - species.zero_c)
    if most < math.inf:
        rise += (most - species.zero_c) * (np.maximum(high_c, most) - np.maximum(low_c, most))
    if not narrow.any():
        return np.asarray(rise / width)
    middle = np.minimum(np.maximum((low_c + high_c) / 2, species.zero_c), most) - species.zero_c
    return np.where(narrow, middle, rise / np.where(narrow, 1.0, width))


def held_degrees(low_c: Floats, high_c: Floats, leads: Floats, species: Species, kept_at_c: float) -> Floats:
    """The mean over the hours of some days of g inside a box that holds warmth [C-d a day]: (n, nodes).

    ``low_c``, ``high_c``: the span outside (n, nodes) [C]. ``leads``: the share of the lead over the outside
    that is left in each hour, falling (n, hours). ``kept_at_c``: the inside at hand-over [C].

    Notes
    -----
    On a day on which the inside never leaves the sloping part of g, nor the flat ones, the mean over the
    hours is that of the mean hour; only other days are reckoned hour by hour.
    """
    most = math.inf if species.keep_max_c is None else species.keep_max_c
    ends = [[out + (kept_at_c - out) * leads[:, n, None] for n in (0, -1)] for out in (low_c, high_c)]
    coldest, hottest = np.minimum(*ends[0]), np.maximum(*ends[1])
    middle = (low_c + high_c) / 2
    sloping = middle + (kept_at_c - middle) * leads.mean(axis=1, keepdims=True) - species.zero_c
    found = np.where(
        coldest >= most, most - species.zero_c, np.where(hottest <= species.zero_c, 0.0, sloping)
    )
    warm = hottest > most
    by_hours = (hottest > species.zero_c) & (coldest < most) & ((coldest < species.zero_c) | warm)
    for some, g_mean in ((by_hours & ~warm, _over_cool_hours), (by_hours & warm, _over_hours)):
        row, node = np.nonzero(some)
        for start in range(0, row.size, DAYS_AT_ONCE):
            at = row[start : start + DAYS_AT_ONCE], node[start : start + DAYS_AT_ONCE]
            below, above = (side[at][:, None] - kept_at_c for side in (low_c, high_c))
            found[at] = g_mean(below, above, 1.0 - leads[at[0]], species, kept_at_c)
    return found


def _over_hours(below: Floats, above: Floats, lost: Floats, species: Species, kept_at_c: float) -> Floats:
    """The mean over hours of g inside a box (n,): of the lead that what is kept at so much has over outsides
    ``below`` and ``above`` it by so much (n, 1) [C], the share ``lost`` by each hour (n, hours) is gone.
    """
    low, high = kept_at_c + below * lost, kept_at_c + above * lost
    return np.asarray(mean_effective_degrees(low, high, species).mean(axis=1))


def _over_cool_hours(
    below: Floats, above: Floats, lost: Floats, species: Species, kept_at_c: float
) -> Floats:
    """`_over_hours` where no hour is on the upper flat of g: by half the rise of its square, in place."""
    width = above - below
    if float((width * lost[:, :1]).min()) < _NARROW_C:
        return _over_hours(below, above, lost, species, kept_at_c)
    low, high = below * lost, above * lost
    for side in (low, high):
        side += kept_at_c - species.zero_c
        np.maximum(side, 0.0, out=side)
    rise = high - low
    rise *= np.add(high, low, out=high)
    rise /= lost
    return np.asarray(rise.mean(axis=1) / (2 * width[:, 0]))


def hours_of(days: NDArray[np.int64]) -> Floats:
    """The middles of the 24 hours of some days on the way [h after hand-over]: (n, 24)."""
    return np.asarray(24.0 * days[:, None] + np.arange(24) + 0.5)


def hatch_shares_by_day(clock: Clock, x_dispatch: Floats, day: NDArray[np.int64], gathered: Floats) -> Floats:
    """The share of eggs whole at dispatch that is due where parcels have ``gathered`` so much [C-d]: (n, m),
    0 to 1; times ``1 - held`` of the packing it is h.

    Rows are of parcels of several dispatch days: ``day`` is the number of each row's (n,) among
    ``x_dispatch`` (days,), what the shelf has gathered by each [C-d].

    Notes
    -----
    Weight with ``a(dispatch) < K <= a(r)`` over weight with ``K > a(dispatch)``; for eggs kept damp, which
    all are whole, weight with ``K <= a(r)`` over all of it: those that are ready already are the likeliest to
    hatch.
    """
    start = x_dispatch if clock.damp else np.maximum(x_dispatch, clock.alive_at)
    whole = np.full(start.size, clock.total) if clock.damp else clock.weight_beyond(start)
    left = clock.weight_beyond(np.maximum(x_dispatch[day, None] + gathered, start[day, None]))
    due = np.subtract(whole[day, None], left, out=left)
    due /= np.where(whole > 0, whole, 1.0)[day, None]
    np.clip(due, 0.0, 1.0, out=due)
    due[(whole <= 0)[day]] = 1.0
    return np.asarray(due)


@dataclass(frozen=True, slots=True)
class HatchRisk:
    """``per_egg``: mean share hatched on the way. ``any_egg``: chance that any of the eggs packed does."""

    per_egg: float
    any_egg: float


def hatch_risk(h: Floats, chances: Floats, eggs: int) -> HatchRisk:
    """Both figures of a packing's ceiling from h(r) (dates,) and the chances of the dates (dates,)."""
    return HatchRisk(float(np.dot(h, chances)), float(any_hatched(h, chances, eggs)))


def any_hatched(h: Floats, chances: Floats, eggs: NDArray[np.int64] | int) -> Floats:
    """The chance that any of so many eggs hatches, from h(r) (..., dates) and the chances of the dates."""
    missed = np.log1p(-np.minimum(h, 1.0 - 1e-16))
    return np.asarray(np.vecdot(-np.expm1(eggs * missed), chances))


def is_barred(kind: PackingKind, stage: str, is_overdue: bool) -> bool:
    """May these eggs not go into this kind of packing, whatever its ceiling allows?

    Notes
    -----
    Jolts, pressure and stale water make eggs near their time hatch early (common practice, no source), and a
    fry hatched in a sealed tube dies.
    """
    return kind.is_sealed and (stage == "ready" or is_overdue)
