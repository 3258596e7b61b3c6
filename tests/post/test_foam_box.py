"""How long a foam box holds its warmth, and what is said of boxes that may be none."""

from __future__ import annotations

import math

import pytest

from shipping.post.foam_box import bottled_ml, bridge_advice, bridged_hours
from shipping.tables.rows.packings import Box

FOAM = Box(box="foam", length_mm=400, width_mm=300, tare_g=300)


def test_a_box_without_sizes_bridges_nothing_known() -> None:
    assert bridged_hours(Box(box="card", tare_g=50), 25, 10, 18, 8000) is None


def test_an_outside_that_is_not_past_the_limit_is_bridged_for_ever() -> None:
    assert bridged_hours(FOAM, 25, 20, 18, 8000) == math.inf
    assert bridged_hours(FOAM, 20, 20, 18, 8000) == math.inf
    assert bridged_hours(FOAM, 25, 28, 30, 8000) == math.inf


def test_water_that_is_past_the_limit_already_is_bridged_for_no_time() -> None:
    assert bridged_hours(FOAM, 17, 10, 18, 8000) == 0
    assert bridged_hours(FOAM, 31, 40, 30, 8000) == 0


def test_heat_comes_in_as_cold_does() -> None:
    assert bridged_hours(FOAM, 22, 38, 30, 8000) == pytest.approx(bridged_hours(FOAM, 38, 22, 30, 8000))


def test_a_tube_of_water_holds_no_heat() -> None:
    hours = bridged_hours(FOAM, 25, 0, 12.5, 5)
    assert hours is not None
    assert hours < 0.1


def test_a_box_of_unknown_wall_is_never_reckoned_as_foam() -> None:
    box = Box(box="card", length_mm=400, width_mm=300, thick_mm=250, tare_g=50)
    said = bridge_advice(box, 24, 2, 10, 6)
    assert (
        said == "card holds no warmth by your table (its insulated_h is 0 or blank), so nothing is reckoned"
        " for it."
    )
    assert bridge_advice(box.model_copy(update={"insulated_h": 0.0}), 24, 2, 10, 6) == said


def test_a_foam_box_of_unknown_size_is_said_not_to_be_reckonable() -> None:
    assert "cannot be reckoned" in bridge_advice(Box(box="foam", tare_g=50, insulated_h=6), 24, 2, 10, 12)


def test_the_water_advised_holds_the_hours_by_the_law_and_a_bottle_less_does_not() -> None:
    box = Box(box="foam", length_mm=400, width_mm=300, thick_mm=250, tare_g=300, insulated_h=4)
    water = bottled_ml(box, 24, 2, 10, 6)
    assert water is not None
    assert f"{water / 1000:g} l of water at 24 C" in bridge_advice(box, 24, 2, 10, 6)
    less, enough = (bridged_hours(box, 24, 2, 10, ml) or 0.0 for ml in (water - 250, water))
    assert less < 6 <= enough


def test_where_no_water_would_do_that_is_said() -> None:
    box = Box(box="foam", length_mm=200, width_mm=150, thick_mm=100, tare_g=100, insulated_h=4)
    assert "no water that fits" in bridge_advice(box, 24, -10, 15, 24)
