"""Alive on arrival, per egg: losses, days and hatching in, survival by arrival date out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def alive_shares(
    days: NDArray[np.int64],
    h: Floats,
    *,
    loss_handling: float,
    loss_per_day: float,
    fry_live: float,
    fertile_share: float,
) -> Floats:
    """v(r), the chance that an egg packed arrives alive, by arrival date: (dates,), 0 to 1.

    ``days``: whole calendar days from dispatch to each date (dates,). ``h``: share hatched by then (dates,).
    Losses are rates [1 and 1/d], the others shares.

    Notes
    -----
    ``exp(-loss_handling - loss_per_day t) (1 - h (1 - fry_live)) fertile_share``.
    """
    kept = np.exp(-loss_handling - loss_per_day * days)
    return np.asarray(kept * (1.0 - h * (1.0 - fry_live)) * fertile_share)
