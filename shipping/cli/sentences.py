"""Reasons and days in, English for the terminal out, whatever the papers are in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shipping.papers.wording.phrases import cause, english, next_step, note_text
from shipping.words.keys import grouped
from shipping.words.reasons import CODES, Note, Reason, Verdict, figure_and_limit, over_limit
from shipping.words.units import percent


def reason_text(reason: Reason, lines: int = 1, offered: bool = False) -> str:
    """The reason as a breeder is told it, for so many lines; ``offered``: of an offer."""
    return cause(reason, english(), lines, offered)


def step_text(reason: Reason, verdict: Verdict = Verdict.WAIT, offered: bool = False) -> str:
    """What to do about it where a line stands so, as a sentence begins."""
    step = next_step(reason, english(), verdict, offered)
    return step[:1].upper() + step[1:]


def in_short(reasons: Iterable[Reason]) -> str:
    """What speaks against an option, each in a few words, once; "" where nothing does."""
    return ", ".join(dict.fromkeys(CODES[reason.code].short or reason.code for reason in reasons))


def with_figures(alike: Sequence[Iterable[Reason]]) -> str:
    """What speaks against options that the same codes speak against, each with its figures, the nearest to
    the farthest, and its limit: ``would hatch (13 % to 71 %, limit 5 %)``; "" where nothing does.
    """
    by_code = grouped((reason.code, reason) for reasons in alike for reason in reasons)
    return ", ".join(_with_figure(code, reasons) for code, reasons in by_code.items())


def _with_figure(code: str, reasons: Sequence[Reason]) -> str:
    short = CODES[code].short or code
    known = sorted((reason for reason in reasons if figure_and_limit(reason)), key=over_limit)
    if not known:
        return short
    ends = [_figure(known[0]), _figure(known[-1])]
    (first, limit), (last, _) = ends
    if "near" in known[0].facts:
        return short
    return f"{short} ({first}{f' to {last}' if last != first else ''}, {limit})"


def _figure(reason: Reason) -> tuple[str, str]:
    """The figure that decides and its limit, as a breeder reads them; with a tenth where both would read
    alike.
    """
    found = figure_and_limit(reason)
    assert found
    name, figure, limit = found
    if name in ("h_per_egg", "h_any"):
        said, most = percent(figure), percent(limit)
        said, most = (f"{figure * 100:.1f} %" if said == most else said), f"limit {most}"
    elif name == "inside_c":
        said, most = f"{figure:.{int(abs(figure - limit) < 1)}f} °C", f"limit {limit:g} °C"
    else:
        unit = " h" if name == "hours" else ""
        said, most = f"{figure:.0f}{unit}", f"needs {limit:.0f}{unit}"
    return said.replace(" ", "\u00a0"), most.replace(" ", "\u00a0")


def note_line(note: Note) -> str:
    """What rows for just these days decided, in words."""
    return note_text(note, english())
