"""How eggs laid, kept and seen alike develop: laying dates, heat and sightings in, clocks and what follows
from them alone out.

Lots alike in these share one; counts and what may be packed are `lot_forecast`'s.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property, lru_cache

import numpy as np

from shipping.eggs.clock import Clock, Floats, ShelfHeat, fresh_clock
from shipping.eggs.looks import Sighting, as_evidence
from shipping.tables.rows.lots import STAGES, Lot
from shipping.tables.rows.species import Species

#: Under this prior chance of being whole, a lot that is whole is overdue and one not seen since is too old.
OVERDUE_UNDER = 0.01
#: Under this likelihood of its stages a lot is misdated.
MISDATED_UNDER = 1e-4
#: So many clocks stay in memory, each some 100 to 500 kB.
KEPT_CLOCKS = 64
#: So many lots' answers for some days stay in memory, each some numbers.
_KEPT_ANSWERS = 20_000


@dataclass(frozen=True, eq=False)
class LotClock:
    """How the eggs of ``lot``, and of every lot like it, develop; ask `lot_clock` for one."""

    species: Species
    lot: Lot
    heat: ShelfHeat
    sightings: tuple[Sighting, ...]
    look_spread: float

    @property
    def prior(self) -> Clock:
        """The clock before any look."""
        return _prior(self)

    @property
    def clock(self) -> Clock:
        """The clock after all looks."""
        return _clock(self)

    def clock_with_eyes(self, day: date) -> Clock:
        """The clock as if a look on ``day`` had said `eyed`."""
        return _clock_with_eyes(self, day)

    @cached_property
    def last_seen(self) -> date:
        """The day live eggs were last seen."""
        return max((s.on for s in self.sightings), default=self.lot.laid_to)

    @cached_property
    def stage(self) -> str:
        """The furthest stage a look has shown; ``laid`` where none has."""
        return max((s.stage for s in self.sightings if s.stage), key=STAGES.index, default="laid")

    @cached_property
    def likelihood(self) -> float:
        """The likelihood of the stages seen, given that eggs live on the last day that somebody saw them."""
        before = self.prior.total if self.lot.kept_damp else float(self.prior_whole_on((self.last_seen,))[0])
        return float(self.clock.whole(self.heat.at(self.last_seen))[0]) / before if before > 0 else 0.0

    def prior_whole_on(self, days: Sequence[date]) -> Floats:
        """The prior chance of being whole on each day, averaged over laying days; 1 for eggs kept damp."""
        return _prior_whole_on(self, tuple(days))

    def whole_on(self, days: Sequence[date]) -> Floats:
        """The weight of eggs still whole on each day."""
        return _whole_on(self, tuple(days))

    def shares_eyed(self, days: Sequence[date]) -> tuple[float, ...]:
        """The share of the eggs whole on each day that show eyes by then."""
        return _shares_eyed(self, tuple(days))

    @cached_property
    def is_overdue(self) -> bool:
        """Were live eggs seen when hardly any should have been whole?"""
        return float(self.prior_whole_on((self.last_seen,))[0]) < OVERDUE_UNDER

    @cached_property
    def is_misdated(self) -> bool:
        """Do its stages and the clock disagree? Overdue comes first."""
        return not self.is_overdue and self.likelihood < MISDATED_UNDER


def lot_clock(
    species: Species, lot: Lot, heat: ShelfHeat, sightings: tuple[Sighting, ...], look_spread: float
) -> LotClock:
    """The one for a lot: lots laid, kept and seen alike have the same."""
    return _lot_clock(_Alike(LotClock(species, lot, heat, sightings, look_spread)))


class _Alike:
    """A lot's development as the key of a cache: species are compared by identity, the rest by value."""

    __slots__ = ("found", "key")

    def __init__(self, found: LotClock) -> None:
        lot, seen = found.lot, tuple((one.on, one.stage) for one in found.sightings)
        laid = (lot.laid_from, lot.laid_to, lot.kept_damp)
        self.found, self.key = found, (id(found.species), laid, found.heat, seen, found.look_spread)

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Alike) and other.key == self.key


@lru_cache(maxsize=_KEPT_ANSWERS)
def _lot_clock(alike: _Alike) -> LotClock:
    return alike.found


@lru_cache(maxsize=KEPT_CLOCKS)
def _prior(one: LotClock) -> Clock:
    return fresh_clock(one.species, one.lot, one.heat)


@lru_cache(maxsize=KEPT_CLOCKS)
def _clock(one: LotClock) -> Clock:
    clock = one.prior
    for sighting in as_evidence(one.sightings):
        clock = clock.seen(sighting.stage or "laid", one.heat.at(sighting.on), one.species, one.look_spread)
    return clock


@lru_cache(maxsize=KEPT_CLOCKS)
def _clock_with_eyes(one: LotClock, day: date) -> Clock:
    return one.clock.seen("eyed", one.heat.at(day), one.species, one.look_spread, of_many=True)


def forget_clocks_with_eyes() -> None:
    """Drop the clocks of lots that a look has to show eyes of first: one for each day asked about."""
    _clock_with_eyes.cache_clear()


@lru_cache(maxsize=_KEPT_ANSWERS)
def _prior_whole_on(one: LotClock, days: tuple[date, ...]) -> Floats:
    return np.ones(len(days)) if one.lot.kept_damp else one.prior.weight_beyond(one.heat.on(days))


@lru_cache(maxsize=_KEPT_ANSWERS)
def _whole_on(one: LotClock, days: tuple[date, ...]) -> Floats:
    return one.clock.whole(one.heat.on(days))


@lru_cache(maxsize=_KEPT_ANSWERS)
def _shares_eyed(one: LotClock, days: tuple[date, ...]) -> tuple[float, ...]:
    x = one.heat.on(days)
    eyed = [float(one.clock_with_eyes(day).whole(at)[0]) for day, at in zip(days, x.tolist(), strict=True)]
    whole = one.clock.whole(x).tolist()
    return tuple(
        share / all_of_it if all_of_it > 0 else 0.0 for share, all_of_it in zip(eyed, whole, strict=True)
    )
