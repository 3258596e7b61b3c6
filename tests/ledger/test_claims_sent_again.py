"""Claims settled by sending again: an order owed joins the shelf and goes before any other of equal value."""

from __future__ import annotations

import csv
import shutil
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from shipping.ledger.added_rows import owed, owed_rows
from shipping.ledger.entries import ClaimSettled, Entry
from shipping.ledger.errors import LedgerError
from shipping.ledger.ledger import Ledger
from shipping.ledger.planning_again import planned_again, shelf_left
from shipping.ledger.whole_shelf import read_for_packing, read_whole_shelf
from shipping.tables.rows.orders import OrderRow, orders_from_rows
from shipping.tables.shelf import Shelf
from shipping.week.objective import base_values
from shipping.week.plan import make_plan
from shipping.week.plan_data import Plan
from shipping.words.units import shipped_folder
from tests.ledger.desk import draw, line, parcel, plan

DEMO = shipped_folder("demo_orders")
TODAY = date(2026, 11, 30)
OLD = "2026-W47-01"


def row(order: str, **cells: object) -> OrderRow:
    plain = {
        "placed_on": date(2026, 11, 1),
        "addressee": "Ida Holm",
        "country": "DK",
        "species": "gardneri",
        "eggs": 20,
    }
    return OrderRow(**{"order": order, **plain, **cells})


def settled(order: str, number: int, eggs: int, seq: int = 7) -> Entry:
    body = ClaimSettled(parcel=OLD, order=order, line=number, how="send again", eggs=eggs)
    return Entry(seq, date(2026, 11, 25), body)


def test_what_is_owed_of_a_line_is_what_all_its_settlements_say_each_counted_once() -> None:
    entries = [settled("S10", 2, 6), settled("S11", 1, 9), settled("S10", 2, 7, seq=9), settled("S12", 1, 0)]
    assert [(one.order, one.eggs, one.entry) for one in owed(entries)] == [
        ("S10-2-again", 13, 9),
        ("S11-1-again", 9, 7),
    ]


@pytest.mark.parametrize(("rows", "is_there"), [(1, False), (2, True)])
def test_a_line_is_owed_where_its_order_still_has_as_many_lines(rows: int, is_there: bool) -> None:
    row_of = row("S10", not_before=date(2027, 1, 4))
    again = list(owed_rows(owed([settled("S10", 2, 6)]), [row_of] * rows, "ledger.sqlite"))
    assert [(one.order, one.not_before) for one in again] == [("S10-2-again", None)] * is_there


def test_a_line_owed_keeps_the_day_and_address_of_its_order_and_costs_nothing() -> None:
    rows = (
        row("S10", town="Odense"),
        row("S10", species="mento", eggs=15, price="15.00", not_after=date(2026, 11, 20)),
    )
    (again,) = owed_rows(owed([settled("S10", 2, 6)]), rows, "ledger.sqlite")
    assert (again.order, again.species, again.eggs, again.price) == ("S10-2-again", "mento", 6, Decimal(0))
    assert (again.placed_on, again.paid_on, again.town) == (date(2026, 11, 1), date(2026, 11, 25), "Odense")
    assert again.not_after is None
    assert again.value == Decimal("6.00"), "customs is told what those six were sold for"
    assert str(again.at) == "ledger.sqlite:7"
    (order,) = orders_from_rows((again,), has_paid_on=True)
    assert order.is_owed
    assert not orders_from_rows(rows, has_paid_on=False)[0].is_owed


def test_a_line_owed_whose_order_is_gone_from_the_tables_is_not_made_up() -> None:
    assert list(owed_rows(owed([settled("S10", 3, 6)]), (row("S10"),), "ledger.sqlite")) == []


def test_an_order_sent_again_can_come_short_and_be_sent_again() -> None:
    lines = owed([settled("S10-1-again", 1, 2, seq=9), settled("S10", 1, 6)])
    for price, values in ((None, [None, None]), ("25.00", [Decimal("7.50"), Decimal("2.50")])):
        again = list(owed_rows(lines, (row("S10", price=price),), "ledger.sqlite"))
        assert [one.order for one in again] == ["S10-1-again", "S10-1-again-1-again"]
        assert [one.value for one in again] == values


def test_settling_without_eggs_owes_nothing() -> None:
    assert owed([settled("S10", 1, 0)]) == ()


# --- on the demo's shelf: one lot of 30 eggs, enough for one of two orders of equal value


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Z9 was sent and lost in week 47; E1 has waited since summer; FL-31 holds eggs for only one of them."""
    shelf = tmp_path / "shelf"
    shutil.copytree(DEMO, shelf)
    rewritten(shelf / "lots.csv", lambda cells: {**cells, "eggs": "30"} if cells["lot"] == "FL-31" else cells)
    rewritten(shelf / "orders.csv", an_order_each)
    return shelf


def rewritten(path: Path, change: object) -> None:
    with path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.DictReader(file)
        header, rows = list(reader.fieldnames or ()), list(reader)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, header)
        writer.writeheader()
        writer.writerows(new for cells in rows for new in changed(change(cells)))


def changed(found: object) -> list[dict[str, str]]:
    return found if isinstance(found, list) else [found] if found else []


def an_order_each(cells: dict[str, str]) -> list[dict[str, str]]:
    """Z9 as D02's first line, and E1 as the same wish of somebody else, four months older."""
    if (cells["order"], cells["species"]) != ("D02", "floridae"):
        return []
    theirs = {"order": "Z9", "placed_on": "2026-11-10", "paid_on": "2026-11-10", "price": "20.00"}
    others = {
        "order": "E1",
        "placed_on": "2026-07-20",
        "addressee": "Bo Opdigtet",
        "delivery_1": "Stillevej 1",
        "price": "20.00",
    }
    return [{**cells, **theirs}, {**cells, **others}]


def planned(folder: Path) -> tuple[Shelf, Plan]:
    shelf = read_whole_shelf(folder, TODAY).shelf
    assert shelf is not None
    with Ledger.open(folder, TODAY) as ledger:
        left = shelf_left(shelf, ledger, "2026-W49")
    return left, make_plan(left, "2026-W49")


def lost(folder: Path, settle: bool) -> None:
    fish = {"species": "floridae", "population": ""}
    sent = parcel(OLD, "Søren Eksempel", {**line("Z9", 1, 20, draw("FL-01", 24)), **fish})
    day = date(2026, 11, 16)
    with Ledger.open(folder, day, create=True) as ledger:
        ledger.keep_plan(plan({**sent, "dispatch_on": "2026-11-16"}, week="2026-W47"))
        ledger.pack(OLD)
        ledger.send(OLD)
    with Ledger.open(folder, TODAY - timedelta(days=1)) as ledger:
        ledger.open_claim(OLD, ("Z9", 1), "lost")
        if settle:
            ledger.settle_claim(OLD, ("Z9", 1), "send again", eggs=20)


def test_what_is_owed_is_not_sent_of_another_fish_that_took_its_lines_place(folder: Path) -> None:
    lost(folder, settle=True)
    rewritten(
        folder / "orders.csv",
        lambda cells: (
            {**cells, "species": "mento", "population": "Kırkgöz"} if cells["order"] == "Z9" else cells
        ),
    )
    reading = read_whole_shelf(folder, TODAY)
    assert reading.shelf is not None
    assert "Z9-1-again" not in reading.shelf.order_by_name
    said = [f"{notice.text} {notice.mend}" for notice in reading.shelf.notices]
    assert any(
        "eggs of floridae are owed again for Z9:1 (20), but that line asks for another" in text
        for text in said
    )
    assert any(
        "Z9:1 was packed as floridae in 2026-W47-01, and asks for another fish" in text for text in said
    )


def test_what_is_owed_goes_however_its_fish_is_spelt(folder: Path) -> None:
    lost(folder, settle=True)
    rewritten(
        folder / "orders.csv",
        lambda cells: {**cells, "species": "jordanella  FLORIDAE"} if cells["order"] == "Z9" else cells,
    )
    assert going(planned(folder)[1]) == ["Z9-1-again"]


def going(found: Plan) -> list[str]:
    return [order for parcel in found.parcels for order in parcel.orders]


def test_at_equal_value_an_order_owed_goes_before_one_that_waited_far_longer(folder: Path) -> None:
    lost(folder, settle=False)
    assert going(planned(folder)[1]) == ["E1"]
    with Ledger.open(folder, TODAY) as ledger:
        ledger.settle_claim(OLD, ("Z9", 1), "send again", eggs=20)
    shelf, found = planned(folder)
    assert base_values(shelf) == {("E1", 1): 20.0, ("Z9-1-again", 1): 20.0}
    assert going(found) == ["Z9-1-again"]
    assert [out.order for out in found.lines_out] == ["E1"]


def test_a_few_eggs_owed_go_before_a_larger_new_order(folder: Path) -> None:
    """A line owed was worth its own few eggs only, and any larger order took them."""
    lost(folder, settle=False)
    with Ledger.open(folder, TODAY) as ledger:
        ledger.settle_claim(OLD, ("Z9", 1), "send again", eggs=8)
    assert going(planned(folder)[1]) == ["Z9-1-again"]


def test_an_order_owed_goes_first_even_where_waiting_counts_for_nothing(folder: Path) -> None:
    lost(folder, settle=True)
    settings = folder / "shelf.toml"
    text = settings.read_text(encoding="utf-8").replace("[plan]\n", "[plan]\nwaiting_weight = 0\n")
    settings.write_text(text, encoding="utf-8")
    assert going(planned(folder)[1]) == ["Z9-1-again"]


def test_an_order_owed_is_packed_like_any_other_and_then_settled_for_good(folder: Path) -> None:
    lost(folder, settle=True)
    _, found = planned(folder)
    with Ledger.open(folder, TODAY) as ledger:
        ledger.keep_plan(found.as_json())
        ledger.pack(found.parcels[0].parcel)
        with pytest.raises(LedgerError, match="holds order Z9-1-again"):
            ledger.undo(5)
    _, later = planned(folder)
    assert going(later) == []
    assert [out.order for out in later.lines_out] == ["E1"]


def test_the_bench_reads_every_row_that_an_order_sent_again_twice_rests_on(folder: Path) -> None:
    lost(folder, settle=True)
    first = planned(folder)[1]
    name, line_owed = first.parcels[0].parcel, ("Z9-1-again", 1)
    with Ledger.open(folder, TODAY) as ledger:
        ledger.keep_plan(first.as_json())
        ledger.pack(name)
        ledger.send(name)
        ledger.open_claim(name, line_owed, "lost")
        ledger.settle_claim(name, line_owed, "send again", eggs=2)
    shelf, second = planned(folder)
    assert going(second) == ["Z9-1-again-1-again"]
    with Ledger.open(folder, TODAY) as ledger:
        second = planned_again(second, shelf, ledger)
        ledger.keep_plan(second.as_json())
        (name,) = (one.parcel for one in second.parcels if one.orders == ("Z9-1-again-1-again",))
        read = read_for_packing(folder, TODAY, ledger, [name]).shelf
    assert read is not None
    eggs = {order.order: [line.row.eggs for line in order.lines] for order in read.orders}
    assert eggs == {"Z9": [20], "Z9-1-again": [20], "Z9-1-again-1-again": [2]}


def test_before_the_day_of_the_settlement_nothing_is_owed(folder: Path) -> None:
    lost(folder, settle=True)
    shelf = read_whole_shelf(folder, TODAY - timedelta(days=7)).shelf
    assert shelf is None or "Z9-1-again" not in shelf.order_by_name


@pytest.mark.parametrize("beside", [(), ("S12",)])
def test_a_settlement_is_not_taken_back_while_a_parcel_holds_what_it_owes(
    tmp_path: Path, beside: tuple[str, ...]
) -> None:
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        ledger.keep_plan(plan(parcel("2026-W49-01", "Ida Holm", line("S10", 1, 20, draw("L1", 24)))))
        ledger.pack("2026-W49-01")
        ledger.send("2026-W49-01")
        ledger.open_claim("2026-W49-01", ("S10", 1), "lost")
        settlement = ledger.settle_claim("2026-W49-01", ("S10", 1), "send again", eggs=20)
        lines = [line(order, 1, 20, draw("L1", 24)) for order in ("S10-1-again", *beside)]
        ledger.keep_plan(plan(parcel("2026-W50-01", "Ida Holm", *lines), week="2026-W50"))
        with pytest.raises(LedgerError, match="parcel 2026-W50-01 holds order S10-1-again"):
            ledger.undo(settlement.seq)
