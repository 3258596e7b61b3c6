"""A mistake in a table is one clear line with its mend, leaves with 1 and writes nothing, whatever was
asked.
"""

from __future__ import annotations

import csv
import email
import email.policy
import json
import shutil
import sys
from pathlib import Path

import pypdf
import pytest

from shipping.cli.app import main
from shipping.words.units import shipped_folder

DEMO = shipped_folder("demo_orders")
TODAY = "2026-11-30"
COMMANDS = ("plan", "check", "papers")
#: The orders of the small shelf: Denmark by courier, Finland in a foam box.
ORDERS = ("D02", "D12")

Ran = tuple[int, list[str], list[str]]


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """The demo's tables with two of its orders."""
    folder = tmp_path / "shelf"
    shutil.copytree(DEMO, folder)
    header, *rows = rows_of(folder / "orders.csv")
    write_rows(folder / "orders.csv", [header, *(row for row in rows if row[0] in ORDERS)])
    return folder


def rows_of(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def write_rows(path: Path, rows: list[list[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def with_cells(shelf: Path, table: str, key: str, **cells: str) -> None:
    """Writes cells into every row of a table whose first cell is ``key``."""
    header, *rows = rows_of(shelf / f"{table}.csv")
    assert any(row[0] == key for row in rows)
    for row in rows:
        for column, cell in cells.items():
            if row[0] == key:
                row[header.index(column)] = cell
    write_rows(shelf / f"{table}.csv", [header, *rows])


def with_row(shelf: Path, table: str, **cells: str) -> None:
    """Adds a row that holds only these cells."""
    header, *rows = rows_of(shelf / f"{table}.csv")
    write_rows(shelf / f"{table}.csv", [header, *rows, [cells.get(column, "") for column in header]])


def files_in(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def ran(shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str) -> Ran:
    """The exit code, and the lines on standard output and on standard error."""
    monkeypatch.setattr(sys, "argv", ["spawnpost", "--shelf", str(shelf), "--today", TODAY, *words])
    with pytest.raises(SystemExit) as end:
        main()
    said = capsys.readouterr()
    return int(end.value.code or 0), said.out.splitlines(), said.err.splitlines()


def refused(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: str
) -> list[str]:
    """The error lines of a command that must refuse: it leaves with 1 and writes nothing."""
    before = files_in(shelf)
    code, out, err = ran(shelf, capsys, monkeypatch, command)
    assert code == 1
    assert files_in(shelf) == before
    lines = out + err
    assert "Traceback" not in "\n".join(lines)
    assert command == "check" or out == []
    return [line for line in lines if not line.startswith("Note: ")]


def row_of(shelf: Path, table: str, key: str) -> int:
    """The row as the spreadsheet shows it."""
    return [row[0] for row in rows_of(shelf / f"{table}.csv")].index(key) + 1


@pytest.mark.parametrize("command", COMMANDS)
def test_the_small_shelf_is_good(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    assert ran(shelf, capsys, monkeypatch, command)[0] == 0


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("table", ["lots", "orders", "species", "packings"])
def test_a_missing_table_is_named_with_the_header_it_needs(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: str, table: str
) -> None:
    first = rows_of(shelf / f"{table}.csv")[0][0]
    (shelf / f"{table}.csv").unlink()
    (line,) = refused(shelf, capsys, monkeypatch, command)
    assert line.startswith(f"{table}.csv: is missing. Write it with the header {first},")


@pytest.mark.parametrize("command", COMMANDS)
def test_an_empty_table_is_named_with_the_header_it_needs(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    (shelf / "lots.csv").write_text("", encoding="utf-8")
    (line,) = refused(shelf, capsys, monkeypatch, command)
    assert line.startswith("lots.csv: is empty. Write a header: lot,species,")


@pytest.mark.parametrize("command", COMMANDS)
def test_a_misspelt_header_is_one_line_and_not_one_a_row(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    header, *rows = rows_of(shelf / "orders.csv")
    header[header.index("addressee")] = "adressee"
    write_rows(shelf / "orders.csv", [header, *rows])
    (line,) = refused(shelf, capsys, monkeypatch, command)
    assert line == "orders.csv:1: adressee: is no column of orders. Did you mean 'addressee'?"


@pytest.mark.parametrize("command", COMMANDS)
def test_a_half_filled_row_is_one_line_a_blank_cell_and_nothing_beside(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    with_row(
        shelf,
        "lots",
        lot="XX-01",
        species="gardneri",
        laid_from="2026-11-21",
        laid_to="2026-11-22",
        medium="water",
    )
    row = row_of(shelf, "lots", "XX-01")
    assert refused(shelf, capsys, monkeypatch, command) == [
        f"lots.csv:{row}: kept_at_c: is blank. Write a number.",
        f"lots.csv:{row}: eggs: is blank. Write a whole number.",
        f"lots.csv:{row}: counted_on: is blank. Write the day as 2026-11-30.",
    ]


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize(
    "lot", ["AU-20", "GA-12"]
)  # GA-12 has looks, which the wrong day does not make wrong
def test_a_lot_laid_in_the_future_is_one_line_about_the_laying(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: str, lot: str
) -> None:
    with_cells(shelf, "lots", lot, laid_from="2026-12-20", laid_to="2026-12-21")
    (line,) = refused(shelf, capsys, monkeypatch, command)
    row = row_of(shelf, "lots", lot)
    assert (
        line
        == f"lots.csv:{row}: laid_to: 2026-12-21 is after today, 2026-11-30. Write the last day of laying."
    )


@pytest.mark.parametrize("command", COMMANDS)
def test_an_order_for_an_unknown_species_names_the_nearest(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    with_cells(shelf, "orders", "D12", species="playfairi")
    (line,) = refused(shelf, capsys, monkeypatch, command)
    row = row_of(shelf, "orders", "D12")
    assert line == f"orders.csv:{row}: species: 'playfairi' is not in species. Did you mean 'playfairii'?"


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize(
    ("eggs", "said"),
    [
        ("0", "'0' is out of range. Write a whole number from 1 to 1000000."),
        ("-5", "'-5' is out of range. Write a whole number from 1 to 1000000."),
        ("2.5", "'2.5' is not a whole number. Write 2 or 3."),
        ("1e9", "'1e9' is out of range. Write a whole number from 1 to 1000000."),
    ],
)
def test_a_count_that_cannot_be_says_what_can(
    shelf: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    command: str,
    eggs: str,
    said: str,
) -> None:
    with_cells(shelf, "orders", "D12", eggs=eggs)
    (line,) = refused(shelf, capsys, monkeypatch, command)
    assert line == f"orders.csv:{row_of(shelf, 'orders', 'D12')}: eggs: {said}"


@pytest.mark.parametrize("command", COMMANDS)
def test_a_name_of_300_letters_is_cut_in_the_message(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    with_cells(shelf, "orders", "D12", addressee="V" * 300)
    (line,) = refused(shelf, capsys, monkeypatch, command)
    assert line.startswith(f"orders.csv:{row_of(shelf, 'orders', 'D12')}: addressee: ")
    assert line.endswith("has 300 characters. Write at most 200.")
    assert len(line) < 160


@pytest.mark.parametrize("command", COMMANDS)
def test_an_order_number_cannot_lead_out_of_the_folder(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    outside = files_in(shelf.parent)
    with_cells(shelf, "orders", "D12", order="../../etc")
    changed = files_in(shelf.parent)
    (line,) = refused(shelf, capsys, monkeypatch, command)
    row = row_of(shelf, "orders", "../../etc")
    assert (
        line == f"orders.csv:{row}: order: '../../etc' cannot be a name here. Write letters, digits, - and _."
    )
    assert changed.keys() == outside.keys() == files_in(shelf.parent).keys()


@pytest.mark.parametrize("command", COMMANDS)
def test_with_json_the_same_problem_is_all_that_stands_on_standard_output(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    with_cells(shelf, "orders", "D12", eggs="2.5")
    code, out, _ = ran(shelf, capsys, monkeypatch, "--json", command)
    (problem,) = json.loads("\n".join(out))["problems"]
    assert code == 1
    assert {name: problem[name] for name in ("file", "row", "column", "text", "mend")} == {
        "file": "orders.csv",
        "row": row_of(shelf, "orders", "D12"),
        "column": "eggs",
        "text": "'2.5' is not a whole number.",
        "mend": "Write 2 or 3.",
    }


def test_every_mistake_of_every_table_is_said_in_one_go(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with_cells(shelf, "orders", "D12", eggs="2.5")
    with_cells(shelf, "lots", "AU-20", kept_at_c="warm")
    (shelf / "postage.csv").unlink()
    said = refused(shelf, capsys, monkeypatch, "plan")
    assert sorted(line.partition(":")[0] for line in said) == ["lots.csv", "orders.csv", "postage.csv"]


def test_a_name_with_marks_of_html_is_printed_as_it_is_written(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with_cells(shelf, "orders", "D02", addressee="<b>Bo</b> & Søn")
    assert ran(shelf, capsys, monkeypatch, "check")[0] == 0
    code, out, _ = ran(shelf, capsys, monkeypatch, "plan")
    assert code == 0
    assert any("<b>Bo</b> & Søn, DK" in line for line in out)
    assert ran(shelf, capsys, monkeypatch, "papers")[0] == 0
    papers = shelf / "papers"
    mails = [
        email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
        for path in papers.rglob("*.eml")
    ]
    pages = [
        part.get_content() for mail in mails for part in mail.walk() if part.get_content_type() == "text/html"
    ]
    assert any("&lt;b&gt;Bo&lt;/b&gt; &amp; Søn" in page for page in pages)
    assert not any("<b>Bo" in page for page in pages)
    printed = [page.extract_text() for path in papers.rglob("*.pdf") for page in pypdf.PdfReader(path).pages]
    assert any("<b>Bo</b> & Søn" in text for text in printed)


def test_an_order_to_a_country_without_a_service_stops_alone(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with_cells(shelf, "orders", "D12", country="BR", town="Manaus", postcode="69000-000", language="pt")
    with_row(shelf, "rules", to="BR", taxon="*", verdict="open", source="invented", checked_on="2026-11-20")
    assert ran(shelf, capsys, monkeypatch, "check")[0] == 0
    code, out, _ = ran(shelf, capsys, monkeypatch, "--json", "plan")
    plan = json.loads("\n".join(out))
    assert code == 0
    assert [parcel["orders"] for parcel in plan["parcels"]] == [["D02"]]
    (line,) = plan["lines_out"]
    assert (line["order"], line["line"], line["verdict"]) == ("D12", 1, "stop")
    assert [reason["code"] for reason in line["reasons"]] == ["no-route"]
    assert ran(shelf, capsys, monkeypatch, "papers")[0] == 0
