"""What papers and plans lean on is looked at: fonts, wordings, calendars."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from shipping.ledger.installation import installation_problems
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.words.problems import Level
from shipping.words.units import shipped_folder


@pytest.fixture
def demo() -> Shelf:
    found = read_shelf(shipped_folder("demo_orders"), date(2026, 11, 30)).shelf
    assert found is not None
    return found


def test_what_came_with_the_program_is_whole_and_every_destination_has_its_calendar(demo: Shelf) -> None:
    assert installation_problems(demo) == ()
    assert installation_problems(None) == ()


def test_a_destination_without_a_calendar_is_said(demo: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shipping.post.calendar.has_calendar", lambda country: country != "JP")
    (problem,) = installation_problems(demo)
    assert problem.level is Level.NOTICE
    assert "no holiday calendar for JP" in str(problem)


def test_a_year_the_calendars_do_not_know_is_said(demo: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    known = "shipping.post.calendar.holidays_of"
    monkeypatch.setattr(
        known, lambda country, year: {} if (country, year) == ("JP", 2027) else {date(year, 1, 1): "New Year"}
    )
    (problem,) = installation_problems(demo)
    assert "names no holiday in JP for 2027" in str(problem)


def test_a_font_that_cannot_be_read_is_said(
    demo: Shelf, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    from shipping.papers.page import fonts as faces

    (tmp_path / "DejaVuSans.ttf").write_bytes(b"not a font")
    monkeypatch.setattr(faces, "_FILES", tmp_path)
    for cached in (faces.font_of, faces.letters_lacking):
        cached.cache_clear()
    try:
        found = installation_problems(None)
    finally:
        monkeypatch.undo()
        for cached in (faces.font_of, faces.letters_lacking):
            cached.cache_clear()
    assert any(problem.code == "fonts" and "cannot be read" in problem.text for problem in found)


def test_a_wording_that_came_broken_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    shutil.copytree(shipped_folder("templates"), tmp_path / "templates")
    slip = next((tmp_path / "templates" / "wording" / "en").glob("opening-*.md"))
    slip.write_text("Hello {{ nobody_knows_this }}\n", encoding="utf-8")
    monkeypatch.setattr("shipping.words.units.shipped_folder", lambda name: tmp_path / name)
    assert any(problem.code == "wording" for problem in installation_problems(None))
