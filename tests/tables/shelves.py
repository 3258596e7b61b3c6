"""A good shelf in a fresh folder, and workbooks of it, for the tests of reading."""

from __future__ import annotations

import csv
import re
import shutil
import zipfile
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from xml.sax.saxutils import escape

import openpyxl

from shipping.tables.reader import Reading, read_shelf
from shipping.tables.rows.orders import Order
from shipping.tables.shelf import Shelf
from shipping.words.problems import Level

TODAY = date(2026, 11, 30)
GOOD = Path(__file__).resolve().parent.parent / "bad_tables" / "_good"


def good_shelf(folder: Path) -> Path:
    """A copy of the good shelf."""
    shutil.copytree(GOOD, folder, dirs_exist_ok=True)
    return folder


def read(folder: Path, take: bool = False) -> Shelf:
    """The shelf of a folder that has no errors."""
    reading = read_shelf(folder, TODAY, take)
    assert reading.shelf is not None, errors(reading)
    return reading.shelf


def errors(reading: Reading) -> list[str]:
    """The errors, as printed."""
    return [str(problem) for problem in reading.problems if problem.level is Level.ERROR]


def notices(reading: Reading) -> list[str]:
    """The notices, as printed."""
    return [str(problem) for problem in reading.problems if problem.level is Level.NOTICE]


def order(shelf: Shelf, name: str) -> Order:
    return shelf.order_by_name[name]


def typed(cell: str) -> object:
    """A cell of CSV as a spreadsheet would hold it."""
    if re.fullmatch(r"\d{4}-\d\d-\d\d", cell):
        return date.fromisoformat(cell)
    if re.fullmatch(r"[1-9][0-9]*|[0-9]+\.[0-9]+", cell):
        return float(cell)
    return cell or None


def workbook_of_good_tables() -> openpyxl.Workbook:
    """The good tables as sheets of a workbook, with real numbers and real dates."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for path in sorted(GOOD.glob("*.csv")):
        sheet = book.create_sheet(path.stem)
        with path.open(encoding="utf-8", newline="") as rows:
            for row in csv.reader(rows):
                sheet.append([typed(cell) for cell in row])
    return book


def xlsx_shelf(folder: Path, book: openpyxl.Workbook) -> Path:
    """A shelf whose tables are all in ``shelf.xlsx``."""
    folder.mkdir(exist_ok=True)
    shutil.copy(GOOD / "shelf.toml", folder)
    book.save(folder / "shelf.xlsx")
    return folder


_NAMESPACES = (
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" '
    'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0" '
    'xmlns:of="urn:oasis:names:tc:opendocument:xmlns:of:1.2"'
)


def ods_cell(value: object) -> str:
    """The XML of one cell; text beginning with ``<`` is XML already."""
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, str) and value.startswith("<"):
        return value
    if isinstance(value, float):
        kind = f'office:value-type="float" office:value="{value:.15g}"'
    elif isinstance(value, date):
        kind = f'office:value-type="date" office:date-value="{value.isoformat()}"'
    else:
        kind = 'office:value-type="string"'
    return f"<table:table-cell {kind}><text:p>{escape(str(value))}</text:p></table:table-cell>"


def ods_shelf(
    folder: Path, changed: Mapping[tuple[str, int, int], str], hidden: tuple[str, int] = ("", 0)
) -> Path:
    """A shelf whose tables are all in ``shelf.ods``; ``changed`` are cells as XML by (sheet, row from 1,
    column from 1).
    """
    folder.mkdir(exist_ok=True)
    shutil.copy(GOOD / "shelf.toml", folder)
    tables = []
    for path in sorted(GOOD.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            rows = [
                "<table:table-row{}>{}</table:table-row>".format(
                    ' table:visibility="collapse"' if hidden == (path.stem, number) else "",
                    "".join(
                        changed.get((path.stem, number, place), ods_cell(typed(cell)))
                        for place, cell in enumerate(cells, start=1)
                    ),
                )
                for number, cells in enumerate(csv.reader(file), start=1)
            ]
        tables.append(f'<table:table table:name="{path.stem}">{"".join(rows)}</table:table>')
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {_NAMESPACES} office:version="1.2">'
        f"<office:body><office:spreadsheet>{''.join(tables)}</office:spreadsheet></office:body></office:document-content>"
    )
    with zipfile.ZipFile(folder / "shelf.ods", "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)
        archive.writestr(
            "META-INF/manifest.xml",
            '<?xml version="1.0"?><manifest:manifest '
            'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"><manifest:file-entry '
            'manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/>'
            "</manifest:manifest>",
        )
    return folder
