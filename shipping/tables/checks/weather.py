"""Weather and disruptions: of their place, month and year, whole, from low to high, on ways that are gone."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise, permutations

from shipping.tables.checks.figures import BOUNDS
from shipping.tables.checks.row_problems import asked, before, problem, twice
from shipping.tables.climate import ClimatePlace, climate_places, parcel_mean_c, place_of_part
from shipping.tables.country_parts import region_of
from shipping.tables.rows.services import Postage
from shipping.tables.rows.weather import Disruption, Weather
from shipping.tables.shelf import Draft
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say

#: The widest span of a parcel's warmth in one month, and how long one spell of weather lasts. Assumed.
WIDEST_SPAN_C = 30
LONGEST_SPELL_D = 62
#: How far ahead a row of days is written, and how long ago one stays. Assumed.
AHEAD_D = 75
#: So far above what the program would take, or so far below the mean outdoors, the low and the high of a row
#: of weather have their unit, sign or month mistyped; a part of a country may be so much further off [K].
#: Assumed.
LOW_OF_HEATED_C, HEATED_SPAN_C = 4, 4  # where low and high are so near, the way is heated all along
LOW_ABOVE_C, HIGH_ABOVE_C, LOW_BELOW_C, HIGH_BELOW_C, OF_A_PART_C, OF_A_NAMED_PART_C = -2, 12, 28, 8, 10, 4
#: A disruption or a spell of weather that begins later has its year mistyped. Assumed.
FARTHEST_AHEAD_D = 270
#: A disruption longer than this is a way that is closed. Assumed.
MOST_DAYS_LONGER = 15
#: And one of few days makes the way no longer than so many times those, and so many more. Assumed.
LONGER_TIMES, DAYS_LONGER = 3, 2


def weather_is_of_this_year(draft: Draft) -> Iterator[Problem]:
    """A span no month has, a spell of months, and days a year ago that mean those ahead."""
    months, today = months_by_place(draft), draft.today
    for row in draft.weather:
        if row.high_c - row.low_c > WIDEST_SPAN_C:
            text = "{low_c:g} to {high_c:g} °C within one parcel's days."
            yield from asked(draft, row, "low_c", text, "Look at sign and point")
        if row.from_ and row.until and (days := (row.until - row.from_).days) > LONGEST_SPELL_D:
            text = say("{day} is {days} days after from, {from}.", row.until, days, row.from_)
            yield from asked(draft, row, "until", text, "Look at day, month and year")
        elif row.from_ and row.until and (month := _month_beside(months, row)):
            text = say(
                "{low:g} to {high:g} °C, and the row of that month has {coldest:g} to {warmest:g}.",
                *(row.low_c, row.high_c, month.low_c, month.high_c),
            )
            yield from asked(draft, row, "low_c", text, "Look at unit, sign and month")
    dated: tuple[Weather | Disruption, ...] = (*draft.weather, *draft.disruptions)
    last = today + timedelta(days=AHEAD_D)
    ahead = {one.to for one in dated if one.from_ and one.until and one.from_ <= last and today <= one.until}
    for spell in dated:
        if spell.from_ and (days := (spell.from_ - today).days) > FARTHEST_AHEAD_D:
            text = "{day} is {days} days ahead."
            yield from asked(draft, spell, "from_", text, "Look at the year", day=spell.from_, days=days)
        if spell.to not in ahead and spell.from_ and spell.until and _means_next(today, spell):
            text = "{day} is past, and the same days are ahead of the year after."
            yield from asked(draft, spell, "until", text, "Look at the year", day=spell.until)


#: A spell in a part of a country may be so much further off the country's own month [K]. Assumed.
OF_A_SPELL_C = 4


def _month_beside(months: Mapping[str, Mapping[int, Weather]], row: Weather) -> Weather | None:
    """The month's row of the spell's place, or its country, of which the spell shares no degree."""
    wider = 0.0 if row.to in months else OF_A_SPELL_C
    of_place = months.get(row.to) or months.get(row.to.partition("-")[0]) or {}
    found = [of_place[month] for month in _months_of(row) if month in of_place]
    is_hot = all(row.low_c > one.high_c + wider for one in found)
    is_cold = all(row.high_c < one.low_c - wider for one in found)
    return found[0] if found and (is_hot or is_cold) else None


#: A row of every year's days: of a year that is past it says nothing.
_YEARLY = re.compile(
    r"\b(?:every|each) year|\byearly|\bannual(?:ly)?|\bjedes jahr|\bjährlich|\bchaque année|\btous les ans|"
    r"\bcada año|\btodos los años",
    re.IGNORECASE,
)


def _means_next(today: date, spell: Weather | Disruption) -> bool:
    """Past days that a year later lie in the weeks ahead, or that their source calls every year's."""
    until, ahead = spell.until or today, (spell.from_ or today) + timedelta(days=365)
    is_near = today <= until + timedelta(days=366) and today <= ahead <= today + timedelta(days=AHEAD_D)
    return until < today and (is_near or bool(_YEARLY.search(spell.source)))


def weather_is_of_its_place(draft: Draft) -> Iterator[Problem]:
    """A row far off the normals of its place and month: degrees Fahrenheit, another month, a sign."""
    if draft.settings is None:
        return
    margins, bounds = draft.settings.warmth, [one for one in BOUNDS if one.table == "weather"]
    coldest = _coldest_of_all_others(draft)
    for row in draft.weather:
        is_asked_about = any(one.text(getattr(row, one.column)) for one in bounds)
        if is_asked_about or row.high_c - row.low_c > WIDEST_SPAN_C:
            continue
        country, _, part = (coldest if row.to == "*" else row.to).partition("-")
        countries = draft.zone_countries.get(row.to, (country,))
        listed = [place for one in countries for place in climate_places().get(one, ())]
        of_part = place_of_part(country, part)
        places = [of_part] if of_part else listed
        months = _months_of(row)
        above = LOW_ABOVE_C if row.high_c - row.low_c > HEATED_SPAN_C else LOW_OF_HEATED_C
        wider = OF_A_NAMED_PART_C if of_part else OF_A_PART_C if part else 0
        for one in _parts_ordered_to(draft, row.to):  # one row of a wide country hides how cold a part is
            warmest = max(one.means_c[month - 1] for month in months)
            if row.low_c > parcel_mean_c(warmest) + margins.hot_margin_c + above + OF_A_NAMED_PART_C:
                places, wider = [one], OF_A_NAMED_PART_C
        means = [place.means_c[month - 1] for place in places for month in months]
        if not means:
            continue
        low = parcel_mean_c(min(means)) - margins.cold_margin_c
        high = parcel_mean_c(max(means)) + margins.hot_margin_c
        is_hot = row.high_c > high + HIGH_ABOVE_C + wider
        is_wintry = row.high_c < min(means) - HIGH_BELOW_C - wider
        is_cold = row.low_c < min(means) - LOW_BELOW_C - wider
        if is_hot or is_wintry or is_cold or row.low_c > high + above + wider:
            column = "high_c" if is_hot or is_wintry else "low_c"
            text = "{value:g} °C is far from {low:.0f} to {high:.0f}, usual there at that time of year."
            mend = say("Look at unit, sign and month")
            yield from asked(draft, row, column, text, mend, value=getattr(row, column), low=low, high=high)


def _coldest_of_all_others(draft: Draft) -> str:
    """Of the countries that orders go to, and no row names, the coldest: a row for everywhere is its row."""
    named = {one for row in draft.weather for one in draft.countries_of(row.to)}
    means = {
        country: min(min(place.means_c) for place in places)
        for country in {row.country for row in draft.first_rows} - named
        if (places := climate_places().get(country, ()))
    }
    return min(sorted(means), key=means.__getitem__, default="*")


def _parts_ordered_to(draft: Draft, country: str) -> Iterator[ClimatePlace]:
    """The listed places that stand for the parts of a wide country to which orders go."""
    parts = {
        region_of(country, row.region, row.postcode) for row in draft.first_rows if row.country == country
    }
    yield from (place for part in sorted(parts) if (place := place_of_part(country, part)))


def _months_of(row: Weather) -> tuple[int, ...]:
    """The months that a row is of: its own, or those in which its days lie."""
    if row.month is not None:
        return (row.month,)
    if row.from_ is None or row.until is None:
        return ()
    days = range((row.until - row.from_).days + 1)
    return tuple(sorted({(row.from_ + timedelta(days=day)).month for day in days}))


def disruptions_meet_a_way(draft: Draft) -> Iterator[Problem]:
    """A disruption or postage of a place or a service that nothing goes by changes nothing."""
    reached: dict[str | None, set[str]] = {None: set()}
    for way in draft.services:
        places = {one for to in way.to for one in draft.countries_of(to)}
        reached[None] |= places
        reached[way.service] = reached.get(way.service, set()) | places
    home = draft.settings.home.country if draft.settings else ""
    for row in draft.disruptions:
        if row.days > min(MOST_DAYS_LONGER, DAYS_LONGER + LONGER_TIMES * ((row.until - row.from_).days + 1)):
            text = "{days:g} working days longer."
            yield from asked(draft, row, "days", text, "Write it in working days, or yes in stopped")
    told: tuple[Disruption | Postage, ...] = (*draft.disruptions, *draft.postage)
    for named in told:
        ways = reached.get(named.service)
        everywhere = {"*"} if isinstance(named, Postage) else {home, "*"}
        if not ways or everywhere & set(named.to) or "services" not in draft.complete:
            continue
        there = {one for place in named.to for one in draft.countries_of(place)}
        if "*" not in ways and not there & ways:
            text = "no service goes to {places} that way: the row changes nothing."
            yield from asked(draft, named, "to", text, "Look at place and service", places=" ".join(named.to))


def weather_runs_from_low_to_high(draft: Draft) -> Iterator[Problem]:
    """low_c <= high_c."""
    for row in draft.weather:
        if row.low_c > row.high_c:
            text = "{low_c:g} is above high_c, {high_c:g}."
            yield problem(row, "low_c", "order", text, "Write the lower of the two.")


def weather_is_of_a_month_or_of_days(draft: Draft) -> Iterator[Problem]:
    """Each row names a month, or the days from and until; days of one place do not overlap."""
    days: dict[str, list[Weather]] = {}
    for row in draft.weather:
        if row.month is not None and (row.from_ or row.until):
            text = "{month} stands beside days, and a row is of a month or of days."
            yield problem(row, "month", "order", text, "Leave month blank, or from and until.")
        elif row.month is None and not (row.from_ and row.until):
            lacks = "until" if row.from_ else "from" if row.until else "month"
            mend = "Write a month from 1 to 12, or the days from and until."
            yield problem(row, lacks, "blank", "is blank, and so nothing says when the row holds.", mend)
        elif row.from_ and row.until and row.until < row.from_:
            yield from before(row, "until", "from_", "Write the last day it holds.")
        elif row.month is None:
            days.setdefault(row.to.casefold(), []).append(row)
    for rows in days.values():
        by_day = sorted(rows, key=lambda row: (str(row.from_), row.at.row))
        for earlier, later in pairwise(by_day):
            if earlier.until and later.from_ and later.from_ <= earlier.until:
                text = say("{day} lies within the days of row {row} too.", later.from_, earlier.at.row)
                yield problem(later, "from", "twice", text, "Keep one row a place and day.")


def disruptions_are_whole(draft: Draft) -> Iterator[Problem]:
    """from <= until, and each says by how much or that it stops; none is very long or stands twice."""
    named = ((row, f"{' '.join(row.to)} {row.service or '*'} from {row.from_}") for row in draft.disruptions)
    for same in twice(named, "from", "Keep one row a place, service and day."):
        yield replace(same, level=Level.NOTICE)
    for row in draft.disruptions:
        if (days := (row.until - row.from_).days) > LONGEST_DISRUPTION_D:
            text = "{day} is {days} days after from, {from}."
            yield from asked(draft, row, "until", text, "Look at the year", day=row.until, days=days)
        if row.until < row.from_:
            yield from before(row, "until", "from_", "Write the last day it holds.")
        elif not row.days and not row.stopped:
            mend = "Write how many working days longer, or yes in stopped."
            yield problem(row, "days", "blank", "is blank, and so is stopped: the row changes nothing.", mend)
        elif row.stopped and not row.service and _stops_all(draft, row):
            text = "{day}: until then nothing would go anywhere, for {days} days."
            yield from asked(draft, row, "until", text, "Look at both days", day=row.until, days=days + 1)
        elif row.days and row.stopped:
            text = "{days:g} working days longer, and in stopped that nothing is handed over."
            yield from asked(draft, row, "days", text, "Empty one of the two")


#: So many days on which nothing goes anywhere are no breeder's holiday. Assumed.
LONGEST_REST_D = 28


def _stops_all(draft: Draft, row: Disruption) -> bool:
    """Would nothing go by any service for weeks from now on?"""
    places = {one for way in draft.services for place in way.to for one in draft.countries_of(place)}
    there = {one for place in row.to for one in draft.countries_of(place)}
    is_long = (row.until - max(row.from_, draft.today)).days > LONGEST_REST_D
    return (
        is_long
        and row.from_ <= draft.today + timedelta(days=LONGEST_REST_D)
        and ("*" in there or places <= there)
    )


#: A disruption that lasts longer is asked about: mostly its year is a slip. Assumed.
LONGEST_DISRUPTION_D = 300
#: Between the month's extremes and the next month's lie fewer degrees, wherever people live. Assumed.
MONTHLY_STEP_C = 9


def months_by_place(draft: Draft) -> dict[str, dict[int, Weather]]:
    """The first row of each month of each place."""
    places: dict[str, dict[int, Weather]] = {}
    for row in draft.weather:
        if row.month is not None:
            places.setdefault(row.to, {}).setdefault(row.month, row)
    return places


def months_follow_each_other(draft: Draft) -> Iterator[Problem]:
    """A place's month is not another season than the month before it."""
    for months in months_by_place(draft).values():
        for column in ("low_c", "high_c"):
            steps = {
                month: [
                    abs(getattr(row, column) - getattr(months[near], column))
                    for near in (month % 12 + 1, (month - 2) % 12 + 1)
                    if near in months
                ]
                for month, row in months.items()
            }
            odd = [month for month, each in steps.items() if each and min(each) > MONTHLY_STEP_C]
            most = max((len(steps[month]) for month in odd), default=0)
            for month in odd:  # of a month and those that have none but it beside them, the one between them
                if len(steps[month]) == most:
                    here, step = getattr(months[month], column), round(min(steps[month]), 1)
                    text = say("{here:g} is {step:g} degrees from the month beside it.", here, step)
                    yield from asked(draft, months[month], column, text, "Look at sign and point")


#: So many places have the same months where one that lacks one of them has it under another name.
LEAST_PLACES, LEAST_MONTHS = 3, 2


def weather_has_every_month_of_its_places(draft: Draft) -> Iterator[Problem]:
    """A month under another place or number: the place it was meant for would have none."""
    rows_of = months_by_place(draft)
    near = {(draft.today + timedelta(days=days)).month for days in (0, 28)}
    if len(rows_of) <= LEAST_PLACES:
        return
    (months, times), *_ = Counter(frozenset(rows) for rows in rows_of.values()).most_common()
    if times < LEAST_PLACES or len(months) < LEAST_MONTHS or times < 0.6 * len(rows_of):
        return
    lacking = {place: months - set(rows) for place, rows in rows_of.items() if len(months - set(rows)) == 1}
    for place, missing in lacking.items() if len(lacking) == len(rows_of) - times == 1 else ():
        if missing & near and set(rows_of[place]) < months:
            (month,) = missing
            text = say("no row has month {month} of '{place}', and all other places have it.", month, place)
            first = next(iter(rows_of[place].values()))
            yield from asked(draft, first, "to", text, "Write that month")
    for place, rows in rows_of.items():
        for month, row in rows.items():
            if month not in months and len(lacking.get(place, ())) == 1:
                (other,) = lacking[place]
                text = say(
                    "month {month} of '{place}' stands here, and no row has month {other}.",
                    month,
                    place,
                    other,
                )
                yield from asked(draft, row, "month", text, "Look at place and month")
            elif len(rows) == 1 and (lacks := sorted(at for at, one in lacking.items() if one == {month})):
                text = say(
                    "month {month} is the only one of '{place}', and '{other}' has all but that one.",
                    month,
                    place,
                    lacks[0],
                )
                yield from asked(draft, row, "to", text, "Look at place and month")


#: A month's low or high that lies on one side of both months beside it by so much is no season [K].
OUT_OF_SEASON_C = 3.5


def months_lie_between_their_neighbours(draft: Draft) -> Iterator[Problem]:
    """A month warmer, or colder, than both beside it: a digit too many or too few in its low or high."""
    rows = [(months, month) for months in months_by_place(draft).values() for month in months]
    for months, month in rows:
        row, before, after = (months.get((month + step) % 12 + 1) for step in (-1, -2, 0))
        if row is None or before is None or after is None:
            continue
        for column in ("low_c", "high_c"):
            here = getattr(row, column)
            steps = (here - getattr(before, column), here - getattr(after, column))
            if min(steps) > OUT_OF_SEASON_C or max(steps) < -OUT_OF_SEASON_C:
                text = say(
                    "{here:g} °C, and the months beside it have {before:g} and {after:g}.",
                    here,
                    getattr(before, column),
                    getattr(after, column),
                )
                yield from asked(draft, row, column, text, "Look at the point")


#: Two months whose normals lie so far apart, and whose rows lie as far the other way, are exchanged [K].
EXCHANGED_C = 2.0


def months_are_not_exchanged(draft: Draft) -> Iterator[Problem]:
    """Two months of a place of which the warmer one is the colder here, in low and high."""
    for to, months in months_by_place(draft).items():
        places = climate_places().get(to.partition("-")[0], ())
        for (first, row), (second, other) in permutations(months.items(), 2) if places else ():
            colder = min(other.low_c - row.low_c, other.high_c - row.high_c)
            warmer = min(place.means_c[first - 1] - place.means_c[second - 1] for place in places)
            if warmer >= EXCHANGED_C and colder >= EXCHANGED_C:
                text = say(
                    "month {month} is colder than month {other}, and there it is warmer.", first, second
                )
                yield from asked(draft, row, "month", text, "Exchange the two, if they are turned")
