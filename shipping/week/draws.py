"""One draw as it is planned or was counted: a ride and eggs in, the draw with all its figures and the bench's
notes out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from functools import lru_cache

from shipping.options.bench_notes import bench_notes
from shipping.options.hatching_there import hatch_at_buyer
from shipping.options.option import LotDay, Ride, units_for
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Draw, PlannedLine, Wetting
from shipping.words.three_point import Dates


def draw_of(ride: Ride, eggs: int, shelf: Shelf, units: int | None = None, count_first: bool = False) -> Draw:
    """So many eggs by a ride, in as many units as hold them, or in those that were packed; ``count_first``
    where the lot's count is too old for what is drawn of it.
    """
    forecast, leg = ride.lot_day.forecast, ride.leg
    units = units_for(ride.packing, eggs) if units is None else units
    each = math.ceil(eggs / units)
    risk = ride.risk(eggs)
    return Draw(
        lot=forecast.lot.lot,
        packing=ride.packing.packing,
        units=units,
        pack=eggs,
        h_per_egg=risk.per_egg,
        h_any=risk.any_egg,
        v_per_egg=ride.v_per_egg,
        stage=ride.lot_day.stage,
        look_first=ride.lot_day.look_first,
        hatch_at_buyer=None if forecast.lot.kept_damp else Dates(*hatch_at_buyer(ride)),
        wet=_wet(ride) if forecast.lot.kept_damp else None,
        eyed_on_arrival=1.0 if forecast.stage in ("eyed", "ready") else _eyed(ride.lot_day, leg.arrivals.p50),
        h_at_p95=ride.h_at_p95,
        air_hours=ride.hours_of_air(each, forecast.lot.salt_g_l),
        unfit_chance=None if forecast.known_fertile else 1.0 - _fertile_share(ride, shelf) ** each,
        count_first=count_first,
    )


def _fertile_share(ride: Ride, shelf: Shelf) -> float:
    """The share of a lot's uneyed eggs that is fertile, as if no look on the day counted on eyes."""
    own = ride.lot_day.forecast.lot.fertile_share
    return shelf.settings.plan.fertile_share if own is None else own


def _wet(ride: Ride) -> Wetting:
    """From when to when eggs sent damp are to be wetted, never before the first of them arrive."""
    begin, until = ride.lot_day.forecast.wetting
    first = ride.leg.arrivals.p05
    return Wetting(max(begin, first) if begin else None, max(until, first) if until else None)


@lru_cache(maxsize=1024)
def _eyed(lot_day: LotDay, arrival: date) -> float:
    """The share of the eggs of a lot packed on a day that is reckoned to show eyes on another."""
    forecast = lot_day.forecast
    whole = float(lot_day.clock.whole(forecast.x(arrival))[0])
    return forecast.share_eyed(arrival) if whole > 0 and forecast.has_dates else 0.0


def with_bench_notes(
    lines: tuple[PlannedLine, ...],
    rides: Mapping[tuple[str, int], Mapping[str, Ride]],
    shelf: Shelf,
    box_name: str,
) -> tuple[PlannedLine, ...]:
    """The lines with what the bench should know of each draw, once the parcel's box is known; ``rides`` by
    line and lot.
    """
    box = shelf.box_by_name.get(box_name)

    def noted(line: PlannedLine, draw: Draw) -> Draw:
        ride = rides[(line.order, line.line)][draw.lot]
        return replace(draw, cautions=bench_notes(ride, draw.unit_eggs[0], draw.air_hours, box))

    return tuple(replace(line, draws=tuple(noted(line, draw) for draw in line.draws)) for line in lines)
