"""A parcel that counts on eyes nobody has seen is packed only after a look, which is one tap on its card."""

from __future__ import annotations

import re
from datetime import date

import pytest

from shipping.worktop.sheets import rows_as_typed
from tests.worktop.conftest import Desk, plain, said

pytestmark = pytest.mark.slow
TUESDAY, LOT = date(2026, 12, 1), "GA-13"


@pytest.fixture
def bench(desk: Desk) -> Desk:
    """The week with a parcel moved to Tuesday, when it counts on a lot whose eyes are still to come."""
    token, move = {"token": desk.worktop.access.token}, "/parcels/2026-W49-04/move"
    wish = {"day": TUESDAY.isoformat(), "service": "tracked parcel"}
    seen = desk.post(move, token, card=False, **wish)
    assert f"Look first at lot {LOT}" in plain(seen.text)
    digest = re.search(r'name="digest" value="(\w+)"', seen.text)
    assert digest
    assert desk.post(move, token, card=False, **wish, digest=digest[1]).status_code == 303
    desk.worktop.shelf_state.close()
    return Desk(desk.folder, TUESDAY)


def name_of_it(bench: Desk) -> str:
    found = re.search(r'action="/packing/([\w-]+)/eyes"', bench.get(f"/packing?day={TUESDAY}").text)
    assert found
    return found[1]


def test_it_is_packed_only_after_the_look_and_the_look_is_a_row_of_that_day(bench: Desk) -> None:
    name = name_of_it(bench)
    assert f"{LOT}: " in bench.text("/")
    page = bench.get(f"/packing?at={name}").text
    plan = re.search(rf'data-strip="{name}\.(\d+)"', page)
    assert plan
    marks = bench.marks() | {"plan": plan[1]}
    refused = bench.post(f"/packing/{name}/pack", marks)
    assert refused.status_code == 409
    assert bench.parcel(name).state == "planned"
    seen = bench.post(f"/packing/{name}/eyes", marks, lot=LOT)
    assert seen.status_code == 200
    assert "inspections.csv" in said(seen)
    row = rows_as_typed(bench.folder / "inspections.csv")[-1].cells
    assert (row["lot"], row["on"], row["stage"]) == (LOT, TUESDAY.isoformat(), "eyed")
    packed = bench.post(f"/packing/{name}/pack", bench.marks() | {"plan": plan[1]})
    assert packed.status_code == 200, plain(packed.text)
    assert bench.parcel(name).state == "packed"
