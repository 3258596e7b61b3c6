"""Reasons and days in, English for the terminal out, whatever the papers are in."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from shipping.papers.wording.phrases import cause, english, next_step, note_text
from shipping.words.reasons import CODES, Note, Reason, Verdict
from shipping.words.units import short_day

if TYPE_CHECKING:
    from shipping.words.three_point import Dates


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


def note_line(note: Note) -> str:
    """What rows for just these days decided, in words."""
    return note_text(note, english())


def span(dates: Dates) -> str:
    """``2-9 Dec``: the days between which nearly all arrive or hatch; "" where there are none."""
    if dates.p05 is None or dates.p95 is None:
        return ""
    first, last = short_day(dates.p05)[4:], short_day(dates.p95)[4:]
    if first == last:
        return last
    is_one_month = first.partition(" ")[2] == last.partition(" ")[2]
    return f"{first.partition(' ')[0] if is_one_month else first}-{last}"
