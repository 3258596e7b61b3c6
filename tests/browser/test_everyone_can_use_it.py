"""axe-core finds nothing, targets are large, text is large, nothing needs a hover, and paper shows no
button.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from shipping.ledger.entries import LineReport
from shipping.ledger.ledger import Ledger
from tests.browser.conftest import SIZES, OpenPage
from tests.worktop.served import ServedPage

pytestmark = pytest.mark.slow
ADDRESSES = (
    *("", "week", "plan", "packing", "arrivals", "lots", "rules", "ask?lot=FL-31&to=DE", "nothing-here"),
    *(
        "tables",
        "tables/orders",
        "tables/orders/new",
        "tables/orders/2",
        "history",
        "claims",
        "taught",
        "copy",
    ),
    *("buy", "offer", "setup", "tablet", "sheets", "parcels/2026-W49-07/move", "operators/quick%20letter"),
    "orders/D25/region",
)


@pytest.fixture
def kept(shelf: Path) -> Iterator[ServedPage]:
    """The week with a parcel packed, another sent, and one that arrived."""
    with Ledger.open(shelf, date(2026, 11, 30)) as ledger:
        for name in ("2026-W49-01", "2026-W49-02", "2026-W49-06"):
            ledger.pack(name)
        for name in ("2026-W49-02", "2026-W49-06"):
            ledger.send(name)
        ledger.arrive("2026-W49-02", [LineReport(order="D27", line=1, alive=20)])
    with ServedPage(shelf) as page:
        yield page


def open_everything(page: Page) -> None:
    """Unfolds what is folded, so that it is looked at too."""
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")


def found_by_axe(page: Page) -> list[str]:
    results = Axe().run(page)
    return [
        f"{one['id']}: {one['help']} ({one['nodes'][0]['html'][:120]})"
        for one in results.response["violations"]
    ]


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("size", sorted(SIZES))
def test_axe_finds_nothing_on_any_page(kept: ServedPage, open_page: OpenPage, size: str, dark: bool) -> None:
    page = open_page(kept.address, size, dark=dark)
    for address in ADDRESSES:
        page.goto(f"{kept.address}{address}")
        page.wait_for_load_state()
        open_everything(page)
        assert found_by_axe(page) == [], address


@pytest.mark.parametrize("size", sorted(SIZES))
def test_every_target_is_large_and_no_page_scrolls_sideways(
    kept: ServedPage, open_page: OpenPage, size: str
) -> None:
    page = open_page(kept.address, size)
    for address in ADDRESSES:
        page.goto(f"{kept.address}{address}")
        open_everything(page)
        small = page.evaluate(
            """() => [...document.querySelectorAll('button, .button, summary, .top a, .tabs a')]
                .concat([...document.querySelectorAll('select, input:not([type=hidden])')])
                .filter((one) => !one.closest('.hide') && !one.matches('.hide'))
                .filter((one) => one.getClientRects().length)
                .map((one) => [one.closest('.choice label') || one, one])
                .map(([box, one]) => [box.getBoundingClientRect(), one])
                .filter(([box]) => box.height < 48 || box.width < 44)
                .map(([, one]) => one.outerHTML.slice(0, 90))"""
        )
        assert small == [], address
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), address
        assert page.evaluate("parseFloat(getComputedStyle(document.body).fontSize)") >= 18


@pytest.mark.parametrize("language", ["de", "fr", "es"])
def test_the_longer_words_of_other_languages_fit_a_phone(
    shelf: Path, open_page: OpenPage, language: str
) -> None:
    settings = shelf / "shelf.toml"
    text = settings.read_text(encoding="utf-8").replace('languages = ["en"]', f'languages = ["{language}"]')
    settings.write_text(text, encoding="utf-8")
    with ServedPage(shelf) as served:
        page = open_page(served.address, "phone")
        for address in (
            "",
            "week",
            "packing",
            "lots",
            "setup",
            "buy",
            "tables/orders/new",
            "orders/D25/region",
        ):
            page.goto(f"{served.address}{address}")
            open_everything(page)
            assert page.evaluate("document.documentElement.lang") == language
            assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), address
        assert found_by_axe(page) == []


def test_the_keyboard_alone_reaches_the_first_parcel_and_packs_it(
    kept: ServedPage, open_page: OpenPage
) -> None:
    page = open_page(f"{kept.address}packing?day=2026-12-01", "desk")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the list")).to_be_focused()
    page.keyboard.press("Enter")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent.startsWith('Packed')"):
            break
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
    page.keyboard.press("Enter")
    expect(page.locator("article.strip").first).to_contain_text("to send")


def test_on_paper_there_are_no_buttons(kept: ServedPage, open_page: OpenPage) -> None:
    page = open_page(f"{kept.address}packing", "desk")
    page.emulate_media(media="print")
    assert page.locator("button:visible, .button:visible, nav:visible").count() == 0
    expect(page.get_by_role("heading", level=1)).to_be_visible()


def test_no_style_waits_for_a_hover_and_no_script_for_a_double_tap_or_a_drag() -> None:
    folder = Path(__file__).resolve().parents[2] / "shipping" / "worktop"
    assert ":hover" not in (folder / "worktop.css").read_text(encoding="utf-8")
    script = (folder / "worktop.js").read_text(encoding="utf-8")
    assert not [word for word in ("dblclick", "drag", "mouseover", "confirm(", "alert(") if word in script]
