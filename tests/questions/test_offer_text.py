"""What buyers read of an offer: a count and the days to which it belongs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from shipping.questions.offer import Offer, Offers, PromiseDay
from shipping.questions.offer_text import offer_text
from shipping.tables.rows.settings import Sender
from shipping.words.reasons import Verdict
from shipping.words.units import short_day
from shipping.worktop.page_language import speak, tr

TODAY = date(2027, 1, 12)


def lines_of(
    *promised: int,
    places: tuple[str, ...] = ("DE",),
    endless: str = "",
    is_estimated: bool = False,
    counted: tuple[date, date] | None = None,
    wetted: tuple[tuple[int, date | None], ...] = (),
) -> list[str]:
    """The text, where so many eggs can be promised on each day from tomorrow to each of the places, to one
    without a last day.
    """
    days = tuple(PromiseDay(TODAY + timedelta(days=n + 1), 60, eggs) for n, eggs in enumerate(promised))
    best = max(days, key=lambda day: day.can_promise)
    one = Offer(
        species="gardneri",
        scientific_name="Fundulopanchax gardneri",
        population="Misaje",
        to="DE",
        countries=("DE",),
        eggs_free=60,
        can_promise=best.can_promise,
        best_on=best.on,
        from_=days[0].on,
        until=days[-1].on,
        no_last_day=False,
        order_by=days[-1].on - timedelta(days=1),
        ways=(),
        days=days,
        expected=(),
        verdict=Verdict.GO,
        reasons=(),
        regions=(),
        is_estimated=is_estimated,
        wetted=wetted,
    )
    on_and_on = replace(one, until=None, order_by=None, no_last_day=True)
    each = tuple(
        replace(on_and_on if place == endless else one, to=place, countries=(place,)) for place in places
    )
    sender = Sender(name="Invented Killifish Room", address=("Opdigtet Vej 999",))
    return list(offer_text(Offers(TODAY, "2027-W02", each, (), (), counted=counted), sender))


def test_eggs_that_nobody_counted_are_not_offered_as_counted() -> None:
    estimated = "- These are estimated, not counted: each number is about so many."
    assert (estimated in lines_of(40, is_estimated=True), estimated in lines_of(40)) == (True, False)


def test_damp_lots_that_are_to_be_wetted_on_other_days_are_told_apart() -> None:
    wetted = ((29, TODAY), (90, TODAY + timedelta(days=30)), (6, None))
    told = [line for line in lines_of(40, wetted=wetted) if "lots that differ" in line]
    days = [short_day(day) for day in (TODAY, TODAY + timedelta(days=30))]
    parts = (
        f"about 29 to wet from {days[0]}; about 90 to wet from {days[1]}; about 6 with no day to wet them yet"
    )
    assert told == [f"- They come from lots that differ: {parts}."]


def text_of(*promised: int) -> str:
    """The line on Germany."""
    return next(line for line in lines_of(*promised) if "Germany" in line)


def test_places_of_one_promise_share_a_sentence() -> None:
    lines = lines_of(40, 40, places=("DE", "BR", "JP"))
    assert [line for line in lines if line.startswith("- Brazil, Germany, Japan: up to 40 eggs")]
    assert sum(line.startswith("- ") for line in lines) == 1
    lines = lines_of(40, 40, places=("DE", "BR", "JP"), endless="BR")
    assert sum(line.startswith(("- Germany, Japan: ", "- Brazil: ")) for line in lines) == 2


def test_countries_stand_by_name_as_running_text_has_it_in_the_readers_language() -> None:
    (line,) = (line for line in lines_of(40, places=("US", "AT", "NL", "DE")) if "up to" in line)
    assert line.startswith("- Austria, Germany, the Netherlands, the United States: up to 40 eggs")
    assert any(said.startswith("- The Netherlands: up to") for said in lines_of(40, places=("NL",)))
    speak("de")
    try:
        assert tr(line).startswith("- Deutschland, Niederlande, Österreich, Vereinigte Staaten: bis zu")
    finally:
        speak("en")


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        (9, 3, "Their lots were counted between 3 January 2027 and 9 January 2027; what was lost since is"),
        (3, 3, "Their lots were counted on 9 January 2027; what was lost since is reckoned, not counted."),
        (0, 0, "Their lots were counted on 12 January 2027."),
    ],
)
def test_the_text_says_on_which_days_its_eggs_were_counted(first: int, last: int, said: str) -> None:
    days = (TODAY - timedelta(days=first), TODAY - timedelta(days=last))
    assert lines_of(40, counted=days)[1].startswith(said)


def test_a_count_that_holds_for_the_first_days_only_says_until_when() -> None:
    """A lot that hatches leaves five eggs of forty-nine: who orders by the last day is not promised the first
    day's count.
    """
    assert text_of(49, 49, 12, 5).endswith("So many until Thu 14 Jan, 5 on Sat 16 Jan.")


def test_a_count_that_holds_to_the_last_day_says_nothing_more() -> None:
    assert text_of(40, 40).endswith("order by Wed 13 Jan.")
