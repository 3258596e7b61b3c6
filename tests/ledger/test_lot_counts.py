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


def test_eggs_packed_on_the_day_of_a_count_are_among_those_counted_unless_an_older_count_was_known() -> None:
    count = LotCounts(60, TODAY)
    assert count.left([PackedEggs(TODAY, 9)]) == 51
    assert count.left([PackedEggs(TODAY, 9, COUNT_DAY)]) == 60


def test_eggs_are_taken_from_the_last_count_that_was_not_made_after_them() -> None:
    known = {said: counted(look(TODAY, 30, said))["L1"] for said in ("no", "yes")}
    assert known["no"].packing(TODAY, 5) == PackedEggs(TODAY, 5, COUNT_DAY, 1)
    assert known["yes"].packing(TODAY, 5) == PackedEggs(TODAY, 5, TODAY, 1)
    assert known["no"].packing(date(2026, 11, 13), 5) == PackedEggs(date(2026, 11, 13), 5)


def test_what_may_have_gone_between_two_counts_is_less_by_what_looks_saw_go_between_them() -> None:
    """60, less 4 seen to go, 50 counted; less 2, 40 counted; 41 taken out of these."""
    found = counted(
        look(date(2026, 11, 16), removed=3, hatched=1),
        look(date(2026, 11, 18), 50),
        look(date(2026, 11, 20), removed=2),
        look(date(2026, 11, 22), 40),
        look(date(2026, 11, 24), removed=41),
    )["L1"]
    assert [(count.on.day, count.room) for count in found.earlier] == [(14, 6), (18, 8)]
    assert found.eggs == 0


def test_a_count_above_the_one_before_lacks_nothing_while_nothing_was_packed() -> None:
    count = LotCounts(60, TODAY, earlier=(CountBefore(COUNT_DAY, None, -5),))
    assert count.lacking([]) == (0, 0)
    assert count.lacking([PackedEggs(YESTERDAY, 2, COUNT_DAY)]) == (2, 0)


def test_a_lot_packed_beyond_its_count_takes_a_packing_of_before_it_and_holds_nothing_more() -> None:
    """36 counted yesterday, 40 packed today: what was packed before yesterday is no part of these."""
    packed = {"L1": [PackedEggs(TODAY, 40, YESTERDAY)]}
    lots = counted(look(YESTERDAY, 36))
    check_counts("L1", 10, packed, lots, date(2026, 11, 20))
    with pytest.raises(LedgerError, match="has 0 eggs left"):
        check_counts("L1", 0, packed, lots)


def test_only_counts_of_one_day_have_eggs_packed_between_them_all_until_the_last() -> None:
    packed = {"L1": [PackedEggs(TODAY, 30, TODAY, 1), PackedEggs(TODAY, 10, TODAY, 2)]}
    three = counted(look(TODAY, 30), look(TODAY, 18), counted_on=TODAY)
    assert packed_between_counts(packed, three) == {"L1": 40}
    assert packed_between_counts(packed, counted(look(TODAY, 30))) == {}


def test_a_lot_has_its_own_name_whatever_another_was_called_and_the_first_of_two_an_old_one() -> None:
    lots = (lot("L1", note="was L2, was X1"), lot("L2"), lot("L3", note="was X1"))
    found = eggs_counted(shelf(lots=lots))
    assert {name: count.lot for name, count in found.items()} == {
        "L1": "L1",
        "L2": "L2",
        "L3": "L3",
        "X1": "L1",
    }


def test_what_was_packed_beyond_an_older_count_stops_no_packing_of_today() -> None:
    """60 counted, 7 packed, 55 found: two more than can have gone, and 55 are there."""
    packed = {"L1": [PackedEggs(date(2026, 11, 20), 7, COUNT_DAY)]}
    lots = counted(look(YESTERDAY, 55))
    assert lots["L1"].lacking(packed["L1"]) == (2, 0)
    check_counts("L1", 55, packed, lots, TODAY)
    with pytest.raises(LedgerError, match="do not fit"):
        check_counts("L1", 1, packed, lots, date(2026, 11, 21))
