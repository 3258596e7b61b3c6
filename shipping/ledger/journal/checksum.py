"""A digest of the whole file beside it, so that a changed byte is noticed even where it holds no entry.

Bytes or a folder in, a checksum out. It is written whenever the ledger is closed after writing; where that
did not happen (a crash), it speaks of an older state and is left out of account.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path

from shipping.ledger.journal.file_bytes import FileBytes, write_whole

_HEADER = 100
_CHANGES_AT = slice(24, 28)
_VALID_FOR_AT = slice(92, 96)


@dataclass(frozen=True, slots=True)
class Checksum:
    """The state it speaks of (entries, last digest, count of changes) and the SHA-256 of all bytes."""

    entries: int
    head: str
    changes: int
    sha256: str


def checksum_of(image: FileBytes, entries: int, head: str) -> Checksum:
    """The checksum of a file's bytes."""
    return Checksum(entries, head, _change_count(image), image.sha256())


def _change_count(image: FileBytes) -> int:
    """The file's own count of changes, from its header."""
    return int.from_bytes(image.first(_HEADER)[_CHANGES_AT], "big")


def has_whole_header(image: FileBytes) -> bool:
    """Do the two places that hold the count of changes agree?"""
    header = image.first(_HEADER)
    return len(header) == _HEADER and header[_CHANGES_AT] == header[_VALID_FOR_AT]


def checksum_path(ledger: Path) -> Path:
    return ledger.with_name(f"{ledger.name}.checksum")


def read_checksum(ledger: Path) -> Checksum | None:
    """The checksum beside the file, or None where there is none that can be read."""
    try:
        return Checksum(**json.loads(checksum_path(ledger).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def write_checksum(ledger: Path, checksum: Checksum) -> bool:
    """Put the checksum beside the file, whole or not at all; False where the folder cannot be written to."""
    try:
        write_whole(checksum_path(ledger), json.dumps(asdict(checksum)).encode())
        ledger.with_name(f"{ledger.name}.seal").unlink(missing_ok=True)  # as it was called before
    except OSError:
        return False
    return True


def is_broken(checksum: Checksum | None, image: FileBytes, head: str) -> bool:
    """Does the checksum speak of this very state, and do the bytes differ all the same?"""
    if checksum is None or (checksum.head, checksum.changes) != (head, _change_count(image)):
        return False
    return checksum.sha256 != image.sha256()
