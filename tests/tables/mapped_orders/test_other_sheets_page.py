"""The shops of docs/other-sheets.md are read with the mappings that stand there, and as it says they are."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shipping.tables.reader import read_shelf
from shipping.tables.rows.orders import Line, Order
from tests.tables.shelves import TODAY, errors, good_shelf

PAGE = Path(__file__).resolve().parents[3] / "docs" / "other-sheets.md"
SECTIONS = PAGE.read_text(encoding="utf-8").split("\n## ")[1:]
NAMED_BLOCK = re.compile(r"`([\w.]+)`(, mended)?\n\n```\w+\n(.*?)```\n", re.DOTALL)
READ = re.compile(r"What was read:\n\n```text\n(.*?)```", re.DOTALL)


def written(section: str) -> tuple[dict[str, str], dict[str, str]]:
    """The files of a section as they are first, and those that are mended."""
    blocks = NAMED_BLOCK.findall(section)
    return (
        {name: text for name, mended, text in blocks if not mended},
        {name: text for name, mended, text in blocks if mended},
    )


def shelf_of(folder: Path, files: dict[str, str]) -> Path:
    good_shelf(folder)
    (folder / "orders.csv").unlink()
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def told(order: Order) -> str:
    """An order as the page shows it."""
    address = order.address
    place = f"{address.postcode} {address.town}".strip()
    where = (address.addressee, *address.delivery, place, address.region, address.country)
    paid = "paid" if all(line.paid for line in order.lines) else "not paid"
    head = f"{order.order} of {order.placed_on}, {paid}: {', '.join(filter(None, where))}"
    return "\n".join([head, *map(_told_line, order.lines)]) + "\n"


def _told_line(line: Line) -> str:
    price = f", {line.price}" if line.price is not None else ""
    note = f" ({line.note})" if line.note else ""
    return f"  {line.number}: {line.eggs} {f'{line.species} {line.population}'.strip()}{price}{note}"


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.partition("\n")[0])
def test_a_shop_of_the_page_is_read_as_the_page_says(section: str, tmp_path: Path) -> None:
    first, mended = written(section)
    if mended:
        assert read_shelf(shelf_of(tmp_path / "first", first), TODAY).shelf is None, (
            "the page says it is mended"
        )
    reading = read_shelf(shelf_of(tmp_path / "mended", first | mended), TODAY)
    assert reading.shelf is not None, errors(reading)
    said = READ.search(section)
    assert said is not None
    assert "".join(map(told, reading.shelf.orders)) == said[1]


def test_the_page_has_a_line_a_row_an_order_a_row_and_a_form() -> None:
    assert [section.partition("\n")[0] for section in SECTIONS] == [
        "One line a row",
        "One order a row",
        "A web form",
    ]
