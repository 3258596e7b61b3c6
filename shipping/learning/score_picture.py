"""How promises held, drawn: scores in; a row a service, packing and species, and a square out."""

from __future__ import annotations

from datetime import date
from functools import partial

from shipping.learning.score import Score, Scores, verdict_of
from shipping.papers.charts.pictures import BLACK, BLUE, GREY, HAIR, PALE, VERMILLION, Sketch, sketch
from shipping.words.units import percent

_WIDTH, _HEAD, _ROW, _GAP = 800, 64, 17, 12
_LEFT, _RIGHT = 190, 470
_SQUARE, _SQUARE_LEFT = 200, 560
_FEWEST_ROWS = 16
#: The axes of the rows and of the square begin here: promises below one half are hardly made.
_LOWEST = 0.5


def score_picture(scores: Scores, today: date) -> Sketch:
    """The drawing: left a row each with its counts, right the reliability diagram.

    Notes
    -----
    A promise is fair where the diagonal (or the stroke) crosses the 90 % interval of what was held (Wilson
    1927).
    """
    rows = 1 + sum(len(rows) for _, rows in scores.groups)
    body = max(_FEWEST_ROWS * _ROW, rows * _ROW + len(scores.groups) * (_ROW + _GAP))
    height = _HEAD + body + 40
    sheet = sketch(_WIDTH, height, "Promised and held", _about(scores))
    title = "Promised and held: did at least the eggs ordered arrive alive?"
    sheet.text(20, height - 28, title, 14, bold=True)
    reported = scores.all.n if scores.all else 0
    said = f"Lines reported: {reported}, sent and not reported: {scores.unreported}, as of {today}"
    sheet.text(20, height - 44, said, 9, colour=GREY)
    if scores.all is None:
        sheet.text(20, height - 80, "No line was reported yet: nothing can be said of the promises.", 10)
        return sheet
    _rows(sheet, scores, height - _HEAD - 16)
    _square(sheet, scores, height - _HEAD - 26 - _SQUARE)
    note = (
        "Dot: share held; line: its 90 % interval; stroke: mean chance promised. Circle: agrees; square: does"
        " not."
    )
    sheet.text(20, 14, note, 8, colour=GREY)
    return sheet


def _about(scores: Scores) -> str:
    """All figures as words, for who cannot see the picture."""
    every = ([scores.all] if scores.all else []) + [score for _, rows in scores.groups for score in rows]
    told = [
        f"{s.of} {s.name}: promised {percent(s.promised)}, held {percent(s.kept)} of {s.n}, {verdict_of(s)}"
        for s in every
    ]
    return "; ".join(told) + "."


def _along(share: float, length: float) -> float:
    """How far along an axis of some length a share lies."""
    return (max(share, _LOWEST) - _LOWEST) / (1 - _LOWEST) * length


def _x(share: float) -> float:
    return _LEFT + _along(share, _RIGHT - _LEFT)


def _rows(sheet: Sketch, scores: Scores, top: float) -> None:
    """A row each: name, interval, dot, promised stroke, counts."""
    y = top
    for share in (0.5, 0.6, 0.7, 0.8, 0.9, 1.0):
        sheet.line(_x(share), top + 10, _x(share), 34, HAIR, 0.5)
        said = f"{share:.0%}" if share > _LOWEST else "50 % or less"
        sheet.text(_x(share), top + 13, said, 7, colour=GREY, anchor="middle")
    if scores.all is not None:
        _row(sheet, scores.all, "all lines", y)
    for head, rows in scores.groups:
        y -= _ROW + _GAP
        sheet.text(20, y, head, 8.5, bold=True)
        for score in rows:
            y -= _ROW
            _row(sheet, score, score.name, y)


def _row(sheet: Sketch, score: Score, name: str, y: float) -> None:
    colour = BLUE if score.is_fair else VERMILLION
    sheet.text(30, y, name[:30], 8)
    sheet.line(_x(score.low), y + 3, _x(score.high), y + 3, colour, 2.2)
    sheet.line(_x(score.promised), y - 3, _x(score.promised), y + 9, BLACK, 1.4)
    sheet.mark(_x(score.kept), y + 3, "circle" if score.is_fair else "square", colour, True, 3.2)
    sheet.text(_RIGHT + 8, y, f"{round(score.kept * score.n)} of {score.n}", 8, colour=GREY)


def _square(sheet: Sketch, scores: Scores, foot: float) -> None:
    """Promised across, held upwards, a mark for each band of promises; on the diagonal a promise is true."""
    at = partial(_along, length=_SQUARE)
    sheet.box(_SQUARE_LEFT, foot, _SQUARE, _SQUARE, PALE, HAIR)
    sheet.line(_SQUARE_LEFT, foot, _SQUARE_LEFT + _SQUARE, foot + _SQUARE, BLACK, 0.8, (4, 3))
    for share in (0.5, 0.6, 0.7, 0.8, 0.9, 1.0):
        sheet.text(_SQUARE_LEFT - 5, foot + at(share) - 3, f"{share:.0%}", 7, colour=GREY, anchor="end")
        sheet.text(_SQUARE_LEFT + at(share), foot - 11, f"{share:.0%}", 7, colour=GREY, anchor="middle")
    sheet.text(_SQUARE_LEFT + _SQUARE / 2, foot - 24, "promised", 8.5, bold=True, anchor="middle")
    sheet.text(_SQUARE_LEFT, foot + _SQUARE + 6, "held, by what was promised", 8.5, bold=True)
    for score in scores.by["promise"]:
        x, colour = _SQUARE_LEFT + at(score.promised), BLUE if score.is_fair else VERMILLION
        sheet.line(x, foot + at(score.low), x, foot + at(score.high), colour, 1.6)
        sheet.mark(x, foot + at(score.kept), "circle" if score.is_fair else "square", colour, True, 3.6)
