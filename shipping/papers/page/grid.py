"""Small papers ganged on sheets: what draws each in, sheets of a grid with marks to cut along out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shipping.papers.page import layout
from shipping.papers.page.book import Sheet
from shipping.papers.page.drawing import Surface
from shipping.papers.page.layout import GREY, MM
from shipping.tables.rows.settings import Stickers

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


def shared_grid(
    paper: str, size: tuple[float, float] | None = None, rows: int = 6, columns: int = 2, edge: float = _EDGE
) -> Grid:
    """A sheet shared evenly by rows and columns, or by as many cells of a ``size`` as it holds."""
    width, height = layout.PAPERS[paper]
    if size is None:
        size = (width - 2 * edge) / columns, (height - 2 * edge) / rows
    else:
        columns, rows = int((width - 2 * edge) / size[0]), int((height - 2 * edge) / size[1])
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
) -> tuple[Sheet, ...]:
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
        Sheet("", language, paper, draw=drawing(n), outline=outline, fresh_leaf=fresh_leaf)
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
    wide = (
        stickers.left_mm + stickers.columns * stickers.width_mm + (stickers.columns - 1) * stickers.gap_x_mm
    )
    tall = stickers.top_mm + stickers.rows * stickers.height_mm + (stickers.rows - 1) * stickers.gap_y_mm
    if wide > width + 0.5 or tall > height + 0.5:
        return f"the stickers take {wide:.1f} x {tall:.1f} mm, the paper has {width:.1f} x {height:.1f} mm"
    if stickers.width_mm < 25 or stickers.height_mm < 12:
        return f"a sticker of {stickers.width_mm:g} x {stickers.height_mm:g} mm is too small to print on"
    return None
