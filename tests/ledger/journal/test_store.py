"""The file itself: only added to, never half written, and plain words for whatever stands in the way."""

from __future__ import annotations

import os
import resource
import signal
import sqlite3
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from shipping.ledger.entries import chain_digest
from shipping.ledger.errors import LedgerError, has_ledger
from shipping.ledger.journal import store
from shipping.ledger.journal.store import EntryRow, Person, Store, first_unchained
from shipping.ledger.ledger import Ledger
from tests.ledger.desk import COUNTED, TODAY, draw, ledger_with_two_parcels, line, parcel, plan, two_parcels
from tests.ledger.whole import audit


def in_child(work: Callable[[], object]) -> str:
    """What `work` said in a process of its own: ``done``, or the trouble it met."""
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            work()
            said = "done"
        except LedgerError as trouble:
            said = str(trouble)
        except BaseException as error:
            said = f"bug: {error!r}"
        os.write(write_end, said.encode())
        os._exit(0)
    os.close(write_end)
    with os.fdopen(read_end, "rb") as pipe:
        said = pipe.read().decode()
    os.waitpid(child, 0)
    return said


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET facts = '{}' WHERE seq = 1",
        "DELETE FROM entry WHERE seq = 1",
        "INSERT INTO entry VALUES (9, '2026-11-30', 'packed', '', '{}', '{}', '', '')",
        "INSERT OR REPLACE INTO entry VALUES (1, '2026-11-30', 'packed', '', '{}', '{}', '', '')",
        "DELETE FROM person",
        "UPDATE person SET facts = '{}'",
        "UPDATE person SET buyer = '', facts = ''",
        "UPDATE person SET salt = '', facts = ''",
        "INSERT INTO entry VALUES (2, 1.5, 'packed', '', x'00', '{}', '', '')",
    ],
)
def test_the_database_itself_refuses_to_change_what_was_recorded(tmp_path: Path, statement: str) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    connection = sqlite3.connect(tmp_path / "ledger.sqlite")
    with pytest.raises(sqlite3.IntegrityError):
        connection.execute(statement)
    connection.close()


def test_the_file_is_one_file_forced_to_the_disk(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        connection = ledger.store._connection
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        assert connection.execute("PRAGMA synchronous").fetchone() == (2,)
        assert sorted(path.name for path in tmp_path.glob("ledger.sqlite*")) == ["ledger.sqlite"]


def test_looking_writes_nothing(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    before = {
        path: (path.read_bytes(), path.stat().st_mtime_ns) for path in tmp_path.rglob("*") if path.is_file()
    }
    with Ledger.open(tmp_path, TODAY) as ledger:
        ledger.history()
        ledger.parcel_states()
        assert audit(ledger.folder) == ()
    after = {
        path: (path.read_bytes(), path.stat().st_mtime_ns) for path in tmp_path.rglob("*") if path.is_file()
    }
    assert after == before


def test_no_ledger_is_said_and_none_is_made(tmp_path: Path) -> None:
    with pytest.raises(LedgerError, match="there is none in"):
        Ledger.open(tmp_path, TODAY)
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_said(tmp_path: Path) -> None:
    with pytest.raises(LedgerError, match="cannot be written to"):
        Ledger.open(tmp_path / "nowhere", TODAY, create=True)


def test_another_programs_database_is_left_alone(tmp_path: Path) -> None:
    connection = sqlite3.connect(tmp_path / "ledger.sqlite")
    connection.execute("CREATE TABLE tank (name TEXT)")
    connection.commit()
    connection.close()
    before = (tmp_path / "ledger.sqlite").read_bytes()
    with pytest.raises(LedgerError, match="a database of another program"):
        Ledger.open(tmp_path, TODAY, create=True)
    assert (tmp_path / "ledger.sqlite").read_bytes() == before


def test_a_file_that_is_no_database_is_said_to_be_damaged(tmp_path: Path) -> None:
    (tmp_path / "ledger.sqlite").write_bytes(b"lot;eggs\n" * 200)
    with pytest.raises(LedgerError, match="is damaged or is no ledger"):
        Ledger.open(tmp_path, TODAY)


def test_a_newer_programs_file_is_refused_and_not_touched(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    connection = sqlite3.connect(tmp_path / "ledger.sqlite")
    connection.execute(f"PRAGMA user_version={len(store.MIGRATIONS) + 1}")
    connection.close()
    before = (tmp_path / "ledger.sqlite").read_bytes()
    with pytest.raises(LedgerError, match=r"a newer version of the program wrote it .* Update the program"):
        Ledger.open(tmp_path, TODAY)
    assert (tmp_path / "ledger.sqlite").read_bytes() == before


def test_a_migration_is_whole_and_copied_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01")
    newer = (*store.MIGRATIONS, ("CREATE TABLE shelf_note (day TEXT NOT NULL) STRICT",))
    for module in ("store", "copies"):
        monkeypatch.setattr(f"shipping.ledger.journal.{module}.MIGRATIONS", newer)
    with Ledger.open(tmp_path, TODAY) as ledger:
        assert ledger.parcel("2026-W49-01").state == "packed"
        assert audit(ledger.folder) == ()
    copy = store.Store.at(tmp_path / "ledger-copies" / "before-version-2.sqlite")
    assert copy.version() == 1
    assert len(copy.rows()) == 2
    copy.close()


def test_a_migration_that_fails_leaves_the_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    broken = (
        *store.MIGRATIONS,
        ("CREATE TABLE shelf_note (day TEXT NOT NULL) STRICT", "CREATE TABLE entry (x)"),
    )
    with monkeypatch.context() as patch:
        for module in ("store", "copies"):
            patch.setattr(f"shipping.ledger.journal.{module}.MIGRATIONS", broken)
        with pytest.raises(LedgerError):
            Ledger.open(tmp_path, TODAY)
    with Ledger.open(tmp_path, TODAY) as ledger:
        assert audit(ledger.folder) == ()
        assert len(ledger.entries()) == 1


def test_a_locked_ledger_is_said_and_nothing_is_recorded(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    other = sqlite3.connect(tmp_path / "ledger.sqlite", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with Ledger.open(tmp_path, TODAY, patience_s=0.05) as ledger:
        with pytest.raises(LedgerError, match="another window or program is writing"):
            ledger.pack("2026-W49-01")
        other.execute("ROLLBACK")
        other.close()
        ledger.pack("2026-W49-01")
        assert audit(ledger.folder) == ()


def test_a_ledger_moved_away_while_open_swallows_nothing(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        (tmp_path / "ledger.sqlite").rename(tmp_path / "elsewhere.sqlite")
        with pytest.raises(LedgerError, match="was moved or replaced while it was open"):
            ledger.pack("2026-W49-01")
        (tmp_path / "elsewhere.sqlite").rename(tmp_path / "ledger.sqlite")
        ledger.pack("2026-W49-01")


def test_a_ledger_replaced_by_its_own_copy_while_open_swallows_nothing(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    with ledger_with_two_parcels(tmp_path) as ledger:
        copy = tmp_path / "copy.sqlite"
        copy.write_bytes(path.read_bytes())
        copy.replace(path)
        with pytest.raises(LedgerError, match="was moved or replaced while it was open"):
            ledger.pack("2026-W49-01")


def test_a_folder_that_cannot_be_written_to_can_still_be_read() -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with ledger_with_two_parcels(folder):
            pass
        (folder / "ledger.sqlite").chmod(0o444)
        folder.chmod(0o555)

        def read_then_write() -> None:
            if os.geteuid() == 0:
                os.setuid(65534)
            with Ledger.open(folder, TODAY) as ledger:
                assert ledger.parcel_states() == {"2026-W49-01": "planned", "2026-W49-02": "planned"}
                ledger.pack("2026-W49-01")

        said = in_child(read_then_write)
        folder.chmod(0o755)
    assert "cannot be written to; nothing was recorded. Make the shelf's folder writable" in said


@pytest.mark.parametrize("room", range(0, 40_000, 2_500))
def test_a_full_disk_records_all_or_nothing_and_says_so(tmp_path: Path, room: int) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    size = (tmp_path / "ledger.sqlite").stat().st_size
    many = [
        parcel(f"2026-W50-{n:02d}", f"Buyer {n}", line(f"T{n}", 1, 10, draw("L1", 12))) for n in range(40)
    ]

    def keep_a_big_plan() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size - 8192 + room, size - 8192 + room))
        with Ledger.open(tmp_path, TODAY) as ledger:
            ledger.keep_plan(plan(*many, week="2026-W50"))

    said = in_child(keep_a_big_plan)
    assert said == "done" or "the disk is full or refuses to write; nothing was recorded." in said, said
    assert audit(tmp_path) == ()
    with Ledger.open(tmp_path, TODAY) as ledger:
        assert len(ledger.entries()) == (2 if said == "done" else 1)
        ledger.pack("2026-W49-01", counted=COUNTED)


def test_a_disk_that_fills_up_later_stops_with_what_fitted(tmp_path: Path) -> None:
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        ledger.keep_plan(two_parcels())
        pages = ledger.store._connection.execute("PRAGMA page_count").fetchone()[0]
        ledger.store._connection.execute(f"PRAGMA max_page_count={pages + 2}")
        many = [
            parcel(f"2026-W50-{n:02d}", f"Buyer {n}", line(f"T{n}", 1, 10, draw("L1", 12))) for n in range(40)
        ]
        with pytest.raises(LedgerError, match="the disk is full"):
            ledger.keep_plan(plan(*many, week="2026-W50"))
        assert ledger.pack("2026-W49-01").seq == 2
        assert audit(ledger.folder) == ()


def chained(*facts: str) -> list[EntryRow]:
    """Entries that say these facts, each with the digest of the one before it."""
    rows: list[EntryRow] = []
    for number, text in enumerate(facts, start=1):
        before = rows[-1].digest if rows else ""
        said = ("2026-11-30", "packed", "2026-W49-01", text, "{}")
        rows.append(EntryRow(number, *said, before, chain_digest(before, number, *said)))
    return rows


@pytest.mark.parametrize("field", ["seq", "day", "kind", "parcel", "facts", "personal", "before", "digest"])
def test_the_first_row_of_which_any_field_is_not_as_recorded_is_named(field: str) -> None:
    first, second, third = chained("a", "b", "c")
    assert first_unchained([first, second, third]) == 0
    other = replace(second, **{field: 9 if field == "seq" else "another"})
    assert first_unchained([first, other, third]) == 2


def test_a_row_that_is_gone_or_recorded_anew_breaks_the_chain_at_the_next() -> None:
    first, second, third = chained("a", "b", "c")
    assert first_unchained([first, third]) == 2
    assert first_unchained([*chained("another"), second, third]) == 2


@pytest.mark.parametrize("left", ["buyer", "salt", "facts"])
def test_a_person_is_erased_only_where_nothing_is_left(left: str) -> None:
    assert Person(1, "", "", "", "").is_erased
    assert not replace(Person(1, "", "", "", ""), **{left: "x"}).is_erased


def test_a_ledger_that_holds_anything_is_not_removed(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    store_of_it = Store.at(tmp_path / "ledger.sqlite")
    store_of_it.remove_if_empty()
    store_of_it.close()
    assert (tmp_path / "ledger.sqlite").is_file()


@pytest.mark.parametrize("written", [0, 2000])
def test_a_ledger_whose_first_writing_was_killed_is_none_yet_and_is_begun_by_keeping_a_plan(
    tmp_path: Path, written: int
) -> None:
    """Killed before anything was written, and with pages half written beside their journal."""
    path, child = tmp_path / "ledger.sqlite", os.fork()
    if child == 0:
        try:
            half = sqlite3.connect(path, isolation_level=None)
            for statement in ("PRAGMA cache_size=1", "BEGIN IMMEDIATE", "CREATE TABLE entry (facts)"):
                half.execute(statement)
            half.executemany("INSERT INTO entry VALUES (?)", [("x" * 900,)] * written)
        finally:
            os.kill(os.getpid(), signal.SIGKILL)
    os.waitpid(child, 0)
    assert (path.stat().st_size > 0) == (written > 0)
    assert not has_ledger(tmp_path)
    with pytest.raises(LedgerError, match="Keep a plan first"):
        Ledger.open(tmp_path, TODAY)
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        assert ledger.keep_plan(two_parcels()).seq == 1


def test_a_writing_that_is_broken_off_by_the_keyboard_leaves_nothing_and_the_next_one_goes_on(
    tmp_path: Path,
) -> None:
    def broken_off(digest: str) -> None:
        with ledger.store.writing():
            ledger.store.add(EntryRow(2, "2026-11-30", "packed", "", "{}", "{}", digest, "x"), ())
            raise KeyboardInterrupt

    with ledger_with_two_parcels(tmp_path) as ledger:
        head = ledger.store.head()
        with pytest.raises(KeyboardInterrupt):
            broken_off(head[1])
        assert ledger.store.head() == head
        ledger.pack("2026-W49-01", counted=COUNTED)
        assert ledger.store.head()[0] == 2
