"""Bytes of the file that a database here has open, and a digest of them beside it.

Closing any descriptor of a file drops every lock that the process holds on it, the database's own too. So the
descriptors are lent, and closed only when nobody here has that file open any more.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import threading
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path

from shipping.tables.files.whole_file import write_whole

#: How much is read at a time [bytes].
_CHUNK = 1 << 20


@dataclass(slots=True)
class _Lent:
    """Descriptors of one file: how many are in use, and those given back meanwhile."""

    in_use: int = 0
    idle: list[int] = field(default_factory=list)


_lock = threading.Lock()
_lent: dict[tuple[int, int], _Lent] = {}


class FileBytes:
    """The bytes of one file, whatever is put under its name later; close it after the database."""

    def __init__(self, path: Path) -> None:
        with _lock:
            stat = os.stat(path)
            known = _lent.get((stat.st_dev, stat.st_ino))
            self._descriptor = (
                known.idle.pop()
                if known and known.idle
                else os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0))
            )
            stat = os.fstat(self._descriptor)
            self.identity = (stat.st_dev, stat.st_ino)
            _lent.setdefault(self.identity, _Lent()).in_use += 1

    def close(self) -> None:
        """Give the descriptor back; the last one to do so closes them all."""
        with _lock:
            lent = _lent[self.identity]
            lent.in_use -= 1
            lent.idle.append(self._descriptor)
            if not lent.in_use:
                for descriptor in _lent.pop(self.identity).idle:
                    os.close(descriptor)

    def size(self) -> int:
        """How long the file is now [bytes]."""
        return os.fstat(self._descriptor).st_size

    def chunks(self) -> Iterator[memoryview]:
        """All bytes from the first, a piece at a time; each piece holds until the next is asked for."""
        with self._from_start() as file:
            buffer = memoryview(bytearray(_CHUNK))
            while length := file.readinto(buffer):
                yield buffer[:length]

    def first(self, length: int) -> bytes:
        """The first bytes."""
        with self._from_start() as file:
            return file.read(length)

    def sha256(self) -> str:
        """The SHA-256 of all bytes [64 hex digits]."""
        with self._from_start() as file:
            return hashlib.file_digest(file, "sha256").hexdigest()

    def _from_start(self) -> io.FileIO:
        file = io.FileIO(self._descriptor, closefd=False)
        file.seek(0)
        return file


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
