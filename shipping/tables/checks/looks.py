"""Checks of looks: after laying, stages forwards, counts that can be left, fry in their time."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from itertools import pairwise

from shipping.tables.checks.lots import EARLIEST_EYES, EARLIEST_SHARE
from shipping.tables.checks.row_problems import after_today, asked, noted, problem
from shipping.tables.rows.lots import STAGES, Look, Lot, bounds
from shipping.tables.rows.settings import PlanSettings
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Draft
from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say

#: More than this share of a lot taken out at one look is asked about. Assumed.
MOST_REMOVED = 0.5


def looks_say_something(draft: Draft) -> Iterator[Problem]:
    """A look that says nothing is said; one that takes most of a lot out, and leaves some, may be swapped."""
    for look in draft.looks:
        lot = draft.lot_by_name.get(look.lot)
        seen = (look.stage, look.alive, look.hatched, look.removed, look.kept_at_c)
        if seen == (None,) * len(seen) and not look.note:
            text = "{on} has a look at lot '{lot}' that says nothing."
            yield noted(look, "on", "nothing", text, "Write what was seen.")
        elif lot and look.alive != 0 and (look.removed or 0) > MOST_REMOVED * lot.eggs:
            text = "{removed} of the {eggs} eggs of lot '{lot}' taken out at one look."
            mend = say("If that is what is left, write it in alive") if look.alive is None else "Look at both"
            yield from asked(draft, look, "removed", text, mend, eggs=lot.eggs, lot=lot.lot)


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

    Reckoned is the last count, less what was removed, had hatched or was packed, less shelf_loss_per_day for
    eggs in water.
    """
    loss = (draft.settings.plan if draft.settings else PlanSettings()).shelf_loss_per_day
    looks = grouped((look.lot, look) for look in draft.looks)
    for name in sorted(looks):
        if lot := draft.lot_by_name.get(name):
            back, packed = draft.came_back.get(name, ()), draft.packed.get(name, {})
            yield from _recounts_of(lot, looks[name], 0.0 if lot.kept_damp else loss, back, packed)
            yield from _counts_since(draft, lot, looks[name], sum(eggs for _, eggs in back))


#: Eggs do not become more: a lot's count so many times that of an earlier look is a slip of one of them; an
#: estimate may be so many times it. A look so many times the count has a digit too many. Assumed.
COUNT_TIMES, ESTIMATE_TIMES, LOOK_TIMES = 1.1, 2, 8


def _counts_since(draft: Draft, lot: Lot, looks: list[Look], back: int) -> Iterator[Problem]:
    """A count above what a look counted before it, when all were laid, or far below."""
    before = (look for look in looks if look.alive is not None and lot.laid_to < look.on < lot.counted_on)
    look = max(before, key=lambda look: look.on, default=None)
    times = COUNT_TIMES if lot.count_basis == "counted" else ESTIMATE_TIMES
    if look and (look.alive or 0) > LOOK_TIMES * lot.eggs > 0:
        text = "{alive} are far more than the {eggs} of the lot's own count since, {at}."
        yield from asked(draft, look, "alive", text, "Look at both", eggs=lot.eggs, at=lot.at)
    elif look and lot.eggs - back > times * (look.alive or 0):
        text = "{eggs} are more than the {alive} alive on {day}, {at}, and none was laid since."
        yield from asked(draft, lot, "eggs", text, "Look at both", alive=look.alive, day=look.on, at=look.at)


def _recounts_of(
    lot: Lot,
    looks: list[Look],
    loss_per_day: float,
    back: Sequence[tuple[date, int]],
    packed: Mapping[date, int],
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
            away = sum(eggs for day, eggs in packed.items() if bound.counted_on <= day < look.on)
            kept = math.exp(-loss_per_day * (look.on - bound.counted_on).days)
            reckoned = math.floor((most - came - away) * kept)
            told_of = (look.removed or 0) + (look.hatched or 0) if look.on == lot.counted_on else 0
            if look.alive + told_of < reckoned:
                told = (look.alive, reckoned - look.alive, reckoned, lot.lot)
                text = say("{alive} are {fewer} fewer than reckoned ({reckoned}) in lot '{lot}'.", *told)
                yield noted(look, "alive", "losses", text, "What was not packed is taken as losses.")


#: A lot is not moved between rooms that are farther apart [C]. Assumed.
FARTHEST_ROOM_C = 6.5
#: So large a share of a lot does not hatch before the early day, by which a twentieth has.
EARLY_FRY_SHARE = 0.15
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
    r"\b(?:no|not|never|none|keine?|nichts?|noch|before|aucune?|pas|rien|jamais|sin|ningun[ao]?|ningún|nada|ikke|"
    r"until|yet|should|will|soon|about to|expect\w*|fry tank|for the fry|wohl|bald|im ei|bientôt|prévue?s?|"
    r"previst[ao]s?|pronto)\b",
    re.IGNORECASE,
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


def eyes_show_in_their_time(draft: Draft) -> Iterator[Problem]:
    """Eyes at a look far too early, in a lot that had none: of another lot, or the day of laying is wrong."""
    for look in draft.looks:
        lot = draft.lot_by_name.get(look.lot)
        fish = draft.species_by_name.get(lot.species) if lot else None
        if lot is None or fish is None or look.stage not in ("eyed", "ready"):
            continue
        days, above = (look.on - lot.laid_to).days, fish.incubation_c - fish.zero_c
        warmth = max(1.0, (lot.kept_at_c - fish.zero_c) / above) if above > 0 else 1.0
        eyes = EARLIEST_EYES * fish.eyed_at * fish.hatch_early_d
        if lot.stage not in ("eyed", "ready") and 0 <= days * warmth < eyes:
            text = "'{stage}' {days} days after the last were laid, {laid_to}."
            mend = say("Look at the lot's name, when it was laid and its warmth")
            yield from asked(draft, look, "stage", text, mend, days=days, laid_to=lot.laid_to)


def fry_have_had_eyes(draft: Draft) -> Iterator[Problem]:
    """Where fry have hatched, eggs show eyes."""
    for row in draft.looks:
        if row.hatched and row.stage in ("laid", "fertile"):
            text = "{hatched} fry, and the stage of that day is '{stage}'."
            yield from asked(draft, row, "hatched", text, "Look at both")


def stages_of_one_day_agree(draft: Draft) -> Iterator[Problem]:
    """A look and its lot, or two looks, that say two stages of one day."""
    for look in draft.looks:
        lot = draft.lot_by_name.get(look.lot)
        if lot and look.stage and lot.stage and look.stage != lot.stage and look.on == lot.stage_on:
            text = "'{stage}' here, and '{other}' on {at} for the same day."
            yield from asked(draft, look, "stage", text, "Look at both", other=lot.stage, at=lot.at)
