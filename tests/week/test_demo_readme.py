"""The demo's README tells what the plan of its week does, order by order."""

from __future__ import annotations

import re
from datetime import date

from shipping.tables.reader import read_shelf
from shipping.week.plan import make_plan
from shipping.words.units import shipped_folder
from tests.week.a_week import WEEK

DEMO = shipped_folder("demo_orders")


def test_every_order_stands_where_the_readme_says() -> None:
    shelf = read_shelf(DEMO, date(2026, 11, 30)).shelf
    assert shelf is not None
    plan = make_plan(shelf, WEEK)
    stands = {line.order: ("go", {"chosen"}) for parcel in plan.parcels for line in parcel.lines}
    for out in plan.lines_out:
        stands[out.order] = (out.verdict.value, {reason.code for reason in out.reasons})
    told = re.findall(
        r"^\| (D\d\d) \| (\w+) \| ([a-z-]+) \|", (DEMO / "README.md").read_text("utf-8"), re.MULTILINE
    )
    assert len(told) >= 28
    for order, verdict, code in told:
        assert stands[order][0] == verdict, order
        assert code in stands[order][1], order
    joined = next(parcel for parcel in plan.parcels if "D23" in parcel.orders)
    assert joined.orders == ("D23", "D24")
    foam = next(parcel for parcel in plan.parcels if "D13" in parcel.orders)
    assert foam.box == "foam box"
    assert foam.bottle_ml > 0
    split = next(line for parcel in plan.parcels for line in parcel.lines if line.order == "D09")
    assert sorted(draw.lot for draw in split.draws) == ["AU-20", "AU-21"]
    assert next(parcel for parcel in plan.parcels if "D01" in parcel.orders).service == "collect"
