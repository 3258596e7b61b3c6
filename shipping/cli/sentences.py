"""Reasons and days in, English for the terminal out, whatever the papers are in."""

from __future__ import annotations

from collections.abc import Iterable

from shipping.papers.wording.phrases import cause, english, next_step, note_text
from shipping.words.reasons import CODES, Note, Reason, Verdict


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
