"""A parcel that counts on eyes nobody has seen is packed only after a look, which is one tap on its card."""

from __future__ import annotations

import re
from datetime import date

import pytest

from shipping.worktop.table_words import rows_as_typed
from tests.worktop.conftest import Desk, plain, said

pytestmark = pytest.mark.slow
TUESDAY, LOT = date(2026, 12, 1), "SO-02"


@pytest.fixture
def bench(desk: Desk) -> Desk:
    """The week on Tuesday, with a parcel of that day that counts on a lot whose eyes nobody has seen."""
    desk.worktop.shelf_state.close()
    return Desk(desk.folder, TUESDAY)


def name_of_it(bench: Desk) -> str:
    found = re.search(r'action="/packing/([\w-]+)/eyes"', bench.get(f"/packing?day={TUESDAY}").text)
    assert found
    return found[1]


def test_it_is_packed_only_after_the_look_and_the_look_is_a_row_of_that_day(bench: Desk) -> None:
    name = name_of_it(bench)
    assert f"Lot {LOT}, " in bench.text("/")
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


def test_where_live_eggs_may_go_without_eyes_none_are_asked_for(bench: Desk) -> None:
    """A look saw live eggs without eyes, which was enough to pack them all; the card asked for eyes still."""
    name = name_of_it(bench)
    settings = bench.folder / "shelf.toml"
    text = settings.read_text(encoding="utf-8")
    assert "[plan]\n" in text
    settings.write_text(text.replace("[plan]\n", '[plan]\nsend_from = "fertile"\n'), encoding="utf-8")
    page = bench.get(f"/packing?day={TUESDAY}").text
    assert f'id="p-{name}"' in page
    assert f"/packing/{name}/eyes" not in page
