"""One list says which tables there are; draft and shelf have a place for the rows of each."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import get_type_hints

import pytest

from shipping.tables.reader import read_shelf
from shipping.tables.shelf import TABLES, Draft, Shelf, Table
from tests.tables.shelves import GOOD, TODAY

every_table = pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)


@every_table
def test_the_draft_has_a_place_for_the_rows_of_each_table(table: Table) -> None:
    assert get_type_hints(Draft)[table.field] == tuple[table.model, ...]


@every_table
def test_the_shelf_has_a_place_for_each_table(table: Table) -> None:
    assert ("orders" if table.field == "order_rows" else table.field) in get_type_hints(Shelf)


@every_table
def test_rows_are_sorted_alike_whatever_their_order_in_the_file(table: Table) -> None:
    assert set(table.order) <= set(table.model.model_fields)
    drafts: list[Draft] = []

    def join(draft: Draft) -> Draft:
        drafts.append(draft)
        return replace(draft)

    read_shelf(GOOD, TODAY, join=join)
    rows = list(getattr(drafts[0], table.field))
    assert rows
    shuffled = random.Random(1).sample(rows, len(rows))
    if table.name != "orders":  # rows of one order keep the order they have in the file
        assert table.sorted(shuffled) == table.sorted(rows)


def test_a_blank_limit_is_the_last_and_a_blank_word_the_first() -> None:
    postage = next(table for table in TABLES if table.name == "postage")
    rules = next(table for table in TABLES if table.name == "rules")
    shelf = read_shelf(GOOD, TODAY).shelf
    assert shelf is not None
    parcel = shelf.postage[-1]
    thin = parcel.model_copy(update={"up_to_mm": 20.0})
    assert postage.sorted([parcel, thin]) == (thin, parcel)
    anything = shelf.rules[0]
    moss = anything.model_copy(update={"medium": "moss"})
    assert rules.sorted([moss, anything]) == (anything, moss)
