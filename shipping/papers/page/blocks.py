"""What a page says, as data: headings, paragraphs, tables, timelines; how it looks is left to typesetting."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal, NamedTuple

from shipping.papers.page import layout


class Span(NamedTuple):
    """A run of text in one weight."""

    text: str
    bold: bool = False


Spans = tuple[Span, ...]
Align = Literal["left", "right", "centre"]


def plain(text: str) -> Spans:
    return (Span(text),)


def strong(text: str) -> Spans:
    return (Span(text, True),)


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading over what follows; never the last thing on a page."""

    text: str


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Spans set as one paragraph; with a ``marker`` it is an item of a list, ``level`` deep.

    One that is ``kept`` stays on one page with what follows."""

    spans: Spans
    size: float = layout.BODY
    marker: str = ""
    level: int = 0
    quiet: bool = False
    kept: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """Pairs of a small label and a value, side by side."""

    pairs: tuple[tuple[str, str], ...]
    shares: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table; ``share`` of the width."""

    title: str
    share: float
    align: Align = "left"
    size: float = layout.BODY


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of cells, each cell a few lines of spans; a row in ``strong_rows`` is set on a pale ground and
    its cells run on over empty cells to their right. A row in ``kept`` stays on one page with the row after
    it.
    """

    columns: tuple[Column, ...]
    rows: tuple[tuple[tuple[Spans, ...], ...], ...]
    strong_rows: frozenset[int] = frozenset()
    kept: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Lane:
    """One bar of a timeline: from the 5 % day over the 50 % day to the 95 % day; ``words`` and ``span``
    beside it.
    """

    label: str
    begin: date
    middle: date
    end: date
    words: str
    span: str = ""
    solid: bool = True


@dataclass(frozen=True, slots=True)
class Timeline:
    """Bars over days; ``ticks`` are days with the words under them."""

    lanes: tuple[Lane, ...]
    ticks: tuple[tuple[date, str], ...]


@dataclass(frozen=True, slots=True)
class Panel:
    """Blocks in a frame with a bar at its left: what must not be overlooked."""

    blocks: tuple[Block, ...]


class Bar(NamedTuple):
    """One bar of a chart: its words below, its height, the words above it, and whether it is hatched."""

    label: str
    value: float
    words: str
    hatched: bool = False


@dataclass(frozen=True, slots=True)
class Chart:
    """Bars side by side up to ``most``; a dashed line at ``limit`` where there is one."""

    bars: tuple[Bar, ...]
    most: float
    limit: float | None
    limit_words: str
    about: str


Block = Heading | Paragraph | Facts | Table | Timeline | Panel | Chart


@dataclass(frozen=True, slots=True)
class Sheet:
    """A paper of one or more pages. ``corner`` is the large text at the top right, ``code`` the QR code's
    text.

    It is set no smaller than the share ``smallest`` to save a page.
    ``footer`` holds the words of the bottom line; the page number is put in place of ``{page}`` and
    ``{pages}``.
    """

    title: str
    below: str
    corner: str
    blocks: tuple[Block, ...]
    footer: str
    paper: str
    language: str = "en"
    code: str = ""
    one_page: bool = True
    smallest: float = 0.85


@dataclass(frozen=True, slots=True)
class Cut:
    """A small paper of lines: a label or a tag, to be set into a width and height of its own."""

    lines: tuple[Spans, ...]
