"""A line that only an assumed warmth keeps from going on a later day is held: a person can answer it."""

from __future__ import annotations

from datetime import timedelta

from shipping.papers.wording.phrases import cause, english
from shipping.tables.rows.weather import Weather
from shipping.week.plan_data import LineOut
from shipping.words.reasons import Verdict, decisive
from tests.post.a_shelf import TODAY, a_service
from tests.week.a_week import a_lot, a_row, a_week, ago, plan_of


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
