"""The journey: service, destination and dispatch day in, chances of arrival dates out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property, lru_cache
from itertools import compress

import numpy as np
from numpy.typing import NDArray

from shipping.post.calendar import holiday_name, is_hand_over_day, is_post_weekday, nth_delivery_days
from shipping.tables.country_parts import nearness, serves
from shipping.tables.rows.services import Service
from shipping.tables.rows.weather import Disruption
from shipping.tables.shelf import Shelf
from shipping.words.three_point import Dates, ThreePoint, whole_days

Floats = NDArray[np.float64]
#: A share counts as reached when it is short of it by rounding only.
_ROUNDING = 1e-12
#: Working days, days held at a border, the chance of that: all that a route's chances rest on.
_Route = tuple[ThreePoint, ThreePoint | None, float]


def services_to(shelf: Shelf, country: str, part: str = "") -> tuple[Service, ...]:
    """For each service that goes there, the row that names the place most closely; sorted by the service's
    name.

    Of two rows that name it equally closely, the slower one: nothing is promised on a reading we cannot
    decide.
    """
    closest: dict[str, tuple[tuple[float, ...], Service]] = {}
    near = nearness(country, part, shelf.zones_of(country))
    for row in shelf.services:
        nearest = serves(row.to, near)
        rank = (nearest, row.late_d, row.usual_d or 0.0, row.border_share, row.exposed_h)
        if nearest and (row.service not in closest or (rank, row.to) > (closest[row.service][0], row.to)):
            closest[row.service] = (rank, row)
    return tuple(closest[name][1] for name in sorted(closest))


@dataclass(frozen=True, eq=False)
class Arrivals:
    """Dates on which a parcel may arrive, rising, and the chance of each (n,), which sum to one."""

    dates: tuple[date, ...]
    chances: Floats

    def quantile(self, share: float) -> date:
        """The first date by which at least ``share`` has arrived."""
        reached = np.flatnonzero(np.cumsum(self.chances) >= share - _ROUNDING)
        return self.dates[int(reached[0])] if reached.size else self.dates[-1]

    @property
    def spread(self) -> Dates:
        """The first dates by which 5, 50 and 95 % have arrived."""
        return Dates(self.p05, self.p50, self.p95)

    @property
    def p05(self) -> date:
        return self.quantile(0.05)

    @property
    def p50(self) -> date:
        return self.quantile(0.50)

    @cached_property
    def p95(self) -> date:
        return self.quantile(0.95)


@lru_cache(maxsize=4096)
def working_day_chances(days: ThreePoint, border: ThreePoint | None, border_share: float) -> Floats:
    """Chances of arriving on working day 0, 1, 2 .. [array (n,), summing to one; shared, not writable].

    Notes
    -----
    ``(1 - border_share) * base + border_share * (base convolved with the border's days)``.
    """
    base = whole_days(days)
    held = base if border is None else np.convolve(base, whole_days(border))
    chances = np.zeros(held.size)
    chances[: base.size] += (1.0 - border_share) * base
    chances += border_share * held
    chances /= chances.sum()
    chances.setflags(write=False)
    return chances


def arrivals(
    service: Service, dispatch_on: date, country: str, subdivision: str = "", *, longer_d: int = 0
) -> Arrivals:
    """When a parcel handed over on ``dispatch_on`` may arrive; dates without any chance are left out.

    ``longer_d``: working days by which what disrupts the post makes every journey longer.

    Notes
    -----
    It arrives on the N-th delivery day at the destination strictly after the dispatch day; N = 0 is the same
    day (collected in person).
    """
    route = (service.working_days, service.border_days, service.border_share)
    return _arrivals(route, dispatch_on, country, subdivision, service.saturday, longer_d)


@lru_cache(maxsize=16384)
def _arrivals(
    route: _Route, dispatch_on: date, country: str, subdivision: str, saturday: bool, longer_d: int
) -> Arrivals:
    all_chances = np.concatenate((np.zeros(longer_d), working_day_chances(*route)))
    later = nth_delivery_days(dispatch_on, all_chances.size - 1, country, subdivision, saturday)
    possible = all_chances > 0
    chances = all_chances[possible]
    chances.setflags(write=False)
    return Arrivals(tuple(compress((dispatch_on, *later), possible.tolist())), chances)


def disruptions_of(
    shelf: Shelf,
    service: Service,
    dispatch_on: date,
    country: str,
    subdivision: str = "",
    calendar_part: str = "",
) -> tuple[Disruption, ...]:
    """The rows of ``disruptions`` that a parcel meets: in force on a day from dispatch to its 95 % arrival.

    That arrival is as it would be without any such row, by the public holidays of ``calendar_part``. What is
    collected in person meets only rows that name its service.
    """
    rows = [row for row in shelf.disruptions if _concerns(shelf, row, service, country, subdivision)]
    if not rows:
        return ()
    last = arrivals(service, dispatch_on, country, calendar_part).p95
    return tuple(row for row in rows if row.from_ <= last and dispatch_on <= row.until)


def takes_in(service: Service, day: date, shelf: Shelf, country: str, subdivision: str = "") -> bool:
    """Is it a day of hand-over, and does no row of ``disruptions`` on the way stop the service?"""
    if not is_hand_over_day(day, service, shelf.settings.home):
        return False
    return not any(row.stopped for row in disruptions_of(shelf, service, day, country, subdivision))


def _concerns(shelf: Shelf, row: Disruption, service: Service, country: str, subdivision: str) -> bool:
    if row.service is None and service.is_collection:
        return False
    named = row.service is None or row.service == service.service
    return named and serves(row.to, nearness(country, subdivision, shelf.zones_of(country))) > 0


@dataclass(frozen=True, slots=True)
class Holiday:
    """A public holiday of a place on which the post would deliver otherwise."""

    on: date
    name: str
    country: str


def moved_by(
    service: Service, dispatch_on: date, country: str, subdivision: str = "", *, longer_d: int = 0
) -> tuple[Holiday, ...]:
    """Each public holiday that takes a delivery day between dispatch and the 95 % date."""
    last = arrivals(service, dispatch_on, country, subdivision, longer_d=longer_d).p95
    found: list[Holiday] = []
    day = dispatch_on + timedelta(days=1)
    while day <= last:
        name = holiday_name(day, country, subdivision)
        if name and is_post_weekday(day, country, service.saturday):
            found.append(Holiday(day, name, country))
        day += timedelta(days=1)
    return tuple(found)
