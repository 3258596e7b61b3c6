"""Checks against the starter tables, whose rows name their sources: what is far from there is asked about."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from shipping.tables.checks.row_problems import asked, noted
from shipping.tables.country_codes import EU, is_country
from shipping.tables.rows.rules import Rule, is_of_coming_home
from shipping.tables.rows.species import Species, withdrawn_values
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
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
    _Near("keep_min_c", steps=7),
    _Near("keep_max_c", steps=6),
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
def _starter(table: str) -> tuple[Cells, ...]:
    path = shipped_folder("templates") / "starter" / f"{table}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


@lru_cache(maxsize=1)
def _fish() -> Mapping[str, Cells]:
    """The starter's species by key and by every scientific name; rows of a whole genus are none."""
    rows = [row for row in _starter("species") if not row["scientific_name"].endswith(" sp.")]
    names = ((row, (row["scientific_name"], *row["synonyms"].split(";"))) for row in rows)
    by_name = {folded(name.strip()): row for row, every in names for name in every if name.strip()}
    return {**{folded(row["species"]): row for row in rows}, **by_name}


def fish_are_as_published(draft: Draft) -> Iterator[Problem]:
    """A figure or word far from what the starter table has of the same fish; each row's first."""
    bears = {column for row in draft.species for column in _BORNE if getattr(row, column) is not None}
    for row in draft.species:
        known = _fish().get(folded(row.species)) or _fish().get(folded(row.scientific_name))
        if known is not None:
            yield from list(_beside(draft, row, known))[:1]
        for column in sorted(bears):
            if getattr(row, column) is None:
                text = "is blank, and other fish have it: nothing is too hot or too cold that way."
                yield from asked(draft, row, column, text, "Write what the eggs bear", code="blank")


_BORNE = ("keep_min_c", "keep_max_c")


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


def _rules(draft: Draft) -> Iterator[Cells]:
    """The starter's rules but those about what comes into the breeder's own country from abroad."""
    home = draft.settings.home if draft.settings else None
    for row in _starter("rules"):
        if home is None or not is_of_coming_home(row, home.country, home.subdivision):
            yield row


def _closed(draft: Draft) -> Mapping[tuple[str, str], str]:
    """The source of what the starter's rules forbid, by (place, taxon); zones as their countries."""
    zones = {row["zone"]: row["countries"].split() for row in _starter("zones")}
    return {
        (place, folded(row["taxon"])): row["source"]
        for row in _rules(draft)
        if row["verdict"] == "closed"
        for name in row["to"].split()
        for place in zones.get(name, [name])
    }


def parts_of_their_own(draft: Draft) -> Mapping[str, str]:
    """The parts of countries that have a row of their own in the starter's rules, with its source."""
    return {place: row["source"] for row in _rules(draft) for place in row["to"].split() if "-" in place}


def what_is_forbidden_stays_closed(draft: Draft) -> Iterator[Problem]:
    """A row that opens what the starter's rules forbid by a law they name, and a row for everywhere."""
    closed = _closed(draft)
    for rule in draft.rules:
        if rule.verdict not in ("open", "papers"):
            continue
        forbidden = ((place, closed.get((place, folded(rule.taxon)))) for place in rule.places)
        for place, source in forbidden:
            if source:
                text = say(
                    "'{verdict}' for {place}, which the starter table has closed.", rule.verdict, place
                )
                mend = say("Look at '{source}'", source)
                level = Level.ERROR if rule.verdict == "open" else Level.NOTICE
                yield from asked(draft, rule, "verdict", text, mend, level, code="unlike-published")
                break
        if rule.verdict == "open" and rule.to.strip() == "*" and rule.taxon == "*":
            text = "opens every country to every fish, and no authority has said so."
            mend = say("Write a row for each country you asked")
            yield from asked(draft, rule, "verdict", text, mend, code="open-everywhere")


@lru_cache(maxsize=1)
def _asking() -> frozenset[tuple[str, str, str]]:
    """(place, taxon, source) of the starter's rows that say to ask."""
    rows = [row for row in _starter("rules") if row["verdict"] == "ask"]
    return frozenset((row["to"], folded(row["taxon"]), folded(row["source"])) for row in rows)


def what_is_to_be_asked_was_answered(draft: Draft) -> Iterator[Problem]:
    """A row of the starter's that says to ask, opened with its source left as it was: nobody answered."""
    for rule in draft.rules:
        key = (rule.to.strip(), folded(rule.taxon), folded(rule.source))
        if rule.verdict == "open" and key in _asking():
            text = say("'open' with the source of the starter table, which says to ask.")
            mend = say("Write in source who answered")
            yield from asked(draft, rule, "verdict", text, mend, code="no-source")


def _papers(draft: Draft) -> Mapping[tuple[str, str], Cells]:
    """The rows of the starter's rules that ask for papers, by (place, taxon)."""
    return {(row["to"], folded(row["taxon"])): row for row in _rules(draft) if row["verdict"] == "papers"}


def papers_are_all_named(draft: Draft) -> Iterator[Problem]:
    """A row that asks for fewer papers than the starter's of the same place and fish, or for none."""
    asked_for = _papers(draft)
    for rule in draft.rules:
        known = asked_for.get((rule.to.strip(), folded(rule.taxon)))
        if known is None or rule.verdict not in ("open", "papers"):
            continue
        held = {folded(paper) for paper in rule.papers} if rule.verdict == "papers" else set[str]()
        missing = [paper for paper in known["papers"].split(";") if folded(paper) not in held]
        if missing:
            column = "papers" if rule.verdict == "papers" else "verdict"
            text = say("does not ask for '{papers}', which the starter table does.", "; ".join(missing))
            mend = say("Look at '{source}'", known["source"])
            yield from asked(draft, rule, column, text, mend, code="unlike-published")


def open_zones_are_of_one_ground(draft: Draft) -> Iterator[Problem]:
    """A row that opens a zone of the Union's countries and one or two that are none: their law is another."""
    for rule in draft.rules:
        if rule.verdict != "open":
            continue
        zones = {place: frozenset(draft.zone_countries.get(place, ())) for place in rule.places}
        named = {place for place in rule.places if place not in draft.zone_countries and is_country(place)}
        for place, countries in {**zones, rule.to: named.union(*zones.values())}.items():
            members = EU & countries
            others = sorted(countries - members)
            if others and len(members) > 2 * len(others):
                text = say(
                    "opens {places} too, which '{zone}' holds beside countries of the Union.",
                    " ".join(others),
                    place,
                )
                yield from asked(
                    draft,
                    rule,
                    "to",
                    text,
                    say("Write a row for each country you asked"),
                    code="unlike-published",
                )


def closed_fish_have_a_rule(draft: Draft) -> Iterator[Problem]:
    """A fish that a law forbids where an order goes, or at home, and no row closes it there: said once."""
    if "rules" not in draft.complete or draft.settings is None:
        return
    home, closed = draft.settings.home.country, _closed(draft)
    wanted = {(row.species, row.country) for row in draft.order_rows if row.cancelled_on is None}
    wanted |= {(lot.species, home) for lot in draft.lots}
    for fish in draft.species:
        names = {
            folded(name) for name in (fish.species, fish.binomial, fish.genus, fish.family, *fish.synonyms)
        }
        places = sorted(
            country
            for species, country in wanted
            if species == fish.species
            and (country, folded(fish.binomial)) in closed
            and not any(_closes(draft, rule, country, names) for rule in draft.rules)
        )
        if places:
            text = say(
                "'{fish}' is closed in {places} by the starter table, and no row of rules says so.",
                *(fish.species, " ".join(places)),
            )
            mend = say("Look at '{source}'", closed[places[0], folded(fish.binomial)])
            yield from asked(draft, fish, "species", text, mend, code="unlike-published")


def _closes(draft: Draft, rule: Rule, country: str, names: set[str]) -> bool:
    """Does the row forbid all of a fish in a country, in water or damp?"""
    zones = (draft.zone_countries.get(place, ()) for place in rule.places)
    there = country in rule.places or "*" in rule.places or any(country in zone for zone in zones)
    is_on = rule.medium is None and rule.holds_on(draft.today)
    return rule.verdict in ("closed", "ask") and there and is_on and folded(rule.taxon) in names | {"*"}


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
