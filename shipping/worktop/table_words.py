"""The breeder's tables in the trade's words: a table's file in, its rows and its columns' names out."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from shipping.tables.editing.starter import ShelfColumn, starter_columns
from shipping.tables.files.csv_file import bytes_of, csv_form, value_of
from shipping.tables.files.sheet import cleaned
from shipping.words.units import in_plain_words


@dataclass(frozen=True, slots=True)
class SheetWords:
    """How a table is spoken of: its name, one row, the columns that name a row, and those asked for first."""

    table: str
    name: str
    one: str
    titles: tuple[str, ...]
    first: str
    about: str


@dataclass(frozen=True, slots=True)
class RowAsTyped:
    """One row as the breeder's file holds it; ``row`` as a spreadsheet shows it."""

    row: int
    cells: Mapping[str, str]


def _words_of(file: str) -> list[dict[str, str]]:
    """The rows of a file of words beside this one."""
    with (Path(__file__).parent / file).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


SHEETS = tuple(
    SheetWords(
        row["table"], row["name"], row["one"], tuple(row["titles"].split()), row["first"], row["about"]
    )
    for row in _words_of("table_words.csv")
)
SHEET_BY_TABLE: Mapping[str, SheetWords] = {words.table: words for words in SHEETS}
_COLUMNS = _words_of("column_words.csv")
#: What a column is called; all others are their own name in plain words.
LABELS = {row["column"]: row["label"] for row in _COLUMNS if row["label"]}
#: What breeders call a column beside its label, in any language, as `plain_header` has it.
ALSO_CALLED = {row["column"]: row["also"].split("|") for row in _COLUMNS if row["also"]}
#: What a form says of a cell where the hint of a sheet speaks of columns or codes; "" where a list says it.
_HINTS = {(row["table"], row["column"]): row["hint"] for row in _COLUMNS if row["table"]}


def hint_of(table: str, column: ShelfColumn) -> str:
    """What the page's form says of a cell; nothing where that only repeats the words of its list."""
    if column.words and not set(re.findall(r"\w+", column.hint)) - {"or"} - set(
        " ".join(column.words).split()
    ):
        return ""
    return _HINTS.get((table, column.name), column.hint)


def label_of(column: str) -> str:
    """What a column is called on the page."""
    return LABELS.get(column) or in_plain_words(column)


def columns_first(words: SheetWords) -> tuple[tuple[ShelfColumn, ...], tuple[ShelfColumn, ...]]:
    """The columns asked for first, in their order, and all others."""
    every = {column.name: column for column in starter_columns(words.table)}
    needed = (name for name, column in every.items() if column.required)
    first = [name for name in dict.fromkeys((*words.first.split(), *needed)) if name in every]
    rest = (column for name, column in every.items() if name not in first)
    return tuple(every[name] for name in first), tuple(rest)


def rows_as_typed(path: Path) -> tuple[RowAsTyped, ...]:
    """The rows of a CSV table as they stand; none without a file. Raises ShelfProblems if it is no table."""
    if not path.exists():
        return ()
    form = csv_form(bytes_of(path, path.name), path.name)
    rows = []
    for record in form.records:
        if record.cells and record.number > form.header.number and not form.is_blank(record):
            values = [
                cleaned(value_of(form.text[start:end]), keep_breaks=True)[0] for start, end in record.cells
            ]
            rows.append(RowAsTyped(record.number, dict(zip(form.names, values, strict=False))))
    return tuple(rows)
