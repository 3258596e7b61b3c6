"""The demo week without days named for orders: however the lots fall, the least loss is found and proven."""

from __future__ import annotations

import csv
import shutil
from datetime import date
from pathlib import Path

import pytest

from shipping.assignment import search as choosing
from shipping.assignment.solve import allocate
from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.week.choices import Choices, columns_of_choices
from shipping.week.objective import default_week
from shipping.words.units import shipped_folder


@pytest.fixture(scope="module")
def choices(tmp_path_factory: pytest.TempPathFactory) -> Choices:
    folder: Path = tmp_path_factory.mktemp("demo") / "shelf"
    shutil.copytree(shipped_folder("demo_orders"), folder)
    orders = folder / "orders.csv"
    rows = list(csv.DictReader(orders.read_text(encoding="utf-8-sig").splitlines()))
    with orders.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(row | {"not_before": ""} for row in rows)
    shelf = read_shelf(folder, date.fromisoformat((folder / "today.txt").read_text().strip())).shelf
    assert shelf is not None
    week = default_week(shelf)
    made = Choices.of_week(OptionFactory(shelf), week)
    made.reckon()
    return made


@pytest.mark.parametrize("seed", range(1, 7))
def test_of_choices_that_serve_the_same_the_cheapest_is_found_and_proven_whatever_is_drawn(
    seed: int, choices: Choices, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two lots share a line in full tubes only if another order leaves one of them alone."""
    monkeypatch.setattr(choosing, "SEED", seed)
    found = allocate(columns_of_choices(choices))
    assert found.value == pytest.approx(found.bound)
    assert found.cheapest
