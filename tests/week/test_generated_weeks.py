"""The weeks that planners are timed on: read without a problem, the same each time, and as hard as they say."""

from __future__ import annotations

from pathlib import Path

from shipping.tables.reader import read_shelf
from shipping.week.options import Reckoner
from tests.timings.weeks import TODAY, generated_week


def _bytes(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in sorted(folder.iterdir())}


def test_the_same_seed_writes_the_same_bytes_and_another_does_not(tmp_path: Path) -> None:
    first = _bytes(generated_week(40, 30, 1, tmp_path / "first"))
    assert _bytes(generated_week(40, 30, 1, tmp_path / "again")) == first
    assert _bytes(generated_week(40, 30, 2, tmp_path / "other"))["orders.csv"] != first["orders.csv"]


def test_a_generated_week_reads_without_a_problem_and_has_the_size_asked_for(tmp_path: Path) -> None:
    reading = read_shelf(generated_week(300, 150, 3, tmp_path), TODAY)
    assert reading.problems == ()
    assert reading.shelf is not None
    assert (len(reading.shelf.orders), len(reading.shelf.lots)) == (300, 150)
    assert len({order.country for order in reading.shelf.orders}) > 20


def test_some_lots_show_eyes_only_later_in_the_week_and_none_is_in_doubt(tmp_path: Path) -> None:
    shelf = read_shelf(generated_week(300, 150, 3, tmp_path), TODAY).shelf
    assert shelf is not None
    reckoner = Reckoner(shelf)
    monday = [reckoner.lot_day(lot.lot, TODAY) for lot in shelf.lots]
    assert not any(day.reasons for day in monday)
    assert 0.1 < sum(day.look_first and day.share_eyed < 0.5 for day in monday) / len(monday) < 0.5


def test_about_as_many_eggs_are_free_as_the_orders_want(tmp_path: Path) -> None:
    shelf = read_shelf(generated_week(300, 150, 3, tmp_path), TODAY).shelf
    assert shelf is not None
    wanted = sum(line.eggs for order in shelf.orders for line in order.lines)
    assert 1.0 < sum(lot.eggs for lot in shelf.lots) / wanted < 1.4
