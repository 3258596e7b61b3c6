"""The forecast of every lot: stage, dates, eggs ahead and safe days by route; the arithmetic behind it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from shipping.eggs.clock import effective_degrees
from shipping.eggs.lot_forecast import LotForecast, lot_forecast, unseen_text
from shipping.options.journey import lot_days
from shipping.options.option import Destination
from shipping.options.option_factory import OptionFactory
from shipping.questions.can_it_ship import SafeDays, SafeRoutes
from shipping.tables.shelf import Shelf
from shipping.words.reasons import Reason
from shipping.words.three_point import Dates
from shipping.words.units import many, percent, rounded, told

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
    unseen: str
    """What is asked of eggs that should have hatched, and of which nobody wrote; else ""."""

    def as_json(self) -> dict[str, object]:
        forecast = self.forecast
        today = forecast.today
        return {
            **told(forecast.lot, "lot species population"),
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
            **told(self, "safe"),
            "reasons": [reason.as_json() for reason in self.doubts],
            "unseen": str(self.unseen),
        }


def outlooks(shelf: Shelf, lots: tuple[str, ...] = ()) -> tuple[LotOutlook, ...]:
    """The forecast of the lots named, or of all, by name."""
    names = sorted(lot.lot for lot in shelf.lots if not lots or lot.lot in lots)
    wanted = {species: sorted(countries) for species, countries in _wanted(shelf).items()}
    places = {species: tuple(map(Destination, countries)) for species, countries in wanted.items()}
    every = {to for name in names for to in places.get(shelf.lot_by_name[name].species, ())}
    routes = SafeRoutes(OptionFactory(shelf), tuple(every))
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
    wet_from, wet_until = forecast.wetting
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
        unseen=unseen_text(forecast),
    )


def explained(shelf: Shelf, name: str) -> tuple[str, ...]:
    """The arithmetic behind one lot's forecast, line by line, with units and sources."""
    forecast = lot_forecast(shelf, name)
    lines = [
        *_species_lines(forecast),
        *_warmth_lines(shelf, forecast),
        *_look_lines(forecast),
        *_hatch_lines(forecast),
        *_count_lines(shelf, forecast),
    ]
    lines += [f"{reason.code}: {reason.text}" for reason in forecast.doubts(shelf.today)]
    return (*lines, *filter(None, (unseen_text(forecast),)))


def _gain(celsius: float, forecast: LotForecast) -> str:
    """g(T) written out."""
    species = forecast.species
    most = species.keep_max_c
    felt = f"{celsius:g}" if most is None or celsius <= most else f"{most:g} (keep_max_c, for {celsius:g})"
    if celsius <= species.zero_c:
        return f"{celsius:g} °C is not above {species.zero_c:g}: 0 C-d"
    return f"{felt} - {species.zero_c:g} = {effective_degrees(celsius, species):g} C-d"


def _species_lines(forecast: LotForecast) -> Iterator[str]:
    lot, species, points = forecast.lot, forecast.species, forecast.species.hatch_days
    degrees = effective_degrees(species.incubation_c, species)
    yield f"Lot {lot.lot}: {species.scientific_name} {lot.population}".rstrip()
    middle = "" if species.hatch_usual_d else f" (the middle is sqrt({points.early:g} x {points.late:g}))"
    yield (
        f"Hatching {points.early:g} / {points.usual:.1f} / {points.late:g} days (5 / 50 / 95 %) at "
        f"{species.incubation_c:g} °C{middle}."
    )
    yield f"Source: {species.source or 'none given'}"
    yield (
        f"Development stops at {species.zero_c:g} °C ({species.zero_basis}); a day at"
        f" {species.incubation_c:g} °C gives {_gain(species.incubation_c, forecast)}"
        " (C-d: degree-days above that, Kamler 2002)."
    )
    yield (
        f"So K, the degree-days to hatching, is days x {degrees:g} = {points.early * degrees:.0f} / "
        f"{points.usual * degrees:.0f} / {points.late * degrees:.0f} C-d."
    )


def _warmth_lines(shelf: Shelf, forecast: LotForecast) -> Iterator[str]:
    lot = forecast.lot
    yield f"Laid {lot.laid_from} to {lot.laid_to}, any day as likely ({lot.cited})."
    looks = shelf.looks_by_lot.get(lot.lot, ())
    for n, (since, per_day) in enumerate(forecast.heat.steps):
        changed = [
            look
            for look in looks
            if look.kept_at_c is not None and (look.on <= since if n == 0 else look.on == since)
        ]
        celsius = changed[-1].kept_at_c if changed else lot.kept_at_c
        row = changed[-1].cited if changed else lot.cited
        told = _gain(lot.kept_at_c if celsius is None else celsius, forecast)
        yield f"From {since} the shelf gives {per_day:g} C-d a day: {told} ({row})."


def _look_lines(forecast: LotForecast) -> Iterator[str]:
    heat, lot = forecast.heat, forecast.lot
    for seen in forecast.sightings:
        oldest, youngest = heat.at(seen.on), max(0.0, heat.at(seen.on) - heat.at(lot.laid_to))
        span = f"{oldest:.1f}" if oldest == youngest else f"{youngest:.1f} to {oldest:.1f}"
        yield f"{seen.on}: {seen.stage or 'live eggs'} seen, when eggs had gathered {span} C-d ({seen.row})."
    if any(seen.stage and seen.stage != "laid" for seen in forecast.sightings):
        yield (
            f"Eyes show at {forecast.species.eyed_at:g} of K, 'ready' at 0.85, each seen within"
            f" {forecast.look_spread:g} on the log scale; a look is weighed by that chance, and being alive"
            " by K > gathered."
        )
    yield (
        f"Likelihood of the stages seen, given alive on {forecast.last_seen}: {forecast.likelihood:.4g} "
        "(below 0.0001 the lot is misdated)."
    )
    yield (
        f"Prior chance of being whole on {forecast.last_seen}: {forecast.prior_whole(forecast.last_seen):.4g}"
        " (below 0.01 the lot is overdue)."
    )


def _hatch_lines(forecast: LotForecast) -> Iterator[str]:
    today, lot = forecast.today, forecast.lot
    yield f"Gathered by {today}: {forecast.clock.mean_degree_days(forecast.x(today)):.1f} C-d in the mean."
    if not forecast.has_dates:
        return
    what = "ready to be wetted" if lot.kept_damp else "hatched, of those whole today"
    for share in (0.05, 0.5, 0.95):
        day = forecast.day_hatched(share)
        if day is None:
            yield f"{percent(share)} {what}: never, as they are kept."
        else:
            stands = forecast.x(day)
            yield (
                f"{percent(share)} {what}: by {day}, when the oldest eggs will have gathered {stands:.0f}"
                " C-d."
            )


def _count_lines(shelf: Shelf, forecast: LotForecast) -> Iterator[str]:
    today, lot, count = forecast.today, forecast.lot, forecast.count
    loss = f"losses on the shelf {forecast.shelf_loss_per_day:.3g} a day ({_loss_basis(shelf)})"
    yield f"{many(count.eggs, 'egg')} counted on {count.on} ({lot.count_basis}); {loss}."
    if forecast.has_dates:
        before = float(forecast.clock.whole(forecast.x(count.on))[0])
        whole = float(forecast.clock.whole(forecast.x(today))[0]) / before if before > 0 else 1.0
        days = (today - count.on).days
        reckoned = count.eggs * whole * math.exp(-forecast.shelf_loss_per_day * days)
        sum_of = (
            f"{count.eggs} x {whole:.4f} still whole x exp(-{forecast.shelf_loss_per_day:.3g} x {days}) ="
            f" {reckoned:.1f}"
        )
        gone = f", at most {count.eggs} - {count.known_gone} seen to be gone" if count.known_gone else ""
        away = {
            "packed since": forecast.packed_since_count(today),
            "held": sum(eggs for _, eggs in forecast.held),
        }
        told_away = ", ".join(f"{eggs} {what}" for what, eggs in away.items() if eggs)
        less = f", less {told_away} and what of them would not have lived" if told_away else ""
        yield f"Eggs on {today}: {sum_of}{gone}{less}: {forecast.eggs_on(today)}."
    free = forecast.free_on(today)
    yield f"Free: {forecast.eggs_on(today)} today, free {free} after {lot.keep_back} kept back."
    if forecast.has_dates and not forecast.is_sendable(shelf.settings.plan.send_from):
        share, taken = forecast.share_eyed(today), forecast.taken_on((today,))[0]
        less = f" - {taken:.1f} taken x {1 - share:.4f}" if taken else ""
        yield (
            f"No look says that its eggs may go: {percent(share)} show eyes on {today} by the clock, so"
            f" {free} x {share:.4f}{less} = {lot_days(shelf, lot.lot, (today,)).free[0]} could go today,"
            " after a look."
        )


def _loss_basis(shelf: Shelf) -> str:
    """How the daily loss on the shelf is known: as the newest row of ``rates`` says, else assumed."""
    rows = [row for row in shelf.rates if row.what == "shelf_loss_per_day" and row.from_day <= shelf.today]
    newest = max(rows, key=lambda row: (row.from_day, row.basis != "learned"), default=None)
    return (newest.basis or "your own") if newest else "assumed"
