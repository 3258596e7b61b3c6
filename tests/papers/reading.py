"""How the tests read what was printed: text, positions and codes of a PDF."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from pypdf import PdfReader

from shipping.papers.page import fonts as faces
from shipping.papers.page import layout
from tests.tools import tool


def text_of(path: Path) -> str:
    """All text of a file, page by page."""
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def words_of(path: Path) -> str:
    """All text with every run of blanks and line ends made one space, for finding sentences that were
    wrapped.
    """
    return " ".join(text_of(path).split())


@dataclass(frozen=True)
class PlacedText:
    """A line of text on a page: its left end and baseline, its right end, its size."""

    page: int
    x: float
    y: float
    right: float
    size: float
    text: str
    width: float
    height: float


@lru_cache(maxsize=64)
def placed_texts(path: Path, measure: Callable[[str, bool], float]) -> list[PlacedText]:
    """Every line of text; runs of one line (a change of font inside a word) are told by their common
    beginning.
    """
    runs: dict[tuple[int, float, float, float], str] = {}
    sizes: dict[int, tuple[float, float]] = {}
    for number, page in enumerate(PdfReader(path).pages):
        sizes[number] = (float(page.mediabox.width), float(page.mediabox.height))

        def visit(
            text: str, cm: list[float], tm: list[float], font: object, size: float, number: int = number
        ) -> None:
            if text.strip():
                key = (number, cm[4] + tm[4], cm[5] + tm[5], size)
                runs[key] = runs.get(key, "") + text.strip("\n")

        page.extract_text(visitor_text=visit)
    found = []
    for (number, x, y, size), text in runs.items():
        wide = min(measure(text.strip(), False), measure(text.strip(), True)) * size
        found.append(PlacedText(number, x, y, x + wide, size, text, *sizes[number]))
    return found


def outside_margins(path: Path) -> list[str]:
    """Every line of text nearer to the edge than a sheet, or a label, allows."""
    found = []
    for at in placed_texts(path, faces.measure):
        small = min(at.width, at.height) < 400
        margin = (layout.LABEL_MARGIN if small else layout.SHEET_MARGIN) - 0.5
        is_within = (
            margin <= at.x and at.right <= at.width - margin + 1 and margin - 1 <= at.y <= at.height - margin
        )
        if not is_within:
            found.append(f"page {at.page + 1}: {at.text!r}")
    return found


def lying_on_each_other(path: Path) -> list[str]:
    """Every two lines of text that meet."""
    lines = sorted(placed_texts(path, faces.measure), key=lambda at: (at.page, -at.y))
    found = []
    for number, one in enumerate(lines):
        for other in lines[number + 1 :]:
            if other.page != one.page or one.y - other.y > max(one.size, other.size):
                break
            is_beside = one.right <= other.x + 0.5 or other.right <= one.x + 0.5
            if not is_beside and one.y < other.y + other.size * 0.6:
                found.append(f"page {one.page + 1}: {one.text!r} on {other.text!r}")
    return found


def codes_of(path: Path, folder: Path) -> set[str]:
    """Every barcode and QR code on the pages, as ``kind:text``."""
    stem = folder / path.stem
    subprocess.run([tool("pdftoppm"), "-r", "200", "-png", str(path), str(stem)], check=True)
    images = sorted(folder.glob(f"{path.stem}-*.png"))
    done = subprocess.run(
        [tool("zbarimg"), "-q", *map(str, images)], capture_output=True, text=True, check=False
    )
    return set(done.stdout.split("\n")) - {""}
