"""What came of each line sent, from the ledger and from the arrivals table."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from shipping.learning.outcomes import bought_outcomes, frame, outcomes
from shipping.ledger.entries import LineReport
from shipping.ledger.kept_parcel import KeptParcel
from shipping.ledger.ledger import Ledger
from shipping.tables.rows.learned import Arrival
from tests.ledger.desk import TODAY, draw, ledger_with_two_parcels, line, parcel, plan
from tests.ledger.invented import BAG, TUBE, bought, lot, outcome, shelf

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


@pytest.mark.parametrize("later", [(), (False,)])
def test_a_day_of_arrival_that_nobody_told_stays_untold(tmp_path: Path, later: tuple[bool, ...]) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-02")
        ledger.send("2026-W49-02")
        for number, day_untold in enumerate((True, *later), start=1):
            report = LineReport(order="S11", line=number, alive=22)
            ledger.arrive("2026-W49-02", [report], day_untold=day_untold)
        found = outcomes(ledger.parcels(), shelf(lots=LOTS))
    assert {one.day_untold for one in found if one.is_reported} == {True}


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


def sent(folder: Path, *draws: dict[str, object]) -> tuple[KeptParcel, ...]:
    """A parcel of one line, sent today."""
    with Ledger.open(folder, TODAY, create=True) as ledger:
        ledger.keep_plan(plan(parcel("2026-W49-01", "Ida Holm", line("S10", 1, 20, *draws))))
        ledger.pack("2026-W49-01")
        ledger.send("2026-W49-01")
        return tuple(ledger.parcels())


def test_a_row_that_says_more_eggs_or_an_earlier_day_than_can_be_is_cut_to_what_can_be(
    tmp_path: Path,
) -> None:
    row = Arrival(parcel="2026-W49-01", line=1, arrived_on=TODAY - timedelta(days=1), alive=40)
    (one,) = outcomes(sent(tmp_path, draw("L1", 24)), shelf(lots=LOTS, arrivals=(row,)))
    assert (one.arrived_on, one.days, one.living) == (TODAY, 0, 24)


def test_fry_that_live_in_a_packing_are_left_of_what_hatches(tmp_path: Path) -> None:
    hatching = draw("L1", 24)
    hatching["h_per_egg"] = 0.3
    place = replace(shelf(lots=LOTS), packings=(TUBE.model_copy(update={"fry_live": 0.6}),))
    (one,) = outcomes(sent(tmp_path, hatching), place)
    assert one.hatch_share == pytest.approx(1 - 0.3 * 0.4)


def test_a_line_is_known_to_be_fertile_only_where_all_of_its_lots_are(tmp_path: Path) -> None:
    seen, unseen = draw("L1", 12, stage="fertile"), draw("L2", 12, stage="laid")
    seen["h_per_egg"] = unseen["h_per_egg"] = 0.0
    (one,) = outcomes(sent(tmp_path, seen, unseen), shelf(lots=LOTS))
    assert not one.fertile_known
    assert one.other_share == pytest.approx((1 + 0.85) / 2)


def test_a_packing_of_two_media_has_the_one_that_most_of_its_eggs_are_kept_in(tmp_path: Path) -> None:
    draws = (draw("L1", 16, packing="bag"), draw("L2", 8, packing="bag"))
    place = shelf(lots=(lot("L1", medium="moss"), lot("L2")))
    assert set(BAG.media) == {"water", "moss"}
    assert outcomes(sent(tmp_path, *draws), place)[0].medium == "moss"


@pytest.mark.parametrize(("state", "is_lost"), [("sent", False), ("lost", True), ("returned", False)])
def test_only_a_parcel_that_was_given_up_is_lost(tmp_path: Path, state: str, is_lost: bool) -> None:
    (parcel_sent,) = sent(tmp_path, draw("L1", 24))
    (one,) = outcomes((replace(parcel_sent, state=state),), shelf(lots=LOTS))
    assert one.is_lost is is_lost


def test_without_a_day_of_arrival_no_line_is_reported() -> None:
    assert outcome(1).is_reported
    assert not outcome(1, arrived_on=None).is_reported


def test_eggs_bought_in_with_fry_among_them_teach_the_days_and_nothing_of_the_packing() -> None:
    entries = (
        SimpleNamespace(body=bought(lot=name, hatched_alive=fry)) for name, fry in (("L8", None), ("L9", 2))
    )
    whole, hatched = bought_outcomes(entries, shelf())
    assert (whole.living, whole.days) == (28, 4)
    assert (hatched.living, hatched.days) == (None, 4)


def test_the_table_of_outcomes_does_not_depend_on_their_order() -> None:
    some = [outcome(n, living=n) for n in range(5)]
    assert frame(some).equals(frame(reversed(some)))
    assert list(frame([replace(some[0], living=None), some[1]])["living"]) == [1]
