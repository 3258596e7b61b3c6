"""The whole demo week packed and sent by taps alone, at three sizes, with scripts and without."""

from __future__ import annotations

import re
import shutil
from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from shipping.ledger.ledger import Ledger
from shipping.words.units import shipped_folder
from tests.browser.conftest import OpenPage
from tests.ledger.whole import audit
from tests.worktop.served import ServedHere

pytestmark = pytest.mark.slow
DAYS = ("2026-11-30", "2026-12-01", "2026-12-02")
ITEMS = ("RR473124829GB", "RR000000005DK")


def keep_the_plan(page: Page) -> None:
    page.get_by_role("link", name="See the plan and keep it").tap()
    page.get_by_role("button", name="Keep this plan").tap()
    expect(page.get_by_text("16 parcels are still to be packed or sent")).to_be_visible()


#: What opens the day on which a parcel left, where it may go and where it should not have gone.
OTHER_DAY = re.compile("It leaves on another day|It has gone all the same")


def pack_and_send_every_card(page: Page) -> None:
    """Taps whatever is to be done next, card by card, until all are sent; a card is looked at once the whole
    page is there.
    """
    page.wait_for_load_state()
    for n in range(page.locator("article.strip").count()):
        card = page.locator("article.strip").nth(n)
        looks = card.get_by_role("button", name=re.compile("^Eyes show in lot"))
        if looks.count():
            looks.tap()
            expect(page.locator("article.strip").nth(n).get_by_text("Look first")).to_have_count(0)
            page.wait_for_load_state()
            card = page.locator("article.strip").nth(n)
        card.get_by_role("button", name=re.compile("^Packed")).tap()
        expect(page.locator("article.strip").nth(n)).to_have_class(re.compile("packed"))
        page.wait_for_load_state()
        packed = page.locator("article.strip").nth(n)
        if packed.get_by_text(OTHER_DAY).count():
            packed.get_by_text(OTHER_DAY).tap()
            packed.get_by_role("button", name=re.compile("all the same$")).tap()
        else:
            packed.get_by_role("button", name=re.compile("^(Sent|Handed over)$")).tap()
        expect(page.locator("article.strip").nth(n)).to_have_class(re.compile("sent"))
        page.wait_for_load_state()


@pytest.mark.parametrize(
    ("size", "scripts", "dark"),
    [("phone", True, True), ("tablet", True, False), ("desk", True, False), ("phone", False, False)],
)
def test_the_whole_week_is_planned_packed_and_sent_by_taps(
    tmp_path: Path, open_page: OpenPage, size: str, scripts: bool, dark: bool
) -> None:
    shelf = Path(shutil.copytree(shipped_folder("demo_orders"), tmp_path / "week"))
    with ServedHere(shelf) as served:
        tap_through_the_week(served, open_page(served.address, size, scripts, dark))
    with Ledger.open(shelf, date(2026, 11, 30)) as ledger:
        assert set(ledger.parcel_states().values()) == {"sent"}
        assert {count.lot: count.eggs for count in ledger.parcel("2026-W49-01").counts} == {
            "FL-31": 24,
            "ME-05": 18,
        }
        assert len(ledger.entries()) == 1 + 2 * 16
    assert audit(shelf) == ()


def tap_through_the_week(served: ServedHere, page: Page) -> None:
    page.goto(f"{served.address}week")
    keep_the_plan(page)
    page.get_by_role("link", name="Pack Monday: 6 left").tap()
    page.locator("article.strip").first.get_by_role("button", name="One egg more from lot FL-31").tap()
    expect(page.locator("article.strip").first.locator("input[name=u0]")).to_have_value("24")
    for day in DAYS:
        page.goto(f"{served.address}packing?day={day}" if day != DAYS[0] else page.url)
        pack_and_send_every_card(page)
    page.get_by_role("navigation", name="Pages").get_by_role("link", name="Week").tap()
    expect(page.get_by_text("All parcels of this week are on their way")).to_be_visible()


def test_a_keyboard_scanner_sends_a_parcel_without_a_touch(
    served: ServedHere, shelf: Path, open_page: OpenPage
) -> None:
    page = open_page(f"{served.address}packing")
    page.locator("article.strip").first.get_by_role("button", name=re.compile("^Packed")).tap()
    field = page.locator("article.strip").first.locator("input[name=item]")
    expect(field).to_be_focused()
    page.keyboard.type(ITEMS[0])
    page.keyboard.press("Enter")
    expect(page.locator("article.strip").first).to_have_class(re.compile("sent"))
    with Ledger.open(shelf, date(2026, 11, 30)) as ledger:
        assert ledger.parcel("2026-W49-01").item == ITEMS[0]


def test_enter_in_a_count_reckons_and_packs_nothing(
    served: ServedHere, shelf: Path, open_page: OpenPage
) -> None:
    for scripts in (True, False):
        page = open_page(f"{served.address}packing", "desk", scripts)
        box = page.locator("article.strip").first.locator("input[name=u0]")
        box.fill("20")
        box.press("Enter")
        expect(page.locator("article.strip").first.get_by_text("promise does not hold")).to_be_visible()
        expect(page.locator("article.strip").first.locator("input[name=u0]")).to_have_value("20")
    with Ledger.open(shelf, date(2026, 11, 30)) as ledger:
        assert ledger.parcel_states()["2026-W49-01"] == "planned"


@pytest.mark.parametrize("scripts", [True, False])
def test_after_packing_the_focus_is_on_the_same_card_and_after_sending_on_the_next(
    served: ServedHere, open_page: OpenPage, scripts: bool
) -> None:
    page = open_page(f"{served.address}packing", "phone", scripts)
    card = page.locator("article.strip").nth(2)
    name = card.get_attribute("id")
    steps = (
        (re.compile("^One egg more"), re.compile(r"counted \d")),
        (re.compile("^Packed"), "to send"),
    )
    for button, after in steps:
        page.locator(f"[id='{name}']").get_by_role("button", name=button).first.tap()
        expect(page.locator(f"[id='{name}']").get_by_text(after)).to_be_visible()
        expect(page.locator(f"[id='{name}']:focus-within")).to_have_count(1)
    following = page.locator("article.strip").nth(3).get_attribute("id")
    page.locator(f"[id='{name}']").get_by_role("button", name=re.compile("^Sent")).tap()
    expect(page.locator(f"[id='{name}']").get_by_text("sent on Mon 30 Nov")).to_be_visible()
    if scripts:
        expect(page.locator(f"[id='{following}']:focus-within")).to_have_count(1)
    expect(page.locator(f"[id='{following}'] .step").first).to_be_in_viewport()


def test_what_was_recorded_is_spoken(served: ServedHere, open_page: OpenPage) -> None:
    page = open_page(f"{served.address}packing")
    page.locator("article.strip").first.get_by_role("button", name=re.compile("^Packed")).tap()
    said = "Parcel 01: packed on Mon 30 Nov: 23 from FL-31, 18 from ME-05."
    expect(page.get_by_role("status")).to_contain_text(said)
