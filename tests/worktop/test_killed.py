"""What the page writes is there wholly or not at all when its process is killed at any write, and the same
form sent again does the rest and nothing twice.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from shipping.ledger.ledger import Ledger
from shipping.ledger.whole_shelf import read_whole_shelf
from shipping.words.problems import Level
from shipping.worktop.sheets import rows_as_typed
from tests.killed import done_until_killed
from tests.ledger.whole import audit
from tests.worktop.conftest import FIRST, TODAY, Desk

#: An address, and what is typed into its form.
Form = tuple[str, Mapping[str, str]]
#: What was typed and what was recorded: tables by name, entries in words.
Held = tuple[dict[str, bytes], tuple[str, ...]]
SOME_DAY = TODAY.isoformat()
LATE = "2026-W49-08"


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


def held(folder: Path) -> Held:
    tables = {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix in (".csv", ".toml")}
    with Ledger.open(folder, TODAY) as ledger:
        return tables, tuple(f"{one.seq} {one.body}" for one in ledger.entries())


#: Where a form writes in two places, the first of them may be there without the second: of a wish its order's
#: row, of a settled claim the claim.
IN_TWO_STEPS = {"moved": {"orders.csv"}, "settled": {"ledger"}}


def differing(one: Held, other: Held) -> set[str]:
    tables = {name for name in one[0].keys() | other[0].keys() if one[0].get(name) != other[0].get(name)}
    return tables | ({"ledger"} if one[1] != other[1] else set())


@pytest.mark.slow
@pytest.mark.parametrize(
    ("begun", "at_each"),
    [
        *((form, 5) for form in (new_order, cancelled, several_rows, look, settings, erased)),
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
        whole = IN_TWO_STEPS.get(begun.__name__, set())
        assert was in (set(), whole) or not differing(now, after), (at, was)
        send()
        assert not differing(held(place), after), (at, was)
