"""An address in the buyer's own script is a block of its own; of some orders alone their rows are read."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipping.tables.files.sheet import Sheet
from shipping.tables.reader import read_shelf
from shipping.tables.rows.orders import of_orders_alone, split_address
from tests.tables.shelves import TODAY, errors, good_shelf, order, read
from tests.week.a_week import a_row, a_week


def shelf_with(folder: Path, **cells: str) -> Path:
    """The good shelf, its order A2 with other cells."""
    shelf = good_shelf(folder)
    header, *rows = (shelf / "orders.csv").read_text(encoding="utf-8").splitlines()
    columns = [*header.split(","), *(column for column in cells if column not in header.split(","))]
    lines = [",".join(columns)]
    for row in rows:
        values = dict(zip(header.split(","), row.split(","), strict=True))
        values |= cells if values["order"] == "A2" else {}
        lines.append(",".join(values.get(column, "") for column in columns))
    (shelf / "orders.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return shelf


def test_the_columns_of_the_second_block_are_its_lines(tmp_path: Path) -> None:
    shelf = read(
        shelf_with(tmp_path, local_1="〒100-0001", local_2="東京都千代田区 1-1", local_3="山田 花子 様")
    )
    assert split_address(order(shelf, "A2").address)[1] == (
        "〒100-0001",
        "東京都千代田区 1-1",
        "山田 花子 様",
    )
    assert split_address(order(shelf, "A2").address)[0] == order(shelf, "A2").address.delivery != ()
    assert split_address(order(shelf, "A1").address)[1] == ()


@pytest.mark.parametrize(
    ("lines", "latin", "local"),
    [
        (("Odos Athinas 5", "Οδός Αθηνάς 5"), ("Odos Athinas 5",), ("Οδός Αθηνάς 5",)),
        (("Οδός Αθηνάς 5", ""), ("Οδός Αθηνάς 5",), ()),
        (("Åvej 9", "12-3"), ("Åvej 9", "12-3"), ()),
        (("12-3", "東京都"), ("12-3", "東京都"), ()),
    ],
)
def test_delivery_lines_in_other_letters_stand_apart_only_beside_latin_ones(
    tmp_path: Path, lines: tuple[str, str], latin: tuple[str, ...], local: tuple[str, ...]
) -> None:
    shelf = read(shelf_with(tmp_path, delivery_1=lines[0], delivery_2=lines[1]))
    assert split_address(order(shelf, "A2").address)[0] == latin
    assert split_address(order(shelf, "A2").address)[1] == local


def test_rows_of_one_order_must_agree_on_the_second_block(tmp_path: Path) -> None:
    shelf = shelf_with(tmp_path, local_1="東京都")
    text = (shelf / "orders.csv").read_text(encoding="utf-8")
    last = text.splitlines()[-1]
    (shelf / "orders.csv").write_text(
        text + last.replace("東京都", "大阪府").replace("gardneri", "guentheri") + "\n", encoding="utf-8"
    )
    assert errors(read_shelf(shelf, TODAY)) == [
        "orders.csv:5: local_1: '大阪府' differs from row 4 of order 'A2', '東京都'. "
        "Write the same on both, or give the other parcel its own order."
    ]


def test_of_some_orders_alone_the_header_and_their_rows_are_read_however_their_names_are_written() -> None:
    rows: list[tuple[int, list[object]]] = [
        (1, ["_own", "Order", "eggs"]),
        (2, ["", " d02\u200b", "20"]),
        (3, ["", "D03", "a few"]),
        (4, ["", 7, "20"]),
        (5, ["", "D02", "10"]),
    ]
    kept = of_orders_alone(Sheet("orders.csv", iter(rows)), {"D02"})
    assert [number for number, _ in kept.rows] == [1, 2, 4, 5]


def test_papers_keep_the_letters_they_were_written_in_and_count_once() -> None:
    """The customs sheet prints them: it is form 3-177 and TRACES, in the authority's own letters."""
    (order,) = a_week(a_row("A", papers="TRACES; Form 3-177"), a_row("A", papers="traces")).orders
    assert {paper.casefold() for paper in order.papers} == {"traces", "form 3-177"}
    assert "Form 3-177" in order.papers
    assert len(order.papers) == 2
