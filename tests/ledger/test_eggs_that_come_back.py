"""Eggs that come back alive count for their lot again, each once, beside whatever was counted until then."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from shipping.ledger.entries import LineCount
from shipping.ledger.errors import LedgerError
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import CountBefore, LotCounts
from tests.ledger.desk import COUNTED, draw, ledger_with_two_parcels, line, parcel, plan

PARCEL = "2026-W49-01"
BACK_ON = date(2026, 12, 7)


def gone(folder: Path) -> Ledger:
    """24 eggs of L1, of which 60 were counted, are on their way; 23 more are held."""
    with ledger_with_two_parcels(folder) as ledger:
        ledger.pack(PARCEL, counted=COUNTED)
        ledger.send(PARCEL)
    return Ledger.open(folder, BACK_ON)


def back(eggs: int, lot: str = "L1") -> tuple[LineCount, ...]:
    return (LineCount(order="S10", line=1, lot=lot, eggs=eggs),)


def recounted(alive: int, before_packing: bool | None = None) -> dict[str, LotCounts]:
    """The lot counted again on the day the parcel came back."""
    earlier = (CountBefore(date(2026, 11, 28), None, 60 - alive),)
    return COUNTED | {"L1": LotCounts(alive, BACK_ON, "L1", 0, before_packing, earlier)}


def test_they_are_added_to_what_is_left_of_the_count(tmp_path: Path) -> None:
    with gone(tmp_path) as ledger:
        assert ledger.eggs_left(COUNTED)["L1"] == 60 - 24
        ledger.end(PARCEL, "returned", back=back(20), counted=COUNTED)
        assert ledger.eggs_left(COUNTED)["L1"] == 60 - 24 + 20
        ledger.undo()
        assert ledger.eggs_left(COUNTED)["L1"] == 60 - 24


def test_beside_a_recount_of_that_day_written_before_they_are_added_to_it(tmp_path: Path) -> None:
    with gone(tmp_path) as ledger:
        ledger.end(PARCEL, "returned", back=back(20), counted=recounted(36))
        assert ledger.eggs_left(recounted(36))["L1"] == 36 + 20


@pytest.mark.parametrize("before_packing", [None, True, False])
def test_a_recount_of_that_day_written_after_has_them_in_it(
    tmp_path: Path, before_packing: bool | None
) -> None:
    with gone(tmp_path) as ledger:
        ledger.end(PARCEL, "returned", back=back(20), counted=COUNTED)
        now = recounted(56, before_packing)
        assert ledger.eggs_left(now)["L1"] == 56
        assert ledger.packed_by_lot(now)["L1"][date(2026, 12, 6)] == -20  # before the count of its own day
        assert now["L1"].lacking(ledger.packings(now)["L1"]) == (0, 0)


def test_what_stands_is_read_again_from_beside_the_ledger(tmp_path: Path) -> None:
    with gone(tmp_path) as ledger:
        ledger.end(PARCEL, "returned", back=back(20), counted=COUNTED)
    with Ledger.open(tmp_path, BACK_ON) as ledger:
        assert ledger.parcel(PARCEL).back == back(20)
        assert ledger.parcel(PARCEL).back_on == BACK_ON
        assert ledger.came_back() == {"L1": ((BACK_ON, 20),)}


@pytest.mark.parametrize("wrong", [back(25), back(-1), back(2, "L2"), back(1) + back(1)])
def test_no_more_come_back_than_were_packed_and_none_twice(
    tmp_path: Path, wrong: tuple[LineCount, ...]
) -> None:
    with gone(tmp_path) as ledger:
        with pytest.raises(LedgerError, match="cannot be back in lot"):
            ledger.end(PARCEL, "returned", back=wrong, counted=COUNTED)
        with pytest.raises(LedgerError, match="brings no eggs back"):
            ledger.end(PARCEL, "lost", back=back(3), counted=COUNTED)
        assert ledger.parcel(PARCEL).state == "sent"


@pytest.mark.parametrize(("lot", "stays"), [("L1", True), ("L3", False)])
def test_a_return_is_not_taken_back_while_a_later_plan_draws_on_its_lot(
    tmp_path: Path, lot: str, stays: bool
) -> None:
    with gone(tmp_path) as ledger:
        back_entry = ledger.end(PARCEL, "returned", back=back(20), counted=COUNTED)
        ledger.keep_plan(
            plan(parcel("2026-W50-01", "Ida Holm", line("S12", 1, 5, draw(lot, 6))), week="2026-W50")
        )
        if stays:
            with pytest.raises(
                LedgerError, match="parcel 2026-W50-01 draws on lot L1, to which eggs came back"
            ):
                ledger.undo(back_entry.seq)
        else:
            ledger.undo(back_entry.seq)
        assert ledger.parcel(PARCEL).state == ("returned" if stays else "sent")
