"""A new plan knows what is packed, held and learned already."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

from shipping.ledger.ledger import Ledger
from shipping.ledger.planning_again import lines_changed, shelf_left, with_free_names
from shipping.tables.learned_values import rate_cells
from shipping.tables.rows.orders import Order, OrderRow, orders_from_rows
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel, Plan, PlannedLine, Proof
from shipping.words.three_point import Dates
from tests.ledger.desk import COUNTED, TODAY, ledger_with_two_parcels
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


def planned_line(order: str, line: int, pack: int) -> PlannedLine:
    return PlannedLine(
        order=order,
        line=line,
        species="gardneri",
        population="",
        ordered=20,
        pack=pack,
        p_enough=0.96,
        expected_alive=22.0,
        draws=(),
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


def test_another_week_may_not_touch_what_this_week_holds(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        left = shelf_left(a_shelf(), ledger, "2026-W50")
    assert [order.order for order in left.orders] == ["S12"]
    assert left.packed["L1"] == {TODAY: 47}


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


def test_a_line_is_changed_where_it_goes_otherwise_or_no_more_or_is_new_and_never_where_it_is_packed(
    tmp_path: Path,
) -> None:
    """Kept: S10/1 of 24 eggs in one parcel, S11/1 of 23 and S11/2 of 36 in another."""
    tomorrow, kept = TODAY + timedelta(days=1), (TODAY, "letter", 24)
    with ledger_with_two_parcels(tmp_path) as ledger:

        def changed(*parcels: Parcel) -> list[object]:
            return list(lines_changed(plan_of(*parcels), ledger.parcels()))

        other = parcel_of(planned_line("S11", 1, 23), planned_line("S11", 2, 36))
        assert changed(parcel_of(planned_line("S10", 1, 24)), other) == []
        for now in ((tomorrow, "letter", 24), (TODAY, "parcel", 24), (TODAY, "letter", 25)):
            on, service, pack = now
            moved = parcel_of(planned_line("S10", 1, pack), on=on, service=service)
            assert changed(moved, other) == [(("S10", 1), kept, now)]
        assert changed(other, parcel_of(planned_line("S12", 1, 22))) == [
            (("S10", 1), kept, None),
            (("S12", 1), None, (TODAY, "letter", 22)),
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
