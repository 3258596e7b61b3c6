"""``check`` says what each file was read as, hints at odd addresses, and lists the worst first."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.cli.conftest import ran
from tests.tables.shelves import good_shelf


def with_first_order(folder: Path, **cells: str) -> Path:
    """The good shelf with other cells on the first row of its orders."""
    shelf = good_shelf(folder)
    with (shelf / "orders.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    for column, cell in cells.items():
        rows[1][rows[0].index(column)] = cell
    with (shelf / "orders.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    return shelf


def checked(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str
) -> tuple[int, str]:
    done = ran(shelf, capsys, monkeypatch, "check", *words)
    return done.code, done.out


def test_each_file_is_said_with_its_form_and_rows(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = good_shelf(tmp_path)
    text = (shelf / "weather.csv").read_text(encoding="utf-8")
    (shelf / "weather.csv").write_text(text.replace(",", "\t"), encoding="utf-16")
    _, out = checked(shelf, capsys, monkeypatch)
    assert "Read as UTF-16, tabs between cells, decimal point: weather.csv (" in out
    facts = json.loads(checked(shelf, capsys, monkeypatch, "--json")[1])
    orders = next(one for one in facts["files"] if one["file"] == "orders.csv")
    assert (orders["table"], orders["rows"], orders["complete"]) == ("orders", 3, True)


def test_rows_with_a_mistake_are_counted_among_those_of_their_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = with_first_order(tmp_path, eggs="2.5")
    code, out = checked(shelf, capsys, monkeypatch)
    assert code == 1
    assert "orders.csv (3 rows, 1 of them with a mistake)" in out
    shelf = with_first_order(tmp_path / "other", region="XX-HH")
    assert "orders.csv (3 rows, 1 of them with a mistake)" in checked(shelf, capsys, monkeypatch)[1]


def test_a_postcode_unlike_its_countrys_is_hinted_at_and_not_rewritten(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = with_first_order(tmp_path, postcode="1067", town="")
    code, out = checked(shelf, capsys, monkeypatch)
    assert code == 0
    told = "Postcodes of Germany have 5 digits, and one is missing: perhaps a nought in front, 01067"
    assert f"orders.csv:2: postcode: '1067' is no postcode of DE (Germany). {told}" in out
    assert "orders.csv:2: town: Addresses in Germany usually have a town" in out
    assert ",1067,," in (shelf / "orders.csv").read_text(encoding="utf-8")


def test_an_address_that_would_stop_a_days_papers_is_told_before_the_day(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = with_first_order(tmp_path, delivery_1="人民路 1", town="Łódź")
    code, out = checked(shelf, capsys, monkeypatch)
    told = " ".join(out.split())
    assert code == 0
    assert "orders.csv:2: delivery_1: '人民路 1' has letters that cannot be printed: 人 (U+4EBA)" in told
    assert "Write the street in Latin letters" in told
    assert "'Łódź' has letters" not in told


def test_what_stops_everything_stands_above_what_is_only_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = with_first_order(tmp_path, eggs="2.5")
    looks = (shelf / "inspections.csv").read_text(encoding="utf-8").replace(",116,", ",300,")
    (shelf / "inspections.csv").write_text(looks, encoding="utf-8")
    code, out = checked(shelf, capsys, monkeypatch)
    lines = out.splitlines()
    assert code == 1
    assert lines[0] == "orders.csv:2: eggs: '2.5' is not a whole number. Write 2 or 3."
    assert lines[1].startswith("inspections.csv:2: alive: 300 are ")
    assert all(line.startswith("Note: ") for line in lines[2:])


def test_tables_without_rows_that_need_none_are_no_news(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = good_shelf(tmp_path)
    for name in ("groups", "arrivals", "learned"):
        header = (shelf / f"{name}.csv").read_text(encoding="utf-8").splitlines()[0]
        (shelf / f"{name}.csv").write_text(header + "\n", encoding="utf-8")
    code, out = checked(shelf, capsys, monkeypatch)
    assert code == 0
    assert "has a header and no rows" not in out
