"""What one lot holds and when it hatches: table rows and looks in, counts, dates and doubts of a lot out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property, lru_cache

from shipping.eggs.clock import Clock, ShelfHeat, fresh_clock, shelf_heat
from shipping.eggs.lot_looks import Count, Sighting, last_count, sightings
from shipping.tables.lots import STAGES, Lot
from shipping.tables.recounts import Bound, bounds
from shipping.tables.shelf import Shelf
from shipping.tables.species import Species
from shipping.words.reasons import Reason
from shipping.words.units import percent

#: Under this prior chance of being whole, a lot that is whole is overdue and one not seen since is too old.
OVERDUE_UNDER = 0.01
#: Under this likelihood of its stages a lot is misdated.
MISDATED_UNDER = 1e-4
#: A share this little short of the one asked for is that share: the 95 % point is written to four places.
SHARE_ROUNDING = 2e-5
#: No date is looked for beyond this many days.
HORIZON_D = 3650


@dataclass(frozen=True)
class LotForecast:
    """One lot as it stands on ``today``, with all its evidence weighed; ask `lot_forecast` for one."""

    lot: Lot
    species: Species
    today: date
    heat: ShelfHeat
    prior: Clock
    clock: Clock
    sightings: tuple[Sighting, ...]
    count: Count
    packed: tuple[tuple[date, int], ...]
    shelf_loss_per_day: float
    look_spread: float
    likelihood: float
    recount: Bound | None

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

    @property
    def last_seen(self) -> date:
        """The day live eggs were last seen."""
        return max((s.on for s in self.sightings), default=self.lot.laid_to)

    def x(self, day: date) -> float:
        """What the shelf has gathered by ``day`` [C-d]."""
        return self.heat.at(day)

    def prior_whole(self, day: date) -> float:
        """The prior chance of being whole on ``day``, averaged over laying days; 1 for eggs kept damp."""
        return 1.0 if self.lot.kept_damp else float(self.prior.weight_beyond(self.x(day))[0])

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

    def doubts(self, day: date) -> tuple[Reason, ...]:
        """Why nothing of the lot may be packed on ``day`` before a person looks; empty where nothing is wrong."""
        facts: dict[str, object] = {
            "lot": self.lot.lot,
            "last_seen": self.last_seen.isoformat(),
            "whole_by_the_table": round(self.prior_whole(self.last_seen), 6),
        }
        found: list[Reason] = []
        if self.recount:
            found.append(Reason("recount", self._recount_text(self.recount), facts | {"excess": self.recount.excess}, "looks"))
        if self.is_overdue:
            days = self.species.hatch_days
            text = (
                f"Lot {self.lot.lot} was whole on {self.last_seen}, when by the table (hatching {days.early:g} to "
                f"{days.late:g} days at {self.species.incubation_c:g} C) under 1 % should be. It may wait for a cue "
                "and hatch any day: look, and do not put it in a tube."
            )
            found.append(Reason("overdue", text, facts, self.lot.cited))
        elif self.is_misdated:
            found.append(Reason("misdated", self._misdated_text(), facts | {"likelihood": self.likelihood}, "clock"))
        elif self.is_too_old(day):
            text = (
                f"Lot {self.lot.lot} was last seen whole on {self.last_seen}; by {day} it is presumed hatched "
                f"({percent(self.prior_whole(day))} would be whole). Look, and write down what you see."
            )
            found.append(Reason("too-old", text, facts | {"on": day.isoformat()}, "clock"))
        return tuple(found)

    def _recount_text(self, bound: Bound) -> str:
        look, name = bound.look, f"Lot {self.lot.lot}"
        if bound.column == "alive":
            said = f"{look.alive} eggs counted on {look.on}, {bound.excess} more than can be there ({bound.most})"
        else:
            said = f"{bound.most + bound.excess} hatched or removed on {look.on}, of {bound.most} that can be left"
        return f"{name}: {said}. Count again, or correct the earlier count ({look.cited})."

    def _misdated_text(self) -> str:
        """Which look and which value of the table disagree most."""
        worst = min(
            (s for s in self.sightings if s.stage and s.stage != "laid"),
            key=lambda s: self._likelihood_of(s),
        )
        return (
            f"Lot {self.lot.lot}: '{worst.stage}' on {worst.on} ({worst.row}) does not fit laying {self.lot.laid_from} "
            f"to {self.lot.laid_to}, {self.lot.kept_at_c:g} C and hatching {self.species.hatch_early_d:g} to "
            f"{self.species.hatch_late_d:g} days at {self.species.incubation_c:g} C (chance {self.likelihood:.1e}). "
            "Look again: either the stage or one of those values is wrong."
        )

    def _likelihood_of(self, sighting: Sighting) -> float:
        seen = self.prior.seen(sighting.stage or "laid", self.x(sighting.on), self.species, self.look_spread)
        before = float(self.prior.whole(self.x(sighting.on))[0])
        return float(seen.whole(self.x(sighting.on))[0]) / before if before > 0 else 0.0

    def packed_since_count(self, day: date) -> int:
        """Eggs the ledger says were packed after the count, up to ``day``."""
        return sum(eggs for on, eggs in self.packed if self.count.on <= on <= day)

    def eggs_on(self, day: date) -> int:
        """Live, whole eggs reckoned for ``day``, less what was packed since the count; never below zero."""
        left = self.count.eggs - self.count.known_gone
        if self.has_dates:
            whole = 1.0
            if not self.lot.kept_damp:
                before = float(self.clock.whole(self.x(self.count.on))[0])
                whole = float(self.clock.whole(self.x(day))[0]) / before if before > 0 else 0.0
            days = max(0, (day - self.count.on).days)
            reckoned = self.count.eggs * whole * math.exp(-self.shelf_loss_per_day * days)
            left = min(left, math.floor(reckoned + 1e-9))
        return max(0, left - self.packed_since_count(max(day, self.today)))

    def free_on(self, day: date) -> int:
        """Eggs free to pack on ``day``: reckoned, less those kept back; none of a lot that must be looked at."""
        if self.doubts(day):
            return 0
        return max(0, self.eggs_on(day) - self.lot.keep_back)

    def is_sendable(self, send_from: str) -> bool:
        """Has a look shown a stage from which its eggs may go?"""
        enough = "fertile" if self.lot.kept_damp else send_from
        return STAGES.index(self.stage) >= STAGES.index(enough)

    def clock_with_eyes(self, day: date) -> Clock:
        """The clock as if a look on ``day`` had said `eyed`."""
        return self.clock.seen("eyed", self.x(day), self.species, self.look_spread)

    def share_eyed(self, day: date) -> float:
        """The share of the eggs whole on ``day`` that show eyes by then."""
        whole = float(self.clock.whole(self.x(day))[0])
        return float(self.clock_with_eyes(day).whole(self.x(day))[0]) / whole if whole > 0 else 0.0

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
    heat = shelf_heat(species, lot, looks)
    prior = fresh_clock(species, lot, heat)
    seen = sightings(lot, looks)
    last_seen = max((s.on for s in seen), default=lot.laid_to)
    clock = prior
    for sighting in seen:
        clock = clock.seen(sighting.stage or "laid", heat.at(sighting.on), species, plan.look_spread)
    before = float(prior.whole(heat.at(last_seen))[0])
    likelihood = float(clock.whole(heat.at(last_seen))[0]) / before if before > 0 else 0.0
    packed = tuple(sorted(shelf.packed.get(lot.lot, {}).items()))
    return LotForecast(
        lot=lot,
        species=species,
        today=shelf.today,
        heat=heat,
        prior=prior,
        clock=clock,
        sightings=seen,
        count=last_count(lot, looks),
        packed=packed,
        shelf_loss_per_day=plan.shelf_loss_per_day,
        look_spread=plan.look_spread,
        likelihood=likelihood,
        recount=next((bound for bound in bounds(lot, looks, packed) if bound.excess), None),
    )
