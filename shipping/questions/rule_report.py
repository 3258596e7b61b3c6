"""What the rules table says, what is stale in it, and what is missing for the orders in hand."""

from __future__ import annotations

from dataclasses import dataclass

from shipping.post.restrictions import RuleNeeded, rules_needed
from shipping.tables.rows.rules import Rule
from shipping.tables.shelf import Shelf
from shipping.words.units import told


@dataclass(frozen=True)
class RuleReport:
    """Rows with their age in days, rules to look up, and those that say to ask, unanswered."""

    rows: tuple[tuple[Rule, int, bool], ...]
    needed: tuple[RuleNeeded, ...]
    unanswered: tuple[RuleNeeded, ...]

    def as_json(self) -> dict[str, object]:
        return {
            "rules": [
                told(rule, "to taxon medium verdict papers source checked_on from_ until")
                | {"age_days": age, "stale": stale}
                for rule, age, stale in self.rows
            ],
            "needed": [
                {"to": rule.place} | told(rule, "species verdict stale ask orders") for rule in self.needed
            ],
        }


def rule_report(shelf: Shelf, to: str | None, species: str | None) -> RuleReport:
    """Rows that speak to a place (or what it lies in) or species, and what is needed; else all."""
    taxa = {"*"}
    if species:
        row = shelf.species[species]
        taxa |= {name.casefold() for name in (row.species, row.scientific_name, row.genus, row.family)}
    limit = shelf.settings.plan.rule_age_days
    country = to.partition("-")[0].upper() if to else ""
    over = {"*", country, *shelf.zones_of(country)} if country else {"*"}
    rows = []
    for rule in sorted(shelf.rules, key=lambda r: (r.to, r.taxon, r.medium or "", r.verdict, r.source)):
        named = to is None or any(place.upper().startswith(to) or place in over for place in rule.places)
        if named and (species is None or rule.taxon.casefold() in taxa):
            age = (shelf.today - rule.checked_on).days
            stale = (age > limit or rule.is_withdrawn) and rule.verdict != "closed"
            rows.append((rule, age, stale))
    wanted = [
        rule
        for rule in rules_needed(shelf)
        if (to is None or to in _names_of(shelf, rule)) and (species is None or rule.species == species)
    ]
    needed = [rule for rule in wanted if rule.verdict == "none" or rule.stale]
    return RuleReport(tuple(rows), tuple(needed), tuple(rule for rule in wanted if rule not in needed))


def _names_of(shelf: Shelf, rule: RuleNeeded) -> tuple[str, ...]:
    """What the place of a rule to look up may be called: country, country and subdivision, zones."""
    part = (f"{rule.country}-{rule.subdivision}",) if rule.subdivision else ()
    return (rule.country, *part, *shelf.zones_of(rule.country))
