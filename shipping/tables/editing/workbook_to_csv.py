"""A shelf kept in one workbook in, the same tables as CSV files out; the workbook is put aside."""

from __future__ import annotations

from pathlib import Path

from shipping.tables.editing.row_writer import COPIES_FOLDER
from shipping.tables.files.csv_file import csv_of
from shipping.tables.files.find_sheets import WORKBOOKS, find_sheets
from shipping.tables.files.whole_file import write_whole
from shipping.words.problems import Problem, ShelfProblems, Where


def unfold_workbook(folder: Path) -> tuple[Path, tuple[Path, ...]]:
    """Where the workbook was put, and the tables that were written. Raises ShelfProblems if there is no
    workbook, it cannot be read, or a table is there as a file already.
    """
    book = next((folder / name for name in WORKBOOKS if (folder / name).exists()), None)
    if book is None:
        raise _may_not(folder, "holds no workbook.", "Its tables are files already.")
    in_book = find_sheets(folder, frozenset(), frozenset())
    errors = tuple(
        problem
        for problem in in_book.problems
        if problem.level.value == "error" and problem.code != "table-twice"
    )
    if errors:
        raise ShelfProblems(errors)
    texts: dict[Path, bytes] = {}
    of_book = (
        (table, sheet)
        for table, sheets in in_book.sheets.items()
        for sheet in sheets
        if sheet.file.startswith(book.name)
    )
    for table, sheet in of_book:
        path, content = folder / f"{table}.csv", csv_of([cells for _, cells in sheet.rows])
        if path.exists() and path.read_bytes() != content:  # the same is of an unfolding that was cut off
            raise _may_not(path, "is there beside the workbook.", "Take one of the two away.")
        texts[path] = content
    aside = folder / COPIES_FOLDER
    aside.mkdir(exist_ok=True)
    to = aside / book.name
    number = 1
    while to.exists():
        number += 1
        to = aside / f"{book.stem}-{number}{book.suffix}"
    for path, content in texts.items():
        write_whole(path, content)
    book.replace(to)
    return to, tuple(sorted(texts))


def was_cut_off(folder: Path) -> bool:
    """Did an unfolding end before the workbook was put aside? Some of its tables stand beside it, alike."""
    is_book = any((folder / name).exists() for name in WORKBOOKS)
    twice = [sheets for sheets in find_sheets(folder).sheets.values() if len(sheets) > 1] if is_book else []
    return bool(twice) and all(
        (folder / table.file).read_bytes() == csv_of([cells for _, cells in of_book.rows])
        for table, of_book in twice
    )


def _may_not(path: Path, text: str, mend: str) -> ShelfProblems:
    return ShelfProblems((Problem(Where(path.name), "", "workbook", text, mend),))
