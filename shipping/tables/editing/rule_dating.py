"""A rule looked up again: place, species and source in, its row with the new day and source out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from shipping.tables.editing.row_writer import append_row, change_row
from shipping.tables.rows.rules import RULE_WORDS, Rule
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.tables.spelling import did_you_mean
from shipping.words.problems import Problem, ShelfProblems, Where

_ROW_FLAG = "Name one with --row."


@dataclass(frozen=True, slots=True)
class Redated:
    """The rule as it stood, its new day and source, the copy of the table, how many places it speaks to; and
    the place that got a row of its own beside it, for which fish.
    """

    rule: Rule
    checked_on: date
    source: str
    copy: Path | None
    verdict: str
    places: int = 1
    own: str = ""
    own_taxon: str = ""

    def as_json(self) -> dict[str, object]:
        return {
            "file": self.rule.at.file,
            "row": self.rule.at.row,
            "to": self.rule.to,
            "taxon": self.rule.taxon,
            "verdict": self.rule.verdict,
            "before": {"checked_on": self.rule.checked_on.isoformat(), "source": self.rule.source},
            "after": {"checked_on": self.checked_on.isoformat(), "source": self.source},
            "answered": self.verdict,
            "own_row": self.own or None,
            "copy": str(self.copy) if self.copy else None,
        }

    def lines(self) -> tuple[str, ...]:
        if self.own:
            return (
                f"{self.own} {self.own_taxon} ({self.verdict}): a row of its own now, looked up"
                f" {self.checked_on}, {self.source}",
                f"The row {_named(self.rule)} stays as it is for all else.",
                *self._of_every_fish(),
                f"The table as it was: {self.copy}",
            )
        is_nobodys = self.rule.is_withdrawn or self.rule.is_never_looked_up
        before = "nobody had before" if is_nobodys else f"before: {self.rule.checked_on}"
        when = f"looked up {self.checked_on} ({before})"
        now = f"{_named(self.rule)}: {when}, {self.source}"
        wide = (*self._how_far(), *self._of_every_fish())
        return (now, *self._answered(), *wide, f"The table as it was: {self.copy}")

    def _of_every_fish(self) -> tuple[str, ...]:
        """That an answer may be for one fish alone, and is written for all."""
        if (self.own_taxon or self.rule.taxon) != "*" or self.verdict == self.rule.verdict:
            return ()
        return (
            "This row is of every fish: where the answer is for one alone, put it back and add --species.",
        )

    def _how_far(self) -> tuple[str, ...]:
        """That a row speaks to more places than one."""
        if self.places < 2 and "*" not in self.rule.places:
            return ()
        where = "every country" if "*" in self.rule.places else f"{self.places} countries or parts"
        return (
            f"This row speaks to {where}: where the answer is for one of them alone, put the row back and"
            " write one for it.",
        )

    def _answered(self) -> tuple[str, ...]:
        """What the row says now, where that was answered, or still has to be."""
        if self.verdict != self.rule.verdict:
            return (f"It said {self.rule.verdict} and says {self.verdict} now.",)
        if self.verdict == "ask":
            return ("It still says ask, and holds: add --verdict open, papers or closed once you have it.",)
        return ()


def redate(
    shelf: Shelf,
    folder: Path,
    source: str,
    to: str | None,
    species: str | None,
    row: int | None = None,
    *,
    verdict: str | None = None,
    papers: str | None = None,
) -> Redated:
    """The one row meant, now looked up on the shelf's day in ``source``, and with the answer got: only those
    cells of the table change. A country that a row speaks to only as one of a zone gets a row of its own,
    and so does an answer for a fish that a row speaks of only as one of many, unless that row is named: an
    answer for one opens no other.

    Raises ShelfProblems if no row or more than one is meant (all are listed), or the table cannot be written
    to.
    """
    source = " ".join(source.split())
    if not source:
        mend = "Write where it was looked up: an authority, a law, a page and its address."
        raise _question("--checked", "is blank.", mend)
    rules = rules_meant(shelf, to, species, with_everywhere=verdict is not None)
    if verdict and row is None:  # an answer is one to a row that asks, where there is such a row
        rules = tuple(rule for rule in rules if rule.verdict == "ask") or rules
    rule = _rule_meant(rules, row, to, species, shelf)
    cells = {"source": source, "checked_on": shelf.today.isoformat()} | _answer(rule, verdict, papers)
    places = {part for place in rule.places for part in shelf.zones.get(place, (place,))}
    path, said = folder / "rules.csv", verdict or rule.verdict
    is_wider = to is not None and not _names(rule, to)
    fish = _fish_alone(rule, shelf.species[species]) if species is not None and verdict else ""
    if row is None and (is_wider or fish):
        own_to, fish = to or rule.to, fish or rule.taxon
        kept = {"to": own_to, "taxon": fish, "medium": rule.medium or "", "verdict": rule.verdict}
        kept |= {"from": str(rule.from_ or ""), "until": str(rule.until or "")}
        written = append_row(path, kept | {"papers": "; ".join(rule.papers)} | cells)
        return Redated(rule, shelf.today, source, written.copy, said, len(places), own_to, fish)
    if verdict and row is None and to is not None and to.casefold() != rule.to.casefold():
        text = f"row {rule.at.row} speaks to {len(places)} countries or parts, and nothing was changed."
        mend = (
            f"Answer for all of them with --row {rule.at.row}, or take {to} out of it and write {to} its own."
        )
        raise _question("--to", text, mend)
    done = change_row(path, rule.at.row, cells, was={"to": rule.to, "taxon": rule.taxon})
    return Redated(rule, shelf.today, source, done.copy, said, len(places))


def _answer(rule: Rule, verdict: str | None, papers: str | None) -> dict[str, str]:
    """The cells of the answer; none where the row was only looked up again."""
    if verdict is not None and verdict not in RULE_WORDS:
        raise _question("--verdict", f"'{verdict}' is no verdict.", f"Write {', '.join(RULE_WORDS)}.")
    if papers is not None and (verdict or rule.verdict) != "papers":
        raise _question("--papers", "are named for a row that asks for none.", "Add --verdict papers.")
    if verdict == "papers" and not (papers or rule.papers):
        mend = 'Add --papers "health certificate;import notice".'
        raise _question("--verdict", "papers names no paper.", mend)
    cells = {} if verdict is None else {"verdict": verdict}
    return cells if papers is None else cells | {"papers": papers}


def rules_meant(
    shelf: Shelf, to: str | None, species: str | None, *, with_everywhere: bool = False
) -> tuple[Rule, ...]:
    """The rows that name exactly that place, or a zone it lies in, and the species, its genus, its family or
    all; where none does, those for everywhere, if they are wanted.
    """
    over = shelf.zones_of(to.partition("-")[0].upper()) if to else ()
    names = {to.casefold(), *map(str.casefold, over)} if to else set()
    taxa = None
    if species is not None:
        row = shelf.species[species]
        known = ("*", row.species, row.scientific_name, row.binomial, row.genus, row.family)
        taxa = set(map(str.casefold, known))
    rules = [
        rule
        for rule in shelf.rules
        if (to is None or names & {rule.to.casefold(), *map(str.casefold, rule.places)})
        and (taxa is None or rule.taxon.casefold() in taxa)
    ]
    if not rules and with_everywhere and to not in (None, "*"):
        return rules_meant(shelf, "*", species)
    return tuple(sorted(rules, key=lambda rule: (rule.at.file, rule.at.row)))


def _rule_meant(
    rules: tuple[Rule, ...], row: int | None, to: str | None, species: str | None, shelf: Shelf
) -> Rule:
    chosen = [rule for rule in rules if row is None or rule.at.row == row]
    if row is None and len(chosen) > 1:
        # a row for the place alone before rows that name it among others
        chosen = [rule for rule in chosen if to and rule.to.casefold() == to.casefold()] or chosen
        # and rows that name it before those of a zone it lies in
        chosen = [rule for rule in chosen if to and _names(rule, to)] or chosen
    if len(chosen) == 1:
        return chosen[0]
    words = (f"to {to}" if to else "", f"for {species}" if species else "")
    what = " and ".join(filter(None, words)) or "at all"
    if not rules:
        places = sorted({place for rule in shelf.rules for place in rule.places})
        add = "Add a row to rules with place, taxon, verdict, source and day."
        text = f"no row of rules speaks {what}, so there is none to date."
        raise _question("--checked", text, did_you_mean(to or "", places, add))
    listed = "; ".join(_named(rule) for rule in rules[:12])
    listed += f"; and {len(rules) - 12} more" if len(rules) > 12 else ""
    if row is not None:
        raise _question("--row", f"row {row} is not among the rows {what}: {listed}.", _ROW_FLAG)
    rows = "1 row" if len(rules) == 1 else f"{len(rules)} rows"
    which = "are in the table" if what == "at all" else f"speak{'s' if len(rules) == 1 else ''} {what}"
    raise _question("--checked", f"{rows} {which}, and nothing was changed: {listed}.", _ROW_FLAG)


def _names(rule: Rule, place: str) -> bool:
    """Does a rule name the place itself, and not only a zone that it lies in?"""
    return place.casefold() in (rule.to.casefold(), *map(str.casefold, rule.places))


def _fish_alone(rule: Rule, species: Species) -> str:
    """What a rule of that species alone calls it; "" where this one is of no other."""
    own = (species.species, species.scientific_name, species.binomial)
    return "" if rule.taxon.casefold() in map(str.casefold, own) else species.scientific_name


def _named(rule: Rule) -> str:
    medium = f" in {rule.medium}" if rule.medium else ""
    return f"{rule.at} {rule.to} {rule.taxon}{medium} ({rule.verdict})"


def _question(column: str, text: str, mend: str) -> ShelfProblems:
    return ShelfProblems((Problem(Where("question"), column, "question", text, mend),))
