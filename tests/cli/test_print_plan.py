"""The head of a plan in words, where one and several are told apart."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from shipping.cli.global_options import Edge
from shipping.cli.print_plan import _day_text, _money, _names, _to_settle, cause_text, plan_lines
from shipping.cli.terminal import Window
from shipping.cli.week import _for_today_after_the_hour, _program
from shipping.questions.week_summary import Cause, causes, week_summary
from shipping.week.draws import WET_ON_ARRIVAL
from shipping.week.plan_data import LineOut
from shipping.words.problems import Level, Problem, Where
from shipping.words.reasons import Note, Reason, Verdict
from shipping.words.three_point import Dates
from shipping.words.units import short_day
from tests.week.a_week import a_row, a_week, plan_of


@pytest.mark.parametrize(
    ("prices", "said"),
    [
        (("10", "10"), "goods 20.00 EUR; postage"),
        (("10", None), "goods 10.00 EUR and 1 line without a price; postage"),
        ((None, None), "goods 0.00 EUR and 2 lines without a price; postage"),
    ],
)
def test_lines_without_a_price_are_counted_beside_what_the_goods_are_worth(
    prices: tuple[str | None, ...], said: str
) -> None:
    shelf = a_week(*(a_row(name, price=price) for name, price in zip("AB", prices, strict=True)))
    assert _money(week_summary(plan_of(shelf), shelf), "EUR").startswith(said)


def test_one_of_a_thing_is_not_told_as_several() -> None:
    shelf = a_week(a_row("A"))
    told = "\n".join(plan_lines(plan_of(shelf), shelf, Window(), hide_names=False))
    assert " for 1 of 1 order (1 of 1 line)" in told
    assert "1 line comes short" in told
    assert told.startswith(f"Week {int(plan_of(shelf).week[-2:])} ")
    assert re.findall(r"\b1 (?:orders|lines|parcels|eggs|lots)\b", told) == []


def test_orders_named_by_numbers_are_told_in_their_turn() -> None:
    held = [
        LineOut(name, 1, Verdict.HOLD, None, (Reason("no-region", "Which?", {"to": name}, "orders"),))
        for name in ("1", "10", "2", "B3")
    ]
    assert [cause.lines[0].order for cause in causes(held)] == ["1", "2", "10", "B3"]
    assert _names({out.order for out in held}) == "1 2 10 B3"


def test_eggs_that_may_arrive_after_their_last_day_to_wet_are_told_with_the_plan() -> None:
    shelf = a_week(a_row("A"))
    plan = plan_of(shelf)
    note = Note(WET_ON_ARRIVAL, {"lot": "G1", "until": "2026-12-01", "p95": "2026-12-04"})
    draw = replace(plan.parcels[0].lines[0].draws[0], cautions=(note,))
    parcel = replace(plan.parcels[0], lines=(replace(plan.parcels[0].lines[0], draws=(draw,)),))
    told = "\n".join(plan_lines(replace(plan, parcels=(parcel,)), shelf, Window(200), hide_names=False))
    assert "lot G1 is to be wetted by Tue 1 Dec and may arrive as late as Fri 4 Dec" in told
    assert told.count("(parcel 1)") == 1


def test_an_address_without_a_postcode_is_told_with_the_plan_unless_it_is_fetched() -> None:
    """The label was printed without, and nobody had said so."""
    shelf = a_week(a_row("A", postcode="", town="Odense", delivery_1="Vej 1"))
    plan = plan_of(shelf)
    (parcel,) = plan.parcels
    fetched = replace(parcel, arrive=Dates(*[parcel.dispatch_on] * 3))
    hint = "Addresses in Denmark usually have a postcode; this one has none. (parcel 1)"
    for one, is_told in ((parcel, True), (fetched, False)):
        told = "\n".join(plan_lines(replace(plan, parcels=(one,)), shelf, Window(200), hide_names=False))
        assert (hint in told) is is_told


def test_what_check_counts_as_a_problem_is_no_note_of_the_plan() -> None:
    """An order held as unpaid by its days ended `check` with 1, and was a note below the plan."""
    shelf = a_week(a_row("A", price="10"))
    held = Problem(Where("orders.csv", 2), "paid_on", "asked", "It is early.", "Mend it.", Level.ORDER)
    note = Problem(Where("orders.csv", 3), "price", "asked", "It is blank.", "Write it.", Level.NOTICE)
    plan = replace(plan_of(shelf), notices=(note, held))
    told = list(plan_lines(plan, shelf, Window(200), hide_names=False))
    assert told[-2:] == [str(held), f"Note: {note}"]


def test_the_latest_hour_of_hand_over_that_is_past_is_told_on_its_day_where_the_hour_is_known() -> None:
    shelf = a_week(a_row("A"), a_row("B"))
    hours = zip(plan_of(shelf).parcels, ("15:00", "16:00"), strict=True)
    parcels = [replace(parcel, cut_off=hour) for parcel, hour in hours]
    day, past = shelf.today, " For the next day: spawnpost plan --from 2026-12-01"
    told = [_day_text(day, parcels, day, hour) for hour in ("", "14:59", "15:30", "19:53")]
    assert [text.endswith(past) for text in told] == [False, False, True, True]
    for text, hour in zip(told[2:], ("15:00", "16:00"), strict=True):
        assert f". {hour} is past: plan for the next day, or say that you handed it over earlier. For" in text
        assert text.count("is past") == 1
    assert past not in _day_text(day + timedelta(days=1), parcels, day, "19:53")


@pytest.mark.parametrize(("currency", "said"), [("EUR", "goods 10.00 EUR;"), ("JPY", "goods 10 JPY;")])
def test_money_without_a_smaller_coin_is_told_whole(currency: str, said: str) -> None:
    """As the customs sheet has it: 10.00 yen could be read as 1000."""
    shelf = a_week(a_row("A", price="10"))
    assert _money(week_summary(plan_of(shelf), shelf), currency).startswith(said)


def test_lots_to_look_at_are_named_though_no_line_waits_for_them_and_by_the_day_planned_for() -> None:
    shelf = a_week(a_row("A"))
    plan = plan_of(shelf)
    summary = replace(week_summary(plan, shelf), look_now=("L7", "L9"), causes=())
    assert _to_settle(summary, "today", Window()) == "look today at L7, L9"
    assert _to_settle(replace(summary, look_now=()), "today", Window()) == "nothing"


def test_a_plan_from_a_later_day_asks_for_looks_by_that_day(monkeypatch: pytest.MonkeyPatch) -> None:
    shelf = a_week(a_row("A"))
    plan = plan_of(shelf)
    summary = replace(week_summary(plan, shelf), look_now=("L7",))
    monkeypatch.setattr("shipping.cli.print_plan.week_summary", lambda plan, shelf: summary)

    def head(today: date | None) -> str:
        return "\n".join(plan_lines(plan, shelf, Window(200), False, quiet=True, today=today))

    assert "look today at L7" in head(None)
    assert "look today at L7" in head(shelf.today)
    assert f"look by {short_day(shelf.today)} at L7" in head(shelf.today - timedelta(days=1))


@pytest.mark.parametrize(
    ("hour", "ahead_d", "is_told"),
    [("16:01", 0, True), ("15:59", 0, False), ("", 0, False), ("16:01", 1, False)],
)
def test_parcels_kept_for_today_after_its_hour_are_told_with_what_to_type(
    hour: str, ahead_d: int, is_told: bool
) -> None:
    shelf = a_week(a_row("A"))
    plan = plan_of(shelf)
    day = shelf.today + timedelta(days=ahead_d)
    parcels = tuple(replace(one, cut_off="16:00", dispatch_on=day) for one in plan.parcels)
    edge = Edge(None, shelf.today, False, False, False, hour)
    told = list(_for_today_after_the_hour(replace(plan, parcels=parcels), edge))
    tomorrow = shelf.today + timedelta(days=1)
    assert (
        told
        == [
            "16:00 is past, and 1 parcel kept for today: if they were not handed over, for the next day:"
            f" spawnpost plan --from {tomorrow} --keep"
        ]
        * is_told
    )


@pytest.mark.parametrize(
    ("typed", "found", "named"),
    [
        ("/opt/eggs/bin/spawnpost", None, "/opt/eggs/bin/spawnpost"),
        ("/opt/eggs/bin/spawnpost", "/usr/bin/spawnpost", "spawnpost"),
        ("/lib/shipping/__main__.py", None, "spawnpost"),
    ],
)
def test_the_demo_names_the_program_where_it_lies_if_its_name_does_not_find_it(
    monkeypatch: pytest.MonkeyPatch, typed: str, found: str | None, named: str
) -> None:
    monkeypatch.setattr("sys.argv", [typed])
    monkeypatch.setattr("shutil.which", lambda name: found)
    assert _program() == named


@pytest.mark.parametrize(
    ("lines", "codes", "said"),
    [
        ("A", ("unpaid",), ""),
        ("A", ("unpaid", "unpaid"), ""),
        ("A", ("unpaid", "no-rule", "ask-post"), " And 2 more: why A."),
        ("AB", ("unpaid", "no-rule"), ""),
    ],
)
def test_further_reasons_are_counted_where_one_line_has_them(
    lines: str, codes: tuple[str, ...], said: str
) -> None:
    reasons = tuple(Reason(code, f"It is {code}.", {}, "orders") for code in codes)
    out = tuple(LineOut(name, 1, Verdict.HOLD, None, reasons) for name in lines)
    told = cause_text(Cause(Verdict.HOLD, reasons[0], out), Verdict.HOLD, set())
    assert told.partition(" And ")[1] + told.partition(" And ")[2] == said
