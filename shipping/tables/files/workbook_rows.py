"""What all workbooks share: blank cells, hidden rows, merged cells, and rows as a Sheet takes them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from shipping.tables.cells import as_text
from shipping.tables.files.csv_reader import is_comment
from shipping.tables.files.sheet import MOST_COLUMNS, MOST_ROWS, BadSource, Sheet, notice, unreadable
from shipping.words.problems import Problem
from shipping.words.sentence import say

_ROWS_NAMED = 12


@dataclass
class Oddities:
    """What a look through a sheet's XML found, by (row from 1, column from 0)."""

    unworked: set[tuple[int, int]] = field(default_factory=set)
    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    shown: dict[tuple[int, int], str] = field(default_factory=dict)
    hidden_rows: list[int] = field(default_factory=list)
    merged: list[tuple[int, str]] = field(default_factory=list)

    def notices(self, file: str) -> tuple[Problem, ...]:
        """Hidden rows and merged cells are said, not skipped."""
        said: list[Problem] = []
        if self.hidden_rows:
            rows = sorted(self.hidden_rows)
            named = ", ".join(map(str, rows[:_ROWS_NAMED])) + (" .." if len(rows) > _ROWS_NAMED else "")
            text = say("rows {rows} are hidden, and read all the same.", named)
            if len(rows) == 1:
                text = say("row {rows} is hidden, and read all the same.", named)
            mend = "Show or remove what should not count."
            said.append(notice(file, rows[0], "", "hidden-rows", text, mend))
        for row, cells in sorted(self.merged):
            text = say("the cells {cells} are merged; only the first holds a value.", cells)
            said.append(notice(file, row, "", "merged-cells", text, "Split them and fill each."))
        return tuple(said)


def plain_number(number: float) -> int | float:
    """A number with the 15 digits a spreadsheet shows; whole ones as int."""
    exact = float(f"{number:.15g}")
    return int(exact) if exact.is_integer() and abs(exact) < 1e15 else exact


def error_cell(text: str) -> BadSource:
    return BadSource(
        say("holds the spreadsheet error {cell}.", text),
        "Mend the formula in the spreadsheet, then save it again.",
    )


UNWORKED = BadSource(
    "holds a formula that was never worked out.",
    "Open the file in a spreadsheet, save it, and read it again.",
)


def sheet_of(file: str, rows: Iterable[list[object]], odd: Oddities, comments: bool) -> Sheet:
    """A sheet of a workbook, of its rows and what is odd in them."""
    skipped: list[int] = []
    cells = table_rows(file, rows, odd, comments, skipped=skipped)
    form, notices = "a sheet of a workbook", odd.notices(file)
    return Sheet(file, cells, is_workbook=True, notices=notices, form=form, skipped=skipped)


def table_rows(
    file: str,
    rows: Iterable[list[object]],
    odd: Oddities,
    comments: bool = True,
    limit: int = MOST_ROWS,
    skipped: list[int] | None = None,
) -> Iterator[tuple[int, list[object]]]:
    """Rows with their number, oddities put in, without blank rows and comments.

    Raises
    ------
    Unreadable
        Beyond the bounds of rows and columns.
    """
    by_row: dict[int, dict[int, object]] = {}
    for (row, column), text in odd.shown.items():
        by_row.setdefault(row, {})[column] = text
    for (row, column), text in odd.errors.items():
        by_row.setdefault(row, {})[column] = error_cell(text)
    for row, column in odd.unworked:
        by_row.setdefault(row, {})[column] = UNWORKED
    kept = 0
    for number, cells in enumerate(rows, start=1):
        for column, value in by_row.get(number, {}).items():
            cells.extend([None] * (column + 1 - len(cells)))
            cells[column] = value
        while cells and (cells[-1] is None or cells[-1] == ""):
            cells.pop()
        first = next((cell for cell in cells if cell is not None and cell != ""), None)
        if first is None:
            continue
        if isinstance(first, str):
            is_remark = comments and is_comment(first)
            may_be_a_row = len(cells) > 2 or (len(cells) > 1 and first.lstrip()[1:2].isalnum())
            if skipped is not None and kept and is_remark and may_be_a_row:
                skipped.append(number)
            if is_remark or not "".join(map(_text, cells)):
                continue
        kept += 1
        if kept > limit + 1:
            text = say("has more than {most} rows.", limit)
            raise unreadable(file, number, "too-large", text, "Move old rows elsewhere.")
        if len(cells) > MOST_COLUMNS:
            text = say("has more than {most} columns.", MOST_COLUMNS)
            raise unreadable(file, number, "too-large", text, "Remove what is not part of the table.")
        yield number, cells


def _text(cell: object) -> str:
    return "" if cell is None else "x" if isinstance(cell, BadSource) else as_text(cell)
