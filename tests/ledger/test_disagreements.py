"""A lot that is gone from the tables, and which others may be it under another name."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from shipping.ledger.disagreements import lots_gone
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import eggs_counted
from tests.ledger.desk import TODAY, draw, line, parcel, plan
from tests.ledger.invented import lot, shelf

KEPT_ON = date(2026, 11, 27)
PARCEL = parcel("2026-W49-01", "Ida Holm", line("S10", 1, 20, draw("L1", 24)))


@pytest.mark.parametrize("is_packed", [True, False])
def test_a_lot_laid_by_the_last_packing_may_be_one_that_is_gone_and_one_laid_later_may_not(
    tmp_path: Path, is_packed: bool
) -> None:
    """Kept on Friday, packed on Monday: eggs laid on Saturday may be it only where it was packed."""
    with Ledger.open(tmp_path, KEPT_ON, create=True) as ledger:
        ledger.keep_plan(plan(PARCEL))
    laid = {"A": KEPT_ON, "B": date(2026, 11, 28), "C": TODAY, "D": date(2026, 12, 1)}
    place = shelf(
        lots=tuple(lot(name, laid_from=day, laid_to=day, counted_on=day) for name, day in laid.items())
    )
    with Ledger.open(tmp_path, TODAY) as ledger:
        if is_packed:
            ledger.pack("2026-W49-01")
        (gone,) = lots_gone(ledger, place, eggs_counted(place))
    assert (gone.lot, gone.eggs, gone.is_open) == ("L1", 24, True)
    assert [one.lot for one in gone.alike] == (["A", "B", "C"] if is_packed else ["A"])
