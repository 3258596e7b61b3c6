"""The import-restriction table."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
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


def is_of_coming_home(row: Mapping[str, str], home: str, subdivision: str) -> bool:
    """Is a row of the starter's rules about what comes into this home from abroad?"""
    is_part = row["_scope"] == "abroad" and row["to"].startswith(f"{home}-")
    return row["_scope"] != "keeping" and (row["to"] in (home, f"{home}-{subdivision}") or is_part)
