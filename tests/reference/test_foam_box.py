"""The foam box against its published law."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shipping.post.foam_box import Holding, box_warm_h
from shipping.tables.rows.packings import Box

#: "Insulating properties of foam boxes for live fish", Aquaculture, 1998 (year and journal from memory):
#: 40 x 30 cm, 8 L at 25 C in air of 10 C, I = 0.11: degrees after 6, 12, 24 and 48 hours.
PUBLISHED = ((6, 21.39), (12, 18.65), (24, 14.99), (48, 11.66))
#: A box of 25 mm walls that those 8 L just fill: the water's surface is all six inner faces.
FULL = Box(
    box="foam", length_mm=450, width_mm=350, thick_mm=50 + 200 / 3, tare_g=300, wall_mm=25, bottle_ml=8000
)


@pytest.mark.parametrize(("hours", "degrees"), PUBLISHED)
def test_the_water_stands_at_each_temperature_at_its_hour(hours: float, degrees: float) -> None:
    (lead,) = Holding(box_warm_h(FULL)).leads(np.array([float(hours)]))
    assert 10 + (25 - 10) * lead == pytest.approx(degrees, abs=0.01)


def test_half_the_difference_is_gone_after_15_hours() -> None:
    assert box_warm_h(FULL) * math.log(2) == pytest.approx(15.12, abs=0.01)
