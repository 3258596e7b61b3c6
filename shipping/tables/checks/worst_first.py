"""Problems in, the worst first out; a long list as a line and a count a cause."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say


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
        *("another-fish", "called-off", "line-twice", "lot-gone", "misdated", "no-border", "no-rule"),
        *("other-country", "overdue", "postcode", "recount", "region", "renumbered", "same-number"),
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
