"""A folder in, the sheets of its tables out; files that look like a table under a wrong name are said."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from shipping.tables.files.csv_file import bytes_of, is_there, sheet_from_csv
from shipping.tables.files.sheet import Sheet, Unreadable, notice
from shipping.tables.shelf import FORMER_TABLES, TABLE_BY_NAME
from shipping.tables.spelling import nearest
from shipping.words.problems import Problem, Where
from shipping.words.sentence import say

#: The workbooks a shelf may have.
WORKBOOKS = ("shelf.xlsx", "shelf.ods")
#: What was last taken from mapped sheets; written by the program.
SEEN_FILE = "orders.seen.csv"


@dataclass
class SheetsThere:
    """The sheets found in a folder, table by table; tables that could not be read; and what is wrong."""

    sheets: dict[str, list[Sheet]] = field(default_factory=dict)
    unreadable: set[str] = field(default_factory=set)
    problems: list[Problem] = field(default_factory=list)

    def add(self, table: str, sheet: Sheet) -> None:
        self.sheets.setdefault(table, []).append(sheet)

    def fail(self, table: str, broken: Unreadable) -> None:
        self.unreadable.add(table)
        self.problems.append(broken.problem)


def find_sheets(
    folder: Path,
    may_lack: frozenset[str] = frozenset(),
    mapped: frozenset[str] = frozenset(),
    encoding: str | None = None,
) -> SheetsThere:
    """Every table's sheet in a folder, opened; a table found twice is an error.

    ``may_lack`` are tables that need not be there, ``mapped`` files that are read in another way.
    """
    there = SheetsThere()
    for file_name in (*TABLE_BY_NAME, *FORMER_TABLES):
        path = folder / f"{file_name}.csv"
        if is_there(path):
            name = FORMER_TABLES.get(file_name, file_name)
            try:
                there.add(name, sheet_from_csv(path, encoding=encoding))
            except Unreadable as broken:
                there.fail(name, broken)
            if name != file_name:
                there.problems.append(_former(path.name, f"{name}.csv"))
    for file in WORKBOOKS:
        if is_there(folder / file):
            try:
                _add_sheets(there, file, bytes_of(folder / file, file))
            except Unreadable as broken:
                there.problems.append(broken.problem)
                there.unreadable.update(TABLE_BY_NAME)
    for name, sheets in there.sheets.items():
        if len(sheets) > 1:
            files = [sheet.file for sheet in sheets]
            text = say("holds the table {name}, and so does {other}.", name, files[0])
            there.problems.append(Problem(Where(files[1]), "", "table-twice", text, "Keep one of the two."))
    _say_missing_tables(folder, there, may_lack, mapped)
    there.problems += [
        notice(file, 0, "", "look-alike", "is not read.", mend)
        for file, mend in _other_workbooks(folder)
        if file not in mapped and file not in {problem.where.file for problem in there.problems}
    ]
    there.problems += [
        notice(file, 0, "", "look-alike", say("is not read, and is newer than {name}.csv.", name), mend)
        for file, name in _newer_copies(folder)
        if file not in mapped and (mend := say("Rename it to {name}.csv, if it is to hold.", name))
    ]
    return there


#: What browsers and file managers call a file of a name that is there already.
_COPY = re.compile(r"(\w+) ?(?:\([0-9]+\)|-? (?:copy|kopie|copie|copia)\b.*)", re.IGNORECASE)


def _newer_copies(folder: Path) -> Iterator[tuple[str, str]]:
    """Files put beside a table later, named as its copy: a download that was to be the table."""
    for file in _files(folder, ".csv"):
        name = copy[1].casefold() if (copy := _COPY.fullmatch(Path(file).stem)) else ""
        table = folder / f"{name}.csv"
        if name in TABLE_BY_NAME and table.is_file() and _put_there(folder / file) > _put_there(table):
            yield file, name


def _put_there(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def _add_sheets(there: SheetsThere, file: str, data: bytes) -> None:
    """The sheets of a workbook that are tables, with near misses said; its reader is loaded for few."""
    from shipping.tables.files.workbook import sheets_of_book, titles_of_book

    titles = titles_of_book(data, file)
    names = {title: title.strip().casefold() for title in titles}
    wanted = {title: FORMER_TABLES.get(name, name) for title, name in names.items()}
    wanted = {title: name for title, name in wanted.items() if name in TABLE_BY_NAME}
    for title, name in wanted.items():
        if names[title] != name:
            there.problems.append(_former(f"{file}[{title}]", name))
    for title, sheet in sheets_of_book(data, file, wanted).items():
        if isinstance(sheet, Unreadable):
            there.fail(wanted[title], sheet)
        else:
            there.add(wanted[title], sheet)
    for title in titles:
        meant = nearest(title.strip(), list(TABLE_BY_NAME), cutoff=0.75)
        if title not in wanted and meant and meant not in there.sheets and not title.startswith("_"):
            mend = say("Did you mean {name}?", meant)
            there.problems.append(notice(f"{file}[{title}]", 0, "", "look-alike", "is not read.", mend))


def _former(file: str, name: str) -> Problem:
    text = say("is the former name of {name}, and is read as it.", name)
    return notice(file, 0, "", "former-name", text, say("Rename it to {name}.", name))


def _say_missing_tables(
    folder: Path, there: SheetsThere, may_lack: frozenset[str], mapped: frozenset[str]
) -> None:
    """A required table that is nowhere, with the file that looks like it; other look-alikes are notices."""
    look_alikes = {file: meant for file, meant in _look_alikes(folder) if file not in mapped}
    for file, mend in _other_workbooks(folder):
        held = TABLE_BY_NAME if (stem := Path(file).stem.casefold()) == "shelf" else (stem,)
        lacking = [
            name
            for name in held
            if TABLE_BY_NAME[name].required and name not in {*may_lack, *there.sheets, *there.unreadable}
        ]
        if lacking and file not in mapped:
            names = ", ".join(lacking)
            text = say("is not read, and {names} are nowhere else.", names)
            if len(lacking) == 1:
                text = say("is not read, and {names} is nowhere else.", names)
            there.problems.append(Problem(Where(file), "", "no-table", text, mend))
            there.unreadable.update(held)
    for name, table in TABLE_BY_NAME.items():
        if name in there.sheets or name in there.unreadable:
            continue
        other = next((file for file, meant in look_alikes.items() if meant == name), None)
        if table.required and name not in may_lack:
            header = ",".join(table.required_columns)
            mend = say("Write it with the header {header}.", header)
            if other:
                mend = say("Rename {other} to {name}.csv.", other, name)
            there.problems.append(Problem(Where(f"{name}.csv"), "", "no-table", "is missing.", mend))
            there.unreadable.add(name)
        elif other:
            text = "is not read."
            there.problems.append(
                notice(other, 0, "", "look-alike", text, say("Did you mean {name}.csv?", name))
            )


def _other_workbooks(folder: Path) -> Iterator[tuple[str, str]]:
    """Workbooks that are named almost like one that is read, with what would have them read."""
    for file in _files(folder, ".xlsx", ".xlsm", ".xlsb", ".xls", ".ods"):
        stem, ending = Path(file).stem.casefold(), Path(file).suffix.lower()
        form = ending if ending in (".xlsx", ".ods") else ".xlsx"
        if file in ("shelf.xlsx", "shelf.ods") or (stem != "shelf" and stem not in TABLE_BY_NAME):
            continue
        how = say("Rename it") if form == ending else say("Save it in the spreadsheet")
        if stem == "shelf":
            yield file, say("{how} as shelf{form}.", how, form)
        else:
            yield file, say("{how} as shelf{form}, with the table in a sheet {stem}.", how, form, stem)


def _files(folder: Path, *endings: str) -> list[str]:
    """The names of files with these endings; none where the folder may not be looked at."""
    try:
        return sorted(path.name for path in folder.iterdir() if path.suffix.lower() in endings)
    except OSError:
        return []


def _look_alikes(folder: Path) -> Iterator[tuple[str, str]]:
    """Files that are no table but are named almost like one, with the table they may be."""
    for file in _files(folder, ".csv", ".tsv", ".txt"):
        stem = Path(file).stem
        if (
            file == SEEN_FILE
            or file.startswith((".", "_"))
            or (f"{stem}.csv" == file and (stem in TABLE_BY_NAME or stem in FORMER_TABLES))
        ):
            continue
        meant = nearest(stem, list(TABLE_BY_NAME), cutoff=0.75)
        if meant:
            yield file, meant
