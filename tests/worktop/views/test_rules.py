"""A rule answered on the page is a row of the breeder's table with its source and day."""

from __future__ import annotations

import csv
import re

import pytest

from tests.worktop.conftest import Desk, plain, said

ANSWER = {
    "verdict": "open",
    "to": "TR",
    "taxon": "*",
    "source": "letter of the authority, no. 7",
    "checked_on": "Mon 30 Nov 2026",
}


def card_of(desk: Desk, country: str) -> str:
    page = desk.get("/rules").text
    found = re.search(rf'id="h-(\w+)"[^>]*>{country} ', page)
    assert found, plain(page)
    return f"/rules/{found[1]}"


def last_row(desk: Desk) -> dict[str, str]:
    with (desk.folder / "rules.csv").open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))[-1]


def test_what_is_missing_or_stale_is_named_with_whom_to_ask_and_who_waits(desk: Desk) -> None:
    page = desk.text("/rules")
    for whole in (
        "Türkiye Nothobranchius korthausae ▲ order D18 cannot go yet Ask the post, and the authority for"
        " imports at the destination: Türkiye. Nobody has looked this up.",
        "Japan Fundulopanchax sjostedti ▲ order D30 cannot go yet Ask the post, and the authority for"
        " imports at the destination: Japan. Your rule says to ask first, and nobody has answered yet."
        " Your rule is from: Invasive",
        "The last answer, of 20 April 2026, said yes; that is too long ago to count. Your rule is from: ",
        "May living, fertilised eggs of Esmaeilius sophiae be sent by post to a private keeper abroad"
        " (Denmark to Switzerland)",
    ):
        assert whole in page


def test_at_home_it_is_asked_what_may_be_sold_and_posted_there(desk: Desk) -> None:
    rules = desk.folder / "rules.csv"
    asked = "DK,*,,ask,,its authority,2000-01-01,,,"
    rules.write_text(re.sub(r"(?m)^DK,.*$", asked, rules.read_text("utf-8")), encoding="utf-8")
    page = desk.text("/rules")
    assert "Ask the post, and the authority for animals at home." in page
    assert "and send them by post inside the country (Denmark)?" in page
    assert "from Denmark to Denmark" not in page


def test_the_answer_of_the_home_country_is_written_into_the_row_that_asks(desk: Desk) -> None:
    rules = desk.folder / "rules.csv"
    asked = "DK,*,,ask,,its authority,2000-01-01,,,ask at home first"
    rules.write_text(re.sub(r"(?m)^DK,.*$", asked, rules.read_text("utf-8")), encoding="utf-8")
    rows = rules.read_text("utf-8").count("\n")
    answer = desk.post(card_of(desk, "Denmark"), **{**ANSWER, "to": "DK"})
    assert "stricter" not in said(answer)
    assert "its authority" not in desk.text("/rules").partition("All your rules")[0]
    assert rules.read_text("utf-8").count("\n") == rows
    answered = 'DK,*,,open,,"letter of the authority, no. 7",2026-11-30,,,ask at home first'
    assert answered in rules.read_text("utf-8").splitlines()


def test_a_starter_row_that_nobody_looked_up_is_no_answer_of_the_year_2000(desk: Desk) -> None:
    rules = desk.folder / "rules.csv"
    rules.write_text(
        rules.read_text("utf-8") + "TR,*,,ask,,its authority,2000-01-01,,,not read; verify before use\n",
        "utf-8",
    )
    page = desk.text("/rules")
    assert (
        "authority for imports at the destination: Türkiye. Nobody has looked this up. Your rule is from: its"
        in page
    )
    assert "TR any fish" not in page
    assert "TR *: ask. its authority. Nobody has looked this up." in page
    assert "1 January 2000" not in page + desk.text("/")
    assert "2000" not in page.partition("All your rules")[2]
    orders = desk.text("/tables/orders")
    assert "Nobody has looked up the rule for Türkiye yet. Look it up: its authority" in orders


def test_the_round_and_the_rules_count_the_same_answers(desk: Desk) -> None:
    counted = re.search(r"(\d+) answers to ask for", desk.text("/rules"))
    assert counted
    assert f"{counted[1]} answers to ask for" in desk.text("/")
    assert f"Also to be asked {int(counted[1]) - 4} " in desk.text("/rules")


def test_an_answer_is_a_row_with_source_and_day_and_the_hold_is_gone(desk: Desk) -> None:
    before = (desk.folder / "rules.csv").read_bytes()
    answer = desk.post(card_of(desk, "Türkiye"), **ANSWER)
    assert answer.status_code == 200, said(answer)
    row = last_row(desk)
    assert (row["to"], row["verdict"], row["source"], row["checked_on"]) == (
        "TR",
        "open",
        "letter of the authority, no. 7",
        "2026-11-30",
    )
    assert (desk.folder / "rules.csv").read_bytes().startswith(before)
    assert desk.get("/rules").text.count("cannot go yet") == 3


def test_an_answer_written_in_place_counts_in_the_heading_above(desk: Desk) -> None:
    page = desk.text("/rules")
    assert "8 answers to ask for: 4 about rules, 4 more below." in page
    answer = desk.post(card_of(desk, "Türkiye"), more="4", **ANSWER)
    part = answer.text.partition('data-part="owed">')[2]
    assert part.startswith("7 answers to ask for: 3 about rules, 4 more below.")
    assert 'data-part="owed"' in desk.get("/rules").text
    assert 'name="more" value="4"' in desk.get("/rules").text


def test_a_stale_rule_looked_up_again_counts_from_today(desk: Desk) -> None:
    page = desk.get("/rules").text
    card = page[page.index("Poland") :]
    place, taxon = (
        re.search(rf'name="{name}"><option(?: value="([^"]*)")?>([^<]*)', card) for name in ("to", "taxon")
    )
    assert place
    assert taxon
    fields = {**ANSWER, "to": place[1] or place[2], "taxon": taxon[1] or taxon[2]}
    answer = desk.post(card_of(desk, "Poland"), **fields)
    assert answer.status_code == 200, said(answer)
    assert "Poland" not in desk.text("/rules").partition("All your rules")[0]


def test_an_answer_is_for_the_country_that_was_asked_about_and_not_for_all_of_its_zone(desk: Desk) -> None:
    """The form's own choice, taken as it stands, opened 26 countries on the word of one."""
    rules = desk.folder / "rules.csv"
    old = re.sub(r"(NEAR NORTH SOUTH,.*),2026-11-20,", r"\1,2025-11-20,", rules.read_text("utf-8"))
    rules.write_text(old, "utf-8")
    page = desk.get("/rules").text
    card = page[page.index(">Italy ") :]
    first = re.search(r'name="to"><option value="([^"]*)">([^<]*)', card)
    assert first
    assert first.groups() == ("IT", "Italy (IT)")
    fish = re.search(r'name="taxon"><option value="([^"]*)"', card)
    assert fish
    answer = desk.post(card_of(desk, "Italy"), **{**ANSWER, "to": "IT", "taxon": fish[1]})
    assert answer.status_code == 200, said(answer)
    waiting = desk.text("/rules").partition("All your rules")[0]
    assert "Italy" not in waiting
    assert "Netherlands" in waiting


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"source": "  "}, "say who answered"),
        ({"verdict": "yes"}, "open, papers, ask or closed"),
        ({"verdict": "papers"}, "name the papers"),
        ({"checked_on": "2026-12-01"}, "not a day to come"),
        ({"checked_on": ""}, "not a day to come"),
        ({"to": "DE"}, "choose the place"),
        ({"taxon": "Betta splendens"}, "choose the place and the fish"),
    ],
)
def test_an_answer_without_what_makes_it_one_is_not_written(
    desk: Desk, fields: dict[str, str], why: str
) -> None:
    before = (desk.folder / "rules.csv").read_bytes()
    answer = desk.post(card_of(desk, "Türkiye"), **{**ANSWER, **fields})
    assert (answer.status_code, why in said(answer)) == (422, True), said(answer)
    assert (desk.folder / "rules.csv").read_bytes() == before


def test_an_answer_is_not_written_twice_when_its_form_is_sent_twice(desk: Desk) -> None:
    card = card_of(desk, "Türkiye")
    desk.post(card, **ANSWER)
    after = (desk.folder / "rules.csv").read_bytes()
    assert desk.post(card, **ANSWER).status_code == 404
    assert (desk.folder / "rules.csv").read_bytes() == after
