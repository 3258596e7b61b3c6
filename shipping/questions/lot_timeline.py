"""When each lot was laid, seen, shows eyes, hatches and last may go: outlooks and a shelf in, rows of a
timeline out.

How it is drawn is left to others; every date is one that `forecast` shows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from shipping.eggs.lot_forecast import LotForecast
from shipping.post.transit import services_to
from shipping.questions.can_it_ship import SafeDays
from shipping.questions.forecast import LotOutlook
from shipping.tables.rows.services import Service
from shipping.tables.shelf import Shelf
from shipping.words.three_point import Dates
from shipping.words.units import told

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
