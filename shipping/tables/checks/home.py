"""Checks of the home and the sender, and of what the rules close at home."""

from __future__ import annotations

from collections.abc import Iterator

from shipping.tables.checks.row_problems import problem
from shipping.tables.country_codes import country_mend, is_country, known_parts
from shipping.tables.files.settings_reader import SETTINGS_FILE
from shipping.tables.rows.rules import RULE_WORDS, Rule
from shipping.tables.rows.settings import INVENTED_SENDER
from shipping.tables.shelf import Draft
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say

#: Home countries whose public holidays differ by part: without the part the calendar would be wrong.
NEEDS_SUBDIVISION = {"GB": "ENG", "DE": "BY", "CH": "ZH", "AU": "NSW", "CA": "ON", "ES": "MD", "US": "CA"}


def the_home_is_known(draft: Draft) -> Iterator[Problem]:
    """The home is a country, with the part that its public holidays need."""
    if draft.settings is None:
        return
    country, part = draft.settings.home.country, draft.settings.home.subdivision
    where = Where(SETTINGS_FILE)
    if not is_country(country):
        text = say("'{country}' is no country of ISO 3166.", country)
        yield Problem(where, "home.country", "unknown-country", text, country_mend(country, []))
    elif country in NEEDS_SUBDIVISION and not part:
        text = say("is blank, and public holidays differ within {country}.", country)
        write = say(
            'Write subdivision = "{part}" or the part you post from below [home].', NEEDS_SUBDIVISION[country]
        )
        yield Problem(where, "home.subdivision", "no-subdivision", text, write)
    elif part and (parts := known_parts(country)) and part not in parts:
        text = say("'{subdivision}' is no part of {country} with holidays of its own.", part, country)
        write = say("Write one of {parts}.", ", ".join(parts))
        yield Problem(where, "home.subdivision", "unknown-subdivision", text, write)


def the_sender_is_the_breeders(draft: Draft) -> Iterator[Problem]:
    """The sender that a new shelf begins with is named before papers are asked for."""
    if draft.settings is not None and draft.settings.sender.is_invented:
        yield Problem(Where(SETTINGS_FILE), "sender", "invented-sender", *INVENTED_SENDER, Level.NOTICE)


def lots_may_go_from_home(draft: Draft) -> Iterator[Problem]:
    """A lot of a species closed at home goes nowhere, and is said."""
    if draft.settings is None:
        return
    rules: dict[tuple[str, str], Rule | None] = {}
    for lot in draft.lots:
        kind = (lot.species, lot.medium)
        rule = rules[kind] = rules[kind] if kind in rules else _rule_at_home(draft, *kind)
        if rule is not None and rule.verdict == "closed":
            text = "'{species}' is closed at home ({at})."
            mend = "See {source}; the lot goes nowhere."
            yield problem(lot, "species", "closed", text, mend, Level.LOT, at=rule.at, source=rule.source)


def _rule_at_home(draft: Draft, species_key: str, medium: str) -> Rule | None:
    """The row that wins at home: nearest place, nearest taxon, named medium; among equals the strictest."""
    species = draft.species_by_name.get(species_key)
    if species is None or draft.settings is None:
        return None
    home = draft.settings.home
    places = ["*", home.country, f"{home.country}-{home.subdivision}"]
    taxa = ["*", species.family, species.genus, species.binomial, species.scientific_name, species.species]
    ranks = {name.split()[0].casefold(): 2 for name in species.synonyms}
    ranks |= dict.fromkeys(map(str.casefold, species.synonyms), 3)
    ranks |= {taxon.casefold(): min(rank, 3) for rank, taxon in enumerate(taxa)}
    rules = (
        rule
        for rule in draft.rules
        if any(place in places for place in rule.places)
        and rule.taxon.casefold() in ranks
        and rule.medium in (None, medium)
        and rule.holds_on(draft.today)
    )

    def nearness(rule: Rule) -> tuple[int, int, bool, int]:
        place = max(places.index(place) for place in rule.places if place in places)
        named = rule.medium is not None
        return (place, ranks[rule.taxon.casefold()], named, RULE_WORDS.index(rule.verdict))

    return max(rules, key=nearness, default=None)
