"""axe-core finds nothing, targets are large, text is large, nothing needs a hover, and paper shows no
button.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, Route, expect

from shipping.ledger.entries import LineReport
from shipping.ledger.ledger import Ledger
from tests.browser.conftest import SIZES, OpenPage
from tests.worktop.every_screen import is_alike, screens_of, whole_templates
from tests.worktop.served import LONGEST_S, ServedHere

pytestmark = pytest.mark.slow
#: What of axe-core depends on whether it is dark.
COLOURS = {"runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}
SEEN_AS = "http://127.0.0.1:8765"


@pytest.fixture
def kept(shelf: Path) -> Iterator[ServedHere]:
    """The week with a parcel packed, another sent, and one that arrived."""
    with Ledger.open(shelf, date(2026, 11, 30)) as ledger:
        for name in ("2026-W49-01", "2026-W49-02", "2026-W49-06"):
            ledger.pack(name)
        for name in ("2026-W49-02", "2026-W49-06"):
            ledger.send(name)
        ledger.arrive("2026-W49-02", [LineReport(order="D27", line=1, alive=20)])
    with ServedHere(shelf) as page:
        yield page


def open_everything(page: Page) -> None:
    """Unfolds what is folded, so that it is looked at too."""
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")


def found_by_axe(page: Page, options: dict[str, object] | None = None) -> list[str]:
    """What axe finds wrong; its script is given to a page once."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(Axe().axe_script)
    asked = {"resultTypes": ["violations"], **(options or {})}
    found = page.evaluate("(asked) => axe.run(document, asked).then((all) => all.violations)", asked)
    return [f"{one['id']}: {one['help']} ({one['nodes'][0]['html'][:120]})" for one in found]


SMALL = """() => [...document.querySelectorAll('button, .button, summary, .top a, .tabs a, .rows a')]
    .concat([...document.querySelectorAll('select, textarea, input:not([type=hidden])')])
    .filter((one) => !one.closest('.hide') && !one.matches('.hide'))
    .filter((one) => one.getClientRects().length)
    .map((one) => [one.closest('.choice label') || one, one])
    .map(([box, one]) => [box.getBoundingClientRect(), one])
    .filter(([box]) => box.height < 48 || box.width < 44)
    .map(([, one]) => one.outerHTML.slice(0, 90))"""


#: Of the pages' names at the top.
ROWS_OF_PAGES = "new Set([...document.querySelectorAll('.top li')].map((one) => one.offsetTop)).size"


#: Ends of sentences that stand alone at the beginning of a line, with what is before them.
ALONE = """() => {
    const box = (node, at) => {
        const range = document.createRange();
        range.setStart(node, at);
        range.setEnd(node, at + 1);
        return range.getClientRects()[0];
    };
    const found = [], texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    let before = null, node;
    while ((node = texts.nextNode())) {
        if (!node.data.trim()) continue;
        if (/[.,;:]/.test(node.data[0]) && before) {
            const end = box(before, before.data.trimEnd().length - 1), first = box(node, 0);
            if (end && first && first.top > end.bottom - 4) found.push(node.data.slice(0, 30));
        }
        before = node;
    }
    return found;
}"""


#: Words that go on in the next line without a hyphen; a path may.
PARTED = """() => {
    const found = [], texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    let node;
    while ((node = texts.nextNode())) {
        if (node.parentElement.closest('script, .hide, textarea, select, datalist')) continue;
        for (const word of node.data.matchAll(/(?<![/_\\p{L}])\\p{L}{2,}/gu)) {
            const range = document.createRange();
            range.setStart(node, word.index);
            range.setEnd(node, word.index + word[0].length);
            if (new Set([...range.getClientRects()].map((box) => box.top)).size > 1) found.push(word[0]);
        }
    }
    return found;
}"""


def faults_of(page: Page) -> list[str]:
    """What a hand, an eye or a reader of screens would meet, in the light and in the dark."""
    page.emulate_media(color_scheme="light")
    faults = found_by_axe(page)
    page.emulate_media(color_scheme="dark")
    faults += [f"dark: {fault}" for fault in found_by_axe(page, COLOURS)]
    faults += [f"small: {one}" for one in page.evaluate(SMALL)]
    if not page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"):
        faults.append("scrolls sideways")
    if page.evaluate("parseFloat(getComputedStyle(document.body).fontSize)") < 18:
        faults.append("small text")
    return faults


def ends_alone(page: Page) -> list[str]:
    """Looked for at the widths of phones, from small to large."""
    found = set()
    for width in range(320, 431, 22):
        page.set_viewport_size({"width": width, "height": 844})
        found |= set(page.evaluate(ALONE))
    return sorted(found)


def test_on_every_screen_axe_finds_nothing_targets_are_large_and_nothing_scrolls_sideways(
    shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, browser: Browser
) -> None:
    """At three sizes, in light and dark; what axe asks besides colours does not depend on the latter. Further
    tables, which are drawn as the first, are looked at as on a phone.
    """
    screens, templates, desk = screens_of(shelf, tmp_path / "empty", monkeypatch)
    assert whole_templates() <= templates
    context = browser.new_context(java_script_enabled=True)
    addresses = {f"{SEEN_AS}/screen/{n}": name for n, name in enumerate(screens)}

    def answer(route: Route) -> None:
        if name := addresses.get(route.request.url):
            whole = screens[name].replace("data-again", "")  # it would load itself again
            route.fulfill(body=whole, content_type="text/html; charset=utf-8")
        else:
            file = desk.client.get(route.request.url.removeprefix(SEEN_AS), base_url=SEEN_AS)
            route.fulfill(body=file.data, status=file.status_code, content_type=file.content_type)

    context.route("**/*", answer)
    context.set_default_timeout(LONGEST_S * 1000)
    page = context.new_page()
    found: list[str] = []
    for address, name in addresses.items():
        page.goto(address)
        open_everything(page)
        for size in ("phone",) if is_alike(name) else sorted(SIZES):
            width, height = SIZES[size]
            page.set_viewport_size({"width": width, "height": height})
            found += [f"{name}, {size}: {fault}" for fault in faults_of(page)]
        found += [f"{name}: alone on its line: {end}" for end in ends_alone(page)]
        page.set_viewport_size({"width": 320, "height": 640})
        if not page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"):
            found.append(f"{name}, a small phone: scrolls sideways")
    context.close()
    assert not found, "\n".join(found)


@pytest.mark.parametrize("language", ["de", "fr", "es"])
def test_the_longer_words_of_other_languages_fit_a_phone(
    shelf: Path, open_page: OpenPage, language: str
) -> None:
    settings = shelf / "shelf.toml"
    text = settings.read_text(encoding="utf-8").replace('languages = ["en"]', f'languages = ["{language}"]')
    settings.write_text(text, encoding="utf-8")
    with ServedHere(shelf) as served:
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
            assert page.evaluate(ROWS_OF_PAGES) == 2, address
            assert page.evaluate(PARTED) == [], address
            for width in (320, 360):
                page.set_viewport_size({"width": width, "height": 760})
                assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), address
            assert page.evaluate(ROWS_OF_PAGES) == 2, address
            page.set_viewport_size({"width": SIZES["phone"][0], "height": SIZES["phone"][1]})
        assert found_by_axe(page) == []


def test_the_keyboard_alone_reaches_the_first_parcel_and_packs_it(
    kept: ServedHere, open_page: OpenPage
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


@pytest.mark.parametrize("language", ["en", "de", "fr", "es"])
def test_on_a_phone_that_lies_on_its_side_the_first_thing_to_do_is_seen_whole(
    shelf: Path, open_page: OpenPage, language: str
) -> None:
    settings = shelf / "shelf.toml"
    text = settings.read_text(encoding="utf-8").replace('languages = ["en"]', f'languages = ["{language}"]')
    settings.write_text(text, encoding="utf-8")
    with ServedHere(shelf) as served:
        page = open_page(served.address)
        page.set_viewport_size({"width": 844, "height": 390})
        page.reload()
        assert page.evaluate(ROWS_OF_PAGES) == 1
        button = page.locator(".next-task .main").first.bounding_box()
        assert button is not None
        assert button["y"] + button["height"] <= 390


def test_what_is_typed_into_on_a_phone_on_its_side_is_seen_whole(
    kept: ServedHere, open_page: OpenPage
) -> None:
    page = open_page(f"{kept.address}packing")
    page.set_viewport_size({"width": 844, "height": 390})
    item = page.locator("article.packed input[name=item]").first
    page.evaluate("window.scrollTo(0, 0)")
    item.focus()
    box, saying = item.bounding_box(), page.locator(".saying").bounding_box()
    assert box is not None
    assert saying is not None
    assert saying["y"] + saying["height"] <= box["y"]
    assert box["y"] + box["height"] <= 390


def test_on_paper_there_are_no_buttons(kept: ServedHere, open_page: OpenPage) -> None:
    page = open_page(f"{kept.address}packing", "desk")
    page.emulate_media(media="print")
    assert page.locator("button:visible, .button:visible, nav:visible").count() == 0
    expect(page.get_by_role("heading", level=1)).to_be_visible()


def test_no_style_waits_for_a_hover_and_no_script_for_a_double_tap_or_a_drag() -> None:
    folder = Path(__file__).resolve().parents[2] / "shipping" / "worktop"
    assert ":hover" not in (folder / "worktop.css").read_text(encoding="utf-8")
    script = (folder / "worktop.js").read_text(encoding="utf-8")
    assert not [word for word in ("dblclick", "drag", "mouseover", "confirm(", "alert(") if word in script]
