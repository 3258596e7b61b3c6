"""The shelf with what its ledger adds: the lots bought in are checked, forecast and looked at like any
other.
"""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from shipping.eggs.lot_forecast import lot_forecast
from shipping.ledger.errors import LedgerError
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import eggs_counted
from shipping.ledger.whole_shelf import problems_of_lot, read_whole_shelf
from shipping.tables.reader import read_shelf
from shipping.words.units import shipped_folder
from tests.ledger.invented import bought

TODAY = date(2026, 11, 30)
BOUGHT = bought(
    species="australe",
    population="Cap Esterias",
    kept_at_c=22.5,
    stage="eyed",
    service="",
    packing="",
    keep_back=3,
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shelf = tmp_path / "shelf"
    shutil.copytree(shipped_folder("demo_orders"), shelf)
    return shelf


def with_lot(folder: Path) -> None:
    shelf = read_shelf(folder, TODAY).shelf
    assert shelf is not None
    with Ledger.open(folder, TODAY, create=True) as ledger:
        ledger.buy(BOUGHT, shelf)


def test_without_a_ledger_the_tables_stand_alone(folder: Path) -> None:
    assert read_whole_shelf(folder, TODAY) == read_shelf(folder, TODAY)


def test_a_lot_bought_in_is_forecast_like_any_other(folder: Path) -> None:
    with_lot(folder)
    shelf = read_whole_shelf(folder, TODAY).shelf
    assert shelf is not None
    forecast = lot_forecast(shelf, "L9")
    assert (forecast.stage, forecast.eggs_on(TODAY), forecast.free_on(TODAY)) == ("eyed", 28, 25)
    assert eggs_counted(shelf)["L9"].eggs == 28
    assert "L9" not in {lot.lot for lot in read_shelf(folder, TODAY).shelf.lots}


def test_a_look_may_name_a_lot_that_only_the_ledger_knows(folder: Path) -> None:
    with_lot(folder)
    looks = folder / "inspections.csv"
    header = looks.read_text(encoding="utf-8-sig").splitlines()[0].split(",")
    cells = {"lot": "L9", "on": "2026-11-30", "alive": "20"}
    looks.write_text(
        looks.read_text(encoding="utf-8-sig") + ",".join(cells.get(name, "") for name in header) + "\n",
        "utf-8",
    )
    assert read_shelf(folder, TODAY).shelf is None
    shelf = read_whole_shelf(folder, TODAY).shelf
    assert shelf is not None
    assert eggs_counted(shelf)["L9"].eggs == 20


def test_a_lot_that_the_breeder_wrote_down_too_is_not_there_twice(folder: Path) -> None:
    with_lot(folder)
    lots = folder / "lots.csv"
    text = lots.read_text(encoding="utf-8-sig")
    row = next(line for line in text.splitlines() if line.startswith("AU-20,"))
    lots.write_text(text + row.replace("AU-20", "L9") + "\n", "utf-8")
    shelf = read_whole_shelf(folder, TODAY).shelf
    assert shelf is not None
    assert shelf.lot_by_name["L9"].eggs == 38


def test_before_they_arrived_eggs_bought_in_are_not_there(folder: Path) -> None:
    with_lot(folder)
    shelf = read_whole_shelf(folder, date(2026, 11, 29)).shelf
    assert shelf is None or "L9" not in shelf.lot_by_name


def test_what_the_checks_would_stop_is_said_before_it_is_recorded(folder: Path) -> None:
    (problem,) = problems_of_lot(folder, TODAY, bought(species="furzeri", medium="water", kept_at_c=22.0))
    assert "does not suit 'furzeri'" in str(problem)
    assert problems_of_lot(folder, TODAY, BOUGHT) == ()


def test_a_ledger_that_cannot_be_read_stops_instead_of_selling_twice(folder: Path) -> None:
    (folder / "ledger.sqlite").write_bytes(b"not a ledger at all" * 100)
    with pytest.raises(LedgerError):
        read_whole_shelf(folder, TODAY)
