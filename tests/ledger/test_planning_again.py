"""A new plan knows what is packed, held and learned already."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import eggs_counted
from shipping.ledger.planning_again import (
    lines_changed,
    planned_again,
    shelf_left,
    with_free_names,
    with_held_orders,
)
from shipping.tables.learned_values import rate_cells
from shipping.tables.rows.orders import Order, OrderRow, orders_from_rows
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Draw, LineOut, Parcel, Plan, PlannedLine, Proof
from shipping.words.reasons import Reason, Verdict
from shipping.words.three_point import Dates
from tests.ledger.desk import COUNTED, TODAY, draw, ledger_with_two_parcels, line, parcel, plan
from tests.ledger.invented import lot, rate, shelf


def orders() -> tuple[Order, ...]:
    rows = [
        OrderRow(
            order=name,
            placed_on=date(2026, 11, 1),
            addressee="Ida Holm",
            country="DK",
            species="gardneri",
            eggs=20,
        )
        for name in ("S10", "S11", "S11", "S12")
    ]
    return orders_from_rows(tuple(rows), has_paid_on=False)


def a_shelf() -> Shelf:
    own = rate("loss_per_day", "tube/water", 0.02, TODAY)
    return replace(shelf(lots=(lot("L1"), lot("L2"), lot("L3")), rates=(own,)), orders=orders())


def drawn(lot: str, pack: int) -> Draw:
    day = Dates(TODAY, TODAY, TODAY)
    return Draw(lot, "tube", 1, pack, 0.0, 0.0, 0.9, "eyed", False, day, None, 1.0, 0.0)


def planned_line(order: str, line: int, pack: int, *draws: Draw) -> PlannedLine:
    return PlannedLine(
        order=order,
        line=line,
        species="gardneri",
        population="",
        ordered=20,
        pack=pack,
        p_enough=0.96,
        expected_alive=22.0,
        draws=draws or (drawn("L1", pack),),
        reasons=(),
    )


def parcel_of(*lines: PlannedLine, service: str = "letter", on: date = TODAY) -> Parcel:
    return Parcel(
        parcel="2026-W49-01",
        orders=tuple(line.order for line in lines),
        address=orders()[0].address,
        service=service,
        dispatch_on=on,
        arrive=Dates(on, on + timedelta(days=2), on + timedelta(days=4)),
        box="",
        weight_g=80.0,
        postage=Decimal("3.00"),
        lines=lines,
        low_c=8.0,
        high_c=16.0,
        warmth_basis="assumed",
    )


def plan_of(*parcels: Parcel) -> Plan:
    named = tuple(replace(one, parcel=f"2026-W49-{n:02d}") for n, one in enumerate(parcels, start=1))
    return Plan("2026-W49", TODAY, named, (), (), Proof(1.0, 1.0, 0.0, 0.0))


def test_without_a_ledger_only_the_rates_are_applied() -> None:
    left = shelf_left(a_shelf(), None, "2026-W49")
    assert left.packing_by_name["tube"].loss_per_day == 0.02
    assert left.orders == orders()


def test_lines_and_eggs_of_packed_parcels_are_gone_and_the_weeks_own_plan_is_free_again(
    tmp_path: Path,
) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-02", counted=COUNTED)
        left = shelf_left(a_shelf(), ledger, "2026-W49")
        assert [(order.order, [line.number for line in order.lines]) for order in left.orders] == [
            ("S10", [1]),
            ("S12", [1]),
        ]
        assert {lot: dict(days) for lot, days in left.packed.items()} == {
            "L1": {TODAY: 23},
            "L2": {TODAY: 20},
            "L3": {TODAY: 16},
        }


def test_eggs_of_a_kept_parcel_are_held_for_its_day_and_once_that_has_passed_for_today(
    tmp_path: Path,
) -> None:
    yesterday, tomorrow = TODAY - timedelta(days=1), TODAY + timedelta(days=1)
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-02", counted=COUNTED)
        left, before, late = (
            shelf_left(replace(a_shelf(), today=day), ledger, "2026-W50")
            for day in (TODAY, yesterday, tomorrow)
        )
    assert left.packed["L1"] == {TODAY: 23}
    assert (left.held, before.held, late.held) == (
        {"L1": {TODAY: 24}},
        {"L1": {TODAY: 24}},
        {"L1": {tomorrow: 24}},
    )


def test_parcels_made_are_counted_on_the_day_they_went_and_those_planned_again_are_none(
    tmp_path: Path,
) -> None:
    tomorrow = TODAY + timedelta(days=1)

    def made(ledger: Ledger, week: str) -> dict[date, int]:
        return dict(shelf_left(a_shelf(), ledger, week).parcels_made)

    with ledger_with_two_parcels(tmp_path) as ledger:
        assert (made(ledger, "2026-W49"), made(ledger, "2026-W50")) == ({}, {TODAY: 2})
        ledger.pack("2026-W49-02", counted=COUNTED)
        assert made(ledger, "2026-W49") == {TODAY: 1}
    with Ledger.open(tmp_path, tomorrow) as ledger:
        ledger.send("2026-W49-02", on=tomorrow)
        assert made(ledger, "2026-W50") == {TODAY: 1, tomorrow: 1}


def test_what_the_ledger_says_of_a_lot_goes_before_what_the_shelf_was_told_and_other_lots_stay(
    tmp_path: Path,
) -> None:
    told = replace(a_shelf(), packed={"L1": {TODAY: 5}, "L9": {TODAY: 7}})
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01", counted=COUNTED)
        left = shelf_left(told, ledger, "2026-W50")
    assert (left.packed["L1"], left.packed["L9"]) == ({TODAY: 24}, {TODAY: 7})


def test_all_of_a_lot_that_may_be_one_that_is_gone_is_held_with_what_is_held_of_it(
    tmp_path: Path,
) -> None:
    """L3 is gone from the tables, 16 eggs of it held; L1 may be it, and 47 of its 100 eggs are held."""
    place = replace(a_shelf(), lots=(lot("L1"), lot("L2", note="not L3")))
    with ledger_with_two_parcels(tmp_path) as ledger:
        left = shelf_left(place, ledger, "2026-W50")
        still = ledger.eggs_left(eggs_counted(place))["L1"]
    assert left.held["L1"] == {TODAY: 47 + still}
    assert left.held["L2"] == {TODAY: 20}


def test_another_week_may_not_touch_what_this_week_holds(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        both = [shelf_left(a_shelf(), ledger, week) for week in ("2026-W48", "2026-W50")]
    assert [[order.order for order in left.orders] for left in both] == [["S12"], ["S12"]]
    assert [left.held["L1"] for left in both] == [{TODAY: 47}, {TODAY: 47}]


def test_a_week_planned_again_gives_other_parcels_numbers_that_are_free(tmp_path: Path) -> None:
    again = plan_of(parcel_of(), parcel_of())
    with ledger_with_two_parcels(tmp_path) as ledger:
        assert [parcel.parcel for parcel in with_free_names(again, (), ()).parcels] == [
            "2026-W49-01",
            "2026-W49-02",
        ]
        ledger.pack("2026-W49-02")
        renamed = with_free_names(again, ledger.parcels(), ledger.numbers())
        assert [parcel.parcel for parcel in renamed.parcels] == ["2026-W49-03", "2026-W49-04"]
        ledger.keep_plan(renamed.as_json())
    with Ledger.open(tmp_path, TODAY) as ledger:
        assert ledger.parcel_states() == {
            "2026-W49-02": "packed",
            "2026-W49-03": "planned",
            "2026-W49-04": "planned",
        }


def test_a_parcel_of_the_same_lines_keeps_its_name_whatever_its_place_in_the_new_plan(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        kept = ledger.parcel("2026-W49-02")
        lines = (planned_line(order, line, 24) for order, line in sorted(kept.line_keys))
        again = plan_of(parcel_of(*lines))
        assert [
            parcel.parcel for parcel in with_free_names(again, ledger.parcels(), ledger.numbers()).parcels
        ] == ["2026-W49-02"]


def test_numbers_go_on_above_the_highest_ever_used() -> None:
    (parcel,) = with_free_names(plan_of(parcel_of()), (), ("2026-W49-07", "2026-W48-09")).parcels
    assert parcel.parcel == "2026-W49-08"


def test_a_name_stays_with_the_parcel_that_was_packed_and_with_its_own_week(tmp_path: Path) -> None:
    """Lines of a parcel that came back go again under a number of their own."""
    with ledger_with_two_parcels(tmp_path) as ledger:
        lines = [planned_line(*key, 24) for key in sorted(ledger.parcel("2026-W49-02").line_keys)]
        again = plan_of(parcel_of(*lines))
        later = replace(again, week="2026-W50")
        (parcel,) = with_free_names(later, ledger.parcels(), ("2026-W50-01",)).parcels
        assert parcel.parcel == "2026-W50-02"
        ledger.pack("2026-W49-02")
        (parcel,) = with_free_names(again, ledger.parcels(), ledger.numbers()).parcels
        assert parcel.parcel == "2026-W49-03"


def test_orders_held_for_their_number_are_put_back_and_stand_first_among_the_lines_left_out(
    tmp_path: Path,
) -> None:
    """S10 and S12 of the tables were kept for another buyer."""
    out = LineOut("S11", 1, Verdict.WAIT, None, (Reason("short", "Too few.", {}, ""),))
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        other = parcel("2026-W49-01", "Ask Lund", line("S10", 1, 20, draw("L1", 24)))
        third = parcel("2026-W49-02", "Ask Lund", line("S12", 1, 20, draw("L1", 24)))
        ledger.keep_plan(plan(other, third))
        left = shelf_left(a_shelf(), ledger, "2026-W49")
        again = planned_again(replace(plan_of(), lines_out=(out,)), a_shelf(), ledger)
    assert [order.order for order in left.orders] == ["S11"]
    assert [(one.order, one.verdict, one.reasons[0].code) for one in again.lines_out] == [
        ("S10", Verdict.HOLD, "same-number"),
        ("S12", Verdict.HOLD, "same-number"),
        ("S11", Verdict.WAIT, "short"),
    ]
    whole = with_held_orders(left, a_shelf(), again)
    assert [order.order for order in whole.orders] == ["S10", "S11", "S12"]


def test_a_line_is_changed_where_it_goes_otherwise_or_no_more_or_is_new_and_never_where_it_is_packed(
    tmp_path: Path,
) -> None:
    """Kept: S10/1 of 24 eggs in one parcel, S11/1 of 23 and S11/2 of 36 of two lots in another."""
    tomorrow, kept = TODAY + timedelta(days=1), (TODAY, "letter", 24, "L1 (24, tube)")
    with ledger_with_two_parcels(tmp_path) as ledger:

        def changed(*parcels: Parcel) -> list[object]:
            return list(lines_changed(plan_of(*parcels), ledger.parcels()))

        other = parcel_of(
            planned_line("S11", 1, 23), planned_line("S11", 2, 36, drawn("L3", 16), drawn("L2", 20))
        )
        assert changed(parcel_of(planned_line("S10", 1, 24)), other) == []
        for now in ((tomorrow, "letter", 24), (TODAY, "parcel", 24), (TODAY, "letter", 25)):
            on, service, pack = now
            moved = parcel_of(planned_line("S10", 1, pack), on=on, service=service)
            assert changed(moved, other) == [(("S10", 1), kept, (*now, f"L1 ({pack}, tube)"))]
        of_another = parcel_of(planned_line("S10", 1, 24, drawn("L2", 24)))
        assert changed(of_another, other) == [(("S10", 1), kept, (TODAY, "letter", 24, "L2 (24, tube)"))]
        assert changed(other, parcel_of(planned_line("S12", 1, 22))) == [
            (("S10", 1), kept, None),
            (("S12", 1), None, (TODAY, "letter", 22, "L1 (22, tube)")),
        ]
        ledger.pack("2026-W49-02")
        again = parcel_of(planned_line("S10", 1, 24), planned_line("S11", 1, 30))
        assert changed(again) == []


def test_a_rate_is_written_as_its_table_reads_it() -> None:
    row = rate(
        "kappa",
        "tube/water",
        31.25,
        TODAY,
        basis="learned",
        n=12,
        low=27.5,
        high=36,
        source="12 lines reported",
    )
    assert list(rate_cells(row).values()) == [
        "kappa",
        "tube/water",
        "31.25",
        "",
        "2026-11-30",
        "learned",
        "12",
        "27.5",
        "36",
        "12 lines reported",
    ]
