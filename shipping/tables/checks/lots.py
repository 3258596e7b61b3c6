"""Checks of species, lots, looks and groups: days in their order, stages forwards, counts that can be."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from datetime import date
from itertools import pairwise
from operator import attrgetter

from shipping.tables.checks.row_problems import after_today, asked, before, first_of, noted, problem
from shipping.tables.rows.learned import Arrival
from shipping.tables.rows.lots import STAGES, Look, Lot, bounds
from shipping.tables.rows.settings import PlanSettings
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped, repeated
from shipping.words.problems import Level, Problem
from shipping.words.sentence import joined, say

#: A lot laid over more days than this is asked about.
LONGEST_LAYING_D = 120
#: Eggs in water hatch within so many times the first ones' days; more is asked about. Assumed.
WIDEST_HATCH = 6
#: Eggs that sleep wait longer than this for water. Assumed.
SHORTEST_ASLEEP_D = 7
#: Of a fish without a sleep in the egg, eggs kept damp begin to die after a month (Fundulus grandis).
LONGEST_READY_D = 45


def species_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    """hatch_early_d <= hatch_usual_d <= hatch_late_d."""
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
    """Eyes in eggs of yesterday, eggs ready in half their days; none ready in a lot kept damp far past its
    days, where fish do not wait.
    """
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
            yield from asked(draft, lot, "stage", text, say("Look at the days of laying"))


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
_GONE = re.compile(
    r"\W*(?:(?:all|the whole lot|whole lot|alles?|is|was|lot) )*(?:sold(?: out)?|dead|died|gone|discarded|"
    r"thrown (?:out|away)|dumped|ausverkauft|verkauft|tot|lost|fungus took|do not (?:sell|use)|"
    r"not for sale|empty|leer|vides?|vacío)\b|\W*(?:all|alle|tous|todos) (?:have |are |sind )?"
    r"(?:hatched|geschlüpft|éclos|eclosionados)\b",
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


#: More than this share of a lot taken out at one look is asked about. Assumed.
MOST_REMOVED = 0.5


def looks_say_something(draft: Draft) -> Iterator[Problem]:
    """A look that says nothing is said; one that takes most of a lot out may have its counts swapped."""
    for look in draft.looks:
        lot = draft.lot_by_name.get(look.lot)
        seen = (look.stage, look.alive, look.hatched, look.removed, look.kept_at_c)
        if seen == (None,) * len(seen) and not look.note:
            text = "{on} has a look at lot '{lot}' that says nothing."
            yield noted(look, "on", "nothing", text, "Write what was seen.")
        elif lot is not None and look.removed and look.removed > MOST_REMOVED * lot.eggs:
            text = "{removed} of the {eggs} eggs of lot '{lot}' taken out at one look."
            mend = say("If that is what is left, write it in alive")
            yield from asked(draft, look, "removed", text, mend, eggs=lot.eggs, lot=lot.lot)


def lot_media_suit_the_species(draft: Draft) -> Iterator[Problem]:
    """Annual eggs in water are a mistake; eggs of a water species may be kept damp for a while."""
    for lot in draft.lots:
        species = draft.species_by_name.get(lot.species)
        if species is None or species.incubation == "either":
            continue
        if (species.incubation == "damp") != lot.kept_damp:
            told = (lot.medium, lot.species, species.incubation)
            text = say("'{medium}' does not suit '{species}', whose incubation is {incubation}.", *told)
            mend = say("Mend the medium, or write either as the incubation on {at}.", species.at)
            level = Level.NOTICE if lot.kept_damp else Level.ERROR
            yield problem(lot, "medium", "medium", text, mend, level)


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


def looks_are_after_laying(draft: Draft) -> Iterator[Problem]:
    """A look speaks for the whole lot, so it is not before laid_to; nor after today."""
    for look in draft.looks:
        lot = draft.lot_by_name.get(look.lot)
        yield from after_today(draft, look, "on", "Write the day of the look.")
        if lot is not None and lot.laid_from <= lot.laid_to <= draft.today and look.on < lot.laid_to:
            text = say("{on} is before lot '{lot}' was laid ({laid_to}).", look.on, lot.lot, lot.laid_to)
            yield problem(look, "on", "order", text, "Write the day of the look, or mend laid_to.")


def stages_never_run_backwards(draft: Draft) -> Iterator[Problem]:
    """Over a lot's looks, its own stage included, the stage never falls back."""
    seen: dict[str, list[Lot | Look]] = {lot.lot: [lot] for lot in draft.lots if lot.stage}
    for look in draft.looks:
        if look.stage and look.lot in draft.lot_by_name:
            seen.setdefault(look.lot, []).append(look)
    for lot in sorted(seen):
        staged = sorted(seen[lot], key=lambda row: (_seen_on(row), _rank(row)))
        for earlier, later in pairwise(staged):
            if _rank(later) < _rank(earlier):
                told = (later.stage, earlier.stage, _seen_on(earlier), earlier.at)
                text = say("'{stage}' comes after '{earlier}' of {seen} ({at}).", *told)
                yield problem(later, "stage", "backwards", text, "Mend the stage or the day of one of them.")
                break


def _seen_on(row: Lot | Look) -> date:
    return row.on if isinstance(row, Look) else row.stage_on or row.counted_on


def _rank(row: Lot | Look) -> int:
    """How far the stage is that a row says."""
    return STAGES.index(row.stage or "laid")


def recounts_can_be(draft: Draft) -> Iterator[Problem]:
    """A recount above what can be there stops that lot; one below what is reckoned is taken as losses.

    Reckoned is the last count, less what was removed or hatched, less shelf_loss_per_day for eggs in water.
    """
    loss = (draft.settings.plan if draft.settings else PlanSettings()).shelf_loss_per_day
    looks = grouped((look.lot, look) for look in draft.looks)
    for name in sorted(looks):
        if lot := draft.lot_by_name.get(name):
            back = draft.came_back.get(name, ())
            yield from _recounts_of(lot, looks[name], 0.0 if lot.kept_damp else loss, back)
            yield from _counts_since(draft, lot, looks[name], sum(eggs for _, eggs in back))


#: A lot's count so many times that of an earlier look has a digit too many, or the look one too few.
COUNT_TIMES = 2


def _counts_since(draft: Draft, lot: Lot, looks: list[Look], back: int) -> Iterator[Problem]:
    """A count far above what a look counted before it, when all were laid: eggs do not become more."""
    before = (look for look in looks if look.alive is not None and lot.laid_to < look.on < lot.counted_on)
    look = max(before, key=lambda look: look.on, default=None)
    if look and lot.eggs - back > COUNT_TIMES * (look.alive or 0):
        text = "{eggs} are more than the {alive} alive on {day}, {at}, and none was laid since."
        yield from asked(draft, lot, "eggs", text, "Look at both", alive=look.alive, day=look.on, at=look.at)


def _recounts_of(
    lot: Lot, looks: list[Look], loss_per_day: float, back: Sequence[tuple[date, int]]
) -> Iterator[Problem]:
    for bound in bounds(lot, looks, back=back):
        look, most = bound.look, bound.most
        if bound.excess and bound.column == "alive":
            told = (look.alive, bound.excess, lot.eggs, lot.lot)
            text = say("{alive} are {excess} more than can be left of the {eggs} in lot '{lot}'.", *told)
            mend = "Count again; until then the lot stays out."
            yield problem(look, "alive", "recount", text, mend, Level.LOT)
        elif bound.excess:
            text = say(
                "{gone} hatched or removed are more than the {most} that can be left in lot '{lot}'.",
                *(most + bound.excess, most, lot.lot),
            )
            mend = "Mend the count; until then the lot stays out."
            yield problem(look, bound.column, "recount", text, mend, Level.LOT)
        elif look.alive is not None:
            came = sum(eggs for day, eggs in back if bound.counted_on <= day <= look.on)
            reckoned = math.floor((most - came) * math.exp(-loss_per_day * (look.on - bound.counted_on).days))
            if look.alive < reckoned:
                told = (look.alive, reckoned - look.alive, reckoned, lot.lot)
                text = say("{alive} are {fewer} fewer than reckoned ({reckoned}) in lot '{lot}'.", *told)
                yield noted(look, "alive", "losses", text, "What was not packed is taken as losses.")


def group_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    """from_day <= until_day."""
    for group in draft.groups:
        yield from before(group, "until_day", "from_day", "Write the last day of laying.")


def arrivals_have_happened(draft: Draft) -> Iterator[Problem]:
    """The week in a parcel's name <= arrived_on <= today."""
    first: dict[str, Arrival] = {}
    for arrival in draft.arrivals:
        other = first.setdefault(arrival.parcel, arrival)
        if other.arrived_on != arrival.arrived_on:
            told = (arrival.arrived_on, other.arrived_on, other.at.row)
            text = say("{day} here, and {other} on row {row} for the same parcel.", *told)
            yield from asked(draft, arrival, "arrived_on", text, say("Look at both days"))
        if arrival.arrived_on > draft.today:
            yield from after_today(draft, arrival, "arrived_on", "Write the day it arrived.")
        elif (monday := _monday_of(arrival.parcel)) is None:
            text = "'{parcel}' is no parcel's name."
            mend = "Write it as on the slip, such as 2026-W49-01: else nothing is learned from it."
            yield noted(arrival, "parcel", "parcel-name", text, mend)
        elif arrival.arrived_on < monday:
            text = "{arrived_on} is before the week of that parcel, which begins on {monday}."
            yield noted(arrival, "arrived_on", "order", text, "Write the day it arrived.", monday=monday)
        elif (days := (arrival.arrived_on - monday).days) > LONGEST_ON_THE_WAY_D:
            text = say("{day} is {days} days after the week of that parcel began.", arrival.arrived_on, days)
            yield noted(arrival, "arrived_on", "order", text, "Write the day it arrived.")


#: A parcel that took longer has mostly its month or its week mistyped. Assumed.
LONGEST_ON_THE_WAY_D = 45
#: How parcels are named: the week they go in, and a number.
_OF_A_PARCEL = re.compile(r"([0-9]{4})-W([0-9]{2})-[0-9]+", re.IGNORECASE)


def _monday_of(parcel: str) -> date | None:
    """The day on which the week in a parcel's name begins; None where it names none."""
    week = _OF_A_PARCEL.fullmatch(parcel)
    try:
        return date.fromisocalendar(int(week[1]), int(week[2]), 1) if week else None
    except ValueError:
        return None


#: More eggs than this a day of laying are no room's of killifish (common practice, no source).
MOST_LAID_A_DAY = 500
#: A parcel with so many times the eggs of any other has a digit too many, where so many others tell. Assumed.
MORE_ALIVE_TIMES, LEAST_ARRIVALS = 5, 3


def arrivals_are_of_a_size(draft: Draft) -> Iterator[Problem]:
    """A line of far more eggs alive than any other: what is learned from it would be wrong."""
    if len(draft.arrivals) <= LEAST_ARRIVALS:
        return
    *_, other, most = sorted(draft.arrivals, key=lambda row: row.alive)
    if most.alive > MORE_ALIVE_TIMES * other.alive > 0:
        text = say("{alive} alive, and no other line has more than {most}.", most.alive, other.alive)
        yield from asked(draft, most, "alive", text, say("Look at the point"))


#: A lot is not moved between rooms that are farther apart [C]. Assumed.
FARTHEST_ROOM_C = 6.5
#: Eggs are not wetted, nor have fry, before this share of their earliest days to hatching. Assumed.
EARLIEST_SHARE = 0.4
#: So large a share of a lot does not hatch before the early day, by which a twentieth has.
EARLY_FRY_SHARE = 0.15
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


def lots_are_named_apart(draft: Draft) -> Iterator[Problem]:
    """A lot under two names that differ in marks only, as ``GA-12`` and ``GA 12``."""
    bare = (("".join(filter(str.isalnum, folded(lot.lot))), lot) for lot in draft.lots)
    for other, lot in repeated(bare):
        if folded(other.lot) != folded(lot.lot) and lot.eggs:
            text = say("'{lot}' may be lot '{other}' of row {row} again.", lot.lot, other.lot, other.at.row)
            mend = say("Remove one, if it is the same lot")
            yield from asked(draft, lot, "lot", text, mend, code="line-twice")


#: What a row is called that adds others up, or shows how a row is written.
_NO_LOT = re.compile(
    r"(?:sub|grand )?-?total|sum|summe|gesamt|somme|suma|examples?|beispiel|exemple|ejemplo|test",
    re.IGNORECASE,
)


def lots_have_a_name_of_their_own(draft: Draft) -> Iterator[Problem]:
    """A lot named like a row of sums, or like the example of a table, counts as eggs."""
    for lot in draft.lots:
        if lot.eggs and _NO_LOT.fullmatch(lot.lot.strip()):
            text = "'{lot}' is mostly no lot, and its {eggs} eggs count."
            yield from asked(draft, lot, "lot", text, "Remove the row", code="lot-name")


def lots_of_a_fish_are_kept_alike(draft: Draft) -> Iterator[Problem]:
    """Of a fish kept in water or damp, one lot unlike all others, of a population of theirs: eggs called damp
    never hatch on the way.
    """
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


_DEAD = re.compile(
    r"\b(?:all|every(?:thing)?|alle?s?|todos?|tous|toutes) (?:(?:is|are|were) )?"
    r"(?:dead|gone|died|lost|fungus(?:ed)?|white|tot|verpilzt|døde?|muert[oa]s|mort(?:e?s)?)\b",
    re.IGNORECASE,
)
_FRY = re.compile(
    r"\b(?:fry|hatch(?:ed|ing)|swimming|tails out|geschlüpft|schlüpf\w+|larven|klækket|"
    r"éclo[st]\w*|alevins?|alevines|eclosion\w*)\b",
    re.IGNORECASE,
)
#: Eggs told as dead, or a count, in words only.
_SOME_DEAD = re.compile(
    r"\b(?:[0-9]+|half|most|many|hälfte|die meisten|moitié|la plupart|mitad)\b[^.;]{0,15}?"
    r"\b(?:dead|died|white|fungus\w*|weiße?|tote?|verpilzt\w*|morts?|mortes|blancs?|blanches|muert[oa]s|"
    r"blanc[oa]s)\b",
    re.IGNORECASE,
)
_COUNTED = re.compile(r"\b(?:counted|recount|gezählt|compté\w*|contad[oa]s)\W{1,3}[0-9]+", re.IGNORECASE)
_NO_FRY = re.compile(
    r"\b(?:no|not|never|keine?|nicht|noch|before|aucun|pas|sin|ningún|ikke|until|yet|should)\b", re.IGNORECASE
)


def looks_say_it_in_columns(draft: Draft) -> Iterator[Problem]:
    """Fry or a dead lot told in a note only: the clock and the count do not read notes."""
    for look in draft.looks:
        word = _DEAD.search(look.note) or (None if look.removed else _SOME_DEAD.search(look.note))
        if look.alive is None and word:
            text = "says '{words}', and no egg is taken away by it."
            yield from asked(draft, look, "note", text, "Write how many live in alive", words=word[0])
        elif look.alive is None and (word := _COUNTED.search(look.note)):
            text = "says '{words}', and the count stays as it was."
            yield from asked(draft, look, "note", text, "Write how many live in alive", words=word[0])
        elif (
            look.note
            and not look.hatched
            and not _NO_FRY.search(look.note)
            and (word := _FRY.search(look.note))
        ):
            text = "says '{words}', and no fry are counted by it."
            yield from asked(draft, look, "note", text, "Write the fry in hatched", words=word[0])


def looks_keep_the_warmth(draft: Draft) -> Iterator[Problem]:
    """A look that moves a lot by many degrees has a digit wrong: the clock runs by it from that day on."""
    for look in draft.looks:
        lot = draft.lot_by_name.get(look.lot)
        if lot and look.kept_at_c is not None and abs(look.kept_at_c - lot.kept_at_c) > FARTHEST_ROOM_C:
            text = say(
                "{here:g} °C, and lot '{lot}' was kept at {there:g}.", look.kept_at_c, lot.lot, lot.kept_at_c
            )
            yield from asked(draft, look, "kept_at_c", text, "Write the temperature the eggs are kept at")


def fry_hatch_in_their_time(draft: Draft) -> Iterator[Problem]:
    """Fry far too early, much of a lot before its early day, any in a lot kept damp: often of another lot."""
    for look in draft.looks:
        lot = draft.lot_by_name.get(look.lot)
        fish = draft.species_by_name.get(lot.species) if lot else None
        if lot is None or fish is None or not look.hatched:
            continue
        days = (look.on - lot.laid_from).days
        if lot.kept_damp:
            text = "{hatched} fry in lot '{lot}', which is kept damp."
            yield from asked(draft, look, "hatched", text, "Look at the lot's name", lot=lot.lot)
        elif 0 <= days < EARLIEST_SHARE * fish.hatch_early_d or _too_many_fry(look, lot, fish, days):
            told = (look.hatched, lot.lot, days, fish.species, fish.hatch_early_d)
            text = say(
                "{hatched} fry in lot '{lot}' after {days} days, and '{fish}' takes {early:g} at least.",
                *told,
            )
            yield from asked(
                draft, look, "hatched", text, "Look at the lot's name, when it was laid and its warmth"
            )


def _too_many_fry(look: Look, lot: Lot, fish: Species, days: int) -> bool:
    """Did more hatch before the early day, by which one egg in twenty has, than chance and warmth allow?"""
    warmer = (lot.kept_at_c - fish.zero_c) / (fish.incubation_c - fish.zero_c)
    hatched = look.hatched or 0
    early = 0 <= days * max(1.0, warmer) < fish.hatch_early_d
    return early and hatched > max(1.0, EARLY_FRY_SHARE * lot.eggs)


def groups_are_not_doubled(draft: Draft) -> Iterator[Problem]:
    """Two groups that differ in nothing but their names: their eggs are expected twice."""
    laying = attrgetter("species", "population", "eggs_a_day", "from_day", "until_day")
    for other, group in repeated((laying(group), group) for group in draft.groups):
        told = (group.group, other.group, other.at.row)
        text = say("'{group}' may be group '{other}' of row {row} again.", *told)
        mend = say("Remove one, if it is the same group")
        yield from asked(draft, group, "group", text, mend, code="line-twice")
