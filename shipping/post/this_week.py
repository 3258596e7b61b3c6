"""What of this week's world decides a journey: rows of disruptions and of weather for days in, notes out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from shipping.post.warmth import TripWarmth
from shipping.tables.rows.weather import Disruption, Weather
from shipping.words.reasons import Note

#: The notes of this module, by code.
THIS_WEEK = frozenset({"disrupted", "days-weather", "no-forecast"})


def rows_that_decide(trip: TripWarmth, met: Sequence[Disruption], feels: bool) -> tuple[Note, ...]:
    """A note for each row of ``disruptions`` that a parcel meets, and, where it ``feels`` the way, for each
    row of ``weather`` for just the days on which its cold and heat are judged.
    """
    days = dict.fromkeys(day.row for day in trip.judged if day.row) if feels else {}
    return (*map(_disrupted, met), *map(_felt, days))


def _disrupted(row: Disruption) -> Note:
    facts: dict[str, object] = {"days": row.days, "stopped": row.stopped, "service": row.service or ""}
    return Note("disrupted", {**_span(row.source, row.from_, row.until), **facts, "row": row.cited})


def _felt(row: Weather) -> Note:
    facts: dict[str, object] = {"low_c": row.low_c, "high_c": row.high_c, "place": row.to}
    return Note("days-weather", {**_span(row.source, row.from_, row.until), **facts, "row": row.cited})


def _span(source: str, begin: date | None, until: date | None) -> dict[str, object]:
    return {"source": source, "begin": str(begin), "until": str(until)}


def forecast_to_look_at(trip: TripWarmth, place: str, last: date) -> tuple[Note, ...]:
    """That somebody should look at the forecast of both ends before hand-over, where on some day up to the
    95 % arrival (``last``) only the month is known, which knows no extremes.
    """
    if all(day.row for day in trip.judged):
        return ()
    felt: dict[str, object] = {"low_c": trip.coldest.low_c, "high_c": trip.hottest.high_c}
    return (Note("no-forecast", {"place": place, "until": last.isoformat(), **felt}),)
