"""A line that only an assumed warmth keeps from going on a later day is held: a person can answer it."""

from __future__ import annotations

from datetime import timedelta

from shipping.papers.wording.phrases import cause, english
from shipping.tables.rows.weather import Weather
from shipping.week.plan_data import LineOut
from shipping.words.reasons import Verdict, decisive
from tests.post.a_shelf import TODAY, a_packing, a_service
from tests.week.a_week import BAG, a_lot, a_row, a_week, ago, plan_of


def out(*weather: Weather, **cells: object) -> LineOut:
    """A line whose lot shows no eyes this week, but will next week, in a Danish winter."""
    young = a_lot(laid_from=ago(4), laid_to=ago(4), kept_at_c=20, stage="laid")
    slow = a_service(early_d=1, usual_d=1, late_d=1, live_eggs="yes", exposed_h=12)
    (left,) = plan_of(a_week(a_row("A", **cells), lots=(young,), weather=weather, services=(slow,))).lines_out
    return left


def given(low_c: float) -> tuple[Weather, ...]:
    return tuple(Weather(to="DK", month=month, low_c=low_c, high_c=low_c + 6) for month in range(1, 13))


def test_a_line_whose_later_days_only_an_assumed_cold_stops_is_held() -> None:
    found = out()
    assert found.verdict is Verdict.HOLD
    assert {"too-young", "too-cold"} <= {reason.code for reason in found.reasons}
    reason = decisive(found.verdict, found.reasons)
    assert (reason.code, reason.facts["basis"]) == ("too-cold", "assumed")
    assert str(reason.facts["on"]) > (TODAY + timedelta(days=4)).isoformat()


def test_a_cold_of_a_later_day_is_told_with_its_day() -> None:
    """Who has answered for this month would else not know which month is asked about."""
    found = out()
    reason = decisive(found.verdict, found.reasons)
    assert cause(reason, english()).startswith(
        "too cold on the way this week, and still on Mon 7 Dec: down to"
    )


def test_once_it_is_answered_the_line_waits_or_stops() -> None:
    assert out(*given(14)).verdict is Verdict.WAIT
    assert out(*given(-12)).verdict is Verdict.STOP


def test_what_the_order_itself_forbids_later_is_not_held_for_weather() -> None:
    assert out(not_after=(TODAY + timedelta(days=5)).isoformat()).verdict is Verdict.STOP


DAMP = a_packing(
    packing="damp", kind="damp bag", media=("moss",), eggs_max=60, hatch_ceiling=0.05, weight_g=20
)
#: Twelve hours outside rooms, in a winter of which nobody said what parcels feel.
SLOW = a_service(early_d=1, usual_d=1, late_d=1, live_eggs="yes", exposed_h=12)


def test_a_line_of_two_lots_that_only_an_assumed_cold_stops_is_held_as_one_of_one_lot_is() -> None:
    lots = (a_lot("G1", eggs=30), a_lot("G2", eggs=30))
    (left,) = plan_of(a_week(a_row("A", 45), lots=lots, weather=(), services=(SLOW,))).lines_out
    assert left.verdict is Verdict.HOLD
    assert [reason.code for reason in left.reasons] == ["too-cold"]


def test_what_waits_for_eggs_that_others_have_is_not_said_to_wait_for_weather() -> None:
    """One packing passes as it is and its eggs go to the older order; that another would be too cold is no
    reason.
    """
    warm = BAG.model_copy(update={"packing": "warm bag", "heat_pack_h": 200.0})
    rows = (a_row("A", placed_on=ago(9)), a_row("B"))
    shelf = a_week(*rows, lots=(a_lot(eggs=30),), weather=(), services=(SLOW,), packings=(BAG, warm))
    (left,) = plan_of(shelf).lines_out
    assert (left.order, left.verdict) == ("B", Verdict.WAIT)
    assert [reason.code for reason in left.reasons] == ["short"]
    lots = (a_lot("G1", eggs=30), a_lot("G2", eggs=30, medium="moss"))
    shelf = a_week(*rows, lots=lots, weather=(), services=(SLOW,), packings=(BAG, warm, DAMP))
    (left,) = plan_of(shelf).lines_out
    assert (left.order, left.verdict) == ("B", Verdict.HOLD)  # the other lot's eggs go once that is answered
