"""A row typed on the page in, the breeder's table with it out; one that the checks refuse is not written."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from shipping.ledger.whole_shelf import read_whole_shelf
from shipping.tables.editing.row_writer import (
    WrittenRow,
    append_row,
    change_row,
    change_rows,
    refuse_a_workbook,
    take_row_back,
)
from shipping.tables.shelf import TABLE_BY_NAME
from shipping.words.problems import Level, Problem, ShelfProblems, Where
from shipping.worktop.context import Refused
from shipping.worktop.page_language import day_shown, listed, shown_name, tr
from shipping.worktop.shelf_state import ShelfState, trial_copy
from shipping.worktop.table_words import SHEET_BY_TABLE, SheetWords, label_of, rows_as_typed


def add_checked_row(
    shelf_state: ShelfState, table: str, cells: Mapping[str, str]
) -> tuple[WrittenRow, tuple[Problem, ...]]:
    """What was written, and what the checks now say of one lot without stopping the rest. Raises
    ShelfProblems if the row makes a mistake that was not there before, or the table cannot be written to;
    nothing is written then.
    """
    header = TABLE_BY_NAME[table].columns
    refuse_a_workbook(shelf_state.folder, table, cells)
    return change_tried(shelf_state, table, lambda path: append_row(path, cells, header))


def add_checked_look(
    shelf_state: ShelfState, cells: Mapping[str, str]
) -> tuple[WrittenRow, tuple[Problem, ...]]:
    """As `add_checked_row`, for a look: where its lot has a row of that day and it only fills blanks of it,
    it goes into that row. Raises Refused if that row says something else already, or a count of live eggs
    that came before what is gone now.
    """
    seen = {column: text for column, text in cells.items() if text and column not in ("lot", "on")}
    looks = shelf_state.readable_tables().shelf.looks_by_lot.get(cells["lot"], ())
    there = next((look for look in looks if look.on.isoformat() == cells["on"]), None)
    if there is None or not there.at.file.endswith(".csv"):
        return add_checked_row(shelf_state, "inspections", cells)
    is_counted = there.alive is not None and not seen.keys().isdisjoint(("hatched", "removed"))
    if is_counted or any(getattr(there, column) not in (None, "") for column in seen):
        text = tr(
            "Not written: a look at lot {lot} on that day stands in your table already. Change it under More,"
            " What was seen before.",
            lot=there.lot,
        )
        raise Refused(text, 409)
    return change_checked_row(shelf_state, "inspections", there.at.row, seen, dict.fromkeys(seen, ""))


def change_checked_row(
    shelf_state: ShelfState, table: str, row: int, cells: Mapping[str, str], was: Mapping[str, str]
) -> tuple[WrittenRow, tuple[Problem, ...]]:
    """As `add_checked_row`, for cells of a row that is there; ``was`` as of `change_row`."""
    refuse_a_workbook(shelf_state.folder, table, cells)
    return change_tried(shelf_state, table, lambda path: change_row(path, row, cells, was))


def change_checked_rows(
    shelf_state: ShelfState, table: str, changes: Mapping[int, Mapping[str, str]], was: Mapping[str, str]
) -> tuple[WrittenRow, tuple[Problem, ...]]:
    """As `change_checked_row`, for several rows, all of them or none."""
    refuse_a_workbook(shelf_state.folder, table, next(iter(changes.values())))
    return change_tried(shelf_state, table, lambda path: change_rows(path, changes, was))


def take_checked_row_back(
    shelf_state: ShelfState, table: str, row: int, was: Mapping[str, str]
) -> tuple[WrittenRow, tuple[Problem, ...]]:
    """As `add_checked_row`, for a row that becomes a comment."""
    refuse_a_workbook(shelf_state.folder, table, {})
    return change_tried(shelf_state, table, lambda path: take_row_back(path, row, was))


def change_tried(
    shelf_state: ShelfState, table: str, write: Callable[[Path], WrittenRow]
) -> tuple[WrittenRow, tuple[Problem, ...]]:
    """The change is tried on a copy of the tables; a mistake that was not there before refuses it, and a new
    question, what leaves a lot out or is noted of the row is given back, to be said.
    """
    with shelf_state.lock:
        try:
            before = {str(problem) for problem in shelf_state.tables().shelf.notices}
        except ShelfProblems as broken:
            before = {str(problem) for problem in broken.problems}
        with shelf_state.ledger() as ledger, trial_copy(shelf_state.folder, ledger) as trial:
            write(trial / f"{table}.csv")
            reading = read_whole_shelf(trial, shelf_state.today_of())
        new = [problem for problem in reading.problems if str(problem) not in before]
        errors = tuple(problem for problem in new if problem.level is Level.ERROR)
        if errors:
            raise ShelfProblems(errors)
        written = write(shelf_state.folder / f"{table}.csv")
    at = Where(f"{table}.csv", written.row)
    return written, tuple(
        one
        for one in new
        if one.level is Level.LOT or one.answers or (one.where == at and one.code != "cancelled")
    )


def row_named(words: SheetWords, cells: Mapping[str, str]) -> str:
    """A row by what it is of: ``look FL-31 Mon 30 Nov``, ``order D12, Ida Prøve, 20 gardneri``."""
    titles = words.titles[:2] if words.table in _OF_TWO else words.titles[:1]
    named = " ".join(filter(None, (tr(words.one), *(day_shown(cells.get(name, "")) for name in titles))))
    if words.table != "orders":
        return named
    wish = f"{cells.get('eggs', '')} {cells.get('species', '')}".strip()
    return ", ".join(filter(None, (named, cells.get("addressee") and shown_name(cells["addressee"]), wish)))


#: Tables of which a row is named by two of its cells.
_OF_TWO = frozenset(("inspections", "postage", "rules", "weather", "disruptions"))


def written_words(written: WrittenRow, changed: Iterable[str] = ()) -> str:
    """What was written, or ``changed`` of a row that was there, and how to go back; small, in which file."""
    words = SHEET_BY_TABLE[written.path.stem]
    rows = {row.row: row.cells for row in rows_as_typed(written.path)}
    what = row_named(words, rows.get(written.row, {}))
    if columns := list(changed):
        cells = ", ".join(tr(label_of(column)).partition(",")[0] for column in columns)
        said = tr("Changed: {what} ({cells}).", what=what, cells=cells)
    else:
        said = tr("Written: {what}.", what=what)
    back = tr("To change it or take it back, open it under {place}.", place=tr(words.name))
    return f"{said} {back}{small_print(written)}"


def small_print(written: WrittenRow) -> str:
    """Which file it is, and where the file as it was lies, in a line of its own."""
    at = tr("{file}, row {row}", file=written.path.name, row=written.row)
    if written.copy is None:
        return f"\n{at}"
    place = f"{written.copy.parent.name}/{written.copy.name}"
    return "\n" + listed((at, tr("as it was: {place}", place=place)))


def is_in_workbook(folder: Path, table: str) -> bool:
    """Is the table a sheet of a workbook, which is never written to?"""
    return not (folder / f"{table}.csv").exists() and any(
        (folder / book).exists() for book in ("shelf.xlsx", "shelf.ods")
    )
