"""Fonts: text in, its width and its runs of one font out; letters of a plan and its tables that none has."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import itemgetter
from pathlib import Path
from typing import Any

from shipping.papers.wording.language import runs_leftward, stands_alone
from shipping.tables.cells import Row
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import LineOut, Parcel
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say

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


#: Text -> the letters of it that cannot be printed.
Lacking = Callable[[str], str]
#: Columns that no paper shows: the breeder's own. Any other column of a row is taken to be printed, so that a
#: new one is looked at without being named here.
UNPRINTED = frozenset({"note", "origin", "source", "family", "care", "live_eggs_source", "zone"})
#: Columns of an order that only its buyer's message shows where it is left out: a message takes any letters.
_IN_MESSAGES = re.compile(r"addressee|delivery_\d|postcode|town|tel|mail|message|importer_ref|local_\d")
#: Where a text stands, in which column, and the text.
_Said = tuple[Where, str, str]


def letter_problems(
    parcels: Sequence[Parcel], lines_out: Sequence[LineOut], shelf: Shelf, lacking: Lacking
) -> tuple[Problem, ...]:
    """One problem a text of the papers whose letters the fonts lack, in the order of files and rows."""
    return _unprintable(_texts(parcels, lines_out, shelf), shelf, lacking)


#: Letters up to here (Latin, Greek, Cyrillic) are in our fonts, which are not read for them alone.
_PRINTED = "\u052f"


def letters_to_come(shelf: Shelf, lacking: Lacking) -> tuple[Problem, ...]:
    """The same of every order, before any is planned, as notices: papers with such a text are not printed."""
    rows = (line.row for order in shelf.orders for line in order.lines)
    texts = (said for row in rows for said in _of_row(row) if max(said[2]) > _PRINTED)
    return _unprintable(texts, shelf, lacking, Level.NOTICE)


def letters_of_orders(shelf: Shelf) -> tuple[Problem, ...]:
    """`letters_to_come` by the fonts that the shelf prints with; or why its own font cannot be taken."""
    try:
        return letters_to_come(shelf, typeface_of(shelf.settings.papers.font).lacking)
    except FontUnreadable as wrong:
        return (font_problem(wrong),)


def font_problem(wrong: Exception) -> Problem:
    """Why the breeder's own font cannot be taken."""
    mend = "Name another .ttf, or leave font out of [papers]."
    return Problem(Where("shelf.toml"), "papers.font", "setting", f"{wrong}.", mend)


def _unprintable(
    texts: Iterable[_Said], shelf: Shelf, lacking: Lacking, level: Level = Level.ERROR
) -> tuple[Problem, ...]:
    cells: dict[tuple[str, int, str], dict[str, tuple[Where, str]]] = {}
    for where, column, text in texts:
        if lacking(text):  # the lines of one address are told at once
            kind = column.rstrip("_0123456789")
            cells.setdefault((where.file, where.row, kind), {}).setdefault(text, (where, column))
    problems = []
    for key in sorted(cells):
        text, (where, column) = " / ".join(cells[key]), min(cells[key].values(), key=itemgetter(1))
        letters = lacking(text)
        mend = _mend(column, letters, bool(shelf.settings.papers.font))
        problems.append(Problem(where, column, "letters", letters_told(text, letters), mend, level))
    return tuple(problems)


def letters_told(text: str, letters: str) -> str:
    """That a text has these letters, which cannot be printed."""
    named = " ".join(f"{letter} (U+{ord(letter):04X})" for letter in letters[:8])
    return say("'{text}' has letters that cannot be printed: {letters}.", text, named)


#: What to write instead, by the column without its number.
_INSTEAD = {
    "local": say("Leave these lines out"),
    "addressee": say("Write the name in Latin letters"),
    "delivery": say("Write the street in Latin letters"),
    "postcode": say("Write the postcode in Latin letters"),
    "town": say("Write the town in Latin letters"),
    "region": say("Write the region in Latin letters"),
    "message": say("Write the message in Latin letters"),
}


def _mend(column: str, letters: str, has_font: bool) -> str:
    """What to write instead, and where a font of the breeder's would help, that too."""
    instead = _INSTEAD.get(column.rstrip("_0123456789"), say("Write the text in Latin letters"))
    if not all(map(stands_alone, letters)):
        return say(
            "{instead}: writing that is joined, stacked or runs from right to left is not set here.", instead
        )
    if has_font:
        return say(
            '{instead}, or name another font that has them in shelf.toml: [papers] font = "file.ttf".',
            instead,
        )
    return say(
        '{instead}, or name a font of yours that has them in shelf.toml: [papers] font = "file.ttf".', instead
    )


def _texts(parcels: Sequence[Parcel], lines_out: Sequence[LineOut], shelf: Shelf) -> Iterator[_Said]:
    yield from _of_settings(shelf)
    for row in _rows(parcels, shelf):
        yield from _of_row(row)
    for row in _order_rows({line.order for line in lines_out}, shelf):
        yield from (said for said in _of_row(row) if not _IN_MESSAGES.fullmatch(said[1]))
    for parcel in parcels:
        yield from _of_address(parcel, shelf)


def _order_rows(orders: set[str], shelf: Shelf) -> Iterator[Row]:
    for name in sorted(orders & set(shelf.order_by_name)):
        yield from (line.row for line in shelf.order_by_name[name].lines)


def _rows(parcels: Sequence[Parcel], shelf: Shelf) -> Iterator[Row]:
    """Every row of the tables that the papers of parcels take words from."""
    yield from _order_rows({name for parcel in parcels for name in parcel.orders}, shelf)
    services = {parcel.service for parcel in parcels}
    yield from (service for service in shelf.services if service.service in services)
    boxes = {parcel.box for parcel in parcels}
    yield from (box for box in shelf.boxes if box.box in boxes)
    draws = [draw for parcel in parcels for line in parcel.lines for draw in line.draws]
    yield from (shelf.packing_by_name[name] for name in sorted({draw.packing for draw in draws}))
    lots = [shelf.lot_by_name[name] for name in sorted({draw.lot for draw in draws})]
    yield from lots
    yield from (shelf.species[name] for name in sorted({lot.species for lot in lots}))


def _of_row(row: Row) -> Iterator[_Said]:
    """Every text of a row, whatever its column, but for those that no paper shows."""
    for column, value in row:
        if isinstance(value, str) and value and column not in UNPRINTED:
            yield row.at, column, value


def _of_settings(shelf: Shelf) -> Iterator[_Said]:
    where = Where("shelf.toml")
    settings = shelf.settings
    for section in ("sender", "claims", "customs"):
        for name, value in getattr(settings, section):
            for text in value if isinstance(value, tuple) else (value,):
                if isinstance(text, str):
                    yield where, f"{section}.{name}", text


def _of_address(parcel: Parcel, shelf: Shelf) -> Iterator[_Said]:
    """The address as the plan carries it, for a parcel whose orders are no longer in the tables."""
    if any(name in shelf.order_by_name for name in parcel.orders):
        return
    address = parcel.address
    for text in (address.addressee, *address.delivery, address.postcode, address.town, address.region):
        yield Where("orders"), "addressee", text
    for number, text in enumerate(address.local, start=1):
        yield Where("orders"), f"local_{number}", text
