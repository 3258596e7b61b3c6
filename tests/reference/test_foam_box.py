"""The foam box against its published law."""

from __future__ import annotations

import pytest

from shipping.post.foam_box import bridged_hours
from shipping.tables.rows.packings import Box

#: "Insulating properties of foam boxes for live fish", Aquaculture, 1998 (year and journal from memory):
#: 40 x 30 cm, 8 L at 25 C in air of 10 C, I = 0.11: degrees after 6, 12, 24 and 48 hours.
PUBLISHED = ((6, 21.39), (12, 18.65), (24, 14.99), (48, 11.66))
FOAM = Box(box="foam", length_mm=400, width_mm=300, tare_g=300)


@pytest.mark.parametrize(("hours", "degrees"), PUBLISHED)
def test_the_water_passes_each_temperature_at_its_hour(hours: float, degrees: float) -> None:
    assert bridged_hours(FOAM, 25, 10, degrees, 8000) == pytest.approx(hours, abs=0.15)


def test_half_the_difference_is_gone_after_15_hours() -> None:
    assert bridged_hours(FOAM, 25, 10, 17.5, 8000) == pytest.approx(15.12, abs=0.01)
