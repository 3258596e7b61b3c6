"""The way back to a ledger that is whole: a folder of copies in, the furthest whole one in its place out."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from shipping.ledger.errors import LedgerError
from shipping.ledger.journal.checksum import checksum_path
from shipping.ledger.journal.copies import copies_in, set_aside
from shipping.ledger.journal.file_bytes import write_whole
from shipping.ledger.journal.schema import first_unchained
from shipping.ledger.journal.store import LEDGER_FILE, Store
from shipping.words.sentence import say


@dataclass(frozen=True, slots=True)
class PutBack:
    """The copy that is the ledger now, with how many entries, and where the file before it lies."""

    copy: str
    entries: int
    before: str


def put_back(folder: Path) -> PutBack:
    """Make the copy with the most entries that is whole the ledger; the file before it is set aside.

    Raises
    ------
    LedgerError
        If no copy is whole, or the files cannot be written.
    """
    entries, path = max(_whole_copies(folder), default=(0, None))
    if path is None:
        raise LedgerError("there is no copy that is whole.", "Put back a copy of your own.")
    ledger = folder / LEDGER_FILE
    image = gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()
    before = ""
    try:
        for old in (ledger, ledger.with_name(f"{LEDGER_FILE}-journal")):
            if old.exists():
                aside = set_aside(old, folder)
                before = before or aside.relative_to(folder).as_posix()
        checksum_path(ledger).unlink(missing_ok=True)
        write_whole(ledger, image)
    except OSError as error:
        raise LedgerError(
            say("it could not be put back ({strerror}).", error.strerror), "Make room, and try again."
        ) from error
    return PutBack(path.name, entries, before)


def _whole_copies(folder: Path) -> Iterator[tuple[int, Path]]:
    for path in copies_in(folder):
        try:
            with Store.of_copy(path) as store:
                if store.version() and not store.page_problems() and not first_unchained(store.rows()):
                    yield store.head()[0], path
        except LedgerError:
            continue
