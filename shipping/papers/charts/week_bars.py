"""Parcels a day as bars with words: counts and a limit in, a picture out; never told by colour alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from shipping.papers.charts.pictures import BLACK, BLUE, GREY, HAIR, Sketch, sketch


class Bar(NamedTuple):
    """One day: its name, its parcels, and is it full?"""

    label: str
    parcels: int
    is_full: bool


def week_bars(
    bars: Sequence[Bar], limit: int | None, limit_words: str, about: str, size: tuple[float, float]
) -> Sketch:
    """Bars from a common foot; a full day's is hatched, and every bar carries its figure."""
    width, height = size
    told = ", ".join(f"{bar.label}: {bar.parcels}" for bar in bars)
    sheet = sketch(width, height, about, f"{about}: {told}")
    foot, room = 22.0, height - 54.0
    step = width / max(1, len(bars))
    wide = min(step * 0.62, 58.0)
    most = max(1, limit or 0, *(bar.parcels for bar in bars))
    sheet.text(0, height - 9, about, 8.5, colour=GREY)
    for number, bar in enumerate(bars):
        left, tall = step * number + (step - wide) / 2, room * bar.parcels / most
        if tall:
            sheet.box(left, foot, wide, tall, None if bar.is_full else BLUE, BLUE)
        if bar.is_full:
            _hatching(sheet, left, foot, wide, tall)
        sheet.text(left + wide / 2, foot + tall + 4, str(bar.parcels), 9.5, bold=True, anchor="middle")
        sheet.text(left + wide / 2, foot - 13, bar.label, 9, anchor="middle")
    sheet.line(0, foot, width, foot, BLACK, 0.9)
    y = foot + room * (limit or most) / most
    sheet.line(0, y, width, y, GREY if limit else HAIR, 0.9 if limit else 0.3, (4, 4) if limit else ())
    if limit:
        sheet.text(width, y + 3, limit_words, 8.5, colour=GREY, anchor="end")
    return sheet


def _hatching(sheet: Sketch, left: float, foot: float, wide: float, tall: float) -> None:
    """Slanting lines inside a bar."""
    offset = 6.0
    while offset < wide + tall:
        begin = (left + min(offset, wide), foot + max(0.0, offset - wide))
        end = (left + max(0.0, offset - tall), foot + min(offset, tall))
        sheet.line(*begin, *end, BLUE, 0.9)
        offset += 6.0
