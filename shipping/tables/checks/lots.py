"""Checks of species, lots and looks: days in their order, stages forwards, counts that can be."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from datetime import date
from itertools import pairwise
from operator import attrgetter

from shipping.tables.checks.recounts import bounds
from shipping.tables.draft import Draft, asked, problem
from shipping.tables.rows.lots import STAGES, Look, Lot
from shipping.tables.rows.settings import PlanSettings
from shipping.tables.rows.species import Species
from shipping.words.problems import Level, Problem
from shipping.words.sentence import joined, say

#: A lot laid over more days than this is asked about.
LONGEST_LAYING_D = 120


#: Eggs in water hatch within so many times the first ones' days; more is asked about. Assumed.
WIDEST_HATCH = 6


def species_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    """hatch_early_d <= hatch_usual_d <= hatch_late_d."""
    for row in draft.species:
        if row.hatch_early_d > row.hatch_late_d:
            text = say(
                "{hatch_late_d:g} is less than hatch_early_d, {hatch_early_d:g}.",
                row.hatch_late_d,
                row.hatch_early_d,
            )
            yield problem(row, "hatch_late_d", "order", text, "Write the early days in hatch_early_d.")
        elif row.hatch_usual_d is not None and not row.hatch_early_d <= row.hatch_usual_d <= row.hatch_late_d:
            text = say(
                "{hatch_usual_d:g} is not between {hatch_early_d:g} and {hatch_late_d:g}.",
                row.hatch_usual_d,
                row.hatch_early_d,
                row.hatch_late_d,
            )
            yield problem(
                row, "hatch_usual_d", "order", text, "Write the days in between, or leave it blank."
            )
        elif row.incubation == "water" and row.hatch_late_d > WIDEST_HATCH * row.hatch_early_d:
            early = f"{row.hatch_early_d:g}"
            text = say(
                "{hatch_late_d:g} is more than {times} times hatch_early_d, {early}.",
                row.hatch_late_d,
                WIDEST_HATCH,
                early,
            )
            mend = say("Look at both days")
            yield from asked(draft, row, "hatch_late_d", "asked", text, mend, Level.NOTICE)


def species_temperatures_make_sense(draft: Draft) -> Iterator[Problem]:
    """Eggs develop at incubation_c, so it lies above zero_c; and so does keep_max_c, which lies above
    keep_min_c.
    """
    for row in draft.species:
        if row.incubation_c <= row.zero_c:
            text = say(
                "{incubation_c:g} is not above zero_c, {zero_c:g}: nothing would develop.",
                row.incubation_c,
                row.zero_c,
            )
            yield problem(
                row, "incubation_c", "order", text, "Write a warmer incubation_c or a lower zero_c."
            )
        elif row.keep_max_c is not None and row.keep_max_c <= row.zero_c:
            text = say("{keep_max_c:g} is not above zero_c, {zero_c:g}.", row.keep_max_c, row.zero_c)
            yield problem(row, "keep_max_c", "order", text, "Write the warmest the eggs bear.")
        if row.keep_min_c is not None and row.keep_max_c is not None and row.keep_min_c >= row.keep_max_c:
            text = say(
                "{keep_min_c:g} is not below keep_max_c, {keep_max_c:g}.", row.keep_min_c, row.keep_max_c
            )
            yield problem(row, "keep_min_c", "order", text, "Write the coldest the eggs bear.")
        elif row.keep_max_c is not None and row.zero_c < row.keep_max_c < row.incubation_c:
            text = say(
                "{incubation_c:g} is above keep_max_c, {keep_max_c:g}.", row.incubation_c, row.keep_max_c
            )
            yield problem(
                row, "incubation_c", "order", text, "Mend one of the two temperatures.", Level.NOTICE
            )


def lot_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    """laid_from <= laid_to <= counted_on <= today."""
    for lot in draft.lots:
        if lot.laid_to < lot.laid_from:
            text = say("{day} is before {column}, {other}.", lot.laid_to, "laid_from", lot.laid_from)
            yield problem(lot, "laid_to", "order", text, "Write the last day of laying.")
        elif lot.laid_to > draft.today:
            text = say("{day} is after today, {today}.", lot.laid_to, draft.today)
            yield problem(lot, "laid_to", "future", text, "Write the last day of laying.")
        elif lot.counted_on < lot.laid_to:
            text = say("{day} is before {column}, {other}.", lot.counted_on, "laid_to", lot.laid_to)
            yield problem(
                lot, "counted_on", "order", text, "Write the day the eggs were counted after laying."
            )
        elif lot.counted_on > draft.today:
            text = say("{day} is after today, {today}.", lot.counted_on, draft.today)
            yield problem(lot, "counted_on", "future", text, "Write the day the eggs were counted.")


def lots_are_laid_within_a_season(draft: Draft) -> Iterator[Problem]:
    """Eggs counted as one lot were mostly laid within weeks: a year may be mistyped. Common practice, no
    source.
    """
    for lot in draft.lots:
        if (days := (lot.laid_to - lot.laid_from).days) > LONGEST_LAYING_D:
            text = say(
                "{laid_from} is {days} days before laid_to, {laid_to}.", lot.laid_from, days, lot.laid_to
            )
            mend = "Look at the year; else make a lot of each few weeks, whose eggs are of one age."
            yield problem(lot, "laid_from", "long-laying", text, mend, Level.NOTICE)


_of_a_clutch = attrgetter("species", "population", "laid_from", "laid_to", "medium", "eggs", "counted_on")


def lots_are_not_doubled(draft: Draft) -> Iterator[Problem]:
    """Two lots that differ in nothing but their names may be one row pasted twice, and that is said."""
    first: dict[tuple[object, ...], Lot] = {}
    for lot in draft.lots:
        earlier = first.setdefault(_of_a_clutch(lot), lot)
        if earlier is not lot and earlier.lot != lot.lot and lot.eggs:
            text = say(
                "'{lot}' has the fish, days and eggs of lot '{other}' on row {row}.",
                lot.lot,
                earlier.lot,
                earlier.at.row,
            )
            yield problem(lot, "lot", "line-twice", text, "Remove one, if it is the same lot.", Level.NOTICE)


def lots_have_eggs_to_sell(draft: Draft) -> Iterator[Problem]:
    """A lot of which more is kept back than there is gives nothing to any order, and that is said."""
    for lot in draft.lots:
        if lot.keep_back > lot.eggs > 0:
            text = say(
                "{keep_back} is more than the {eggs} eggs of lot '{lot}': none of them is for sale.",
                lot.keep_back,
                lot.eggs,
                lot.lot,
            )
            yield problem(
                lot, "keep_back", "keep-back", text, "Write how many are not for sale.", Level.NOTICE
            )


def lot_stage_days_are_possible(draft: Draft) -> Iterator[Problem]:
    """laid_from <= stage_on <= today; a stage without a day is taken as seen on counted_on, and said."""
    for lot in draft.lots:
        if lot.laid_to > draft.today:
            continue  # said already: every other day of that lot would seem wrong
        if lot.stage is None:
            if lot.stage_on is not None:
                text = "has a day and no stage, so it says nothing."
                yield problem(
                    lot, "stage_on", "no-stage", text, "Write the stage, or empty it.", Level.NOTICE
                )
        elif lot.stage_on is None:
            text = say("is blank; {counted_on}, the day of the count, is taken.", lot.counted_on)
            yield problem(
                lot, "stage_on", "stage-day", text, "Write the day the stage was seen.", Level.NOTICE
            )
        elif lot.stage_on < lot.laid_from:
            text = say("{day} is before {column}, {other}.", lot.stage_on, "laid_from", lot.laid_from)
            yield problem(lot, "stage_on", "order", text, "Write the day the stage was seen.")
        elif lot.stage_on > draft.today:
            text = say("{day} is after today, {today}.", lot.stage_on, draft.today)
            yield problem(lot, "stage_on", "future", text, "Write the day the stage was seen.")


def lot_wetting_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    """wet_from <= wet_until, and only for eggs kept damp."""
    for lot in draft.lots:
        if lot.wet_from and lot.wet_until and lot.wet_until < lot.wet_from:
            text = say("{day} is before {column}, {other}.", lot.wet_until, "wet_from", lot.wet_from)
            yield problem(lot, "wet_until", "order", text, "Write the last day for wetting.")
        for column in ("wet_from", "wet_until"):
            day = getattr(lot, column)
            if lot.kept_damp and day is not None and day < lot.laid_from <= draft.today:
                text = say("{day} is before {column}, {other}.", day, "laid_from", lot.laid_from)
                yield problem(lot, column, "order", text, "Look at the year, or empty it.", Level.NOTICE)
                break
        if not lot.kept_damp and (lot.wet_from or lot.wet_until):
            column = "wet_from" if lot.wet_from else "wet_until"
            text = "is for eggs kept damp; these are kept in water."
            yield problem(lot, column, "medium", text, "Empty it, or mend the medium.")


#: A window for wetting that is longer may have its year mistyped. Assumed.
LONGEST_WETTING_D = 366
_GONE = re.compile(
    r"\W*(?:(?:all|the whole lot|whole lot|alles?|is|was|lot) )*(?:sold(?: out)?|dead|died|gone|discarded|"
    r"thrown (?:out|away)|dumped|ausverkauft|verkauft|tot|lost|fungus took|do not (?:sell|use)|"
    r"not for sale|empty)\b",
    re.IGNORECASE,
)


def lots_gone_have_no_eggs(draft: Draft) -> Iterator[Problem]:
    """A lot whose note begins by saying that it is gone counts all the same, and a window for wetting of more
    than a year has mostly a wrong one: both are asked about.
    """
    for lot in draft.lots:
        if lot.eggs > lot.keep_back and (found := _GONE.match(lot.note)):
            text = say(
                "says '{found}', and the {eggs} eggs of lot '{lot}' count all the same.",
                found[0].strip(),
                lot.eggs,
                lot.lot,
            )
            mend = say("Write a look with alive 0, or keep_back")
            yield from asked(draft, lot, "note", "lot-gone", text, mend, Level.NOTICE)
        if lot.wet_from and lot.wet_until and (lot.wet_until - lot.wet_from).days > LONGEST_WETTING_D:
            text = say("{day} is more than a year after wet_from, {wet_from}.", lot.wet_until, lot.wet_from)
            yield from asked(draft, lot, "wet_until", "asked", text, say("Look at the year"), Level.NOTICE)


#: More than this share of a lot taken out at one look is asked about. Assumed.
MOST_REMOVED = 0.5


def looks_say_something(draft: Draft) -> Iterator[Problem]:
    """A look that says nothing is said; one that takes most of a lot out may have its counts swapped."""
    for look in draft.looks:
        lot = draft.lot_by_name.get(look.lot)
        seen = (look.stage, look.alive, look.hatched, look.removed, look.kept_at_c)
        if seen == (None,) * len(seen) and not look.note:
            text = say("{on} has a look at lot '{lot}' that says nothing.", look.on, look.lot)
            yield problem(look, "on", "nothing", text, "Write what was seen.", Level.NOTICE)
        elif lot is not None and look.removed and look.removed > MOST_REMOVED * lot.eggs:
            text = say(
                "{removed} of the {eggs} eggs of lot '{lot}' taken out at one look.",
                look.removed,
                lot.eggs,
                lot.lot,
            )
            mend = say("If that is what is left, write it in alive")
            yield from asked(draft, look, "removed", "asked", text, mend, Level.NOTICE)


def lot_media_suit_the_species(draft: Draft) -> Iterator[Problem]:
    """Annual eggs in water are a mistake; eggs of a water species may be kept damp for a while, and it is
    said.
    """
    for lot in draft.lots:
        species = draft.species_by_name.get(lot.species)
        if species is None or species.incubation == "either":
            continue
        if (species.incubation == "damp") != lot.kept_damp:
            text = say(
                "'{medium}' does not suit '{species}', whose incubation is {incubation}.",
                lot.medium,
                lot.species,
                species.incubation,
            )
            mend = say("Mend the medium, or write either as the incubation on {at}.", species.at)
            level = Level.NOTICE if lot.kept_damp else Level.ERROR
            yield problem(lot, "medium", "medium", text, mend, level)


#: So far outside its bounds a lot may be on a hot day or in a cold night; beyond, it is a slip. Assumed.
HOT_DAY_C = 3.0


def lots_are_kept_within_bounds(draft: Draft) -> Iterator[Problem]:
    """A lot, or a look's new temperature, outside keep_min_c to keep_max_c is asked about; far above, the lot
    stays out until then.
    """
    for lot in draft.lots:
        yield from _warmth(draft, lot, lot, lot.kept_at_c)
    for look in draft.looks:
        lot_seen = draft.lot_by_name.get(look.lot)
        if lot_seen is not None and look.kept_at_c is not None:
            yield from _warmth(draft, lot_seen, look, look.kept_at_c)


def _warmth(draft: Draft, lot: Lot, row: Lot | Look, kept_at_c: float) -> Iterator[Problem]:
    species = draft.species_by_name.get(lot.species)
    if species is None:
        return
    low, high = species.keep_min_c, species.keep_max_c
    is_within = (low is None or low <= kept_at_c) and (high is None or kept_at_c <= high)
    if is_within or not _bounds_make_sense(species):
        return
    for beyond, word, column in (
        (kept_at_c - high if high is not None else 0.0, "above", "keep_max_c"),
        (low - kept_at_c if low is not None else 0.0, "below", "keep_min_c"),
    ):
        if beyond > 0:
            bound = getattr(species, column)
            told = (kept_at_c, column, species.species, bound)
            text = (
                say("{value:g} °C is above {column} of '{species}', {bound:g}.", *told)
                if word == "above"
                else say("{value:g} °C is below {column} of '{species}', {bound:g}.", *told)
            )
            is_far = word == "above" and beyond > HOT_DAY_C
            level = Level.LOT if is_far else Level.NOTICE
            mend = say("Write the temperature the eggs are kept at")
            mend = joined((say("Until then the lot stays out."), mend)) if is_far else mend
            yield from asked(draft, row, "kept_at_c", "asked", text, mend, level)


def _bounds_make_sense(species: Species) -> bool:
    low, high = species.keep_min_c, species.keep_max_c
    return (high is None or high > species.zero_c) and (low is None or high is None or low < high)


def looks_are_after_laying(draft: Draft) -> Iterator[Problem]:
    """A look speaks for the whole lot, so it is not before laid_to; nor after today."""
    for look in draft.looks:
        lot = draft.lot_by_name.get(look.lot)
        if look.on > draft.today:
            text = say("{day} is after today, {today}.", look.on, draft.today)
            yield problem(look, "on", "future", text, "Write the day of the look.")
        elif lot is not None and lot.laid_from <= lot.laid_to <= draft.today and look.on < lot.laid_to:
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
                text = say(
                    "'{stage}' comes after '{earlier}' of {seen} ({at}).",
                    later.stage,
                    earlier.stage,
                    _seen_on(earlier),
                    earlier.at,
                )
                yield problem(later, "stage", "backwards", text, "Mend the stage or the day of one of them.")
                break


def _seen_on(row: Lot | Look) -> date:
    return row.on if isinstance(row, Look) else row.stage_on or row.counted_on


def _rank(row: Lot | Look) -> int:
    return STAGES.index(row.stage) if row.stage else -1


def recounts_can_be(draft: Draft) -> Iterator[Problem]:
    """A recount above what can be there stops that lot; one below what is reckoned is taken as losses, and
    said.

    Reckoned is the last count, less what was removed or hatched, less shelf_loss_per_day for eggs in water.
    """
    plan = draft.settings.plan if draft.settings else PlanSettings()
    loss = plan.shelf_loss_per_day
    looks: dict[str, list[Look]] = {}
    for look in draft.looks:
        looks.setdefault(look.lot, []).append(look)
    for name in sorted(looks):
        if lot := draft.lot_by_name.get(name):
            yield from _recounts_of(
                lot, sorted(looks[name], key=lambda look: look.on), 0.0 if lot.kept_damp else loss
            )


def _recounts_of(lot: Lot, looks: list[Look], loss_per_day: float) -> Iterator[Problem]:
    for bound in bounds(lot, looks):
        look, most = bound.look, bound.most
        if bound.excess and bound.column == "alive":
            text = say(
                "{alive} are {excess} more than can be left of the {eggs} in lot '{lot}'.",
                look.alive,
                bound.excess,
                lot.eggs,
                lot.lot,
            )
            yield problem(
                look, "alive", "recount", text, "Count again; until then the lot stays out.", Level.LOT
            )
        elif bound.excess:
            text = say(
                "{gone} hatched or removed are more than the {most} that can be left in lot '{lot}'.",
                most + bound.excess,
                most,
                lot.lot,
            )
            yield problem(
                look,
                bound.column,
                "recount",
                text,
                "Mend the count; until then the lot stays out.",
                Level.LOT,
            )
        elif look.alive is not None:
            reckoned = math.floor(most * math.exp(-loss_per_day * (look.on - bound.counted_on).days))
            if look.alive < reckoned:
                text = say(
                    "{alive} are {fewer} fewer than reckoned ({reckoned}) in lot '{lot}'.",
                    look.alive,
                    reckoned - look.alive,
                    reckoned,
                    lot.lot,
                )
                mend = "What was not packed is taken as losses."
                yield problem(look, "alive", "losses", text, mend, Level.NOTICE)


def group_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    for group in draft.groups:
        if group.from_day and group.until_day and group.until_day < group.from_day:
            text = say("{day} is before {column}, {other}.", group.until_day, "from_day", group.from_day)
            yield problem(group, "until_day", "order", text, "Write the last day of laying.")


def arrivals_have_happened(draft: Draft) -> Iterator[Problem]:
    for arrival in draft.arrivals:
        if arrival.arrived_on > draft.today:
            text = say("{day} is after today, {today}.", arrival.arrived_on, draft.today)
            yield problem(arrival, "arrived_on", "future", text, "Write the day it arrived.")
        elif (monday := _monday_of(arrival.parcel)) is None:
            text = say("'{parcel}' is no parcel's name.", arrival.parcel)
            mend = "Write it as on the slip, such as 2026-W49-01: else nothing is learned from it."
            yield problem(arrival, "parcel", "parcel-name", text, mend, Level.NOTICE)
        elif arrival.arrived_on < monday:
            text = say(
                "{arrived_on} is before the week of that parcel, which begins on {monday}.",
                arrival.arrived_on,
                monday,
            )
            yield problem(arrival, "arrived_on", "order", text, "Write the day it arrived.", Level.NOTICE)


#: How parcels are named: the week they go in, and a number.
_OF_A_PARCEL = re.compile(r"([0-9]{4})-W([0-9]{2})-[0-9]+", re.IGNORECASE)


def _monday_of(parcel: str) -> date | None:
    """The day on which the week in a parcel's name begins; None where it names none."""
    week = _OF_A_PARCEL.fullmatch(parcel)
    try:
        return date.fromisocalendar(int(week[1]), int(week[2]), 1) if week else None
    except ValueError:
        return None
