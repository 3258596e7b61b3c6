"""The forecast of every lot as a person wants it: stage, dates, eggs on the days ahead, and safe days by
route.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from shipping.eggs.lot_forecast import LotForecast, lot_forecast
from shipping.options.option import Destination
from shipping.options.option_factory import Reckoner
from shipping.questions.can_it_ship import SafeDays, ask
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Dates
from shipping.words.reasons import Reason
from shipping.words.units import rounded

#: Days ahead that a forecast shows, besides today.
DAYS_AHEAD = 7


@dataclass(frozen=True)
class LotOutlook:
    """One lot's forecast; for eggs kept damp ``hatch`` are the days from and until which to wet them."""

    forecast: LotForecast
    hatch: Dates
    wet_from: date | None
    wet_until: date | None
    wet_basis: str
    days: tuple[tuple[date, int, int], ...]
    safe: tuple[SafeDays, ...]
    doubts: tuple[Reason, ...]

    def as_json(self) -> dict[str, object]:
        forecast = self.forecast
        today = forecast.today
        return {
            "lot": forecast.lot.lot,
            "species": forecast.lot.species,
            "population": forecast.lot.population,
            "stage": forecast.stage,
            "share_eyed": rounded(forecast.share_eyed(today)) if forecast.has_dates else None,
            "degree_days": rounded(forecast.clock.mean_degree_days(forecast.x(today))),
            "hatch": self.hatch.as_json(),
            "kept_damp": forecast.lot.kept_damp,
            "wet": {
                "from": self.wet_from.isoformat() if self.wet_from else None,
                "until": self.wet_until.isoformat() if self.wet_until else None,
                "basis": self.wet_basis,
            },
            "overdue": forecast.is_overdue,
            "misdated": forecast.is_misdated,
            "too_old": forecast.is_too_old(today),
            "eggs_today": forecast.eggs_on(today),
            "free": forecast.free_on(today),
            "days": [{"on": day.isoformat(), "eggs": eggs, "free": free} for day, eggs, free in self.days],
            "safe": [days.as_json() for days in self.safe],
            "reasons": [reason.as_json() for reason in self.doubts],
        }


def outlooks(shelf: Shelf, lots: tuple[str, ...] = ()) -> tuple[LotOutlook, ...]:
    """The forecast of the lots named, or of all, by name."""
    names = [lot.lot for lot in shelf.lots if not lots or lot.lot in lots]
    reckoner = Reckoner(shelf)
    return tuple(_outlook(reckoner, name) for name in sorted(names))


def _outlook(reckoner: Reckoner, name: str) -> LotOutlook:
    shelf = reckoner.shelf
    forecast = lot_forecast(shelf, name)
    lot, today = forecast.lot, shelf.today
    dates = Dates(*(forecast.day_hatched(share) for share in (0.05, 0.5, 0.95)))
    days = tuple(today + timedelta(days=n) for n in range(DAYS_AHEAD + 1))
    wet_from = lot.wet_from or (dates.p05 if lot.kept_damp else None)
    wet_until = lot.wet_until or (dates.p95 if lot.kept_damp else None)
    return LotOutlook(
        forecast=forecast,
        hatch=dates,
        wet_from=wet_from,
        wet_until=wet_until,
        wet_basis=(
            "" if not lot.kept_damp else "your own dates" if lot.wet_from or lot.wet_until else "reckoned"
        ),
        days=tuple((day, forecast.eggs_on(day), forecast.free_on(day)) for day in days),
        safe=_safe(reckoner, name, forecast),
        doubts=forecast.doubts(today),
    )


def _safe(reckoner: Reckoner, name: str, forecast: LotForecast) -> tuple[SafeDays, ...]:
    """Safe days to every country that has an order for the species."""
    shelf = reckoner.shelf
    if forecast.doubts(shelf.today):
        return ()
    wanted = {
        order.country
        for order in shelf.orders
        for line in order.lines
        if line.species == forecast.lot.species
    }
    found = [
        days
        for country in sorted(wanted)
        for days in ask(shelf, name, Destination(country), reckoner=reckoner).safe
    ]
    reckoner.forget_rides()
    return tuple(sorted(found, key=lambda s: (s.to, s.service, s.packing)))
