"""Prices of orders: of a size with others, of the currency, of a whole line, in their column."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from itertools import pairwise
from statistics import median

from shipping.tables.checks.row_problems import asked, asked_of_setting, noted
from shipping.tables.rows.orders import OrderRow
from shipping.tables.shelf import Draft
from shipping.words.keys import grouped
from shipping.words.problems import Problem
from shipping.words.sentence import say

#: So many times the price of other eggs, or of the same fish's, or a part of it, is a slip of price or count.
#: Assumed.
DEARER_TIMES = 8
DEARER_TIMES_OF_A_FISH = 3.5
#: What an egg may cost, in home money for 1 SDR; more or less is another currency's. Assumed.
CHEAPEST_SDR, DEAREST_SDR = 0.008, 25
#: Home money for 1 SDR, by the International Monetary Fund's rates of 2026 in round figures.
SDR_ABOUT = {
    "EUR": 1.2,
    "USD": 1.4,
    "GBP": 1.0,
    "CHF": 1.1,
    "DKK": 9.0,
    "SEK": 13.5,
    "NOK": 14.0,
    "PLN": 5.1,
    "CZK": 29.0,
    "JPY": 210.0,
    "AUD": 2.1,
    "CAD": 1.9,
}
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
        text = say(
            "{price} for {eggs}, and most lines cost less than half of the cheapest postage, {post}.",
            *(priced[0].price, priced[0].eggs, post),
        )
        yield from asked(draft, priced[0], "price", text, say("Write the price of the whole line"))
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
                text = say(
                    "{eggs} for {price} is far from {usual:.2f} an egg, and turned round it is not.",
                    row.eggs,
                    row.price,
                    usual,
                )
                yield from asked(draft, row, "eggs", text, say("Look at eggs and price"))


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
