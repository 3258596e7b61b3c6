"""Counts in the order of days: what a count still holds, whichever of count and packing came first."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from shipping.ledger.errors import LedgerError
from shipping.ledger.lot_counts import (
    CountBefore,
    LotCounts,
    PackedEggs,
    check_counts,
    eggs_counted,
    name_now,
    packed_as_counted,
    packed_between_counts,
    packings_by_name,
)
from shipping.tables.rows.lots import Look
from tests.ledger.invented import TODAY, lot, shelf

COUNT_DAY = date(2026, 11, 14)
YESTERDAY = TODAY - timedelta(days=1)


def counted(
    *looks: Look, eggs: int = 60, note: str = "", counted_on: date = COUNT_DAY
) -> dict[str, LotCounts]:
    row = lot(eggs=eggs, note=note, keep_back=5, counted_on=counted_on)
    return eggs_counted(shelf(lots=(row,), looks=looks))


def look(on: date, alive: int | None = None, before: str | None = None, **cells: int) -> Look:
    return Look(lot="L1", on=on, alive=alive, before_packing=before, **cells)


def test_a_lot_holds_its_last_count_less_what_looks_saw_go_and_what_was_packed_since() -> None:
    found = counted(look(date(2026, 11, 20), 50), look(date(2026, 11, 25), removed=3, hatched=1))["L1"]
    assert (found.eggs, found.counted_on, found.keep_back) == (46, date(2026, 11, 20), 5)
    assert found.left([PackedEggs(date(2026, 11, 19), 9), PackedEggs(date(2026, 11, 21), 10)]) == 36


def test_nothing_is_packed_on_a_day_before_the_first_count() -> None:
    with pytest.raises(LedgerError, match="lot L1 was first counted on 2026-11-14, after 2026-11-13"):
        check_counts("L1", 5, {}, counted(), date(2026, 11, 13))


def test_a_packing_dated_before_a_recount_must_fit_between_the_two_counts() -> None:
    """60 counted, 36 found later: 24 can have gone between, by packing or by loss, and no more."""
    lots = counted(look(TODAY, 36))
    check_counts("L1", 24, {}, lots, YESTERDAY)
    with pytest.raises(LedgerError, match="25 eggs of lot L1 packed on 2026-11-29 do not fit"):
        check_counts("L1", 25, {}, lots, YESTERDAY)
    gone = {"L1": [PackedEggs(YESTERDAY, 20, COUNT_DAY)]}
    with pytest.raises(LedgerError, match="do not fit"):
        check_counts("L1", 5, gone, lots, YESTERDAY)


def test_a_recount_on_the_packing_day_holds_what_it_says_for_what_is_packed_after_it() -> None:
    """60 counted, 40 packed, 20 counted again the same day, 20 more packed: none is left."""
    packed = {"L1": [PackedEggs(TODAY, 40, COUNT_DAY)]}
    lots = counted(look(TODAY, 20))
    check_counts("L1", 20, packed, lots, TODAY)
    packed["L1"].append(lots["L1"].packing(TODAY, 20))
    assert lots["L1"].left(packed["L1"]) == 0
    with pytest.raises(LedgerError, match="has 0 eggs left"):
        check_counts("L1", 1, packed, lots, TODAY)


def test_a_recount_on_the_day_of_the_first_count_comes_after_the_parcels_packed_by_then() -> None:
    """60 counted today, 40 packed, 20 counted again today, 15 more packed: 5 are left, and no count of it
    depends on the day alone.
    """
    packed = {"L1": [counted(counted_on=TODAY)["L1"].packing(TODAY, 40)]}
    lots = counted(look(TODAY, 20), counted_on=TODAY)
    assert lots["L1"].left(packed["L1"]) == 20
    packed["L1"].append(lots["L1"].packing(TODAY, 15))
    assert lots["L1"].left(packed["L1"]) == 5
    with pytest.raises(LedgerError, match="has 5 eggs left"):
        check_counts("L1", 6, packed, lots, TODAY)
    assert packed_as_counted(packed, lots) == {"L1": {YESTERDAY: 40, TODAY: 15}}
    assert packed_between_counts(packed, lots) == {"L1": 40}


def test_counts_are_numbered_from_one_within_their_day_as_kept_entries_name_them() -> None:
    earlier = (CountBefore(COUNT_DAY, None, 0), CountBefore(COUNT_DAY, None, 0))
    counts = LotCounts(60, YESTERDAY, earlier=earlier).all_counts
    assert [(count.on, count.nth) for count in counts] == [(COUNT_DAY, 1), (COUNT_DAY, 2), (YESTERDAY, 1)]
    assert counts[0].is_before(PackedEggs(COUNT_DAY, 5, COUNT_DAY, 1))
    assert not counts[1].is_before(PackedEggs(COUNT_DAY, 5, COUNT_DAY, 1))


def test_an_older_entry_that_does_not_say_which_count_of_the_day_it_knew_is_taken_off_the_last() -> None:
    lots = counted(look(TODAY, 50), counted_on=TODAY)
    assert lots["L1"].left([PackedEggs(TODAY, 40, TODAY)]) == 10


def test_a_count_before_packing_is_taken_before_all_of_that_days_parcels() -> None:
    packed = {"L1": [PackedEggs(TODAY, 40, COUNT_DAY)]}
    lots = counted(look(TODAY, 58, "yes"))
    assert lots["L1"].left(packed["L1"]) == 18
    with pytest.raises(LedgerError, match="has 18 eggs left"):
        check_counts("L1", 19, packed, lots, TODAY)


def test_a_count_after_packing_holds_nothing_for_the_parcels_of_its_day() -> None:
    lots = counted(look(TODAY, 30, "no"))
    check_counts("L1", 30, {}, lots, TODAY)
    with pytest.raises(LedgerError, match="31 eggs of lot L1 packed on 2026-11-30 do not fit"):
        check_counts("L1", 31, {}, lots, TODAY)
    check_counts("L1", 30, {"L1": [PackedEggs(TODAY, 30, COUNT_DAY)]}, lots, TODAY + timedelta(days=1))


def test_forecasts_see_what_a_count_of_the_same_day_no_longer_found_as_gone_before_it() -> None:
    packed = {"L1": [PackedEggs(TODAY, 40, COUNT_DAY), PackedEggs(TODAY, 7, TODAY)]}
    assert packed_as_counted(packed, counted(look(TODAY, 20))) == {"L1": {YESTERDAY: 40, TODAY: 7}}
    assert packed_as_counted(packed, counted(look(TODAY, 58, "yes"))) == {"L1": {TODAY: 47}}


@pytest.mark.parametrize("note", ["was GA-12", "moved; was GA-12, to the cellar", "Was GA-12 until Sunday."])
def test_a_renamed_lot_keeps_what_was_packed_from_it(note: str) -> None:
    packed = {"GA-12": [PackedEggs(TODAY, 50, COUNT_DAY)]}
    lots = counted(note=note)
    assert name_now("GA-12", lots) == "L1"
    assert packings_by_name(packed, lots)[name_now("L1", lots)] == tuple(packed["GA-12"])
    with pytest.raises(LedgerError, match="lot L1 has 10 eggs left"):
        check_counts("L1", 11, packed, lots, TODAY)
    assert packed_as_counted(packed, lots) == {"L1": {TODAY: 50}}


def test_a_lot_that_is_gone_says_how_to_tell_its_new_name() -> None:
    with pytest.raises(LedgerError, match=r"lot L2 is not in the tables\..*`was L2` in its note"):
        check_counts("L2", 1, {}, counted(), TODAY)
