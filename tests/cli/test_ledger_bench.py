"""The bench by commands: what is refused on the day, what is said, what can be let go and taken back."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from shipping.ledger.ledger import Ledger
from tests.cli.conftest import FIRST, SECOND, TODAY, Spawnpost, done, edit, entries, parcel_of, refused

LATER = "2026-12-07"

#: A reason to pack fewer than the promise needs.
SHORT = "he wrote that twelve will do"


def states(spawnpost: Spawnpost) -> dict[str, str]:
    found = done(spawnpost("history", "--json")).facts["parcels"]
    assert isinstance(found, dict)
    return found


# --- reckoned anew on the day


def test_a_parcel_whose_eggs_are_presumed_hatched_is_refused_a_week_later(spawnpost: Spawnpost) -> None:
    refused(spawnpost("pack", FIRST, today=LATER), "by 2026-12-07 it is presumed hatched")
    assert states(spawnpost)[FIRST] == "planned"


def test_a_reason_answers_the_clock_and_is_kept_with_the_entry(spawnpost: Spawnpost) -> None:
    words = ("pack", FIRST, "--anyway", "looked an hour ago, all whole")
    told = done(spawnpost(*words, today=LATER)).out
    assert "anyway, against too-old, would-hatch" in told
    assert states(spawnpost)[FIRST] == "packed"


def test_a_parcel_packed_in_time_is_not_sent_a_week_later_without_a_reason(spawnpost: Spawnpost) -> None:
    """Packed on its day it goes that day without a word; a week later its eggs are presumed hatched."""
    done(spawnpost("pack", FIRST))
    refused(spawnpost("send", FIRST, today=LATER), f"take its packing back: spawnpost undo {FIRST}; or")
    told = done(spawnpost("send", FIRST, "--anyway", "opened it: all whole", today=LATER)).out
    assert "sent on 2026-12-07 by courier next day; anyway, against too-old, would-hatch" in told
    done(spawnpost("undo", today=LATER))
    told = done(spawnpost("send", FIRST, "--on", "2026-11-30", today=LATER)).out
    assert "sent on 2026-11-30 by courier next day" in told
    assert "anyway" not in told


def test_a_parcel_handed_over_in_a_strike_is_recorded_and_the_day_asked_about(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    done(spawnpost("pack", FIRST))
    rows = "to,service,from,until,days,stopped,source\nDK,,2026-11-30,2026-11-30,,yes,strike\n"
    (shelf / "disruptions.csv").write_text(rows, encoding="utf-8")
    told = done(spawnpost("send", FIRST)).out
    assert "courier next day is not handed over on 2026-11-30; was it another day?" in told
    assert states(spawnpost)[FIRST] == "sent"


def test_a_parcel_that_would_hatch_on_the_way_is_sent_the_day_after_only_for_a_reason(
    spawnpost: Spawnpost,
) -> None:
    """Packed on Monday, 6 in 100 of its eggs would hatch from Tuesday on, where 1 may: never unasked."""
    done(spawnpost("pack", FIRST))
    refused(spawnpost("send", FIRST, today="2026-12-01"), "of lot FL-31 would hatch on the way")
    assert states(spawnpost)[FIRST] == "packed"
    told = done(spawnpost("send", FIRST, "--anyway", "the post is a street away", today="2026-12-01")).out
    assert "anyway, against would-hatch" in told


@pytest.mark.parametrize(("alive", "left"), [(57, 57), (55, 55), (59, None)])
def test_a_recount_just_after_packing_is_compared_with_what_was_left(
    spawnpost: Spawnpost, shelf: Path, alive: int, left: int | None
) -> None:
    """80 counted this morning, 23 packed: 57 can be left, and whoever finds more counts again."""
    done(spawnpost("pack", FIRST))
    with (shelf / "inspections.csv").open("a", encoding="utf-8") as file:
        file.write(f"FL-31,2026-11-30,,{alive},,,,\n")
    (use,) = (one for one in done(spawnpost("forecast", "FL-31", "--json")).facts["lots"])
    assert use["free"] == (left or 0)
    told = done(spawnpost("plan")).out
    assert ("more eggs were counted than can be there" in told) == (left is None)


def test_check_and_plan_know_what_was_packed(spawnpost: Spawnpost, shelf: Path) -> None:
    """80 counted, 23 packed: what is there a week later is 57, not 80."""
    done(spawnpost("pack", FIRST))
    told = done(spawnpost("plan")).out
    assert "; 1 parcel of it packed already" in " ".join(told.split())
    assert re.search(r"^lot +planned +packed +left", told, re.MULTILINE)
    assert re.search(r"^FL-31 +23 +57", told, re.MULTILINE)
    told = done(spawnpost("check", today="2026-12-04")).out
    assert re.search(r"Of lot FL-31 about \d+ of 57 eggs should", told)
    with (shelf / "inspections.csv").open("a", encoding="utf-8") as file:
        file.write("FL-31,2026-12-02,,50,,,,\n")
    told = done(spawnpost("check", today="2026-12-02")).out
    assert re.search(r"50 are \d fewer than reckoned \(5\d\) in lot 'FL-31'", told)


def test_what_has_gone_late_is_recorded_and_the_orders_own_last_day_only_said(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    done(spawnpost("pack", FIRST))
    edit(shelf, "orders", {"order": "D02"}, not_after="2026-12-01")
    told = done(spawnpost("send", FIRST, "--anyway", "it is gone", today="2026-12-01")).out
    assert "sent on 2026-12-01" in told
    assert "must be there by 2026-12-01" in told


@pytest.mark.parametrize(
    ("table", "where", "cells", "said"),
    [
        (
            "services",
            {"service": "courier next day"},
            {"live_eggs": "no"},
            "has not said yes to live fish eggs",
        ),
        ("orders", {"order": "D02"}, {"paid_on": ""}, "is not paid"),
        ("rules", {"to": "DK", "taxon": "*"}, {"verdict": "closed"}, "may not go"),
    ],
)
def test_no_reason_answers_an_operator_a_payment_or_a_rule(
    spawnpost: Spawnpost, shelf: Path, table: str, where: dict[str, str], cells: dict[str, str], said: str
) -> None:
    edit(shelf, table, where, **cells)
    refused(spawnpost("pack", FIRST, "--anyway", "I know better"), said)
    assert len(entries(spawnpost)) == 1


def test_a_mistake_in_the_row_of_another_order_does_not_close_the_bench(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    edit(shelf, "orders", {"order": "D09"}, eggs="a few")
    assert "'a few' is not a number" in spawnpost("check").out
    done(spawnpost("pack", FIRST))
    done(spawnpost("send", FIRST))


def test_check_says_that_an_older_ledger_was_put_back_and_holds_no_table_against_it(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    older = (shelf / "ledger.sqlite").read_bytes()
    done(spawnpost("pack", FIRST))
    (shelf / "ledger.sqlite").write_bytes(older)
    edit(shelf, "orders", {"order": "D02"}, order="D99")
    told = spawnpost("check").out
    assert "its last entry is 1, its checksum knows 2: it is older" in told
    assert "D02:1" not in told


def test_a_mistake_in_a_row_of_its_own_order_does(spawnpost: Spawnpost, shelf: Path) -> None:
    edit(shelf, "orders", {"order": "D02", "species": "mento"}, eggs="a few")
    refused(spawnpost("pack", FIRST), "'a few' is not a number")


def test_an_order_that_is_gone_from_the_table_is_not_packed(spawnpost: Spawnpost, shelf: Path) -> None:
    edit(shelf, "orders", {"order": "D02"}, order="D99")
    refused(spawnpost("pack", FIRST), "line D02:1 is not in your orders any more")


def test_a_count_raised_before_packing_is_what_the_parcel_was_packed_for(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    edit(shelf, "orders", {"order": "D02", "species": "floridae"}, eggs="22")
    done(spawnpost("pack", FIRST, "--count", "D02:1=24", "--anyway", SHORT))
    done(spawnpost("send", FIRST))
    done(spawnpost("arrive", FIRST, "--alive", "D02:1=21", today="2026-12-01"))
    (case,) = done(spawnpost("claim", "--json", today="2026-12-01")).facts["cases"]
    assert (case["line"], case["short_by"]) == (1, 1)
    assert "line D02:1" not in done(spawnpost("check", today="2026-12-01")).out
    edit(shelf, "orders", {"order": "D02", "species": "floridae"}, eggs="30")
    said = done(spawnpost("check", today="2026-12-01")).out
    assert f"line D02:1 asked for 22 eggs when {FIRST} was packed, and asks for 30 now" in said


def test_what_one_parcel_is_refused_keeps_no_other_back(spawnpost: Spawnpost) -> None:
    done(spawnpost("pack", FIRST, SECOND))
    done(spawnpost("send", FIRST))
    ran = spawnpost("send", FIRST, SECOND)
    assert (ran.code, f"{SECOND} sent on" in ran.out) == (1, True)
    assert f"parcel {FIRST} cannot be sent: it is sent already" in ran.err


def test_eggs_nobody_has_seen_eyes_of_are_packed_after_a_look_and_not_before(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    edit(shelf, "lots", {"lot": "FL-31"}, stage="fertile")
    told = spawnpost("pack", FIRST)
    refused(told, "Nobody has seen eyes in lot FL-31 yet")
    assert "are needed" not in told.err, "how many show eyes is seen, not reckoned"
    edit(shelf, "lots", {"lot": "FL-31"}, stage="eyed")
    done(spawnpost("pack", FIRST))


# --- sent on another day than planned


def test_a_parcel_sent_days_later_is_expected_from_the_day_it_went(spawnpost: Spawnpost) -> None:
    """Planned for Tuesday and expected by the 8th; it went on Monday, and is expected from there."""
    late = "2026-W49-07"
    done(spawnpost("pack", late, today="2026-12-01"))
    as_planned = done(spawnpost("send", late, "--json", today="2026-12-01")).facts
    assert "expected" not in as_planned["text"]
    assert "notes" not in as_planned
    done(spawnpost("undo", today="2026-12-01"))
    sent = done(spawnpost("send", late, "--json", today="2026-12-07")).facts
    assert "; expected 2026-12-14, by 2026-12-18 at the latest" in sent["text"]
    assert sent["notes"][0].startswith("Reckoned for 2026-12-07: expected 2026-12-14, by 2026-12-18")
    done(spawnpost("arrive", late, "--alive", "20", "--on", "2026-12-21", today="2026-12-21"))
    (case,) = done(spawnpost("claim", late, "--json", today="2026-12-21")).facts["cases"]
    ours = {fact["what"]: fact["ours"] for fact in case["facts"]}
    assert ours["arrived"] == "expected 2026-12-14, at the latest 2026-12-18 (95 %)"
    assert ours["days"] == "7 expected, 11 at the most (95 %)"


def test_undoing_a_late_sending_brings_the_planned_days_back(spawnpost: Spawnpost, shelf: Path) -> None:
    late = "2026-W49-07"

    def way() -> tuple[object, ...]:
        with Ledger.open(shelf, TODAY) as ledger:
            kept = ledger.parcel(late)
            draws = [(draw.h_per_egg, draw.v_per_egg) for line in kept.lines for draw in line.draws]
            return kept.reckoned_on, kept.p50, kept.p95, tuple(kept.chances.items()), draws

    done(spawnpost("pack", late, today="2026-12-01"))
    before = way()
    done(spawnpost("send", late, today="2026-12-07"))
    gone = way()
    assert gone[0] == date(2026, 12, 7)
    assert all(was != now for was, now in zip(before, gone, strict=True))
    done(spawnpost("undo", today="2026-12-07"))
    assert way() == before


# --- days, counts and services


@pytest.mark.parametrize("day", ["2026-11-29", "2026-10-01"])
def test_nothing_is_packed_before_its_plan_was_kept(spawnpost: Spawnpost, day: str) -> None:
    refused(spawnpost("pack", FIRST, "--on", day), f"was kept on 2026-11-30, after {day}")


def test_fewer_than_ordered_eggs_kept_back_and_eggs_held_for_others_are_said(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    few = ("pack", FIRST, "--count", "D02:1=12")
    refused(spawnpost(*few), f"too few of floridae in parcel {FIRST}: 0 % sure that 20 or more arrive alive")
    told = done(spawnpost(*few, "--anyway", SHORT, "--json")).facts
    assert [note for note in told["notes"] if note.startswith("D02, floridae: 12 packed of 20 ordered")]
    edit(shelf, "lots", {"lot": "AU-21"}, eggs="25", keep_back="10")
    notes = done(spawnpost("pack", parcel_of(shelf, "D09"), "--json")).facts["notes"]
    assert any("of it were to be kept back" in note for note in notes)
    assert any(f"are held for {parcel_of(shelf, 'D23')}: " in note for note in notes)


def test_more_eggs_than_the_tubes_planned_take_are_asked_about(spawnpost: Spawnpost) -> None:
    many = ("pack", FIRST, "--count", "D02:1=60")
    refused(spawnpost(*many), "eggs, not 60: for 60 eggs use ")
    done(spawnpost(*many, "--anyway", "several bags"))


def test_a_parcel_packed_short_is_claimed_and_scored_by_what_was_packed(spawnpost: Spawnpost) -> None:
    done(spawnpost("pack", FIRST, "--count", "D02:1=12", "--anyway", SHORT))
    assert "anyway, against short" in done(spawnpost("history")).out
    done(spawnpost("send", FIRST))
    done(spawnpost("arrive", FIRST, "--alive", "D02:1=12", today="2026-12-01"))
    assert "expected; 0 % for enough" in done(spawnpost("claim", FIRST, today="2026-12-01")).out
    score = done(spawnpost("learn", "--score", "--json", today="2026-12-02")).facts["score"]["all"]
    assert score["promised"] < 0.001


def test_a_service_that_is_none_is_refused_and_one_that_is_said_no_too(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    done(spawnpost("pack", FIRST))
    refused(spawnpost("send", FIRST, "--service", "quick lettre"), "'quick lettre' is no service to DK")
    edit(shelf, "services", {"service": "quick letter"}, live_eggs="ask")
    refused(spawnpost("send", FIRST, "--service", "quick letter"), "has not said yes")
    assert states(spawnpost)[FIRST] == "packed"


# --- letting go and taking back


def test_a_parcel_let_go_frees_its_eggs_and_lines(spawnpost: Spawnpost) -> None:
    told = done(spawnpost("drop", FIRST, SECOND, "--json")).facts["entries"]
    assert [entry["kind"] for entry in told] == ["let go", "let go"]
    plan = done(spawnpost("plan", "--week", "2026-W50", "--json")).facts
    there = {line["order"] for parcel in plan["parcels"] for line in parcel["lines"]}
    assert "D02" in there | {line["order"] for line in plan["lines_out"]}
    done(spawnpost("pack", "2026-W49-06"))
    refused(spawnpost("drop", "2026-W49-06"), "is packed already")


def test_any_entry_is_taken_back_by_number_or_parcel_where_nothing_rests_on_it(spawnpost: Spawnpost) -> None:
    done(spawnpost("pack", FIRST, SECOND))
    done(spawnpost("send", FIRST))
    done(spawnpost("arrive", FIRST, "--alive", "D02:1=2", today="2026-12-01"))
    refused(spawnpost("undo", "entry-4", today="2026-12-02"), "later entries rest on entry 4")
    assert "took back entry 5" in done(spawnpost("undo", FIRST, today="2026-12-02")).out
    assert "took back entry 3" in done(spawnpost("undo", SECOND, today="2026-12-02")).out
    done(spawnpost("arrive", FIRST, "--alive", "D02:1=20", "--on", "2026-12-01", today="2026-12-02"))
    arrivals = [entry for entry in entries(spawnpost) if entry["kind"] == "arrived"]
    assert [(entry["text"], entry["undone"]) for entry in arrivals] == [
        ("arrived on 2026-12-01: D02:1 2 alive", True),
        ("arrived on 2026-12-01: D02:1 20 alive", False),
    ]
    refused(spawnpost("undo", "2026-W49-09"), "there is no entry about parcel 2026-W49-09")


def test_a_number_that_is_an_entry_and_a_parcel_takes_nothing_back_until_it_says_which(
    spawnpost: Spawnpost,
) -> None:
    """Entry 2 is the packing of parcel 1, and parcel 2 was packed by entry 3."""
    done(spawnpost("pack", FIRST, SECOND))
    refused(spawnpost("undo", "2"), f"2 is an entry ({FIRST} packed on 2026-11-30: D02:1 23 from FL-31")
    refused(spawnpost("undo", "2"), f"Write entry-2 for the entry, {SECOND} for the parcel.")
    assert len(entries(spawnpost)) == 3
    assert "took back entry 2" in done(spawnpost("undo", "entry-2")).out
    refused(
        spawnpost("undo", "2"), "Write entry-2"
    )  # taken back already, it is no parcel's number all the more
    assert "took back entry 3" in done(spawnpost("undo", SECOND)).out


def test_a_number_that_only_one_of_them_has_needs_no_more_words(spawnpost: Spawnpost) -> None:
    done(spawnpost("pack", "2026-W49-16"))
    assert "took back entry 2" in done(spawnpost("undo", "16")).out
    for _ in range(7):
        done(spawnpost("pack", "2026-W49-16"))
        done(spawnpost("undo"))
    done(spawnpost("pack", "2026-W49-16"))
    done(spawnpost("send", "2026-W49-16"))
    assert "took back entry 19" in done(spawnpost("undo", "19")).out
    refused(spawnpost("undo", "99"), "there is no entry 99 that stands")


@pytest.mark.parametrize("how", ["lost", "returned"])
def test_a_parcel_lost_or_returned_ends_so_and_may_still_be_claimed(spawnpost: Spawnpost, how: str) -> None:
    refused(spawnpost("arrive", FIRST, f"--{how}"), "it is only planned")
    done(spawnpost("pack", FIRST))
    done(spawnpost("send", FIRST))
    refused(
        spawnpost("arrive", FIRST, f"--{how}", "--dead", "2"),
        {"lost": "One of counts, --lost", "returned": "only live eggs"}[how],
    )
    done(spawnpost("arrive", FIRST, f"--{how}", today="2026-12-09"))
    assert states(spawnpost)[FIRST] == how
    entries = len(done(spawnpost("history", "--json")).facts["entries"])
    twice = spawnpost("arrive", FIRST, f"--{how}", today="2026-12-10")
    refused(twice, f"cannot be reported: it is {how} already. Nothing was recorded twice")
    assert len(done(spawnpost("history", "--json")).facts["entries"]) == entries
    (case, *others) = done(spawnpost("claim", FIRST, "--json", today="2026-12-09")).facts["cases"]
    assert (case["about"], case["state"], case["eggs_due"]) == ([how], "new", 20)
    assert [other["about"] for other in others] == [[how]]
    done(spawnpost("claim", FIRST, "--line", "D02:1", "--settle", "send again", today="2026-12-09"))
    assert "D02-1-again" in done(spawnpost("plan", today="2026-12-09")).out


def whole(spawnpost: Spawnpost, lot: str, today: str) -> int:
    """Eggs of a lot before what is reckoned to die: what packings and returns leave of its count."""
    with_lots = done(spawnpost("forecast", lot, "--json", today=today)).facts["lots"]
    return int(with_lots[0]["eggs_today"])


def test_a_parcel_given_up_that_comes_after_all_is_not_sent_again_without_a_word(
    spawnpost: Spawnpost,
) -> None:
    lost = "2026-W49-07"
    done(spawnpost("pack", lost, today="2026-12-01"))
    done(spawnpost("send", lost, today="2026-12-01"))
    done(spawnpost("arrive", lost, "--lost", today="2026-12-20"))
    done(spawnpost("claim", lost, "--line", "D25:1", "--settle", "send again", today="2026-12-20"))
    told = done(spawnpost("arrive", lost, "--alive", "31", "--on", "2026-12-22", today="2026-12-22")).out
    assert "D25:1 came (31 alive), but eggs are to be sent again for it (30)" in told
    assert "spawnpost undo entry-6" in told
    assert "D25-1-again" in done(spawnpost("plan", today="2026-12-22")).out
    done(spawnpost("undo", "entry-6", today="2026-12-22"))
    assert "D25-1-again" not in done(spawnpost("plan", today="2026-12-22")).out


def test_eggs_that_come_back_alive_count_for_their_lot_again_once(spawnpost: Spawnpost) -> None:
    """36 of KO-11, which is kept damp, went; 30 came back alive, 10 of them are packed no more than once."""
    back = "2026-W49-07"
    done(spawnpost("pack", back, today="2026-12-01"))
    done(spawnpost("send", back, today="2026-12-01"))
    without = whole(spawnpost, "KO-11", "2026-12-09")
    refused(spawnpost("arrive", back, "--returned", "--alive", "37", today="2026-12-09"), "37 eggs of D25:1")
    told = done(spawnpost("arrive", back, "--returned", "--alive", "30", today="2026-12-09")).out
    assert "returned on 2026-12-09: 30 live eggs back into KO-11" in told
    assert "30 eggs count for lot KO-11 again" in told
    assert whole(spawnpost, "KO-11", "2026-12-09") == without + 30
    twice = spawnpost("arrive", back, "--returned", "--alive", "5", today="2026-12-09")
    refused(twice, "that came back are counted already")
    refused(spawnpost("arrive", back, "--alive", "5", today="2026-12-09"), "are counted already")
    done(spawnpost("undo", today="2026-12-09"))
    assert whole(spawnpost, "KO-11", "2026-12-09") == without


def test_a_lot_to_which_eggs_came_back_waits_for_a_look(shelf: Path, spawnpost: Spawnpost) -> None:
    """They were warmed or chilled on the way as no other egg of it was."""
    for step in ("pack", "send"):
        done(spawnpost(step, "2026-W49-07", today="2026-12-01"))
    done(spawnpost("arrive", "2026-W49-07", "--returned", "--alive", "30", today="2026-12-02"))
    unseen = spawnpost("pack", "2026-W49-08", today="2026-12-02")
    refused(unseen, "30 eggs came back to lot KO-11 on 2026-12-02, unseen since")
    lots = done(spawnpost("plan", "--json", today="2026-12-02")).facts["lots"]
    assert not any(lot["drawn"] for lot in lots if lot["lot"] == "KO-11")
    with (shelf / "inspections.csv").open("a", encoding="utf-8") as file:
        file.write("KO-11,2026-12-02,fertile,,,,\n")
    assert "came back" not in spawnpost("pack", "2026-W49-08", today="2026-12-02").out


def test_a_return_without_a_count_says_that_no_egg_counts_and_takes_the_count_later(
    spawnpost: Spawnpost,
) -> None:
    back = "2026-W49-07"
    done(spawnpost("pack", back, today="2026-12-01"))
    done(spawnpost("send", back, today="2026-12-01"))
    without = whole(spawnpost, "KO-11", "2026-12-09")
    assert "No egg of it counts" in done(spawnpost("arrive", back, "--returned", today="2026-12-09")).out
    assert whole(spawnpost, "KO-11", "2026-12-09") == without
    done(spawnpost("arrive", back, "--returned", "--alive", "12", today="2026-12-09"))
    assert whole(spawnpost, "KO-11", "2026-12-09") == without + 12


def test_a_return_is_not_taken_back_once_a_later_parcel_draws_on_its_lot(spawnpost: Spawnpost) -> None:
    back, later = "2026-W49-07", "2026-W49-08"
    done(spawnpost("pack", back, today="2026-12-01"))
    done(spawnpost("send", back, today="2026-12-01"))
    done(spawnpost("arrive", back, "--returned", "--alive", "30", today="2026-12-02"))
    done(spawnpost("pack", later, "--anyway", "looked", today="2026-12-02"))
    refused(spawnpost("undo", back, today="2026-12-02"), f"parcel {later} draws on lot KO-11")
    done(spawnpost("undo", later, today="2026-12-02"))
    done(spawnpost("undo", back, today="2026-12-02"))


def test_a_packing_taken_back_days_later_asks_for_a_count_by_the_lots_name(spawnpost: Spawnpost) -> None:
    done(spawnpost("pack", "2026-W49-07", today="2026-12-01"))
    told = done(spawnpost("undo", "2026-W49-07", today="2026-12-04")).out
    assert "36 eggs, packed on 2026-12-01, count for lot KO-11 again as if all lived" in told
    done(spawnpost("pack", "2026-W49-07", today="2026-12-04"))
    assert "as if all lived" not in done(spawnpost("undo", today="2026-12-04")).out


def test_a_clock_that_runs_backwards_is_said(spawnpost: Spawnpost) -> None:
    done(spawnpost("pack", FIRST, "--anyway", "looked", today="2026-12-02"))
    told = done(spawnpost("pack", SECOND, "--json")).facts
    assert told["notes"] == [
        "Today is 2026-11-30, but the ledger has an entry of 2026-12-02: is this clock right?"
    ]


def test_an_address_changed_after_packing_is_told_until_the_parcel_is_packed_again(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    done(spawnpost("pack", FIRST))
    moved = f"the address of order D02 was changed after {FIRST} was packed"
    assert moved not in done(spawnpost("check", "--ledger")).out
    edit(shelf, "orders", {"order": "D02"}, delivery_1="Vestergade 7")
    assert moved in done(spawnpost("check", "--ledger")).out
    refused(spawnpost("send", FIRST), moved)
    assert states(spawnpost)[FIRST] == "packed"
    assert moved in done(spawnpost("send", FIRST, "--anyway", "I wrote the new label by hand.")).out
    done(spawnpost("undo"))
    done(spawnpost("undo"))
    done(spawnpost("pack", FIRST))
    assert moved not in done(spawnpost("check", "--ledger")).out


def test_a_name_taken_as_corrected_is_told_of_every_label_that_has_the_old_one(
    spawnpost: Spawnpost, shelf: Path
) -> None:
    """Kept, then packed: the name that `check --take` takes over is on no label printed before."""
    kept = f"the name on order D02 was changed after {FIRST} was kept"
    packed = f"the name on order D02 was changed after {FIRST} was packed"
    edit(shelf, "orders", {"order": "D02"}, addressee="Birgitte Brookline")
    assert kept not in spawnpost("check").out  # it is still asked whether it is the same order
    told = done(spawnpost("check", "--take")).out
    assert kept in told
    assert "print its papers anew before you pack it" in told
    assert kept in done(spawnpost("pack", FIRST)).out
    told = done(spawnpost("check")).out
    assert kept not in told
    assert packed not in told
    edit(shelf, "orders", {"order": "D02"}, addressee="Birgitte Meadowline")
    assert packed in done(spawnpost("check", "--take")).out
    edit(shelf, "orders", {"order": "D02"}, placed_on="2026-11-16")
    done(spawnpost("check", "--take"))
    refused(spawnpost("send", FIRST), packed)


def test_an_address_changed_before_packing_is_told_too(spawnpost: Spawnpost, shelf: Path) -> None:
    edit(shelf, "orders", {"order": "D02"}, delivery_1="Vestergade 7")
    kept = f"the address of order D02 was changed after {FIRST} was kept"
    assert kept in done(spawnpost("check")).out
    assert kept in done(spawnpost("pack", FIRST)).out
    assert "the address of order D02" not in done(spawnpost("check")).out


def test_an_unknown_parcel_among_several_stops_all_of_them(spawnpost: Spawnpost) -> None:
    refused(spawnpost("pack", FIRST, "2026-W49-77"), "no parcel '2026-W49-77' is kept")
    assert len(entries(spawnpost)) == 1


def test_a_report_is_answered_with_what_it_means_for_the_promise(spawnpost: Spawnpost) -> None:
    """In the words of the page: short by how many, and how many were not told of."""
    for step in ("pack", "send"):
        done(spawnpost(step, "2026-W49-07", today="2026-12-01"))
    told = done(spawnpost("arrive", "2026-W49-07", "--alive", "25", "--dead", "4", today="2026-12-09")).out
    assert re.search(
        r"D25:1: 25 of 36 alive, about \d+ expected, 30 ordered: 5 short of the promise\. Nothing was told of"
        r" the other 7\.",
        " ".join(told.split()),
    )
