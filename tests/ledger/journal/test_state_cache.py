"""What stands beside the ledger saves reading all entries, and is believed only of these very bytes."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from shipping.ledger.entries import LineReport
from shipping.ledger.erasing import erase_buyer
from shipping.ledger.journal.state_cache import state_path
from shipping.ledger.ledger import Ledger
from tests.ledger.desk import TODAY, ledger_with_two_parcels
from tests.ledger.test_state_machine import assert_stands_as_recorded
from tests.ledger.whole import audit

ITEM = "RR473124829GB"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01", anyway="Ida rang", answered=("look-first",))
        ledger.send("2026-W49-01", item=ITEM)
        ledger.arrive("2026-W49-01", [LineReport(order="S10", line=1, alive=12)], note="Ida wrote")
        ledger.open_claim("2026-W49-01", ("S10", 1), "short", note="Ida is sad")
    return tmp_path


def is_quick(folder: Path) -> bool:
    """Was what stands taken from beside the ledger, without its entries?"""
    with Ledger.open(folder, TODAY) as ledger:
        quick = ledger._unread == ledger.count
        assert_stands_as_recorded(ledger)
        return quick


def test_entries_are_not_read_again_where_the_bytes_are_the_same(folder: Path) -> None:
    assert is_quick(folder)


def test_a_later_entry_of_another_window_is_read_on_top(folder: Path) -> None:
    with Ledger.open(folder, TODAY) as ours, Ledger.open(folder, TODAY) as theirs:
        theirs.pack("2026-W49-02")
        assert ours.parcel("2026-W49-02").state == "packed"
        assert_stands_as_recorded(ours)
        theirs.undo()
        assert ours.parcel("2026-W49-02").state == "planned"
        theirs.pack("2026-W49-02")
        theirs.undo()
        assert ours.parcel("2026-W49-02").state == "planned"
        assert_stands_as_recorded(ours)


def test_it_is_not_believed_of_other_bytes_of_the_ledger(folder: Path) -> None:
    beside = state_path(folder / "ledger.sqlite")
    before = beside.read_bytes()
    with Ledger.open(folder, TODAY) as ledger:
        ledger.pack("2026-W49-02")
    beside.write_bytes(before)
    assert not is_quick(folder)
    assert audit(folder) == ()


def test_it_is_not_believed_with_a_bit_of_its_own_changed(folder: Path) -> None:
    beside = state_path(folder / "ledger.sqlite")
    whole = beside.read_bytes()
    for at in range(0, len(whole), 97):
        beside.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        assert not is_quick(folder), at
    beside.write_bytes(whole)
    assert is_quick(folder)


def test_a_ledger_without_it_is_read_whole_and_gets_one_with_the_next_entry(folder: Path) -> None:
    state_path(folder / "ledger.sqlite").unlink()
    assert not is_quick(folder)
    assert not state_path(folder / "ledger.sqlite").exists()
    with Ledger.open(folder, TODAY) as ledger:
        ledger.pack("2026-W49-02")
    assert is_quick(folder)


def test_it_holds_nothing_personal(folder: Path) -> None:
    text = state_path(folder / "ledger.sqlite").read_text(encoding="utf-8")
    for told in ("Ida", "Jørn", "Åkesson", ITEM, "rang", "sad"):
        assert told not in text
    with Ledger.open(folder, TODAY) as ledger:
        assert ledger.parcel("2026-W49-01").buyer == "Ida Holm"
        assert ledger.parcel("2026-W49-01").item == ITEM
        assert ledger.parcel("2026-W49-01").claims[0].note == "Ida is sad"


def test_a_name_that_was_erased_does_not_come_back_from_it(folder: Path) -> None:
    erase_buyer(folder, TODAY, "Ida Holm")
    assert is_quick(folder)
    with Ledger.open(folder, TODAY) as ledger:
        assert (ledger.parcel("2026-W49-01").buyer, ledger.parcel("2026-W49-01").item) == ("", "")


def test_the_audit_tells_where_it_is_not_what_the_entries_say(folder: Path) -> None:
    beside = state_path(folder / "ledger.sqlite")
    content = beside.read_bytes().partition(b"\n")[2].replace(b'"arrived"', b'"sent"')
    beside.write_bytes(hashlib.sha256(content).hexdigest().encode() + b"\n" + content)
    assert [str(problem) for problem in audit(folder)] == [
        "ledger.sqlite.state: it is not what the entries say. Remove this file; it is made again."
    ]
