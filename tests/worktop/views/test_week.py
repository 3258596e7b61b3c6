"""The week on one page: every line of every order stands on it once, and only a plan that was seen is
kept.
"""

from __future__ import annotations

import json
import re
import shutil
from datetime import date
from pathlib import Path

import pytest

from shipping.ledger.ledger import Ledger
from shipping.tables.reader import read_shelf
from shipping.words.reasons import CODES, Reason
from shipping.words.units import ABOUT_SO_MANY, shipped_folder
from shipping.worktop.running_list import PLACES, step_for
from tests.worktop.conftest import FIRST, TODAY, Desk, plain


@pytest.fixture
def fresh(tmp_path: Path) -> Desk:
    """The demo week before any plan was kept."""
    return Desk(Path(shutil.copytree(shipped_folder("demo_orders"), tmp_path / "week")))


def digest(desk: Desk) -> str:
    found = re.search(r'name="digest" value="(\w+)"', desk.get("/plan").text)
    assert found
    return found[1]


def test_every_order_of_the_week_is_on_the_page_going_or_not(fresh: Desk) -> None:
    shelf = read_shelf(fresh.folder, TODAY).shelf
    assert shelf is not None
    page = fresh.text("/week")
    for order in shelf.orders:
        assert order.order in page


def test_each_day_says_its_load_its_limit_and_its_hours(fresh: Desk) -> None:
    page = fresh.text("/week")
    assert (
        "Monday 30 November today 6 parcels, 207 eggs; the day is full. Hand over until 14:30"
        " (courier next day), 15:00 (tracked parcel), 16:00 (express)." in page
    )
    assert "Wednesday 2 December 4 parcels, 130 eggs; 2 more would fit." in page


def test_what_holds_says_why_and_what_to_do_next(fresh: Desk) -> None:
    page = fresh.get("/week").text
    held = page[page.index('id="v-hold"') :]
    assert "Nothobranchius korthausae" in held
    assert "The United States of America asks for papers" in plain(held)
    assert '<a class="button quiet" href="/rules">' in held
    assert '<a class="button quiet" href="/lots?at=CY-09#h-CY-09">' in held


def test_what_helps_against_cold_is_told_once_for_all_lines_that_it_is_for(fresh: Desk) -> None:
    """D12 and D32 are both too cold, each by its own figures; the cure stood under every line."""
    page = fresh.text("/plan")
    first, later = (page.partition(f"{order}: ")[2].partition("D33: ")[0] for order in ("D12", "D32"))
    cure = (
        "A faster service, a heat pack that lasts longer, or a warmer month; look at the forecast and write"
    )
    assert cure in first.partition("D14: ")[0]
    assert "8.6 °C inside the box, the eggs need at least 10 °C; the heat pack lasts 40 h" in later
    assert cure not in later.partition("more")[0]


def test_a_reason_leads_to_the_page_where_it_is_removed(fresh: Desk) -> None:
    """Codes that time or the law alone removes lead nowhere; every page named is there."""
    led = {code for code, known in CODES.items() if known.mend}
    by_facts = {"species"}  # eggs kept warmer than their fish is said to bear
    assert {CODES[code].mend for code in led} | by_facts == set(PLACES)
    assert set(CODES) - led == {
        *("chosen", "extra", "instead", "other-line", "not-before", "closed-day", "closed"),
    }
    for place in {path.partition("?")[0] for path, _ in PLACES.values()}:
        assert fresh.get(place.format(order="D25")).status_code in (200, 303), place


def test_a_line_that_only_another_stops_leads_to_its_order_where_it_may_be_split(fresh: Desk) -> None:
    """It was listed under "nothing to do now", with a column's name and no way there."""
    stopped = {"line": 2, "stops": True}
    with fresh.app.test_request_context():
        led = step_for(Reason("other-line", "", stopped), "D09", "IT")
        assert led.step == "Let the lines of the order be split, and it goes without that one"
        assert (led.address, led.button) == ("/orders/D09", "Open the order")
        assert step_for(Reason("other-line", "", {"line": 2}), "D09", "IT").address == ""
    assert "nothing to do now" not in fresh.text("/week")


@pytest.mark.parametrize(
    ("code", "facts", "place"),
    [
        ("too-cold", {"in_box": "foam box", "in_packing": "damp bag"}, "/tables/packings/new"),
        ("too-cold", {"by": "express"}, "/orders/D12"),
        ("too-cold", {"beyond_mean": True}, "/tables/packings"),
        ("too-cold", {"warm_h": 10.0}, "/tables/boxes"),
        ("too-hot", {"heat_pack": True}, "/tables/packings"),
        ("too-hot", {"beyond_mean": True}, ""),
    ],
)
def test_a_warmth_on_the_way_leads_to_what_its_next_step_names_before_the_weather(
    fresh: Desk, code: str, facts: dict[str, object], place: str
) -> None:
    """A warmth that is only assumed led to a row of weather, which nobody knows: a packing is nearer."""
    facts = {"low_c": 4, "high_c": 8, "limit_c": 15, "basis": "assumed", "on": "2026-12-04", **facts}
    with fresh.app.test_request_context():
        led = step_for(Reason(code, "", facts), "D12", "FI")
        known = step_for(Reason(code, "", {**facts, "basis": "published"}), "D12", "FI")
    assert (led.address, led.weather) == (place, "/tables/weather/new?to=FI&month=12")
    assert (known.address, known.weather) == (place, "")


def test_a_plan_is_kept_as_it_was_seen(fresh: Desk) -> None:
    marks = {"token": fresh.worktop.access.token}
    answer = fresh.post("/plan/keep", marks, week="2026-W49", digest=digest(fresh))
    assert (answer.status_code, fresh.entries()) == (303, 1)
    assert "16 parcels are still to be packed or sent" in fresh.text("/week")
    twice = fresh.post("/plan/keep", marks, week="2026-W49", digest=digest(fresh))
    assert (twice.status_code, fresh.entries()) == (303, 1)


def test_a_plan_says_how_good_it_is_and_how_its_eggs_are_counted(fresh: Desk) -> None:
    """As it does where it is printed for a terminal."""
    plan = fresh.text("/plan?week=2026-W49")
    assert "Of those that serve as much, this one costs least. It is reckoned from your tables." in plan
    assert f"{ABOUT_SO_MANY}" in plan


def test_a_plan_of_no_parcels_is_not_offered_to_be_kept_and_does_not_stay_on_the_round(fresh: Desk) -> None:
    orders = fresh.folder / "orders.csv"
    rows = orders.read_text(encoding="utf-8").splitlines(keepends=True)
    orders.write_text("".join(row for row in rows if row.startswith(("order,", "D20,"))), encoding="utf-8")
    assert "Plan the week" not in fresh.text("/")
    plan, week = fresh.get("/plan?week=2026-W49").text, fresh.text("/week?week=2026-W49")
    assert "/plan/keep" not in plan
    assert "No parcel goes this week; what holds them back stands below." in plain(plan)
    assert "No parcel goes this week; what holds them back stands below." in week
    assert "Once you keep it" not in week


def test_a_shelf_without_orders_points_to_nothing_below_and_praises_no_plan(fresh: Desk) -> None:
    orders = fresh.folder / "orders.csv"
    orders.write_text(orders.read_text(encoding="utf-8").splitlines()[0] + "\n", encoding="utf-8")
    plan, week = fresh.text("/plan?week=2026-W49"), fresh.text("/week?week=2026-W49")
    for page in (plan, week):
        assert "No order waits for a parcel." in page
        assert "stands below" not in page
    assert "How good this plan is" not in plan


def test_a_cell_that_stops_every_page_is_mended_by_one_tap_from_there(fresh: Desk) -> None:
    lots = fresh.folder / "lots.csv"
    lots.write_text(lots.read_text(encoding="utf-8").replace(",23,80,", ",23,eighty,"), encoding="utf-8")
    page = fresh.get("/lots").text
    (address,) = re.findall(r'href="(/tables/lots/\d+)">Mend it', page)
    assert 'value="eighty"' in fresh.get(address).text


def test_a_plan_that_changed_since_it_was_seen_is_shown_and_not_kept(fresh: Desk) -> None:
    seen = digest(fresh)
    orders = fresh.folder / "orders.csv"
    rows = orders.read_text(encoding="utf-8").splitlines(keepends=True)
    orders.write_text("".join(row for row in rows if not row.startswith("D13,")), encoding="utf-8")
    answer = fresh.post("/plan/keep", {"token": fresh.worktop.access.token}, week="2026-W49", digest=seen)
    assert answer.status_code == 409
    assert "Not kept: the tables or the ledger changed" in plain(answer.text)
    assert not (fresh.folder / "ledger.sqlite").exists()
    again = re.search(r'name="digest" value="(\w+)"', answer.text)
    assert again
    kept = fresh.post("/plan/keep", {"token": fresh.worktop.access.token}, week="2026-W49", digest=again[1])
    assert kept.status_code == 303


def test_a_change_of_the_tables_after_keeping_is_said_with_the_lines_that_differ(desk: Desk) -> None:
    assert "Planned again now" not in desk.text("/week")
    orders = desk.folder / "orders.csv"
    rows = orders.read_text(encoding="utf-8").splitlines(keepends=True)
    orders.write_text("".join(row for row in rows if not row.startswith("D13,")), encoding="utf-8")
    assert "Planned again now, " in desk.text("/week")
    assert "D13 line 1: 23 eggs by express on Tue 1 Dec, now not in the plan." in desk.text("/plan")
    assert '<button class="main big">Keep this plan in place of the old' in desk.get("/plan").text


def test_where_nothing_differs_from_the_plan_kept_going_back_is_the_main_button(desk: Desk) -> None:
    page = desk.get("/plan?week=2026-W49").text
    assert "Nothing differs from the plan that you have kept." in page
    assert '<button class="quiet big">Keep this plan in place of the old' in page
    assert 'class="button big main" href="/week?week=2026-W49">Back, keep nothing' in page


def test_an_order_whose_parcel_was_given_up_stands_on_the_page_of_the_week(desk: Desk) -> None:
    """It was nowhere, beside a word of changed tables."""
    answer = desk.post(f"/parcels/{FIRST}/drop", {"token": desk.worktop.access.token}, card=False)
    page = desk.text(answer.headers["Location"])
    assert 'action="/history/2/undo" id="undo"' in desk.get(answer.headers["Location"]).text
    assert "2 order lines are in no parcel of the plan kept D02: 20 Jordanella floridae – Odense" in page
    assert "Planned again, it goes on Mon 30 Nov by courier next day. Plan again : D02" in page
    assert "changed" not in page
    with Ledger.open(desk.folder, TODAY) as ledger:
        for parcel in ledger.parcels():
            ledger.drop(parcel.parcel)
    assert "No parcel is left of the plan kept." in Desk(desk.folder).text("/week")


def test_packing_as_planned_changes_no_other_line_of_the_plan(desk: Desk) -> None:
    desk.pack(u0="23", u1="18")
    assert "Planned again now" not in desk.text("/week")


def test_a_packed_parcel_takes_its_place_in_the_day_of_the_plan_made_again(desk: Desk) -> None:
    desk.pack(u0="23", u1="18")
    assert "Monday 30 November 5 parcels, 166 eggs; the day is full." in desk.text("/plan")


def test_a_packed_parcel_shows_the_eggs_counted(desk: Desk) -> None:
    desk.pack(u0="26", u1="18")
    page = desk.text("/week")
    assert "26 Jordanella floridae from FL-31, for 20 ordered in D02." in page
    assert "18 Paraphanius mento, Kırkgöz from ME-05, for 15 ordered in D02: 98 % sure that 15" in page
    assert "6 parcels, 210 eggs; 5 to pack; 1 to send; the day is full." in page


def test_the_timeline_is_the_drawing_of_the_papers(desk: Desk) -> None:
    answer = desk.get("/lots.svg")
    assert answer.headers["Content-Type"] == "image/svg+xml"
    assert b"Lots on Mon 30 Nov 2026" in answer.data
    assert b"last days" in answer.data


def test_a_week_that_is_none_is_not_found(desk: Desk) -> None:
    for week in ("2026-W60", "x", "2026-49", "../etc"):
        assert desk.get("/week", week=week).status_code == 404


def test_the_page_of_the_first_minute_is_small(fresh: Desk) -> None:
    sizes = {path: len(fresh.get(path).data) for path in ("/", "/worktop.css", "/worktop.js")}
    assert sum(sizes.values()) < 60_000, json.dumps(sizes)


def test_the_ledger_kept_by_the_page_is_whole(desk: Desk) -> None:
    from tests.ledger.whole import audit

    desk.pack(u0="23", u1="18")
    desk.post(f"/packing/{FIRST}/send", item="RR473124829GB")
    desk.worktop.shelf_state.close()
    assert audit(desk.folder) == ()


def test_parcels_past_their_day_stand_first_with_a_way_to_them_and_no_command(desk: Desk) -> None:
    later = Desk(desk.folder, date(2026, 12, 1))
    page = later.get("/week").text
    assert "Monday 30 November 6 parcels, 207 eggs; 6 to pack. Papers" in plain(page)
    may_go, _, must_not_go = plain(page).partition("Must not go: what to do 1")
    assert "5 late: should have been sent on Mon 30 Nov Parcel 02 to Órla Example, Ireland" in may_go
    assert "Do not send" not in may_go
    assert must_not_go.startswith(" Parcel 01 to Søren Eksempel, Denmark Not packed")
    assert 'href="/packing?at=2026-W49-03#h-2026-W49-03"' in page
    assert "spawnpost drop" not in page
    assert "▲ 6 left" in later.text("/packing")


def test_a_line_left_out_begins_with_the_reason_that_decides(desk: Desk) -> None:
    """D32 is held because it is too cold; that it is not wanted yet only comes beside."""
    text = desk.text("/week").partition("D32")[2]
    assert text.index("Too cold on the way") < text.index("Not wanted before")


def test_a_week_that_is_over_says_so_and_is_planned_no_more(desk: Desk) -> None:
    last_day, after = (Desk(desk.folder, date(2026, 12, day)) for day in (6, 7))
    assert "is over" not in last_day.text("/week?week=2026-W49")
    week, plan = (after.get(f"/{page}?week=2026-W49").text for page in ("week", "plan"))
    for page in (week, plan):
        assert "This week is over: nothing can be posted in it any more." in plain(page)
        assert 'href="/week">The week to plan now</a>' in page
    assert "Planned again now" not in plain(week)
    assert "/plan?week=2026-W49" not in week
    assert "/plan/keep" not in plan
    assert after.get("/week").text.count("is over") == 0
