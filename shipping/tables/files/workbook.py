"""The bytes of shelf.xlsx or shelf.ods in, its sheets by title out, bounded in size."""

from __future__ import annotations

import functools
import io
import re
import warnings
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from xml.etree import ElementTree

from shipping.tables.cells import as_text
from shipping.tables.files.csv_file import is_comment
from shipping.tables.files.sheet import (
    ERROR_CELL,
    MOST_COLUMNS,
    MOST_ROWS,
    ROWS_NAMED,
    BadSource,
    Sheet,
    Unreadable,
    column_letter,
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


def titles_of_book(data: bytes, file: str) -> list[str]:
    """The titles of a workbook's sheets; ``file`` is its name, and the sheet behind it in brackets or not.
    Raises Unreadable if the file is no workbook.
    """
    return _titles_of_ods(data, file) if _is_ods(file) else list(_sheet_parts(_open_zip(data, file), file))


def sheets_of_book(
    data: bytes, file: str, wanted: Mapping[str, str], comments: bool = True
) -> dict[str, Sheet | Unreadable]:
    """The sheets ``wanted`` (their titles, each with the table it is), by title; one that is broken as its
    exception. Raises Unreadable if the file is no workbook.
    """
    return (_sheets_of_ods if _is_ods(file) else _sheets_of_xlsx)(data, file, wanted, comments)


def _is_ods(file: str) -> bool:
    return re.search(r"\.ods(\[.*)?$", file, re.IGNORECASE) is not None


def _open_zip(data: bytes, file: str) -> zipfile.ZipFile:
    """The workbook as archive. Raises Unreadable if none, or unpacking to more than `MOST_UNPACKED`."""
    if data.startswith(_OLD_WORKBOOK):
        text = "cannot be read as a workbook: it is an old .xls, or has a password."
        mend = "Save it in the spreadsheet as .xlsx or .ods, without a password."
        raise unreadable(file, 0, "workbook", text, mend)
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        parts = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        raise _no_workbook(file) from None
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
        text = "unpacks to more than 200 MB."
        raise unreadable(file, 0, "too-large", text, "Save the tables alone in a new workbook.")
    return archive


def _no_workbook(file: str) -> Unreadable:
    """What is said of a file that cannot be read as a workbook."""
    return unreadable(file, 0, "workbook", "cannot be read as a workbook.", _MEND)


def _elements(archive: zipfile.ZipFile, part: str, file: str) -> Iterator[tuple[str, ElementTree.Element]]:
    """The elements of one part as they begin and end (``start``, ``end``); elements are not kept. Raises
    Unreadable if the part is missing, broken, or declares a document type (no spreadsheet does).
    """
    try:
        with archive.open(part) as head:
            if b"<!DOCTYPE" in head.read(4096):
                raise _no_workbook(file)
        with archive.open(part) as stream:
            yield from ElementTree.iterparse(stream, events=("start", "end"))
    except (KeyError, zipfile.BadZipFile, ElementTree.ParseError, RuntimeError, OSError, EOFError):
        raise _no_workbook(file) from None


def _local_name(tag: str) -> str:
    """An element's name without its namespace."""
    return tag.rpartition("}")[2]


def _attribute(element: ElementTree.Element, name: str) -> str | None:
    """An attribute by its name without namespace."""
    for key, value in element.attrib.items():
        if _local_name(key) == name:
            return value
    return None


@dataclass
class _Oddities:
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


def _plain_number(number: float) -> int | float:
    """A number with the 15 digits a spreadsheet shows; whole ones as int."""
    exact = float(f"{number:.15g}")
    return int(exact) if exact.is_integer() and abs(exact) < 1e15 else exact


def _error_cell(text: str) -> BadSource:
    return BadSource(
        say("holds the spreadsheet error {cell}.", text),
        "Mend the formula in the spreadsheet, then save it again.",
    )


_UNWORKED = BadSource(
    "holds a formula that was never worked out.",
    "Open the file in a spreadsheet, save it, and read it again.",
)


def _sheet_of(file: str, rows: Iterable[list[object]], odd: _Oddities, comments: bool) -> Sheet:
    skipped: list[int] = []
    cells = _table_rows(file, rows, odd, comments, skipped)
    form, notices = "a sheet of a workbook", odd.notices(file)
    return Sheet(file, cells, is_workbook=True, notices=notices, form=form, skipped=skipped)


def _table_rows(
    file: str, rows: Iterable[list[object]], odd: _Oddities, comments: bool, skipped: list[int]
) -> Iterator[tuple[int, list[object]]]:
    """Rows with their number, without blanks and comments. Raises Unreadable beyond the bounds."""
    by_row: dict[int, dict[int, object]] = {}
    for (row, column), text in odd.shown.items():
        by_row.setdefault(row, {})[column] = text
    for (row, column), text in odd.errors.items():
        by_row.setdefault(row, {})[column] = _error_cell(text)
    for row, column in odd.unworked:
        by_row.setdefault(row, {})[column] = _UNWORKED
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


#: The last row that a sheet of this form can have.
_LAST_ROW = 1_048_576
#: How a character that XML cannot hold, or an escape itself, stands in a text of this form.
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_CELL = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")


def _sheets_of_xlsx(
    data: bytes, file: str, wanted: Mapping[str, str], comments: bool
) -> dict[str, Sheet | Unreadable]:
    archive = _open_zip(data, file)
    parts = _sheet_parts(archive, file)
    sheets: dict[str, Sheet | Unreadable] = {}
    for title, table in wanted.items():
        if title not in parts:
            continue
        name = f"{file}[{table}]"
        try:
            odd = _xlsx_oddities(archive, parts[title], name)
            sheets[title] = _sheet_of(name, _xlsx_rows(data, title, name), odd, comments)
        except Unreadable as broken:
            sheets[title] = broken
    return sheets


def _sheet_parts(archive: zipfile.ZipFile, file: str) -> dict[str, str]:
    """The titles of a workbook's sheets, each with the part that holds it."""
    ids: dict[str, str] = {}
    for event, element in _elements(archive, "xl/workbook.xml", file):
        if event == "start" and _local_name(element.tag) == "sheet":
            ids[element.get("name") or ""] = _attribute(element, "id") or ""
    targets: dict[str, str] = {}
    for event, element in _elements(archive, "xl/_rels/workbook.xml.rels", file):
        if event == "start" and element.get("Type", "").endswith("/worksheet"):
            target = element.get("Target", "")
            targets[element.get("Id", "")] = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
    return {title: targets[place] for title, place in ids.items() if place in targets}


def _xlsx_oddities(archive: zipfile.ZipFile, part: str, file: str) -> _Oddities:
    """Formulas never worked out, hidden rows and merged cells of one sheet. Raises Unreadable if its rows do
    not follow one another downwards: the library that reads them would leave some out.
    """
    odd = _Oddities()
    row = column = 0
    filled = False
    for event, element in _elements(archive, part, file):
        name = _local_name(element.tag)
        if name == "row" and event == "start":
            row, column, filled = _next_row(element.get("r"), row, file), 0, False
        elif event == "start":
            continue
        elif name == "c":
            filled = filled or len(element) > 0
            place = _place(element.get("r") or "") or (row, column)
            column = place[1] + 1
            if _is_unworked(element):
                odd.unworked.add(place)
        elif name == "row":
            if filled and element.get("hidden") in ("1", "true"):
                odd.hidden_rows.append(row)
            element.clear()
        elif name == "mergeCell":
            cells = element.get("ref") or ""
            if merged := _place(cells):
                odd.merged.append((merged[0], cells))
    return odd


def _next_row(said: str | None, row: int, file: str) -> int:
    number = row + 1 if said is None else int(said) if re.fullmatch("[0-9]{1,7}", said) else 0
    if not row < number <= _LAST_ROW:
        raise _no_workbook(file)
    return number


def _place(reference: str) -> tuple[int, int] | None:
    """(row from 1, column from 0) of a reference as ``B7``."""
    match = _CELL.match(reference)
    if not match:
        return None
    column = 0
    for letter in match[1]:
        column = column * 26 + ord(letter) - 64
    return int(match[2]), column - 1


def _is_unworked(cell: Any) -> bool:
    """Has a cell a formula and no value? A formula whose value is empty text says so by its type."""
    parts = {_local_name(part.tag): part.text or "" for part in cell}
    return "f" in parts and not parts.get("v") and cell.get("t") != "str"


def _xlsx_rows(data: bytes, title: str, file: str) -> Iterator[list[object]]:
    import openpyxl

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
            sheet = book[title]
            sheet.reset_dimensions()
            for row in sheet.iter_rows():
                yield [_xlsx_value(cell) for cell in row]
    except Unreadable:
        raise
    except Exception:
        # openpyxl raises whatever its parts raise on a damaged file; all of it means the same to a breeder
        raise _no_workbook(file) from None


def _xlsx_value(cell: Any) -> object:
    """The value as a parser takes it; a number padded with zeros by its format as the text that is shown."""
    value = cell.value
    if value is None or isinstance(value, bool):
        return value
    if cell.data_type == "e":
        return _error_cell(str(value))
    if isinstance(value, int | float):
        number = _plain_number(value)
        pattern = cell.number_format
        is_padded = len(pattern or "") > 1 and not pattern.strip("0")
        is_padded = is_padded and isinstance(number, int) and number >= 0
        return str(number).zfill(len(pattern)) if is_padded else number
    if isinstance(value, str) and "_x" in value:
        return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), value).replace("\r\n", "\n")
    return value


_CONTENT = "content.xml"


def _sheets_of_ods(
    data: bytes, file: str, wanted: Mapping[str, str], comments: bool
) -> dict[str, Sheet | Unreadable]:
    import python_calamine

    walks = _walks_by_title(data, file)
    unfolded = functools.cache(lambda: python_calamine.load_workbook(io.BytesIO(data)))
    sheets: dict[str, Sheet | Unreadable] = {}
    for title, table in wanted.items():
        if title in walks:
            name = f"{file}[{table}]"
            odd = walks[title].odd
            if walks[title].last_row > MOST_ROWS or walks[title].last_column > MOST_COLUMNS:
                text = say("has cells beyond row {most} or column {most_columns}.", MOST_ROWS, MOST_COLUMNS)
                sheets[title] = unreadable(
                    name, 0, "too-large", text, "Remove what is not part of the table."
                )
                continue
            sheets[title] = _sheet_of(name, _ods_rows(unfolded, title, name), odd, comments)
    return sheets


def _titles_of_ods(data: bytes, file: str) -> list[str]:
    archive = _open_zip(data, file)
    return [
        _attribute(element, "name") or ""
        for event, element in _elements(archive, _CONTENT, file)
        if event == "start" and _local_name(element.tag) == "table"
    ]


def _walks_by_title(data: bytes, file: str) -> dict[str, _Walk]:
    """Of each sheet: how far it reaches, errors, unworked formulas, numbers shown with zeros in front, hidden
    and merged cells.

    The library that reads the values turns an error into an empty cell, so errors are looked for here.
    """
    archive = _open_zip(data, file)
    walks: dict[str, _Walk] = {}
    walk: _Walk | None = None
    for event, element in _elements(archive, _CONTENT, file):
        name = _local_name(element.tag)
        if name == "table" and event == "start":
            walk = _Walk(file)
            walks[_attribute(element, "name") or ""] = walk
        elif walk is None:
            continue
        elif name in ("table-cell", "covered-table-cell") and event == "end":
            walk.cell(element)
        elif name == "table-row":
            if event == "end":
                walk.end_of_row(element)
                element.clear()
            else:
                walk.column = 0
    return walks


class _Walk:
    """Where the scan of one sheet stands."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.odd = _Oddities()
        self.row = 1
        self.column = 0
        self.filled = False
        self.last_row = 0
        self.last_column = 0

    def cell(self, element: Any) -> None:
        """Take in one cell, and the columns it repeats over."""
        repeated = self._count(element, "number-columns-repeated")
        kind = _attribute(element, "value-type")
        text, is_plain = _text_of(element)
        if text or kind:
            self.filled = True
            self.last_column = max(self.last_column, self.column + repeated)
        if text or _attribute(element, "formula"):
            for column in range(self.column, self.column + min(repeated, 200)):
                self._judge(element, (self.row, column), kind, text)
                if kind == "string" and not is_plain:
                    self.odd.shown.setdefault((self.row, column), text)
        spans = [self._count(element, f"number-{way}-spanned") for way in ("columns", "rows")]
        if max(spans) > 1:
            first = f"{column_letter(self.column)}{self.row}"
            last = f"{column_letter(self.column + spans[0] - 1)}{self.row + spans[1] - 1}"
            self.odd.merged.append((self.row, f"{first}:{last}"))
        self.column += repeated

    def _judge(self, element: Any, place: tuple[int, int], kind: str | None, text: str) -> None:
        has_formula = _attribute(element, "formula") is not None
        is_error = any(value == "error" for value in element.attrib.values())
        if is_error or (has_formula and ERROR_CELL.fullmatch(text)):
            self.odd.errors[place] = text or "error"
        elif has_formula and kind is None:
            self.odd.unworked.add(place)
        elif kind == "float" and re.fullmatch(r"0[0-9]+", text):
            self.odd.shown[place] = text

    def _count(self, element: Any, name: str) -> int:
        """A number that an attribute holds, 1 where it is not there. Raises Unreadable if it is no number."""
        text = _attribute(element, name) or "1"
        if not re.fullmatch("[0-9]{1,9}", text):
            raise _no_workbook(self.file)
        return int(text)

    def end_of_row(self, element: Any) -> None:
        """Count the row, and the rows it repeats over."""
        repeated = self._count(element, "number-rows-repeated")
        if self.filled and _attribute(element, "visibility") in ("collapse", "filter"):
            self.odd.hidden_rows.extend(range(self.row, self.row + min(repeated, 1000)))
        if self.filled:
            self.last_row = self.row + repeated - 1
        self.row += repeated
        self.column = 0
        self.filled = False


#: What stands in a cell beside its text: comments, and how a word is spoken.
_BESIDE_TEXT = ("annotation", "ruby-text")


def _text_of(cell: Any) -> tuple[str, bool]:
    """What a cell shows, and whether that is its text letter for letter as its paragraphs have it."""
    parts: list[str] = []
    odd = [0]
    paragraphs = 0
    for child in cell:
        if _local_name(child.tag) == "p":
            parts += ["\n"] * (paragraphs > 0)
            paragraphs += 1
            _add_text(child, parts, odd)
        elif _local_name(child.tag) in _BESIDE_TEXT:
            odd[0] += 1
    return "".join(parts).strip(), not odd[0]


def _add_text(element: Any, parts: list[str], odd: list[int]) -> None:
    parts.append(element.text or "")
    for child in element:
        name = _local_name(child.tag)
        if name in _BESIDE_TEXT:
            odd[0] += 1
        elif name in ("tab", "line-break"):
            odd[0] += 1
            parts.append(" " if name == "tab" else "\n")
        elif name == "s":
            parts.append(" " * min(int(_attribute(child, "c") or 1), 100))
        else:
            _add_text(child, parts, odd)
        parts.append(child.tail or "")


def _ods_rows(unfolded: Callable[[], Any], title: str, file: str) -> Iterator[list[object]]:
    import python_calamine

    try:
        rows = unfolded().get_sheet_by_name(title).to_python(skip_empty_area=False)
    except (python_calamine.CalamineError, OSError, ValueError):
        raise _no_workbook(file) from None
    for row in rows:
        yield [
            _plain_number(value) if isinstance(value, int | float) and not isinstance(value, bool) else value
            for value in row
        ]
