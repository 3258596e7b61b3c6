"""The forecast of every lot as a person wants it: stage, dates, eggs on the days ahead, and safe days by route."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from shipping.eggs.lot_forecast import LotForecast, lot_forecast
from shipping.tables.shelf import Shelf
from shipping.week.ask import SafeDays, ask
from shipping.week.planned import Dates
from shipping.week.rides import Destination
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
    return tuple(outlook(shelf, name) for name in sorted(names))


def outlook(shelf: Shelf, name: str) -> LotOutlook:
    """One lot's forecast."""
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
        wet_basis="" if not lot.kept_damp else "your own dates" if lot.wet_from or lot.wet_until else "reckoned",
        days=tuple((day, forecast.eggs_on(day), forecast.free_on(day)) for day in days),
        safe=_safe(shelf, name, forecast),
        doubts=forecast.doubts(today),
    )


def _safe(shelf: Shelf, name: str, forecast: LotForecast) -> tuple[SafeDays, ...]:
    """Safe days to every country that has an order for the species."""
    if forecast.doubts(shelf.today):
        return ()
    wanted = {order.country for order in shelf.orders for line in order.lines if line.species == forecast.lot.species}
    found = [days for country in sorted(wanted) for days in ask(shelf, name, Destination(country)).safe]
    return tuple(sorted(found, key=lambda s: (s.to, s.service, s.packing)))


def explained(shelf: Shelf, name: str) -> tuple[str, ...]:
    """The arithmetic behind one lot's forecast, line by line, with units and sources."""
    forecast = lot_forecast(shelf, name)
    lot, species, today = forecast.lot, forecast.species, shelf.today
    points, heat = species.hatch_days, forecast.heat
    degrees = max(0.0, species.incubation_c - species.zero_c)
    lines = [
        f"Lot {lot.lot}: {species.scientific_name} {lot.population}".rstrip(),
        f"Hatching {points.early:g} / {points.usual:.1f} / {points.late:g} days (5 / 50 / 95 %) at {species.incubation_c:g} C"
        f"{'' if species.hatch_usual_d else ' (the middle is the geometric mean)'}.",
        f"Source: {species.source or 'none given'}",
        f"Zero of development {species.zero_c:g} C ({species.zero_basis}); degrees a day at {species.incubation_c:g} C: "
        f"{species.incubation_c:g} - {species.zero_c:g} = {degrees:g}.",
        f"So K, the degree-days to hatching, is {points.early * degrees:.0f} / {points.usual * degrees:.0f} / "
        f"{points.late * degrees:.0f} C-d.",
        f"Laid {lot.laid_from} to {lot.laid_to}, any day as likely.",
    ]
    for since, per_day in heat.steps:
        lines.append(f"From {since} the shelf gives {per_day:g} C-d a day.")
    for sighting in forecast.sightings:
        at = heat.at(sighting.on)
        lines.append(f"{sighting.on}: {sighting.stage or 'live eggs'} seen at up to {at:.1f} C-d ({sighting.row}).")
    lines += [
        f"Likelihood of the stages seen, given alive on {forecast.last_seen}: {forecast.likelihood:.4g} "
        "(below 0.0001 the lot is misdated).",
        f"Prior chance of being whole on {forecast.last_seen}: {forecast.prior_whole(forecast.last_seen):.4g} "
        "(below 0.01 the lot is overdue).",
        f"Gathered by {today}: {forecast.clock.mean_degree_days(forecast.x(today)):.1f} C-d in the mean.",
        f"{forecast.count.eggs} eggs counted on {forecast.count.on} ({lot.count_basis}); losses on the shelf "
        f"{forecast.shelf_loss_per_day:g} a day (assumed); today {forecast.eggs_on(today)}, free {forecast.free_on(today)} "
        f"after {lot.keep_back} kept back.",
    ]
    lines += [f"{reason.code}: {reason.text}" for reason in forecast.doubts(today)]
    return tuple(lines)
