"""What only reckoning can find in a shelf: lots closed at home, lots to look at, calendars that lack."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from shipping.eggs.lot_forecast import LotForecast, lot_forecast
from shipping.eggs.should_have_hatched import should_have_hatched
from shipping.post.address import address_hints_by_column
from shipping.post.calendar import has_own_calendar, holidays_differ_within, is_hand_over_day
from shipping.post.customs import OUTSIDE, is_held_unknown
from shipping.post.restrictions import closed_at_home, media_of, ruling, says_yes
from shipping.post.transit import arrivals, disruptions_of, services_to
from shipping.post.warmth import TripWarmth, climate_town, trip_warmth, weather_place
from shipping.tables.country_parts import HOLIDAYS_TOLD, is_part, like_parts, part_codes, part_names
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import Address, Order
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import either, say
from shipping.words.units import degrees, percent, weekday

#: Within so many days every service is handed over once.
DAYS_OF_HAND_OVER = 10
#: Of more places without a rule all are told at once.
FEW_PLACES = 3
#: Below this share of a lot's count it is to be counted again before eggs of it are promised. Assumed.
LEAST_LEFT = 0.5
#: Looks less likely than this are asked about, where the days to wet rest on them. Assumed.
UNLIKELY = 0.1


def shelf_checks(shelf: Shelf, kept: Collection[str] = ()) -> list[Problem]:
    """Problems that stop one lot, and notices; none of them stops the week. Of orders of which the ledger
    has ``kept`` a parcel nobody asks whether they come in time, nor how warm their way is.
    """
    found = [problem for lot in shelf.lots for problem in _lot_problems(shelf, lot)]
    fetched = {service.service for service in shelf.services if service.is_collection}
    sent = [order for order in shelf.orders if order.service not in fetched]
    found += [problem for order in sent for problem in _order_notices(order)]
    found += _national_calendars(shelf)
    found += [
        problem for order in shelf.orders if order.order not in kept for problem in _too_late(shelf, order)
    ]
    found += [problem for order in shelf.orders for problem in _ways_without_a_border(shelf, order)]
    ahead = replace(shelf, orders=tuple(order for order in shelf.orders if order.order not in kept))
    return [*found, *answers_lacking(shelf), *warmth_lacking(ahead)]


def answers_lacking(shelf: Shelf) -> Iterator[Problem]:
    """What holds every line whatever else is right, each once: no operator has said yes to live eggs; nobody
    has looked up the rule of a place that an order in hand goes to.
    """
    posted = [service for service in shelf.services if not service.is_collection]
    if shelf.orders and posted and not any(says_yes(shelf, service) for service in posted):
        text = "no operator has said yes to live eggs, with a day that counts: nothing can be posted."
        mend = "Ask yours in writing, and write yes in live_eggs and the day in answered_on."
        yield Problem(posted[0].at, "live_eggs", "ask-post", text, mend, Level.NOTICE)
    told: set[str | Where] = set()
    lacking: list[Problem] = []
    for order in shelf.orders:
        country, part = order.country, order.address.part
        for line in order.lines:
            species = shelf.species_of(line.species, line.population)
            for medium in sorted({lot.medium for lot in shelf.lots if lot.species == line.species}):
                found = ruling(shelf, country, part, species, medium, shelf.today, order.papers)
                for reason in found.reasons:
                    cause = found.row.at if found.row else country
                    if reason.code in _TO_LOOK_UP and cause not in told:
                        told.add(cause)
                        at = found.row.at if found.row else Where("rules.csv")
                        lacking.append(Problem(at, "checked_on", reason.code, reason.text, "", Level.NOTICE))
    without = [problem for problem in lacking if not problem.where.row]
    yield from (problem for problem in lacking if problem.where.row or len(without) <= FEW_PLACES)
    if len(without) > FEW_PLACES:
        places = " ".join(sorted(place for place in told if isinstance(place, str)))
        text = say("no rule has been looked up for what is ordered to {places}.", places)
        mend = say("Ask the post and the authority there, then write a row for each.")
        yield Problem(without[0].where, "checked_on", without[0].code, text, mend, Level.NOTICE)


def warmth_lacking(shelf: Shelf) -> Iterator[Problem]:
    """Where parcels are assumed to feel more cold or heat than the eggs ordered there bear."""
    if needed := warmth_needed(shelf):
        one = max(needed, key=lambda one: (abs(one.felt_c - one.bears_c), one.place))
        text = say(
            "no row of the month says what parcels to {places} feel: to {to} {felt} is assumed, and"
            " eggs ordered there {bear} {bears}.",
            *(", ".join(sorted(each.place for each in needed)), one.place, degrees(one.felt_c)),
            say("need at least") if one.felt_c < one.bears_c else say("bear at most"),
            degrees(one.bears_c),
        )
        mend = say(
            "If you know what they feel, write it: {to} or *, month {month}, the coldest and the warmest.",
            *(one.place, one.on.month),
        )
        if one.felt_c < one.bears_c:
            longest = max((packing.heat_pack_h for packing in shelf.packings), default=0)
            pack = say("a heat pack with a faster service")
            if longest:
                pack = say("a faster service, a heat pack that lasts longer than your {hours:g} h", longest)
            mend = say("{mend} Else {pack}, or a warmer month, may let them go.", mend, pack)
        yield Problem(Where("weather.csv"), "", "assumed-warmth", text, mend, Level.NOTICE)


_TO_LOOK_UP = frozenset({"no-rule", "stale-rule", "ask-rule"})


def _lot_problems(shelf: Shelf, lot: Lot) -> Iterator[Problem]:
    forecast = lot_forecast(shelf, lot.lot)
    home = closed_at_home(shelf, forecast.species, lot.medium)
    if home and lot.lot not in shelf.lots_stopped:
        where = str(home.row.at) if home.row else "rules"
        text = say(
            "{fish} is closed at home ({where}); lot {lot} goes nowhere.",
            forecast.species.scientific_name,
            where,
            lot.lot,
        )
        mend = "Ask the authority named in that row what the law asks of you."
        yield Problem(_where(lot.at), "species", "closed-at-home", text, mend, Level.LOT)
    doubts = forecast.doubts(shelf.today)
    if quiet := should_have_hatched(forecast):
        yield Problem(_where(lot.at), "lot", "should-have-hatched", *quiet, Level.NOTICE)
    elif not doubts and (notice := _count_again(forecast, shelf.today)):
        yield Problem(_where(lot.at), "eggs", "count-again", *notice, Level.NOTICE)
    if not doubts and forecast.rests_on and forecast.likelihood < UNLIKELY:
        yield Problem(_where(lot.at), "stage", "rests-on-look", *_rests_on(forecast), Level.NOTICE)
    for doubt in doubts:
        if doubt.code != "recount":
            yield Problem(_where(lot.at), "lot", doubt.code, doubt.text, "", Level.NOTICE)


def _count_again(forecast: LotForecast, today: date) -> tuple[str, str] | None:
    """What to say of a lot most of which is reckoned gone since its count, though eggs of it may go."""
    (left,) = forecast.shares_left((today,))
    if left >= LEAST_LEFT or not forecast.eggs_on(today):
        return None
    text = say(
        "By reckoning {left} of lot {lot} is left since the count of {day}.",
        percent(left),
        forecast.lot.lot,
        forecast.count.on,
    )
    return text, say("Count again before you pack of it.")


def _rests_on(forecast: LotForecast) -> tuple[str, str]:
    """What to ask of a lot whose days to wet rest on one look that saw no eyes."""
    assert forecast.rests_on
    seen, first, last = forecast.rests_on
    text = say(
        "Lot {lot} is to be wetted from {first} to {last}: 'fertile' on {day} moves it there, as no eyes"
        " showed by then; without that look it would be from {without_first} to {without_last}.",
        forecast.lot.lot,
        *forecast.wetting,
        seen.on,
        first,
        last,
    )
    mend = say(
        "If nobody looked for eyes that day, write the day the eggs were first seen fertile, or your own"
        " wet_from and wet_until."
    )
    return text, mend


def _order_notices(order: Order) -> Iterator[Problem]:
    first = order.lines[0].row
    for column, hint in address_hints_by_column(order.address):
        yield Problem(
            _where(first.at),
            column,
            "address",
            say("{hint} (order {order})", hint, order.order),
            "",
            Level.NOTICE,
        )


def _national_calendars(shelf: Shelf) -> Iterator[Problem]:
    """Regions whose calendar is not known, where holidays differ within the country; each country's once."""
    unknown = [order for order in shelf.orders if _lacks_a_calendar(order.address, shelf.today.year)]
    for country, orders in grouped((order.country, order) for order in unknown).items():
        address, told = orders[0].address, ", ".join(order.order for order in orders)
        text = say(
            "No holiday calendar for '{region}' in {country}: the national one is used for order {order}.",
            *(address.region, country, told),
        )
        near = [f"{country}-{address.part}"] if address.part else like_parts(country, address.region)
        such = say("Write its part of the country, such as {code}.", f"{country}-{min(part_names(country))}")
        mend = say("Write {value}.", either(near)) if near else such
        at = _where(orders[0].lines[0].row.at)
        yield Problem(at, "region", "national-calendar", text, mend, Level.NOTICE)


def _lacks_a_calendar(address: Address, year: int) -> bool:
    country, part = address.country, address.named_part
    is_known = has_own_calendar(country, part) or is_part(country, part)
    has_none = address.part == part if address.part else country in HOLIDAYS_TOLD and address.postcode
    may_matter = address.region and part_names(country) and holidays_differ_within(country, year)
    return bool(may_matter and not is_known and not has_none)


def _too_late(shelf: Shelf, order: Order) -> Iterator[Problem]:
    """An order that no way brings by its latest day, from today or from its own earliest day on."""
    first = max(shelf.today, order.not_before or shelf.today)
    ways = [way for way in services_to(shelf, *order.place) if order.service in (None, way.service)]
    if order.not_after is None or not ways or not any(line.paid for line in order.lines):
        return
    days = [first + timedelta(days=n) for n in range(DAYS_OF_HAND_OVER)]
    soonest = [
        arrivals(way, day, order.country, order.address.part).p05
        for way in ways
        for day in days
        if weekday(day) in shelf.settings.plan.dispatch_days
        and is_hand_over_day(day, way, shelf.settings.home)
    ]
    if soonest and order.not_after < min(soonest):
        text = say(
            "nothing arrives by {day}: order {order} would be there on {soonest} at the soonest.",
            *(order.not_after, order.order, min(soonest)),
        )
        mend = "Look at the day, or ask the buyer."
        yield Problem(_where(order.lines[0].row.at), "not_after", "too-late", text, mend, Level.NOTICE)


def _ways_without_a_border(shelf: Shelf, order: Order) -> Iterator[Problem]:
    """An order across a customs border by its part of the country alone, with services that know no hold."""
    home, country, address = shelf.settings.home, order.country, order.address
    names = {
        way.service
        for way in services_to(shelf, *order.place)
        if order.service in (None, way.service)
        and is_held_unknown(way, home, country, address.part, address.postcode)
    }
    if names:
        text = say(
            "order {order} crosses a customs border, and {services} would never be held there.",
            *(order.order, ", ".join(sorted(names))),
        )
        place = part_codes(country, address.part)[-1:]
        mend = say("Name the service that goes there, with its border_share.")
        if OUTSIDE.intersection(place):
            mend = say("Add a row to services for {place}, with its days and border_share.", *place)
        yield Problem(order.lines[0].row.at, "service", "no-border", text, mend, Level.NOTICE)


@dataclass(frozen=True, slots=True)
class WarmthNeeded:
    """A place of ``orders`` in hand where parcels are assumed to feel ``felt_c`` on a day, and the eggs
    ordered bear no more than ``bears_c`` [C]: the farthest apart of them.
    """

    place: str
    orders: tuple[str, ...]
    felt_c: float
    bears_c: float
    on: date


def warmth_needed(shelf: Shelf) -> list[WarmthNeeded]:
    """Places where nobody said what parcels feel, and what is assumed passes what the eggs bear, on the days
    on which a plan judges the shortest way there.
    """
    wanted: dict[str, WarmthNeeded] = {}
    for order in shelf.orders:
        trip = _shortest_trip(shelf, order, _first_day(shelf, order))
        low, high = trip.coldest, trip.hottest
        fish = [shelf.species[line.species] for line in order.lines if line.species in shelf.species]
        fish = [one for one in fish if not _is_closed(shelf, order, one)]
        least = [one.keep_min_c for one in fish if one.keep_min_c is not None and low.basis == "assumed"]
        most = [one.keep_max_c for one in fish if one.keep_max_c is not None and high.basis == "assumed"]
        passed = [(low.low_c, bears_c, low.on) for bears_c in least if low.low_c < bears_c]
        passed += [(high.high_c, bears_c, high.on) for bears_c in most if high.high_c > bears_c]
        place = weather_place(*order.place)
        if known := wanted.get(place):
            passed.append((known.felt_c, known.bears_c, known.on))
        if len(passed) > bool(known):
            farthest = max(passed, key=lambda one: abs(one[0] - one[1]))
            others = known.orders if known else ()
            wanted[place] = WarmthNeeded(place, (*others, order.order), *farthest)
    return list(wanted.values())


def _is_closed(shelf: Shelf, order: Order, fish: Species) -> bool:
    """Does a rule close the place to the fish, in whatever medium, so that no warmth lets it go?"""
    media = media_of(shelf, fish)
    return all(
        ruling(shelf, *order.place, fish, medium, shelf.today, order.papers).is_closed for medium in media
    )


def _shortest_trip(shelf: Shelf, order: Order, on: date) -> TripWarmth:
    """What a parcel of an order feels by the service that is soonest there from a day on."""
    place, calendar = order.place, order.address.named_part
    ends = [on]
    for service in services_to(shelf, *place):
        if service.serves(order.service):
            met = disruptions_of(shelf, service, on, *place, calendar)
            longer = sum(row.days for row in met)
            ends.append(arrivals(service, on, order.country, calendar, longer_d=longer).p95)
    days = (min(ends[1:] or ends) - on).days
    return trip_warmth(shelf, *place, climate_town(order.country, order.address.town), on, days, days)


def _first_day(shelf: Shelf, order: Order) -> date:
    """The first day of posting on which an order may go."""
    first = max(shelf.today, order.not_before or shelf.today)
    week = (first + timedelta(days=n) for n in range(7))
    return next((day for day in week if weekday(day) in shelf.settings.plan.dispatch_days), first)


def _where(at: Where) -> Where:
    return at if at.file else Where("lots.csv")
