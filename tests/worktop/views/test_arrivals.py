"""What buyers report: each egg counted once, silence is no report, and forecast stands beside fact."""

from __future__ import annotations

from datetime import date

import pytest

from shipping.ledger.ledger import Ledger
from shipping.worktop.kept_week import Kept
from shipping.worktop.page_language import tr
from shipping.worktop.views.arrivals import ArrivalCard
from tests.worktop.conftest import FIRST, Desk, plain, said

ARRIVE = f"/arrivals/{FIRST}"


@pytest.fixture
def sent(desk: Desk) -> Desk:
    """The first parcel packed as planned and sent, seen from the day after."""
    desk.pack(u0="23", u1="18")
    desk.post(f"/packing/{FIRST}/send")
    desk.worktop.shelf_state.close()
    return Desk(desk.folder, date(2026, 12, 1))


def test_where_nothing_was_sent_the_way_to_the_bench_stands(desk: Desk) -> None:
    assert 'class="button" href="/packing"' in desk.get("/arrivals").text
    assert "Packing" not in desk.get("/arrivals?find=nobody").text.partition("<main")[2]


def test_before_the_report_the_forecast_stands_alone(sent: Desk) -> None:
    page = sent.text("/arrivals")
    assert "Expected by Tue 1 Dec." in page
    assert "23 packed for 20 ordered. No report yet; about 22 should be alive." in page


def test_a_parcel_past_its_last_day_stands_under_what_is_overdue(sent: Desk) -> None:
    later = Desk(sent.folder, date(2026, 12, 5))
    page = later.text("/arrivals")
    assert "Overdue: ask the buyer 1" in page
    assert "days late: 4" in page
    assert 'name="on" value="" list' in later.get("/arrivals").text, "a day long past is typed, never today"
    assert "On the way" not in page


def test_eggs_neither_alive_nor_gone_are_named(sent: Desk) -> None:
    text = plain(sent.post(ARRIVE, on="2026-12-01", a0="13", d0="4").text)
    assert "Nothing was told of the other 6." in text


def test_a_report_stands_beside_the_forecast_and_says_whether_the_promise_was_kept(sent: Desk) -> None:
    assert 'name="on" value="Tue 1 Dec 2026"' in sent.get("/arrivals").text
    answer = sent.post(ARRIVE, on="Tue 1 Dec 2026", a0="21", d0="2", a1="14", note="one tube was cold")
    text = plain(answer.text)
    assert "21 of 23 alive, about 22 expected, 20 ordered: the promise was kept." in text
    assert "14 of 18 alive, about 17 expected, 15 ordered: 1 short of the promise." in text
    assert sent.parcel().state == "arrived"


def test_a_day_is_read_by_the_setting_that_tables_are_read_by(sent: Desk) -> None:
    assert "'1/12/2026' may be several days" in plain(sent.post(ARRIVE, on="1/12/2026", a0="21").text)
    settings = sent.folder / "shelf.toml"
    settings.write_text(
        settings.read_text(encoding="utf-8") + '\n[reading]\ndates = "day first"\n', encoding="utf-8"
    )
    assert sent.post(ARRIVE, on="1.12.2026", a0="21").status_code == 200
    assert sent.worktop.shelf_state.entries()[-1].body.on == date(2026, 12, 1)
    trouble = plain(sent.post(ARRIVE, on="31/11/2026", a0="22").text)
    assert "Not recorded: '31/11/2026' is not a day of the calendar. That month has 30 days." in trouble


def test_what_was_lost_by_post_stands_by_month_and_route(sent: Desk) -> None:
    assert 'href="/arrivals/lost"' in sent.get("/arrivals").text
    sent.post(ARRIVE, on="Tue 1 Dec 2026", a0="21", d0="2")
    page = plain(sent.get("/arrivals/lost").text)
    assert "Lost by post: 2 eggs of the 23 whose end is known" in page
    assert "November 2026" in page
    assert "1 parcel, 41 eggs: 21 alive, 2 dead or missing, 18 not told of" in page
    assert "No parcel was sent since" in plain(sent.get("/arrivals/lost?since=1+Dec+2026").text)
    assert sent.get("/arrivals/lost?since=31+Nov+2026").status_code == 422


def test_what_is_left_blank_is_not_told_and_can_be_told_later(sent: Desk) -> None:
    sent.post(ARRIVE, on="2026-12-01", a0="21")
    told = {key: report.told for key, report in sent.parcel().reports.items()}
    assert told == {("D02", 1): {"alive": 21}}
    assert sent.post(ARRIVE, on="2026-12-01", d0="2", a1="18").status_code == 200
    assert {key: report.told for key, report in sent.parcel().reports.items()} == {
        ("D02", 1): {"alive": 21, "dead": 2},
        ("D02", 2): {"alive": 18},
    }


def test_with_all_told_dead_no_egg_is_expected_alive(sent: Desk) -> None:
    text = plain(sent.post(ARRIVE, on="2026-12-01", d0="23").text)
    assert "None of 23 alive, 20 ordered." in text
    assert "23 packed for 20 ordered" not in text


def test_some_dead_bound_the_living_from_above(sent: Desk) -> None:
    text = plain(sent.post(ARRIVE, on="2026-12-01", d0="5", m0="1").text)
    assert "6 of 23 dead or missing: at most 17 alive, 20 ordered, so 3 short at least." in text


def test_all_alive_beside_dead_that_are_typed_is_refused_and_the_count_stays(sent: Desk) -> None:
    answer = sent.post(ARRIVE, on="2026-12-01", quick="all-alive", d0="7")
    assert answer.status_code == 422
    assert "not all can be alive then" in said(answer)
    assert 'value="7"' in answer.text
    assert sent.parcel().state == "sent"


def test_all_alive_is_one_tap(sent: Desk) -> None:
    assert sent.post(ARRIVE, on="2026-12-01", quick="all-alive", a0="23", d0="0").status_code == 200
    assert [report.alive for report in sent.parcel().reports.values()] == [23, 18]


def test_all_alive_after_a_line_was_told_is_the_others(sent: Desk) -> None:
    sent.post(ARRIVE, on="2026-12-01", a0="21")
    assert sent.post(ARRIVE, on="2026-12-01", quick="all-alive").status_code == 200
    assert [report.alive for report in sent.parcel().reports.values()] == [21, 18]


def test_a_report_in_place_counts_in_the_headings_of_the_parts(sent: Desk) -> None:
    page = sent.get("/arrivals").text
    assert '<span data-part="on-the-way">1</span>' in page
    answer = sent.post(ARRIVE, on="2026-12-01", quick="all-alive").text
    assert '<span data-part="on-the-way">0</span>' in answer
    assert '<span data-part="arrived">1</span>' in answer


def test_silence_is_no_report(sent: Desk) -> None:
    answer = sent.post(ARRIVE, on="2026-12-01")
    assert (answer.status_code, "Silence is no report" in said(answer)) == (422, True)
    assert sent.parcel().state == "sent"


def test_more_eggs_than_were_packed_are_refused_and_what_was_typed_stays(sent: Desk) -> None:
    answer = sent.post(ARRIVE, on="2026-12-01", a0="24", note="so many")
    assert answer.status_code == 409
    assert "had 23 eggs packed" in said(answer)
    assert 'value="24"' in answer.text
    assert 'value="so many"' in answer.text


def test_a_day_to_come_or_no_day_is_refused(sent: Desk) -> None:
    assert sent.post(ARRIVE, on="2026-12-02", a0="21").status_code == 409
    answer = sent.post(ARRIVE, on="some day", a0="21")
    assert (answer.status_code, 'name="on" value="some day"' in answer.text) == (422, True)
    assert sent.parcel().state == "sent"


def test_a_report_is_taken_back_by_undo(sent: Desk) -> None:
    sent.post(ARRIVE, on="2026-12-01", a0="21")
    assert sent.post(f"{ARRIVE}/undo", entry="4").status_code == 200
    assert sent.parcel().state == "sent"


def test_what_is_taken_back_in_arrivals_is_the_report_and_never_money_given_back_since(sent: Desk) -> None:
    sent.post(ARRIVE, on="2026-12-01", a0="2")
    sent.post(f"/claims/{FIRST}/D02/1", how="refund", amount="1.00")
    page = sent.get("/arrivals").text
    assert "Undo the report: arrived on" in page
    assert 'name="entry" value="4"' in page


def test_two_reports_of_one_line_from_two_tabs_are_not_mixed(sent: Desk) -> None:
    old = sent.marks()
    sent.post(ARRIVE, old, on="2026-12-01", a0="21")
    answer = sent.post(ARRIVE, old, on="2026-12-01", a0="20")
    assert answer.status_code == 409
    assert "entry 4 of 2026-12-01" in said(answer)
    assert sent.parcel().reports[("D02", 1)].alive == 21


def test_two_ends_of_one_parcel_from_two_tabs_are_not_mixed(sent: Desk) -> None:
    old = sent.marks()
    assert sent.post(f"{ARRIVE}/end", old, on="2026-12-01", how="returned").status_code == 200
    assert sent.post(f"{ARRIVE}/end", old, on="2026-12-01", how="lost").status_code == 409
    assert sent.parcel().state == "returned"


def test_a_raised_figure_is_no_count_of_eggs_that_came_back(sent: Desk) -> None:
    assert sent.post(f"{ARRIVE}/end", on="2026-12-01", how="returned", b0="²").status_code == 422
    assert sent.parcel().state == "sent"


def test_a_parcel_not_sent_cannot_arrive(sent: Desk) -> None:
    assert sent.post("/arrivals/2026-W49-06", on="2026-12-01", a0="1").status_code == 404


@pytest.mark.parametrize(("how", "words"), [("lost", "given up as lost"), ("returned", "came back")])
def test_a_parcel_that_did_not_come_ends_without_a_report_and_that_can_be_taken_back(
    sent: Desk, how: str, words: str
) -> None:
    answer = sent.post(f"{ARRIVE}/end", on="2026-12-01", how=how, note="the tracking stopped")
    assert (answer.status_code, sent.parcel().state) == (200, how)
    assert f"▲ {words}" in plain(answer.text)
    assert "Settle it with the buyer" in plain(answer.text)
    assert f"1 parcel to settle with its buyer Parcel 01 to Søren Eksempel {how}" in sent.text("/")
    assert f"▲ {how} ordered 20" in sent.text("/claims")
    entry = str(sent.entries())
    assert sent.post(f"{ARRIVE}/undo", entry=entry).status_code == 200
    assert sent.parcel().state == "sent"


def test_a_parcel_ends_only_in_a_way_there_is(sent: Desk) -> None:
    assert sent.post(f"{ARRIVE}/end", on="2026-12-01", how="eaten").status_code == 422
    assert sent.parcel().state == "sent"


def test_a_buyer_is_asked_in_the_language_of_the_papers_and_without_a_number_that_is_none(sent: Desk) -> None:
    """The page may be German; whoever reads English is not asked in it."""
    with Ledger.open(sent.folder, date(2026, 12, 1)) as ledger:
        kept = Kept(ledger.parcel(FIRST), {})
    day = date(2026, 12, 1)
    asked = {one: ArrivalCard(kept, "", "", (), 0, "", day, one).question for one in ("en", "de")}
    assert asked["en"].startswith("The parcel with your eggs went on ")
    assert asked["de"].startswith("Das Paket mit Ihren Eiern ging am ")
    assert not any("–" in text for text in asked.values())
    assert tr("Your eggs, sent on {day}", day="x") == "Your eggs, sent on x"
