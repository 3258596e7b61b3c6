"""How far the ledger is known to have been: a folder in, numbers and digests of entries known elsewhere out.

Known by the checksum beside it, by the newest copy, and by the user's own state folder outside the shelf, so
that a whole old folder put back, or the ledger of another shelf, is noticed, too.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from shipping.ledger.errors import LEDGER_FILE, LedgerError
from shipping.ledger.journal.copies import copies_in
from shipping.ledger.journal.file_bytes import read_checksum
from shipping.ledger.journal.store import Store
from shipping.tables.files.whole_file import write_whole
from shipping.words.sentence import say

#: Names another state folder than the system's; tests set it.
STATE_VARIABLE = "SPAWNPOST_STATE"


@dataclass(frozen=True, slots=True)
class Head:
    """The last entry somebody knows: its number, its digest, and who knows it."""

    entries: int
    digest: str
    known_by: str


def state_folder() -> Path:
    """Where this user's programs keep their state; nothing is made yet."""
    if named := os.environ.get(STATE_VARIABLE):
        return Path(named)
    home = Path.home()
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "spawnpost"
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "spawnpost"
    return Path(os.environ.get("XDG_STATE_HOME") or home / ".local" / "state") / "spawnpost"


def _state_file(folder: Path, first: str) -> Path:
    """One file for each place and ledger: a copy of a shelf elsewhere is a shelf of its own. Without a first
    entry it is that of the ledger last used at the place.
    """
    key = hashlib.sha256(f"{_resolved(folder)}\n{first}".encode()).hexdigest()[:32]
    return state_folder() / "ledgers" / f"{key}.json"


@lru_cache(maxsize=16)
def _resolved(folder: Path) -> Path:
    return folder.resolve()


def keep_head(folder: Path, first: str, entries: int, digest: str) -> bool:
    """Write down outside the shelf how far the ledger is; ``first`` is its first entry's digest.

    False where the state folder cannot be written to: the ledger is none the worse, it is only less guarded.
    """
    known = json.dumps({"entries": entries, "head": digest, "first": first}).encode()
    try:
        path = _state_file(folder, first)
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, known)
        write_whole(_state_file(folder, ""), known)
    except (OSError, RuntimeError):
        return False
    return True


def known_heads(folder: Path, first: str) -> Iterator[Head]:
    """Every head that is known beside the ledger itself."""
    checksum = read_checksum(folder / LEDGER_FILE)
    if checksum is not None:
        yield Head(checksum.entries, checksum.head, say("its checksum"))
    for begun in (first, "") if first else ():  # a ledger that is begun may follow on one that was removed
        with contextlib.suppress(OSError, ValueError, KeyError, TypeError, RuntimeError):
            known = json.loads(_state_file(folder, begun).read_text(encoding="utf-8"))
            yield Head(int(known["entries"]), str(known["head"]), say("your own state folder"))
    for path in copies_in(folder)[-1:]:
        with contextlib.suppress(LedgerError), Store.of_copy(path) as store:
            entries, digest = store.head()
            yield Head(entries, digest, say("the copy {name}", path.name))


def unlike(entries: int, digest_of: Callable[[int], str], heads: Iterator[Head]) -> Head | None:
    """The furthest head that is not one of the ledger's own entries; None where all are."""
    wrong = [
        head
        for head in heads
        if head.entries and (head.entries > entries or digest_of(head.entries) != head.digest)
    ]
    return max(wrong, key=lambda head: head.entries, default=None)


def check_heads(entries: int, digest_of: Callable[[int], str], heads: Iterator[Head]) -> None:
    """Raises LedgerError if anybody knows more entries than these digests tell, or others."""
    head = unlike(entries, digest_of, heads)
    if head is None:
        return
    if head.entries > entries:
        told = (entries, head.known_by, head.entries)
        what = say(
            "its last entry is {entries}, {known_by} knows {known}: it is older, or another ledger", *told
        )
    else:
        of = (head.entries, head.known_by)
        what = say("its entry {entries} is not the one that {known_by} knows: it is another ledger", *of)
    raise LedgerError(
        say("{what}. Nothing was recorded or planned.", what),
        "Go on from the newest copy: spawnpost copy --back; or say that this one is: spawnpost copy --right.",
    )
