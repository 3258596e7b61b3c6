"""Each limit that a plan is verified by, met exactly and passed by the least, in small weeks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from shipping.tables.shelf import Shelf
from shipping.week.plan_data import LineOut, Plan
from shipping.week.verify import NotAsPromised, verify_plan
from shipping.words.reasons import Verdict
from tests.post.a_shelf import TODAY, a_rule, a_service, a_species
from tests.week.a_week import BAG, TUBE, a_lot, a_row, a_week, ago, plan_of

TOMORROW = TODAY + timedelta(days=1)
#: The 95 % arrival of a parcel of today, by a service of two days at the most.
P95 = TODAY + timedelta(days=2)
POST = a_service(early_d=1, usual_d=1, late_d=2, live_eggs="yes")
#: A tube of which the hours of air are known.
FILLED = TUBE.model_copy(update={"volume_ml": 15.0, "water_ml": 5.0})


def broken(plan: Plan, shelf: Shelf) -> str:
    """What is said of a plan beside a shelf; "" where it keeps every limit."""
    try:
        verify_plan(plan, shelf, processes=1)
    except NotAsPromised as error:
        return str(error)
    return ""


def with_plan(**settings: Any) -> Mapping[str, Any]:
    return {"settings": {"plan": settings}}


def of_row(**cells: Any) -> Mapping[str, Any]:
    return {"row": cells}


#: What may be so of the shelf, what may not, and what is said then.
LIMITS: dict[str, tuple[Mapping[str, Any], Mapping[str, Any], str]] = {
    "parcels of a day": (
        {**with_plan(parcels_per_day=3), "parcels_made": {TODAY: 2}},
        {**with_plan(parcels_per_day=3), "parcels_made": {TODAY: 3}},
        "too many parcels on a day",
    ),
    "today": ({"today": TODAY}, {"today": TOMORROW}, "no day to post"),
    "days to post": (with_plan(dispatch_days=["Mon"]), with_plan(dispatch_days=["Tue"]), "no day to post"),
    "the order's first day": (
        of_row(not_before=TODAY),
        of_row(not_before=TOMORROW),
        "outside the order's days",
    ),
    "the order's last day": (
        of_row(not_after=P95),
        of_row(not_after=P95 - timedelta(days=1)),
        "outside the order's days",
    ),
    "the order's service": (
        of_row(service="letter"),
        of_row(service="express"),
        "another service was asked for",
    ),
    "the order's population": (
        of_row(population="akure"),
        of_row(population="Nsukka"),
        "another population",
    ),
    "payment": (of_row(paid_on=TODAY), of_row(paid_on=None), "unpaid"),
    "a rule that asks": (
        {"rules": (a_rule(2, until=TODAY),)},
        {"rules": (a_rule(2, verdict="ask"),)},
        "says to ask first",
    ),
    "home": (
        {"rules": (a_rule(2), a_rule(3, to="DK"))},
        {"rules": (a_rule(2), a_rule(3, to="DK", verdict="closed"))},
        "closed at home",
    ),
    "the stage of eggs in a tube": (
        {"lots": (a_lot(eggs=60, population="Akure"),)},
        {"lots": (a_lot(eggs=60, population="Akure", stage="ready"),)},
        "a ready lot in a tube",
    ),
    "hand-over": (
        {"services": (POST.model_copy(update={"hand_over": ("Mon",)}),)},
        {"services": (POST.model_copy(update={"hand_over": ("Tue",)}),)},
        "no hand-over of letter",
    ),
    "eggs of a tube": (
        {"packings": (FILLED.model_copy(update={"eggs_max": 23}),)},
        {"packings": (FILLED.model_copy(update={"eggs_max": 22}),)},
        "does not hold it",
    ),
    "warmth": (
        {"species": {"gar": a_species(keep_min_c=15, keep_max_c=27)}},
        {"species": {"gar": a_species(keep_min_c=15.1, keep_max_c=27)}},
        "the journey is not as planned",
    ),
    "air": (
        {"species": {"gar": a_species(keep_min_c=10, o2_basis="published", o2_ug_egg_h=0.01)}},
        {"species": {"gar": a_species(keep_min_c=10, o2_basis="published", o2_ug_egg_h=9)}},
        "the journey is not as planned",
    ),
}
BASE: Mapping[str, Any] = {
    "lots": (a_lot(eggs=60, population="Akure"),),
    "services": (POST,),
    "packings": (FILLED,),
}


def shelf_of(row: Mapping[str, Any] | None = None, **tables: Any) -> Shelf:
    shelf = a_week(**{**BASE, **tables})
    cells = {"paid_on": TODAY, **(row or {})}
    week = a_week(a_row("A", **cells))
    order = week.orders[0]
    lines = tuple(replace(line, paid=cells["paid_on"] is not None) for line in order.lines)
    return replace(shelf, orders=(replace(order, lines=lines),))


@pytest.mark.parametrize("limit", LIMITS)
def test_a_plan_keeps_each_limit_of_the_tables_to_its_end_and_no_further(limit: str) -> None:
    may, may_not, says = LIMITS[limit]
    plan = plan_of(shelf_of())
    assert [parcel.pack for parcel in plan.parcels] == [23]
    assert plan.parcels[0].arrive.p95 == P95
    assert broken(plan, shelf_of(**may)) == ""
    assert says in broken(plan, shelf_of(**may_not))


@pytest.mark.parametrize(("lots_a_line", "is_kept"), [(2, True), (1, False)])
def test_no_line_is_filled_from_more_lots_than_are_allowed(lots_a_line: int, is_kept: bool) -> None:
    lots = (a_lot("G1", eggs=18), a_lot("G2", eggs=18))
    plan = plan_of(a_week(a_row("A"), lots=lots))
    assert len(plan.parcels[0].lines[0].draws) == 2
    said = broken(plan, a_week(a_row("A"), lots=lots, **with_plan(lots_a_line=lots_a_line)))
    assert ("not what was ordered" in said) != is_kept


@pytest.mark.parametrize(("more", "says"), [(0.0, ""), (1e-6, "the promise is not kept")])
def test_a_chance_of_just_what_is_promised_keeps_it(more: float, says: str) -> None:
    plan = plan_of(a_week(a_row("A")))
    promised = plan.parcels[0].lines[0].p_enough
    assert says in broken(plan, a_week(a_row("A"), **with_plan(promise=promised + more)))
    assert bool(says) == bool(broken(plan, a_week(a_row("A"), **with_plan(promise=promised + more))))


@pytest.mark.parametrize(
    ("parts", "left_out"), [("together", True), ("may split", True), ("may split", False)]
)
def test_an_order_is_torn_apart_by_a_line_left_out_unless_it_may_and_by_two_parcels_always(
    parts: str, left_out: bool
) -> None:
    shelf = a_week(*(a_row("A", eggs=eggs, parts=parts) for eggs in (10, 12)))
    plan = plan_of(shelf)
    (parcel,) = plan.parcels
    first, second = parcel.lines
    one, other = (replace(parcel, lines=(line,)) for line in (first, second))
    gone = LineOut(second.order, second.line, Verdict.WAIT, None, ())
    torn = (
        replace(plan, parcels=(one,), lines_out=(gone,)) if left_out else replace(plan, parcels=(one, other))
    )
    assert broken(plan, shelf) == ""
    assert ("order A is torn apart" in broken(torn, shelf)) == (parts == "together" or not left_out)


def test_a_lot_that_is_drawn_from_has_no_fewer_than_no_eggs_left() -> None:
    shelf = a_week(a_row("A"))
    plan = plan_of(shelf)
    (use,) = plan.lots
    for free, says in ((use.drawn, ""), (use.drawn - 1, "lot G1: the count is off")):
        assert broken(replace(plan, lots=(replace(use, free=free),)), shelf) == says


def test_an_egg_drawn_on_one_day_is_not_there_on_the_next() -> None:
    """Of one lot 23 go today and 23 tomorrow, by when one of some 45 eggs is lost on the shelf."""
    rows = (a_row("A", not_after=TOMORROW), a_row("B", not_before=TOMORROW))
    plan = plan_of(a_week(*rows))
    assert [(parcel.dispatch_on, parcel.pack) for parcel in plan.parcels] == [(TODAY, 23), (TOMORROW, 23)]
    for eggs, says in ((47, ""), (46, "lot G1: 46 drawn by 2026-12-01, 45 free")):
        assert broken(plan, a_week(*rows, lots=(a_lot(eggs=eggs),))) == says


@pytest.mark.parametrize(("keeps_d", "is_kept"), [(2, True), (1, False)])
def test_eggs_sent_damp_arrive_by_the_last_day_on_which_they_may_be_wetted(
    keeps_d: int, is_kept: bool
) -> None:
    """Seen alive on the day they are posted, after the end of wetting; two days on the way at most."""
    bag = BAG.model_copy(update={"packing": "moss", "kind": "damp bag", "media": ("moss",)})

    def shelf_that_keeps(days: int) -> Shelf:
        annual = a_species(incubation="damp", keep_min_c=10, hatch_early_d=20, ready_keeps_d=days)
        lot = a_lot(medium="moss", stage="eyed", wet_from=ago(3), wet_until=ago(1))
        return a_week(a_row("A"), lots=(lot,), packings=(bag,), services=(POST,), species={"gar": annual})

    plan = plan_of(shelf_that_keeps(9))
    assert plan.parcels[0].arrive.p95 == TODAY + timedelta(days=2)
    assert (broken(plan, shelf_that_keeps(keeps_d)) == "") == is_kept


@pytest.mark.parametrize("asks", ["water", "moss"])
def test_the_rule_for_what_eggs_travel_in_holds_and_not_that_for_what_they_are_kept_in(asks: str) -> None:
    """Kept in water, sent in moss."""
    bag = BAG.model_copy(update={"packing": "moss", "kind": "damp bag", "medium": "moss"})
    plan = plan_of(a_week(a_row("A"), packings=(bag,)))
    rules = (a_rule(2), a_rule(3, medium=asks, verdict="ask"))
    said = broken(plan, a_week(a_row("A"), packings=(bag,), rules=rules))
    assert ("says to ask first" in said) == (asks == "moss")
