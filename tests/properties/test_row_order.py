"""The order of rows in the tables never matters."""

from __future__ import annotations

import csv
import functools
import json
import random
import shutil
from datetime import date
from pathlib import Path

import pytest

from shipping.tables.reader import read_shelf
from shipping.week.plan import make_plan

DEMO = Path(__file__).resolve().parents[2] / "demo_orders"
TODAY = date(2026, 11, 30)


def plan_text(folder: Path) -> str:
    shelf = read_shelf(folder, TODAY).shelf
    assert shelf is not None
    return json.dumps(make_plan(shelf, "2026-W49").as_json(), sort_keys=True)


@functools.cache
def demo_text() -> str:
    return plan_text(DEMO)


def shuffle(folder: Path, seed: int) -> None:
    """Every table's rows in another order; lines of one order stay in theirs, as they are numbered by it."""
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            header, *rows = list(csv.reader(file))
        if path.stem == "orders":
            by_order: dict[str, list[list[str]]] = {}
            for row in rows:
                by_order.setdefault(row[0], []).append(row)
            blocks = list(by_order.values())
            random.Random(seed).shuffle(blocks)
            rows = [row for block in blocks for row in block]
        else:
            random.Random(seed).shuffle(rows)
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([header, *rows])


def without_rows(plan: object) -> object:
    """The plan without the names of rows (``rules.csv:12``) that its reasons rest on."""
    if isinstance(plan, dict):
        return {key: without_rows(value) for key, value in plan.items() if key != "source"}
    return [without_rows(value) for value in plan] if isinstance(plan, list) else plan


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_shuffled_tables_give_the_same_plan(tmp_path: Path, seed: int) -> None:
    shutil.copytree(DEMO, tmp_path / "shelf")
    shuffle(tmp_path / "shelf", seed)
    assert without_rows(json.loads(plan_text(tmp_path / "shelf"))) == without_rows(json.loads(demo_text()))


def test_the_same_tables_give_the_same_plan_to_the_byte() -> None:
    assert plan_text(DEMO) == demo_text()
