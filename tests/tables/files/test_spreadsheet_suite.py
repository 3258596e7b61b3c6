"""The starter workbook and a full one go through LibreOffice, to .ods and on to CSV, and come out as the same
tables.

LibreOffice is wanted where tests run (Debian: ``libreoffice-calc``); nothing but these tests needs it.
"""

from __future__ import annotations

import csv
import shutil
import subprocess
from datetime import date
from pathlib import Path

import pytest

from shipping.tables.editing.starter import StarterTable, starter_columns, write_shelf
from shipping.tables.editing.starter_book import book_bytes
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import TABLES, Shelf
from shipping.words.units import shipped_folder
from tests.tables.shelves import GOOD, errors
from tests.tools import tool

pytestmark = pytest.mark.slow
TODAY = date(2026, 11, 30)
#: Comma, quote, UTF-8, from row 1, cells as shown, no formulas, every sheet to its own file.
AS_CSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"


@pytest.fixture(scope="module")
def profile(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A profile of LibreOffice of our own, so that one that is open elsewhere is left alone."""
    return f"-env:UserInstallation=file://{tmp_path_factory.mktemp('profile')}"


def converted(path: Path, form: str, folder: Path, profile: str) -> None:
    """A workbook saved in another form by LibreOffice, into a folder."""
    words = [tool("soffice"), profile, "--headless", "--convert-to", form, "--outdir", str(folder), str(path)]
    subprocess.run(words, check=True, capture_output=True, timeout=600)


def round_trip(book: Path, folder: Path, profile: str) -> tuple[Path, Path]:
    """A shelf with ``shelf.ods``, and one with CSV files, that LibreOffice made of ``shelf.xlsx``."""
    ods, sheets, as_csv = folder / "ods", folder / "sheets", folder / "csv"
    converted(book / "shelf.xlsx", "ods", ods, profile)
    converted(ods / "shelf.ods", AS_CSV, sheets, profile)
    as_csv.mkdir()
    for table in TABLES:
        shutil.copy(sheets / f"shelf-{table.name}.csv", as_csv / f"{table.name}.csv")
    for other in (ods, as_csv):
        shutil.copy(book / "shelf.toml", other)
    return ods, as_csv


def cells(shelf: Shelf) -> dict[str, list[dict[str, object]]]:
    """Every cell of every table, as it was understood."""
    tables = {
        "species": shelf.species.values(),
        "lots": shelf.lots,
        "inspections": shelf.looks,
        "services": shelf.services,
        "postage": shelf.postage,
        "packings": shelf.packings,
        "boxes": shelf.boxes,
        "rules": shelf.rules,
        "weather": shelf.weather,
        "groups": shelf.groups,
        "arrivals": shelf.arrivals,
        "learned": shelf.rates,
        "orders": [line.row for order in shelf.orders for line in order.lines],
    }
    found = {name: [row.model_dump() for row in rows] for name, rows in tables.items()}
    return found | {"zones": [{"zone": zone, "countries": shelf.zones[zone]} for zone in sorted(shelf.zones)]}


def understood(folder: Path, today: date = TODAY) -> dict[str, list[dict[str, object]]]:
    reading = read_shelf(folder, today)
    assert reading.shelf is not None, errors(reading)
    return cells(reading.shelf)


def workbook_of(tables: Path, folder: Path, today: date = TODAY) -> Path:
    """The starter's kind of workbook, filled with the CSV tables of a shelf."""
    folder.mkdir()
    shutil.copy(tables / "shelf.toml", folder)
    filled = []
    for table in TABLES:
        columns = starter_columns(table.name)
        path = tables / f"{table.name}.csv"
        lines = path.read_text(encoding="utf-8-sig").splitlines(keepends=True) if path.exists() else []
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
        filled.append(
            StarterTable(
                table.name,
                columns,
                tuple(tuple(row.get(column.name) or "" for column in columns) for row in rows),
            )
        )
    (folder / "shelf.xlsx").write_bytes(book_bytes(tuple(filled), today))
    return folder


@pytest.mark.parametrize("home", ["DE", "GB"])
def test_the_starter_workbook_comes_back_from_a_spreadsheet_suite_as_the_same_tables(
    home: str, tmp_path: Path, profile: str
) -> None:
    part = {"DE": "BY", "GB": "ENG"}[home]
    write_shelf(tmp_path / "book", home, part, TODAY, workbook=True)
    write_shelf(tmp_path / "plain", home, part, TODAY)
    wanted = understood(tmp_path / "book")
    assert wanted == understood(tmp_path / "plain")
    ods, as_csv = round_trip(tmp_path / "book", tmp_path, profile)
    assert understood(ods) == wanted
    assert understood(as_csv) == wanted
    assert len(wanted["rules"]) > 15


def test_the_demo_week_as_a_workbook_comes_back_as_the_same_tables(tmp_path: Path, profile: str) -> None:
    demo = shipped_folder("demo_orders")
    today = date.fromisoformat((demo / "today.txt").read_text(encoding="utf-8").strip())
    book = workbook_of(demo, tmp_path / "book", today)
    wanted = understood(demo, today)
    assert understood(book, today) == wanted
    ods, as_csv = round_trip(book, tmp_path, profile)
    assert understood(ods, today) == wanted
    assert understood(as_csv, today) == wanted


def test_postcodes_with_a_zero_in_front_and_text_like_formulas_days_and_numbers_come_back(
    tmp_path: Path, profile: str
) -> None:
    plain = tmp_path / "plain"
    shutil.copytree(GOOD, plain)
    with (plain / "orders.csv").open(encoding="utf-8", newline="") as file:
        header, first, *rest = list(csv.reader(file))
    odd = {
        "addressee": "=SUM(A1:A9)",
        "postcode": "01067",
        "town": 'Łódź, "am See"',
        "delivery_1": "1/2",
        "tel": "+4511111111",
        "delivery_2": "007",
        "delivery_3": "2026-11-30",
        "note": "first line\nsecond; line",
        "importer_ref": "1e5",
    }
    columns = [*header, *(column for column in odd if column not in header)]
    full = dict(zip(header, first, strict=True)) | odd
    with (plain / "orders.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(columns)
        writer.writerow([full[column] for column in columns])
        writer.writerows([*row, *([""] * (len(columns) - len(header)))] for row in rest)
    wanted = understood(plain)
    row = next(row for row in wanted["orders"] if row["order"] == full["order"])
    assert {column: row[column] for column in odd} == odd
    book = workbook_of(plain, tmp_path / "book")
    assert understood(book) == wanted
    ods, as_csv = round_trip(book, tmp_path, profile)
    assert understood(ods) == wanted
    assert understood(as_csv) == wanted
