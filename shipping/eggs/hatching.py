"""Hatching on the way: a lot's clock, a packing's hold and a route's dates in; shares hatched by each date,
and what must never go into a sealed tube, out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.clock import Clock
from shipping.tables.rows.packings import PackingKind

Floats = NDArray[np.float64]


def hatch_shares(clock: Clock, x_dispatch: float, gathered: Floats) -> Floats:
    """The share of eggs whole at dispatch that is due where the parcel has ``gathered`` so much [C-d]: (n,),
    0 to 1.

    ``x_dispatch`` is what the shelf has gathered by the dispatch day [C-d]. Times ``1 - held`` of the packing
    it is h.
    """
    same_day = np.zeros(1, dtype=np.int64)
    return np.asarray(hatch_shares_by_day(clock, np.array([x_dispatch]), same_day, gathered[None])[0])


def hatch_shares_by_day(clock: Clock, x_dispatch: Floats, day: NDArray[np.int64], gathered: Floats) -> Floats:
    """`hatch_shares` for rows of parcels of several dispatch days at once, ``gathered`` (n, m): ``day`` is
    the number of each row's (n,) among ``x_dispatch`` (days,).

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
    """Both figures of a packing's ceiling from h(r) (dates,) and the chances of the arrival dates
    (dates,).
    """
    any_hatched = -np.expm1(eggs * np.log1p(-np.minimum(h, 1.0 - 1e-16)))
    return HatchRisk(float(np.dot(h, chances)), float(np.dot(any_hatched, chances)))


def is_near_hatching(stage: str, is_overdue: bool) -> bool:
    """Are these eggs near their time: the embryo fills the egg (`ready`), or the clock says they are past
    it?
    """
    return stage == "ready" or is_overdue


def is_barred(kind: PackingKind, stage: str, is_overdue: bool) -> bool:
    """May these eggs not go into this kind of packing, whatever its ceiling allows?

    Notes
    -----
    Jolts, pressure and stale water make eggs near their time hatch early (common practice, no source), and a
    fry hatched in a sealed tube dies.
    """
    return kind.is_sealed and is_near_hatching(stage, is_overdue)
