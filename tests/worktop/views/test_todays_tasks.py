"""The round: what this day needs, each thing with the control that does it; empty means done, and says so."""

from __future__ import annotations

import csv
import re
import shutil
from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from shipping.eggs.lot_forecast import lot_forecast
from shipping.ledger.entries import LineReport
from shipping.ledger.ledger import Ledger
from shipping.words.units import shipped_folder
from shipping.worktop.page_language import day_words
from shipping.worktop.todays_tasks import Step, Task, _looks
from shipping.worktop.views import lots
from tests.post.a_shelf import a_species
from tests.week.a_week import a_lot, a_week, ago
from tests.worktop.conftest import TODAY, Desk, plain


def test_the_day_begins_with_looks_and_parcels_and_then_come_answers(desk: Desk) -> None:
    page = desk.get("/").text
    places = [page.index(f'id="s-{key}"') for key in ("looks", "pack", "answers", "beyond", "unsold")]
    assert places == sorted(places)
    text = plain(page)
    assert "6 parcels to pack today Pack them Hand over until 14:30 (courier next day), 15:00" in text
    assert "Do this next Look at lot CY-09, Rivulus cylindraceus" in text
    assert "Switzerland: " in text


def test_before_a_plan_is_kept_the_day_s_first_hour_comes_before_a_lot_to_look_at(tmp_path: Path) -> None:
    shelf = tmp_path / "not-kept"
    shutil.copytree(shipped_folder("demo_orders"), shelf)
    page = Desk(shelf).text("/")
    assert "Do this next Plan the week Which parcels go, and when" in page
    assert page.index("The first service closes at 14:30 today") < page.index("Look at lot CY-09")
    saturday = Desk(shelf, date(2026, 12, 5)).text("/")
    assert saturday.index("Look at lot CY-09") < saturday.index("Plan the week")


def test_before_a_plan_is_kept_it_is_asked_how_warm_parcels_stay(tmp_path: Path) -> None:
    """What is assumed of Finland is colder than its order bears; of all others a row of the table tells."""
    shelf = tmp_path / "not-kept"
    shutil.copytree(shipped_folder("demo_orders"), shelf)
    desk = Desk(shelf)
    assert "Finland: how warm is it around parcels on the way?" in desk.text("/")
    assert "Germany: how warm is it around parcels on the way?" not in desk.text("/")
    assert "down to 3.5 °C (assumed), 8.8 °C inside the box, the eggs need at least 15 °C;" in desk.text("/")
    assert "Australia: how warm" not in desk.text("/"), "Australia is closed to them anyway"
    assert desk.text("/").index("Switzerland: Esmaeilius") < desk.text("/").index("Finland: how warm")
    assert "/tables/weather/new?to=FI&amp;month=12" in desk.get("/").text, "as the plan says it, of its days"
    with (shelf / "weather.csv").open("a", encoding="utf-8") as table:
        table.write("FI,11,16,20,a logger\n")
    assert "Finland: how warm is it around parcels on the way?" not in desk.text("/")


def steps_told(desk: Desk) -> dict[str, str]:
    """What the round tells of its steps that keeping a plan alone must not change, buttons aside."""
    page = desk.get("/").text
    found = {
        key: plain(text)
        for key, text in re.findall(r'(?s)id="s-(looks|paid|answers|beyond|unsold)"(.*?)</section>', page)
    }
    said = {
        key: re.sub(r" Besides, the plan not kept yet takes \d+\.", "", text) for key, text in found.items()
    }
    said = {key: re.sub("I saw eyes|Write what you see", "", text) for key, text in said.items()}
    return {
        key: re.sub(r"A parcel planned for|Parcel \d+ of", "A parcel of", text) for key, text in said.items()
    }


def test_the_round_tells_the_same_before_the_week_is_opened_and_once_its_plan_is_kept(tmp_path: Path) -> None:
    """Before, it asked for money that would be asked for in vain, and for no look that a parcel waits for."""
    shelf = tmp_path / "not-kept"
    shutil.copytree(shipped_folder("demo_orders"), shelf)
    desk = Desk(shelf)
    first = steps_told(desk)
    assert "Lot GA-13" in first["looks"]
    assert "D22" in first["beyond"]
    assert "paid" not in first
    text = desk.text("/")
    assert (
        "Lot FL-31, Jordanella floridae Eggs free: 57; half will have hatched by Fri 4 Dec. Besides, the"
        in text
    )
    desk.get("/week")
    assert steps_told(desk) == first
    digest = re.search(r'name="digest" value="(\w+)"', desk.get("/plan").text)
    assert digest
    desk.post("/plan/keep", {"token": desk.worktop.access.token}, week="2026-W49", digest=digest[1])
    assert steps_told(desk) == first
    assert "Besides, the plan not kept yet" not in desk.text("/")


def test_what_rests_on_a_plan_still_being_reckoned_is_not_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = tmp_path / "not-kept"
    shutil.copytree(shipped_folder("demo_orders"), shelf)
    desk = Desk(shelf)
    monkeypatch.setattr(desk.worktop.planner, "ask_awhile", lambda week: None)
    page = desk.get("/").text
    assert "data-again>What each order needs is being reckoned." in page
    assert "Plan the week" in page
    assert 'id="s-answers"' in page
    assert not re.search('id="s-(looks|paid|beyond|unsold)"', page)


def test_eggs_past_their_day_that_were_seen_today_are_not_looked_at_again_before_tomorrow(desk: Desk) -> None:
    """Written down as still whole, the lot stood first among what cannot wait all day."""
    assert "Look at lot CY-09" in desk.text("/")
    desk.post("/lots/CY-09/look", alive="30", on="2026-11-30")
    assert "Look at lot CY-09" not in desk.text("/")
    card = desk.text("/lots?find=CY-09")
    assert "▲ hatches any day" in card
    assert "eggs here: none may go." in card
    tomorrow = Desk(desk.folder, TODAY + timedelta(days=1))
    assert "Look at lot CY-09" in tomorrow.text("/")
    assert "▲ look today" in tomorrow.text("/lots?find=CY-09")


@pytest.mark.parametrize(
    ("late_d", "seen_ago", "is_told"), [(7, 7, True), (8, 7, False), (-30, 7, True), (-30, 6, False)]
)
def test_a_damp_lot_due_to_be_wetted_is_told_until_somebody_looks(
    late_d: int, seen_ago: int, is_told: bool
) -> None:
    """Half of a lot was due for weeks, and no day's tasks named it."""
    species = {"gar": a_species(incubation="damp")}
    counted, until = ago(seen_ago), TODAY + timedelta(days=late_d)
    lot = a_lot(medium="peat", counted_on=counted, stage_on=counted, wet_from=ago(90), wet_until=until)
    shelf = a_week(lots=(lot,), species=species)
    told = [task.why for task in _looks(shelf, ())]
    keeps = max(until, counted) + timedelta(days=60)
    assert (
        told
        == [
            f"To be wetted by {day_words(until)}, {day_words(keeps)} at the latest."
            " Wet it, or look and write what you see."
        ]
        * is_told
    )


def test_packed_parcels_are_to_send_and_sent_ones_are_due_a_report_in_time(desk: Desk) -> None:
    with Ledger.open(desk.folder, TODAY) as ledger:
        ledger.pack("2026-W49-01")
        ledger.pack("2026-W49-02")
        ledger.send("2026-W49-02")
    assert "4 parcels to pack today" in desk.text("/")
    assert "1 parcel to send today" in desk.text("/")
    later = Desk(desk.folder, date(2026, 12, 20))
    text = later.text("/")
    assert "1 report due" in text
    assert "Packed, and due on Mon 30 Nov. Do not send it as it is." in text


def test_a_lot_that_lacks_eggs_held_for_parcels_cannot_wait(desk: Desk) -> None:
    lots = desk.folder / "lots.csv"
    assert "are lacking" not in desk.text("/")
    lots.write_text(
        lots.read_text(encoding="utf-8").replace("21,70,2026-11-30,", "21,3,2026-11-30,"), "utf-8"
    )
    page = Desk(desk.folder).get("/").text
    assert "Lot ME-05 has 3 eggs left, and 18 are held for 2026-W49-01: 15 are lacking." in plain(page)
    assert 'href="/plan?week=2026-W49"' in page


def test_a_line_without_report_is_asked_for_though_its_parcel_came(desk: Desk) -> None:
    with Ledger.open(desk.folder, TODAY) as ledger:
        ledger.pack("2026-W49-01")
        ledger.send("2026-W49-01")
        ledger.arrive("2026-W49-01", (LineReport(order="D02", line=1, alive=20),))
    later = Desk(desk.folder, date(2026, 12, 20))
    assert "It came; of D02:2 nothing was told." in later.text("/")


def test_a_day_with_nothing_left_says_so(desk: Desk) -> None:
    for table in ("orders", "lots", "inspections"):
        path = desk.folder / f"{table}.csv"
        path.write_text(path.read_text(encoding="utf-8").splitlines()[0] + "\n", encoding="utf-8")
    assert "This shelf is new" in Desk(desk.folder).text("/")


def test_an_order_that_came_or_was_let_go_after_the_plan_was_kept_is_to_be_planned_again(desk: Desk) -> None:
    assert "since the plan" not in desk.text("/")
    marks = {"token": desk.worktop.access.token}
    desk.post("/parcels/2026-W49-01/drop", marks, card=False)
    assert "1 order since the plan D02: Søren Eksempel In no parcel of the plan kept" in desk.text("/")
    fish = {"species": "gardneri", "population": "Akure", "eggs": "5"}
    buyer = {"addressee": "Ada Example", "delivery_1": "Vej 1", "town": "Odense", "country": "DK"}
    days = {"placed_on": "2026-11-29", "paid_on": "2026-11-29"}
    answer = desk.post("/tables/orders/new", marks, card=False, order="D90", **fish, **buyer, **days)
    assert answer.status_code == 303, plain(answer.text)
    assert "2 orders since the plan" in desk.text("/")


def test_a_paid_order_whose_question_is_answered_is_to_be_planned_again_before_others_are_asked(
    desk: Desk,
) -> None:
    assert "since the plan" not in desk.text("/")
    rules = desk.folder / "rules.csv"
    rules.write_text(rules.read_text(encoding="utf-8").replace("2026-04-20", "2026-11-20"), "utf-8")
    page = Desk(desk.folder).text("/")
    assert 0 < page.index("1 order since the plan D14:") < page.index("answers to ask for")


def test_no_money_is_asked_for_what_it_alone_would_not_let_go(desk: Desk) -> None:
    """D22 is too cold besides, and the letter to its buyer says not to pay; D37 waits for money alone."""
    orders = desk.folder / "orders.csv"
    row = next(line for line in orders.read_text(encoding="utf-8").splitlines() if line.startswith("D02,"))
    with orders.open("a", encoding="utf-8") as table:
        table.write(f"{row.replace('D02,2026-11-24,2026-11-24,', 'D37,2026-11-24,,', 1)}\n")
    page = desk.get("/").text
    assert 'action="/orders/D37/paid"' in page
    assert 'action="/orders/D22/paid"' not in page
    assert (
        "1 order that payment alone would not let go D22: Lieve Voorbeeld Ask for no money yet: alone"
        " it would not let the eggs go. Too cold on the way: down to 6 °C, 11.5 °C inside the box, the eggs"
        " need at least 12 °C;"
    ) in plain(page)
    assert 'href="/tables/boxes">Open the boxes' in page


def test_paid_orders_that_do_not_go_stand_in_one_place_with_what_can_be_done(desk: Desk) -> None:
    """Those that no answer lets go were on no list; one that goes later by itself is not among them."""
    stuck = plain(desk.get("/").text.partition('id="s-stuck"')[2].partition("</section>")[0])
    assert "16 paid orders that do not go You have their money." in stuck
    assert "D03: Uwe Beispielmann 7.7 % of lot FL-31 would hatch on the way" in stuck
    assert stuck.index("D21: ") < stuck.index("D12: "), "first what nothing is asked for"
    assert not [order for order in ("D06", "D11", "D22") if f"{order}: " in stuck]


def test_a_region_that_rules_ask_for_is_asked_by_name_with_the_list_of_its_country(desk: Desk) -> None:
    path = desk.folder / "orders.csv"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(",GB-ENG,", ",,"), encoding="utf-8")
    page = desk.get("/").text
    assert 'href="/orders/D25/region"' in page
    form = desk.get("/orders/D25/region").text
    assert "others hold in England. Until the region is known, nothing goes." in plain(form)
    assert [option in form for option in ("Scotland (SCT)", "England (ENG)", "Wales (WLS)")] == [True] * 3
    marks = {"token": desk.worktop.access.token}
    wrong = desk.post("/orders/D25/region", marks, region="BY")
    assert wrong.status_code == 422
    assert "choose the region from the list" in plain(wrong.text)
    done = desk.post("/orders/D25/region", marks, region="SCT", after="/")
    assert done.status_code == 303
    assert "YO99 9ZZ,York,GB-SCT,GB" in path.read_text(encoding="utf-8")
    assert "/orders/D25/region" not in desk.get("/").text


def test_a_region_named_in_a_table_without_that_column_gives_it_one_after_a_copy(desk: Desk) -> None:
    path = desk.folder / "orders.csv"
    with path.open(encoding="utf-8", newline="") as file:
        header, *rows = csv.reader(file)
    at = header.index("region")
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(row[:at] + row[at + 1 :] for row in (header, *rows))
    before = path.read_bytes()
    answer = desk.post("/orders/D25/region", {"token": desk.worktop.access.token}, region="SCT", after="/")
    assert answer.status_code == 303, plain(answer.text)
    with path.open(encoding="utf-8", newline="") as file:
        regions = {row["order"]: row["region"] for row in csv.DictReader(file)}
    assert {order for order, region in regions.items() if region} == {"D25"}
    assert regions["D25"] == "GB-SCT"
    assert before in [copy.read_bytes() for copy in desk.folder.glob("*/orders-*.csv")]


def test_while_the_round_is_looked_at_the_lots_are_reckoned(
    shelf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = Desk(shelf, aside=True)
    desk.get("/")
    desk.worktop.ready.settle()
    monkeypatch.delattr(lots, "_card")
    assert "the most urgent first" in desk.text("/lots")
    looks = desk.folder / "inspections.csv"
    looks.write_text(looks.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    with pytest.raises(AssertionError, match="our own mistake"):
        desk.text("/lots")


def test_a_warmth_that_holds_an_order_is_asked_for_by_place_and_month(desk: Desk) -> None:
    page = desk.get("/").text
    assert "Finland: how warm is it around parcels on the way?" in plain(page)
    assert "Order D12 waits for this." in plain(page)
    paid = plain(page).partition("paid orders that do not go")[2]
    assert "How warm it is on the way is asked above." in paid
    assert "8.8 °C inside" not in paid, "what is said of Finland is not said again of its order"
    assert 'href="/tables/weather/new?to=FI&amp;month=12"' in page
    orders = desk.get("/tables/orders").text
    assert 'href="/tables/weather/new?to=FI&amp;month=12"' in orders
    assert "15 Pachypanchax playfairii (Mahe) – Finland" in plain(orders)


def waiting_for_eyes(name: str, day: date, *lots: str) -> SimpleNamespace:
    """A kept parcel that counts on eyes of these lots which nobody has seen."""
    draws = tuple(SimpleNamespace(lot=lot, look_first=True) for lot in lots)
    parcel = SimpleNamespace(is_planned=True, dispatch_on=day, lines=(SimpleNamespace(draws=draws),))
    return SimpleNamespace(parcel=parcel, name=name, number=name[-2:])


def test_a_lot_is_looked_at_for_the_first_parcel_that_waits_for_it_and_not_while_it_is_in_doubt() -> None:
    unseen = {"stage": None, "stage_on": None}
    doubtful = a_lot("G2", laid_from=ago(60), laid_to=ago(60), **unseen)
    shelf = a_week(lots=(a_lot("G1", **unseen), doubtful))
    assert lot_forecast(shelf, "G2").doubts(TODAY)
    tomorrow = TODAY + timedelta(days=1)
    kept = [
        waiting_for_eyes("2026-W49-01", TODAY, "G1", "G2"),
        waiting_for_eyes("2026-W49-02", tomorrow, "G1"),
    ]
    (task,) = _looks(shelf, kept)
    assert "G1" in task.about
    assert task.post_to == "/packing/2026-W49-01/eyes"
    assert task.cells == (("lot", "G1"),)
    assert "Parcel 01 of Mon 30 Nov" in task.why
    draws = [{"lot": "G1", "look_first": True}]
    planned = {"parcel": "2026-W49-01", "dispatch_on": str(tomorrow), "lines": [{"draws": draws}]}
    (proposed,) = _looks(shelf, (), (planned,))
    assert proposed.why == ("Do its eggs show eyes? A parcel planned for Tue 1 Dec goes only if they do."), (
        "a plan not kept has no parcel of that number yet"
    )


def test_what_is_the_same_for_several_lots_is_said_once() -> None:
    """A week later nine lots stood below each other, each with the same sentences."""
    sames = (("A", "Hatched."), ("B", "Late."), ("C", "Hatched."))
    lots = [Task(lot, f"Why {lot}.", "Look", "", same=same) for lot, same in sames]
    step = Step("now", tuple(lots))
    told = [(once, [(one.about, one.told) for one in tasks]) for once, tasks in step.alike(lots)]
    assert told == [("Hatched.", [("A", "Why A."), ("C", "Why C.")]), ("", [("B", "Why B. Late.")])]
    assert [once for once, _ in step.alike(lots, "Hatched.")] == [""], "it was said above"


def test_a_week_after_the_round_says_what_to_do_with_hatched_lots_once(desk: Desk) -> None:
    with Ledger.open(desk.folder, TODAY) as ledger:
        for parcel in ledger.parcels():
            ledger.drop(parcel.parcel)
    page = Desk(desk.folder, TODAY + timedelta(days=8)).text("/")
    assert page.count("eggs should have hatched since") > 1
    assert page.count("Look, feed the fry and count what is left.") == 1
