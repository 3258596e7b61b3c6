"""An older or another ledger put back stops recording and planning until the breeder says which is right."""

from __future__ import annotations

import errno
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from shipping.ledger.errors import LedgerError, has_ledger
from shipping.ledger.journal import copies
from shipping.ledger.journal.copies import put_back
from shipping.ledger.journal.journal import STATE_VARIABLE, keep_head, known_heads, state_folder
from shipping.ledger.ledger import Ledger
from shipping.ledger.planning_again import shelf_left
from tests.killed import done_until_killed
from tests.ledger.desk import TODAY, ledger_with_two_parcels, two_parcels
from tests.ledger.invented import lot, shelf
from tests.ledger.whole import audit

ONLY_THERE = "Entries that are not in the ledger now: 1 (2 2026-W49-02). Record them again."
SHELF = replace(shelf(lots=(lot("L1"), lot("L2"), lot("L3"))))


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    """A shelf with two parcels kept and one packed, and the folder as it was before packing beside it."""
    folder = tmp_path / "desk"
    folder.mkdir()
    with ledger_with_two_parcels(folder):
        pass
    shutil.copytree(folder, tmp_path / "old")
    with Ledger.open(folder, TODAY) as ledger:
        ledger.pack("2026-W49-01")
    return folder


def stopped(folder: Path, words: str) -> None:
    with Ledger.open(folder, TODAY) as ledger:
        with pytest.raises(LedgerError, match=words):
            ledger.pack("2026-W49-02")
        with pytest.raises(LedgerError, match=words):
            shelf_left(SHELF, ledger)
        assert ledger.entries()


def test_an_older_file_put_back_stops_recording_and_planning(desk: Path) -> None:
    shutil.copy(desk.parent / "old" / "ledger.sqlite", desk / "ledger.sqlite")
    stopped(desk, "its last entry is 1, its checksum knows 2: it is older, or another ledger")


def test_a_whole_old_folder_put_back_is_known_by_the_state_folder(desk: Path) -> None:
    shutil.rmtree(desk)
    shutil.move(desk.parent / "old", desk)
    stopped(desk, "your own state folder knows 2")


def test_the_ledger_of_another_shelf_is_known_by_the_state_folder_and_a_new_one_may_be_begun(
    desk: Path,
) -> None:
    other = desk.parent / "other"
    other.mkdir()
    with ledger_with_two_parcels(other):
        pass
    shutil.rmtree(desk)
    shutil.copytree(other, desk)
    stopped(desk, "its last entry is 1, your own state folder knows 2: it is older, or another ledger")
    with Ledger.open(desk, TODAY) as ledger:
        ledger.accept()
        ledger.pack("2026-W49-02")
    shutil.rmtree(desk)
    desk.mkdir()
    with ledger_with_two_parcels(desk) as ledger:
        ledger.pack("2026-W49-02")


def test_a_newer_copy_alone_is_enough_to_stop(desk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(STATE_VARIABLE, str(desk.parent / "another user"))
    for name in ("ledger.sqlite", "ledger.sqlite.checksum"):
        shutil.copy(desk.parent / "old" / name, desk / name)
    stopped(desk, r"the copy 2026-11-30\.sqlite knows 2")


def test_another_branch_of_the_same_ledger_is_noticed(desk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    old = desk.parent / "old"
    monkeypatch.setenv(STATE_VARIABLE, str(desk.parent / "another user"))
    with Ledger.open(old, TODAY) as ledger:
        ledger.drop("2026-W49-01")
    monkeypatch.undo()
    for name in ("ledger.sqlite", "ledger.sqlite.checksum"):
        shutil.copy(old / name, desk / name)
    stopped(desk, "its entry 2 is not the one that .* knows: it is another ledger")


def test_a_copy_of_a_shelf_elsewhere_is_a_shelf_of_its_own(desk: Path) -> None:
    with Ledger.open(desk.parent / "old", TODAY) as ledger:
        ledger.pack("2026-W49-02")
        shelf_left(SHELF, ledger)
    with Ledger.open(desk, TODAY) as ledger:
        ledger.pack("2026-W49-02")


def test_the_way_back_is_one_step_and_loses_nothing_that_a_copy_knows(desk: Path) -> None:
    shutil.copy(desk.parent / "old" / "ledger.sqlite", desk / "ledger.sqlite")
    done = put_back(desk)
    assert (done.copy, done.entries) == ("2026-11-30.sqlite", 2)
    assert (desk / done.before).is_file()
    with Ledger.open(desk, TODAY) as ledger:
        assert ledger.accept() is None
        assert ledger.parcel("2026-W49-01").state == "packed"
        ledger.pack("2026-W49-02")
    assert audit(desk) == ()


def test_what_only_the_file_before_had_is_named_to_be_recorded_again(
    desk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two machines went on from one copy: what the other recorded was said to be known to nobody."""
    other = desk.parent / "old"
    monkeypatch.setenv(STATE_VARIABLE, str(desk.parent / "another user"))
    with Ledger.open(other, TODAY) as ledger:
        ledger.pack("2026-W49-02")
    monkeypatch.undo()
    shutil.copy(other / "ledger.sqlite", desk / "ledger.sqlite")
    done = put_back(desk)
    assert done.missing() == ONLY_THERE
    assert put_back(desk) == done, "what was put back is told until something is recorded"
    with Ledger.open(desk, TODAY) as ledger:
        ledger.pack("2026-W49-02")
    assert put_back(desk).missing() == ""


@pytest.mark.slow
def test_a_way_back_that_is_killed_at_any_write_leaves_a_ledger_and_tells_what_only_the_file_before_had(
    desk: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(STATE_VARIABLE, str(tmp_path / "another user"))
    other, kept = tmp_path / "old", tmp_path / "as it was"
    with Ledger.open(other, TODAY) as ledger:
        ledger.pack("2026-W49-02")
    shutil.copy(other / "ledger.sqlite", desk / "ledger.sqlite")
    shutil.copytree(desk, kept)
    at, is_done = 0, False
    while not is_done:
        at += 1
        shutil.rmtree(desk)
        shutil.copytree(kept, desk)
        is_done = done_until_killed(desk, at, lambda: put_back(desk))
        assert (desk / "ledger.sqlite").is_file(), at
        assert put_back(desk).missing() == ONLY_THERE, at
        assert audit(desk) == (), at


def test_where_the_disk_is_full_the_ledger_that_was_there_stays(
    desk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It was set aside first, and then there was none."""
    shutil.copy(desk.parent / "old" / "ledger.sqlite", desk / "ledger.sqlite")
    before = {path.name: path.read_bytes() for path in desk.glob("ledger.sqlite*")}

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(copies, "write_whole", full)
    with pytest.raises(LedgerError, match="could not be put back"):
        put_back(desk)
    assert {path.name: path.read_bytes() for path in desk.glob("ledger.sqlite*")} == before


def test_a_damaged_ledger_is_put_back_from_its_copy(desk: Path) -> None:
    whole = bytearray((desk / "ledger.sqlite").read_bytes())
    whole[whole.index(b'"eggs":24') + 8] ^= 1
    (desk / "ledger.sqlite").write_bytes(whole)
    put_back(desk)
    with Ledger.open(desk, TODAY) as ledger:
        ledger.pack("2026-W49-02")
    assert audit(desk) == ()


def test_a_copy_whose_entries_do_not_follow_one_another_is_not_put_back(desk: Path) -> None:
    """Sound as a file, yet one count in it is another: the copy is passed over, and nothing is touched."""
    (copy,) = (desk / "ledger-copies").glob("*.sqlite")
    whole = bytearray(copy.read_bytes())
    whole[whole.index(b'"eggs":24') + 8] ^= 1
    copy.write_bytes(whole)
    before = (desk / "ledger.sqlite").read_bytes()
    with pytest.raises(LedgerError, match="there is no copy that is whole"):
        put_back(desk)
    assert (desk / "ledger.sqlite").read_bytes() == before


@pytest.mark.parametrize("newer", ["ledger.sqlite", "ledger-copies/2026-11-30.sqlite"])
def test_what_a_newer_program_wrote_is_not_put_aside_for_an_older_copy(desk: Path, newer: str) -> None:
    with closing(sqlite3.connect(desk / newer)) as file:
        file.execute("PRAGMA user_version=99")
    before = (desk / "ledger.sqlite").read_bytes()
    with pytest.raises(LedgerError, match="a newer version of the program wrote it"):
        put_back(desk)
    assert (desk / "ledger.sqlite").read_bytes() == before


def test_a_ledger_said_to_be_right_names_what_only_the_copies_put_aside_have(
    desk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(STATE_VARIABLE, str(desk.parent / "another user"))
    shutil.copy(desk.parent / "old" / "ledger.sqlite", desk / "ledger.sqlite")
    with Ledger.open(desk, TODAY) as ledger:
        ledger.accept()
        assert ledger.notices == [ONLY_THERE.replace("W49-02", "W49-01")]


def test_a_ledger_said_to_be_right_goes_on_and_says_so(desk: Path) -> None:
    shutil.copy(desk.parent / "old" / "ledger.sqlite", desk / "ledger.sqlite")
    with Ledger.open(desk, TODAY) as ledger:
        entry = ledger.accept()
        assert entry is not None
        assert ledger.history()[-1].text == "this ledger was said to be right, though others knew 2 entries"
        ledger.pack("2026-W49-02")
        with pytest.raises(LedgerError, match="said that this ledger is right"):
            ledger.undo(entry.seq)
    with Ledger.open(desk, TODAY + timedelta(days=1)) as ledger:
        shelf_left(SHELF, ledger)
        ledger.send("2026-W49-02")
    assert audit(desk) == ()
    assert list((desk / "ledger-copies" / "set-aside").iterdir())


def test_the_state_folder_is_this_systems_and_is_never_needed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(STATE_VARIABLE)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    assert state_folder().is_relative_to(tmp_path)
    (tmp_path / "in the way").write_text("no folder", encoding="utf-8")
    monkeypatch.setenv(STATE_VARIABLE, str(tmp_path / "in the way"))
    assert keep_head(tmp_path, "first", 1, "digest") is False
    assert list(known_heads(tmp_path, "first")) == []


def test_a_first_plan_that_is_refused_leaves_no_file_behind(tmp_path: Path) -> None:
    with (
        Ledger.open(tmp_path, TODAY, create=True) as ledger,
        pytest.raises(LedgerError, match="this is not a plan"),
    ):
        ledger.keep_plan({"week": "2026-W49", "parcels": [{"parcel": "2026-W49-01"}]})
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "ledger.sqlite").touch()
    assert not has_ledger(tmp_path)
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        ledger.keep_plan(two_parcels())
    assert has_ledger(tmp_path)


@pytest.mark.parametrize(
    ("system", "where"),
    [("darwin", "Library/Application Support/spawnpost"), ("linux", ".local/state/spawnpost")],
)
def test_what_is_known_is_kept_where_the_system_keeps_such_things(
    system: str, where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(STATE_VARIABLE, raising=False)
    monkeypatch.delenv("XDG_STATE_HOME", raising=False)
    monkeypatch.setattr("sys.platform", system)
    assert state_folder() == Path.home() / where
