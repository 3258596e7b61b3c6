"""A picture and a day in, SVG or PDF bytes out; bars of parcels a day and the curve of hatching on the way,
too.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple
from xml.sax.saxutils import escape

from shipping.papers.charts import pictures
from shipping.papers.page.drawing import colour_of
from shipping.papers.page.fonts import BOLD, REGULAR, font_of, letters_lacking, measure
from shipping.papers.wording.language import bench_day, clean
from shipping.papers.wording.language import day as long_day
from shipping.questions.risk_curve import CurveLine, RiskCurve, curve_notes, height
from shipping.words.sentence import Sentence, either, say
from shipping.words.units import percent

_NAMES = (REGULAR, BOLD)
#: Where an SVG is seen without DejaVu, a face of the same widths is asked for.
_FAMILY = "DejaVu Sans, Verdana, sans-serif"
#: Told apart by nearly everyone (Okabe and Ito, Color Universal Design, 2008).
BLUE, VERMILLION, GREEN, PURPLE, SKY, ORANGE = (
    "#0072B2",
    "#D55E00",
    "#009E73",
    "#CC79A7",
    "#56B4E9",
    "#E69F00",
)
BLACK, GREY, HAIR, PALE, WHITE = "#000000", "#525252", "#B8B8B8", "#F0F2F4", "#FFFFFF"
KINDS_OF_FILE = ("svg", "pdf")


def kind_of(name: str) -> str | None:
    """``svg`` or ``pdf`` by a file's ending, None for any other."""
    kind = name.rpartition(".")[2].lower() if "." in name else ""
    return kind if kind in KINDS_OF_FILE else None


@dataclass(frozen=True, eq=False)
class Sketch:
    """A drawing surface in points, y upwards; ``title`` and ``about`` are read aloud to who cannot see it.
    ``words`` says each sentence made by ``say`` in the ``language``; what is the breeder's own stays.
    """

    width: float
    height: float
    title: str
    about: str
    drawing: Any
    language: str = "en"
    words: Callable[[str], str] = str

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float = 8,
        *,
        bold: bool = False,
        colour: str = BLACK,
        anchor: str = "start",
        most: float = math.inf,
    ) -> None:
        """Words on a baseline; lacking letters as question marks, cut short beyond ``most`` [points]."""
        from reportlab.graphics.shapes import String

        said = clean(self.words(words) if isinstance(words, Sentence) else words)
        for letter in letters_lacking(said):
            said = said.replace(letter, "?")
        if measure(said, bold) * size > most:
            while said and measure(f"{said}\u2026", bold) * size > most:
                said = said[:-1]
            said += "\u2026"
        # SVG turns the sheet over by whole numbers: a baseline on a half point stays where it is.
        at = round(y * 2) / 2
        style = {"fontName": _NAMES[bold], "fontSize": size, "fillColor": colour_of(colour)}
        self.drawing.add(String(x, at, said, **style, textAnchor=anchor))

    def line(
        self,
        x: float,
        y: float,
        to_x: float,
        to_y: float,
        colour: str = BLACK,
        width: float = 0.7,
        dash: tuple[float, ...] = (),
    ) -> None:
        self.path([(x, y), (to_x, to_y)], colour, width, dash)

    def path(
        self, points: list[tuple[float, float]], colour: str, width: float, dash: tuple[float, ...] = ()
    ) -> None:
        """A line through points; an empty ``dash`` is unbroken."""
        from reportlab.graphics.shapes import PolyLine

        flat = [round(value, 2) for point in points for value in point]
        style = {"strokeColor": colour_of(colour), "strokeWidth": width, "strokeLineCap": 0}
        self.drawing.add(PolyLine(flat, **style, strokeDashArray=list(dash) or None))

    def box(
        self, x: float, y: float, width: float, height: float, fill: str | None, outline: str | None = None
    ) -> None:
        from reportlab.graphics.shapes import Rect

        colours = {
            "fillColor": colour_of(fill) if fill else None,
            "strokeColor": colour_of(outline) if outline else None,
        }
        corner_and_size = (round(value, 2) for value in (x, y, width, height))
        self.drawing.add(Rect(*corner_and_size, **colours, strokeWidth=0.8))

    def mark(self, x: float, y: float, shape: str, colour: str, filled: bool, size: float = 3.4) -> None:
        """A small circle, square, diamond or triangle round a point."""
        from reportlab.graphics.shapes import Circle, Polygon

        inside = {
            "fillColor": colour_of(colour if filled else WHITE),
            "strokeColor": colour_of(colour),
            "strokeWidth": 1.3,
        }
        if shape == "circle":
            self.drawing.add(Circle(round(x, 2), round(y, 2), size, **inside))
            return
        corners = {
            "square": ((-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)),
            "diamond": ((0, -1.3), (1.3, 0), (0, 1.3), (-1.3, 0)),
            "triangle": ((-1.1, -0.9), (1.1, -0.9), (0, 1.2)),
        }[shape]
        points = [round(at, 2) for dx, dy in corners for at in (x + dx * size, y + dy * size)]
        self.drawing.add(Polygon(points, **inside))

    def draw_on(self, canvas: Any) -> None:
        """Draw it on a canvas, its lower left corner at the canvas's own.

        Drawings begin in a font that the file would not carry, though no word is set in it.
        """
        from reportlab.graphics import renderPDF

        set_font = canvas.setFont
        canvas.setFont = lambda name, *sizes: set_font(name if name in _NAMES else REGULAR, *sizes)
        renderPDF.draw(self.drawing, canvas, 0, 0)
        del canvas.setFont


def sketch(
    width: float,
    height: float,
    title: str,
    about: str,
    language: str = "en",
    words: Callable[[str], str] = str,
) -> Sketch:
    """An empty white sheet."""
    from reportlab.graphics.shapes import Drawing

    for bold in (False, True):
        font_of(bold)
    drawing = Drawing(width, height)
    sheet = Sketch(width, height, clean(words(title)), clean(words(about)), drawing, language, words)
    sheet.box(0, 0, width, height, WHITE)
    return sheet


def svg_bytes(sheet: Sketch) -> bytes:
    """The picture as SVG: the same bytes for the same picture."""
    from reportlab.graphics import renderSVG

    weights = zip(_NAMES, ("normal", "bold"), strict=True)
    faces = {name: {"family": _FAMILY, "weight": weight} for name, weight in weights}
    options = {"fontHacks": faces, "svgAttrs": {"role": "img"}}
    drawn = renderSVG.drawToString(sheet.drawing, **options)
    text = drawn.decode("utf-8") if isinstance(drawn, bytes) else str(drawn)
    text = text.replace("<title>...</title>", f"<title>{escape(sheet.title)}</title>", 1)
    return text.replace("<desc>...</desc>", f"<desc>{escape(sheet.about)}</desc>", 1).encode("utf-8")


def pdf_bytes(sheets: Sequence[Sketch]) -> bytes:
    """Pictures, at least one, as the pages of one PDF file."""
    from reportlab.pdfgen.canvas import Canvas

    file = io.BytesIO()
    first = sheets[0]
    size = (first.width, first.height)
    canvas = Canvas(file, pagesize=size, invariant=1, initialFontName=REGULAR, lang="en")
    canvas.setTitle(first.title)
    canvas.setSubject("; ".join(sheet.about for sheet in sheets))
    canvas.setCreator("spawnpost")
    for sheet in sheets:
        canvas.setPageSize((sheet.width, sheet.height))
        sheet.draw_on(canvas)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


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
    y = foot + room * (limit or most) / most
    sheet.line(0, y, width, y, GREY if limit else HAIR, 0.9 if limit else 0.3, (4, 4) if limit else ())
    for number, bar in enumerate(bars):
        left, tall = step * number + (step - wide) / 2, room * bar.parcels / most
        if tall:
            sheet.box(left, foot, wide, tall, None if bar.is_full else BLUE, BLUE)
        if bar.is_full:
            _hatching(sheet, left, foot, wide, tall)
        sheet.box(left, foot + tall + 1, wide, 12, WHITE)  # the line of the limit does not cross a figure
        sheet.text(left + wide / 2, foot + tall + 4, str(bar.parcels), 9.5, bold=True, anchor="middle")
        sheet.text(left + wide / 2, foot - 13, bar.label, 9, anchor="middle")
    sheet.line(0, foot, width, foot, BLACK, 0.9)
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


_WIDTH, _LEFT, _RIGHT = 800, 214, 34
_PLOT, _ROW, _HEAD = 250, 31, 64
_TICKS = (0.0, 0.01, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0)
#: Colour, dash and mark of each line: any one of the three tells them apart.
_STYLES: tuple[tuple[str, tuple[float, ...], str], ...] = (
    (pictures.BLUE, (), "circle"),
    (pictures.VERMILLION, (7, 3), "square"),
    (pictures.GREEN, (2, 2.5), "diamond"),
    (pictures.PURPLE, (9, 3, 2, 3), "triangle"),
    (pictures.ORANGE, (12, 3), "circle"),
    (pictures.SKY, (4, 2, 1, 2, 1, 2), "square"),
)


def figure(share: float, language: str = "en") -> str:
    """A share in a column of percent: ``8.0``, ``<0.1``, ``>99.9``; with the language's decimal point."""
    from babel.numbers import get_decimal_symbol

    said = percent(share).removesuffix(" %").replace("under ", "<").replace("over ", ">")
    return said.replace(".", get_decimal_symbol(language))


def risk_picture(
    curve: RiskCurve, language: str = "en", words: Callable[[str], str] = str
) -> pictures.Sketch:
    """The drawing of a curve that has at least one line; ``words`` says its sentences in the language."""
    notes = [
        say(
            "Heavy figure, full mark: may go in one of these packings. Light figure, empty mark: something"
            " stands in the way."
        ),
        *curve_notes(curve),
    ]
    below = 30 + _ROW * len(curve.lines) + 12 * len(notes) + 16
    title = say("Lot {lot} to {to}: share hatching on the way, per egg", curve.lot, curve.to)
    sheet = pictures.sketch(_WIDTH, _HEAD + _PLOT + below, title, _about(curve), language, words)
    plot = _Plot(sheet, curve, float(below))
    sheet.text(20, sheet.height - 28, title, 14, bold=True)
    reckoned = say("By dispatch day, as reckoned on {day}", long_day(curve.today, language))
    sheet.text(20, sheet.height - 44, reckoned, 9, colour=pictures.GREY)
    plot.frame()
    plot.ceilings()
    for number in range(len(curve.lines)):
        plot.line(number)
    plot.names()
    plot.figures()
    for number, note in enumerate(notes):
        sheet.text(20, 14 + 12 * (len(notes) - 1 - number), note, 8, colour=pictures.GREY)
    return sheet


def _about(curve: RiskCurve) -> str:
    """All figures as words, for who cannot see the picture."""
    rows = (
        f"{line.words}: " + ", ".join(f"{p.day} {percent(p.h_per_egg)}" for p in line.points)
        for line in curve.lines
    )
    return "; ".join(rows) + "."


class _Plot:
    """Where days and shares stand on the sheet."""

    def __init__(self, sheet: pictures.Sketch, curve: RiskCurve, foot: float) -> None:
        self.sheet, self.curve, self.foot = sheet, curve, foot
        self.first = curve.days[0]
        self.last = curve.days[-1]

    def x(self, day: date) -> float:
        step = (_WIDTH - _LEFT - _RIGHT) / ((self.last - self.first).days + 1)
        return _LEFT + step * ((day - self.first).days + 0.5)

    def y(self, share: float) -> float:
        return self.foot + _PLOT * height(share)

    def frame(self) -> None:
        """Days that are not posted shaded, the share's ticks, the days' names."""
        sheet, right = self.sheet, _WIDTH - _RIGHT
        step = (right - _LEFT) / ((self.last - self.first).days + 1)
        for n in range((self.last - self.first).days + 1):
            day = self.first + timedelta(days=n)
            if day not in self.curve.days:
                sheet.box(self.x(day) - step / 2, self.foot, step, _PLOT, pictures.PALE)
        for share in _TICKS:
            sheet.line(_LEFT, self.y(share), right, self.y(share), pictures.HAIR, 0.4)
            sheet.text(_LEFT - 6, self.y(share) - 3, f"{share * 100:g} %", 8, anchor="end")
        sheet.text(20, self.y(1.0) - 3, say("hatching on the way"), 9, bold=True)
        sheet.text(20, self.y(1.0) - 15, say("square-root scale: the"), 8, colour=pictures.GREY)
        sheet.text(20, self.y(1.0) - 26, say("ceilings lie far down"), 8, colour=pictures.GREY)
        for day in self.curve.days:
            bold = day == self.curve.on
            name, _, date_of = bench_day(day, sheet.language).partition(" ")
            sheet.text(self.x(day), self.foot - 12, name, 8, bold=bold, anchor="middle")
            sheet.text(self.x(day), self.foot - 22, date_of, 8, bold=bold, anchor="middle")
        sheet.line(_LEFT, self.foot, right, self.foot, pictures.BLACK, 0.9)

    def ceilings(self) -> None:
        for share, kinds in self.curve.ceilings:
            y, words = (
                self.y(share),
                say("allowed in a {kinds}: {share}", either(map(say, kinds)), percent(share)),
            )
            self.sheet.line(_LEFT, y, _WIDTH - _RIGHT, y, pictures.BLACK, 1.1, (3, 2))
            self.sheet.text(_LEFT - 34, y - 3, words, 7.5, bold=True, anchor="end")

    def line(self, number: int) -> None:
        line, (colour, dash, shape) = self.curve.lines[number], _STYLES[number]
        where = [(self.x(p.day), self.y(p.h_per_egg)) for p in line.points]
        self.sheet.path(where, colour, 2.0, dash)
        for (x, y), point in zip(where, line.points, strict=True):
            self.sheet.mark(x, y, shape, colour, point.may_go)

    def names(self) -> None:
        """A letter at the end of each line, moved apart where they would meet."""
        ends = sorted((self.y(line.points[-1].h_per_egg), n) for n, line in enumerate(self.curve.lines))
        lowest = self.foot - 3.0
        for y, number in ends:
            lowest = max(y - 3, lowest)
            x = self.x(self.curve.lines[number].points[-1].day)
            self.sheet.text(x + 9, lowest, _letter(number), 9, bold=True, colour=_STYLES[number][0])
            lowest += 10

    def figures(self) -> None:
        """A row for each line: its sample, its words, and its figure under each day [percent]."""
        for number, line in enumerate(self.curve.lines):
            y = self.foot - 48 - _ROW * number
            self.sheet.line(20, y + 19, _WIDTH - _RIGHT, y + 19, pictures.HAIR, 0.5)
            self._sample(number, line, y)
            for point in line.points:
                x, may_go = self.x(point.day), point.may_go
                share = figure(point.h_per_egg, self.sheet.language)
                colour = pictures.BLACK if may_go else pictures.GREY
                self.sheet.text(x, y, share, 8.5, bold=may_go, colour=colour, anchor="middle")

    def _sample(self, number: int, line: CurveLine, y: float) -> None:
        colour, dash, shape = _STYLES[number]
        self.sheet.text(20, y, _letter(number), 9, bold=True, colour=colour)
        self.sheet.path([(34, y + 3), (70, y + 3)], colour, 2.0, dash)
        self.sheet.mark(52, y + 3, shape, colour, True)
        self.sheet.text(78, y + 5, line.service, 8.5, bold=True, most=_LEFT - 62)
        self.sheet.text(78, y - 5, ", ".join(line.packings), 7.5, colour=pictures.GREY, most=_LEFT - 62)


def _letter(number: int) -> str:
    return "ABCDEF"[number]
