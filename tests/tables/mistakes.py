"""The table of mistakes: a row is an edit of the good shelf, the words of `check` expected, and the mend.

``tests/bad_tables/mistakes.csv`` has the columns name, level, edit, mend, words. Edits, and words that one
message must all hold, are parted by `` && ``; ``\\n``, ``\\t`` and ``\\u00a0`` stand for what cannot be seen,
``I\\*20000`` for a letter so many times.
A blank mend is the good shelf itself; ``as said`` writes into the cell that the message names what it says to
write; anything else is edits of the good shelf.

======================================  ===================================================================
``orders 2 eggs = 2.5``                 one cell of a CSV table; row 1 is the header; a new column is added
``orders + A3,2026-11-20,..``           a row at the end
``orders.csv: old -> new``              text of a file, wherever it stands
``write orders.csv = text``             a whole file (appended where it is there: ``append``)
``without orders.csv``                  no such file
``rename orders.csv -> order.csv``      the same file under another name
``encoding orders.csv cp1252``          the same text in another encoding
``bytes orders.csv = fffe61``           a file of these bytes; ``cut short FILE`` leaves the half of one
``separator orders.csv ;``              the same cells with another separator
``sort orders placed_on``               the rows by a column; ``sort alone``: that column without the rest
``move orders price``                   a column a row down, its first cell twice
``form``                                a sheet of other headers and its mapping (``seen``: and taken before)
``book orders lots``                    these tables as sheets of ``shelf.xlsx``, with real numbers and days
``cell orders B2 = 8000``               one cell there; text is quoted, a date is as ``date(2026-04-03)``
``hide orders 3``, ``merge orders A1:A2``, ``title orders -> wether``
======================================  ===================================================================
"""

from __future__ import annotations

import csv
import functools
import io
import re
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import openpyxl

from shipping.tables.reader import read_shelf
from shipping.words.problems import Level, Problem
from tests.tables.shelves import GOOD, TODAY, typed
from tests.tools import MEMORY

FOLDER = GOOD.parent
FORM = FOLDER / "_form"


@dataclass(frozen=True)
class Told:
    """What is told of a shelf, and whether it is one."""

    problems: tuple[Problem, ...]
    is_shelf: bool


@dataclass(frozen=True)
class Mistake:
    """One row of the table."""

    name: str
    level: Level
    edit: str
    mend: str
    words: tuple[str, ...]

    def is_said_by(self, problem: Problem) -> bool:
        return problem.level is self.level and all(word in str(problem) for word in self.words)


def mistakes() -> tuple[Mistake, ...]:
    """The whole table."""
    with (FOLDER / "mistakes.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            Mistake(
                row["name"],
                Level(row["level"]),
                row["edit"],
                row["mend"],
                tuple(map(_unescaped, row["words"].split(" && "))),
            )
            for row in csv.DictReader(file)
        )


def shelf_with(folder: Path, edits: str, good: Path = GOOD) -> Path:
    """The good shelf, or another, with edits."""
    shutil.copytree(good, folder, dirs_exist_ok=True)
    for edit in edits.split(" && ") if edits else ():
        _apply(folder, edit)
    return folder


def _told(folder: Path) -> Told:
    reading = read_shelf(folder, TODAY)
    return Told(tuple(reading.problems), reading.shelf is not None)


@functools.cache
def told_with(edits: str) -> Told:
    """What is told of the good shelf with edits: each is read once, whichever tests ask."""
    with tempfile.TemporaryDirectory(dir=MEMORY) as folder:
        return _told(shelf_with(Path(folder), edits))


def told_mended(mistake: Mistake) -> Told:
    """What is told of the twin of a broken shelf in which the mistake is mended as its row says."""
    if mistake.mend != "as said":
        return told_with(mistake.mend)
    said = next(one for one in told_with(mistake.edit).problems if mistake.is_said_by(one))
    with tempfile.TemporaryDirectory(dir=MEMORY) as name:
        folder = shelf_with(Path(name), mistake.edit)
        column = said.column.partition(" ")[0]
        _set_cell(folder / said.where.file, said.where.row, column, value_said(said))
        return _told(folder)


def value_said(problem: Problem) -> str:
    """The first value that a mend names: ``Write 2 or 3.``, ``Did you mean 'x'?``, ``Write its key, 'x'.``"""
    found = re.search(
        r"(?:Write |Did you mean |between them: )('?)(.+?)\1(?: or .*| \(.*| for .*)?[.?;](?: |$)",
        problem.mend,
    )
    assert found is not None, problem.mend
    return found[2]


def _unescaped(text: str) -> str:
    text = text.replace("\\n", "\n").replace("\\r", "\r").replace("\\t", "\t")
    text = re.sub(r"\\u([0-9a-f]{4})", lambda match: chr(int(match[1], 16)), text)
    return re.sub(r"(.)\\\*([0-9]+)", lambda match: match[1] * int(match[2]), text)


def _apply(folder: Path, edit: str) -> None:
    for pattern, action in _EDITS:
        if match := re.fullmatch(pattern, edit, re.DOTALL):
            action(folder, *map(_unescaped, match.groups()))
            return
    raise AssertionError(f"no such edit: {edit}")


def _set_cell(path: Path, row: int, column: str, value: str) -> None:
    """One cell of a CSV file; the row is as the spreadsheet shows it."""
    text = path.read_bytes().decode("utf-8-sig")
    separator = max(",;\t", key=text.splitlines()[0].count)
    rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
    if column not in rows[0]:
        rows = [[*cells, column if number == 0 else ""] for number, cells in enumerate(rows)]
    rows[row - 1][rows[0].index(column)] = value
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, delimiter=separator, lineterminator="\n").writerows(rows)


def _cell(folder: Path, table: str, row: str, column: str, value: str) -> None:
    path = folder / table if "." in table else folder / f"{table}.csv"
    _set_cell(path, int(row), column, value)


def _add_row(folder: Path, table: str, line: str) -> None:
    _append(folder, f"{table}.csv", line + "\n")


def _append(folder: Path, file: str, text: str) -> None:
    with (folder / file).open("a", encoding="utf-8", newline="") as stream:
        stream.write(text)


def _replace(folder: Path, file: str, old: str, new: str) -> None:
    text = (folder / file).read_bytes().decode("utf-8")
    assert old in text, f"{old!r} is not in {file}"
    (folder / file).write_bytes(text.replace(old, new).encode("utf-8"))


def _write(folder: Path, file: str, text: str) -> None:
    (folder / file).write_bytes(text.encode("utf-8"))


def _encode(folder: Path, file: str, encoding: str) -> None:
    text = (folder / file).read_bytes().decode("utf-8")
    (folder / file).write_bytes(text.encode(encoding))


def _separate(folder: Path, file: str, separator: str) -> None:
    rows = list(csv.reader(io.StringIO((folder / file).read_text(encoding="utf-8"))))
    with (folder / file).open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, delimiter=separator, lineterminator="\n").writerows(rows)


def _column(folder: Path, table: str, column: str, change: Callable[[list[str]], list[str]]) -> None:
    """One column of a table with its cells in other rows."""
    path = folder / f"{table}.csv"
    with path.open(encoding="utf-8-sig", newline="") as file:
        header, *rows = csv.reader(file)
    at = header.index(column)
    cells = change([row[at] for row in rows])
    rows = [[*row[:at], cell, *row[at + 1 :]] for row, cell in zip(rows, cells, strict=True)]
    _write_rows(path, [header, *rows])


def _sort(folder: Path, table: str, column: str) -> None:
    path = folder / f"{table}.csv"
    with path.open(encoding="utf-8-sig", newline="") as file:
        header, *rows = csv.reader(file)
    _write_rows(path, [header, *sorted(rows, key=lambda row: row[header.index(column)])])


def _write_rows(path: Path, rows: list[list[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)


def _by_size(cell: str) -> tuple[float, str]:
    return (float(cell) if re.fullmatch(r"[0-9.]+", cell) else 0.0, cell)


def _form(folder: Path) -> None:
    shutil.copytree(FORM, folder, dirs_exist_ok=True)


def _seen(folder: Path) -> None:
    _form(folder)
    assert read_shelf(folder, TODAY, take=True).shelf is not None


def _book(folder: Path, tables: str) -> None:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for table in tables.split():
        sheet = book.create_sheet(table)
        with (folder / f"{table}.csv").open(encoding="utf-8", newline="") as file:
            for cells in csv.reader(file):
                sheet.append([cell if re.fullmatch("0.*|[0-9]{4}", cell) else typed(cell) for cell in cells])
        (folder / f"{table}.csv").unlink()
    book.save(folder / "shelf.xlsx")


def _in_book(change: Callable[..., None]) -> Callable[..., None]:
    def action(folder: Path, table: str, *rest: str) -> None:
        book = openpyxl.load_workbook(folder / "shelf.xlsx")
        change(book[table], *rest)
        book.save(folder / "shelf.xlsx")

    return action


def _book_cell(sheet: openpyxl.worksheet.worksheet.Worksheet, place: str, value: str) -> None:
    day = re.fullmatch(r"date\((.*)\)", value)
    content: object = date.fromisoformat(day[1]) if day else value.strip('"')
    if not day and not value.startswith('"') and not value.startswith(("=", "#")):
        content = float(value)
    sheet[place] = content


def _hide(sheet: openpyxl.worksheet.worksheet.Worksheet, row: str) -> None:
    sheet.row_dimensions[int(row)].hidden = True


def _merge(sheet: openpyxl.worksheet.worksheet.Worksheet, cells: str) -> None:
    sheet.merge_cells(cells)


def _title(sheet: openpyxl.worksheet.worksheet.Worksheet, title: str) -> None:
    sheet.title = title


def _cut(folder: Path, file: str) -> None:
    data = (folder / file).read_bytes()
    (folder / file).write_bytes(data[: len(data) // 2])


_EDITS: tuple[tuple[str, Callable[..., object]], ...] = (
    (r"form", _form),
    (r"seen", _seen),
    (r"book ([a-z ]+)", _book),
    (r"cell (\w+) ([A-Z]+[0-9]+) = (.*)", _in_book(_book_cell)),
    (r"hide (\w+) ([0-9]+)", _in_book(_hide)),
    (r"merge (\w+) (\S+)", _in_book(_merge)),
    (r"title (\w+) -> (.*)", _in_book(_title)),
    (r"cut short (\S+)", _cut),
    (r"sort alone (\w+) (\w+)", lambda *at: _column(*at, lambda cells: sorted(cells, key=_by_size))),
    (r"sort (\w+) (\w+)", _sort),
    (r"move (\w+) (\w+)", lambda *at: _column(*at, lambda cells: [cells[0], *cells[:-1]])),
    (r"without (\S+)", lambda folder, file: (folder / file).unlink()),
    (r"rename (.+?) -> (.+)", lambda folder, old, new: (folder / old).rename(folder / new)),
    (r"encoding (\S+) (\S+)", _encode),
    (r"separator (\S+) (\S+)", _separate),
    (r"write (.+?) = (.*)", _write),
    (r"append (.+?) = (.*)", _append),
    (r"bytes (.+?) = (.*)", lambda folder, file, digits: (folder / file).write_bytes(bytes.fromhex(digits))),
    (r"([\w.]+) ([0-9]+) ([^=]*) = (.*)", _cell),
    (r"(\w+) \+ (.*)", _add_row),
    (r"([\w.]+\.\w+): (.*?) -> (.*)", _replace),
)
