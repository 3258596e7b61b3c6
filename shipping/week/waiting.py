"""Where a line stands that does not go this week: its options and its order in, verdict, date and reasons out."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from shipping.post.restrictions import closed_at_home, media_of, ruling
from shipping.tables.lots import Lot
from shipping.tables.orders import Line, Order
from shipping.week.choices import Choices
from shipping.week.options import unpaid
from shipping.week.planned import LineOut, Parcel
from shipping.week.rides import Option
from shipping.words.reasons import Reason, Verdict, nearest_first
from shipping.words.units import weekday

#: A line waits for what may happen within so many days.
HORIZON_D = 42
LOOK_CODES = frozenset({"recount", "misdated", "overdue", "too-old"})
#: What may stand in the way of a lot to look at, and still be removed by the look.
_BY_A_LOOK = LOOK_CODES | {"short", "too-young", "would-hatch"}


def line_out(choices: Choices, order: Order, line: Line, going: set[tuple[str, int]], parcels: tuple[Parcel, ...]) -> LineOut:
    """Where a line stands, until when that may change (None: nobody knows), and all reasons, the nearest first."""
    options = choices.options[line.key]
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
    crowded = _crowded(choices, order, line, options, going, parcels)
    if crowded:
        return LineOut(order.order, line.number, Verdict.WAIT, None, nearest_first(crowded + reasons))
    until = _first_day(choices, order, line)
    if until or _only_eggs(options):
        return LineOut(order.order, line.number, Verdict.WAIT, until, nearest_first(reasons))
    until = _from_group(choices, order, line)
    verdict = Verdict.WAIT if until else Verdict.STOP
    return LineOut(order.order, line.number, verdict, until, nearest_first(reasons))


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


def _crowded(
    choices: Choices,
    order: Order,
    line: Line,
    options: list[Option],
    going: set[tuple[str, int]],
    parcels: tuple[Parcel, ...],
) -> list[Reason]:
    """Why a line that could go by itself does not: another line of its order, full days, or eggs that others get."""
    could = [option for option in options if option.passes]
    split = any(found.line == line.key for found in choices.splits)
    if not (could or split):
        return []
    others = [other for other in order.lines if other.key != line.key and not _is_fillable(choices, other)]
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


def _is_fillable(choices: Choices, line: Line) -> bool:
    return any(f.line == line.key for f in choices.fillings) or any(s.line == line.key for s in choices.splits)


def _only_eggs(options: list[Option]) -> bool:
    """Is a lack of eggs all that stands against some option?"""
    return any({reason.code for reason in option.reasons} == {"short"} for option in options)


def _first_day(choices: Choices, order: Order, line: Line) -> date | None:
    """The first day within the horizon on which some option passes."""
    shelf = choices.shelf
    start = max(choices.days, default=shelf.today)
    for n in range(1, HORIZON_D + 1):
        day = start + timedelta(days=n)
        if day > shelf.today + timedelta(days=HORIZON_D):
            return None
        if weekday(day) not in shelf.settings.plan.dispatch_days:
            continue
        options = choices.options_of(order, line, line.species, line.population, (day,))
        if any(option.passes for option in options):
            return day
    return None


def _from_group(choices: Choices, order: Order, line: Line) -> date | None:
    """The first day within the horizon by which a spawning group's eggs should do, eyed, with the usual extra."""
    shelf = choices.shelf
    if not choices.reckoner.services(order.country, order.service):
        return None
    for group in shelf.groups:
        if group.species != line.species or (line.population and group.population.casefold() != line.population.casefold()):
            continue
        species = shelf.species[group.species]
        start = max(group.from_day or shelf.today, shelf.today)
        needed = 1.5 * line.eggs / (group.eggs_a_day * shelf.settings.plan.fertile_share)
        ready = start + timedelta(days=round(needed + species.eyed_at * species.hatch_days.usual))
        ends = group.until_day is not None and start + timedelta(days=round(needed)) > group.until_day
        if not ends and ready <= shelf.today + timedelta(days=HORIZON_D):
            return ready
    return None
