"""The curve of hatching on the way, drawn: lines over dispatch days, ceilings, and the figures under them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

from shipping.papers.charts import pictures
from shipping.papers.wording.language import bench_day
from shipping.papers.wording.language import day as long_day
from shipping.questions.risk_curve import CurveLine, RiskCurve, curve_notes, height
from shipping.words.sentence import either, say
from shipping.words.units import percent

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
    """A share in a column of percent: ``8.0``, ``<0.1``, ``>99.9``; the same rounding as everywhere, with the
    decimal point of the language.
    """
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
