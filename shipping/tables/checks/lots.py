"""Checks of lots and groups: days in order, stages of their age, counts that can be, alike, none twice."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from operator import attrgetter

from shipping.tables.checks.row_problems import after_today, asked, before, first_of, noted, problem
from shipping.tables.countries import is_country
from shipping.tables.rows.lots import Group, Look, Lot
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped, repeated
from shipping.words.problems import Level, Problem
from shipping.words.sentence import joined, say

#: A lot laid over more days than this is asked about.
LONGEST_LAYING_D = 120


def lot_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    """laid_from <= laid_to <= counted_on <= today."""
    for lot in draft.lots:
        yield from first_of(
            before(lot, "laid_to", "laid_from", "Write the last day of laying."),
            after_today(draft, lot, "laid_to", "Write the last day of laying."),
            before(lot, "counted_on", "laid_to", "Write the day the eggs were counted after laying."),
            after_today(draft, lot, "counted_on", "Write the day the eggs were counted."),
        )


def lots_are_laid_within_a_season(draft: Draft) -> Iterator[Problem]:
    """Eggs counted as one lot were mostly laid within weeks (common practice, no source); in water the first
    would have hatched before the last were laid.
    """
    for lot in draft.lots:
        fish, most = draft.species_by_name.get(lot.species), float(LONGEST_LAYING_D)
        if fish and not lot.kept_damp and lot.kept_at_c > fish.zero_c:
            colder = (fish.incubation_c - fish.zero_c) / (lot.kept_at_c - fish.zero_c)
            most = min(most, fish.hatch_late_d * max(1.0, colder))
        if (days := (lot.laid_to - lot.laid_from).days) > most:
            text = "{laid_from} is {days} days before laid_to, {laid_to}."
            mend = "Look at the year; else make a lot of each few weeks, whose eggs are of one age."
            yield noted(lot, "laid_from", "long-laying", text, mend, days=days)


_of_a_clutch = attrgetter("species", "population", "laid_from", "laid_to", "medium", "eggs", "counted_on")


def lots_are_not_doubled(draft: Draft) -> Iterator[Problem]:
    """Two lots that differ in nothing but their names may be one row pasted twice."""
    for earlier, lot in repeated((_of_a_clutch(lot), lot) for lot in draft.lots):
        if earlier.lot != lot.lot and lot.eggs:
            text = "'{lot}' has the fish, days and eggs of lot '{other}' on row {row}."
            mend = "Remove one, if it is the same lot."
            yield noted(lot, "lot", "line-twice", text, mend, other=earlier.lot, row=earlier.at.row)


def lots_have_eggs_to_sell(draft: Draft) -> Iterator[Problem]:
    """A lot of which more is kept back than there is gives nothing to any order."""
    for lot in draft.lots:
        if lot.keep_back > lot.eggs > 0:
            text = "{keep_back} is more than the {eggs} eggs of lot '{lot}': none of them is for sale."
            yield noted(lot, "keep_back", "keep-back", text, "Write how many are not for sale.")


def lot_stage_days_are_possible(draft: Draft) -> Iterator[Problem]:
    """laid_from <= stage_on <= today; a stage without a day is taken as seen on counted_on, and said."""
    mend = "Write the day the stage was seen."
    for lot in draft.lots:
        if lot.laid_to > draft.today:
            continue  # said already: every other day of that lot would seem wrong
        if lot.stage is None and lot.stage_on is not None:
            text = "has a day and no stage, so it says nothing."
            yield noted(lot, "stage_on", "no-stage", text, "Write the stage, or empty it.")
        elif lot.stage is not None and lot.stage_on is None:
            text = "is blank; {counted_on}, the day of the count, is taken."
            yield noted(lot, "stage_on", "stage-day", text, mend)
        else:
            yield from first_of(
                before(lot, "stage_on", "laid_from", mend), after_today(draft, lot, "stage_on", mend)
            )


#: An egg has no eyes before this share of the days that the earliest take to them; one kept damp is ready to
#: wet within so many times its latest. Assumed.
EARLIEST_EYES, LATEST_READY = 0.4, 1.5
#: No lot is ready before these shares of its early days, since its last eggs were laid and its middle ones.
READY_SINCE_LAST, READY_SINCE_MIDDLE = 0.6, 0.8


def stages_are_of_their_age(draft: Draft) -> Iterator[Problem]:
    """Eyes or readiness far too early; none ready of eggs kept damp far past their days."""
    for lot in draft.lots:
        fish = draft.species_by_name.get(lot.species)
        if fish is None or lot.stage is None or fish.zero_c >= min(lot.kept_at_c, fish.incubation_c):
            continue
        warmth = (lot.kept_at_c - fish.zero_c) / (fish.incubation_c - fish.zero_c)
        days = ((lot.stage_on or lot.counted_on) - lot.laid_to).days
        eyes = EARLIEST_EYES * fish.eyed_at * fish.hatch_early_d
        middle = days + (lot.laid_to - lot.laid_from).days / 2
        is_unready = lot.stage == "ready" and (
            days * max(1.0, warmth) < READY_SINCE_LAST * fish.hatch_early_d
            or middle * max(1.0, warmth) < READY_SINCE_MIDDLE * fish.hatch_early_d
        )
        has_no_eyes = lot.stage in ("eyed", "ready") and days * max(1.0, warmth) < eyes
        if days >= 0 and lot.laid_from < lot.laid_to and (has_no_eyes or is_unready):
            text = say(
                "'{stage}' {days} days after the last were laid, {laid_to}.", lot.stage, days, lot.laid_to
            )
            yield from asked(draft, lot, "laid_to", text, "Look at both days, or part the lot by age")
        waits = fish.is_damp or not lot.kept_damp or lot.stage == "ready"
        if not waits and days * min(1.0, warmth) > LATEST_READY * fish.hatch_late_d:
            text = say(
                "'{stage}' {days} days after laying, and '{fish}' is ready in {late:g} at most.",
                *(lot.stage, days, fish.species, fish.hatch_late_d),
            )
            yield from asked(draft, lot, "stage", text, "Look at the days of laying")


def lot_wetting_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    """wet_from <= wet_until, and only for eggs kept damp."""
    for lot in draft.lots:
        yield from before(lot, "wet_until", "wet_from", "Write the last day for wetting.")
        if not lot.kept_damp and (lot.wet_from or lot.wet_until):
            column = "wet_from" if lot.wet_from else "wet_until"
            text = "is for eggs kept damp; these are kept in water."
            yield problem(lot, column, "medium", text, "Empty it, or mend the medium.")
        elif lot.kept_damp and lot.laid_from <= draft.today:
            mend = "Look at the year, or empty it."
            yield from first_of(
                before(lot, "wet_from", "laid_from", mend, Level.NOTICE),
                before(lot, "wet_until", "laid_from", mend, Level.NOTICE),
            )


#: A window for wetting that is longer may have its year mistyped. Assumed.
LONGEST_WETTING_D = 366
#: Behind a word for gone no more than when, or to whom: a sentence that goes on says another thing.
_NO_MORE = (
    r"(?=\W*$|\s*[,.;:!(]|\s(?:[0-9]{4}-|[0-9]{1,2}(?:[./-][0-9]|\.?\s?(?:jan|feb|m[aä]r|apr|ma[iy]|jun|jul|aug|"
    r"sep|o[kc]t|nov|d[eé][cz]))|(?:all|since|on|to|today|yesterday|now|already|seit|am|an|heute|gestern|"
    r"depuis|le|hier|desde|el|hoy|ayer)\b))"
)
_GONE = re.compile(
    r"\W*(?:(?:all|the whole lot|whole lot|alles?|is|was|lot) )*"
    r"(?:fungus took|do not (?:sell|use)|not for sale|(?:sold(?: out)?|dead|died|gone|discarded|"
    r"thrown (?:out|away)|dumped|ausverkauft|verkauft|tot|lost|empty|leer|vides?|vacío|"
    r"(?:all|alle|tous|todos) (?:have |are |sind )?(?:hatched|geschlüpft|éclos|eclosionados))"
    rf"{_NO_MORE})",
    re.IGNORECASE,
)


def lots_gone_have_no_eggs(draft: Draft) -> Iterator[Problem]:
    """A lot whose note says that it is gone counts all the same; a window of over a year is a slip."""
    for lot in draft.lots:
        if lot.eggs > lot.keep_back and (word := _GONE.match(lot.note)):
            text = "says '{found}', and the {eggs} eggs of lot '{lot}' count all the same."
            mend = say("Write a look with alive 0, or keep_back")
            yield from asked(draft, lot, "note", text, mend, code="lot-gone", found=word[0].strip())
        if lot.wet_from and lot.wet_until and (lot.wet_until - lot.wet_from).days > LONGEST_WETTING_D:
            text = "{day} is more than a year after wet_from, {wet_from}."
            yield from asked(draft, lot, "wet_until", text, "Look at the year", day=lot.wet_until)


def lot_media_suit_the_species(draft: Draft) -> Iterator[Problem]:
    """Annual eggs in water are a mistake; eggs of a water species may be kept damp for a while."""
    for lot in draft.lots:
        species = draft.species_by_name.get(lot.species)
        if species is None or species.incubation == "either":
            continue
        if (species.incubation == "damp") != lot.kept_damp:
            text = "'{medium}' does not suit '{species}', whose incubation is {incubation}."
            mend = say("Mend the medium, or write either as the incubation on {at}.", species.at)
            level = Level.NOTICE if lot.kept_damp else Level.ERROR
            yield problem(lot, "medium", "medium", text, mend, level, incubation=say(species.incubation))


#: So far outside its bounds a lot may be on a hot day or in a cold night; beyond, it is a slip. Assumed.
HOT_DAY_C = 3.0


def lots_are_kept_within_bounds(draft: Draft) -> Iterator[Problem]:
    """A lot or a look outside keep_min_c to keep_max_c; far above, the lot stays out."""
    for lot in draft.lots:
        yield from _warmth(draft, lot, lot, lot.kept_at_c)
    for look in draft.looks:
        lot_seen = draft.lot_by_name.get(look.lot)
        if lot_seen is not None and look.kept_at_c is not None:
            yield from _warmth(draft, lot_seen, look, look.kept_at_c)


#: Eggs kept so much colder than those whose days are known are in another room, or a digit is lost [K].
FAR_COLDER_C = 5


def _warmth(draft: Draft, lot: Lot, row: Lot | Look, kept_at_c: float) -> Iterator[Problem]:
    species = draft.species_by_name.get(lot.species)
    if species is None:
        return
    low, high = species.keep_min_c, species.keep_max_c
    if high is not None and (high <= species.zero_c or (low is not None and low >= high)):
        return  # said already of the species
    mend = say("Write the temperature the eggs are kept at")
    if high is not None and kept_at_c > high:
        told = (kept_at_c, "keep_max_c", species.species, high)
        text = say("{value:g} °C is above {column} of '{species}', {bound:g}.", *told)
        if kept_at_c - high > HOT_DAY_C:
            mend = joined((say("Until then the lot stays out."), mend))
            yield from asked(draft, row, "kept_at_c", text, mend, Level.LOT)
        else:
            yield from asked(draft, row, "kept_at_c", text, mend)
    elif kept_at_c <= min(species.zero_c, species.incubation_c - FAR_COLDER_C) and (low or -99) <= kept_at_c:
        text = say(
            "{value:g} °C: no egg of '{species}' develops at {bound:g} or below.",
            kept_at_c,
            species.species,
            species.zero_c,
        )
        yield from asked(draft, row, "kept_at_c", text, mend)
    elif low is not None and kept_at_c < low:
        told = (kept_at_c, "keep_min_c", species.species, low)
        text = say("{value:g} °C is below {column} of '{species}', {bound:g}.", *told)
        yield from asked(draft, row, "kept_at_c", text, mend)


#: More eggs than this a day of laying are no room's of killifish (common practice, no source).
MOST_LAID_A_DAY = 500
#: Eggs are not wetted, nor have fry, before this share of their earliest days to hatching. Assumed.
EARLIEST_SHARE = 0.4
#: Nor are they wetted so many days after their latest. Assumed.
LATEST_WETTING_D = 200
#: Of lots of a fish that may be kept either way, with so many others kept the other way one is asked about.
LEAST_OTHERS = 2


def lots_hold_what_was_laid(draft: Draft) -> Iterator[Problem]:
    """More eggs than were ever laid in those days: a digit too many, or another column's number."""
    for lot in draft.lots:
        days = (lot.laid_to - lot.laid_from).days + 1
        if days > 0 and lot.eggs > MOST_LAID_A_DAY * days:
            text = "{eggs} eggs in {days} days of laying."
            yield from asked(draft, lot, "eggs", text, "Look at both", days=days)


def lots_of_a_fish_are_kept_alike(draft: Draft) -> Iterator[Problem]:
    """Of a fish kept either way, one lot unlike all others: eggs called damp never hatch on the way."""
    either = {fish.species for fish in draft.species if fish.incubation == "either"}
    kept = grouped((lot.species, lot) for lot in draft.lots if lot.species in either)
    for lots in kept.values():
        damp = [lot for lot in lots if lot.kept_damp]
        wet = [lot for lot in lots if not lot.kept_damp]
        few, many = sorted((damp, wet), key=len)
        has_kin = len(few) == 1 and few[0].population in {lot.population for lot in many}
        if has_kin and len(many) >= LEAST_OTHERS:
            text = "'{medium}', and all other lots of '{fish}' are in {other}."
            mend = say("Write what the eggs lie in")
            yield from asked(draft, few[0], "medium", text, mend, fish=few[0].species, other=many[0].medium)


def wetting_days_can_be(draft: Draft) -> Iterator[Problem]:
    """Days for wetting that were past at the count, or that no egg of the fish could wait for or be ready by;
    eggs whose days passed since wait for a look.
    """
    for lot in draft.lots:
        fish = draft.species_by_name.get(lot.species)
        if fish is None or not lot.kept_damp:
            continue
        if lot.wet_until and lot.laid_to <= lot.wet_until < lot.counted_on and lot.eggs:
            text = "{day} is past: the eggs of lot '{lot}' were to be wet by then."
            yield from asked(draft, lot, "wet_until", text, "Look at day, month and year", day=lot.wet_until)
        elif lot.wet_from and (told := _odd_wetting(lot, fish)):
            yield from asked(draft, lot, "wet_from", told, "Look at day, month and year")


def _odd_wetting(lot: Lot, fish: Species) -> str:
    assert lot.wet_from
    days = (lot.wet_from - lot.laid_to).days
    if 0 <= days < EARLIEST_SHARE * fish.hatch_early_d:
        return say(
            "{day} is {days} days after laying, and '{fish}' takes {early:g} at least.",
            lot.wet_from,
            days,
            fish.species,
            fish.hatch_early_d,
        )
    if days > fish.hatch_late_d + LATEST_WETTING_D:
        return say(
            "{day} is {days} days after laying, and '{fish}' takes {late:g} at most.",
            lot.wet_from,
            days,
            fish.species,
            fish.hatch_late_d,
        )
    return ""


#: Salter water than this is brackish [g/l]. Assumed.
BRACKISH_G_L = 12


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


#: Water so many times less salty than that of all other lots of the fish has its point misplaced. Assumed.
FRESHER_TIMES = 8


def lots_of_a_fish_are_alike_in_salt_and_descent(draft: Draft) -> Iterator[Problem]:
    """A lot far less salty than its fish's others, or alone wild, or captive, in its population."""
    for lots in grouped(
        (lot.species, lot) for lot in draft.lots if lot.salt_g_l and not lot.kept_damp
    ).values():
        freshest, *others = sorted(lots, key=lambda lot: lot.salt_g_l)
        if others and freshest.salt_g_l * FRESHER_TIMES <= others[0].salt_g_l:
            text = "{salt_g_l:g} grams a litre, and other lots of '{species}' have {other:g}."
            yield from asked(draft, freshest, "salt_g_l", text, "Look at the point", other=others[0].salt_g_l)
    told = grouped(((lot.species, lot.population, lot.origin), lot) for lot in draft.lots if lot.bred)
    for lots in told.values():
        for lot in lots if len(lots) > LEAST_OTHERS else ():
            if [other.bred for other in lots].count(lot.bred) == 1:
                text = "'{bred}', and no other lot of '{fish}' is said to be so."
                yield from asked(draft, lot, "bred", text, "Look at both", fish=lot.species)


#: A lot with so many times the eggs a day of laying that any other has, and more than so many, has a digit
#: too many; and one with so many times those of any other of its fish, or of the only one.
MORE_LAID_TIMES, MANY_LAID, LEAST_LOTS = 3, 120, 3
FISH_LAID_TIMES, ONE_LAID_TIMES = 6, 10
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
        of_its_own = of_fish.get((lot.species, lot.population), [])
        most = _most_beside(of_its_own, rate) if lot.eggs > MANY_LAID else 0.0
        times = FISH_LAID_TIMES if len(of_its_own) > LEAST_OTHERS else ONE_LAID_TIMES
        yield from _laid_faster(draft, lot, "eggs", rate, most, times)
    for group in draft.groups:
        most = of_fish.get((group.species, group.population), [0.0])[-1]
        yield from _laid_faster(draft, group, "eggs_a_day", group.eggs_a_day, most, GROUP_LAYS_TIMES)


def _laid_faster(
    draft: Draft, row: Lot | Group, column: str, rate: float, most: float, times: float
) -> Iterator[Problem]:
    if rate > times * most > 0:
        text = say("{rate:.0f} eggs a day of laying, and lots like it have {most:.0f} at most.", rate, most)
        yield from asked(draft, row, column, text, "Look at both")


def _most_beside(rates: list[float], one: float) -> float:
    """The greatest of sorted rates beside one of them; 0 where there is no other."""
    others = rates[:-1] if rates[-1] == one else rates
    return others[-1] if others else 0.0


#: A lot so far from all others of its fish lies in no room of theirs [K].
ANOTHER_ROOM_C = 4
#: Lots no farther apart lie in one [K].
ONE_ROOM_C = 2


def lots_are_as_warm_as_their_fish(draft: Draft) -> Iterator[Problem]:
    """A lot far colder or far warmer than all others of its fish: its clock is wrong."""
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
            yield from asked(draft, last, "kept_at_c", text, "Write the temperature the eggs are kept at")
        if lot.kept_at_c <= next_to.kept_at_c - ANOTHER_ROOM_C:
            text = say(
                "{here:g} °C, and other lots of '{fish}' are kept at {there:g} or more.",
                *(lot.kept_at_c, lot.species, next_to.kept_at_c),
            )
            yield from asked(draft, lot, "kept_at_c", text, "Write the temperature the eggs are kept at")


#: A clutch in two tubs is counted on one day or the next; a recount comes later, and finds most eggs left.
DAYS_TO_A_RECOUNT, MOST_LEFT = 3, 0.8
#: Sooner too, where it has the other's name and a letter, and so many are left.
SURELY_LEFT = 0.9


def lots_are_not_copied(draft: Draft) -> Iterator[Problem]:
    """Two lots of the same days, counted on two, with as many eggs or few less: a row copied to recount."""
    row_of = attrgetter("species", "population", "laid_from", "laid_to", "medium", "kept_at_c")
    for other, lot in repeated((row_of(lot), lot) for lot in draft.lots):
        days = (lot.counted_on - other.counted_on).days
        is_again = other.eggs == lot.eggs if days < DAYS_TO_A_RECOUNT else lot.eggs <= other.eggs
        is_named_again = folded(lot.lot).startswith(folded(other.lot)) and lot.eggs <= other.eggs
        most_left = SURELY_LEFT if is_named_again else MOST_LEFT
        if days and (is_again or is_named_again) and lot.eggs > most_left * other.eggs:
            text = say("'{lot}' may be lot '{other}' of row {row} again.", lot.lot, other.lot, other.at.row)
            yield from asked(draft, lot, "lot", text, "Remove one, if it is the same lot", code="line-twice")


def group_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    """from_day <= until_day."""
    for group in draft.groups:
        yield from before(group, "until_day", "from_day", "Write the last day of laying.")


def groups_are_not_doubled(draft: Draft) -> Iterator[Problem]:
    """Two groups that differ in nothing but their names: their eggs are expected twice."""
    laying = attrgetter("species", "population", "eggs_a_day", "from_day", "until_day")
    for other, group in repeated((laying(group), group) for group in draft.groups):
        told = (group.group, other.group, other.at.row)
        text = say("'{group}' may be group '{other}' of row {row} again.", *told)
        mend = say("Remove one, if it is the same group")
        yield from asked(draft, group, "group", text, mend, code="line-twice")


#: A spawning group that lays for longer has one of its years mistyped. Assumed.
LONGEST_GROUP_D = 400
#: One whose days of last year begin again so soon is meant for this year. Assumed.
SOON = timedelta(days=30)
#: A spawning group that begins to lay later than this has its year mistyped. Assumed.
LATEST_GROUP_D = 180


def groups_begin_soon(draft: Draft) -> Iterator[Problem]:
    """A group that lays from a day far ahead, or laid a year ago on the days that are now while no other of
    its fish and population lays, has its year mistyped: nothing is expected of it.
    """
    year, today = timedelta(days=365), draft.today
    kept = [(row.species, row.population) for row in draft.groups if (row.until_day or today) >= today]
    for row in draft.groups:
        begin, until = row.from_day, row.until_day
        is_last_years = begin and until and until < today <= until + year and begin + year <= today + SOON
        if is_last_years and (row.species, row.population) not in kept:
            text = "{day} is past, and the same days are ahead of the year after."
            yield from asked(draft, row, "until_day", text, "Look at the year", day=row.until_day)
        if begin and until and (days := (until - begin).days) > LONGEST_GROUP_D:
            text = "{day} is {days} days after from_day, {from_day}."
            yield from asked(draft, row, "until_day", text, "Look at the year", day=until, days=days)
        if row.from_day and (days := (row.from_day - draft.today).days) > LATEST_GROUP_D:
            text = "{day} is {days} days ahead."
            yield from asked(draft, row, "from_day", text, "Look at the year", day=row.from_day, days=days)
