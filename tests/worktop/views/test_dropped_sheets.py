"""Three invented shops' sheets dropped on the page become orders and lots, and the shops' files stay as they
are.
"""

from __future__ import annotations

import csv
import errno
import io
import os
import re
from pathlib import Path
from types import SimpleNamespace

import openpyxl
import pytest
from werkzeug.test import TestResponse

from shipping.ledger.whole_shelf import read_whole_shelf
from shipping.tables.editing.settings_writer import change_settings
from shipping.tables.files import whole_file
from shipping.tables.shelf import Shelf
from shipping.worktop.dropped_sheets import DropBox
from shipping.worktop.views.dropped_sheets import _lacking
from tests.worktop.conftest import HOME, TODAY, Desk, plain

GERMAN = (
    "Bestellnummer;Datum;Empfänger;Straße;PLZ;Ort;Land;Artikel;Anzahl;Summe\n"
    "S-1;03.11.2026;Änne Beispiel;Weg 1;10115;Berlin;Deutschland;Blauer Gardneri;20;12,50\n"
    "S-2;14.11.2026;Jörg Muster;Weg 2;10117;Berlin;Deutschland;Blauer Gardneri;30;18,00\n"
).encode("cp1252")
LOTS = "lot,species,population,laid_from,laid_to,medium,kept_at_c,eggs,counted_on,stage,stage_on\n" + (
    "GA-01,gardneri,Akure,18/11/2026,20/11/2026,water,24,80,28/11/2026,eyed,28/11/2026\n"
)


class Shop(Desk):
    """A first shelf, made on the page, on which sheets are dropped."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.post_form(
            "/first",
            folder=str(folder),
            name="Ada Example",
            address="Havnegade 1\n8000 Aarhus C",
            country="DK",
            currency="EUR",
        )

    def post_form(self, path: str, **fields: str) -> TestResponse:
        return self.post(path, {"token": self.worktop.access.token}, card=False, **fields)

    def drop(self, *sheets: tuple[str, bytes]) -> TestResponse:
        data = {
            "token": self.worktop.access.token,
            "sheets": [(io.BytesIO(content), name) for name, content in sheets],
        }
        return self.client.post("/sheets", base_url=HOME, data=data, content_type="multipart/form-data")

    def shelf(self) -> Shelf:
        reading = read_whole_shelf(self.folder, TODAY)
        assert reading.shelf is not None, [str(problem) for problem in reading.problems]
        return reading.shelf


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path / "shelf")


def columns(page: str) -> dict[str, str]:
    """The choices of a page's form as they stand."""
    found = {}
    for name, inner in re.findall(r'<select name="(c\d+)">(.*?)</select>', page, re.S):
        chosen = re.search(r'<option value="([^"]*)" selected', inner)
        found[name] = chosen[1] if chosen else ""
    return {**found, "columns": "1", "what": ""}


def test_a_german_shops_sheet_asks_its_letters_and_its_fish_once_and_becomes_orders(shop: Shop) -> None:
    assert shop.drop(("laden.csv", GERMAN)).status_code == 303
    page = shop.text("/sheets/laden.csv")
    assert "Which reads right? asked once for all your sheets" in page
    assert "Empfänger" in page
    seen = shop.post_form("/sheets/laden.csv", encoding="cp1252", do="look").text
    assert "“Blauer Gardneri” is" in plain(seen)
    assert 'value="addressee" selected' in seen
    asked = {**columns(seen), "encoding": "cp1252", "dates": "day first", "decimals": "comma"}
    fish = {"word-0": "Blauer Gardneri", "meant-0": "gardneri", "population-0": "Akure"}
    taken = shop.post_form("/sheets/laden.csv", **asked, **fish, do="take")
    assert taken.status_code == 303, plain(taken.text)
    orders = shop.shelf().order_by_name
    assert (orders["S-1"].placed_on.isoformat(), orders["S-1"].address.addressee) == (
        "2026-11-03",
        "Änne Beispiel",
    )
    line = orders["S-2"].lines[0]
    assert (line.species, line.population, line.eggs, str(line.price)) == ("gardneri", "Akure", 30, "18.00")
    assert (shop.folder / "laden.csv").read_bytes() == GERMAN
    assert 'encoding = "cp1252"' in (shop.folder / "shelf.toml").read_text(encoding="utf-8")


def test_the_next_download_of_the_same_shop_takes_the_place_of_the_last_and_says_what_changed(
    shop: Shop,
) -> None:
    first = "Order number,Order date,Name,Country,Item,Quantity\nA1,2026-11-02,Bo Example,DK,gardneri,20\n"
    shop.drop(("w48.csv", first.encode()))
    taken = shop.post_form("/sheets/w48.csv", do="take")
    assert taken.status_code == 303, plain(taken.text)
    second = first.replace("gardneri,20", "gardneri,25") + "A2,2026-11-20,Cy Example,DK,gardneri,30\n"
    shop.drop(("w49.csv", second.encode()))
    asked = shop.post_form("/sheets/w49.csv", do="take")
    assert asked.status_code == 409
    assert "was '20' when it was read before, and is now '25'" in plain(asked.text)
    assert shop.shelf().order_by_name["A1"].lines[0].eggs == 20
    assert shop.post_form("/sheets/w49.csv", do="take-changes").status_code == 303
    orders = shop.shelf().order_by_name
    assert {name: order.lines[0].eggs for name, order in orders.items()} == {"A1": 25, "A2": 30}
    assert [path.name for path in sorted((shop.folder / "table-copies").glob("w48-*.csv"))] == [
        "w48-000001.csv"
    ]


@pytest.mark.parametrize("file", ["w48.csv", "orders.toml"])
def test_a_download_cut_off_while_it_is_taken_leaves_the_sheet_of_before_whole(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, file: str
) -> None:
    first = "Order number,Order date,Name,Country,Item,Quantity\nA1,2026-11-02,Bo Example,DK,gardneri,20\n"
    shop.drop(("w48.csv", first.encode()))
    shop.post_form("/sheets/w48.csv", do="take")
    before, put = (shop.folder / file).read_bytes(), os.replace

    def cut_off(part: Path, place: Path) -> None:
        if Path(place) == shop.folder / file:
            assert (shop.folder / file).read_bytes() == before
            raise KeyboardInterrupt
        put(part, place)

    monkeypatch.setattr(whole_file.os, "replace", cut_off)
    shop.drop(("w49.csv", (first + "A2,2026-11-20,Cy Example,DK,gardneri,30\n").encode()))
    with pytest.raises(KeyboardInterrupt):
        shop.post_form("/sheets/w49.csv", do="take")
    assert (shop.folder / file).read_bytes() == before


def test_a_dropped_book_that_finds_no_room_is_said_and_no_half_of_it_waits(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name in ("orders", "lots"):
        sheet = book.create_sheet(name)
        for row in csv.reader((shop.folder / f"{name}.csv").read_text(encoding="utf-8-sig").splitlines()):
            sheet.append(row)
    book.save(content := io.BytesIO())
    put = os.replace

    def full(part: Path, place: Path) -> None:
        if Path(place).name == "lots.csv":
            raise OSError(errno.ENOSPC, "No space left on device")
        put(part, place)

    monkeypatch.setattr(whole_file.os, "replace", full)
    answer = shop.drop(("form.xlsx", content.getvalue()))
    assert answer.status_code == 422
    assert "cannot be written (no space left on device)" in plain(answer.text)
    assert shop.worktop.dropped.names() == []


def test_a_full_disk_is_no_mistake_of_ours(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(DropBox, "put", full)
    answer = shop.drop(("w48.csv", b"x"))
    assert answer.status_code == 503
    assert "Make room on the disk and try again." in plain(answer.text)


def test_a_workbook_of_wishes_is_read_as_orders_of_several_lines(shop: Shop) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["No.", "Timestamp", "Name", "Country", "What"])
    sheet.append(["7", "2026-11-20", "Di Example", "DK", "20 x gardneri, 10 x gardneri"])
    content = io.BytesIO()
    book.save(content)
    there = shop.drop(("form.xlsx", content.getvalue())).headers["Location"]
    assert "7, 2026-11-20" in shop.text(there)
    assert shop.post_form("/sheets/form.xlsx", do="take").status_code == 303
    assert [line.eggs for line in shop.shelf().order_by_name["7"].lines] == [20, 10]


def test_lots_with_days_written_day_first_are_asked_once_and_added(shop: Shop) -> None:
    settings = shop.folder / "shelf.toml"
    before = settings.read_text(encoding="utf-8")
    unset = re.sub(r"(?m)^dates = .*$", "", before)
    assert unset != before
    settings.write_text(unset, encoding="utf-8")
    shop.drop(("my lots.csv", LOTS.encode()))
    assert "rows for your table Lots" in shop.text("/sheets/my lots.csv")
    asked = shop.post_form("/sheets/my lots.csv", do="take")
    assert asked.status_code == 409
    assert "the day stands first" in plain(asked.text)
    assert shop.shelf().lots == ()
    taken = shop.post_form("/sheets/my lots.csv", dates="day first", do="take")
    assert taken.status_code == 303, plain(taken.text)
    assert [(lot.lot, lot.laid_to.isoformat()) for lot in shop.shelf().lots] == [("GA-01", "2026-11-20")]
    shop.drop(("my lots.csv", LOTS.encode()))
    again = shop.post_form("/sheets/my lots.csv", dates="day first", do="take")
    assert "No row added. There already: 1. lots.csv" in shop.text(again.headers["Location"])


@pytest.mark.parametrize("note", [None, "#REF!"])
def test_nothing_that_was_not_typed_is_written_of_a_dropped_workbook(shop: Shop, note: str | None) -> None:
    """A blank cell stays blank; one that holds an error of its spreadsheet is refused with its place."""
    book = openpyxl.Workbook()
    assert book.active is not None
    header, row = (line.split(",") for line in LOTS.replace("/11/", ".11.").splitlines())
    book.active.append([*header, "note"])
    book.active.append([*(None if cell in ("Akure", "eyed") else cell for cell in row), note])
    book.save(content := io.BytesIO())
    shop.drop(("lots.xlsx", content.getvalue()))
    answer = shop.post_form("/sheets/lots.xlsx", dates="day first", do="take")
    if note:
        assert "lots.xlsx[Sheet]:2: Note (column L): holds the spreadsheet error #REF!" in answer.text
        assert "BadSource" not in answer.text
        assert shop.shelf().lots == ()
    else:
        assert answer.status_code == 303, plain(answer.text)
        assert "None" not in (shop.folder / "lots.csv").read_text(encoding="utf-8-sig")
        assert [(lot.population, lot.stage, lot.note) for lot in shop.shelf().lots] == [("", None, "")]


def test_a_dropped_row_whose_decimal_comma_parts_a_number_is_refused_as_a_row_of_its_sheet(
    shop: Shop,
) -> None:
    parted = LOTS.replace("/11/", ".11.").replace("water,24,", "water,22,5,")
    shop.drop(("lots.csv", f"{parted.rstrip()},\n".encode()))
    refused = shop.post_form("/sheets/lots.csv", dates="day first", do="take")
    assert "lots.csv:2: Kept at: a number stands in two cells, parted at its comma. Write 22.5." in plain(
        refused.text
    )
    assert shop.shelf().lots == ()


def test_what_is_no_sheet_is_refused_and_nothing_waits(shop: Shop) -> None:
    refused = shop.drop(("picture.png", b"\x89PNG"))
    assert refused.status_code == 422
    assert "is no sheet that can be read" in plain(refused.text)
    assert shop.worktop.dropped.names() == []


def test_a_column_that_sounds_like_a_count_is_asked_about_until_it_is_left_by_name(shop: Shop) -> None:
    text = "Order,Date,Name,Country,Species,Eggs,Packs of food\nB1,2026-11-02,Bo Example,DK,gardneri,20,2\n"
    shop.drop(("shop.csv", text.encode()))
    page = shop.get("/sheets/shop.csv").text
    assert "sounds like a count and is not read" in plain(page)
    assert shop.post_form("/sheets/shop.csv", **columns(page), do="take").status_code == 303
    assert shop.shelf().order_by_name["B1"].lines[0].eggs == 20


def test_an_order_of_a_dropped_sheet_is_listed_and_changed_by_a_copy_in_the_own_table(shop: Shop) -> None:
    text = (
        "Order,Date,Name,Country,Species,Eggs,Paid\n"
        "C1,2026-11-02,Bo Example,DK,gardneri,20,\n"
        "C1,2026-11-02,Bo Example,DK,gardneri,10,\n"
    )
    shop.drop(("shop.csv", text.encode()))
    assert shop.post_form("/sheets/shop.csv", do="take").status_code == 303
    assert "C1 Bo Example, 20 gardneri, 10 gardneri, DK; shop.csv" in shop.text("/tables/orders")
    assert shop.post_form("/orders/C1/paid").status_code == 303
    order = shop.shelf().order_by_name["C1"]
    assert [(line.eggs, line.paid, line.row.at.file) for line in order.lines] == [
        (20, True, "orders.csv"),
        (10, True, "orders.csv"),
    ]
    assert (shop.folder / "shop.csv").read_text(encoding="utf-8") == text
    assert shop.post_form("/orders/C1/copy").status_code == 404


def test_an_order_copied_from_a_dropped_sheet_is_paid_or_not_as_it_was_there(shop: Shop) -> None:
    """One whose sheet keeps no payments lost that it counted as paid, in a table that keeps them."""
    plain_rows = "Order,Date,Name,Country,Species,Eggs\nC1,2026-11-02,Bo Example,DK,gardneri,20\n"
    with_yes = (
        "Pedido,Fecha,Nombre,País,Especie,Huevos,Pagado\n"
        "Y1,2026-11-02,Bo Example,DK,gardneri,20,sí\nN1,2026-11-02,Bo Example,DK,gardneri,20,\n"
    )
    for name, rows in (("plain.csv", plain_rows), ("yes.csv", with_yes)):
        shop.drop((name, rows.encode()))
        assert shop.post_form(f"/sheets/{name}", do="take").status_code == 303
    own = shop.folder / "orders.csv"
    text = own.read_text(encoding="utf-8")
    assert "paid_on" in text
    for order in ("C1", "Y1", "N1"):
        shop.post_form(f"/orders/{order}/copy")
    orders = shop.shelf().order_by_name
    assert {
        name: (orders[name].lines[0].row.at.file, orders[name].lines[0].paid) for name in ("C1", "Y1", "N1")
    } == {
        "C1": ("orders.csv", True),
        "Y1": ("orders.csv", True),
        "N1": ("orders.csv", False),
    }
    own.write_text(text.replace("paid_on", "_paid_on", 1), encoding="utf-8")
    for order in ("Y1", "N1"):
        shop.post_form(f"/orders/{order}/copy")
    orders = shop.shelf().order_by_name
    assert {
        order.lines[0].paid for order in orders.values() if order.lines[0].row.at.file == "orders.csv"
    } == {True}
    assert (orders["Y1"].lines[0].row.at.file, orders["N1"].lines[0].row.at.file) == ("orders.csv", "yes.csv")
    assert not orders["N1"].lines[0].paid


@pytest.mark.parametrize(
    ("columns", "lacks"),
    [
        ("order placed_on addressee country species eggs", 0),
        ("order placed_on addressee country wish", 0),
        ("order placed_on addressee country", 2),
        ("order placed_on addressee wish", 1),
    ],
)
def test_a_column_of_count_and_name_stands_for_both(columns: str, lacks: int) -> None:
    assert len(_lacking(SimpleNamespace(columns=dict.fromkeys(columns.split()), always={}))) == lacks


LOTES = (
    "Lote;Pez;Localidad;Fecha puesta;Medio;Temp. ºC;Nº huevos;Estado;Visto el;Observaciones\n"
    "GAR-1;gardneri;Akure;20/11/2026;agua;23;60;se ven ojos;28/11/2026;\n"
    "GAR-2;gardneri;Akure;30/02/2026;mopa;23;45;;;\n"
).encode("cp1252")


def test_a_spanish_list_of_lots_is_read_by_its_own_headers_and_asks_what_it_lacks(shop: Shop) -> None:
    change_settings(shop.folder, {("papers", "languages"): ["es"]})
    shop.drop(("lotes2.csv", LOTES))
    reading = {"encoding": "cp1252", "what": "lots", "dates": "day first"}
    seen = shop.post_form("/sheets/lotes2.csv", encoding="cp1252", do="look")
    assert "filas para su tabla Lotes" in plain(seen.text)
    asked = shop.post_form("/sheets/lotes2.csv", **reading, do="take")
    assert asked.status_code == 409
    assert "Necesario, y aún en ninguna columna: Contado el." in plain(asked.text)
    counted = {**reading, "always-counted_on": "28/11/2026"}
    refused = plain(shop.post_form("/sheets/lotes2.csv", **counted, do="take").text)
    assert "lotes2.csv:3: Puesto desde el: " in refused
    assert "lotes2.csv:3: Guardado en: " in refused
    assert "Escriba agua o musgo o turba o " in refused
    assert "lots.csv" not in refused
    shop.worktop.dropped.leave("lotes2.csv")
    shop.drop(("lotes2.csv", LOTES.replace(b"30/02", b"21/11").replace(b"mopa", b"turba")))
    taken = shop.post_form("/sheets/lotes2.csv", **counted, do="take")
    assert taken.status_code == 303, plain(taken.text)
    lots = {lot.lot: lot for lot in shop.shelf().lots}
    assert lots["GAR-1"].stage == "eyed"
    assert lots["GAR-1"].counted_on.isoformat() == "2026-11-28"
    laid = lots["GAR-2"]
    assert [day.isoformat() for day in (laid.laid_from, laid.laid_to)] == ["2026-11-21"] * 2
    assert laid.medium == "peat"


@pytest.mark.parametrize(("first", "second"), [("lotes", "pedidos"), ("Hoja1", "Hoja2")])
def test_every_page_of_a_workbook_can_be_read(shop: Shop, first: str, second: str) -> None:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for title, rows in ((first, LOTES.decode("cp1252")), (second, GERMAN.decode("cp1252"))):
        sheet = book.create_sheet(title)
        for row in csv.reader(rows.splitlines(), delimiter=";"):
            sheet.append(row)
    book.save(content := io.BytesIO())
    waits = shop.drop(("mio.xlsx", content.getvalue()))
    names = shop.worktop.dropped.names()
    assert names == (["lots.csv", "mio.xlsx"] if first == "lotes" else ["mio.xlsx"])
    if first == "lotes":
        assert "rows for your table Lots" in shop.text(waits.headers["Location"])
        assert "Bestellnummer" in shop.text("/sheets/mio.xlsx")
        return
    page = shop.get("/sheets/mio.xlsx").text
    turned = shop.post_form("/sheets/mio.xlsx", **columns(page), tab=second, do="look").text
    assert f"<option selected>{second}</option>" in turned
    fish = {"word-0": "Blauer Gardneri", "meant-0": "gardneri"}
    asked = columns(turned) | {"columns": second, "tab": second}
    taken = shop.post_form(
        "/sheets/mio.xlsx", **asked, **fish, dates="day first", decimals="comma", do="take"
    )
    assert taken.status_code == 303, plain(taken.text)
    assert sorted(shop.shelf().order_by_name) == ["S-1", "S-2"]
