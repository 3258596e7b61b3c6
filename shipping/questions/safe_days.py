"""From when to when a lot may go: lots, places and days in, first and last safe days by service and packing
out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

import numpy as np

from shipping.options.journey import ASKING, Ints, bit
from shipping.options.lot_days import lot_days
from shipping.options.option import Destination
from shipping.options.option_factory import Reckoner
from shipping.options.ride_arrays import RideTable, WeekFactors, counted, ride_table
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
        factors = WeekFactors(self.reckoner, days_ahead(self.reckoner.shelf), passing_only=True)
        factors.also_to(self.places)
        return factors

    def of(
        self, lot: str, to: tuple[Destination, ...], service: str | None = None, eggs: int = EGGS_ASKED
    ) -> tuple[SafeDays, ...]:
        """The first and last days on which so many eggs of a lot may go to some of the places, by each
        service (or the one named) in each packing, the longest first.

        The rules and the operators' answers speak elsewhere.
        """
        shelf, factors = self.reckoner.shelf, self._factors
        own = lot_days(shelf, lot, factors.days)
        own = replace(own, codes=own.codes & ~_CLOSED)
        journeys = factors.journeys.to(to)
        # eggs are counted on closed days too, so that too few of them end what they would have ended
        every_day = replace(journeys, codes=journeys.codes & ~(_CLOSED_DAY | ASKING))
        rides = ride_table(shelf.packings, [own], every_day, factors)
        codes = self._codes(rides, eggs)
        codes |= np.where(codes < 0, 0, (journeys.codes & ~ASKING)[:, None])
        return tuple(safe for place in to for safe in self._safe_days(rides, codes, place, service))

    def _codes(self, rides: RideTable, eggs: int) -> Ints:
        """What speaks against each ride of one lot but its day (J, P); -1: its packing does not take it."""
        codes, at = np.array(rides.codes[0]), (rides.leg, rides.packing)
        promise = self.reckoner.shelf.settings.plan.promise
        count = counted(rides, np.arange(rides.lot.size), eggs, "usual", promise)
        units = np.maximum(1, -(-np.where(count.pack > 0, count.pack, eggs) // rides.each_most))
        codes[at] |= count.codes | self._factors.post(rides.packing, units, rides.leg, rides.journeys)
        return np.asarray(codes)

    def _safe_days(self, rides: RideTable, codes: Ints, to: Destination, named: str | None) -> list[SafeDays]:
        """The safe days to one place; a closed day ends nothing."""
        here, days, found = rides.journeys.at[to], self._factors.days, list[SafeDays]()
        services = np.array([leg.service.service for leg in rides.journeys.legs[here]])
        for service in self.reckoner.services(to.country, named):
            own = services == service.service
            day, says = rides.journeys.day[here][own], codes[here][own]
            for packing, code in zip(rides.packings, says.T, strict=True):
                passing, ended = day[code == 0], day[(code > 0) & (code != _CLOSED_DAY)]
                if passing.size:
                    first, last = int(passing.min()), int(passing.max())
                    endless = int(ended.max(initial=-1)) < last
                    until = None if endless else days[last]
                    way = (to.country, service.service, packing.packing)
                    found.append(SafeDays(*way, days[first], until, endless))
        return sorted(found, key=lambda s: (-(s.until or date.max).toordinal(), s.service, s.packing))
