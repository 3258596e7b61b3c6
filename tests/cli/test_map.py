"""`map` guesses what another shop's sheet holds, shows rows as read, and writes nothing unasked."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from shipping.cli.app import main
from tests.tables.shelves import good_shelf, order, read

SHEET = (
    "Our shop,,,,,,,\nOrder No,Order date,Full name,Country,Item,Qty,Unit price,Ship by\n"
    "#1001,Nov-20-26,Ida Prøve,Denmark,20 eggs gardneri,2,$18.00,air\n"
)


def said(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str
) -> str:
    monkeypatch.setattr(sys, "argv", ["spawnpost", "--shelf", str(folder), "--today", "2026-11-30", *words])
    with pytest.raises(SystemExit) as end:
        main()
    assert not end.value.code
    return capsys.readouterr().out


def test_a_sheet_is_guessed_and_nothing_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = good_shelf(tmp_path)
    (folder / "shop.csv").write_text(SHEET, encoding="utf-8")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    text = said(folder, capsys, monkeypatch, "map", "shop.csv")
    assert "the header is row 2" in text
    assert "Not used: Ship by." in text
    assert "order #1001, placed_on 2026-11-20, addressee Ida Prøve, country DK" in text
    assert "eggs 40, price 36.00" in text
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_what_is_proposed_reads_the_sheet_as_it_was_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = good_shelf(tmp_path)
    (folder / "shop.csv").write_text(SHEET, encoding="utf-8")
    said(folder, capsys, monkeypatch, "map", "shop.csv", "--write")
    assert order(read(folder), "#1001").lines[0].eggs == 40
