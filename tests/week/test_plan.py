"""The week's plan, on small weeks whose answer can be seen by eye."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shipping.eggs.overpack import chance_enough
from shipping.options.option_factory import OptionFactory
from shipping.tables.rows.weather import Weather
from shipping.week.objective import default_week
from shipping.week.plan import make_plan
from shipping.words.reasons import Verdict
from tests.post.a_shelf import TODAY, a_price, a_rule, a_service, a_species
from tests.week.a_week import BAG, TUBE, WEEK, a_lot, a_row, a_week, ago, going, orders, plan_of


def test_an_order_that_can_go_goes_with_its_reasons() -> None:
    plan = plan_of(a_week(a_row("A")))
    (parcel,) = plan.parcels
    (line,) = parcel.lines
    assert [reason.code for reason in line.reasons] == ["chosen", "extra"]
    assert line.p_enough >= 0.95
    assert 20 < line.pack <= 30
    assert plan.proof.gap == 0
    assert plan.proof.value == pytest.approx(10 * 1.05)


def test_the_plan_packs_no_egg_more_than_the_promise_needs() -> None:
    shelf = a_week(a_row("A"))
    (parcel,) = plan_of(shelf).parcels
    (line,) = parcel.lines
    factory = OptionFactory(shelf)
    leg = factory.leg(
        factory.services(("DK", ""))[0], factory.destination(shelf.orders[0]), parcel.dispatch_on
    )
    ride = factory.ride(factory.lot_day("G1", leg.day), TUBE, leg)
    assert chance_enough(((line.pack - 1, ride.v, 40.0),), leg.chances, 20) < 0.95


def test_what_hatches_soon_goes_first_and_the_lot_on_the_cool_shelf_stays() -> None:
    older = a_lot("OLD", laid_from=ago(9), laid_to=ago(9))
    cool = a_lot("COOL", laid_from=ago(30), laid_to=ago(30), kept_at_c=14)
    plan = plan_of(a_week(a_row("A"), lots=(cool, older)))
    assert [draw.lot for draw in plan.parcels[0].lines[0].draws] == ["OLD"]


def test_of_two_orders_for_the_last_eggs_the_one_worth_more_goes() -> None:
    plan = plan_of(a_week(a_row("A", price="10"), a_row("B", price="12"), lots=(a_lot(eggs=30),)))
    assert going(plan) == {"B"}
    (out,) = plan.lines_out
    assert (out.order, out.verdict) == ("A", Verdict.WAIT)


def test_at_equal_value_the_older_order_goes() -> None:
    # B's price makes up exactly for A's longer wait: 10 x 1.05 = 10.50 after one week, 10.50 x 1 today
    rows = (a_row("A", price="10.50", placed_on=TODAY), a_row("B", price="10", placed_on=ago(7)))
    plan = plan_of(a_week(*rows, lots=(a_lot(eggs=30),)))
    assert going(plan) == {"B"}


def test_three_weeks_of_waiting_are_worth_fifteen_percent() -> None:
    rows = (a_row("A", price="10", placed_on=ago(21)), a_row("B", price="11.40", placed_on=TODAY))
    assert going(plan_of(a_week(*rows, lots=(a_lot(eggs=30),)))) == {"A"}
    richer = (rows[0], a_row("B", price="11.60", placed_on=TODAY))
    assert going(plan_of(a_week(*richer, lots=(a_lot(eggs=30),)))) == {"B"}


def test_where_an_order_has_no_price_eggs_are_the_value() -> None:
    rows = (a_row("A", eggs=20, price=None), a_row("B", eggs=10, price="90"))
    assert going(plan_of(a_week(*rows, lots=(a_lot(eggs=30),)))) == {"A"}


@pytest.mark.parametrize(("verdict", "stands"), [("closed", Verdict.STOP), ("ask", Verdict.HOLD)])
def test_what_a_rule_does_not_open_never_goes(verdict: str, stands: Verdict) -> None:
    plan = plan_of(a_week(a_row("A"), rules=(a_rule(2, verdict=verdict),)))
    assert not plan.parcels
    assert plan.lines_out[0].verdict is stands


def test_no_rule_is_never_open() -> None:
    plan = plan_of(a_week(a_row("A"), rules=()))
    assert plan.lines_out[0].verdict is Verdict.HOLD
    assert plan.lines_out[0].reasons[0].code == "no-rule"


def test_a_rule_for_elsewhere_does_not_close_home() -> None:
    rules = (a_rule(2), a_rule(3, to="AU", verdict="closed"))
    assert going(plan_of(a_week(a_row("A"), a_row("B", country="AU"), rules=rules))) == {"A"}


def test_papers_open_what_asks_for_them() -> None:
    rules = (a_rule(2, verdict="papers", papers="health certificate"),)
    rows = (a_row("A"), a_row("B", papers="health certificate"))
    plan = plan_of(a_week(*rows, rules=rules))
    assert going(plan) == {"B"}
    assert plan.lines_out[0].reasons[0].code == "papers"


def test_an_unpaid_order_is_held() -> None:
    plan = plan_of(a_week(orders=orders(a_row("A"), a_row("B", paid_on=ago(1)), has_paid_on=True)))
    assert going(plan) == {"B"}
    assert (plan.lines_out[0].verdict, plan.lines_out[0].reasons[0].code) == (Verdict.HOLD, "unpaid")


def test_an_operator_who_has_not_said_yes_holds_the_order() -> None:
    plan = plan_of(a_week(a_row("A"), services=(a_service(live_eggs="ask"),)))
    assert (plan.lines_out[0].verdict, plan.lines_out[0].reasons[0].code) == (Verdict.HOLD, "ask-post")


def test_parcels_a_day_spread_over_the_week_and_the_rest_waits() -> None:
    rows = [a_row(name, eggs=5) for name in "ABCDEF"]
    settings = {"plan": {"parcels_per_day": 1}}
    plan = plan_of(
        a_week(*rows, settings=settings, lots=(a_lot(laid_from=ago(6), laid_to=ago(6), eggs=300),))
    )
    # Friday's letter would only arrive on Monday, too late for this lot: four days are left for six orders
    assert [parcel.dispatch_on for parcel in plan.parcels] == [TODAY + timedelta(days=n) for n in range(4)]
    assert [(out.verdict, out.reasons[0].code) for out in plan.lines_out] == [(Verdict.WAIT, "day-full")] * 2


def test_a_limit_of_no_parcels_sends_none() -> None:
    assert not plan_of(a_week(a_row("A"), settings={"plan": {"parcels_per_day": 0}})).parcels


def test_two_orders_to_one_address_share_a_parcel() -> None:
    same = {"addressee": "Buyer A", "delivery_1": "Gade A"}
    plan = plan_of(a_week(a_row("A", **same), a_row("B", eggs=10, **same)))
    (parcel,) = plan.parcels
    assert parcel.orders == ("A", "B")
    assert parcel.weight_g == 2 * 18
    assert str(parcel.postage) == "3"


def test_two_orders_to_different_addresses_do_not() -> None:
    assert len(plan_of(a_week(a_row("A"), a_row("B", eggs=10))).parcels) == 2


def test_orders_of_one_address_do_not_join_where_two_parcels_are_cheaper() -> None:
    same = {"addressee": "Buyer A", "delivery_1": "Gade A"}
    heavy = TUBE.model_copy(update={"weight_g": 60.0})
    plan = plan_of(
        a_week(
            a_row("A", **same),
            a_row("B", eggs=10, **same),
            packings=(heavy,),
            postage=(a_price("*", 100, "3"), a_price("*", 2000, "20")),
        )
    )
    assert len(plan.parcels) == 2


def two_species() -> dict[str, object]:
    return {
        "gar": a_species(keep_min_c=10, keep_max_c=27),
        "aus": a_species(species="aus", scientific_name="Aphyosemion australe", keep_min_c=10, keep_max_c=27),
    }


def test_something_instead_goes_only_where_what_was_ordered_cannot() -> None:
    row = a_row("A", instead="aus")
    aus = a_lot("A1", species="aus")
    own = plan_of(a_week(row, lots=(a_lot(), aus), species=two_species()))
    assert own.parcels[0].lines[0].species == "gar"
    assert own.parcels[0].lines[0].instead_of == ""
    other = plan_of(a_week(row, lots=(a_lot(eggs=10), aus), species=two_species()))
    (line,) = other.parcels[0].lines
    assert (line.species, line.instead_of) == ("aus", "gar")
    assert "instead" in {reason.code for reason in line.reasons}


def test_the_second_thing_agreed_to_goes_where_the_first_cannot() -> None:
    species = two_species() | {"cal": a_species(species="cal", scientific_name="Aphyosemion calliurum")}
    row = a_row("A", instead="cal; aus")
    plan = plan_of(a_week(row, lots=(a_lot(eggs=10), a_lot("A1", species="aus")), species=species))
    assert [line.species for parcel in plan.parcels for line in parcel.lines] == ["aus"]


def test_nothing_goes_instead_that_the_buyer_did_not_agree_to() -> None:
    plan = plan_of(a_week(a_row("A"), lots=(a_lot("A1", species="aus"),), species=two_species()))
    assert not plan.parcels
    assert plan.lines_out[0].reasons[0].code == "no-lot"


def test_lots_are_shared_only_where_none_alone_is_enough_and_trimmed_to_the_promise() -> None:
    small = (a_lot("G1", eggs=18), a_lot("G2", eggs=18))
    plan = plan_of(a_week(a_row("A"), lots=small))
    (line,) = plan.parcels[0].lines
    assert sorted(draw.lot for draw in line.draws) == ["G1", "G2"]
    assert line.p_enough >= 0.95
    assert all(draw.pack >= 5 for draw in line.draws)
    assert sum(draw.units for draw in line.draws) == 2
    one = plan_of(a_week(a_row("A"), lots=(*small, a_lot("G3", eggs=60))))
    assert [draw.lot for draw in one.parcels[0].lines[0].draws] == ["G3"]
    # independent lots need no more than one lot alone would, and one egg fewer would break the promise
    assert line.pack <= one.parcels[0].lines[0].pack


def test_populations_are_never_mixed_in_a_line() -> None:
    lots = (a_lot("G1", eggs=18, population="Akure"), a_lot("G2", eggs=18, population="Nsukka"))
    assert not plan_of(a_week(a_row("A"), lots=lots)).parcels


def test_with_one_lot_a_line_nothing_is_shared() -> None:
    small = (a_lot("G1", eggs=18), a_lot("G2", eggs=18))
    assert not plan_of(a_week(a_row("A"), lots=small, settings={"plan": {"lots_a_line": 1}})).parcels


def test_an_order_stays_together_unless_it_may_split() -> None:
    rows = (a_row("A"), a_row("A", species="aus"))
    plan = plan_of(a_week(*rows, species=two_species()))
    assert not plan.parcels
    assert {out.line: out.reasons[0].code for out in plan.lines_out} == {1: "other-line", 2: "no-lot"}
    split = (a_row("A", parts="may split"), a_row("A", species="aus"))
    plan = plan_of(a_week(*split, species=two_species()))
    assert [(line.order, line.line) for parcel in plan.parcels for line in parcel.lines] == [("A", 1)]


def test_a_line_worth_next_to_nothing_beside_another_goes_where_it_can() -> None:
    rows = (a_row("A", price="999999.99"), a_row("B", eggs=15, price="0.01"), a_row("C", eggs=10))
    plan = plan_of(a_week(*rows))
    assert sorted(line.order for parcel in plan.parcels for line in parcel.lines) == ["A", "B", "C"]


def test_without_extra_eggs_the_count_ordered_goes_and_the_slip_says_its_chance() -> None:
    plan = plan_of(a_week(a_row("A", overpack="none")))
    (line,) = plan.parcels[0].lines
    assert line.pack == 20
    assert line.p_enough < 0.95


def test_not_before_and_not_after_bound_the_journey() -> None:
    plan = plan_of(
        a_week(a_row("A", not_before=TODAY + timedelta(days=2), not_after=TODAY + timedelta(days=3)))
    )
    (parcel,) = plan.parcels
    assert parcel.dispatch_on == TODAY + timedelta(days=2)
    assert parcel.arrive.p95 == TODAY + timedelta(days=3)
    assert not plan_of(a_week(a_row("A", not_after=TODAY))).parcels


@pytest.mark.parametrize(("last_day", "goes"), [(4, True), (3, False)])
def test_an_orders_last_day_is_kept_by_the_latest_likely_arrival_and_not_by_the_usual_one(
    last_day: int, goes: bool
) -> None:
    # handed over on Monday: there on Wednesday as a rule, and by Friday in 95 of 100
    slow = a_service(early_d=1, usual_d=2, late_d=4, live_eggs="yes")
    row = a_row("A", not_after=TODAY + timedelta(days=last_day))
    plan = plan_of(a_week(row, services=(slow,), packings=(BAG,)))
    assert bool(plan.parcels) is goes
    assert goes or plan.lines_out[0].reasons[0].code == "not-after"


def test_a_named_service_is_the_only_one_used() -> None:
    services = (
        a_service(early_d=1, usual_d=1, late_d=1, live_eggs="yes"),
        a_service(service="courier", early_d=1, usual_d=1, late_d=1, live_eggs="yes"),
    )
    postage = (a_price("*", 2000, "3"), a_price("*", 2000, "30", service="courier"))
    plan = plan_of(a_week(a_row("A", service="courier"), a_row("B"), services=services, postage=postage))
    assert {parcel.orders[0]: parcel.service for parcel in plan.parcels} == {"A": "courier", "B": "letter"}


def test_more_eggs_than_a_unit_holds_take_several_filled_evenly() -> None:
    plan = plan_of(a_week(a_row("A", eggs=50), packings=(TUBE,), lots=(a_lot(eggs=200),)))
    (draw,) = plan.parcels[0].lines[0].draws
    assert draw.units == -(-draw.pack // 30)
    assert draw.units > 1
    assert max(draw.unit_eggs) <= 30
    assert max(draw.unit_eggs) - min(draw.unit_eggs) <= 1


def test_one_more_order_or_lot_never_lowers_the_value() -> None:
    rows = [a_row("A", price="10"), a_row("B", eggs=25, price="14"), a_row("C", eggs=10, price="6")]
    lots = (a_lot("G1", eggs=40), a_lot("G2", eggs=33, laid_from=ago(7), laid_to=ago(7)))
    value = plan_of(a_week(*rows[:2], lots=lots[:1])).proof.value
    assert plan_of(a_week(*rows, lots=lots[:1])).proof.value >= value
    assert plan_of(a_week(*rows[:2], lots=lots)).proof.value >= value


def test_a_ready_lot_goes_in_no_tube() -> None:
    # no ceiling is in the way: the tube would take any share hatching, and eggs kept so cool hatch in months
    lots = (a_lot(stage="ready", laid_from=ago(11), laid_to=ago(11)),)
    tube = TUBE.model_copy(update={"hatch_ceiling": 1.0, "any_ceiling": 1.0})
    assert plan_of(
        a_week(a_row("A"), lots=(a_lot(laid_from=ago(8), laid_to=ago(8)),), packings=(tube,))
    ).parcels
    plan = plan_of(a_week(a_row("A"), lots=lots, packings=(tube,)))
    assert not plan.parcels
    assert [reason.code for reason in plan.lines_out[0].reasons] == ["would-hatch"]
    assert "never in a sealed tube" in plan.lines_out[0].reasons[0].text
    with_bag = plan_of(a_week(a_row("A"), lots=lots, packings=(TUBE, BAG)))
    assert all(
        draw.packing == "bag" for parcel in with_bag.parcels for line in parcel.lines for draw in line.draws
    )


def test_a_packing_that_bears_no_hatching_takes_eggs_of_which_none_can_hatch_on_the_way() -> None:
    """A share that is just the ceiling is not over it: eggs of 60 to 80 days, 25 days old, cannot hatch in
    one.
    """
    slow = a_species(
        keep_min_c=10, keep_max_c=27, hatch_early_d=60, hatch_usual_d=70, hatch_late_d=80, eyed_at=0.3
    )
    tube = TUBE.model_copy(update={"hatch_ceiling": 0.0, "any_ceiling": 0.0})
    lots = (a_lot(laid_from=ago(25), laid_to=ago(25)),)
    plan = plan_of(a_week(a_row("A"), lots=lots, species={"gar": slow}, packings=(tube,)))
    (draw,) = plan.parcels[0].lines[0].draws
    assert (draw.h_per_egg, draw.h_any) == (0.0, 0.0)


@pytest.mark.parametrize(("high_c", "goes"), [(21.0, True), (21.1, False)])
def test_a_heat_pack_goes_where_the_parcel_feels_21_degrees_at_the_most(high_c: float, goes: bool) -> None:
    warmed = BAG.model_copy(update={"heat_pack_h": 40.0})
    weather = tuple(Weather(to="*", month=month, low_c=15, high_c=high_c) for month in range(1, 13))
    plan = plan_of(a_week(a_row("A"), packings=(warmed,), weather=weather))
    assert bool(plan.parcels) is goes


def test_the_loss_shown_is_postage_packing_extra_eggs_shortfall_and_what_could_wait() -> None:
    plan = plan_of(a_week(a_row("A", price="10"), settings={"plan": {"egg_value": "0.5"}}))
    (line,) = plan.parcels[0].lines
    fixed = 3 + 0.40 + line.extra * 0.5 + 10 * (1 - line.p_enough) + 10 * 0.01
    # eggs eight days old cannot wait for next week, so taking them costs nothing more
    assert plan.proof.loss == pytest.approx(fixed, abs=1e-9)


def test_eggs_that_could_still_go_next_week_cost_half_an_egg_more() -> None:
    cold = {"kept_at_c": 12, "laid_from": ago(50), "laid_to": ago(50)}
    settings = {"plan": {"egg_value": "0.5"}}
    plan = plan_of(a_week(a_row("A", price="10"), lots=(a_lot(**cold, eggs=300),), settings=settings))
    (line,) = plan.parcels[0].lines
    fixed = 3 + 0.40 + line.extra * 0.5 + 10 * (1 - line.p_enough) + 10 * 0.01
    assert plan.proof.loss == pytest.approx(fixed + line.pack * 0.25, abs=1e-9)


CHRISTMAS = TODAY.replace(month=12, day=25)  # a Friday


def test_a_late_friday_asks_for_next_week() -> None:
    assert default_week(a_week(a_row("A"))) == WEEK
    assert default_week(a_week(a_row("A"), today=TODAY + timedelta(days=5))) == "2026-W50"
    assert default_week(a_week(a_row("A"), today=CHRISTMAS)) == "2026-W53"


def test_a_week_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="ISO week"):
        make_plan(a_week(a_row("A")), "2026-49")


def test_an_empty_week_is_an_empty_plan() -> None:
    plan = plan_of(a_week())
    assert (plan.parcels, plan.lines_out, plan.proof.value, plan.proof.gap) == ((), (), 0.0, 0.0)


@pytest.mark.parametrize("seconds", [0.01, 0.3])
def test_a_plan_cut_short_keeps_every_limit_and_says_how_far_it_may_be_from_the_best(seconds: float) -> None:
    shelf = a_week(a_row("A"), a_row("B", addressee="B Example"), a_row("C", addressee="C Example"))
    best = make_plan(shelf, WEEK)
    short = make_plan(shelf, WEEK, seconds=seconds)
    assert short.proof.value <= best.proof.value <= short.proof.bound + 1e-9
    assert len(short.lines_out) + sum(len(parcel.lines) for parcel in short.parcels) == 3


def test_the_last_egg_of_a_lot_decides_whether_two_orders_go_or_one() -> None:
    rows = (a_row("A"), a_row("B"))
    (line,) = plan_of(a_week(rows[0])).parcels[0].lines
    enough = plan_of(a_week(*rows, lots=(a_lot(eggs=2 * line.pack),)))
    one_less = plan_of(a_week(*rows, lots=(a_lot(eggs=2 * line.pack - 1),)))
    assert (enough.lots[0].drawn, enough.lots[0].left) == (2 * line.pack, 0)
    assert [len(plan.lines_out) for plan in (enough, one_less)] == [0, 1]
    assert (one_less.lots[0].drawn, one_less.lots[0].left) == (line.pack, line.pack - 1)


def test_the_bench_packs_first_what_must_be_handed_over_first_whatever_its_lot_is_called() -> None:
    one_day = {"early_d": 1, "usual_d": 1, "late_d": 1, "live_eggs": "yes", "hand_over": "Mon"}
    services = (a_service(**one_day), a_service(service="early", cut_off="10:00", **one_day))
    lots = (a_lot("G1", population="x"), a_lot("G2", population="y"))
    rows = (a_row("A", population="x", service="letter"), a_row("B", population="y", service="early"))
    postage = (a_price("*", 2000, "3"), a_price("*", 2000, "3", service="early"))
    plan = plan_of(a_week(*rows, lots=lots, services=services, postage=postage))
    assert [parcel.orders for parcel in plan.parcels] == [("B",), ("A",)]
