"""The weeks that planners are timed on: read without a problem, the same each time, and as hard as they
say.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from tests.timings.week_peers import loaded
from tests.timings.weeks import SHORT, TODAY, USUAL, Supply, generated_week

#: Of the tables that a week makes up itself, those copied from the demo left out.
MADE_UP = ("lots.csv", "orders.csv", "postage.csv", "services.csv", "shelf.toml", "species.csv", "zones.csv")


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
    factory = OptionFactory(shelf)
    monday = [factory.lot_day(lot.lot, TODAY) for lot in shelf.lots]
    assert not any(day.reasons for day in monday)
    assert 0.1 < sum(day.look_first and day.share_eyed < 0.5 for day in monday) / len(monday) < 0.5


@pytest.mark.parametrize(
    ("size", "digest"),
    [
        ((40, 30, 1), "008db70fd01da2bcee92c3b403c34984f94589e1bf0a24edb9db7e834bf8de6f"),
        ((300, 150, 3), "4b7cd941545a856dba9413cff0baf9f7728486d8535e3725ffb17fbd5696d81e"),
    ],
)
def test_the_bytes_of_a_short_week_stay_what_they_were(
    size: tuple[int, int, int], digest: str, tmp_path: Path
) -> None:
    made, found = _bytes(generated_week(*size, tmp_path, SHORT)), hashlib.sha256()
    for name in MADE_UP:
        found.update(name.encode() + b"\0" + made[name])
    assert found.hexdigest() == digest


@pytest.mark.parametrize(("supply", "least", "most"), [(SHORT, 1.0, 1.4), (USUAL, 1.3, 1.7)])
def test_a_week_holds_as_many_eggs_for_one_wanted_as_its_supply_says(
    supply: Supply, least: float, most: float, tmp_path: Path
) -> None:
    """Fewer than named, since those who cannot be served want eggs, too."""
    shelf = read_shelf(generated_week(300, 150, 3, tmp_path, supply), TODAY).shelf
    assert shelf is not None
    wanted = sum(line.eggs for order in shelf.orders for line in order.lines)
    assert least < sum(lot.eggs for lot in shelf.lots) / wanted < most


@pytest.mark.parametrize("number", [1, pytest.param(2, marks=pytest.mark.slow)])
def test_of_a_usual_week_some_20_orders_in_100_can_be_served_by_nobody(number: int, tmp_path: Path) -> None:
    week = loaded(300, 150, number, tmp_path)
    assert 0.16 <= 1 - week.able / 300 <= 0.28


def test_a_short_week_differs_from_a_usual_one_in_eggs_and_the_limit_only(tmp_path: Path) -> None:
    usual, short = (
        _bytes(generated_week(40, 30, 1, tmp_path / name, supply))
        for name, supply in (("u", USUAL), ("s", SHORT))
    )
    assert {name for name in usual if usual[name] != short[name]} == {"lots.csv", "shelf.toml"}
