"""Checks of orders: rows of one agree, days and prices can be, none is doubled, services and papers fit."""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections.abc import Collection, Iterator, Sequence
from itertools import pairwise
from operator import attrgetter
from statistics import median

from shipping.tables import countries
from shipping.tables.cells import shortened, values_of
from shipping.tables.checks.addresses import are_two_buyers, place_of
from shipping.tables.checks.row_problems import (
    after_today,
    and_on,
    asked,
    asked_of_setting,
    before,
    first_of,
    noted,
    problem,
)
from shipping.tables.country_parts import part_codes, region_of
from shipping.tables.rows.orders import ORDER_FIELDS, OrderRow, OwedRow
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded, nearest
from shipping.words.keys import grouped, repeated
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say

#: An order older than this is asked about: day and month may be turned round.
LONGEST_WAIT_D = 190
#: A wish for a day so far ahead may have its year mistyped.
LONGEST_AHEAD_D = 300
#: An earliest day so long before the order may have its month or year mistyped.
LONGEST_LOOK_BACK_D = 3
#: An order is paid as a whole, so its rows may leave the day blank and may not differ on it.
_AGREED = (*ORDER_FIELDS, "paid_on")
_values_of_order = values_of(*_AGREED)


def rows_of_an_order_agree(draft: Draft) -> Iterator[Problem]:
    """What belongs to the order as a whole is the same on each of its rows, or blank."""
    for rows in draft.rows_by_order.values():
        wanted = _values_of_order(rows[0]) if len(rows) > 1 else ()
        first: dict[str, OrderRow] = {}
        for row in rows if len(rows) > 1 and any(_values_of_order(row) != wanted for row in rows) else ():
            unlike = list(_disagreements(row, first))
            if len(unlike) > FEW_UNLIKE and row is not rows[0]:
                told = (row.addressee, len(unlike) - 1, rows[0].at.row, row.order)
                text = say(
                    "'{addressee}' and {count} more cells differ from row {row} of order '{order}'.", *told
                )
                mend = say("Give it an order of its own, or write the same on both.")
                unlike = [problem(row, "order", "disagree", text, mend)]
            yield from unlike


#: A row unlike the others of its order in more cells is told at once: it is mostly another order's.
FEW_UNLIKE = 3


def _disagreements(row: OrderRow, first: dict[str, OrderRow]) -> Iterator[Problem]:
    """Where a row differs from the ``first`` that is not blank there, by column."""
    for column in _AGREED:
        mine = getattr(row, column)
        if mine in (None, ""):
            continue
        other = first.setdefault(column, row)
        theirs = getattr(other, column)
        if mine != theirs:
            text = "'{mine}' differs from row {row} of order '{order}', '{theirs}'."
            mend = "Write the same on both, or give the other parcel its own order."
            yield problem(row, column, "disagree", text, mend, mine=mine, row=other.at.row, theirs=theirs)


def order_days_can_be(draft: Draft) -> Iterator[Problem]:
    """placed_on is not after today nor after not_after, not_before not after not_after, nor years ahead."""
    fetched = {service.service for service in draft.services if service.is_collection}
    for row in draft.first_rows:
        yield from after_today(draft, row, "placed_on", "Write the day it was ordered.")
        if not row.not_before and not row.not_after:
            continue
        if row.not_before and row.not_after and row.not_after < row.not_before:
            yield from before(row, "not_after", "not_before", "Mend one of the two, or empty it.")
        elif row.not_before and row.not_before == row.not_after and row.service not in fetched:
            text = "{day} is the earliest day to post, and the latest to arrive."
            yield from asked(draft, row, "not_after", text, "Look at both days", day=row.not_after)
        elif row.not_after and row.not_after < row.placed_on <= draft.today:
            yield from before(row, "not_after", "placed_on", "Look at the year, or empty it.", Level.NOTICE)
        elif row.not_before and (row.placed_on - row.not_before).days > LONGEST_LOOK_BACK_D:
            text = say("{day} is before {column}, {other}.", row.not_before, "placed_on", row.placed_on)
            yield from asked(draft, row, "not_before", text, "Look at day, month and year")
    yield from _days_far_ahead(draft)


def _days_far_ahead(draft: Draft) -> Iterator[Problem]:
    """A wish for a day whose year may be mistyped; of several orders for one such day the first is asked."""
    far = grouped(
        ((column, day), row)
        for row in draft.first_rows
        for column, day in (("not_before", row.not_before), ("not_after", row.not_after))
        if day and (day - draft.today).days > LONGEST_AHEAD_D
    )
    told: set[str] = set()
    for (column, day), rows in far.items():
        if untold := [row for row in rows if row.order not in told]:
            text = and_on(say("{day} is {days} days ahead", day, (day - draft.today).days), len(untold))
            yield from asked(draft, untold[0], column, text, "Look at the year")
        told.update(row.order for row in rows)


def orders_are_not_years_old(draft: Draft) -> Iterator[Problem]:
    """An order more than half a year old may have its day, month or year mistyped, and waits count."""
    for row in draft.first_rows:
        if row.cancelled_on is None and (days := (draft.today - row.placed_on).days) > LONGEST_WAIT_D:
            text = say("{day} is {days} days ago.", row.placed_on, days)
            yield noted(row, "placed_on", "long-wait", text, "Look at day, month and year.")


def payments_have_happened(draft: Draft) -> Iterator[Problem]:
    """Paid not after today; paid before it was ordered is asked about."""
    for row in draft.order_rows:
        if row.paid_on is None or row.placed_on <= row.paid_on <= draft.today:
            continue
        same_day = (other for other in draft.rows_by_order[row.order] if other.paid_on == row.paid_on)
        if next(same_day) is not row:
            continue  # said of that day already
        if row.paid_on > draft.today:
            mend = "Write the day it was paid, or leave it blank until then."
            yield from after_today(draft, row, "paid_on", mend)
        else:
            text = say("{day} is before {column}, {other}.", row.paid_on, "placed_on", row.placed_on)
            mend = say("Until then the order is held as unpaid. Mend one of the two days")
            yield from asked(draft, row, "paid_on", text, mend, Level.ORDER)


def lines_are_not_doubled(draft: Draft) -> Iterator[Problem]:
    """The same wish twice in one order may be a slip."""
    for rows in draft.rows_by_order.values():
        wishes = ((_wish_of_row(row), row) for row in rows if not row.cancelled_on)
        for earlier, row in repeated(wishes) if len(rows) > 1 else ():
            text = "{eggs} '{species}' stand on row {row} of the same order too."
            mend = "Remove one, if it was not meant twice."
            yield noted(row, "eggs", "line-twice", text, mend, row=earlier.at.row)


_wish_of_row = values_of("species", "population", "eggs")


def orders_are_not_doubled(draft: Draft) -> Iterator[Problem]:
    """The very same wish of the same buyer and day under two orders may be one pasted twice."""
    buyers = grouped(((row.addressee, row.placed_on), row.order) for row in draft.first_rows)
    several = {order for orders in buyers.values() if len(orders) > 1 for order in orders}
    for earlier, row in repeated((_wish_of_buyer(row), row) for row in _wanted(draft, several)):
        if earlier.order != row.order:
            text = "{eggs} '{species}' for the same buyer and day stand in order '{order}' too."
            mend = "Remove one, or write the day in cancelled_on, if it was not meant twice."
            yield noted(row, "eggs", "line-twice", text, mend, order=earlier.order)


def mails_are_not_taken_twice(draft: Draft) -> Iterator[Problem]:
    """A mail pasted days ago, word for word, may be pasted again: its order may have gone already."""
    mails = ((row.note, row) for row in draft.first_rows if "\n" in row.note and not row.cancelled_on)
    for earlier, row in repeated(mails):
        if earlier.placed_on != row.placed_on:  # of one day its lines are asked about
            text = "The same mail stands in order '{order}' of {day} too."
            mend = "Remove one, or write the day in cancelled_on, if it was not meant twice."
            yield noted(row, "note", "line-twice", text, mend, order=earlier.order, day=earlier.placed_on)


_wish_of_buyer = values_of(
    "addressee", "delivery_1", "postcode", "country", "placed_on", "species", "population", "eggs"
)
_IN_POWERS = re.compile(r"[0-9](?:[.,][0-9]+)?E\+[0-9]{1,2}")
_A_SUM = re.compile(r"(?:sub|grand )?-?total|sum|summe|gesamt|somme|suma", re.IGNORECASE)


def is_a_sum(text: str) -> bool:
    """Is a cell what rows of sums are called?"""
    return _A_SUM.fullmatch(text.rstrip(" :")) is not None


def orders_have_a_name_of_their_own(draft: Draft) -> Iterator[Problem]:
    """An order named like a row of sums, or whose number a spreadsheet cut short, is asked about."""
    for row in draft.first_rows:
        if not row.order[-1].isdigit() and is_a_sum(row.order):
            text = "'{order}' is mostly a row of sums, and it counts as an order."
            yield from asked(draft, row, "order", text, "Remove the row", code="order-name")
        if "E+" not in row.order and "E+" not in row.tel:
            continue
        for column, value in (("order", row.order), ("tel", row.tel)):
            if _IN_POWERS.fullmatch(value):
                text = "'{value}' lost its last digits in a spreadsheet."
                mend = say("Set the column to text and write it again")
                yield from asked(draft, row, column, text, mend, code="order-name", value=value)


def cancelled_rows_are_said(draft: Draft) -> Iterator[Problem]:
    """placed_on <= cancelled_on <= today; rows left out are said, once."""
    gone = [row for row in draft.order_rows if row.cancelled_on is not None]
    for row in gone:
        yield from first_of(
            after_today(draft, row, "cancelled_on", "Write the day it was cancelled, or leave it blank."),
            before(row, "cancelled_on", "placed_on", "Mend one of the two days."),
        )
    for first in gone[:1]:
        told = (first.eggs, first.species, first.order)
        text = say("{eggs} '{species}' of order '{order}' are cancelled and left out", *told)
        yield noted(first, "cancelled_on", "cancelled", and_on(text, len(gone)), "")


def named_services_go_there(draft: Draft) -> Iterator[Problem]:
    """A service that an order names goes to its country."""
    to: dict[str, set[str]] = {}
    if (
        draft.failed.get("services")
        or not {"services", "zones"} <= draft.complete
        or draft.failed.get("zones")
    ):
        return
    for service in draft.services:
        places = to.setdefault(service.service, set())
        for place in service.to:
            unread = () if countries.is_place(place) or place in draft.zone_countries else ("*",)
            places.update((place, *draft.zone_countries.get(place, unread)))
    for row in draft.first_rows:
        goes_to = to.get(row.service or "", set())
        parts = part_codes(row.country, region_of(row.country, row.region, row.postcode))
        if goes_to and countries.is_country(row.country) and not goes_to & {row.country, "*", *parts}:
            text = "'{service}' does not go to {country}."
            yield from asked(draft, row, "service", text, "Look at country and service", code="no-route")


#: What is written of papers that nobody holds.
_NO_PAPER = re.compile(r"none|no|n/?a|nil|keine?|aucun|ninguno|not needed|yes|ja|oui|s[ií]", re.IGNORECASE)


def papers_are_those_of_the_rules(draft: Draft) -> Iterator[Problem]:
    """Papers held that no rule asks for by that name: they count for nothing."""
    known = {folded(paper): paper for rule in draft.rules for paper in rule.papers}
    for rule in draft.rules:
        for paper in rule.papers:
            if _NO_PAPER.fullmatch(paper) or " / " in paper:
                text = say("'{papers}' names no paper.", shortened(paper))
                yield noted(rule, "papers", "papers", text, "Write the names of papers held, with ; between.")
    held = {(row.order, row.papers): row for row in reversed(draft.order_rows) if row.papers}
    for row in sorted(held.values(), key=attrgetter("at.row")):
        for paper in row.papers:
            if folded(paper) in known or not known:
                if known and row.cancelled_on is None and not _asks_there(draft, paper, row.country):
                    text = say(
                        "'{paper}' is asked for by no rule for {country}.", shortened(paper), row.country
                    )
                    yield from asked(draft, row, "papers", text, "Look at papers and country", code="papers")
                continue
            like = nearest(folded(paper), sorted(known), 0.8)
            several = [name for name in known if name in folded(paper)]
            text = say("'{paper}' is a paper of no rule, and counts for nothing.", shortened(paper))
            if len(several) > 1 or like or _NO_PAPER.fullmatch(paper):
                mend = (
                    say("Put ; between them")
                    if len(several) > 1
                    else say("Write the paper's name as the rule has it")
                )
                yield from asked(
                    draft,
                    row,
                    "papers",
                    text,
                    say("Write '{kind}'", known[like]) if like else mend,
                    code="papers",
                )


def _asks_there(draft: Draft, paper: str, country: str) -> bool:
    """Does a rule of that country, a part of it or a zone with it, ask for that paper?"""
    zones = {zone for zone, countries in draft.zone_countries.items() if country in countries}
    return any(
        folded(paper) in map(folded, rule.papers)
        and any(place in {"*", *zones} or place.partition("-")[0] == country for place in rule.places)
        for rule in draft.rules
    )


#: A line of so many times the eggs of all lots together is another column's number, or has digits too many;
#: with fewer eggs the season has not begun. Assumed.
MORE_THAN_ALL, LEAST_OF_ALL = 2, 200


def lines_can_be_filled(draft: Draft) -> Iterator[Problem]:
    """A line of more eggs than all lots of all fish hold, twice over."""
    every = sum(lot.eggs for lot in draft.lots)
    if every < LEAST_OF_ALL or "lots" not in draft.complete:
        return
    for row in draft.order_rows:
        if row.eggs > MORE_THAN_ALL * every and row.cancelled_on is None:
            text = "{eggs} eggs, and all lots together hold {every}."
            yield from asked(draft, row, "eggs", text, "Look at eggs and price", every=every)
            break


def latest_days_can_be_met(draft: Draft) -> Iterator[Problem]:
    """A latest day of arrival so soon after the order, or its payment, that no way there is so quick."""
    soonest: dict[str, float] = {}
    for service in draft.services:
        places = {one for place in service.to for one in draft.countries_of(place)}
        for place in () if service.is_collection else places:
            soonest[place] = min(soonest.get(place, math.inf), service.early_d)
    fetched = {service.service for service in draft.services if service.is_collection}
    for row in draft.first_rows:
        if row.service in fetched:
            continue
        days = min(soonest.get(row.country, math.inf), soonest.get("*", math.inf))
        from_ = max(row.placed_on, row.paid_on or row.placed_on)
        if (
            row.not_after
            and row.placed_on <= row.not_after
            and (row.not_after - from_).days < days < math.inf
        ):
            yield from asked(
                draft,
                row,
                "not_after",
                "{day} leaves no day for the way: the order is of {from_}.",
                "Look at day, month and year",
                day=row.not_after,
                from_=from_,
            )


#: So many days apart the same wish of the same place is mostly one order, typed again. Assumed.
AGAIN_WITHIN_D = 10


def wishes_are_not_typed_again(draft: Draft) -> Iterator[Problem]:
    """The same fish to the same door within days, under another order's name or buyer's spelling."""
    doors = grouped((place_of(row), row.order) for row in draft.first_rows if row.delivery_1)
    several = {order for orders in doors.values() if len(orders) > 1 for order in orders}
    wanted = _wanted(draft, several)
    for other, row in repeated(((*place_of(row), row.species, row.population), row) for row in wanted):
        is_near = abs((other.placed_on - row.placed_on).days) <= AGAIN_WITHIN_D
        is_again = is_near and not are_two_buyers(other, row) and _typed_once(other) != _typed_once(row)
        if other.order != row.order and is_again:
            text = "'{species}' for the same address stand in order '{order}' too."
            mend = say("Remove one, if it was not meant twice")
            yield from asked(draft, row, "eggs", text, mend, code="line-twice", order=other.order)


#: What a wish typed again on one day has in common, which is told already.
_typed_once = values_of("placed_on", "addressee", "eggs")


def _wanted(draft: Draft, orders: Collection[str]) -> list[OrderRow]:
    """The rows of some orders that were ordered, and neither cancelled nor only owed again."""
    rows = draft.order_rows if orders else ()
    return [row for row in rows if row.order in orders and not (row.cancelled_on or isinstance(row, OwedRow))]


_TRIAL = re.compile(
    r"(?:test|tests|testing|probe|beispiel|example|demo)(?:[ -]?(?:order|bestellung|[0-9]+)|)", re.IGNORECASE
)


def orders_are_no_tests(draft: Draft) -> Iterator[Problem]:
    """An order named as a trial of the table or the shop counts and would be packed."""
    for row in draft.first_rows:
        if _TRIAL.fullmatch(row.order) or _TRIAL.fullmatch(" ".join(dict.fromkeys(row.addressee.split()))):
            text = "'{order}' is mostly a trial, and it counts as an order."
            yield from asked(draft, row, "order", text, "Remove the row", code="order-name")


#: Days from the order to its payment, after which one of them has its year or its month mistyped. Assumed.
LONGEST_UNPAID_D = 150


def orders_are_paid_within_months(draft: Draft) -> Iterator[Problem]:
    """Day and month turned round, or a wrong year, sends an order to the front of the queue."""
    for row in draft.first_rows:
        if row.paid_on and (days := (row.paid_on - row.placed_on).days) > LONGEST_UNPAID_D:
            text = say("{day} is {days} days before it was paid, and waits count.", row.placed_on, days)
            yield from asked(draft, row, "placed_on", text, "Look at day, month and year")


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


#: So many times the price of other eggs, or of the same fish's, or a part of it, is a slip of price or count.
#: Assumed.
DEARER_TIMES = 8
DEARER_TIMES_OF_A_FISH = 3.5
#: What an egg may cost, in home money for 1 SDR; more or less is another currency's. Assumed.
CHEAPEST_SDR, DEAREST_SDR = 0.008, 25
#: Home money for 1 SDR, by the International Monetary Fund's rates of 2026 in round figures.
SDR_ABOUT = {"EUR": 1.2, "USD": 1.4, "GBP": 1.0, "CHF": 1.1, "DKK": 9.0, "SEK": 13.5, "NOK": 14.0, "PLN": 5.1}
SDR_ABOUT |= {"CZK": 29.0, "HUF": 465.0, "JPY": 210.0, "AUD": 2.1, "NZD": 2.4, "CAD": 1.9, "ZAR": 24.0}
SDR_ABOUT |= {"BRL": 7.6, "SGD": 1.8}
#: With fewer prices than this nobody knows what eggs, or those of a fish, cost. Assumed.
LEAST_PRICES = 5
LEAST_OF_A_FISH = 3
#: Eggs so many times cheaper, or dearer, than those of every other line have a digit wrong. Assumed.
BEYOND_ALL_TIMES = 3.5


def prices_are_of_a_size(draft: Draft) -> Iterator[Problem]:
    """A price far from what other eggs cost: customs forms show it. Where most lines cost less than half of
    the cheapest postage, whatever their eggs, prices are of an egg.
    """
    priced = [row for row in draft.order_rows if row.price]
    post = min((row.price for row in draft.postage if row.price), default=0)
    if len(priced) > 1 and _are_of_an_egg(priced, float(post)):
        text = "{price} for {eggs}, and most lines cost less than half of the cheapest postage, {post}."
        yield from asked(draft, priced[0], "price", text, "Write the price of the whole line", post=post)
        return
    usual = median(float(row.price or 0) / row.eggs for row in priced) if len(priced) >= LEAST_PRICES else 0.0
    value = draft.settings.plan.egg_value if draft.settings else None
    if usual and value and not usual / DEARER_TIMES <= value <= usual * DEARER_TIMES:
        text = say(
            "{value:g} is far from {usual:.2f}, what an egg of the orders usually costs.", value, usual
        )
        yield from asked_of_setting(draft, "plan.egg_value", f"{value:g}", text, say("Look at the point"))
    currency = draft.settings.plan.currency if draft.settings else ""
    about = SDR_ABOUT.get(currency)
    if usual and about and not CHEAPEST_SDR <= usual / about <= DEAREST_SDR:
        text = say("an egg of the orders usually costs {each:.2f} {currency}.", usual, currency)
        yield from asked_of_setting(
            draft, "plan.currency", currency, text, say("Look at the currency: customs forms show it")
        )
    each_of = grouped((row.species, float(row.price or 0) / row.eggs) for row in priced)
    near_of = {fish: _near(prices, usual) for fish, prices in each_of.items()}
    eaches = sorted({float(row.price or 0) / row.eggs for row in priced})
    eaches = [*eaches[:2], *eaches[-2:]]
    for row in priced if usual else ():
        each, (near, times) = float(row.price or 0) / row.eggs, near_of[row.species]
        least, most = (next((one for one in every if one != each), each) for every in (eaches, eaches[::-1]))
        beyond = each < least / BEYOND_ALL_TIMES or each > most * BEYOND_ALL_TIMES
        if beyond or not near / times <= each <= near * times:
            text = "{price} for {eggs} is far from {usual:.2f} an egg, as others pay."
            yield from asked(draft, row, "price", text, "Look at the point", usual=near)


def _near(prices: Sequence[float], usual: float) -> tuple[float, float]:
    """What an egg of a fish costs, and how many times it one may; of two lines the more usual tells."""
    if len(prices) >= LEAST_OF_A_FISH:
        return median(prices), DEARER_TIMES_OF_A_FISH
    if len(prices) == 2 and usual:
        return min(prices, key=lambda one: abs(math.log(one / usual))), DEARER_TIMES_OF_A_FISH
    return usual, DEARER_TIMES


#: Where no two counts of a fish tell, eggs that cost less than this part of the cheapest postage. Assumed.
CHEAPEST_EGG = 0.015


def _are_of_an_egg(priced: Sequence[OrderRow], post: float) -> bool:
    """Do lines cost little, and those of one fish no more for many eggs than for few, as no cheap eggs do?"""
    if median(float(row.price or 0) for row in priced) * 2 >= post:
        return False
    votes = []
    for rows in grouped((row.species, row) for row in priced).values():
        for few, many in pairwise(sorted(rows, key=lambda row: row.eggs)):
            if few.eggs < many.eggs:
                dearer = math.log(float(many.price or 0) / float(few.price or 0))
                votes.append(abs(dearer) <= abs(dearer - math.log(many.eggs / few.eggs)))
    if not votes:
        return median(float(row.price or 0) / row.eggs for row in priced) < CHEAPEST_EGG * post
    return 2 * sum(votes) > len(votes)


#: A count and a price are turned round where each egg would cost so many times the usual, and, turned round
#: again, so near to it. Assumed.
TURNED_TIMES, TURNED_NEAR = 1.8, 1.15


def counts_and_prices_stand_in_their_columns(draft: Draft) -> Iterator[Problem]:
    """A count and a price that fit others of the fish only when turned round: fewer eggs would be packed."""
    for rows in grouped((row.species, row) for row in draft.order_rows if row.price).values():
        by_price = sorted(float(row.price or 0) / row.eggs for row in rows)
        for row in rows if len(rows) >= LEAST_OF_A_FISH else ():
            price = float(row.price or 0)
            usual = median_of_others(by_price, price / row.eggs)
            each, turned = price / row.eggs, row.eggs / price
            is_off = not usual / TURNED_TIMES <= each <= usual * TURNED_TIMES
            if is_off and price.is_integer() and usual / TURNED_NEAR <= turned <= usual * TURNED_NEAR:
                text = "{eggs} for {price} is far from {usual:.2f} an egg, and turned round it is not."
                yield from asked(draft, row, "eggs", text, "Look at eggs and price", usual=usual)


def median_of_others(values: list[float], one: float) -> float:
    """The median of sorted values without one of them."""
    gone, most = bisect_left(values, one), len(values) - 2
    middle = (values[place + (place >= gone)] for place in (most // 2, (most + 1) // 2))
    return sum(middle) / 2


def prices_are_all_or_none(draft: Draft) -> Iterator[Problem]:
    """One line without a price makes the week weigh all lines by their eggs; a sheet may have none at all."""
    for rows in grouped((row.at.file, row) for row in draft.order_rows).values():
        blank = [row for row in rows if row.price is None and row.cancelled_on is None]
        if blank and 2 * len(blank) < len(rows):
            text = "is blank, so that the week is planned by eggs and not by money."
            yield noted(blank[0], "price", "asked", text, "Write it, 0 for a gift.")


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
