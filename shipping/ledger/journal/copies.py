"""Copies of the ledger: one a day, fewer the older they are; the way back to one."""

from __future__ import annotations

import contextlib
import gzip
import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from shipping.ledger.errors import COPIES_FOLDER, LEDGER_FILE, LedgerError, NewerLedger
from shipping.ledger.journal.file_bytes import checksum_path
from shipping.ledger.journal.store import MIGRATIONS, EntryRow, Store, first_unchained, persons_by_entry
from shipping.tables.files.whole_file import way_out, write_whole
from shipping.words.sentence import say

#: Of so many days, weeks and months back one copy each is kept, the last of each.
KEEP_DAYS, KEEP_WEEKS, KEEP_MONTHS = 7, 5, 12
#: Where files go that were put out of use; nothing reads them again but erasing.
SET_ASIDE = "set-aside"
_COMPACT = ".sqlite.gz"
#: So many entries that are to be recorded again are named.
MOST_NAMED = 12


def copies_folder(folder: Path) -> Path:
    return folder / COPIES_FOLDER


def copies_in(folder: Path) -> tuple[Path, ...]:
    """The copies beside a ledger, oldest name first, those before a change of version in front."""
    place = copies_folder(folder)
    copies = [*place.glob("*.sqlite"), *place.glob(f"*{_COMPACT}")]
    return tuple(sorted(copies, key=lambda path: (path.name[0].isdigit(), path.name)))


def _copy_of(folder: Path, day: date) -> Path:
    return copies_folder(folder) / f"{day.isoformat()}.sqlite"


def has_copy_of(folder: Path, day: date) -> bool:
    """Is there a copy of that day?"""
    return _copy_of(folder, day).exists()


def copy_of_day(store: Store, folder: Path, today: date) -> Path:
    """The copy of that day, now with all entries so far; older ones are made compact and thinned.

    Call it inside `reading`. Entries are added to the copy that is there; where that cannot be done, it is
    written whole. Raises LedgerError if it cannot be written.
    """
    path = _copy_of(folder, today)
    try:
        is_new = not path.exists()
        path.parent.mkdir(exist_ok=True)
        if is_new or not _has_caught_up(path, store):
            _half_done(path).unlink(missing_ok=True)
            write_whole(path, store.file.chunks())
        if is_new:
            _make_compact(path)
            for old in _too_many(copies_in(folder)):
                old.unlink(missing_ok=True)
    except OSError as error:
        text = say("{path} could not be written ({strerror}).", path, error.strerror)
        raise LedgerError(text, "Make room for it.") from error
    return path


def _has_caught_up(path: Path, store: Store) -> bool:
    """Is a copy a beginning of the ledger, and were the entries it lacked added to it?"""
    with contextlib.suppress(LedgerError), Store.of_copy(path) as copy, copy.writing():
        entries, digest = copy.head()
        later = store.rows(after=entries)
        if digest != store.digest_of(entries) or any(row.kind == "erased" for row in later):
            return False
        persons = persons_by_entry(store.persons(after=entries))
        for row in later:
            copy.add(row, tuple(persons.get(row.seq, {}).values()))
        return True
    return False


def _half_done(path: Path) -> Path:
    """Where the database keeps what a killed process left half done in a copy, until it is opened again."""
    return path.with_name(f"{path.name}-journal")


def _make_compact(newest: Path) -> None:
    for path in newest.parent.glob("[0-9]*.sqlite"):
        if path != newest:
            with contextlib.suppress(LedgerError), Store.of_copy(path):
                pass  # opening it takes back what was left half done in it
            compact = path.with_name(f"{path.stem}{_COMPACT}")
            write_whole(compact, gzip.compress(path.read_bytes(), 4, mtime=0))
            path.unlink()
            _half_done(path).unlink(missing_ok=True)


def _too_many(paths: Iterable[Path]) -> list[Path]:
    """The copies of days that are kept for no day, week or month."""
    by_day = {}
    for path in paths:
        with contextlib.suppress(ValueError):
            by_day[date.fromisoformat(path.name[:10])] = path
    days = sorted(by_day, reverse=True)
    kept = set(days[:KEEP_DAYS])
    weeks = {day.isocalendar()[:2]: day for day in reversed(days)}
    months = {(day.year, day.month): day for day in reversed(days)}
    kept |= set(sorted(weeks.values(), reverse=True)[:KEEP_WEEKS])
    kept |= set(sorted(months.values(), reverse=True)[:KEEP_MONTHS])
    return [path for day, path in by_day.items() if day not in kept]


def bring_up_to_date(store: Store, folder: Path, create: bool) -> None:
    """Change an older file to this version, after a copy. Raises LedgerError if empty and none is made."""
    version = store.version()
    if version == 0 and not create:
        mend = "Put the ledger back, or remove the empty file and keep a plan."
        raise LedgerError("the file is empty.", mend)
    if version < len(MIGRATIONS):
        if version:
            path = copies_folder(folder) / f"before-version-{version + 1}.sqlite"
            path.parent.mkdir(exist_ok=True)
            if not path.exists():
                store.copy_to(path)
        store.migrate()


def set_aside(path: Path, folder: Path) -> Path:
    """The file moved where nothing reads it, under a name that was free."""
    to = _aside(path, folder)
    os.replace(path, to)
    return to


def _aside(path: Path, folder: Path) -> Path:
    place = copies_folder(folder) / SET_ASIDE
    place.mkdir(parents=True, exist_ok=True)
    n = 1
    while (to := place / f"{n:03d}-{path.name}").exists():
        n += 1
    return to


@dataclass(frozen=True, slots=True)
class PutBack:
    """The copy that is the ledger now, its entries, where the file before it lies, and what only that has."""

    copy: str
    entries: int
    before: str
    only_before: tuple[EntryRow, ...] = ()

    def missing(self) -> str:
        """What to record again, in a sentence; "" where nothing is."""
        return to_record_again(self.only_before)


def to_record_again(rows: Sequence[EntryRow]) -> str:
    """That the ledger has not these entries, in a sentence; "" where there are none."""
    named = ", ".join(f"{row.seq} {row.parcel}".strip() for row in rows[:MOST_NAMED])
    dots = ", .." if len(rows) > MOST_NAMED else ""
    return (
        say(
            "Entries that are not in the ledger now: {count} ({named}). Record them again.",
            *(len(rows), named + dots),
        )
        if rows
        else ""
    )


def put_back(folder: Path) -> PutBack:
    """Make the fullest whole copy the ledger, the file before set aside. Raises LedgerError if none is, or if
    a newer program wrote the ledger or a copy.

    There is a ledger at every moment, and what only the file before had is told again until something is
    recorded: whatever stops this, doing it once more does the rest.
    """
    entries, path = max(_whole_copies(folder), default=(0, None))
    if path is None:
        raise LedgerError("there is no copy that is whole.", "Put back a copy of your own.")
    ledger = folder / LEDGER_FILE
    if ledger.is_file():
        _entries_if_whole(ledger)  # what a newer program wrote is not put aside
    image = gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()
    try:
        is_back = (
            ledger.is_file()
            and not checksum_path(ledger).exists()  # it comes with the first entry that is recorded
            and ledger.read_bytes() == image
        )
        before = _last_set_aside(folder) if is_back else ledger if ledger.exists() else None
        only_before = entries_without(before, path) if before else ()
        if not is_back:
            before = _set_before_it(folder, ledger, image)
    except OSError as error:
        text = say("it could not be put back ({strerror}).", error.strerror)
        raise LedgerError(text, way_out(error)) from error
    return PutBack(path.name, entries, before.relative_to(folder).as_posix() if before else "", only_before)


def _set_before_it(folder: Path, ledger: Path, image: bytes) -> Path | None:
    """The ledger with that content, and where a copy of the file before it lies."""
    aside = None
    for old in (ledger, _half_done(ledger)):
        if old.is_file():
            to = _aside(old, folder)
            write_whole(to, old.read_bytes())
            aside = aside or to
    checksum_path(ledger).unlink(missing_ok=True)
    _half_done(ledger).unlink(missing_ok=True)
    write_whole(ledger, image)
    return aside


def _last_set_aside(folder: Path) -> Path | None:
    return max((copies_folder(folder) / SET_ASIDE).glob(f"*-{LEDGER_FILE}"), default=None)


def entries_without(ledger: Path, copy: Path) -> tuple[EntryRow, ...]:
    """The entries of a ledger that a copy of it has not; none where one of them cannot be read."""
    with contextlib.suppress(LedgerError), Store.of_copy(ledger) as now, Store.of_copy(copy) as whole:
        return tuple(row for row in now.rows() if row.digest != whole.digest_of(row.seq))
    return ()


def _whole_copies(folder: Path) -> Iterator[tuple[int, Path]]:
    for path in copies_in(folder):
        if entries := _entries_if_whole(path):
            yield entries, path


def _entries_if_whole(path: Path) -> int:
    """How many entries a ledger or a copy of one has, 0 if it is not whole. Raises NewerLedger."""
    try:
        with Store.of_copy(path) as store:
            is_whole = store.version() and not store.page_problems() and not first_unchained(store.rows())
            return store.head()[0] if is_whole else 0
    except NewerLedger:
        raise
    except LedgerError:
        return 0
