"""Starter tables in, a workbook's bytes out: a sheet a table, with drop-downs, hints and typed columns."""

from __future__ import annotations

import io
from datetime import date, datetime, time
from typing import TYPE_CHECKING, Any

from shipping.tables.countries import country_codes, name_of
from shipping.tables.files.sheet import column_letter

if TYPE_CHECKING:
    from shipping.tables.editing.starter import ShelfColumn, StarterTable

#: Rows that get drop-downs; a sheet may grow beyond them.
LAST_ROW = 2_000
#: What a cell of each kind looks like; text columns are text, so that 007 stays 007.
NUMBER_FORMATS = {"text": "@", "whole": "0", "number": "General", "day": "yyyy-mm-dd"}
NARROWEST, WIDEST = 9, 36
#: Columns whose drop-down lists what another sheet holds: the table and its column. Of what is not there only
#: a species is asked about, and may be kept: synonyms are read too.
LISTED_IN = {
    "species": ("species", "species"),
    "population": ("lots", "population"),
    "lot": ("lots", "lot"),
    "service": ("services", "service"),
    "box": ("boxes", "box"),
}
#: The sheet of country codes; its name says that it is no table.
LISTS, COUNTRY_COLUMNS = "_lists", frozenset({"country", "origin_country"})


def book_bytes(tables: tuple[StarterTable, ...], today: date) -> bytes:
    """The workbook; the same tables and day give the same bytes."""
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out, {"strings_to_formulas": False, "strings_to_urls": False, "in_memory": True}
    )
    book.set_properties({"created": datetime.combine(today, time.min)})
    formats = {kind: book.add_format({"num_format": code}) for kind, code in NUMBER_FORMATS.items()}
    needed = book.add_format({"bold": True, "bottom": 1})
    spare = book.add_format({"italic": True, "bottom": 1})
    codes = sorted(country_codes())
    places = {
        (table.name, column.name): f"={table.name}!${letter}$2:${letter}${LAST_ROW + 1}"
        for table in tables
        for letter, column in ((column_letter(place), column) for place, column in enumerate(table.columns))
    }
    for table in sorted(tables, key=lambda table: table.name != "orders"):
        sheet = book.add_worksheet(table.name)
        for index, column in enumerate(table.columns):
            sheet.set_column(index, index, _width(table, index), formats[column.kind])
            sheet.write_string(0, index, column.name, needed if column.required else spare)
            _write_hint(sheet, index, column)
            if column.name in COUNTRY_COLUMNS:
                _offer(sheet, index, f"={LISTS}!$A$1:$A${len(codes)}", asks=True)
            elif (listed := LISTED_IN.get(column.name)) and (index > 0 or listed[0] != table.name):
                _offer(sheet, index, places[listed], asks=column.name == "species")
            for row, cells in enumerate(table.rows, start=1):
                _write_cell(sheet, row, index, cells[index], column.kind, formats[column.kind])
        _set_page(sheet)
    lists = book.add_worksheet(LISTS)
    for row, code in enumerate(codes):
        lists.write_string(row, 0, code)
        lists.write_string(row, 1, name_of(code))
    lists.hide()
    book.close()
    return out.getvalue()


def _width(table: StarterTable, index: int) -> int:
    longest = max(len(text) for text in (table.columns[index].name, *(row[index] for row in table.rows)))
    return min(max(longest + 2, NARROWEST), WIDEST)


def _write_hint(sheet: Any, index: int, column: ShelfColumn) -> None:
    if column.note:
        sheet.write_comment(0, index, column.note, {"author": "", "x_scale": 1.6})
    if column.words:
        rule: dict[str, Any] = {"validate": "list", "source": list(column.words), "ignore_blank": True}
        rule |= {"error_title": column.name, "error_message": f"Write {' or '.join(column.words)}."}
        sheet.data_validation(1, index, LAST_ROW, index, rule)


def _offer(sheet: Any, index: int, source: str, asks: bool) -> None:
    """A drop-down of what stands elsewhere; other words are asked about where ``asks``, else just taken."""
    rule = {"validate": "list", "source": source, "ignore_blank": True, "error_type": "warning"}
    rule |= {"show_error": asks, "error_message": "It is not in the list. Keep it all the same?"}
    sheet.data_validation(1, index, LAST_ROW, index, rule)


def _write_cell(sheet: Any, row: int, index: int, cell: str, kind: str, look: Any) -> None:
    if not cell:
        return
    if kind == "day":
        sheet.write_datetime(row, index, datetime.fromisoformat(cell), look)
    elif kind in ("whole", "number"):
        sheet.write_number(row, index, float(cell), look)
    else:
        sheet.write_string(row, index, cell, look)


def _set_page(sheet: Any) -> None:
    """The header stays on screen and is printed on every page."""
    sheet.freeze_panes(1, 0)
    sheet.repeat_rows(0)
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    sheet.set_footer("&L&A&R&P / &N")
