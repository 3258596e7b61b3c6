"""Checks of species: days to hatching and temperatures in their order, one family a genus."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

from shipping.tables.cells import shortened
from shipping.tables.checks.row_problems import asked, noted, problem
from shipping.tables.shelf import Draft
from shipping.words.problems import Problem
from shipping.words.sentence import say

#: Eggs in water hatch within so many times the first ones' days; more is asked about. Assumed.
WIDEST_HATCH = 6


#: Eggs that sleep wait longer than this for water. Assumed.
SHORTEST_ASLEEP_D = 7


#: Of a fish without a sleep in the egg, eggs kept damp begin to die after a month (Fundulus grandis).
LONGEST_READY_D = 45


def species_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    """hatch_early_d <= hatch_usual_d <= hatch_late_d."""
    is_spread = any(row.hatch_early_d < row.hatch_late_d for row in draft.species)
    for row in draft.species:
        early, usual, late = row.hatch_early_d, row.hatch_usual_d, row.hatch_late_d
        if early > late:
            text = say("{hatch_late_d:g} is less than hatch_early_d, {hatch_early_d:g}.", late, early)
            yield problem(row, "hatch_late_d", "order", text, "Write the early days in hatch_early_d.")
        elif usual is not None and not early <= usual <= late:
            text = say(
                "{hatch_usual_d:g} is not between {hatch_early_d:g} and {hatch_late_d:g}.", usual, early, late
            )
            mend = "Write the days in between, or leave it blank."
            yield problem(row, "hatch_usual_d", "order", text, mend)
        elif early == late and is_spread:
            text = say("{days:g} days early and late: no egg would ever take longer.", late)
            yield from asked(draft, row, "hatch_late_d", text, "Look at both days")
        elif row.incubation == "water" and late > WIDEST_HATCH * early:
            told = (late, WIDEST_HATCH, f"{early:g}")
            text = say("{hatch_late_d:g} is more than {times} times hatch_early_d, {early}.", *told)
            yield from asked(draft, row, "hatch_late_d", text, "Look at both days")
        if not row.is_damp and (row.ready_keeps_d or 0) > LONGEST_READY_D:
            text = say("{days:g} days: no egg that does not sleep keeps ready so long.", row.ready_keeps_d)
            yield from asked(draft, row, "ready_keeps_d", text, say("Write it in days"))
        elif row.is_damp and 0 < (row.ready_keeps_d or 0) < SHORTEST_ASLEEP_D:
            text = say("{days:g} days: eggs that sleep keep ready for weeks.", row.ready_keeps_d)
            yield from asked(draft, row, "ready_keeps_d", text, say("Write it in days"))


def species_temperatures_make_sense(draft: Draft) -> Iterator[Problem]:
    """zero_c below incubation_c and keep_max_c, which is above keep_min_c and mostly above incubation_c."""
    for row in draft.species:
        zero, low, high = row.zero_c, row.keep_min_c, row.keep_max_c
        if row.incubation_c <= zero:
            text = "{incubation_c:g} is not above zero_c, {zero_c:g}: nothing would develop."
            mend = "Write a warmer incubation_c or a lower zero_c."
            yield problem(row, "incubation_c", "order", text, mend, zero_c=zero)
        elif high is not None and high <= zero:
            text = say("{keep_max_c:g} is not above zero_c, {zero_c:g}.", high, zero)
            yield problem(row, "keep_max_c", "order", text, "Write the warmest the eggs bear.")
        if low is not None and high is not None and low >= high:
            text = say("{keep_min_c:g} is not below keep_max_c, {keep_max_c:g}.", low, high)
            yield problem(row, "keep_min_c", "order", text, "Write the coldest the eggs bear.")
        elif high is not None and zero < high < row.incubation_c:
            text = say("{incubation_c:g} is above keep_max_c, {keep_max_c:g}.", row.incubation_c, high)
            yield noted(row, "incubation_c", "order", text, "Mend one of the two temperatures.")


#: Warmth above zero_c below which a species' days would hang on tenths of a degree. Assumed.
LEAST_DEGREES_C = 4


def species_develop_above_their_zero(draft: Draft) -> Iterator[Problem]:
    """incubation_c stands some degrees above zero_c."""
    for row in draft.species:
        if 0 < row.incubation_c - row.zero_c < LEAST_DEGREES_C:
            text = "{zero_c:g} is so near incubation_c, {incubation_c:g}, that a degree changes all days."
            yield from asked(draft, row, "zero_c", text, "Look at both")


def genera_have_one_family(draft: Draft) -> Iterator[Problem]:
    """Species of one genus are of one family, as rules may name it."""
    by_genus: dict[str, Counter[str]] = {}
    for row in draft.species:
        by_genus.setdefault(row.genus, Counter())[row.family] += 1
    for row in draft.species:
        (family, times), *others = by_genus[row.genus].most_common()
        if others and row.family != family and times > 1:
            text = "'{family}' here, and '{other}' for others of '{genus}'."
            yield from asked(draft, row, "family", text, "Write '{kind}'", other=family, kind=family)


_OF_WATER = re.compile(
    r"\b(?:soft|hard|brackish|acid|alkaline|weich|hart|douce|dure|blanda|dura)\b", re.IGNORECASE
)
_OF_FOOD = re.compile(r"naupli|infusori|paramec|artemia|\b(?:brine.?shrimp|food|futter)\b", re.IGNORECASE)


def food_and_water_are_not_exchanged(draft: Draft) -> Iterator[Problem]:
    """What fry eat stands in first_food, and what water they need in water_note: both are printed."""
    for row in draft.species:
        for column, mine, other, its in (
            ("first_food", _OF_FOOD, "water_note", _OF_WATER),
            ("water_note", _OF_WATER, "first_food", _OF_FOOD),
        ):
            cell = getattr(row, column)
            if its.search(cell) and not mine.search(cell):
                text = say("'{text}' is what {column} holds.", shortened(cell), other)
                mend = say("Exchange the two, if they stand in each other's column")
                yield from asked(draft, row, column, text, mend, code="column")
