"""What one lot holds and when it hatches: table rows and looks in, counts, dates and doubts of a lot out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property, lru_cache

import numpy as np

from shipping.eggs.clock import Clock, Floats, ShelfHeat, fresh_clock, shelf_heat
from shipping.eggs.lot_looks import Count, Sighting, last_count, sightings
from shipping.tables.lots import STAGES, Lot
from shipping.tables.recounts import Bound, bounds
from shipping.tables.shelf import Shelf
from shipping.tables.species import Species
from shipping.words.reasons import Reason

#: Under this prior chance of being whole, a lot that is whole is overdue and one not seen since is too old.
OVERDUE_UNDER = 0.01
#: Under this likelihood of its stages a lot is misdated.
MISDATED_UNDER = 1e-4
#: A share this little short of the one asked for is that share: the 95 % point is written to four places.
SHARE_ROUNDING = 2e-5
#: So many clocks stay in memory, each some 100 to 500 kB.
KEPT_CLOCKS = 64
#: No date is looked for beyond this many days.
HORIZON_D = 3650


@dataclass(frozen=True, eq=False)
class LotForecast:
    """One lot as it stands on ``today``, with all its evidence weighed; ask `lot_forecast` for one.

    It is small, since ten thousand lots have one each; the clocks asked last are kept, others are reckoned again.
    """

    lot: Lot
    species: Species
    today: date
    heat: ShelfHeat
    sightings: tuple[Sighting, ...]
    count: Count
    packed: tuple[tuple[date, int], ...]
    shelf_loss_per_day: float
    look_spread: float
    recount: Bound | None

    @property
    def prior(self) -> Clock:
        """The clock before any look."""
        return _prior(self)

    @property
    def clock(self) -> Clock:
        """The clock after all looks."""
        return _clock(self)

    @cached_property
    def likelihood(self) -> float:
        """The likelihood of the stages seen, given that eggs live on the last day that somebody saw them."""
        at = self.x(self.last_seen)
        before = float(self.prior.whole(at)[0])
        return float(self.clock.whole(at)[0]) / before if before > 0 else 0.0

    @cached_property
    def stage(self) -> str:
        """The furthest stage a look has shown; ``laid`` where none has."""
        return max((s.stage for s in self.sightings if s.stage), key=STAGES.index, default="laid")

    @property
    def recount_excess(self) -> int:
        """By how many eggs a look says more than can be; 0 where all can be."""
        return self.recount.excess if self.recount else 0

    @property
    def known_fertile(self) -> bool:
        return self.stage != "laid"

    @cached_property
    def last_seen(self) -> date:
        """The day live eggs were last seen."""
        return max((s.on for s in self.sightings), default=self.lot.laid_to)

    def x(self, day: date) -> float:
        """What the shelf has gathered by ``day`` [C-d]."""
        return self.heat.at(day)

    def x_on(self, days: Sequence[date]) -> Floats:
        """What the shelf has gathered by each day [C-d], (days,)."""
        return self.heat.on(days)

    def prior_whole(self, day: date) -> float:
        """The prior chance of being whole on ``day``, averaged over laying days; 1 for eggs kept damp."""
        return float(self._prior_whole_on((day,))[0])

    def _prior_whole_on(self, days: Sequence[date]) -> Floats:
        return np.ones(len(days)) if self.lot.kept_damp else self.prior.weight_beyond(self.x_on(days))

    @cached_property
    def is_overdue(self) -> bool:
        """Were live eggs seen when hardly any should have been whole?"""
        return self.prior_whole(self.last_seen) < OVERDUE_UNDER

    @cached_property
    def is_misdated(self) -> bool:
        """Do its stages and the clock disagree? Overdue comes first."""
        return not self.is_overdue and self.likelihood < MISDATED_UNDER

    def is_too_old(self, day: date) -> bool:
        """Is it presumed hatched by ``day``, until someone looks?"""
        return not self.is_overdue and self.prior_whole(day) < OVERDUE_UNDER

    @property
    def has_dates(self) -> bool:
        """Can its clock be asked at all?"""
        return not (self.is_overdue or self.is_misdated)

    def doubts_on(self, days: Sequence[date]) -> list[tuple[str, ...]]:
        """The codes of `doubts`, for each day."""
        always = ("recount",) if self.recount else ()
        if not self.has_dates:
            return [(*always, "overdue" if self.is_overdue else "misdated")] * len(days)
        too_old = self._prior_whole_on(days) < OVERDUE_UNDER
        return [(*always, "too-old") if old else always for old in too_old.tolist()]

    def doubts(self, day: date) -> tuple[Reason, ...]:
        """Why nothing of the lot may be packed on ``day`` before a person looks; empty where nothing is wrong."""
        from shipping.eggs.lot_doubts import doubt

        return tuple(doubt(self, code, day) for code in self.doubts_on((day,))[0])

    def packed_since_count(self, day: date) -> int:
        """Eggs the ledger says were packed after the count, up to ``day``."""
        return sum(eggs for on, eggs in self.packed if self.count.on <= on <= day)

    def eggs_on(self, day: date) -> int:
        """Live, whole eggs reckoned for ``day``, less what was packed since the count; never below zero."""
        return self._eggs_on((day,))[0]

    def _eggs_on(self, days: Sequence[date]) -> list[int]:
        left = [self.count.eggs - self.count.known_gone] * len(days)
        if self.has_dates:
            since = np.array([max(0, (day - self.count.on).days) for day in days], dtype=np.float64)
            reckoned = self.count.eggs * self._whole_since_count(days) * np.exp(-self.shelf_loss_per_day * since)
            left = [min(most, math.floor(eggs + 1e-9)) for most, eggs in zip(left, reckoned.tolist(), strict=True)]
        return [max(0, eggs - self.packed_since_count(max(day, self.today))) for eggs, day in zip(left, days, strict=True)]

    def _whole_since_count(self, days: Sequence[date]) -> Floats:
        """The share of the eggs counted that is still whole on each day (days,)."""
        if self.lot.kept_damp:
            return np.ones(len(days))
        weights = self.clock.whole(self.x_on((self.count.on, *days)))
        return np.asarray(weights[1:] / weights[0]) if weights[0] > 0 else np.zeros(len(days))

    def free_on(self, day: date) -> int:
        """Eggs free to pack on ``day``: reckoned, less those kept back; none of a lot that must be looked at."""
        return self.standing_on((day,))[1][0]

    def standing_on(self, days: Sequence[date]) -> tuple[list[tuple[str, ...]], list[int]]:
        """The codes of `doubts` and the eggs `free_on`, for each of some days."""
        doubts = self.doubts_on(days)
        free = [
            0 if codes else max(0, eggs - self.lot.keep_back) for codes, eggs in zip(doubts, self._eggs_on(days), strict=True)
        ]
        return doubts, free

    def is_sendable(self, send_from: str) -> bool:
        """Has a look shown a stage from which its eggs may go?"""
        enough = "fertile" if self.lot.kept_damp else send_from
        return STAGES.index(self.stage) >= STAGES.index(enough)

    def clock_with_eyes(self, day: date) -> Clock:
        """The clock as if a look on ``day`` had said `eyed`."""
        return _clock_with_eyes(self, day)

    def share_eyed(self, day: date) -> float:
        """The share of the eggs whole on ``day`` that show eyes by then."""
        return self.shares_eyed((day,))[0]

    def shares_eyed(self, days: Sequence[date]) -> list[float]:
        """`share_eyed` of each of some days."""
        x = self.x_on(days)
        eyed = [float(self.clock_with_eyes(day).whole(at)[0]) for day, at in zip(days, x.tolist(), strict=True)]
        whole = self.clock.whole(x).tolist()
        return [share / all_of_it if all_of_it > 0 else 0.0 for share, all_of_it in zip(eyed, whole, strict=True)]

    def day_hatched(self, share: float, since: date | None = None) -> date | None:
        """The first day by which ``share`` of the eggs whole on ``since`` (today) has hatched, kept as they are kept.

        For eggs kept damp: the first day by which that share is ready to be wetted, whenever that was. None: never,
        within ten years, or not to be reckoned.
        """
        if not self.has_dates:
            return None
        if self.lot.kept_damp:
            start, whole = self.lot.laid_from, self.clock.total
        else:
            start = since or self.today
            whole = float(self.clock.whole(self.x(start))[0])
        if whole <= 0:
            return None
        limit = whole * (1.0 - share + SHARE_ROUNDING)

        def has(n: int) -> bool:
            at = self.x(start + timedelta(days=n))
            left = self.clock.weight_beyond(at) if self.lot.kept_damp else self.clock.whole(at)
            return float(left[0]) <= limit

        if not has(HORIZON_D):
            return None
        low, high = -1, HORIZON_D
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if has(middle) else (middle, high)
        return start + timedelta(days=high)


def lot_forecast(shelf: Shelf, name: str) -> LotForecast:
    """The forecast of one lot of a shelf; reckoned once a shelf and lot."""
    return _lot_forecast(_Key(shelf, name))


class _Key:
    """A lot of a shelf as the key of a cache; shelves never change and are compared by identity."""

    __slots__ = ("name", "shelf")

    def __init__(self, shelf: Shelf, name: str) -> None:
        self.shelf, self.name = shelf, name

    def __hash__(self) -> int:
        return hash((id(self.shelf), self.name))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and other.shelf is self.shelf and other.name == self.name


@lru_cache(maxsize=20_000)
def _lot_forecast(key: _Key) -> LotForecast:
    shelf = key.shelf
    lot = shelf.lot_by_name[key.name]
    looks = shelf.looks_by_lot.get(key.name, ())
    species = shelf.species_of(lot.species, lot.population)
    plan = shelf.settings.plan
    packed = tuple(sorted(shelf.packed.get(lot.lot, {}).items()))
    return LotForecast(
        lot=lot,
        species=species,
        today=shelf.today,
        heat=shelf_heat(species, lot, looks),
        sightings=sightings(lot, looks),
        count=last_count(lot, looks),
        packed=packed,
        shelf_loss_per_day=plan.shelf_loss_per_day,
        look_spread=plan.look_spread,
        recount=next((bound for bound in bounds(lot, looks, packed) if bound.excess), None),
    )


@lru_cache(maxsize=KEPT_CLOCKS)
def _prior(forecast: LotForecast) -> Clock:
    return fresh_clock(forecast.species, forecast.lot, forecast.heat)


@lru_cache(maxsize=KEPT_CLOCKS)
def _clock(forecast: LotForecast) -> Clock:
    clock = forecast.prior
    for sighting in forecast.sightings:
        clock = clock.seen(sighting.stage or "laid", forecast.x(sighting.on), forecast.species, forecast.look_spread)
    return clock


@lru_cache(maxsize=KEPT_CLOCKS)
def _clock_with_eyes(forecast: LotForecast, day: date) -> Clock:
    return forecast.clock.seen("eyed", forecast.x(day), forecast.species, forecast.look_spread)
