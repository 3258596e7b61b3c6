"""What is drawn by hand on a canvas: words at a place, lines, boxes, the egg, bars, QR codes (in a terminal,
too).
"""

from __future__ import annotations

import re
from codecs import BOM_UTF16_BE
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from operator import itemgetter
from typing import Any

from shipping.papers.page.fonts import Typeface
from shipping.papers.page.layout import ACCENT, BLACK, LEADING

#: Dark runs in modules: (first, how many).
Runs = tuple[tuple[int, int], ...]


@lru_cache(maxsize=32)
def colour_of(code: str) -> Any:
    """The library's colour of ``#RRGGBB``."""
    from reportlab.lib.colors import HexColor

    return HexColor(code)


@lru_cache(maxsize=4096)
def qr_rows(text: str) -> tuple[Runs, ...]:
    """The dark runs of a QR code of error correction M, row by row from the top."""
    from reportlab.graphics.barcode.qrencoder import QRCode, QRErrorCorrectLevel

    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(text)
    code.version = code.calculate_version()
    code.makeImpl(False, 2)
    return tuple(_dark_runs(row) for row in code.modules)


def _dark_runs(row: Sequence[bool]) -> Runs:
    runs = ([x for x, _ in cells] for dark, cells in groupby(enumerate(row), itemgetter(1)) if dark)
    return tuple((run[0], len(run)) for run in runs)


@lru_cache(maxsize=4096)
def code128_runs(text: str) -> Runs:
    """The dark bars of a Code 128, in modules from its left edge."""
    from reportlab.graphics.barcode.code128 import Code128

    bars = Code128(text, quiet=0, barWidth=1)
    bars.validate()
    bars.encode()
    bars.decompose()
    runs, x = [], 0
    for letter in bars.decomposed:
        width = ord(letter.lower()) - ord("a") + 1
        if letter.isupper():
            runs.append((x, width))
        x += width
    return tuple(runs)


@contextmanager
def described(canvas: Any, text: str = "") -> Iterator[None]:
    """What is drawn inside is read aloud as the text; without one it is an ornament, and passed over.

    Marked content with an alternative description, or an artifact: ISO 32000-1, 14.9.3 and 14.8.2.2.
    """
    told = f"<{(BOM_UTF16_BE + text.encode('utf-16-be')).hex()}>"
    canvas._code.append(f"/Span <</Alt {told}>> BDC" if text else "/Artifact BMC")
    yield
    canvas._code.append("EMC")


@dataclass(frozen=True, eq=False, slots=True)
class Surface:
    """A canvas and the typeface words are set in; all places in points from the lower left."""

    canvas: Any
    typeface: Typeface

    def words(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        colour: str = BLACK,
        anchor: str = "start",
    ) -> float:
        """Words on a baseline at their ``start``, ``middle`` or ``end``; how wide they are."""
        wide = self.typeface.measure(text, bold) * size
        x -= {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        block = self.canvas.beginText(x, y)
        block.setFillColor(colour_of(colour))
        for name, part in self.typeface.runs(text, bold):
            block.setFont(name, size)
            block.textOut(part)
        self.canvas.drawText(block)
        return wide

    def lines(self, x: float, top: float, lines: Sequence[str], size: float, *, bold: bool = False) -> float:
        """Lines of words from the top down; the height they take."""
        for number, line in enumerate(lines):
            self.words(x, top - size - number * size * LEADING, line, size, bold=bold)
        return len(lines) * size * LEADING

    def line(
        self, x: float, y: float, to_x: float, to_y: float, *, colour: str = BLACK, width: float = 0.6
    ) -> None:
        self.canvas.setStrokeColor(colour_of(colour))
        self.canvas.setLineWidth(width)
        self.canvas.setDash()
        self.canvas.line(x, y, to_x, to_y)

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: str | None = None,
        outline: str | None = None,
        weight: float = 0.8,
    ) -> None:
        if fill:
            self.canvas.setFillColor(colour_of(fill))
        if outline:
            self.canvas.setStrokeColor(colour_of(outline))
            self.canvas.setLineWidth(weight)
            self.canvas.setDash()
        self.canvas.rect(x, y, width, height, stroke=bool(outline), fill=bool(fill))

    def egg(self, x: float, y: float, radius: float) -> None:
        """The mark of our papers: an egg with an eye in it, round (x, y)."""
        ring = radius * 0.2
        self.canvas.setStrokeColor(colour_of(ACCENT))
        self.canvas.setFillColor(colour_of(ACCENT))
        self.canvas.setLineWidth(ring)
        self.canvas.setDash()
        with described(self.canvas):
            self.canvas.circle(x, y, radius - ring / 2, stroke=1, fill=0)
            self.canvas.circle(x + radius * 0.24, y + radius * 0.2, radius * 0.27, stroke=0, fill=1)

    def qr(self, x: float, y: float, side: float, text: str) -> None:
        """A QR code of the text; (x, y) is its lower left corner."""
        rows = qr_rows(text)
        runs = ((first, len(rows) - n - 1, length) for n, row in enumerate(rows) for first, length in row)
        with described(self.canvas, text):
            self._modules(x, y, side / len(rows), side / len(rows), runs)

    def bars(self, middle: float, y: float, height: float, module: float, text: str) -> None:
        """A Code 128 of the text round ``middle``; ``module`` is the width of its thinnest bar."""
        runs = code128_runs(text)
        left = middle - sum(runs[-1]) * module / 2
        with described(self.canvas, text):
            self._modules(left, y, module, height, ((first, 0, length) for first, length in runs))

    def _modules(
        self, x: float, y: float, wide: float, tall: float, runs: Iterable[tuple[int, int, int]]
    ) -> None:
        """Dark runs of modules (first, row from below, how many), written in whole modules."""
        self.canvas.saveState()
        self.canvas.setFillColor(colour_of(BLACK))
        self.canvas.transform(wide, 0, 0, tall, x, y)
        self.canvas._code.append(
            " ".join(f"{first} {row} {length} 1 re" for first, row, length in runs) + " f"
        )
        self.canvas.restoreState()


def wrapped(text: str, size: float, width: float, typeface: Typeface, bold: bool = False) -> list[str]:
    """The lines that a text fills; a word too wide is parted behind hyphens, else between letters."""
    lines: list[str] = []
    for word in text.split(" "):
        is_wide = typeface.measure(word, bold) * size > width
        for n, part in enumerate(re.split("(?<=-)", word) if is_wide else [word]):
            joined = f"{lines[-1]}{'' if n else ' '}{part}" if lines else part
            if lines and typeface.measure(joined, bold) * size <= width:
                lines[-1] = joined
                continue
            *whole, rest = _cut(part, size, width, typeface, bold)
            lines += [*whole, rest]
    return lines


def _cut(word: str, size: float, width: float, typeface: Typeface, bold: bool) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and typeface.measure(pieces[-1] + letter, bold) * size > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces


#: Empty squares around the code, as ISO/IEC 18004 asks for.
_QUIET = 4


def qr_squares(text: str) -> tuple[tuple[bool, ...], ...]:
    """The squares of the code, row by row, dark ones True, with the quiet zone around them."""
    from reportlab.graphics.barcode.qrencoder import QR8bitByte, QRCode, QRErrorCorrectLevel

    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(QR8bitByte(text))
    code.make()
    count = code.getModuleCount()
    side = count + 2 * _QUIET
    return tuple(
        tuple(
            0 <= y - _QUIET < count and 0 <= x - _QUIET < count and bool(code.isDark(y - _QUIET, x - _QUIET))
            for x in range(side)
        )
        for y in range(side)
    )


def qr_svg(text: str) -> bytes:
    """The code as a drawing, black on white in the dark too: a camera needs it so."""
    squares = qr_squares(text)
    side = len(squares)
    dark = "".join(
        f"M{x} {y}h1v1h-1z" for y, row in enumerate(squares) for x, is_dark in enumerate(row) if is_dark
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" width="{side * 8}"'
        f' height="{side * 8}" shape-rendering="crispEdges"><path fill="#fff" d="M0 0h{side}v{side}H0z"/>'
        f'<path d="{dark}"/></svg>'
    ).encode()


def qr_lines(text: str) -> tuple[str, ...]:
    """The code in half blocks, two rows of squares a line; light squares are drawn, for a dark terminal."""
    squares = qr_squares(text)
    rows = [*squares, (False,) * len(squares)] if len(squares) % 2 else list(squares)
    letters = {(False, False): "█", (False, True): "▀", (True, False): "▄", (True, True): " "}
    return tuple(
        "".join(letters[pair] for pair in zip(rows[n], rows[n + 1], strict=True))
        for n in range(0, len(rows), 2)
    )
