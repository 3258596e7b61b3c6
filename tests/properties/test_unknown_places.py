"""Whatever else a shelf says: where a part of a country is stricter, nothing goes until the part is known,
and nobody fetches what nobody asked to fetch.
"""

from __future__ import annotations

import random
from functools import lru_cache

import pytest

from shipping.tables.country_parts import calendar_parts
from shipping.tables.rows.rules import Rule
from shipping.words.reasons import Verdict
from tests.post.a_shelf import a_price, a_rule, a_service
from tests.week.a_week import a_lot, a_row, a_week, going, plan_of

COUNTRIES = ("AU", "CA", "CH", "DE", "ES", "GB", "IT", "PT", "US")


@lru_cache(maxsize=1)
def parts() -> dict[str, tuple[str, ...]]:
    return {
        country: tuple(sorted(part for part in calendar_parts(country) if len(part) < 4))
        for country in COUNTRIES
    }


def a_stricter_table(chance: random.Random) -> tuple[tuple[Rule, ...], str, str]:
    """Rules of which one part of one country is stricter than all others; that country, and that part."""
    country = chance.choice(COUNTRIES)
    part = chance.choice(parts()[country])
    verdict = chance.choice(("papers", "ask", "closed"))
    papers = "a permit" if verdict == "papers" else ""
    return (a_rule(2), a_rule(3, to=f"{country}-{part}", verdict=verdict, papers=papers)), country, part


@pytest.mark.parametrize("weeks", [20, pytest.param(120, marks=pytest.mark.slow)])
def test_an_order_to_a_country_with_a_stricter_part_holds_until_its_part_is_known(weeks: int) -> None:
    chance = random.Random(15)
    for _ in range(weeks):
        rules, country, part = a_stricter_table(chance)
        other = chance.choice([one for one in parts()[country] if one != part])
        rows = (
            a_row("NONE", country=country, region="", postcode=""),
            a_row("TEXT", country=country, region="where the river bends", postcode=""),
            a_row("THERE", country=country, region=f"{country}-{part}", postcode="", papers="another paper"),
            a_row("ELSE", country=country, region=f"{country}-{other}", postcode=""),
        )
        plan = plan_of(a_week(*rows, lots=(a_lot(eggs=300),), rules=rules))
        assert going(plan) == {"ELSE"}, (country, part, other)
        out = {line.order: line for line in plan.lines_out}
        for order in ("NONE", "TEXT"):
            assert out[order].verdict is Verdict.HOLD
            assert out[order].reasons[0].code == "no-region"
        assert "no-region" not in {reason.code for reason in out["THERE"].reasons}


@pytest.mark.parametrize("weeks", [40, pytest.param(500, marks=pytest.mark.slow)])
def test_nothing_is_collected_in_person_that_no_order_asked_to_collect(weeks: int) -> None:
    chance = random.Random(15)
    asked_for = 0
    for _ in range(weeks):
        services = [a_service(service="fetch", to=chance.choice(("DK", "*")), early_d=0, usual_d=0, late_d=0)]
        if chance.random() < 0.5:
            services.append(a_service(early_d=1, usual_d=1, late_d=1, live_eggs="yes"))
        rows = [
            a_row(f"O{n}", eggs=chance.randint(5, 25), service=chance.choice(("fetch", "letter", None, None)))
            for n in range(chance.randint(1, 4))
        ]
        shelf = a_week(*rows, services=tuple(services), postage=(a_price("*", 2000, "6"),))
        for parcel in plan_of(shelf).parcels:
            if parcel.service == "fetch":
                asked = {shelf.order_by_name[order].service for order in parcel.orders}
                assert asked == {"fetch"}
                asked_for += 1
    assert asked_for > weeks / 10
