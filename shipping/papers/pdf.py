"""Pages in, PDF files out: the only module that knows reportlab; what the pages say is left to others."""

from __future__ import annotations

import unicodedata
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from shipping.papers.ink import Printed, Runs, Tools, Used, add_used

_FONTS = Path(__file__).resolve().parent / "fonts"
#: The letters of each of a font's first two code pages; all others follow in the order of Unicode.
_COMMON = (
    "".join(chr(code) for code in range(33, 127)) + "ÄÖÜäöüßÀÂÇÈÉÊËÎÏÔÙÛŒàâçèéêëîïôùûœÁÍÓÚÑáíóúñ¿¡ªº«»„“”‘’‚–—…·•°×±−≤≥→☐✓€£§½µ©"
)
_CENTRAL = "ĄąĆćĘęŁłŃńŚśŹźŻżČčĎďĚěŇňŘřŠšŤťŮůŽžĹĺĽľŔŕĞğİıŞşŐőŰűĂăȘșȚțÅåÆæØøÐðÞþÝýÿŸÃãÕõÌìÒòĀāĒēĢģĪīĶķĻļŅņŪūĖėĮįŲųŻŽŠ♀♂№"
#: Code page and code of the empty box that stands for a letter the font lacks.
_MISSING = (0, 0)
#: Codes of a code page that letters may take: 0 is the missing glyph, 32 the space.
_CODES = (*range(33, 256), *range(1, 32))


@dataclass(frozen=True, eq=False)
class _Font:
    """A face with its letters spread over fixed code pages, so that the same text is the same bytes in every file."""

    name: str
    face: Any
    code_of: dict[int, tuple[int, int]]
    pages: tuple[tuple[int, ...], ...]


@lru_cache(maxsize=2)
def _font(bold: bool) -> _Font:
    from reportlab.pdfbase.ttfonts import TTFontFace

    face = TTFontFace(str(_FONTS / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")))
    known = set(face.charToGlyph)
    first = dict.fromkeys(ord(letter) for letter in _COMMON)
    second = dict.fromkeys(ord(letter) for letter in _CENTRAL if ord(letter) not in first)
    rest = sorted(known - set(first) - set(second) - {0, 32, 160})
    groups = [list(first), list(second), *(rest[n : n + len(_CODES)] for n in range(0, len(rest), len(_CODES)))]
    code_of = {32: (0, 32), 160: (0, 32)}
    pages = []
    for number, group in enumerate(groups):
        page = [0] * 256
        page[32] = 32
        for code, letter in zip(_CODES, (letter for letter in group if letter in known), strict=False):
            page[code] = letter
            code_of[letter] = (number, code)
        pages.append(tuple(page))
    return _Font("FB" if bold else "FA", face, code_of, tuple(pages))


@lru_cache(maxsize=65536)
def measure(text: str, bold: bool) -> float:
    """The width of text at a type size of 1 point."""
    widths = _font(bold).face.charWidths
    default = _font(bold).face.defaultWidth
    return float(sum(widths.get(ord(letter), default) for letter in text)) / 1000


@lru_cache(maxsize=65536)
def letters_lacking(text: str) -> str:
    """The letters of the text that cannot be printed, each once, in order; "" where all can.

    Lacking are letters the fonts have no shape for, and letters of scripts that run from right to left or are
    joined, which are not set here.
    """
    regular, bold = _font(False).face.charToGlyph, _font(True).face.charToGlyph
    lacking = [
        letter
        for letter in unicodedata.normalize("NFC", text)
        if letter not in "\n\r\t"
        and (ord(letter) not in regular or ord(letter) not in bold or unicodedata.bidirectional(letter) in ("R", "AL", "AN"))
        and unicodedata.category(letter) not in ("Cc", "Cf")
    ]
    return "".join(dict.fromkeys(lacking))


@lru_cache(maxsize=65536)
def _shown(text: str, bold: bool) -> tuple[tuple[int, str, int], ...]:
    """The text as runs of one code page each, in PDF's writing, with the codes used as the bits of a number.

    A letter the font lacks is an empty box.
    """
    font = _font(bold)
    runs: list[tuple[int, list[int]]] = []
    for letter in text:
        page, code = font.code_of.get(ord(letter), _MISSING)
        if letter in " \u00a0" and runs:
            page = runs[-1][0]
        if not runs or runs[-1][0] != page:
            runs.append((page, []))
        runs[-1][1].append(code)
    return tuple((page, "".join(_ESCAPED[code] for code in codes), _bits(codes)) for page, codes in runs)


def _bits(codes: Sequence[int]) -> int:
    bits = 0
    for code in codes:
        bits |= 1 << code
    return bits


_ESCAPED = tuple(chr(code) if 32 <= code < 127 and chr(code) not in "()\\" else f"\\{code:03o}" for code in range(256))


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


def _font_name(bold: bool) -> str:
    return _font(bold).name


#: What ink needs to draw with our fonts.
TOOLS = Tools(measure, _font_name, _shown, qr_rows, code128_runs)


class _Clock:
    """The day of the plan as reportlab wants its time of writing."""

    def __init__(self, today: date) -> None:
        self.YMDhms = (today.year, today.month, today.day, 0, 0, 0)
        self.dhh = self.dmm = 0


def bound(pages: Sequence[Printed], title: str, author: str, language: str, today: date) -> bytes:
    """A PDF file of the pages: the same bytes for the same pages, words and day, whenever and wherever it is made."""
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
    for (bold, number), codes in sorted(used.items()):
        _embed(document, bold, number, codes)
    return bytes(document.GetPDFData(None))


@lru_cache(maxsize=1024)
def _font_parts(bold: bool, number: int, used: int) -> tuple[str, bytes, int, bytes, str, str]:
    """One code page, with the shapes of the codes that are used (the bits of ``used``).

    Name, packed font file and its plain length, packed table of letters, and two dictionaries.

    The descriptor waits for the number of the font file, the font for those of the letters and the descriptor.
    """
    from reportlab.pdfbase.ttfonts import makeToUnicodeCMap

    face = _font(bold).face
    page = [letter if used >> code & 1 else 0 for code, letter in enumerate(_font(bold).pages[number])]
    tag = "".join("ABCDEFGHIJKLMNOPQRSTUVWXYZ"[digit] for digit in (bold, number // 26, number % 26, 18, 15, 4))
    name = f"{tag}+{face.name.decode('ascii')}"
    file = face.makeSubset(page)
    letters = makeToUnicodeCMap(name, page).encode("ascii")
    widths = " ".join(f"{face.getCharWidth(letter):.6g}" for letter in page)
    box = " ".join(f"{side:.6g}" for side in face.bbox)
    heights = f"/Ascent {face.ascent:.6g} /Descent {face.descent:.6g} /CapHeight {face.capHeight:.6g}"
    described = (
        f"<< /Type /FontDescriptor /FontName /{name} /Flags 4 /FontBBox [ {box} ] {heights} /ItalicAngle 0"
        f" /StemV {face.stemV:.6g} /MissingWidth {face.defaultWidth:.6g} /FontFile2 %d 0 R >>"
    )
    font = (
        f"<< /Type /Font /Subtype /TrueType /BaseFont /{name} /FirstChar 0 /LastChar 255 /Widths [ {widths} ]"
        " /ToUnicode %d 0 R /FontDescriptor %d 0 R >>"
    )
    return name, zlib.compress(file, 9), len(file), zlib.compress(letters, 9), described, font


def _embed(document: Any, bold: bool, number: int, used: int) -> None:
    """Add one code page of a face to the document's fonts."""
    from reportlab.pdfbase import pdfdoc

    name, file, length, letters, described, font = _font_parts(bold, number, used)

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
    fonts[f"{_font(bold).name}{number}"] = document.Reference(words, f"font:{name}")


def warm_up() -> None:
    """Read the fonts, so that forked processes share them."""
    for bold in (False, True):
        _font(bold)
