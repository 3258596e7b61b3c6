"""How promises held, as plain bars for a terminal: scores in, lines out."""

from __future__ import annotations

from collections.abc import Iterator

from shipping.learning.score import Score, Scores
from shipping.words.sentence import Sentence, say
from shipping.words.units import percent

#: Bars on a terminal are so wide.
BAR_WIDTH = 40
#: With fewer lines than this a share says little, and it is said.
FEW_LINES = 20
_HEADS = {
    "promise": say("by what was promised"),
    "service": say("by service"),
    "packing": say("by packing"),
    "species": say("by species"),
}


def groups_of(scores: Scores) -> tuple[tuple[str, tuple[Score, ...]], ...]:
    """The scores by what they are grouped by: a heading and its rows; groups without rows are left out."""
    parts = (scores.by_promise, scores.by_service, scores.by_packing, scores.by_species)
    return tuple((_HEADS[rows[0].of], rows) for rows in parts if rows)


def verdict_of(score: Score) -> str:
    """What the counts allow to say of a promise."""
    less, more = say("held less often than promised"), say("held more often than promised")
    said = say("agrees") if score.is_fair else less if score.promised > score.high else more
    return said if score.n >= FEW_LINES else say("{said} (few lines)", said)


def calibration_lines(scores: Scores) -> Iterator[str]:
    """Promised against held, a bar each; nothing where no line was reported."""
    if scores.all is None:
        yield "No line was reported yet: nothing can be said of the promises."
        return
    yield "Promised and held (bars from 0 to 100 %: # held, = and - its 90 % interval, | promised)"
    yield _row(scores.all, say("all lines"))
    for head, rows in groups_of(scores):
        yield say("{text}:", head)
        yield from (_row(score, score.name) for score in rows)


def _row(score: Score, name: str) -> str:
    shares = map(percent, (score.promised, score.kept, score.low, score.high))
    named = name if isinstance(name, Sentence) else name[:24]
    return say(
        "  {name:24s} {bar} promised {promised:>7s}, held {kept:>7s} ({low} to {high}) of {lines}: {verdict}",
        *(named, bar(score), *shares, score.n, verdict_of(score)),
    )


def bar(score: Score) -> str:
    """The bar: filled to the share held, its interval dashed, a stroke at the share promised."""
    cells = ["#" if n < round(score.kept * BAR_WIDTH) else "." for n in range(BAR_WIDTH)]
    for n in range(round(score.low * BAR_WIDTH), min(BAR_WIDTH, round(score.high * BAR_WIDTH))):
        cells[n] = "=" if cells[n] == "#" else "-"
    cells[min(BAR_WIDTH - 1, round(score.promised * BAR_WIDTH))] = "|"
    return "".join(cells)
