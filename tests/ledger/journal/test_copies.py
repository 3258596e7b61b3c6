"""Copies: one a day after its last entry, and a ledger that is gone is never begun anew over them."""

from __future__ import annotations

import shutil
from datetime import date, timedelta
from pathlib import Path

import pytest

from shipping.ledger.errors import LedgerError
from shipping.ledger.journal import copies
from shipping.ledger.journal.audit import audit
from shipping.ledger.journal.store import Store
from shipping.ledger.ledger import Ledger
from tests.ledger.desk import TODAY, draw, ledger_with_two_parcels, line, parcel, plan


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


def test_a_copy_opens_as_a_ledger_and_never_overwrites(tmp_path: Path) -> None:
    (tmp_path / "away").mkdir()
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01")
        ledger.copy(tmp_path / "away" / "ledger.sqlite")
        with pytest.raises(LedgerError, match=r"exists already\. Name a file that does not exist yet"):
            ledger.copy(tmp_path / "away" / "ledger.sqlite")
        with pytest.raises(LedgerError, match="cannot be written"):
            ledger.copy(tmp_path / "nowhere" / "ledger.sqlite")
    with Ledger.open(tmp_path / "away", TODAY) as ledger:
        assert ledger.parcel("2026-W49-01").state == "packed"
        assert ledger.verify() == ()
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


def test_copies_are_kept_of_days_then_weeks_then_months(tmp_path: Path) -> None:
    first = date(2026, 1, 5)
    days_of_packing(tmp_path, [first + timedelta(days=n) for n in range(200)])
    kept = [date.fromisoformat(path.name[:10]) for path in copies.copies_in(tmp_path)]
    last = first + timedelta(days=199)
    assert kept[-7:] == [last - timedelta(days=n) for n in range(6, -1, -1)]
    weeks = {day.isocalendar()[:2] for day in kept}
    assert {(last - timedelta(days=7 * n)).isocalendar()[:2] for n in range(5)} <= weeks
    assert {(day.year, day.month) for day in kept} == {(2026, month) for month in range(1, 8)}
    assert len(kept) <= 7 + 5 + 12
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
