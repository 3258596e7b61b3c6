"""Words and blocks in, the library's flowables out, in our type and colours; pages are filled by the book."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from itertools import count
from typing import Any, Literal, NamedTuple
from weakref import ref

from reportlab.lib.enums import TA_CENTER, TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import CondPageBreak, Flowable, Paragraph, Table
from reportlab.platypus.flowables import _listWrapOn
from reportlab.platypus.paraparser import ParaFrag

from shipping.papers.page import layout
from shipping.papers.page.drawing import Surface, colour_of, described
from shipping.papers.page.fonts import BOLD, REGULAR, Typeface
from shipping.papers.page.layout import ACCENT, BLACK, GREY, HAIR, PALE
from shipping.papers.wording.markdown import Heading, Span, Spans, blocks_of

Align = Literal["left", "right", "centre"]
_ALIGNED = {"left": TA_LEFT, "right": TA_RIGHT, "centre": TA_CENTER}
#: A cell of a table: lines of spans, the first in the column's size, the others small.
Cell = Sequence[Spans]
_PAD = 3.5
_INDENT = 11.0
#: So many blocks of a panel are never parted between pages; of more, only the first two.
_TOGETHER = 6
#: So many rows of a table that stay with the next one are never parted; of more, only the first and the last.
ROWS_TOGETHER = 4
#: What is left of a page that only a head stands on, at the least [points].
_NEARLY_A_PAGE = 480.0


class Words(Paragraph):
    """A paragraph that is broken into lines once for a width, and put into page code once for a file, however
    often it stands on paper.

    The code of a paragraph is the same wherever it stands: the library moves the origin to its place first,
    and names the letters of a font alike throughout a file.
    """

    broken_at: float | None = None
    drawn_in: Callable[[], Any] | None = None
    drawn: tuple[Any, ...] = ()

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        if self.broken_at != available_width:
            super().wrap(available_width, available_height)
            self.broken_at, self.drawn_in = available_width, None
        return self.width, self.height

    def draw(self) -> None:
        code, file = self.canv._code, self.canv._doc
        if self.drawn_in is not None and self.drawn_in() is file:
            code.extend(self.drawn)
            return
        before = len(code)
        super().draw()
        self.drawn_in, self.drawn = ref(file), tuple(code[before:])

    def split(self, available_width: float, available_height: float) -> list[Any]:
        self.forget()
        parts = list(super().split(available_width, available_height))
        self.broken_at = None  # the library drops the lines of a paragraph that it tried to part
        return parts

    def forget(self) -> None:
        """Forget that it was moved on to another page: it may stand in another file too."""
        self.__dict__.pop("_postponed", None)


@lru_cache(maxsize=512)
def _style(size: float, colour: str, align: Align, left: float, before: float, after: float) -> Any:
    return ParagraphStyle(
        "words",
        fontName=REGULAR,
        fontSize=size,
        leading=size * layout.LEADING,
        textColor=colour_of(colour),
        alignment=_ALIGNED[align],
        leftIndent=left,
        bulletIndent=max(0.0, left - _INDENT),
        bulletFontName=BOLD,
        bulletFontSize=size,
        bulletColor=colour_of(ACCENT),
        spaceBefore=before,
        spaceAfter=after,
        allowWidows=0,
        allowOrphans=0,
        spaceShrinkage=0,
    )


def _words(spans: Spans, style: Any, marker: str, typeface: Typeface) -> Words:
    named = (run for span in spans for run in typeface.runs(span.text, span.bold))
    runs = [_run(name, part, style) for name, part in named if part]
    return Words("", style, bulletText=marker or None, frags=runs or [_run(REGULAR, "", style)])


@lru_cache(maxsize=16384)
def _shared_words(spans: Spans, style: Any, marker: str, typeface: Typeface, width: float) -> Words:
    """A paragraph that may stand in many places; ``width`` keeps apart what is broken differently."""
    return _words(spans, style, marker, typeface)


def _run(font: str, text: str, style: Any) -> Any:
    """A run of text as the library's paragraphs are made of."""
    look = {"fontName": font, "fontSize": style.fontSize, "textColor": style.textColor}
    return ParaFrag(**look, text=text, rise=0, link=[], us_lines=[])


@dataclass(frozen=True, slots=True)
class PrintedColumn:
    """A column: title, ``share`` of the width, how it is set; ``even``: lower lines are as large."""

    title: str
    share: float
    align: Align = "left"
    size: float = layout.BODY
    even: bool = False


class Lane(NamedTuple):
    """One bar of a timeline: from the 5 % day over the 50 % day, if any, to the 95 % day; words beside it."""

    label: str
    begin: date
    middle: date | None
    end: date
    words: str
    span: str = ""
    solid: bool = True


@dataclass(frozen=True, slots=True)
class Typesetter:
    """Sets words in a typeface at a ``scale`` of the usual sizes into a ``width`` [points]."""

    typeface: Typeface
    width: float
    scale: float = 1.0

    def within(self, width: float) -> Typesetter:
        """The same for another width."""
        return Typesetter(self.typeface, width, self.scale)

    def words(
        self,
        text: str | Spans,
        size: float = layout.BODY,
        *,
        bold: bool = False,
        colour: str = BLACK,
        align: Align = "left",
        marker: str = "",
        level: int = 0,
        before: float = 0.0,
        after: float = layout.GAP,
        keep: bool = False,
    ) -> Words:
        """One paragraph; with a ``marker`` an item of a list; ``keep`` holds it with what follows."""
        spans = (Span(text, bold),) if isinstance(text, str) else text
        left = _INDENT * self.scale * (level + (1 if marker else 0))
        before, after = before * self.scale, (min(after, 2.0) if marker else after) * self.scale
        style = _style(round(max(size * self.scale, layout.SMALLEST), 2), colour, align, left, before, after)
        if not keep:
            return _shared_words(spans, style, marker, self.typeface, self.width)
        own = _words(spans, style, marker, self.typeface)
        own.keepWithNext = True  # the library takes this back where it stands, so that it is one place's own
        return own

    def small(self, text: str | Spans, after: float = layout.GAP, keep: bool = False) -> Words:
        return self.words(text, layout.SMALL, colour=GREY, after=after, keep=keep)

    def heading(self, text: str, size: float = layout.HEADING, keep: bool = True) -> Words:
        """A heading, never the last thing in a column."""
        gap = layout.HEADING_GAP
        return self.words(text, size, bold=True, colour=ACCENT, before=gap, after=2.0, keep=keep)

    def heading_over(self, text: str) -> list[Flowable]:
        """A heading over a table: on the table's first page, without holding all of the table together."""
        return [CondPageBreak(90 * self.scale), self.heading(text, keep=False)]

    def markdown(self, source: str, size: float = layout.BODY) -> list[Flowable]:
        """The blocks of a text in Markdown."""
        return [
            self.heading(block.text, size + 1.2)
            if isinstance(block, Heading)
            else self.words(block.spans, size, marker=block.marker, level=block.level)
            for block in blocks_of(source)
        ]

    def table(
        self,
        columns: Sequence[PrintedColumn],
        rows: Sequence[Sequence[Cell]],
        sums: frozenset[int] = frozenset(),
        kept: frozenset[int] = frozenset(),
    ) -> Table:
        """A table whose head stands again on each page; rows in ``sums`` are set on a pale ground, and their
        cells run on over empty ones at their right. A row in ``kept`` stays with the one after it, as far as
        a page allows.
        """
        kept = _that_fit(kept)
        widths = [self.width * column.share for column in columns]
        head = [self._cell([(Span(c.title),)], c, w, head=True) for c, w in zip(columns, widths, strict=True)]
        data: list[list[Any]] = [head]
        style: list[tuple[Any, ...]] = [*_TABLE, ("LINEBELOW", (0, 0), (-1, 0), 0.9, colour_of(BLACK))]
        for number, row in enumerate(rows, start=1):
            is_sum = number - 1 in sums
            spread = _spread(columns, row) if is_sum else [1] * len(row)
            cells: list[Any] = []
            for at, (column, cell, over) in enumerate(zip(columns, row, spread, strict=True)):
                room = sum(widths[at : at + over])
                cells.append(self._cell(cell, column, room) if cell else "")
                if over > 1:
                    style.append(("SPAN", (at, number), (at + over - 1, number)))
            data.append(cells)
            if is_sum:
                style.append(("BACKGROUND", (0, number), (-1, number), colour_of(PALE)))
            else:
                style.append(("LINEBELOW", (0, number), (-1, number), 0.4, colour_of(HAIR)))
            if number - 1 in kept:
                style.append(("NOSPLIT", (0, number), (0, number + 1)))
        gap = layout.GAP * self.scale
        made = _TallTable(data, colWidths=widths, repeatRows=1, style=style, spaceAfter=gap)
        made.hAlign = "LEFT"
        return made

    def _cell(self, cell: Cell, column: PrintedColumn, width: float, head: bool = False) -> list[Words]:
        inner = self.within(width - 2 * _PAD)
        lines = []
        for position, spans in enumerate(cell):
            is_small = head or (position > 0 and not column.even)
            size = min(column.size, layout.SMALL) if is_small else column.size
            colour = GREY if is_small else BLACK
            size = min(size, inner.size_in_which_words_stay_whole(spans) or size)
            lines.append(inner.words(spans, size, align=column.align, colour=colour, after=0.0))
        return lines

    def size_in_which_words_stay_whole(self, spans: Spans) -> float | None:
        """The largest type size in which no word, as a lot's name, is parted; None: none is."""
        words = ((word, span.bold) for span in spans for word in span.text.split(" "))
        widest = max((self.typeface.measure(*word) for word in words), default=0.0)
        fits = self.width / widest if widest else math.inf
        return (fits - 0.01) / self.scale if fits > layout.SMALLEST else None  # sizes are rounded to that

    def side_by_side(
        self, parts: Sequence[Callable[[Typesetter], list[Flowable]]], shares: Sequence[float]
    ) -> Table:
        """Blocks in columns of the given shares of the width."""
        widths = [self.width * share for share in shares]
        cells = [part(self.within(width - 2 * _PAD)) for part, width in zip(parts, widths, strict=True)]
        return Table([cells], colWidths=widths, style=list(_TABLE), spaceAfter=layout.GAP * self.scale)

    def panel(self, make: Callable[[Typesetter], list[Flowable]]) -> Table:
        """Blocks on a pale ground with a bar at the left: what must not be overlooked; few stay together."""
        blocks = make(self.within(self.width - 4 * _PAD))
        style = [
            ("FONTNAME", (0, 0), (-1, -1), REGULAR),
            ("BACKGROUND", (0, 0), (-1, -1), colour_of(PALE)),
            ("LINEBEFORE", (0, 0), (0, -1), 3, colour_of(ACCENT)),
            ("LEFTPADDING", (0, 0), (-1, -1), 2.5 * _PAD),
            ("RIGHTPADDING", (0, 0), (-1, -1), 1.5 * _PAD),
            ("TOPPADDING", (0, 0), (-1, -1), 1.0),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.0),
            ("TOPPADDING", (0, 0), (-1, 0), 4.0),
            ("BOTTOMPADDING", (0, -1), (-1, -1), 4.0),
        ]
        style.append(("NOSPLIT", (0, 0), (0, -1 if len(blocks) <= _TOGETHER else 1)))
        rows = [[[block]] for block in blocks]
        return _TallTable(rows, colWidths=[self.width], style=style, spaceAfter=layout.GAP * self.scale)

    def timeline(self, lanes: Sequence[Lane], ticks: Sequence[tuple[date, str]]) -> Flowable:
        return _Timeline(self, lanes, ticks)

    def picture(self, width: float, height: float, draw_on: Callable[[Any], None], about: str) -> Flowable:
        """A picture that draws itself on a canvas, read aloud as ``about``."""
        return _Picture(width, height, draw_on, about)

    def height_of(self, story: Sequence[Flowable]) -> float:
        """How high the blocks stand one under the other [points]."""
        blocks = [block for block in story if not isinstance(block, CondPageBreak)]
        return float(_listWrapOn(blocks, self.width, None)[1])


_TABLE = (
    ("FONTNAME", (0, 0), (-1, -1), REGULAR),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), _PAD),
    ("RIGHTPADDING", (0, 0), (-1, -1), _PAD),
    ("TOPPADDING", (0, 0), (-1, -1), 1.5),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2.0),
)


def _that_fit(kept: frozenset[int]) -> frozenset[int]:
    """Of rows that stay with the one after them, those that do without filling more than a page."""
    stay: set[int] = set()
    for first in (row for row in kept if row - 1 not in kept):
        run = range(first, next(row for row in count(first) if row not in kept))
        stay |= set(run) if len(run) <= ROWS_TOGETHER else {run[0], run[-1]}
    return frozenset(stay)


def _spread(columns: Sequence[PrintedColumn], row: Sequence[Cell]) -> list[int]:
    """Over how many columns each cell runs: one set from the left takes the empty ones at its right."""
    over = [1] * len(row)
    for at in range(len(row) - 2, -1, -1):
        if not row[at + 1] and row[at] and columns[at].align == "left":
            run = 1
            while at + run < len(row) and not row[at + run]:
                run += 1
            over[at] = run
    return over


class _TallTable(Table):
    """A table of which a row goes on over the next page only where it is higher than any page."""

    def split(self, width: float, height: float) -> list[Flowable]:
        parts: list[Flowable] = super().split(width, height)
        if not parts and height > _NEARLY_A_PAGE and max(self._rowHeights) > height:
            self.splitInRow = 1
            parts = super().split(width, height)
        return parts


class _Picture(Flowable):
    """What draws itself, in its place."""

    def __init__(self, width: float, height: float, draw_on: Callable[[Any], None], about: str) -> None:
        super().__init__()
        self.width, self.height, self.draw_on, self.about = width, height, draw_on, about

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        with described(self.canv, self.about):
            self.draw_on(self.canv)


class _Timeline(Flowable):
    """Bars over days: words left, days right, ticks below; one that goes on past the last is an arrow."""

    def __init__(self, setter: Typesetter, lanes: Sequence[Lane], ticks: Sequence[tuple[date, str]]) -> None:
        super().__init__()
        self.setter, self.lanes, self.ticks = setter, tuple(lanes), tuple(ticks)
        self.size = layout.BODY * 0.9 * setter.scale
        self.spaceAfter = layout.GAP * setter.scale

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.width = width
        left, right = self.setter.within(width * 0.3 - 8), self.setter.within(width * 0.27 - 10)
        self.rows = []
        for lane in self.lanes:
            label = left.words(lane.label, layout.BODY * 0.9, after=0.0)
            span = Span(f"  ({lane.span})" if lane.span else "")
            days = right.words((Span(lane.words, True), span), layout.BODY * 0.85, after=0.0)
            tall = max(label.wrap(left.width, 1e6)[1], days.wrap(right.width, 1e6)[1])
            self.rows.append((lane, label, days, tall + 2))
        self.height = sum(row[3] for row in self.rows) + self.size + 8
        return width, self.height

    def draw(self) -> None:
        surface = Surface(self.canv, self.setter.typeface)
        left, room = self.width * 0.3, self.width * 0.43
        first, last = self.ticks[0][0], self.ticks[-1][0]
        step = room / max(1, (last - first).days)
        y = self.height
        for lane, label, days, tall in self.rows:
            label.drawOn(self.canv, 0, y - label.height)
            days.drawOn(self.canv, self.width * 0.73 + 10, y - days.height)
            goes_on = lane.end > last
            begin, end = (left + step * (day - first).days for day in (lane.begin, min(lane.end, last)))
            foot, wide, high = y - self.size * 1.15, max(end - begin, 3.0), self.size * 0.85
            fill = ACCENT if lane.solid else layout.WHITE
            surface.box(begin, foot, wide, high, fill=fill, outline=ACCENT, weight=1.1)
            if goes_on:
                surface.words(end + 1, foot, "\u2192", self.size, colour=ACCENT)
            if lane.middle is not None and lane.middle <= last:
                middle = left + step * (lane.middle - first).days
                surface.line(middle, foot - 2, middle, foot + self.size * 0.85 + 2, width=2.0)
            y -= tall
        surface.line(left, y - 1, left + room, y - 1, colour=GREY, width=0.8)
        self._days(surface, left, step, y)

    def _days(self, surface: Surface, left: float, step: float, y: float) -> None:
        size, last_end = max(self.size * 0.88, layout.SMALLEST), -1.0
        for day, words in self.ticks:
            x = left + step * (day - self.ticks[0][0]).days
            wide = self.setter.typeface.measure(words) * size
            start = min(max(x - wide / 2, left - 14), self.width - wide)
            surface.line(x, y - 1, x, y - 4, colour=GREY, width=0.8)
            if start > last_end + 4:
                surface.words(start, y - 5 - size, words, size, colour=GREY)
                last_end = start + wide
