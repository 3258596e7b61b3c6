"""What eggs gather on the way: the span of each day, how the box holds its warmth and a species in,
effective degree-days by day and node of the trip's warmth out.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from shipping.post.foam_box import Holding
from shipping.tables.rows.species import Species

Floats = NDArray[np.float64]

#: Nodes at which the unknown warmth of one trip is taken (the model's section 4).
NODES = 7
#: Spans narrower than this are one temperature [C].
_NARROW_C = 1e-6


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
    middle = (low_c + high_c) / 2
    rise = _integral(high_c, species) - _integral(low_c, species)
    return np.where(narrow, _g(middle, species), rise / np.where(narrow, 1.0, width))


def _g(celsius: Floats, species: Species) -> Floats:
    most = math.inf if species.keep_max_c is None else species.keep_max_c
    return np.maximum(np.minimum(celsius, most) - species.zero_c, 0.0)


def _integral(celsius: Floats, species: Species) -> Floats:
    """The integral of g from far below zero up to a temperature."""
    g = _g(celsius, species)
    above = 0.0 if species.keep_max_c is None else np.maximum(celsius - species.keep_max_c, 0.0)
    return g * g / 2.0 + g * above


def trip_degrees(
    low_c: Floats, high_c: Floats, species: Species, kept_at_c: float, holds: Holding, spread_c: float
) -> Floats:
    """Effective degree-days gathered by each day on the way, at each node: (.., days + 1, nodes).

    ``low_c``, ``high_c``: the span outside of each day from the dispatch day on (.., days) [C].
    ``kept_at_c``: the inside at hand-over [C]. ``spread_c``: of the whole trip's warmth [C].

    Notes
    -----
    Sum over the hours, each at its middle, of ``gbar(low', high') / 24``; low' and high' are the inside when
    the outside stands at the shifted low and high: ``out + (kept - out) * lead(t)``.
    """
    shift, _ = trip_nodes(spread_c)
    low, high = low_c[..., None] + shift, high_c[..., None] + shift
    days = mean_effective_degrees(low, high, species)
    warm_days = min(low_c.shape[-1], math.ceil(holds.gone_h / 24.0))
    if warm_days:
        lead = holds.leads(np.arange(24 * warm_days) + 0.5).reshape(warm_days, 24, 1)
        inside = (side[..., :warm_days, None, :] for side in (low, high))
        below, above = (out + (kept_at_c - out) * lead for out in inside)
        days[..., :warm_days, :] = mean_effective_degrees(below, above, species).mean(axis=-2)
    gathered = np.zeros((*days.shape[:-2], days.shape[-2] + 1, shift.size))
    np.cumsum(days, axis=-2, out=gathered[..., 1:, :])
    return gathered
