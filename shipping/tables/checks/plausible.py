"""What no breeder means, alone or beside other rows, is asked about: fish, populations, groups."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from datetime import timedelta

from shipping.tables.checks.row_problems import asked
from shipping.tables.country_codes import is_country
from shipping.tables.rows.lots import Group, Lot
from shipping.tables.rows.orders import OrderRow
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped
from shipping.words.problems import Problem
from shipping.words.sentence import say

#: Warmth above zero_c below which a species' days would hang on tenths of a degree. Assumed.
LEAST_DEGREES_C = 4
#: Days from the order to its payment, after which one of them has its year or its month mistyped. Assumed.
LONGEST_UNPAID_D = 150
#: A spawning group that begins to lay later than this has its year mistyped. Assumed.
LATEST_GROUP_D = 180
#: Salter water than this is brackish [g/l]. Assumed.
BRACKISH_G_L = 12


def species_develop_above_their_zero(draft: Draft) -> Iterator[Problem]:
    """incubation_c stands some degrees above zero_c."""
    for row in draft.species:
        if 0 < row.incubation_c - row.zero_c < LEAST_DEGREES_C:
            text = "{zero_c:g} is so near incubation_c, {incubation_c:g}, that a degree changes all days."
            yield from asked(draft, row, "zero_c", text, "Look at both")


def fresh_water_fish_are_kept_fresh(draft: Draft) -> Iterator[Problem]:
    """Eggs kept in brackish water are of fish whose water note speaks of salt."""
    fish = {row.species: row for row in draft.species}
    for lot in draft.lots:
        species = fish.get(lot.species)
        if lot.salt_g_l > BRACKISH_G_L and species and not _SALT.search(species.water_note):
            text = (
                "{salt_g_l:g} grams a litre is brackish, and the water note of '{species}' does not say so."
            )
            yield from asked(draft, lot, "salt_g_l", text, "Look at both", species=species.species)


_SALT = re.compile(r"brack|salt|sea|marine|salz|meer|saum|sel\b|salobre|sal\b|mar\b", re.IGNORECASE)


def orders_are_paid_within_months(draft: Draft) -> Iterator[Problem]:
    """Day and month turned round, or a wrong year, sends an order to the front of the queue."""
    for row in draft.first_rows:
        if row.paid_on and (days := (row.paid_on - row.placed_on).days) > LONGEST_UNPAID_D:
            text = say("{day} is {days} days before it was paid, and waits count.", row.placed_on, days)
            yield from asked(draft, row, "placed_on", text, "Look at day, month and year")


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
                yield from asked(draft, order, "instead", text, say("Look at fish and population"))
            elif population and known and species.strip() not in known:
                text = say(
                    "'{population}' is a population of '{other}' elsewhere.", population, next(iter(known))
                )
                yield from asked(draft, order, "instead", text, say("Look at fish and population"))


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


def lots_say_where_they_are_from(draft: Draft) -> Iterator[Problem]:
    """Who bred the eggs is no country, and what they were treated with is no number."""
    for row in draft.lots:
        if is_country(row.origin.strip().upper()) and len(row.origin.strip()) == 2:
            text = "'{origin}' is a country, and origin is from whom the eggs were bought."
            yield from asked(draft, row, "origin", text, "Write it in origin_country")
        elif row.origin and not any(letter.isalpha() for letter in row.origin):
            text = "'{origin}' is nobody's name."
            yield from asked(draft, row, "origin", text, "Write from whom the eggs came, or empty it")
        if row.treatment and not any(letter.isalpha() for letter in row.treatment):
            text = "'{treatment}' names no treatment."
            yield from asked(draft, row, "treatment", text, "Write what was given, or empty it")


def fry_have_had_eyes(draft: Draft) -> Iterator[Problem]:
    """Where fry have hatched, eggs show eyes."""
    for row in draft.looks:
        if row.hatched and row.stage in ("laid", "fertile"):
            text = "{hatched} fry, and the stage of that day is '{stage}'."
            yield from asked(draft, row, "hatched", text, "Look at both")


def groups_begin_soon(draft: Draft) -> Iterator[Problem]:
    """A group that lays from a day far ahead, or laid a year ago on the days that are now while no other of
    its fish and population lays, has its year mistyped: nothing is expected of it.
    """
    year, today = timedelta(days=365), draft.today
    kept = [(row.species, row.population) for row in draft.groups if (row.until_day or today) >= today]
    for row in draft.groups:
        begin, until = row.from_day, row.until_day
        is_last_years = begin and until and until < today <= until + year and begin + year <= today + year / 4
        if is_last_years and (row.species, row.population) not in kept:
            text = "{day} is past, and the same days are ahead of the year after."
            yield from asked(draft, row, "until_day", text, say("Look at the year"), day=row.until_day)
        if row.from_day and (days := (row.from_day - draft.today).days) > LATEST_GROUP_D:
            text = "{day} is {days} days ahead."
            yield from asked(draft, row, "from_day", text, "Look at the year", day=row.from_day, days=days)
