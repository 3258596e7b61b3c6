"""Can this lot still ship: the last safe day is the last, and not the first, on which some option passes."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from shipping.cli.print_answers import reply_lines
from shipping.cli.terminal import Window
from shipping.options.option import Destination
from shipping.questions.can_it_ship import _one_a_code, ask
from shipping.tables.reader import read_shelf
from shipping.tables.rows.weather import Weather
from shipping.words.reasons import Reason, Verdict
from shipping.words.units import shipped_folder
from tests.post.a_shelf import TODAY, a_packing, a_price, a_rule, a_service
from tests.week.a_week import TUBE, a_lot, a_row, a_week, ago


def test_the_last_safe_day_is_the_last_on_which_an_option_passes() -> None:
    shelf = a_week(a_row("A"), lots=(a_lot(),))
    reply = ask(shelf, "G1", Destination("DK"))
    passing = {o.option.ride.leg.day for o in reply.options if o.verdict is Verdict.GO}
    assert len(passing) > 1
    assert reply.last_safe_day == max(passing)
    assert reply.first_safe_day == min(passing)
    for days in range(1, 8):
        after = ask(shelf, "G1", Destination("DK"), on=reply.last_safe_day + timedelta(days=days))
        assert not any(option.verdict is Verdict.GO for option in after.options)


def test_without_a_day_the_options_of_two_weeks_from_today_are_shown_and_no_more() -> None:
    reply = ask(a_week(a_row("A"), lots=(a_lot(),)), "G1", Destination("DK"))
    days = {option.option.ride.leg.day for option in reply.options}
    assert min(days) == TODAY
    assert TODAY + timedelta(days=11) <= max(days) < TODAY + timedelta(days=14)


def test_an_option_that_only_waits_for_an_open_day_waits_and_one_too_hot_stops() -> None:
    later = a_service(early_d=1, usual_d=1, late_d=1, live_eggs="yes", hand_over="Tue-Fri")
    closed = ask(a_week(a_row("A"), lots=(a_lot(),), services=(later,)), "G1", Destination("DK"), on=TODAY)
    assert {option.verdict for option in closed.options} == {Verdict.WAIT}
    hot = tuple(Weather(to="*", month=month, low_c=30, high_c=38) for month in range(1, 13))
    burning = ask(a_week(a_row("A"), lots=(a_lot(),), weather=hot), "G1", Destination("DK"), on=TODAY)
    assert {option.verdict for option in burning.options} == {Verdict.STOP}


def test_an_option_costs_its_postage_and_each_of_its_units() -> None:
    """Eggs for 40 ordered are two tubes of 0.40; 36 g of them go for 3.00."""
    reply = ask(a_week(a_row("A"), packings=(TUBE,)), "G1", Destination("DK"), on=TODAY, eggs=40)
    (asked,) = reply.options
    assert asked.option.units == 2
    assert asked.cost == pytest.approx(3.80)


def test_the_safe_days_of_a_lot_are_from_the_first_to_the_last_of_all_its_ways() -> None:
    fast = {"early_d": 1, "usual_d": 1, "late_d": 1, "live_eggs": "yes"}
    services = (a_service(**fast), a_service(service="courier", **fast, hand_over="Tue-Fri"))
    prices = (a_price("*", 2000, "6"), a_price("*", 2000, "9", service="courier"))
    reply = ask(a_week(services=services, postage=prices), "G1", Destination("DK"))
    firsts, lasts = {safe.from_ for safe in reply.safe}, {safe.until for safe in reply.safe if safe.until}
    assert (len(firsts), len(lasts)) == (2, 2), "a tube bears less hatching than a bag"
    assert reply.first_safe_day == min(firsts)
    assert reply.last_safe_day == max(lasts)


def test_eggs_may_go_where_one_of_the_media_they_travel_in_may() -> None:
    damp = a_packing(packing="damp", kind="damp bag", media="water moss", medium="moss", loss_handling=0.03)
    shut = a_rule(3, to="DE", medium="water", verdict="closed")
    rules, to = (a_rule(2), shut), Destination("DE")
    both = ask(a_week(a_row("A"), packings=(damp, TUBE), rules=rules), "G1", to, on=TODAY)
    assert "closed" not in {reason.code for reason in both.reasons}
    one = ask(a_week(a_row("A"), packings=(TUBE,), rules=rules), "G1", to, on=TODAY)
    assert one.verdict is Verdict.STOP
    told = list(reply_lines(one, "EUR", Window(200), every=True))
    assert one.safe
    assert not any("Last day" in line or ": from " in line for line in told)


def test_an_option_of_a_lot_to_look_at_is_on_hold() -> None:
    late = a_week(a_row("A"), lots=(a_lot(laid_from=ago(60), laid_to=ago(60)),))
    reply = ask(late, "G1", Destination("DK"), on=TODAY)
    assert {asked.verdict for asked in reply.options} == {Verdict.HOLD}


@pytest.mark.parametrize("code", ["overdue", "past-wetting"])
def test_of_a_lot_to_look_at_no_count_and_no_chance_is_told(code: str) -> None:
    lot = a_lot(laid_from=ago(120), laid_to=ago(120))
    if code == "past-wetting":
        seen = {"counted_on": ago(100), "stage_on": ago(100)}
        lot = lot.model_copy(update={"medium": "peat", "wet_until": ago(90), **seen})
    damp = a_packing(packing="damp", kind="damp bag", media="peat", loss_handling=0.03)
    late = a_week(a_row("A"), lots=(lot,), packings=(TUBE, damp))
    reply = ask(late, "G1", Destination("DK"), on=TODAY)
    told = [asked.as_json() for asked in reply.options if code in {one.code for one in asked.reasons}]
    shares = ("pack", "h_per_egg", "h_any", "v_per_egg", "p_enough")
    assert {row[name] for row in told for name in shares} == {None}
    printed = "".join(reply_lines(reply, "EUR", Window(200), every=True))
    assert "each alive" in printed
    assert " 0 %" not in printed


def test_a_lot_that_hatches_before_the_day_asked_for_is_a_plain_no_without_a_table() -> None:
    """No look can tell that today; its ways of going, with eggs to pack, tell nothing."""
    from shipping.cli.print_answers import reply_lines
    from shipping.cli.terminal import Window

    shelf = a_week(a_row("A"), lots=(a_lot(),))
    reply = ask(shelf, "G1", Destination("DK"), on=TODAY + timedelta(days=60))
    assert reply.verdict is Verdict.STOP
    assert {option.verdict for option in reply.options} == {Verdict.STOP}
    told = list(reply_lines(reply, "EUR", Window(200), every=False))
    assert told[0].endswith("STOP")
    assert "lot G1 hatches " in told[1]
    assert "Look" not in "".join(told)
    assert len(told) == 3
    soon = ask(shelf, "G1", Destination("DK"), on=TODAY)
    assert len(list(reply_lines(soon, "EUR", Window(200), every=False))) > 3


def test_on_a_day_without_hand_over_that_is_the_answer_and_not_what_another_packing_lacks() -> None:
    """Asked for one day, its hand-over counts as anything else: the nearest option lacks nothing more."""
    later = a_service(early_d=1, usual_d=1, late_d=1, live_eggs="yes", hand_over="Tue-Fri")
    heated = TUBE.model_copy(update={"packing": "a heated tube", "heat_pack_h": 72.0})
    warm = tuple(Weather(to="*", month=month, low_c=15, high_c=24) for month in range(1, 13))
    shelf = a_week(a_row("A"), packings=(heated, TUBE), services=(later,), weather=warm)
    reply = ask(shelf, "G1", Destination("DK"), on=TODAY)
    assert [reason.code for reason in reply.reasons] == ["closed-day"]
    assert [asked.option.ride.packing.packing for asked in reply.nearest] == [TUBE.packing, "a heated tube"]


def test_where_a_box_bridges_the_cold_too_few_eggs_stop_a_lot_and_not_the_cold_of_a_bag() -> None:
    read = read_shelf(shipped_folder("demo_orders"), TODAY).shelf
    assert read is not None
    few = (row.model_copy(update={"eggs": 40}) if row.lot == "KO-11" else row for row in read.lots)
    looks = tuple(look for look in read.looks if look.lot != "KO-11")
    shelf = replace(read, lots=tuple(few), looks=looks)
    reply = ask(shelf, "KO-11", Destination("NL"), on=TODAY + timedelta(days=1), eggs=60)
    assert reply.verdict is Verdict.STOP
    assert {one.code for asked in reply.options for one in asked.reasons} >= {"short", "too-cold"}
    assert {one.code for one in reply.reasons} == {one.code for one in reply.nearest[0].reasons} == {"short"}
    said = " ".join(" ".join(reply_lines(reply, "EUR", Window(), False)).split())
    assert "It goes when there are more eggs." in said


def test_of_reasons_alike_the_first_is_told_and_of_cold_that_of_the_box_which_holds_out_longest() -> None:
    short = [Reason("short", text, {}, "overpack") for text in ("first", "second")]
    cold = [
        Reason("too-cold", f"{hours} {n}", {"warm_h": hours}, "weather")
        for n, hours in enumerate((2.0, 9.0, 9.0, 5.0))
    ]
    assert [one.text for one in _one_a_code([*short, *cold])] == ["first", "9.0 1"]


def test_where_one_service_may_go_those_that_nobody_asked_about_are_named() -> None:
    fast = {"early_d": 1, "usual_d": 1, "late_d": 1}
    services = (a_service(**fast, live_eggs="yes"), a_service(service="courier", **fast, live_eggs="ask"))
    prices = (a_price("*", 2000, "6"), a_price("*", 2000, "9", service="courier"))
    reply = ask(
        a_week(a_row("A"), lots=(a_lot(),), services=services, postage=prices), "G1", Destination("DK")
    )
    assert (reply.verdict, reply.unanswered) == (Verdict.GO, ("courier",))
    said = " ".join(reply_lines(reply, "EUR", Window(200), every=False))
    assert "First ask the operator whether live eggs may go by: courier." in said
    rows = reply_lines(reply, "EUR", Window(200), every=False)
    assert {row.split()[0] for row in rows if "courier" in row and "First" not in row} == {"hold"}


def test_a_service_whose_operator_said_no_is_stopped_and_never_asked_about() -> None:
    slow, fast = ({f"{name}_d": days for name in ("early", "usual", "late")} for days in (2, 1))
    services = [
        a_service(**slow, live_eggs="ask"),
        a_service(service="courier", **fast, live_eggs="no"),
    ]
    prices = (a_price("*", 2000, "6"), a_price("*", 2000, "9", service="courier"))
    for answer, verdict in (("yes", Verdict.GO), ("ask", Verdict.HOLD)):
        services[0] = services[0].model_copy(update={"live_eggs": answer})
        shelf = a_week(a_row("A"), lots=(a_lot(),), services=tuple(services), postage=prices)
        reply = ask(shelf, "G1", Destination("DK"))
        assert reply.verdict is verdict
        assert "courier" not in (*reply.unanswered, *(one.service for one in reply.safe))
        assert all("courier" not in reason.text for reason in reply.reasons)
        by_courier = [one for one in reply.options if one.option.ride.leg.service.service == "courier"]
        assert {one.verdict for one in by_courier} == {Verdict.STOP}
        rows = reply_lines(reply, "EUR", Window(200), every=False)
        (row,) = (row for row in rows if "courier" in row)
        assert (row.split()[0], "post said no" in row) == ("stop", True)


def test_where_only_what_nobody_asked_about_could_take_it_the_lot_is_held() -> None:
    slow, fast = ({f"{name}_d": days for name in ("early", "usual", "late")} for days in (60, 1))
    services = (a_service(**slow, live_eggs="yes"), a_service(service="courier", **fast, live_eggs="ask"))
    prices = (a_price("*", 2000, "6"), a_price("*", 2000, "9", service="courier"))
    shelf = a_week(a_row("A"), lots=(a_lot(),), services=services, postage=prices)
    reply = ask(shelf, "G1", Destination("DK"))
    assert any(one.verdict is Verdict.GO for one in reply.options)
    assert (reply.verdict, reply.to_ask_first) == (Verdict.HOLD, ())
    assert [reason.code for reason in reply.reasons] == ["ask-post"]
