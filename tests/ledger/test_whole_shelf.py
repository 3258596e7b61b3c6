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
from shipping.ledger.planning_again import shelf_left
from shipping.ledger.whole_shelf import problems_of_lot, read_for_packing, read_whole_shelf
from shipping.options.option import Destination
from shipping.questions.offer import Place, offer
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from shipping.week.plan_data import Plan
from shipping.words.problems import Level
from shipping.words.units import iso_week, shipped_folder
from tests.ledger.invented import bought

TODAY = date(2026, 11, 30)
HOME = Place("DK", (Destination("DK"),))
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


def kept_and_packed(folder: Path) -> Plan:
    """A week of one order of the demo, kept and packed: 23 of the 80 eggs of FL-31, 18 of the 70 of ME-05."""
    orders = folder / "orders.csv"
    header, *rows = orders.read_text(encoding="utf-8").splitlines(keepends=True)
    orders.write_text(header + "".join(row for row in rows if row.startswith("D02,")), encoding="utf-8")
    reading = read_whole_shelf(folder, TODAY)
    assert reading.shelf is not None
    plan = make_plan(reading.shelf, iso_week(TODAY))
    placed = {order.order: order.placed_on for order in reading.shelf.orders}
    with Ledger.open(folder, TODAY, create=True) as ledger:
        ledger.keep_plan(plan.as_json(), placed=placed)
        ledger.pack(plan.parcels[0].parcel, counted=eggs_counted(reading.shelf))
    return plan


def rewritten(table: Path, old: str, new: str) -> None:
    text = table.read_text(encoding="utf-8")
    assert old in text
    table.write_text(text.replace(old, new), encoding="utf-8")


def left_for_planning(folder: Path) -> Shelf:
    """The shelf that plan, forecast and offer go out from."""
    with Ledger.open(folder, TODAY) as ledger:
        shelf = read_whole_shelf(folder, TODAY, ledger=ledger).shelf
        assert shelf is not None
        return shelf_left(shelf, ledger, iso_week(TODAY))


def test_plan_forecast_and_offer_have_one_count_of_a_lot_counted_again_on_its_packing_day(
    folder: Path,
) -> None:
    """70 counted today and 18 packed; then 30 counted: 30 are left, or 12 where it came before packing."""
    kept_and_packed(folder)
    looks = folder / "inspections.csv"
    rewritten(looks, "kept_at_c,note", "kept_at_c,note,before_packing")
    before = looks.read_text(encoding="utf-8")
    for look, left in (("", 52), (",2026-11-30,,30,,,,", 30), (",2026-11-30,,30,,,,,yes", 12)):
        looks.write_text(f"{before}ME-05{look}\n" if look else before, encoding="utf-8")
        shelf = left_for_planning(folder)
        plan = make_plan(shelf, iso_week(TODAY))
        (use,) = (use for use in plan.lots if use.lot == "ME-05")
        assert (use.drawn, use.left) == (0, left)
        assert lot_forecast(shelf, "ME-05").free_on(TODAY) == left
        (offered,) = offer(shelf, plan, to=(HOME,), species="mento").offers
        assert 0 <= left - offered.eggs_free <= 1  # those lost by the day it goes
        asked = [told.text for told in read_whole_shelf(folder, TODAY).problems if told.code == "same-day"]
        assert [text.partition(",")[0] for text in asked] == (
            ["lot ME-05 was counted on 2026-11-30"] if left == 30 else []
        )


def test_an_order_and_a_lot_in_another_case_are_still_the_same(folder: Path) -> None:
    plan = kept_and_packed(folder)
    order = plan.parcels[0].orders[0]
    rewritten(folder / "orders.csv", f"\n{order},", f"\n{order.lower()},")
    rewritten(folder / "lots.csv", "\nFL-31,", "\nfl-31,")
    shelf = left_for_planning(folder)
    assert order not in {one.order for one in shelf.orders}
    assert order.lower() not in {one.order for one in shelf.orders}
    assert lot_forecast(shelf, "FL-31").free_on(TODAY) == 57
    with Ledger.open(folder, TODAY) as ledger:
        reading = read_for_packing(folder, TODAY, ledger, [plan.parcels[0].parcel])
    assert reading.shelf is not None
    assert set(reading.shelf.order_by_name) == {order}


def another_fish(folder: Path) -> list[str]:
    problems = read_whole_shelf(folder, TODAY).problems
    return [str(problem) for problem in problems if problem.code == "another-fish"]


def test_a_lot_that_went_as_another_population_than_it_has_now_is_asked_about(folder: Path) -> None:
    kept_and_packed(folder)
    assert another_fish(folder) == []
    rewritten(folder / "lots.csv", "ME-05,mento,Kırkgöz", "ME-05,mento,Akgöl")
    (said,) = another_fish(folder)
    assert "lot ME-05 is 'mento Akgöl', and 2026-W49-01 took eggs of it as 'mento Kırkgöz'." in said
    rewritten(folder / "lots.csv", "Akgöl,2026-11-26,2026-11-26", "Akgöl,2026-12-01,2026-12-01")
    assert another_fish(folder) == []  # eggs laid since are of another lot under that name


def test_a_lot_that_went_as_another_fish_is_asked_about(folder: Path) -> None:
    kept_and_packed(folder)
    rewritten(folder / "lots.csv", "ME-05,mento,Kırkgöz", "ME-05,sophiae,Kırkgöz")
    assert len(another_fish(folder)) == 1
    rewritten(folder / "lots.csv", "FL-31,floridae,,", "FL-31,gardneri,Akure,")  # of no known population
    assert len(another_fish(folder)) == 2


def of_code(folder: Path, code: str, today: date = TODAY) -> list[str]:
    return [problem.text for problem in read_whole_shelf(folder, today).problems if problem.code == code]


def test_a_lot_with_fewer_eggs_than_parcels_hold_is_told_before_one_is_packed(folder: Path) -> None:
    """18 eggs of ME-05 are held: as many may just be left; what is packed of a lot is held no more."""
    kept_and_packed(folder)
    rewritten(folder / "lots.csv", "21,70,2026-11-30,", "21,18,2026-11-30,")
    assert of_code(folder, "held-short") == []
    with Ledger.open(folder, TODAY) as ledger:
        ledger.undo()
    assert of_code(folder, "held-short") == []
    rewritten(folder / "lots.csv", "21,18,2026-11-30,", "21,16,2026-11-30,")
    (told,) = (one for one in read_whole_shelf(folder, TODAY).problems if one.code == "held-short")
    assert told.text == "Lot ME-05 has 16 eggs left, and 18 are held for 2026-W49-01: 2 are lacking."
    assert told.mend.startswith("Plan again: spawnpost plan --week 2026-W49 --keep;")
    assert told.level is Level.NOTICE


def test_an_order_packed_and_given_a_new_number_is_asked_about(folder: Path) -> None:
    kept_and_packed(folder)
    assert of_code(folder, "renumbered") == []
    rewritten(folder / "orders.csv", "\nD02,2026-11-24", "\nD20,2026-11-24")
    assert of_code(folder, "renumbered") == ["order D20 has buyer and day of D02, which was packed."]
    rewritten(folder / "orders.csv", "\nD20,2026-11-24", "\nD20,2026-11-25")
    assert of_code(folder, "renumbered") == []  # the buyer orders again


def test_a_recount_in_which_packed_eggs_still_stand_is_said_and_stops_its_lot(folder: Path) -> None:
    """70 counted and 18 packed on the 30th: 52 may be there on the 2nd, and not 53."""
    kept_and_packed(folder)
    before = (folder / "inspections.csv").read_text(encoding="utf-8")
    for alive, said in ((52, []), (53, ["1 egg"]), (70, ["18 eggs"])):
        look = f"ME-05,2026-12-02,,{alive},,,,\n"
        (folder / "inspections.csv").write_text(before + look, encoding="utf-8")
        told = of_code(folder, "recount", date(2026, 12, 2))
        assert [text.partition(" of lot ME-05 packed since 2026-11-30")[0] for text in told] == said


def test_a_count_whose_day_alone_was_moved_on_is_asked_about(folder: Path) -> None:
    kept_and_packed(folder)
    rewritten(folder / "lots.csv", "21,70,2026-11-30,", "21,52,2026-12-02,")
    assert of_code(folder, "recount", date(2026, 12, 2)) == []
    rewritten(folder / "lots.csv", "21,52,2026-12-02,", "21,70,2026-12-02,")
    (said,) = of_code(folder, "recount", date(2026, 12, 2))
    assert said == "70 are not what is left of 70 on 2026-11-30: 18 were packed since."


def test_more_packed_than_the_lot_ever_held_is_said(folder: Path) -> None:
    kept_and_packed(folder)
    assert of_code(folder, "ledger") == []
    rewritten(folder / "lots.csv", "21,70,2026-11-30,", "21,17,2026-11-30,")
    assert of_code(folder, "ledger") == [
        "18 eggs were packed from lot ME-05 since 17 were counted on 2026-11-30."
    ]


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


def test_where_nothing_was_ever_kept_arrivals_teach_nothing_which_is_said_once(folder: Path) -> None:
    rows = "2026-W48-01,1,2026-11-27,20\n2026-W48-02,1,2026-11-27,20\n"
    (folder / "arrivals.csv").write_text(f"parcel,line,arrived_on,alive\n{rows}", encoding="utf-8")
    reading = read_whole_shelf(folder, TODAY)
    (told,) = [problem for problem in reading.problems if problem.code == "arrival"]
    assert str(told) == (
        "arrivals.csv:2: parcel: no plan was ever kept here, so nothing is learned from what arrived."
        " Put ledger.sqlite beside the tables, if you have one; or keep the next plan: spawnpost plan --keep."
    )
    assert told.level == Level.NOTICE
    assert reading.shelf is not None
    assert told in reading.shelf.notices


def test_an_order_taken_out_of_its_table_is_told_until_its_parcel_is_sent(folder: Path) -> None:
    (parcel,) = (one.parcel for one in kept_and_packed(folder).parcels)
    rewritten(folder / "orders.csv", "D02", "# D02")
    gone = f"line D02:1 is gone, and {parcel} holds its eggs."
    said = {one.text: one.mend for one in read_whole_shelf(folder, TODAY).problems}
    assert said[gone] == f"Take its packing back: spawnpost undo {parcel}; or put its row back."
    with Ledger.open(folder, TODAY) as ledger:
        ledger.send(parcel)
    assert gone not in {one.text for one in read_whole_shelf(folder, TODAY).problems}
