"""Every code of a doubt has its own words, with the numbers that a person needs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from shutil import copytree

import pytest

from shipping.eggs.lot_forecast import doubt, lot_forecast
from shipping.tables.reader import read_shelf
from shipping.tables.rows.lots import Look
from shipping.words.units import shipped_folder
from tests.ledger import invented

TODAY = date(2026, 11, 30)


def test_the_words_of_a_doubt_name_the_lot_and_carry_its_code() -> None:
    shelf = read_shelf(shipped_folder("demo_orders"), TODAY).shelf
    assert shelf is not None
    spoken = set()
    for lot in shelf.lots:
        forecast = lot_forecast(shelf, lot.lot)
        for day in (TODAY, TODAY + timedelta(days=60)):
            for code, reason in zip(forecast.doubts_on((day,))[0], forecast.doubts(day), strict=True):
                assert reason == doubt(forecast, code, day)
                assert (reason.code, lot.lot in reason.text) == (code, True)
                spoken.add(code)
    assert {"overdue", "too-old"} <= spoken


def test_eggs_a_year_too_old_are_asked_whether_their_year_is_right(tmp_path: Path) -> None:
    """A year typed wrongly reads as a lot far past its days; eggs past them by weeks ask nothing."""
    table = (shipped_folder("demo_orders") / "lots.csv").read_text(encoding="utf-8")
    shelf_folder = copytree(shipped_folder("demo_orders"), tmp_path / "week")
    for laid, asks in (("2025-11-26", True), ("2026-10-01", False)):
        aged = table.replace(
            "ME-05,mento,Kırkgöz,2026-11-26,2026-11-26", f"ME-05,mento,Kırkgöz,{laid},{laid}"
        )
        (shelf_folder / "lots.csv").write_text(aged, encoding="utf-8")
        shelf = read_shelf(shelf_folder, TODAY).shelf
        assert shelf is not None
        (reason,) = [said for said in lot_forecast(shelf, "ME-05").doubts(TODAY) if said.code == "overdue"]
        assert ("Or was it laid in 2026, not in 2025?" in reason.text) == asks


@pytest.mark.parametrize(("said", "waits"), [("yes", True), (None, False), ("no", False)])
def test_a_look_of_the_day_made_before_the_parcels_saw_no_egg_that_came_back(
    said: str | None, waits: bool
) -> None:
    row = invented.lot("L1")
    day = row.counted_on + timedelta(days=3)
    look = Look(lot="L1", on=day, stage="eyed", before_packing=said)
    place = replace(invented.shelf(lots=(row,), looks=(look,)), came_back={"L1": ((day, 5),)})
    assert lot_forecast(place, "L1").came_back == ((day, 5) if waits else None)


def test_a_lot_that_hatches_long_before_a_day_to_come_is_said_from_when_to_when_it_does() -> None:
    """Eggs of one day hatch after 12 to 20 days, nineteen of twenty of them by then."""
    laid = TODAY - timedelta(days=2)
    row = invented.lot("L1", laid_from=laid, laid_to=laid, counted_on=laid)
    (reason,) = lot_forecast(invented.shelf(lots=(row,)), "L1").doubts(TODAY + timedelta(days=60))
    assert reason.text == "Lot L1 hatches 2026-12-10 to 2026-12-18, before 2027-01-29."
    assert (reason.facts["hatches_from"], reason.facts["hatches_until"]) == ("2026-12-10", "2026-12-18")


@pytest.mark.parametrize("cells", [{"alive": 0, "hatched": 18}, {"removed": 20}])
def test_a_lot_with_no_egg_left_is_not_asked_about(cells: dict[str, int]) -> None:
    row = invented.lot("L1")
    packed = cells.get("alive", row.eggs - 20)
    day = row.counted_on + timedelta(days=3)
    looked = invented.shelf(lots=(row,), looks=(Look(lot="L1", on=day, **cells),))
    place = replace(looked, packed={"L1": {day: packed}})
    later = day + timedelta(days=60)
    assert lot_forecast(place, "L1").doubts(later) == ()
    assert lot_forecast(replace(place, packed={"L1": {day: packed - 1}}), "L1").doubts(later) != ()
