"""What arrivals and looks teach: a shelf and its outcomes in, learned values, before and after, out."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from shipping.learning.estimate import Estimate, FittedPoints
from shipping.learning.hatch_points import best_fit, fitted_eyed_at, fitted_zero, records, seen_both_ways
from shipping.learning.losses import (
    Counts,
    Losses,
    PooledLosses,
    ReportedPacking,
    dead_eggs,
    fitted_fertile_share,
    fitted_losses,
    fitted_shelf_loss,
    pooled_losses,
)
from shipping.learning.outcomes import Outcome, frame
from shipping.learning.silence import Silence, scale_of_promises, silence
from shipping.learning.transit_days import fitted_days, without_stragglers, working_days
from shipping.post.transit import services_to
from shipping.tables.country_parts import nearness, serves
from shipping.tables.editing.row_writer import append_rows, column_names, take_rows_back
from shipping.tables.learned_values import (
    EVERYTHING,
    HATCH_DAYS,
    PACKING_RATES,
    SERVICE_DAYS,
    applied,
    newest_rows,
    rate_cells,
    service_key,
    travel_media,
)
from shipping.tables.rows.learned import RateRow
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.services import Service
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.words.sentence import say
from shipping.words.three_point import ThreePoint
from shipping.words.units import many, percent

#: A parcel sent so long ago has arrived or never will; the table's share of lost ones weighs so many parcels
#: (assumed).
LOST_AFTER_D, LOST_WEIGHT = 30, 100.0


@dataclass(frozen=True, slots=True)
class Learned:
    """One learned value: what it was in the plans so far, what it is now, and on how many ``n`` it rests.

    ``overruled``: the breeder's own row stands, and `learn` writes none over it. ``low`` and ``high``: the
    interval that holds it with 90 %. ``mishaps``: lines among them that were read as ruined by a mishap.
    """

    what: str
    for_: str
    before: float
    after: float
    unit: str
    n: int
    low: float
    high: float
    source: str
    overruled: bool = False
    mishaps: int = 0

    @classmethod
    def of(
        cls, what: str, for_: str, before: float, now: Estimate, unit: str, source: str, n: int | None = None
    ) -> Learned:
        """From an estimate, that rests on ``n`` where the estimate does not say on how many."""
        rests_on = now.n if n is None else n
        return cls(what, for_, before, now.value, unit, rests_on, now.low, now.high, source)

    def said(self, label: Callable[[str], str]) -> str:
        """One line for a person, with what ``label`` calls the value; days as a person says them."""
        before, after, low, high = (
            f"{value:.1f} days" if self.unit == "d" else rate_shown(self.what, self.unit, value)
            for value in (self.before, self.after, self.low, self.high)
        )
        whose = "" if self.for_ == EVERYTHING else f", {self.for_.replace('/', ', ')}"
        own = "  (your own row stands)" if self.overruled else ""
        return f"  {label(self.what)}{whose}: {before} -> {after} ({low} to {high}) on {self.n}{own}"

    def row(self, from_day: date) -> RateRow:
        """The row of ``rates`` that says so from that day on."""
        cells: dict[str, Any] = self.as_json() | {"from_day": from_day, "basis": "learned"}
        cells["value"] = cells.pop("after")
        del cells["before"], cells["overruled"]
        return RateRow(**cells)

    def as_json(self) -> dict[str, object]:
        facts = {"for" if name == "for_" else name: value for name, value in asdict(self).items()}
        del facts["mishaps"]
        return facts | {name: float(f"{facts[name]:.6g}") for name in ("before", "after", "low", "high")}


@dataclass(frozen=True, slots=True)
class Lesson:
    """All that was learned, and how many lines sent were not reported yet (censored, not counted): of them
    ``under_way`` may still arrive in time, and ``closed`` came back or were given up.
    """

    rates: tuple[Learned, ...]
    reported: int
    unreported: int
    silence: str = ""
    mishaps: int = 0
    under_way: int = 0
    closed: int = 0

    def rows(self, from_day: date) -> tuple[RateRow, ...]:
        """The rows to add to ``rates``; none for values the breeder has overruled."""
        return tuple(rate.row(from_day) for rate in self.rates if not rate.overruled)


def learn(shelf: Shelf, outcomes: Iterable[Outcome]) -> Lesson:
    """What arrivals and looks teach of packings, services, species and shelf, sorted by what it is for.

    Notes
    -----
    Every value is held near the tables' own (or the breeder's own row of ``rates``), never near an earlier
    learned one: the same arrivals are not counted twice.
    """
    outcomes = tuple(outcomes)
    table = applied(shelf, learned=False)
    rates = [
        *_packing_rates(table, outcomes),
        *_service_rates(table, outcomes),
        *_species_rates(table, outcomes),
        *_setting_rates(table, outcomes),
    ]
    now = applied(shelf)
    standing = {(row.what, row.for_): row for row in newest_rows(shelf, learned=True)}
    checked = []
    for rate in sorted(rates, key=lambda rate: (rate.for_, rate.what)):
        row = standing.get((rate.what, rate.for_))
        before = rate.before  # the plans use the setting, where the shelf has one of that very name
        if row or rate.for_ == EVERYTHING:
            before = row.value if row else float(getattr(now.settings.plan, rate.what))
        checked.append(replace(rate, before=before, overruled=row is not None and row.basis != "learned"))
    ours = [outcome for outcome in outcomes if not outcome.was_bought]
    reported = sum(outcome.is_reported for outcome in ours)
    ways = {f"{packing.packing}/{medium}" for packing, medium in _ways_to_travel(table)}
    ruined = sum(rate.mishaps for rate in rates if rate.what == "loss_handling" and rate.for_ in ways)
    told = silence(outcomes, shelf.today)
    closed = sum(outcome.is_lost or outcome.came_back for outcome in ours if not outcome.is_reported)
    unreported = len(ours) - reported
    under_way = unreported - closed - told.silent
    return Lesson(tuple(checked), reported, unreported, told.text, ruined, under_way, closed)


def losses_if(shelf: Shelf, outcomes: Iterable[Outcome], silent_kept: bool) -> tuple[RateRow, ...]:
    """The rows of losses to learn if all silent lines had kept their promise, or were like those told of."""
    table = applied(shelf, learned=False)
    return tuple(rate.row(shelf.today) for rate in _packing_rates(table, tuple(outcomes), silent_kept))


def rate_shown(what: str, unit: str, value: float) -> str:
    """A value as a person reads it: shares as percent, warmth in degrees, days as people say them."""
    if unit == "d":
        return days_said(value)
    is_share = unit in ("", "1/d") and what != "kappa"
    return percent(value) if is_share else say("{value:.3g}{unit}", value, " °C" * (unit == "C"))


def said_lines(rates: Iterable[Learned], label: Callable[[str], str]) -> Iterator[str]:
    """What was learned, for a person; the three days of a service or fish in one line."""
    rates = tuple(rates)
    for rate in rates:
        names = next((names for names in (SERVICE_DAYS, HATCH_DAYS) if rate.what in names), None)
        if names is None:
            yield rate.said(label)
        elif rate.what == names[1]:
            days = {other.what: other for other in rates if other.for_ == rate.for_ and other.what in names}
            if len(days) == len(names):
                unit = "working days" if names is SERVICE_DAYS else "days"
                early, usual, late = (days[name] for name in names)
                yield _said_days(early, usual, late, unit)


def _said_days(early: Learned, usual: Learned, late: Learned, unit: str) -> str:
    was = ", ".join(days_said(learned.before) for learned in (usual, early, late))
    sure = f" ({usual.low:.1f} to {usual.high:.1f})"
    own = "  (your own row stands)" if usual.overruled else ""
    return (
        f"  {usual.for_}: usually {days_said(usual.after)}{sure}, {days_said(early.after)} at the earliest,"
        f" {days_said(late.after)} {unit} at the latest (was {was}) on {usual.n}{own}"
    )


def days_said(days: float) -> str:
    """Days as a person says them: whole ones, or one of two."""
    whole = math.floor(days)
    if whole >= 1 and 0.25 <= days - whole < 0.75:
        return say("{first} to {last}", whole, whole + 1)
    return str(max(1, round(days)))


# -- packings


def _packing_rates(
    shelf: Shelf, outcomes: tuple[Outcome, ...], silent_kept: bool | None = None
) -> list[Learned]:
    """What is learned of every packing in every medium it travels in, also of those nobody told of.

    ``silent_kept``: do lines of which nothing is told count as promises kept? None: as far as `silence` says.
    """
    lines = frame(outcomes)
    if lines.empty:
        return []
    if silent_kept:
        return _rates_of_promises(shelf, outcomes)
    packed = tuple(_packed(lines, packing, medium) for packing, medium in _ways_to_travel(shelf))
    pooled = zip(packed, pooled_losses(packed), strict=True)
    rates = [rate for packing, taught in pooled for rate in _losses_of(packing, taught, packed)]
    for packing in shelf.packings:
        if len(travel_media(packing)) > 1:
            whole = _packed(lines, packing, None)
            others = (other for other in packed if not other.key.startswith(f"{packing.packing}/"))
            every = (whole, *others)
            rates += _losses_of(whole, pooled_losses(every)[0], every)
    told = silence(outcomes, shelf.today)
    if not told.weight or silent_kept is False:
        return rates
    scale = scale_of_promises(shelf, outcomes)
    return [_softened(rate, scale, told) for rate in rates]


def _softened(rate: Learned, scale: Estimate, told: Silence) -> Learned:
    """Losses that what was told raises, nearer by the weight of silence to what promises say; others as are.

    Notes
    -----
    Between the two in the log. Either falls with a worse report, and the weight with any: bad news never
    makes eggs fewer.
    """
    is_spread = rate.what == "kappa"
    promises = Estimate.of_table(rate.before) if is_spread else scale.times(rate.before)
    if rate.before <= 0 or (rate.after >= promises.value if is_spread else rate.after <= promises.value):
        return rate
    ends = ((rate.after, promises.value), (rate.low, promises.low), (rate.high, promises.high))
    after, low, high = (by_told ** (1 - told.weight) * kept**told.weight for by_told, kept in ends)
    source = f"{rate.source}; {many(told.silent, 'silent line')} read as kept with weight {told.weight:.2f}"
    return replace(rate, after=after, low=low, high=high, source=source)


def _ways_to_travel(shelf: Shelf) -> list[tuple[Packing, str]]:
    every = [(packing, medium) for packing in shelf.packings for medium in travel_media(packing)]
    return sorted(every, key=lambda way: (way[0].packing, way[1]))


def _packed(lines: Any, packing: Packing, medium: str | None) -> ReportedPacking:
    """A packing in a medium (in all of them for None) with the lines told of it."""
    own = lines[lines["packing"] == packing.packing]
    own = own if medium is None else own[own["medium"] == medium]
    seen_fertile = own[own["fertile_known"]]
    key = packing.packing if medium is None else f"{packing.packing}/{medium}"
    table = Losses(packing.loss_handling, packing.loss_per_day, packing.kappa)
    return ReportedPacking(key, packing.kind, table, counts_of(seen_fertile if len(seen_fertile) else own))


def _rates_of_promises(shelf: Shelf, outcomes: tuple[Outcome, ...]) -> list[Learned]:
    """Losses if every silent line kept its promise: the table's, times what promises kept and broken say."""
    told, scale = silence(outcomes, shelf.today), scale_of_promises(shelf, outcomes)
    source = (
        f"{told.broken} broken promises among {told.told + told.silent} lines, of which only {told.told} were"
        " told of; the silent ones are read as kept"
    )
    rates = []
    for packing, medium in _ways_to_travel(shelf):
        for what in ("loss_handling", "loss_per_day"):
            key, before = f"{packing.packing}/{medium}", float(getattr(packing, what))
            after = scale.times(before)
            rates.append(Learned.of(what, key, before, after, PACKING_RATES[what], source, told.told))
    return rates


def counts_of(lines: Any, share: str = "other_share") -> Counts:
    """Reported lines (a frame of `frame`) as counts."""
    columns = (lines[name].to_numpy(dtype=float) for name in ("packed", "living", "days", share))
    return Counts.of(*columns)


def _losses_of(
    packing: ReportedPacking, taught: PooledLosses, every: tuple[ReportedPacking, ...]
) -> list[Learned]:
    n, table = packing.counts.total, packing.table
    ruined = taught.mishaps
    if n:
        source = f"{many(n, 'line')} reported" + (f", {ruined} of them ruined by a mishap" if ruined else "")
    else:
        others = sum(other.counts.total for other in every)
        source = f"none reported; as {many(others, 'line')} of other packings teach, its own kind first"
    rates = []
    for what in ("loss_handling", "loss_per_day", "kappa"):
        before = getattr(table, what)
        after, low, high = (getattr(losses, what) for losses in (taught.losses, taught.low, taught.high))
        now = Estimate(after, low, high, n)
        rate = Learned.of(what, packing.key, before, now, PACKING_RATES[what], source)
        rates.append(replace(rate, mishaps=ruined))
    return rates


# -- services


def days_on_the_way(shelf: Shelf, outcomes: Iterable[Outcome]) -> dict[str, tuple[list[int], list[int]]]:
    """Working days of each parcel that arrived, at home and abroad, by service (see `service_key`).

    Where its lines were told to have arrived on different days, the first of them counts; one whose day
    nobody told is left out.
    """
    first: dict[str, tuple[date, Outcome]] = {}
    for outcome in outcomes:
        if outcome.day_untold or (shelf.disruptions and outcome.arrived_on and _is_disrupted(shelf, outcome)):
            continue
        if outcome.arrived_on and (
            outcome.parcel not in first or outcome.arrived_on < first[outcome.parcel][0]
        ):
            first[outcome.parcel] = (outcome.arrived_on, outcome)
    home = shelf.settings.home.country
    services = _services_by_route(shelf)
    days: dict[str, tuple[list[int], list[int]]] = {}
    for arrived_on, outcome in (first[name] for name in sorted(first)):
        for service in services(outcome.other_end, outcome.service)[:1]:
            taken = working_days(outcome.sent_on, arrived_on, service, outcome.to, outcome.region)
            abroad = outcome.other_end[0] != home
            days.setdefault(service_key(shelf, service), ([], []))[abroad].append(taken)
    return days


def _services_by_route(shelf: Shelf) -> Callable[[tuple[str, str], str], tuple[Service, ...]]:
    """The services of a name to a place; each route is looked up once."""
    return cache(lambda to, name: tuple(row for row in services_to(shelf, *to) if row.service == name))


def _is_disrupted(shelf: Shelf, outcome: Outcome) -> bool:
    """Was the post there disrupted while the parcel was on its way? Then its days teach nothing usual."""
    until, place = outcome.arrived_on or outcome.sent_on, outcome.other_end
    return any(
        row.from_ <= until
        and row.until >= outcome.sent_on
        and row.service in (None, outcome.service)
        and serves(row.to, nearness(*place, shelf.zones_of(place[0])))
        for row in shelf.disruptions
    )


def _service_rates(shelf: Shelf, outcomes: tuple[Outcome, ...]) -> list[Learned]:
    by_key = {service_key(shelf, service): service for service in shelf.services}
    rates: list[Learned] = []
    for key, (at_home, abroad) in sorted(days_on_the_way(shelf, outcomes).items()):
        service = by_key[key]
        if not service.is_collection:
            n = len(at_home) + len(abroad)
            home, late_home = without_stragglers(service, at_home)
            away, late_away = without_stragglers(service, abroad)
            late = late_home + late_away
            source = f"{many(n, 'parcel')} that arrived" + (
                f", {late} of them far too late to count" if late else ""
            )
            learned = fitted_days(service, home, away)
            rates += _three_rates(key, SERVICE_DAYS, service.working_days, learned, n, source)
    return rates + _lost_rates(shelf, outcomes)


def _lost_rates(shelf: Shelf, outcomes: tuple[Outcome, ...]) -> list[Learned]:
    """The share of parcels that never arrive, by service, from parcels sent `LOST_AFTER_D` days ago or more.

    Notes
    -----
    The mean of a Beta around the table's share that weighs `LOST_WEIGHT` parcels, with its 90 % interval.
    """
    from scipy.special import betaincinv

    fates: dict[str, dict[str, bool]] = {}
    services = _services_by_route(shelf)
    last = shelf.today - timedelta(days=LOST_AFTER_D)
    for outcome in outcomes:
        if outcome.sent_on <= last and not outcome.was_bought:
            posted = [row for row in services(outcome.other_end, outcome.service) if not row.is_collection]
            for service in posted[:1]:
                fates.setdefault(service_key(shelf, service), {})[outcome.parcel] = outcome.is_lost
    rates = []
    by_key = {service_key(shelf, service): service for service in shelf.services}
    for key, parcels in sorted(fates.items()):
        n, lost, before = len(parcels), sum(parcels.values()), by_key[key].parcel_lost_share
        a, b = LOST_WEIGHT * before + lost, LOST_WEIGHT * (1.0 - before) + n - lost
        if a <= 0 or b <= 0:
            continue
        low, high = (float(betaincinv(a, b, end)) for end in (0.05, 0.95))
        share = Estimate(a / (a + b), low, high, n)
        source = f"{lost} lost of {many(n, 'parcel')} sent {LOST_AFTER_D} days ago or more"
        rates.append(Learned.of("parcel_lost_share", key, before, share, "", source))
    return rates


def _three_rates(
    key: str, names: tuple[str, str, str], table: ThreePoint, learned: FittedPoints, n: int, source: str
) -> list[Learned]:
    now = learned.points
    points = ((table.early, now.early), (table.usual, now.usual), (table.late, now.late))
    return [
        Learned(name, key, before, after, "d", n, low, high, source)
        for name, (before, after), low, high in zip(names, points, learned.low, learned.high, strict=True)
    ]


# -- species


def _species_rates(shelf: Shelf, outcomes: tuple[Outcome, ...]) -> list[Learned]:
    rates: list[Learned] = []
    for key, species in sorted(shelf.species.items()):
        rates += _development(shelf, species, None, key, outcomes)
        populations = {lot.population for lot in shelf.lots if lot.species == key and lot.population}
        for population in sorted(populations):
            rates += _development(shelf, species, population, f"{key}/{population}", outcomes)
    return rates


def _development(
    shelf: Shelf, species: Species, population: str | None, key: str, outcomes: tuple[Outcome, ...]
) -> list[Learned]:
    """Zero, hatch days by that zero, and eyed share by those days, where something was seen."""
    rates: list[Learned] = []
    zero = fitted_zero(shelf, species, population)
    known = species
    if zero is not None:
        source = f"{many(zero.n, 'lot')} watched at different warmth"
        rates.append(Learned.of("zero_c", key, species.zero_c, zero, "C", source))
        known = species.model_copy(update={"zero_c": zero.value})
        shelf = replace(shelf, species={**shelf.species, species.species: known})
    seen = records(shelf, species.species, population, outcomes)
    if seen:
        fitted = best_fit(known, seen)
        eggs = int(np.sum([record.eggs for record in seen]))
        source = f"{len(seen)} watched (lots or parcels), {many(eggs, 'egg')}"
        rates += _three_rates(key, HATCH_DAYS, species.hatch_days, fitted, len(seen), source)
        points = fitted.points
        days = {"hatch_early_d": points.early, "hatch_usual_d": points.usual, "hatch_late_d": points.late}
        known = known.model_copy(update=days)
    eyed = seen_both_ways(shelf, known, population)
    if eyed:
        source = f"{many(len(eyed), 'lot')} seen without and with eyes"
        share = fitted_eyed_at(shelf, known, eyed)
        rates.append(Learned.of("eyed_at", key, species.eyed_at, share, "", source))
    return rates


# -- settings


def _setting_rates(shelf: Shelf, outcomes: tuple[Outcome, ...]) -> list[Learned]:
    rates: list[Learned] = []
    plan = shelf.settings.plan
    dead = dead_eggs(shelf)
    if dead.looks:
        before = plan.shelf_loss_per_day
        loss = fitted_shelf_loss(dead, before)
        source = f"{dead.eggs} dead of {dead.egg_days:.0f} egg-days in {many(dead.looks, 'look')}"
        rates.append(Learned.of("shelf_loss_per_day", EVERYTHING, before, loss, "1/d", source, dead.looks))
    unseen = tuple(outcome for outcome in outcomes if outcome.is_reported and not outcome.fertile_known)
    if unseen:
        share = _fertile_share(shelf, outcomes, unseen)
        n = len(unseen)
        source = f"{many(n, 'line')} reported whose eggs nobody had seen to be fertile"
        rates.append(Learned.of("fertile_share", EVERYTHING, plan.fertile_share, share, "", source, n))
    return rates


def _fertile_share(shelf: Shelf, outcomes: tuple[Outcome, ...], unseen: tuple[Outcome, ...]) -> Estimate:
    """From unseen eggs of the packing most used for them, given what it costs eggs seen to be fertile."""
    names = [outcome.packing for outcome in unseen if outcome.packing in shelf.packing_by_name]
    if not names:
        return Estimate.of_table(shelf.settings.plan.fertile_share)
    name = max(sorted(set(names)), key=names.count)
    packing = shelf.packing_by_name[name]
    table = Losses(packing.loss_handling, packing.loss_per_day, packing.kappa)
    lines = frame(outcome for outcome in outcomes if outcome.packing == name)
    losses = fitted_losses(counts_of(lines[lines["fertile_known"]]), table)
    counts = counts_of(lines[~lines["fertile_known"]], "hatch_share")
    return fitted_fertile_share(counts, losses, shelf.settings.plan.fertile_share)


#: The table's file, and the one that shelves made before have.
LEARNED_FILE, FORMER_FILE = "learned.csv", "rates.csv"
HEADER = ("what", "for", "value", "unit", "from_day", "basis", "n", "low", "high", "source")
#: Columns that tables written before do not have.
_NEWER = {"low", "high"}


def add_rates(
    folder: Path, rows: Iterable[RateRow], known: Iterable[RateRow]
) -> tuple[Path, tuple[RateRow, ...]]:
    """The table's file and the rows it gained: all or none. What was learned earlier that day and says
    otherwise (a report was mended since) becomes a comment; a row among those ``known`` that says the same,
    or is the breeder's own for that day, stays. Raises ShelfProblems as `append_rows` does.
    """
    path, standing = _learned_file(folder), dict[tuple[str, str, date], RateRow]()
    for row in sorted(known, key=lambda row: (row.basis != "learned", row.at.row)):
        standing[(row.what, row.for_, row.from_day)] = row
    beside = ((row, standing.get((row.what, row.for_, row.from_day))) for row in rows)
    new = tuple(row for row, there in beside if there is None or _replaces(row, there))
    gone = [standing[key] for row in new if (key := (row.what, row.for_, row.from_day)) in standing]
    _made_comments(path, gone)
    if new:
        lacks = _NEWER - set(column_names(path)) if path.exists() else ()
        written = [rate_cells(row).items() for row in new]
        append_rows(
            path, [{name: cell for name, cell in row if name not in lacks} for row in written], HEADER
        )
    return path, new


def take_back(folder: Path, rates: Iterable[RateRow]) -> tuple[Path, tuple[RateRow, ...]]:
    """The table's file and the learned rows of the last day that has any, made comments: what stood before
    them holds again. Raises ShelfProblems as `take_rows_back` does.
    """
    path, learned = _learned_file(folder), [row for row in rates if row.basis == "learned"]
    last = max((row.from_day for row in learned), default=None)
    gone = tuple(row for row in learned if row.from_day == last)
    _made_comments(path, gone)
    return path, gone


def _made_comments(path: Path, rows: Collection[RateRow]) -> None:
    if rows:
        take_rows_back(path, {row.at.row: {"what": row.what, "for": row.for_} for row in rows})


def _learned_file(folder: Path) -> Path:
    former = (folder / FORMER_FILE).is_file() and not (folder / LEARNED_FILE).exists()
    return folder / (FORMER_FILE if former else LEARNED_FILE)


def _replaces(row: RateRow, there: RateRow) -> bool:
    """Does a row learned say anything else than the one of its day, which is learned too?"""
    said, before = rate_cells(row), rate_cells(there)
    return there.basis == row.basis and any(said[name] != before[name] for name in ("value", "n"))
