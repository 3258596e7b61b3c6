"""From when to when a lot may go: lots, places and days in, first and last safe days by service and packing
out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from typing import NamedTuple

import numpy as np

from shipping.options.journey import ASKING, Ints, bit
from shipping.options.lot_days import lot_days
from shipping.options.option import Destination
from shipping.options.option_factory import Reckoner
from shipping.options.ride_arrays import RideTable, counted, ride_table
from shipping.options.shared_factors import WeekFactors
from shipping.tables.shelf import Shelf
from shipping.words.units import weekday

#: The last safe day is looked for within so many days.
DAYS_AHEAD = 60
#: Eggs ordered, unless the question says otherwise.
EGGS_ASKED = 20

_CLOSED, _CLOSED_DAY = bit("closed"), bit("closed-day")


@dataclass(frozen=True, slots=True)
class SafeDays:
    """From when to when a lot may go by a service in a packing; ``until`` None with ``no_last_day``: nothing
    ends it.
    """

    to: str
    service: str
    packing: str
    from_: date
    until: date | None
    no_last_day: bool

    def as_json(self) -> dict[str, object]:
        return {
            "to": self.to,
            "service": self.service,
            "packing": self.packing,
            "from": self.from_.isoformat(),
            "until": self.until.isoformat() if self.until else None,
            "no_last_day": self.no_last_day,
        }


class DayAsked(NamedTuple):
    """A service and a packing on a day: does it pass, and does more than a closed day speak against it?"""

    service: str
    packing: str
    day: date
    passes: bool
    ends: bool


def safe_days(to: str, every: Iterable[DayAsked]) -> tuple[SafeDays, ...]:
    """The first and last passing day by service and packing, the longest first."""
    passing: dict[tuple[str, str], list[date]] = {}
    ended: dict[tuple[str, str], date] = {}
    for service, packing, day, passes, ends in every:
        key = (service, packing)
        if passes:
            passing.setdefault(key, []).append(day)
        elif ends:
            ended[key] = max(ended.get(key, date.min), day)
    found = []
    for (service, packing), ok in passing.items():
        endless = ended.get((service, packing), date.min) < max(ok)
        found.append(SafeDays(to, service, packing, min(ok), None if endless else max(ok), endless))
    return tuple(sorted(found, key=lambda s: (-(s.until or date.max).toordinal(), s.service, s.packing)))


def days_ahead(shelf: Shelf) -> tuple[date, ...]:
    """The breeder's days to post on which a last safe day is looked for."""
    days = (shelf.today + timedelta(days=n) for n in range(DAYS_AHEAD + 1))
    return tuple(day for day in days if weekday(day) in shelf.settings.plan.dispatch_days)


@dataclass(eq=False)
class SafeRoutes:
    """Safe days of many lots to some places, without their options in words; what lots share is reckoned
    once.
    """

    reckoner: Reckoner
    places: tuple[Destination, ...]

    @cached_property
    def _factors(self) -> WeekFactors:
        factors = WeekFactors(self.reckoner, days_ahead(self.reckoner.shelf))
        factors.also_to(self.places)
        return factors

    def of(self, lot: str, to: tuple[Destination, ...]) -> tuple[SafeDays, ...]:
        """What `can_it_ship.ask` says are the safe days of a lot, to some of the places."""
        shelf, factors = self.reckoner.shelf, self._factors
        own = lot_days(shelf, lot, factors.days)
        own = replace(own, codes=own.codes & ~_CLOSED)  # the rules speak elsewhere
        journeys = factors.journeys.to(to)
        # eggs are counted on closed days too, so that too few of them end what they would have ended
        every_day = replace(journeys, codes=journeys.codes & ~(_CLOSED_DAY | ASKING))
        rides = ride_table(shelf.packings, [own], every_day, factors)
        codes = self._codes(rides)
        codes |= np.where(codes < 0, 0, (journeys.codes & ~ASKING)[:, None])
        return tuple(
            safe for place in to for safe in safe_days(place.country, self._asked(rides, codes, place))
        )

    def _codes(self, rides: RideTable) -> Ints:
        """What speaks against each ride of one lot but its day (J, P); -1: its packing does not take it."""
        codes, at = np.array(rides.codes[0]), (rides.leg, rides.packing)
        promise = self.reckoner.shelf.settings.plan.promise
        count = counted(rides, np.arange(rides.lot.size), EGGS_ASKED, "usual", promise)
        units = np.maximum(1, -(-np.where(count.pack > 0, count.pack, EGGS_ASKED) // rides.each_most))
        codes[at] |= count.codes | self._factors.post(rides.packing, units, rides.leg, rides.journeys)
        return np.asarray(codes)

    def _asked(self, rides: RideTable, codes: Ints, place: Destination) -> Iterator[DayAsked]:
        """Each service that a parcel is posted by, in each packing that takes the lot, on each day."""
        here = rides.journeys.at[place]
        for leg, of_leg in zip(rides.journeys.legs[here], codes[here].tolist(), strict=True):
            for packing, code in zip(rides.packings, of_leg, strict=True):
                if code >= 0 and leg.service.serves(None):
                    ends = bool(code & ~_CLOSED_DAY)
                    yield DayAsked(leg.service.service, packing.packing, leg.day, not code, ends)
