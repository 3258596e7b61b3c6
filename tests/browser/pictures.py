"""The pictures of the guide, taken from the page as served; `python -m` this module takes them anew."""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from shipping.words.units import shipped_folder
from tests.worktop.served import LONGEST_S, ServedPage

CHROMIUM = "/usr/bin/chromium"
#: Orders of an invented shop.
SHEET = (
    "Order no.;Date;Name;Street;Postcode;City;Country;Item;Quantity\n"
    "S-101;2026-11-24;Ina Example;Weg 4;10115;Berlin;Germany;Blue gardneri;20\n"
    "S-102;2026-11-27;Jon Example;Vej 9;5000;Odense;Denmark;Epiplatys chaperi;15\n"
)
FOLDER = Path(__file__).resolve().parents[2] / "docs" / "pictures"


def _see_the_plan(page: Page, address: str) -> None:
    page.goto(f"{address}plan")
    page.get_by_role("button", name="Keep this plan").wait_for()


def _drop_a_sheet(page: Page, address: str) -> None:
    page.goto(f"{address}sheets")
    sheet = {"name": "shop.csv", "mimeType": "text/csv", "buffer": SHEET.encode("utf-8")}
    page.locator("input[type=file]").set_input_files([sheet])
    page.get_by_role("button", name="Read these sheets").click()
    page.get_by_role("heading", name="Which column is what").wait_for()


def _see_a_move(page: Page, address: str) -> None:
    page.goto(f"{address}parcels/2026-W49-02/move")
    page.get_by_role("button", name=re.compile("^See what changes.*Wed 2 Dec")).first.click()
    page.get_by_role("heading", name="As it would be").wait_for()


def _keep(page: Page, address: str) -> None:
    page.goto(f"{address}plan")
    page.get_by_role("button", name="Keep this plan").click()


def _pack_one(page: Page, address: str) -> None:
    page.goto(f"{address}packing")
    page.locator("article.strip").first.get_by_role("button", name=re.compile("^Packed")).click()
    page.locator("article.strip.packed").first.wait_for()


def _send_it(page: Page, address: str) -> None:
    page.goto(f"{address}packing")
    page.locator("article.strip.packed").first.get_by_role("button", name="Sent").click()
    page.locator("article.strip.sent").first.wait_for()
    page.goto(f"{address}arrivals")
    page.get_by_text("Record the report").first.click()


#: A picture: its name, what is done before it, the page it shows ("" is where that ended).
PICTURES: tuple[tuple[str, Callable[[Page, str], None] | None, str], ...] = (
    ("order", None, "tables/orders/new"),
    ("sheet", _drop_a_sheet, "-"),
    ("lots", None, "lots"),
    ("plan", _see_the_plan, "-"),
    ("round", _keep, ""),
    ("move", _see_a_move, "-"),
    ("packing", None, "packing"),
    ("packed", _pack_one, "-"),
    ("arrivals", _send_it, "-"),
    ("history", None, "history"),
)


def take(folder: Path) -> None:
    """Writes every picture into a folder, from the demo week on its own day."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        shelf = Path(shutil.copytree(shipped_folder("demo_orders"), Path(place) / "week"))
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox"], timeout=LONGEST_S * 1000
        )
        try:
            with ServedPage(shelf) as served:
                page = browser.new_page(viewport={"width": 820, "height": 900})
                page.set_default_timeout(LONGEST_S * 1000)
                _take_all(page, served.address, folder)
        finally:
            browser.close()


def _take_all(page: Page, address: str, folder: Path) -> None:
    for name, before, path in PICTURES:
        if before is not None:
            before(page, address)
        if path != "-":
            page.goto(f"{address}{path}")
        # a page that waits for a plan loads itself again, and that would break off the next one's loading
        page.locator("[data-again]").first.wait_for(state="detached")
        page.wait_for_timeout(1100)
        page.screenshot(path=folder / f"{name}.png")


if __name__ == "__main__":
    take(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
