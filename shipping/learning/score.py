"""How true the promises were: outcomes in; shares kept, Brier scores and bars for a terminal out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shipping.learning.outcomes import Outcome, frame
from shipping.words.sentence import Sentence, say
from shipping.words.units import percent, rounded

if TYPE_CHECKING:
    import pandas

#: Promised chances are put together in these bands.
BANDS = (0.0, 0.5, 0.8, 0.9, 0.95, 0.98, 1.0)
_Z90 = 1.6448536269514722


@dataclass(frozen=True, slots=True)
class Score:
    """Of ``n`` lines reported: mean chance promised, share kept with 90 % interval, Brier score."""

    of: str
    name: str
    n: int
    promised: float
    kept: float
    low: float
    high: float
    brier: float

    @property
    def is_fair(self) -> bool:
        """Is the promised share within what the kept share allows?"""
        return self.low <= self.promised <= self.high

    def as_json(self) -> dict[str, object]:
        numbers = {
            name: rounded(getattr(self, name)) for name in ("promised", "kept", "low", "high", "brier")
        }
        return {"of": self.of, "name": self.name, "n": self.n, **numbers, "fair": self.is_fair}


#: What scores are grouped by: the column of the lines, and the heading.
GROUPS = {
    "promise": ("band", say("by what was promised")),
    "service": ("service", say("by service")),
    "packing": ("packing", say("by packing")),
    "species": ("species", say("by species")),
}


@dataclass(frozen=True, slots=True)
class Scores:
    """All lines together (None where none was reported), and by each of `GROUPS`."""

    all: Score | None
    by: Mapping[str, tuple[Score, ...]]
    unreported: int

    def as_json(self) -> dict[str, object]:
        return {
            "all": self.all.as_json() if self.all else None,
            **{f"by_{of}": [score.as_json() for score in rows] for of, rows in self.by.items()},
            "unreported": self.unreported,
        }

    @property
    def groups(self) -> tuple[tuple[str, tuple[Score, ...]], ...]:
        """A heading and its rows for each group that has any."""
        return tuple((GROUPS[of][1], rows) for of, rows in self.by.items() if rows)


def share_interval(kept: int, n: int) -> tuple[float, float]:
    """The 90 % interval of a share (Wilson's score interval).

    References
    ----------
    Wilson 1927, Journal of the American Statistical Association 22:209-212 (from memory).
    """
    if not n:
        return 0.0, 1.0
    share, z2 = kept / n, _Z90**2
    middle = (share + z2 / (2 * n)) / (1 + z2 / n)
    half = _Z90 * math.sqrt(share * (1 - share) / n + z2 / (4 * n * n)) / (1 + z2 / n)
    return max(0.0, middle - half), min(1.0, middle + half)


def scores(outcomes: Iterable[Outcome]) -> Scores:
    """How the forecasts, as they stood in the kept plans, compare with what was reported.

    A line counts as kept where at least the eggs ordered arrived alive, live fry among them. Lines not
    reported count for nothing, and their number is said; eggs bought in carried no promise of ours.

    References
    ----------
    Brier 1950, Monthly Weather Review 78:1-3 (mean squared difference of chance and outcome; from memory).
    """
    import pandas as pd

    outcomes = tuple(outcome for outcome in outcomes if not outcome.was_bought)
    lines = frame(outcomes)
    unreported = sum(not outcome.is_reported for outcome in outcomes)
    if lines.empty:
        return Scores(None, dict.fromkeys(GROUPS, ()), unreported)
    lines["kept"] = lines["held"].astype(float)
    lines["off"] = (lines["p_enough"] - lines["kept"]) ** 2
    lines["band"] = pd.cut(lines["p_enough"], list(BANDS), labels=False, include_lowest=True)
    lines["everything"] = 0
    by = {of: _grouped(lines, column, of) for of, (column, _) in GROUPS.items()}
    return Scores(_grouped(lines, "everything", "all")[0], by, unreported)


def _grouped(lines: pandas.DataFrame, column: str, of: str) -> tuple[Score, ...]:
    scores: list[Score] = []
    for name, group in lines.groupby(column, sort=True):
        kept, n = int(group["kept"].sum()), len(group)
        low, high = share_interval(kept, n)
        label = "" if of == "all" else str(name)
        if of == "promise":
            low_end, high_end = BANDS[int(label)], BANDS[int(label) + 1]
            label = say("{low:g} to {high:g} %", low_end * 100, high_end * 100)
        promised, brier = (float(group[name].mean()) for name in ("p_enough", "off"))
        scores.append(Score(of, label, n, promised, kept / n, low, high, brier))
    return tuple(scores)


#: Bars on a terminal are so wide.
BAR_WIDTH = 40
#: With fewer lines than this a share says little, and it is said.
FEW_LINES = 20


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
    yield ("Promised and held (bars from 0 to 100 %: # held, = and - its 90 % interval, | promised)")
    yield _row(scores.all, say("all lines"))
    for head, rows in scores.groups:
        yield f"{head}:"
        yield from (_row(score, score.name) for score in rows)


def _row(score: Score, name: str) -> str:
    shares = map(percent, (score.promised, score.kept, score.low, score.high))
    named = str(name) if isinstance(name, Sentence) else name[:24]
    promised, kept, low, high = shares
    return (
        f"  {named:24s} {bar(score)} promised {promised:>7s}, held {kept:>7s} ({low} to {high}) of {score.n}:"
        f" {verdict_of(score)}"
    )


def bar(score: Score) -> str:
    """The bar: filled to the share held, its interval dashed, a stroke at the share promised."""
    cells = ["#" if n < round(score.kept * BAR_WIDTH) else "." for n in range(BAR_WIDTH)]
    for n in range(round(score.low * BAR_WIDTH), min(BAR_WIDTH, round(score.high * BAR_WIDTH))):
        cells[n] = "=" if cells[n] == "#" else "-"
    cells[min(BAR_WIDTH - 1, round(score.promised * BAR_WIDTH))] = "|"
    return "".join(cells)
