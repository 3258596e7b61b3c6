"""The record on the page: the same entries as the commands, and nothing that a command would refuse."""

from __future__ import annotations

import html
import re
import sqlite3
from datetime import date
from pathlib import Path

import pytest

from shipping.cli.app import main
from shipping.learning.lesson import rate_shown
from shipping.ledger.entries import LineReport
from shipping.ledger.ledger import Ledger
from shipping.papers.documents.contents import PaperInputs
from shipping.papers.documents.slip import slip
from shipping.papers.wording.phrases import Wording, orders_in_words
from shipping.worktop.background import Going
from tests.worktop.conftest import FIRST, HOME, TODAY, Desk, plain


@pytest.fixture
def arrived(desk: Desk) -> Desk:
    """The first parcel packed, sent, and arrived short."""
    with Ledger.open(desk.folder, TODAY) as ledger:
        ledger.pack(FIRST)
        ledger.send(FIRST)
        ledger.arrive(
            FIRST, [LineReport(order="D02", line=1, alive=12), LineReport(order="D02", line=2, alive=18)]
        )
    return desk


def token(desk: Desk) -> dict[str, str]:
    return {"token": desk.worktop.access.token}


def bodies(desk: Desk) -> list[str]:
    with Ledger.open(desk.folder, TODAY) as ledger:
        return [entry.kind for entry in ledger.entries()]


def test_any_entry_goes_back_that_nothing_rests_on_and_no_other(arrived: Desk) -> None:
    page = arrived.get("/history").text
    assert 'action="/history/4/undo"' in page
    assert 'action="/history/2/undo"' not in page
    arrived.post("/history/2/undo", token(arrived), card=False)
    assert bodies(arrived)[-1] == "arrived"
    arrived.post("/history/4/undo", token(arrived), card=False)
    assert bodies(arrived)[-1] == "undone"


def test_a_claim_is_settled_as_the_command_would(arrived: Desk) -> None:
    text = arrived.text("/claims")
    assert "Jordanella floridae ▲ 8 short ordered 20 packed 23 arrived alive 12 short 8" in text
    assert "Free to send again: " in text
    lots = arrived.folder / "lots.csv"
    rows = lots.read_text("utf-8")
    kept_back = rows.splitlines()[0].split(",").index("keep_back")
    row = next(row for row in rows.splitlines() if row.startswith("FL-31,")).split(",")
    cells = [*row[:kept_back], "60", *row[kept_back + 1 :]]
    lots.write_text(rows.replace(",".join(row), ",".join(cells)), "utf-8")
    why = "No egg of this fish is free now. Lot FL-31: 57 kept back."
    assert why in Desk(arrived.folder, arrived.worktop.today).text("/claims")
    young = ",".join(row).replace("2026-11-25,2026-11-26", "2026-11-29,2026-11-29").replace("eyed", "laid")
    lots.write_text(rows.replace(",".join(row), young), "utf-8")
    why = "No egg of this fish is free now. Lot FL-31: none may go before a look."
    assert why in Desk(arrived.folder, arrived.worktop.today).text("/claims")
    lots.write_text(rows, "utf-8")
    answer = arrived.post(f"/claims/{FIRST}/D02/1", token(arrived), card=False, how="send again", eggs="20")
    assert "Parcel 01: " in arrived.text(answer.headers["Location"])
    assert bodies(arrived)[-2:] == ["claim opened", "claim settled"]
    with Ledger.open(arrived.folder, TODAY) as ledger:
        assert [one.eggs for one in ledger.owed()] == [20]


@pytest.mark.parametrize(
    ("language", "named"),
    [("en", "sent again"), ("de", "noch einmal"), ("fr", "renvoyée"), ("es", "reenviado")],
)
def test_an_order_that_sends_eggs_again_is_named_in_words(arrived: Desk, language: str, named: str) -> None:
    settings = arrived.folder / "shelf.toml"
    written = settings.read_text(encoding="utf-8")
    settings.write_text(
        written.replace('languages = ["en"]', f'languages = ["{language}"]'), encoding="utf-8"
    )
    arrived.post(f"/claims/{FIRST}/D02/1", token(arrived), card=False, how="send again", eggs="20")
    for path in ("/tables/orders", "/plan"):
        page = arrived.text(path)
        assert f"D02 {named}" in page, path
        assert "D02-1-again" not in page, path
    plan = arrived.worktop.planner.wait("2026-W49").plan
    of_owed = next(parcel for parcel in plan.parcels if "D02-1-again" in parcel.orders)
    shelf = arrived.worktop.shelf_state.tables().shelf
    wording = Wording(None, language)
    assert f"D02 {named}" in slip(of_owed, PaperInputs(plan, shelf, {"en": wording}, {})).below
    assert orders_in_words("(D02-2-again/1)", wording) == f"(D02/2 {named})"
    assert "-again" not in arrived.text("/claims")


def test_a_claim_that_the_report_does_not_bear_out_is_not_said_to_be_short(arrived: Desk) -> None:
    arrived.post(f"/claims/{FIRST}/D02/2", token(arrived), card=False, about="short")
    page = arrived.text("/claims")
    assert "Paraphanius mento, Kırkgöz enough came alive ordered 15" in page
    assert "▲ 0 short" not in page


def test_money_given_back_is_named_on_its_case(arrived: Desk) -> None:
    refused = arrived.post(f"/claims/{FIRST}/D02/1", token(arrived), card=False, how="send again", eggs="x")
    assert "a count is no count of eggs" in arrived.text(refused.headers["Location"])
    assert "Money given back, EUR (14.00 for the line)" in arrived.text("/claims")
    arrived.post(f"/claims/{FIRST}/D02/1", token(arrived), card=False, how="refund", amount="3,50")
    assert "Money given back: 3.50 EUR." in arrived.text("/claims")


def test_a_parcel_let_go_frees_its_eggs(desk: Desk) -> None:
    with Ledger.open(desk.folder, TODAY) as ledger:
        before = sum(ledger.held_by_lot().values())
        eggs = sum(count.eggs for count in ledger.parcel(FIRST).planned_counts())
    desk.post(f"/parcels/{FIRST}/drop", token(desk), card=False)
    with Ledger.open(desk.folder, TODAY) as ledger:
        assert before - sum(ledger.held_by_lot().values()) == eggs


def test_a_copy_opens_as_a_ledger(arrived: Desk, tmp_path: Path) -> None:
    answer = arrived.get("/copy/ledger.sqlite")
    (tmp_path / "copy.sqlite").write_bytes(answer.data)
    with sqlite3.connect(tmp_path / "copy.sqlite") as copy:
        assert copy.execute("select count(*) from entry").fetchone() == (4,)


def test_a_buyer_is_erased_from_the_ledger_and_the_counts_stay(arrived: Desk) -> None:
    answer = arrived.post("/erase", token(arrived), card=False, buyer="Søren Eksempel")
    told = arrived.text(answer.headers["Location"])
    assert "Erased. Of the ledger: " in told
    assert "Your own tables still hold the name, and are yours to change: orders.csv." in told
    assert b"Eksempel" not in (arrived.folder / "ledger.sqlite").read_bytes()
    assert arrived.parcel().packed_of(("D02", 1)) == 23
    nobody = arrived.post("/erase", token(arrived), card=False, buyer="Nobody At All")
    assert (nobody.status_code, "Not erased" in nobody.text) == (422, True)
    assert 'value="Nobody At All"' in nobody.text


def with_older_file(desk: Desk) -> Desk:
    """The page opened anew after a parcel was packed and the ledger from before it was laid in its place."""
    names = ("ledger.sqlite", "ledger.sqlite.checksum")
    old = {desk.folder / name: (desk.folder / name).read_bytes() for name in names}
    desk.pack()
    desk.worktop.shelf_state.close()
    for path, content in old.items():
        path.write_bytes(content)
    again = Desk(desk.folder)
    for page in ("/lots", "/packing", "/arrivals"):  # what stands there may be packed or gone already
        refused = again.get(page)
        assert (page, refused.status_code, "spawnpost copy" in plain(refused.text)) == (page, 503, False)
        assert 'action="/copy/back"' in refused.text
    return again


def test_a_ledger_that_is_behind_is_said_to_be_right_by_a_button(desk: Desk) -> None:
    desk = with_older_file(desk)
    answer = desk.client.post("/copy/right", base_url=HOME, data=token(desk))
    assert "record that again" in desk.text(answer.headers["Location"])
    assert desk.parcel().state == "planned"


def test_a_ledger_that_is_behind_goes_on_from_the_newest_copy_by_a_button(desk: Desk) -> None:
    desk = with_older_file(desk)
    answer = desk.client.post("/copy/back", base_url=HOME, data=token(desk))
    assert "The file before it lies in ledger-copies/" in desk.text(answer.headers["Location"])
    assert desk.get("/lots").status_code == 200


def test_eggs_bought_in_become_a_lot(desk: Desk) -> None:
    fields = {
        "lot": "BO-01",
        "species": "gardneri",
        "population": "Akure",
        "sent": "30",
        "alive": "27",
        "arrived_on": "Mon 30 Nov 2026",
        "laid_from": "Fri 20 Nov 2026",
        "medium": "moss",
        "kept_at_c": "22",
    }
    wrong = desk.post("/buy", token(desk), card=False, **{**fields, "alive": "many"})
    assert (wrong.status_code, 'value="BO-01"' in wrong.text) == (422, True)
    answer = desk.post("/buy", token(desk), card=False, **fields)
    assert answer.status_code == 303, plain(answer.text)
    assert desk.worktop.shelf_state.tables().shelf.lot_by_name["BO-01"].eggs == 27


def test_the_offer_names_no_buyer_and_can_be_published(desk: Desk) -> None:
    page = desk.get("/offer.html")
    assert "attachment" in page.headers["Content-Disposition"]
    for name in {order.address.addressee for order in desk.worktop.shelf_state.tables().shelf.orders}:
        assert name not in page.text
    assert "<script" not in page.text
    assert "order by" in page.text


def test_what_was_taught_is_told_as_people_say_it(arrived: Desk) -> None:
    page = arrived.text("/taught")
    assert "How promises held all lines Promised Held Lines told of" in page
    assert "bars from 0 to 100" not in page
    assert [str(rate_shown("usual_d", "d", days)) for days in (0.968, 2.44, 0.2)] == ["1", "2 to 3", "1"]


def test_what_was_taught_is_kept_only_when_asked(arrived: Desk) -> None:
    later = Desk(arrived.folder, date(2026, 12, 1))
    assert "Lines told of: 2." in later.text("/taught")
    assert not (later.folder / "learned.csv").exists()
    assert "What plans reckon with" not in later.text("/taught")
    later.post("/taught/keep", token(later), card=False)
    assert "What plans reckon with" in later.text("/taught")
    later.post("/taught/back", token(later), card=False)
    assert "What plans reckon with" not in later.text("/taught")
    assert "# taken back: what" in (later.folder / "learned.csv").read_text(encoding="utf-8")


def test_an_offer_that_is_stopped_says_so_until_it_is_made_to_its_end(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A hand that stops it while the second population is asked about finds the first one offered."""
    told = Going.tell

    def stopped_at_the_second(going: Going, done: float, every: float) -> None:
        told(going, done, every)
        if done == 1:
            going.asked_to_stop.set()

    monkeypatch.setattr(Going, "tell", stopped_at_the_second)
    first = desk.text("/offer")
    assert "You stopped it" in first
    monkeypatch.setattr(Going, "tell", told)
    desk.post("/offer/again", token(desk), card=False)
    whole = desk.text("/offer")
    assert "You stopped it" not in whole
    assert len(first) < len(whole) / 2


@pytest.mark.slow
def test_an_offer_beside_kept_parcels_is_the_commands_and_takes_no_egg_twice(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """80 eggs of FL-31 less the 23 that a parcel holds are 57 for this day's orders, on the page too."""
    where = ["--shelf", str(desk.folder), "--today", TODAY.isoformat()]
    monkeypatch.setattr("sys.argv", ["spawnpost", *where, "offer", "--text"])
    with pytest.raises(SystemExit):
        main()
    shown = re.search(r"<textarea[^>]*>(.*?)</textarea>", desk.get("/offer").text, re.DOTALL)
    assert shown
    assert html.unescape(shown[1]).strip() == capsys.readouterr().out.strip()


def test_how_far_an_offer_is_is_shown_and_it_may_be_stopped(
    shelf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = Desk(shelf, aside=True)
    monkeypatch.setattr("shipping.worktop.background._AWHILE_S", 0.0)
    page = desk.get("/offer").text
    assert 'action="/offer/stop"' in page
    assert "First the week is planned" in plain(page)
    desk.post("/offer/stop", token(desk), card=False)
    monkeypatch.setattr("shipping.worktop.background._AWHILE_S", 60.0)
    answer = desk.get("/offer")
    assert answer.status_code == 200, plain(answer.text)


def test_the_history_of_an_arrival_names_order_and_line_in_words(desk: Desk) -> None:
    desk.pack()
    desk.post(f"/packing/{FIRST}/send")
    desk.post(f"/arrivals/{FIRST}", on=TODAY.isoformat(), a0="21")
    assert "Eksempel: arrived arrived on Mon 30 Nov: D02, line 1: 21 alive" in desk.text("/history")


@pytest.mark.parametrize("how", ["lost", "returned"])
def test_the_history_heads_a_parcel_that_never_came_as_that(desk: Desk, how: str) -> None:
    desk.pack()
    desk.post(f"/packing/{FIRST}/send")
    desk.post(f"/arrivals/{FIRST}/end", on=TODAY.isoformat(), how=how)
    assert f"Parcel 01 of week 49 to Søren Eksempel: {how} {how} on Mon 30 Nov" in desk.text("/history")


def test_the_offer_says_which_country_is_left_out_for_its_rules_differ_by_region(desk: Desk) -> None:
    rules = desk.folder / "rules.csv"
    rules.write_text(rules.read_text("utf-8") + "DK-84,*,,closed,,a law,2026-11-01,,,\n", encoding="utf-8")
    assert "Of Denmark nothing is said here: its rules differ by region." in desk.text("/offer")
