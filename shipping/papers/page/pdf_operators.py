"""Marks in, PDF's own drawing operators out, each fragment once; letters and codes are handed in as tools."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from shipping.papers.charts.charts import chart_marks
from shipping.papers.page.fonts import Face, ShownRun
from shipping.papers.page.layout import Colour
from shipping.papers.page.primitives import (
    Bars,
    Box,
    Egg,
    Fragment,
    Mark,
    Matrix,
    Measure,
    Page,
    Picture,
    Stroke,
    Text,
)

#: (face, code page) of a font -> the codes of it that are used, as the bits of a number.
Used = dict[tuple[Face, int], int]
#: Dark runs in modules: (first, how many).
Runs = tuple[tuple[int, int], ...]


class Tools(NamedTuple):
    """What drawing needs to know of fonts and codes."""

    measure: Measure
    shown: Callable[[str, bool], tuple[ShownRun, ...]]
    qr_rows: Callable[[str], tuple[Runs, ...]]
    code128_runs: Callable[[str], Runs]


def _n(value: float) -> str:
    """A number as short as PDF allows."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _rgb(colour: Colour, stroke: bool) -> str:
    return " ".join(_n(part) if part in (0, 1) else f"{part:.3f}" for part in colour) + (
        " RG" if stroke else " rg"
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Ink:
    """What a fragment is in PDF's writing, and which codes of which fonts it uses."""

    code: str
    used: Used


@lru_cache(maxsize=16384)
def _ink(fragment: Fragment, tools: Tools) -> _Ink:
    code: list[str] = []
    used: Used = {}
    for mark in fragment.marks:
        _draw(mark, code, used, tools)
    return _Ink("\n".join(code), used)


def add_used(used: Used, more: Iterable[tuple[tuple[Face, int], int]]) -> None:
    """Add codes that are used to those known; ``used`` is changed."""
    for font, codes in more:
        used[font] = used.get(font, 0) | codes


def _draw(mark: Mark, code: list[str], used: Used, tools: Tools) -> None:
    match mark:
        case Text():
            runs = tools.shown(mark.text, mark.bold)
            shown = " ".join(
                f"/{face.name}{page} {_n(mark.size)} Tf ({text}) Tj" for face, page, text, _ in runs
            )
            code.append(f"{_rgb(mark.colour, False)} BT 1 0 0 1 {_n(mark.x)} {_n(mark.y)} Tm {shown} ET")
            add_used(used, (((face, page), codes) for face, page, _, codes in runs))
        case Stroke():
            dash = f"[{_n(mark.dash)}] 0 d" if mark.dash else "[] 0 d"
            line = f"{_n(mark.x)} {_n(mark.y)} m {_n(mark.to_x)} {_n(mark.to_y)} l S"
            code.append(f"{_rgb(mark.colour, True)} {_n(mark.width)} w {dash} {line}")
        case Box():
            _draw_box(mark, code)
        case Egg():
            _draw_egg(mark, code)
        case Matrix():
            _draw_matrix(mark, code, tools)
        case Bars():
            _draw_bars(mark, code, tools)
        case Picture():
            for inner in chart_marks(mark, tools.measure):
                _draw(inner, code, used, tools)


def _draw_box(box: Box, code: list[str]) -> None:
    paint = {(True, True): "B", (True, False): "f", (False, True): "S"}[
        (box.fill is not None, box.outline is not None)
    ]
    if box.fill is not None:
        code.append(_rgb(box.fill, False))
    if box.outline is not None:
        code.append(f"{_rgb(box.outline, True)} {_n(box.weight)} w [] 0 d")
    code.append(f"{_n(box.x)} {_n(box.y)} {_n(box.width)} {_n(box.height)} re {paint}")


def _round(x: float, y: float, radius: float) -> str:
    """A circle as four Bezier curves."""
    k = radius * 0.5523
    corners = (
        (x + radius, y + k, x + k, y + radius, x, y + radius),
        (x - k, y + radius, x - radius, y + k, x - radius, y),
        (x - radius, y - k, x - k, y - radius, x, y - radius),
        (x + k, y - radius, x + radius, y - k, x + radius, y),
    )
    curves = " ".join(" ".join(_n(value) for value in corner) + " c" for corner in corners)
    return f"{_n(x + radius)} {_n(y)} m {curves}"


def _draw_egg(egg: Egg, code: list[str]) -> None:
    ring, eye = egg.radius * 0.2, egg.radius * 0.27
    code.append(
        f"{_rgb(egg.colour, True)} {_n(ring)} w [] 0 d {_round(egg.x, egg.y, egg.radius - ring / 2)} S"
    )
    code.append(
        f"{_rgb(egg.colour, False)} {_round(egg.x + egg.radius * 0.24, egg.y + egg.radius * 0.2, eye)} f"
    )


def _draw_matrix(matrix: Matrix, code: list[str], tools: Tools) -> None:
    rows = tools.qr_rows(matrix.text)
    cell = matrix.side / len(rows)
    parts = []
    for number, row in enumerate(rows):
        y = matrix.y + matrix.side - (number + 1) * cell
        parts += [
            f"{first * cell + matrix.x:.3f} {y:.3f} {length * cell:.3f} {cell:.3f} re"
            for first, length in row
        ]
    code.append("0 0 0 rg " + " ".join(parts) + " f")


def _draw_bars(bars: Bars, code: list[str], tools: Tools) -> None:
    runs = tools.code128_runs(bars.text)
    left = bars.x - sum(runs[-1]) * bars.module / 2
    parts = [
        f"{left + first * bars.module:.3f} {_n(bars.y)} {length * bars.module:.3f} {_n(bars.height)} re"
        for first, length in runs
    ]
    code.append("0 0 0 rg " + " ".join(parts) + " f")


@dataclass(frozen=True, slots=True)
class Printed:
    """A page ready for any file: its size, its packed drawing, and the codes of which fonts it uses."""

    width: float
    height: float
    packed: bytes
    used: tuple[tuple[tuple[Face, int], int], ...]


def printed(page: Page, tools: Tools) -> Printed:
    """The page, drawn once; the same page may then stand in several files."""
    used: Used = {}
    code: list[str] = []
    for x, y, fragment in page.placed:
        ink = _ink(fragment, tools)
        add_used(used, ink.used.items())
        code.append(f"q 1 0 0 1 {_n(x)} {_n(y)} cm\n{ink.code}\nQ")
    packed = zlib.compress("\n".join(code).encode("latin-1"), 6)
    return Printed(page.width, page.height, packed, tuple(sorted(used.items())))
