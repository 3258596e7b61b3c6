"""How the tests read what was printed: text, positions and codes of a PDF."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from email import message_from_bytes
from email.policy import default
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

from pypdf import PageObject, PdfReader
from reportlab.platypus import Table

from shipping.papers.page import fonts as faces
from shipping.papers.page import layout
from shipping.papers.page.pdf_file import PaperSheet
from shipping.papers.page.typesetter import Words
from tests.tools import tool


def leaves_of(path: Path) -> list[str]:
    """What each page says."""
    return [page.text for page in _read(path.read_bytes())]


def text_of(path: Path) -> str:
    """All text of a file, page by page."""
    return "\n".join(leaves_of(path))


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


class _Page(NamedTuple):
    """A page's width and height, its text, and its runs of text by where they begin and their size."""

    size: tuple[float, float]
    text: str
    runs: dict[tuple[float, float, float], str]


@lru_cache(maxsize=256)
def _read(content: bytes) -> tuple[_Page, ...]:
    """Every page of a file, which many tests look at and one reads."""
    return tuple(map(_page, PdfReader(BytesIO(content)).pages))


def _page(page: PageObject) -> _Page:
    runs: dict[tuple[float, float, float], str] = {}

    def visit(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
        if text.strip():
            key = (cm[4] + tm[4], cm[5] + tm[5], size)
            runs[key] = runs.get(key, "") + text.strip("\n")

    text = page.extract_text(visitor_text=visit)
    return _Page((float(page.mediabox.width), float(page.mediabox.height)), text, runs)


def placed_texts(path: Path, measure: Callable[[str, bool], float]) -> list[PlacedText]:
    """Every line of text; runs of one line (a change of font inside a word) are told by their common
    beginning.
    """
    found = []
    for number, page in enumerate(_read(path.read_bytes())):
        for (x, y, size), text in page.runs.items():
            wide = min(measure(text.strip(), False), measure(text.strip(), True)) * size
            found.append(PlacedText(number, x, y, x + wide, size, text, *page.size))
    return found


def outside_margins(path: Path, margin: float = layout.SHEET_MARGIN) -> list[str]:
    """Every line of text nearer to the edge of its page than a margin [points]."""
    found = []
    margin -= 0.5
    for at in placed_texts(path, faces.measure):
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


def story_words(story: Sequence[Any]) -> str:
    """Everything that flowables say, as running text."""
    said: list[str] = []
    for block in story:
        if isinstance(block, Words):
            said.append(block.getPlainText(identify=True))
        elif isinstance(block, Table):
            said += [story_words(cell) for row in block._cellvalues for cell in row if cell]
    return " ".join(" ".join(said).split()).replace("\u00a0", " ")


def tables_in(sheet: PaperSheet) -> list[Any]:
    """The tables of a sheet that have a head."""
    return [block for block in sheet.story if isinstance(block, Table) and block.repeatRows]


def rows_of(table: Any) -> list[list[str]]:
    """What each row of a table says, cell by cell, without its head."""
    return [[story_words(cell) if cell else "" for cell in row] for row in table._cellvalues[1:]]


def mail_text(path: Path) -> str:
    """Subject and text of a message."""
    message = message_from_bytes(path.read_bytes(), policy=default)
    body = message.get_body(("plain",))
    assert body is not None
    return f"{message['Subject']}\n\n{body.get_content()}"


def codes_of(path: Path, folder: Path) -> set[str]:
    """Every barcode and QR code on the pages, as ``kind:text``."""
    stem = folder / path.stem
    subprocess.run([tool("pdftoppm"), "-r", "200", "-gray", str(path), str(stem)], check=True)
    images = sorted(folder.glob(f"{path.stem}-*.pgm"))
    done = subprocess.run(
        [tool("zbarimg"), "-q", *map(str, images)], capture_output=True, text=True, check=False
    )
    return set(done.stdout.split("\n")) - {""}
