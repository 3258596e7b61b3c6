"""A leg, a lot on a day, a ride and an option: what the week's questions are made of."""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.clock import Clock
from shipping.eggs.hatching import HatchRisk, hatch_risk, trip_nodes
from shipping.eggs.lot_forecast import LotForecast
from shipping.eggs.oxygen import air_hours
from shipping.post.foam_box import Holding
from shipping.post.transit import Arrivals
from shipping.post.warmth import ParcelWarmth, TripWarmth, forecast_to_look_at, rows_that_decide
from shipping.tables.country_parts import subdivision_code
from shipping.tables.rows.lots import DAMP_MEDIA
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.services import Service
from shipping.tables.rows.weather import Disruption
from shipping.words.reasons import ASKS, BLOCKS, Note, Reason
from shipping.words.units import rounded

Floats = NDArray[np.float64]
#: With such a doubt about the lot, what becomes of its eggs on the way would be made up.
DOUBTS = frozenset({"too-old", "overdue", "misdated", "past-wetting"})
#: No draw is smaller, unless the whole line is.
LEAST_DRAW = 5


@dataclass(frozen=True, slots=True)
class Destination:
    """Where a parcel goes, as far as the journey cares; ``town`` only where its climate is listed.

    ``subdivision`` is the part of the country whose rules, weather and delays hold, as the order names it or
    its postcode tells; ``calendar_part`` that whose public holidays hold, only as named. "" where not sure.
    """

    country: str
    subdivision: str = ""
    town: str = ""
    calendar_part: str = ""

    @property
    def place(self) -> tuple[str, str]:
        """Its country and the part of it."""
        return (self.country, self.subdivision)

    @classmethod
    def of(cls, country: str, part: str) -> Destination:
        """A place that is asked about by its codes or names, without an address."""
        code = subdivision_code(country, part)
        return cls(country, code, calendar_part=code)


@dataclass(frozen=True, eq=False)
class Leg:
    """One service to one destination from one day: when it arrives, what it feels, and why it may not
    start.

    A journey has an outcome for each arrival date and each node of its warmth, date by date: ``days`` on the
    way (n,) and ``chances`` (n,) are of outcomes. ``disruptions`` are the rows that it meets.
    """

    service: Service
    destination: Destination
    day: date
    arrivals: Arrivals
    trip: TripWarmth
    spread_c: float
    disruptions: tuple[Disruption, ...]
    reasons: tuple[Reason, ...]
    notes: tuple[Note, ...] = ()

    @property
    def warmth(self) -> ParcelWarmth:
        """The whole trip's warmth, to the 95 % arrival."""
        return self.trip.whole

    @property
    def longer_d(self) -> int:
        """Working days by which disruptions make the way longer."""
        return sum(row.days for row in self.disruptions)

    @cached_property
    def date_days(self) -> NDArray[np.int64]:
        """Whole days on the way to each arrival date (dates,)."""
        return np.array([(arrival - self.day).days for arrival in self.arrivals.dates], dtype=np.int64)

    @cached_property
    def days(self) -> NDArray[np.int64]:
        return np.repeat(self.date_days, trip_nodes(self.spread_c)[1].size)

    @cached_property
    def chances(self) -> Floats:
        return np.outer(self.arrivals.chances, trip_nodes(self.spread_c)[1]).ravel()

    @property
    def this_week(self) -> tuple[Note, ...]:
        """The rows for just these days that decided it; what is collected in person feels no way."""
        return rows_that_decide(self.trip, self.disruptions, not self.service.is_collection)

    @property
    def forecast_wanted(self) -> tuple[Note, ...]:
        """That the forecast is to be looked at before hand-over, where no row for just these days says it."""
        if self.service.is_collection:
            return ()
        return forecast_to_look_at(self.trip, self.destination.country, self.arrivals.p95)

    @property
    def asks(self) -> tuple[Reason, ...]:
        """What a person has to answer before anything may go by it."""
        return tuple(reason for reason in self.reasons if reason.code in ASKS)

    @property
    def blocks(self) -> tuple[Reason, ...]:
        """Why nothing may go by it whatever anybody answers."""
        return tuple(reason for reason in self.reasons if reason.code not in ASKS)


@dataclass(frozen=True, eq=False)
class LotDay:
    """One lot on one day: what is free, by which clock it is judged, and why nothing of it may go."""

    forecast: LotForecast
    day: date
    free: int
    look_first: bool
    share_eyed: float
    reasons: tuple[Reason, ...]

    @property
    def clock(self) -> Clock:
        """The clock by which eggs of the lot that are packed on the day are judged."""
        return self.forecast.clock_with_eyes(self.day) if self.look_first else self.forecast.clock


@dataclass(frozen=True, eq=False)
class Ride:
    """A lot in a packing on a leg: h and v by outcome, and why the packing will not do, whatever the count.

    ``gathered``: degree-days by outcome [C-d] (n,). ``holds``: how its box holds the warmth.
    """

    lot_day: LotDay
    packing: Packing
    leg: Leg
    holds: Holding
    gathered: Floats
    h: Floats
    v: Floats
    h_per_egg: float
    v_per_egg: float
    reasons: tuple[Reason, ...]

    @cached_property
    def profile(self) -> tuple[bytes, bytes, float]:
        """What the overpack depends on, besides the count ordered."""
        return (self.v.tobytes(), self.leg.chances.tobytes(), self.packing.kappa)

    @cached_property
    def most_by_any(self) -> int:
        """The most eggs for which the chance that any hatches stays under the packing's ceiling."""
        if self.packing.any_ceiling >= 1:
            return 10**9
        ceiling = self.packing.any_ceiling
        return bisect_left(range(1, 4096), True, key=lambda eggs: self.risk(eggs).any_egg > ceiling)

    @property
    def is_known(self) -> bool:
        """Can its shares be told, or must somebody look at the lot first?"""
        return DOUBTS.isdisjoint(reason.code for reason in self.lot_day.reasons)

    def risk(self, eggs: int) -> HatchRisk:
        return hatch_risk(self.h, self.leg.chances, eggs)

    def hours_of_air(self, eggs: int, salt_g_l: float) -> float | None:
        """Hours of oxygen a unit with ``eggs`` holds; None of no tube, or of blank volumes."""
        packing = self.packing
        if not packing.is_a.is_sealed or packing.volume_ml is None or packing.water_ml is None:
            return None
        species = self.lot_day.forecast.species
        warm = self.leg.warmth.high_c
        return air_hours(packing.volume_ml, packing.water_ml, eggs, warm, species.o2_ug_egg_h, salt_g_l)

    @property
    def h_at_p95(self) -> float:
        """The share hatched by the 95 % arrival on the warmest trip."""
        late = max(n for n, day in enumerate(self.leg.arrivals.dates) if day <= self.leg.arrivals.p95)
        nodes = self.h.size // len(self.leg.arrivals.dates)
        return float(self.h[(late + 1) * nodes - 1])

    @property
    def hours_to_p95(self) -> float:
        """Hours from dispatch to the 95 % arrival [h], by whole days."""
        return 24.0 * (self.leg.arrivals.p95 - self.leg.day).days


@dataclass(frozen=True, slots=True)
class Option:
    """One way to send a line from one lot; it passes where nothing speaks against it.

    ``pack`` is 0 where no count keeps the promise. ``blocks`` are reasons of the lot, the journey and the
    packing; ``asks`` those of the order, the rules and the operator.
    """

    ride: Ride
    ordered: int
    pack: int
    p_enough: float
    h_any: float
    units: int
    blocks: tuple[Reason, ...]
    asks: tuple[Reason, ...]

    def __post_init__(self) -> None:
        """Raises LookupError if a reason's code is named neither in `BLOCKS` nor in `ASKS`."""
        for reasons, known in ((self.blocks, BLOCKS), (self.asks, ASKS)):
            for reason in reasons:
                if reason.code not in known:
                    raise LookupError(f"an option does not know where the reason {reason.code!r} belongs")

    @property
    def passes(self) -> bool:
        return not (self.blocks or self.asks)

    @property
    def reasons(self) -> tuple[Reason, ...]:
        return self.asks + self.blocks

    def figures(self) -> dict[str, object]:
        """What it comes to, as JSON carries it; of a lot to be looked at first no count and no chance."""
        ride, leg = self.ride, self.ride.leg
        shares = {
            "h_per_egg": ride.h_per_egg,
            "h_any": self.h_any,
            "v_per_egg": ride.v_per_egg,
            "p_enough": self.p_enough,
        }
        return {
            "dispatch_on": leg.day.isoformat(),
            "arrive": leg.arrivals.spread.as_json(),
            "pack": (self.pack or None) if ride.is_known else None,
            **{name: rounded(share) if ride.is_known else None for name, share in shares.items()},
        }


def held_share(packing: Packing, forecast: LotForecast) -> float:
    """The share of hatching on the way that a packing holds back: all, of annuals in a damp medium."""
    is_damp = forecast.species.is_damp and packing.travels_in(forecast.lot.medium) in DAMP_MEDIA
    return 1.0 if is_damp else packing.held


def units_for(packing: Packing, eggs: int) -> int:
    """Units that hold so many eggs."""
    return max(1, math.ceil(eggs / packing.eggs_max))
