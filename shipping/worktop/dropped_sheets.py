"""Sheets dropped on the page: bytes in, what each seems to hold, and the shelf with them, out."""

from __future__ import annotations

import functools
import itertools
import re
import shutil
import tempfile
import weakref
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from shipping.ledger.ledger import Ledger
from shipping.ledger.whole_shelf import read_whole_shelf
from shipping.tables.cells import as_text
from shipping.tables.editing.row_writer import append_rows, copied
from shipping.tables.editing.settings_writer import change_settings
from shipping.tables.files.csv_file import csv_of, sheet_from_csv
from shipping.tables.files.find_sheets import SEEN_FILE
from shipping.tables.files.settings_reader import MAP_FILE
from shipping.tables.files.sheet import BadSource, Sheet, Unreadable
from shipping.tables.files.whole_file import write_file, write_whole
from shipping.tables.files.workbook import sheets_of_book, titles_of_book
from shipping.tables.mapped_orders.mapped_sheet import open_mapped
from shipping.tables.mapped_orders.mapping import MappedSheet
from shipping.tables.mapped_orders.their_header import headers_of, plain_header
from shipping.tables.row_reader import read_rows
from shipping.tables.shelf import TABLE_BY_NAME
from shipping.words.problems import Level, Problem, ShelfProblems, Where
from shipping.words.sentence import LANGUAGES, joined, say
from shipping.worktop.page_language import shown_name, texts_in
from shipping.worktop.shelf_state import trial_copy
from shipping.worktop.table_words import ALSO_CALLED, SHEETS, label_of, rows_as_typed

TEXTS, BOOKS = (".csv", ".txt", ".tsv"), (".xlsx", ".ods")
#: All sheets dropped at once are no larger together [bytes], and so many wait at the most.
MOST_SHEETS_BODY = 8_000_000
MOST_SHEETS = 20


class DropBox:
    """Copies of what was dropped, in a folder that goes when the page is stopped."""

    def __init__(self) -> None:
        self._folder: Path | None = None
        self._emptied: weakref.finalize[..., DropBox] | None = None

    @property
    def folder(self) -> Path:
        if self._folder is None:
            self._folder = Path(tempfile.mkdtemp(prefix="spawnpost-"))
            self._emptied = weakref.finalize(self, shutil.rmtree, self._folder, ignore_errors=True)
        return self._folder

    def put(self, name: str, data: bytes) -> tuple[str, ...]:
        """The names under which a sheet waits, one a table of a book. Raises ShelfProblems if it is none."""
        named = _plain_name(name)
        if not named.endswith(TEXTS + BOOKS):
            text = say("'{name}' is no sheet that can be read.", name)
            raise _refused(named, text, "Save it as .csv, .xlsx or .ods, and drop that.")
        if len(self.names()) >= MOST_SHEETS:
            raise _refused(
                named, say("{count} sheets wait already.", MOST_SHEETS), "Take or leave those first."
            )
        write_file(self.folder / named, data)
        if not named.endswith(BOOKS):
            return (named,)
        put = [named]
        try:
            tables = _tables_of_book(named, data)
            for table, content in tables.items():
                write_file(self.folder / table, content)
                put.append(table)
        except ShelfProblems:
            for one in put:
                self.leave(one)
            raise
        if "orders.csv" not in tables and any(map(is_of_orders, titles_of_book(data, named))):
            return (*tables, named)
        if tables:
            self.leave(named)
        return tuple(tables) or (named,)

    def names(self) -> list[str]:
        if self._folder is None:
            return []
        return sorted(path.name for path in self.folder.iterdir())

    def leave(self, name: str) -> None:
        """The copy goes; the breeder's own file is not touched."""
        if name in self.names():
            (self.folder / name).unlink()

    def close(self) -> None:
        if self._emptied is not None:
            self._emptied()
        self._folder = self._emptied = None


def _plain_name(name: str) -> str:
    """The name of a file without its folder, as a mapping may name it."""
    bare = re.split(r"[/\\]", name)[-1].strip().lstrip(".")
    stem, dot, ending = bare.rpartition(".")
    return f"{stem or 'sheet'}{dot}{ending.lower()}"[-120:]


def _refused(file: str, text: str, mend: str) -> ShelfProblems:
    return ShelfProblems((Problem(Where(file), "", "dropped", text, mend),))


def _tables_of_book(name: str, data: bytes) -> dict[str, bytes]:
    """The sheets of a workbook that are called like tables of ours, each as a CSV file; orders in columns of
    another shop stay in it.
    """
    ours = {title: _table_called(title) for title in titles_of_book(data, name)}
    wanted = {title: table for title, table in ours.items() if table}
    tables = {}
    for title, sheet in sheets_of_book(data, name, wanted).items():
        if isinstance(sheet, Unreadable):
            raise sheet
        rows = [cells for _, cells in sheet.rows]
        if is_of_orders(title) and not _needed("orders") <= _columns_meant(headers_of(rows[0]), "orders"):
            continue
        tables[f"{wanted[title]}.csv"] = csv_of(rows)
    return tables


def titles_of(path: Path) -> list[str]:
    """The sheets of a workbook; none of a text."""
    if path.suffix not in BOOKS:
        return []
    return titles_of_book(path.read_bytes(), path.name)


def is_of_orders(title: str) -> bool:
    """Is a sheet called like orders, in any language?"""
    return _table_called(title) == "orders"


def table_meant(path: Path, encoding: str | None, tab: str = "") -> str:
    """The table of ours whose columns a sheet has: the one it is named like, else the one it fits best; ""
    where it has the needed columns of none. Raises Unreadable if it cannot be read.
    """
    header, named = _header_of(path, encoding, tab), _table_called(tab or path.stem)
    has = {name: _columns_meant(header, name) for name in TABLE_BY_NAME}
    fits = [name for name in TABLE_BY_NAME if _needed(name) <= has[name]]
    if named in fits or (named and named != "orders" and len(has[named]) > 1):
        return named
    return max(fits, key=lambda name: len(has[name]), default="")


def _needed(table: str) -> set[str]:
    return set(TABLE_BY_NAME[table].required_columns)


def _columns_meant(header: Sequence[str], table: str) -> set[str]:
    """The columns that a header has of a table. Orders in other words than our own are a shop's: they are
    mapped.
    """
    if table == "orders":
        return {name.casefold() for name in header} & set(TABLE_BY_NAME[table].columns)
    return {column for name in header for column in columns_of(name, table)}


def _sheet_of(path: Path, encoding: str | None, tab: str) -> Sheet:
    """A text file, or a sheet of a workbook. Raises Unreadable if it cannot be read."""
    if path.suffix in TEXTS:
        return sheet_from_csv(path, encoding=encoding)
    return open_mapped(path.parent, MappedSheet(file=path.name, tab=tab), encoding)


def _header_of(path: Path, encoding: str | None, tab: str) -> list[str]:
    return [name for name in headers_of(next(_sheet_of(path, encoding, tab).rows, (0, []))[1]) if name]


def _table_called(name: str) -> str:
    """The table that a sheet is named like, in any language, whatever number stands behind; else ""."""
    plain = plain_header(re.sub(r"[\W\d_]+$", "", name))
    said = ((words.table, texts_in(language).get(words.name, words.name)) for words, language in _SAID)
    return next((table for table, called in said if plain in (table, plain_header(called))), "")


_SAID = tuple(itertools.product(SHEETS, LANGUAGES))


@functools.cache
def _called(table: str) -> Mapping[str, frozenset[str]]:
    """What each column of a table may be called, as `plain_header` has it, in any language of the page."""
    called = {}
    for name in TABLE_BY_NAME[table].columns:
        label = label_of(name)
        said = [name, *(texts_in(language).get(label, label) for language in LANGUAGES)]
        said += [whole.partition(",")[0] for whole in said]
        called[name] = frozenset(map(plain_header, (*said, *ALSO_CALLED.get(name, ()))))
    return called


def columns_of(header: str, table: str) -> tuple[str, ...]:
    """The columns of a table that a header is a name of; a day of laying is both the first and the last."""
    name = header.casefold()
    if name in TABLE_BY_NAME[table].columns:
        return (name,)
    return tuple(column for column, called in _called(table).items() if plain_header(header) in called)


@dataclass(frozen=True)
class Taking:
    """What is to be done with one dropped sheet: as rows of ``table``, or as orders by ``mapped``.

    ``reading`` are answers to be kept in the settings; ``always`` is what columns that it lacks hold on every
    row.
    """

    path: Path
    table: str = ""
    mapped: MappedSheet | None = None
    reading: Mapping[str, str] = field(default_factory=dict)
    always: Mapping[str, str] = field(default_factory=dict)
    tab: str = ""

    def write(self, folder: Path) -> str:
        """Does it in a folder, and says what was done. Raises ShelfProblems if a table cannot be written."""
        if self.reading:
            change_settings(folder, {("reading", key): value for key, value in self.reading.items()})
        return self._mapped_into(folder) if self.mapped else self._appended_to(folder)

    def _appended_to(self, folder: Path) -> str:
        self._refuse_broken_rows()
        table, path = TABLE_BY_NAME[self.table], folder / f"{self.table}.csv"
        new = [row for _, row in self._new_in(folder)]
        if new:
            append_rows(path, new, table.columns)
        buyers = (row.get("addressee", "") for row in new)
        named = (
            shown_name(one) if one else next(iter(row.values())) for one, row in zip(buyers, new, strict=True)
        )
        first, rest = list(dict.fromkeys(named))[:3], ["…"] if len(new) > 3 else []
        done = say("No row added.")
        if new:
            done = say("Rows added: {count} ({names}).", len(new), ", ".join((*first, *rest)))
        there = len(self.rows) - len(new)
        return joined((done, say("There already: {count}.", there))) if there else done

    def _new_in(self, folder: Path) -> list[tuple[int, dict[str, str]]]:
        """The numbered rows that a folder's table has not yet."""
        typed = rows_as_typed(folder / f"{self.table}.csv")
        have = [{name: text for name, text in row.cells.items() if text} for row in typed]
        rows = self.numbered_rows
        return [(n, row) for n, row in rows if not any(row.items() <= old.items() for old in have)]

    def own_rows(self, folder: Path) -> Callable[[Problem], Problem]:
        """What names a row of the sheet where a problem names the row that it becomes in a folder."""
        if self.mapped:
            return lambda problem: problem
        file, new = f"{self.table}.csv", [number for number, _ in self._new_in(folder)]

        def own(problem: Problem) -> Problem:
            rows = [row.row for row in rows_as_typed(folder / file)][-len(new) :] if new else []
            place = problem.where
            at = dict(zip(rows, new, strict=False)).get(place.row) if place.file == file else None
            return replace(problem, where=Where(self.path.name, at)) if at else problem

        return own

    @property
    def written_to(self) -> str:
        """The files that it is written to."""
        return f"{self.mapped.file}, {MAP_FILE}" if self.mapped else f"{self.table}.csv"

    @property
    def rows(self) -> list[dict[str, str]]:
        """The cells of each row that hold something, below columns of ours."""
        return [row for _, row in self.numbered_rows]

    @property
    def numbered_rows(self) -> list[tuple[int, dict[str, str]]]:
        """The same, with the number of each row in its own sheet."""
        found = []
        for number, row in self._cells:
            ours: dict[str, str] = {}
            for header, text in row.items():
                for column in columns_of(header, self.table):
                    ours.setdefault(column, text)
            if ours:
                found.append((number, ours | {name: self.always[name] for name in self.always.keys() - ours}))
        return found

    @property
    def _cells(self) -> Iterator[tuple[int, dict[str, str]]]:
        """The rows below the header, numbered, by header; blank cells are not there."""
        rows = self._sheet.rows
        names = headers_of(next(rows, (0, []))[1])
        for number, cells in rows:
            held = ((name, cell) for name, cell in zip(names, cells, strict=False) if name)
            texts = ((name, as_text(cell)) for name, cell in held if not isinstance(cell, BadSource))
            yield number, {name: text for name, text in texts if text}

    @property
    def _sheet(self) -> Sheet:
        return _sheet_of(self.path, self.reading.get("encoding"), self.tab)

    def _refuse_broken_rows(self) -> None:
        """Raises ShelfProblems if a row has more cells than the header, or one of ours that holds no value:
        what was meant is not known.
        """
        sheet = self._sheet
        number, header = next(sheet.rows, (0, []))
        ours = [next(iter(columns_of(name, self.table)), "_") for name in headers_of(header)]
        under_ours = replace(sheet, rows=itertools.chain([(number, list[object](ours))], sheet.rows))
        said = read_rows(TABLE_BY_NAME[self.table], under_ours).problems
        if broken := tuple(one for one in said if one.code in ("too-many-cells", "spreadsheet-error")):
            raise ShelfProblems(broken)

    @property
    def _header(self) -> list[str]:
        return _header_of(self.path, self.reading.get("encoding"), self.tab)

    @property
    def unused(self) -> tuple[str, ...]:
        """Columns that the table has not."""
        return tuple(name for name in self._header if not columns_of(name, self.table))

    @property
    def lacking(self) -> tuple[str, ...]:
        """The needed columns of the table that the sheet has not."""
        have = _columns_meant(self._header, self.table)
        return tuple(name for name in TABLE_BY_NAME[self.table].required_columns if name not in have)

    def _mapped_into(self, folder: Path) -> str:
        assert self.mapped is not None
        target, maps = folder / self.mapped.file, folder / MAP_FILE
        for path in (target, maps):
            if path.exists():
                copied(path, path.read_bytes())
        write_whole(target, self.path.read_bytes())
        before = maps.read_text(encoding="utf-8-sig") if maps.exists() else ""
        write_whole(maps, self.mapped.placed_in(before).encode())
        return say("Its orders are among yours now.")


@dataclass(frozen=True)
class Tried:
    """What a shelf with a sheet taken says: new mistakes, and orders that changed since last taken."""

    errors: tuple[Problem, ...]
    changes: tuple[Problem, ...]
    orders: int


def tried(folder: Path, today: date, ledger: Ledger | None, taking: Taking) -> Tried:
    """What would come of it, found on a copy of the shelf; nothing is written."""
    with trial_copy(folder, ledger) as trial:
        if (folder / SEEN_FILE).exists():
            shutil.copyfile(folder / SEEN_FILE, trial / SEEN_FILE)
        before = {str(problem) for problem in read_whole_shelf(trial, today).problems}
        own = taking.own_rows(trial)
        try:
            taking.write(trial)
        except ShelfProblems as refused:
            return Tried(refused.problems, (), 0)
        strict = _new_errors(read_whole_shelf(trial, today).problems, before)
        reading = read_whole_shelf(trial, today, take=True)
        errors = tuple(_new_errors(reading.problems, before))
        changes = tuple(problem for problem in strict if problem not in errors)
        errors, changes = tuple(map(own, errors)), tuple(map(own, changes))
        return Tried(errors, changes, len(reading.shelf.orders) if reading.shelf else 0)


def _new_errors(problems: Sequence[Problem], before: set[str]) -> Iterator[Problem]:
    return (one for one in problems if one.level is Level.ERROR and str(one) not in before)


def take(folder: Path, today: date, taking: Taking) -> str:
    """Takes the sheet into the shelf, as it was tried, and says what was done."""
    done = taking.write(folder)
    read_whole_shelf(folder, today, take=True)
    return done
