"""The forecast of every lot: stage, dates, eggs ahead and safe days by route; the arithmetic behind it, and
the rows of a timeline.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from shipping.eggs.clock import effective_degrees
from shipping.eggs.lot_forecast import LotForecast, lot_forecast
from shipping.eggs.should_have_hatched import unseen_text
from shipping.options.journey import lot_days
from shipping.options.option import Destination
from shipping.options.option_factory import OptionFactory
from shipping.post.transit import services_to
from shipping.questions.can_it_ship import SafeDays, SafeRoutes
from shipping.tables.rows.services import Service
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


#: Eyes are reckoned for the day by which this share of the eggs shows them.
EYED_SHARE = 0.5
#: Eyes are looked for within so many days of the first laying day.
EYES_WITHIN_D = 400
#: A row on a terminal is so wide.
ROW_WIDTH = 60


@dataclass(frozen=True, slots=True)
class LastDay:
    """The last day a lot may go by a service to a country; without ``no_last_day``, None is no day."""

    to: str
    service: str
    until: date | None
    no_last_day: bool

    @property
    def words(self) -> str:
        end = (
            "no end within 60 days"
            if self.no_last_day
            else f"{self.until.day} {self.until:%b}"
            if self.until
            else "no day"
        )
        return f"{self.service} {self.to}: {end}"

    def as_json(self) -> dict[str, object]:
        return told(self, "to service until no_last_day")


@dataclass(frozen=True, slots=True)
class LotRow:
    """One lot on the timeline; ``hatch`` is from when to when to wet it where it is ``kept_damp``.

    ``looks`` is (day, stage seen or None); ``eyed`` the day eyes were first seen or, not ``eyed_seen``,
    reckoned. ``doubt`` says why there are no dates; "" where there are.
    """

    lot: str
    fish: str
    kept_damp: bool
    laid_from: date
    laid_to: date
    looks: tuple[tuple[date, str | None], ...]
    eyed: date | None
    eyed_seen: bool
    hatch: Dates
    nearest: LastDay | None
    farthest: LastDay | None
    doubt: str

    @property
    def dates(self) -> tuple[date, ...]:
        last = (way.until for way in (self.nearest, self.farthest) if way)
        every = (
            self.laid_from,
            self.laid_to,
            *(day for day, _ in self.looks),
            self.eyed,
            self.hatch.p05,
            self.hatch.p95,
            *last,
        )
        return tuple(day for day in every if day)

    def as_json(self) -> dict[str, object]:
        return {
            "lot": self.lot,
            "laid": [self.laid_from.isoformat(), self.laid_to.isoformat()],
            "looks": [{"on": day.isoformat(), "stage": stage} for day, stage in self.looks],
            "eyed": {"on": self.eyed.isoformat() if self.eyed else None, "seen": self.eyed_seen},
            **told(self, "hatch nearest farthest"),
        }


@dataclass(frozen=True, slots=True)
class Timeline:
    """All rows by lot, and the day they are seen from."""

    today: date
    rows: tuple[LotRow, ...]

    def groups(self) -> tuple[tuple[LotRow, ...], ...]:
        """Lots in water, then lots kept damp; overdue ones first, then those to be looked at."""
        urgent = sorted(self.rows, key=lambda row: ("overdue" not in row.doubt, not row.doubt))
        both = (tuple(row for row in urgent if row.kept_damp == damp) for damp in (False, True))
        return tuple(group for group in both if group)

    def span(self, rows: Sequence[LotRow]) -> tuple[date, date]:
        """The first and last day to be drawn for some rows: whole weeks, Monday to Monday."""
        days = [self.today, *(day for row in rows for day in row.dates)]
        first, last = min(days) - timedelta(days=1), max(days) + timedelta(days=1)
        return first - timedelta(days=first.weekday()), last + timedelta(days=-last.weekday() % 7)


def lot_timeline(found: Sequence[LotOutlook], shelf: Shelf) -> Timeline:
    """The timeline of lots already reckoned."""
    return Timeline(shelf.today, tuple(_row(one, shelf) for one in found))


def _row(one: LotOutlook, shelf: Shelf) -> LotRow:
    forecast, lot = one.forecast, one.forecast.lot
    eyed, seen = _eyed(forecast)
    damp = lot.kept_damp
    nearest, farthest = _ends(one, shelf)
    return LotRow(
        lot=lot.lot,
        fish=f"{lot.species} {lot.population}".strip(),
        kept_damp=damp,
        laid_from=lot.laid_from,
        laid_to=lot.laid_to,
        looks=_looks(forecast),
        eyed=eyed,
        eyed_seen=seen,
        hatch=(
            Dates(one.wet_from, None if lot.wet_from or lot.wet_until else one.hatch.p50, one.wet_until)
            if damp
            else Dates(None, None, None)
            if one.unseen
            else one.hatch
        ),
        nearest=nearest,
        farthest=farthest,
        doubt=", ".join(reason.code for reason in one.doubts)
        or ("should-have-hatched" if one.unseen else ""),
    )


def _looks(forecast: LotForecast) -> tuple[tuple[date, str | None], ...]:
    """A day seen, with the furthest stage seen on it (sightings of a day stand in the order of stages)."""
    days: dict[date, str | None] = {}
    for sighting in forecast.sightings:
        days[sighting.on] = sighting.stage or days.get(sighting.on)
    return tuple(sorted(days.items()))


def _eyed(forecast: LotForecast) -> tuple[date | None, bool]:
    """The day eyes were first seen, else the first by which half the eggs should show them."""
    seen = [sighting.on for sighting in forecast.sightings if sighting.stage in ("eyed", "ready")]
    if seen:
        return min(seen), True
    if not forecast.has_dates:
        return None, False
    days = (forecast.lot.laid_from + timedelta(days=n) for n in range(EYES_WITHIN_D))
    return (
        next(
            (day for day in days if day > forecast.lot.laid_to and forecast.share_eyed(day) >= EYED_SHARE),
            None,
        ),
        False,
    )


def _ends(one: LotOutlook, shelf: Shelf) -> tuple[LastDay | None, LastDay | None]:
    """The last safe days by the nearest and farthest service in use for the species; None: no orders."""
    species = one.forecast.lot.species
    wanted = sorted(
        {order.country for order in shelf.orders for line in order.lines if line.species == species}
    )
    ways = [(s, to) for to in wanted for s in services_to(shelf, to) if not s.is_collection]
    if not ways:
        return None, None
    ways.sort(key=lambda way: (_usual_days(way[0]), way[0].service, way[1]))
    near, far = ways[0], ways[-1]
    return _last_day(one.safe, near[1], near[0].service), _last_day(one.safe, far[1], far[0].service)


def _usual_days(service: Service) -> float:
    """Working days a service usually takes, a hold at the border by its chance."""
    border = service.border_days
    return service.working_days.usual + (service.border_share * border.usual if border else 0.0)


def _last_day(safe: Sequence[SafeDays], to: str, service: str) -> LastDay:
    own = [days for days in safe if (days.to, days.service) == (to, service)]
    endless = any(days.no_last_day for days in own)
    last = max((days.until for days in own if days.until), default=None)
    return LastDay(to, service, None if endless else last, endless)


def timeline_lines(timeline: Timeline) -> Iterator[str]:
    """The timeline as plain text for a terminal: a row for each lot, a letter for each event."""
    for rows in timeline.groups():
        first, last = timeline.span(rows)
        what = (
            "kept damp; # from when to when to wet them"
            if rows[0].kept_damp
            else "in water; # hatching, 5 to 95 %"
        )
        width = max(len(row.lot) for row in rows)
        yield f"Lots {what}; M half; = laid; o look; e eyes seen, r reckoned; | today"
        yield f"{'':{width}}  {f'{first.day} {first:%b %Y}':<{ROW_WIDTH - 11}}{last.day:>2} {last:%b %Y}"
        for row in rows:
            near = row.nearest.words if row.nearest else "no order for it"
            far = f"; F {row.farthest.words}" if row.farthest and row.farthest != row.nearest else ""
            yield (
                f"{row.lot:{width}}  {_marks(row, timeline.today, first, last)} "
                f" {row.doubt or f'N {near}{far}'}"
            )
        yield ""
    yield "N F: last days by this reckoning, by the nearest and the farthest service in use for the species."


def _marks(row: LotRow, today: date, first: date, last: date) -> str:
    """One row of letters; what comes later in the list is written over what comes before."""
    cells = ["."] * ROW_WIDTH

    def put(day: date | None, mark: str, until: date | None = None) -> None:
        if day:
            for n in range(_column(day, first, last), _column(until or day, first, last) + 1):
                cells[n] = mark

    put(row.laid_from, "=", row.laid_to)
    if row.hatch.p05 and row.hatch.p95:
        put(row.hatch.p05, "#", row.hatch.p95)
    put(row.hatch.p50, "M")
    put(today, "|")
    for day, _ in row.looks:
        put(day, "o")
    put(row.eyed, "e" if row.eyed_seen else "r")
    put(row.farthest.until if row.farthest else None, "F")
    put(row.nearest.until if row.nearest else None, "N")
    return "".join(cells)


def _column(day: date, first: date, last: date) -> int:
    return round((day - first).days / max(1, (last - first).days) * (ROW_WIDTH - 1))
