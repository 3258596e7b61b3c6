"""400 orders written in six dialects of CSV and three kinds of workbook are read as what was written, and as
readers that share no line with ours read them: pandas, openpyxl, and LibreOffice for .ods.
"""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
import xlsxwriter

from shipping.tables.reader import read_shelf
from shipping.words.problems import Level
from tests.tables.files.test_spreadsheet_suite import converted
from tests.tables.shelves import TODAY, errors, good_shelf

pytestmark = pytest.mark.slow
COLUMNS = ("order", "placed_on", "paid_on", "addressee", "country", "species", "eggs", "price")
_NAMES = (
    "Ida Prøve",
    'Bo "Bob" Eksempel',
    "Łucja Przykład, ml.",
    "Ώρα Παράδειγμα",
    "Юлия; Пример",
    "例え 太郎",
    "O'Neill",
    "=SUM(A1)",
    "007",
    "NA",
    "1/2",
    "2026-11-30",
    "Zoë-Anaïs d’Été",
)
Cells = tuple[str, ...]


def orders_written() -> list[Cells]:
    """400 orders of one line, their cells as ISO days, plain numbers and text."""
    draws = random.Random(17)
    rows: list[Cells] = []
    for number in range(400):
        placed = TODAY - timedelta(days=draws.randrange(1, 300))
        paid = placed + timedelta(days=draws.randrange(0, 3)) if draws.random() < 0.7 else None
        rows.append(
            (
                f"{draws.choice(('A', 'N#', 'Ø-', '00'))}{number:04d}",
                placed.isoformat(),
                min(paid, TODAY).isoformat() if paid else "",
                draws.choice(_NAMES),
                draws.choice(("DK", "DE", "NO", "NA", "SE")),
                draws.choice(("gardneri", "guentheri")),
                str(draws.randrange(1, 400)),
                f"{draws.randrange(0, 9000) / 100:.2f}",
            )
        )
    return rows


@dataclass(frozen=True)
class Dialect:
    """A way to write CSV: bytes of the rows, and how pandas is told to read them."""

    separator: str
    encoding: str
    line_end: str
    quoting: int
    decimal: str = "."

    def data(self, rows: list[Cells]) -> bytes:
        out = io.StringIO(newline="")
        form = csv.writer(out, delimiter=self.separator, lineterminator=self.line_end, quoting=self.quoting)
        form.writerow(COLUMNS)
        form.writerows([*row[:-1], row[-1].replace(".", self.decimal)] for row in rows)
        return out.getvalue().encode(self.encoding)

    def as_pandas_reads(self, data: bytes) -> list[Cells]:
        end = "\r" if self.line_end == "\r" else None
        frame = pd.read_csv(
            io.BytesIO(data),
            sep=self.separator,
            encoding=self.encoding,
            dtype=str,
            keep_default_na=False,
            lineterminator=end,
        )
        frame["price"] = frame["price"].str.replace(self.decimal, ".")
        return [tuple(row) for row in frame.itertuples(index=False)]


DIALECTS = {
    "commas": Dialect(",", "utf-8", "\n", csv.QUOTE_MINIMAL),
    "commas with a mark": Dialect(",", "utf-8-sig", "\r\n", csv.QUOTE_ALL),
    "semicolons and decimal commas": Dialect(";", "utf-8-sig", "\r\n", csv.QUOTE_MINIMAL, ","),
    "tabs": Dialect("\t", "utf-8", "\n", csv.QUOTE_MINIMAL),
    "tabs in UTF-16": Dialect("\t", "utf-16", "\r\n", csv.QUOTE_MINIMAL),
    "old line ends": Dialect(",", "utf-8", "\r", csv.QUOTE_ALL),
}


def as_we_read(folder: Path) -> list[Cells]:
    """The cells of the orders as the shelf has them, in the order of their names."""
    reading = read_shelf(folder, TODAY)
    assert reading.shelf is not None, errors(reading)
    assert {problem.code for problem in reading.problems if problem.level is not Level.NOTICE} == set()
    return sorted(
        (
            line.row.order,
            line.row.placed_on.isoformat(),
            line.row.paid_on.isoformat() if line.row.paid_on else "",
            line.row.addressee,
            line.row.country,
            line.row.species,
            str(line.row.eggs),
            f"{line.row.price:.2f}",
        )
        for order in reading.shelf.orders
        for line in order.lines
    )


def shelf_with_orders(folder: Path, file: str, data: bytes) -> Path:
    good_shelf(folder)
    (folder / "orders.csv").unlink()
    (folder / file).write_bytes(data)
    return folder


@pytest.mark.parametrize("name", DIALECTS)
def test_a_dialect_is_read_as_pandas_reads_it_and_as_it_was_written(name: str, tmp_path: Path) -> None:
    dialect, rows = DIALECTS[name], orders_written()
    data = dialect.data(rows)
    assert sorted(dialect.as_pandas_reads(data)) == sorted(rows), "the other reader is right"
    assert as_we_read(shelf_with_orders(tmp_path, "orders.csv", data)) == sorted(rows)


def typed_cells(row: Cells) -> list[object]:
    """The cells as a workbook holds them: days, numbers and text."""
    order, placed, paid, addressee, country, species, eggs, price = row
    days = [datetime.fromisoformat(day) if day else None for day in (placed, paid)]
    return [order, *days, addressee, country, species, int(eggs), float(price)]


def by_openpyxl(rows: list[Cells]) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "orders"
    sheet.append(COLUMNS)
    for number, row in enumerate(rows, start=2):
        for column, value in enumerate(typed_cells(row), start=1):
            cell = sheet.cell(number, column)
            cell.value = value
            if isinstance(value, str):
                cell.data_type = "s"  # =SUM(A1) is a name here, and no formula
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def by_xlsxwriter(rows: list[Cells]) -> bytes:
    """Another writer, which keeps its text in the cells and its days in the count from 1904."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"constant_memory": True, "date_1904": True})
    sheet, day = book.add_worksheet("orders"), book.add_format({"num_format": "dd.mm.yyyy"})
    for column, header in enumerate(COLUMNS):
        sheet.write_string(0, column, header)
    for number, row in enumerate(rows, start=1):
        for column, value in enumerate(typed_cells(row)):
            if isinstance(value, datetime):
                sheet.write_datetime(number, column, value, day)
            elif isinstance(value, int | float):
                sheet.write_number(number, column, value)
            elif isinstance(value, str):
                sheet.write_string(number, column, value)
    book.close()
    return out.getvalue()


def as_text_of(row: tuple[object, ...]) -> Cells:
    """A row of a workbook as another reader has it, as text."""
    shown = []
    for column, value in zip(COLUMNS, row, strict=True):
        if value is None or value != value:
            shown.append("")
        elif isinstance(value, datetime | date):
            shown.append(value.strftime("%Y-%m-%d"))
        elif column in ("eggs", "price"):
            shown.append(f"{Decimal(str(value)):.2f}" if column == "price" else str(int(str(value))))
        else:
            shown.append(str(value))
    return tuple(shown)


@pytest.mark.parametrize("write", [by_openpyxl, by_xlsxwriter])
def test_a_workbook_is_read_as_openpyxl_reads_it_and_as_it_was_written(
    write: Callable[[list[Cells]], bytes], tmp_path: Path
) -> None:
    rows = orders_written()
    data = write(rows)
    sheet = openpyxl.load_workbook(io.BytesIO(data))["orders"]
    others = [as_text_of(row) for row in sheet.iter_rows(min_row=2, values_only=True)]
    assert sorted(others) == sorted(rows), "the other reader is right"
    assert as_we_read(shelf_with_orders(tmp_path, "shelf.xlsx", data)) == sorted(rows)


def test_an_ods_workbook_is_read_as_libreoffice_shows_it_and_as_it_was_written(tmp_path: Path) -> None:
    rows = orders_written()
    (tmp_path / "shelf.xlsx").write_bytes(by_openpyxl(rows))
    profile = f"-env:UserInstallation=file://{tmp_path / 'profile'}"
    converted(tmp_path / "shelf.xlsx", "ods", tmp_path / "ods", profile)
    converted(
        tmp_path / "ods" / "shelf.ods",
        "csv:Text - txt - csv (StarCalc):44,34,76,1",
        tmp_path / "csv",
        profile,
    )
    frame = pd.read_csv(tmp_path / "csv" / "shelf.csv", dtype=str, keep_default_na=False)
    frame["placed_on"], frame["paid_on"] = (frame[day].str[:10] for day in ("placed_on", "paid_on"))
    frame["price"] = [f"{Decimal(price):.2f}" for price in frame["price"]]
    others: list[Cells] = [tuple(row) for row in frame.itertuples(index=False)]
    assert sorted(others) == sorted(rows), "the other reader is right"
    data = (tmp_path / "ods" / "shelf.ods").read_bytes()
    assert as_we_read(shelf_with_orders(tmp_path / "shelf", "shelf.ods", data)) == sorted(rows)
