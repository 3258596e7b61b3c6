"""A rule that was looked up again: place, species and source in, its row with the new day and source out; no
other row.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from shipping.tables.editing.row_writer import change_row
from shipping.tables.files.sheet import did_you_mean
from shipping.tables.rows.rules import Rule
from shipping.tables.shelf import Shelf
from shipping.words.problems import Problem, ShelfProblems, Where

_ROW_FLAG = "Name one with --row."


@dataclass(frozen=True, slots=True)
class Redated:
    """The rule as it stood, the day and source it has now, and the copy of the table before."""

    rule: Rule
    checked_on: date
    source: str
    copy: Path | None

    def as_json(self) -> dict[str, object]:
        return {
            "file": self.rule.at.file,
            "row": self.rule.at.row,
            "to": self.rule.to,
            "taxon": self.rule.taxon,
            "verdict": self.rule.verdict,
            "before": {"checked_on": self.rule.checked_on.isoformat(), "source": self.rule.source},
            "after": {"checked_on": self.checked_on.isoformat(), "source": self.source},
            "copy": str(self.copy) if self.copy else None,
        }

    def lines(self) -> tuple[str, ...]:
        return (
            (
                f"{_named(self.rule)}: looked up {self.checked_on} (before: {self.rule.checked_on}),"
                f" {self.source}"
            ),
            f"The table as it was: {self.copy}",
        )


def redate(
    shelf: Shelf, folder: Path, source: str, to: str | None, species: str | None, row: int | None = None
) -> Redated:
    """The one row meant, now looked up on the shelf's day in ``source``; only those two cells of the table
    change.

    Raises
    ------
    ShelfProblems
        If no row or more than one is meant (all are listed), or the table cannot be written to.
    """
    source = " ".join(source.split())
    if not source:
        raise _question(
            "--checked",
            "is blank.",
            "Write where it was looked up: an authority, a law, a page and its address.",
        )
    rule = _the_one(rules_meant(shelf, to, species), row, to, species, shelf)
    cells = {"source": source, "checked_on": shelf.today.isoformat()}
    done = change_row(folder / "rules.csv", rule.at.row, cells, was={"to": rule.to, "taxon": rule.taxon})
    return Redated(rule, shelf.today, source, done.copy)


def rules_meant(shelf: Shelf, to: str | None, species: str | None) -> tuple[Rule, ...]:
    """The rows that name exactly that place, and that species, its genus, its family or all; in the order of
    the table.
    """
    taxa = None
    if species is not None:
        row = shelf.species[species]
        binomial = " ".join(row.scientific_name.split()[:2])
        taxa = {
            name.casefold()
            for name in ("*", row.species, row.scientific_name, binomial, row.genus, row.family)
        }
    found = [
        rule
        for rule in shelf.rules
        if (to is None or to.casefold() in (rule.to.casefold(), *map(str.casefold, rule.places)))
        and (taxa is None or rule.taxon.casefold() in taxa)
    ]
    return tuple(sorted(found, key=lambda rule: (rule.at.file, rule.at.row)))


def _the_one(
    found: tuple[Rule, ...], row: int | None, to: str | None, species: str | None, shelf: Shelf
) -> Rule:
    chosen = [rule for rule in found if row is None or rule.at.row == row]
    if len(chosen) == 1:
        return chosen[0]
    what = (
        " and ".join(word for word in (f"to {to}" if to else "", f"for {species}" if species else "") if word)
        or "at all"
    )
    if not found:
        places = sorted({place for rule in shelf.rules for place in rule.places})
        nearby = did_you_mean(
            to or "", places, "Add a row to rules with place, taxon, verdict, source and day."
        )
        raise _question("--checked", f"no row of rules speaks {what}, so there is none to date.", nearby)
    listed = "; ".join(_named(rule) for rule in found[:12]) + (
        f"; and {len(found) - 12} more" if len(found) > 12 else ""
    )
    if row is not None:
        raise _question("--row", f"row {row} is not among the rows {what}: {listed}.", _ROW_FLAG)
    which = "are in the table" if what == "at all" else f"speak {what}"
    raise _question("--checked", f"{len(found)} rows {which}, and nothing was changed: {listed}.", _ROW_FLAG)


def _named(rule: Rule) -> str:
    medium = f" in {rule.medium}" if rule.medium else ""
    return f"{rule.at} {rule.to} {rule.taxon}{medium} ({rule.verdict})"


def _question(column: str, text: str, mend: str) -> ShelfProblems:
    return ShelfProblems((Problem(Where("question"), column, "question", text, mend),))
