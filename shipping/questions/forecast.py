"""The forecast of every lot as a person wants it: stage, dates, eggs on the days ahead, and safe days by
route.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from shipping.eggs.lot_forecast import LotForecast, lot_forecast
from shipping.options.option import Destination
from shipping.options.option_factory import Reckoner
from shipping.questions.safe_days import SafeDays, SafeRoutes
from shipping.tables.shelf import Shelf
from shipping.words.reasons import Reason
from shipping.words.three_point import Dates
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
    names = sorted(lot.lot for lot in shelf.lots if not lots or lot.lot in lots)
    wanted = {species: sorted(countries) for species, countries in _wanted(shelf).items()}
    places = {species: tuple(map(Destination, countries)) for species, countries in wanted.items()}
    every = {to for name in names for to in places.get(shelf.lot_by_name[name].species, ())}
    routes = SafeRoutes(Reckoner(shelf), tuple(every))
    return tuple(
        _outlook(shelf, name, routes, places.get(shelf.lot_by_name[name].species, ())) for name in names
    )


def _wanted(shelf: Shelf) -> dict[str, set[str]]:
    """The countries that have an order for each species."""
    found: dict[str, set[str]] = {}
    for order in shelf.orders:
        for line in order.lines:
            found.setdefault(line.species, set()).add(order.country)
    return found


def _outlook(shelf: Shelf, name: str, routes: SafeRoutes, to: tuple[Destination, ...]) -> LotOutlook:
    forecast = lot_forecast(shelf, name)
    lot, today = forecast.lot, shelf.today
    dates, doubts = Dates(*forecast.days_hatched((0.05, 0.5, 0.95))), forecast.doubts(today)
    safe = routes.of(name, to) if to and not doubts else ()
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
        safe=tuple(sorted(safe, key=lambda s: (s.to, s.service, s.packing))),
        doubts=doubts,
    )
