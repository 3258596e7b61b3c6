"""What a parcel weighs and what its postage costs."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipping.post.quote import bands, box_for, parcel_weight, postage, postage_reasons, quote
from shipping.tables.country_parts import nearness, serves
from shipping.tables.rows.packings import Box, Packing
from shipping.tables.rows.services import Postage
from tests.post.a_shelf import a_packing, a_price, a_service, a_shelf

ZONES = {"north": frozenset({"DK", "SE"})}


def price(
    rows: tuple[Postage, ...], weight_g: float, thick_mm: float | None = 10, to: str = "DK"
) -> str | None:
    band = postage(a_shelf(postage=rows, zones=ZONES), "letter", to, weight_g, thick_mm)
    return str(band.price) if band else None


def test_a_parcel_pays_the_first_step_it_fits_and_the_limit_itself_still_fits() -> None:
    rows = (a_price("*", 50, "2.50"), a_price("*", 100, "4"), a_price("*", 250, "6"))
    assert [price(rows, weight) for weight in (20, 50, 50.1, 250, 251)] == ["2.50", "2.50", "4", "6", None]


def test_a_thick_parcel_pays_the_step_for_thick_ones() -> None:
    rows = (a_price("*", 250, "3", up_to_mm=20), a_price("*", 2000, "8"))
    assert price(rows, 100, 20) == "3"
    assert price(rows, 100, 21) == "8"
    assert price(rows, 100, None) == "8", "an unknown thickness fits no limit"


def test_the_nearest_row_wins_and_a_heavier_parcel_falls_through_to_the_next() -> None:
    rows = (a_price("DK", 100, "5"), a_price("north", 500, "9"), a_price("*", 2000, "20"))
    assert [price(rows, weight) for weight in (100, 101, 501)] == ["5", "9", "20"]
    assert price(rows, 50, to="SE") == "9"
    assert price(rows, 50, to="FR") == "20"


def test_a_cheaper_row_for_everywhere_does_not_undercut_the_countrys_own() -> None:
    rows = (a_price("DK", 100, "5"), a_price("*", 2000, "3"))
    assert price(rows, 50) == "5"
    assert price(rows, 101) == "3"


def test_another_services_postage_is_not_used() -> None:
    assert price((a_price("*", 100, "2", service="express"),), 50) is None


WEIGHTS = st.sampled_from([20, 50, 100, 250])
THICKNESSES = st.sampled_from([None, 5, 20, 50])
ROWS = st.builds(
    a_price,
    st.sampled_from(["DK-81", "DK", "north", "*"]),
    WEIGHTS,
    st.sampled_from(["1", "2", "3", "9"]),
    THICKNESSES,
)


@given(
    rows=st.lists(ROWS, max_size=7).map(tuple),
    weight=st.sampled_from([1, 20, 21, 50, 99, 100, 101, 250, 251]),
    thick=st.sampled_from([1, 5, 6, 20, 21, 50, 51]),
)
def test_the_bands_say_what_the_rows_say(rows: tuple[Postage, ...], weight: float, thick: float) -> None:
    expected: Decimal | None = None
    for level in (4, 3, 2, 1):
        fitting = [
            row.price
            for row in rows
            if serves(row.to, nearness("DK", "81", ("north",))) == level
            and weight <= row.up_to_g
            and (row.up_to_mm is None or thick <= row.up_to_mm)
        ]
        if fitting:
            expected = min(fitting)
            break
    found = postage(a_shelf(postage=rows, zones=ZONES), "letter", "DK", weight, thick, "81")
    assert (found.price if found else None) == expected


def test_an_ordinary_table_gives_bands_that_need_no_lower_bound() -> None:
    rows = (a_price("DK", 100, "5"), a_price("*", 100, "7"), a_price("*", 2000, "20"))
    assert all(band.over_g == band.over_mm == 0 for band in bands(a_shelf(postage=rows), "letter", "DK"))


def test_too_heavy_is_no_route_and_too_thick_says_so() -> None:
    shelf = a_shelf(postage=(a_price("DK", 100, "5", up_to_mm=20),))
    assert postage_reasons(shelf, "letter", "DK", 90, 20) == ()
    assert [r.code for r in postage_reasons(shelf, "letter", "DK", 101, 30)] == ["no-route"]
    assert [r.code for r in postage_reasons(shelf, "letter", "SE", 10, 10)] == ["no-route"]
    (thick,) = postage_reasons(shelf, "letter", "DK", 90, 25)
    assert (thick.code, thick.facts["up_to_mm"]) == ("too-thick", 20)
    assert "no parcel 25 mm thick of" in thick.text


TUBE = a_packing(weight_g=12, thick_mm=16, box="card", box_g=40)
BAG = a_packing(packing="bag", kind="breathing bag", weight_g=60, thick_mm=40, box="foam", box_g=90)
DAMP = a_packing(packing="damp", kind="damp bag", media="peat", weight_g=20, box="stiff", box_g=55)
BOXES = (
    Box(box="card", tare_g=30, holds=3, thick_mm=24),
    Box(box="stiff", tare_g=60, holds=4, rigid=True, thick_mm=45),
    Box(
        box="foam",
        tare_g=150,
        holds=6,
        rigid=True,
        vented=True,
        insulated_h=10,
        thick_mm=120,
        cost=Decimal("1.50"),
    ),
    Box(box="big", tare_g=400, holds=20, rigid=True, vented=True, insulated_h=24, thick_mm=200),
)


@pytest.mark.parametrize(
    ("units", "box"),
    [
        (((TUBE, 3),), "card"),
        (((TUBE, 4),), "stiff"),
        (((DAMP, 1),), "stiff"),
        (((BAG, 1),), "foam"),
        (((TUBE, 2), (BAG, 1)), None),  # a foam box and a card hold their warmth unlike
        (((BAG, 7),), None),  # the big box holds its warmth longer, and the clock rests on it
        (((a_packing(box="foam"), 1),), "foam"),
        (((TUBE, 21),), None),
    ],
)
def test_the_smallest_box_that_holds_vents_stiffens_and_insulates(
    units: tuple[tuple[Packing, int], ...], box: str | None
) -> None:
    found = box_for(a_shelf(boxes=BOXES), units)
    assert (found.name if found else None) == box


def test_the_box_weighs_once_and_every_unit_each_time() -> None:
    tube = TUBE.model_copy(update={"box": "foam"})
    units = ((tube, 2), (BAG, 1))
    found = box_for(a_shelf(boxes=BOXES), units)
    assert found is not None
    assert parcel_weight(units, found) == 2 * 12 + 60 + 150
    assert (found.thick_mm, found.cost) == (120, Decimal("1.50"))
    warm = tube.model_copy(update={"heat_pack_h": 40.0, "heat_pack_g": 110.0})
    assert parcel_weight(((warm, 2), (BAG, 1)), found) == parcel_weight(units, found) + 110
    unknown = warm.model_copy(update={"heat_pack_g": None})
    assert parcel_weight(((unknown, 2), (BAG, 1)), found) == parcel_weight(units, found)


def test_a_parcel_costs_its_postage_and_its_box_and_nothing_where_nothing_takes_it() -> None:
    tube = TUBE.model_copy(update={"box": "foam"})
    shelf = a_shelf(boxes=BOXES, postage=(a_price("*", 210, "6"),))
    quotes = [quote(shelf, ((tube, units),), a_service(), "DK") for units in (5, 6)]
    assert [one.weight_g for one in quotes] == [5 * 12 + 150, 6 * 12 + 150]
    assert [one.cost for one in quotes] == [6 + 1.5, None]
    assert [reason.code for reason in quotes[1].reasons] == ["no-route"]


def test_without_a_table_of_boxes_the_heaviest_named_one_weighs_once() -> None:
    units = ((TUBE, 2), (BAG, 1))
    found = box_for(a_shelf(), units)
    assert found is not None
    assert (found.name, found.tare_g, found.thick_mm) == ("", 90, 40)
    assert parcel_weight(units, found) == 2 * 12 + 60 + 90


def test_a_thickness_nobody_wrote_is_unknown_and_not_thin() -> None:
    found = box_for(a_shelf(), ((TUBE, 1), (DAMP, 1)))
    assert found is not None
    assert found.thick_mm is None


FULL = Box(
    box="full",
    length_mm=250,
    width_mm=180,
    thick_mm=120,
    tare_g=180,
    holds=9,
    rigid=True,
    wall_mm=25,
    bottle_ml=1200,
)


def test_the_bottle_is_weighed_and_leaves_room_for_the_units() -> None:
    # 0.8 of 20 x 13 x 7 cm are 1456 ml: 1200 ml and 17 units of 15 ml, not 18
    tube = a_packing(weight_g=12, box="full", volume_ml=15)
    shelf = a_shelf(boxes=(FULL.model_copy(update={"holds": 50}),))
    found = box_for(shelf, ((tube, 17),))
    assert found is not None
    assert parcel_weight(((tube, 17),), found) == 17 * 12 + 180 + 1200
    assert found.bottle_ml == 1200
    assert box_for(shelf, ((tube, 18),)) is None
    # filled to 0.8 and no more: 1200 ml and 16 units of 16 ml are 1456 ml
    larger = tube.model_copy(update={"volume_ml": 16.0})
    assert box_for(shelf, ((larger, 16),)) is not None
    assert box_for(shelf, ((larger, 17),)) is None


def test_a_breathing_bag_goes_into_no_box_without_vents() -> None:
    stiff = BOXES[1]
    vented = stiff.model_copy(update={"box": "vented", "vented": True, "tare_g": 90})
    found = box_for(a_shelf(boxes=(stiff, vented)), ((BAG.model_copy(update={"box": "stiff"}), 1),))
    assert found is not None
    assert found.name == "vented"


def test_a_unit_lies_in_no_box_thinner_than_itself_but_the_one_it_names() -> None:
    thick = BOXES[1].model_copy(update={"box": "thick", "vented": True, "tare_g": 90, "thick_mm": 40})
    thin = thick.model_copy(update={"box": "thin", "tare_g": 40, "thick_mm": 30})
    found = [
        box_for(a_shelf(boxes=(thin, thick)), ((BAG.model_copy(update={"box": box}), 1),))
        for box in ("thick", "thin")
    ]
    assert [box.name for box in found if box] == ["thick", "thin"]


def test_a_box_of_unknown_thickness_is_as_thick_as_its_thickest_unit() -> None:
    card = BOXES[0].model_copy(update={"thick_mm": None})
    found = box_for(a_shelf(boxes=(card,)), ((TUBE, 1),))
    assert found is not None
    assert found.thick_mm == TUBE.thick_mm


def test_a_parcel_holds_its_warmth_as_long_as_the_packing_that_holds_it_least() -> None:
    long, short = (TUBE.model_copy(update={"insulated_h": hours}) for hours in (20.0, 8.0))
    for units in (((long, 1), (short, 1)), ((short, 1), (long, 1))):
        found = box_for(a_shelf(boxes=BOXES), units)
        assert found is not None
        assert found.warm_h == pytest.approx(8.0 / math.log(2.0))
