"""Can this lot still ship? A lot, a destination and days in; a verdict, options, first and last day out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

import numpy as np

from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.should_have_hatched import unseen_text
from shipping.options.journey import ASKING, Ints, bit, lot_days
from shipping.options.option import Destination, Option
from shipping.options.option_factory import OptionFactory, no_packing
from shipping.options.ride_arrays import RideTable, WeekFactors, counted, ride_table
from shipping.post.quote import Quote, quote
from shipping.post.restrictions import closed_at_home, is_refused, media_packed, post_reasons, says_yes
from shipping.post.warmth import is_answerable, kept_back
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.services import Service
from shipping.tables.shelf import Shelf
from shipping.words.reasons import LOOKS, Note, Reason, Verdict, nearest_first
from shipping.words.units import money_text, told, weekday

#: The last safe day is looked for within so many days.
DAYS_AHEAD = 60
#: Eggs ordered, unless the question says otherwise.
EGGS_ASKED = 20
_CLOSED, _CLOSED_DAY = bit("closed"), bit("closed-day")


@dataclass(frozen=True, slots=True)
class SafeDays:
    """From when to when a lot may go so; ``until`` None with ``no_last_day``: nothing ends it."""

    to: str
    service: str
    packing: str
    from_: date
    until: date | None
    no_last_day: bool

    def as_json(self) -> dict[str, object]:
        return told(self, "to service packing from_ until no_last_day")


def days_ahead(shelf: Shelf) -> tuple[date, ...]:
    """The breeder's days to post on which a last safe day is looked for."""
    days = (shelf.today + timedelta(days=n) for n in range(DAYS_AHEAD + 1))
    return tuple(day for day in days if weekday(day) in shelf.settings.plan.dispatch_days)


@dataclass(eq=False)
class SafeRoutes:
    """Safe days of many lots to some places, without options in words; what is shared reckoned once."""

    factory: OptionFactory
    places: tuple[Destination, ...]

    @cached_property
    def _factors(self) -> WeekFactors:
        factors = WeekFactors(self.factory, days_ahead(self.factory.shelf), passing_only=True)
        factors.also_to(self.places)
        return factors

    def of(
        self, lot: str, to: tuple[Destination, ...], service: str | None = None, eggs: int = EGGS_ASKED
    ) -> tuple[SafeDays, ...]:
        """The first and last days on which so many eggs of a lot may go to some of the places, by each
        service (or the one named) in each packing, the longest first.

        The rules and the operators' answers speak elsewhere.
        """
        shelf, factors = self.factory.shelf, self._factors
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
        promise = self.factory.shelf.settings.plan.promise
        count = counted(rides, np.arange(rides.lot.size), eggs, "usual", promise)
        units = np.maximum(1, -(-np.where(count.pack > 0, count.pack, eggs) // rides.each_most))
        codes[at] |= count.codes | self._factors.post(rides.packing, units, rides.leg, rides.journeys)
        return np.asarray(codes)

    def _safe_days(self, rides: RideTable, codes: Ints, to: Destination, named: str | None) -> list[SafeDays]:
        """The safe days to one place; a closed day ends nothing."""
        here, days, found = rides.journeys.at[to], self._factors.days, list[SafeDays]()
        services = np.array([leg.service.service for leg in rides.journeys.legs[here]])
        for service in self.factory.services(to.place, named):
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


#: Without a day asked for, so many days of dispatch are shown.
DAYS_SHOWN = 14


@dataclass(frozen=True, slots=True)
class Asked:
    """One option of the answer, with its postage and packing; ``cost`` None: nothing takes the parcel."""

    option: Option
    cost: float | None
    reasons: tuple[Reason, ...]

    @property
    def verdict(self) -> Verdict:
        if not self.reasons:
            return Verdict.GO
        if any(reason.asks_for_a_look for reason in self.option.ride.lot_day.reasons):
            return Verdict.HOLD
        codes = {reason.code for reason in self.reasons if not is_answerable(reason)}
        if not codes:
            return Verdict.HOLD
        return Verdict.WAIT if codes <= {"too-young", "closed-day"} else Verdict.STOP

    @property
    def this_week(self) -> tuple[Note, ...]:
        """The rows for just these days that decided it."""
        return self.option.ride.leg.this_week

    @property
    def minded(self) -> tuple[Note, ...]:
        """The same, and that the trade would keep such a parcel back."""
        return (*self.this_week, *kept_back(self.option.ride.leg.warmth.high_c))

    @property
    def may_go_once_answered(self) -> bool:
        """Does nothing but a warmth that nobody has given stand in the way?"""
        return bool(self.reasons) and all(is_answerable(reason) for reason in self.reasons)

    def as_json(self) -> dict[str, object]:
        ride = self.option.ride
        return {
            "service": ride.leg.service.service,
            "packing": ride.packing.packing,
            **self.option.figures(),
            "cost": None if self.cost is None else money_text(self.cost),
            "verdict": self.verdict.value,
            "this_week": [note.as_json() for note in self.this_week],
            "reasons": [reason.as_json() for reason in self.reasons],
        }


@dataclass(frozen=True, slots=True)
class Reply:
    """The answer to one question about one lot."""

    lot: str
    to: str
    on: date | None
    verdict: Verdict
    last_safe_day: date | None
    no_last_day: bool
    first_safe_day: date | None
    options: tuple[Asked, ...]
    safe: tuple[SafeDays, ...]
    reasons: tuple[Reason, ...]
    unseen: str = ""
    """What is asked of eggs that should have hatched, and of which nobody wrote."""
    unanswered: tuple[str, ...] = ()
    """The services that go there whose operator has said neither yes nor no to live eggs."""

    @property
    def to_ask_first(self) -> tuple[str, ...]:
        """Those of them to be asked about before they take what may go by others."""
        return self.unanswered if self.verdict is Verdict.GO else ()

    @property
    def told(self) -> tuple[Reason, ...]:
        """The reasons to tell beside ``unseen``, which says as much of eggs that should have hatched."""
        return tuple(reason for reason in self.reasons if "since" not in reason.facts)

    @property
    def is_forbidden(self) -> bool:
        """Does a rule close the place, or home, so that no last day may be told?"""
        return any(reason.code == "closed" for reason in self.reasons)

    @property
    def is_hatched_by_then(self) -> bool:
        """Will it have hatched before the first day asked about, so that no way of going tells anything?"""
        return any(map(is_hatched_by_then, self.reasons)) and self.verdict is Verdict.STOP

    @property
    def nearest(self) -> tuple[Asked, ...]:
        """Every option, those that pass first, then those that lack least; page and command show the same."""
        return tuple(sorted(self.options, key=lambda asked: _from_going(asked, self.on is not None)))

    @property
    def nearest_by_service(self) -> tuple[Asked, ...]:
        """The nearest option of each service."""
        found: dict[str, Asked] = {}
        for asked in self.nearest:
            found.setdefault(asked.option.ride.leg.service.service, asked)
        return tuple(found.values())

    def as_json(self) -> dict[str, object]:
        days = "on last_safe_day no_last_day first_safe_day"
        return told(self, f"lot to verdict {days} options safe reasons unseen unanswered")


def ask(
    shelf: Shelf,
    name: str,
    to: Destination,
    *,
    on: date | None = None,
    service: str | None = None,
    eggs: int = EGGS_ASKED,
) -> Reply:
    """Whether a lot can still go to a destination, by every option, and until when.

    Option verdicts are physical: the lot, the journey, the packing. The rules and the operator's answers
    speak at the top. The last safe day is the last within 60 days on which some option passes.
    """
    factory = OptionFactory(shelf)
    lot = shelf.lot_by_name[name]
    services = factory.services(to.place, service)
    open_ = tuple(one for one in services if not is_refused(one)) or services
    last_shown = shelf.today + timedelta(days=DAYS_SHOWN)
    days = (on,) if on else tuple(day for day in days_ahead(shelf) if day < last_shown)
    shown = _options(factory, lot, to, services, days, eggs)
    may_go = {one.service for one in open_}
    every = SafeRoutes(factory, (to,)).of(name, (to,), service, eggs)
    safe = tuple(one for one in every if one.service in may_go)
    until = max((days_.until for days_ in safe if days_.until is not None), default=None)
    endless = any(days_.no_last_day for days_ in safe)
    day = on or (days[0] if days else shelf.today)
    top = _top_reasons(factory, lot, to, open_, day)
    if not top:  # where one operator said yes, another way alone may pass
        passing = dict.fromkeys(one.option.ride.leg.service for one in shown if one.verdict is Verdict.GO)
        top += factory.post_asks(tuple(passing), to, day)
    verdict = _verdict(shown, top, safe)
    open_ways = tuple(one for one in shown if one.option.ride.leg.service.service in may_go)
    goes = any(one.verdict is Verdict.GO for one in shown)
    against = [] if goes else _against(open_ways, on is not None, verdict)
    return Reply(
        lot=name,
        to=to.country,
        on=on,
        verdict=verdict,
        last_safe_day=None if endless else until,
        no_last_day=endless,
        first_safe_day=min((days_.from_ for days_ in safe), default=None),
        options=shown,
        safe=safe,
        reasons=nearest_first(top + _one_a_code(against)),
        unseen=unseen_text(lot_forecast(shelf, name)),
        unanswered=tuple(one.service for one in open_ if not says_yes(shelf, one)),
    )


def _options(
    factory: OptionFactory,
    lot: Lot,
    to: Destination,
    services: tuple[Service, ...],
    days: Iterable[date],
    eggs: int,
) -> tuple[Asked, ...]:
    rides = factory.rides((lot,), days, services, to)
    factory.prepare(rides, eggs, "usual")
    quotes: dict[tuple[str, int, str], Quote] = {}
    return tuple(_asked(factory.shelf, factory.option(ride, None, None, eggs), to, quotes) for ride in rides)


def _asked(shelf: Shelf, option: Option, to: Destination, quotes: dict[tuple[str, int, str], Quote]) -> Asked:
    leg, packing = option.ride.leg, option.ride.packing
    key = (packing.packing, option.units, leg.service.service)
    if key not in quotes:
        quotes[key] = quote(shelf, ((packing, option.units),), leg.service, *to.place)
    asked = quotes[key]
    blocks = [*(reason for reason in option.blocks if reason.code != "closed"), *asked.reasons]
    if is_refused(leg.service):  # no operator is asked again who said no
        blocks += post_reasons(shelf, leg.service)
    cost = None if asked.cost is None else asked.cost + option.units * float(packing.cost)
    return Asked(option, cost, nearest_first(blocks))


def _top_reasons(
    factory: OptionFactory, lot: Lot, to: Destination, services: tuple[Service, ...], day: date
) -> list[Reason]:
    """What the rules, the post, the tables and the lot say before any figure."""
    shelf = factory.shelf
    species = shelf.species[lot.species]
    found: list[Reason] = []
    home = closed_at_home(shelf, species, lot.medium)
    if home:
        found += home.reasons
    if not media_packed(shelf, (lot.medium,)):
        found.append(no_packing((lot.medium,)))
    ruled = factory.rulings(to, species, {lot.medium}, (day,))
    if not ruled.passing:
        found += ruled.reasons
    if not services:
        found.append(Reason("no-route", f"No service goes to {to.country}.", {"to": to.country}, "services"))
    found += factory.post_asks(services, to, day)
    found += lot_forecast(shelf, lot.lot).doubts(day)
    return found


def is_hatched_by_then(reason: Reason) -> bool:
    """Is it that a lot which has not hatched yet will have, by the day?"""
    return reason.code in LOOKS and not reason.asks_for_a_look


def _verdict(shown: tuple[Asked, ...], top: list[Reason], safe: tuple[SafeDays, ...]) -> Verdict:
    codes = {reason.code for reason in top}
    is_late = any(is_hatched_by_then(reason) for reason in top)
    if is_late or "closed" in codes or "no-route" in codes or "no-packing" in codes:
        return Verdict.STOP
    if codes:
        return Verdict.HOLD
    if any(asked.verdict is Verdict.GO for asked in shown):
        return Verdict.GO
    if any(asked.may_go_once_answered for asked in shown):
        return Verdict.HOLD
    return Verdict.WAIT if safe else Verdict.STOP


def _against(shown: tuple[Asked, ...], on_one_day: bool, verdict: Verdict) -> list[Reason]:
    """What speaks against options that lack least, the earliest first; a day's own troubles last.

    Where all stops, what speaks against another way is none of it: too cold for a bag is not what stops eggs
    of which a box would take fewer.
    """
    by_day = sorted(shown, key=lambda asked: asked.option.ride.leg.day)
    lacks = [reasons for asked in by_day if (reasons := _lacks(asked, on_one_day))]
    far = [_how_far(reasons) if verdict is Verdict.STOP else _how_far(reasons)[:1] for reasons in lacks]
    nearest = [one for reasons, own in zip(lacks, far, strict=True) if own == min(far) for one in reasons]
    return nearest or [one for asked in by_day for one in asked.reasons]


def _how_far(lacks: list[Reason]) -> tuple[int, ...]:
    """How many causes speak against an option, and the hardest of them."""
    return len({one.code for one in lacks}), max((one.nearness for one in lacks), default=0)


def _lacks(asked: Asked, on_one_day: bool) -> list[Reason]:
    """What speaks against an option on the one day asked about, else on any: its own day's troubles aside."""
    return [one for one in asked.reasons if on_one_day or one.code not in ("closed-day", "too-old")]


def _from_going(asked: Asked, on_one_day: bool) -> tuple[object, ...]:
    """How far an option is from going: by what it lacks, the hardest, what its box bridges, day, cost."""
    lacks, day = _lacks(asked, on_one_day), asked.option.ride.leg.day
    bridged = max(map(_bridged_h, lacks), default=0.0)
    return bool(asked.reasons), not lacks, *_how_far(lacks), -bridged, day, asked.cost or 0.0


def _one_a_code(reasons: list[Reason]) -> list[Reason]:
    """The first reason of each code; of heat and cold that of the box which bridges them longest."""
    found: dict[str, Reason] = {}
    for reason in reasons:
        known = found.setdefault(reason.code, reason)
        if _bridged_h(reason) > _bridged_h(known):
            found[reason.code] = reason
    return list(found.values())


def _bridged_h(reason: Reason) -> float:
    """How long the box of a reason holds its warmth [h]; 0 where the reason is another."""
    return float(str(reason.facts.get("warm_h", 0)))
