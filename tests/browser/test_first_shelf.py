"""From an empty folder to printed papers by taps and typing alone, with a breeder's sheets dropped."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.worktop.served import LONGEST_S, ServedPage

pytestmark = pytest.mark.slow
TODAY = "2026-06-15"
LOTS = """lot,species,population,laid_from,laid_to,medium,kept_at_c,eggs,counted_on,stage,stage_on
SO-01,sophiae,Kor,2026-06-03,2026-06-05,water,24,80,2026-06-14,eyed,2026-06-14
"""
SHOP = (
    "Bestellnummer;Datum;Empf\xe4nger;Stra\xdfe;PLZ;Ort;Land;Artikel;Anzahl\n"
    "S-1;13.06.2026;\xc4nne Beispiel;Vej 2;5000;Odense;D\xe4nemark;Blauer Sophiae;20\n"
).encode("cp1252")


def dropped(folder: Path) -> list[Path]:
    """Two sheets of invented origin: a shop's orders, and a list of lots."""
    folder.mkdir()
    (folder / "lots.csv").write_text(LOTS, encoding="utf-8")
    (folder / "laden.csv").write_bytes(SHOP)
    return [folder / "laden.csv", folder / "lots.csv"]


@pytest.mark.parametrize(("size", "scripts"), [("phone", True), ("tablet", False)])
def test_a_first_shelf_with_dropped_sheets_prints_its_first_papers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, open_page: OpenPage, size: str, scripts: bool
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("BROWSER", "true")
    sheets = dropped(tmp_path / "theirs")
    before = [sheet.read_bytes() for sheet in sheets]
    with ServedPage(tmp_path / "shelf", "--open", today=TODAY) as served:
        page = open_page(served.address, size, scripts)
        make_the_shelf(page, sheets)
        take_the_shops_sheet(page)
        page.get_by_role("button", name="Take it into my shelf").tap()
        expect(page.get_by_role("heading", name="The round", level=1)).to_be_visible()
        answer_what_is_owed(page)
        keep_the_plan(page)
        page.goto(f"{served.address}packing")
        link = page.locator("article.strip").first.get_by_role("link", name="Papers").get_attribute("href")
        paper = page.request.get(f"{served.address.rstrip('/')}{link}", timeout=LONGEST_S * 1000)
        assert paper.body().startswith(b"%PDF")
    assert [sheet.read_bytes() for sheet in sheets] == before


def make_the_shelf(page: Page, sheets: list[Path]) -> None:
    page.get_by_label("Your name, as on labels").fill("Ada Example")
    page.get_by_label("Your address, a line each").fill("Havnegade 1\n8000 Aarhus C")
    page.get_by_label("Country you post from").select_option("DK")
    page.get_by_text("Sheets you keep already").tap()
    page.locator("input[type=file]").set_input_files([str(sheet) for sheet in sheets])
    page.get_by_role("button", name="Make the shelf").tap()


def take_the_shops_sheet(page: Page) -> None:
    expect(page.get_by_role("heading", name="laden.csv")).to_be_visible()
    page.get_by_text("cp1252").or_(page.get_by_text("Western")).last.tap()
    page.get_by_role("button", name="Read it again as said below").tap()
    page.get_by_label("“Blauer Sophiae” is").select_option("sophiae")
    page.get_by_label("Its population, if the word says one").fill("Kor")
    page.get_by_role("button", name="Take it into my shelf").tap()
    expect(page.get_by_role("heading", name="lots.csv")).to_be_visible()


def answer_what_is_owed(page: Page) -> None:
    """One answer at a time, until the round owes none."""
    for _ in range(12):
        page.get_by_role("link", name="The round", exact=True).tap()
        expect(page.get_by_role("heading", name="The round", level=1)).to_be_visible()
        wait_until_reckoned(page)
        owed = page.locator(".next-task a.button, #s-answers .tasks a").filter(has_text="Write the answer")
        if not owed.count():
            return
        owed.first.tap()
        page.wait_for_url(re.compile("/operators/|/rules"))
        if "/operators/" in page.url:
            page.get_by_label("yes, they may travel").check()
            page.get_by_label("Who answered").fill("its office, by letter")
            page.get_by_role("button", name="Write this answer").tap()
            expect(page.get_by_role("status")).to_contain_text("Changed: service")
            continue
        card = page.locator("article.card").first
        card.get_by_text("Write the answer").first.tap()
        card.get_by_label("open: nothing more is needed").check()
        card.get_by_label("Source: who answered, or where it stands").fill("letter of the authority")
        card.get_by_role("button", name="Write this answer").tap()
        expect(page.get_by_text(re.compile("Written: rule")).first).to_be_visible()
    raise AssertionError("there is no end of answers")


def wait_until_reckoned(page: Page) -> None:
    """The round tells what is sure at once, and the rest once reckoned; without scripts it is asked again."""
    for _ in range(200):
        if not page.locator("main [data-again]").count():
            return
        page.reload()
    raise AssertionError("the round is still being reckoned")


def keep_the_plan(page: Page) -> None:
    page.get_by_role("link", name=re.compile("See the plan")).first.tap()
    page.get_by_role("button", name="Keep this plan").tap()
    expect(page.get_by_text("1 parcel is still to be packed or sent")).to_be_visible()
