"""What eggs gather and what is due on one trip, day by day in plain words: what many trips at once are held
against.
"""

from __future__ import annotations

import math

import numpy as np

from shipping.eggs.clock import Clock
from shipping.eggs.hatching import (
    Floats,
    hatch_shares_by_day,
    held_degrees,
    hours_of,
    mean_effective_degrees,
    trip_nodes,
)
from shipping.post.foam_box import Holding
from shipping.tables.rows.species import Species


def trip_degrees(
    low_c: Floats, high_c: Floats, species: Species, kept_at_c: float, holds: Holding, spread_c: float
) -> Floats:
    """Effective degree-days gathered by each day on the way, at each node: (.., days + 1, nodes).

    ``low_c``, ``high_c``: the span outside of each day from the dispatch day on (days,) [C].
    ``kept_at_c``: the inside at hand-over [C]. ``spread_c``: of the whole trip's warmth [C].

    Notes
    -----
    Sum over the hours, each at its middle, of ``gbar(low', high') / 24``; low' and high' are the inside when
    the outside stands at the shifted low and high: ``out + (kept - out) * lead(t)``.
    """
    shift, _ = trip_nodes(spread_c)
    low, high = low_c[:, None] + shift, high_c[:, None] + shift
    days = mean_effective_degrees(low, high, species)
    warm_days = min(low_c.size, math.ceil(holds.gone_h / 24.0))
    if warm_days:
        leads = holds.leads(hours_of(np.arange(warm_days)))
        days[:warm_days] = held_degrees(low[:warm_days], high[:warm_days], leads, species, kept_at_c)
    gathered = np.zeros((days.shape[0] + 1, shift.size))
    np.cumsum(days, axis=0, out=gathered[1:])
    return gathered


def hatch_shares(clock: Clock, x_dispatch: float, gathered: Floats) -> Floats:
    """The share of eggs whole at dispatch that is due where a parcel has ``gathered`` so much [C-d] (n,)."""
    same_day = np.zeros(1, dtype=np.int64)
    return hatch_shares_by_day(clock, np.array([x_dispatch]), same_day, gathered[None])[0]
