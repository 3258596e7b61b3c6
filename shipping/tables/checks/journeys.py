"""Checks of ways beside each other: services, postage, weather and disruptions that cannot be as written."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise
from statistics import median

from shipping.tables.checks.plausible import BOUNDS
from shipping.tables.checks.row_problems import asked, noted
from shipping.tables.climate import climate_places, km_between_countries, parcel_mean_c
from shipping.tables.country_codes import EU, is_country
from shipping.tables.rows.services import Postage, Service
from shipping.tables.rows.weather import Disruption, Weather
from shipping.tables.shelf import Draft
from shipping.words.keys import grouped
from shipping.words.problems import Problem
from shipping.words.sentence import say

#: A service that loses more parcels is nobody's choice; more than half is asked about by its bounds. Assumed.
LEAST_LOST, MOST_LOST = 0.08, 0.5
#: So many times the least share of parcels held at a border, all others' mean that the least has its point
#: misplaced. Assumed.
LIKE_OTHERS = 5
#: From so many usual days on, a way has a late day that differs; one out of the country has it always, where
#: any way has. Assumed.
SPREAD_FROM_D = 3
#: A parcel is outside in one stretch for at least so many hours, and so many a day of its way, of which so
#: many days count. Assumed.
LEAST_EXPOSED_H, EXPOSED_H_A_DAY, MOST_EXPOSED_D = 4, 1.5, 6
#: So many times what other services ask for a place and weight, or a part of it, is a slip. Assumed.
DEARER_TIMES = 5
#: So many times the next lighter step of the same service. Assumed.
STEP_TIMES = 8
#: The widest span of a parcel's warmth in one month, and how long one spell of weather lasts. Assumed.
WIDEST_SPAN_C = 30
LONGEST_SPELL_D = 62
#: How far ahead a row of days is written, and how long ago one stays. Assumed.
AHEAD_D = 75
#: So far above what the program would take, or so far below the mean outdoors, the low and the high of a row
#: of weather have their unit, sign or month mistyped; a part of a country may be so much further off [K].
#: Assumed.
LOW_ABOVE_C, HIGH_ABOVE_C, LOW_BELOW_C, HIGH_BELOW_C, OF_A_PART_C = 4, 12, 28, 8, 10
#: Further than this nothing goes overnight [km], or in two days; nearer than this nothing takes
#: more than two weeks of working days as a rule. Assumed.
OVERNIGHT_KM, TWO_DAYS_KM, NEAR_KM, LONGEST_NEAR_D = 2500, 5000, 1500, 10
#: A disruption that begins later is written for the year before. Assumed.
FARTHEST_AHEAD_D = 270
#: A disruption longer than this is a way that is closed. Assumed.
MOST_DAYS_LONGER = 15


def services_are_whole_ways(draft: Draft) -> Iterator[Problem]:
    """Days that never differ, a stretch outdoors of no hours, a hand-over before every weekend only, a
    collection that costs postage, and an answer by nobody.
    """
    home = draft.settings.home.country if draft.settings else ""
    posted = {row.service for row in draft.services if not row.is_collection}
    fetched = {postage.service for postage in draft.postage if postage.price} - posted
    is_spread = any(row.early_d < row.late_d for row in draft.services)
    for row in draft.services:
        if row.is_collection:
            if row.service in fetched:
                text = "is 0: '{service}' would be collected in person, and it has postage."
                yield from asked(draft, row, "late_d", text, "Write the working days")
            continue
        abroad = [place for place in row.to if place != home and place != "*"]
        differs = row.early_d == row.late_d and (row.usual_d >= SPREAD_FROM_D or (abroad and is_spread))
        if differs or row.late_d == row.usual_d >= SPREAD_FROM_D:
            text = "{late_d:g} days usual and late: no parcel would ever be slower."
            yield from asked(draft, row, "late_d", text, "Look at both days")
        if row.exposed_h == 0:
            text = "is 0: no parcel of '{service}' would be outside for an hour."
            yield from asked(draft, row, "exposed_h", text, "Write the longest single stretch")
        elif row.exposed_h < max(LEAST_EXPOSED_H, EXPOSED_H_A_DAY * min(row.usual_d, MOST_EXPOSED_D)):
            text = "{exposed_h:g} hours outside are few for a way of {days:g} days."
            mend = say("Write the longest single stretch")
            yield from asked(draft, row, "exposed_h", text, mend, days=row.usual_d)
        if row.border_share and row.border_early_d == row.border_late_d is not None:
            text = "{border_late_d:g} days early and late: no parcel would ever be held longer."
            yield from asked(draft, row, "border_late_d", text, say("Look at both days"))
        if set(row.hand_over) <= {"Fri", "Sat", "Sun"} and {"Fri"} & set(row.hand_over):
            text = "{days}: every parcel would lie over a weekend."
            mend = say("Write the days on which the counter is open")
            yield from asked(draft, row, "hand_over", text, mend, days=" ".join(row.hand_over))
        if LEAST_LOST < row.parcel_lost_share <= MOST_LOST:
            text = say("{share:g} of all parcels would be lost on the way.", row.parcel_lost_share)
            yield from asked(draft, row, "parcel_lost_share", text, "Write the share, as 0.01 for 1 %")
        if row.live_eggs == "yes" and _NOBODY.fullmatch(row.answered_by):
            text = "'{source}' names nobody who said so."
            mend = say("Write who answered for the operator")
            yield from asked(draft, row, "answered_by", text, mend, code="no-source", source=row.answered_by)


_NOBODY = re.compile(r"me|myself|i|ich|moi|yo|nobody|none|tb[ad]|\?+|x+|test", re.IGNORECASE)


def answers_still_count(draft: Draft) -> Iterator[Problem]:
    """A yes to live eggs without a day, or too old, holds every parcel of the service."""
    most = draft.settings.plan.answer_age_days if draft.settings else 0
    for row in draft.services:
        if row.live_eggs != "yes" or row.is_collection or not most:
            continue
        if row.answered_on is None:
            text = "is blank: the operator's yes does not count."
            yield noted(row, "answered_on", "ask-post", text, "Write the day the operator answered.")
        elif most < (days := (draft.today - row.answered_on).days):
            text = "{day} is {days} days ago: the operator's yes no longer counts."
            mend = "Ask again, or look at the year."
            yield noted(row, "answered_on", "ask-post", text, mend, day=row.answered_on, days=days)


def borders_hold_parcels(draft: Draft) -> Iterator[Problem]:
    """A way into another customs ground on which nothing is ever held, where on others some is: eggs wait
    there for days.
    """
    if draft.settings is None or not any(row.border_share for row in draft.services):
        return
    home = draft.settings.home.country
    ground = EU if home in EU else frozenset({home})
    least = min(row.border_share for row in draft.services if row.border_share)
    shares = [row.border_share for row in draft.services if row.border_share >= LIKE_OTHERS * least]
    for row in draft.services:
        abroad = [place for place in row.to if place not in ground and is_country(place)]
        if row.border_share == least and len(shares) > 1:
            text = say("{share:g}, and other services have {other:g} at least.", least, min(shares))
            yield from asked(draft, row, "border_share", text, say("Look at the point"))
        if abroad and row.border_share == 0 and not row.is_collection:
            text = "is 0: no parcel to {places} would ever be held at the border."
            mend = say("Write the share of parcels held, and border days")
            yield from asked(draft, row, "border_share", text, mend, places=" ".join(abroad))


def postage_is_like_others(draft: Draft) -> Iterator[Problem]:
    """Postage far from what other services ask for the same place and weight, or from its own next step."""
    asks: dict[tuple[str, float], list[Postage]] = {}
    for row in draft.postage:
        for place in row.to if row.price else ():
            for country in draft.zone_countries.get(place, (place,)):
                asks.setdefault((country, row.up_to_g), []).append(row)
    told: set[int] = set()
    for beside in asks.values():
        for row in beside:
            others = [float(other.price) for other in beside if other.service != row.service]
            if row.at.row not in told and others and _is_far(float(row.price), median(others)):
                told.update(other.at.row for other in beside if len(beside) == 2 or other is row)
                text = "{price} is far from {other:.2f}, what others ask for that weight."
                yield from asked(draft, row, "price", text, "Look at the point", other=median(others))
    for steps in grouped(
        ((row.service, row.to, row.up_to_mm), row) for row in draft.postage if row.price
    ).values():
        by_weight = sorted(steps, key=lambda row: row.up_to_g)
        for lighter, heavier in pairwise(by_weight):
            if float(heavier.price) > STEP_TIMES * float(lighter.price) and lighter.at.row not in told:
                text = "{price} is far from {other:.2f}, the next step's."
                mend = say("Look at the point")
                yield from asked(draft, lighter, "price", text, mend, other=float(heavier.price))


def _is_far(price: float, usual: float) -> bool:
    return not usual / DEARER_TIMES <= price <= usual * DEARER_TIMES


def weather_is_of_this_year(draft: Draft) -> Iterator[Problem]:
    """A span no month has, a spell of months, and days a year ago that mean those ahead."""
    for row in draft.weather:
        if row.high_c - row.low_c > WIDEST_SPAN_C:
            text = "{low_c:g} to {high_c:g} °C within one parcel's days."
            yield from asked(draft, row, "low_c", text, "Look at sign and point")
        if row.from_ and row.until and (days := (row.until - row.from_).days) > LONGEST_SPELL_D:
            text = say("{day} is {days} days after from, {from}.", row.until, days, row.from_)
            yield from asked(draft, row, "until", text, "Look at day, month and year")
    dated: tuple[Weather | Disruption, ...] = (*draft.weather, *draft.disruptions)
    for spell in dated:
        if spell.from_ and spell.until and _means_next(draft.today, spell.from_, spell.until):
            text = "{day} is past, and the same days are ahead of the year after."
            yield from asked(draft, spell, "until", text, "Look at the year", day=spell.until)


def _means_next(today: date, begin: date, until: date) -> bool:
    """Past days that a year later lie in the weeks ahead."""
    ahead = begin + timedelta(days=365)
    return until < today <= until + timedelta(days=366) and today <= ahead <= today + timedelta(days=AHEAD_D)


def weather_is_of_its_place(draft: Draft) -> Iterator[Problem]:
    """A row far off the normals of its place and month: degrees Fahrenheit, another month, a sign."""
    if draft.settings is None:
        return
    margins, bounds = draft.settings.warmth, [one for one in BOUNDS if one.table == "weather"]
    for row in draft.weather:
        is_asked_about = any(one.text(getattr(row, one.column)) for one in bounds)
        if is_asked_about or row.high_c - row.low_c > WIDEST_SPAN_C:
            continue
        country, _, part = row.to.partition("-")
        countries = draft.zone_countries.get(row.to, (country,))
        places = [place for one in countries for place in climate_places().get(one, ())]
        months = _months_of(row)
        means = [place.means_c[month - 1] for place in places for month in months]
        if not means:
            continue
        low = parcel_mean_c(min(means)) - margins.cold_margin_c
        high = parcel_mean_c(max(means)) + margins.hot_margin_c
        wider = OF_A_PART_C if part else 0
        is_hot = row.high_c > high + HIGH_ABOVE_C + wider
        is_wintry = row.high_c < min(means) - HIGH_BELOW_C - wider
        is_cold = row.low_c < min(means) - LOW_BELOW_C - wider
        if is_hot or is_wintry or is_cold or row.low_c > high + LOW_ABOVE_C + wider:
            column = "high_c" if is_hot or is_wintry else "low_c"
            text = "{value:g} °C is far from {low:.0f} to {high:.0f}, usual there at that time of year."
            mend = say("Look at unit, sign and month")
            yield from asked(draft, row, column, text, mend, value=getattr(row, column), low=low, high=high)


def _months_of(row: Weather) -> tuple[int, ...]:
    """The months that a row is of: its own, or those in which its days lie."""
    if row.month is not None:
        return (row.month,)
    if row.from_ is None or row.until is None:
        return ()
    days = range((row.until - row.from_).days + 1)
    return tuple(sorted({(row.from_ + timedelta(days=day)).month for day in days}))


def days_are_of_the_distance(draft: Draft) -> Iterator[Problem]:
    """A service overnight across an ocean, or weeks on the way next door."""
    home = draft.settings.home.country if draft.settings else ""
    for row in draft.services:
        countries = {one for place in row.to for one in draft.zone_countries.get(place, (place,))}
        far = [km_between_countries(home, one.partition("-")[0]) for one in sorted(countries)]
        known = [km for km in far if km is not None]
        if row.is_collection or not known:
            continue
        km = median(known)
        if (row.usual_d <= 1 and km > OVERNIGHT_KM) or (row.usual_d <= 2 and km > TWO_DAYS_KM):
            text = say("{days:g} is short for some {km:.0f} km.", row.usual_d, round(km, -2))
            yield from asked(draft, row, "usual_d", text, "Write the working days")
        if row.usual_d > LONGEST_NEAR_D and len(known) == len(far) and max(known) < NEAR_KM:
            text = say("{days:g} is long within {km} km.", row.usual_d, NEAR_KM)
            yield from asked(draft, row, "usual_d", text, "Write the working days")


def disruptions_meet_a_way(draft: Draft) -> Iterator[Problem]:
    """A disruption of a place or a service that nothing goes by changes nothing."""
    for row in draft.disruptions:
        ways = [way for way in draft.services if row.service in (None, way.service)]
        home = draft.settings.home.country if draft.settings else ""
        if row.days > MOST_DAYS_LONGER:
            text = "{days:g} working days longer."
            yield from asked(draft, row, "days", text, "Write it in working days, or yes in stopped")
        if (days := (row.from_ - draft.today).days) > FARTHEST_AHEAD_D:
            text = "{day} is {days} days ahead."
            yield from asked(draft, row, "from_", text, say("Look at the year"), day=row.from_, days=days)
        if not ways or {home, "*"} & set(row.to) or "services" not in draft.complete:
            continue
        if not any(_meets(draft, place, way) for place in row.to for way in ways):
            text = "no service goes to {places} that way: the row changes nothing."
            yield from asked(draft, row, "to", text, "Look at place and service", places=" ".join(row.to))


def _meets(draft: Draft, place: str, way: Service) -> bool:
    def countries(name: str) -> set[str]:
        return set(draft.zone_countries.get(name, (name.partition("-")[0],)))

    there = countries(place)
    return any(to == "*" or there & countries(to) for to in way.to)
