"""The bytes of a workbook in, its parts out, bounded in size; and what of its rows all workbooks share."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from xml.etree import ElementTree

from shipping.tables.cells import as_text
from shipping.tables.files.csv_reader import is_comment
from shipping.tables.files.sheet import (
    MOST_COLUMNS,
    MOST_ROWS,
    ROWS_NAMED,
    BadSource,
    Sheet,
    Unreadable,
    notice,
    unreadable,
)
from shipping.words.problems import Problem
from shipping.words.sentence import say

#: A workbook may unpack to this much in all, and no more.
MOST_UNPACKED = 200_000_000
MOST_PARTS = 5_000

_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
_MEND = "Take off any password and save it again in the spreadsheet, or save each sheet as CSV UTF-8."


def open_zip(data: bytes, file: str) -> zipfile.ZipFile:
    """The workbook as an archive.

    Raises
    ------
    Unreadable
        If it is no archive, or would unpack to more than `MOST_UNPACKED`.
    """
    if data.startswith(_OLD_WORKBOOK):
        text = "cannot be read as a workbook: it is an old .xls, or has a password."
        mend = "Save it in the spreadsheet as .xlsx or .ods, without a password."
        raise unreadable(file, 0, "workbook", text, mend)
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        parts = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        raise no_workbook(file) from None
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
        text = "unpacks to more than 200 MB."
        raise unreadable(file, 0, "too-large", text, "Save the tables alone in a new workbook.")
    return archive


def no_workbook(file: str) -> Unreadable:
    """What is said of a file that cannot be read as a workbook."""
    return unreadable(file, 0, "workbook", "cannot be read as a workbook.", _MEND)


def elements(archive: zipfile.ZipFile, part: str, file: str) -> Iterator[tuple[str, ElementTree.Element]]:
    """The elements of one part as they begin and end (``start``, ``end``); elements are not kept.

    Raises
    ------
    Unreadable
        If the part is missing, broken, or declares a document type (no spreadsheet does).
    """
    try:
        with archive.open(part) as head:
            if b"<!DOCTYPE" in head.read(4096):
                raise no_workbook(file)
        with archive.open(part) as stream:
            yield from ElementTree.iterparse(stream, events=("start", "end"))
    except (KeyError, zipfile.BadZipFile, ElementTree.ParseError, RuntimeError, OSError, EOFError):
        raise no_workbook(file) from None


def local_name(tag: str) -> str:
    """An element's name without its namespace."""
    return tag.rpartition("}")[2]


def attribute(element: ElementTree.Element, name: str) -> str | None:
    """An attribute by its name without namespace."""
    for key, value in element.attrib.items():
        if local_name(key) == name:
            return value
    return None


@dataclass
class Oddities:
    """What a look through a sheet's XML found, by (row from 1, column from 0)."""

    unworked: set[tuple[int, int]] = field(default_factory=set)
    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    shown: dict[tuple[int, int], str] = field(default_factory=dict)
    hidden_rows: list[int] = field(default_factory=list)
    merged: list[tuple[int, str]] = field(default_factory=list)

    def notices(self, file: str) -> tuple[Problem, ...]:
        """Hidden rows and merged cells are said, not skipped."""
        said: list[Problem] = []
        if self.hidden_rows:
            rows = sorted(self.hidden_rows)
            named = ", ".join(map(str, rows[:ROWS_NAMED])) + (" .." if len(rows) > ROWS_NAMED else "")
            text = say("rows {rows} are hidden, and read all the same.", named)
            if len(rows) == 1:
                text = say("row {rows} is hidden, and read all the same.", named)
            mend = "Show or remove what should not count."
            said.append(notice(file, rows[0], "", "hidden-rows", text, mend))
        for row, cells in sorted(self.merged):
            text = say("the cells {cells} are merged; only the first holds a value.", cells)
            said.append(notice(file, row, "", "merged-cells", text, "Split them and fill each."))
        return tuple(said)


def plain_number(number: float) -> int | float:
    """A number with the 15 digits a spreadsheet shows; whole ones as int."""
    exact = float(f"{number:.15g}")
    return int(exact) if exact.is_integer() and abs(exact) < 1e15 else exact


def error_cell(text: str) -> BadSource:
    return BadSource(
        say("holds the spreadsheet error {cell}.", text),
        "Mend the formula in the spreadsheet, then save it again.",
    )


UNWORKED = BadSource(
    "holds a formula that was never worked out.",
    "Open the file in a spreadsheet, save it, and read it again.",
)


def sheet_of(file: str, rows: Iterable[list[object]], odd: Oddities, comments: bool) -> Sheet:
    """A sheet of a workbook, of its rows and what is odd in them."""
    skipped: list[int] = []
    cells = _table_rows(file, rows, odd, comments, skipped)
    form, notices = "a sheet of a workbook", odd.notices(file)
    return Sheet(file, cells, is_workbook=True, notices=notices, form=form, skipped=skipped)


def _table_rows(
    file: str,
    rows: Iterable[list[object]],
    odd: Oddities,
    comments: bool,
    skipped: list[int],
) -> Iterator[tuple[int, list[object]]]:
    """Rows with their number, oddities put in, without blank rows and comments.

    Raises
    ------
    Unreadable
        Beyond the bounds of rows and columns.
    """
    by_row: dict[int, dict[int, object]] = {}
    for (row, column), text in odd.shown.items():
        by_row.setdefault(row, {})[column] = text
    for (row, column), text in odd.errors.items():
        by_row.setdefault(row, {})[column] = error_cell(text)
    for row, column in odd.unworked:
        by_row.setdefault(row, {})[column] = UNWORKED
    kept = 0
    for number, cells in enumerate(rows, start=1):
        for column, value in by_row.get(number, {}).items():
            cells.extend([None] * (column + 1 - len(cells)))
            cells[column] = value
        while cells and (cells[-1] is None or cells[-1] == ""):
            cells.pop()
        first = next((cell for cell in cells if cell is not None and cell != ""), None)
        if first is None:
            continue
        if isinstance(first, str):
            is_remark = comments and is_comment(first)
            may_be_a_row = len(cells) > 2 or (len(cells) > 1 and first.lstrip()[1:2].isalnum())
            if kept and is_remark and may_be_a_row:
                skipped.append(number)
            if is_remark or not "".join(map(_text, cells)):
                continue
        kept += 1
        if kept > MOST_ROWS + 1:
            text = say("has more than {most} rows.", MOST_ROWS)
            raise unreadable(file, number, "too-large", text, "Move old rows elsewhere.")
        if len(cells) > MOST_COLUMNS:
            text = say("has more than {most} columns.", MOST_COLUMNS)
            raise unreadable(file, number, "too-large", text, "Remove what is not part of the table.")
        yield number, cells


def _text(cell: object) -> str:
    return "" if cell is None else "x" if isinstance(cell, BadSource) else as_text(cell)
