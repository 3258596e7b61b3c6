"""What can still be sold: a shelf and the week's plan in, offers by population and destination out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.should_have_hatched import should_have_hatched, unseen_text
from shipping.options.option import Destination
from shipping.options.option_factory import OptionFactory
from shipping.post.warmth import is_answerable
from shipping.questions.promisable import Kind, Reach, Reachable
from shipping.tables.rows.lots import Lot
from shipping.tables.shelf import Shelf
from shipping.week.choices import Choices
from shipping.week.left_out.queue import Queue, first_draws, when_served
from shipping.week.left_out.stock import HORIZON_D, Expected
from shipping.week.plan_data import LineOut, Plan
from shipping.words.problems import Problem
from shipping.words.reasons import Reason, Verdict, nearest_first
from shipping.words.units import iso_week, many, told, weekday

#: Said with every offer: eggs are counted once, places are not.
ALTERNATIVES = (
    "Every place is offered the same eggs: what one buyer takes is gone for all, so the eggs of several rows"
    " of a population do not add up."
)


@dataclass(frozen=True, slots=True)
class PromiseDay:
    """A day to post: eggs free then, and the largest order of one line they keep the promise for."""

    on: date
    eggs_free: int
    can_promise: int

    def as_json(self) -> dict[str, object]:
        return told(self, "on eggs_free can_promise")


@dataclass(frozen=True, slots=True)
class Way:
    """From and until when a service will do; orders by the day before hand-over, by ``cut_off``."""

    service: str
    from_: date
    until: date | None
    no_last_day: bool
    cut_off: str | None

    @property
    def order_by(self) -> date | None:
        return self.until - timedelta(days=1) if self.until else None

    def as_json(self) -> dict[str, object]:
        return told(self, "service from_ until no_last_day order_by cut_off")


@dataclass(frozen=True, slots=True)
class Offer:
    """What of a population can be promised to some countries of a place.

    ``can_promise`` is the largest order of one line, on ``best_on``, the first day it is largest; ``days``
    has it for each day to post. ``until`` None with ``no_last_day``: nothing ends it within the days asked
    about. ``is_estimated``: of some lot nobody counted every egg. ``wetted``: of damp lots that differ the
    eggs free and the first day to wet them, the earliest first; None: not known.
    """

    species: str
    scientific_name: str
    population: str
    to: str
    countries: tuple[str, ...]
    eggs_free: int
    can_promise: int
    best_on: date | None
    from_: date | None
    until: date | None
    no_last_day: bool
    order_by: date | None
    ways: tuple[Way, ...]
    days: tuple[PromiseDay, ...]
    expected: tuple[Expected, ...]
    verdict: Verdict
    reasons: tuple[Reason, ...]
    regions: tuple[str, ...]
    is_estimated: bool = False
    wetted: tuple[tuple[int, date | None], ...] = ()

    @property
    def is_offered(self) -> bool:
        """Can something be promised, now or later, once what a person must answer is answered?"""
        return bool(self.days) and self.verdict is not Verdict.STOP

    def as_json(self) -> dict[str, object]:
        return told(
            self,
            "species population to countries eggs_free can_promise best_on from_ until no_last_day "
            "order_by ways days expected verdict reasons regions is_estimated wetted",
        )


@dataclass(frozen=True, slots=True)
class Taken:
    """A population's eggs that orders take: in kept parcels, in the plan, by lines that wait or are held."""

    species: str
    population: str
    kept: int
    planned: int
    waiting: int
    held: int

    @property
    def all(self) -> int:
        return self.kept + self.planned + self.waiting + self.held

    def as_json(self) -> dict[str, object]:
        return told(self, "species population kept planned waiting held")


@dataclass(frozen=True, slots=True)
class Waiting:
    """A line in hand that waits, and until when (None: nobody knows)."""

    order: str
    line: int
    species: str
    population: str
    eggs: int
    until: date | None
    reasons: tuple[Reason, ...]

    @property
    def reason(self) -> str:
        """The nearest reason, in words."""
        return self.reasons[0].text if self.reasons else ""

    def as_json(self) -> dict[str, object]:
        return told(self, "order line species population eggs until reason reasons")


@dataclass(frozen=True, slots=True)
class Offers:
    """Everything on offer on a day, what orders in hand take first, and the lines that wait.

    ``unseen``: what is asked of lots that should have hatched, and of which nobody wrote; ``count_first``:
    others on offer whose count is so old that what is left of it is a guess; ``doubled``: what the
    tables ask about lots on offer that may be another lot again. ``counted``: the first and the last day on
    which lots of fish that can be promised were counted; None where none was.
    """

    today: date
    week: str
    offers: tuple[Offer, ...]
    waiting: tuple[Waiting, ...]
    taken: tuple[Taken, ...]
    count_first: tuple[str, ...] = ()
    doubled: tuple[Problem, ...] = ()
    unseen: tuple[str, ...] = ()
    counted: tuple[date, date] | None = None

    def as_json(self) -> dict[str, object]:
        return (
            told(self, "today week")
            | {"note": ALTERNATIVES}
            | told(self, "offers taken waiting count_first doubled unseen")
        )


#: Fewer eggs are no offer: common practice, no source; it is the smallest draw from a lot too.
LEAST_OFFER = 5
#: What may go within so many days is offered now; what comes later waits for its day.
SOON_D = 7
#: Where services go that name no country.
ELSEWHERE = "elsewhere"


@dataclass(frozen=True, slots=True)
class Place:
    """A zone, a country, or elsewhere: a name, and the destinations an offer to it must hold for."""

    name: str
    to: tuple[Destination, ...]


def places(shelf: Shelf) -> tuple[Place, ...]:
    """The zones that a service reaches, countries that services name besides, and elsewhere; by name.

    Elsewhere is the home country and the countries of orders in hand that only a service to ``*`` reaches.
    """
    factory = OptionFactory(shelf)
    zones = {
        name: {to for to in countries if factory.services((to, ""))}
        for name, countries in shelf.zones.items()
    }
    named = {
        to.upper() for service in shelf.services for to in service.to if to not in shelf.zones and to != "*"
    }
    known = set().union(*zones.values()) if zones else set()
    found = [_place(name, zones[name]) for name in sorted(zones) if zones[name]]
    found += [_place(to, (to,)) for to in sorted(named - known)]
    if any("*" in service.to for service in shelf.services):
        others = {order.country for order in shelf.orders} | {shelf.settings.home.country}
        found += [_place(ELSEWHERE, rest)] if (rest := others - known - named) else []
    return tuple(found)


def _place(name: str, countries: Iterable[str]) -> Place:
    return Place(name, tuple(Destination.of(to[:2], to[3:]) for to in sorted(countries)))


def offer(
    shelf: Shelf,
    plan: Plan | None = None,
    *,
    to: tuple[Place, ...] = (),
    species: str | None = None,
    kept: Mapping[str, int] | None = None,
    go_on: Callable[[int, int], bool] | None = None,
) -> Offers:
    """What is free to promise, of each population to each place (all, unless named), after the plan's
    parcels.

    ``shelf`` is as the ledger leaves it; ``kept`` are the eggs that it holds for kept parcels, by lot, and
    has left out of the shelf already: they are only said. Orders in hand come first: what the plan draws,
    what lines that wait are to have (the oldest order first), and what lines on hold would need are not
    offered. ``go_on`` is asked before each population, told how many are done and how many there are; once it
    says no, those done are all.

    Notes
    -----
    Lines that go stay where the plan has them: planned again, with lines moved between lots, a little more
    may be possible. Each place is offered the same eggs: offers to two places exclude each other, they do not
    add up. A place is offered what holds for each of its countries; countries that differ in verdict stand in
    rows of their own. Days asked about are the breeder's days to post from tomorrow, 42 days on.
    """
    factory = OptionFactory(shelf)
    week = plan.week if plan else iso_week(shelf.today)
    choices = Choices.of_week(factory, week)
    out = plan.lines_out if plan else ()
    stopped = [(line.order, line.line) for line in out if line.verdict is Verdict.STOP]
    queue = Queue.behind(choices, plan.parcels if plan else (), stopped)
    taken = _take(queue, plan, kept or {})
    ahead = (shelf.today + timedelta(days=n) for n in range(1, HORIZON_D + 1))
    days = tuple(
        day
        for day in ahead
        if weekday(day) in shelf.settings.plan.dispatch_days and not queue.left.is_full(day)
    )
    there = to or places(shelf)
    countries = tuple(one for place in there for one in place.to)
    writer = _OfferWriter(queue, Reachable(factory, queue.left, days, LEAST_OFFER, countries), taken)
    wanted = [kind for kind in kinds(shelf) if species in (None, kind[0])]
    found: list[Offer] = []
    for number, kind in enumerate(wanted):
        if go_on is not None and not go_on(number, len(wanted)):
            break
        found += writer.offers(kind, there)
    return Offers(
        today=shelf.today,
        week=week,
        offers=tuple(found),
        waiting=_waiting(shelf, plan, species),
        taken=tuple(taken[kind] for kind in sorted(taken) if species in (None, kind[0])),
        count_first=_to_count(shelf, found),
        doubled=_doubled(shelf, found),
        unseen=_unseen(shelf, species),
        counted=_counted(shelf, found),
    )


def _counted(shelf: Shelf, offers: list[Offer]) -> tuple[date, date] | None:
    """Between which days the eggs were counted that can be promised without anybody's answer."""
    now = [one for one in offers if one.verdict is not Verdict.HOLD]
    lots = (lot for lot in _lots_on_offer(shelf, now) if lot.count_basis != "estimated")
    forecasts = (lot_forecast(shelf, lot.lot) for lot in lots)
    days = [one.count.on for one in forecasts if one.free_on(shelf.today)]
    return (min(days), max(days)) if days else None


def _to_count(shelf: Shelf, offers: list[Offer]) -> tuple[str, ...]:
    """The lots of fish on offer of whose count a good part is reckoned gone by today."""
    own = (lot_forecast(shelf, lot.lot) for lot in _lots_on_offer(shelf, offers))
    old = (one for one in own if one.free_on(shelf.today) and one.is_guess(shelf.today))
    return tuple(sorted(one.lot.lot for one in old if not should_have_hatched(one)))


def _unseen(shelf: Shelf, species: str | None) -> tuple[str, ...]:
    """What is asked of lots that should have hatched, by lot; they are hardly on offer, and this is why."""
    lots = sorted(lot.lot for lot in shelf.lots if species in (None, lot.species))
    return tuple(filter(None, (unseen_text(lot_forecast(shelf, lot)) for lot in lots)))


def _doubled(shelf: Shelf, offers: list[Offer]) -> tuple[Problem, ...]:
    """What the tables ask about lots of fish on offer that may be another lot again."""
    rows = {lot.at for lot in _lots_on_offer(shelf, offers)}
    return tuple(one for one in shelf.notices if one.code == "line-twice" and one.where in rows)


def _lots_on_offer(shelf: Shelf, offers: list[Offer]) -> Iterator[Lot]:
    kinds_offered = {(one.species, one.population) for one in offers if one.is_offered}
    return (lot for kind in kinds_offered for lot in _lots_of(shelf, kind))


def kinds(shelf: Shelf) -> tuple[Kind, ...]:
    """Every species and population of a lot or group, by name; those that differ in case are one."""
    found: dict[tuple[str, str], Kind] = {}
    rows: list[Kind] = [(lot.species, lot.population) for lot in shelf.lots]
    rows += [(group.species, group.population) for group in shelf.groups]
    for kind in sorted(rows):
        found.setdefault((kind[0], kind[1].casefold()), kind)
    return tuple(sorted(found.values()))


def _lots_of(shelf: Shelf, kind: Kind) -> tuple[Lot, ...]:
    return tuple(
        lot for lot in shelf.lots if (lot.species, lot.population.casefold()) == (kind[0], kind[1].casefold())
    )


def _take(queue: Queue, plan: Plan | None, kept: Mapping[str, int]) -> dict[Kind, Taken]:
    """Lines that wait, then lines on hold, take their eggs; what each population gives to orders in hand."""
    shelf = queue.choices.shelf
    out = {(line.order, line.line): line for line in plan.lines_out} if plan else {}
    counts: list[dict[str, int]] = [{lot.lot: queue.left.taken(lot.lot) for lot in shelf.lots}]
    for verdict in (Verdict.WAIT, Verdict.HOLD):
        for order, line in queue.waiting:
            if line.key not in out or out[line.key].verdict is not verdict:
                continue
            if verdict is Verdict.WAIT:
                when_served(queue, order, line)
            elif (found := first_draws(queue, order, line, answered=True)) is not None:
                queue.left.take(*found, order.order)
        counts.append({lot.lot: queue.left.taken(lot.lot) for lot in shelf.lots})
    planned, waiting, held = counts
    found_kinds = {}
    for kind in kinds(shelf):
        names = [lot.lot for lot in _lots_of(shelf, kind)]
        sums = [sum(count[name] for name in names) for count in (planned, waiting, held)]
        found_kinds[kind] = Taken(
            *kind, sum(kept.get(name, 0) for name in names), sums[0], sums[1] - sums[0], sums[2] - sums[1]
        )
    return found_kinds


def _waiting(shelf: Shelf, plan: Plan | None, species: str | None) -> tuple[Waiting, ...]:
    lines = {line.key: line for order in shelf.orders for line in order.lines}
    out: Iterable[LineOut] = plan.lines_out if plan else ()
    found = []
    for one in out:
        line = lines[(one.order, one.line)]
        if one.verdict is Verdict.WAIT and species in (None, line.species):
            found.append(
                Waiting(one.order, one.line, line.species, line.population, line.eggs, one.until, one.reasons)
            )
    return tuple(sorted(found, key=lambda one: (one.until or date.max, one.order, one.line)))


@dataclass(eq=False)
class _OfferWriter:
    """Turns what can be reached into offers."""

    queue: Queue
    reachable: Reachable
    taken: dict[Kind, Taken]

    @property
    def shelf(self) -> Shelf:
        return self.queue.choices.shelf

    def offers(self, kind: Kind, to: tuple[Place, ...]) -> Iterator[Offer]:
        """The offers of a population, by place and verdict."""
        lots = _lots_of(self.shelf, kind)
        expected = self.queue.expected.batches(*kind)
        for place in to:
            alike: dict[tuple[str, ...], list[Reach]] = {}
            for there in place.to:
                reach = self._reach(kind, lots, there)
                alike.setdefault(_sort_of(reach), []).append(reach)
            for members in alike.values():
                together = (
                    [members] if _common_days(members) or not members[0].days else [[one] for one in members]
                )
                yield from (self._offer(kind, place.name, some, expected) for some in together)

    def _reach(self, kind: Kind, lots: tuple[Lot, ...], to: Destination) -> Reach:
        if not self.reachable.days:
            return Reach(to, {}, (), (self._full(),), False, False, {})
        return self.reachable.reach(kind, lots, to)

    def _full(self) -> Reason:
        limit = self.shelf.settings.plan.parcels_per_day
        text = f"No day to post has a place left ({many(limit or 0, 'parcel')} a day)."
        return Reason("day-full", text, {}, "shelf.toml")

    def _offer(self, kind: Kind, place: str, members: list[Reach], expected: tuple[Expected, ...]) -> Offer:
        days = _common_days(members)
        best = max(days, key=lambda day: (day.can_promise, -day.on.toordinal()), default=None)
        ways = _ways(self.shelf, members)
        endless = any(way.no_last_day for way in ways)
        until = None if endless or not days else days[-1].on
        against = [reason for one in members for reason in (*one.asks, *one.against)]
        if not days and not members[0].closed and not any(one.against and not one.scarce for one in members):
            against.append(self._short(kind, members[0].first_open))
        return Offer(
            species=kind[0],
            scientific_name=self.shelf.species[kind[0]].scientific_name,
            population=kind[1],
            to=place,
            countries=tuple("-".join(filter(None, (one.to.country, one.to.subdivision))) for one in members),
            eggs_free=best.eggs_free if best else 0,
            can_promise=best.can_promise if best else 0,
            best_on=best.on if best else None,
            from_=days[0].on if days else None,
            until=until,
            no_last_day=endless,
            order_by=until - timedelta(days=1) if until else None,
            ways=ways,
            days=days,
            expected=() if any(one.closed for one in members) else expected,
            verdict=self._verdict(kind, members, days, against, expected),
            reasons=nearest_first(_one_each(against)),
            regions=self._regions(members),
            is_estimated=any(lot.count_basis == "estimated" for lot in _lots_of(self.shelf, kind)),
            wetted=self._wetted(kind, best.on) if best else (),
        )

    def _wetted(self, kind: Kind, day: date) -> tuple[tuple[int, date | None], ...]:
        """Eggs free on a day and the first day to wet them, where lots kept damp differ in it."""
        eggs: Counter[date | None] = Counter()
        for lot in _lots_of(self.shelf, kind):
            if lot.kept_damp and (free := self.queue.left.on(lot.lot, day)) > 0:
                eggs[lot_forecast(self.shelf, lot.lot).wetting[0]] += free
        sooner = sorted(eggs, key=lambda first: first or date.max)
        return tuple((eggs[first], first) for first in sooner) if len(sooner) > 1 else ()

    def _must_be_looked_at(self, kind: Kind) -> bool:
        """Is there a lot of which nothing may go before a person has looked?"""
        return any(
            lot_forecast(self.shelf, lot.lot).doubts(self.shelf.today) for lot in _lots_of(self.shelf, kind)
        )

    def _verdict(
        self,
        kind: Kind,
        members: list[Reach],
        days: tuple[PromiseDay, ...],
        against: list[Reason],
        expected: tuple[Expected, ...],
    ) -> Verdict:
        codes = {reason.code for reason in against}
        if members[0].closed or "no-route" in codes:
            return Verdict.STOP
        if members[0].asks and (days or expected):
            return Verdict.HOLD
        if not days and (self._must_be_looked_at(kind) or any(map(is_answerable, against))):
            return Verdict.HOLD
        if days:
            soon = days[0].on <= self.shelf.today + timedelta(days=SOON_D)
            return Verdict.GO if soon else Verdict.WAIT
        return Verdict.WAIT if expected else Verdict.STOP

    def _short(self, kind: Kind, first: date | None) -> Reason:
        """Nothing but too few eggs speaks against it on the first day that takes anything in."""
        taken = self.taken[kind].all
        day = first or self.reachable.days[0]
        free = sum(self.queue.left.on(lot.lot, day) for lot in _lots_of(self.shelf, kind))
        name = " ".join(filter(None, kind))
        eggs = f"{many(free, 'egg')} {'is' if free == 1 else 'are'}"
        text = (
            f"Of {name} {eggs} free on {day}, after {taken} for orders in hand: too few to promise"
            f" {LEAST_OFFER}."
        )
        facts: dict[str, object] = {"on": day.isoformat(), "free": free, "taken": taken, "least": LEAST_OFFER}
        return Reason("short", text, facts, "plan")

    def _regions(self, members: list[Reach]) -> tuple[str, ...]:
        """Parts of these countries with rules or warmth of their own: the offer leaves them out."""
        whole = {one.to.country for one in members if not one.to.subdivision}
        rows = {place.upper() for row in self.shelf.rules for place in row.places}
        rows |= {row.to.upper() for row in self.shelf.weather}
        return tuple(sorted(place for place in rows if "-" in place and place.partition("-")[0] in whole))


def _sort_of(reach: Reach) -> tuple[str, ...]:
    """What countries of one row have in common: that something can be promised, or why not."""
    codes = sorted({reason.code for reason in (*reach.asks, *(() if reach.days else reach.against))})
    return ("days" if reach.days else "closed" if reach.closed else "none", *codes)


def _one_each(reasons: list[Reason]) -> list[Reason]:
    """One reason a code, but all that name a place: countries of a row say the same of the way."""
    found: dict[tuple[str, object], Reason] = {}
    for reason in reasons:
        found.setdefault((reason.code, reason.facts.get("to")), reason)
    return list(found.values())


def _common_days(members: list[Reach]) -> tuple[PromiseDay, ...]:
    """The days on which every one of the countries can be promised something, with the least of them."""
    days = sorted(set.intersection(*(set(one.days) for one in members)))
    return tuple(
        PromiseDay(day, min(one.eggs_on(day) for one in members), min(one.order_on(day) for one in members))
        for day in days
    )


def _ways(shelf: Shelf, members: list[Reach]) -> tuple[Way, ...]:
    """Until when each service will do for all of the countries, by name."""
    names = set.intersection(*({name for served in one.days.values() for name in served} for one in members))
    found = []
    for name in sorted(names):
        days = set.intersection(
            *({day for day, served in one.days.items() if name in served} for one in members)
        )
        if not days:
            continue
        last = max(days)
        endless = all(one.last_open[name] == last for one in members)
        cut_offs = {s.cut_off for s in shelf.services if s.service == name and s.cut_off}
        found.append(Way(name, min(days), None if endless else last, endless, min(cut_offs, default=None)))
    return tuple(found)
