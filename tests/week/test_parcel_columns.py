"""Orders of so many lines that not every way to pack them can be tried: they go where some way is taken."""

from __future__ import annotations

import pytest

from shipping.assignment import insertion
from shipping.tables.rows.packings import Box
from shipping.tables.shelf import Shelf
from shipping.week import parcel_columns
from tests.post.a_shelf import a_price
from tests.week.a_week import BAG, a_lot, a_row, a_week, going, plan_of

LINES = 13
SMALL = Box(box="small", tare_g=30, holds=3, rigid=True, vented=True)
FOAM = Box(
    box="foam",
    length_mm=480,
    width_mm=400,
    thick_mm=300,
    tare_g=300,
    holds=LINES + 1,
    rigid=True,
    vented=True,
    wall_mm=60,
    bottle_ml=2200,
    cost=4,
)
#: What is cheapest for each line goes in a box that holds three; the other two share one that holds them all.
PACKINGS = tuple(
    BAG.model_copy(update={"packing": name, "box": box, "cost": cost, "volume_ml": 300})
    for name, box, cost in (("a bag", "small", 0.1), ("b foam bag", "foam", 0.3), ("c warm bag", "foam", 0.4))
)


def many_lines(holds: int = LINES + 1, parts: str = "together") -> Shelf:
    names = [f"P{n:02d}" for n in range(LINES)]
    return a_week(
        *(a_row("A1", 10, population=name, parts=parts) for name in names),
        lots=tuple(a_lot(name, population=name, eggs=40) for name in names),
        packings=PACKINGS,
        boxes=(SMALL, FOAM.model_copy(update={"holds": holds})),
        postage=(a_price("*", 20_000, "6"),),
    )


def packings_of(shelf: Shelf) -> set[str]:
    plan = plan_of(shelf)
    return {draw.packing for parcel in plan.parcels for line in parcel.lines for draw in line.draws}


def test_it_goes_in_the_box_that_holds_all_though_each_line_goes_cheaper_in_another() -> None:
    assert packings_of(many_lines()) == {"b foam bag"}


def test_the_search_finds_a_box_that_holds_all_where_the_program_of_columns_does_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(parcel_columns, "BEAM", 0)
    assert packings_of(many_lines()) <= {"b foam bag", "c warm bag"} != set()


def test_the_program_of_columns_finds_it_where_the_search_does_not(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(insertion, "_built_up", lambda *_: ())
    assert packings_of(many_lines()) == {"b foam bag"}


def test_where_no_box_holds_all_that_is_the_reason_and_in_parts_what_fits_goes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made, build_up = [], insertion._built_up
    monkeypatch.setattr(insertion, "_built_up", lambda *given: made.append(build_up(*given)) or made[-1])
    plan = plan_of(many_lines(holds=LINES - 1))
    assert not going(plan)
    assert set(made) == {()}  # no part of what goes together
    assert {reason.code for out in plan.lines_out for reason in out.reasons[:1]} == {"no-packing"}
    parts = plan_of(many_lines(holds=LINES - 1, parts="may split"))
    assert [len(parcel.lines) for parcel in parts.parcels] == [LINES - 1]


def test_a_line_that_its_orders_one_parcel_leaves_behind_is_not_told_that_its_eggs_go_to_others() -> None:
    plan = plan_of(many_lines(holds=LINES - 1, parts="may split"))
    (out,) = plan.lines_out
    assert [reason.code for reason in out.reasons] == ["other-line"]
    assert out.reasons[0].facts["goes"]
    first = min(line.line for line in plan.parcels[0].lines)
    assert out.reasons[0].facts["line"] == first < max(line.line for line in plan.parcels[0].lines)


def test_ways_of_an_order_of_very_many_lines_that_may_split_are_not_all_made(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Each line in or out of a parcel, thirty lines of one order were a thousand million ways."""
    made, picks = [], parcel_columns.ParcelColumns._picks

    def counted(*given: object) -> list[object] | None:
        made.append(picks(*given))
        return made[-1]

    monkeypatch.setattr(parcel_columns, "MOST_FEW", 300)
    monkeypatch.setattr(parcel_columns.ParcelColumns, "_picks", counted)
    plan = plan_of(many_lines(holds=LINES - 1, parts="may split"))
    assert [len(parcel.lines) for parcel in plan.parcels] == [LINES - 1]
    assert max(len(ways or ()) for ways in made) <= parcel_columns.MOST_FEW
