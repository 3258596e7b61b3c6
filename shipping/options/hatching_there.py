"""When the eggs of a ride hatch in the buyer's hands: what they gathered on the way in, days out."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from shipping.eggs.clock import effective_degrees
from shipping.eggs.lot_forecast import HORIZON_D, SHARE_ROUNDING
from shipping.options.option import Floats, Ride

#: The shares by which a buyer is told days.
SHARES = (0.05, 0.5, 0.95)


def hatch_at_buyer(ride: Ride) -> tuple[date | None, ...]:
    """The first days by which 5, 50 and 95 % of the eggs still whole on arrival hatch there; None: not within
    ten years, or not to be reckoned.

    Notes
    -----
    Arrived on r, an egg has gathered ``a(dispatch)`` and the trip's degree-days, and gathers
    ``g(incubation_c)`` on each day after it. Mixed over arrival dates and nodes of the trip's warmth, each
    weighed by the eggs whole then: those not yet due, and those due that the packing held back.
    """
    forecast, leg = ride.lot_day.forecast, ride.leg
    if not forecast.has_dates:
        return (None,) * len(SHARES)
    clock, at = ride.lot_day.clock, forecast.x(leg.day)
    start = max(at, clock.alive_at)
    whole_at_dispatch = float(clock.weight_beyond(start)[0])
    if whole_at_dispatch <= 0:
        return (None,) * len(SHARES)
    degrees = effective_degrees(forecast.species.incubation_c, forecast.species)
    here = 1.0 - ride.h
    total = float(np.dot(leg.chances, here))
    found: list[date | None] = [None] * len(SHARES)
    tried, upto = 0, 32
    while None in found and tried <= HORIZON_D and total > 0:
        days = np.arange(tried, upto)
        since = days[:, None] - leg.days[None, :]
        gathered = np.maximum(at + ride.gathered + np.maximum(since, 0) * degrees, start)
        whole = clock.weight_beyond(gathered) / whole_at_dispatch
        hatched = np.where(since >= 0, np.maximum(here - whole, 0.0), 0.0) @ leg.chances / total
        _first_days(found, hatched, leg.day + timedelta(days=tried))
        tried, upto = upto, 4 * upto
    return tuple(found)


def _first_days(found: list[date | None], hatched: Floats, start: date) -> None:
    """Fill in the first day on which each share is reached, where it is among these days."""
    for n, share in enumerate(SHARES):
        reached = hatched >= share - SHARE_ROUNDING
        if found[n] is None and reached.any():
            found[n] = start + timedelta(days=int(np.argmax(reached)))
