"""How long a box holds its warmth, and what is said of boxes that may be none."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from shipping.post.foam_box import (
    Holding,
    bottled_ml,
    box_warm_h,
    bridge_advice,
    holding,
    takes_a_heat_pack,
)
from shipping.tables.rows.packings import Box
from tests.post.a_shelf import a_packing

FOAM = Box(
    box="foam", length_mm=250, width_mm=180, thick_mm=120, tare_g=180, vented=True, wall_mm=25, bottle_ml=500
)


def but(**cells: object) -> Box:
    return FOAM.model_copy(update=cells)


def test_the_time_constant_is_the_bottle_over_the_six_inner_faces() -> None:
    # inside 200 x 130 x 70 mm: 2 (20 * 13 + 20 * 7 + 13 * 7) = 982 cm2
    assert box_warm_h(FOAM) == pytest.approx(500 / (0.11 * 982))
    assert box_warm_h(but(wall_mm=30)) == pytest.approx(
        500 / (0.11 * 25 / 30 * 2 * (19 * 12 + 19 * 6 + 12 * 6))
    )


@pytest.mark.parametrize("cells", [{"wall_mm": None}, {"bottle_ml": 0.0}, {"length_mm": None}])
def test_a_box_without_wall_water_or_sizes_is_the_outside_itself(cells: dict[str, object]) -> None:
    assert box_warm_h(but(**cells)) == 0
    assert box_warm_h(None) == 0


def test_more_water_never_shortens_the_hours() -> None:
    hours = [box_warm_h(FOAM, water) for water in range(0, 1400, 50)]
    assert all(less < more for less, more in pairwise(hours))


def test_what_was_measured_is_a_half_time_and_of_these_contents_before_that_of_the_box() -> None:
    measured = but(insulated_h=10.0)
    assert holding(a_packing(), measured).warm_h == pytest.approx(10 / math.log(2))
    assert holding(a_packing(insulated_h=4), measured).warm_h == pytest.approx(4 / math.log(2))
    assert holding(a_packing(insulated_h=0), measured).warm_h == 0
    assert holding(a_packing(insulated_h=0), measured).leads(np.array([0.5]))[0] == 0


def test_the_hours_of_the_first_starter_boxes_do_not_count() -> None:
    assert box_warm_h(but(box="foam box", insulated_h=12.0, wall_mm=None)) == 0
    assert box_warm_h(but(box="foam box", insulated_h=12.0)) == pytest.approx(12 / math.log(2))


def test_a_heat_pack_keeps_the_start_for_its_hours_and_then_the_law_goes_on() -> None:
    packed = Holding(warm_h=5.0, heat_pack_h=40.0)
    assert packed.leads(np.array([0.5, 39.5, 45.0])).tolist() == pytest.approx([1, 1, math.exp(-1)])
    outside, start, lift = np.array([2.0]), np.array([24.0]), np.array([math.inf])
    assert packed.after_stretch(start, outside, 30.0, np.array([12.0]), lift)[0] == pytest.approx(
        2 + 22 * math.exp(-2 / 5)
    )
    # a stretch that begins when the pack has ended is cooled from its first minute
    assert packed.after_stretch(start, outside, 50.0, np.array([12.0]), lift)[0] == pytest.approx(
        2 + 22 * math.exp(-12 / 5)
    )
    assert Holding(heat_pack_h=40.0).leads(np.array([39.5, 40.5])).tolist() == [1, 0]


@pytest.mark.parametrize(
    ("cells", "takes"),
    [
        ({"length_mm": 320.0, "width_mm": 250.0, "thick_mm": 170.0}, True),
        ({"length_mm": 320.0, "width_mm": 250.0, "thick_mm": 140.0}, False),
        ({"length_mm": 320.0, "width_mm": 250.0, "thick_mm": 170.0, "vented": False}, False),
        ({"length_mm": None}, True),
    ],
)
def test_a_heat_pack_wants_a_vented_box_that_is_large_enough(cells: dict[str, object], takes: bool) -> None:
    assert takes_a_heat_pack(but(**cells)) is takes


def test_the_bottle_advised_holds_the_stretch_and_a_bottle_less_does_not() -> None:
    water = bottled_ml(FOAM, 24, 2, 10, 6)
    assert water is not None
    less, enough = (2 + 22 * math.exp(-6 / box_warm_h(FOAM, ml)) for ml in (water - 250, water))
    assert less < 10 <= enough
    assert f"{water / 1000:g} l of water at 24 °C" in bridge_advice(FOAM, 24, 2, 10, 6)


@pytest.mark.parametrize("outside_c", [2.0, 34.0])
def test_a_bottle_that_brings_the_inside_to_just_the_limit_will_do(outside_c: float) -> None:
    """Half a litre holds 24 degrees for six hours so far; a limit nearer to them takes more."""
    limit = outside_c + (24.0 - outside_c) * math.exp(-6 / box_warm_h(FOAM, 500))
    nearer = limit + (24.0 - limit) * 1e-6
    assert [bottled_ml(FOAM, 24.0, outside_c, end, 6) for end in (limit, nearer)] == [500, 750]


def test_where_no_bottle_would_do_or_nothing_is_known_that_is_said() -> None:
    assert "No bottle of 24 °C that fits" in bridge_advice(FOAM, 24, -10, 15, 24)
    assert "is no foam box by your table" in bridge_advice(but(wall_mm=None), 24, 2, 10, 6)
    assert bridge_advice(None, 24, 2, 10, 6) == ""
