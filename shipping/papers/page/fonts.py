"""Fonts: text in, its width, letters that cannot be printed, and the runs of one font it is set in, out."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from shipping.papers.wording.language import runs_leftward, stands_alone

_FILES = Path(__file__).resolve().parent.parent / "fonts"
#: What our fonts are called by the library that draws.
REGULAR, BOLD = "DejaVuSans", "DejaVuSans-Bold"


class FontUnreadable(Exception):
    """The breeder's own font cannot be taken; says why."""


@lru_cache(maxsize=8)
def _registered(name: str, file: str, stamp: int = 0) -> Any:
    """The font, known to the library by its name; ``stamp``: when its file was written, to be read anew."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    font = TTFont(name, file, asciiReadable=False)
    widths, default = font.face.charWidths, font.face.defaultWidth

    @lru_cache(maxsize=65536)
    def width_of(text: str) -> float:
        return float(sum(widths.get(ord(letter), default) for letter in text)) / 1000

    font.stringWidth = lambda text, size, encoding="utf8": size * width_of(text)
    pdfmetrics.registerFont(font)
    return font


@lru_cache(maxsize=2)
def font_of(bold: bool) -> Any:
    """DejaVu Sans, regular or bold."""
    name = BOLD if bold else REGULAR
    return _registered(name, str(_FILES / f"{name}.ttf"))


def measure(text: str, bold: bool = False) -> float:
    """The width of text at a type size of 1 point, in our fonts."""
    return float(font_of(bold).stringWidth(text, 1.0))


@lru_cache(maxsize=65536)
def letters_lacking(text: str) -> str:
    """The letters of the text that cannot be printed, each once, in order; "" where all can.

    Lacking are letters our fonts have no shape for, and letters of scripts that run from right to left, which
    are not set here.
    """
    regular, bold = (font_of(is_bold).face.charToGlyph for is_bold in (False, True))
    lacking = [
        letter
        for letter in unicodedata.normalize("NFC", text)
        if letter not in "\n\r\t"
        and (ord(letter) not in regular or ord(letter) not in bold or runs_leftward(letter))
        and unicodedata.category(letter) not in ("Cc", "Cf")
    ]
    return "".join(dict.fromkeys(lacking))


@dataclass(frozen=True, slots=True)
class Typeface:
    """Our fonts, and the breeder's own font in the file ``own`` ("" is none) for letters that ours lack."""

    own: str = ""
    stamp: int = 0

    def measure(self, text: str, bold: bool = False) -> float:
        """The width of text at a type size of 1 point."""
        if not self.own or not letters_lacking(text):
            return measure(text, bold)
        return sum(self._wide(name, part, bold) for name, part in self.runs(text, bold))

    def runs(self, text: str, bold: bool = False) -> tuple[tuple[str, str], ...]:
        """The text as (font, part) in their order."""
        ours = BOLD if bold else REGULAR
        font_of(bold)
        return ((ours, text),) if not self.own or not letters_lacking(text) else _runs(text, ours, self)

    def lacking(self, text: str) -> str:
        """The letters that neither our fonts nor the breeder's print. Raises FontUnreadable when a letter is
        looked for in a font that cannot be taken; one that is not needed is not read.
        """
        letters = letters_lacking(text)
        return "".join(letter for letter in letters if not self.sets(letter)) if self.own else letters

    def sets(self, letter: str) -> bool:
        """Does the breeder's own font set this letter, which ours lack?"""
        return stands_alone(letter) and ord(letter) in self._font().face.charToGlyph

    def _wide(self, name: str, part: str, bold: bool) -> float:
        return measure(part, bold) if name in (REGULAR, BOLD) else float(self._font().stringWidth(part, 1.0))

    def _font(self) -> Any:
        try:
            return _registered(f"Own{self.stamp}", self.own, self.stamp)
        except Exception as error:  # a font library fails in ways of its own, and any of them means the same
            raise FontUnreadable(
                f"{Path(self.own).name} cannot be read as a font ({type(error).__name__}: {error})"
            ) from None


#: Our fonts alone.
OUR_TYPE = Typeface()


@lru_cache(maxsize=65536)
def _runs(text: str, ours: str, typeface: Typeface) -> tuple[tuple[str, str], ...]:
    parts: list[tuple[str, str]] = []
    for letter in text:
        name = f"Own{typeface.stamp}" if letters_lacking(letter) and typeface.sets(letter) else ours
        if parts and parts[-1][0] == name:
            parts[-1] = (name, parts[-1][1] + letter)
        else:
            parts.append((name, letter))
    return tuple(parts)


def typeface_of(own_font: str) -> Typeface:
    """Our fonts and the breeder's at ``own_font`` ("": none). Raises FontUnreadable if it is not there."""
    if not own_font:
        return OUR_TYPE
    try:
        return Typeface(own_font, Path(own_font).stat().st_mtime_ns)
    except OSError as error:
        raise FontUnreadable(f"{Path(own_font).name} cannot be opened ({error.strerror or error})") from None
