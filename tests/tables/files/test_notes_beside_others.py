"""What is noted of a sheet with planted oddities is what readers that share no line with ours see in it:
openpyxl in a workbook, LibreOffice's own copy of it as .ods, and pandas in CSV.
"""

from __future__ import annotations

import csv
import io
import random
import re
import unicodedata
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from shipping.tables.reader import Reading, read_shelf
from shipping.tables.rows.orders import OrderRow
from tests.tables.files.test_dialects import orders_written
from tests.tables.files.test_spreadsheet_suite import converted
from tests.tables.shelves import TODAY, good_shelf

pytestmark = pytest.mark.slow
HEADER = ("order", "placed_on", "paid_on", "addressee", "country", "species", "eggs", "price", "postcode")
#: A note as compared: its code, the row, and what tells it from others of that row.
Note = tuple[str, int, str]
COMPARED = {"hidden-rows", "merged-cells", "spreadsheet-error", "unseen-marks", "skipped-rows"}
MARKS = "\u200b\u200e\u2060\ufeff"


def planted(sheet: Worksheet, seed: int) -> None:
    """400 orders with hidden rows, merged cells, errors, numbers for postcodes and unseen marks."""
    draws = random.Random(seed)
    sheet.append(HEADER)
    for number, row in enumerate(orders_written(), start=2):
        name = "Ida Prøve" if row[3].startswith("=") else row[3]
        cells = [row[0].replace("#", ""), *row[1:3], name, *row[4:6], int(row[6]), float(row[7]), ""]
        sheet.append(cells)
        kind = draws.randrange(40)
        if kind == 0:
            sheet.row_dimensions[number].hidden = True
        elif kind == 1:
            sheet.merge_cells(f"H{number}:I{number}")
        elif kind == 2:
            sheet.cell(number, 7).value = draws.choice(("#REF!", "#N/A", "#DIV/0!"))
            sheet.cell(number, 7).data_type = "e"
        elif kind == 3:
            sheet.cell(number, 9).value = draws.randrange(1000, 9999)
        elif kind == 4:
            sheet.cell(number, 4).value = f"Bo{draws.choice(MARKS)}Eksempel"
        elif kind == 5:
            sheet.cell(number, 1).value = f"#{row[0]}"


def seen_by_openpyxl(book: Path) -> set[Note]:
    sheet = openpyxl.load_workbook(book)["orders"]
    seen = {("merged-cells", area.min_row, str(area)) for area in sheet.merged_cells.ranges}
    for cells in sheet.iter_rows(min_row=2):
        row = cells[0].row or 0
        if sheet.row_dimensions[row].hidden:
            seen.add(("hidden-rows", row, ""))
        if str(cells[0].value).startswith("#"):
            seen.add(("skipped-rows", row, ""))
            continue
        for cell, column in zip(cells, HEADER, strict=True):
            if cell.data_type == "e":
                seen.add(("spreadsheet-error", row, column))
            elif isinstance(cell.value, str) and has_marks(cell.value):
                seen.add(("unseen-marks", row, column))
    return seen


def has_marks(text: str) -> bool:
    return any(unicodedata.category(letter) in ("Cf", "Cc") for letter in text)


def noted(reading: Reading) -> set[Note]:
    """What we say of the sheet of orders, a note a row."""
    notes: set[Note] = set()
    for problem in reading.problems:
        if problem.code not in COMPARED or not problem.where.file.startswith(("shelf", "orders")):
            continue
        if problem.code in ("hidden-rows", "skipped-rows"):
            assert "more" not in problem.text.replace("..", "more"), "few enough to be named"
            notes |= {(problem.code, int(row), "") for row in re.findall("[0-9]+", problem.text)}
        elif problem.code == "merged-cells":
            (cells,) = re.findall("[A-Z]+[0-9]+:[A-Z]+[0-9]+", problem.text)
            notes.add((problem.code, problem.where.row, cells))
        else:
            notes.add((problem.code, problem.where.row, problem.column.partition(" ")[0]))
    return notes


@pytest.mark.parametrize("seed", [1, 2])
def test_a_workbook_is_noted_as_openpyxl_sees_it(seed: int, tmp_path: Path) -> None:
    good_shelf(tmp_path)
    (tmp_path / "orders.csv").unlink()
    book = openpyxl.Workbook()
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    sheet.title = "orders"
    planted(sheet, seed)
    book.save(tmp_path / "shelf.xlsx")
    seen = seen_by_openpyxl(tmp_path / "shelf.xlsx")
    assert {code for code, _, _ in seen} == COMPARED
    assert noted(read_shelf(tmp_path, TODAY)) == seen

    profile = f"-env:UserInstallation=file://{tmp_path / 'profile'}"
    converted(tmp_path / "shelf.xlsx", "ods", tmp_path / "ods", profile)
    (tmp_path / "shelf.xlsx").unlink()
    (tmp_path / "ods" / "shelf.ods").rename(tmp_path / "shelf.ods")
    assert noted(read_shelf(tmp_path, TODAY)) == seen


def test_csv_is_noted_and_read_as_pandas_sees_it(tmp_path: Path) -> None:
    """Days of another form, decimal commas, marks, errors and rows behind #, each counted by pandas."""
    good_shelf(tmp_path)
    draws = random.Random(3)
    rows = [["N" + row[0].strip("#"), *row[1:3], "Ida Prøve", *row[4:]] for row in orders_written()]
    for row in rows:
        kind = draws.randrange(12)
        if kind == 0:
            row[1] = "{2}.{1}.{0}".format(*row[1].split("-"))
        elif kind == 1:
            row[7] = row[7].replace(".", ",")
        elif kind == 2:
            row[3] = "Bo\u200bEksempel"
        elif kind == 3:
            row[6] = "#REF!"
        elif kind == 4 and draws.random() < 0.3:
            row[0] = f"#{row[0]}"
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n").writerows([HEADER[:-1], *rows])
    (tmp_path / "orders.csv").write_text(out.getvalue(), encoding="utf-8")

    frame = pd.read_csv(tmp_path / "orders.csv", dtype=str, keep_default_na=False)
    frame["row"] = frame.index + 2
    hidden = frame[frame["order"].str.startswith("#")]
    frame = frame[~frame["order"].str.startswith("#")]
    other_days = frame[~frame["placed_on"].str.fullmatch(r"\d{4}-\d\d-\d\d")]
    commas = frame[frame["price"].str.contains(",")]
    errors = frame[frame["eggs"].str.startswith("#")]
    marks = frame[frame["addressee"].map(has_marks)]

    reading = read_shelf(tmp_path, TODAY)
    by_code = {problem.code: problem for problem in reading.problems}
    for code, cells in (("dates", other_days), ("decimals", commas)):
        assert f"nor are {len(cells) - 1} more" in by_code[code].text
        assert by_code[code].where.row in set(cells["row"])
    said = {("spreadsheet-error", row, "eggs") for row in errors["row"]}
    said |= {("unseen-marks", row, "addressee") for row in marks["row"]}
    said |= {("skipped-rows", row, "") for row in hidden["row"]}
    assert noted(reading) == said

    told = '\n[reading]\ndates = "day first"\ndecimals = "comma"\n'
    with (tmp_path / "shelf.toml").open("a", encoding="utf-8") as settings:
        settings.write(told)
    (tmp_path / "orders.csv").write_text(out.getvalue().replace("#REF!", "7"), encoding="utf-8")
    reading = read_shelf(tmp_path, TODAY)
    assert reading.shelf is not None
    read = {line.row.order: line.row for order in reading.shelf.orders for line in order.lines}
    assert set(read) == set(frame["order"])
    for other in frame.to_dict("records"):
        assert_alike(read[str(other["order"])], {str(key): str(value) for key, value in other.items()})


def assert_alike(row: OrderRow, other: dict[str, str]) -> None:
    """Our row is what pandas has, its day and its amount read by pandas itself."""
    day = pd.to_datetime(other["placed_on"], dayfirst="." in other["placed_on"]).date()
    assert (row.placed_on, row.country, row.species) == (day, other["country"], other["species"])
    assert row.eggs == int(other["eggs"].replace("#REF!", "7"))
    assert float(row.price or 0) == float(other["price"].replace(",", "."))
