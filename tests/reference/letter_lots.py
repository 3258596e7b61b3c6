"""The model's sections 1 and 2 once more, naively: the rows of a shelf's files in, what each lot holds out;
no room is imported.

Days are added one by one and integrals taken by Gauss-Legendre quadrature. Slow on purpose, and written from
the model's text alone.
"""

from __future__ import annotations

import csv
import math
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from scipy.special import ndtr

Row = dict[str, str]
STAGES = ("laid", "fertile", "eyed", "ready")
TABLES = (
    *("species", "lots", "inspections", "services", "packings", "boxes", "weather", "disruptions", "zones"),
    "orders",
)
NODES, NODE_WEIGHTS = np.polynomial.legendre.leggauss(32)
DEFAULTS = {
    "promise": 0.95,
    "fertile_share": 0.85,
    "look_spread": 0.10,
    "shelf_loss_per_day": 0.01,
    "send_from": "eyed",
    "settle_d": 2,
}


def number(row: Row, name: str, otherwise: float | None = None) -> float:
    text = (row.get(name) or "").strip()
    if not text and otherwise is not None:
        return otherwise
    return float(text)


def known(row: Row, name: str) -> float | None:
    return float(row[name]) if (row.get(name) or "").strip() else None


def day_of(row: Row, name: str) -> date | None:
    return date.fromisoformat(row[name]) if (row.get(name) or "").strip() else None


@dataclass(frozen=True)
class Points:
    """A three-point distribution by its text: F(x) = Phi(ln(x / usual) / s)."""

    early: float
    usual: float
    late: float

    def spread(self, is_below: bool) -> float:
        return math.log(self.usual / self.early if is_below else self.late / self.usual) / 1.6449

    def share_under(self, x: float) -> float:
        if x <= 0:
            return 0.0
        is_below = x < self.usual - 1e-9
        spread = self.spread(is_below)
        if spread == 0:
            return 0.0 if is_below else 1.0
        return float(ndtr(math.log(x / self.usual) / spread))


def points_of(row: Row, early: str, usual: str, late: str) -> Points:
    first, last = number(row, early), number(row, late)
    return Points(first, number(row, usual, math.sqrt(first * last)), last)


@lru_cache(maxsize=1024)
def whole_days(points: Points) -> dict[int, float]:
    if points.early == points.usual == points.late == 0:
        return {0: 1.0}
    chances, n = {1: points.share_under(1.5)}, 1
    while 1 - points.share_under(n + 0.5) >= 1e-9:
        n += 1
        chances[n] = points.share_under(n + 0.5) - points.share_under(n - 0.5)
    total = sum(chances.values())
    return {n: chance / total for n, chance in chances.items()}


class LetterShelf:
    """All rows of a folder as text, and the day."""

    def __init__(self, folder: Path, today: date) -> None:
        self.folder, self.today = folder, today
        self.settings: dict[str, Any] = tomllib.loads((folder / "shelf.toml").read_text(encoding="utf-8"))
        self.tables = {table: self._rows(folder / f"{table}.csv") for table in TABLES}
        self.zones = {row["zone"]: row["countries"].split() for row in self.tables["zones"]}

    @staticmethod
    def _rows(path: Path) -> tuple[Row, ...]:
        if not path.exists():
            return ()
        with path.open(encoding="utf-8", newline="") as file:
            return tuple(csv.DictReader(line for line in file if line.strip() and not line.startswith("#")))

    def plan(self, name: str) -> Any:
        return self.settings.get("plan", {}).get(name, DEFAULTS[name])

    def row(self, table: str, key: str, name: str) -> Row:
        return next(row for row in self.tables[table] if row[key] == name)


Sighting = tuple[date, str]
Side = Callable[[np.ndarray], np.ndarray]


class LetterLot:
    """One lot after all its looks."""

    def __init__(self, shelf: LetterShelf, name: str) -> None:
        self.shelf, self.row = shelf, shelf.row("lots", "lot", name)
        self.species = shelf.row("species", "species", self.row["species"])
        self.looks = sorted(
            (row for row in shelf.tables["inspections"] if row["lot"] == name), key=lambda row: row["on"]
        )
        self.is_damp = self.row["medium"] != "water"
        first, last = date.fromisoformat(self.row["laid_from"]), date.fromisoformat(self.row["laid_to"])
        self.laying = [first + timedelta(days=n) for n in range((last - first).days + 1)]
        self.points = points_of(self.species, "hatch_early_d", "hatch_usual_d", "hatch_late_d")
        self.zero_c = number(self.species, "zero_c", 10)
        self.keep_max_c = number(self.species, "keep_max_c", math.inf)
        self.a_day = self.gain(number(self.species, "incubation_c"))
        self.sightings = self._sightings()
        self.evidence = self._evidence()
        self.seen_last = max(on for on, _ in self.sightings)
        self._above: dict[tuple[tuple[Sighting, ...], date, float], float] = {}
        self._sides: dict[tuple[tuple[Sighting, ...], date, bool], Side] = {}
        self._gathered: dict[date, list[float]] = {}

    def gain(self, celsius: float) -> float:
        """g(T)."""
        return max(0.0, min(celsius, self.keep_max_c) - self.zero_c)

    def temperature(self, day: date) -> float:
        found = number(self.row, "kept_at_c")
        for look in self.looks:
            if look["on"] <= day.isoformat() and known(look, "kept_at_c") is not None:
                found = number(look, "kept_at_c")
        return found

    def gathered(self, laid: date, until: date) -> float:
        days = self._gathered.setdefault(laid, [0.0])
        while len(days) <= (until - laid).days:
            days.append(days[-1] + self.gain(self.temperature(laid + timedelta(days=len(days) - 1))))
        return days[max(0, (until - laid).days)]

    def _sightings(self) -> tuple[Sighting, ...]:
        """Days on which live eggs were seen, and as what."""
        counted = date.fromisoformat(self.row["counted_on"])
        found = [(counted, "")] if int(self.row["eggs"]) else []
        if self.row.get("stage"):
            found.append((day_of(self.row, "stage_on") or counted, self.row["stage"]))
        for look in self.looks:
            has_seen = any(look.get(name) or "" for name in ("stage", "alive", "hatched", "removed"))
            if has_seen and look.get("alive") != "0":
                found.append((date.fromisoformat(look["on"]), look.get("stage") or ""))
        return tuple(found)

    def _evidence(self) -> tuple[Sighting, ...]:
        """A stage is evidence once: the first eyed, the first ready, the last fertile; else live eggs."""
        days = sorted(self.sightings, key=lambda one: (one[0], STAGES.index(one[1]) if one[1] else -1))
        kept: list[Sighting] = []
        for n, (on, stage) in enumerate(days):
            others = days[:n] if stage in ("eyed", "ready") else days[n + 1 :]
            repeats = any(other == stage for _, other in others)
            kept.append((on, "" if repeats else stage))
        return tuple(kept)

    @property
    def stage(self) -> str:
        return max((stage for _, stage in self.sightings if stage), key=STAGES.index, default="laid")

    # -- the grid, as integrals over K for each laying day

    def likelihood(self, k: np.ndarray, laid: date, sightings: Sequence[Sighting]) -> np.ndarray:
        found = np.ones(k.size)
        for on, stage in sightings:
            if stage in ("", "laid"):
                continue
            share = 0.85 if stage == "ready" else number(self.species, "eyed_at", 0.5)
            a = self.gathered(laid, on)
            q = ndtr(np.log(a / (share * k)) / self.shelf.plan("look_spread")) if a > 0 else np.zeros(k.size)
            found = found * (1 - q if stage == "fertile" else q)
        return found

    def above(self, laid: date, a: float, sightings: tuple[Sighting, ...]) -> float:
        """Integral of prior times likelihood over K > a, for one laying day."""
        key = (sightings, laid, a)
        if key not in self._above:
            self._above[key] = float(self.each_above(laid, np.array([a]), sightings)[0])
        return self._above[key]

    def each_above(self, laid: date, a: np.ndarray, sightings: tuple[Sighting, ...]) -> np.ndarray:
        """The same for many ``a``."""
        total = np.zeros(a.size)
        for is_below in (True, False):
            key = (sightings, laid, is_below)
            if key not in self._sides:
                self._sides[key] = self._side(laid, sightings, is_below)
            total += self._sides[key](a)
        return total

    def _side(self, laid: date, sightings: tuple[Sighting, ...], is_below: bool) -> Side:
        """One side of the usual K: stretch by stretch from its far end, then what is left of the first."""
        spread, usual = self.points.spread(is_below), self.points.usual * self.a_day
        if spread == 0:
            share = 0.5 * float(self.likelihood(np.array([usual]), laid, sightings)[0])
            return lambda a: np.where(usual > a + 1e-9, share, 0.0)

        def between(start: np.ndarray, end: np.ndarray) -> np.ndarray:
            middle, half = (end + start) / 2, (end - start) / 2
            z = middle[:, None] + half[:, None] * NODES
            density = np.exp(-z * z / 2) / math.sqrt(2 * math.pi)
            likely = self.likelihood(usual * np.exp(spread * z.ravel()), laid, sightings).reshape(z.shape)
            return half * ((density * likely) @ NODE_WEIGHTS)

        edges = np.linspace(*((-8.5, 0.0) if is_below else (0.0, 8.5)), 13)
        beyond = np.append(np.cumsum(between(edges[:-1], edges[1:])[::-1])[::-1], 0.0)

        def side(a: np.ndarray) -> np.ndarray:
            lowest = np.log(np.maximum(a, 1e-300) / usual) / spread
            start = np.clip(lowest, edges[0], edges[-1])
            after = np.minimum(np.searchsorted(edges, start, side="left"), edges.size - 1)
            return between(start, edges[after]) + beyond[after]

        return side

    def weight(self, day: date, more: float = 0.0, sightings: tuple[Sighting, ...] | None = None) -> float:
        """W(K > a(day) + more) where being whole tells of K; every egg has been whole when last seen."""
        seen = self.evidence if sightings is None else sightings
        return sum(self.above(laid, self._floor(laid, day, more, seen), seen) for laid in self.laying) / len(
            self.laying
        )

    def each_weight(self, day: date, more: Sequence[float], sightings: tuple[Sighting, ...]) -> list[float]:
        """The same for many ``more``."""
        total = np.zeros(len(more))
        for laid in self.laying:
            floors = np.array([self._floor(laid, day, one, sightings) for one in more])
            total += self.each_above(laid, floors, sightings)
        return [float(one) for one in total / len(self.laying)]

    def _floor(self, laid: date, day: date, more: float, seen: tuple[Sighting, ...]) -> float:
        floor = self.gathered(laid, day) + more
        last = max((on for on, _ in seen), default=date.min)
        return floor if self.is_damp else max(floor, self.gathered(laid, last))

    def all_weight(self, sightings: tuple[Sighting, ...] | None = None) -> float:
        seen = self.evidence if sightings is None else sightings
        return sum(self.above(laid, 0.0, seen) for laid in self.laying) / len(self.laying)

    def whole(self, day: date, sightings: tuple[Sighting, ...] | None = None) -> float:
        """The weight of eggs that are whole on a day: all of it, kept damp."""
        return self.all_weight(sightings) if self.is_damp else self.weight(day, sightings=sightings)

    # -- what is asked of it

    def prior_whole(self, day: date) -> float:
        shares = [1 - self.points.share_under(self.gathered(laid, day) / self.a_day) for laid in self.laying]
        return sum(shares) / len(shares)

    @cached_property
    def is_overdue(self) -> bool:
        return not self.is_damp and self.prior_whole(self.seen_last) < 0.01

    @cached_property
    def is_misdated(self) -> bool:
        is_damp = self.species["incubation"] == "damp"
        if self.is_overdue or (is_damp and self.row.get("wet_from") and self.row.get("wet_until")):
            return False
        alive_only = ((self.seen_last, ""),)
        return self.whole(self.seen_last) / self.whole(self.seen_last, alive_only) < 1e-4

    def is_too_old(self, day: date) -> bool:
        return not self.is_damp and not self.is_overdue and self.prior_whole(day) < 0.01

    @cached_property
    def counts(self) -> list[tuple[date, int]]:
        found = [(date.fromisoformat(self.row["counted_on"]), int(self.row["eggs"]))]
        found += [
            (date.fromisoformat(look["on"]), int(look["alive"])) for look in self.looks if look.get("alive")
        ]
        return found

    def taken_out(self, after: date, until: date) -> int:
        between = (
            look
            for look in self.looks
            if after.isoformat() < look["on"] <= until.isoformat() and not look.get("alive")
        )
        return sum(int(look.get("removed") or 0) + int(look.get("hatched") or 0) for look in between)

    def reckoned(self, day: date) -> float:
        on, eggs = self.counts[-1]
        share = 1.0 if self.is_damp else self.whole(day) / self.whole(on)
        return eggs * share * math.exp(-self.shelf.plan("shelf_loss_per_day") * (day - on).days)

    def eggs_on(self, day: date) -> int:
        on, eggs = self.counts[-1]
        if self.is_overdue or self.is_misdated:
            return eggs - self.taken_out(on, date.max)
        # eggs seen to be gone are gone: the reckoned number never exceeds what was counted less them
        return max(0, min(math.floor(self.reckoned(day) + 1e-9), eggs - self.taken_out(on, date.max)))

    def free_on(self, day: date) -> int:
        if self.is_overdue or self.is_misdated or self.is_too_old(day) or self.is_past_wetting(day):
            return 0
        return max(0, self.eggs_on(day) - int(self.row.get("keep_back") or 0))

    # -- eggs kept damp

    @cached_property
    def wetting(self) -> tuple[date | None, date | None]:
        """From and until, by the breeder's own days, else by the clock."""
        return (
            day_of(self.row, "wet_from") or self._first_day(0.05),
            day_of(self.row, "wet_until") or self._first_day(0.95),
        )

    def _first_day(self, share: float) -> date | None:
        day = self.laying[0]
        while self.share_hatched(day) < share - 2e-5:
            day += timedelta(days=1)
            if (day - self.laying[0]).days > 3650:
                return None
        return day

    @cached_property
    def last_wetting(self) -> date | None:
        if not self.is_damp or self.is_misdated or self.wetting[1] is None:
            return None
        keeps = number(self.species, "ready_keeps_d", 60 if self.species["incubation"] == "damp" else 7)
        until = self.wetting[1]
        seen = [on for on, _ in self.sightings if on > until]
        return max([until, *seen]) + timedelta(days=int(keeps))

    def is_past_wetting(self, day: date) -> bool:
        return self.last_wetting is not None and day > self.last_wetting

    def degree_days(self, day: date) -> float:
        weights = []
        for laid in self.laying:
            floor = max(self.gathered(laid, day), self.gathered(laid, self.seen_last))
            weights.append(self.above(laid, 0.0 if self.is_damp else floor, self.evidence))
        return sum(w * self.gathered(laid, day) for w, laid in zip(weights, self.laying, strict=True)) / sum(
            weights
        )

    def share_hatched(self, day: date) -> float:
        """Of the eggs whole today; of eggs kept damp, all that are ready to be wetted by then."""
        before = self.all_weight() if self.is_damp else self.whole(self.shelf.today)
        return 1 - self.weight(day) / before
