"""Checks of species and populations: days and warmth in order, spelt alike, of a fish, none two in one."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from itertools import islice

from shipping.tables.cells import Row, shortened
from shipping.tables.checks.row_problems import asked, noted, problem
from shipping.tables.rows.lots import Group, Lot
from shipping.tables.rows.orders import OrderRow, wish_of
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded, folded_place, nearest
from shipping.words.keys import grouped
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
            yield from asked(draft, row, "ready_keeps_d", text, "Write it in days")
        elif row.is_damp and row.keeps_ready_d < SHORTEST_ASLEEP_D:
            text = say("{days:g} days: eggs that sleep keep ready for weeks.", row.ready_keeps_d)
            yield from asked(draft, row, "ready_keeps_d", text, say("Write it in days"))


#: Warmth above zero_c below which a species' days would hang on tenths of a degree. Assumed.
LEAST_DEGREES_C = 4


def species_temperatures_make_sense(draft: Draft) -> Iterator[Problem]:
    """zero_c below incubation_c and keep_max_c, which is above keep_min_c and mostly above incubation_c."""
    for row in draft.species:
        zero, low, high = row.zero_c, row.keep_min_c, row.keep_max_c
        if row.incubation_c <= zero:
            text = "{incubation_c:g} is not above zero_c, {zero_c:g}: nothing would develop."
            mend = "Write a warmer incubation_c or a lower zero_c."
            yield problem(row, "incubation_c", "order", text, mend, zero_c=zero)
        elif row.incubation_c - zero < LEAST_DEGREES_C:
            text = "{zero_c:g} is so near incubation_c, {incubation_c:g}, that a degree changes all days."
            yield from asked(draft, row, "zero_c", text, "Look at both")
        elif high is not None and high <= zero:
            text = say("{keep_max_c:g} is not above zero_c, {zero_c:g}.", high, zero)
            yield problem(row, "keep_max_c", "order", text, "Write the warmest the eggs bear.")
        if low is not None and high is not None and low >= high:
            text = say("{keep_min_c:g} is not below keep_max_c, {keep_max_c:g}.", low, high)
            yield problem(row, "keep_min_c", "order", text, "Write the coldest the eggs bear.")
        elif high is not None and zero < high < row.incubation_c:
            text = say("{incubation_c:g} is above keep_max_c, {keep_max_c:g}.", row.incubation_c, high)
            yield noted(row, "incubation_c", "order", text, "Mend one of the two temperatures.")


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


def populations_are_spelt_right(draft: Draft) -> Iterator[Problem]:
    """A population that is almost, but not quite, one of the lots or groups of that species, once."""
    known: dict[str, set[str]] = {}
    kept: tuple[Lot | Group, ...] = (*draft.lots, *draft.groups)
    for row in kept:
        known.setdefault(row.species, set()).add(row.population)
    wanted: dict[tuple[str, str], OrderRow] = {}
    for order in draft.choosy_rows:
        for species, population in ((order.species, order.population), *map(wish_of, order.instead)):
            if population and population not in known.get(species, set()):
                wanted.setdefault((species, population), order)
    for (species, population), order in islice(wanted.items(), MOST_NAMES):
        like = _like_population(population, sorted(name for name in known.get(species, ()) if name))
        if like:
            text = say("'{population}' is no population of '{species}' in lots.", population, species)
            yield noted(order, "population", "unknown-population", text, say("Did you mean '{name}'?", like))


#: So many names unlike any are compared with all there are: more are another column's.
MOST_NAMES = 20


def _like_population(name: str, known: list[str]) -> str | None:
    """The population that a name is a spelling of; where digits differ by one, it is another's."""
    letters = "".join(filter(str.isalnum, name.casefold()))
    same = (other for other in known if "".join(filter(str.isalnum, other.casefold())) == letters)
    within = [other for other in known if f"{other} ".casefold().startswith(f"{name} ".casefold())]
    within += [other for other in known if f"{name} ".casefold().startswith(f"{other} ".casefold())]
    likely = None if any(map(str.isdigit, name)) else nearest(name, known, cutoff=0.8)
    return next(same, likely or next(iter(within if _TWO_POPULATIONS.fullmatch(name) is None else ()), None))


def populations_are_one(draft: Draft) -> Iterator[Problem]:
    """A cell of two populations (``Akure or Jos``): they are never mixed, and no lot has both."""
    for lot in draft.lots:
        if folded(lot.population) in _OF_SEVERAL:
            text = "'{population}' names no population, and populations are never mixed."
            mend = say("Make a lot of each, or leave it blank where none is known")
            yield from asked(draft, lot, "population", text, mend, code="two-populations")
    for order in draft.choosy_rows:
        for other in order.instead:
            if (two := _TWO_POPULATIONS.fullmatch(other.partition("/")[2])) is not None:
                text = say("'{other}' names two populations or fish, and is read as one.", shortened(other))
                first = f"{order.species}/{two[1].strip()}"
                mend = say("Put ; between them, each as species/population, such as {first}.", first)
                yield noted(order, "instead", "two-populations", text, mend)
    named: tuple[Lot | OrderRow, ...] = (*draft.lots, *draft.choosy_rows)
    for row in named:
        if (two := _TWO_POPULATIONS.fullmatch(row.population)) is None:
            continue
        text = say("'{population}' names two populations, which are never mixed.", row.population)
        told = (two[1].strip(), f"{row.species}/{two[2].strip()}")
        mend = say("Make a lot of each")
        if isinstance(row, OrderRow):
            mend = say("Write {first} here, and {second} in instead, if the buyer takes either", *told)
        yield from asked(draft, row, "population", text, mend, code="two-populations")


#: What people write of a lot of several populations, or of no known one.
_OF_SEVERAL = frozenset(
    ["mixed", "mix", "various", "several", "both", "assorted", "gemischt", "verschiedene", "divers", "mezcla"]
)
_TWO_POPULATIONS = re.compile(
    r"(.*[^\W\d_]{3,}.*?)(?:\s+or\s+|\s+oder\s+|\s+and\s+|\s*[+;]\s*|\s+/\s+)(.*[^\W\d_]{3,}.*)"
)


def lots_spell_their_populations_alike(draft: Draft) -> Iterator[Problem]:
    """A population that differs from an earlier one of the same species by a letter or two is said."""
    known: dict[str, dict[str, Row]] = {}
    kept: tuple[Lot | Group, ...] = (*draft.lots, *draft.groups)
    for row in kept:
        places = known.setdefault(row.species, {})
        if not row.population or row.population in places:
            continue
        has_digits = any(map(str.isdigit, row.population))
        like = None if has_digits else nearest(row.population, sorted(places), 0.8)
        places[row.population] = row
        if like:
            told = (row.population, like, places[like].at)
            text = say("'{population}' is spelt almost as '{like}' on {at}: they count as two.", *told)
            yield noted(row, "population", "unknown-population", text, say("Did you mean '{name}'?", like))


def populations_stand_with_one_species(draft: Draft) -> Iterator[Problem]:
    """A population that this row alone gives to a fish, and others to another, or the fish, is a slip."""
    every: list[Lot | Group | OrderRow] = [*draft.lots, *draft.groups, *draft.order_rows]
    rows = [row for row in every if draft.knows_fish(row.species)]
    by_population: dict[str, Counter[str]] = {}
    for row in rows:
        by_population.setdefault(folded(row.population), Counter())[row.species] += 1
    for row in rows:
        counts = by_population[folded(row.population)]
        other = counts.most_common(1)[0][0]
        if row.population and counts[row.species] == 1 and other != row.species and counts[other] > 1:
            text = "'{population}' is a population of '{other}' elsewhere."
            yield from asked(draft, row, "population", text, "Look at fish and population", other=other)
    named = grouped((row.species, bool(row.population)) for row in rows)
    for lot in draft.lots:
        if (
            not lot.population
            and draft.knows_fish(lot.species)
            and len(named[lot.species]) > 2
            and sum(not one for one in named[lot.species]) == 1
        ):
            text = "is blank, and every other row of '{species}' names one: its eggs go for none of them."
            yield from asked(draft, lot, "population", text, "Look at fish and population")
    for order in draft.choosy_rows:
        for fish in order.instead:
            species, _, population = fish.partition("/")
            known = by_population.get(folded(population), Counter())
            if folded(fish) == folded(f"{order.species}/{order.population}"):
                text = say("'{fish}' is what is ordered.", fish)
                yield from asked(draft, order, "instead", text, "Look at fish and population")
            elif population and known and species.strip() not in known:
                text = say(
                    "'{population}' is a population of '{other}' elsewhere.", population, next(iter(known))
                )
                yield from asked(draft, order, "instead", text, say("Look at fish and population"))


def fish_ordered_stand_under_their_own(draft: Draft) -> Iterator[Problem]:
    """A population that is ordered of one fish, and kept of another that nobody orders there."""
    every: tuple[Lot | Group, ...] = (*draft.lots, *draft.groups)
    rows = [row for row in every if draft.knows_fish(row.species)]
    kept = grouped({(folded_place(row.population), row.species) for row in rows})
    lots = grouped(((folded_place(lot.population), lot.species), lot) for lot in draft.lots)
    fish_kept = {lot.species for lot in draft.lots}
    choosy = [row for row in draft.choosy_rows if row.population and row.cancelled_on is None]
    wanted = {(folded_place(row.population), row.species) for row in choosy}
    told = set[tuple[str, str]]()
    for order in choosy:
        place = folded_place(order.population)
        others = {fish for fish in kept.get(place, ()) if (place, fish) not in wanted}
        if not others or order.species in kept[place] or (place, order.species) in told:
            continue
        told.add((place, order.species))
        other = min(others)
        row: OrderRow | Lot = order if order.species in fish_kept else lots.get((place, other), [order])[0]
        here, there = (order.species, other) if row is order else (other, order.species)
        text = say(
            "'{population}' stands under '{here}' here, and under '{there}' elsewhere.",
            order.population,
            here,
            there,
        )
        yield from asked(draft, row, "species", text, "Look at fish and population")
