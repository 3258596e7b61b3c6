"""Whatever a file holds, reading it never raises, and no row disappears without a word."""

from __future__ import annotations

import csv
import io
import shutil
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from shipping.tables.reader import Reading, read_shelf
from shipping.tables.reader_csv import sheet_from_text
from shipping.tables.reader_rows import read_rows
from shipping.tables.reader_settings import settings_from_text
from shipping.tables.table_list import TABLE_BY_NAME, TABLES
from shipping.words.problems import Level
from tests.tables.shelves import GOOD, TODAY

NAMES = [table.name for table in TABLES]
CELLS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        ["", "0", "-1", "2.5", "1e999", "nan", "2026-11-20", "20.11.2026", "9999-12-31", "DK", "*", "yes", "water", "eyed",
         "gardneri", "G1", "letter", "tube", "#REF!", "=1+1", "'=x", '"', "a;b", "../x", "A" * 300, "\u202e", "Mon-Fri"]
    ),
)  # fmt: skip


def reading_of(files: dict[str, bytes]) -> Reading:
    """The good shelf with some files put in its place."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copytree(GOOD, folder, dirs_exist_ok=True)
        for file, data in files.items():
            (folder / file).write_bytes(data)
        return read_shelf(folder, TODAY)


@settings(max_examples=60, deadline=None)
@given(
    table=st.sampled_from([f"{name}.csv" for name in NAMES] + ["shelf.toml", "shelf.xlsx", "shelf.ods", "orders.toml"]),
    data=st.binary(max_size=300),
)
def test_any_bytes_are_read_or_reported(table: str, data: bytes) -> None:
    reading = reading_of({table: data})
    assert (reading.shelf is None) == any(problem.level is Level.ERROR for problem in reading.problems)


@settings(max_examples=60, deadline=None)
@given(name=st.sampled_from(NAMES), place=st.integers(0, 2_000), data=st.binary(min_size=1, max_size=6))
def test_a_file_with_a_few_bytes_changed_is_read_or_reported(name: str, place: int, data: bytes) -> None:
    good = (GOOD / f"{name}.csv").read_bytes()
    place %= len(good)
    reading = reading_of({f"{name}.csv": good[:place] + data + good[place + len(data) :]})
    assert (reading.shelf is None) == any(problem.level is Level.ERROR for problem in reading.problems)


@st.composite
def tables_of_cells(draw: st.DrawFn) -> tuple[str, list[list[str]]]:
    """A table's name and rows of odd cells under some of its columns, the required ones always there."""
    table = TABLE_BY_NAME[draw(st.sampled_from(NAMES))]
    more = draw(st.lists(st.sampled_from(table.columns), max_size=4))
    columns = list(dict.fromkeys([*table.required_columns, *more]))
    rows = draw(st.lists(st.lists(CELLS, min_size=len(columns), max_size=len(columns)), max_size=6))
    return table.name, [columns, *rows]


@settings(max_examples=150, deadline=None)
@given(drawn=tables_of_cells(), separator=st.sampled_from([",", ";", "\t"]))
def test_every_row_is_accepted_or_reported(drawn: tuple[str, list[list[str]]], separator: str) -> None:
    name, rows = drawn
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator, quoting=csv.QUOTE_ALL).writerows(rows)
    read = read_rows(TABLE_BY_NAME[name], sheet_from_text(text.getvalue(), f"{name}.csv"))
    given_rows = {number for number, row in enumerate(rows[1:], start=2) if any(cell.strip() for cell in row)}
    accepted = {row.at.row for row in read.rows}
    reported = {problem.where.row for problem in read.problems if problem.level is Level.ERROR}
    assert accepted | reported == given_rows
    assert not accepted & reported


@settings(max_examples=40, deadline=None)
@given(drawn=tables_of_cells())
def test_a_shelf_of_odd_cells_is_read_or_reported(drawn: tuple[str, list[list[str]]]) -> None:
    name, rows = drawn
    text = io.StringIO(newline="")
    csv.writer(text).writerows(rows)
    reading = reading_of({f"{name}.csv": text.getvalue().encode("utf-8", errors="replace")})
    assert (reading.shelf is None) == any(problem.level is Level.ERROR for problem in reading.problems)
    for problem in reading.problems:
        assert "\n" not in str(problem)


@settings(max_examples=60, deadline=None)
@given(text=st.text(max_size=120))
def test_any_text_of_settings_is_read_or_reported(text: str) -> None:
    read, problems = settings_from_text(text)
    assert (read is None) == bool(problems)
