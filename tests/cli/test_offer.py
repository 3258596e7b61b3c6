"""What can still be sold, on the demo week: as a page, as JSON, as a spreadsheet and as a text to paste."""

from __future__ import annotations

import csv
import io
import json
import shutil
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from shipping.cli.app import main
from shipping.cli.print_offer import COLUMNS, offer_csv, offer_lines
from shipping.cli.terminal import Window
from shipping.questions.offer import Offers, offer
from shipping.questions.offer_text import offer_text
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from shipping.words.reasons import Reason, Verdict
from shipping.words.units import shipped_folder
from tests.cli.conftest import edit

DEMO = shipped_folder("demo_orders")
TODAY = date.fromisoformat((DEMO / "today.txt").read_text(encoding="utf-8").strip())


@dataclass(frozen=True)
class Ran:
    """The exit code and what was said."""

    code: int
    out: str
    err: str


Spawnpost = Callable[..., Ran]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(DEMO, tmp_path / "week")
    return tmp_path / "week"


@pytest.fixture
def spawnpost(folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Spawnpost:
    def run(*words: str) -> Ran:
        monkeypatch.setattr(
            sys, "argv", ["spawnpost", "--shelf", str(folder), "--today", TODAY.isoformat(), *words]
        )
        code = 0
        try:
            main()
        except SystemExit as left:
            code = left.code if isinstance(left.code, int) else 1
        said = capsys.readouterr()
        return Ran(code, said.out, said.err)

    return run


@cache
def demo() -> tuple[Shelf, Offers]:
    shelf = read_shelf(DEMO, TODAY).shelf
    assert shelf is not None
    return shelf, offer(shelf, make_plan(shelf, "2026-W49"))


def stamps(folder: Path) -> Mapping[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def row(species: str, population: str, country: str) -> dict[str, Any]:
    found = [
        one.as_json()
        for one in demo()[1].offers
        if (one.species, one.population) == (species, population) and country in one.countries
    ]
    assert len(found) == 1
    return found[0]


def test_the_json_has_its_keys_and_nothing_is_written(spawnpost: Spawnpost, folder: Path) -> None:
    before = stamps(folder)
    ran = spawnpost("offer", "--json")
    assert ran.code == 0
    facts = json.loads(ran.out)
    assert set(facts) >= {"today", "week", "note", "offers", "taken", "waiting"}
    keys = {
        "species",
        "population",
        "to",
        "eggs_free",
        "can_promise",
        "from",
        "until",
        "order_by",
        "expected",
        "verdict",
        "reasons",
    }
    assert all(set(one) >= keys for one in facts["offers"])
    assert facts == json.loads(json.dumps(demo()[1].as_json()))
    assert stamps(folder) == before


def test_what_is_doubtful_of_a_lot_on_offer_is_said_beside_every_offer(
    spawnpost: Spawnpost, folder: Path
) -> None:
    """A lot copied under another name doubles what the text for buyers promises."""
    lots = folder / "lots.csv"
    row = next(line for line in lots.read_text(encoding="utf-8").splitlines() if line.startswith("SO-02,"))
    with lots.open("a", encoding="utf-8") as table:
        table.write(f"{row.replace('SO-02', 'ZZ-99', 1)}\n")
    count = (
        "A good part of the last count is reckoned gone, of NI-06. Count again before you promise of them."
    )
    doubled = "'ZZ-99' has the fish, days and eggs of lot 'SO-02' on row 19."
    text, table_said = spawnpost("offer", "--text"), " ".join(spawnpost("offer").out.split())
    for doubt in (count, doubled):
        assert f"Look first: {doubt}" in text.err
        assert doubt not in text.out
        assert doubt in table_said


def test_what_an_answer_waits_for_is_said_once_for_all_places_of_one_rule() -> None:
    offers = demo()[1]
    facts = {"source": "Law 7", "checked_on": "2026-01-05", "verdict": "ask", "taxon": "*"}
    asked = [(Reason("stale-rule", "", facts | {"to": to}),) for to in ("AT", "BE")]
    asked.append((Reason("stale-rule", "", facts | {"to": "CH", "source": "Law 8"}),))
    fish = next(one for one in offers.offers if one.is_offered)
    held = tuple(replace(fish, verdict=Verdict.HOLD, reasons=reasons) for reasons in asked)
    said = [line for line in offer_lines(replace(offers, offers=held), Window(400)) if "Law" in line]
    assert [line.count("the rule for AT, BE was last looked up on 5 Jan 2026") for line in said] == [1, 0]
    assert "(Law 7), then: spawnpost rules --to COUNTRY --checked" in said[0]
    assert "(Law 8), then: spawnpost rules --to CH --checked" in said[1]


def test_every_population_stands_once_for_each_country() -> None:
    seen = [(one.species, one.population, country) for one in demo()[1].offers for country in one.countries]
    assert len(seen) == len(set(seen))
    assert {country for _, _, country in seen} >= {"DK", "DE", "PL", "IT", "GB", "CH", "TR", "AU", "JP", "US"}


def test_what_is_too_far_for_a_lot_is_offered_near_only() -> None:
    near, far = row("gardneri", "Akure", "DK"), row("gardneri", "Akure", "IT")
    assert near["verdict"] == "go"
    assert (far["verdict"], far["can_promise"]) == ("stop", 0)


def test_a_closed_country_is_never_offered_and_a_stale_rule_is_named() -> None:
    assert {one.verdict.value for one in demo()[1].offers if "AU" in one.countries} == {"stop"}
    poland = row("gardneri", "Akure", "PL")
    codes = [reason["code"] for reason in poland["reasons"]]
    # the breeder's own weather row says 2 C for Poland in December: that stops, whatever the rule would say
    assert (poland["verdict"], codes[0], poland["can_promise"]) == ("stop", "stale-rule", 0)
    assert "too-cold" in codes


def test_two_populations_are_two_offers() -> None:
    akure, jos = row("gardneri", "Akure", "DK"), row("gardneri", "Jos Plateau", "DK")
    # GJ-04 holds 45 eggs, of which the plan takes 25
    assert jos["eggs_free"] <= 20 < akure["eggs_free"]


def test_what_is_kept_back_or_in_hand_is_not_free() -> None:
    shelf, found = demo()
    taken = next(one for one in found.taken if one.species == "furzeri")
    assert taken.planned > 0
    assert (
        row("furzeri", "Gona Re Zhou", "DK")["eggs_free"]
        <= 200 - shelf.lot_by_name["FU-40"].keep_back - taken.all
    )


def test_lines_that_wait_stand_with_their_dates() -> None:
    found = {one.order: one for one in demo()[1].waiting}
    # the scheeli trio: 30 eggs at 4.25 fertile a day are 7 days, eyes 9 days later; Wednesday the 16th
    assert found["D06"].until == date(2026, 12, 16)
    plan_dates = {(out.order, out.line): out.until for out in make_plan(demo()[0], "2026-W49").lines_out}
    assert all(one.until == plan_dates[(one.order, one.line)] for one in found.values())


def test_the_page_says_that_rows_do_not_add_up_and_names_no_buyer(spawnpost: Spawnpost) -> None:
    said = "\n".join(offer_lines(demo()[1], Window()))
    assert "do not add up" in said
    assert "LINES THAT WAIT" in said
    assert "scheeli trio" in said
    assert not any(order.address.addressee in said for order in demo()[0].orders)


def test_unasked_the_page_names_what_is_offered_nowhere_and_how_to_ask_why(spawnpost: Spawnpost) -> None:
    said, asked = spawnpost("offer").out, spawnpost("offer", "--species", "chaperi").out
    assert "would hatch (" in asked
    assert "would hatch (" not in said
    assert "nowhere: chaperi Angona, " in said
    assert "offer --species chaperi" in said
    assert "LINES THAT WAIT" not in said
    assert "scheeli trio" in said


def test_the_text_counts_eggs_and_asks_to_ask() -> None:
    shelf, found = demo()
    said = "\n".join(offer_text(found, shelf.settings.sender))
    akure = row("gardneri", "Akure", "DK")
    assert f"Denmark: up to {akure['can_promise']} eggs in one order" in said
    for word in (
        "Live fish eggs, as of",
        "Their lots were counted between",
        "ask before you order",
        "law of your country",
        "Never release",
        "room@example.org",
    ):
        assert word in said
    assert "Poland" not in said
    assert "Australia" not in said


def test_the_text_names_a_country_once_for_each_fish() -> None:
    shelf, found = demo()
    for block in "\n".join(offer_text(found, shelf.settings.sender)).split("\n\n")[1:-1]:
        told = [line[2:].partition(": up to")[0] for line in block.splitlines() if ": up to" in line]
        countries = [country for line in told for country in line.split(", ")]
        assert countries
        assert len(countries) == len(set(countries)), block


def test_a_text_with_nothing_on_offer_speaks_of_no_lines_above(spawnpost: Spawnpost) -> None:
    said = spawnpost("offer", "--to", "NORTH", "--species", "floridae", "--text").out
    assert "Nothing can be promised" in said
    assert "line above" not in said


def test_the_spreadsheet_is_one_and_opens_anywhere(spawnpost: Spawnpost, tmp_path: Path) -> None:
    target = tmp_path / "offer.csv"
    assert spawnpost("offer", "--csv", str(target)).code == 0
    data = target.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    rows = list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))
    assert tuple(rows[0]) == COLUMNS
    assert [(one["species"], one["to"], int(one["can_promise"])) for one in rows] == [
        (one.species, one.to, one.can_promise) for one in demo()[1].offers
    ]
    assert spawnpost("offer", "--csv", str(target)).code == 0, "an older offer may be written over"


@pytest.mark.parametrize("name", ["=1+1", "+A1", "-x", "@SUM(A1)"])
def test_no_cell_is_taken_for_a_formula(name: str) -> None:
    found = demo()[1]
    odd = replace(found, offers=(replace(found.offers[0], population=name),))
    (cells,) = list(csv.DictReader(io.StringIO(offer_csv(odd).decode("utf-8-sig"))))
    assert cells["population"] == f"'{name}"


def test_a_table_is_never_written_over(spawnpost: Spawnpost, folder: Path) -> None:
    before = (folder / "orders.csv").read_bytes()
    ran = spawnpost("offer", "--csv", str(folder / "orders.csv"))
    assert (ran.code, "is no offer" in ran.err) == (1, True)
    assert (folder / "orders.csv").read_bytes() == before


def test_one_place_and_one_species_may_be_asked_for(spawnpost: Spawnpost) -> None:
    facts = json.loads(
        spawnpost("offer", "--json", "--to", "north", "--to", "DE", "--species", "gardneri").out
    )
    assert {one["species"] for one in facts["offers"]} == {"gardneri"}
    assert {one["to"] for one in facts["offers"]} == {"NORTH", "DE"}


def test_a_subdivision_is_asked_by_its_own_rules_and_warmth(spawnpost: Spawnpost, folder: Path) -> None:
    edit(folder, "services", {"service": "express"}, to="DE FR IE NL SE")
    (spain,) = json.loads(spawnpost("offer", "--json", "--to", "ES", "--species", "nigripinnis").out)[
        "offers"
    ]
    (canaries,) = json.loads(spawnpost("offer", "--json", "--to", "ES-CN", "--species", "nigripinnis").out)[
        "offers"
    ]
    assert (spain["verdict"], spain["regions"]) == ("go", ["ES-CN"])
    assert (canaries["verdict"], canaries["countries"]) == ("go", ["ES-CN"])
    # by the breeder's row parcels there feel 30 C in November: too hot until the seventh
    assert (spain["from"], canaries["from"]) == ("2026-12-02", "2026-12-07")


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("--to", "NOWHERE"), "neither a zone nor a country"),
        (("--species", "gardnerii"), "Did you mean gardneri?"),
    ],
)
def test_a_place_or_species_that_is_not_known_is_said(
    spawnpost: Spawnpost, words: tuple[str, ...], named: str
) -> None:
    ran = spawnpost("offer", *words)
    assert ran.code == 1
    assert named in ran.err


def test_kept_parcels_hold_their_eggs_and_what_is_free_stays_the_same(spawnpost: Spawnpost) -> None:
    before = json.loads(spawnpost("offer", "--json", "--to", "DK", "--species", "sophiae").out)
    assert spawnpost("plan", "--keep").code == 0
    after = json.loads(spawnpost("offer", "--json", "--to", "DK", "--species", "sophiae").out)
    planned = before["taken"][0]["planned"]
    assert (planned >= 20, before["taken"][0]["kept"]) == (True, 0)
    assert (after["taken"][0]["planned"], after["taken"][0]["kept"]) == (0, planned)
    # eggs held leave the lot to the egg, so that what is left may round up by one
    assert 0 <= after["offers"][0]["can_promise"] - before["offers"][0]["can_promise"] <= 1
    assert after["offers"][0]["from"] == before["offers"][0]["from"], "days that kept parcels fill stay full"
