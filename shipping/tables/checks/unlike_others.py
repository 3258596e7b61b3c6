"""Rows that are unlike all others of their table, and are asked about by that alone: no bound tells them."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from operator import attrgetter
from statistics import median

from shipping.tables.cells import Row
from shipping.tables.checks.names import taxa_of
from shipping.tables.checks.prices import DEARER_TIMES_OF_A_FISH, median_of_others
from shipping.tables.checks.row_problems import asked
from shipping.tables.checks.rules import parts_of_their_own
from shipping.tables.checks.weather import months_by_place
from shipping.tables.countries import EU
from shipping.tables.country_parts import part_codes, region_of
from shipping.tables.rows.lots import Group, Lot
from shipping.tables.rows.orders import OrderRow
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped, repeated
from shipping.words.problems import Problem
from shipping.words.sentence import say

#: So many other rows of a kind show what is usual. Assumed, as all bounds here are.
LEAST_OTHERS = 2


@dataclass(frozen=True, slots=True)
class _Side:
    """How far below or above the other packings of its kind, or all, a figure may lie, in times; 0: any."""

    column: str
    below: float = 0.0
    above: float = 0.0
    by_kind: bool = True


_SIDES = (
    _Side("weight_g", below=6),
    _Side("hatch_ceiling", above=2.5),
    _Side("any_ceiling", above=2.5),
    _Side("loss_handling", below=6),
    _Side("loss_per_day", below=6, above=8),
    _Side("hatch_held", below=3),
    _Side("cost", below=8, above=8),
    _Side("heat_pack_h", above=1.6, by_kind=False),
)


def packings_are_like_their_kind(draft: Draft) -> Iterator[Problem]:
    """A ceiling, loss or heat pack far off two others of the kind: a point misplaced, or another's."""
    for side in _SIDES:
        keys = (
            (row.kind * side.by_kind, side.column == "cost" and row.heat_pack_h > 0) for row in draft.packings
        )
        for alike in grouped(zip(keys, draft.packings, strict=True)).values():
            known = sorted(float(mine) for row in alike if (mine := getattr(row, side.column)))
            for row in alike if len(known) > LEAST_OTHERS else ():
                if not (mine := getattr(row, side.column)):
                    continue
                usual = median_of_others(known, float(mine))
                if (side.above and mine >= side.above * usual) or (side.below and mine <= usual / side.below):
                    text = say("{mine:g}, and other packings like it have {usual:g}.", mine, usual)
                    yield from asked(draft, row, side.column, text, say("Look at the point"))


#: A learned value so many times below or above that of the row it is for has its point misplaced, or another
#: unit: losses as arrivals teach them, days as a room or a season does.
_LEARNED_TIMES = {"loss_handling": 8.0, "loss_per_day": 8.0, "hatch_early_d": 2.5, "hatch_usual_d": 2.5}
_LEARNED_TIMES |= {"zero_c": 1.5, "exposed_h": 4.0, "border_share": 5.0, "parcel_lost_share": 8.0}
_LEARNED_TIMES |= {"hatch_late_d": 2.5, "eyed_at": 1.8, "early_d": 4.0, "usual_d": 4.0, "late_d": 4.0}
_OTHER_UNIT = re.compile(r"week|month|hour|percent|%|woche|monat|stunde|semaine|heure|semana|hora", re.I)
#: Units of no days at all: a share, degrees, something a day.
_NO_DAYS = re.compile(
    r"share|anteil|part\b|parte|degree|°|grad|\b(?:a|per|pro|par|por) (?:day|tag|jour|día)\b|/ ?(?:d|tag)\b",
    re.IGNORECASE,
)


def learned_values_are_near_the_tables(draft: Draft) -> Iterator[Problem]:
    """A learned value far off that of what it is for, or in another unit; a lot that loses no egg."""
    named: list[tuple[str, Row]] = [(folded(row.species), row) for row in draft.species]
    named += [(name, row) for row in draft.packings for name in {folded(row.packing), row.kind}]
    named += [(folded(row.service), row) for row in draft.services]
    rows_of, usual = grouped(named), dict[tuple[str, str], float]()
    for rate in draft.rates:
        if rate.what == "shelf_loss_per_day" and rate.value == 0:
            text = "is 0: no egg would ever be lost."
            yield from asked(draft, rate, "value", text, "Write the share that is lost")
        days = rate.what.endswith("_d") or rate.what.endswith("_per_day")
        if days and (
            _OTHER_UNIT.search(rate.unit) or (rate.what.endswith("_d") and _NO_DAYS.search(rate.unit))
        ):
            text = say("'{unit}', and {what} is of days.", rate.unit, rate.what)
            yield from asked(draft, rate, "unit", text, say("Look at both"))
        if (times := _LEARNED_TIMES.get(rate.what)) is None or rate.value <= 0:
            continue
        key = (folded(rate.for_.partition("/")[0]), rate.what)
        if key not in usual:
            rows = rows_of.get(key[0], ())
            known = [float(value) for row in rows if (value := getattr(row, rate.what, None))]
            usual[key] = median(known) if known else 0.0
        if usual[key] and not usual[key] / times < rate.value < usual[key] * times:
            text = say("{mine:g}, and its own is {usual:g}.", rate.value, usual[key])
            yield from asked(draft, rate, "value", text, say("Look at the point"))


#: A lot with so many times the eggs a day of laying that any other has, and more than so many, has a digit
#: too many; and one with so many times those of any other of its fish.
MORE_LAID_TIMES, MANY_LAID, LEAST_LOTS = 3, 120, 3
FISH_LAID_TIMES = 6
#: A lot of fewer eggs is what others have left of it, and tells nothing of what was laid.
LEAST_TELLING = 30
#: Of so many lots, one with so many times the eggs of the next, and laid so fast, has a digit too many too.
MANY_LOTS, MORE_EGGS_TIMES = 8, 4
#: A group that lays so many times what any lot of its fish was laid at has a week's eggs.
GROUP_LAYS_TIMES = 4


def lots_are_laid_at_like_rates(draft: Draft) -> Iterator[Problem]:
    """A lot of far more eggs a day of laying than any other, or than any of its fish, or a group that would
    lay far more: they would be sold, and are not there.
    """
    rated = [
        (lot, lot.eggs / days) for lot in draft.lots if (days := (lot.laid_to - lot.laid_from).days + 1) > 0
    ]
    largest = sorted(rate for _, rate in rated)
    counts = sorted(float(lot.eggs) for lot in draft.lots)
    told = [(lot, rate) for lot, rate in rated if lot.eggs >= LEAST_TELLING]
    of_fish = {
        fish: sorted(rates)
        for fish, rates in grouped(((lot.species, lot.population), rate) for lot, rate in told).items()
    }
    for lot, rate in rated:
        is_largest = (
            len(counts) >= MANY_LOTS and lot.eggs >= MORE_EGGS_TIMES * _most_beside(counts, lot.eggs) > 0
        )
        is_fast = len(largest) > LEAST_LOTS and rate > MANY_LAID
        most = _most_beside(largest, rate) if is_fast or is_largest else 0.0
        yield from _laid_faster(draft, lot, "eggs", rate, most, MORE_LAID_TIMES)
        most = _most_beside(of_fish[lot.species, lot.population], rate) if lot.eggs > MANY_LAID else 0.0
        yield from _laid_faster(draft, lot, "eggs", rate, most, FISH_LAID_TIMES)
    for group in draft.groups:
        most = of_fish.get((group.species, group.population), [0.0])[-1]
        yield from _laid_faster(draft, group, "eggs_a_day", group.eggs_a_day, most, GROUP_LAYS_TIMES)


def _laid_faster(
    draft: Draft, row: Lot | Group, column: str, rate: float, most: float, times: float
) -> Iterator[Problem]:
    if rate > times * most > 0:
        text = say("{rate:.0f} eggs a day of laying, and lots like it have {most:.0f} at most.", rate, most)
        yield from asked(draft, row, column, text, say("Look at both"))


def _most_beside(rates: list[float], one: float) -> float:
    """The greatest of sorted rates beside one of them; 0 where there is no other."""
    others = rates[:-1] if rates[-1] == one else rates
    return others[-1] if others else 0.0


#: A lot so far from all others of its fish lies in no room of theirs [K].
ANOTHER_ROOM_C = 4
#: Lots no farther apart lie in one [K].
ONE_ROOM_C = 2


def lots_are_as_warm_as_their_fish(draft: Draft) -> Iterator[Problem]:
    """A lot far colder than all others of the fish, whose clock is late, so that it hatches on the way; or
    far warmer than all others that lie in one room.
    """
    for lots in grouped((lot.species, lot) for lot in draft.lots).values():
        if len(lots) <= LEAST_OTHERS:
            continue
        lot, next_to, *others = sorted(lots, key=lambda lot: lot.kept_at_c)
        *_, next_to_last, last = (next_to, *others)
        if (
            last.kept_at_c >= next_to_last.kept_at_c + ANOTHER_ROOM_C
            and next_to_last.kept_at_c - lot.kept_at_c <= ONE_ROOM_C
        ):
            text = say(
                "{here:g} °C, and other lots of '{fish}' are kept at {there:g} or less.",
                *(last.kept_at_c, last.species, next_to_last.kept_at_c),
            )
            mend = say("Write the temperature the eggs are kept at")
            yield from asked(draft, last, "kept_at_c", text, mend)
        if lot.kept_at_c <= next_to.kept_at_c - ANOTHER_ROOM_C:
            text = say(
                "{here:g} °C, and other lots of '{fish}' are kept at {there:g} or more.",
                *(lot.kept_at_c, lot.species, next_to.kept_at_c),
            )
            yield from asked(draft, lot, "kept_at_c", text, say("Write the temperature the eggs are kept at"))


#: A clutch in two tubs is counted on one day or the next; a recount comes later, and finds most eggs left.
DAYS_TO_A_RECOUNT, MOST_LEFT = 3, 0.8
#: Sooner too, where it has the other's name and a letter, and so many are left.
SURELY_LEFT = 0.9


def lots_are_not_copied(draft: Draft) -> Iterator[Problem]:
    """Two lots of the same days, counted on two days, with the same eggs or, days later, a few less: one row
    copied for a new count.
    """
    row_of = attrgetter("species", "population", "laid_from", "laid_to", "medium", "kept_at_c")
    for other, lot in repeated((row_of(lot), lot) for lot in draft.lots):
        days = (lot.counted_on - other.counted_on).days
        is_again = other.eggs == lot.eggs if days < DAYS_TO_A_RECOUNT else lot.eggs <= other.eggs
        is_named_again = folded(lot.lot).startswith(folded(other.lot)) and lot.eggs <= other.eggs
        most_left = SURELY_LEFT if is_named_again else MOST_LEFT
        if days and (is_again or is_named_again) and lot.eggs > most_left * other.eggs:
            text = say("'{lot}' may be lot '{other}' of row {row} again.", lot.lot, other.lot, other.at.row)
            mend = say("Remove one, if it is the same lot")
            yield from asked(draft, lot, "lot", text, mend, code="line-twice")


_LETTERS = re.compile(r"[^\W\d_]+")
#: A name that begins with one letter is no code of fish and population.
LEAST_LETTERS = 2


def lots_are_named_for_their_population(draft: Draft) -> Iterator[Problem]:
    """A lot whose code ends with the letter of another population of the fish, where the codes of other lots
    of its own end with theirs: eggs of two populations would be sold as one.
    """
    naming: tuple[OrderRow | Group, ...] = (*draft.order_rows, *draft.groups)
    wanted = grouped((row.species, row.population) for row in naming if row.population)
    for species, lots in grouped((lot.species, lot) for lot in draft.lots if lot.population).items():
        names = {
            place: Counter(map(letters_of, some))
            for place, some in grouped((lot.population, lot) for lot in lots).items()
        }
        initials = grouped((_initial(place), place) for place in {*names, *wanted.get(species, ())})
        for lot in lots:
            place, begins = lot.population, letters_of(lot)
            if len(begins) < LEAST_LETTERS or names[place][begins] > 1:
                continue
            own = names[place].keys() - {begins}
            meant = initials.get(begins[-1], []) if own else []
            if len(meant) == 1 and place not in meant and all(one[-1:] == _initial(place) for one in own):
                text = say(
                    "'{lot}' is named as lots of '{other}' are, and stands under '{population}'.",
                    *(lot.lot, *meant, place),
                )
                yield from asked(draft, lot, "population", text, say("Look at fish and population"))


def letters_of(lot: Lot) -> str:
    """The letters with which a lot's name begins."""
    letters = _LETTERS.match(lot.lot)
    return folded(letters[0]) if letters else ""


def _initial(population: str) -> str:
    return folded(population)[:1]


#: So many places have the same months where one that lacks one of them has it under another name.
LEAST_PLACES = 3


def weather_has_every_month_of_its_places(draft: Draft) -> Iterator[Problem]:
    """A month under another place or number: the place it was meant for would have none."""
    rows_of = months_by_place(draft)
    near = {(draft.today + timedelta(days=days)).month for days in (0, 28)}
    if len(rows_of) <= LEAST_PLACES:
        return
    (months, times), *_ = Counter(frozenset(rows) for rows in rows_of.values()).most_common()
    if times < LEAST_PLACES or len(months) < LEAST_OTHERS or times < 0.6 * len(rows_of):
        return
    lacking = {place: months - set(rows) for place, rows in rows_of.items() if len(months - set(rows)) == 1}
    for place, missing in lacking.items() if len(lacking) == len(rows_of) - times == 1 else ():
        if missing & near and set(rows_of[place]) < months:
            (month,) = missing
            text = say("no row has month {month} of '{place}', and all other places have it.", month, place)
            first = next(iter(rows_of[place].values()))
            yield from asked(draft, first, "to", text, say("Write that month"))
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
                yield from asked(draft, row, "month", text, say("Look at place and month"))
            elif len(rows) == 1 and (lacks := sorted(at for at, one in lacking.items() if one == {month})):
                text = say(
                    "month {month} is the only one of '{place}', and '{other}' has all but that one.",
                    month,
                    place,
                    lacks[0],
                )
                yield from asked(draft, row, "to", text, say("Look at place and month"))


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
                yield from asked(draft, row, column, text, say("Look at the point"))


def towns_have_postcodes_of_one_area(draft: Draft) -> Iterator[Problem]:
    """One town under postcodes of two areas: town or postcode was left from another row."""
    first: dict[tuple[str, str], OrderRow] = {}
    for row in draft.first_rows:
        if not row.postcode[:1].isdigit() or not row.town or row.cancelled_on is not None:
            continue
        other = first.setdefault((folded(row.town), row.country), row)
        if _are_far_apart(other, row) and folded(other.region) == folded(row.region):
            text = say(
                "'{town}' has '{postcode}' here, and '{other}' on row {row}.",
                row.town,
                row.postcode,
                other.postcode,
                other.at.row,
            )
            yield from asked(draft, row, "town", text, say("Look at postcode and town"), code="column")


#: Countries whose postcodes begin with two digits of the department or province.
_TWO_DIGITS = frozenset({"ES", "FR", "IT"})
#: Elsewhere one town may have this share of all numbers: København 1050 to 2500, Oslo 0150 to 1295.
ONE_TOWN = 0.17


def _are_far_apart(one: OrderRow, other: OrderRow) -> bool:
    """Are their postcodes those of two provinces, or farther apart than any town is wide?"""
    if one.country in _TWO_DIGITS:
        return one.postcode[:2] != other.postcode[:2]
    shares = [float(f"0.{''.join(filter(str.isdecimal, row.postcode)) or 0}") for row in (one, other)]
    return abs(shares[0] - shares[1]) > ONE_TOWN


#: A source as long as this is no common word: two rows that have it were one. A row so copied opens a place
#: that nobody asked.
LONG_SOURCE = 40


def answers_are_not_copied(draft: Draft) -> Iterator[Problem]:
    """A row that opens a place by the very words and day of another row: a copy of it, half edited."""
    opening = (rule for rule in draft.rules if rule.verdict == "open" and len(rule.source) >= LONG_SOURCE)
    answer = attrgetter("taxon", "medium", "source", "checked_on")
    for other, rule in repeated((answer(rule), rule) for rule in opening):
        if other.to != rule.to:
            text = say("opens {to} by the very source and day of row {row}.", rule.to, other.at.row)
            mend = say("Write who answered for it, or put both places into one row")
            yield from asked(draft, rule, "to", text, mend, code="no-source")


def parts_with_a_law_keep_it(draft: Draft) -> Iterator[Problem]:
    """An order to a part of a country that has a law of its own by the starter's rules, where no row of rules
    names the part and one of the whole country or zone opens it.
    """
    if "rules" not in draft.complete:
        return
    whole = [rule for rule in draft.rules if rule.medium is None]
    ruled = {(place.upper(), folded(rule.taxon)) for rule in whole for place in rule.places}
    told, parts = set[str](), parts_of_their_own(draft)
    for row in draft.first_rows:
        codes = part_codes(row.country, region_of(row.country, row.region, row.postcode))
        own = next((code for code in codes if code in parts), "")
        fish = draft.species_by_name.get(row.species)
        taxa = {"*", *map(folded, taxa_of(fish) if fish else ())}
        if not own or own in told or row.cancelled_on is not None:
            continue
        if any((code, taxon) in ruled for code in codes for taxon in taxa):
            continue
        told.add(own)
        zones = (zone for zone, countries in draft.zone_countries.items() if row.country in countries)
        wider = {row.country, "*", *zones}
        lets = ("open", "papers")
        opens = [rule for rule in draft.rules if rule.verdict in lets and wider & set(rule.places)]
        if opens:
            text = say("opens {part} too, whose law is its own: order '{order}' goes there.", own, row.order)
            mend = say("Write a row for {part}: {source}", own, parts[own])
            yield from asked(draft, opens[0], "to", text, mend, code="unlike-published")


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


_PERSON = re.compile(r"[^\W\d_][\w.'’-]+(?: [\w.'’-]+)+")


def names_and_towns_are_not_exchanged(draft: Draft) -> Iterator[Problem]:
    """A name of one word beside a town of several, or the town of another order; a town that is a street."""
    towns = grouped(((folded(row.town), row.country), row.order) for row in draft.first_rows if row.town)
    for row in draft.first_rows:
        name, town, street = row.addressee.strip(), row.town.strip(), row.delivery_1
        is_town = any(order != row.order for order in towns.get((folded(name), row.country), ()))
        is_person = bool(_PERSON.fullmatch(town)) and len(towns[folded(town), row.country]) == 1
        is_word = len(name.split()) == 1 and name[0].isupper()
        is_numbered = town[-1:].isdigit() and row.country not in _NUMBERED_TOWNS
        if town and name and folded(name) != folded(town) and (is_town or (is_word and is_person)):
            text = say("'{name}' stands as the name, and '{town}' as the town.", name, town)
            mend = say("Exchange the two, if they stand in each other's column")
            yield from asked(draft, row, "addressee", text, mend, code="column")
        elif street and is_numbered and not any(map(str.isdigit, street)):
            text = say("'{town}' has a number, and '{street}' has none.", town, street)
            mend = say("Exchange the two, if they stand in each other's column")
            yield from asked(draft, row, "town", text, mend, code="column")


#: Where post districts of a town are numbered: Praha 4, Dublin 8, Bratislava 5, Lyon 03, Rennes Cedex 7.
_NUMBERED_TOWNS = frozenset({"CZ", "FR", "IE", "RO", "SK"})


def lines_are_not_copied(draft: Draft) -> Iterator[Problem]:
    """One fish twice in an order, at one price, for two counts: a row copied for a new count."""
    for rows in draft.rows_by_order.values():
        priced = (row for row in rows if row.price and not row.cancelled_on)
        for other, row in repeated(((row.species, row.population, row.price), row) for row in priced):
            if other.eggs != row.eggs:
                text = say(
                    "{eggs} here and {other} on row {row} have one price.", row.eggs, other.eggs, other.at.row
                )
                mend = say("Remove one, if it was not meant twice")
                yield from asked(draft, row, "eggs", text, mend, code="line-twice")


#: A count is far off where each egg costs so many times what all others of the fish pay alike.
UNLIKE_PRICE_TIMES = 1.5
#: Prices of an egg that differ by a smaller share are one, as many eggs cost a little less each.
SAME_PRICE = 0.2
#: And by so small a share they are the same.
ALIKE = 0.01
#: The same where their prices differ a little; so many lines tell then.
UNLIKE_SPREAD_TIMES, LEAST_SPREAD = 1.7, 5
#: So many lines of others tell what an egg costs; two may be one buyer's, and tell of a point misplaced only.
LEAST_PAYING = 3


def eggs_cost_what_others_pay_alike(draft: Draft) -> Iterator[Problem]:
    """A line of a fish whose eggs cost others about the same: its count or its price has a digit wrong. A
    population that nobody else orders may have a price of its own.
    """
    priced = [row for row in draft.order_rows if row.price]
    of_place = grouped(((row.species, row.population), row) for row in priced)
    for rows in (*of_place.values(), *grouped((row.species, row) for row in priced).values()):
        if len(rows) < LEAST_PAYING:
            continue
        times = UNLIKE_PRICE_TIMES if len(rows) > LEAST_PAYING else DEARER_TIMES_OF_A_FISH
        each = [float(row.price or 0) / row.eggs for row in rows]
        usual = median(each)
        unlike = [n for n, one in enumerate(each) if abs(one - usual) > SAME_PRICE * usual]
        for odd in unlike if len(unlike) == 1 else ():
            row, mine, others = rows[odd], each[odd], [*each[:odd], *each[odd + 1 :]]
            is_alone = bool(row.population) and len(of_place[row.species, row.population]) == 1
            if max(others) - min(others) > ALIKE * usual:
                times = UNLIKE_SPREAD_TIMES if len(rows) >= LEAST_SPREAD else math.inf
            if not is_alone and not min(others) / times < mine < max(others) * times:
                text = "{price} for {eggs} is far from {usual:.2f} an egg, as others pay."
                yield from asked(draft, row, "eggs", text, "Look at eggs and price", usual=usual)


def postcodes_have_one_town(draft: Draft) -> Iterator[Problem]:
    """One postcode under two towns that are no spellings of one: it was left from another buyer's row."""
    first: dict[tuple[str, str], OrderRow] = {}
    for row in draft.first_rows:
        if not row.postcode or not row.town or row.cancelled_on is not None:
            continue
        other = first.setdefault((folded(row.postcode), row.country), row)
        one_buyer = folded(other.addressee) == folded(row.addressee)
        if not one_buyer and folded(other.town)[:1] != folded(row.town)[:1] and other.region == row.region:
            text = say(
                "'{postcode}' has '{town}' here, and '{other}' on row {row}.",
                *(row.postcode, row.town, other.town, other.at.row),
            )
            yield from asked(draft, row, "postcode", text, say("Look at postcode and town"), code="column")
