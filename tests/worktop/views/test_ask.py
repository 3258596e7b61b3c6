"""What if: one lot, another place, day or service, and the same answer as on the terminal."""

from __future__ import annotations

import pytest

from shipping.cli.print_answers import reply_lines
from shipping.cli.terminal import Window
from shipping.eggs.lot_forecast import lot_forecast
from shipping.ledger.planning_again import shelf_left
from shipping.options.option import Destination
from shipping.questions.can_it_ship import ask
from shipping.week.draws import hatch_at_buyer
from shipping.words.units import percent
from shipping.worktop.context import tidy_days
from shipping.worktop.page_language import day_words
from shipping.worktop.running_list import cause_text
from tests.worktop.conftest import Desk, plain


def test_one_warmth_is_one_figure_on_every_page(desk: Desk) -> None:
    lots = desk.folder / "lots.csv"
    kept = lots.read_text(encoding="utf-8").replace(
        "25,2026-11-26,water,23,80", "25,2026-11-26,water,23.5,80"
    )
    lots.write_text(kept, encoding="utf-8")
    assert "in water at 23.5 °C" in desk.text("/lots?find=FL-31")
    assert "Kept here at 23.5 °C" in desk.text("/ask?lot=FL-31&to=DK")


def test_the_verdict_changes_with_the_destination(desk: Desk) -> None:
    assert "STOP It does not go there." in desk.text("/ask?lot=FL-31&to=DE&service=tracked+parcel")
    assert "GO Today is the last day." in desk.text("/ask?lot=FL-31&to=DK&service=courier+next+day")


def test_a_part_can_be_asked_about_where_rules_or_climate_differ_by_it(desk: Desk) -> None:
    page = desk.get("/ask?lot=FL-31&to=US-HI").text
    assert '<option value="US-HI" selected>United States of America, Hawaii</option>' in page
    assert '<option value="CA-ON">' in page
    assert '<option value="SE">' in page
    assert '<option value="SE-' not in page


def test_the_answer_is_that_of_the_week(desk: Desk) -> None:
    shelf = desk.worktop.shelf_state.tables().known
    reply = ask(shelf, "SJ-02", Destination("EE"), eggs=15)
    page = desk.text("/ask?lot=SJ-02&to=EE&eggs=15")
    best = min(
        (one for one in reply.options if not one.reasons),
        key=lambda one: one.option.ride.leg.day,
        default=None,
    )
    assert reply.verdict.value.upper() in page
    if best is not None:
        assert f"{percent(best.option.ride.h_per_egg)} hatch on the way" in page


def test_what_decides_the_verdict_heads_it_and_no_button_leads_back_here(desk: Desk) -> None:
    """By courier the eggs would go, were they more: what hatches by slower ways is not why they stop."""
    page = desk.get("/ask?lot=AU-20&to=DK").text
    told = plain(page).partition("STOP It does not go there.")[2]
    assert "has 7 eggs free" in told.partition("What does not go")[0]
    assert "would hatch on the way" not in told.partition("What does not go")[0]
    assert page.count('class="button main"') <= 1
    assert 'class="button" href="/ask' not in page


def test_what_an_order_would_have_to_hold_is_asked_of_no_order(desk: Desk) -> None:
    """There is none in the question: a button to "the order" would lead to another buyer's."""
    page = desk.text("/ask?lot=NI-06&to=US")
    assert "United States of America asks for papers: import declaration; importer licence" in page
    assert "the order" not in page.partition("What does not go")[0]
    assert "Open the order" not in page


def test_the_curve_is_drawn_for_the_same_question(desk: Desk) -> None:
    page = desk.get("/ask", lot="FL-31", to="DE", on="2026-12-01").text
    address = page.partition('<img src="')[2].partition('"')[0].replace("&amp;", "&")
    answer = desk.get(address)
    assert answer.headers["Content-Type"] == "image/svg+xml"
    assert b"Lot FL-31 to DE" in answer.data


def test_what_the_tables_do_not_know_is_not_found(desk: Desk) -> None:
    for path in (
        "/ask?lot=XX&to=DE",
        "/ask?lot=FL-31&to=ZZ",
        "/ask?lot=FL-31&to=DE&service=pigeon",
        "/ask.svg",
    ):
        assert desk.get(path).status_code == 404, path


def test_odd_days_and_counts_are_read_as_the_usual_ones(desk: Desk) -> None:
    for path in (
        "/ask?lot=FL-31&to=DE&on=1999-01-01",
        "/ask?lot=FL-31&to=DE&on=soon&eggs=-5",
        "/ask?lot=FL-31&to=DE&eggs=٣",
    ):
        assert desk.get(path).status_code == 200, path


def test_a_count_that_is_no_count_is_said_and_the_usual_one_reckoned_with(desk: Desk) -> None:
    assert "'many' is no whole number from 1 to 2000: 20 are reckoned with." in desk.text(
        "/ask?lot=FL-31&to=DE&eggs=many"
    )
    assert "is no whole number" not in desk.text("/ask?lot=FL-31&to=DE&eggs=15")


def test_the_nearest_way_of_each_service_has_all_its_reasons_as_the_command_has_it(desk: Desk) -> None:
    """The page left out an option whose first reason was told above, and showed another that lacked more."""
    with desk.worktop.shelf_state.ledger() as ledger:
        shelf = shelf_left(desk.worktop.shelf_state.tables().known, ledger)
    shown = 0
    for lot, to in (("AU-20", "DK"), ("FL-31", "FI"), ("ME-05", "SE")):
        reply = ask(shelf, lot, Destination(to), eggs=15)
        page = desk.text(f"/ask?lot={lot}&to={to}&eggs=15").partition("What does not go, and why")[2]
        command = list(reply_lines(reply, "EUR", Window(240), False))
        for asked in reply.nearest_by_service:
            leg, packing = asked.option.ride.leg, asked.option.ride.packing.packing
            assert any(leg.service.service in line and packing in line for line in command), command
            head = f"{day_words(leg.day)} by {leg.service.service}, {packing} "
            assert (head in page) == bool(asked.reasons), (lot, to, head)
            told = page.partition(head)[2]
            assert [why for why in map(cause_text, asked.reasons) if plain(tidy_days(why)) not in told] == []
            shown += bool(asked.reasons)
    assert shown > 3


def test_any_day_can_be_typed_as_in_every_form_and_is_shown(desk: Desk) -> None:
    """A browser's own box for days asks for them as its language has them, and not as the other forms do."""
    assert 'type="date"' not in desk.get("/ask").text
    for typed in ("2027-01-11", "11 Jan 2027", "Mon 11 Jan 2027"):
        page = desk.get(f"/ask?lot=FL-31&to=DE&on={typed}").text
        assert 'name="on" value="Mon 11 Jan 2027"' in page
        assert "Asked for Mon 11 Jan 2027." in plain(page)
    assert "Asked for" not in desk.text("/ask?lot=FL-31&to=DE")


@pytest.mark.parametrize("typed", ["2026-11-29", "soon", "9999-12-31"])
def test_a_day_that_cannot_be_asked_for_is_said(desk: Desk, typed: str) -> None:
    page = desk.text(f"/ask?lot=FL-31&to=DE&on={typed}")
    assert f"'{typed}' is no day from today on: any day is reckoned with." in page


def test_a_day_that_may_be_several_is_asked_about_as_in_a_command(desk: Desk) -> None:
    page = desk.text("/ask?lot=FL-31&to=DE&on=1.12.2026")
    assert "'1.12.2026' may be several days. Write 2026-12-01 or 2026-01-12." in page


def test_places_that_orders_go_to_come_first(desk: Desk) -> None:
    page = desk.text("/ask")
    ordered = {order.country for order in desk.worktop.shelf_state.tables().known.orders}
    assert "AF" not in ordered
    assert "Afghanistan" in page
    assert page.index("Denmark") < page.index("Afghanistan")


@pytest.mark.parametrize(("lot", "kept"), [("CH-14", 24), ("ME-05", 21)])
def test_the_days_of_hatching_here_and_there_stand_side_by_side_as_forecast_and_papers_have_them(
    desk: Desk, lot: str, kept: int
) -> None:
    shelf = desk.worktop.shelf_state.tables().known
    reply = ask(shelf, lot, Destination("DK"), eggs=20)
    passing = [one for one in reply.options if not one.reasons]
    best = min(passing, key=lambda one: (one.option.ride.leg.day, one.cost or 0.0)).option.ride
    here = [day_words(day) for day in best.lot_day.forecast.days_hatched((0.05, 0.5))]
    there = [day_words(day) for day in hatch_at_buyer(best)[:2]]
    page = desk.text(f"/ask?lot={lot}&to=DK")
    sent = " or sent" if here == there else ""
    assert f"Kept here at {kept} °C{sent}, it hatches from {here[0]}, half by {here[1]}" in page
    assert ("too short to change the day" in page) == (here == there)
    with desk.worktop.shelf_state.ledger() as ledger:
        free = lot_forecast(shelf_left(shelf, ledger), lot).free_on(shelf.today)
    assert f"{free} of its eggs are free." in page
    assert (f"With the buyer it hatches from {there[0]}, half by {there[1]}." in page) == (here != there)
    assert f"Best: {day_words(best.leg.day)} by {best.leg.service.service}" in page


def test_a_best_day_that_is_full_says_so(desk: Desk) -> None:
    """Six parcels are kept for Monday, which is all that the demo week posts in a day; seven would do."""
    text = desk.text("/ask?lot=FL-31&to=DE")
    assert "Best: Mon 30 Nov by express Mon 30 Nov is full: you post no more than 6 in a day." in text
    assert text.count("The day is full.") == 1
    settings = desk.folder / "shelf.toml"
    before = settings.read_text(encoding="utf-8")
    settings.write_text(before.replace("parcels_per_day = 6", "parcels_per_day = 7"), encoding="utf-8")
    assert "is full" not in desk.text("/ask?lot=FL-31&to=DE")


def test_no_way_of_a_service_whose_operator_nobody_asked_is_called_one_that_goes(desk: Desk) -> None:
    answered = desk.text("/ask?lot=BA-08&to=IE")
    assert "by tracked parcel" in answered.partition("What does not go")[0]
    services = desk.folder / "services.csv"
    rows = services.read_text(encoding="utf-8").splitlines()
    rows = [
        row.replace(",yes,2026-", ",ask,2026-") if row.startswith("tracked parcel") else row for row in rows
    ]
    services.write_text("\n".join(rows) + "\n", encoding="utf-8")
    text = desk.text("/ask?lot=BA-08&to=IE")
    assert "First ask the operator whether live eggs may go by: tracked parcel." in text
    assert "by tracked parcel" not in text.partition("First ask the operator")[0]


def test_a_service_whose_operator_said_no_stands_under_what_does_not_go_and_is_not_asked(desk: Desk) -> None:
    services = desk.folder / "services.csv"
    rows = services.read_text(encoding="utf-8").splitlines()
    rows = [
        row.replace(",yes,2026-", ",no,2026-") if row.startswith("tracked parcel") else row for row in rows
    ]
    services.write_text("\n".join(rows) + "\n", encoding="utf-8")
    goes, _, not_ = desk.text("/ask?lot=BA-08&to=IE").partition("What does not go")
    assert "by tracked parcel" not in goes
    assert "First ask" not in goes
    assert "by tracked parcel" in not_


def test_under_a_stop_by_law_no_days_are_listed_that_go(desk: Desk) -> None:
    rules = desk.folder / "rules.csv"
    rules.write_text(rules.read_text("utf-8") + "IE,*,,closed,,a law,2026-11-01,,,\n", encoding="utf-8")
    text = desk.text("/ask?lot=BA-08&to=IE")
    assert "STOP It does not go there." in text
    assert "Days and services that go" not in text
