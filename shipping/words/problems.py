"""A mistake in the breeder's tables, as a value: where it is, what is wrong, how to mend it; of many the
worst first, a long list as a line and a count a cause.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from shipping.words.keys import grouped
from shipping.words.sentence import say


class Level(StrEnum):
    """How far a problem reaches.

    ``error``: nothing can be reckoned until it is mended. ``lot``: one lot is left out, ``order``: one order
    is held, and all else goes on.
    ``notice``: nothing stops; it is said because the breeder would want to know.
    """

    ERROR = "error"
    LOT = "lot"
    ORDER = "order"
    NOTICE = "notice"


@dataclass(frozen=True, slots=True)
class Where:
    """The file and the row as the spreadsheet shows it (row 1 is the header; 0 is the file as a whole)."""

    file: str
    row: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.row}" if self.row else self.file


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer to a question of the tables, ready to be written as key and value of ``[reading]``."""

    key: str
    value: str

    def as_toml(self) -> str:
        """The line as it stands below ``[reading]``; ``meant`` is a list."""
        text = '"' + self.value.replace("\\", "\\\\").replace('"', '\\"') + '"'
        return f"{self.key} = [{text}]" if self.key == "meant" else f"{self.key} = {text}"


@dataclass(frozen=True, slots=True)
class Problem:
    """One cause, one message: what is wrong (``text``), what to write (``mend``), what a question takes."""

    where: Where
    column: str
    code: str
    text: str
    mend: str
    level: Level = Level.ERROR
    answers: tuple[Answer, ...] = ()

    def __str__(self) -> str:
        column = f"{self.column}: " if self.column else ""
        return f"{self.where}: {column}{self.text} {self.mend}".rstrip()

    def as_json(self) -> dict[str, object]:
        """The six keys of the contract, the level, and the answers that a question takes."""
        answers = {"answers": [answer.as_toml() for answer in self.answers]} if self.answers else {}
        return {
            "file": self.where.file,
            "row": self.where.row or None,
            "column": self.column or None,
            "code": self.code,
            "text": self.text,
            "mend": self.mend,
            "level": self.level.value,
            **answers,
        }


class ShelfProblems(Exception):
    """The tables or the question have problems; the edge prints them all and leaves with 1."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


def how_bad(problem: Problem) -> int:
    """0 stops all, 1 a lot or an order; of what stops nothing, 2 has something to mend, 3 is only said."""
    if problem.level is Level.NOTICE:
        return 2 if problem.mend else 3
    return 0 if problem.level is Level.ERROR else 1


def worst_first(problems: Iterable[Problem], files: Sequence[str] = ()) -> tuple[Problem, ...]:
    """Each problem once, worst first; equally bad ones by file (``files`` first, in their order) and row."""
    ranks = {file: rank for rank, file in reversed(list(enumerate(files)))}

    def place(problem: Problem) -> tuple[int, int, str, int]:
        file = problem.where.file
        return (how_bad(problem), ranks.get(file, len(files)), file, problem.where.row)

    return tuple(sorted(dict.fromkeys(problems), key=place))


#: A list up to so long is told line by line.
SHORT_LIST = 20
#: So many causes are told at the most; the rest are counted, and all stand in --json.
MOST_CAUSES = 40
_ROWS_NAMED = 5
_VALUES = re.compile(r"'[^']*'|[0-9][0-9.,:-]*|\b[A-Z]{2}\b(?:[- ]\b[A-Z0-9]{1,3}\b)*")
_WORDS = {Level.ERROR: "problem", Level.LOT: "stopped lot", Level.ORDER: "held order", Level.NOTICE: "note"}
#: Of what stops nothing, what may break a law, send a parcel astray or count eggs that are not there is told
#: before figures.
_GRAVE = frozenset(
    (
        *("another-fish", "called-off", "held-short", "line-twice", "lot-gone", "misdated", "no-border"),
        *(
            "no-rule",
            "other-country",
            "overdue",
            "postcode",
            "recount",
            "region",
            "renumbered",
            "same-number",
        ),
        *("two-verdicts", "unlike-published", "wording"),
    )
)
Cause = tuple[Level, str, str, str, str]


def cause_of(problem: Problem) -> Cause:
    """What problems of one cause have in common: all but the row, the values quoted, and the places."""
    text = _VALUES.sub("*", problem.text)
    return (problem.level, problem.where.file, problem.column, problem.code, text)


def lines_by_cause(problems: Sequence[Problem], before: str = "") -> Iterator[str]:
    """A line a problem; of more than `SHORT_LIST` a total, then a line a cause, in the order given.

    ``before`` stands at the beginning of every line of a problem.
    """
    if len(problems) <= SHORT_LIST:
        yield from (f"{before}{problem}" for problem in problems)
        return
    causes = grouped((cause_of(problem), problem) for problem in problems)
    yield f"{before}{_total(problems, len(causes))}"
    ranked = sorted(
        causes.values(), key=lambda same: (how_bad(same[0]), same[0].code not in _GRAVE, -len(same))
    )
    for same in ranked[:MOST_CAUSES]:
        yield f"{before}{same[0]}{_more(same)}"
    if len(ranked) > MOST_CAUSES:
        rest = ranked[MOST_CAUSES:]
        count = sum(map(len, rest))
        yield say(
            "{before}And {count} more of {other_count} other causes; all of them stand in check --json.",
            *(before, count, len(rest)),
        )


def _total(problems: Sequence[Problem], causes: int) -> str:
    """How many of which kinds: ``5000 problems of 6 causes: orders.csv 4000, lots.csv 1000.``"""
    files = Counter(problem.where.file for problem in problems)
    named = ", ".join(f"{file} {count}" for file, count in files.most_common(6))
    kind = _WORDS[problems[0].level] if len({problem.level for problem in problems}) == 1 else "problem"
    told = (len(problems), kind, causes, "s" if causes > 1 else "", named)
    return say("{count} {kind}s of {causes} cause{word}: {named}.", *told)


def _more(same: Sequence[Problem]) -> str:
    """The count of the others of a cause, and the first rows they stand on."""
    if len(same) == 1:
        return ""
    rows = list(dict.fromkeys(str(problem.where.row) for problem in same[1:] if problem.where.row))
    named = ", ".join(rows[:_ROWS_NAMED]) + (" .." if len(rows) > _ROWS_NAMED else "")
    return say(" ({count} more like it{word})", len(same) - 1, f", on rows {named}" if rows else "")
