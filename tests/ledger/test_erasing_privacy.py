"""A buyer's personal data can be erased, here and in the copies; the counts and the chain stay."""

from __future__ import annotations

import copy
from datetime import timedelta
from pathlib import Path

import pytest

from shipping.ledger.entries import LineReport
from shipping.ledger.erasing import erase_buyer
from shipping.ledger.errors import LEDGER_FILE, LedgerError
from shipping.ledger.journal.personal import BLANK, Wanted, erase_in, with_names, without_names
from shipping.ledger.journal.store import Store
from shipping.ledger.ledger import Ledger
from tests.ledger.desk import TODAY, ledger_with_two_parcels, two_parcels
from tests.ledger.whole import audit

ITEM = "RR473124829GB"
LATER = TODAY + timedelta(days=9)


def a_reported_parcel(folder: Path) -> None:
    with ledger_with_two_parcels(folder) as ledger:
        ledger.pack("2026-W49-02")
    with Ledger.open(folder, TODAY + timedelta(days=1)) as ledger:
        ledger.send("2026-W49-02", item=ITEM)
    with Ledger.open(folder, TODAY + timedelta(days=3)) as ledger:
        ledger.arrive(
            "2026-W49-02", [LineReport(order="S11", line=1, alive=20)], note="rang at Skovvej 9, was out"
        )
        ledger.open_claim("2026-W49-02", ("S11", 1), "late", note="will write to Skovvej 9")


def everything_written(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def test_no_trace_of_an_erased_buyer_is_left_in_ledger_or_copies(tmp_path: Path) -> None:
    a_reported_parcel(tmp_path)
    traces = ["Bøgh-Åkesson", "bøgh-åkesson", ITEM, "Skovvej"]
    assert all(trace.encode() in everything_written(tmp_path) for trace in traces)
    gone = erase_buyer(tmp_path, LATER, "  jørn BØGH-Åkesson ")
    assert gone.parts == 4
    assert gone.copies == ["2026-11-30.sqlite.gz", "2026-12-01.sqlite.gz", "2026-12-03.sqlite"]
    assert (gone.copies_left, gone.papers_left, gone.left) == ([], [], [])
    assert not [trace for trace in traces if trace.encode() in everything_written(tmp_path)]
    assert audit(tmp_path) == ()


def test_what_was_erased_in_the_ledger_is_erased_in_an_older_copy_whoever_is_asked_for(
    tmp_path: Path,
) -> None:
    a_reported_parcel(tmp_path)
    with Store.of_copy(tmp_path / LEDGER_FILE) as store:
        first = store.persons()[0]
        gone = [(first.seq, first.part)]
        assert not erase_in(store, Wanted.of("Per Dam", ()), ())
        assert erase_in(store, Wanted.of("Per Dam", ()), gone)
        assert [(one.seq, one.part) for one in store.persons() if one.is_erased] == gone
        assert not erase_in(store, Wanted.of("Per Dam", ()), gone), "that was done"


def test_counts_stay_when_a_buyer_is_erased_and_others_keep_their_names(tmp_path: Path) -> None:
    a_reported_parcel(tmp_path)
    with Ledger.open(tmp_path, LATER) as ledger:
        packed = ledger.packed_by_lot()
    erase_buyer(tmp_path, LATER, "Jørn Bøgh-Åkesson")
    with Ledger.open(tmp_path, LATER) as ledger:
        assert ledger.packed_by_lot() == packed
        assert ledger.parcel("2026-W49-02").reports["S11", 1].alive == 20
        assert [one["addressee"] for one in ledger.plan_kept(1)["parcels"]] == ["Ida Holm", "(erased)"]
        ledger.arrive(
            "2026-W49-02", [LineReport(order="S11", line=2, alive=33)], on=TODAY + timedelta(days=4)
        )
        assert audit(ledger.folder) == ()


def test_erasing_again_finds_nothing_and_undo_does_not_bring_it_back(tmp_path: Path) -> None:
    a_reported_parcel(tmp_path)
    erase_buyer(tmp_path, LATER, "Jørn Bøgh-Åkesson")
    with pytest.raises(LedgerError, match="nothing is held about 'Jørn Bøgh-Åkesson'"):
        erase_buyer(tmp_path, LATER, "Jørn Bøgh-Åkesson")
    with Ledger.open(tmp_path, LATER) as ledger:
        with pytest.raises(LedgerError, match="which cannot be brought back"):
            ledger.undo()
        ledger.undo(entry=5)
        assert ledger.parcel("2026-W49-02").claims == ()
        assert audit(ledger.folder) == ()


def test_what_is_noted_after_erasing_can_be_erased_by_the_parcels_name(tmp_path: Path) -> None:
    a_reported_parcel(tmp_path)
    erase_buyer(tmp_path, LATER, "Jørn Bøgh-Åkesson")
    with Ledger.open(tmp_path, LATER) as ledger:
        ledger.settle_claim("2026-W49-02", ("S11", 1), "neither", note="spoke to Jørn again")
    assert erase_buyer(tmp_path, LATER, "2026-w49-02").parts == 1
    assert "Jørn".encode() not in everything_written(tmp_path)


def test_a_copy_that_still_holds_what_was_erased_is_noticed_and_cleaned_later(tmp_path: Path) -> None:
    a_reported_parcel(tmp_path)
    kept_copy = tmp_path / "ledger-copies" / "2026-12-01.sqlite.gz"
    before = kept_copy.read_bytes()
    erase_buyer(tmp_path, LATER, "Jørn Bøgh-Åkesson")
    kept_copy.write_bytes(before)
    (problem,) = audit(tmp_path)
    assert "still holds personal data that was erased" in problem.text
    assert erase_buyer(tmp_path, LATER, "Jørn Bøgh-Åkesson").copies == ["2026-12-01.sqlite.gz"]
    assert audit(tmp_path) == ()


def test_an_open_ledger_forgets_what_another_window_erased(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path), Ledger.open(tmp_path, TODAY) as other:
        assert other.parcel("2026-W49-01").buyer == "Ida Holm"
        erase_buyer(tmp_path, TODAY, "Ida Holm")
        assert other.parcel("2026-W49-01").buyer == ""
        other.pack("2026-W49-01")
        assert audit(other.folder) == ()


def test_names_in_reasons_are_kept_apart_too_but_keys_are_not_touched() -> None:
    plan = two_parcels()
    plan["parcels"][0]["addressee"] = "gardneri"
    plan["parcels"][0]["lines"][0]["reasons"] = [
        {
            "code": "chosen",
            "text": "Joined for gardneri, not gardneris.",
            "facts": {"who": "gardneri"},
            "source": "",
        }
    ]
    asked = copy.deepcopy(plan)
    blanked, names = without_names(plan)
    line = blanked["parcels"][0]["lines"][0]
    assert line["species"] == "gardneri"
    assert line["reasons"][0]["text"] == f"Joined for {BLANK}, not gardneris."
    assert line["reasons"][0]["facts"] == {"who": BLANK}
    assert plan == asked
    assert with_names(blanked, names) == plan
