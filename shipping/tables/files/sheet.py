"""A sheet as it was found: raw cells that know their row; what they mean is left to the readers of rows."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from shipping.words.problems import Level, Problem, ShelfProblems, Where

#: Bounds on what is read at all: beyond them a file is not a breeder's table.
MOST_BYTES = 50_000_000
MOST_ROWS = 200_000
LONGEST_CELL = 10_000
MOST_COLUMNS = 200
#: So many rows are named in one message.
ROWS_NAMED = 12
#: Control characters and marks that turn the direction of writing; line breaks and tabs are handled apart.
_UNSEEN = (
    "\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f"
    + "\u061c\u200b\u200e\u200f\u202a-\u202e\u2060\u2066-\u2069\ufeff\ufff9-\ufffb"
)
UNSEEN = re.compile(f"[{_UNSEEN}]")
_TO_CLEAN = re.compile(f"[{_UNSEEN}\n\r\t\u2028\u2029]")
_BREAKS = re.compile("[\n\r\t\u2028\u2029]+")
#: What spreadsheets write, in their several languages, where a formula failed.
ERROR_CELL = re.compile(r"#N/A|#NV|#[A-ZÀ-Þ]{2,}[A-ZÀ-Þ/0]*[!?]|Err:[0-9]{3}")


class Unreadable(ShelfProblems):
    """A file or sheet cannot be read on; it carries the one problem that says why."""

    def __init__(self, problem: Problem) -> None:
        super().__init__((problem,))
        self.problem = problem


@dataclass(frozen=True, slots=True)
class BadSource:
    """A cell that holds no value: a spreadsheet error, or a formula never worked out."""

    text: str
    mend: str


@dataclass(frozen=True)
class Sheet:
    """One table's rows as found.

    ``rows`` gives (row as the spreadsheet shows it, its cells), blank rows and comments left out; the first
    is the header. It may raise `Unreadable` on the way. ``notices`` are about the sheet itself; ``labels``
    are the columns whose name in messages is another, as in a sheet of other headers; ``form`` says in words
    what the file was taken for; ``all_text``: is every cell text? ``skipped`` gathers, as rows are read,
    those that begin with ``#`` though they are as long as a row of the table.
    """

    file: str
    rows: Iterator[tuple[int, list[object]]]
    separator: str = ""
    is_workbook: bool = False
    notices: tuple[Problem, ...] = ()
    labels: Mapping[str, str] = field(default_factory=dict)
    form: str = ""
    skipped: list[int] = field(default_factory=list)
    all_text: bool = False

    @property
    def decimal_comma(self) -> bool:
        """May a number be written with a decimal comma here?"""
        return self.separator == ";"


def column_letter(place: int) -> str:
    """The spreadsheet's name of the column at ``place`` (0 is A, 26 is AA)."""
    letters = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def cleaned(text: str, keep_breaks: bool) -> tuple[str, bool]:
    """``text`` composed (NFC), without unseen marks, on one line unless kept; and was any removed?"""
    if not _TO_CLEAN.search(text):
        return unicodedata.normalize("NFC", text).strip(), False
    without = UNSEEN.sub("", text)
    if not keep_breaks:
        without = _BREAKS.sub(" ", without.strip())
    changed = len(without) != len(text.strip()) or bool(_BREAKS.search(text.strip()) and not keep_breaks)
    return unicodedata.normalize("NFC", without).strip(), changed


def unreadable(file: str, row: int, code: str, text: str, mend: str) -> Unreadable:
    """The exception that stops the reading of one file, with its problem."""
    return Unreadable(Problem(Where(file, row), "", code, text, mend))


def notice(file: str, row: int, column: str, code: str, text: str, mend: str = "") -> Problem:
    """A problem that stops nothing."""
    return Problem(Where(file, row), column, code, text, mend, Level.NOTICE)
