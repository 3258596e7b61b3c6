"""Of some orders alone: which rows of the table are theirs."""

from __future__ import annotations

from shipping.tables.files.sheet import Sheet
from shipping.tables.rows.order_rows import of_orders_alone


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
