"""What stands is read again only when it changed, and never mixed from two states."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from shipping.ledger.ledger import Ledger
from shipping.words.problems import ShelfProblems
from shipping.worktop.shelf_state import Stand, entries_since, seen_mark
from tests.worktop.conftest import FIRST, TODAY


def test_tables_are_read_once_until_a_file_or_the_day_changes(shelf: Path) -> None:
    day = [TODAY]
    stand = Stand(shelf, lambda: day[0])
    first = stand.tables()
    assert stand.tables() is first
    settings = shelf / "shelf.toml"
    settings.write_text(settings.read_text(encoding="utf-8") + "# changed\n", encoding="utf-8")
    second = stand.tables()
    assert second is not first
    day[0] = date(2026, 12, 1)
    assert stand.tables().shelf.today == date(2026, 12, 1)


def test_a_day_that_begins_while_the_page_is_served_is_the_day_of_the_next_entry(shelf: Path) -> None:
    day = [TODAY]
    stand = Stand(shelf, lambda: day[0])
    stand.entries()
    day[0] = date(2026, 12, 1)
    with stand.ledger() as ledger:
        assert ledger is not None
        assert ledger.pack(FIRST).day == date(2026, 12, 1)
    stand.close()


def test_a_ledger_put_in_the_place_of_another_is_read_and_old_forms_do_not_fit_it(
    shelf: Path, tmp_path: Path
) -> None:
    stand = Stand(shelf, lambda: TODAY)
    with Ledger.open(shelf, TODAY) as ledger:
        ledger.copy(tmp_path / "copy.sqlite")
    with stand.ledger() as ledger:
        assert ledger is not None
        ledger.pack(FIRST)
    seen = seen_mark(stand.entries())
    shutil.move(tmp_path / "copy.sqlite", shelf / "ledger.sqlite")
    entries = stand.entries()
    assert len(entries) == 1
    assert entries_since(entries, seen) is None
    stand.close()


def test_a_mark_tells_what_came_after_it(shelf: Path) -> None:
    stand = Stand(shelf, lambda: TODAY)
    seen = seen_mark(stand.entries())
    with stand.ledger() as ledger:
        assert ledger is not None
        ledger.pack(FIRST)
    found = entries_since(stand.entries(), seen)
    assert found is not None
    assert [entry.kind for entry in found] == ["packed"]
    for odd in ("", "x", "-1", "1.", "1", "99.aaaaaaaa", "1.00000000", "²"):
        assert entries_since(stand.entries(), odd) is None, odd
    assert entries_since((), "0") == ()
    stand.close()


def test_a_folder_without_a_ledger_gets_none_by_being_looked_at(shelf: Path) -> None:
    (shelf / "ledger.sqlite").unlink()
    (shelf / "ledger.sqlite.checksum").unlink(missing_ok=True)
    shutil.rmtree(shelf / "ledger-copies", ignore_errors=True)
    stand = Stand(shelf, lambda: TODAY)
    assert stand.entries() == ()
    assert not (shelf / "ledger.sqlite").exists()
    with pytest.raises(ShelfProblems, match="No plan was kept yet"):
        stand.plan_facts(1)
