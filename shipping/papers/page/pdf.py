"""Pages in, PDF files out: codes, fonts and pages put into a file; what the pages say is left to others."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import lru_cache
from typing import Any

from shipping.papers.page.fonts import PLAIN_PEN, Face, Pen, embeddable
from shipping.papers.page.pdf_operators import Printed, Runs, Tools, Used, add_used


@lru_cache(maxsize=4096)
def qr_rows(text: str) -> tuple[Runs, ...]:
    """The dark runs of a QR code, row by row from the top: (first module, how many)."""
    from reportlab.graphics.barcode.qrencoder import QRCode, QRErrorCorrectLevel

    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(text)
    code.version = code.calculate_version()
    code.makeImpl(False, 2)
    rows = []
    for row in code.modules:
        runs: list[tuple[int, int]] = []
        for x, dark in enumerate(row):
            if dark and runs and sum(runs[-1]) == x:
                runs[-1] = (runs[-1][0], runs[-1][1] + 1)
            elif dark:
                runs.append((x, 1))
        rows.append(tuple(runs))
    return tuple(rows)


@lru_cache(maxsize=4096)
def code128_runs(text: str) -> Runs:
    """The dark bars of a Code 128, in modules from its left edge: (first module, how many)."""
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


@lru_cache(maxsize=8)
def tools_of(pen: Pen) -> Tools:
    """What ink needs to draw with the letters of a pen."""
    return Tools(pen.measure, pen.shown, qr_rows, code128_runs)


#: What ink needs to draw with our fonts.
TOOLS = tools_of(PLAIN_PEN)


class _Clock:
    """The day of the plan as reportlab wants its time of writing."""

    def __init__(self, today: date) -> None:
        self.YMDhms = (today.year, today.month, today.day, 0, 0, 0)
        self.dhh = self.dmm = 0


def bound(pages: Sequence[Printed], title: str, author: str, language: str, today: date) -> bytes:
    """A PDF file of the pages: the same bytes for the same pages, words and day, whenever and wherever it is
    made.
    """
    from hashlib import md5

    from reportlab.pdfbase import pdfdoc

    document = pdfdoc.PDFDocument(compression=1, invariant=1, lang=language)
    document._timeStamp = _Clock(today)
    document.signature = md5(b"".join(page.packed for page in pages), usedforsecurity=False)
    document.setTitle(title)
    document.setAuthor(author)
    document.setCreator("spawnpost")
    document.setSubject(title)
    for page in pages:
        leaf = pdfdoc.PDFPage()
        leaf.pagewidth, leaf.pageheight = round(page.width, 2), round(page.height, 2)
        stream = pdfdoc.PDFStream(content=page.packed)
        stream.dictionary["Filter"] = pdfdoc.PDFName("FlateDecode")
        leaf.Contents = stream
        leaf.Resources = pdfdoc.PDFResourceDictionary()
        leaf.Resources.basicFonts()
        document.addPage(leaf)
    used: Used = {}
    for page in pages:
        add_used(used, page.used)
    for (face, number), codes in sorted(used.items()):
        _embed(document, face, number, codes)
    return bytes(document.GetPDFData(None))


def _embed(document: Any, face: Face, number: int, used: int) -> None:
    """Add one code page of a face to the document's fonts."""
    from reportlab.pdfbase import pdfdoc

    name, file, length, letters, described, font = embeddable(face, number, used)

    def kept(packed: bytes, what: str, plain_length: int = 0) -> int:
        """Keep a packed stream and give its number in the file."""
        stream = pdfdoc.PDFStream(content=packed)
        stream.dictionary["Filter"] = pdfdoc.PDFName("FlateDecode")
        if plain_length:
            stream.dictionary["Length1"] = plain_length
        return referred(stream, what)

    def referred(thing: Any, what: str) -> int:
        document.Reference(thing, f"{what}:{name}")
        return int(document.idToObjectNumberAndVersion[f"{what}:{name}"][0])

    descriptor = referred(described % kept(file, "file", length), "descriptor")
    words = font % (kept(letters, "letters"), descriptor)
    fonts = document.idToObject["BasicFonts"].dict
    fonts[f"{face.name}{number}"] = document.Reference(words, f"font:{name}")
