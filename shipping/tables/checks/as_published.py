"""Species and services beside the starter tables: what is far from them, or was withdrawn there."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import median

from shipping.tables.checks.row_problems import after_today, asked, noted
from shipping.tables.rows.learned import RateRow
from shipping.tables.rows.services import Service
from shipping.tables.rows.species import Species, withdrawn_values
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem
from shipping.words.sentence import joined, say
from shipping.words.units import shipped_folder

Cells = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class _Near:
    """How far a figure may lie from the starter's: by ``times``, or by ``steps`` up or down."""

    column: str
    times: float = 0.0
    steps: float = 0.0

    def holds(self, mine: float, theirs: float) -> bool:
        if self.times:
            return theirs / self.times <= mine <= theirs * self.times
        return abs(mine - theirs) <= self.steps


#: Farther apart than breeders and papers differ on one fish: digits lost, weeks or hours for days. Assumed.
_NEAR = (
    _Near("zero_c", steps=3.5),
    _Near("eyed_at", steps=0.25),
    _Near("keep_min_c", steps=5.5),
    _Near("keep_max_c", steps=4.5),
    _Near("egg_mm", times=2),
    _Near("o2_ug_egg_h", times=5),
    _Near("adult_cm", times=2.5),
)
#: The same of the days to hatching, as days or as degree-days, as the warmth may be another. Assumed.
MOST_OTHER_DAYS = 2.5
#: The same of eggs in water that would hatch later than published: they would hatch on the way.
MOST_LATER_DAYS = 1.4
_DAYS = ("hatch_early_d", "hatch_usual_d", "hatch_late_d")


@lru_cache(maxsize=2)
def starter_rows(table: str) -> tuple[Cells, ...]:
    path = shipped_folder("templates") / "starter" / f"{table}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


@lru_cache(maxsize=1)
def _fish() -> Mapping[str, Cells]:
    """The starter's species by key and by every scientific name; rows of a whole genus are none."""
    rows = [row for row in starter_rows("species") if not row["scientific_name"].endswith(" sp.")]
    names = ((row, (row["scientific_name"], *row["synonyms"].split(";"))) for row in rows)
    by_name = {folded(name.strip()): row for row, every in names for name in every if name.strip()}
    return {**{folded(row["species"]): row for row in rows}, **by_name}


def texts_of_services_are_out(draft: Draft) -> Iterator[Problem]:
    """The day of a text or figure on a service has come; that of the starter is known to."""
    shipped = {row["as_of"] for row in starter_rows("services")}
    for row in draft.services:
        for ahead in after_today(draft, row, "as_of", "Write the day of that text or figure."):
            if str(row.as_of) not in shipped:
                yield replace(ahead, level=Level.NOTICE)


def fish_are_as_published(draft: Draft) -> Iterator[Problem]:
    """A figure or word far from what the starter table has of the fish, or its genus; each row's first."""
    bears = {column for row in draft.species for column in _BORNE if getattr(row, column) is not None}
    for row in draft.species:
        known = _fish().get(folded(row.species)) or _fish().get(folded(row.scientific_name))
        unlike = _beside_kin(draft, row) if known is None else _beside(draft, row, known)
        yield from list(unlike)[:1]
        for column in sorted(bears):
            if getattr(row, column) is None:
                text = "is blank, and other fish have it: nothing is too hot or too cold that way."
                yield from asked(draft, row, column, text, "Write what the eggs bear", code="blank")


_BORNE = ("keep_min_c", "keep_max_c")
#: How a source says that a value is assumed, by the column of what is claimed of it.
_SAYS_ASSUMED = {
    "zero_basis": re.compile(r"\bzero\b:?[^;,.]*\bassumed\b", re.IGNORECASE),
    "o2_basis": re.compile(r"\b(?:oxygen|o2)\b:?[^;,.]*\bassumed\b", re.IGNORECASE),
}
#: How a source says that a value is the breeder's own.
_SAYS_OWN = re.compile(
    r"\b(?:own|my|our|arrivals|looks|eigene\w*|meine\w*|unsere\w*|mes|nos|propi[oa]s?|mis|nuestr[oa]s)\b",
    re.IGNORECASE,
)


def claims_are_those_of_the_source(draft: Draft) -> Iterator[Problem]:
    """A value called published, or learned, whose own source says that it is assumed."""
    mend = say("Write assumed, or who says so in source")
    for row in draft.species:
        for column, says in _SAYS_ASSUMED.items():
            if getattr(row, column) == "published" and (word := says.search(row.source)):
                text = say("'published', and its source says '{words}'.", word[0])
                yield from asked(draft, row, column, text, mend, code="no-source")
    ours = {row["source"] for row in starter_rows("services") if row["basis"] == "assumed"}
    for service in draft.services:
        if service.basis not in ("", "assumed") and service.source in ours:
            text = "'{basis}', with the source of the starter table, which has it assumed."
            yield from asked(draft, service, "basis", text, mend, code="no-source")
    claimed: list[Service | RateRow] = [*draft.services, *draft.rates]
    for row_of in claimed:
        if row_of.basis == "published" and (word := _SAYS_OWN.search(row_of.source)):
            text = say("'published', and its source says '{words}'.", word[0])
            yield from asked(draft, row_of, "basis", text, mend, code="no-source")


#: Days to hatching so many times those of any kin kept that way, or a part of them, are weeks, months or
#: hours; of a genus that nobody knows, the fewest and most of fish kept that way. Assumed.
MOST_KIN_DAYS = 1.65
MOST_ASLEEP = 3.0
_DAYS_OF_KIND = {"water": (1.5, 60.0), "damp": (10.0, 600.0)}


def _beside_kin(draft: Draft, row: Species) -> Iterator[Problem]:
    """The same of a fish that the starter table has not, beside those of its genus."""
    kin = [
        one
        for one in starter_rows("species")
        if folded(one["scientific_name"].split()[0]) == folded(row.genus)
    ]
    mend = say("Look at both")
    for column in ("family", "incubation"):
        mine, theirs = getattr(row, column), {one[column] for one in kin}
        if kin and "either" not in {mine, *theirs} and len(theirs) == 1 and mine not in theirs:
            text = "'{value}', and others of '{genus}' have '{other}' in the starter table."
            told = {"value": mine, "genus": row.genus, "other": min(theirs)}
            yield from asked(draft, row, column, text, mend, code="unlike-published", **told)
    if row.send_from == "fertile" and kin and all(one["send_from"] in ("", "eyed") for one in kin):
        text = say("'fertile', and others of '{genus}' are sent once they have eyes.", row.genus)
        yield from asked(draft, row, "send_from", text, mend, code="unlike-published")
    low, high = _days_of_kin(row.incubation, kin)
    for column in ("hatch_early_d", "hatch_late_d") if row.hatch_early_d <= row.hatch_late_d else ():
        if not low <= (days := getattr(row, column)) <= high:
            text = say("{days:g} days, and fish like it take {low:.0f} to {high:.0f}.", days, low, high)
            yield from asked(draft, row, column, text, "Write it in days", code="unlike-published")
    for near in _NEAR:
        value, others = (
            getattr(row, near.column),
            [float(one[near.column]) for one in kin if one[near.column]],
        )
        near = replace(near, times=near.times**2, steps=2 * near.steps)  # another fish may lie farther
        if value is not None and others and not any(near.holds(value, other) for other in others):
            text = say("{mine:g} is far from {other:g} of its genus.", value, median(others))
            yield from asked(draft, row, near.column, text, mend, code="unlike-published")


def _days_of_kin(incubation: str, kin: Sequence[Cells]) -> tuple[float, float]:
    """The fewest days to hatching and the most that a fish of that kind and genus may take."""
    alike = [one for one in kin if one["incubation"] == incubation] or kin
    if not alike:
        return _DAYS_OF_KIND.get(incubation, (_DAYS_OF_KIND["water"][0], _DAYS_OF_KIND["damp"][1]))
    early = min(float(one["hatch_early_d"]) for one in alike)
    late = max(float(one["hatch_late_d"]) for one in alike)
    most = late * (MOST_ASLEEP if incubation == "damp" else MOST_KIN_DAYS)
    return math.floor(early / MOST_KIN_DAYS), math.ceil(most)


def _beside(draft: Draft, row: Species, known: Cells) -> Iterator[Problem]:
    mend = say("Look at both")
    names = {folded(name) for name in (known["scientific_name"], *known["synonyms"].split(";"))}
    words = [] if folded(row.scientific_name) in names else ["scientific_name"]
    words += ["family", "send_from"] + ["incubation"] * (known["incubation"] != "either")
    for column in words:
        mine, word = getattr(row, column), known[column] or "eyed" * (column == "send_from")
        if mine and word and folded(mine) != folded(word):
            text = "'{value}' is '{other}' in the starter table."
            yield from asked(draft, row, column, text, mend, code="unlike-published", value=mine, other=word)
    for column, mine, theirs, is_near in _figures(row, known):
        if not is_near:
            text = say("{value:g} is far from {other:g}, which the starter table has.", mine, theirs)
            yield from asked(draft, row, column, text, mend, code="unlike-published")


def _figures(row: Species, known: Cells) -> Iterator[tuple[str, float, float, bool]]:
    """(column, here, in the starter, near?) of figures both have; none of a row at odds with itself."""
    if row.hatch_early_d > row.hatch_late_d or (row.keep_min_c or -99) >= (row.keep_max_c or 99):
        return
    warmth, theirs_c = row.incubation_c - row.zero_c, float(known["incubation_c"]) - float(known["zero_c"])
    for column in _DAYS if warmth > 0 else ():
        mine, theirs = getattr(row, column), known[column]
        if mine and theirs:
            alike = _Near(column, times=MOST_OTHER_DAYS)
            scales = (1.0, theirs_c / warmth)
            is_near = any(alike.holds(mine, float(theirs) * scale) for scale in scales)
            most = max(scales) * float(theirs) * (MOST_OTHER_DAYS if row.is_damp else MOST_LATER_DAYS)
            yield column, mine, float(theirs), is_near and mine <= most
    for near in _NEAR:
        mine, theirs = getattr(row, near.column), known[near.column]
        is_default = Species.model_fields[near.column].default == mine
        if mine is not None and theirs and not is_default:
            yield near.column, mine, float(theirs), near.holds(mine, float(theirs))


def starter_species_were_read_again(draft: Draft) -> Iterator[Problem]:
    """Values of the first starter tables that may kill eggs: one message a column, today's counts instead."""
    changed: dict[str, dict[tuple[float, float], list[Species]]] = {}
    for row in draft.species:
        for column, was, now in withdrawn_values(row):
            changed.setdefault(column, {}).setdefault((was, now), []).append(row)
    for column, rows_by_change in changed.items():
        first = min((row for rows in rows_by_change.values() for row in rows), key=lambda row: row.at.row)
        each = (
            say("{now:g} instead of {was:g} for {fish}", now, was, ", ".join(row.species for row in rows))
            for (was, now), rows in rows_by_change.items()
        )
        text = "came with the first starter tables and was withdrawn. What counts: {values}."
        mend = "Write the value you want, and in source who says so."
        yield noted(first, column, "withdrawn", text, mend, values=joined(each, "; "))


#: Shorter texts are common words of many fish.
LEAST_OF_A_TEXT = 40


def texts_are_those_of_the_fish(draft: Draft) -> Iterator[Problem]:
    """A text that is word for word the starter's of other fish, and not of this one: copied."""
    for column in ("cue", "source"):
        fish_of = grouped(
            (text, row["species"])
            for row in starter_rows("species")
            if len(text := row[column]) >= LEAST_OF_A_TEXT
        )
        for row in draft.species:
            own = _fish().get(folded(row.species)) or _fish().get(folded(row.scientific_name))
            others = fish_of.get(getattr(row, column), ())
            if own is not None and others and own["species"] not in others:
                text = say("is word for word what the starter table has for '{fish}'.", others[0])
                yield from asked(draft, row, column, text, "Write this fish's", code="unlike-published")
