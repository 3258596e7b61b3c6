"""What stands at this moment: a shelf's folder in, its tables, ledger and plan out, read again only when they
changed.

The ledger stays open while the page is served; one lock lets one request at a time use it. Its copy of a day
is made with the day's first entry, and brought up to date as the day ends. Nothing is decided here.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shipping.ledger.entries import (
    Body,
    Bought,
    ClaimSettled,
    Erased,
    LetGo,
    OrderCorrected,
    PlanKept,
    Undone,
    canonical,
    to_facts,
)
from shipping.ledger.errors import LEDGER_FILE, LedgerError
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import LotCounts, eggs_counted
from shipping.ledger.planning_again import shelf_left
from shipping.ledger.whole_shelf import read_whole_shelf
from shipping.tables.editing.row_writer import COPIES_FOLDER
from shipping.tables.files.csv_file import csv_form
from shipping.tables.files.sheet import Unreadable
from shipping.tables.learned_values import applied
from shipping.tables.reader import Reading
from shipping.tables.shelf import Shelf
from shipping.words.keys import IdentityKey
from shipping.words.problems import Level, Problem, ShelfProblems, Where

if TYPE_CHECKING:
    from shipping.ledger.entries import Entry
    from shipping.options.option_factory import OptionFactory

#: Entries that change the plan, and those that add lots and orders to the tables.
_ADDING: tuple[type[Body], ...] = (Bought, ClaimSettled, OrderCorrected)
_PLANNING: tuple[type[Body], ...] = (PlanKept, LetGo, *_ADDING)
#: Files that hold tables or settings.
TABLE_ENDINGS = (".csv", ".toml", ".xlsx", ".ods", ".txt", ".tsv")
#: Leaving a row out may break one that names it; so often is it tried again.
_MOST_TRIES = 5


#: The address of the device that asks, "" for work beside the requests.
ASKING: ContextVar[str] = ContextVar("asking", default="")


@dataclass(frozen=True)
class Tables:
    """The tables as read: the shelf, the same with learned rates, and what marks this state of the files.

    ``left_out`` are mistakes in rows that were left out so that a kept plan can be packed.
    """

    stamp: str
    shelf: Shelf
    left_out: tuple[Problem, ...] = ()

    @cached_property
    def known(self) -> Shelf:
        """The shelf with the values of `rates` applied; every order is in it, packed or not."""
        return applied(self.shelf)

    @cached_property
    def factory(self) -> OptionFactory:
        """Shared factors of all rides on this shelf; used under the lock of `ShelfState`."""
        from shipping.options.option_factory import OptionFactory

        return OptionFactory(self.known)

    @cached_property
    def counted(self) -> Mapping[str, LotCounts]:
        return eggs_counted(self.shelf)


class ShelfState:
    """The folder of one shelf, as it stands whenever it is asked; ``today_of`` says which day it is."""

    def __init__(self, folder: Path, today_of: Callable[[], date]) -> None:
        self.folder = folder.resolve()
        self.today_of = today_of
        self.lock = threading.RLock()
        self._tables: tuple[tuple[object, ...], Tables | ShelfProblems] | None = None
        self._readable: tuple[tuple[object, ...], Tables] | None = None
        self._left: tuple[tuple[str, str], Shelf] | None = None
        self._ledger: tuple[tuple[object, ...], Ledger] | None = None
        self._notices: list[tuple[str, str]] = []
        self._plans: tuple[int, dict[int, Mapping[str, Any]]] = (-1, {})
        self._parcels: dict[int, dict[str, Mapping[str, Any]]] = {}

    # -- tables

    def tables(self) -> Tables:
        """The tables, read when a file or the day changed. Raises ShelfProblems with all their errors."""
        with self.lock:
            today = self.today_of()
            mark = (today, self._last_of(_ADDING), *self._files())
            if self._tables is None or self._tables[0] != mark:
                self._tables = (mark, self._read(today, mark))
            found = self._tables[1]
        if isinstance(found, ShelfProblems):
            raise found
        return found

    def mark(self, readable: bool = False) -> tuple[str, str]:
        """What marks the state of tables, ``readable`` ones or whole ones, and ledger."""
        tables = self.readable_tables() if readable else self.tables()
        return tables.stamp, seen_mark(self.entries())

    def left(self) -> Shelf:
        """The readable tables as the ledger leaves them, reckoned once for each state of both."""
        with self.lock:
            mark = self.mark(readable=True)
            if self._left is None or self._left[0] != mark:
                with self.ledger() as ledger:
                    self._left = (mark, shelf_left(self.readable_tables().shelf, ledger))
            return self._left[1]

    def readable_tables(self) -> Tables:
        """The tables as the bench of a kept plan needs them: with errors in rows, those rows are left out and
        said. Nothing is planned from these. Raises ShelfProblems if more than rows is broken.
        """
        try:
            return self.tables()
        except ShelfProblems as found:
            with self.lock:
                if self._tables is None or not isinstance(self._tables[1], ShelfProblems):
                    raise  # it is the ledger that cannot be read, and no row
                mark = self._tables[0]
                if self._readable is None or self._readable[0] != mark:
                    self._readable = (mark, self._read_without(found, mark))
                return self._readable[1]

    def _read_without(self, found: ShelfProblems, mark: tuple[object, ...]) -> Tables:
        with self.ledger() as ledger:
            reading, left_out = reading_without_broken_rows(
                self.folder, ledger, self.today_of(), found.problems
            )
        if reading.shelf is None:
            raise found
        stamp = hashlib.sha256(repr(("readable", mark)).encode()).hexdigest()[:16]
        return Tables(stamp, replace(reading.shelf, is_partly_read=True), left_out)

    def _files(self) -> Iterator[tuple[str, int, int]]:
        with os.scandir(self.folder) as files:
            stats = [(file.name, file.stat()) for file in files if file.name.lower().endswith(TABLE_ENDINGS)]
        yield from sorted((name, stat.st_mtime_ns, stat.st_size) for name, stat in stats)

    def _read(self, today: date, mark: tuple[object, ...]) -> Tables | ShelfProblems:
        with self.ledger():
            reading = read_whole_shelf(self.folder, today)
        if reading.shelf is None:
            return ShelfProblems(
                tuple(problem for problem in reading.problems if problem.level is Level.ERROR)
            )
        return Tables(hashlib.sha256(repr(mark).encode()).hexdigest()[:16], reading.shelf)

    # -- ledger

    @contextmanager
    def ledger(self, create: bool = False) -> Iterator[Ledger | None]:
        """The open ledger, one request at a time, or None. Raises ShelfProblems with what troubles it."""
        with self.lock:
            try:
                ledger = self._opened(create)
                yield ledger
                if ledger is not None:
                    ledger.copy_first_of_day()
                    self.notice(*ledger.taken_notices())
            except LedgerError:
                if self._ledger is not None and self._ledger[0] != self._ledger_mark():
                    self._close()
                raise

    def notice(self, *texts: str, to: str | None = None) -> None:
        """Keeps what is to be said ``to`` a device, else to the one that asks now; to any where none does."""
        with self.lock:
            self._notices += [(ASKING.get() if to is None else to, text) for text in texts]

    def taken_notices(self, of_all: bool = False) -> tuple[str, ...]:
        """What was noticed for the device that asks, or ``of_all``, since this was asked last."""
        with self.lock:
            told = [one for one in self._notices if of_all or one[0] in (ASKING.get(), "")]
            self._notices = [one for one in self._notices if one not in told]
        return tuple(dict.fromkeys(text for _, text in told))

    def _opened(self, create: bool) -> Ledger | None:
        mark = self._ledger_mark()
        if self._ledger is not None and self._ledger[0] != mark:
            self._close()
        if self._ledger is None:
            if mark[1] is None and not create:
                return None
            ledger = Ledger.open(self.folder, self.today_of(), create=create)
            self._ledger = (self._ledger_mark(), ledger)
        return self._ledger[1]

    def _ledger_mark(self) -> tuple[object, ...]:
        """The day, and which file it is."""
        try:
            stat = os.stat(self.folder / LEDGER_FILE)
        except OSError:
            return (self.today_of(), None)
        return (self.today_of(), (stat.st_dev, stat.st_ino))

    def _close(self) -> None:
        if self._ledger is not None:
            self._ledger[1].close()
            self.notice(*self._ledger[1].taken_notices())
        self._ledger, self._plans, self._parcels = None, (-1, {}), {}

    def close(self) -> None:
        """Close the ledger; the next question opens it again."""
        with self.lock:
            self._close()

    def check_newest(self) -> None:
        """Raises LedgerError if others know more of the ledger: its parcels may have gone since."""
        with self.ledger() as ledger:
            if ledger is not None:
                ledger.check_newest()

    # -- what the ledger says

    def entries(self) -> tuple[Entry, ...]:
        with self.ledger() as ledger:
            return ledger.entries() if ledger else ()

    def plan_facts(self, seq: int) -> Mapping[str, Any]:
        """The JSON of the plan that entry ``seq`` kept; read once, until somebody's data is erased."""
        with self.ledger() as ledger:
            if ledger is None:
                raise ShelfProblems(
                    (Problem(Where(LEDGER_FILE), "", "ledger", "No plan was kept yet.", "Keep one first."),)
                )
            erased = sum(isinstance(entry.body, Erased) for entry in ledger.entries())
            if self._plans[0] != erased:
                self._plans, self._parcels = (erased, {}), {}
            if seq not in self._plans[1]:
                self._plans[1][seq] = ledger.plan_kept(seq)
            return self._plans[1][seq]

    def parcel_facts(self, seq: int, parcel: str) -> Mapping[str, Any]:
        """What the plan that entry ``seq`` kept says of one parcel; no lines where it says nothing."""
        plan = self.plan_facts(seq)
        if seq not in self._parcels:
            self._parcels[seq] = {str(one["parcel"]): one for one in plan["parcels"]}
        return self._parcels[seq].get(parcel, {"lines": []})

    def plan_mark(self) -> int:
        """The number of the last entry that changes what may be planned, packing and later steps left out."""
        return self._last_of(_PLANNING)

    def _last_of(self, kinds: tuple[type[Body], ...]) -> int:
        """The last entry of some kinds, or that takes one of them back; 0 where there is none."""
        entries = self.entries()
        by_number = {entry.seq: entry.body for entry in entries}
        for entry in reversed(entries):
            body = entry.body
            if isinstance(body, kinds) or (
                isinstance(body, Undone) and isinstance(by_number[body.entry], kinds)
            ):
                return entry.seq
        return 0


def seen_mark(entries: tuple[Entry, ...]) -> str:
    """How far the ledger was when a form was made: ``17.4f2a9c01``; ``0`` is an empty ledger."""
    return entry_mark(entries[-1]) if entries else "0"


def entry_mark(entry: Entry) -> str:
    """An entry's number and eight digits of what it says."""
    return _mark_of(IdentityKey(entry))


@lru_cache(maxsize=64)
def _mark_of(key: IdentityKey[Entry]) -> str:
    entry = key.value
    facts, _ = to_facts(entry.body)
    text = canonical([entry.seq, entry.day.isoformat(), entry.kind, facts])
    return f"{entry.seq}.{hashlib.sha256(text.encode()).hexdigest()[:8]}"


def entries_since(entries: tuple[Entry, ...], seen: str) -> tuple[Entry, ...] | None:
    """The entries recorded since a form was made; None where the form was made on another ledger."""
    number, _, _ = seen.partition(".")
    if not (number.isascii() and number.isdigit()) or len(number) > 9 or int(number) > len(entries):
        return None
    if number == "0":
        return entries
    known = entries[int(number) - 1]
    return entries[int(number) :] if entry_mark(known) == seen else None


# -- copies, to try on them what a change would do


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
    """Makes a comment of the row a problem names, so that others keep their numbers; else False."""
    path = trial / problem.where.file
    if problem.where.row < 2 or path.suffix.lower() != ".csv" or path.parent != trial or not path.exists():
        return False
    try:
        form = csv_form(path.read_bytes(), path.name)
    except Unreadable:
        return False
    row = next((record for record in form.records if record.number == problem.where.row), None)
    if row is None or row.number <= form.header.number:
        return False
    if row.cells:
        start = row.cells[0][0]
        path.write_bytes(form.bytes_with(f"{form.text[:start]}#{form.text[row.end :]}"))
    return True
