"""A copy of the tables and the ledger in a folder that goes again, to try on it what a change would do."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from shipping.ledger.errors import LEDGER_FILE
from shipping.ledger.ledger import Ledger
from shipping.ledger.whole_shelf import read_whole_shelf
from shipping.tables.editing.row_writer import COPIES_FOLDER
from shipping.tables.files.csv_form import csv_form
from shipping.tables.files.sheet import Unreadable
from shipping.tables.reader import Reading
from shipping.words.problems import Level, Problem

#: Files that hold tables or settings.
TABLE_ENDINGS = (".csv", ".toml", ".xlsx", ".ods", ".txt", ".tsv")
#: Leaving a row out may break one that names it; so often is it tried again.
_MOST_TRIES = 5


@contextmanager
def trial_copy(folder: Path, ledger: Ledger | None) -> Iterator[Path]:
    """A folder with copies of all tables of another, and of its ledger where there is one."""
    with tempfile.TemporaryDirectory() as place:
        trial = Path(place)
        for path in sorted(folder.iterdir()):
            if path.is_file() and path.suffix.lower() in TABLE_ENDINGS and path.parent.name != COPIES_FOLDER:
                shutil.copyfile(path, trial / path.name)
        if ledger is not None:
            ledger.copy(trial / LEDGER_FILE)
        yield trial


def reading_without_broken_rows(
    folder: Path, ledger: Ledger | None, today: date, problems: Iterable[Problem]
) -> tuple[Reading, tuple[Problem, ...]]:
    """The tables as they read without the rows that cannot be read, and what was wrong with those.

    The reading has no shelf where more than rows of CSV files is broken.
    """
    left_out: list[Problem] = []
    errors = [problem for problem in problems if problem.level is Level.ERROR]
    with trial_copy(folder, ledger) as trial:
        reading = Reading(None, tuple(errors))
        for _ in range(_MOST_TRIES):
            if not errors or not all(_left_out(trial, problem) for problem in errors):
                break
            left_out += errors
            reading = read_whole_shelf(trial, today)
            errors = [problem for problem in reading.problems if problem.level is Level.ERROR]
    return reading, tuple(left_out)


def _left_out(trial: Path, problem: Problem) -> bool:
    """Makes a comment of the row that a problem names, so that all others keep their numbers; False where it
    names none.
    """
    path = trial / problem.where.file
    if problem.where.row < 2 or path.suffix.lower() != ".csv" or path.parent != trial or not path.exists():
        return False
    try:
        form = csv_form(path.read_bytes(), path.name)
    except Unreadable:
        return False
    row = next((one for one in form.records if one.number == problem.where.row), None)
    if row is None or row.number <= form.header.number:
        return False
    if row.cells:
        start = row.cells[0][0]
        path.write_bytes(form.bytes_with(f"{form.text[:start]}#{form.text[row.end :]}"))
    return True
