"""A server that is gone, a tab that slept, a second tab: nothing typed is lost, nothing is recorded twice."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from shipping.ledger.ledger import Ledger
from tests.browser.conftest import OpenPage
from tests.worktop.served import ServedHere, ServedPage

pytestmark = pytest.mark.slow
TODAY = date(2026, 11, 30)
PACKED = re.compile("^Packed")
SHORT = "There are no more: pack it short all the same"


def bench(open_page: OpenPage, served: ServedHere | ServedPage, scripts: bool = True) -> Page:
    return open_page(f"{served.address}packing", "tablet", scripts)


def count_down(page: Page) -> None:
    page.locator("article.strip").first.get_by_role("button", name="One egg less from lot FL-31").tap()
    expect(page.locator("article.strip").first.locator("input[name=u0]")).to_have_value("22")


def pack_it_short(page: Page) -> None:
    """One tap is asked about, the next is recorded."""
    page.locator("article.strip").first.get_by_role("button", name=PACKED).tap()
    page.get_by_role("button", name=SHORT).tap()


def test_a_tap_while_the_server_is_gone_says_not_saved_and_is_recorded_after_it_is_back(
    served_apart: ServedPage, shelf: Path, open_page: OpenPage
) -> None:
    page = bench(open_page, served_apart)
    count_down(page)
    expect(page.get_by_role("status")).to_contain_text("Too few for your promise")
    served_apart.kill()
    page.locator("article.strip").first.get_by_role("button", name=PACKED).tap()
    expect(page.get_by_role("status")).to_contain_text("Not saved: the worktop does not answer")
    expect(page.locator("article.strip").first.locator("input[name=u0]")).to_have_value("22")
    with ServedPage(shelf, port=served_apart.port):
        pack_it_short(page)
        expect(page.get_by_role("status")).to_contain_text("Parcel 01: packed on Mon 30 Nov: 22 from FL-31")
    with Ledger.open(shelf, TODAY) as ledger:
        assert {count.lot: count.eggs for count in ledger.parcel("2026-W49-01").counts} == {
            "FL-31": 22,
            "ME-05": 18,
        }


@pytest.mark.parametrize("scripts", [True, False])
def test_a_page_that_is_loaded_again_still_has_the_counts(
    served: ServedHere, open_page: OpenPage, scripts: bool
) -> None:
    page = bench(open_page, served, scripts)
    count_down(page)
    page.reload()
    expect(page.locator("article.strip").first.locator("input[name=u0]")).to_have_value("22")
    if scripts:
        page.goto(f"{served.address}packing")
        expect(page.locator("article.strip").first.locator("input[name=u0]")).to_have_value("22")


def test_an_order_half_typed_is_there_again_until_it_is_left_on_purpose(
    served: ServedHere, open_page: OpenPage
) -> None:
    page = open_page(f"{served.address}tables/orders/new")
    page.fill("input[name=town]", "Faro")
    page.goto(f"{served.address}lots")
    page.goto(f"{served.address}tables/orders/new")
    expect(page.locator("input[name=town]")).to_have_value("Faro")
    page.click("text=Back, write nothing")
    page.goto(f"{served.address}tables/orders/new")
    expect(page.locator("input[name=town]")).to_have_value("")


def test_without_scripts_a_form_from_before_a_restart_is_recorded_with_one_more_tap(
    served_apart: ServedPage, shelf: Path, open_page: OpenPage
) -> None:
    page = bench(open_page, served_apart, scripts=False)
    count_down(page)
    served_apart.kill()
    with ServedPage(shelf, port=served_apart.port):
        page.locator("article.strip").first.get_by_role("button", name=PACKED).tap()
        expect(page.get_by_text("What you typed is kept here")).to_be_visible()
        page.get_by_role("button", name="Record it now").tap()
        page.get_by_role("button", name=SHORT).tap()
        expect(page.locator("article.strip").first).to_have_class(re.compile("packed"))
    with Ledger.open(shelf, TODAY) as ledger:
        assert sum(count.eggs for count in ledger.parcel("2026-W49-01").counts) == 40


@pytest.mark.parametrize("scripts", [True, False])
def test_the_second_of_two_tabs_is_told_what_the_first_recorded(
    served: ServedHere, shelf: Path, open_page: OpenPage, scripts: bool
) -> None:
    first = bench(open_page, served, scripts)
    second = open_page(f"{served.address}packing", "phone", scripts)
    count_down(second)
    first.locator("article.strip").first.get_by_role("button", name=PACKED).tap()
    expect(first.locator("article.strip").first).to_have_class(re.compile("packed"))
    second.locator("article.strip").first.get_by_role("button", name=PACKED).tap()
    expect(second.get_by_role("alert")).to_contain_text(
        "Not recorded: since this page was opened, this was recorded: entry 2 of 2026-11-30: packed"
    )
    with Ledger.open(shelf, TODAY) as ledger:
        assert sum(count.eggs for count in ledger.parcel("2026-W49-01").counts) == 41
        assert len(ledger.entries()) == 2


def test_a_page_that_slept_says_that_something_was_recorded_meanwhile(
    served: ServedHere, shelf: Path, open_page: OpenPage
) -> None:
    page = bench(open_page, served)
    with Ledger.open(shelf, TODAY) as ledger:
        ledger.pack("2026-W49-06")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(page.get_by_role("status")).to_contain_text("Something was recorded on another page meanwhile")
