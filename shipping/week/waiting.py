"""Where a line stands that does not go this week: its options and its order in, verdict, date and reasons out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

from shipping.post.restrictions import closed_at_home, media_of, ruling
from shipping.tables.lots import Lot
from shipping.tables.orders import Line, Order
from shipping.tables.shelf import Shelf
from shipping.week.ahead import DaysAhead
from shipping.week.choices import Choices
from shipping.week.expected import HORIZON_D, ExpectedEggs
from shipping.week.left import Draws, EggsLeft, draws_for
from shipping.week.options import packing_warmth, unpaid
from shipping.week.planned import LineOut, Parcel
from shipping.week.rides import Leg, Option, units_for
from shipping.words.reasons import Reason, Verdict, nearest_first
from shipping.words.units import weekday

LOOK_CODES = frozenset({"recount", "misdated", "overdue", "too-old"})
#: What may stand in the way of a lot to look at, and still be removed by the look.
_BY_A_LOOK = LOOK_CODES | {"short", "too-young", "would-hatch"}


@dataclass(frozen=True)
class Queue:
    """What lines that wait have in common: what the plan leaves, and what groups will give; older orders ask first."""

    choices: Choices
    left: EggsLeft
    expected: ExpectedEggs
    going: frozenset[tuple[str, int]]
    parcels: tuple[Parcel, ...]

    @cached_property
    def ahead(self) -> DaysAhead:
        """The days of the week planned and after it, for the lines that wait."""
        return DaysAhead(self.left, (*self.choices.days, *_later_days(self.choices)), tuple(self.waiting()))

    @classmethod
    def behind(cls, choices: Choices, parcels: tuple[Parcel, ...]) -> Queue:
        """The queue behind the parcels of a plan."""
        going = frozenset((line.order, line.line) for parcel in parcels for line in parcel.lines)
        left = EggsLeft.after(choices.reckoner, parcels)
        return cls(choices, left, ExpectedEggs(choices.shelf), going, parcels)

    def waiting(self) -> Iterator[tuple[Order, Line]]:
        """Every line that does not go, the oldest order first, as they are to be asked about."""
        for order in sorted(self.choices.shelf.orders, key=lambda order: (order.placed_on, order.order)):
            yield from ((order, line) for line in order.lines if line.key not in self.going)


def lines_out(choices: Choices, parcels: tuple[Parcel, ...]) -> tuple[LineOut, ...]:
    """Where every line stands that is in none of the parcels; by order and line.

    Notes
    -----
    Older orders are asked about first, and each line that waits has its eggs from then on, so that two lines never wait for
    the same ones: what the plan draws, and what an older line waits for, is gone for the next.
    """
    queue = Queue.behind(choices, parcels)
    found = {line.key: line_out(queue, order, line) for order, line in queue.waiting()}
    for order in choices.shelf.orders:
        out = [found[line.key] for line in order.lines if line.key in found]
        if len(out) > 1 and not order.may_split:
            found |= {(one.order, one.line): one for one in _together(out)}
    return tuple(found[line.key] for order in choices.shelf.orders for line in order.lines if line.key in found)


def _together(out: list[LineOut]) -> list[LineOut]:
    """The lines of an order that travels whole: those that wait, wait for the last; nobody knows, if one is held or stops."""
    days = [one.until for one in out if one.verdict is Verdict.WAIT]
    known = [day for day in days if day is not None]
    last = max(known) if len(known) == len(out) else None
    return [replace(one, until=last) if one.verdict is Verdict.WAIT else one for one in out]


def line_out(queue: Queue, order: Order, line: Line) -> LineOut:
    """Where a line stands, until when that may change (None: nobody knows), and all reasons, the nearest first."""
    choices = queue.choices
    options = choices.options(order, line)
    lots = choices.lots_for(line.species, line.population)
    rules, closed = _rule_reasons(choices, order, line, lots)
    asks = [] if line.paid else [unpaid(line)]
    asks += rules
    asks += _post_reasons(choices, order)
    reasons = asks + _distinct(options) + _lot_reasons(choices, line, lots) + _route_reasons(choices, order)
    if closed:
        return LineOut(order.order, line.number, Verdict.STOP, None, nearest_first(reasons))
    if asks or _look_would_serve(options, line):
        return LineOut(order.order, line.number, Verdict.HOLD, None, nearest_first(reasons))
    crowded = _crowded(queue, order, line, options)
    waits, until = when_served(queue, order, line)
    if crowded or waits or _only_eggs(options):
        return LineOut(order.order, line.number, Verdict.WAIT, until, nearest_first(crowded + reasons))
    return LineOut(order.order, line.number, Verdict.STOP, None, nearest_first(reasons))


def when_served(queue: Queue, order: Order, line: Line) -> tuple[bool, date | None]:
    """Will eggs do for a line within the horizon, and the first day on which; the line has those eggs from then on."""
    own = first_draws(queue, order, line)
    if own is not None:
        draws, day = own
        queue.left.take(draws, day, order.order)
    elif (found := _from_group(queue, order, line)) is not None:
        day, group = found
        queue.expected.take(group, line.eggs)
    else:
        return False, None
    return True, day


def _rule_reasons(choices: Choices, order: Order, line: Line, lots: tuple[Lot, ...]) -> tuple[list[Reason], bool]:
    """What the rules ask before anything of this line may go, and whether they forbid it everywhere."""
    shelf = choices.shelf
    species = shelf.species[line.species]
    to = choices.reckoner.destination(order)
    media = sorted({p.travels_in(lot.medium) for lot in lots for p in shelf.packings if lot.medium in p.media})
    rulings = [
        ruling(shelf, to.country, to.subdivision, species, medium, day, order.papers)
        for medium in media or media_of(shelf, species)
        for day in choices.days or (shelf.today,)
    ]
    home = closed_at_home(shelf, species, lots[0].medium if lots else ("peat" if species.is_damp else "water"))
    closed = home is not None or all(found.is_closed for found in rulings)
    reasons = list(home.reasons) if home else []
    if not any(found.passes for found in rulings):
        reasons += [reason for found in rulings for reason in found.reasons]
    return list(nearest_first(reasons)), closed


def _post_reasons(choices: Choices, order: Order) -> list[Reason]:
    """The operator's answer, where every service that goes there lacks a yes."""
    services = choices.reckoner.services(order.country, order.service)
    if not services or any(service.live_eggs == "yes" for service in services):
        return []
    to = choices.reckoner.destination(order)
    day = choices.days[0] if choices.days else choices.shelf.today
    legs = [choices.reckoner.leg(service, to, day) for service in services]
    return [reason for leg in legs for reason in leg.reasons if reason.code == "ask-post"]


def _route_reasons(choices: Choices, order: Order) -> list[Reason]:
    if choices.reckoner.services(order.country, order.service):
        return []
    named = f"{order.service} does not go" if order.service else "No service goes"
    text = f"{named} to {order.country}: add a row to services and postage, or tell the buyer."
    return [Reason("no-route", text, {"to": order.country, "service": order.service}, "services")]


def _lot_reasons(choices: Choices, line: Line, lots: tuple[Lot, ...]) -> list[Reason]:
    """No lot, another population only, or no packing for its medium."""
    shelf = choices.shelf
    if lots:
        media = {lot.medium for lot in lots}
        if any(medium in packing.media for medium in media for packing in shelf.packings):
            return []
        text = f"No packing takes eggs kept in {', '.join(sorted(media))}."
        return [Reason("no-packing", text, {"media": sorted(media)}, "packings")]
    others = sorted({lot.population for lot in choices.lots_for(line.species, "")})
    if others:
        text = f"No lot of {line.species} {line.population}; on hand: {', '.join(filter(None, others)) or 'unnamed'}."
        return [Reason("other-population", text, {"ordered": line.population, "on_hand": list(others)}, "lots")]
    wanted = f"{line.species} {line.population}".strip()
    return [Reason("no-lot", f"No lot of {wanted}.", {"species": line.species}, "lots")]


def _distinct(options: list[Option]) -> list[Reason]:
    """One reason a code and lot: that of the option with the fewest against it.

    What stands against a day without hand-over says nothing of the line, unless there is no other day.
    """
    handed_over = [option for option in options if all(reason.code != "closed-day" for reason in option.reasons)]
    found: dict[tuple[str, str], Reason] = {}
    by_few = sorted(handed_over or options, key=lambda o: (len(o.reasons), o.ride.leg.day, o.ride.leg.service.service))
    for option in by_few:
        for reason in option.reasons:
            if reason.code != "closed-day" or len(option.reasons) == 1:
                found.setdefault((reason.code, option.ride.lot_day.forecast.lot.lot), reason)
    return list(found.values())


def _look_would_serve(options: Iterable[Option], line: Line) -> bool:
    """Could a lot that must be looked at serve it, if the look is good?"""
    for option in options:
        codes = {reason.code for reason in option.reasons}
        forecast = option.ride.lot_day.forecast
        enough = forecast.count.eggs - forecast.lot.keep_back >= line.eggs
        if codes & LOOK_CODES and codes <= _BY_A_LOOK and enough:
            return True
    return False


def _crowded(queue: Queue, order: Order, line: Line, options: list[Option]) -> list[Reason]:
    """Why a line that could go by itself does not: another line of its order, full days, or eggs that others get."""
    choices, parcels = queue.choices, queue.parcels
    could = [option for option in options if option.passes]
    if not (could or choices.may_be_shared(line.key)):
        return []
    others = [other for other in order.lines if other.key != line.key and not choices.is_fillable(other.key)]
    if others and not order.may_split:
        text = f"Waits for line {others[0].number} of order {order.order} ({others[0].species}), which cannot go yet."
        return [Reason("other-line", text, {"order": order.order, "line": others[0].number}, "orders")]
    limit = choices.shelf.settings.plan.parcels_per_day
    made = choices.shelf.parcels_made
    loads = {day: made.get(day, 0) + sum(p.dispatch_on == day for p in parcels) for day in choices.days}
    days = {option.ride.leg.day for option in could} or set(choices.days)
    if limit is not None and all(loads.get(day, 0) >= limit for day in days):
        text = f"The days on which it could go are full ({limit} parcels a day)."
        return [Reason("day-full", text, {"parcels_per_day": limit}, "shelf.toml")]
    lots = sorted({option.ride.lot_day.forecast.lot.lot for option in could})
    text = f"The eggs of lot {', '.join(lots) or 'several'} serve more, or older, order value elsewhere this week."
    return [Reason("short", text, {"lots": lots}, "plan")]


def _only_eggs(options: list[Option]) -> bool:
    """Is a lack of eggs all that stands against some option?"""
    return any({reason.code for reason in option.reasons} == {"short"} for option in options)


def first_draws(queue: Queue, order: Order, line: Line, *, answered: bool = False) -> tuple[Draws, date] | None:
    """The draws that fill a line after the week planned, and the first day within the horizon on which they do.

    With ``answered`` what a person has to answer first is taken as answered, so that it may still go in the week planned.
    """
    choices, left = queue.choices, queue.left
    this_week = choices.days if answered else ()
    days = (day for day in (*this_week, *_later_days(choices)) if not left.is_full(day, order.order))
    for day in queue.ahead.days_for(order, line, days, answered):
        options = choices.options_of(order, line, line.species, line.population, (day,))
        found = draws_for(options, left, answered=answered)
        if found is not None and _has_box(choices, order, line, *found):
            return found[0], day
    return None


def _later_days(choices: Choices) -> Iterator[date]:
    """The breeder's days to post after the week planned, within the horizon."""
    shelf = choices.shelf
    day, last = max(choices.days, default=shelf.today), shelf.today + timedelta(days=HORIZON_D)
    while (day := day + timedelta(days=1)) <= last:
        if weekday(day) in shelf.settings.plan.dispatch_days:
            yield day


def _has_box(choices: Choices, order: Order, line: Line, draws: Draws, option: Option) -> bool:
    """Does a box and its postage take draws from several lots? One lot's were weighed with the option."""
    packing, service = option.ride.packing, option.ride.leg.service.service
    units = sum(units_for(packing, eggs) for _, eggs in draws)
    return len(draws) == 1 or choices.parcels.cost(order.country, service, ((line.key, packing.packing, units),)) is not None


def _from_group(queue: Queue, order: Order, line: Line) -> tuple[date, str] | None:
    """The first day to post within the horizon by which a spawning group's eggs should do, eyed, and the group."""
    choices = queue.choices
    found = queue.expected.ready_for(line.species, line.population, line.eggs)
    if found is None:
        return None
    ready, group = found
    to = choices.reckoner.destination(order)
    services = choices.reckoner.services(order.country, order.service)
    for day in _later_days(choices):
        if day < max(ready, order.not_before or ready):
            continue
        legs = [choices.reckoner.leg(service, to, day) for service in services]
        in_time = [leg for leg in legs if order.not_after is None or leg.arrivals.p95 <= order.not_after]
        open_legs = [leg for leg in in_time if all(reason.code != "closed-day" for reason in leg.reasons)]
        if any(_bears(choices.shelf, line.species, leg) for leg in open_legs):
            return day, group
    return None


def _bears(shelf: Shelf, name: str, leg: Leg) -> bool:
    """Does some packing for the species' eggs bridge the warmth of a leg?"""
    species = shelf.species[name]
    kept = {lot.medium for lot in shelf.lots if lot.species == name} or {"peat" if species.is_damp else "water"}
    return any(
        not packing_warmth(shelf, packing, species, leg) for packing in shelf.packings if not kept.isdisjoint(packing.media)
    )
