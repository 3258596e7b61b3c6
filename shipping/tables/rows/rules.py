"""The import-restriction table."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator, Field

from shipping.tables.cells import Day, Key, Note, Row, Text, Words, parse_word
from shipping.tables.rows.lots import Medium

#: From mildest to strictest.
RULE_WORDS = ("open", "papers", "ask", "closed")
RuleWord = Annotated[Literal["open", "papers", "ask", "closed"], BeforeValidator(parse_word(*RULE_WORDS))]


class Rule(Row):
    """One row of ``rules``: what a place says of a taxon in a medium, by whom, and when it was looked up."""

    cited_by: ClassVar[tuple[str, ...]] = ("to", "taxon", "medium")

    to: Key
    taxon: Text
    medium: Medium | None = None
    verdict: RuleWord
    papers: Words = ()
    source: Note
    checked_on: Day
    from_: Day | None = Field(default=None, alias="from")
    until: Day | None = None
    note: Note = ""
