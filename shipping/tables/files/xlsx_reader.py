"""The bytes of shelf.xlsx in, its sheets by name out; columns are left to the reader of rows."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterator, Mapping
from typing import Any

from shipping.tables.files.sheet import Sheet, Unreadable
from shipping.tables.files.workbook import (
    Oddities,
    attribute,
    elements,
    error_cell,
    local_name,
    no_workbook,
    open_zip,
    plain_number,
    sheet_of,
)

#: The last row that a sheet of this form can have.
_LAST_ROW = 1_048_576
#: How a character that XML cannot hold, or an escape itself, stands in a text of this form.
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_CELL = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")


def sheets_from_xlsx(
    data: bytes, file: str, wanted: Mapping[str, str], comments: bool = True
) -> dict[str, Sheet | Unreadable]:
    """The sheets ``wanted`` (their titles, each with the table it is), by title; one that is broken as its
    exception.

    Raises
    ------
    Unreadable
        If the file is no workbook.
    """
    archive = open_zip(data, file)
    parts = sheet_parts(archive, file)
    sheets: dict[str, Sheet | Unreadable] = {}
    for title, table in wanted.items():
        if title not in parts:
            continue
        name = f"{file}[{table}]"
        try:
            odd = _oddities(archive, parts[title], name)
            sheets[title] = sheet_of(name, _rows(data, title, name), odd, comments)
        except Unreadable as broken:
            sheets[title] = broken
    return sheets


def titles_of_xlsx(data: bytes, file: str) -> list[str]:
    """The titles of the sheets."""
    return list(sheet_parts(open_zip(data, file), file))


def sheet_parts(archive: zipfile.ZipFile, file: str) -> dict[str, str]:
    """The titles of a workbook's sheets, each with the part that holds it."""
    ids: dict[str, str] = {}
    for event, element in elements(archive, "xl/workbook.xml", file):
        if event == "start" and local_name(element.tag) == "sheet":
            ids[element.get("name") or ""] = attribute(element, "id") or ""
    targets: dict[str, str] = {}
    for event, element in elements(archive, "xl/_rels/workbook.xml.rels", file):
        if event == "start" and element.get("Type", "").endswith("/worksheet"):
            target = element.get("Target", "")
            targets[element.get("Id", "")] = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
    return {title: targets[place] for title, place in ids.items() if place in targets}


def _oddities(archive: zipfile.ZipFile, part: str, file: str) -> Oddities:
    """Formulas never worked out, hidden rows and merged cells of one sheet.

    Raises
    ------
    Unreadable
        If its rows do not follow one another downwards: the library that reads them would leave some out.
    """
    odd = Oddities()
    row = column = 0
    filled = False
    for event, element in elements(archive, part, file):
        name = local_name(element.tag)
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
        raise no_workbook(file)
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
    parts = {local_name(part.tag): part.text or "" for part in cell}
    return "f" in parts and not parts.get("v") and cell.get("t") != "str"


def _rows(data: bytes, title: str, file: str) -> Iterator[list[object]]:
    import openpyxl

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
            sheet = book[title]
            sheet.reset_dimensions()
            for row in sheet.iter_rows():
                yield [_value(cell) for cell in row]
    except Unreadable:
        raise
    except Exception:
        # openpyxl raises whatever its parts raise on a damaged file; all of it means the same to a breeder
        raise no_workbook(file) from None


def _value(cell: Any) -> object:
    """The value as a parser takes it; a number padded with zeros by its format as the text that is shown."""
    value = cell.value
    if value is None or isinstance(value, bool):
        return value
    if cell.data_type == "e":
        return error_cell(str(value))
    if isinstance(value, int | float):
        number = plain_number(value)
        pattern = cell.number_format
        is_padded = len(pattern or "") > 1 and not pattern.strip("0")
        is_padded = is_padded and isinstance(number, int) and number >= 0
        return str(number).zfill(len(pattern)) if is_padded else number
    if isinstance(value, str) and "_x" in value:
        return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), value).replace("\r\n", "\n")
    return value
