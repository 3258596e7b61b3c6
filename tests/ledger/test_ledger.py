"""What was kept, packed, sent and reported: told once, in turn, and never oversold."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from shipping.cli.typed_counts import counts_from_text, reports_from_text
from shipping.ledger.entries import EntryInWords, LineReport, Undone
from shipping.ledger.errors import LedgerError
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import LotCounts
from tests.ledger.desk import COUNTED, TODAY, draw, ledger_with_two_parcels, line, parcel, plan, two_parcels
from tests.ledger.invented import bought, shelf

ITEM = "RR473124829GB"


def test_a_kept_plan_holds_its_eggs_until_they_are_packed(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        assert ledger.held_by_lot() == {"L1": 47, "L2": 20, "L3": 16}
        assert ledger.packed_by_lot() == {}
        ledger.pack("2026-W49-01", counted=COUNTED)
        assert ledger.held_by_lot() == {"L1": 23, "L2": 20, "L3": 16}
        assert ledger.packed_by_lot() == {"L1": {TODAY: 24}}


def test_everything_is_there_again_when_the_ledger_is_opened_again(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01", on=date(2026, 11, 29), photo_sha256="0" * 64)
        ledger.send("2026-W49-01", item=ITEM)
    with Ledger.open(tmp_path, date(2026, 12, 3)) as ledger:
        ledger.arrive(
            "2026-W49-01", [LineReport(order="S10", line=1, alive=22, dead=2)], on=date(2026, 12, 2)
        )
    with Ledger.open(tmp_path, date(2026, 12, 4)) as ledger:
        kept = ledger.parcel("2026-W49-01")
        assert (kept.state, kept.packed_on, kept.sent_on, kept.item) == (
            "arrived",
            date(2026, 11, 29),
            TODAY,
            ITEM,
        )
        assert kept.service == "letter"
        assert kept.reports["S10", 1].living == 22
        assert kept.reported["S10", 1] == (date(2026, 12, 2), date(2026, 12, 3))
        assert ledger.parcel_states() == {"2026-W49-01": "arrived", "2026-W49-02": "planned"}


def test_the_plan_is_kept_whole_as_it_stood(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        assert ledger.plan_kept(1) == two_parcels()


@pytest.mark.parametrize(
    ("done", "again", "words"),
    [
        (["pack"], "pack", "is packed already"),
        (["pack", "send"], "send", "is sent already"),
        (["pack", "send"], "pack", "is sent already"),
        ([], "send", "is only planned. First record `spawnpost pack 2026-W49-01`"),
        (["pack"], "arrive", "is only packed. First record `spawnpost send 2026-W49-01`"),
        (["pack", "send", "arrive"], "arrive", "alive of S10:1 in parcel 2026-W49-01 was reported already"),
        (["pack"], "let go", "is packed already"),
    ],
)
def test_nothing_is_told_twice_or_out_of_turn(
    tmp_path: Path, done: list[str], again: str, words: str
) -> None:
    name = "2026-W49-01"
    with ledger_with_two_parcels(tmp_path) as ledger:
        steps = {
            "pack": lambda: ledger.pack(name),
            "send": lambda: ledger.send(name),
            "arrive": lambda: ledger.arrive(name, [LineReport(order="S10", line=1, alive=20)]),
            "let go": lambda: ledger.drop(name),
        }
        for step in done:
            steps[step]()
        before = ledger.entries()
        with pytest.raises(LedgerError, match=words):
            steps[again]()
        assert ledger.entries() == before


def test_an_unknown_parcel_is_refused_with_the_nearest_name(tmp_path: Path) -> None:
    with (
        ledger_with_two_parcels(tmp_path) as ledger,
        pytest.raises(LedgerError, match="Did you mean 2026-W49-0"),
    ):
        ledger.pack("2026-W48-01")


def test_packing_more_than_a_lot_holds_is_refused_with_its_figures(tmp_path: Path) -> None:
    counted = {**COUNTED, "L1": LotCounts(30, date(2026, 11, 28))}
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01", counted=counted)
        with pytest.raises(LedgerError) as trouble:
            ledger.pack("2026-W49-02", counted=counted)
        assert "lot L1 has 6 eggs left (30 counted on 2026-11-28, 24 packed since), but 23" in str(
            trouble.value
        )
        assert ledger.parcel("2026-W49-02").state == "planned"


def test_a_recount_on_the_packing_day_is_taken_after_what_was_packed_by_then(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01", counted=COUNTED)
        recounted = {**COUNTED, "L1": LotCounts(23, date(2026, 11, 30))}
        ledger.pack("2026-W49-02", counted=recounted)


def test_two_plans_cannot_hold_the_same_eggs(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        other = plan(parcel("2026-W50-01", "Ole Lund", line("S20", 1, 15, draw("L1", 18))), week="2026-W50")
        with pytest.raises(LedgerError, match=r"lot L1 has 60 eggs left .* but 65 are held or would be"):
            ledger.keep_plan(other, COUNTED)
        ledger.drop("2026-W49-01")
        ledger.keep_plan(other, COUNTED)
        assert ledger.held_by_lot()["L1"] == 41


def test_planning_a_week_again_replaces_what_was_not_packed_yet(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-02", counted=COUNTED)
        ledger.keep_plan(plan(parcel("2026-W49-03", "Ida Holm", line("S10", 1, 20, draw("L1", 26)))), COUNTED)
        assert ledger.parcel_states() == {"2026-W49-02": "packed", "2026-W49-03": "planned"}
        assert ledger.held_by_lot() == {"L1": 26}


def test_a_line_that_was_packed_cannot_be_planned_into_another_parcel(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01")
        with pytest.raises(LedgerError, match="line S10:1 is already in parcel 2026-W49-01"):
            ledger.keep_plan(
                plan(parcel("2026-W50-01", "Ida Holm", line("S10", 1, 20, draw("L1", 24))), week="2026-W50")
            )
        with pytest.raises(LedgerError, match="another parcel is already called 2026-W49-01"):
            ledger.keep_plan(plan(parcel("2026-W49-01", "Ole Lund", line("S12", 1, 20, draw("L1", 24)))))


def test_counts_typed_at_the_bench_take_the_place_of_the_plans(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        kept = ledger.parcel("2026-W49-02")
        counts = counts_from_text(["S11:1=25", "S11:2/L3=10"], kept)
        ledger.pack("2026-W49-02", counts, counted=COUNTED)
        assert {lot: days[TODAY] for lot, days in ledger.packed_by_lot().items()} == {
            "L1": 25,
            "L2": 20,
            "L3": 10,
        }


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("25", "does not say which line. Write S11:1=25."),
        ("S11:2=30", "does not say from which lot. Write S11:2/L2=.., S11:2/L3="),
        ("S11:1/L9=5", "names lot L9, which the plan does not use"),
        ("S12:1=5", "names no line of parcel 2026-W49-02"),
        ("S11:1=2.5", "does not end in a whole number of eggs"),
        ("S11:1=-3", "does not end in a whole number of eggs"),
        ("S11:1=5, S11:1/L1=6", "is a second count for the same line and lot"),
    ],
)
def test_a_count_that_cannot_be_read_says_what_to_write(tmp_path: Path, text: str, words: str) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger, pytest.raises(LedgerError) as trouble:
        counts_from_text(text, ledger.parcel("2026-W49-02"))
    assert words in str(trouble.value)


def test_a_report_may_come_in_parts_and_blank_is_not_zero(tmp_path: Path) -> None:
    name = "2026-W49-02"
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack(name)
        ledger.send(name)
        ledger.arrive(name, reports_from_text("alive", "S11:1=20", ledger.parcel(name)))
        ledger.arrive(
            name, [LineReport(order="S11", line=1, dead=3), LineReport(order="S11", line=2, alive=30)]
        )
        report = ledger.parcel(name).reports["S11", 1]
        assert (report.alive, report.dead, report.missing, report.hatched_alive) == (20, 3, None, None)


def test_a_report_of_more_eggs_than_were_packed_is_refused_whole(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01")
        ledger.send("2026-W49-01")
        with pytest.raises(
            LedgerError,
            match="S10:1 had 24 eggs packed, but the report says 23 alive \\+ 2 hatched alive = 25",
        ):
            ledger.arrive("2026-W49-01", [LineReport(order="S10", line=1, alive=23, hatched_alive=2)])
        assert ledger.parcel("2026-W49-01").state == "sent"


def test_days_run_forward_and_never_past_today(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        with pytest.raises(LedgerError, match="2026-12-01 is after today, 2026-11-30"):
            ledger.pack("2026-W49-01", on=date(2026, 12, 1))
        ledger.pack("2026-W49-01")
        with pytest.raises(LedgerError, match="was packed on 2026-11-30, after 2026-11-29"):
            ledger.send("2026-W49-01", on=date(2026, 11, 29))


def test_an_item_number_is_checked_and_used_once(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01")
        ledger.pack("2026-W49-02")
        with pytest.raises(LedgerError, match="check digit does not fit"):
            ledger.send("2026-W49-01", item="RR473124820GB")
        ledger.send("2026-W49-01", item=ITEM)
        with pytest.raises(LedgerError, match="RR473124829GB is on parcel 2026-W49-01 already"):
            ledger.send("2026-W49-02", item=ITEM)


def test_undo_takes_back_the_last_entry_and_gives_the_eggs_back(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01", counted=COUNTED)
        ledger.send("2026-W49-01")
        assert ledger.undo().body == Undone(entry=3)
        assert ledger.parcel("2026-W49-01").state == "packed"
        assert ledger.undo().body == Undone(entry=2)
        assert ledger.packed_by_lot() == {}
        assert ledger.held_by_lot()["L1"] == 47
        ledger.pack("2026-W49-01", counted=COUNTED)
        assert ledger.packed_by_lot() == {"L1": {TODAY: 24}}
    with Ledger.open(tmp_path, TODAY) as ledger:
        assert [told.undone for told in ledger.history()] == [False, True, True, False, False, False]
        assert ledger.parcel("2026-W49-01").state == "packed"


def test_an_earlier_entry_is_taken_back_only_if_nothing_rests_on_it(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01")
        ledger.pack("2026-W49-02")
        ledger.send("2026-W49-01")
        with pytest.raises(LedgerError, match="later entries rest on entry 2"):
            ledger.undo(2)
        ledger.undo(3)
        assert ledger.parcel_states() == {"2026-W49-01": "sent", "2026-W49-02": "planned"}
        with pytest.raises(LedgerError, match="no entry 3 that stands"):
            ledger.undo(3)


def test_undoing_a_plan_brings_back_the_one_before(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.keep_plan(plan(parcel("2026-W49-01", "Ida Holm", line("S10", 1, 20, draw("L1", 30)))))
        assert ledger.held_by_lot() == {"L1": 30}
        ledger.undo()
        assert ledger.held_by_lot() == {"L1": 47, "L2": 20, "L3": 16}
        ledger.undo()
        with pytest.raises(LedgerError, match="nothing to take back"):
            ledger.undo()


def test_the_history_tells_everything_without_names(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01")
        ledger.send("2026-W49-01", item=ITEM)
        ledger.arrive(
            "2026-W49-01", [LineReport(order="S10", line=1, alive=20, hatched_alive=1)], note="Ida was glad"
        )
        ledger.buy(bought(from_whom="Per Dam"), shelf())
        ledger.undo()
        texts = [told.text for told in ledger.history()]
    assert texts == [
        "kept the plan of 2026-W49: 2 parcels",
        "packed on 2026-11-30: S10:1 24 from L1",
        f"sent on 2026-11-30 by letter, item {ITEM}",
        "arrived on 2026-11-30: S10:1 20 alive, 1 hatched alive",
        "bought in lot L9 on 2026-11-30: 28 of 30 alive",
        "took back entry 5: bought in lot L9 on 2026-11-30: 28 of 30 alive",
    ]


def test_a_claim_is_opened_once_and_settled_once(tmp_path: Path) -> None:
    key = ("S10", 1)
    with ledger_with_two_parcels(tmp_path) as ledger:
        with pytest.raises(LedgerError, match="only planned"):
            ledger.open_claim("2026-W49-01", key, "short")
        ledger.pack("2026-W49-01")
        ledger.send("2026-W49-01")
        with pytest.raises(LedgerError, match="has no open claim"):
            ledger.settle_claim("2026-W49-01", key, "eggs again", eggs=5)
        ledger.open_claim("2026-W49-01", key, "lost")
        with pytest.raises(LedgerError, match="has an open claim already"):
            ledger.open_claim("2026-W49-01", key, "lost")
        ledger.settle_claim("2026-W49-01", key, "eggs again", eggs=20)
        assert len(ledger.parcel("2026-W49-01").claims) == 2


def test_what_is_no_plan_is_refused(tmp_path: Path) -> None:
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        with pytest.raises(LedgerError, match="this is not a plan"):
            ledger.keep_plan({"week": "2026-W49", "parcels": [{"parcel": "2026-W49-01"}]})
        assert ledger.entries() == ()


def test_a_parcel_finds_its_lines_by_order_and_number_and_names_those_it_has(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        kept = ledger.parcel("2026-W49-01")
    assert [kept.line(line.key) is line for line in kept.lines] == [True] * len(kept.lines)
    with pytest.raises(LedgerError, match="has no line S99:1"):
        kept.line(("S99", 1))


def test_what_concerns_no_parcel_says_none_in_json() -> None:
    told = EntryInWords(1, TODAY, "note", "", "Something.", False)
    assert told.as_json()["parcel"] is None
    assert replace(told, parcel="2026-W49-01").as_json()["parcel"] == "2026-W49-01"


@pytest.mark.parametrize("days", [-1, 0, 1])
def test_a_parcel_is_packed_on_no_day_before_its_plan_was_kept(tmp_path: Path, days: int) -> None:
    on = TODAY + timedelta(days=days)
    with ledger_with_two_parcels(tmp_path):
        pass
    with Ledger.open(tmp_path, TODAY + timedelta(days=1)) as ledger:
        if days < 0:
            with pytest.raises(LedgerError, match="was kept on 2026-11-30, after 2026-11-29"):
                ledger.pack("2026-W49-01", counted=COUNTED, on=on)
        else:
            ledger.pack("2026-W49-01", counted=COUNTED, on=on)
        assert ledger.parcel("2026-W49-01").packed_on == (None if days < 0 else on)
