"""The same tables as sheets of a workbook: real dates and numbers, errors, formulas, hidden and merged
cells.
"""

from __future__ import annotations

import os
import shutil
import zipfile
from datetime import datetime, time
from pathlib import Path

import pytest

from shipping.tables.files import workbook
from shipping.tables.reader import read_shelf
from tests.tables.shelves import (
    GOOD,
    TODAY,
    errors,
    good_shelf,
    notices,
    ods_cell,
    ods_shelf,
    order,
    read,
    workbook_of_good_tables,
    xlsx_shelf,
)
from tests.tables.test_reader import without_places


def test_a_workbook_of_real_dates_and_numbers_is_the_same_shelf(tmp_path: Path) -> None:
    assert without_places(read(xlsx_shelf(tmp_path, workbook_of_good_tables()))) == without_places(read(GOOD))


def test_an_opendocument_sheet_is_the_same_shelf(tmp_path: Path) -> None:
    assert without_places(read(ods_shelf(tmp_path, {}))) == without_places(read(GOOD))


def test_a_mistake_in_a_workbook_names_sheet_row_and_column_letter(tmp_path: Path) -> None:
    book = workbook_of_good_tables()
    book["orders"]["M2"] = 2.5
    assert errors(read_shelf(xlsx_shelf(tmp_path, book), TODAY)) == [
        "shelf.xlsx[orders]:2: eggs (column M): '2.5' is not a whole number. Write 2 or 3."
    ]


def test_a_formula_never_worked_out_is_an_error_by_name(tmp_path: Path) -> None:
    book = workbook_of_good_tables()
    book["orders"]["M2"] = "=10+10"
    assert errors(read_shelf(xlsx_shelf(tmp_path, book), TODAY)) == [
        "shelf.xlsx[orders]:2: eggs (column M): holds a formula that was never worked out. "
        "Open the file in a spreadsheet, save it, and read it again."
    ]


def test_a_spreadsheet_error_is_an_error_by_name(tmp_path: Path) -> None:
    book = workbook_of_good_tables()
    book["orders"]["N2"] = "#DIV/0!"
    book["orders"]["N2"].data_type = "e"
    assert errors(read_shelf(xlsx_shelf(tmp_path, book), TODAY)) == [
        "shelf.xlsx[orders]:2: price (column N): holds the spreadsheet error #DIV/0!. "
        "Mend the formula in the spreadsheet, then save it again."
    ]


def test_hidden_rows_are_read_and_said_and_merged_cells_are_said(tmp_path: Path) -> None:
    book = workbook_of_good_tables()
    book["orders"].row_dimensions[4].hidden = True
    book["orders"].merge_cells("D2:D3")
    reading = read_shelf(xlsx_shelf(tmp_path, book), TODAY)
    assert reading.shelf is not None
    assert order(reading.shelf, "A2").address.addressee == "Bo Eksempel"
    assert notices(reading) == [
        (
            "shelf.xlsx[orders]:2: the cells D2:D3 are merged; only the first holds a value. Split them and"
            " fill each."
        ),
        "shelf.xlsx[orders]:4: row 4 is hidden, and read all the same. Show or remove what should not count.",
    ]


def test_a_postcode_kept_as_a_number_shown_with_zeros_keeps_them(tmp_path: Path) -> None:
    book = workbook_of_good_tables()
    book["orders"]["F2"] = 1067
    book["orders"]["F2"].number_format = "00000"
    assert order(read(xlsx_shelf(tmp_path, book)), "A1").address.postcode == "01067"


def test_numbers_kept_as_text_and_times_and_days_with_hours_are_read(tmp_path: Path) -> None:
    book = workbook_of_good_tables()
    book["orders"]["M2"] = "25"
    book["orders"]["B2"] = datetime(2026, 11, 20, 14, 5)
    book["services"]["G2"] = time(14, 45)
    shelf = read(xlsx_shelf(tmp_path, book))
    assert order(shelf, "A1").lines[0].eggs == 25
    assert order(shelf, "A1").placed_on.isoformat() == "2026-11-20"
    assert shelf.services[0].cut_off == "14:45"


def test_a_population_that_the_spreadsheet_made_a_date_of_is_not_guessed(tmp_path: Path) -> None:
    book = workbook_of_good_tables()
    book["lots"]["C2"] = datetime(2026, 4, 3)
    assert errors(read_shelf(xlsx_shelf(tmp_path, book), TODAY)) == [
        "shelf.xlsx[lots]:2: population (column C): '2026-04-03' is a date or time where text belongs. "
        "Set the column to text in the spreadsheet and write it again."
    ]


def test_a_sum_that_a_spreadsheet_shows_as_a_whole_number_is_one(tmp_path: Path) -> None:
    book = workbook_of_good_tables()
    book["orders"]["M2"] = 19.999999999999996
    book["orders"]["N2"] = 0.1 + 0.2
    line = order(read(xlsx_shelf(tmp_path, book)), "A1").lines[0]
    assert (line.eggs, str(line.price)) == (20, "0.3")


def test_the_same_table_twice_is_an_error(tmp_path: Path) -> None:
    shelf = xlsx_shelf(tmp_path, workbook_of_good_tables())
    shutil.copy(GOOD / "lots.csv", shelf)
    assert errors(read_shelf(shelf, TODAY)) == [
        "shelf.xlsx[lots]: holds the table lots, and so does lots.csv. Keep one of the two."
    ]


def test_a_sheet_named_almost_like_a_table_is_said(tmp_path: Path) -> None:
    book = workbook_of_good_tables()
    book["weather"].title = "wether"
    book.create_sheet("_my sums")
    reading = read_shelf(xlsx_shelf(tmp_path, book), TODAY)
    assert errors(reading) == []
    assert any(
        "shelf.xlsx[wether]: is not read. Did you mean weather?" in message for message in notices(reading)
    )


def test_comments_and_blank_rows_keep_the_row_numbers_of_the_spreadsheet(tmp_path: Path) -> None:
    book = workbook_of_good_tables()
    book["boxes"].insert_rows(1, 2)
    book["boxes"]["A1"] = "# what we have"
    book["boxes"]["E4"] = "heavy"
    assert errors(read_shelf(xlsx_shelf(tmp_path, book), TODAY)) == [
        "shelf.xlsx[boxes]:4: tare_g (column E): 'heavy' is not a number. Write grams in digits, with a"
        " decimal point."
    ]


@pytest.mark.parametrize("name", ["shelf.xlsx", "shelf.ods"])
def test_a_file_that_is_no_workbook_is_one_message(tmp_path: Path, name: str) -> None:
    shutil.copy(GOOD / "shelf.toml", tmp_path)
    (tmp_path / name).write_bytes(b"\xd0\xcf\x11\xe0 an older kind, or one with a password")
    assert errors(read_shelf(tmp_path, TODAY)) == [
        f"{name}: cannot be read as a workbook: it is an old .xls, or has a password. "
        "Save it in the spreadsheet as .xlsx or .ods, without a password."
    ]


def test_a_damaged_sheet_is_said_and_not_raised(tmp_path: Path) -> None:
    shelf = xlsx_shelf(tmp_path, workbook_of_good_tables())
    with zipfile.ZipFile(shelf / "shelf.xlsx") as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts["xl/worksheets/sheet5.xml"] = parts["xl/worksheets/sheet5.xml"][:400]
    with zipfile.ZipFile(shelf / "shelf.xlsx", "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    assert len(errors(read_shelf(shelf, TODAY))) == 1


def test_a_document_type_in_a_workbook_is_refused(tmp_path: Path) -> None:
    shelf = ods_shelf(tmp_path, {})
    with zipfile.ZipFile(shelf / "shelf.ods") as archive:
        content = archive.read("content.xml")
    with zipfile.ZipFile(shelf / "shelf.ods", "w") as archive:
        archive.writestr(
            "content.xml", content.replace(b"?><office", b'?><!DOCTYPE x [<!ENTITY a "b">]><office', 1)
        )
    assert errors(read_shelf(shelf, TODAY))[0].startswith("shelf.ods: cannot be read as a workbook.")


def test_a_workbook_that_unpacks_without_bound_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workbook, "MOST_UNPACKED", 10_000)
    assert errors(read_shelf(xlsx_shelf(tmp_path, workbook_of_good_tables()), TODAY)) == [
        "shelf.xlsx: unpacks to more than 200 MB. Save the tables alone in a new workbook."
    ]


ERROR_IN_ODS = (
    '<table:table-cell table:formula="of:=1/0" office:value-type="string" office:string-value="" '
    'calcext:value-type="error"><text:p>#DIV/0!</text:p></table:table-cell>'
)
UNWORKED_IN_ODS = '<table:table-cell table:formula="of:=10+10"/>'
PADDED_IN_ODS = (
    '<table:table-cell office:value-type="float"'
    ' office:value="1067"><text:p>01067</text:p></table:table-cell>'
)


def test_errors_and_formulas_of_an_opendocument_sheet_are_errors_by_name(tmp_path: Path) -> None:
    shelf = ods_shelf(tmp_path, {("orders", 2, 13): ERROR_IN_ODS, ("orders", 4, 13): UNWORKED_IN_ODS})
    assert errors(read_shelf(shelf, TODAY)) == [
        (
            "shelf.ods[orders]:2: eggs (column M): holds the spreadsheet error #DIV/0!. "
            "Mend the formula in the spreadsheet, then save it again."
        ),
        (
            "shelf.ods[orders]:4: eggs (column M): holds a formula that was never worked out. "
            "Open the file in a spreadsheet, save it, and read it again."
        ),
    ]


def test_hidden_rows_and_shown_zeros_of_an_opendocument_sheet_are_kept(tmp_path: Path) -> None:
    shelf = ods_shelf(tmp_path, {("orders", 2, 6): PADDED_IN_ODS}, hidden=("orders", 4))
    reading = read_shelf(shelf, TODAY)
    assert reading.shelf is not None
    assert order(reading.shelf, "A1").address.postcode == "01067"
    assert (
        "shelf.ods[orders]:4: row 4 is hidden, and read all the same. Show or remove what should not count."
        in notices(reading)
    )


def test_a_day_first_text_in_an_opendocument_sheet_shows_both_readings(tmp_path: Path) -> None:
    shelf = ods_shelf(tmp_path, {("orders", 2, 2): ods_cell("05/11/2026")})
    assert errors(read_shelf(shelf, TODAY)) == [
        "shelf.ods[orders]:2: placed_on (column B): '05/11/2026' is not a date as year-month-day. Write"
        ' 2026-11-05 or 2026-05-11. Or, for all: dates = "day first" or dates = "month first" below [reading]'
        " in shelf.toml."
    ]


def test_an_opendocument_cell_far_below_is_refused_before_it_is_unfolded(tmp_path: Path) -> None:
    far = (
        "</table:table-row><table:table-row"
        ' table:number-rows-repeated="900000"><table:table-cell/></table:table-row>'
    )
    shelf = ods_shelf(tmp_path, {("boxes", 3, 9): f"{ods_cell(1.2)}{far}<table:table-row>{ods_cell('x')}"})
    assert errors(read_shelf(shelf, TODAY)) == [
        "shelf.ods[boxes]: has cells beyond row 200000 or column 200. Remove what is not part of the table."
    ]


def test_a_cell_of_ods_is_read_as_it_is_shown(tmp_path: Path) -> None:
    """A tab parts words; a comment, and how a word is spoken, are no part of it."""
    cells = {
        ("orders", 2, 4): "<table:table-cell office:value-type='string'><office:annotation><text:p>7</text:p>"
        "</office:annotation><text:p>Ida<text:tab/>Prøve</text:p></table:table-cell>",
        (
            "orders",
            4,
            4,
        ): "<table:table-cell office:value-type='string'><text:p>Bo <text:ruby><text:ruby-base>"
        "Eksempel</text:ruby-base><text:ruby-text>bo</text:ruby-text></text:ruby></text:p></table:table-cell>",
    }
    shelf = read(ods_shelf(tmp_path, cells))
    assert order(shelf, "A1").address.addressee == "Ida Prøve"
    assert order(shelf, "A2").address.addressee == "Bo Eksempel"


def test_a_count_of_rows_that_is_no_number_is_a_broken_workbook(tmp_path: Path) -> None:
    cell = "<table:table-cell table:number-columns-repeated='many'/>"
    (said,) = errors(read_shelf(ods_shelf(tmp_path, {("orders", 2, 4): cell}), TODAY))
    assert said.startswith("shelf.ods: cannot be read as a workbook.")


def test_a_sheet_may_begin_in_column_b_and_hold_escaped_characters(tmp_path: Path) -> None:
    book = workbook_of_good_tables()
    book["orders"].insert_cols(1)
    book["orders"]["E2"] = "Ida_x000D_\nPrøve"
    shelf = read(xlsx_shelf(tmp_path, book))
    assert order(shelf, "A1").address.addressee == "Ida Prøve"


def test_what_is_no_file_does_not_hold_up_the_reading(tmp_path: Path) -> None:
    folder = good_shelf(tmp_path)
    (folder / "weather.csv").unlink()
    os.mkfifo(folder / "weather.csv")
    assert errors(read_shelf(folder, TODAY)) == [
        "weather.csv: is no file. Put a file of that name there, or nothing."
    ]
