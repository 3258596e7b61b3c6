"""What came of each line sent, from the ledger and from the arrivals table."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from shipping.learning.outcomes import frame, outcomes
from shipping.ledger.entries import LineReport
from shipping.ledger.ledger import Ledger
from shipping.tables.rows.learned import Arrival
from tests.ledger.desk import TODAY, draw, ledger_with_two_parcels, line, parcel, plan
from tests.ledger.invented import lot, outcome, shelf

LOTS = (lot("L1"), lot("L2"), lot("L3"))


def test_a_parcel_not_reported_yet_is_censored_not_lost(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01")
        assert outcomes(ledger.parcels(), shelf(lots=LOTS)) == ()
        ledger.send("2026-W49-01")
        (one,) = outcomes(ledger.parcels(), shelf(lots=LOTS))
    assert (one.packed, one.living, one.arrived_on, one.held, one.is_reported) == (
        24,
        None,
        None,
        None,
        False,
    )
    assert frame([one]).empty


def test_live_fry_count_as_alive_for_the_promise(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01")
        ledger.send("2026-W49-01")
    with Ledger.open(tmp_path, TODAY + timedelta(days=4)) as ledger:
        ledger.arrive(
            "2026-W49-01",
            [LineReport(order="S10", line=1, alive=19, hatched_alive=1)],
            on=TODAY + timedelta(days=2),
        )
        (one,) = outcomes(ledger.parcels(), shelf(lots=LOTS))
    assert (one.living, one.held, one.days, one.medium) == (20, True, 2, "water")


def test_a_row_of_arrivals_speaks_where_the_ledger_is_silent(tmp_path: Path) -> None:
    rows = (
        Arrival(parcel="2026-W49-02", line=1, arrived_on=date(2026, 12, 2), alive=19),
        Arrival(parcel="2026-W49-02", line=2, arrived_on=date(2026, 12, 2), alive=30, dead=2),
    )
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-02")
        ledger.send("2026-W49-02")
        ledger.arrive("2026-W49-02", [LineReport(order="S11", line=1, alive=22)])
        found = outcomes(ledger.parcels(), shelf(lots=LOTS, arrivals=rows))
    assert [(one.line, one.living, one.dead) for one in found] == [(1, 22, None), (2, 30, 2)]


def test_a_row_for_a_joined_parcel_counts_its_lines_through(tmp_path: Path) -> None:
    joined = plan(
        parcel(
            "2026-W49-01", "Ida Holm", line("S10", 1, 9, draw("L1", 10)), line("S12", 1, 9, draw("L2", 11))
        )
    )
    row = Arrival(parcel="2026-W49-01", line=2, arrived_on=date(2026, 12, 2), alive=8)
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        ledger.keep_plan(joined)
        ledger.pack("2026-W49-01")
        ledger.send("2026-W49-01")
        found = outcomes(ledger.parcels(), shelf(lots=LOTS, arrivals=(row,)))
    assert [(one.order, one.living) for one in found] == [("S10", None), ("S12", 8)]


def test_eggs_nobody_saw_fertile_are_not_expected_to_be(tmp_path: Path) -> None:
    unseen = draw("L1", 12, stage="laid")
    unseen["h_per_egg"] = 0.0
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        ledger.keep_plan(plan(parcel("2026-W49-01", "Ida Holm", line("S10", 1, 9, unseen))))
        ledger.pack("2026-W49-01")
        ledger.send("2026-W49-01")
        (one,) = outcomes(ledger.parcels(), shelf(lots=LOTS))
    assert one.other_share == pytest.approx(0.85)
    assert one.hatch_share == 1.0
    assert not one.fertile_known


def test_what_hatching_leaves_of_a_line_is_weighed_by_the_eggs_of_its_lots(tmp_path: Path) -> None:
    early, later = draw("L1", 12), draw("L2", 6)
    early["h_per_egg"], later["h_per_egg"] = 0.3, 0.0
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        ledger.keep_plan(plan(parcel("2026-W49-01", "Ida Holm", line("S10", 1, 15, early, later))))
        ledger.pack("2026-W49-01")
        ledger.send("2026-W49-01")
        place = shelf(lots=LOTS)
        (one,) = outcomes(ledger.parcels(), place)
    alive = place.packing_by_name["tube"].fry_live
    assert one.hatch_share == pytest.approx((12 * (1 - 0.3 * (1 - alive)) + 6) / 18)
    assert one.other_share == one.hatch_share


def test_the_table_of_outcomes_does_not_depend_on_their_order() -> None:
    some = [outcome(n, living=n) for n in range(5)]
    assert frame(some).equals(frame(reversed(some)))
    assert list(frame([replace(some[0], living=None), some[1]])["living"]) == [1]
