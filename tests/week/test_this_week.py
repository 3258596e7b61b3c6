"""Rows for just these days (a strike, a cold snap) decide, and plan, answers, margin and bench say so."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from shipping.cli.print_answers import reply_lines
from shipping.cli.print_plan import plan_lines
from shipping.cli.terminal import Window
from shipping.options.option import Destination
from shipping.papers.documents.contents import units_of
from shipping.papers.documents.pick_list import this_week
from shipping.papers.wording.phrases import Wording
from shipping.questions.can_it_ship import ask
from shipping.questions.margin import margin_of_route
from shipping.tables.rows.weather import Disruption, Weather
from shipping.tables.shelf import Shelf
from shipping.worktop.running_list import listed_days
from tests.post.a_shelf import TODAY, a_service, a_species
from tests.week.a_week import BAG, TUBE, a_lot, a_row, a_week, ago, plan_of

UNTIL = TODAY + timedelta(days=2)
STRIKE = Disruption(**{"to": "DK", "from": TODAY, "until": UNTIL, "days": 2, "source": "strike of sorters"})
SNAP = Weather(
    **{"to": "DK", "from": TODAY, "until": UNTIL, "low_c": 12, "high_c": 16, "source": "cold snap"}
)
USUAL = tuple(Weather(to="*", month=month, low_c=15, high_c=21) for month in range(1, 13))


def shelf_of(*, strike: Disruption | None = None, snap: Weather | None = None) -> Shelf:
    return a_week(
        a_row("A"), disruptions=(strike,) if strike else (), weather=(*USUAL, snap) if snap else USUAL
    )


def plan_text(shelf: Shelf) -> str:
    return " ".join(plan_lines(plan_of(shelf), shelf, Window(200), False)).replace("\u00a0", " ")


def bench_text(shelf: Shelf) -> str:
    plan = plan_of(shelf)
    units = {parcel.parcel: units_of(parcel, shelf) for parcel in plan.parcels}
    said = " ".join(text for _, text in this_week(plan.parcels, units, Wording(None, "en")))
    return said.replace("\u00a0", " ")


@pytest.mark.parametrize(("high_c", "is_told"), [(4.3, True), (4.4, False)])
def test_plan_answer_and_page_say_that_the_trade_keeps_such_a_parcel_back(
    high_c: float, is_told: bool
) -> None:
    weather = tuple(Weather(to="*", month=month, low_c=1, high_c=high_c) for month in range(1, 13))
    fish = {"gar": a_species(keep_min_c=0, keep_max_c=40)}
    shelf = a_week(a_row("A"), weather=weather, species=fish)
    plan = plan_of(shelf)
    reply = ask(shelf, "G1", Destination.of("DK", ""), on=TODAY)
    days = listed_days(plan.week, [parcel.as_json() for parcel in plan.parcels], {}, shelf)
    texts = (
        " ".join(plan_lines(plan, shelf, Window(200), False)),
        " ".join(reply_lines(reply, "EUR", Window(200), False)),
        " ".join(text for day in days for parcel in day.parcels for text in parcel.kept_back),
    )
    said = "Common practice below 4 °C: keep the parcel back until it is warmer."
    assert [said in text.replace("\u00a0", " ") for text in texts] == [is_told] * 3


@pytest.mark.parametrize(
    ("shelf", "words"),
    [
        (shelf_of(strike=STRIKE), ("strike of sorters", "2 working days more")),
        (shelf_of(snap=SNAP), ("cold snap", "12 °C to 16 °C")),
    ],
)
def test_every_screen_names_the_row_that_decided(shelf: Shelf, words: tuple[str, str]) -> None:
    reply = ask(shelf, "G1", Destination.of("DK", ""), on=TODAY)
    answer = " ".join(reply_lines(reply, "EUR", Window(200), False)).replace("\u00a0", " ")
    for text in (plan_text(shelf), answer, bench_text(shelf)):
        for word in words:
            assert word in text
    (note,) = plan_of(shelf).parcels[0].this_week
    assert (
        note.as_json()
        in ask(shelf, "G1", Destination.of("DK", ""), on=TODAY).options[0].as_json()["this_week"]
    )
    assert words[0] in margin_of_route(shelf, 20, "bag", "letter", "DK", TODAY, True).rests_on


def test_nothing_is_named_where_no_such_row_is_met() -> None:
    later = STRIKE.model_copy(
        update={"from_": TODAY + timedelta(days=30), "until": TODAY + timedelta(days=31)}
    )
    shelf = shelf_of(strike=later)
    assert plan_of(shelf).parcels[0].this_week == ()
    assert "strike" not in plan_text(shelf) + bench_text(shelf)


def test_a_strike_makes_the_margin_of_a_route_as_long_as_the_plans() -> None:
    """Two days more on the way cost eggs, in the margin as in the plan."""
    slow = a_service(early_d=3, usual_d=4, late_d=6, live_eggs="yes")
    long = STRIKE.model_copy(update={"days": 10})
    calm = margin_of_route(a_week(services=(slow,)), 40, "bag", "letter", "DK", TODAY, True)
    struck = margin_of_route(
        a_week(services=(slow,), disruptions=(long,)), 40, "bag", "letter", "DK", TODAY, True
    )
    assert calm.pack is not None
    assert struck.pack is not None
    assert struck.pack > calm.pack


def test_the_bench_asks_for_a_look_at_the_forecast_unless_each_day_has_its_row() -> None:
    assert "look at the forecast here and in Denmark" in bench_text(shelf_of())
    assert "forecast" not in bench_text(shelf_of(snap=SNAP))
    first = SNAP.model_copy(update={"until": TODAY})
    way = a_service(early_d=1, usual_d=2, late_d=2, live_eggs="yes")
    partly = a_week(a_row("A"), services=(way,), weather=(*USUAL, first))
    assert "look at the forecast" in bench_text(partly)


def test_what_is_fetched_in_person_asks_for_no_forecast_and_meets_no_strike_of_the_post() -> None:
    fetched = a_service(early_d=0, usual_d=0, late_d=0, live_eggs="yes", exposed_h=0)
    shelf = a_week(
        a_row("A", service="letter"), services=(fetched,), disruptions=(STRIKE,), weather=(*USUAL, SNAP)
    )
    assert plan_of(shelf).parcels[0].this_week == ()
    assert bench_text(shelf) == ""


def test_a_row_of_days_that_stops_is_named_in_the_reason() -> None:
    frost = SNAP.model_copy(update={"low_c": -20.0, "high_c": -8.0})
    reply = ask(shelf_of(snap=frost), "G1", Destination.of("DK", ""), on=TODAY)
    (cold,) = {reason.text for reason in reply.reasons if reason.code == "too-cold"}
    assert "by a row for just these days: cold snap" in cold
    stopped = STRIKE.model_copy(update={"stopped": True, "days": 0})
    reply = ask(shelf_of(strike=stopped), "G1", Destination.of("DK", ""), on=TODAY)
    assert any("strike of sorters" in reason.text for reason in reply.options[0].reasons)


def test_an_answer_tells_what_stops_the_option_nearest_to_going() -> None:
    """Ready eggs never go in a tube; in a bag that may hatch nothing but the frost is in the way."""
    frost = SNAP.model_copy(update={"low_c": -8.0, "high_c": 20.0})
    bag = BAG.model_copy(update={"hatch_ceiling": 1.0})
    ready = a_lot(laid_from=ago(11), laid_to=ago(11), stage="ready")
    shelf = a_week(lots=(ready,), packings=(bag, TUBE), weather=(*USUAL, frost))
    reply = ask(shelf, "G1", Destination.of("DK", ""), on=TODAY)
    assert {"would-hatch", "too-cold"} == {one.code for asked in reply.options for one in asked.reasons}
    assert [reason.code for reason in reply.reasons] == ["too-cold"]


def test_a_small_risk_is_not_told_as_none() -> None:
    shelf = a_week(a_row("O1", eggs=10), lots=(a_lot(eggs=300),))
    plan = plan_of(shelf)
    assert 0 < 1 - plan.parcels[0].lines[0].p_enough < 0.05
    assert "on average 0.0 " not in " ".join(plan_lines(plan, shelf, Window(120), False))


def test_the_last_day_of_a_question_that_is_held_is_not_said_to_be_over() -> None:
    shelf = a_week(a_row("O1", eggs=10), rules=())
    held = ask(shelf, "G1", Destination.of("DK", ""), eggs=10)
    reply = replace(held, first_safe_day=None, last_safe_day=None)
    answer = " ".join(reply_lines(reply, "EUR", Window(200), False))
    assert "HOLD" in answer
    assert "not known before that is answered" in answer
