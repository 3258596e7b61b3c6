"""Fonts: text in, its width, its letters that cannot be printed, and the shapes to put into a file out."""

from __future__ import annotations

import re
import unicodedata
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from shipping.papers.page.primitives import Measure
from shipping.papers.wording.scripts import runs_leftward, stands_alone

_FONTS = Path(__file__).resolve().parent.parent / "fonts"
#: The letters of each of a font's first two code pages; all others follow in the order of Unicode.
_COMMON = (
    "".join(chr(code) for code in range(33, 127))
    + "ÄÖÜäöüßÀÂÇÈÉÊËÎÏÔÙÛŒàâçèéêëîïôùûœÁÍÓÚÑáíóúñ¿¡ªº«»„“”‘’‚–—…·•°×±−≤≥→☐✓€£§½µ©"
)
_CENTRAL = (
    "ĄąĆćĘęŁłŃńŚśŹźŻżČčĎďĚěŇňŘřŠšŤťŮůŽžĹĺĽľŔŕĞğİıŞşŐőŰűĂăȘșȚțÅåÆæ"
    "ØøÐðÞþÝýÿŸÃãÕõÌìÒòĀāĒēĢģĪīĶķĻļŅņŪūĖėĮįŲųŻŽŠ♀♂№"
)
#: Code page and code of the empty box that stands for a letter the font lacks.
_MISSING = (0, 0)
#: Codes of a code page that letters may take: 0 is the missing glyph, 32 the space.
_CODES = (*range(33, 256), *range(1, 32))
#: What a face is called inside a file: ours, ours in bold, the breeder's own.
_REGULAR, _BOLD, _OWN = "FA", "FB", "FC"


class Face(NamedTuple):
    """A font: its name inside a file, where it stands, and when that was written, so that another one is read
    anew.
    """

    name: str
    file: str
    stamp: int = 0


#: A run of text: the face and code page it is set with, PDF's writing of it, and the codes used as the bits
#: of a number.
ShownRun = tuple[Face, int, str, int]


class Pen(NamedTuple):
    """How text is set: its width, its runs, and the letters of it that cannot be printed."""

    measure: Measure
    shown: Callable[[str, bool], tuple[ShownRun, ...]]
    lacking: Callable[[str], str]


class FontUnreadable(Exception):
    """The breeder's own font cannot be taken; says why."""


@dataclass(frozen=True, eq=False)
class _Font:
    """A face with its letters spread over fixed code pages, so that the same text is the same bytes in every
    file.
    """

    face: Any
    code_of: dict[int, tuple[int, int]]
    pages: tuple[tuple[int, ...], ...]


def _ours(bold: bool) -> Face:
    return (
        Face(_BOLD, str(_FONTS / "DejaVuSans-Bold.ttf"))
        if bold
        else Face(_REGULAR, str(_FONTS / "DejaVuSans.ttf"))
    )


@lru_cache(maxsize=8)
def _font(of: Face) -> _Font:
    face = _opened(of)
    known = set(face.charToGlyph)
    first = dict.fromkeys(ord(letter) for letter in _COMMON)
    second = dict.fromkeys(ord(letter) for letter in _CENTRAL if ord(letter) not in first)
    rest = sorted(known - set(first) - set(second) - {0, 32, 160})
    groups = [
        list(first),
        list(second),
        *(rest[n : n + len(_CODES)] for n in range(0, len(rest), len(_CODES))),
    ]
    code_of = {32: (0, 32), 160: (0, 32)}
    pages = []
    for number, group in enumerate(groups):
        page = [0] * 256
        page[32] = 32
        for code, letter in zip(_CODES, (letter for letter in group if letter in known), strict=False):
            page[code] = letter
            code_of[letter] = (number, code)
        pages.append(tuple(page))
    return _Font(face, code_of, tuple(pages))


def _opened(of: Face) -> Any:
    """The font as reportlab reads it."""
    from reportlab.pdfbase.ttfonts import TTFontFace

    if of.name != _OWN:
        return TTFontFace(of.file)
    try:
        return TTFontFace(of.file)
    except Exception as error:  # a font library fails in ways of its own, and any of them means the same
        raise FontUnreadable(
            f"{Path(of.file).name} cannot be read as a font ({type(error).__name__}: {error})"
        ) from None


@lru_cache(maxsize=65536)
def measure(text: str, bold: bool) -> float:
    """The width of text at a type size of 1 point."""
    face = _font(_ours(bold)).face
    widths, default = face.charWidths, face.defaultWidth
    return float(sum(widths.get(ord(letter), default) for letter in text)) / 1000


@lru_cache(maxsize=65536)
def letters_lacking(text: str) -> str:
    """The letters of the text that cannot be printed, each once, in order; "" where all can.

    Lacking are letters the fonts have no shape for, and letters of scripts that run from right to left, which
    are not set here.
    """
    regular, bold = (_font(_ours(is_bold)).face.charToGlyph for is_bold in (False, True))
    lacking = [
        letter
        for letter in unicodedata.normalize("NFC", text)
        if letter not in "\n\r\t"
        and (ord(letter) not in regular or ord(letter) not in bold or runs_leftward(letter))
        and unicodedata.category(letter) not in ("Cc", "Cf")
    ]
    return "".join(dict.fromkeys(lacking))


def _is_own(letter: str, own: Face) -> bool:
    """Is the letter set with the breeder's own font: ours lacks it, theirs has it, and it needs no
    joining?
    """
    return bool(letters_lacking(letter)) and stands_alone(letter) and ord(letter) in _font(own).code_of


@lru_cache(maxsize=65536)
def _parts(text: str, bold: bool, own: Face | None) -> tuple[tuple[Face, str], ...]:
    """The text parted by the face that it is set with."""
    if own is None or not letters_lacking(text):
        return ((_ours(bold), text),)
    parts: list[tuple[Face, str]] = []
    for letter in text:
        face = own if _is_own(letter, own) else _ours(bold)
        if parts and parts[-1][0] == face:
            parts[-1] = (face, parts[-1][1] + letter)
        else:
            parts.append((face, letter))
    return tuple(parts)


@lru_cache(maxsize=65536)
def _shown(text: str, bold: bool, own: Face | None) -> tuple[ShownRun, ...]:
    """The text as runs of one code page each; a letter that no font has is an empty box."""
    return tuple(run for face, part in _parts(text, bold, own) for run in _runs(part, face))


def _runs(text: str, face: Face) -> list[ShownRun]:
    font = _font(face)
    runs: list[tuple[int, list[int]]] = []
    for letter in text:
        page, code = font.code_of.get(ord(letter), _MISSING)
        if letter in " \u00a0" and runs:
            page = runs[-1][0]
        if not runs or runs[-1][0] != page:
            runs.append((page, []))
        runs[-1][1].append(code)
    return [(face, page, "".join(_ESCAPED[code] for code in codes), _bits(codes)) for page, codes in runs]


def _bits(codes: Sequence[int]) -> int:
    bits = 0
    for code in codes:
        bits |= 1 << code
    return bits


_ESCAPED = tuple(
    chr(code) if 32 <= code < 127 and chr(code) not in "()\\" else f"\\{code:03o}" for code in range(256)
)


def _shown_plain(text: str, bold: bool) -> tuple[ShownRun, ...]:
    return _shown(text, bold, None)


#: Our fonts alone.
PLAIN_PEN = Pen(measure, _shown_plain, letters_lacking)


def pen_of(own_font: str) -> Pen:
    """Our fonts, and for letters that they lack the font in the file ``own_font`` (its whole path; "" is
    none).

    Raises
    ------
    FontUnreadable
        When a letter is looked for in a font that cannot be taken; one that is not needed is not read.
    """
    if not own_font:
        return PLAIN_PEN
    try:
        return _pen_with(Face(_OWN, own_font, Path(own_font).stat().st_mtime_ns))
    except OSError as error:
        raise FontUnreadable(f"{Path(own_font).name} cannot be opened ({error.strerror or error})") from None


@lru_cache(maxsize=4)
def _pen_with(own: Face) -> Pen:
    @lru_cache(maxsize=65536)
    def wide(text: str, bold: bool) -> float:
        return sum(_wide(part, face) for face, part in _parts(text, bold, own))

    @lru_cache(maxsize=65536)
    def lacking(text: str) -> str:
        return "".join(letter for letter in letters_lacking(text) if not _is_own(letter, own))

    def shown(text: str, bold: bool) -> tuple[ShownRun, ...]:
        return _shown(text, bold, own)

    return Pen(wide, shown, lacking)


def _wide(text: str, face: Face) -> float:
    if face.name != _OWN:
        return measure(text, face.name == _BOLD)
    widths = _font(face).face.charWidths
    return float(sum(widths[ord(letter)] for letter in text)) / 1000


@lru_cache(maxsize=1024)
def embeddable(of: Face, number: int, used: int) -> tuple[str, bytes, int, bytes, str, str]:
    """One code page, with the shapes of the codes that are used (the bits of ``used``).

    Name, packed font file and its plain length, packed table of letters, and two dictionaries.

    The descriptor waits for the number of the font file, the font for those of the letters and the
    descriptor.
    """
    from reportlab.pdfbase.ttfonts import makeToUnicodeCMap

    font_of = _font(of)
    face = font_of.face
    page = [letter if used >> code & 1 else 0 for code, letter in enumerate(font_of.pages[number])]
    tag = "".join(
        "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[digit]
        for digit in ((_REGULAR, _BOLD, _OWN).index(of.name), number // 26, number % 26, 18, 15, 4)
    )
    name = f"{tag}+{_plain_name(face.name)}"
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


def _plain_name(name: bytes) -> str:
    """A font's own name with nothing in it that PDF would read as something else."""
    return re.sub(r"[^A-Za-z0-9-]", "", name.decode("latin-1")) or "Own"


def warm_up() -> None:
    """Read our fonts, so that forked processes share them."""
    for bold in (False, True):
        _font(_ours(bold))
