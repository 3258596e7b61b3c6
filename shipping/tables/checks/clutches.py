"""Checks of lots beside their fish and each other: counts, days and words that can be of a clutch."""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipping.tables.checks.row_problems import asked
from shipping.tables.rows.lots import Group, Lot
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped
from shipping.words.problems import Problem
from shipping.words.sentence import say

#: More eggs than this a day of laying are no room's of killifish (common practice, no source).
MOST_LAID_A_DAY = 500
#: A lot is not moved between rooms that are farther apart [C]. Assumed.
FARTHEST_ROOM_C = 8
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


def lots_are_named_apart(draft: Draft) -> Iterator[Problem]:
    """A lot under two names that differ in marks only, as ``GA-12`` and ``GA 12``."""
    first: dict[str, Lot] = {}
    for lot in draft.lots:
        other = first.setdefault("".join(filter(str.isalnum, folded(lot.lot))), lot)
        if other is not lot and folded(other.lot) != folded(lot.lot) and lot.eggs:
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
    """Of a fish kept in water or damp, one lot unlike all others: eggs called damp never hatch on the way."""
    either = {fish.species for fish in draft.species if fish.incubation == "either"}
    for lots in grouped((lot.species, lot) for lot in draft.lots if lot.species in either).values():
        damp = [lot for lot in lots if lot.kept_damp]
        wet = [lot for lot in lots if not lot.kept_damp]
        few, many = sorted((damp, wet), key=len)
        if len(few) == 1 and len(many) >= LEAST_OTHERS:
            text = "'{medium}', and all other lots of '{fish}' are in {other}."
            mend = say("Write what the eggs lie in")
            yield from asked(draft, few[0], "medium", text, mend, fish=few[0].species, other=many[0].medium)


def wetting_days_can_be(draft: Draft) -> Iterator[Problem]:
    """Days for wetting that are past, or that no egg of the fish could wait for or be ready by."""
    for lot in draft.lots:
        fish = draft.species_by_name.get(lot.species)
        if fish is None or not lot.kept_damp:
            continue
        if lot.wet_until and lot.laid_to <= lot.wet_until < draft.today and lot.eggs:
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
    r"\b(?:fry|hatch(?:ed|ing)|swimming|geschlüpft|schlüpf\w+|larven|klækket|éclo[st]\w*|alevins?|alevines|eclosion\w*)\b",
    re.IGNORECASE,
)
_NO_FRY = re.compile(
    r"\b(?:no|not|never|keine?|nicht|noch|before|aucun|pas|sin|ningún|ikke|until|yet|should)\b", re.IGNORECASE
)


def looks_say_it_in_columns(draft: Draft) -> Iterator[Problem]:
    """Fry or a dead lot told in a note only: the clock and the count do not read notes."""
    for look in draft.looks:
        if look.note and look.alive is None and (word := _DEAD.search(look.note)):
            text = "says '{words}', and no egg is taken away by it."
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
    """Fry long before the fish hatches, or in a lot kept damp, are mostly those of another lot."""
    for look in draft.looks:
        lot = draft.lot_by_name.get(look.lot)
        fish = draft.species_by_name.get(lot.species) if lot else None
        if lot is None or fish is None or not look.hatched:
            continue
        days = (look.on - lot.laid_from).days
        if lot.kept_damp:
            text = "{hatched} fry in lot '{lot}', which is kept damp."
            yield from asked(draft, look, "hatched", text, "Look at the lot's name", lot=lot.lot)
        elif 0 <= days < EARLIEST_SHARE * fish.hatch_early_d:
            told = (look.hatched, lot.lot, days, fish.species, fish.hatch_early_d)
            text = say(
                "{hatched} fry in lot '{lot}' after {days} days, and '{fish}' takes {early:g} at least.",
                *told,
            )
            yield from asked(draft, look, "hatched", text, "Look at the lot's name")


def groups_are_not_doubled(draft: Draft) -> Iterator[Problem]:
    """Two groups that differ in nothing but their names: their eggs are expected twice."""
    first: dict[tuple[object, ...], Group] = {}
    for group in draft.groups:
        same = (group.species, group.population, group.eggs_a_day, group.from_day, group.until_day)
        other = first.setdefault(same, group)
        if other is not group:
            text = "'{group}' may be group '{other}' of row {row} again."
            mend = say("Remove one, if it is the same group")
            yield from asked(
                draft, group, "group", text, mend, code="line-twice", other=other.group, row=other.at.row
            )
