"""Copies: one a day, before anything is written, and a ledger that is gone is never begun anew over them."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from shipping.ledger.errors import LedgerError
from shipping.ledger.journal import copies
from shipping.ledger.journal.audit import audit
from shipping.ledger.ledger import Ledger
from tests.ledger.desk import TODAY, draw, ledger_with_two_parcels, line, parcel, plan


def test_the_first_entry_of_a_day_is_preceded_by_a_copy(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    tomorrow = TODAY + timedelta(days=1)
    for _ in range(2):
        with Ledger.open(tmp_path, tomorrow) as ledger:
            ledger.pack(
                sorted(name for name, state in ledger.parcel_states().items() if state == "planned")[0]
            )
    (copy,) = copies.copies_in(tmp_path)
    assert copy.name == "2026-12-01.sqlite"
    (tmp_path / "ledger.sqlite").write_bytes(copy.read_bytes())
    (tmp_path / "ledger.sqlite.checksum").unlink()
    copy.unlink()
    with Ledger.open(tmp_path, tomorrow) as ledger:
        assert len(ledger.entries()) == 1
        assert ledger.verify() == ()


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
    with pytest.raises(LedgerError, match=r"gone .* copy ledger-copies/2026-11-30.sqlite to ledger.sqlite"):
        Ledger.open(tmp_path, TODAY, create=create)


def test_old_daily_copies_make_room_for_new_ones(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(copies, "KEEP_COPIES", 3)
    week = [date(2026, 12, 1) + timedelta(days=n) for n in range(6)]
    with ledger_with_two_parcels(tmp_path):
        pass
    for n, day in enumerate(week):
        with Ledger.open(tmp_path, day) as ledger:
            ledger.keep_plan(
                plan(
                    parcel(f"2026-W5{n}-01", "Ole Lund", line(f"T{n}", 1, 9, draw("L1", 9))),
                    week=f"2026-W5{n}",
                )
            )
    assert [path.stem for path in copies.copies_in(tmp_path)] == [day.isoformat() for day in week[-3:]]
    assert audit(tmp_path) == ()


def test_a_copy_that_cannot_be_made_is_said_and_the_entry_still_recorded(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    (tmp_path / "ledger-copies").write_text("in the way", encoding="utf-8")
    with Ledger.open(tmp_path, TODAY) as ledger:
        ledger.pack("2026-W49-01")
        assert "Today's copy could not be made" in ledger.notices[0]
        assert ledger.parcel("2026-W49-01").state == "packed"
