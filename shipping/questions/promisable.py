"""How many eggs of a population can be promised to a destination, day by day: what is left of lots in, counts
and reasons out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.overpack import most_eggs, most_promised
from shipping.options.option import LEAST_DRAW, Destination, Leg, Ride, units_for
from shipping.options.option_factory import KNOWN_RATE, Reckoner
from shipping.post.calendar import is_hand_over_day
from shipping.post.quote import quote
from shipping.post.restrictions import Ruling, media_of, ruling, says_yes
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.services import Service
from shipping.tables.shelf import Shelf
from shipping.week.left_out.remaining_stock import EggsLeft
from shipping.words.reasons import Reason

Kind = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Served:
    """What one service can carry on one day: the largest order it keeps the promise for, and from how many
    free eggs.
    """

    order: int
    eggs: int
    packing: str


@dataclass(frozen=True)
class Reach:
    """A population and a destination: what can be promised by day and service, and what a person must answer
    first.

    ``days``: day -> service -> what it can carry. ``asks``: what is to be answered before anything goes.
    ``against``: what stands in the way where no day is left; ``scarce``: but for the number of eggs it could
    go. ``closed``: a rule forbids it. ``last_open``: the last day asked about on which each service takes
    anything in; ``first_open``: the first on which any does.
    """

    to: Destination
    days: dict[date, dict[str, Served]]
    asks: tuple[Reason, ...]
    against: tuple[Reason, ...]
    closed: bool
    scarce: bool
    last_open: dict[str, date | None]
    first_open: date | None = None

    def order_on(self, day: date) -> int:
        """The largest order that can be promised for a day."""
        return max((served.order for served in self.days.get(day, {}).values()), default=0)

    def eggs_on(self, day: date) -> int:
        """Free eggs of the lots that can go that day."""
        return max((served.eggs for served in self.days.get(day, {}).values()), default=0)


@dataclass(frozen=True, slots=True)
class _Load:
    """One packing on one leg: the rides that will do, each with the eggs left for it, and the largest order
    by the promise.
    """

    packing: Packing
    medium: str
    rides: tuple[tuple[Ride, int], ...]
    order: int


@dataclass(eq=False)
class Reachable:
    """All questions of one offer; what legs alike share is reckoned once. It changes nothing but its own
    memory.
    """

    reckoner: Reckoner
    left: EggsLeft
    days: tuple[date, ...]
    least: int
    _loads: dict[tuple[object, ...], tuple[tuple[_Load, ...], tuple[Reason, ...]]] = field(
        default_factory=dict
    )
    _largest: dict[tuple[object, ...], int] = field(default_factory=dict)
    _fitting: dict[tuple[str, int, str, str], bool] = field(default_factory=dict)
    _open_days: dict[Kind, tuple[date, ...]] = field(default_factory=dict)
    _last_days: dict[tuple[str, Destination], date | None] = field(default_factory=dict)

    @property
    def shelf(self) -> Shelf:
        return self.reckoner.shelf

    def reach(self, kind: Kind, lots: tuple[Lot, ...], to: Destination) -> Reach:
        """What can be promised of a population to a destination on each of the days."""
        every = self.reckoner.services(to.country)
        services = tuple(one for one in every if says_yes(self.shelf, one)) or every
        media, asks, closed = self._rules(kind[0], lots, to)
        if every and not says_yes(self.shelf, services[0]) and not closed:
            asks += [reason for s in every for reason in self.reckoner.leg(s, to, self.days[0]).asks]
        if closed or not services:
            return Reach(to, {}, tuple(asks), _no_route(to) if not closed else (), closed, False, {})
        days: dict[date, dict[str, Served]] = {}
        against: dict[str, Reason] = {}
        scarce = False
        for day in self._days_of(kind, lots):
            for service in services:
                leg = self.reckoner.leg(service, to, day)
                if leg.blocks:
                    continue
                loads, reasons = self._loads_of(kind, lots, leg)
                served = self._served(leg, [load for load in loads if load.medium in media])
                if served and served.order >= self.least:
                    days.setdefault(day, {})[service.service] = served
                elif not days:
                    scarce = scarce or any(load.order < self.least for load in loads)
                    for reason in (*reasons, *self._unposted(loads, service, to)):
                        against.setdefault(reason.code, reason)
        for reason in () if days else self._doubts(lots, services, late=not against):
            against.setdefault(reason.code, reason)
        last_open = {service.service: self._last_open(service, to) for service in services}
        in_the_way = () if days else tuple(against.values())
        return Reach(to, days, tuple(asks), in_the_way, False, scarce, last_open, self._first_open(services))

    def _doubts(self, lots: tuple[Lot, ...], services: tuple[Service, ...], late: bool) -> list[Reason]:
        """What a look today would have to settle; if ``late``, what will be so by the first day that takes
        anything in too.
        """
        today = [
            reason for lot in lots for reason in lot_forecast(self.shelf, lot.lot).doubts(self.shelf.today)
        ]
        if today or not late:
            return today
        first = self._first_open(services)
        return (
            [reason for lot in lots for reason in self.reckoner.lot_day(lot.lot, first).reasons]
            if first
            else []
        )

    def _first_open(self, services: tuple[Service, ...]) -> date | None:
        """The first of the days on which any of the services takes anything in."""
        home = self.shelf.settings.home
        return next(
            (day for day in self.days if any(is_hand_over_day(day, service, home) for service in services)),
            None,
        )

    def _days_of(self, kind: Kind, lots: tuple[Lot, ...]) -> tuple[date, ...]:
        """The days on which something of a population is left that may be packed."""
        if kind not in self._open_days:
            self._open_days[kind] = tuple(
                day
                for day in self.days
                if any(
                    not self.reckoner.lot_day(lot.lot, day).reasons and self.left.on(lot.lot, day)
                    for lot in lots
                )
            )
        return self._open_days[kind]

    def _last_open(self, service: Service, to: Destination) -> date | None:
        """The last of the days on which a service takes anything in."""
        key = (service.service, to)
        if key not in self._last_days:
            home = self.shelf.settings.home
            self._last_days[key] = max(
                (day for day in self.days if is_hand_over_day(day, service, home)), default=None
            )
        return self._last_days[key]

    def _rules(
        self, species: str, lots: tuple[Lot, ...], to: Destination
    ) -> tuple[frozenset[str], list[Reason], bool]:
        """Media in which the eggs may travel, what is to be answered first, and whether all is closed."""
        shelf, fish = self.shelf, self.shelf.species[species]
        media = sorted(
            {p.travels_in(lot.medium) for lot in lots for p in shelf.packings if lot.medium in p.media}
        )
        found: dict[str, list[Ruling]] = {
            medium: [ruling(shelf, to.country, to.region, fish, medium, day) for day in self._rule_days]
            for medium in media or media_of(shelf, fish)
        }
        passing = frozenset(medium for medium, rulings in found.items() if all(one.passes for one in rulings))
        if passing:
            return passing, [], False
        unclosed = {
            medium: rulings for medium, rulings in found.items() if not any(one.is_closed for one in rulings)
        }
        reasons = [
            reason for rulings in (unclosed or found).values() for one in rulings for reason in one.reasons
        ]
        return frozenset(unclosed), reasons, not unclosed

    @cached_property
    def _rule_days(self) -> tuple[date, ...]:
        """The days on which rules must be asked: one, unless some row begins or ends within them."""
        first, last = self.days[0], self.days[-1]
        edges = (edge for rule in self.shelf.rules for edge in (rule.from_, rule.until) if edge)
        return self.days if any(first <= edge <= last for edge in edges) else (first,)

    def _loads_of(
        self, kind: Kind, lots: tuple[Lot, ...], leg: Leg
    ) -> tuple[tuple[_Load, ...], tuple[Reason, ...]]:
        warmth = leg.warmth
        journey = (leg.service.service, leg.service.exposed_h, leg.days.tobytes(), leg.chances.tobytes())
        key = (kind, leg.day, journey, warmth.low_c, warmth.mean_c, warmth.high_c)
        if key not in self._loads:
            self._loads[key] = self._new_loads(lots, leg)
        return self._loads[key]

    def _new_loads(self, lots: tuple[Lot, ...], leg: Leg) -> tuple[tuple[_Load, ...], tuple[Reason, ...]]:
        reasons: list[Reason] = []
        by_packing: dict[tuple[str, str], list[tuple[Ride, int]]] = {}
        for lot in lots:
            lot_day = self.reckoner.lot_day(lot.lot, leg.day)
            eggs = self.left.on(lot.lot, leg.day)
            if lot_day.reasons or not eggs:
                continue
            for packing in self.shelf.packings:
                if lot.medium not in packing.media:
                    continue
                ride = self.reckoner.ride(lot_day, packing, leg)
                reasons += ride.reasons
                if not ride.reasons and (most := _most_of(ride, eggs)):
                    by_packing.setdefault((packing.packing, packing.travels_in(lot.medium)), []).append(
                        (ride, most)
                    )
        packings = self.shelf.packing_by_name
        loads = tuple(
            _Load(packings[p], medium, tuple(r), self._largest_of(r))
            for (p, medium), r in sorted(by_packing.items())
        )
        return loads, tuple(reasons)

    def _largest_of(self, rides: list[tuple[Ride, int]]) -> int:
        """The largest order that the eggs of one lot, or of several together, keep the promise for."""
        alone = max((self._alone(ride, most) for ride, most in rides), default=0)
        able = [(ride, most) for ride, most in rides if most >= LEAST_DRAW]
        if len(able) < 2 or self.shelf.settings.plan.lots_a_line < 2:
            return alone
        low, high = alone, sum(most for _, most in able) + 1
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if self._suffice(able, middle) else (low, middle)
        return low

    def _alone(self, ride: Ride, eggs: int) -> int:
        """The largest order that so many eggs of one lot keep the promise for."""
        key = (ride.profile, eggs)
        if key not in self._largest:
            promise = self.shelf.settings.plan.promise
            self._largest[key] = most_promised(eggs, ride.v, ride.leg.chances, ride.packing.kappa, promise)
        return self._largest[key]

    def _suffice(self, rides: list[tuple[Ride, int]], ordered: int) -> bool:
        """Do the best few lots together do: sum(n / m) >= 1?"""
        shares = []
        for ride, most in rides:
            pack, _ = self.reckoner.alone(ride, ordered, "usual")
            shares.append(min(most, pack) / pack if pack else 0.0)
        best = sorted(shares, reverse=True)[: self.shelf.settings.plan.lots_a_line]
        return math.fsum(best) >= 1.0

    def _served(self, leg: Leg, loads: list[_Load]) -> Served | None:
        """The largest order of a day by a service, over its packings; of equal ones the packing that sorts
        first.
        """
        found = [(self._posted(load, leg), load) for load in loads]
        able = {ride.lot_day.forecast.lot.lot for posted, load in found if posted for ride, _ in load.rides}
        eggs = sum(self.left.on(lot, leg.day) for lot in able)
        order, load = max(found, key=lambda one: one[0], default=(0, None))
        return Served(order, eggs, load.packing.packing) if load and order else None

    def _posted(self, load: _Load, leg: Leg) -> int:
        """The largest order of a load that box, postage and air take too; from one lot, where all its units
        are too many.
        """
        units = sum(units_for(load.packing, most) for _, most in load.rides)
        most_units = next((n for n in range(units, 0, -1) if self._fits(load.packing, n, leg)), 0)
        if self._is_doubtful(load):
            return next(
                (order for order in range(load.order, self.least - 1, -1) if self._takes(load, order, leg)), 0
            )
        if most_units == units:
            return load.order
        eggs = most_units * load.packing.eggs_max
        return max((self._alone(ride, min(most, eggs)) for ride, most in load.rides), default=0)

    def _is_doubtful(self, load: _Load) -> bool:
        """Must each count be asked about: is the air known, or more packed than ever is for a line?"""
        known = load.packing.is_a.is_sealed and any(
            r.lot_day.forecast.species.o2_basis in KNOWN_RATE for r, _ in load.rides
        )
        return known or any(most > most_eggs(load.order) for _, most in load.rides)

    def _takes(self, load: _Load, order: int, leg: Leg) -> bool:
        """Can an order of that size go from one lot?"""
        for ride, most in load.rides:
            option = self.reckoner.option(ride, None, None, order)
            if (
                option.pack
                and option.pack <= most
                and not option.blocks
                and self._fits(load.packing, option.units, leg)
            ):
                return True
        return False

    def _fits(self, packing: Packing, units: int, leg: Leg) -> bool:
        """Do a box and its postage take so many units?"""
        key = (packing.packing, units, leg.service.service, leg.destination.country)
        if key not in self._fitting:
            self._fitting[key] = not self._post_reasons(packing, units, leg.service, leg.destination)
        return self._fitting[key]

    def _post_reasons(
        self, packing: Packing, units: int, service: Service, to: Destination
    ) -> tuple[Reason, ...]:
        """Why no box or no postage takes so many units; empty where one does."""
        return quote(self.shelf, ((packing, units),), service, to.country).reasons

    def _unposted(self, loads: tuple[_Load, ...], service: Service, to: Destination) -> Iterator[Reason]:
        for load in loads:
            if load.order >= self.least:
                yield from self._post_reasons(load.packing, 1, service, to)


def _most_of(ride: Ride, eggs: int) -> int:
    """So many of the eggs as the packing's ceiling on any hatching lets go: all, if it holds for all."""
    return eggs if ride.risk(eggs).any_egg <= ride.packing.any_ceiling else min(eggs, ride.most_by_any)


def _no_route(to: Destination) -> tuple[Reason, ...]:
    text = f"No service goes to {to.country}: add a row to services and postage."
    return (Reason("no-route", text, {"to": to.country}, "services"),)
