"""Can this lot still ship: the last safe day is the last, and not the first, on which some option passes."""

from __future__ import annotations

from datetime import timedelta

from shipping.options.option import Destination
from shipping.questions.can_it_ship import ask
from shipping.tables.rows.weather import Weather
from shipping.words.reasons import Verdict
from tests.post.a_shelf import TODAY, a_service
from tests.week.a_week import a_lot, a_row, a_week


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
