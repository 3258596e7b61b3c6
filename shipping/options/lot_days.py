"""One lot over many days and journeys as arrays: what is free, why not, and the share due to hatch."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np

from shipping.eggs.clock import Clock
from shipping.eggs.hatching import hatch_shares_by_day
from shipping.eggs.lot_forecast import LotForecast, lot_forecast
from shipping.options.journey import Curves, Ints, bit, bits
from shipping.options.option import Floats, LotDay
from shipping.post.restrictions import closed_at_home
from shipping.tables.shelf import Shelf
from shipping.words.reasons import Reason


def lot_day(shelf: Shelf, name: str, day: date) -> LotDay:
    """What is free of a lot on a day, by which clock it is judged, and why nothing of it may go."""
    on = lot_days(shelf, name, (day,))
    forecast, reasons = on.forecast, list(on.forecast.doubts(day))
    if home := closed_at_home(shelf, forecast.species, forecast.lot.medium):
        reasons.extend(home.reasons)
    if forecast.is_unsettled(day):
        reasons.append(_unsettled(forecast, day))
    return LotDay(forecast, day, int(on.free[0]), on.look_first, on.shares_eyed[0], tuple(reasons))


def _unsettled(forecast: LotForecast, day: date) -> Reason:
    lot = forecast.lot
    text = (
        f"Lot {lot.lot} was laid until {lot.laid_to}; eggs bear no jolts in the first {forecast.settle_d}"
        f" days (assumed), and {day} is too soon."
    )
    facts: dict[str, object] = {"lot": lot.lot, "on": day.isoformat(), "settle_d": forecast.settle_d}
    return Reason("too-young", text, facts, lot.cited)


@dataclass(frozen=True, eq=False)
class LotDays:
    """One lot over D days. ``free`` and ``whole``: eggs free to pack with and without the share showing eyes
    (D,); ``shares_eyed``: that share, 1 where nobody has to look for eyes (D,); ``codes``: why nothing may go
    (D,).
    """

    forecast: LotForecast
    days: tuple[date, ...]
    look_first: bool
    shares_eyed: list[float]
    free: Ints
    whole: Ints
    codes: Ints

    @property
    def kept_at_c(self) -> float:
        """What the lot is kept at on all of the days [C]: what no look has changed yet stays."""
        return self.forecast.kept_at_c(self.days[-1] if self.days else self.forecast.today)

    def due(self, curves: Curves) -> Floats:
        """The share of whole eggs due to hatch by each row of the curves, at each node (R, nodes)."""
        if not self.forecast.has_dates:
            return np.ones(curves.gathered.shape)
        key = (self.forecast.alike, self.look_first)
        if key not in curves.known:
            curves.known[key] = self._due(curves)
        return curves.known[key]

    def _due(self, curves: Curves) -> Floats:
        x, found = self.forecast.x_on(self.days), np.ones(curves.gathered.shape)
        for clock, first, last in self._clocks():
            rows = slice(*np.searchsorted(curves.day, (first, last + 1)).tolist())
            found[rows] = hatch_shares_by_day(
                clock, x[first : last + 1], curves.day[rows] - first, curves.gathered[rows]
            )
        return found

    def _clocks(self) -> Iterator[tuple[Clock, int, int]]:
        """Each clock by which eggs of the lot are judged, from which of the days to which."""
        if not self.look_first:
            yield self.forecast.clock, 0, len(self.days) - 1
            return
        for number, day in enumerate(self.days):
            yield self.forecast.clock_with_eyes(day), number, number


def lot_days(shelf: Shelf, name: str, days: tuple[date, ...]) -> LotDays:
    """A lot over some days: `lot_day` of each, as arrays."""
    forecast = lot_forecast(shelf, name)
    plan = shelf.settings.plan
    home = closed_at_home(shelf, forecast.species, forecast.lot.medium)
    at_home = bits(home.reasons) if home else 0
    doubts, whole = forecast.standing_on(days)
    shares, look_first = [1.0] * len(days), not forecast.is_sendable(plan.send_from)
    if look_first:
        shares = forecast.shares_eyed(days) if forecast.has_dates else [0.0] * len(days)
    free = whole
    if look_first:  # those taken showed eyes: of the eggs left fewer do
        taken = forecast.taken_on(days)
        each = zip(whole, taken, shares, strict=True)
        free = [max(0, math.floor(eggs * share - gone * (1.0 - share) + 1e-9)) for eggs, gone, share in each]
    unsettled = np.array([forecast.is_unsettled(day) for day in days], dtype=bool)
    codes = np.array([at_home | sum(map(bit, codes)) for codes in doubts], dtype=np.int64)
    return LotDays(
        forecast=forecast,
        days=days,
        look_first=look_first,
        shares_eyed=shares,
        free=np.where(unsettled, 0, np.array(free, dtype=np.int64)),
        whole=np.array(whole, dtype=np.int64),
        codes=codes | np.where(unsettled, bit("too-young"), 0),
    )
