"""Whole weeks from tables to plan: each folder holds tables, today and the plan they must give, checked by
hand.
"""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from shipping.tables.reader import read_shelf
from shipping.week.objective import default_week
from shipping.week.plan import make_plan

HERE = Path(__file__).resolve().parent
WEEKS = sorted(folder.name for folder in HERE.iterdir() if (folder / "today.txt").is_file())


def plan_of(folder: Path) -> dict[str, Any]:
    today = date.fromisoformat((folder / "today.txt").read_text(encoding="utf-8").strip())
    reading = read_shelf(folder / "tables", today)
    assert reading.shelf is not None, reading.problems
    return json.loads(json.dumps(make_plan(reading.shelf, default_week(reading.shelf)).as_json()))


@pytest.mark.parametrize("name", WEEKS)
def test_the_week_is_planned_as_checked_by_hand(name: str) -> None:
    expected = json.loads((HERE / name / "plan.json").read_text(encoding="utf-8"))
    assert plan_of(HERE / name) == expected


def test_there_are_weeks_to_check() -> None:
    assert len(WEEKS) >= 2


def test_of_two_orders_for_one_lot_the_one_that_waited_longer_goes() -> None:
    # 15 eggs of point-mass days: nothing hatches before day 14, all losses are nought, so 15 ordered are 15
    # packed;
    # 20 eggs are there, 16.00 each way; N1 waited two weeks (16 x 1.10 = 17.60), N2 none (16.00).
    plan = plan_of(HERE / "one_lot_for_two")
    assert [parcel["orders"] for parcel in plan["parcels"]] == [["N1"]]
    assert plan["parcels"][0]["lines"][0]["pack"] == 15
    assert plan["parcels"][0]["lines"][0]["draws"][0]["h_per_egg"] == 0
    assert plan["parcels"][0]["arrive"]["p95"] == "2026-12-01"
    proof = {key: value for key, value in plan["proof"].items() if key != "assumed"}
    assert proof == {"value": 17.6, "bound": 17.6, "gap": 0.0, "loss": 3.56, "least_loss": True}
    # what stands against N2 is the other order, not the days on which the letter is not handed over
    (out,) = plan["lines_out"]
    assert (out["order"], out["verdict"], [reason["code"] for reason in out["reasons"]]) == (
        "N2",
        "wait",
        ["short"],
    )
    assert plan["lots"] == [{"lot": "P1", "eggs": 20, "keep_back": 0, "free": 20, "drawn": 15, "left": 5}]


def test_one_country_is_open_one_nobody_looked_up_and_one_closed() -> None:
    plan = plan_of(HERE / "a_hold_and_a_parcel")
    assert [parcel["orders"] for parcel in plan["parcels"]] == [["N1"]]
    # two working days from Monday 30 November: Wednesday
    assert plan["parcels"][0]["arrive"] == {"p05": "2026-12-02", "p50": "2026-12-02", "p95": "2026-12-02"}
    # a tube of 18 g and a box of 60 g
    assert plan["parcels"][0]["weight_g"] == 78
    standing = {
        out["order"]: (out["verdict"], [reason["code"] for reason in out["reasons"]])
        for out in plan["lines_out"]
    }
    assert standing == {"N2": ("hold", ["no-rule"]), "N3": ("stop", ["closed"])}
