"""`map` guesses what another shop's sheet holds, shows rows as read, and writes nothing unasked."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from shipping.cli.app import main
from shipping.tables.reader import read_shelf
from tests.cli.conftest import ran
from tests.tables.shelves import TODAY, good_shelf, order, read

SHEET = (
    "Our shop,,,,,,,\nOrder No,Order date,Full name,Country,Item,Qty,Unit price,Ship by\n"
    "#1001,Nov-20-26,Ida Prøve,Denmark,20 eggs gardneri,2,$18.00,air\n"
)


def with_sheet(folder: Path, name: str, text: str) -> Path:
    """The good shelf with a sheet of orders beside its tables."""
    shelf = good_shelf(folder)
    (shelf / name).write_text(text, encoding="utf-8")
    return shelf


def said(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str
) -> str:
    done = ran(folder, capsys, monkeypatch, *words)
    assert not done.code
    return done.out


def test_a_sheet_is_guessed_and_nothing_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = with_sheet(tmp_path, "shop.csv", SHEET)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    text = said(folder, capsys, monkeypatch, "map", "shop.csv")
    assert "the header is row 2" in text
    assert "Columns not read: Ship by." in text
    assert "order #1001, placed_on 2026-11-20, addressee Ida Prøve, country DK" in text
    assert "eggs 40, price 36.00" in text
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_what_a_sheet_calls_the_locality_of_a_fish_is_its_population_and_a_written_map_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    sheet = (
        "Bestellnummer;Bestelldatum;Name;Ort;Land;Fisch;Fundort;Anzahl Eier\n"
        "K-1;27.11.2026;Ida Prøve;Dresden;Deutschland;gardneri;Akure;40\n"
    )
    folder = with_sheet(tmp_path, "bestellungen.csv", sheet)
    text = said(folder, capsys, monkeypatch, "map", "bestellungen.csv", "--write")
    assert "species gardneri, population Akure, eggs 40" in text
    assert "nothing was written" not in text
    assert text.rstrip().endswith("orders.toml.")
    wish = sheet.replace("Fisch", "Artikel").replace("gardneri;", "40 x gardneri;")
    (folder / "wish.csv").write_text(wish, encoding="utf-8")
    assert "Fundort may be population" in said(folder, capsys, monkeypatch, "map", "wish.csv")


def test_a_german_sheet_of_eggs_at_a_price_each_is_guessed_whole(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    sheet = (
        "Bestell-Nr.;Datum;Käufer;Straße/Nr.;PLZ;Ort;Land;Fisch;Stück;Preis/Stk.\n"
        "K-1;27.11.2026;Ida Prøve;Musterweg 3;01067;Dresden;Deutschland;gardneri;40;0,75\n"
    )
    folder = with_sheet(tmp_path, "bestellungen.csv", sheet)
    text = said(folder, capsys, monkeypatch, "map", "bestellungen.csv")
    assert "not found" not in text
    assert "Columns not read" not in text
    assert "order K-1, placed_on 2026-11-27, addressee Ida Prøve, delivery_1 Musterweg 3" in text
    assert "species gardneri, eggs 40, price 30.00" in text


def test_what_is_proposed_reads_the_sheet_as_it_was_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = with_sheet(tmp_path, "shop.csv", SHEET)
    said(folder, capsys, monkeypatch, "map", "shop.csv", "--write")
    assert order(read(folder), "#1001").lines[0].eggs == 40


MARKET = (
    "Sale no.,Buyer name,Buyer address 1,Buyer city,Buyer country,Title,Variation,Qty sold,Sold for (total),"
    "Date sold,Date paid,Date refunded\n"
    "71,Ida Prøve,Musterweg 3,Dresden,Germany,Fundulopanchax gardneri Akure,Pack size: 20 eggs,2,EUR 25.00,"
    "20-Nov-26,21-Nov-26,\n"
    "72,Bo Eksempel,Åvej 9,Aarhus,Denmark,guentheri,Pack size: 40 eggs,1,EUR 30.00,"
    "21-Nov-26,21-Nov-26,23-Nov-26\n"
)


def test_a_market_that_names_the_eggs_of_a_pack_and_refunds_is_read_whole(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = with_sheet(tmp_path, "market.csv", MARKET)
    said(folder, capsys, monkeypatch, "map", "market.csv", "--write")
    shelf = read(folder)
    (line,) = order(shelf, "71").lines
    assert (line.eggs, line.species, line.population, line.paid) == (40, "gardneri", "Akure", True)
    assert order(shelf, "71").country == "DE"
    assert "72" not in shelf.order_by_name, "refunded"


def test_a_column_that_counts_eggs_and_is_not_read_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = with_sheet(tmp_path, "market.csv", MARKET)
    said(folder, capsys, monkeypatch, "map", "market.csv", "--write")
    told = (folder / "orders.toml").read_text(encoding="utf-8")
    told = told.replace('eggs = "Variation"\n', "").replace('packs = "Qty sold"', 'eggs = "Qty sold"')
    (folder / "orders.toml").write_text(told, encoding="utf-8")
    (notice,) = (one for one in read_shelf(folder, TODAY).problems if one.code == "unused-count")
    assert str(notice).startswith("market.csv:2: 'Variation' holds 'Pack size: 20 eggs' and is not read.")


def test_a_column_a_fish_and_a_country_are_no_counts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = good_shelf(tmp_path)
    club = "Member,Home country,Gardneri Akure,Guentheri\nIda Prøve,Germany,20,10\n"
    (folder / "club.csv").write_text(club, encoding="utf-8")
    text = said(folder, capsys, monkeypatch, "map", "club.csv")
    assert "Gardneri Akure, Guentheri are fish: a column a fish cannot be read." in text
    assert "sounds like a count" not in text


def test_a_file_of_another_form_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = good_shelf(tmp_path)
    (folder / "form.xlsm").write_bytes(b"PK")
    monkeypatch.setattr(sys, "argv", ["spawnpost", "--shelf", str(folder), "map", "form.xlsm"])
    with pytest.raises(SystemExit) as end:
        main()
    assert end.value.code == 1
    assert "form.xlsm: is no sheet that can be read. Save it as .csv" in "".join(capsys.readouterr())
