"""A habit of writing is asked about once, whatever it hides is said at the same time, and its answer reads
all.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

from shipping.tables.reader import read_shelf
from shipping.words.problems import Answer
from tests.tables.mistakes import shelf_with
from tests.tables.shelves import TODAY, errors, read

_DAYS = "orders 2 placed_on = 05/11/2026 && orders 4 placed_on = Nov-21-26"


def test_days_are_read_as_the_settings_say(tmp_path: Path) -> None:
    for order, day in (("day first", date(2026, 11, 5)), ("month first", date(2026, 5, 11))):
        edits = f'shelf.toml: [plan] -> [reading]\\ndates = "{order}"\\n[plan] && {_DAYS}'
        shelf = read(shelf_with(tmp_path / order, edits))
        assert shelf.order_by_name["A1"].placed_on == day
        assert shelf.order_by_name["A2"].placed_on == date(2026, 11, 21)


def test_a_question_about_days_hides_no_other_mistake(tmp_path: Path) -> None:
    reading = read_shelf(
        shelf_with(tmp_path, f"{_DAYS} && orders 2 species = gardnery && lots 2 eggs = x"), TODAY
    )
    said = errors(reading)
    assert len(said) == 3
    assert any("'gardnery' is not in species" in one for one in said)
    (question,) = (problem for problem in reading.problems if problem.code == "dates")
    assert question.answers == (Answer("dates", "day first"), Answer("dates", "month first"))
    assert question.as_json()["answers"] == ['dates = "day first"', 'dates = "month first"']


def test_a_stray_column_hides_no_mistake_of_its_table(tmp_path: Path) -> None:
    folder = shelf_with(
        tmp_path, "orders 1 town = towns && orders 2 species = gardnery && orders 4 eggs = 2.5"
    )
    assert len(errors(read_shelf(folder, TODAY))) == 3


def test_an_encoding_kept_in_the_settings_is_used_without_asking(tmp_path: Path) -> None:
    edits = 'shelf.toml: [plan] -> [reading]\\nencoding = "cp1252"\\n[plan] && encoding orders.csv cp1252'
    assert read(shelf_with(tmp_path, edits)).order_by_name["A2"].address.delivery == ("Åvej 9",)
