"""The hour of hand-over on its day: a cut-off, a day and an hour in, what to say once it is past out."""

from __future__ import annotations

from datetime import date

from shipping.words.sentence import say


def past_cut_off(cut_off: str | None, day: date, today: date | None, hour: str) -> str:
    """What to say where the hour is past on its very day; "" where it is not, or nobody knows what ``hour``
    it is.
    """
    if not cut_off or day != today or not cut_off <= hour:
        return ""
    return say("{cut_off} is past: plan for the next day, or say that you handed it over earlier.", cut_off)
