"""A row typed on the page in, the breeder's table with that row at its end out; a row that the checks refuse
is not written.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from shipping.ledger.whole_shelf import read_whole_shelf
from shipping.tables.editing.row_writer import Written, append_row, refuse_a_workbook
from shipping.tables.table_list import TABLE_BY_NAME
from shipping.words.problems import Level, Problem, ShelfProblems
from shipping.worktop.shelf_state import ShelfState
from shipping.worktop.trial import trial_copy


def add_checked_row(
    shelf_state: ShelfState, table: str, cells: Mapping[str, str]
) -> tuple[Written, tuple[Problem, ...]]:
    """What was written, and what the checks now say of one lot without stopping the rest.

    The row is tried on a copy of the tables first. The table keeps its format and comments, and a copy is
    made of it.

    Raises
    ------
    ShelfProblems
        If the row makes a mistake that was not there before, or the table cannot be written to; nothing is
        written then.
    """
    with shelf_state.lock:
        header = TABLE_BY_NAME[table].columns
        refuse_a_workbook(shelf_state.folder, table, cells)
        before = {str(problem) for problem in shelf_state.tables().shelf.notices}
        with (
            shelf_state.ledger() as ledger,
            trial_copy(shelf_state.folder, ledger) as trial,
        ):
            append_row(trial / f"{table}.csv", cells, header)
            reading = read_whole_shelf(trial, shelf_state.today_of())
        new = [problem for problem in reading.problems if str(problem) not in before]
        errors = tuple(problem for problem in new if problem.level is Level.ERROR)
        if errors or reading.shelf is None:
            raise ShelfProblems(errors or reading.problems)
        written = append_row(shelf_state.folder / f"{table}.csv", cells, header)
    return written, tuple(problem for problem in new if problem.level is Level.LOT)


def tables_folder_words(written: Written) -> str:
    """Where the row stands now, and where the table as it was."""
    copy = f" The table as it was: {written.copy.parent.name}/{written.copy.name}." if written.copy else ""
    return f"Written to {written.path.name}, row {written.row}.{copy}"


def is_in_workbook(folder: Path, table: str) -> bool:
    """Is the table a sheet of a workbook, which is never written to?"""
    return not (folder / f"{table}.csv").exists() and any(
        (folder / book).exists() for book in ("shelf.xlsx", "shelf.ods")
    )
