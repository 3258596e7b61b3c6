"""A folder becomes a shelf: found from below, the same whatever the order of rows, with blanks filled as
promised.
"""

from __future__ import annotations

import os
import random
from datetime import date
from pathlib import Path

from shipping.tables.reader import find_shelf, read_shelf
from shipping.tables.shelf import Shelf
from shipping.words.problems import Level
from tests.tables.mistakes import shelf_with
from tests.tables.shelves import GOOD, TODAY, errors, good_shelf, order, read

OPTIONAL = ("inspections", "zones", "boxes", "weather", "groups", "arrivals", "learned")


def test_the_shelf_is_found_from_a_folder_inside_it(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path / "shelf")
    (shelf / "papers" / "W49").mkdir(parents=True)
    assert find_shelf(shelf / "papers" / "W49") == shelf.resolve()
    assert find_shelf(shelf) == shelf.resolve()


def test_there_is_no_shelf_above_a_folder_without_settings(tmp_path: Path) -> None:
    assert find_shelf(tmp_path) is None


def without_places(shelf: Shelf) -> list[object]:
    """All rows of a shelf, without the rows they stand on."""
    tables = (
        shelf.lots,
        shelf.looks,
        shelf.services,
        shelf.postage,
        shelf.packings,
        shelf.rules,
        shelf.boxes,
    )
    rows: list[object] = [[row.model_dump() for row in table] for table in tables]
    rows += [[row.model_dump() for row in shelf.species.values()], dict(shelf.zones)]
    rows += [
        [(line.key, line.species, line.eggs, line.paid) for order in shelf.orders for line in order.lines]
    ]
    return rows


def test_the_shelf_is_the_same_whatever_the_order_of_rows(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    for path in sorted(shelf.glob("*.csv")):
        header, *rows = path.read_text(encoding="utf-8").splitlines()
        if path.stem == "orders":
            rows = [rows[2], *rows[:2]]
        else:
            random.Random(4).shuffle(rows)
        path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    assert without_places(read(shelf)) == without_places(read(GOOD))


def test_tables_that_need_not_be_there_may_be_absent(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    for name in OPTIONAL:
        (shelf / f"{name}.csv").unlink()
    services = (shelf / "services.csv").read_text(encoding="utf-8").replace(",near,", ",SE,")
    (shelf / "services.csv").write_text(services, encoding="utf-8")
    postage = (shelf / "postage.csv").read_text(encoding="utf-8").replace(",near,", ",SE,")
    (shelf / "postage.csv").write_text(postage, encoding="utf-8")
    packings = (
        (shelf / "packings.csv").read_text(encoding="utf-8").replace("mailer", "").replace("carton", "")
    )
    (shelf / "packings.csv").write_text(packings, encoding="utf-8")
    assert errors(read_shelf(shelf, TODAY)) == []


def test_an_empty_folder_names_everything_that_is_missing(tmp_path: Path) -> None:
    missing = [message.split(":")[0] for message in errors(read_shelf(tmp_path, TODAY))]
    assert missing == [
        "shelf.toml",
        "species.csv",
        "lots.csv",
        "orders.csv",
        "services.csv",
        "postage.csv",
        "packings.csv",
        "rules.csv",
    ]


def test_a_blank_cell_of_a_later_row_takes_the_first_rows_value() -> None:
    a1 = order(read(GOOD), "A1")
    assert (a1.address.town, a1.country, a1.service, a1.placed_on) == (
        "Dresden",
        "DE",
        "letter",
        date(2026, 11, 20),
    )
    assert [(line.number, line.species, line.eggs) for line in a1.lines] == [
        (1, "gardneri", 20),
        (2, "guentheri", 40),
    ]


def test_a_row_without_paid_on_is_unpaid_only_where_the_column_is_kept(tmp_path: Path) -> None:
    assert [line.paid for line in order(read(GOOD), "A2").lines] == [False]
    shelf = good_shelf(tmp_path)
    text = (shelf / "orders.csv").read_text(encoding="utf-8").replace("paid_on", "_paid_on")
    (shelf / "orders.csv").write_text(text, encoding="utf-8")
    assert [line.paid for line in order(read(shelf), "A2").lines] == [True]


def test_a_later_row_that_fills_what_the_first_left_blank_is_no_contradiction(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    text = (
        (shelf / "orders.csv")
        .read_text(encoding="utf-8")
        .replace("Musterweg 3,01067,Dresden", "Musterweg 3,01067,")
    )
    (shelf / "orders.csv").write_text(
        text.replace("A1,,2026-11-21,,,,,", "A1,,2026-11-21,,,,Dresden,"), encoding="utf-8"
    )
    assert order(read(shelf), "A1").address.town == "Dresden"


def test_a_stage_without_a_day_is_taken_as_seen_when_the_lot_was_counted(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    text = (shelf / "lots.csv").read_text(encoding="utf-8").replace("eyed,2026-11-25", "eyed,")
    (shelf / "lots.csv").write_text(text, encoding="utf-8")
    assert read(shelf).lot_by_name["G1"].stage_on == date(2026, 11, 25)


def test_a_lot_counted_too_high_is_stopped_alone_and_named(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    text = (shelf / "inspections.csv").read_text(encoding="utf-8").replace(",116,", ",200,")
    (shelf / "inspections.csv").write_text(text, encoding="utf-8")
    stopped = read(shelf).lots_stopped
    assert {lot: problem.code for lot, problem in stopped.items()} == {"G1": "recount"}


def test_reading_changes_nothing_in_the_folder(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    before = {path.name: path.read_bytes() for path in shelf.iterdir()}
    read_shelf(shelf, TODAY)
    assert {path.name: path.read_bytes() for path in shelf.iterdir()} == before


def test_the_demo_week_reads_without_an_error() -> None:
    folder = Path(__file__).resolve().parents[2] / "demo_orders"
    today = date.fromisoformat((folder / "today.txt").read_text(encoding="utf-8").strip())
    assert errors(read_shelf(folder, today)) == []


def test_a_cancelled_row_is_left_out_and_the_others_keep_their_numbers(tmp_path: Path) -> None:
    for cancelled, left in (
        ((3,), [("A1", 1), ("A2", 1)]),
        ((2,), [("A1", 2), ("A2", 1)]),
        ((2, 3), [("A2", 1)]),
    ):
        edit = " && ".join(f"orders {row} cancelled_on = 2026-11-25" for row in cancelled)
        shelf = read(shelf_with(tmp_path / str(len(left)) / str(cancelled[0]), edit))
        assert [line.key for one in shelf.orders for line in one.lines] == left
        assert all(one.address.town for one in shelf.orders), (
            "the address of a cancelled first row still counts"
        )


def test_the_table_that_was_called_rates_is_read_as_learned(tmp_path: Path) -> None:
    edit = "rename learned.csv -> rates.csv"
    reading = read_shelf(shelf_with(tmp_path, edit), TODAY)
    assert reading.shelf is not None
    assert [rate.value for rate in reading.shelf.rates] == [0.01]
    assert [str(one) for one in reading.problems] == [
        "rates.csv: is the former name of learned.csv, and is read as it. Rename it to learned.csv."
    ]


def test_rows_that_go_with_a_broken_first_row_are_named(tmp_path: Path) -> None:
    reading = read_shelf(shelf_with(tmp_path, "orders 2 country = Midgard"), TODAY)
    assert (
        "orders.csv:3: row 3 goes with a row above it that has a mistake, and cannot be read before."
        in "\n".join(map(str, reading.problems))
    )


def test_a_question_about_one_payment_holds_that_order_as_unpaid_and_no_other(tmp_path: Path) -> None:
    folder = good_shelf(tmp_path)
    text = (folder / "orders.csv").read_text(encoding="utf-8")
    (folder / "orders.csv").write_text(text.replace("2026-11-21", "2025-11-21"), encoding="utf-8")
    reading = read_shelf(folder, TODAY)
    assert reading.shelf is not None
    assert [problem.level for problem in reading.problems] == [Level.ORDER]
    assert [line.paid for order in reading.shelf.orders for line in order.lines] == [False, False, False]
    meant = '[reading]\nmeant = ["orders A1 gardneri Akure paid_on 2025-11-21"]\n'
    with (folder / "shelf.toml").open("a", encoding="utf-8") as settings:
        settings.write(meant)
    shelf = read(folder)
    assert [line.paid for order in shelf.orders for line in order.lines] == [True, True, False]


def test_a_question_about_one_lot_leaves_out_that_lot_alone(tmp_path: Path) -> None:
    folder = good_shelf(tmp_path)
    text = (folder / "lots.csv").read_text(encoding="utf-8")
    (folder / "lots.csv").write_text(text.replace("water,23,120", "water,42,120"), encoding="utf-8")
    shelf = read(folder)
    assert list(shelf.lots_stopped) == ["G1"]
    assert "is above keep_max_c of" in shelf.lots_stopped["G1"].text


def test_a_download_beside_the_table_that_is_newer_is_said_and_an_older_copy_is_not(tmp_path: Path) -> None:
    folder = good_shelf(tmp_path)
    for name, table, day in (("orders (1)", "orders", 200), ("lots - Kopie", "lots", 50)):
        (folder / f"{name}.csv").write_bytes((folder / f"{table}.csv").read_bytes())
        os.utime(folder / f"{table}.csv", (100, 100))
        os.utime(folder / f"{name}.csv", (day, day))
    (said,) = (str(one) for one in read_shelf(folder, TODAY).problems if one.code == "look-alike")
    assert said == (
        "orders (1).csv: is not read, and is newer than orders.csv."
        " Rename it to orders.csv, if it is to hold."
    )
