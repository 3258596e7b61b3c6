"""Fundulus grandis kept in moist air, against a published study (acnpsearch index 26031405) and our own
starter row.

In water at 26 C they hatch after 8 to 11 days; on moist mats at 22 C the first can hatch after 19 days and
deaths begin after 31; after 12 days or more in air they hatch within half an hour of wetting.
"""

from __future__ import annotations

import csv
import math
from datetime import timedelta

import pytest

from shipping.eggs.clock import effective_degrees
from shipping.eggs.lot_forecast import LotForecast, lot_forecast
from shipping.tables.rows.species import Species
from shipping.words.units import shipped_folder
from tests.post.a_shelf import TODAY, a_shelf
from tests.week.a_week import a_lot

#: Alive after so many days in moist air at 26 C.
ALIVE_IN_AIR = {0: 0.85, 6: 0.95, 12: 0.92, 18: 0.83, 24: 0.66}


def starter(table: str, **wanted: str) -> dict[str, str]:
    with (shipped_folder("templates/starter") / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        return next(row for row in rows if wanted.items() <= row.items())


def grandis() -> Species:
    return Species(**{name: cell for name, cell in starter("species", species="grandis").items() if cell})


def kept(celsius: float, days: int, medium: str) -> LotForecast:
    laid = TODAY - timedelta(days=days)
    lot = a_lot(
        species="grandis",
        laid_from=laid,
        laid_to=laid,
        medium=medium,
        kept_at_c=celsius,
        stage=None,
        stage_on=None,
    )
    return lot_forecast(a_shelf(lots=(lot,), species={"grandis": grandis()}), "G1")


def share_done(celsius: float, days: int) -> float:
    """The share that has gathered its K so many days after laying."""
    found = kept(celsius, days, "moss")
    return 1 - float(found.clock.weight_beyond(found.x(TODAY))[0])


def test_in_water_at_26_degrees_nine_in_ten_hatch_between_day_8_and_day_11() -> None:
    assert share_done(26, 11) - share_done(26, 8) == pytest.approx(0.9, abs=1e-3)


def test_every_egg_is_ready_by_the_19th_day_on_a_mat_at_22_degrees_and_none_is_called_overdue() -> None:
    assert share_done(22, 19) > 0.999
    found = kept(22, 19, "moss")
    assert not found.is_overdue
    assert not found.is_too_old(TODAY)
    assert found.eggs_on(TODAY) == 100
    # we say to wet them well before deaths begin, and earlier than the study's first hatching: the zero is
    # assumed
    until = found.day_hatched(0.95)
    assert until is not None
    assert until <= found.lot.laid_from + timedelta(days=19)


def test_twelve_days_in_air_at_26_degrees_are_past_hatching_so_that_they_hatch_when_wetted() -> None:
    assert share_done(26, 12) > 0.97
    assert effective_degrees(26, grandis()) * 12 > 11 * effective_degrees(26, grandis())


def test_the_damp_bags_daily_loss_is_that_of_eggs_between_six_and_twelve_days_in_air() -> None:
    seen = math.log(ALIVE_IN_AIR[6] / ALIVE_IN_AIR[12]) / 6
    assert float(starter("packings", kind="damp bag")["loss_per_day"]) == pytest.approx(seen, abs=0.001)
    # later the study lost several times as many a day: eggs that are ready should not wait in a bag
    assert math.log(ALIVE_IN_AIR[12] / ALIVE_IN_AIR[24]) / 12 > 4 * seen
