"""Can this lot still ship: the last safe day is the last, and not the first, on which some option passes."""

from __future__ import annotations

from datetime import timedelta

from shipping.options.option import Destination
from shipping.questions.can_it_ship import ask
from shipping.words.reasons import Verdict
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
