"""One lot over many days and journeys as arrays: what is free, why not, and the share due to hatch by each arrival."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.clock import Clock, effective_degrees
from shipping.eggs.hatching import hatch_shares
from shipping.eggs.lot_forecast import LotForecast, lot_forecast
from shipping.post.restrictions import closed_at_home
from shipping.tables.shelf import Shelf
from shipping.week.rides import Destination, Floats, Leg, LotDay
from shipping.words.reasons import NEARNESS, Reason

Ints = NDArray[np.int64]


def bit(code: str) -> int:
    """A reason's code as one bit of a whole number: many codes are then one number."""
    return 1 << NEARNESS[code]


def bits(reasons: tuple[Reason, ...] | list[Reason]) -> int:
    found = 0
    for reason in reasons:
        found |= bit(reason.code)
    return found


def lot_day(shelf: Shelf, name: str, day: date) -> LotDay:
    """What is free of a lot on a day, by which clock it is judged, and why nothing of it may go."""
    forecast = lot_forecast(shelf, name)
    plan = shelf.settings.plan
    reasons = list(forecast.doubts(day))
    home = closed_at_home(shelf, forecast.species, forecast.lot.medium)
    if home:
        reasons.extend(home.reasons)
    free, look_first, share, clock = forecast.free_on(day), False, 1.0, forecast.clock
    if not forecast.is_sendable(forecast.species.send_from or plan.send_from):
        look_first = True
        share = forecast.share_eyed(day) if forecast.has_dates else 0.0
        free = math.floor(free * share + 1e-9)
        clock = forecast.clock_with_eyes(day)
    fertile = 1.0 if look_first or forecast.known_fertile else plan.fertile_share
    return LotDay(forecast, day, free, look_first, share, clock, fertile, forecast.stage, tuple(reasons))


@dataclass(frozen=True, eq=False)
class Journeys:
    """All legs to one destination over some days, day by day, as arrays of J legs and T dates.

    ``day``: which of the days each leg starts on (J,). ``t``: days on the way to each date (J, T). ``chances``: of the
    dates, zero beyond a leg's last (J, T). ``codes``: what speaks against each leg (J,).
    """

    destination: Destination
    legs: tuple[Leg, ...]
    day: Ints
    t: Ints
    chances: Floats
    codes: Ints

    @classmethod
    def of(cls, destination: Destination, legs: tuple[Leg, ...], days: tuple[date, ...]) -> Journeys:
        number = {day: n for n, day in enumerate(days)}
        most = max((leg.days.size for leg in legs), default=1)
        t, chances = np.zeros((len(legs), most), dtype=np.int64), np.zeros((len(legs), most))
        for n, leg in enumerate(legs):
            t[n, : leg.days.size], chances[n, : leg.days.size] = leg.days, leg.chances
        day = np.array([number[leg.day] for leg in legs], dtype=np.int64)
        codes = np.array([bits(leg.reasons) for leg in legs], dtype=np.int64)
        return cls(destination, legs, day, t, chances, codes)


@dataclass(frozen=True, eq=False)
class LotDays:
    """One lot over D days. ``free`` and ``whole``: eggs free to pack with and without the share showing eyes (D,);
    ``codes``: why nothing may go (D,); ``due``: the share due to hatch by each date of each journey (J, T)."""

    name: str
    medium: str
    salt_g_l: float
    look_first: bool
    fertile_share: float
    near_hatching: bool
    has_dates: bool
    free: Ints
    whole: Ints
    codes: Ints
    due: dict[Destination, Floats]


def lot_days(shelf: Shelf, name: str, days: tuple[date, ...], journeys: tuple[Journeys, ...]) -> LotDays:
    """A lot over some days, with its hatching on every journey that somebody asks of it."""
    found = [lot_day(shelf, name, day) for day in days]
    first = found[0]
    forecast = first.forecast
    return LotDays(
        name=name,
        medium=forecast.lot.medium,
        salt_g_l=forecast.lot.salt_g_l,
        look_first=first.look_first,
        fertile_share=first.fertile_share,
        near_hatching=forecast.stage == "ready" or forecast.is_overdue,
        has_dates=forecast.has_dates,
        free=np.array([one.free for one in found], dtype=np.int64),
        whole=np.array([forecast.free_on(day) for day in days], dtype=np.int64),
        codes=np.array([bits(one.reasons) for one in found], dtype=np.int64),
        due=_due(forecast, [one.clock for one in found], days, journeys),
    )


def _due(
    forecast: LotForecast, clocks: list[Clock], days: tuple[date, ...], journeys: tuple[Journeys, ...]
) -> dict[Destination, Floats]:
    """The share due by each date of each journey; legs of one day and one warmth share a curve."""
    if not forecast.has_dates:
        return {journey.destination: np.ones(journey.t.shape) for journey in journeys}
    degrees = [np.array([effective_degrees(leg.warmth.mean_c, forecast.species) for leg in journey.legs]) for journey in journeys]
    longest: dict[tuple[int, float], int] = {}
    for journey, warm in zip(journeys, degrees, strict=True):
        for day, g, most in zip(journey.day.tolist(), warm.tolist(), journey.t.max(axis=1).tolist(), strict=True):
            longest[(day, g)] = max(longest.get((day, g), 0), most)
    curves: dict[tuple[int, float], Floats] = {}
    by_day: dict[int, list[tuple[int, float]]] = {}
    for key in longest:
        by_day.setdefault(key[0], []).append(key)
    for number, keys in by_day.items():
        gathered = np.concatenate([key[1] * np.arange(longest[key] + 1) for key in keys])
        shares = hatch_shares(clocks[number], forecast.x(days[number]), 1.0, gathered)
        ends = np.cumsum([longest[key] + 1 for key in keys])
        curves |= dict(zip(keys, np.split(shares, ends[:-1]), strict=True))
    due = {}
    for journey, warm in zip(journeys, degrees, strict=True):
        rows = [curves[(day, g)][t] for day, g, t in zip(journey.day.tolist(), warm.tolist(), journey.t, strict=True)]
        due[journey.destination] = np.array(rows).reshape(journey.t.shape)
    return due
