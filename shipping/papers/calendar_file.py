"""A plan and its shelf in, a calendar for the phone out: hand-overs, looks, hatching, wetting, stale answers;
no buyer is named in it.

References
----------
iCalendar: RFC 5545.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from shipping.eggs.lot_forecast import lot_forecast
from shipping.post.calendar import holiday_name
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Plan
from shipping.words.units import many, weekday

#: Answers and rules are told of so many days before they go stale, and no earlier.
AHEAD_D = 60


@dataclass(frozen=True, slots=True)
class Day:
    """What a calendar says of some days; ``key`` is its own whenever the calendar is made."""

    key: str
    first: date
    last: date
    title: str
    more: str = ""


def calendar_days(plan: Plan, shelf: Shelf) -> tuple[Day, ...]:
    """What is to be done or watched, by day; what is over by today is left out."""
    every = (*_hand_overs(plan), *_lots(plan, shelf), *_stale(shelf), *_holidays(plan, shelf))
    days = (day for day in every if day.last >= shelf.today)
    return tuple(sorted(days, key=lambda day: (day.first, day.key)))


def _hand_overs(plan: Plan) -> Iterator[Day]:
    for day in sorted({parcel.dispatch_on for parcel in plan.parcels}):
        own = [parcel for parcel in plan.parcels if parcel.dispatch_on == day]
        eggs = sum(parcel.pack for parcel in own)
        by = ", ".join(sorted({f"{p.service}{f' by {p.cut_off}' if p.cut_off else ''}" for p in own}))
        lines = [
            f"{p.parcel} to {p.address.country}, {many(p.pack, 'egg')}, orders {' '.join(p.orders)}"
            for p in own
        ]
        title = f"Post {many(len(own), 'parcel')}, {many(eggs, 'egg')}: {by}"
        yield Day(f"hand-over-{day}", day, day, title, "\n".join(lines))
        looks = sorted({d.lot for p in own for line in p.lines for d in line.draws if d.look_first})
        for lot in looks:
            title = f"Look at {lot} before packing: only eggs that show eyes go"
            yield Day(f"look-{lot}-{day}", day, day, title)
        counts = {d.lot for p in own for line in p.lines for d in line.draws if d.count_first}
        for lot in sorted(counts - set(looks)):
            title = f"Count {lot} before packing: a good part of its last count is reckoned gone"
            yield Day(f"count-{lot}-{day}", day, day, title)


def _lots(plan: Plan, shelf: Shelf) -> Iterator[Day]:
    """Lots to look at today, and from when to when those with eggs left hatch, or are to be wetted."""
    left = {use.lot: use.left for use in plan.lots}
    for lot in shelf.lots:
        forecast = lot_forecast(shelf, lot.lot)
        fish = f"{lot.species} {lot.population}".strip()
        for doubt in forecast.doubts(shelf.today)[:1]:
            yield Day(f"look-{lot.lot}", shelf.today, shelf.today, f"Look at {lot.lot} ({fish})", doubt.text)
        first, last = forecast.wetting if lot.kept_damp else forecast.days_hatched((0.05, 0.95))
        if first and last and first <= last and left.get(lot.lot, 0) > 0:
            what = "Wet" if lot.kept_damp else "Hatching:"
            title = f"{what} {lot.lot} ({fish}), {many(left[lot.lot], 'egg')} left"
            yield Day(f"hatch-{lot.lot}", first, last, title)


def _stale(shelf: Shelf) -> Iterator[Day]:
    """The day on which a rule in hand, or an operator's yes, is too old to go by; today if it is already."""
    plan, until = shelf.settings.plan, shelf.today + timedelta(days=AHEAD_D)
    names = {order.country for order in shelf.orders}
    names |= {zone for zone, members in shelf.zones.items() if names & set(members)} | {"*"}
    for rule in shelf.rules:
        day = max(rule.checked_on + timedelta(days=plan.rule_age_days + 1), shelf.today)
        places = {place.partition("-")[0] for place in rule.places}
        if rule.verdict != "closed" and day <= until and names & places:
            fish = "any fish" if rule.taxon == "*" else rule.taxon
            title = f"Look up again: the rule for {rule.to} ({fish})"
            yield Day(f"rule-{rule.to}-{rule.taxon}-{rule.medium or ''}", day, day, title, rule.source)
    for service in shelf.services:
        if service.live_eggs == "yes" and service.answered_on:
            day = max(service.answered_on + timedelta(days=plan.answer_age_days + 1), shelf.today)
            if day <= until:
                yield Day(f"post-{service.service}", day, day, f"Ask {service.service} again about live eggs")


def _holidays(plan: Plan, shelf: Shelf) -> Iterator[Day]:
    """Days to post on which nothing is handed over at home, and days without delivery on the way."""
    home = shelf.settings.home
    for n in range(AHEAD_D + 1):
        day = shelf.today + timedelta(days=n)
        name = holiday_name(day, home.country, home.subdivision)
        if name and weekday(day) in shelf.settings.plan.dispatch_days:
            yield Day(f"no-post-{day}", day, day, f"Nothing is handed over: {name}")
    holidays = (holiday for parcel in plan.parcels for holiday in parcel.holidays)
    away = {(holiday.on, holiday.country): holiday.name for holiday in holidays}
    for (day, country), name in sorted(away.items()):
        yield Day(f"no-delivery-{country}-{day}", day, day, f"No delivery in {country}: {name}")


def calendar_bytes(plan: Plan, shelf: Shelf) -> bytes:
    """The calendar as a file: whole days with names that stay, so that a new one replaces an old one."""
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", "-//spawnpost//week//EN")
    calendar.add("version", "2.0")
    made = datetime.combine(shelf.today, time(), UTC)
    for day in calendar_days(plan, shelf):
        event = Event()
        event.add("uid", f"{day.key.replace(' ', '-')}@spawnpost")
        event.add("dtstamp", made)
        event.add("dtstart", day.first)
        event.add("dtend", day.last + timedelta(days=1))
        event.add("summary", day.title)
        if day.more:
            event.add("description", day.more)
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return bytes(calendar.to_ical())
