"""What serving is worth and which days there are to post: a shelf in, values, egg value and days out."""

from __future__ import annotations

import statistics
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from operator import attrgetter

from shipping.post.calendar import is_hand_over_day
from shipping.tables.rows.orders import Order
from shipping.tables.shelf import Shelf
from shipping.words.keys import LineKey
from shipping.words.units import iso_week, week_days, weekday


def dispatch_days(shelf: Shelf, week: str) -> tuple[date, ...]:
    """The days of the week on which the breeder posts, from today on."""
    wanted = shelf.settings.plan.dispatch_days
    return tuple(day for day in week_days(week) if weekday(day) in wanted and day >= shelf.today)


def next_week(week: str) -> str:
    """The ISO week after."""
    year, number, _ = (week_days(week)[0] + timedelta(days=7)).isocalendar()
    return f"{year}-W{number:02d}"


def default_week(shelf: Shelf) -> str:
    """This week while a day to post is left in it, at which something is handed over; else the next."""
    week, home = iso_week(shelf.today), shelf.settings.home
    days = dispatch_days(shelf, week)
    if shelf.services:
        days = tuple(day for day in days if any(is_hand_over_day(day, row, home) for row in shelf.services))
    return week if days else next_week(week)


def egg_value(shelf: Shelf) -> float:
    """What an egg is worth: the setting, else the median price of orders in hand, owed left out, else 1."""
    if shelf.settings.plan.egg_value is not None:
        return float(shelf.settings.plan.egg_value)
    prices = [
        float(line.price) / line.eggs
        for order in shelf.orders
        if not order.is_owed
        for line in order.lines
        if line.price is not None
    ]
    return statistics.median(prices) if prices else 1.0


def weeks_waited(shelf: Shelf, order: Order) -> float:
    """Weeks from the order's day to today, with fractions."""
    return max(0, (shelf.today - order.placed_on).days) / 7


def base_values(shelf: Shelf) -> dict[LineKey, float]:
    """What serving each line is worth before waiting counts: its price where every line has one, else its
    eggs.

    A line given free (price 0) counts its eggs at `egg_value`: a gift or a replacement must go like any
    other.
    """
    lines = [line for order in shelf.orders for line in order.lines]
    if lines and all(line.price is not None for line in lines):
        worth = egg_value(shelf)
        return {line.key: float(line.price or 0) or line.eggs * worth for line in lines}
    return {line.key: float(line.eggs) for line in lines}


@dataclass(frozen=True, slots=True)
class Worth:
    """``value`` of serving a line with the price of waiting; ``age``: its worth for each week waited."""

    value: float
    age: float


def worths(shelf: Shelf) -> dict[LineKey, Worth]:
    """What serving each line is worth (the first goal): value x (1 + ``waiting_weight`` a week waited).

    One owed again is worth all orders of its fish besides, so that none of them takes its eggs.
    """
    weight, base = shelf.settings.plan.waiting_weight, base_values(shelf)
    found = {}
    of_fish: defaultdict[str, float] = defaultdict(float)
    for order in sorted(shelf.orders, key=attrgetter("is_owed")):
        weeks = weeks_waited(shelf, order)
        for line in order.lines:
            value, besides = base[line.key], of_fish[line.species] if order.is_owed else 0.0
            found[line.key] = Worth(value * (1.0 + weight * weeks) + besides, value * weeks)
        if not order.is_owed:
            agreed = {wish.partition("/")[0] for line in order.lines for wish in line.instead}
            for species in agreed | {line.species for line in order.lines}:
                of_fish[species] += sum(found[line.key].value for line in order.lines)
    return found
