"""Sheets in, pages out: the head, the foot, and fragments one under the other until the page is full."""

from __future__ import annotations

from functools import lru_cache

from shipping.papers.page import layout
from shipping.papers.page.blocks import Sheet, Span
from shipping.papers.page.layout import ACCENT, GREY, SHEET_MARGIN
from shipping.papers.page.lines import set_lines
from shipping.papers.page.primitives import Egg, Fragment, Mark, Matrix, Measure, Page, Placed, Stroke, Text
from shipping.papers.page.typesetting import fragments

_FOOT = 14.0
_QUIET = 3.0
#: A long title is set smaller down to this share before it takes a second line.
_SMALLEST_TITLE = 0.7
#: Rows that belong together are kept on one page up to this share of its height.
_MOST_TOGETHER = 0.35
#: A last page filled up to less than this share of its height is nearly empty.
_NEARLY_EMPTY = 0.3


def pages_of(sheet: Sheet, measure: Measure) -> tuple[Page, ...]:
    """The pages of a sheet; set smaller, by `layout.SCALES`, where that saves a page that it should not have.

    One that should be a single page should not have a second, no sheet a last page that is nearly empty.
    """
    width, height = layout.PAPERS[sheet.paper]
    room = width - 2 * SHEET_MARGIN
    columns = _fill(sheet, room, height, 1.0, measure)
    if len(columns) > 1 and (sheet.one_page or _is_nearly_empty(columns[-1], height)):
        most = 1 if sheet.one_page and not _is_nearly_empty(columns[-1], height) else len(columns) - 1
        smaller = (
            _fill(sheet, room, height, scale, measure)
            for scale in layout.SCALES[1:]
            if scale >= sheet.smallest
        )
        columns = next((fewer for fewer in smaller if len(fewer) <= most), columns)
    return tuple(
        Page(
            width,
            height,
            (
                *column,
                Placed(SHEET_MARGIN, SHEET_MARGIN + _FOOT, _foot(sheet, number, columns, room, measure)),
            ),
        )
        for number, column in enumerate(columns, start=1)
    )


def _is_nearly_empty(page: tuple[Placed, ...], height: float) -> bool:
    return height - min(placed.y - placed.fragment.height for placed in page) < height * _NEARLY_EMPTY


def _fill(
    sheet: Sheet, room: float, height: float, scale: float, measure: Measure
) -> list[tuple[Placed, ...]]:
    """Fragments page by page. A fragment marked ``keep`` moves on together with the one after it."""
    top, floor = height - SHEET_MARGIN, SHEET_MARGIN + _FOOT + 4
    pages: list[list[Placed]] = [[]]
    y = top
    flow = [_head(sheet, room, measure)]
    for block in sheet.blocks:
        flow += fragments(block, room, scale, measure)
    for number, fragment in enumerate(flow):
        needed = _height_together(flow, number, (top - floor) * _MOST_TOGETHER)
        if y - needed < floor and number:
            if not fragment.marks:
                continue
            pages.append([])
            y = top
            running = _running_head(sheet, room, measure)
            pages[-1].append(Placed(SHEET_MARGIN, y, running))
            y -= running.height
            if fragment.again is not None:
                pages[-1].append(Placed(SHEET_MARGIN, y, fragment.again))
                y -= fragment.again.height
        pages[-1].append(Placed(SHEET_MARGIN, y, fragment))
        y -= fragment.height
    return [tuple(page) for page in pages]


def _height_together(flow: list[Fragment], number: int, most: float) -> float:
    """The height of a fragment and of those that belong on its page; beyond ``most`` only the next one is
    kept with it.
    """
    together, ahead = flow[number].height, number
    while flow[ahead].keep and ahead + 1 < len(flow):
        ahead += 1
        together += flow[ahead].height
    if together > most and ahead > number + 1:
        return flow[number].height + flow[number + 1].height
    return together


def _head(sheet: Sheet, room: float, measure: Measure) -> Fragment:
    """The egg, the title and what it is about at the left; the parcel's name and its code at the right."""
    marks: list[Mark] = []
    code = layout.QR_SIDE if sheet.code else 0.0
    if sheet.code:
        marks.append(Matrix(room - code + _QUIET, -code + _QUIET, code - _QUIET, sheet.code))
    right = room - code - (10 if code else 0)
    size = layout.TITLE
    corner = measure(sheet.corner, True) * size * 0.86
    marks.append(Text(right - corner, -size, sheet.corner, size * 0.86, True))
    marks.append(Egg(9, -size + 7.5, 9))
    room_left = right - corner - 40
    title_size = size * max(_SMALLEST_TITLE, min(1.0, room_left / (measure(sheet.title, True) * size + 1)))
    title, deep = set_lines((Span(sheet.title, True),), title_size, room_left, measure)
    marks += [mark._replace(x=mark.x + 27) for mark in title]
    below, below_deep = set_lines((Span(sheet.below),), layout.BODY * 0.95, right - 27, measure, colour=GREY)
    marks += [mark._replace(x=mark.x + 27, y=mark.y - deep) for mark in below]
    bottom = max(deep + below_deep + 5, code + 2)
    marks.append(Stroke(0, -bottom, room, -bottom, 1.6, ACCENT))
    return Fragment(tuple(marks), bottom + 9)


@lru_cache(maxsize=4096)
def _running_head(sheet: Sheet, room: float, measure: Measure) -> Fragment:
    size = layout.BODY
    corner = measure(sheet.corner, True) * size
    marks = (
        Egg(5, -size + 3.5, 5),
        Text(16, -size, sheet.title, size, True),
        Text(room - corner, -size, sheet.corner, size, True),
        Stroke(0, -size - 6, room, -size - 6, 1.0, ACCENT),
    )
    return Fragment(marks, size + 16)


def _foot(
    sheet: Sheet, number: int, columns: list[tuple[Placed, ...]], room: float, measure: Measure
) -> Fragment:
    size = layout.SMALL * 0.94
    words = sheet.footer.replace("{page}", str(number)).replace("{pages}", str(len(columns)))
    left, _, right = words.partition("\t")
    marks: list[Mark] = [
        Stroke(0, 0, room, 0, 0.4, layout.HAIR),
        Text(0, -_FOOT + 3, left, size, False, GREY),
    ]
    if right:
        marks.append(Text(room - measure(right, False) * size, -_FOOT + 3, right, size, False, GREY))
    return Fragment(tuple(marks), _FOOT)
