"""Tables on the page: a row added, changed or taken back stands in the breeder's file, all else as before."""

from __future__ import annotations

import html
import re

import pytest

from shipping.tables.reader import read_shelf
from shipping.tables.shelf import TABLE_BY_NAME
from shipping.worktop.order_text import next_order, read_mail
from shipping.worktop.table_words import label_of
from shipping.worktop.views.orders import states_of_orders
from tests.cli.conftest import edit
from tests.worktop.conftest import FIRST, HOME, TODAY, Desk, plain

NEW = {
    "order": "D90",
    "placed_on": "2026-11-29",
    "addressee": "Ada Example",
    "delivery_1": "Havnegade 1",
    "postcode": "8000",
    "town": "Aarhus C",
    "country": "DK",
    "species": "gardneri",
    "population": "Akure",
    "eggs": "20",
    "paid_on": "2026-11-29",
}


def rows(desk: Desk, table: str = "orders") -> list[str]:
    return (desk.folder / f"{table}.csv").read_text(encoding="utf-8-sig").splitlines()


def token(desk: Desk) -> dict[str, str]:
    return {"token": desk.worktop.access.token}


def row_of(desk: Desk, table: str, begins: str) -> tuple[int, dict[str, str]]:
    """The number of a row, and the hidden cells its form carries."""
    number = next(n for n, text in enumerate(rows(desk, table), 1) if text.startswith(begins))
    return row_of_number(desk, table, number)


def row_of_number(desk: Desk, table: str, number: int) -> tuple[int, dict[str, str]]:
    page = desk.get(f"/tables/{table}/{number}").text
    return number, dict(re.findall(r'name="(was-[^"]+)" value="([^"]*)"', page))


def test_an_order_written_on_the_page_is_one_row_more_and_in_the_shelf(desk: Desk) -> None:
    before = rows(desk)
    answer = desk.post("/tables/orders/new", token(desk), card=False, **NEW)
    assert answer.status_code == 303, plain(answer.text)
    assert rows(desk)[:-1] == before
    shelf = read_shelf(desk.folder, TODAY).shelf
    assert shelf is not None
    assert shelf.order_by_name["D90"].lines[0].eggs == 20
    told = desk.text(answer.headers["Location"].partition("#")[0])
    assert "Written: order D90, Ada Example, 20 gardneri. To change it or take it back, open it" in told
    assert "under Orders. orders.csv, row" in told


def test_a_form_that_is_sent_twice_writes_its_row_once(desk: Desk) -> None:
    before = rows(desk)
    for _ in range(2):
        answer = desk.post("/tables/orders/new", token(desk), card=False, **NEW)
    assert rows(desk)[:-1] == before
    assert "nothing was recorded twice" in desk.text(answer.headers["Location"].partition("#")[0])


def test_an_order_line_is_cancelled_once_by_two_thumbs(desk: Desk) -> None:
    number, was = row_of(desk, "orders", "D34,")
    for _ in range(2):
        desk.post(f"/tables/orders/{number}/back", token(desk) | was, card=False)
    assert rows(desk)[number - 1].endswith(f",{TODAY}")


@pytest.mark.parametrize(
    ("name", "town", "said"),
    [
        ("محمد الماء", "Aarhus C", "No font here prints what stands in Buyer's name: write it in Latin"),
        ("林河", "上海", "No font here prints what stands in Buyer's name, Town: write it in Latin"),
        ("Δάσος Ποτάμι", "Αθήνα", ""),
    ],
    ids=["Arabic", "Chinese", "Greek"],
)
def test_letters_that_no_font_prints_are_said_as_the_order_is_written(
    desk: Desk, name: str, town: str, said: str
) -> None:
    """They were heard of when the papers of the packing day were asked for."""
    answer = desk.post("/tables/orders/new", token(desk), False, **{**NEW, "addressee": name, "town": town})
    told = desk.text(answer.headers["Location"].partition("#")[0])
    assert f"Written: order D90, {name}, 20 gardneri." in told
    assert said in told
    assert ("No font here prints" in told) == bool(said)
    number, was = row_of(desk, "orders", "D90,")
    mended = {**was, **{cell.removeprefix("was-"): text for cell, text in was.items()}}
    mended |= {"addressee": "Ada Example", "town": "Aarhus C"}
    answer = desk.post(f"/tables/orders/{number}", token(desk), False, **mended)
    assert "No font here prints" not in desk.text(answer.headers["Location"].partition("#")[0])


def test_what_warns_is_said_before_where_it_was_written(desk: Desk) -> None:
    """A phone showed the row and not that the order is held as unpaid."""
    new = {**NEW, "placed_on": "2026-11-20", "paid_on": "2026-11-10"}
    answer = desk.post("/tables/orders/new", token(desk), False, **new)
    told = desk.text(answer.headers["Location"].partition("#")[0])
    assert "Written, but look: " in told
    assert told.index("held as unpaid") < told.index("Written: order D90, ")


def test_an_address_that_no_font_prints_is_told_when_it_is_written_and_on_the_orders_card(desk: Desk) -> None:
    """It would stop a whole day's papers: told at once, by the field's name, and until it is mended."""
    street = {**NEW, "delivery_1": "人民路 1"}
    answer = desk.post("/tables/orders/new", token(desk), card=False, **street)
    assert answer.status_code == 303
    told = desk.text(answer.headers["Location"].partition("#")[0])
    assert "No font here prints what stands in" in told
    assert "no font prints its letters" in desk.text("/tables/orders?find=D90")
    number, was = row_of(desk, "orders", "D90,")
    assert "Write the street in Latin letters" in desk.text(f"/tables/orders/{number}")
    mended = desk.post(f"/tables/orders/{number}", token(desk), card=False, **{**was, **NEW})
    assert "No font here prints" not in desk.text(mended.headers["Location"].partition("#")[0])
    assert "no font prints its letters" not in desk.text("/tables/orders?find=D90")


def asked(desk: Desk) -> list[dict[str, str]]:
    """The answers that the page offers to questions of the tables."""
    forms = re.findall(r'action="/answer">(.*?)</form>', desk.get("/tables").text, re.DOTALL)
    return [dict(re.findall(r'name="(key|value)" value="([^"]*)"', form)) for form in forms]


def test_a_cell_that_is_asked_about_is_confirmed_by_a_button(desk: Desk) -> None:
    """What the terminal asks to be written into the settings, the page writes: a copy of them first."""
    assert asked(desk) == []
    answer = desk.post("/tables/orders/new", token(desk), card=False, **{**NEW, "paid_on": "2025-11-29"})
    told = desk.text(answer.headers["Location"].partition("#")[0])
    assert "if it is right, confirm it under More" in told
    assert "meant = [" not in told
    (answered,) = asked(desk)
    assert answered["key"] == "meant"
    desk.post("/answer", token(desk), card=False, key="meant", value="orders D99 nothing")
    assert "meant" not in (desk.folder / "shelf.toml").read_text(encoding="utf-8")
    desk.post("/answer", token(desk), card=False, **answered)
    assert answered["value"] in (desk.folder / "shelf.toml").read_text(encoding="utf-8")
    assert asked(desk) == []


def test_a_row_that_the_checks_refuse_is_not_written_and_nothing_typed_is_lost(desk: Desk) -> None:
    before = rows(desk)
    answer = desk.post(
        "/tables/orders/new", token(desk), card=False, **{**NEW, "eggs": "2.5", "note": "by Friday"}
    )
    assert answer.status_code == 422
    assert "'2.5' is not a whole number" in plain(answer.text)
    assert 'value="Ada Example"' in answer.text
    assert "by Friday" in answer.text
    assert 'name="eggs" value="2.5"' in answer.text
    assert rows(desk) == before


def test_what_refuses_a_row_calls_columns_as_the_form_does(desk: Desk) -> None:
    cells = {"to": "DK", "month": "2", "low_c": "9", "high_c": "3", "source": "invented"}
    answer = desk.post("/tables/weather/new", token(desk), card=False, **cells)
    assert answer.status_code >= 400
    told = plain(answer.text)
    assert "Not written: look at what is marked: At its coldest, °C." in told
    assert "9 is above At its warmest, °C, 3." in told
    assert 'aria-invalid="true"' in answer.text
    warm = {**cells, "low_c": "29", "high_c": "31", "after": "/"}
    answer = desk.post("/tables/weather/new", token(desk), card=False, **warm)
    assert answer.headers["Location"].startswith("/?told=")
    told = desk.text(answer.headers["Location"].partition("#")[0])
    assert "At its coldest, °C: 29 is 25 degrees from" in told
    assert "low_c" not in told


def test_a_row_that_may_not_be_meant_is_written_and_asked_about(desk: Desk) -> None:
    answer = desk.post(
        "/tables/orders/new", token(desk), card=False, **{**NEW, "country": "AU", "language": "de"}
    )
    assert answer.status_code == 303
    assert "'de' is no language of Australia" in plain(desk.get(answer.headers["Location"]).text)


def test_a_refusal_calls_the_cells_as_their_form_does(desk: Desk) -> None:
    """A new row has no number yet, and its columns' names stand nowhere on the form."""
    lot = {"lot": "X-1", "species": "gardneri", "medium": "water", "kept_at_c": "warm", "eggs": "9"}
    days = {"laid_from": "16.11.", "laid_to": "2026-11-20", "counted_on": "2026-11-28"}
    answer = desk.post("/tables/lots/new", token(desk), card=False, **lot, **days)
    assert answer.status_code == 422
    trouble = plain(answer.text).partition("Not written: ")[2]
    assert trouble.startswith("look at what is marked: Laid from, Kept at, °C.")
    assert "lots.csv" not in trouble.partition("What is marked")[0]
    at_fields = [
        plain(told) for told in re.findall(r'aria-invalid="true"(.*?)</label>', answer.text, re.DOTALL)
    ]
    assert [told.partition("> ")[2] for told in at_fields] == [
        "'16.11.' has no year. Write the year too, as 16.11.2026.",
        "'warm' is not a number. Write degrees Celsius in digits, with a decimal point.",
    ]


@pytest.mark.parametrize("table", ["lots", "inspections", "rules", "disruptions"])
def test_a_new_row_says_no_day_that_nobody_has_typed(desk: Desk, table: str) -> None:
    """Eggs are not laid, nor a law looked up, on the day on which the form is opened."""
    page = desk.get(f"/tables/{table}/new").text
    days = re.findall(r'<input name="(\w+)" value="([^"]*)"[^>]* list="near-days"', page)
    assert days
    assert [name for name, value in days if value] == []
    assert 'name="placed_on" value="Mon 30 Nov 2026"' in desk.get("/tables/orders/new").text


def test_bought_eggs_are_in_water_only_where_that_is_said(desk: Desk) -> None:
    form = desk.get("/buy").text
    assert '<select name="medium" required><option value=""></option>' in form


def test_a_stage_has_one_name_on_every_form_and_a_lot_written_is_shown_as_a_card(desk: Desk) -> None:
    form, look, bought = (desk.get(path).text for path in ("/tables/lots/new", "/lots", "/buy"))
    for stage in ("fresh", "live, no eyes", "eyes show", "ready to hatch"):
        assert f">{stage}</option>" in form
        assert f"> {stage}</label>" in look
        assert f">{stage}</option>" in bought
    assert 'href="/lots" aria-current="true"' in form
    lot = {"lot": "X 1", "species": "gardneri", "medium": "water", "kept_at_c": "22", "eggs": "9"}
    days = {"laid_from": "2026-11-20", "laid_to": "2026-11-20", "counted_on": "2026-11-28", "stage": "eyed"}
    answer = desk.post("/tables/lots/new", token(desk), card=False, **lot, **days)
    assert answer.headers["Location"].startswith("/lots?at=X%201&")
    assert "X 1 Fundulopanchax gardneri" in desk.text(answer.headers["Location"].partition("#")[0])


def test_a_comma_in_a_number_is_read_as_the_point_that_a_telephone_lacks(desk: Desk) -> None:
    lot = {"lot": "X-1", "species": "gardneri", "medium": "water", "kept_at_c": "22,5", "eggs": "9"}
    days = {"laid_from": "2026-11-20", "laid_to": "2026-11-20", "counted_on": "2026-11-28"}
    answer = desk.post("/tables/lots/new", token(desk), card=False, **lot, **days)
    assert answer.status_code == 303, plain(answer.text)
    shelf = read_shelf(desk.folder, TODAY).shelf
    assert shelf is not None
    assert shelf.lot_by_name["X-1"].kept_at_c == 22.5
    asked = desk.post("/tables/lots/new", token(desk), card=False, **{**lot, "kept_at_c": "22,500"}, **days)
    assert asked.status_code == 422, "it may be a thousand"


def test_a_changed_row_changes_alone(desk: Desk) -> None:
    before = rows(desk)
    number, was = row_of(desk, "orders", "D02,")
    answer = desk.post(f"/tables/orders/{number}", token(desk) | was, card=False, eggs="21")
    assert answer.status_code == 303, plain(answer.text)
    after = rows(desk)
    assert [n for n, text in enumerate(after, 1) if text != before[n - 1]] == [number]
    shelf = read_shelf(desk.folder, TODAY).shelf
    assert shelf is not None
    assert shelf.order_by_name["D02"].lines[0].eggs == 21


def test_a_row_changed_meanwhile_is_not_written_over(desk: Desk) -> None:
    number, was = row_of(desk, "orders", "D02,")
    desk.post(f"/tables/orders/{number}", token(desk) | was, card=False, eggs="21")
    answer = desk.post(f"/tables/orders/{number}", token(desk) | was, card=False, eggs="30")
    assert answer.status_code == 422
    assert "no longer '20'" in plain(answer.text)


def test_what_another_window_changed_stays_where_this_one_changes_something_else(desk: Desk) -> None:
    """The old count that a second window still showed stood in the form, and the next tap wrote it."""
    number, was = row_of(desk, "orders", "D02,")
    form = {name.removeprefix("was-"): text for name, text in was.items()}
    form["any-population"] = "yes"
    desk.post(f"/tables/orders/{number}", token(desk) | was, card=False, **{**form, "eggs": "21"})
    answer = desk.post(
        f"/tables/orders/{number}", token(desk) | was, card=False, **{**form, "note": "at noon"}
    )
    assert answer.status_code == 303, plain(answer.text)
    _, now = row_of(desk, "orders", "D02,")
    assert (now["was-eggs"], now["was-note"]) == ("21", "at noon")
    refused = desk.post(
        f"/tables/orders/{number}", token(desk) | was, card=False, **{**form, "note": "at one"}
    ).text
    assert "Not written" in plain(refused)
    assert 'name="eggs" value="21"' in refused
    assert 'name="note" value="at one"' not in refused, "a text stands in a box"
    assert ">at one</textarea>" in refused


def test_a_changed_row_that_is_sent_twice_is_said_to_be_done(desk: Desk) -> None:
    number, was = row_of(desk, "orders", "D02,")
    desk.post(f"/tables/orders/{number}", token(desk) | was, card=False, eggs="21")
    once = rows(desk)
    answer = desk.post(f"/tables/orders/{number}", token(desk) | was, card=False, eggs="21")
    assert answer.status_code == 303, plain(answer.text)
    assert "nothing was recorded twice" in desk.text(answer.headers["Location"].partition("#")[0])
    assert rows(desk) == once


def test_a_row_taken_back_stays_as_a_comment_and_counts_for_nothing(desk: Desk) -> None:
    desk.post("/tables/inspections/new", token(desk), card=False, lot="FL-31", on="2026-11-30", removed="7")
    number = len(rows(desk, "inspections"))
    _, was = row_of(desk, "inspections", "FL-31,2026-11-30")
    answer = desk.post(f"/tables/inspections/{number}/back", token(desk) | was, card=False)
    assert answer.status_code == 303, plain(answer.text)
    assert rows(desk, "inspections")[number - 1] == "# taken back: lot FL-31 | on 2026-11-30 | removed 7"
    shelf = read_shelf(desk.folder, TODAY).shelf
    assert shelf is not None
    assert not [look for look in shelf.looks if look.removed == 7]


def test_an_order_is_paid_with_one_tap_on_every_line(desk: Desk) -> None:
    for said in ("Order D22 is paid.", "nothing was recorded twice"):  # a thumb may tap twice
        answer = desk.post("/orders/D22/paid", token(desk), card=False, after="/")
        assert answer.headers["Location"].startswith("/?told=")
        assert said in desk.text(answer.headers["Location"].partition("#")[0])
    shelf = read_shelf(desk.folder, TODAY).shelf
    assert shelf is not None
    assert all(line.paid for line in shelf.order_by_name["D22"].lines)
    assert "that payment alone would not let go" not in desk.text("/")


def pasted(desk: Desk, text: str) -> str:
    """The form of a mail; going back to it asks for nothing to be sent again."""
    answer = desk.post("/orders/paste", token(desk), card=False, text=text)
    assert answer.status_code == 303
    return desk.get(answer.headers["Location"]).text


def test_a_mail_that_is_no_more_at_hand_leads_to_a_blank_form(desk: Desk) -> None:
    assert desk.get("/orders/pasted/0123").headers["Location"].endswith("/tables/orders/new")


def test_what_a_buyer_wrote_fills_the_form_and_writes_nothing(desk: Desk) -> None:
    before = rows(desk)
    text = (
        "Hello,\nI would like 25 eggs of Fundulopanchax scheeli.\nAda Example\nHavnegade 1\n"
        "8000 Aarhus C\nDenmark\nada@example.org\n"
    )
    page = pasted(desk, text)
    for name, value in (
        ("addressee", "Ada Example"),
        ("delivery_1", "Havnegade 1"),
        ("postcode", "8000"),
        ("eggs", "25"),
        ("mail", "ada@example.org"),
    ):
        assert f'name="{name}" value="{value}"' in page, name
    assert '<option value="DK" selected>Denmark (DK)' in page
    assert "<details>" in page, "what may stay blank stays folded"
    assert rows(desk) == before


#: What buyers ask for: (text, each fish as species, population, eggs and what may go instead).
WISHES = (
    (
        "20 Eier gardneri Akure und 30 Aphyosemion australe",
        ["gardneri|Akure|20|", "australe||30|"],
    ),
    (
        "as many furzeri as you have, and 10 gardneri + australe",
        ["furzeri|||", "gardneri||10|", "australe|||"],
    ),
    ("gardneri 10 und australe 10", ["gardneri||10|", "australe||10|"]),
    ("je 10 Eier gardneri und australe", ["gardneri||10|", "australe||10|"]),
    ("gardneri and australe, 10 eggs each", ["gardneri||10|", "australe||10|"]),
    ("Fundulopanchax scheeli or Jordanella floridae, 10 eggs", ["scheeli||10|floridae"]),
    ("20 eggs of gardneri Akure and 15 of Esmaeilius sophiae", ["gardneri|Akure|20|", "sophiae||15|"]),
    ("gardneri: 20\naustrale: 30", ["gardneri||20|", "australe||30|"]),
    ("20 gardneri Jos Plateau, 10 gardneri Akure", ["gardneri|Jos Plateau|20|", "gardneri|Akure|10|"]),
    ("20 eggs of gardneri, Akure", ["gardneri|Akure|20|"]),
    ("Fundulopanchax gardneri (steel-blue killifish), avant le 12/12/26. 20 œufs", ["gardneri||20|"]),
    ("gardneri from Akure please\n20 eggs would be nice", ["gardneri|Akure|20|"]),
    ("gardneri BSWG 97-24, in 2 weeks", ["gardneri|||"]),
    ("two dozen gardneri Akure and a dozen australe", ["gardneri|Akure|24|", "australe||12|"]),
    ("zwei Dutzend Eier gardneri, ein halbes Dutzend australe", ["gardneri||24|", "australe||6|"]),
    ("une douzaine d'œufs de gardneri et 3 douzaines d’australe", ["gardneri||12|", "australe||36|"]),
    ("una docena de gardneri y media docena de australe", ["gardneri||12|", "australe||6|"]),
    ("20 gardneri, not before Dec 5", ["gardneri||20|"]),
    ("20 Eier gardneri (0,60 € je Ei) und australe", ["gardneri||20|", "australe|||"]),
)
#: What a text does not say for sure: it stays blank, and the line is shown.
UNSURE = (
    "a couple of dozen gardneri",
    "two or three dozen gardneri",
    "one and a half dozen gardneri",
    "gardneri, 6 € a dozen",
    "1O gardneri",
    "20-30 gardneri",
    "2x10 gardneri",
    "2 x 10 gardneri",
    "20 bis 30 gardneri",
    "20-30 eggs of gardneri please, jo example, 5 dream lane",
)


@pytest.mark.parametrize(("text", "fish"), WISHES)
def test_each_fish_of_a_mail_has_its_own_count(desk: Desk, text: str, fish: list[str]) -> None:
    shelf = desk.worktop.shelf_state.tables().shelf
    mail = read_mail(text, shelf)
    columns = ("species", "population", "eggs", "instead")
    read = [mail.cells, *(wish.cells() for wish in mail.further)]
    assert ["|".join(one.get(name, "") for name in columns) for one in read] == fish


@pytest.mark.parametrize("text", UNSURE)
def test_a_count_that_is_not_sure_stays_blank_and_its_line_is_shown(desk: Desk, text: str) -> None:
    mail = read_mail(text, desk.worktop.shelf_state.tables().shelf)
    assert (mail.cells["species"], "eggs" in mail.cells, mail.puzzling) == ("gardneri", False, (text,))


@pytest.mark.parametrize(
    ("text", "fish", "unsure"),
    [
        ("Quería 20 gardneri. Los gardneri al final no, mejor 30 de australe.", "20 gardneri", 1),
        ("Ich hätte gern 20 gardneri. Australe brauche ich nicht.", "20 gardneri", 1),
        ("20 gardneri; please cancel the australe", "20 gardneri", 1),
        ("Je ne veux pas d'australe", " ", 0),
        ("20 gardneri\nI don't want australe", "20 gardneri", 1),
    ],
)
def test_a_fish_of_a_sentence_that_says_no_is_listed_as_unsure_and_makes_no_line(
    desk: Desk, text: str, fish: str, unsure: int
) -> None:
    mail = read_mail(text, desk.worktop.shelf_state.tables().shelf)
    assert f"{mail.cells.get('eggs', '')} {mail.cells.get('species', '')}" == fish
    assert not mail.further
    assert mail.puzzling == (re.split(r"(?<=[.;])\s|\n", text)[unsure],)


@pytest.mark.parametrize(
    ("text", "fish"),
    [
        ("20 australe please. I do not\nwant the gardneri any more.", "20 australe"),
        ("20 australe\nThe gardneri I do\nnot want", "20 australe"),
        ("20 australe bitte. Ich möchte keine\nGardneri", "20 australe"),
        ("20 australe. Je ne voudrais pas de\ngardneri", "20 australe"),
        ("Ya no quiero los\ngardneri. 20 australe", "20 australe"),
        ("I do not need a label.\n20 gardneri please", "20 gardneri"),
        ("Ich habe noch nie bestellt,\nich hätte gern 20 gardneri", "20 gardneri"),
        ("It is not urgent\n\n20 gardneri\nno rush", "20 gardneri"),
        ("20 gardneri\nnot the gold ones please", "20 gardneri"),
    ],
)
def test_a_no_on_one_line_takes_back_the_fish_on_the_next_where_they_are_one_sentence(
    desk: Desk, text: str, fish: str
) -> None:
    mail = read_mail(text, desk.worktop.shelf_state.tables().shelf)
    assert f"{mail.cells.get('eggs', '')} {mail.cells.get('species', '')}" == fish
    assert not mail.further


@pytest.mark.parametrize(
    "text", ["20 gardneri, no hurry", "20 gardneri, bitte nicht vor Mai", "No. 3: 20 gardneri"]
)
def test_no_hurry_and_no_earlier_day_take_no_fish_back(desk: Desk, text: str) -> None:
    cells = read_mail(text, desk.worktop.shelf_state.tables().shelf).cells
    assert (cells["eggs"], cells["species"]) == ("20", "gardneri")


def test_about_so_many_of_one_fish_are_not_the_count_of_another_and_stay_to_be_looked_at(desk: Desk) -> None:
    """``une vingtaine d'australe et 30 guentheri`` was read as 30 australe."""
    shelf = desk.worktop.shelf_state.tables().shelf
    for line in ("une vingtaine d'œufs de gardneri et 30 scheeli", "una veintena de gardneri y 30 scheeli"):
        mail = read_mail(f"Je voudrais {line}.", shelf)
        assert (mail.cells["species"], mail.cells["eggs"]) == ("gardneri", "20")
        assert [(fish.species, fish.eggs) for fish in mail.further] == [("scheeli", "30")]
        assert mail.puzzling
    assert "eggs" not in read_mail("gardneri dans une dizaine de jours", shelf).cells


def test_what_a_mail_quotes_is_no_wish_unless_it_is_all_there_is(desk: Desk) -> None:
    """The breeder's own ``Il me reste 80 oeufs`` became the count of the order."""
    shelf = desk.worktop.shelf_state.tables().shelf
    quoted = "> Il me reste 80 oeufs.\n> Marcel"
    answered = read_mail(f"Alors je prends des gardneri.\n\n{quoted}", shelf)
    assert (answered.cells["species"], "eggs" in answered.cells) == ("gardneri", False)
    assert answered.cells["note"].endswith(quoted)
    assert read_mail("> 30 scheeli please", shelf).cells["eggs"] == "30"


def test_a_count_that_is_about_right_is_shown_to_be_looked_at(desk: Desk) -> None:
    mail = read_mail("ca. 20 gardneri", desk.worktop.shelf_state.tables().shelf)
    assert (mail.cells["eggs"], mail.puzzling) == ("20", ("ca. 20 gardneri",))


@pytest.mark.parametrize(
    ("line", "number"),
    [
        ("Phone +49 351 12 34 567", "+49 351 12 34 567"),
        ("Phone: +49 (0)351/1234567", "+49 (0)351/1234567"),
        ("my phone number is 0351 1234567, thanks", "0351 1234567"),
        ("Tel. 0351.123.45.67", "0351.123.45.67"),
        ("Handynummer: 0151 23456789", "0151 23456789"),
        ("Téléphone : 06 12 34 56 78", "06 12 34 56 78"),
        ("móvil 612 345 678", "612 345 678"),
        ("0045 86 12 34 56", "0045 86 12 34 56"),
        ("Fax +49 351 1234567", None),
    ],
)
def test_a_number_to_call_is_read(desk: Desk, line: str, number: str | None) -> None:
    text = f"20 gardneri\nAda Example\nHavnegade 1\n8000 Aarhus C\nDenmark\n{line}"
    cells = read_mail(text, desk.worktop.shelf_state.tables().shelf).cells
    assert cells.get("tel") == number
    assert (cells["addressee"], cells["delivery_1"]) == ("Ada Example", "Havnegade 1")


def test_what_was_not_understood_of_a_mail_is_listed(desk: Desk) -> None:
    shelf = desk.worktop.shelf_state.tables().shelf
    text = (
        "Guten Tag,\nso viele furzeri wie möglich\n10 gardneri\nby 05/06/27\nDanke\nAda Example\n1 Example"
        " Road\nDublin D02 XX00\nIreland\nPlease knock twice at the green door.\nViele Grüße aus Dublin"
    )
    mail = read_mail(text, shelf)
    assert mail.puzzling == (
        "so viele furzeri wie möglich",
        "by 05/06/27",
        "Please knock twice at the green door.",
    )
    assert "not_after" not in mail.cells, "May or June"
    assert "delivery_2" not in mail.cells, "a closing is no address"


ADA = "Ada Example <ada@example.org>"


@pytest.mark.parametrize(
    ("text", "address"),
    [
        (
            f"From: {ADA}\nSubject: eggs\n\nHello,\n20 gardneri\nI live at\nDroomplein 5\n1011 AB Amsterdam\n"
            "Netherlands\n\nThanks\nAda",
            "Ada Example|Droomplein 5||Amsterdam",
        ),
        (
            "20 gardneri\nI live at\nDroomplein 5\n1011 AB Amsterdam\nNetherlands\nAda Example",
            "Ada Example|Droomplein 5||Amsterdam",
        ),
        (
            f"De: {ADA}\n\nBoa tarde,\nRua das Sereias 4, 2º Esq.\n8000-100 Faro\nPortugal\n",
            "Ada Example|Rua das Sereias 4, 2º Esq.||Faro",
        ),
        (
            f"From: {ADA}\n\nFirma Traum\nc/o Ada Example\nul. Bajkowa 3.\n00-950 Warszawa\nPoland\n",
            "Firma Traum|c/o Ada Example|ul. Bajkowa 3.|Warszawa",
        ),
    ],
)
def test_the_name_is_that_of_the_sender_or_of_the_end_before_any_guess(
    desk: Desk, text: str, address: str
) -> None:
    cells = read_mail(text, desk.worktop.shelf_state.tables().shelf).cells
    assert (
        "|".join(cells.get(name, "") for name in ("addressee", "delivery_1", "delivery_2", "town")) == address
    )


def test_the_price_that_a_mail_names_is_that_of_its_only_fish(desk: Desk) -> None:
    shelf = desk.worktop.shelf_state.tables().shelf
    one = read_mail("20 gardneri Akure for 32,50 €", shelf)
    assert (one.cells["price"], one.cells["eggs"], one.puzzling) == ("32.50", "20", ())
    assert "price" not in read_mail("20 gardneri for 12 € or 30 for 15 €", shelf).cells
    assert "price" not in read_mail("20 gardneri for 32 CHF", shelf).cells
    for text in ("20 gardneri at 0.60 € each", "20 gardneri, 12 € a dozen", "20 Eier gardneri zu je 0,60 €"):
        of_one = read_mail(text, shelf)
        assert ("price" in of_one.cells, of_one.puzzling) == (False, (text,))


@pytest.mark.parametrize(
    "closing",
    ["Danke", "Merci beaucoup", "Many thanks, Ada", "Muchas gracias", "Viele Grüße", "Kind regards"],
)
def test_a_closing_is_no_line_of_an_address(desk: Desk, closing: str) -> None:
    shelf = desk.worktop.shelf_state.tables().shelf
    for text in (f"{closing}\nAda Example\n1 Example Road", f"Ada Example\n1 Example Road\n{closing}"):
        cells = read_mail(text, shelf).cells
        assert [cells[name] for name in ("addressee", "delivery_1")] == ["Ada Example", "1 Example Road"]
        assert "delivery_2" not in cells


@pytest.mark.parametrize(
    ("line", "country", "read"),
    [
        ("Dublin D02 XX00", "Ireland", "D02 XX00|Dublin|"),
        ("Dublin D02 XX00", "", "D02 XX00|Dublin|"),
        ("Exampletown EC1Y 8SY", "United Kingdom", "EC1Y 8SY|Exampletown|"),
        ("Exampletown\nEC1Y 8SY", "United Kingdom", "EC1Y 8SY|Exampletown|"),
        ("1234 AB Amsterdam", "Netherlands", "1234 AB|Amsterdam|"),
        ("Portland, OR 97201", "USA", "97201|Portland|OR"),
        ("00-950 Warszawa", "Poland", "00-950|Warszawa|"),
        ("A-1010 Wien", "Austria", "1010|Wien|"),
        ("8000 Aarhus C", "", "8000|Aarhus C|"),
        ("Leeds LS1 4AP", "UK", "LS1 4AP|Leeds|"),
    ],
)
def test_a_postcode_is_read_as_its_country_writes_it(desk: Desk, line: str, country: str, read: str) -> None:
    shelf = desk.worktop.shelf_state.tables().shelf
    cells = read_mail(f"Ada Example\n1 Example Road\n{line}\n{country}", shelf).cells
    assert "|".join(cells.get(name, "") for name in ("postcode", "town", "region")) == read
    assert cells["delivery_1"] == "1 Example Road"
    assert "delivery_2" not in cells


@pytest.mark.parametrize(
    ("address", "read"),
    [
        ("1234 Kalani St/Honolulu, HI 96815", "1234 Kalani St|96815|Honolulu|HI|US"),
        ("1234 Kalani St/Honolulu, HI 96815/USA", "1234 Kalani St|96815|Honolulu|HI|US"),
        ("12 Elm Street/Columbus OH 43004", "12 Elm Street|43004|Columbus|OH|US"),
        ("12 elm street/columbus oh 43004", "12 elm street|43004|columbus|oh|US"),
        ("12 Elm Street/Columbus, Ohio/43004", "12 Elm Street|43004|Columbus|Ohio|US"),
        ("12 Elm Street, Columbus, OH 43004-1234 USA", "12 Elm Street|43004-1234|Columbus|OH|US"),
        ("44 Main St/Wilmington, DE 19801", "44 Main St|19801|Wilmington|DE|US"),
        ("44 Main St/Portland, Oregon/USA", "44 Main St||Portland|Oregon|US"),
        ("44 Main St/New York 10001/USA", "44 Main St|10001|New York||US"),
        ("44 Main St/Washington, D.C. 20001", "44 Main St|20001|Washington|D.C.|US"),
        ("44 Main St/Columbus OH 96815", "44 Main St||||"),
        ("12345 Elm Blvd Apt 5/Los Angeles, CA/USA", "12345 Elm Blvd Apt 5||Los Angeles|CA|US"),
        ("44 Main St/Atlanta/Georgia/30303/USA", "44 Main St|30303|Atlanta|Georgia|US"),
        ("55 Maple Ave/Toronto, ON M5V 2T6", "55 Maple Ave|M5V 2T6|Toronto|ON|CA"),
        ("55 rue Principale/Montréal (Québec) H2X 1Y4", "55 rue Principale|H2X 1Y4|Montréal|Québec|CA"),
        ("7 Wattle Street/Brisbane QLD 4000", "7 Wattle Street|4000|Brisbane|QLD|AU"),
        ("7 Wattle Street, Hobart TAS 7000, Australia", "7 Wattle Street|7000|Hobart|TAS|AU"),
        ("Rua das Flores, 120/Curitiba - PR/80010-000", "Rua das Flores, 120|80010-000|Curitiba|PR|BR"),
        ("Calle Roble 12/44100 Guadalajara, Jal./México", "Calle Roble 12|44100|Guadalajara|Jal|MX"),
        ("Via Roma 3/20121 Milano (MI)/Italia", "Via Roma 3|20121|Milano|MI|IT"),
        ("3 High Street/Cardiff CF10 1AA/Wales UK", "3 High Street|CF10 1AA|Cardiff|GB-WLS|GB"),
        ("Hofweg 3/80331 München/Bayern/Germany", "Hofweg 3|80331|München|Bayern|DE"),
    ],
)
def test_an_address_says_its_state_and_its_country_as_it_is_written_there(
    desk: Desk, address: str, read: str
) -> None:
    text = "20 gardneri\n\nAda Example\n" + address.replace("/", "\n")
    cells = read_mail(text, desk.worktop.shelf_state.tables().shelf).cells
    columns = ("delivery_1", "postcode", "town", "region", "country")
    assert "|".join(cells.get(name, "") for name in columns) == read
    assert (cells["addressee"], "tel" in cells) == ("Ada Example", False)


def test_the_state_of_an_order_is_asked_beside_its_town_not_folded_away(desk: Desk) -> None:
    seen = desk.get("/tables/orders/new").text.partition("that may stay blank")[0]
    assert 'name="region"' in seen


def test_an_address_within_a_sentence_is_read_and_the_rest_of_it_is_listed(desk: Desk) -> None:
    text = "30 eggs of gardneri, please. Ship to 1234 Kalani St, Honolulu, HI 96815.\n"
    text += "Call (808) 555-0123\nAda Example"
    mail = read_mail(text, desk.worktop.shelf_state.tables().shelf)
    read = [mail.cells.get(name) for name in ("eggs", "addressee", "delivery_1", "town", "tel")]
    assert read == ["30", "Ada Example", "1234 Kalani St", "Honolulu", "(808) 555-0123"]
    assert "please. Ship to" in mail.puzzling


@pytest.mark.parametrize(
    ("text", "column", "day"),
    [
        ("avant le 12/12/26", "not_after", "2026-12-12"),
        ("bitte bis 24.12.2026", "not_after", "2026-12-24"),
        ("not before the 24th of December 2026", "not_before", "2026-12-24"),
        ("au plus tard le 24 décembre 2026", "not_after", "2026-12-24"),
        ("not after 24 December 2026", "not_after", "2026-12-24"),
        ("ab dem 20. Dezember 2026", "not_before", "2026-12-20"),
        ("a partir del 20 de diciembre de 2026", "not_before", "2026-12-20"),
    ],
)
def test_a_day_in_a_mail_is_read(desk: Desk, text: str, column: str, day: str) -> None:
    mail = read_mail(text, desk.worktop.shelf_state.tables().shelf)
    assert mail.cells.get(column) == day
    assert mail.puzzling == ()


@pytest.mark.parametrize(
    ("text", "column", "day"),
    [
        ("not before Dec 5", "not_before", "2026-12-05"),
        ("please don't send it before December 5th", "not_before", "2026-12-05"),
        ("nicht vor dem 5.12.", "not_before", "2026-12-05"),
        ("Bitte bis spätestens 20. Dezember", "not_after", "2026-12-20"),
        ("pas avant le 5 décembre", "not_before", "2026-12-05"),
        ("ne pas envoyer avant le 5 décembre", "not_before", "2026-12-05"),
        ("no antes del 5 de diciembre", "not_before", "2026-12-05"),
        ("by 24/12 at the latest", "not_after", "2026-12-24"),
        ("20 January at the earliest", "not_before", "2027-01-20"),
    ],
)
def test_a_day_without_its_year_is_the_coming_one_and_shown_to_be_looked_at(
    desk: Desk, text: str, column: str, day: str
) -> None:
    mail = read_mail(f"20 gardneri Akure\n{text}", desk.worktop.shelf_state.tables().shelf)
    bounds = {name: mail.cells.get(name) for name in ("not_before", "not_after")}
    assert bounds == {"not_before": None, "not_after": None, column: day}
    assert (mail.cells["eggs"], len(mail.puzzling)) == ("20", 1)
    assert mail.puzzling[0].startswith(f"{text} – read as ")


@pytest.mark.parametrize(
    "text",
    [
        "by 5/12",
        "vor dem 5.12. bitte nicht schicken",
        "I can not take them, please send before Dec 5",
        "not by Dec 5",
        "I can't wait until Dec 20",
        "from 5 to 12 December",
        "before Nov 16",
        "10 gardneri, not before Easter",
    ],
)
def test_a_day_that_is_not_sure_is_read_as_none(desk: Desk, text: str) -> None:
    """A wish read the wrong way round sends the eggs when nobody is at home."""
    mail = read_mail(text, desk.worktop.shelf_state.tables().shelf)
    assert not {"not_before", "not_after"} & mail.cells.keys()
    assert mail.puzzling


def test_a_street_named_for_a_day_stays_in_the_address(desk: Desk) -> None:
    text = "20 gardneri\nAda Example\n12 rue du 8 Mai 1945\n67000 Strasbourg\nFrance"
    mail = read_mail(text, desk.worktop.shelf_state.tables().shelf)
    assert (mail.cells["delivery_1"], mail.puzzling) == ("12 rue du 8 Mai 1945", ())


def test_the_fish_of_a_mail_follow_as_lines_of_one_order(desk: Desk) -> None:
    text = (
        "20 Eier gardneri Akure, 30 Aphyosemion australe und 10 furzeri\nAda Example\nHavnegade 1\n"
        "8000 Aarhus C\nDenmark"
    )
    page = pasted(desk, text)
    assert "3 fish were found in the mail" in plain(page)
    assert '<pre class="mail">' in page, "the mail stands beside the form"
    refused = desk.post(
        "/tables/orders/new",
        token(desk) | NEW | {"eggs": "x", "further": "species=australe&eggs=30"},
        card=False,
    )
    assert "30 Aphyosemion australe" in plain(refused.text), (
        "a form that is refused keeps the fish that follow"
    )
    further = re.findall(r'name="further" value="([^"]*)"', page)
    order = re.findall(r'name="order" value="([^"]*)"', page)[0]
    form = (
        token(desk)
        | {"order": order, "placed_on": "2026-11-30", "addressee": "Ada Example", "country": "DK"}
        | {"species": "gardneri", "population": "Akure", "eggs": "20", "note": text, "then": "fish"}
        | {"mail-beside": text, "further": [html.unescape(one) for one in further]}
    )
    for _ in range(2):  # a thumb that taps twice loses none of them
        answer = desk.client.post("/tables/orders/new", base_url=HOME, data=form)
    assert answer.status_code == 303, plain(answer.text)
    page = desk.get(answer.headers["Location"].partition("#")[0]).text
    assert f"Another fish in order {order}" in page
    assert '<option value="australe" selected>' in page
    assert 'name="eggs" value="30"' in page
    assert "Still to be written from the mail: 10 Nothobranchius furzeri" in plain(page)
    assert '<pre class="mail">20 Eier' in page


@pytest.mark.parametrize("path", ["/tables/nothing", "/tables/orders/999", "/tables/ledger"])
def test_a_table_or_row_that_is_none_is_not_found(desk: Desk, path: str) -> None:
    assert desk.get(path).status_code == 404


def test_a_broken_row_is_mended_on_the_page(desk: Desk) -> None:
    orders = desk.folder / "orders.csv"
    orders.write_text(orders.read_text(encoding="utf-8").replace("D02,", "D02,someday-", 1), encoding="utf-8")
    page = desk.get("/").text
    address = re.search(r'href="(/tables/orders/\d+)">Mend it', page)
    assert address
    number, was = row_of(desk, "orders", "D02,")
    day = was["was-placed_on"].removeprefix("someday-")
    answer = desk.post(f"/tables/orders/{number}", token(desk) | was, card=False, placed_on=day)
    assert answer.status_code == 303, plain(answer.text)
    assert desk.get("/week").status_code == 200


def test_a_second_fish_of_an_order_takes_its_buyer_from_the_first_line(desk: Desk) -> None:
    page = desk.get("/tables/orders/new?order=D36").text
    assert 'name="order" value="D36"' in page
    assert 'name="placed_on" value=""' in page
    second = {"order": "D36", "species": "gardneri", "population": "Akure", "eggs": "5"}
    answer = desk.post("/tables/orders/new", token(desk), card=False, **second)
    assert answer.status_code == 303, plain(answer.text)
    shelf = read_shelf(desk.folder, TODAY).shelf
    assert shelf is not None
    assert [line.eggs for line in shelf.order_by_name["D36"].lines][-1] == 5
    page = desk.text("/tables/orders")
    assert "D36 Sanne Voorbeeld: 5 Fundulopanchax gardneri (Akure) – Netherlands" in page
    assert "The money came" not in page


def test_a_first_fish_may_be_written_and_the_form_of_another_comes_with_the_order_kept(desk: Desk) -> None:
    answer = desk.post("/tables/orders/new", token(desk), card=False, **NEW, then="fish")
    assert answer.headers["Location"].startswith(f"/tables/orders/new?order={NEW['order']}&told=")
    page = desk.get(answer.headers["Location"]).text
    assert f"Another fish in order {NEW['order']} " in plain(page)
    first = page[: page.index("<details")]
    asked = ["order", "species", "population", "eggs", "price"]
    assert re.findall(r'<(?:input|select) name="(\w+)"', first) == asked
    assert "20 Fundulopanchax gardneri, Akure" in plain(first), "what is in the order already"


@pytest.mark.parametrize("table", ["orders", "lots", "zones"])
def test_a_blank_new_row_is_refused_with_what_to_type(desk: Desk, table: str) -> None:
    """It was our own mistake: what is blank is no row, so that it was not found again."""
    answer = desk.post(f"/tables/{table}/new", token(desk), card=False)
    needed = [label_of(one) for one in TABLE_BY_NAME[table].required_columns]
    assert answer.status_code == 422
    assert f"Not written: look at what is marked: {', '.join(needed)}." in plain(answer.text)
    assert plain(answer.text).count("is blank.") == len(needed)


def test_a_row_is_not_blanked(desk: Desk) -> None:
    number, was = row_of(desk, "zones", "NORTH,")
    cells = {name.removeprefix("was-"): "" for name in was}
    answer = desk.post(f"/tables/zones/{number}", token(desk) | was, card=False, **cells)
    assert answer.status_code == 422
    assert "look at what is marked" in plain(answer.text)


def test_a_new_order_has_the_next_number_and_the_day(desk: Desk) -> None:
    page = desk.get("/tables/orders/new").text
    assert 'name="order" value="D37"' in page
    assert 'name="placed_on" value="Mon 30 Nov 2026"' in page
    assert '<option value="gardneri">Fundulopanchax gardneri (gardneri)' in page


@pytest.mark.parametrize(
    ("own", "of_sheets", "of_parcels", "number"),
    [
        (["D01", "D36"], [], [], "D37"),
        (["D01", "d2"], [], ["D3"], "d4"),
        ([], [], [], "1"),
        (["2026-117", "2026-118"], [], [], "2026-119"),
        (["7", "8"], ["S1042", "S1044"], [], "9"),
        (["D9", "S1044"], ["S1042", "S1044"], [], "D10"),
        (["1043"], ["1042", "1044"], [], "A1"),
        (["1043", "A1"], ["1042", "1044", "B9"], ["A2"], "A3"),
        (["4"], ["1042"], [], "5"),
        ([], ["1"], [], "A1"),
    ],
)
def test_a_new_number_is_free_and_of_no_series_that_a_shop_goes_on_counting(
    own: list[str], of_sheets: list[str], of_parcels: list[str], number: str
) -> None:
    assert next_order(own, of_sheets, of_parcels) == number


def test_a_number_of_a_shops_sheet_is_neither_proposed_nor_taken(desk: Desk) -> None:
    """An order of one's own of that number takes the place of the shop's, which would not go."""
    (desk.folder / "shop.csv").write_text(
        "Order,Date,Name,Country,Species,Eggs,State\n"
        "D37,2026-11-02,Bo Example,DK,gardneri,20,new\nD38,2026-11-02,Bo Example,DK,gardneri,20,gone\n",
        encoding="utf-8",
    )
    (desk.folder / "orders.toml").write_text(
        '[[sheet]]\nfile = "shop.csv"\n[sheet.columns]\norder = "Order"\nplaced_on = "Date"\n'
        'addressee = "Name"\ncountry = "Country"\nspecies = "Species"\neggs = "Eggs"\n'
        '[sheet.leave_out]\nState = ["gone"]\n',
        encoding="utf-8",
    )
    assert 'name="order" value="A1"' in desk.get("/tables/orders/new").text
    before = rows(desk)
    for order in ("D37", "d38"):
        answer = desk.post("/tables/orders/new", token(desk), card=False, **{**NEW, "order": order})
        assert "is in a shop's sheet, and would not go any more" in plain(answer.text)
    assert rows(desk) == before
    assert desk.post("/orders/D37/copy", token(desk), card=False).status_code == 303


def test_an_order_is_opened_by_its_number(desk: Desk) -> None:
    number, _ = row_of(desk, "orders", "D09,")
    assert desk.get("/orders/D09").headers["Location"] == f"/tables/orders/{number}"
    assert desk.get("/orders/none").headers["Location"] == "/tables/orders?find=none"


def test_money_is_not_said_to_come_where_it_alone_would_not_let_the_order_go(desk: Desk) -> None:
    """The round said to ask for none, and the page of orders had the button still."""
    table = desk.folder / "orders.csv"
    unpaid = re.sub(r"(?m)^(D05,[\d-]+),[\d-]+,", r"\1,,", table.read_text("utf-8"))
    table.write_text(unpaid, "utf-8")
    page = desk.text("/tables/orders")
    assert re.findall(r"The money came : (D\d\d)", page) == ["D05"]
    assert "Ask for no money yet: alone it would not let the eggs go. Too cold on the way: down to" in page


def test_each_order_says_what_it_needs_from_the_plan_kept_and_those_that_want_a_hand_come_first(
    desk: Desk,
) -> None:
    desk.pack()
    page = desk.text("/tables/orders")
    groups = [
        "Held: you can mend",
        "D22 Lieve Voorbeeld: 15 Esmaeilius sophiae (Kor) – Belgium order not paid yet Ask for no money yet",
        "Open the boxes : D22",
        "Held until others",
        " Packed, to be sent D02",
        "To pack",
    ]
    places = [page.index(group) for group in groups]
    assert places == sorted(places)
    assert "Packed, goes on Mon 30 Nov." in page
    assert "paid on" not in page
    assert "Held: you can mend these yourself D29 Rasmus Eksempel: 15 Rivulus cylindraceus – Denmark" in page
    filled = re.findall(r'class="button main"[^>]*>([^<]*)', desk.get("/tables/orders").text)
    assert filled == ["Write what you see"]


def cancel_or_bring_back(desk: Desk, order: str, *lines: int) -> None:
    """A tap on the button of these rows of an order, or of all."""
    of_order = [n for n, text in enumerate(rows(desk), 1) if text.startswith(f"{order},")]
    for number in of_order if not lines else [of_order[line - 1] for line in lines]:
        _, was = row_of_number(desk, "orders", number)
        answer = desk.post(f"/tables/orders/{number}/back", token(desk) | was, card=False)
        assert answer.status_code == 303, plain(answer.text)


def test_a_cancelled_order_is_told_and_no_plan_of_before_shows_it_as_held(desk: Desk) -> None:
    states_of_orders(desk.worktop)
    number, was = row_of(desk, "orders", "D28,")
    told = desk.post(f"/tables/orders/{number}/back", token(desk) | was, card=False).headers["Location"]
    aside = Desk(desk.folder, aside=True)  # where a plan of before is shown until the new one is there
    states, _ = states_of_orders(aside.worktop)
    assert "D28" not in states
    page = desk.get(told.partition("#")[0]).text
    assert "Order D28 is cancelled. orders.csv" in plain(page)
    form = re.search(r'<form method="post" action="([^"]+)" id="undo">(.*?)</form>', page, re.DOTALL)
    assert form, "the way back stands beside what was said"
    marks = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', html.unescape(form[2])))
    again = desk.post(form[1], marks, card=False)
    assert "Order D28: this line counts again." in desk.text(again.headers["Location"].partition("#")[0])


def test_an_order_paid_before_it_was_ordered_is_asked_for_its_day(desk: Desk) -> None:
    typed = NEW | {"placed_on": str(TODAY), "paid_on": "2026-11-26"}
    answer = desk.post("/tables/orders/new", token(desk), card=False, **typed)
    assert answer.status_code == 422
    assert "It was paid on Thu 26 Nov: write the day it was ordered." in plain(answer.text)
    typed["placed_on"] = "2026-11-25"
    assert desk.post("/tables/orders/new", token(desk), card=False, **typed).status_code == 303


def test_a_cancelled_order_asks_for_no_money_and_its_parcel_is_let_go_not_packed(desk: Desk) -> None:
    cancel_or_bring_back(desk, "D22")
    cancel_or_bring_back(desk, "D02")
    page, gone = desk.get("/tables/orders").text, "Order D02 is cancelled, or no longer in the tables."
    assert "Cancelled D22" in plain(page)
    assert 'action="/orders/D22/paid"' not in page
    assert f'href="/parcels/{FIRST}/move">Let its parcel go' in page
    assert f"{gone} Give up parcel 01" in desk.text(f"/parcels/{FIRST}/move")
    assert f"do not send Parcel 01 to Søren Eksempel {gone}" in desk.text("/")


def test_a_line_cancelled_keeps_its_number_and_is_packed_once_it_is_brought_back(desk: Desk) -> None:
    before = (desk.folder / "orders.csv").read_bytes()
    cancel_or_bring_back(desk, "D02", 1)
    assert rows(desk)[0].endswith(",note,cancelled_on")
    assert [copy.read_bytes() for copy in (desk.folder / "table-copies").iterdir()] == [before]
    assert "A line of order D02 is cancelled" in desk.text("/packing")
    assert desk.pack().status_code == 409
    shelf = read_shelf(desk.folder, TODAY).shelf
    assert shelf is not None
    assert [line.number for line in shelf.order_by_name["D02"].lines] == [2]
    cancel_or_bring_back(desk, "D02", 1)
    assert desk.pack().status_code == 200


def test_an_order_whose_row_cannot_be_read_is_not_called_cancelled_and_its_row_is_mended_first(
    desk: Desk,
) -> None:
    orders, settings = desk.folder / "orders.csv", desk.folder / "shelf.toml"
    text, unread = orders.read_text(encoding="utf-8"), "Order D02 is not found whole"
    orders.write_text(text.replace(",floridae,,20,", ",floridae,,2.5,", 1), encoding="utf-8")
    page = desk.get("/tables/orders").text
    assert unread in page
    assert "Let its parcel go" not in page
    assert unread in desk.text("/")
    settings.write_text(settings.read_text(encoding="utf-8").replace('["en"]', '["de"]'), encoding="utf-8")
    for path in ("/", "/packing"):
        assert "„2.5“ ist keine ganze Zahl." in desk.text(path), "in the breeder's language"
        assert 'href="/tables/orders/3">Berichtigen' in desk.get(path).text


def test_where_a_row_is_broken_what_was_sent_is_not_called_new(desk: Desk) -> None:
    desk.pack()
    with (desk.folder / "lots.csv").open("a", encoding="utf-8") as lots:
        lots.write("X-9,no fish\n")
    assert "Packed, to be sent D02" in desk.text("/tables/orders")


def test_an_unpaid_order_of_eggs_that_are_not_there_is_among_those_that_cannot_be_sent(
    desk: Desk,
) -> None:
    table = desk.folder / "orders.csv"
    typed = table.read_text(encoding="utf-8")
    table.write_text(typed.replace("nl,sophiae,Kor,15,", "nl,sophiae,Elsewhere,15,"), encoding="utf-8")
    page = desk.text("/tables/orders")
    places = [page.index(text) for text in ("Cannot be sent", "D22", "No eggs of Elsewhere; on hand: Kor")]
    assert places == sorted(places)
    assert "Not paid yet" not in page


def test_a_population_that_was_forgotten_is_asked_for_and_any_is_ticked(desk: Desk) -> None:
    before, blank = rows(desk), {**NEW, "population": ""}
    answer = desk.post("/tables/orders/new", token(desk), card=False, **blank)
    assert answer.status_code == 422
    assert "Name it, or tick that the buyer takes any population." in plain(answer.text)
    assert rows(desk) == before
    ticked = desk.post("/tables/orders/new", token(desk), card=False, **blank, **{"any-population": "yes"})
    assert ticked.status_code == 303, plain(ticked.text)
    assert len(rows(desk)) == len(before) + 1


@pytest.mark.parametrize(
    "typed",
    ["Tue 24 Nov 2026", "24 Nov 2026", "Wed 24 Nov 2026", "24.11.2026", "Nov 24, 2026", "November 24 2026"],
)
def test_a_day_as_the_form_shows_it_is_written_as_tables_have_it(desk: Desk, typed: str) -> None:
    answer = desk.post("/tables/orders/new", token(desk), card=False, **{**NEW, "placed_on": typed})
    assert answer.status_code == 303, plain(answer.text)
    assert ",2026-11-24," in rows(desk)[-1]


def test_a_wish_by_its_weekday_is_the_coming_one(desk: Desk) -> None:
    for order, (typed, meant) in {
        "D91": ("Friday", "2026-12-04"),
        "D92": ("Monday", TODAY.isoformat()),
    }.items():
        new = {**NEW, "order": order, "eggs": order[1:], "not_before": typed}
        answer = desk.post("/tables/orders/new", token(desk), card=False, **new)
        assert answer.status_code == 303, plain(answer.text)
        assert f",{meant}," in rows(desk)[-1]


def test_a_day_with_two_readings_is_not_guessed(desk: Desk) -> None:
    answer = desk.post("/tables/orders/new", token(desk), card=False, **{**NEW, "placed_on": "12/01/2026"})
    assert answer.status_code == 422
    assert "2026-01-12 or 2026-12-01" in plain(answer.text)


def test_days_that_were_not_changed_stay_as_the_table_has_them(desk: Desk) -> None:
    before = rows(desk)
    number, was = row_of(desk, "orders", "D02,")
    page = desk.get(f"/tables/orders/{number}").text
    shown = dict(re.findall(r'<input name="([a-z_0-9]+)" value="([^"]*)"', page))
    assert 'name="any-population" value="yes" checked' in page
    cells = {**shown, "eggs": "21", "any-population": "yes"}
    answer = desk.post(f"/tables/orders/{number}", token(desk), card=False, **was, **cells)
    assert answer.status_code == 303, plain(answer.text)
    changed = [(old, new) for old, new in zip(before, rows(desk), strict=True) if old != new]
    assert [(old.replace(",20,", ",21,", 1), new) for old, new in changed] == [(changed[0][1],) * 2]


def test_an_order_that_would_hatch_on_the_way_is_not_among_those_the_breeder_mends(desk: Desk) -> None:
    """It is held for its payment too, which would be in vain: nobody mends what hatches."""
    edit(desk.folder, "orders", {"order": "D10"}, paid_on="")
    order_state = states_of_orders(Desk(desk.folder).worktop)[0]["D10"]
    assert "would hatch on the way" in order_state.next.text
    assert order_state.state == "stopped"


def test_a_list_of_rows_says_what_its_numbers_days_and_answers_are(desk: Desk) -> None:
    assert "tube in foam box tube, Eggs at the most: 30" in desk.text("/tables/packings")
    services = desk.text("/tables/services").replace("\u00a0", " ")
    assert "far parcel Australia, Japan, United States" in services
    assert "Live eggs: yes, Mon 12 Oct 2026" in services
    assert re.findall(r"\d{4}-\d\d-\d\d", services) == []


def test_an_order_of_a_later_week_tells_its_day_and_asks_nothing(desk: Desk) -> None:
    orders = desk.text("/tables/orders").replace("\u00a0", " ")
    later = orders.split("Go in a later week by themselves")[1].split("Find shows")[0]
    assert "from Mon 7 Dec" in later
    assert "Open the boxes" not in later


def test_orders_that_go_have_their_number_alone_and_many_are_folded_by_day(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three hundred orders, each with a button beside its number, were metres high on a phone."""
    page = desk.get("/tables/orders").text
    to_pack = page[page.index("To pack</span>") :].partition("</section>")[0]
    assert "Open the order" not in to_pack
    assert "<details>" in to_pack
    assert re.search(r"<summary>Mon\s30\sNov: \d+</summary>", to_pack)
    found = desk.get("/tables/orders?find=D02").text
    assert "<summary>Mon" not in found, "what is looked for is seen"
    monkeypatch.setattr("shipping.worktop.views.orders.MOST_OPEN", 100)
    assert "<summary>Mon" not in desk.get("/tables/orders").text


def test_a_number_that_another_window_took_gives_way_to_the_next_and_nothing_typed_is_lost(
    desk: Desk,
) -> None:
    """The second of two windows was shown another fish of the first one's order, without its address."""
    new = {**NEW, "order": "D37", "proposed": "D37"}
    desk.post("/tables/orders/new", token(desk), card=False, **new)
    other = {**new, "addressee": "Bo Example", "delivery_1": "Havnegade 2"}
    page = desk.post("/tables/orders/new", token(desk), card=False, **other).text
    assert "Order D37 was written meanwhile: this is the next free number." in plain(page)
    for name, value in (("order", "D38"), ("proposed", "D38"), ("addressee", "Bo Example"), ("eggs", "20")):
        assert f'name="{name}" value="{value}"' in page
    assert len([row for row in rows(desk) if row.startswith("D37,")]) == 1


def test_a_new_order_of_a_buyer_begins_with_the_address_and_says_where_it_is_one_typed_twice(
    desk: Desk,
) -> None:
    desk.post("/tables/orders/new", token(desk), card=False, **NEW)
    page = desk.get("/tables/orders/new?like=D90").text
    for name, value in (("order", "D91"), ("addressee", "Ada Example"), ("town", "Aarhus C"), ("eggs", "")):
        assert f'name="{name}" value="{value}"' in page
    again = desk.post("/tables/orders/new", token(desk), card=False, **{**NEW, "order": "D91"})
    assert "Written, but look: Eggs: 20 'gardneri' for the same buyer and day stand in order 'D90' too" in (
        desk.text(again.headers["Location"].partition("#")[0])
    )


def test_a_price_with_a_decimal_comma_and_the_sign_of_the_settings_is_read(desk: Desk) -> None:
    answer = desk.post("/tables/orders/new", token(desk), card=False, **NEW, price="12,50 €")
    assert answer.status_code == 303
    refused = desk.post(
        "/tables/orders/new", token(desk), card=False, **{**NEW, "order": "D91"}, price="180 Kč"
    )
    assert "Write what it is worth in EUR, the number alone." in plain(refused.text)


def test_the_money_of_an_order_of_several_fish_is_asked_for_once(desk: Desk) -> None:
    second = {"order": "D37", "species": "australe", "eggs": "5", "any-population": "yes"}
    unpaid = {**NEW, "order": "D37", "paid_on": ""}
    for cells in (unpaid, second):
        assert desk.post("/tables/orders/new", token(desk), card=False, **cells).status_code == 303
    page = desk.get("/tables/orders").text
    assert page.count('action="/orders/D37/paid"') == 1


def test_an_order_of_several_fish_is_called_off_by_one_tap_and_twice_does_no_more(desk: Desk) -> None:
    number, was = row_of(desk, "orders", "D31,")
    assert 'formaction="/orders/D31/cancel"' in desk.get(f"/tables/orders/{number}").text
    for _ in range(2):
        answer = desk.post("/orders/D31/cancel", token(desk) | was, card=False)
        assert answer.status_code == 303
    lines = [row for row in rows(desk) if row.startswith("D31,")]
    assert [line.endswith(f",{TODAY}") for line in lines] == [True, True]
    assert "formaction" not in desk.get(f"/tables/orders/{number}").text
    number, _ = row_of(desk, "orders", "D34,")
    assert "formaction" not in desk.get(f"/tables/orders/{number}").text, "one line has its own button"


@pytest.mark.parametrize(
    ("line", "unread"),
    [
        ("Bonjour, j'ai payé hier, merci", "j'ai payé hier"),
        ("20 œufs de gardneri Akure. J'ai payé hier par Paypal. Merci", "J'ai payé hier par Paypal"),
        ("Vielen Dank, ich habe gestern bezahlt", "ich habe gestern bezahlt"),
        ("Hello Ada Example, many thanks", ""),
    ],
)
def test_a_sentence_beside_a_greeting_or_a_fish_of_which_nothing_was_read_is_listed(
    desk: Desk, line: str, unread: str
) -> None:
    text = f"{line}\n20 gardneri Akure\nLucie Exemple\n12 rue des Lilas\n67000 Strasbourg"
    shelf = desk.worktop.shelf_state.tables().shelf
    assert read_mail(text, shelf).puzzling == ((unread,) if unread else ())


def test_what_of_a_mail_stands_in_the_form_is_marked_in_it(desk: Desk) -> None:
    mail = "I paid yesterday, 24 gardneri Akure.\nNot before 7 December 2026\nIna Example\n"
    mail += "12 rue des Lilas\n67000 Strasbourg\nFrance"
    page = pasted(desk, mail)
    marks = re.findall("<mark>(.*?)</mark>", page)
    assert marks == [
        *("24", "gardneri", "Akure", "7 December 2026", "Ina Example", "12 rue des Lilas"),
        *("67000", "Strasbourg", "France"),
    ]
    assert "I paid yesterday" in plain(page)


@pytest.mark.parametrize(
    ("line", "read"),
    [
        (
            "Envío a: Ana Ejemplo Ruiz, Calle Real 15, 38003 Santa Cruz de Tenerife.",
            ("Ana Ejemplo Ruiz", "Calle Real 15", "38003", "Santa Cruz de Tenerife"),
        ),
        (
            "Lieferadresse: Jo Muster, Am Deich 12a, 26721 Emden, Deutschland",
            ("Jo Muster", "Am Deich 12a", "26721", "Emden"),
        ),
        (
            "My address: Bo Example, C/ Mar, 118, 46007 Valencia",
            ("Bo Example", "C/ Mar, 118", "46007", "Valencia"),
        ),
    ],
)
def test_an_address_on_one_line_behind_its_name_is_read(desk: Desk, line: str, read: tuple[str, ...]) -> None:
    cells = read_mail(f"20 gardneri\n{line}\nPago mañana.", desk.worktop.shelf_state.tables().shelf).cells
    assert tuple(cells.get(name) for name in ("addressee", "delivery_1", "postcode", "town")) == read
