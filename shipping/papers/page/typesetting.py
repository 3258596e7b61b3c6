"""Blocks and a way to measure text in, fragments of a given width out; pages are filled elsewhere."""

from __future__ import annotations

from functools import lru_cache

from shipping.papers.page import layout
from shipping.papers.page.blocks import (
    Block,
    Chart,
    Column,
    Facts,
    Heading,
    Panel,
    Paragraph,
    Span,
    Spans,
    Table,
    Timeline,
)
from shipping.papers.page.layout import ACCENT, BLACK, GREY, HAIR, PALE
from shipping.papers.page.lines import moved, set_lines
from shipping.papers.page.primitives import Box, Fragment, Mark, Measure, Picture, Stroke, Text

_PAD = 4.0
_PANEL_PAD = 9.0
_INDENT = 15.0
#: A panel up to this height is not parted over two pages [points].
_SHORT_PANEL = 190.0


@lru_cache(maxsize=16384)
def fragments(block: Block, width: float, scale: float, measure: Measure) -> tuple[Fragment, ...]:
    """The fragments of one block, in the order they stand on the page."""
    match block:
        case Heading():
            return (_heading(block, width, scale, measure),)
        case Paragraph():
            return (_paragraph(block, width, scale, measure),)
        case Facts():
            return (_facts(block, width, scale, measure),)
        case Table():
            return _table(block, width, scale, measure)
        case Timeline():
            return (_timeline(block, width, scale, measure),)
        case Panel():
            return _panel(block, width, scale, measure)
        case Chart():
            height = 150.0 * scale
            return (Fragment((Picture(0, -height, width, height, block),), height + layout.GAP),)


def _heading(block: Heading, width: float, scale: float, measure: Measure) -> Fragment:
    marks, height = set_lines(
        (Span(block.text, True),), layout.HEADING * scale, width, measure, colour=ACCENT
    )
    above = layout.HEADING_GAP * scale
    return Fragment(tuple(moved(marks, 0, -above)), above + height + 1.5, keep=True)


def _paragraph(block: Paragraph, width: float, scale: float, measure: Measure) -> Fragment:
    size = block.size * scale
    left = _INDENT * scale * (block.level + (1 if block.marker else 0))
    colour = GREY if block.quiet else BLACK
    marks, height = set_lines(block.spans, size, width - left, measure, colour=colour)
    marks = moved(marks, left, 0)
    if block.marker:
        marks.insert(0, Text(left - _INDENT * scale, -size, block.marker, size, True, ACCENT))
    gap = (2.5 if block.marker else layout.GAP) * scale
    return Fragment(tuple(marks), height + gap, keep=block.kept)


def _facts(block: Facts, width: float, scale: float, measure: Measure) -> Fragment:
    shares = block.shares or tuple(1 / len(block.pairs) for _ in block.pairs)
    marks: list[Mark] = []
    x, deepest = 0.0, 0.0
    for (label, value), share in zip(block.pairs, shares, strict=True):
        wide = width * share - 8
        name, name_height = set_lines((Span(label),), layout.SMALL * scale, wide, measure, colour=GREY)
        lines = value.split("\n")
        marks += moved(name, x, 0)
        y = -name_height
        for number, line in enumerate(lines):
            size = (layout.BODY if number == 0 else layout.SMALL + 0.8) * scale
            body, height = set_lines((Span(line, number == 0),), size, wide, measure)
            marks += moved(body, x, y)
            y -= height
        deepest = min(deepest, y)
        x += width * share
    return Fragment(tuple(marks), -deepest + layout.GAP * scale)


def _edges(columns: tuple[Column, ...], width: float) -> list[tuple[float, float]]:
    """Left end and inner width of each column."""
    edges, x = [], 0.0
    for column in columns:
        edges.append((x + (_PAD if x else 0.0), width * column.share - (2 * _PAD if x else _PAD)))
        x += width * column.share
    return edges


def _table(block: Table, width: float, scale: float, measure: Measure) -> tuple[Fragment, ...]:
    edges = _edges(block.columns, width)
    head: list[Mark] = []
    deep = 0.0
    for column, (x, wide) in zip(block.columns, edges, strict=True):
        marks, height = set_lines(
            (Span(column.title),), layout.SMALL * scale, wide, measure, align=column.align, colour=GREY
        )
        head += moved(marks, x, 0)
        deep = max(deep, height)
    head.append(Stroke(0, -deep - 2, width, -deep - 2, 0.9, BLACK))
    top = Fragment(tuple(head), deep + 3, keep=True)
    rows = [_row(block, number, edges, width, scale, measure, top) for number in range(len(block.rows))]
    return (top, *rows, Fragment((), layout.GAP * scale))


def _spread(
    columns: tuple[Column, ...], edges: list[tuple[float, float]], row: tuple[tuple[Spans, ...], ...]
) -> list[tuple[float, float]]:
    """The edges, where a cell set from the left also has the room of the empty cells to its right."""
    wider = list(edges)
    for number in range(len(row) - 2, -1, -1):
        if not row[number + 1] and columns[number].align == "left":
            x, _ = wider[number]
            next_x, next_wide = wider[number + 1]
            wider[number] = (x, next_x + next_wide - x)
    return wider


def _row(
    block: Table,
    number: int,
    edges: list[tuple[float, float]],
    width: float,
    scale: float,
    measure: Measure,
    top: Fragment,
) -> Fragment:
    marks: list[Mark] = []
    deep = 0.0
    row = block.rows[number]
    own_edges = _spread(block.columns, edges, row) if number in block.strong_rows else edges
    cells = list(zip(block.columns, own_edges, row, strict=True))
    tallest = max((column.size for column, _, cell in cells if cell), default=0.0)
    for column, (x, wide), cell in cells:
        y = -(3.0 + tallest - column.size) * scale
        for position, spans in enumerate(cell):
            size = column.size if position == 0 else min(column.size, layout.SMALL + 0.6)
            lines, height = set_lines(
                spans,
                size * scale,
                wide,
                measure,
                align=column.align,
                colour=BLACK if position == 0 else GREY,
            )
            marks += moved(lines, x, y)
            y -= height
        deep = max(deep, -y)
    height = deep + 2.0 * scale
    if number in block.strong_rows:
        marks.insert(0, Box(0, -height, width, height, fill=PALE))
    else:
        marks.append(Stroke(0, -height, width, -height, 0.4, HAIR))
    return Fragment(tuple(marks), height, keep=number in block.kept, again=top)


def _timeline(block: Timeline, width: float, scale: float, measure: Measure) -> Fragment:
    """Bars over days: words at the left, the bar in the middle, its days at the right, the ticks below."""
    left, right = width * 0.28, width * 0.29
    first = block.ticks[0][0]
    length = max(1, (block.ticks[-1][0] - first).days)
    room = width - left - right

    def at(days: int) -> float:
        return left + room * days / length

    marks: list[Mark] = []
    y, size = -2.0 * scale, layout.BODY * 0.92 * scale
    for lane in block.lanes:
        label, label_deep = set_lines((Span(lane.label),), size, left - 8, measure)
        words, words_deep = set_lines((Span(lane.words, True),), size, right - 10, measure)
        if lane.span:
            span, span_deep = set_lines((Span(lane.span),), size * 0.88, right - 10, measure, colour=GREY)
            words += moved(span, 0, -words_deep)
            words_deep += span_deep
        deep = max(label_deep, words_deep)
        begin, middle, end = ((day - first).days for day in (lane.begin, lane.middle, lane.end))
        bar_y, bar = y - size * 1.15, size * 0.9
        marks += [*moved(label, 0, y), *moved(words, width - right + 10, y)]
        marks.append(
            Box(
                at(begin),
                bar_y,
                max(at(end) - at(begin), 3.0),
                bar,
                fill=ACCENT if lane.solid else layout.WHITE,
                outline=ACCENT,
                weight=1.1,
            )
        )
        marks.append(Stroke(at(middle), bar_y - 2.5, at(middle), bar_y + bar + 2.5, 2.2, BLACK))
        y -= deep + 3 * scale
    marks.append(Stroke(left, y - 2, left + room, y - 2, 0.8, GREY))
    small, last_end = layout.SMALL * 0.92 * scale, -1.0
    for day, words_below in block.ticks:
        x, wide = at((day - first).days), measure(words_below, False) * small
        start = min(max(x - wide / 2, left - 14), width - wide)
        marks.append(Stroke(x, y - 2, x, y - 5, 0.8, GREY))
        if start > last_end + 4:
            marks.append(Text(start, y - 6 - small, words_below, small, False, GREY))
            last_end = start + wide
    return Fragment(tuple(marks), -y + 10 + small)


def _panel(block: Panel, width: float, scale: float, measure: Measure) -> tuple[Fragment, ...]:
    """A fragment for each of the panel's own, on one ground that runs on, so that a long panel can cross a
    page.
    """
    pad = _PANEL_PAD * scale
    inner = [one for part in block.blocks for one in fragments(part, width - 2 * pad - 4, scale, measure)]
    is_short = sum(fragment.height for fragment in inner) < _SHORT_PANEL
    pieces: list[Fragment] = []
    for number, fragment in enumerate(inner):
        above = pad * 0.55 if number == 0 else 0.0
        below = pad * 0.35 if number == len(inner) - 1 else 0.0
        height = above + fragment.height + below
        ground: list[Mark] = [
            Box(0, -height - 0.2, width, height + 0.4, fill=PALE),
            Box(0, -height - 0.2, 3, height + 0.4, fill=ACCENT),
        ]
        marks = (*ground, *moved(fragment.marks, pad + 4, -above))
        is_title = (number == 0 and len(inner) > 1) or fragment.keep
        pieces.append(Fragment(marks, height, keep=is_title or (is_short and number < len(inner) - 1)))
    return (*pieces, Fragment((), layout.GAP * scale))
