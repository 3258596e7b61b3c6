"""A plan that breaks a limit is found out, whoever made it."""

from __future__ import annotations

import pkgutil
import re
from bisect import bisect_left
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from shipping.options.option import LEAST_DRAW
from shipping.tables.reader import read_shelf
from shipping.tables.rows.lots import Look
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from shipping.week.plan_data import Parcel, Plan, PlannedLine
from shipping.week.verify import NotAsPromised, verify_plan
from tests.every_case import every
from tests.post.a_shelf import a_rule
from tests.week.a_week import WEEK, a_row, a_week, plan_of

DEMO = Path(__file__).resolve().parents[2] / "demo_orders"
TODAY = date(2026, 11, 30)


@lru_cache(maxsize=1)
def demo() -> tuple[Shelf, Plan]:
    shelf = read_shelf(DEMO, TODAY).shelf
    assert shelf is not None
    return shelf, make_plan(shelf, WEEK)


def the_parcel(plan: Plan) -> Parcel:
    """A parcel of one line from one lot, far enough for the calendar to matter."""
    return next(
        p
        for p in plan.parcels
        if p.postage and len(p.lines) == 1 and len(p.lines[0].draws) == 1 and p.arrive.p50 != p.arrive.p95
    )


def with_parcel(plan: Plan, new: Callable[[Parcel], Parcel]) -> Plan:
    old = the_parcel(plan)
    return replace(plan, parcels=tuple(new(p) if p == old else p for p in plan.parcels))


def with_line(plan: Plan, new: Callable[[PlannedLine], PlannedLine]) -> Plan:
    return with_parcel(plan, lambda parcel: replace(parcel, lines=(new(parcel.lines[0]),)))


def with_draw(plan: Plan, **changes: Any) -> Plan:
    return with_line(plan, lambda line: replace(line, draws=(replace(line.draws[0], **changes),)))


def other_lot(plan: Plan) -> str:
    """A lot of another species."""
    ordered = the_parcel(plan).lines[0].species
    return next(lot.lot for lot in demo()[0].lots if lot.species != ordered)


def more_eggs(plan: Plan) -> Plan:
    return with_draw(plan, pack=the_parcel(plan).lines[0].pack + 1)


def fewer_eggs(plan: Plan) -> Plan:
    """Two eggs fewer everywhere but in the promise."""
    line = the_parcel(plan).lines[0]
    changed = with_line_pack(with_draw(plan, pack=line.pack - 2), line.pack - 2)
    lots = tuple(
        replace(use, drawn=use.drawn - 2) if use.lot == line.draws[0].lot else use for use in plan.lots
    )
    return replace(changed, lots=lots)


def far_too_many_eggs(plan: Plan) -> Plan:
    changed = with_draw(plan, pack=5000, units=500)
    return with_line_pack(changed, 5000)


def with_line_pack(plan: Plan, pack: int) -> Plan:
    name = the_parcel(demo()[1]).parcel
    parcels = tuple(
        replace(p, lines=(replace(p.lines[0], pack=pack),)) if p.parcel == name else p for p in plan.parcels
    )
    return replace(plan, parcels=parcels)


TAMPERED: dict[str, tuple[Callable[[Plan], Plan], str]] = {
    "an egg more in the draw than in the line": (more_eggs, "do not add up"),
    "more eggs than the lot holds": (far_too_many_eggs, "free"),
    "another service": (lambda plan: with_parcel(plan, lambda p: replace(p, service="pigeon")), "no service"),
    "a Sunday": (
        lambda plan: with_parcel(plan, lambda p: replace(p, dispatch_on=date(2026, 12, 6))),
        "no day to post",
    ),
    "yesterday": (
        lambda plan: with_parcel(plan, lambda p: replace(p, dispatch_on=TODAY - timedelta(days=1))),
        "no day to post",
    ),
    "cheaper postage": (
        lambda plan: with_parcel(plan, lambda p: replace(p, postage=p.postage - Decimal("0.5"))),
        "postage",
    ),
    "a lighter parcel": (lambda plan: with_parcel(plan, lambda p: replace(p, weight_g=1.0)), "weight"),
    "a parcel less": (lambda plan: replace(plan, parcels=plan.parcels[1:]), "not accounted for"),
    "a parcel twice": (lambda plan: replace(plan, parcels=(*plan.parcels, plan.parcels[0])), "planned twice"),
    "a chance below the promise": (
        lambda plan: with_line(plan, lambda line: replace(line, p_enough=0.90)),
        "promise is not kept",
    ),
    "fewer eggs at the same chance": (fewer_eggs, "chance of enough is off"),
    "an earlier arrival": (
        lambda plan: with_parcel(plan, lambda p: replace(p, arrive=replace(p.arrive, p95=p.arrive.p50))),
        "arrival dates are off",
    ),
    "a smaller chance of any": (
        lambda plan: with_draw(plan, h_any=the_parcel(plan).lines[0].draws[0].h_any + 3e-4),
        "any hatches is off|ceiling",
    ),
    "a hatch share over the ceiling": (lambda plan: with_draw(plan, h_per_egg=0.5), "ceiling"),
    "a hatch share that is not the journey's": (
        lambda plan: with_draw(plan, h_per_egg=the_parcel(plan).lines[0].draws[0].h_per_egg + 3e-4),
        "not as planned",
    ),
    "a chance of any over the ceiling": (lambda plan: with_draw(plan, h_any=1.5), "ceiling"),
    "a packing for another medium": (lambda plan: with_draw(plan, packing="tube 15 ml"), "does not hold it"),
    "too few units": (lambda plan: with_draw(plan, units=0), "does not hold it"),
    "another species' lot": (lambda plan: with_draw(plan, lot=other_lot(plan)), "not what was ordered"),
    "a lot count that is off": (
        lambda plan: replace(plan, lots=tuple(replace(use, drawn=use.drawn + 1) for use in plan.lots)),
        "count is off",
    ),
}


def test_the_demo_week_is_as_promised() -> None:
    shelf, plan = demo()
    assert plan.parcels
    verify_plan(plan, shelf)


@every("what", TAMPERED)
def test_a_tampered_plan_is_found_out(what: str) -> None:
    shelf, plan = demo()
    tamper, says = TAMPERED[what]
    with pytest.raises(NotAsPromised, match=says):
        verify_plan(tamper(plan), shelf)


MISTAKES: dict[str, tuple[str, Callable[..., Any], str]] = {
    "half of the warmth of the way": (
        "shipping.eggs.hatching.mean_effective_degrees",
        lambda right, *told: right(*told) / 2,
        "not as planned",
    ),
    "eggs that fare more alike than told": (
        "shipping.eggs.overpack.count_chances",
        lambda right, eggs, v, kappa: right(eggs, v, 10 * kappa),
        "chance of enough is off",
    ),
}


@pytest.mark.parametrize("what", MISTAKES)
def test_a_mistake_of_the_rooms_that_reckon_is_found_out(what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    # a shelf of its own, so that nothing is known of it yet
    where, mistaken, says = MISTAKES[what]
    module, _, name = where.rpartition(".")
    right = pkgutil.resolve_name(where)
    monkeypatch.setattr(
        pkgutil.resolve_name(module), name, lambda *told, **named: mistaken(right, *told, **named)
    )
    with pytest.raises(NotAsPromised, match=says):
        make_plan(changed_shelf(), WEEK)


def changed_shelf(**tables: Any) -> Shelf:
    return replace(demo()[0], **tables)


def test_a_plan_with_extra_does_not_outlive_the_wish_for_none() -> None:
    plan = plan_of(a_week(a_row("A")))
    with pytest.raises(NotAsPromised, match="not the count ordered"):
        verify_plan(plan, a_week(a_row("A", overpack="none")))


def test_a_plan_does_not_outlive_a_closed_border() -> None:
    shelf, plan = demo()
    country = the_parcel(plan).address.country
    closed = a_rule(999, to=country, taxon="*", verdict="closed", checked_on="2026-11-29")
    rules = (*(rule for rule in shelf.rules if rule.to != country), closed)
    with pytest.raises(NotAsPromised):
        verify_plan(plan, changed_shelf(rules=rules))


def test_a_plan_does_not_outlive_a_lower_limit_of_parcels() -> None:
    shelf, plan = demo()
    most = max(
        sum(p.dispatch_on == day for p in plan.parcels) for day in {p.dispatch_on for p in plan.parcels}
    )
    fewer = shelf.settings.plan.model_copy(update={"parcels_per_day": most - 1})
    with pytest.raises(NotAsPromised, match="too many parcels"):
        verify_plan(plan, changed_shelf(settings=shelf.settings.model_copy(update={"plan": fewer})))


def test_a_plan_does_not_outlive_a_count_that_fell() -> None:
    shelf, plan = demo()
    lot = the_parcel(plan).lines[0].draws[0].lot
    lots = tuple(row.model_copy(update={"eggs": 5}) if row.lot == lot else row for row in shelf.lots)
    with pytest.raises(NotAsPromised, match=f"lot {lot}"):
        verify_plan(plan, changed_shelf(lots=lots))


def test_a_plan_does_not_outlive_eggs_that_came_back_to_a_lot_unseen() -> None:
    shelf, plan = demo()
    lot = the_parcel(plan).lines[0].draws[0].lot
    with pytest.raises(NotAsPromised, match=f"lot {lot} must not go: eggs came back"):
        verify_plan(plan, changed_shelf(came_back={lot: ((shelf.today + timedelta(days=1), 3),)}))


@pytest.mark.parametrize(("said", "goes"), [("yes", False), (None, True), ("no", True)])
def test_a_look_of_the_day_of_a_return_made_before_the_parcels_lets_nothing_go(
    said: str | None, goes: bool
) -> None:
    shelf, plan = demo()
    seen = {lot.lot for lot in shelf.lots if lot.counted_on == shelf.today}
    seen |= {look.lot for look in shelf.looks if look.on == shelf.today}
    lots = (draw.lot for parcel in plan.parcels for line in parcel.lines for draw in line.draws)
    lot = next(lot for lot in lots if lot not in seen)
    look = Look(lot=lot, on=shelf.today, removed=0, before_packing=said)
    looked = changed_shelf(looks=(*shelf.looks, look), came_back={lot: ((shelf.today, 3),)})
    with nullcontext() if goes else pytest.raises(NotAsPromised, match=f"lot {lot} must not go: eggs came"):
        verify_plan(plan, looked)


def test_a_plan_does_not_outlive_an_operator_who_says_no() -> None:
    shelf, plan = demo()
    services = tuple(row.model_copy(update={"live_eggs": "no"}) for row in shelf.services)
    with pytest.raises(NotAsPromised, match="has not said yes"):
        verify_plan(plan, changed_shelf(services=services))


@pytest.mark.parametrize(("ceiling", "share"), [("hatch_ceiling", "h_per_egg"), ("any_ceiling", "h_any")])
def test_a_draw_just_at_its_packings_ceiling_may_go_and_one_above_may_not(ceiling: str, share: str) -> None:
    shelf, plan = demo()
    draws = [draw for parcel in plan.parcels for line in parcel.lines for draw in line.draws]
    worst = max(draws, key=lambda draw: float(getattr(draw, share)))

    def with_ceiling(value: float) -> Shelf:
        rows = (
            row.model_copy(update={ceiling: value}) if row.packing == worst.packing else row
            for row in shelf.packings
        )
        return changed_shelf(packings=tuple(rows))

    verify_plan(plan, with_ceiling(getattr(worst, share)))
    with pytest.raises(NotAsPromised, match="over the packing's ceiling"):
        verify_plan(plan, with_ceiling(getattr(worst, share) - 1e-4))


def test_a_draw_of_a_few_eggs_goes_only_where_it_is_the_whole_line() -> None:
    shelf, plan = demo()
    few = LEAST_DRAW - 1

    def split(line: PlannedLine) -> PlannedLine:
        (draw,) = line.draws
        return replace(line, draws=(replace(draw, pack=draw.pack - few), replace(draw, pack=few)))

    with pytest.raises(NotAsPromised, match="a draw below 5 eggs"):
        verify_plan(with_line(plan, split), shelf)
    with pytest.raises(NotAsPromised) as broken:
        verify_plan(with_line_pack(with_draw(plan, pack=few), few), shelf)
    assert "a draw below" not in str(broken.value)


def test_a_plan_that_draws_one_egg_more_than_is_free_is_found_out() -> None:
    # the last day but one of a lot's draws: the count falls until what is drawn is free to the egg, then by
    # one more
    shelf, plan = demo()
    lot = the_parcel(plan).lines[0].draws[0].lot
    count = shelf.lot_by_name[lot].eggs

    def verdict(eggs: int) -> str:
        lots = tuple(row.model_copy(update={"eggs": eggs}) if row.lot == lot else row for row in shelf.lots)
        try:
            verify_plan(plan, changed_shelf(lots=lots))
        except NotAsPromised as broken:
            return str(broken)
        return ""

    fewest = 1 + bisect_left(range(1, count), True, key=lambda eggs: f"lot {lot}:" not in verdict(eggs))
    drawn, free = re.search(r"(\d+) drawn by [\d-]+, (\d+) free", verdict(fewest - 1)).groups()
    assert int(drawn) == int(free) + 1
