"""The bytes of shelf.ods in, its sheets by name out; columns are left to the reader of rows."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping
from typing import Any

from shipping.tables.files.sheet import (
    ERROR_CELL,
    MOST_COLUMNS,
    MOST_ROWS,
    Sheet,
    Unreadable,
    column_letter,
    unreadable,
)
from shipping.tables.files.workbook import (
    Oddities,
    attribute,
    elements,
    local_name,
    no_workbook,
    open_zip,
    plain_number,
    sheet_of,
)
from shipping.words.sentence import say

CONTENT = "content.xml"


def sheets_from_ods(
    data: bytes, file: str, wanted: Mapping[str, str], comments: bool = True
) -> dict[str, Sheet | Unreadable]:
    """The sheets ``wanted`` (their titles, each with the table it is), by title.

    Raises
    ------
    Unreadable
        If the file is no workbook.
    """
    walks = _walks_by_title(data, file)
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
            sheets[title] = sheet_of(name, _rows(data, title, name), odd, comments)
    return sheets


def titles_of_ods(data: bytes, file: str) -> list[str]:
    """The titles of the sheets."""
    archive = open_zip(data, file)
    return [
        attribute(element, "name") or ""
        for event, element in elements(archive, CONTENT, file)
        if event == "start" and local_name(element.tag) == "table"
    ]


def _walks_by_title(data: bytes, file: str) -> dict[str, _Walk]:
    """Of each sheet: how far it reaches, errors, unworked formulas, numbers shown with zeros in front, hidden
    and merged cells.

    The library that reads the values turns an error into an empty cell, so errors are looked for here.
    """
    archive = open_zip(data, file)
    walks: dict[str, _Walk] = {}
    walk: _Walk | None = None
    for event, element in elements(archive, CONTENT, file):
        name = local_name(element.tag)
        if name == "table" and event == "start":
            walk = _Walk(file)
            walks[attribute(element, "name") or ""] = walk
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
        self.odd = Oddities()
        self.row = 1
        self.column = 0
        self.filled = False
        self.last_row = 0
        self.last_column = 0

    def cell(self, element: Any) -> None:
        """Take in one cell, and the columns it repeats over."""
        repeated = self._count(element, "number-columns-repeated")
        kind = attribute(element, "value-type")
        text, is_plain = _text_of(element)
        if text or kind:
            self.filled = True
            self.last_column = max(self.last_column, self.column + repeated)
        if text or attribute(element, "formula"):
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
        has_formula = attribute(element, "formula") is not None
        is_error = any(value == "error" for value in element.attrib.values())
        if is_error or (has_formula and ERROR_CELL.fullmatch(text)):
            self.odd.errors[place] = text or "error"
        elif has_formula and kind is None:
            self.odd.unworked.add(place)
        elif kind == "float" and re.fullmatch(r"0[0-9]+", text):
            self.odd.shown[place] = text

    def _count(self, element: Any, name: str) -> int:
        """A number that an attribute holds, 1 where it is not there.

        Raises
        ------
        Unreadable
            If it is no number.
        """
        text = attribute(element, name) or "1"
        if not re.fullmatch("[0-9]{1,9}", text):
            raise no_workbook(self.file)
        return int(text)

    def end_of_row(self, element: Any) -> None:
        """Count the row, and the rows it repeats over."""
        repeated = self._count(element, "number-rows-repeated")
        if self.filled and attribute(element, "visibility") in ("collapse", "filter"):
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
        if local_name(child.tag) == "p":
            parts += ["\n"] * (paragraphs > 0)
            paragraphs += 1
            _add_text(child, parts, odd)
        elif local_name(child.tag) in _BESIDE_TEXT:
            odd[0] += 1
    return "".join(parts).strip(), not odd[0]


def _add_text(element: Any, parts: list[str], odd: list[int]) -> None:
    parts.append(element.text or "")
    for child in element:
        name = local_name(child.tag)
        if name in _BESIDE_TEXT:
            odd[0] += 1
        elif name in ("tab", "line-break"):
            odd[0] += 1
            parts.append(" " if name == "tab" else "\n")
        elif name == "s":
            parts.append(" " * min(int(attribute(child, "c") or 1), 100))
        else:
            _add_text(child, parts, odd)
        parts.append(child.tail or "")


def _rows(data: bytes, title: str, file: str) -> Iterator[list[object]]:
    import python_calamine

    try:
        book = python_calamine.load_workbook(io.BytesIO(data))
        rows = book.get_sheet_by_name(title).to_python(skip_empty_area=False)
    except (python_calamine.CalamineError, OSError, ValueError):
        raise no_workbook(file) from None
    for row in rows:
        yield [
            plain_number(value) if isinstance(value, int | float) and not isinstance(value, bool) else value
            for value in row
        ]
