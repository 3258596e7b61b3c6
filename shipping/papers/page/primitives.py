"""What ink goes where: the few kinds of mark a page is made of, in points, as data; pdf turns them into a
file.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

from shipping.papers.page.blocks import Chart
from shipping.papers.page.layout import ACCENT, BLACK, Colour

#: (text, bold) -> width at a type size of 1 point.
Measure = Callable[[str, bool], float]


class Text(NamedTuple):
    """Text on a baseline; x is its left end."""

    x: float
    y: float
    text: str
    size: float
    bold: bool = False
    colour: Colour = BLACK


class Stroke(NamedTuple):
    """A straight line; ``dash`` 0 is unbroken."""

    x: float
    y: float
    to_x: float
    to_y: float
    width: float = 0.6
    colour: Colour = BLACK
    dash: float = 0.0


class Box(NamedTuple):
    """A rectangle from its lower left corner; filled, outlined, or both."""

    x: float
    y: float
    width: float
    height: float
    fill: Colour | None = None
    outline: Colour | None = None
    weight: float = 0.8


class Egg(NamedTuple):
    """The mark of our papers: an egg with an eye in it, round (x, y)."""

    x: float
    y: float
    radius: float
    colour: Colour = ACCENT


class Matrix(NamedTuple):
    """A QR code of ``text``; (x, y) is its lower left corner."""

    x: float
    y: float
    side: float
    text: str


class Bars(NamedTuple):
    """A Code 128 of ``text``; x is its middle, y its foot, ``module`` the width of its thinnest bar."""

    x: float
    y: float
    height: float
    module: float
    text: str


class Picture(NamedTuple):
    """A chart; (x, y) is its lower left corner."""

    x: float
    y: float
    width: float
    height: float
    chart: Chart


Mark = Text | Stroke | Box | Egg | Matrix | Bars | Picture


@dataclass(frozen=True, eq=False, slots=True)
class Fragment:
    """Marks that stay together; y runs from 0 at the top down to ``-height``.

    ``keep``: the next fragment belongs on the same page. ``again`` is put at the top of a page that follows.
    """

    marks: tuple[Mark, ...]
    height: float
    keep: bool = False
    again: Fragment | None = None


class Placed(NamedTuple):
    """A fragment with its top left corner on the page (the origin is the page's lower left corner)."""

    x: float
    y: float
    fragment: Fragment


@dataclass(frozen=True, eq=False, slots=True)
class Page:
    """One page: its width and height, and the fragments on it."""

    width: float
    height: float
    placed: tuple[Placed, ...]
