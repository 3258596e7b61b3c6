"""What is offered can be promised: each count is tried by ordering it, and one egg more."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from shipping.options.option import Destination
from shipping.questions.offer import LEAST_OFFER, Offer, Offers, Place, offer, places
from shipping.questions.offer_text import offer_text, unasked_of
from shipping.tables.rows.lots import Group
from shipping.tables.rows.orders import OrderRow
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from shipping.week.plan_data import Plan
from shipping.words.reasons import Verdict
from shipping.words.units import iso_week, weekday
from tests.post.a_shelf import TODAY, a_packing, a_price, a_rule, a_service, a_species
from tests.week.a_week import TUBE, WEEK, a_lot, a_row, a_week, ago, going, orders, plan_of

TOMORROW = TODAY + timedelta(days=1)
#: Two lots of which neither alone does for many eggs.
TWO = (a_lot("G1", eggs=30), a_lot("G2", eggs=26, laid_from=ago(7), laid_to=ago(7)))


def known_rate(rate: float) -> Species:
    """The species with an oxygen rate that somebody measured [ug an egg and hour]."""
    return a_species(keep_min_c=10, keep_max_c=27, o2_ug_egg_h=rate, o2_basis="published")


def offers_of(shelf: Shelf, **asked: Any) -> Offers:
    return offer(shelf, make_plan(shelf, WEEK), **asked)


def the_offer(shelf: Shelf, **asked: Any) -> Offer:
    (one,) = offers_of(shelf, **asked).offers
    return one


def with_order(shelf: Shelf, rows: tuple[OrderRow, ...], eggs: int, on: date, country: str = "DK") -> Plan:
    """The plan of the offer's week with one more order, a cheap one that came today."""
    more = a_row("NEW", eggs=eggs, price="0.01", placed_on=TODAY, not_before=on, country=country)
    return make_plan(replace(shelf, orders=orders(*rows, more)), iso_week(on))


@pytest.mark.parametrize(
    "rows", [(), (a_row("A"),), (a_row("A"), a_row("B", eggs=15))], ids=["no order", "one", "two"]
)
@pytest.mark.parametrize(
    "lots", [(a_lot(),), TWO, (a_lot(keep_back=40),)], ids=["one lot", "two lots", "kept back"]
)
def test_what_is_offered_can_be_ordered_and_one_egg_more_cannot(
    rows: tuple[OrderRow, ...], lots: tuple[Any, ...]
) -> None:
    shelf = a_week(*rows, lots=lots)
    one = the_offer(shelf)
    assert one.best_on is not None
    assert one.can_promise >= LEAST_OFFER
    before = going(plan_of(shelf))
    assert going(with_order(shelf, rows, one.can_promise, one.best_on)) == before | {"NEW"}
    if len(lots) == 1 or not rows:  # else another order may move to the other lot, and so make room
        assert going(with_order(shelf, rows, one.can_promise + 1, one.best_on)) == before


def test_every_day_of_an_offer_holds_for_itself() -> None:
    shelf = a_week()
    one = the_offer(shelf)
    assert [day.on for day in one.days] == sorted(day.on for day in one.days)
    for day in one.days:
        assert day.can_promise < day.eggs_free
        assert "NEW" in going(with_order(shelf, (), day.can_promise, day.on)), day


def test_two_lots_are_promised_as_one_line_where_a_line_may_take_two() -> None:
    together = the_offer(a_week(lots=TWO)).can_promise
    apart = the_offer(a_week(lots=TWO, settings={"plan": {"lots_a_line": 1}})).can_promise
    assert apart < together < 56
    three = (*TWO, a_lot("G3", eggs=8))
    assert the_offer(a_week(lots=three, settings={"plan": {"lots_a_line": 2}})).can_promise == together


def test_orders_in_hand_come_first_and_it_says_how_many_eggs_they_take() -> None:
    shelf = a_week(a_row("A", eggs=30))
    plan = plan_of(shelf)
    drawn = sum(use.drawn for use in plan.lots)
    found = offers_of(shelf)
    assert found.taken[0].planned == drawn > 30
    without = the_offer(a_week())
    by_day = {day.on: day.eggs_free for day in without.days}
    assert all(day.eggs_free == by_day[day.on] - drawn for day in found.offers[0].days)


def test_a_line_that_waits_has_its_eggs_before_anyone_new() -> None:
    later = TODAY + timedelta(days=7)
    cool = a_lot("COOL", laid_from=ago(30), laid_to=ago(30), kept_at_c=14, eggs=60)
    found = offers_of(a_week(a_row("A", not_before=later), lots=(cool,)))
    assert found.taken[0].waiting >= 20
    assert [(line.order, line.line, line.until, line.eggs) for line in found.waiting] == [("A", 1, later, 20)]
    assert "must not leave before" in found.waiting[0].reason
    assert found.offers[0].can_promise < the_offer(a_week(lots=(cool,))).can_promise - 15


def test_what_orders_take_is_told_of_the_fish_asked_about() -> None:
    fish = {name: a_species(species=name, keep_min_c=10, keep_max_c=27) for name in ("aus", "gar")}
    lots = (a_lot("A1", species="aus", population="Cap"), a_lot("G1", population="Akure"))
    shelf = a_week(a_row("A"), a_row("B", species="aus"), lots=lots, species=fish)
    for asked, told in ((None, ["aus", "gar"]), ("aus", ["aus"]), ("gar", ["gar"])):
        assert [taken.species for taken in offers_of(shelf, species=asked).taken] == told


def test_a_line_on_hold_keeps_its_eggs_too() -> None:
    rows = (a_row("A", eggs=30),)
    shelf = a_week(orders=orders(*rows, has_paid_on=True))
    found = offers_of(shelf)
    assert (found.taken[0].planned, found.taken[0].waiting) == (0, 0)
    assert found.taken[0].held >= 30
    assert found.offers[0].can_promise < the_offer(a_week()).can_promise - 25


def test_kept_parcels_are_said_and_not_taken_twice() -> None:
    shelf = replace(a_week(), packed={"G1": {TODAY: 40}})
    found = offers_of(shelf, kept={"G1": 40})
    assert (found.taken[0].kept, found.taken[0].all) == (40, 40)
    assert found.offers[0].eggs_free == offers_of(shelf).offers[0].eggs_free


def test_an_offer_of_which_one_lot_is_estimated_is_no_count() -> None:
    lots = (a_lot("G1", eggs=30), a_lot("G2", eggs=26, count_basis="estimated"))
    assert (the_offer(a_week(lots=lots)).is_estimated, the_offer(a_week()).is_estimated) == (True, False)


def test_an_order_is_in_time_the_day_before_the_last_safe_dispatch() -> None:
    one = the_offer(a_week())
    assert one.until is not None
    assert one.order_by == one.until - timedelta(days=1)
    assert [(way.service, way.until, way.order_by) for way in one.ways] == [
        ("letter", one.until, one.order_by)
    ]
    after = one.until + timedelta(days=1)
    assert "NEW" not in going(with_order(a_week(), (), LEAST_OFFER, after))


def test_nothing_is_offered_for_today_since_orders_must_be_in_the_day_before() -> None:
    assert the_offer(a_week()).from_ == TOMORROW


def test_each_service_has_a_last_day_of_its_own() -> None:
    slow = a_service(service="slow", early_d=2, usual_d=3, late_d=4, live_eggs="yes", cut_off="15:00")
    fast = a_service(service="fast", early_d=1, usual_d=1, late_d=1, live_eggs="yes")
    prices = (a_price("*", 2000, "6", service="slow"), a_price("*", 2000, "9", service="fast"))
    lot = a_lot(laid_from=ago(6), laid_to=ago(6), eggs=200)
    one = the_offer(a_week(lots=(lot,), services=(fast, slow), postage=prices))
    until = {way.service: way.until for way in one.ways}
    assert until["slow"] is not None
    assert until["fast"] is not None
    assert until["slow"] < until["fast"] == one.until
    assert {way.service: way.cut_off for way in one.ways} == {"fast": None, "slow": "15:00"}


def test_a_closed_country_is_not_offered() -> None:
    one = the_offer(a_week(rules=(a_rule(2, verdict="closed"),), services=(a_service(live_eggs="ask"),)))
    assert (one.verdict, one.can_promise, one.days) == (Verdict.STOP, 0, ())
    assert [reason.code for reason in one.reasons] == ["closed"]


@pytest.mark.parametrize(
    ("rules", "code"),
    [
        ((), "no-rule"),
        ((a_rule(2, verdict="ask"),), "ask-rule"),
        ((a_rule(2, checked_on="2026-01-01"),), "stale-rule"),
        ((a_rule(2, verdict="papers", papers="health certificate"),), "papers"),
    ],
)
def test_what_a_person_must_answer_first_is_named_beside_what_could_go_then(
    rules: tuple[Any, ...], code: str
) -> None:
    one = the_offer(a_week(rules=rules))
    assert (one.verdict, [reason.code for reason in one.reasons]) == (Verdict.HOLD, [code])
    assert one.can_promise == the_offer(a_week()).can_promise


def test_an_operator_who_has_not_said_yes_holds_the_offer() -> None:
    one = the_offer(a_week(services=(a_service(early_d=1, usual_d=1, late_d=1, live_eggs="ask"),)))
    assert (one.verdict, [reason.code for reason in one.reasons]) == (Verdict.HOLD, ["ask-post"])


def test_an_overdue_lot_is_held_for_a_look() -> None:
    one = the_offer(a_week(lots=(a_lot(laid_from=ago(40), laid_to=ago(40)),)))
    assert (one.verdict, one.can_promise, one.reasons[0].code) == (Verdict.HOLD, 0, "overdue")


def test_a_lot_that_shows_eyes_later_is_offered_from_then() -> None:
    one = the_offer(a_week(lots=(a_lot(laid_from=TODAY, laid_to=TODAY, stage="laid", kept_at_c=20),)))
    assert one.verdict is Verdict.WAIT
    assert one.from_ is not None
    assert one.from_ > TODAY + timedelta(days=7)
    assert the_offer(a_week(lots=(a_lot(),))).verdict is Verdict.GO


def test_eggs_too_few_to_promise_are_said_not_offered() -> None:
    one = the_offer(a_week(a_row("A", eggs=20), lots=(a_lot(eggs=28),)))
    assert (one.verdict, one.can_promise) == (Verdict.STOP, 0)
    assert one.reasons[0].code == "short"
    late = a_service(early_d=1, usual_d=1, late_d=1, live_eggs="yes", hand_over="Wed")
    one = the_offer(a_week(a_row("A", eggs=20), lots=(a_lot(eggs=28),), services=(late,)))
    assert weekday(date.fromisoformat(str(one.reasons[0].facts["on"]))) == "Wed"


def test_what_a_group_should_give_is_offered_with_its_days_less_what_waiting_lines_are_to_have() -> None:
    group = Group(group="trio", species="gar", eggs_a_day=10)
    alone = the_offer(a_week(lots=(), groups=(group,)))
    assert (alone.verdict, alone.can_promise, alone.expected[0].eggs) == (Verdict.WAIT, 0, 59)
    queued = the_offer(a_week(a_row("A", eggs=34), lots=(), groups=(group,)))
    assert (queued.expected[0].on - alone.expected[0].on).days == 6


def test_an_egg_is_counted_once_and_offered_to_each_place_alternatively() -> None:
    services = (a_service(to="DK SE", early_d=1, usual_d=1, late_d=1, live_eggs="yes"),)
    shelf = a_week(services=services)
    found = offers_of(shelf)
    assert [one.to for one in found.offers] == ["DK", "SE"]
    assert found.offers[0].eggs_free == found.offers[1].eggs_free <= 100
    assert "do not add up" in str(found.as_json()["note"])


def test_a_zone_is_offered_what_holds_for_each_of_its_countries() -> None:
    services = (a_service(to="NEAR", early_d=1, usual_d=1, late_d=1, live_eggs="yes"),)
    near = a_week(
        services=services,
        zones={"NEAR": frozenset({"DK", "SE", "NO"})},
        rules=(a_rule(2), a_rule(3, to="NO", verdict="ask")),
    )
    found = offers_of(near).offers
    assert [(one.to, one.countries, one.verdict) for one in found] == [
        ("NEAR", ("DK", "SE"), Verdict.GO),
        ("NEAR", ("NO",), Verdict.HOLD),
    ]
    apart = [the_offer(near, to=(Place(to, (Destination(to),)),)) for to in ("DK", "SE")]
    days = [{day.on: day.can_promise for day in one.days} for one in apart]
    assert {day.on: day.can_promise for day in found[0].days} == {
        on: min(days[0][on], days[1][on]) for on in days[0].keys() & days[1]
    }


def test_places_are_zones_named_countries_and_elsewhere() -> None:
    services = (a_service(to="NEAR DK"), a_service(service="far", to="*"))
    shelf = a_week(a_row("A", country="US"), services=services, zones={"NEAR": frozenset({"SE", "NO"})})
    assert [(place.name, [to.country for to in place.to]) for place in places(shelf)] == [
        ("NEAR", ["NO", "SE"]),
        ("DK", ["DK"]),
        ("elsewhere", ["US"]),
    ]


def test_a_part_of_a_country_with_a_service_of_its_own_is_a_place() -> None:
    shelf = a_week(services=(a_service(to="ES-CN", live_eggs="yes"), a_service(service="far", to="ES")))
    assert [(place.name, [to.place for to in place.to]) for place in places(shelf)] == [
        ("ES", [("ES", "")]),
        ("ES-CN", [("ES", "CN")]),
    ]


def test_a_place_no_service_goes_to_is_told_so() -> None:
    shelf = a_week(services=(a_service(to="DK", early_d=1, usual_d=1, late_d=1, live_eggs="yes"),))
    one = the_offer(shelf, to=(Place("SE", (Destination("SE"),)),))
    assert (one.verdict, [reason.code for reason in one.reasons]) == (Verdict.STOP, ["no-route"])


def test_days_that_are_full_are_not_offered() -> None:
    rows = tuple(a_row(name, eggs=5) for name in "ABCDE")
    shelf = a_week(
        *rows,
        settings={"plan": {"parcels_per_day": 2}},
        lots=(a_lot(laid_from=ago(6), laid_to=ago(6), eggs=300),),
    )
    plan = plan_of(shelf)
    full = {
        day
        for day in {p.dispatch_on for p in plan.parcels}
        if sum(p.dispatch_on == day for p in plan.parcels) == 2
    }
    assert full
    assert not full & {day.on for day in offer(shelf, plan).offers[0].days}


def test_regions_with_rules_of_their_own_are_named() -> None:
    one = the_offer(a_week(rules=(a_rule(2), a_rule(3, to="DK-81", verdict="closed"))))
    assert (one.verdict, one.regions) == (Verdict.HOLD, ("DK-81",))
    assert [reason.code for reason in one.reasons] == ["no-region"]


def test_where_a_place_is_asked_for_by_region_the_text_does_not_say_that_nothing_can_be_promised() -> None:
    by_region = a_week(rules=(a_rule(2), a_rule(3, to="DK-81", verdict="closed")))
    cases = ((by_region, "differs by state or region"), (a_week(lots=()), "Nothing can be promised"))
    for shelf, says in cases:
        found = offer(shelf, plan_of(shelf))
        assert bool(unasked_of(found)) == (shelf is by_region)
        assert says in "\n".join(offer_text(found, shelf.settings.sender))


def test_the_answer_is_the_same_whatever_the_order_of_rows() -> None:
    species = {
        "gar": a_species(keep_min_c=10, keep_max_c=27),
        "jor": a_species(species="jor", keep_min_c=10, keep_max_c=27),
    }
    lots = (*TWO, a_lot("J", species="jor"))
    services = (
        a_service(to="DK SE", live_eggs="yes", early_d=1, usual_d=1, late_d=1),
        a_service(service="slow", to="SE", live_eggs="yes"),
    )
    rows = (a_row("A"), a_row("B", species="jor", eggs=70), a_row("C", eggs=40))
    shelf = a_week(
        *rows, lots=lots, species=species, services=services, rules=(a_rule(2), a_rule(3, to="SE"))
    )
    turned = replace(
        shelf,
        lots=shelf.lots[::-1],
        orders=shelf.orders[::-1],
        services=shelf.services[::-1],
        packings=shelf.packings[::-1],
        rules=shelf.rules[::-1],
        species=dict(reversed(species.items())),
    )
    plan = plan_of(shelf)
    assert offer(turned, plan).as_json() == offer(shelf, plan).as_json()


def test_an_empty_shelf_offers_nothing_and_says_so() -> None:
    found = offers_of(a_week(lots=()))
    assert (found.offers, found.waiting, found.taken) == ((), (), ())


@pytest.mark.parametrize(
    "tables",
    [
        {"postage": (a_price("*", 50, "3"),)},
        {
            "packings": (TUBE.model_copy(update={"volume_ml": 15.0, "water_ml": 5.0}),),
            "species": {"gar": known_rate(3.0)},
        },
        {"packings": (TUBE.model_copy(update={"any_ceiling": 0.005}),)},
    ],
    ids=["postage takes two tubes", "the air of a tube is known", "hardly any may hatch"],
)
def test_what_the_post_the_air_and_the_ceiling_allow_is_what_is_promised(tables: dict[str, Any]) -> None:
    shelf = a_week(lots=(a_lot(laid_from=ago(7), laid_to=ago(7), eggs=300),), **tables)
    one = the_offer(shelf)
    assert one.best_on is not None
    assert LEAST_OFFER <= one.can_promise < the_offer(a_week(lots=shelf.lots)).can_promise
    assert "NEW" in going(with_order(shelf, (), one.can_promise, one.best_on))
    assert "NEW" not in going(with_order(shelf, (), one.can_promise + 1, one.best_on))


def test_of_days_that_promise_alike_the_first_is_the_best() -> None:
    species = {"gar": a_species(incubation="damp", keep_min_c=10, keep_max_c=27)}
    days = {"wet_from": TODAY + timedelta(days=60), "wet_until": TODAY + timedelta(days=90)}
    damp = a_packing(packing="damp bag", kind="damp bag", media="peat", weight_g=20)
    lots = (a_lot(medium="peat", stage="fertile", **days),)
    settings = {"plan": {"shelf_loss_per_day": 0}}
    (one,) = offer(a_week(lots=lots, species=species, packings=(damp,), settings=settings), None).offers
    alike = [day.on for day in one.days if day.can_promise == one.can_promise]
    assert len(alike) > 1
    assert one.best_on == alike[0] == min(alike)


def test_damp_lots_of_one_fish_are_told_with_their_own_first_day_to_wet() -> None:
    species = {"gar": a_species(incubation="damp", keep_min_c=10, keep_max_c=27)}
    damp = a_packing(packing="damp bag", kind="damp bag", media="peat", weight_g=20)
    settings = {"plan": {"shelf_loss_per_day": 0}}
    days = {name: TODAY + timedelta(days=n) for name, n in (("soon", 5), ("late", 40))}
    lots = tuple(
        a_lot(
            name,
            eggs=60,
            medium="peat",
            stage="fertile",
            wet_from=first,
            wet_until=TODAY + timedelta(days=90),
        )
        for name, first in days.items()
    )
    (one,) = offer(a_week(lots=lots, species=species, packings=(damp,), settings=settings), None).offers
    assert one.wetted == ((60, days["soon"]), (60, days["late"]))
    (one,) = offer(a_week(lots=lots[:1], species=species, packings=(damp,), settings=settings), None).offers
    assert one.wetted == ()
