"""A chart and the room it has in, marks out: bars with words, a limit, never told by colour alone."""

from __future__ import annotations

from shipping.papers.page import layout
from shipping.papers.page.layout import ACCENT, BLACK, GREY, HAIR
from shipping.papers.page.primitives import Box, Mark, Measure, Picture, Stroke, Text


def chart_marks(picture: Picture, measure: Measure) -> list[Mark]:
    """Bars from a common foot; hatched bars are hatched, and every bar carries its figure in words."""
    chart, size = picture.chart, layout.SMALL
    foot = picture.y + 2.6 * size
    room = picture.height - 6.4 * size
    step = picture.width / max(1, len(chart.bars))
    wide = min(step * 0.62, 58.0)
    most = max(chart.most, chart.limit or 0.0, 1.0)
    marks: list[Mark] = [Text(picture.x, picture.y + picture.height - size, chart.about, size, False, GREY)]
    for number, bar in enumerate(chart.bars):
        left = picture.x + step * number + (step - wide) / 2
        tall = room * bar.value / most
        if tall:
            marks.append(Box(left, foot, wide, tall, None if bar.hatched else ACCENT, ACCENT, 1.2))
        if bar.hatched:
            marks += _hatching(left, foot, wide, tall)
        middle = left + wide / 2
        marks.append(_centred(bar.words, middle, foot + tall + 4, size * 1.1, True, measure))
        marks.append(_centred(bar.label, middle, foot - 1.5 * size, size * 1.05, False, measure))
    marks.append(Stroke(picture.x, foot, picture.x + picture.width, foot, 0.9, BLACK))
    if chart.limit is not None:
        y = foot + room * chart.limit / most
        marks.append(Stroke(picture.x, y, picture.x + picture.width, y, 0.9, GREY, 4))
        wide_words = measure(chart.limit_words, False) * size
        marks.append(
            Text(picture.x + picture.width - wide_words, y + 3, chart.limit_words, size, False, GREY)
        )
    else:
        marks.append(Stroke(picture.x, foot + room, picture.x + picture.width, foot + room, 0.3, HAIR))
    return marks


def _hatching(left: float, foot: float, wide: float, tall: float) -> list[Mark]:
    """Slanting lines inside a bar."""
    lines: list[Mark] = []
    offset = 6.0
    while offset < wide + tall:
        start = (left + min(offset, wide), foot + max(0.0, offset - wide))
        end = (left + max(0.0, offset - tall), foot + min(offset, tall))
        lines.append(Stroke(*start, *end, 0.9, ACCENT))
        offset += 6.0
    return lines


def _centred(text: str, middle: float, y: float, size: float, bold: bool, measure: Measure) -> Text:
    return Text(middle - measure(text, bold) * size / 2, y, text, size, bold)
