"""Copies: one a day after its last entry, and a ledger that is gone is never begun anew over them."""

from __future__ import annotations

import os
import shutil
import signal
from datetime import date, timedelta
from pathlib import Path

import pytest

from shipping.ledger.errors import LedgerError
from shipping.ledger.journal import copies
from shipping.ledger.journal.personal import Wanted
from shipping.ledger.journal.store import EntryRow, Person, Store
from shipping.ledger.ledger import Ledger
from tests.ledger.desk import TODAY, draw, ledger_with_two_parcels, line, parcel, plan
from tests.ledger.whole import audit


def days_of_packing(folder: Path, days: list[date]) -> None:
    """A plan kept on the first day; one is kept on every other."""
    for n, day in enumerate(days):
        with Ledger.open(folder, day, create=n == 0) as ledger:
            week = f"{day.isocalendar()[0]}-W{day.isocalendar()[1]:02d}"
            lines = line(f"T{n}", 1, 9, draw("L1", 9))
            ledger.keep_plan(plan(parcel(f"{week}-{n:03d}", "Ole Lund", lines), week=f"{week}/{n}"))


def test_the_copy_of_a_day_holds_its_last_entry_and_older_ones_are_compact(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01")
    with Ledger.open(tmp_path, TODAY + timedelta(days=1)) as ledger:
        ledger.send("2026-W49-01")
    older, newest = copies.copies_in(tmp_path)
    assert (older.name, newest.name) == ("2026-11-30.sqlite.gz", "2026-12-01.sqlite")
    with Store.of_copy(older) as store:
        assert [row.kind for row in store.rows()] == ["plan kept", "packed"]
    assert newest.read_bytes() == (tmp_path / "ledger.sqlite").read_bytes()
    assert audit(tmp_path) == ()


def test_entries_are_added_to_the_copy_of_the_day_and_it_is_not_written_again(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    (copy,) = copies.copies_in(tmp_path)
    file = copy.stat().st_ino
    for name in ("2026-W49-01", "2026-W49-02"):
        with Ledger.open(tmp_path, TODAY) as ledger:
            ledger.pack(name, anyway="Ida rang", answered=("look-first",))
    assert copy.stat().st_ino == file
    with Store.of_copy(copy) as theirs, Store.of_copy(tmp_path / "ledger.sqlite") as ours:
        assert (theirs.rows(), theirs.persons()) == (ours.rows(), ours.persons())
    assert audit(tmp_path) == ()


@pytest.mark.parametrize("harm", ["cut short", "of another ledger"])
def test_a_copy_that_cannot_be_added_to_is_written_whole(tmp_path: Path, harm: str) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    (copy,) = copies.copies_in(tmp_path)
    if harm == "cut short":
        copy.write_bytes(copy.read_bytes()[:5000])
    else:
        (tmp_path / "other").mkdir()
        with ledger_with_two_parcels(tmp_path / "other"):
            pass
        shutil.copy(tmp_path / "other" / "ledger-copies" / copy.name, copy)
    with Ledger.open(tmp_path, TODAY) as ledger:
        ledger._checked_heads = True  # a copy of another ledger would stop it
        ledger.pack("2026-W49-01")
    assert copy.read_bytes() == (tmp_path / "ledger.sqlite").read_bytes()
    assert audit(tmp_path) == ()


def half_added_to(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The copy of a day to which a writer was adding an entry when it was killed."""
    with ledger_with_two_parcels(folder):
        pass
    (copy,) = copies.copies_in(folder)
    before = copy.read_bytes()
    child = os.fork()
    if child == 0:
        add = Store.add

        def add_and_die(store: Store, row: EntryRow, persons: tuple[Person, ...]) -> None:
            store._connection.execute("PRAGMA cache_size=2")
            add(store, row, persons)
            if store.path == copy:
                os.kill(os.getpid(), signal.SIGKILL)

        monkeypatch.setattr(Store, "add", add_and_die)
        with Ledger.open(folder, TODAY) as ledger:
            many = (parcel(f"2026-W50-{n:02d}", "Jo", line(f"U{n}", 1, 9, draw("L3", 9))) for n in range(60))
            ledger.keep_plan(plan(*many, week="2026-W50"))
        os._exit(0)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status)
    assert copy.read_bytes() != before
    return copy


@pytest.mark.parametrize("clock_was_wrong", [False, True])
def test_a_copy_half_added_to_by_a_killed_writer_is_whole_again_the_next_day(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, clock_was_wrong: bool
) -> None:
    copy = half_added_to(tmp_path, monkeypatch)
    if clock_was_wrong:
        shutil.copy(tmp_path / "ledger.sqlite", copy.with_name("2026-12-24.sqlite"))
    with Ledger.open(tmp_path, TODAY + timedelta(days=1)) as ledger:
        ledger.pack("2026-W49-01")
    with Store.of_copy(copies.copies_in(tmp_path)[0]) as store:
        assert [row.kind for row in store.rows()] == ["plan kept"]
    assert not list(copy.parent.glob("*-journal"))
    assert audit(tmp_path) == ()


def test_a_copy_removed_after_it_was_half_added_to_is_written_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy = half_added_to(tmp_path, monkeypatch)
    copy.unlink()
    with Ledger.open(tmp_path, TODAY) as ledger:
        for name in ("2026-W49-01", "2026-W49-02"):
            ledger.pack(name)
    with Store.of_copy(copy) as theirs, Store.of_copy(tmp_path / "ledger.sqlite") as ours:
        assert theirs.rows() == ours.rows()
    assert audit(tmp_path) == ()


def test_what_is_erased_in_the_ledger_does_not_stay_in_the_copy_of_the_day(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    (copy,) = copies.copies_in(tmp_path)
    assert b"Ida Holm" in copy.read_bytes()
    with Ledger.open(tmp_path, TODAY) as ledger:
        ledger.blank(Wanted.of("Ida Holm", ()))
    assert b"Ida Holm" not in copy.read_bytes()
    assert audit(tmp_path) == ()


def test_a_copy_opens_as_a_ledger_and_never_overwrites(tmp_path: Path) -> None:
    (tmp_path / "away").mkdir()
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01")
        ledger.copy(tmp_path / "away" / "ledger.sqlite")
        with pytest.raises(LedgerError, match=r"exists already\. Name a file that does not exist yet"):
            ledger.copy(tmp_path / "away" / "ledger.sqlite")
        with pytest.raises(LedgerError, match="could not be written"):
            ledger.copy(tmp_path / "nowhere" / "ledger.sqlite")
    with Ledger.open(tmp_path / "away", TODAY) as ledger:
        assert ledger.parcel("2026-W49-01").state == "packed"
        assert audit(ledger.folder) == ()
    assert sorted(path.name for path in (tmp_path / "away").iterdir()) == ["ledger.sqlite"]


@pytest.mark.parametrize("create", [False, True])
def test_a_ledger_that_is_gone_is_not_begun_anew_over_its_copies(tmp_path: Path, create: bool) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    with Ledger.open(tmp_path, TODAY) as ledger:
        ledger.pack("2026-W49-01")
    (tmp_path / "ledger.sqlite").unlink()
    with pytest.raises(LedgerError, match=r"gone .* spawnpost copy --back"):
        Ledger.open(tmp_path, TODAY, create=create)


@pytest.mark.parametrize("days", [70, pytest.param(200, marks=pytest.mark.slow)])
def test_copies_are_kept_of_days_then_weeks_then_months(tmp_path: Path, days: int) -> None:
    first = date(2026, 1, 5)
    days_of_packing(tmp_path, [first + timedelta(days=n) for n in range(days)])
    kept = [date.fromisoformat(path.name[:10]) for path in copies.copies_in(tmp_path)]
    last = first + timedelta(days=days - 1)
    assert kept[-7:] == [last - timedelta(days=n) for n in range(6, -1, -1)]
    weeks = {day.isocalendar()[:2] for day in kept}
    assert {(last - timedelta(days=7 * n)).isocalendar()[:2] for n in range(5)} <= weeks
    assert {(day.year, day.month) for day in kept} == {(2026, month) for month in range(1, last.month + 1)}
    assert len(kept) <= 7 + 5 + last.month
    assert audit(tmp_path) == ()


def test_a_copy_that_cannot_be_made_is_said_and_the_entry_still_recorded(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    shutil.rmtree(tmp_path / "ledger-copies")
    (tmp_path / "ledger-copies").write_text("in the way", encoding="utf-8")
    with Ledger.open(tmp_path, TODAY) as ledger:
        ledger.pack("2026-W49-01")
        ledger.save()
        assert "Today's copy could not be made" in ledger.notices[0]
        assert ledger.parcel("2026-W49-01").state == "packed"
