"""Checks of services, zones, postage: days of the distance, answers, losses, steps and prices that can be."""

from __future__ import annotations

import math
import re
from collections.abc import Container, Iterable, Iterator, Sequence
from decimal import Decimal
from itertools import pairwise, permutations
from statistics import median

from shipping.tables.checks.row_problems import after_today, asked, noted, problem
from shipping.tables.climate import km_between_countries
from shipping.tables.countries import EU, is_place, name_of
from shipping.tables.country_parts import part_codes
from shipping.tables.rows.services import Postage, Service
from shipping.tables.shelf import Draft
from shipping.words.keys import grouped
from shipping.words.problems import Problem
from shipping.words.sentence import say


def service_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    """0 < early <= usual <= late, or all three 0 where it is collected in person; the same at the border."""
    for row in draft.services:
        days = (row.early_d, row.usual_d, row.late_d)
        if not _in_order(*days):
            text = say("{early_d:g}, {usual_d:g}, {late_d:g} do not run from early to late.", *days)
            mend = "Write working days from 1 up, the early first; 0 0 0 where it is collected in person."
            yield problem(row, "early_d", "order", text, mend)
        early, usual, late = row.border_early_d, row.border_usual_d, row.border_late_d
        if row.border_share == 0:
            if late:
                text = "has {border_late_d:g} working days, and border_share is 0: they never happen."
                mend = "Write the share of parcels held, or empty the days."
                yield noted(row, "border_late_d", "border", text, mend, border_late_d=late)
        elif early is None or late is None:
            column = "border_early_d" if early is None else "border_late_d"
            text = "is blank, though {border_share:g} of parcels are held."
            yield problem(row, column, "border", text, "Write working days.")
        elif not _in_order(early, early if usual is None else usual, late):
            text = "{early:g} to {late:g} do not run from early to late."
            mend = "Write working days from 1 up, the early first."
            yield problem(row, "border_early_d", "order", text, mend, early=early, late=late)


def _in_order(early: float, usual: float, late: float) -> bool:
    return early == usual == late == 0 or 0 < early <= usual <= late


def answers_have_happened(draft: Draft) -> Iterator[Problem]:
    """answered_on <= today."""
    for row in draft.services:
        yield from after_today(draft, row, "answered_on", "Write the day the operator answered.")


def services_are_fetched_or_posted(draft: Draft) -> Iterator[Problem]:
    """A service both collected in person and posted, or with a cut-off at night, is asked about."""
    posted = {row.service: row for row in reversed(draft.services) if row.late_d > 0}
    for row in draft.services:
        if row.late_d == 0 and (other := posted.get(row.service)):
            text = "is 0: '{service}' is collected in person here, and posted on row {row}."
            yield from asked(draft, row, "late_d", text, "Write the working days", row=other.at.row)
        hour, _, minutes = (row.cut_off or "12:00").partition(":")
        if int(hour) < EARLIEST_CUT_OFF_H:
            text = "{cut_off} is in the night."
            if int(hour) >= MORNING_H:
                text = "{cut_off} is early in the morning."
            yield from asked(
                draft, row, "cut_off", text, say("Write {hour}:{minutes}", int(hour) + 12, minutes)
            )
        elif int(hour) >= LATEST_CUT_OFF_H:
            text = "{cut_off} is in the night."
            yield from asked(draft, row, "cut_off", text, "Write the counter's last hour")
        is_of_weekends = set(row.hand_over) <= {"Sat", "Sun"}
        if row.late_d > 0 and (is_of_weekends or ("Sun" in row.hand_over and "Mon" not in row.hand_over)):
            text = "{days}: Sunday, and not Monday."
            if is_of_weekends:
                text = "{days}: nothing is taken in but at the weekend."
            mend = say("Write the days on which the counter is open")
            yield from asked(draft, row, "hand_over", text, mend, days=" ".join(row.hand_over))


#: No counter takes parcels last before this hour. Assumed.
EARLIEST_CUT_OFF_H, MORNING_H = 8, 5
#: Nor from this hour on. Assumed.
LATEST_CUT_OFF_H = 22
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
#: Further than this nothing goes overnight [km], or in two days; nearer than this nothing takes
#: more than two weeks of working days as a rule. Assumed.
OVERNIGHT_KM, TWO_DAYS_KM, NEAR_KM, LONGEST_NEAR_D = 2500, 5000, 1500, 10


def services_are_whole_ways(draft: Draft) -> Iterator[Problem]:
    """Days that never differ, no hours outdoors, a hand-over before weekends only, an answer by nobody."""
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
        abroad = [place for place in row.to if place.partition("-")[0] not in (home, "*")] if home else []
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
            yield from asked(draft, row, "border_late_d", text, "Look at both days")
        overnight = row.saturday and row.late_d <= 1
        if set(row.hand_over) <= {"Fri", "Sat", "Sun"} and "Fri" in row.hand_over and not overnight:
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
    """A way into another customs ground on which nothing is ever held, where on others some is."""
    if draft.settings is None or not any(row.border_share for row in draft.services):
        return
    home = draft.settings.home.country
    ground = EU if home in EU else frozenset({home})
    least = min(row.border_share for row in draft.services if row.border_share)
    shares = [row.border_share for row in draft.services if row.border_share >= LIKE_OTHERS * least]
    for row in draft.services:
        abroad = [place for place in row.to if place[:2] not in ground and is_place(place)]
        if row.border_share == least and len(shares) > 1:
            text = say("{share:g}, and other services have {other:g} at least.", least, min(shares))
            yield from asked(draft, row, "border_share", text, "Look at the point")
        if abroad and row.border_share == 0 and not row.is_collection:
            text = "is 0: no parcel to {places} would ever be held at the border."
            mend = say("Write the share of parcels held, and border days")
            yield from asked(draft, row, "border_share", text, mend, places=" ".join(abroad))


#: A zone's country farther than this from all its others, which lie so near each other, has a code mistyped
#: [km].
LONELY_KM, TOGETHER_KM, LEAST_OF_A_ZONE = 5000, 2500, 4


def zones_lie_together(draft: Draft) -> Iterator[Problem]:
    """One country of a zone an ocean away from all others: AU for AT."""
    for zone in draft.zones:
        if len(zone.countries) < LEAST_OF_A_ZONE:
            continue
        nearest = {
            one: min((_km(one, other) for other in zone.countries if other != one), default=0.0)
            for one in zone.countries
        }
        far = [one for one, km in nearest.items() if km > LONELY_KM]
        if len(far) == 1 and all(km < TOGETHER_KM for one, km in nearest.items() if one != far[0]):
            text = say("{country} ({name}) lies far from all others of the zone.", far[0], name_of(far[0]))
            yield from asked(draft, zone, "countries", text, "Look at the code")


def _km(one: str, other: str) -> float:
    km = km_between_countries(one.partition("-")[0], other.partition("-")[0])
    return 0.0 if km is None else km


def days_are_of_the_distance(draft: Draft) -> Iterator[Problem]:
    """A service overnight across an ocean, or weeks on the way next door."""
    home = draft.settings.home.country if draft.settings else ""
    for row in draft.services:
        countries = {one for place in row.to for one in draft.zone_countries.get(place, (place,))}
        far = [km_between_countries(home, one) for one in sorted(countries)]
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


#: A zone of which the countries lie within this share of the way to another's is nearer. Assumed.
NEARER = 0.7


def ways_near_by_are_faster(draft: Draft) -> Iterator[Problem]:
    """One service that takes longer to a near zone than to a far one; two of one way and price list, of which
    the dearer is the slower: the days are the other row's.
    """
    home = draft.settings.home.country if draft.settings else ""
    posted = [row for row in draft.services if not row.is_collection]
    for rows in grouped((row.service, row) for row in posted).values():
        placed = [(km, row) for row in rows[:MOST_WAYS] if (km := _usual_km(draft, home, row)) is not None]
        for (near_km, near), (far_km, far) in permutations(placed, 2):
            if near_km < NEARER * far_km and near.border_share == far.border_share and _is_slower(near, far):
                text = say(
                    "{usual:g} days, and '{service}' takes {other:g} on row {row}, to places farther away.",
                    *(near.usual_d, near.service, far.usual_d, far.at.row),
                )
                yield from asked(draft, near, "usual_d", text, "Look at both days")
    steps = grouped(((row.service, row.to), row) for row in draft.postage)
    for rows in grouped(((row.to, row.live_eggs, row.tracked), row) for row in posted).values():
        for one, other in permutations(rows[:MOST_WAYS], 2):
            is_dearer = _is_dearer(
                steps.get((one.service, one.to), ()), steps.get((other.service, other.to), ())
            )
            if one.service != other.service and is_dearer and _is_slower(one, other):
                text = say(
                    "{usual:g} days, and '{service}' takes {other:g} and costs less.",
                    *(one.usual_d, other.service, other.usual_d),
                )
                yield from asked(draft, one, "usual_d", text, "Look at both days")


#: More services of one way are nobody's, and each would be looked at beside each.
MOST_WAYS = 6


def _usual_km(draft: Draft, home: str, row: Service) -> float | None:
    """How far the countries of a way lie, as their median [km]; None where none is known."""
    countries = sorted({one for place in row.to for one in draft.zone_countries.get(place, (place,))})
    known = [km for one in countries if (km := km_between_countries(home, one)) is not None]
    return median(known) if known else None


def _is_slower(one: Service, other: Service) -> bool:
    days = ((row.early_d, row.usual_d, row.late_d) for row in (one, other))
    return all(mine >= theirs for mine, theirs in zip(*days, strict=True)) and one.usual_d > other.usual_d


def _is_dearer(mine: Sequence[Postage], theirs: Sequence[Postage]) -> bool:
    """Does each step cost more than one that takes all the same parcels?"""
    return bool(mine) and all(
        any(
            step.price > other.price
            and step.up_to_g <= other.up_to_g
            and (other.up_to_mm or math.inf) >= (step.up_to_mm or math.inf)
            for other in theirs
        )
        for step in mine
    )


#: What counts as the days of a shorter way, beside the hours that a parcel may lie outside. Assumed.
SHORTEST_WAY_D = 1.5
#: So many times the usual days is late for a parcel held at a border. Assumed.
LATEST_HELD_TIMES = 8
#: So many times the usual days is late for a service whose days are known. Assumed.
LATEST_TIMES = 5


def services_days_hang_together(draft: Draft) -> Iterator[Problem]:
    """The late day is at most some times the usual, no stretch longer than the way; what is posted costs."""
    for row in draft.services:
        if row.late_d > LATEST_TIMES * max(1, row.usual_d):
            text = "{late_d:g} is more than {times} times usual_d, {usual_d:g}."
            yield from asked(draft, row, "late_d", text, "Look at both days", times=LATEST_TIMES)
        held = row.border_usual_d
        if held and (row.border_late_d or 0) > LATEST_HELD_TIMES * max(1, held):
            text = "{border_late_d:g} is more than {times} times border_usual_d, {border_usual_d:g}."
            yield from asked(draft, row, "border_late_d", text, "Look at both days", times=LATEST_HELD_TIMES)
        if not row.is_collection and row.exposed_h > 24 * max(row.usual_d, SHORTEST_WAY_D):
            text = "{exposed_h:g} hours outside are longer than its way of {days:g} days."
            mend = say("Write the longest single stretch")
            yield from asked(draft, row, "exposed_h", text, mend, days=row.usual_d)
    fetched = {row.service for row in draft.services if row.early_d == 0}
    for postage in draft.postage:
        if postage.price == 0 and postage.service not in fetched:
            text = "is 0: parcels by '{service}' would go free."
            yield from asked(draft, postage, "price", text, "Write the postage")


def services_hold_parcels_for_outsiders(draft: Draft) -> Iterator[Problem]:
    """A zone outside the customs ground, or with countries that are, on which nothing is ever held."""
    home = draft.settings.home.country if draft.settings else ""
    ground = EU if home in EU else frozenset({home})
    for row in draft.services if home else ():
        for place in row.to:
            countries = set(draft.zone_countries.get(place, ()))
            outside, inside = sorted(countries - ground), countries & ground
            if not outside or row.is_collection or row.border_share:
                continue
            if not inside or len(inside) > 2 * len(outside):
                text = "is 0: no parcel to {places} would ever be held at the border."
                mend = say("Write the share of parcels held, and border days")
                yield from asked(draft, row, "border_share", text, mend, places=" ".join(outside))


#: So many times the thickness of a heavier step is a slip. Assumed.
THICKER_TIMES = 2
#: So many times the thickness of a lighter step is one too. Assumed.
FAR_THICKER_TIMES = 5


def places_are_named_once(draft: Draft) -> Iterator[Problem]:
    """Services, and postage of one weight and thickness, name a country once by code, once by zone."""
    yield from _named_once(draft, [(row, row.service) for row in draft.services])
    priced = [(row, f"{row.service} {row.up_to_g:g} {row.up_to_mm}") for row in draft.postage]
    yield from _named_once(draft, priced)


def _named_once(draft: Draft, rows: Iterable[tuple[Service | Postage, str]]) -> Iterator[Problem]:
    first: dict[tuple[str, str, str], Service | Postage] = {}
    for row, name in rows:
        yield from list(_named_before(draft, row, name, first))[:1]


def _named_before(
    draft: Draft, row: Service | Postage, name: str, first: dict[tuple[str, str, str], Service | Postage]
) -> Iterator[Problem]:
    for place in row.to:
        zone = draft.zone_countries.get(place)
        level, countries = ("zone", zone) if zone is not None else ("code", (place,))
        for country in countries:
            earlier = first.setdefault((name, level, country), row)
            if earlier is not row or (level == "code" and row.to.count(place) > 1):
                where = say("on row {row} too", earlier.at.row) if earlier is not row else say("twice here")
                text = say("'{country}' is named for '{service}' {where}.", country, row.service, where)
                yield problem(row, "to", "twice", text, "Name each country once a service.")


def services_have_postage(draft: Draft) -> Iterator[Problem]:
    """A service has postage for each place it names (code, zone, or ``*``), unless it is collected; it may be
    written before its price is, and nothing goes by it until then.
    """
    if "postage" not in draft.complete or "zones" not in draft.complete:
        return
    places: dict[str, set[str]] = {}
    for postage in draft.postage:
        for place in postage.to:
            places.setdefault(postage.service, set()).update((place, *draft.zone_countries.get(place, ())))
    zones = draft.names.get("zones", frozenset())
    unread = draft.failed.get("postage", frozenset()) | {
        row.service  # one of its places is none, which is said already
        for row in draft.postage
        if not all(_is_place_of_post(place, zones) for place in row.to)
    }
    if any(draft.lacks("services", row.service) for row in draft.postage):
        return  # a service misspelt there may be the very one
    for service in draft.services:
        have = places.get(service.service, set())
        if "*" in have or service.service in unread or service.is_collection:
            continue
        known = (place for place in service.to if _is_place_of_post(place, draft.zone_countries))
        lacking = [place for place in known if not _has_postage(draft, place, have)]
        if lacking:
            text = say("'{service}' has no postage to {lacking}.", service.service, " ".join(lacking))
            yield noted(
                service,
                "to",
                "no-postage",
                text,
                "No parcel goes by it there until you add its price to postage.",
            )


def _is_place_of_post(place: str, zones: Container[str]) -> bool:
    return place == "*" or place in zones or is_place(place)


def _has_postage(draft: Draft, place: str, have: set[str]) -> bool:
    """Has it a price of its own, or all its countries, or a larger part that it lies in?"""
    larger = part_codes(*place.split("-", 1)) if "-" in place and place not in draft.zone_countries else ()
    own = draft.countries_of(place)
    return not have.isdisjoint((place, *larger)) or (bool(own) and all(one in have for one in own))


def heavier_is_not_cheaper(draft: Draft) -> Iterator[Problem]:
    """A heavier parcel, as thick or thicker, that costs less to the same places: a slip in a price."""
    for same in grouped(((row.service, row.to), row) for row in draft.postage).values():
        for lighter, heavier in pairwise(sorted(same, key=lambda row: row.up_to_g)):
            is_thicker = (heavier.up_to_mm or math.inf) >= (lighter.up_to_mm or math.inf)
            if is_thicker and heavier.price < lighter.price:
                text = "{price} is less than row {row} asks for lighter parcels."
                mend = "Mend one of the two prices."
                yield noted(heavier, "price", "cheaper", text, mend, row=lighter.at.row)


def heavier_is_not_thinner(draft: Draft) -> Iterator[Problem]:
    """A lighter step that may be much thicker than a heavier one: a digit too many."""
    for steps in grouped(((row.service, row.to), row) for row in draft.postage if row.up_to_mm).values():
        for lighter, heavier in pairwise(sorted(steps, key=lambda row: row.up_to_g)):
            thick, thin = lighter.up_to_mm or 0.0, heavier.up_to_mm or 0.0
            if lighter.up_to_g < heavier.up_to_g and thick > THICKER_TIMES * thin:
                beside = (thick, heavier.at.row, thin)
                text = say("{thick:g} mm, and row {row} takes heavier parcels up to {thin:g} mm.", *beside)
                yield from asked(draft, lighter, "up_to_mm", text, "Look at both")
            elif thin > FAR_THICKER_TIMES * thick:
                beside = (thin, lighter.at.row, thick)
                text = say("{thin:g} mm, and row {row} takes lighter parcels up to {thick:g} mm.", *beside)
                yield from asked(draft, heavier, "up_to_mm", text, "Look at both")


#: So many times what other services ask for a place and weight, or a part of it, is a slip. Assumed.
DEARER_TIMES = 5
#: So many times the next lighter step of the same service. Assumed.
STEP_TIMES = 8


def postage_is_like_others(draft: Draft) -> Iterator[Problem]:
    """Postage far from what other services ask for the same place and weight, or from its own next step."""
    asks = grouped(
        ((country, row.up_to_g), row)
        for row in draft.postage
        for place in (row.to if row.price else ())
        for country in draft.zone_countries.get(place, (place,))
    )
    told: set[int] = set()
    for beside in asks.values():
        for row in beside:
            others = [float(other.price) for other in beside if other.service != row.service]
            price = float(row.price)
            is_near = any(price / DEARER_TIMES <= other <= price * DEARER_TIMES for other in others)
            if others and not is_near and row.at.row not in told:
                told.update(one.at.row for one in (beside if len(beside) == 2 else (row,)))
                text = "{price} is far from {other:.2f}, what others ask for that weight."
                yield from asked(draft, row, "price", text, "Look at the point", other=median(others))
    for steps in grouped(((row.service, row.to), row) for row in draft.postage if row.price).values():
        by_weight = sorted(steps, key=lambda row: row.up_to_g)
        for lighter, heavier in pairwise(by_weight):
            if float(heavier.price) > STEP_TIMES * float(lighter.price) and lighter.at.row not in told:
                text = "{price} is far from {other:.2f}, the next step's."
                mend = say("Look at the point")
                yield from asked(draft, lighter, "price", text, mend, other=float(heavier.price))


def postage_abroad_is_dearer(draft: Draft) -> Iterator[Problem]:
    """One step of a way abroad that costs no more than any way at home takes for that weight, where the
    others of it do: the price is a copy of another row's.
    """
    home = draft.settings.home.country if draft.settings else ""
    at_home = [row for row in draft.postage if row.price and home in _countries_of(draft, row)]
    abroad = (row for row in draft.postage if row.price and not {home, "*"} & _countries_of(draft, row))
    for steps in grouped(((row.service, row.to), row) for row in abroad).values():
        odd = [row for row in steps if row.price <= _at_home(row, at_home)]
        if len(odd) == 1 < len(steps):
            (row,) = odd
            text = say("{price}, and at home that weight costs {other}.", row.price, _at_home(row, at_home))
            yield from asked(draft, row, "price", text, "Look at both")


def _at_home(row: Postage, at_home: Sequence[Postage]) -> Decimal:
    """The least that a parcel of that weight costs at home; 0 where none takes it."""
    return min((other.price for other in at_home if other.up_to_g >= row.up_to_g), default=Decimal(0))


def _countries_of(draft: Draft, row: Postage) -> set[str]:
    return {one for place in row.to for one in draft.countries_of(place)}


def postage_carries_something(draft: Draft) -> Iterator[Problem]:
    """A service that takes no parcel there is, by weight or thickness: ounces or inches."""
    boxes = {box.box: box for box in draft.boxes}
    packed = [(row, boxes.get(row.box or "")) for row in draft.packings]
    if not packed or not {"packings", "boxes"} <= draft.complete:
        return
    grams = min(
        row.weight_g + (box.tare_g + box.bottle_ml if box else row.box_g or 0.0) for row, box in packed
    )
    mm = min(max(row.thick_mm or 0.0, box.thick_mm or 0.0 if box else 0.0) for row, box in packed)
    for steps in grouped(((row.service, row.to), row) for row in draft.postage).values():
        heaviest = max(steps, key=lambda row: row.up_to_g)
        thickest = max(steps, key=lambda row: row.up_to_mm or math.inf)
        for row, column, most, least, unit in (
            (heaviest, "up_to_g", heaviest.up_to_g, grams, "grams"),
            (thickest, "up_to_mm", thickest.up_to_mm or math.inf, mm, "millimetres"),
        ):
            if most < least:
                told = (most, say(unit), row.service, least)
                text = say(
                    "{most:g} {unit} at most by '{service}', and no parcel has less than {least:g}.", *told
                )
                yield from asked(draft, row, column, text, say("Write it in {unit}", say(unit)))


#: Ounces to a pound; so many pounds may be the first step of a service.
OUNCES, FIRST_POUNDS = 16, 4


def postage_is_in_grams(draft: Draft) -> Iterator[Problem]:
    """Steps of a service that are whole pounds in ounces (16, 32, 48), as none in grams are from so little
    on; lighter ones are below what is meant for grams at all.
    """
    for steps in grouped(((row.service, row.to), row) for row in draft.postage).values():
        lightest = min(steps, key=lambda row: row.up_to_g)
        in_pounds = all(row.up_to_g > 0 and row.up_to_g % OUNCES == 0 for row in steps)
        if in_pounds and lightest.up_to_g <= FIRST_POUNDS * OUNCES:
            text = say(
                "{most:g} grams, and all steps of '{service}' are whole pounds, written in ounces.",
                *(lightest.up_to_g, lightest.service),
            )
            yield from asked(draft, lightest, "up_to_g", text, say("Write it in {unit}", say("grams")))


#: So many ways with the same steps of weight tell that one that lacks a step has lost it.
LIKE_WAYS = 3
#: A step so many times another has a digit too many, or too few.
A_DIGIT = 10


def ways_of_a_service_have_its_steps(draft: Draft) -> Iterator[Problem]:
    """A way without a step of weight that the service has elsewhere: parcels of it cost more, or stay."""
    rows = grouped(((row.service, place), row) for row in draft.postage for place in row.to)
    steps = {way: frozenset(row.up_to_g for row in of_way) for way, of_way in rows.items()}
    for way, mine in steps.items():
        for theirs in {steps[other] for other in steps if other != way and other[0] == way[0]}:
            missing, odd = sorted(theirs - mine), sorted(mine - theirs)
            if len(missing) != 1:
                continue
            (grams,) = missing
            has_digit_off = len(odd) == 1 and odd[0] in (grams * A_DIGIT, grams / A_DIGIT)
            is_lost = not odd and list(steps.values()).count(theirs) >= LIKE_WAYS
            if has_digit_off or is_lost:
                row = next(row for row in rows[way] if not odd or row.up_to_g == odd[0])
                text = say(
                    "'{service}' has no step up to {grams:g} grams to {place}, as it has elsewhere.",
                    *(way[0], grams, way[1]),
                )
                yield from asked(draft, row, "up_to_g", text, "Look at weight and place")
                break
