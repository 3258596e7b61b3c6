"""What the page writes is there wholly or not at all when its process is killed at any write, and the same
form sent again does the rest and nothing twice.
"""

from __future__ import annotations

import csv
import os
import re
import shutil
from collections.abc import Callable, Mapping
from io import BytesIO
from pathlib import Path

import pytest
from openpyxl import Workbook
from werkzeug.datastructures import FileStorage

from shipping.ledger.ledger import Ledger
from shipping.ledger.whole_shelf import read_whole_shelf
from shipping.words.problems import Level
from shipping.worktop.table_words import rows_as_typed
from tests.killed import done_until_killed
from tests.ledger.whole import audit
from tests.worktop.conftest import FIRST, HOME, TODAY, Desk

#: An address, and what is typed into its form.
Form = tuple[str, Mapping[str, str]]
#: What was typed and what was recorded: tables by name, entries in words.
Held = tuple[dict[str, bytes], tuple[str, ...]]
SOME_DAY = TODAY.isoformat()
LATE = "2026-W49-08"
SHOP = "shop.csv"
SHEET = (
    b"Order no.;Date;Name;Street;Postcode;City;Country;Item;Quantity\n"
    b"S-101;2026-11-24;Ina Example;Weg 4;10115;Berlin;DE;scheeli/Korup;20\n"
)


def new_order(desk: Desk) -> Form:
    fields = {"order": "D90", "placed_on": SOME_DAY, "addressee": "Ina Example", "delivery_1": "Weg 1"}
    fields |= {"postcode": "20095", "town": "Hamburg", "country": "DE", "eggs": "10"}
    return "/tables/orders/new", {**fields, "species": "gardneri", "population": "Akure"}


def cancelled(desk: Desk) -> Form:
    row = next(row for row in rows_as_typed(desk.folder / "orders.csv") if row.cells["order"] == "D34")
    page = desk.get(f"/tables/orders/{row.row}").text
    form = page.partition("/back")[2].partition("</form>")[0]
    return f"/tables/orders/{row.row}/back", dict(re.findall(r'name="(was-\w+)" value="([^"]*)"', form))


def several_rows(desk: Desk) -> Form:
    said = {"live_eggs": "yes", "answered_by": "the desk, in writing", "answered_on": SOME_DAY}
    return "/operators/tracked%20parcel", said


def look(desk: Desk) -> Form:
    return "/lots/FL-31/look", {"stage": "eyed", "on": SOME_DAY, "alive": "60"}


def settings(desk: Desk) -> Form:
    return "/setup", {"sender.name": "Another Room", "parcels_per_day": "8"}


def packed(desk: Desk) -> Form:
    return f"/packing/{FIRST}/pack", desk.marks()


def arrived(desk: Desk) -> Form:
    desk.pack()
    desk.post(f"/packing/{FIRST}/send")
    return f"/arrivals/{FIRST}", {"on": SOME_DAY, "a0": "21", "d0": "2", **desk.marks()}


def settled(desk: Desk) -> Form:
    address, fields = arrived(desk)
    desk.post(address, **{**fields, "a0": "10", "d0": "13", "a1": "18"})
    return f"/claims/{FIRST}/D02/1", {"how": "send again", "eggs": "10"}


def erased(desk: Desk) -> Form:
    address, fields = arrived(desk)
    desk.post(address, **{**fields, "note": "one tube was cold"})
    return "/erase", {"buyer": "Søren Eksempel"}


def taken_back(desk: Desk) -> Form:
    desk.pack()
    return "/history/2/undo", {}


def taught(desk: Desk) -> Form:
    address, fields = arrived(desk)
    desk.post(address, **fields)
    return "/taught/keep", {}


def kept_anew(desk: Desk) -> Form:
    desk.post(f"/parcels/{LATE}/drop", card=False)
    digest = re.search(r'name="digest" value="(\w+)"', desk.get("/plan").text)
    assert digest
    return "/plan/keep", {"week": "2026-W49", "digest": digest[1]}


def moved(desk: Desk) -> Form:
    wish = {"day": "2026-12-02", "service": desk.parcel(LATE).service}
    seen = desk.post(f"/parcels/{LATE}/move", card=False, **wish)
    digest = re.search(r'name="digest" value="(\w+)"', seen.text)
    assert digest
    return f"/parcels/{LATE}/move", {**wish, "digest": digest[1]}


def taken(_: Desk) -> Form:
    """A shop's sheet, read by a mapping; its copy waits in the page, and is dropped anew each time."""
    return f"/sheets/{SHOP}", {"do": "take"}


def drop(desk: Desk) -> None:
    data = {"token": desk.worktop.access.token, "sheets": FileStorage(BytesIO(SHEET), filename=SHOP)}
    desk.client.post("/sheets", base_url=HOME, data=data, content_type="multipart/form-data")


def unfolded(desk: Desk) -> Form:
    book = Workbook()
    book.remove(book.worksheets[0])
    for path in sorted(desk.folder.glob("*.csv")):
        sheet = book.create_sheet(path.stem)
        with path.open(encoding="utf-8-sig", newline="") as file:
            for row in csv.reader(file):
                sheet.append(row)
        path.unlink()
    book.save(desk.folder / "shelf.xlsx")
    return "/setup/unfold", {}


def held(folder: Path) -> Held:
    tables = {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix in (".csv", ".toml")}
    with Ledger.open(folder, TODAY) as ledger:
        return tables, tuple(f"{one.seq} {one.body}" for one in ledger.entries())


#: Where a form writes in several places, the first of them may be there without the others: of a wish its
#: order's row, of a settled claim the claim, of a shop's sheet its copy and how it is read.
IN_STEPS = {
    "moved": [{"orders.csv"}],
    "settled": [{"ledger"}],
    "taken": [{SHOP}, {SHOP, "orders.toml"}],
}
#: What is done before a form is sent, each time anew.
READY: dict[str, Callable[[Desk], None]] = {"taken": drop}


def differing(one: Held, other: Held) -> set[str]:
    tables = {name for name in one[0].keys() | other[0].keys() if one[0].get(name) != other[0].get(name)}
    return tables | ({"ledger"} if one[1] != other[1] else set())


def looked_at(place: Path, said: str) -> None:
    """The page is opened again, and says what became of what was begun."""
    desk = Desk(place)
    page = desk.text("/packing")
    desk.worktop.shelf_state.close()
    assert ("was to be moved to" in page) == bool(said)
    assert said in page


@pytest.mark.slow
@pytest.mark.parametrize(
    ("begun", "at_each"),
    [
        *((form, 5) for form in (new_order, cancelled, several_rows, look, settings, erased, taken)),
        *((form, 2) for form in (packed, arrived, settled, taken_back, taught)),
        *((form, 13) for form in (kept_anew, moved)),
    ],
    ids=lambda one: getattr(one, "__name__", ""),
)
def test_what_is_killed_at_any_write_is_whole_and_is_done_once_when_sent_again(
    shelf: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    begun: Callable[[Desk], Form],
    at_each: int,
) -> None:
    """At every ``at_each``-th write, or at every one with SPAWNPOST_EVERY_WRITE."""
    place, state = tmp_path / "place", tmp_path / "state"
    monkeypatch.setenv("SPAWNPOST_STATE", str(state))
    step = 1 if os.environ.get("SPAWNPOST_EVERY_WRITE") else at_each
    state.mkdir()
    shelf.rename(place)
    desk = Desk(place)
    address, fields = begun(desk)
    desk.worktop.shelf_state.close()
    before, kept, known = held(place), tmp_path / "kept", tmp_path / "known"
    shutil.copytree(place, kept)
    shutil.copytree(state, known)

    def again() -> None:
        for there, whole in ((place, kept), (state, known)):
            shutil.rmtree(there)
            shutil.copytree(whole, there)

    def send() -> None:
        desk = Desk(place)
        READY.get(begun.__name__, lambda _: None)(desk)
        marks = {"token": desk.worktop.access.token, **fields}
        answer = desk.post(address, marks, card=False)
        desk.worktop.shelf_state.close()
        assert answer.status_code < 500, answer.text

    send()
    after = held(place)
    assert differing(before, after)
    at, is_done = 0, False
    while not is_done:
        at += step
        again()
        is_done = done_until_killed(place, at, send)
        reading = read_whole_shelf(place, TODAY)
        assert [one for one in reading.problems if one.level is Level.ERROR] == [], at
        assert audit(place) == (), at
        now = held(place)
        was = differing(before, now)
        steps = IN_STEPS.get(begun.__name__, [])
        assert was in [set(), *steps] or not differing(now, after), (at, was)
        if begun is moved and was == {"orders.csv"}:
            looked_at(place, "it is done now.")
            assert not differing(held(place), after), (at, was)
            looked_at(place, "")
        send()
        assert not differing(held(place), after), (at, was)


@pytest.mark.slow
def test_a_workbook_whose_unfolding_is_killed_at_any_write_is_unfolded_by_the_button_that_every_page_shows(
    shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SPAWNPOST_STATE", str(tmp_path / "state"))
    place, kept = tmp_path / "place", tmp_path / "kept"
    shelf.rename(place)
    address, _ = unfolded(desk := Desk(place))
    desk.worktop.shelf_state.close()
    shutil.copytree(place, kept)

    def send() -> None:
        desk = Desk(place)
        answer = desk.post(address, {"token": desk.worktop.access.token}, card=False)
        desk.worktop.shelf_state.close()
        assert answer.status_code < 500, answer.text

    send()
    after = held(place)
    step = 1 if os.environ.get("SPAWNPOST_EVERY_WRITE") else 7
    at, is_done = 0, False
    while not is_done:
        at += step
        shutil.rmtree(place)
        shutil.copytree(kept, place)
        is_done = done_until_killed(place, at, send)
        desk = Desk(place)
        begun = bool(list(place.glob("*.csv"))) and (place / "shelf.xlsx").exists()
        assert begun == ('action="/setup/unfold"' in desk.get("/").text), at
        desk.worktop.shelf_state.close()
        send()
        assert not differing(held(place), after), at
