"""The commands of the ledger on the demo week: what is recorded, what is refused and leaves no trace, what
plans see of it.
"""

from __future__ import annotations

import csv
import re
import shutil
from pathlib import Path

import pytest

from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import eggs_counted
from shipping.tables.reader import read_shelf
from tests.cli.conftest import DEMO, FIRST, SECOND, TODAY, Spawnpost, done, edit, entries, refused
from tests.ledger.whole import audit

#: Commands that need a ledger, each with arguments that would do.
NEEDING = (
    ("pack", FIRST),
    ("send", FIRST),
    ("arrive", FIRST, "--alive", "D02:1=20"),
    ("undo",),
    ("history",),
    ("copy", "copied.sqlite"),
    ("learn",),
)


def sent_first(spawnpost: Spawnpost) -> None:
    """The first parcel packed as planned and handed over."""
    done(spawnpost("pack", FIRST))
    done(spawnpost("send", FIRST, "--item", "RR473124829GB"))


# --- packing


def test_a_parcel_is_packed_with_the_counts_of_the_plan(spawnpost: Spawnpost) -> None:
    entry = done(spawnpost("pack", FIRST, "--json")).facts
    assert (entry["entry"], entry["day"], entry["kind"], entry["parcel"]) == (
        2,
        "2026-11-30",
        "packed",
        FIRST,
    )
    assert "D02:1 23 from FL-31, D02:2 18 from ME-05" in entry["text"]


def test_a_count_typed_stands_in_the_place_of_the_plans(spawnpost: Spawnpost) -> None:
    entry = done(spawnpost("pack", FIRST, "--count", "D02:1=25", "--json")).facts
    assert "D02:1 25 from FL-31, D02:2 18 from ME-05" in entry["text"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        # FL-31 was counted at 80 and nothing was packed from it since
        (("pack", FIRST, "--count", "D02:1=81"), "lot FL-31 has 80 eggs left"),
        (("pack", FIRST, "--count", "25"), "does not say which line"),
        (("pack", FIRST, "--count", "D02:1=2.5"), "does not end in a whole number of eggs"),
        (("pack", FIRST, "--on", "2026-12-01"), "is after today"),
        (("pack", "2026-W49-99"), "2026-W49-99"),
        (("send", FIRST), "it is only planned"),
        (("arrive", FIRST, "--alive", "D02:1=20"), FIRST),
        (("arrive", FIRST), "No count was given."),
        (("erase", "Nobody at All"), "nothing is held about 'Nobody at All'"),
    ],
)
def test_what_cannot_be_leaves_with_1_and_records_nothing(
    spawnpost: Spawnpost, words: tuple[str, ...], said: str
) -> None:
    refused(spawnpost(*words), said)
    assert [entry["kind"] for entry in entries(spawnpost)] == ["plan kept"]


def test_a_parcel_is_never_packed_twice(spawnpost: Spawnpost) -> None:
    done(spawnpost("pack", FIRST))
    refused(spawnpost("pack", FIRST), "it is packed already")
    assert [entry["kind"] for entry in entries(spawnpost)] == ["plan kept", "packed"]


# --- sending, arriving, taking back


def test_an_item_number_with_a_wrong_check_digit_is_refused_and_the_right_one_taken(
    spawnpost: Spawnpost,
) -> None:
    done(spawnpost("pack", FIRST))
    # UPU S10: 4 7 3 1 2 4 8 2 by 8 6 4 2 3 5 9 7 is 200, 200 mod 11 is 2, and 11 - 2 is the check digit 9
    wrong = spawnpost("send", FIRST, "--item", "RR473124828GB")
    assert (wrong.code, wrong.out, len(wrong.err.splitlines())) == (1, "", 1)
    assert len(entries(spawnpost)) == 2
    assert "item RR473124829GB" in done(spawnpost("send", FIRST, "--item", "RR 473 124 829 GB")).out
    assert done(spawnpost("history", "--json")).facts["parcels"][FIRST] == "sent"


def test_a_buyer_may_report_bit_by_bit_but_nothing_twice(spawnpost: Spawnpost) -> None:
    sent_first(spawnpost)
    first = done(spawnpost("arrive", FIRST, "--alive", "D02:1=21", today="2026-12-01")).out
    assert "D02:1 21 alive" in first
    done(spawnpost("arrive", FIRST, "--dead", "D02:1=2", "--alive", "D02:2=18", today="2026-12-02"))
    refused(spawnpost("arrive", FIRST, "--alive", "D02:1=22", today="2026-12-03"), "was reported already")
    assert [entry["kind"] for entry in entries(spawnpost)].count("arrived") == 2


def test_the_history_of_an_older_file_says_that_it_is_not_all(spawnpost: Spawnpost, shelf: Path) -> None:
    file = shelf / "ledger.sqlite"
    before = file.read_bytes()
    done(spawnpost("pack", "1"))
    assert "Note:" not in done(spawnpost("history")).out
    file.write_bytes(before)
    assert "its checksum knows 2: it is older" in done(spawnpost("history")).out
    (shelf / "orders.csv").write_text("order,placed_on,addressee,country,species,eggs\n", encoding="utf-8")
    refused(spawnpost("pack", "1"), "its checksum knows 2: it is older")


def test_undo_takes_back_the_last_entry_and_leaves_both_in_the_history(spawnpost: Spawnpost) -> None:
    sent_first(spawnpost)
    told = done(spawnpost("undo")).out
    assert f"took back entry 3: {FIRST} sent on 2026-11-30 by courier next day" in told
    assert [entry["undone"] for entry in entries(spawnpost)] == [False, False, True, False]
    assert done(spawnpost("history", "--json")).facts["parcels"][FIRST] == "packed"
    assert "(taken back)" in done(spawnpost("history")).out
    done(spawnpost("undo"))
    done(spawnpost("pack", FIRST))


# --- copies, and what names a person


def test_a_copy_opens_as_a_ledger_and_is_never_laid_over_a_file(
    spawnpost: Spawnpost, shelf: Path, tmp_path: Path
) -> None:
    done(spawnpost("pack", FIRST))
    told = entries(spawnpost)
    elsewhere = tmp_path / "elsewhere"
    shutil.copytree(DEMO, elsewhere)
    done(spawnpost("copy", elsewhere / "ledger.sqlite"))
    with Ledger.open(elsewhere, TODAY) as ledger:
        assert [entry.as_json() for entry in ledger.history()] == told
    assert spawnpost("copy", elsewhere / "ledger.sqlite").code == 1


def test_erasing_a_buyer_blanks_the_name_everywhere_and_the_ledger_is_still_whole(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    sent_first(spawnpost)
    with Ledger.open(shelf, TODAY) as ledger:
        name = next(
            parcel["addressee"] for parcel in ledger.plan_kept(1)["parcels"] if parcel["parcel"] == FIRST
        )
    erased = done(spawnpost("erase", name, "--json")).facts
    assert erased["parts"] >= 1
    assert erased["copies_left"] == []
    reading = read_shelf(shelf, TODAY)
    assert reading.shelf is not None
    with Ledger.open(shelf, TODAY) as ledger:
        assert audit(shelf, eggs_counted(reading.shelf)) == ()
        names = {parcel["parcel"]: parcel["addressee"] for parcel in ledger.plan_kept(1)["parcels"]}
        assert sum(count.eggs for count in ledger.parcel(FIRST).counts) == 41
    assert names[FIRST] == "(erased)"
    assert "(erased)" not in {other for parcel, other in names.items() if parcel != FIRST}
    held = [shelf / "ledger.sqlite", *(shelf / "ledger-copies").glob("*")]
    assert [path.name for path in held if name.encode() in path.read_bytes()] == []


def test_where_a_file_of_others_papers_goes_with_a_buyer_it_is_said_how_to_write_them_again(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    done(spawnpost("papers"))
    with Ledger.open(shelf, TODAY) as ledger:
        name = ledger.plan_kept(1)["parcels"][0]["addressee"]
    again = "Week 2026-W49: other buyers' papers of it went too; write them again: spawnpost papers --week"
    assert f"{again} 2026-W49." in " ".join(done(spawnpost("erase", name)).out.split())


# --- what forecasts and plans see


def test_a_forecast_has_packed_eggs_no_more_and_planned_ones_are_held(spawnpost: Spawnpost) -> None:
    def eggs_today() -> int:
        eggs = done(spawnpost("forecast", "FL-31", "--json")).facts["lots"][0]["eggs_today"]
        assert isinstance(eggs, int)
        return eggs

    held = eggs_today()
    done(spawnpost("pack", FIRST))
    assert eggs_today() == held
    done(spawnpost("undo"))
    done(spawnpost("undo"))  # the plan, too: nothing is held or packed any more
    assert eggs_today() == held + 23


def test_a_plan_leaves_out_what_is_packed_and_numbers_on(spawnpost: Spawnpost) -> None:
    kept = done(spawnpost("history", "--json")).facts["parcels"]
    done(spawnpost("pack", FIRST))
    plan = done(spawnpost("plan", "--json")).facts
    names = [parcel["parcel"] for parcel in plan["parcels"]]
    assert names == [f"2026-W49-{number:02d}" for number in range(2, len(kept) + 1)]
    assert "D02" not in {line["order"] for parcel in plan["parcels"] for line in parcel["lines"]}
    assert "D02" not in {line["order"] for line in plan["lines_out"]}
    assert [lot["drawn"] for lot in plan["lots"] if lot["lot"] == "FL-31"] in ([], [0])


def test_comparing_says_that_nothing_changes_where_nothing_does(spawnpost: Spawnpost) -> None:
    compared = done(spawnpost("plan", "--compare")).out
    assert compared.rstrip().endswith("Against the plan kept:\n  nothing changes.")


def test_comparing_says_what_a_kept_parcel_would_cost_and_weigh_by_tables_changed_since(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    edit(shelf, "postage", {"service": "express", "to": "DE ES FR IE NL SE"}, price="55.00")
    edit(shelf, "packings", {"heat_pack_g": "100"}, heat_pack_g="140")
    changed = "2026-W49-11: postage 38.00 -> 55.00, weight 2698 g -> 2738 g"
    assert changed in done(spawnpost("plan", "--compare")).out
    assert changed in spawnpost("papers").out
    assert "Otherwise than the plan kept for 2026-W49, which stands: " in done(spawnpost("plan")).out


def test_comparing_says_which_line_changes(spawnpost: Spawnpost, shelf: Path) -> None:
    with (shelf / "orders.csv").open(encoding="utf-8-sig", newline="") as file:
        reader = csv.DictReader(file)
        header, rows = list(reader.fieldnames or ()), list(reader)
    with (shelf / "orders.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, header)
        writer.writeheader()
        writer.writerows(row for row in rows if row["order"] != "D23")
    compared = done(spawnpost("plan", "--compare")).out.partition("Against the plan kept:")[2]
    assert "D23 line 1: " in compared
    assert "nothing changes" not in compared


# --- what it teaches


def test_learned_rates_are_added_under_what_stands_and_the_shelf_still_passes(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    sent_first(spawnpost)
    done(spawnpost("arrive", FIRST, "--alive", "D02:1=19", "--dead", "D02:1=4", today="2026-12-01"))
    before = (
        (shelf / "learned.csv").read_text(encoding="utf-8-sig") if (shelf / "learned.csv").exists() else ""
    )
    only_said = done(spawnpost("learn", "--score", "--json", today="2026-12-02")).facts
    assert (only_said["reported"], only_said["unreported"]) == (1, 1)
    assert only_said["score"]["all"]["n"] == 1
    assert ((shelf / "learned.csv").read_text(encoding="utf-8-sig") if before else "") == before
    handling = next(rate for rate in only_said["rates"] if rate["what"] == "loss_handling")
    assert handling["after"] > handling["before"], "4 of 23 dead is more than the table's losses"
    said = done(spawnpost("learn", "--keep", today="2026-12-02")).out
    assert "To take back what was kept last: spawnpost learn --back" in said
    after = (shelf / "learned.csv").read_text(encoding="utf-8-sig")
    assert after.startswith(before)
    rows = list(csv.DictReader(after.splitlines()))
    assert {row["basis"] for row in rows if row["from_day"] == "2026-12-02"} == {"learned"}
    assert done(spawnpost("check", "--json", today="2026-12-02")).facts["problems"] == []


def test_what_a_lesson_costs_the_orders_in_hand_is_said_before_it_is_kept(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    sent_first(spawnpost)
    done(spawnpost("arrive", FIRST, "--alive", "D02:1=2", "--alive", "D02:2=2", today="2026-12-01"))
    later, closed, more = (
        "2026-12-02",
        "Once kept, no longer go this week or next: ",
        "Once kept, need more eggs: ",
    )
    said = done(spawnpost("learn", today=later)).out
    assert said.index(closed) < said.index(more) < said.index("Lines told of")
    assert done(spawnpost("learn", "--keep", today=later)).out.startswith(said.partition("Values learned")[0])
    gone = said.partition(closed)[2].partition(".")[0].split(", ")
    order, eggs = re.findall(r"(D\d+)[^ ]* \(\d+ -> (\d+)\)", said.partition(more)[2])[0]
    kept = done(spawnpost("plan", "--json", today=later)).facts
    left_out = {line["order"] for line in kept["lines_out"]}
    assert {name for name in gone if " " not in name} <= left_out
    needed = [
        line["pack"] for parcel in kept["parcels"] for line in parcel["lines"] if line["order"] == order
    ]
    assert all(pack >= int(eggs) for pack in needed)
    assert "nothing changes by it" in done(spawnpost("learn", today=later)).out
    done(spawnpost("learn", "--back", today=later))
    assert closed in done(spawnpost("learn", today=later)).out


# --- without a ledger; for machines


@pytest.mark.parametrize("words", NEEDING, ids=lambda words: words[0])
def test_without_a_ledger_a_command_says_so_in_one_line(
    spawnpost: Spawnpost, shelf: Path, words: tuple[str, ...]
) -> None:
    shutil.rmtree(shelf)
    shutil.copytree(DEMO, shelf)
    refused(spawnpost(*words), "Keep a plan first")
    assert not (shelf / "ledger.sqlite").exists()


@pytest.mark.parametrize(
    "words", [("pack", SECOND), ("undo",), ("history",), ("learn", "--score")], ids=lambda words: words[0]
)
def test_with_json_nothing_but_one_object_stands_on_standard_output(
    spawnpost: Spawnpost, words: tuple[str, ...]
) -> None:
    assert done(spawnpost("--json", *words)).facts


def test_keeping_and_comparing_print_the_plan_alone_with_json(spawnpost: Spawnpost) -> None:
    plan = done(spawnpost("--json", "plan", "--keep", "--compare")).facts
    assert set(plan) >= {"week", "parcels", "proof"}
    assert plan["kept_as"] == 1
    assert [entry["kind"] for entry in entries(spawnpost)] == ["plan kept"]


def test_a_plan_kept_twice_with_nothing_changed_is_one_entry(spawnpost: Spawnpost, shelf: Path) -> None:
    said = done(spawnpost("plan", "--keep")).out
    assert "Nothing is written: this very plan is already kept as entry 1" in " ".join(said.split())
    edit(shelf, "orders", {"order": "D09"}, delivery_1="Other Road 2")
    assert "Kept as entry 2" in done(spawnpost("plan", "--keep")).out


def test_a_refusal_with_json_is_a_list_of_problems_alone(spawnpost: Spawnpost) -> None:
    found = spawnpost("--json", "send", FIRST)
    assert found.code == 1
    assert [problem["file"] for problem in found.facts["problems"]] == ["ledger.sqlite"]


def test_papers_of_a_packed_parcel_stay_as_they_are_and_its_name_is_not_given_away(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    printed = shelf / "papers" / "2026-W49"
    assert spawnpost("papers").code == 0
    mail = printed / "mail" / "2026-W49-03.eml"
    before = mail.read_bytes()
    every = {path.name: path.read_bytes() for path in (printed / "mail").iterdir()}
    assert spawnpost("pack", "2026-W49-03").code == 0
    again = spawnpost("--json", "papers", "--item", "2026-W49-04=RR473124829GB").facts
    assert mail.read_bytes() == before
    assert {"2026-W49-04", "mail/2026-W49-04.eml"} <= set(again["changed"])
    now = {path.name: path.read_bytes() for path in (printed / "mail").iterdir()}
    others = {name for name, text in every.items() if now[name] != text}
    assert {name for name in again["changed"] if name.startswith("mail/")} == {
        f"mail/{name}" for name in others
    }
    assert len(others) < len(every)
    assert "mail/2026-W49-03.eml" not in again["files"]
    assert again["new"] == []
    assert (again["removed"], again["packed"]) == ([], ["2026-W49-03"])
    assert (
        ", so not printed again: 2026-W49-03. As counted: spawnpost papers --parcel"
        in spawnpost("papers").out
    )


def test_a_packed_parcel_takes_its_place_in_the_limit_of_the_day(spawnpost: Spawnpost) -> None:
    assert spawnpost("pack", FIRST).code == 0
    assert spawnpost("--json", "plan", "--compare").facts["changes"] == ["nothing changes."]
