"""Sheets in, one PDF file out: pages with heads, feet, outline, languages; small papers ganged on a grid."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from hashlib import md5
from typing import Any

from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate
from reportlab.platypus.doctemplate import ActionFlowable

from shipping.papers.page import layout
from shipping.papers.page.drawing import Surface, wrapped
from shipping.papers.page.fonts import REGULAR, Typeface
from shipping.papers.page.layout import ACCENT, FOOT, GREY, GUTTER, HAIR, HEAD, MM, SHEET_MARGIN
from shipping.papers.page.typesetter import Typesetter, Words
from shipping.tables.rows.settings import Stickers

#: Blocks of a sheet, made for a setter.
Build = Callable[[Typesetter], list[Flowable]]
#: Draws a page that is no text: labels, tags.
Draw = Callable[[Surface], None]


@dataclass(frozen=True, eq=False)
class PaperSheet:
    """A paper of one or more pages: its head, its foot, and what flows between them.

    ``corner`` is the large text at the top right, ``code`` the QR code's text; ``outline`` is where it stands
    in the file's outline, from the outermost entry in; ``{page}`` in ``foot`` is its page: ``1/2``.
    One with ``fresh_leaf`` never begins on the back of another. With ``draw`` it is one page drawn by hand.
    """

    title: str
    language: str
    paper: str
    story: Sequence[Flowable] = ()
    below: str = ""
    corner: str = ""
    foot: str = ""
    code: str = ""
    outline: tuple[str, ...] = ()
    columns: int = 1
    fresh_leaf: bool = True
    draw: Draw | None = field(default=None, repr=False)


def room_of(paper: str, columns: int = 1, has_code: bool = False) -> tuple[float, float]:
    """Width and height of one column of a sheet, with or without a QR code in its head [points]."""
    width, height = layout.PAPERS[paper]
    inner = width - 2 * SHEET_MARGIN - GUTTER * (columns - 1)
    return inner / columns, height - 2 * SHEET_MARGIN - HEAD[has_code] - FOOT


def fitted(
    build: Build, typeface: Typeface, paper: str, columns: int = 1, pages: int = 1, has_code: bool = False
) -> list[Flowable]:
    """The blocks as large as they fill no more than one page, or so many at sizes that are read with ease;
    where no size does, on as few more as such sizes allow.

    Blocks part between columns, so that a column of several is left a little room.
    """
    width, tall = room_of(paper, columns, has_code)
    usual = Typesetter(typeface, width)
    story = build(usual)
    height, scales = usual.height_of(story), layout.SCALES[1 : None if pages == 1 else 1 + _EASE]
    while height > (room := tall * columns * pages - _SLACK - _PARTED / columns * (columns * pages - 1)):
        for scale in scales:
            if height * scale * scale <= room * _HOPEFUL:
                setter = Typesetter(typeface, width, scale)
                smaller = build(setter)
                if setter.height_of(smaller) <= room:
                    return smaller
        pages, scales = pages + 1, layout.SCALES[1 : 1 + _EASE]
    return story


#: What the sum of blocks may be wrong by, and what is lost where blocks part between pages [points].
_SLACK, _PARTED = 8.0, 60.0
#: A size is not tried where its blocks, which fill some square of it, would be so many times too high.
_HOPEFUL = 1.12
#: So many of the sizes are read with ease: to save a page of several nothing is set smaller.
_EASE = 4


class _Clock:
    """The day of the plan as the library wants its time of writing."""

    def __init__(self, today: date) -> None:
        self.YMDhms = (today.year, today.month, today.day, 0, 0, 0)
        self.dhh = self.dmm = 0


class _Book(BaseDocTemplate):
    """A file of sheets: pages of one size and number of columns share a template."""

    def __init__(
        self, file: io.BytesIO, sheets: Sequence[PaperSheet], typeface: Typeface, **facts: Any
    ) -> None:
        self.typeface, self.two_sided = typeface, facts.pop("two_sided")
        self.sheet: PaperSheet | None = None
        self.begun: PaperSheet | None = None
        self.page_of_sheet = 0
        self.entry: tuple[str, ...] = ()
        self.footed: tuple[PaperSheet, int] | None = None
        self.feet: list[tuple[PaperSheet, int]] = []
        self._doSave = 0  # the library saves at the end of what it builds: see `save`
        kinds = dict.fromkeys(_kind(sheet) for sheet in sheets)
        templates = [self._template(*kind) for kind in kinds]
        super().__init__(
            file,
            pageTemplates=templates,
            invariant=1,
            pageCompression=1,
            initialFontName=REGULAR,
            displayDocTitle=1,
            creator="spawnpost",
            **facts,
        )
        self.afterFlowable = _forget

    def _template(self, paper: str, columns: int, drawn: bool, has_code: bool) -> PageTemplate:
        width, height = layout.PAPERS[paper]
        wide, tall = room_of(paper, columns, has_code) if not drawn else (width, height)
        margin, foot = (0.0, 0.0) if drawn else (SHEET_MARGIN, SHEET_MARGIN + FOOT)
        lefts = (margin + n * (wide + GUTTER) for n in range(columns))
        frames = [Frame(left, foot, wide, tall, 0, 0, 0, 0, id=f"{n}") for n, left in enumerate(lefts)]
        name = _name(paper, columns, drawn, has_code)
        return PageTemplate(name, frames, onPage=_begin_page, onPageEnd=_end_page, pagesize=(width, height))

    def save(self) -> None:
        """Put in the numbers of pages, of which it is known once all are made how many a sheet has."""
        pages = Counter(sheet for sheet, _ in self.feet)
        for number, (sheet, page) in enumerate(self.feet):
            width, height = layout.PAPERS[sheet.paper]
            self.canv.beginForm(f"foot{number}", 0, 0, width, height)
            _page_number(Surface(self.canv, self.typeface), sheet, page, pages[sheet])
            self.canv.endForm()
        self.canv.save()


def _forget(flowable: Flowable) -> None:
    """A paragraph that stands in its place may stand in another file too."""
    if isinstance(flowable, Words):
        flowable.forget()


def _canvas_of(today: date, *given: Any, **named: Any) -> Any:
    """A canvas that takes the day of the plan for its time of writing."""
    canvas = Canvas(*given, **named)
    canvas._doc._timeStamp = _Clock(today)
    canvas._doc.signature = md5(today.isoformat().encode(), usedforsecurity=False)
    return canvas


def _kind(sheet: PaperSheet) -> tuple[str, int, bool, bool]:
    """What sheets must share to share a template: paper, columns, drawn by hand, with a QR code."""
    return sheet.paper, sheet.columns, sheet.draw is not None, bool(sheet.code)


def _name(*kind: object) -> str:
    return "-".join(map(str, kind))


def _begin_page(canvas: Any, book: _Book) -> None:
    """The language of the page, its entry in the outline, and its head."""
    sheet = book.sheet
    book.page_of_sheet += 1
    canvas._code.append(f"/Span <</Lang ({sheet.language if sheet else 'en'})>> BDC")
    if sheet is None:
        return
    if book.page_of_sheet == 1:
        _outline(canvas, book, sheet.outline)
    surface = Surface(canvas, book.typeface)
    if sheet.draw:
        sheet.draw(surface)
    else:
        _head(surface, sheet, book.page_of_sheet == 1)
        book.footed = (sheet, book.page_of_sheet)


def _outline(canvas: Any, book: _Book, path: tuple[str, ...]) -> None:
    """The entries that lead to a sheet, but for those that led to the one before it."""
    for level, name in enumerate(path):
        key = f"p{book.page}.{level}"
        if book.entry[: level + 1] != path[: level + 1]:
            canvas.bookmarkPage(key)
            canvas.addOutlineEntry(name, key, level, closed=level == 0)
    book.entry = path or book.entry


def _end_page(canvas: Any, book: _Book) -> None:
    """The foot comes last, so that a page is read aloud in its order."""
    if book.footed:
        _foot(Surface(canvas, book.typeface), book.footed[0])
        canvas.doForm(f"foot{len(book.feet)}")
        book.feet.append(book.footed)
    book.footed = None
    canvas._code.append("EMC")


def _head(surface: Surface, sheet: PaperSheet, is_first: bool) -> None:
    """The egg, the title and what it is about at the left; the parcel's name and its code at the right."""
    width, height = layout.PAPERS[sheet.paper]
    left, right, top = SHEET_MARGIN, width - SHEET_MARGIN, height - SHEET_MARGIN
    foot = top - HEAD[bool(sheet.code)] + 8
    if sheet.code and is_first:
        right -= layout.QR_SIDE
        surface.qr(right, top - layout.QR_SIDE + 2, layout.QR_SIDE, sheet.code)
        right -= 10
    face, size = surface.typeface, layout.TITLE
    corner = surface.words(right, top - size, sheet.corner, size * 0.84, bold=True, anchor="end")
    room = right - corner - left - 40
    title = min(size, room / max(face.measure(sheet.title, True), 0.01))
    surface.egg(left + 9, top - size + 7, 9)
    surface.words(left + 26, top - size, sheet.title, max(title, 6.0), bold=True)
    lines, below = _below(sheet, right - left - 26, face)
    for number, line in enumerate(lines):
        surface.words(left + 26, top - size - 14 - number * below * 1.22, line, below, colour=GREY)
    surface.line(left, foot, width - SHEET_MARGIN, foot, colour=ACCENT, width=1.4)


def _below(sheet: PaperSheet, room: float, face: Typeface) -> tuple[list[str], float]:
    """The lines under the title, as large as the head holds them."""
    most = 3 if sheet.code else 1
    for size in (9.2, 8.4, 7.6, 6.8):
        lines = wrapped(sheet.below, size, room, face)
        if len(lines) <= most:
            break
    return lines[:most], size


#: Where the words at the foot of a sheet stand, and how large they are [points].
_FOOT_LINE, _FOOT_SIZE = SHEET_MARGIN + 3, layout.SMALL * 0.92


def _foot(surface: Surface, sheet: PaperSheet) -> None:
    width, _ = layout.PAPERS[sheet.paper]
    y = _FOOT_LINE + 10
    surface.line(SHEET_MARGIN, y, width - SHEET_MARGIN, y, colour=HAIR, width=0.4)
    surface.words(SHEET_MARGIN, _FOOT_LINE, sheet.foot.partition("\t")[0], _FOOT_SIZE, colour=GREY)


def _page_number(surface: Surface, sheet: PaperSheet, page: int, pages: int) -> None:
    width, _ = layout.PAPERS[sheet.paper]
    words = sheet.foot.partition("\t")[2].replace("{page}", f"{page}/{pages}")
    surface.words(width - SHEET_MARGIN, _FOOT_LINE, words, _FOOT_SIZE, colour=GREY, anchor="end")


class _Begin(ActionFlowable):
    """Begins a sheet: on a new page, and on a fresh leaf where it wants one and both sides are printed on."""

    def __init__(self, sheet: PaperSheet) -> None:
        super().__init__()
        self.sheet = sheet

    def apply(self, book: _Book) -> None:
        template = _name(*_kind(self.sheet))
        if book.page and book.two_sided and self.sheet.fresh_leaf and book.page % 2 and book.begun:
            book.sheet = None
            book.handle_pageBreak()
            book.clean_hanging()
        book.sheet, book.page_of_sheet = self.sheet, 0
        book.handle_nextPageTemplate(template)
        if book.begun:
            book.handle_pageBreak()
        book.begun = self.sheet


def _story(sheets: Sequence[PaperSheet]) -> Iterator[Flowable]:
    for number, sheet in enumerate(sheets):
        if number:
            yield _Begin(sheet)
        yield from sheet.story
        if sheet.draw:
            yield _Drawn()


class _Drawn(Flowable):
    """Nothing to see: the page it is on was drawn when it began."""

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        return 0.0, 1.0

    def draw(self) -> None:
        return None


def bound(
    sheets: Sequence[PaperSheet],
    typeface: Typeface,
    *,
    title: str,
    author: str,
    subject: str,
    today: date,
    two_sided: bool = True,
) -> bytes:
    """A PDF file of the sheets, at least one: the same bytes for the same sheets, words and day.

    Notes
    -----
    The file carries its title, its first language, a language for each page, its reading order (that of the
    sheets) and an outline. It is not a tagged PDF: the library writes no structure tree.
    """
    rl_config.useA85 = 0
    file = io.BytesIO()
    facts = {"title": title, "author": author, "subject": subject, "lang": sheets[0].language}
    book = _Book(file, sheets, typeface, **facts, two_sided=two_sided)
    book.sheet = book.begun = sheets[0]
    book.build(list(_story(sheets)), canvasmaker=partial(_canvas_of, today))
    book.save()
    return file.getvalue()


#: Draws one small paper at (left, top) of a width and height [points].
DrawCell = Callable[[Surface, float, float, float, float], None]
#: No printer prints nearer to the edge than this [points].
_EDGE = 5 * MM
_MARK = 8.0


@dataclass(frozen=True, slots=True)
class Grid:
    """Rows and columns of cells of one size, with the first one's corner and the gaps [points]."""

    rows: int
    columns: int
    width: float
    height: float
    left: float
    top: float
    gap_x: float = 0.0
    gap_y: float = 0.0

    @staticmethod
    def of_stickers(stickers: Stickers, paper: str) -> Grid:
        """The grid of a sheet of stickers."""
        return Grid(
            stickers.rows,
            stickers.columns,
            stickers.width_mm * MM,
            stickers.height_mm * MM,
            stickers.left_mm * MM,
            layout.PAPERS[paper][1] - stickers.top_mm * MM,
            stickers.gap_x_mm * MM,
            stickers.gap_y_mm * MM,
        )

    def corner(self, place: int) -> tuple[float, float]:
        """Left and top of a cell, counted row by row from 0."""
        row, column = divmod(place, self.columns)
        return self.left + column * (self.width + self.gap_x), self.top - row * (self.height + self.gap_y)


def shared_grid(paper: str, size: tuple[float, float] | None = None) -> Grid:
    """A sheet shared evenly by six rows of two, or by as many cells of a ``size`` as it holds."""
    width, height = layout.PAPERS[paper]
    columns, rows = 2, 6
    if size is None:
        size = (width - 2 * _EDGE) / columns, (height - 2 * _EDGE) / rows
    else:
        columns, rows = int((width - 2 * _EDGE) / size[0]), int((height - 2 * _EDGE) / size[1])
    left, top = (width - columns * size[0]) / 2, height - (height - rows * size[1]) / 2
    return Grid(rows, columns, *size, left, top)


def grid_sheets(
    cells: Sequence[DrawCell],
    grid: Grid,
    paper: str,
    language: str,
    *,
    outline: tuple[str, ...] = (),
    first: int = 1,
    cut: bool = True,
    fresh_leaf: bool = True,
) -> tuple[PaperSheet, ...]:
    """The cells row by row, from cell ``first`` of the first sheet; ``cut`` draws marks at their corners."""
    a_sheet = grid.rows * grid.columns
    places = [
        divmod(number, a_sheet) for number in range((first - 1) % a_sheet, (first - 1) % a_sheet + len(cells))
    ]
    count = places[-1][0] + 1 if places else 0

    def drawing(number: int) -> Callable[[Surface], None]:
        def draw(surface: Surface) -> None:
            for cell, (sheet, place) in zip(cells, places, strict=True):
                if sheet == number:
                    left, top = grid.corner(place)
                    if cut:
                        _corners(surface, left, top, grid.width, grid.height)
                    cell(surface, left, top, grid.width, grid.height)

        return draw

    return tuple(
        PaperSheet("", language, paper, draw=drawing(n), outline=outline, fresh_leaf=fresh_leaf)
        for n in range(count)
    )


def _corners(surface: Surface, left: float, top: float, width: float, height: float) -> None:
    for x, inward in ((left, 1), (left + width, -1)):
        for y, down in ((top, -1), (top - height, 1)):
            surface.line(x, y, x + inward * _MARK, y, colour=GREY, width=0.4)
            surface.line(x, y, x, y + down * _MARK, colour=GREY, width=0.4)


def grid_problem(stickers: Stickers, paper: str) -> str | None:
    """Why the stickers do not fit the paper, or None."""
    width, height = (side / MM for side in layout.PAPERS[paper])
    wide, tall = stickers.span_mm
    if wide > width + 0.5 or tall > height + 0.5:
        return f"the stickers take {wide:.1f} x {tall:.1f} mm, the paper has {width:.1f} x {height:.1f} mm"
    if stickers.width_mm < 25 or stickers.height_mm < 12:
        return f"a sticker of {stickers.width_mm:g} x {stickers.height_mm:g} mm is too small to print on"
    return None
