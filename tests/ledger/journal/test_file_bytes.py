"""Reading a ledger's bytes beside its database gives up none of the database's locks, and no descriptor."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from shipping.ledger.errors import LedgerError
from shipping.ledger.journal.file_bytes import FileBytes
from shipping.ledger.ledger import Ledger
from tests.ledger.desk import TODAY, ledger_with_two_parcels
from tests.ledger.journal.test_store import in_child


def open_descriptors() -> int:
    """How many descriptors below 256 this process has open."""
    return sum(is_open(number) for number in range(256))


def is_open(number: int) -> bool:
    try:
        os.fstat(number)
    except OSError:
        return False
    return True


def test_a_window_closed_beside_one_that_writes_gives_up_no_lock(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass

    def packed_by_another() -> None:
        with Ledger.open(tmp_path, TODAY, patience_s=0.05) as ledger:
            ledger.pack("2026-W49-01")

    with Ledger.open(tmp_path, TODAY) as ours:
        with ours.store.writing():
            Ledger.open(tmp_path, TODAY).close()
            assert "another window or program is writing" in in_child(packed_by_another)
        assert in_child(packed_by_another) == "done"
        with pytest.raises(LedgerError, match="it is packed already"):
            ours.pack("2026-W49-01")


def test_no_descriptor_stays_open_once_nobody_has_the_file(tmp_path: Path) -> None:
    before = open_descriptors()
    with ledger_with_two_parcels(tmp_path) as ledger:
        for _ in range(20):
            Ledger.open(tmp_path, TODAY).close()
        assert open_descriptors() <= before + 3
        ledger.pack("2026-W49-01")
    assert open_descriptors() == before


def test_bytes_and_digest_are_those_of_the_file_from_its_start_each_time(tmp_path: Path) -> None:
    content = os.urandom(3_000_001)
    (tmp_path / "file").write_bytes(content)
    file = FileBytes(tmp_path / "file")
    for _ in range(2):
        assert file.sha256() == hashlib.sha256(content).hexdigest()
        assert b"".join(bytes(chunk) for chunk in file.chunks()) == content
    assert (file.first(100), file.size()) == (content[:100], len(content))
    file.close()
