"""Copies of the ledger: one a day and one before a change of version, and erasing in them; rows are
store's.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

from shipping.ledger.entries import buyer_key
from shipping.ledger.errors import COPIES_FOLDER, LedgerError
from shipping.ledger.journal.schema import MIGRATIONS, Person, Row
from shipping.ledger.journal.store import Store

#: Daily copies beyond this many are removed, the oldest first.
KEEP_COPIES = 90


def copies_folder(folder: Path) -> Path:
    return folder / COPIES_FOLDER


def copies_in(folder: Path) -> tuple[Path, ...]:
    """The copies beside a ledger, oldest name first."""
    return tuple(sorted(copies_folder(folder).glob("*.sqlite")))


def daily_copy(store: Store, folder: Path, today: date) -> Path | None:
    """The copy of that day, made now where there is none yet: the ledger as it stood before the day's first
    entry.

    Raises
    ------
    LedgerError
        If it cannot be written.
    """
    return _copy(store, folder, today.isoformat())


def copy_before_migration(store: Store, folder: Path, version: int) -> Path | None:
    """The copy made before a file of an older version is changed."""
    return _copy(store, folder, f"before-version-{version + 1}")


def bring_up_to_date(store: Store, folder: Path, create: bool) -> None:
    """Change a file of an older version to this one, after a copy.

    Raises
    ------
    LedgerError
        If the file is empty and none is to be created.
    """
    version = store.version()
    if version == 0 and not create:
        raise LedgerError(
            "the file is empty.", "Put the ledger back, or remove the empty file and keep a plan."
        )
    if version < len(MIGRATIONS):
        if version:
            copy_before_migration(store, folder, version)
        store.migrate()


def _copy(store: Store, folder: Path, name: str) -> Path | None:
    place = copies_folder(folder)
    path = place / f"{name}.sqlite"
    if path.exists():
        return None
    try:
        place.mkdir(exist_ok=True)
        store.copy_to(path)
        for old in sorted(place.glob("[0-9]*.sqlite"))[:-KEEP_COPIES]:
            old.unlink(missing_ok=True)
    except OSError as error:
        raise LedgerError(f"{path} could not be written ({error.strerror}).", "Make room for it.") from error
    return path


def parts_about(whom: str, persons: tuple[Person, ...], rows: tuple[Row, ...]) -> tuple[tuple[int, str], ...]:
    """The (entry, part) not yet erased that are about a buyer of that name, or about the parcel of that
    name.
    """
    key = buyer_key(whom)
    parcels = {row.seq: row.parcel for row in rows}
    return tuple(
        (person.seq, person.part)
        for person in persons
        if not person.is_erased
        and (key == person.buyer or key in (buyer_key(person.part), buyer_key(parcels.get(person.seq, ""))))
    )


def erase_in_copies(
    folder: Path, whom: str, blanked: tuple[tuple[int, str], ...]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The copies in which a buyer, and all that the ledger has erased, was erased; and those where that
    failed.
    """
    cleaned: list[str] = []
    failed: list[str] = []
    for path in copies_in(folder):
        try:
            if _erase_in(path, whom, frozenset(blanked)):
                cleaned.append(path.name)
        except LedgerError:
            failed.append(path.name)
    return tuple(cleaned), tuple(failed)


def _erase_in(path: Path, whom: str, blanked: frozenset[tuple[int, str]]) -> bool:
    """Was there anything to erase in this copy?"""
    store = Store.at(path)
    try:
        if store.version() == 0:
            return False
        persons = store.persons()
        there = {(person.seq, person.part) for person in persons if not person.is_erased}
        gone = there & (blanked | frozenset(parts_about(whom, persons, store.rows())))
        if gone:
            with store.writing():
                store.blank(tuple(sorted(gone)))
        store.sweep()
        return bool(gone)
    finally:
        store.close()
