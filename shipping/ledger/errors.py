"""Where a ledger lies, and why it could not do what was asked, in two sentences for a breeder."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.sentence import say

LEDGER_FILE = "ledger.sqlite"
#: Where the copies of a ledger are, beside it.
COPIES_FOLDER = "ledger-copies"


class LedgerError(ShelfProblems, ValueError):
    """What stands in the way, and how to mend it, in a sentence each; nothing was recorded."""

    def __init__(self, text: str, mend: str, file: str = LEDGER_FILE) -> None:
        self.text, self.mend = text, mend
        self.problem = Problem(Where(file), "", "ledger", text, mend)
        super().__init__((self.problem,))


class NewerLedger(LedgerError):
    """A newer version of the program wrote it: what it says is not known here."""


#: What the database's codes mean to the breeder, by how they begin, and how to mend it.
_MEANT = (
    (
        ("SQLITE_BUSY", "SQLITE_LOCKED"),
        "another window or program is writing to it and did not finish in time; nothing was recorded.",
        "Close the other window, or wait, and try again.",
    ),
    (
        ("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH"),
        "the file or its folder cannot be written to; nothing was recorded.",
        "Make the shelf's folder writable, or move the shelf to a folder of your own.",
    ),
    (
        ("SQLITE_FULL", "SQLITE_IOERR", "SQLITE_TOOBIG", "SQLITE_NOMEM"),
        "the disk is full or refuses to write; nothing was recorded.",
        "Make room on the disk and try again.",
    ),
)


def database_error(code: str, said: str, file: str) -> LedgerError:
    """What an error of the database means to the breeder."""
    for beginnings, text, mend in _MEANT:
        if code.startswith(beginnings):
            return LedgerError(text, mend, file)
    if code.startswith("SQLITE_CONSTRAINT"):
        refused = say("refused, because {said}; nothing was recorded.", said)
        return LedgerError(refused, "Use undo instead.", file)
    mend = "Go on from the newest copy that is whole: spawnpost copy --back; this file is set aside."
    return LedgerError(say("the file is damaged or is no ledger ({said}).", said), mend, file)


def none_in(folder: Path) -> LedgerError:
    """That there is no ledger in a folder."""
    mend = "Keep a plan first, or put back the file if it was moved away."
    return LedgerError(say("there is none in {parent}.", folder), mend)


def holds_anything(path: Path) -> bool:
    """Is a ledger's file there and not empty? What its first writer, stopped in the middle, left is not."""
    if path.is_file() and path.stat().st_size and path.with_name(f"{path.name}-journal").exists():
        from shipping.ledger.journal.store import Store

        with suppress(LedgerError):
            Store.at(path).close()
    return path.is_file() and path.stat().st_size > 0


def has_ledger(folder: Path) -> bool:
    """Was a ledger begun in the folder, or is one missing that its copies know?"""
    path, copies = folder / LEDGER_FILE, folder / COPIES_FOLDER
    return (
        path.is_dir()
        or holds_anything(path)
        or any(any(copies.glob(pattern)) for pattern in ("*.sqlite", "*.sqlite.gz"))
    )
