"""Learned rows in, the breeder's table of them with those at its end out; what stood there never changes."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path

from shipping.tables.files.whole_file import write_whole
from shipping.tables.learned_values import rate_cells
from shipping.tables.rows.learned import RateRow
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.sentence import say

#: The table's file, and the one that shelves made before have.
LEARNED_FILE, FORMER_FILE = "learned.csv", "rates.csv"
HEADER = ("what", "for", "value", "unit", "from_day", "basis", "n", "low", "high", "source")
#: Columns that tables written before do not have.
_NEWER = {"low", "high"}


def add_rates(folder: Path, rows: Iterable[RateRow]) -> tuple[Path, int]:
    """The table's file and the rows it gained: all or none; a value that has a row for that day keeps it.
    Raises ShelfProblems if the table is a sheet of a workbook (which is never written to), or has a header of
    its own.
    """
    former = (folder / FORMER_FILE).is_file() and not (folder / LEARNED_FILE).exists()
    path = folder / (FORMER_FILE if former else LEARNED_FILE)
    before = path.read_bytes().decode("utf-8-sig") if path.is_file() else ""
    line_end = "\r\n" if "\r\n" in before else "\n"
    lines = [line for line in before.splitlines() if line and not line.startswith("#")]
    header = next(csv.reader(lines[:1]), list(HEADER))
    if not set(HEADER) - _NEWER <= set(header):
        text = "the table has no comma-separated header with all columns."
        mend = say("Write {value} in its first row.", ",".join(HEADER))
        raise ShelfProblems((Problem(Where(path.name, 1), "", "header", text, mend),))
    if not before and any((folder / book).exists() for book in ("shelf.xlsx", "shelf.ods")):
        text = "the shelf is a workbook, which is never written to."
        mend = "Copy the rows into its sheet learned by hand."
        raise ShelfProblems((Problem(Where(path.name), "", "workbook", text, mend),))
    known = {(old["what"], old["for"], old["from_day"]) for old in csv.DictReader(lines)}
    out = io.StringIO()
    writer = csv.DictWriter(out, header, lineterminator=line_end, restval="", extrasaction="ignore")
    if not before:
        writer.writeheader()
    gained = 0
    for row in rows:
        cells = rate_cells(row)
        if (cells["what"], cells["for"], cells["from_day"]) not in known:
            writer.writerow(cells)
            gained += 1
    text = before + ("" if before.endswith("\n") or not before else line_end) + out.getvalue()
    write_whole(path, text.encode("utf-8-sig"))
    return path, gained
