"""Text and a width in, lines of text out: where words break, where they stand; what they say is left to
others.
"""

from __future__ import annotations

import re
from functools import lru_cache

from shipping.papers.page.blocks import Spans
from shipping.papers.page.layout import BLACK, LEADING, Colour
from shipping.papers.page.primitives import Mark, Measure, Stroke, Text

#: A part of a word, with the mark behind which it may be parted.
_PART = re.compile(r"[^-/@_]*[-/@_]|[^-/@_]+")
#: A line of runs of text, each with its left end and its weight.
_Line = tuple[tuple[float, str, bool], ...]


@lru_cache(maxsize=16384)
def wrapped(spans: Spans, size: float, width: float, measure: Measure) -> tuple[tuple[_Line, float], ...]:
    """The lines that spans fill, each with its width [points]; a word wider than the line is cut."""
    lines: list[tuple[_Line, float]] = []
    runs: list[tuple[float, str, bool]] = []
    at = 0.0
    for cluster in _clusters(spans, size, width, measure):
        space = measure(" ", cluster[0][1]) * size if runs else 0.0
        wide = sum(measure(text, bold) for text, bold in cluster) * size
        if runs and at + space + wide > width + 0.01:
            lines.append((tuple(runs), at))
            runs, at, space = [], 0.0, 0.0
        for text, bold in cluster:
            if runs and runs[-1][2] == bold:
                runs[-1] = (runs[-1][0], f"{runs[-1][1]}{' ' if space else ''}{text}", bold)
            else:
                runs.append((at + space, text, bold))
            at += space + measure(text, bold) * size
            space = 0.0
    if runs:
        lines.append((tuple(runs), at))
    return tuple(lines) or (((), 0.0),)


def _clusters(spans: Spans, size: float, width: float, measure: Measure) -> list[list[tuple[str, bool]]]:
    """What must not be parted at a line's end: words, with what follows them without a space in another
    weight.
    """
    clusters: list[list[tuple[str, bool]]] = []
    open_end = False
    for span in spans:
        for number, word in enumerate(span.text.split(" ")):
            if word:
                first, *more = _pieces(word, span.bold, size, width, measure)
                if number == 0 and open_end and clusters:
                    clusters[-1].append((first, span.bold))
                else:
                    clusters.append([(first, span.bold)])
                clusters += [[(piece, span.bold)] for piece in more]
        open_end = bool(span.text) and not span.text.endswith(" ")
    return clusters


def _pieces(word: str, bold: bool, size: float, width: float, measure: Measure) -> list[str]:
    """The word, or the parts it must be cut into to fit: behind a hyphen or a stroke where there is one."""
    if measure(word, bold) * size <= width:
        return [word]
    pieces: list[str] = []
    piece = ""
    for part in _PART.findall(word):
        if measure(piece + part, bold) * size <= width:
            piece += part
            continue
        pieces += [piece] if piece else []
        *whole, piece = _cut(part, bold, size, width, measure)
        pieces += whole
    return [*pieces, piece]


def _cut(word: str, bold: bool, size: float, width: float, measure: Measure) -> list[str]:
    """Letters as many as fit, line by line."""
    pieces, piece = [], ""
    for letter in word:
        if piece and measure(piece + letter, bold) * size > width:
            pieces.append(piece)
            piece = ""
        piece += letter
    return [*pieces, piece]


def set_lines(
    spans: Spans, size: float, width: float, measure: Measure, align: str = "left", colour: Colour = BLACK
) -> tuple[list[Mark], float]:
    """The marks of a paragraph, and its height [points]."""
    marks: list[Mark] = []
    y = 0.0
    for line, wide in wrapped(spans, size, width, measure):
        shift = {"left": 0.0, "right": width - wide, "centre": (width - wide) / 2}[align]
        marks += [Text(shift + at, y - size, text, size, bold, colour) for at, text, bold in line]
        y -= size * LEADING
    return marks, -y


def moved(marks: list[Mark] | tuple[Mark, ...], dx: float, dy: float) -> list[Mark]:
    """The marks, shifted."""
    shifted: list[Mark] = []
    for mark in marks:
        if isinstance(mark, Stroke):
            mark = mark._replace(to_x=mark.to_x + dx, to_y=mark.to_y + dy)
        shifted.append(mark._replace(x=mark.x + dx, y=mark.y + dy))
    return shifted
