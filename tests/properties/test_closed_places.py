"""Whatever else a shelf says: what a rule closes is never planned, and what it does not close goes on."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import lru_cache
from pathlib import Path

import pytest

from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from shipping.week.plan_data import Plan
from shipping.words.reasons import Verdict
from tests.post.a_shelf import a_rule
from tests.week.a_week import WEEK

DEMO = Path(__file__).resolve().parents[2] / "demo_orders"


@lru_cache(maxsize=1)
def demo() -> Shelf:
    shelf = read_shelf(DEMO, date(2026, 11, 30)).shelf
    assert shelf is not None
    return shelf


@lru_cache(maxsize=1)
def demo_plan() -> Plan:
    return make_plan(demo(), WEEK)


def orders_going(plan: Plan) -> set[str]:
    return {line.order for parcel in plan.parcels for line in parcel.lines}


def with_rule(shelf: Shelf, **cells: str) -> Shelf:
    """The shelf with one rule more, looked up yesterday."""
    return replace(
        shelf, rules=(*shelf.rules, a_rule(999, verdict="closed", checked_on=str(shelf.today), **cells))
    )


@pytest.mark.parametrize("some", [slice(1, None, 6), pytest.param(slice(None), marks=pytest.mark.slow)])
def test_a_country_that_closes_is_never_planned_and_says_why(some: slice) -> None:
    shelf = demo()
    before = orders_going(demo_plan())
    countries = sorted({shelf.order_by_name[order].country for order in before})
    assert len(countries) > 3
    for country in countries[some]:
        rules = tuple(rule for rule in shelf.rules if rule.to.split("-")[0] != country)
        plan = make_plan(with_rule(replace(shelf, rules=rules), to=country, taxon="*"), WEEK)
        going = orders_going(plan)
        assert not {order for order in going if shelf.order_by_name[order].country == country}
        closed = [
            out
            for out in plan.lines_out
            if shelf.order_by_name[out.order].country == country and out.order in before
        ]
        assert closed
        assert all(
            out.verdict is Verdict.STOP and "closed" in {reason.code for reason in out.reasons}
            for out in closed
        )
        assert bool(going) == (country != shelf.settings.home.country)


def test_a_species_that_a_country_closes_is_never_planned_to_it() -> None:
    shelf = demo()
    pairs = sorted(
        {
            (shelf.order_by_name[line.order].country, shelf.lot_by_name[draw.lot].species)
            for parcel in demo_plan().parcels
            for line in parcel.lines
            for draw in line.draws
        }
    )
    for country, species in pairs[:: max(1, len(pairs) // 3)]:
        found = make_plan(with_rule(shelf, to=country, taxon=shelf.species[species].scientific_name), WEEK)
        drawn = {
            (shelf.order_by_name[line.order].country, shelf.lot_by_name[draw.lot].species)
            for parcel in found.parcels
            for line in parcel.lines
            for draw in line.draws
        }
        assert (country, species) not in drawn
        assert drawn or country == shelf.settings.home.country
