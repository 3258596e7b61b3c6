"""What stands is read again only when it changed, and never mixed from two states."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from shipping.ledger.errors import COPIES_FOLDER
from shipping.ledger.ledger import Ledger
from shipping.words.problems import ShelfProblems
from shipping.worktop.shelf_state import ShelfState, entries_since, seen_mark
from tests.worktop.conftest import FIRST, HOME, TODAY, Desk, plain, said


def test_tables_are_read_once_until_a_file_or_the_day_changes(shelf: Path) -> None:
    day = [TODAY]
    shelf_state = ShelfState(shelf, lambda: day[0])
    first = shelf_state.tables()
    assert shelf_state.tables() is first
    settings = shelf / "shelf.toml"
    settings.write_text(settings.read_text(encoding="utf-8") + "# changed\n", encoding="utf-8")
    second = shelf_state.tables()
    assert second is not first
    day[0] = date(2026, 12, 1)
    assert shelf_state.tables().shelf.today == date(2026, 12, 1)


def test_a_day_that_begins_while_the_page_is_served_is_the_day_of_the_next_entry(shelf: Path) -> None:
    day = [TODAY]
    shelf_state = ShelfState(shelf, lambda: day[0])
    shelf_state.entries()
    day[0] = date(2026, 12, 1)
    with shelf_state.ledger() as ledger:
        assert ledger is not None
        assert ledger.pack(FIRST).day == date(2026, 12, 1)
    shelf_state.close()


def test_a_ledger_put_in_the_place_of_another_is_read_and_old_forms_do_not_fit_it(
    shelf: Path, tmp_path: Path
) -> None:
    shelf_state = ShelfState(shelf, lambda: TODAY)
    with Ledger.open(shelf, TODAY) as ledger:
        ledger.copy(tmp_path / "copy.sqlite")
    with shelf_state.ledger() as ledger:
        assert ledger is not None
        ledger.pack(FIRST)
    seen = seen_mark(shelf_state.entries())
    shutil.move(tmp_path / "copy.sqlite", shelf / "ledger.sqlite")
    entries = shelf_state.entries()
    assert len(entries) == 1
    assert entries_since(entries, seen) is None
    shelf_state.close()


def test_a_mark_tells_what_came_after_it(shelf: Path) -> None:
    shelf_state = ShelfState(shelf, lambda: TODAY)
    seen = seen_mark(shelf_state.entries())
    with shelf_state.ledger() as ledger:
        assert ledger is not None
        ledger.pack(FIRST)
    found = entries_since(shelf_state.entries(), seen)
    assert found is not None
    assert [entry.kind for entry in found] == ["packed"]
    for odd in ("", "x", "-1", "1.", "1", "99.aaaaaaaa", "1.00000000", "²"):
        assert entries_since(shelf_state.entries(), odd) is None, odd
    assert entries_since((), "0") == ()
    shelf_state.close()


def test_a_folder_without_a_ledger_gets_none_by_being_looked_at(shelf: Path) -> None:
    (shelf / "ledger.sqlite").unlink()
    (shelf / "ledger.sqlite.checksum").unlink(missing_ok=True)
    shutil.rmtree(shelf / "ledger-copies", ignore_errors=True)
    shelf_state = ShelfState(shelf, lambda: TODAY)
    assert shelf_state.entries() == ()
    assert not (shelf / "ledger.sqlite").exists()
    with pytest.raises(ShelfProblems, match="No plan was kept yet"):
        shelf_state.plan_facts(1)


TOMORROW = date(2026, 12, 1)


def test_the_copy_of_a_day_is_made_with_its_first_entry_and_whole_as_the_day_ends(shelf: Path) -> None:
    """It was made when the page was closed, which on some shelves is weeks later."""
    day = [TOMORROW]
    shelf_state = ShelfState(shelf, lambda: day[0])
    copy = shelf / COPIES_FOLDER / "2026-12-01.sqlite"
    with shelf_state.ledger() as ledger:
        assert ledger is not None
        ledger.pack(FIRST)
    first = copy.read_bytes()
    with shelf_state.ledger() as ledger:
        assert ledger is not None
        ledger.send(FIRST)
    assert copy.read_bytes() == first
    day[0] = date(2026, 12, 2)
    shelf_state.entries()
    assert copy.read_bytes() != first
    shelf_state.close()


def test_a_copy_that_fails_is_told_with_every_way_of_recording(shelf: Path) -> None:
    """Reports without a script, and a plan kept, went on to a page that told nothing of it."""
    shutil.rmtree(shelf / COPIES_FOLDER)
    (shelf / COPIES_FOLDER).write_text("in the way", encoding="utf-8")
    desk = Desk(shelf)
    lost = "Today's copy could not be made"
    assert lost in said(desk.pack(u0="23", u1="18"))
    assert lost not in desk.text("/packing"), "once"
    desk.post(f"/packing/{FIRST}/send", item="")
    answer = desk.post(f"/arrivals/{FIRST}", card=False, on="2026-11-30", quick="all-alive")
    assert answer.status_code == 303, plain(answer.text)
    assert lost in desk.text(answer.headers["Location"].partition("#")[0])
    desk.worktop.shelf_state.close()


def test_what_is_noticed_is_told_to_the_device_that_did_it(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A telephone's copy that failed was told to the tablet that asked next, and to nobody else."""

    def phone(path: str) -> str:
        answer = desk.client.get(path, base_url=HOME, environ_base={"REMOTE_ADDR": "192.168.1.20"})
        return plain(answer.text)

    noticed = ["The copy was not written."]
    monkeypatch.setattr(Ledger, "taken_notices", lambda ledger: tuple(noticed))
    phone("/mark")
    noticed.clear()
    assert "The copy was not written." not in desk.text("/tables")
    assert phone("/tables").count("The copy was not written.") == 1
    assert "The copy was not written." not in phone("/tables")
