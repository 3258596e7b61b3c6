"""Reasons and days in, English for the terminal out, whatever the papers are in."""

from __future__ import annotations

from functools import lru_cache

from shipping.papers.wording.catalogue import cause, next_step, note_text
from shipping.papers.wording.phrases import Wording
from shipping.week.plan_data import Dates
from shipping.words.reasons import Note, Reason
from shipping.words.units import short_day


@lru_cache(maxsize=1)
def _english() -> Wording:
    return Wording(None, "en")


def reason_text(reason: Reason, lines: int = 1) -> str:
    """The reason as a breeder is told it, for so many lines."""
    return cause(reason, _english(), lines)


def step_text(reason: Reason) -> str:
    """What to do about it, as a sentence begins."""
    step = next_step(reason, _english())
    return step[:1].upper() + step[1:]


def note_line(note: Note) -> str:
    """What rows for just these days decided, in words."""
    return note_text(note, _english())


def span(dates: Dates) -> str:
    """``2-9 Dec``: the days between which nearly all arrive or hatch; "" where there are none."""
    if dates.p05 is None or dates.p95 is None:
        return ""
    first, last = short_day(dates.p05)[4:], short_day(dates.p95)[4:]
    if first == last:
        return last
    is_one_month = first.partition(" ")[2] == last.partition(" ")[2]
    return f"{first.partition(' ')[0] if is_one_month else first}-{last}"
