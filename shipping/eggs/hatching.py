"""Hatching on the way: a lot's clock, a packing's hold and a route's dates in, shares hatched by each date
out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.clock import Clock

Floats = NDArray[np.float64]


def hatch_shares(clock: Clock, x_dispatch: float, gathered: Floats) -> Floats:
    """The share of eggs whole at dispatch that is due where the parcel has ``gathered`` so much [C-d]: (n,),
    0 to 1.

    ``x_dispatch`` is what the shelf has gathered by the dispatch day [C-d]. Times ``1 - held`` of the packing
    it is h.

    Notes
    -----
    Weight with ``a(dispatch) < K <= a(r)`` over weight with ``K > a(dispatch)``; for eggs kept damp, which
    all are whole, over all the weight.
    """
    start = x_dispatch if clock.damp else max(x_dispatch, clock.alive_at)
    at = np.concatenate(([start], x_dispatch + gathered))
    beyond = clock.weight_beyond(np.maximum(at, start))
    whole = clock.total if clock.damp else float(beyond[0])
    if whole <= 0:
        return np.ones(gathered.size)
    return np.asarray(np.clip((beyond[0] - beyond[1:]) / whole, 0.0, 1.0))


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
