"""Whatever a file holds, reading it never raises, and no row disappears without a word."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from shipping.tables.shelf import TABLE_BY_NAME
from tests.properties.reading_targets import TARGETS, any_target, every_row_of_csv_is_told, first_examples


@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target.__name__)
@given(data=st.binary(max_size=400))
@example(b"")
def test_anything_is_read_or_reported(target: Callable[[bytes], None], data: bytes) -> None:
    target(data)


@pytest.mark.parametrize("each", [5, pytest.param(1, marks=pytest.mark.slow)])
def test_what_the_search_begins_from_is_read_or_reported(each: int) -> None:
    examples = first_examples()
    assert len(examples) > 100
    for data in examples[::each]:
        any_target(data)


@pytest.mark.parametrize("rows", [1, 2, 30])
def test_rows_parted_otherwise_than_their_header_are_named_or_counted(rows: int) -> None:
    table = TABLE_BY_NAME["services"]
    header = ";".join(table.required_columns)
    every_row_of_csv_is_told(table, (header + "\n" + "T1,gardneri,Akure,6,2026-1-1\n" * rows).encode())


@given(place=st.integers(0, 10_000), at=st.integers(0, 2_000), data=st.binary(min_size=1, max_size=6))
def test_a_known_file_with_a_few_bytes_changed_is_read_or_reported(place: int, at: int, data: bytes) -> None:
    examples = first_examples()
    good = examples[place % len(examples)]
    at = 2 + at % len(good)
    any_target(good[:at] + data + good[at + len(data) :])
