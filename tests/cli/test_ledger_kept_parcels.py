"""What is kept stays in sight: overdue parcels, every line in the plan's account, numbers, arrivals."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pypdf
import pytest

from shipping.ledger import planning_again
from shipping.ledger.ledger import Ledger
from tests.cli.conftest import (
    FIRST,
    SECOND,
    TODAY,
    Spawnpost,
    done,
    edit,
    entries,
    parcel_of,
    partly_done,
    refused,
)

LATER = "2026-12-07"


def plan(spawnpost: Spawnpost, today: str = str(TODAY), *words: str) -> dict[str, Any]:
    return done(spawnpost("plan", "--json", *words, today=today)).facts


def lines_in(facts: dict[str, Any]) -> set[tuple[str, int]]:
    there = {(line["order"], line["line"]) for parcel in facts["parcels"] for line in parcel["lines"]}
    there |= {(line["order"], line["line"]) for line in facts["lines_out"]}
    return there | {(line["order"], line["line"]) for kept in facts["kept"] for line in kept["lines"]}


def codes(spawnpost: Spawnpost, today: str = str(TODAY)) -> list[str]:
    return [one["code"] for one in json.loads(spawnpost("check", "--json", today=today).out)["problems"]]


def test_a_plan_from_the_next_day_is_kept_and_packed_today(spawnpost: Spawnpost) -> None:
    """After the hour of hand-over nothing more leaves today."""
    assert "TODAY" not in done(spawnpost("plan", "--from", "Tuesday")).out
    facts = plan(spawnpost, str(TODAY), "--from", "2026-12-01", "--keep")
    assert min(parcel["dispatch_on"] for parcel in facts["parcels"]) == "2026-12-01"
    done(spawnpost("pack", facts["parcels"][0]["parcel"]))
    refused(spawnpost("plan", "--from", "29/11/2026"), "is past. Write 2026-11-30 or a later day.")


def test_a_week_later_what_was_kept_heads_plan_and_check(
    spawnpost: Spawnpost, monkeypatch: pytest.MonkeyPatch
) -> None:
    facts = plan(spawnpost, LATER)
    overdue = [kept["parcel"] for kept in facts["kept"] if kept["overdue"]]
    assert overdue == sorted(done(spawnpost("history", "--json")).facts["parcels"])
    told = f"Overdue: {len(overdue)} parcels were to go and are only planned. Pack them, or let them go:"
    head = done(spawnpost("plan", today=LATER)).out.splitlines()[:2]
    assert head == [told, f"  spawnpost drop {' '.join(overdue)}"]
    assert done(spawnpost("check", today=LATER)).out.splitlines()[:2] == head
    monkeypatch.setattr(planning_again, "FEW_OVERDUE", len(overdue))
    assert done(spawnpost("plan", today=LATER)).out.splitlines()[0] == (
        "Overdue: 2026-W49-01 was to go on Mon 30 Nov and is only planned. Pack it, or let it go:"
        " spawnpost drop 2026-W49-01."
    )
    checked = done(spawnpost("check", "--json", today=LATER)).facts["notices"]
    assert [notice["code"] for notice in checked].count("overdue-parcel") == len(overdue)
    assert done(spawnpost("check", today=LATER)).out.startswith("Overdue: 2026-W49-01 was to go on Mon")
    assert "Overdue" not in done(spawnpost("check")).out


def test_what_should_be_said_beside_a_plan_kept_is_said(spawnpost: Spawnpost, shelf: Path) -> None:
    done(spawnpost("drop", FIRST, today="2026-12-01"))
    shutil.rmtree(shelf / "ledger-copies")
    (shelf / "ledger-copies").write_text("in the way", encoding="utf-8")
    clock, copy = done(spawnpost("plan", "--keep", "--json")).facts["notes"]
    assert "is this clock right?" in clock
    assert "Today's copy could not be made" in copy


def test_a_plan_of_no_parcels_is_not_kept(spawnpost: Spawnpost, shelf: Path) -> None:
    before = entries(spawnpost)
    assert "Kept as entry" not in done(spawnpost("plan", "--week", "2027-W30", "--keep")).out
    assert entries(spawnpost) == before


def test_a_line_cancelled_by_its_day_stands_as_cancelled_until_it_was_handed_over(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    every = plan(spawnpost)["account"]
    done(spawnpost("pack", FIRST))
    done(spawnpost("send", FIRST))
    for order in ("D02", "D09", "D15"):
        edit(shelf, "orders", {"order": order}, cancelled_on="2026-11-30")
    account = plan(spawnpost)["account"]
    assert account["lines"] == every["lines"] == sum(account[stand] for stand in account if stand != "lines")
    assert (account["sent"], account["cancelled"]) == (2, 2)
    refused(spawnpost("why", "D09"), "Order 'D09' is cancelled.")


def test_of_an_order_that_went_it_is_told_what_became_of_it_and_what_is_open(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    done(spawnpost("pack", FIRST, SECOND))
    done(spawnpost("send", FIRST, SECOND))
    gone = done(spawnpost("why", "d02")).out.splitlines()
    assert gone[0] == f"D02:1 D02:2 in parcel {FIRST}: sent."
    assert [line for line in gone if line.startswith("  sent on 2026-11-30 by ")]
    assert gone[-1].startswith("  no report yet; expected ")
    later = "2026-12-05"
    back = done(spawnpost("arrive", FIRST, "--returned", today=later)).out
    assert f"Settle it with its buyer: spawnpost claim {FIRST}." in back
    told = done(spawnpost("why", "D02", today=later)).out.splitlines()
    assert told[0] == f"D02:1 D02:2 in parcel {FIRST}: returned."
    assert told[-1] == f"  not settled with the buyer yet: spawnpost claim {FIRST}"
    due = f"Not settled with the buyer yet: {FIRST} (returned). Facts and ways: spawnpost claim"
    assert due in done(spawnpost("plan", today=later)).out.splitlines()
    assert plan(spawnpost, later)["to_settle"] == [FIRST]
    for line in ("D02:1", "D02:2"):
        done(spawnpost("claim", FIRST, "--line", line, "--settle", "nothing", today=later))
    assert plan(spawnpost, later)["to_settle"] == []
    assert "not settled" not in done(spawnpost("why", "D02", today=later)).out
    with Ledger.open(shelf, TODAY) as ledger:
        came = ledger.parcel(SECOND).lines[0].order
    short = done(spawnpost("arrive", SECOND, "--alive", "19", today=later)).out
    assert f"Settle it with its buyer: spawnpost claim {SECOND}." in short
    done(spawnpost("undo", today=later))
    assert "Settle it" not in done(spawnpost("arrive", SECOND, "--alive", "20", today=later)).out
    assert "ordered: the promise was kept." in done(spawnpost("why", came, today=later)).out


def test_a_lot_that_lacks_held_eggs_is_told_until_the_week_is_planned_again(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    edit(shelf, "lots", {"lot": "ME-05"}, eggs="3")
    lacking = f"Lot ME-05 has 3 eggs left, and 18 are held for {FIRST}: 15 are lacking."
    assert lacking in " ".join(done(spawnpost("plan")).out.split())
    assert "are lacking" not in " ".join(done(spawnpost("plan", "--keep")).out.split())
    assert "are lacking" not in done(spawnpost("check")).out


def test_every_line_stands_once_in_every_plans_account(spawnpost: Spawnpost, shelf: Path) -> None:
    every = plan(spawnpost)["account"]["lines"]
    third, fourth, fifth = (parcel_of(shelf, order) for order in ("D05", "D36", "D23"))
    done(spawnpost("pack", FIRST, SECOND, third, fourth, fifth))
    done(spawnpost("send", FIRST, SECOND, third, fourth))
    done(spawnpost("arrive", SECOND, "--alive", "20", today="2026-12-02"))
    done(spawnpost("arrive", third, "--lost", today="2026-12-05"))
    done(spawnpost("arrive", fourth, "--returned", today="2026-12-05"))
    edit(shelf, "orders", {"order": "D08"}, order="D99")
    for today in (str(TODAY), LATER):
        account = plan(spawnpost, today)["account"]
        assert account.pop("lines") == sum(account.values())
        assert (account["sent"], account["arrived"], account["lost"], account["returned"]) == (2, 1, 1, 1)
        assert account["packed"] == 2
    assert account["cancelled"] == 1
    assert account["kept"] > 5
    assert sum(account.values()) == every + 1


def test_a_new_parcel_never_takes_a_number_that_was_used(spawnpost: Spawnpost, shelf: Path) -> None:
    was = {order: parcel_of(shelf, order) for order in ("D13", "D01")}
    last = max(parcel["parcel"] for parcel in plan(spawnpost)["parcels"])
    done(spawnpost("drop", was["D13"]))
    for order in was:
        edit(shelf, "orders", {"order": order}, not_before="2026-12-20")
    facts = plan(spawnpost, str(TODAY), "--keep")
    names = {parcel["parcel"]: tuple(parcel["orders"]) for parcel in facts["parcels"]}
    assert not names.keys() & set(was.values())
    assert names[FIRST] == ("D02",)
    edit(shelf, "orders", {"order": "D01"}, not_before="")
    again = {parcel["orders"][0]: parcel["parcel"] for parcel in plan(spawnpost)["parcels"]}
    assert again["D01"] > last


# --- a week that is over


def test_of_a_week_that_is_over_no_buyer_is_written_to(spawnpost: Spawnpost, shelf: Path) -> None:
    """The letters spoke of what "waits" and "is held" in a week that had passed."""
    later = "2026-12-08"
    told = done(spawnpost("papers", "--week", "2026-W49", today=later)).out
    assert "No letters are written: 2026-W49 is over." in told
    assert list((shelf / "papers" / "2026-W49").rglob("*.pdf"))
    assert not list((shelf / "papers").rglob("*.eml"))
    only = spawnpost("papers", "--week", "2026-W49", "--only", "notice", today=later)
    refused(only, "2026-W49 is over, and no letters are written for it.")


def test_of_a_week_that_is_over_and_has_no_parcel_left_nothing_is_written(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    for name in ("2026-W47", "2026-W48"):
        ran = spawnpost("papers", "--week", name, today="2026-12-08")
        refused(ran, f"{name} is over, and no parcel kept for it is still to be packed.")
        assert "Name a week that is not over: spawnpost papers --week 2026-W50." in ran.err
    assert not (shelf / "papers").exists()


# --- an order is its number


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"placed_on": "2026-11-29", "paid_on": "2026-11-29"}, "was placed on"),
        pytest.param({"addressee": "Per Dam"}, "another buyer", marks=pytest.mark.slow),
    ],
)
def test_an_order_whose_day_or_buyer_changed_is_held_until_that_is_answered(
    spawnpost: Spawnpost, shelf: Path, cells: dict[str, str], said: str
) -> None:
    edit(shelf, "orders", {"order": "D02"}, **cells)
    facts = plan(spawnpost)
    held = [line for line in facts["lines_out"] if line["order"] == "D02"]
    assert [(line["verdict"], line["reasons"][0]["code"]) for line in held] == [("hold", "same-number")] * 2
    assert said in held[0]["reasons"][0]["text"]
    refused(spawnpost("pack", FIRST), said)
    refused(spawnpost("why", "D02"), said)
    assert "same-number" in codes(spawnpost)
    assert f"Not printed: {FIRST}, which is kept. Order D02 was " in partly_done(spawnpost("papers")).out
    assert not list((shelf / "papers").rglob("*order-D02*"))
    done(spawnpost("check", "--take"))
    assert "Not printed" not in done(spawnpost("papers")).out
    assert entries(spawnpost)[-1]["kind"] == "order corrected"
    assert not [line for line in plan(spawnpost)["lines_out"] if line["order"] == "D02"]
    done(spawnpost("pack", FIRST))


def test_a_number_used_again_for_a_new_order_is_never_silent(spawnpost: Spawnpost, shelf: Path) -> None:
    done(spawnpost("pack", FIRST))
    done(spawnpost("send", FIRST))
    done(spawnpost("arrive", FIRST, "--alive", "D02:1=20,D02:2=15", today="2026-12-01"))
    edit(shelf, "orders", {"order": "D02"}, placed_on="2026-11-30", paid_on="2026-11-30", addressee="Per Dam")
    assert ("D02", 1) in lines_in(plan(spawnpost, LATER))
    assert plan(spawnpost, LATER)["account"]["arrived"] == 0


# --- a lot that was packed from


def test_a_lot_renamed_after_packing_is_not_sold_again(spawnpost: Spawnpost, shelf: Path) -> None:
    done(spawnpost("pack", parcel_of(shelf, "D04"), parcel_of(shelf, "D05")))
    for table in ("lots", "inspections"):
        edit(shelf, table, {"lot": "SC-07"}, lot="SC-77")
    assert "renamed" in codes(spawnpost)
    facts = plan(spawnpost)
    assert [lot["left"] for lot in facts["lots"] if lot["lot"] == "SC-77"] <= [0]
    edit(shelf, "lots", {"lot": "SC-77"}, note="was SC-07")
    assert "renamed" not in codes(spawnpost)
    facts = plan(spawnpost)
    with Ledger.open(shelf, TODAY) as ledger:
        packed = sum(sum(days.values()) for lot, days in ledger.packed_by_lot().items() if lot == "SC-07")
    assert [lot["eggs"] for lot in facts["lots"] if lot["lot"] == "SC-77"] == [56 - packed]


def test_a_lot_gone_while_its_parcels_are_open_is_a_problem(spawnpost: Spawnpost, shelf: Path) -> None:
    for path in (shelf / "lots.csv", shelf / "inspections.csv"):
        rows = path.read_text(encoding="utf-8").splitlines(keepends=True)
        path.write_text("".join(row for row in rows if not row.startswith("SC-07,")), encoding="utf-8")
    assert "lot-gone" in codes(spawnpost)
    refused(spawnpost("pack", parcel_of(shelf, "D04")), "lot SC-07 is not in your lots any more")


# --- the table of arrivals


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (["2026-W49-01,1,2026-12-01,40"], "had 23 eggs packed, but the report says 40 alive"),
        (["2026-W49-77,1,2026-12-01,20"], "no parcel '2026-W49-77' is kept"),
        (["2026-W49-01,9,2026-12-01,20"], "has no line 9"),
        (["2026-W49-02,1,2026-12-01,20"], "is only planned"),
        (["2026-W49-01,1,2026-11-30,20"], "but was sent on 2026-12-01"),
    ],
)
def test_the_table_of_arrivals_is_as_strict_as_a_report(
    spawnpost: Spawnpost, shelf: Path, rows: list[str], said: str
) -> None:
    done(spawnpost("pack", FIRST))
    done(spawnpost("send", FIRST, "--anyway", "The counter was shut.", today="2026-12-01"))
    (shelf / "arrivals.csv").write_text("\n".join(["parcel,line,arrived_on,alive", *rows]), encoding="utf-8")
    checked = spawnpost("check", "--json", today="2026-12-03")
    assert checked.code == 1
    assert [p["text"] for p in checked.facts["problems"] if p["code"] == "arrival" and said in p["text"]]
    assert said in spawnpost("learn", today="2026-12-03").err


SLIPS = ("papers", "--only", "slip", "--json")


def slip_of(shelf: Path, parcel: str = FIRST) -> str:
    """A slip's words, each a line's end or one blank apart."""
    path = shelf / "papers" / "2026-W49" / "parcels" / f"{parcel}-slip.pdf"
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(path).pages).split())


def test_papers_are_of_the_parcels_kept_and_what_a_new_plan_has_otherwise_is_said(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    """The eggs agree on kept plan, slip and ledger, whatever a plan of now would pack."""
    assert done(spawnpost(*SLIPS)).facts["not_as_kept"] == []
    before = slip_of(shelf)
    edit(shelf, "orders", {"order": "D02", "species": "floridae"}, eggs="30")
    (change,) = done(spawnpost(*SLIPS)).facts["not_as_kept"]
    assert change.startswith("D02 line 1: Mon 30 Nov by courier next day, 23 eggs -> ")
    assert slip_of(shelf) == before
    said = f"Printed as kept; planned anew it would be otherwise (plan --keep takes the new plan): {change}"
    assert said in done(spawnpost("papers", "--only", "slip")).out
    done(spawnpost("plan", "--keep"))
    assert done(spawnpost(*SLIPS)).facts["not_as_kept"] == []
    assert slip_of(shelf) != before


def test_a_plan_just_kept_prints_byte_for_byte_as_it_did_before_it_was_kept(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    """Every count, day, word and message is the plan's: the page and the command set kept parcels alike."""
    for each in shelf.glob("ledger*"):
        shutil.rmtree(each) if each.is_dir() else each.unlink()
    done(spawnpost("papers", "--json"))
    done(spawnpost("plan", "--keep"))
    facts = done(spawnpost("papers", "--json")).facts
    assert (facts["changed"], facts["new"], facts["removed"]) == ([], [], [])


def test_an_order_that_came_since_is_in_no_paper_until_the_plan_is_kept_anew(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    edit(shelf, "orders", {"order": "D13"}, paid_on="")
    done(spawnpost("plan", "--keep"))
    edit(shelf, "orders", {"order": "D13"}, paid_on="2026-11-28")
    facts = done(spawnpost(*SLIPS)).facts
    assert [one for one in facts["not_as_kept"] if one.startswith("D13 line 1: not in it -> ")]
    kept = {name for name, _ in done(spawnpost("history", "--json")).facts["parcels"].items()}
    assert {name.split("/")[-1][:11] for name in facts["files"] if name.endswith("slip.pdf")} == kept


def test_a_buyer_whose_kept_parcel_is_printed_is_not_told_that_his_order_is_held(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    edit(shelf, "orders", {"order": "D02"}, paid_on="")
    facts = done(spawnpost("papers", "--json")).facts
    assert [one for one in facts["not_as_kept"] if one.startswith("D02 line 1: ") and "not in it: " in one]
    assert f"mail/{FIRST}.eml" in facts["files"]
    week = pypdf.PdfReader(shelf / "papers/2026-W49/print/2026-W49-2026-11-30.pdf").pages[0].extract_text()
    assert "D03" in week
    assert "D02" not in week


def test_a_kept_parcel_of_a_cancelled_order_is_not_printed_and_the_others_are(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    edit(shelf, "orders", {"order": "D02", "species": "floridae"}, cancelled_on="2026-11-30")
    facts = partly_done(spawnpost(*SLIPS)).facts
    assert facts["not_printed"][FIRST].startswith("Line D02:1 was cancelled.")
    edit(shelf, "orders", {"order": "D02", "species": "floridae"}, cancelled_on="")
    edit(shelf, "orders", {"order": "D09"}, cancelled_on="2026-11-30")
    gone = "2026-W49-" + parcel_of(shelf, "D09")[-2:]
    facts = partly_done(spawnpost(*SLIPS)).facts
    (why,) = facts["not_printed"].values()
    assert [*facts["not_printed"]] == [gone]
    assert why.startswith(f"Order D09 of parcel {gone} is cancelled: it has no papers.")
    assert facts["files"]
    refused(spawnpost("papers", "--parcel", gone), f"order D09 of parcel {gone} is cancelled")


def test_a_kept_parcel_that_no_font_prints_is_left_out_and_the_others_are_printed(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    name = "2026-W49-" + parcel_of(shelf, "D09")[-2:]
    edit(shelf, "orders", {"order": "D09"}, delivery_1="人民路 1")
    facts = partly_done(spawnpost(*SLIPS)).facts
    assert [*facts["not_printed"]] == [name]
    assert "'人民路 1' has letters that cannot be printed" in facts["not_printed"][name]
    assert facts["files"]
    assert not any(name in file for file in facts["files"])
    refused(spawnpost("papers", "--parcel", name), "has letters that cannot be printed")


@pytest.mark.parametrize("column", ["addressee", "town"])
def test_an_order_left_out_whose_address_no_font_prints_gets_its_message_and_stops_no_paper(
    spawnpost: Spawnpost, shelf: Path, column: str
) -> None:
    """One such letter of an order that stays stopped the whole week's papers; a message takes any letter."""
    edit(shelf, "orders", {"order": "D12"}, **{column: "東京"})
    facts = done(spawnpost("papers", "--json")).facts
    assert "mail/2026-W49-order-D12.eml" in facts["files"]
    assert "print/2026-W49-2026-12-02.pdf" in facts["files"]


def test_an_order_left_out_whose_fish_no_font_prints_is_named_and_all_else_is_printed(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    """The week's sheet says why it stays."""
    edit(shelf, "orders", {"order": "D12"}, population="東京")
    facts = partly_done(spawnpost("papers", "--json")).facts
    assert "population: '東京' has letters that cannot be printed: 東 (U+6771)" in facts["not_printed"]["D12"]
    assert "print/2026-W49-2026-12-02.pdf" in facts["files"]
    assert "Not printed: D12. " in partly_done(spawnpost("--quiet", "papers")).out
    slips = done(spawnpost("papers", "--only", "slip")).out  # they name no order that stays
    assert "D12" not in slips
    assert "Customs data" not in slips
    assert "Customs data" in partly_done(spawnpost("papers")).out


def test_a_count_that_is_not_the_plans_says_how_papers_and_message_are_written_as_counted(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    said = f"say the eggs of the plan. Write them as counted: spawnpost papers --parcel {FIRST}"
    done(spawnpost("papers"))
    message = shelf / "papers" / "2026-W49" / "mail" / f"{FIRST}.eml"
    planned = message.read_text()
    assert said not in done(spawnpost("pack", FIRST, "--count", "D02:1=23")).out
    done(spawnpost("undo"))
    told = done(spawnpost("pack", FIRST, "--count", "D02:1=24")).out
    assert said in told
    assert "Planned were D02:1 23, D02:2 18." in told
    assert message.read_text() == planned  # the week's papers leave what is packed alone
    done(spawnpost("papers"))
    assert message.read_text() == planned
    facts = done(spawnpost("papers", "--parcel", FIRST, "--json")).facts
    assert facts["files"] == [f"mail/{FIRST}.eml", f"parcels/{FIRST}.pdf", "manifest.json"]
    assert message.read_text() != planned
    slip = pypdf.PdfReader(message.parent.parent / "parcels" / f"{FIRST}.pdf").pages[0].extract_text()
    assert "24" in slip
    assert "23" not in slip
    done(spawnpost("send", FIRST))  # and a parcel of a week that is past is found by its name
    for name in (FIRST, "1"):
        done(spawnpost("papers", "--parcel", name, "--only", "slip", today="2026-12-08"))


def test_only_what_goes_instead_is_said_to_go_in_place_of_what_was_ordered(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    """Who names no population gets what was ordered, whichever goes."""

    def slip(order: str) -> str:
        name = parcel_of(shelf, order)
        done(spawnpost("papers", "--only", "slip", "--parcel", name))
        (paper,) = shelf.rglob(f"*{name}*.pdf")
        return " ".join("".join(page.extract_text() for page in pypdf.PdfReader(paper).pages).split())

    edit(shelf, "orders", {"order": "D27"}, population="")
    assert "In place of" not in slip("D27")
    assert "À la place" in slip("D31")
