"""Small papers set side by side: fragments of one size in, pages of stickers or cut-out sheets out."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from shipping.papers.page import layout
from shipping.papers.page.layout import GREY, MM, SHEET_MARGIN
from shipping.papers.page.primitives import Fragment, Mark, Page, Placed, Stroke
from shipping.tables.rows.settings import Stickers

#: Makes one small paper of a width and height [points].
Maker = Callable[[float, float], Fragment]


def plain_grid(paper: str) -> Stickers:
    """Where no stickers are set: two columns of tags to cut out of plain paper."""
    width, height = (side / MM for side in layout.PAPERS[paper])
    edge, rows = SHEET_MARGIN / MM, 6
    return Stickers(
        rows=rows,
        columns=2,
        top_mm=edge,
        left_mm=edge,
        width_mm=(width - 2 * edge) / 2,
        height_mm=(height - 2 * edge) / rows,
    )


def sticker_pages(
    makers: Sequence[Maker], grid: Stickers, paper: str, first: int = 1, cut_lines: bool = False
) -> tuple[Page, ...]:
    """Sheets of stickers filled row by row, beginning at sticker ``first`` of the first sheet."""
    width, height = layout.PAPERS[paper]
    a_sheet = grid.rows * grid.columns
    pages: list[list[Placed]] = []
    for number, maker in enumerate(makers, start=(first - 1) % a_sheet):
        sheet, place = divmod(number, a_sheet)
        while len(pages) <= sheet:
            pages.append([])
        row, column = divmod(place, grid.columns)
        left = (grid.left_mm + column * (grid.width_mm + grid.gap_x_mm)) * MM
        top = height - (grid.top_mm + row * (grid.height_mm + grid.gap_y_mm)) * MM
        wide, tall = grid.width_mm * MM, grid.height_mm * MM
        edge = layout.STICKER_MARGIN if not cut_lines else 2 * layout.STICKER_MARGIN
        if cut_lines:
            pages[sheet].append(Placed(left, top, _corners(wide, tall)))
        pages[sheet].append(Placed(left + edge, top - edge, maker(wide - 2 * edge, tall - 2 * edge)))
    return tuple(Page(width, height, tuple(placed)) for placed in pages)


def _corners(width: float, height: float) -> Fragment:
    """Marks at the corners to cut along."""
    marks: list[Mark] = []
    for x, inward in ((0.0, 1), (width, -1)):
        for y, up in ((0.0, -1), (-height, 1)):
            marks.append(Stroke(x, y, x + inward * 9, y, 0.4, GREY))
            marks.append(Stroke(x, y, x, y + up * 9, 0.4, GREY))
    return Fragment(tuple(marks), height)


def grid_problem(grid: Stickers, paper: str) -> str | None:
    """Why the stickers do not fit the paper, or None."""
    width, height = (side / MM for side in layout.PAPERS[paper])
    wide = grid.left_mm + grid.columns * grid.width_mm + (grid.columns - 1) * grid.gap_x_mm
    tall = grid.top_mm + grid.rows * grid.height_mm + (grid.rows - 1) * grid.gap_y_mm
    if wide > width + 0.5 or tall > height + 0.5:
        return f"the stickers take {wide:.1f} x {tall:.1f} mm, the paper has {width:.1f} x {height:.1f} mm"
    if grid.width_mm < 25 or grid.height_mm < 12:
        return f"a sticker of {grid.width_mm:g} x {grid.height_mm:g} mm is too small to print on"
    return None
