"""The import-restriction table."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from shipping.tables.cells import Note, OneWord, Row, Text, Words
from shipping.tables.rows.lots import Medium
from shipping.tables.typed_days import Day

#: From mildest to strictest.
RULE_WORDS = ("open", "papers", "ask", "closed")
RuleWord = Annotated[Literal["open", "papers", "ask", "closed"], OneWord()]
#: Verdicts of the first starter tables that let eggs go although nobody had looked them up, by their sources.
_WITHDRAWN = frozenset(
    {
        ("open", "own country: verify before use"),
        ("open", "Reg. (EU) 2016/429; fishhealth.ie (Marine Institute, Ireland)"),
        (
            "papers",
            "Aquatic Animal Health (England and Wales) Regulations 2009; gov.uk guidance"
            " (copy of April 2023)",
        ),
        (
            "papers",
            "as for GB, and Import of Live Fish Act 1980 with SI 2014/143"
            " (live eggs named; schedule not seen)",
        ),
        ("papers", "50 CFR 16.13(a) and 14.61 (Form 3-177)"),
        (
            "papers",
            "Health of Animals Regulations Part XVI (2016 consolidation); Aquatic Invasive Species"
            " Regulations SOR/2015-121 s. 6",
        ),
        ("papers", "NEMBA Alien and Invasive Species Regulations 2020 (R1020) reg. 8 and 9"),
    }
)
#: The last day that those tables wrote; the home's row bore the day of the shelf, and is known by its source.
_WITHDRAWN_UNTIL = date(2026, 11, 20)
#: The day of a starter row whose source has no day or was not read.
NEVER = date(2000, 1, 1)


class Rule(Row):
    """One row of ``rules``: what a place says of a taxon in a medium, by whom, and when it was looked up.

    ``to`` names one place or several, with spaces between.
    """

    cited_by: ClassVar[tuple[str, ...]] = ("to", "taxon", "medium")

    to: Text
    taxon: Text
    medium: Medium | None = None
    verdict: RuleWord
    papers: Words = ()
    source: Note
    checked_on: Day
    from_: Day | None = Field(default=None, alias="from")
    until: Day | None = None
    note: Note = ""

    @property
    def places(self) -> tuple[str, ...]:
        """The countries, subdivisions and zones it speaks of."""
        return tuple(self.to.split())

    def holds_on(self, day: date) -> bool:
        """Is it in force on that day?"""
        return (self.from_ is None or self.from_ <= day) and (self.until is None or day <= self.until)

    @property
    def is_never_looked_up(self) -> bool:
        """Is its day that of a starter row of which no dated text was read?"""
        return self.checked_on == NEVER

    @property
    def is_withdrawn(self) -> bool:
        """Is it a starter row that let eggs go, and that nobody has looked up since?"""
        at_home = self.source == "own country: verify before use"
        return (self.verdict, self.source) in _WITHDRAWN and (at_home or self.checked_on <= _WITHDRAWN_UNTIL)


@dataclass(frozen=True, slots=True)
class TaxonNames:
    """What a rule may call a species, all without case; ``shown`` is for people."""

    exact: frozenset[str]
    genera: frozenset[str]
    family: str
    shown: str

    def rank(self, taxon: str) -> int:
        """How closely a rule's taxon names it: 3 species, 2 genus, 1 family, 0 any; -1 another fish."""
        name = " ".join(taxon.casefold().split())
        if name in self.exact:
            return 3
        if name in self.genera:
            return 2
        return {self.family: 1, "*": 0}.get(name, -1)


@lru_cache(maxsize=4096)
def taxon_names(species: str, scientific_name: str, synonyms: tuple[str, ...], family: str) -> TaxonNames:
    known = (scientific_name, *synonyms)
    return TaxonNames(
        exact=frozenset({species.casefold(), *map(str.casefold, known), *map(_binomial, known)}),
        genera=frozenset(name.split()[0].casefold() for name in known),
        family=family.casefold(),
        shown=scientific_name,
    )


def _binomial(scientific_name: str) -> str:
    """Genus and species, no subspecies; the whole name where the second word is none (sp., cf., aff.)."""
    words = scientific_name.casefold().split()
    return " ".join(words if len(words) < 3 or words[1].endswith(".") else words[:2])


def nearest_rules(
    placed: Iterable[tuple[int, Rule]], names: TaxonNames, medium: str, on: date
) -> tuple[Rule, ...]:
    """The strictest of the most specific rows that count on the day, the latest looked up first.

    ``placed``: rows with how closely each names the place. The nearest place wins, then the nearest taxon,
    then a named medium; among equals the strictest.
    """
    ranked = [
        ((near, taxon, rule.medium is not None, RULE_WORDS.index(rule.verdict)), rule)
        for near, rule in placed
        if (taxon := names.rank(rule.taxon)) >= 0 and rule.medium in (None, medium) and rule.holds_on(on)
    ]
    best = max((rank for rank, _ in ranked), default=None)
    winners = [rule for rank, rule in ranked if rank == best]
    return tuple(
        sorted(winners, key=lambda rule: (-rule.checked_on.toordinal(), rule.source, rule.papers, rule.to))
    )


def is_of_coming_home(row: Mapping[str, str], home: str, subdivision: str) -> bool:
    """Is a row of the starter's rules about what comes into this home from abroad?"""
    is_part = row["_scope"] == "abroad" and row["to"].startswith(f"{home}-")
    return row["_scope"] != "keeping" and (row["to"] in (home, f"{home}-{subdivision}") or is_part)
