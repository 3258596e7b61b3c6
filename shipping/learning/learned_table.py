"""Learned rows in, the breeder's table of them with those at its end out; what stood there never changes."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from shipping.tables.editing.row_writer import append_rows, columns_of
from shipping.tables.learned_values import rate_cells
from shipping.tables.rows.learned import RateRow

#: The table's file, and the one that shelves made before have.
LEARNED_FILE, FORMER_FILE = "learned.csv", "rates.csv"
HEADER = ("what", "for", "value", "unit", "from_day", "basis", "n", "low", "high", "source")
#: Columns that tables written before do not have.
_NEWER = {"low", "high"}


def add_rates(folder: Path, rows: Iterable[RateRow], known: Iterable[RateRow]) -> tuple[Path, int]:
    """The table's file and the rows it gained: all or none; a value that has a row for that day among those
    ``known`` keeps it. Raises ShelfProblems as `append_rows` does.
    """
    former = (folder / FORMER_FILE).is_file() and not (folder / LEARNED_FILE).exists()
    path = folder / (FORMER_FILE if former else LEARNED_FILE)
    standing = {(row.what, row.for_, row.from_day) for row in known}
    new = [rate_cells(row) for row in rows if (row.what, row.for_, row.from_day) not in standing]
    if new and path.exists():
        lacks = _NEWER - set(columns_of(path))
        new = [{name: cell for name, cell in cells.items() if name not in lacks} for cells in new]
    if new:
        append_rows(path, new, HEADER)
    return path, len(new)
