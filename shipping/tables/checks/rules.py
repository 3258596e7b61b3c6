"""Rules of import: whole, without contradiction, and held against the laws that the starter tables name."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta
from functools import lru_cache
from operator import attrgetter

from shipping.tables.checks.as_published import Cells, starter_rows
from shipping.tables.checks.names import taxa_of
from shipping.tables.checks.row_problems import after_today, asked, before, noted, problem
from shipping.tables.countries import EU, is_country
from shipping.tables.country_parts import part_codes, region_of
from shipping.tables.rows.rules import RULE_WORDS, Rule, is_of_coming_home
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped, repeated
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say


def _rules(draft: Draft) -> Iterator[Cells]:
    """The starter's rules but those about what comes into the breeder's own country from abroad."""
    home = draft.settings.home if draft.settings else None
    for row in starter_rows("rules"):
        if home is None or not is_of_coming_home(row, home.country, home.subdivision):
            yield row


def _closed(draft: Draft, verdict: str = "closed") -> Mapping[tuple[str, str], str]:
    """The source of what the starter's rules forbid, or say else, by (place, taxon); zones as countries."""
    zones = {row["zone"]: row["countries"].split() for row in starter_rows("zones")}
    return {
        (place, folded(row["taxon"])): row["source"]
        for row in _rules(draft)
        if row["verdict"] == verdict
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


#: So much of a law's name tells that it is the starter's.
LEAST_OF_A_SOURCE = 16


@lru_cache(maxsize=1)
def _asking() -> Mapping[tuple[str, str], Sequence[str]]:
    """The sources of the starter's rows that say to ask, by (place, taxon)."""
    rows = [row for row in starter_rows("rules") if row["verdict"] == "ask"]
    return grouped(((row["to"], folded(row["taxon"])), folded(row["source"])) for row in rows)


def what_is_to_be_asked_was_answered(draft: Draft) -> Iterator[Problem]:
    """A row of the starter's that says to ask, opened with its source, or a part of it: nobody answered."""
    for rule in draft.rules:
        theirs, mine = _asking().get((rule.to.strip(), folded(rule.taxon)), ()), folded(rule.source)
        is_theirs = any(_is_of_source(mine, one) for one in theirs)
        if rule.verdict == "open" and is_theirs:
            text = say("'open' with the source of the starter table, which says to ask.")
            yield from asked(draft, rule, "verdict", text, "Write in source who answered", code="no-source")


def _is_of_source(mine: str, theirs: str) -> bool:
    """Is a source another, a part of it, or its beginning with a word or two, and no day, behind?"""
    same = next((n for n in range(len(mine), 0, -1) if theirs.startswith(mine[:n])), 0)
    is_begun = same >= LEAST_OF_A_SOURCE > len(mine) - same and not any(map(str.isdigit, mine[same:]))
    return mine == theirs or is_begun or (len(mine) >= LEAST_OF_A_SOURCE and mine in theirs)


def papers_are_all_named(draft: Draft) -> Iterator[Problem]:
    """A row that asks for fewer papers than the starter's of the same place and fish, or for none."""
    with_papers = (row for row in _rules(draft) if row["verdict"] == "papers")
    asked_for = {(row["to"], folded(row["taxon"])): row for row in with_papers}
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
                yield from asked(
                    draft,
                    rule,
                    "to",
                    "opens {places} too, which '{zone}' holds beside countries of the Union.",
                    "Write a row for each country you asked",
                    code="unlike-published",
                    places=" ".join(others),
                    zone=place,
                )


def closed_fish_have_a_rule(draft: Draft) -> Iterator[Problem]:
    """A fish that a law forbids or protects where an order goes, or at home, and no row says so."""
    if "rules" not in draft.complete or draft.settings is None:
        return
    home, closed, protected = draft.settings.home.country, _closed(draft), _closed(draft, "ask")
    wanted = {(row.species, row.country) for row in draft.order_rows if row.cancelled_on is None}
    wanted |= {(lot.species, home) for lot in draft.lots}
    for fish in draft.species:
        names = {
            folded(name) for name in (fish.species, fish.binomial, fish.genus, fish.family, *fish.synonyms)
        }
        there = sorted(country for species, country in wanted if species == fish.species)
        for law in (closed, protected):
            places = [
                country
                for country in there
                if (country, folded(fish.binomial)) in law
                and not any(_closes(draft, rule, country, names, law is protected) for rule in draft.rules)
            ]
            if not places:
                continue
            text = say(
                "'{fish}' is closed in {places} by the starter table, and no row of rules says so.",
                *(fish.species, " ".join(places)),
            )
            if law is protected:
                text = say(
                    "'{fish}' is protected in {places} by the starter table, and no row of rules names it.",
                    *(fish.species, " ".join(places)),
                )
            mend = say("Look at '{source}'", law[places[0], folded(fish.binomial)])
            yield from asked(draft, fish, "species", text, mend, code="unlike-published")


def _closes(draft: Draft, rule: Rule, country: str, names: set[str], may_be_answered: bool) -> bool:
    """Does the row forbid all of a fish in a country, in water or damp, or is it an answer about the fish?"""
    zones = (draft.zone_countries.get(place, ()) for place in rule.places)
    there = country in rule.places or "*" in rule.places or any(country in zone for zone in zones)
    is_on = rule.medium is None and rule.holds_on(draft.today)
    is_named = folded(rule.taxon) in names
    says = rule.verdict in ("closed", "ask") and (is_named or rule.taxon == "*")
    return there and is_on and (says or (is_named and may_be_answered))


def rules_are_whole(draft: Draft) -> Iterator[Problem]:
    """from <= until, looked up not after today, and ``papers`` names them."""
    for rule in draft.rules:
        yield from before(rule, "until", "from_", "Write the last day it holds.")
        yield from after_today(draft, rule, "checked_on", "Write the day it was looked up.")
        papers = "; ".join(rule.papers)
        if rule.verdict == "papers" and not rule.papers:
            text = "is blank, though the verdict is papers."
            yield problem(rule, "papers", "blank", text, "Name the papers, with ; between.")
        elif "," in papers:
            text = say("'{papers}' is read as one paper where a comma stands.", papers)
            mend = say("Put ; between them: {parts}.", "; ".join(re.split("[,;] *", papers)))
            yield noted(rule, "papers", "papers", text, mend)
        elif rule.papers and rule.verdict in ("open", "closed"):
            text = "names '{papers}', and open asks for none."
            if rule.verdict == "closed":
                text = "names '{papers}', and closed asks for none."
            mend = say("Write papers as the verdict, or empty them")
            yield from asked(draft, rule, "verdict", text, mend, code="papers", papers=papers)
        if rule.verdict == "open" and (word := _IS_CLOSED.search(rule.source) or _IS_CLOSED.match(rule.note)):
            text = say("'open', and its own words say '{words}'.", word[0].strip(" ,.:;-"))
            yield from asked(draft, rule, "verdict", text, "Write closed, if it is", code="unlike-published")
        elif rule.verdict in ("open", "papers") and (
            word := _IS_UNANSWERED.search(f"{rule.source}; {rule.note}")
        ):
            text = say("'{verdict}', and its own words say '{words}'.", rule.verdict, word[0])
            mend = say("Write ask, until somebody answers")
            yield from asked(draft, rule, "verdict", text, mend, code="no-source")
        if rule.until is not None and rule.until < draft.today <= rule.until + timedelta(days=366):
            text = "{day} is past: '{verdict}' for {to} no longer holds."
            yield from asked(draft, rule, "until", text, "Look at the year", day=rule.until)
        if _NO_SOURCE.fullmatch(rule.source):
            text = "'{source}' names nobody who said so."
            yield from asked(draft, rule, "source", text, "Write the law, page or person", code="no-source")
        farthest = FARTHEST_RULE_D if rule.verdict == "open" else FARTHEST_BAN_D
        if rule.from_ is not None and (rule.from_ - draft.today).days > farthest:
            text = "{day} is far ahead: until then the rule does not hold."
            yield from asked(draft, rule, "from_", text, "Look at the year", day=rule.from_)


#: What an answer says that lets nothing in.
_IS_CLOSED = re.compile(
    r"\W*\b(?:(?:is|are|was|were) (?:prohibited|forbidden|banned)|not (?:allowed|permitted)|"
    r"(?:ist|sind) (?:verboten|untersagt)|nicht (?:erlaubt|gestattet|zulässig)|(?:est|sont) interdite?s?|"
    r"est[aá]n? prohibid[oa]s?|er forbudt|only (?:through|via|by) a border post|"
    r"nur über eine grenzkontrollstelle|uniquement par un poste (?:de contrôle )?frontalier)\b",
    re.IGNORECASE,
)
#: What stands for an answer where nobody gave one.
_IS_UNANSWERED = re.compile(
    r"\b(?:no (?:answer|reply|decision)(?! (?:needed|necessary|required))|"
    r"not (?:yet )?(?:answered|asked(?! again)|decided)|"
    r"un(?:answered|decided|resolved)|keine antwort|(?:noch )?nicht (?:beantwortet|gefragt|entschieden)|"
    r"noch offen|sans réponse|pas (?:encore )?(?:de réponse|demandé)|en attente|"
    r"sin (?:respuesta|contestar|resolver|"
    r"consultar|preguntar)|no consultad[oa]|pendiente|intet svar|ikke spurgt|geen antwoord|niet gevraagd|"
    r"inget svar|brak odpowiedzi|nie pytano|bez odpov[eě]di|sem resposta|senza risposta)\b",
    re.IGNORECASE,
)
_NO_SOURCE = re.compile(
    r"\W*|to ?do|tb[ad]|n/?a|none|unknown|me|x+|test|yes|no|ok(?:ay)?|ja|oui|s[ií]|internet|google|web|"
    r"(?:same as|like) .*|(?:.* )?(?:a friend|friends|forum|facebook|i think|i guess|heard|probably)(?: .*)?",
    re.IGNORECASE,
)


def rules_do_not_contradict(draft: Draft) -> Iterator[Problem]:
    """Two verdicts for one place, fish and medium at one time, or by two zones of one country: the strictest
    counts, and it is said; two lists of papers.
    """
    first: dict[tuple[str, str, str, str | None], Rule] = {}
    for rule in draft.rules:
        if not rule.holds_on(draft.today):
            continue
        fish = (rule.taxon.casefold(), rule.medium)
        zones = [(zone, one) for zone in rule.places for one in draft.zone_countries.get(zone, ())]
        for place, country in [*((place, "") for place in rule.places), *zones]:
            key = ("zones", country) if country else ("", place)
            earlier = first.setdefault((*key, *fish), rule)
            papers = {tuple(sorted(map(folded, one.papers))) for one in (earlier, rule)}
            if earlier.verdict == rule.verdict == "papers" and len(papers) > 1 and earlier is not rule:
                text = say(
                    "'{papers}' for {place} and {taxon}, and row {row} asks for '{other}'.",
                    *("; ".join(rule.papers), place, rule.taxon, earlier.at.row, "; ".join(earlier.papers)),
                )
                yield from asked(draft, rule, "papers", text, "Keep one", code="two-verdicts")
                break
            if earlier.verdict != rule.verdict:
                strictest = max(earlier.verdict, rule.verdict, key=RULE_WORDS.index)
                text = say(
                    "'{verdict}' for {place} and {taxon} stands beside '{other}' on row"
                    " {row}: '{strictest}' counts.",
                    *(rule.verdict, place, rule.taxon, earlier.verdict, earlier.at.row, strictest),
                )
                yield from asked(draft, rule, "verdict", text, "Keep one", code="two-verdicts")
                break


#: A rule that begins later is asked about: mostly its year is a slip. Assumed.
FARTHEST_RULE_D = 3 * 366
#: The same of one that forbids or asks for something. Assumed.
FARTHEST_BAN_D = 200


def starter_rules_were_looked_up(draft: Draft) -> Iterator[Problem]:
    """Rows of the first starter tables that let eggs go although nobody had looked them up: one message."""
    rows = [rule for rule in draft.rules if rule.is_withdrawn]
    if not rows:
        return
    first, more = rows[0], len(rows) - 1
    text = say(
        "'{verdict}' for {to} came with the first starter tables, and nobody had looked it up: it"
        " does not count.",
        *(first.verdict, first.to),
    )
    if more:
        text = say(
            "'{verdict}' for {to} came with the first starter tables, and nobody had looked it up (and"
            " {count} more rows like it): it does not count.",
            *(first.verdict, first.to, more),
        )
    mend = (
        "Ask the authority, and write its answer with source and day; one row may name a zone, such as"
        " EU, or several countries."
    )
    yield noted(first, "verdict", "withdrawn", text, mend)


def bans_are_of_every_medium(draft: Draft) -> Iterator[Problem]:
    """A row that closes by one medium what the starter's rules close altogether: the rest would pass."""
    closed = _closed(draft)
    whole = {
        (place, folded(rule.taxon)) for rule in draft.rules if rule.medium is None for place in rule.places
    }
    for rule in draft.rules:
        for place in rule.places if rule.medium and rule.verdict == "closed" else ():
            key = (place, folded(rule.taxon))
            if key in closed and key not in whole:
                text = "closes {place} for '{medium}' only, and the starter table for all."
                mend = say("Look at '{source}'", closed[key])
                yield from asked(draft, rule, "medium", text, mend, code="unlike-published", place=place)
                break


#: A source as long as this is no common word: two rows that have it were one. A row so copied opens a place
#: that nobody asked.
LONG_SOURCE = 40


def answers_are_not_copied(draft: Draft) -> Iterator[Problem]:
    """A row that opens a place by the very words and day of another row: a copy of it, half edited."""
    opening = (rule for rule in draft.rules if rule.verdict == "open" and len(rule.source) >= LONG_SOURCE)
    answer = attrgetter("taxon", "medium", "source", "checked_on")
    for other, rule in repeated((answer(rule), rule) for rule in opening):
        if other.to != rule.to:
            text = say("opens {to} by the very source and day of row {row}.", rule.to, other.at.row)
            mend = say("Write who answered for it, or put both places into one row")
            yield from asked(draft, rule, "to", text, mend, code="no-source")


def parts_with_a_law_keep_it(draft: Draft) -> Iterator[Problem]:
    """An order to a part of a country that has a law of its own by the starter's rules, where no row of rules
    names the part and one of the whole country or zone opens it.
    """
    if "rules" not in draft.complete:
        return
    whole = [rule for rule in draft.rules if rule.medium is None]
    ruled = {(place.upper(), folded(rule.taxon)) for rule in whole for place in rule.places}
    told, parts = set[str](), parts_of_their_own(draft)
    for row in draft.first_rows:
        codes = part_codes(row.country, region_of(row.country, row.region, row.postcode))
        own = next((code for code in codes if code in parts), "")
        fish = draft.species_by_name.get(row.species)
        taxa = {"*", *map(folded, taxa_of(fish) if fish else ())}
        if not own or own in told or row.cancelled_on is not None:
            continue
        if any((code, taxon) in ruled for code in codes for taxon in taxa):
            continue
        told.add(own)
        zones = (zone for zone, countries in draft.zone_countries.items() if row.country in countries)
        wider = {row.country, "*", *zones}
        lets = ("open", "papers")
        opens = [rule for rule in draft.rules if rule.verdict in lets and wider & set(rule.places)]
        if opens:
            text = say("opens {part} too, whose law is its own: order '{order}' goes there.", own, row.order)
            mend = say("Write a row for {part}: {source}", own, parts[own])
            yield from asked(draft, opens[0], "to", text, mend, code="unlike-published")
