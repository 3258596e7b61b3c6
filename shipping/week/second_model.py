"""The biology of a plan a second time, plainly from the model: table rows and a journey in, what a lot holds,
what hatches on the way and the chance of enough out.

It shares no line with `eggs` and `options`, so that a mistake of theirs is not made here once more.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from shipping.post.foam_box import Holding
from shipping.post.transit import Arrivals
from shipping.post.warmth import TripWarmth
from shipping.tables.rows.lots import DAMP_MEDIA, STAGES, Look, Lot
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf

Floats = NDArray[np.float64]
#: Shares agree with the plan's to so much, chances of several lots' eggs to so much.
SHARE_OFF, SEVERAL_OFF = 2e-4, 1e-3
#: A limit of its own clock is moved by so much of it, so that no plan is refused for what the two models
#: round otherwise.
_LENIENT = 0.99
#: Edges of the cells in which development is summed, in standard deviations of its logarithm.
_EDGES = np.linspace(-7.0, 7.0, 1401)
_Z95 = 1.6449
#: Damp eggs that are not ready in so many days never are.
_NEVER_D = 3650
#: Chances of several lots are means over so many quantiles.
_QUANTILES = 20
#: What a step of three equal points counts as reached by [C-d].
_JUST = 1e-9
#: So little weight is none.
_NONE = 1e-300
_Seen = tuple[tuple[date, str], ...]


def _phi(z: Floats) -> Floats:
    """The normal's chance below each value, read off a table (to 1e-7)."""
    return np.interp(z, *_phi_table())


@lru_cache(maxsize=1)
def _phi_table() -> tuple[Floats, Floats]:
    z = np.linspace(-9.0, 9.0, 9001)
    return z, np.array([math.erfc(-x / math.sqrt(2.0)) / 2.0 for x in z.tolist()])


class PlainLot:
    """One lot after all its looks, as sums over its laying days and how much development its eggs need."""

    def __init__(self, shelf: Shelf, name: str) -> None:
        self.plan, self.today = shelf.settings.plan, shelf.today
        self.lot: Lot = shelf.lot_by_name[name]
        self.looks = tuple(sorted(shelf.looks_by_lot.get(name, ()), key=lambda look: look.on))
        self.species = shelf.species_of(self.lot.species, self.lot.population)
        self.packed = (*shelf.packed.get(name, {}).items(), *shelf.held.get(name, {}).items())
        self.laid = np.arange(self.lot.laid_from.toordinal(), self.lot.laid_to.toordinal() + 1)
        self._beyond: dict[_Seen, Floats] = {}
        self._gathered: dict[date, Floats] = {}

    def gain(self, celsius: float) -> float:
        """Effective degrees of a day at a temperature [C-d]."""
        most = math.inf if self.species.keep_max_c is None else self.species.keep_max_c
        return max(0.0, min(celsius, most) - self.species.zero_c)

    def kept_at(self, day: date) -> float:
        """What the lot is kept at on a day [C]."""
        said = [look.kept_at_c for look in self.looks if look.on <= day and look.kept_at_c is not None]
        return said[-1] if said else self.lot.kept_at_c

    def gathered(self, day: date) -> Floats:
        """Degree-days that eggs of each laying day have gathered by a day (laying days,)."""
        if day not in self._gathered:
            changes = sorted({look.on for look in self.looks if look.kept_at_c is not None and look.on < day})
            spans = [(date.min, changes[0] if changes else day), *pairwise([*changes, day])]
            total = np.zeros(self.laid.size)
            for since, until in spans:
                days = until.toordinal() - np.maximum(self.laid, since.toordinal())
                total += np.maximum(days, 0) * self.gain(self.kept_at(since))
            self._gathered[day] = total
        return self._gathered[day]

    @cached_property
    def seen(self) -> _Seen:
        """Days on which live eggs were seen, and as what ("": only alive), each stage as evidence once."""
        seen = self._sightings(self.looks)
        once = {stage: min(on for on, known in seen if known == stage) for _, stage in seen}
        once |= {"fertile": max((on for on, known in seen if known == "fertile"), default=date.min)}
        return tuple(sorted({(on, stage if once[stage] == on else "") for on, stage in seen}))

    def _sightings(self, looks: Sequence[Look]) -> list[tuple[date, str]]:
        """The days on which its row and some of its looks say that eggs live, and as what."""
        lot = self.lot
        seen = [(lot.counted_on, "")] if lot.eggs else []
        if lot.stage:
            seen.append((lot.stage_on or lot.counted_on, lot.stage))
        for look in looks:
            tells = (look.stage, look.alive, look.hatched, look.removed) != (None, None, None, None)
            if tells and look.alive != 0:
                seen.append((look.on, look.stage or ""))
        return seen

    def is_seen_since(self, back: date) -> bool:
        """Was it seen since eggs came back to it on a day? A look before that day's packing was earlier."""
        later = [look for look in self.looks if look.on > back or not look.before_packing]
        return any(on >= back for on, _ in self._sightings(later))

    @cached_property
    def stage(self) -> str:
        """The furthest stage that was seen."""
        said = [look.stage for look in self.looks if look.stage and look.alive != 0]
        return max([*said, self.lot.stage or "laid"], key=STAGES.index)

    @property
    def last_seen(self) -> date:
        return max((on for on, _ in self.seen), default=self.lot.laid_to)

    @cached_property
    def _spreads(self) -> tuple[float, float, float]:
        """What an egg needs at the middle [C-d], and the spread of its logarithm below and above that."""
        days = self.species.hatch_days
        below, above = math.log(days.usual / days.early) / _Z95, math.log(days.late / days.usual) / _Z95
        return days.usual * self.gain(self.species.incubation_c), max(below, 1e-9), max(above, 1e-9)

    def _weights(self, seen: _Seen) -> Floats:
        """The weight beyond each edge, for each laying day, after what was seen (laying days, edges)."""
        if seen not in self._beyond:
            usual, below, above = self._spreads
            middle = (_EDGES[1:] + _EDGES[:-1]) / 2
            needed = usual * np.exp(middle * np.where(middle < 0, below, above))
            weight = np.tile(np.diff(_phi(_EDGES)), (self.laid.size, 1)) / self.laid.size
            for on, stage in seen:
                if stage not in ("", "laid"):
                    at = 0.85 if stage == "ready" else self.species.eyed_at
                    reached = np.maximum(self.gathered(on), _NONE)[:, None] / (at * needed)
                    shows = _phi(np.log(reached) / self.plan.look_spread)
                    weight *= 1.0 - shows if stage == "fertile" else shows
            beyond = np.zeros((self.laid.size, _EDGES.size))
            beyond[:, :-1] = weight[:, ::-1].cumsum(axis=1)[:, ::-1]
            self._beyond[seen] = beyond
        return self._beyond[seen]

    def weight(self, day: date, more: Floats, seen: _Seen) -> Floats:
        """The weight beyond what was gathered by a day and ``more`` [C-d]; in water, of whole eggs."""
        last = max((on for on, _ in seen), default=self.lot.laid_to)
        axes = (-1, *(1,) * more.ndim)
        least = self.gathered(day).reshape(axes) + more
        if not self.lot.kept_damp:
            least = np.maximum(least, self.gathered(last).reshape(axes))
        usual, below, above = self._spreads
        off = np.log(np.maximum(least + _JUST, _NONE) / usual)
        edge = (off / np.where(off < 0, below, above) - _EDGES[0]) / (_EDGES[1] - _EDGES[0])
        edge = np.clip(edge, 0, _EDGES.size - 1.000001)
        cell = edge.astype(np.int64)
        beyond, row = self._weights(seen), np.arange(self.laid.size).reshape(axes)
        part = edge - cell
        return np.asarray((beyond[row, cell] * (1 - part) + beyond[row, cell + 1] * part).sum(axis=0))

    def whole(self, day: date, seen: _Seen) -> float:
        """The weight of eggs that are whole on a day: all of it, kept damp."""
        if self.lot.kept_damp:
            return float(self._weights(seen)[:, 0].sum())
        return float(self.weight(day, np.zeros(1), seen)[0])

    def must_wait(self, day: date) -> str:
        """Why nothing of it goes on a day by its clock; "" where nothing is wrong."""
        if (day - self.lot.laid_to).days < self.plan.settle_d:
            return "laid too shortly before"
        if self.lot.kept_damp:
            late = self.last_wetting is not None and day > self.last_wetting
            return "past its last wetting day" if late else self._misdated
        if self.is_overdue:
            return "overdue"
        return self._misdated or ("too old" if self._prior_whole(day) < _LENIENT * 0.01 else "")

    @property
    def is_overdue(self) -> bool:
        return not self.lot.kept_damp and self._prior_whole(self.last_seen) < _LENIENT * 0.01

    def _prior_whole(self, day: date) -> float:
        return self.whole(day, ((date.min, ""),))

    @cached_property
    def _misdated(self) -> str:
        alive = self.whole(self.last_seen, ((self.last_seen, ""),))
        agrees = self.whole(self.last_seen, self.seen) / max(alive, _NONE)
        asleep = self.species.incubation == "damp" and self.lot.wet_from and self.lot.wet_until
        return "misdated" if agrees < _LENIENT * 1e-4 and not asleep else ""

    @cached_property
    def last_wetting(self) -> date | None:
        """The last day on which eggs kept damp may be wetted; None: kept so, they are never ready."""
        until, first = self.lot.wet_until, self.lot.laid_from
        if until is None:
            most = _LENIENT * 0.05 * self.whole(first, self.seen)

            def is_ready(days: int) -> bool:
                return bool(self.weight(first + timedelta(days=days), np.zeros(1), self.seen)[0] <= most)

            days = bisect_left(range(_NEVER_D + 1), True, key=is_ready)
            if days > _NEVER_D:
                return None
            until = first + timedelta(days=days)
        return max(until, self.last_seen) + timedelta(days=int(self.species.keeps_ready_d))

    # -- what it holds

    @cached_property
    def _count(self) -> tuple[date, int, int]:
        """The day of the last count, the eggs of it, and how many looks say are gone since."""
        counts = [(self.lot.counted_on, 0, self.lot.eggs)]
        counts += [(look.on, 1, look.alive) for look in self.looks if look.alive is not None]
        on, again, eggs = max(counts)
        since = [look for look in self.looks if look.alive is None and (look.on, 0) >= (on, again)]
        return on, eggs, sum((look.removed or 0) + (look.hatched or 0) for look in since)

    def _left(self, day: date) -> float:
        """The share of the eggs counted that still lives here on a day."""
        on = self._count[0]
        share = self.whole(day, self.seen) / max(self.whole(on, self.seen), _NONE)
        return share * math.exp(-self.plan.shelf_loss_per_day * max(0, (day - on).days))

    def free(self, day: date) -> int:
        """Eggs free to pack on a day; one within a hundredth is there."""
        on, eggs, gone = self._count
        packed = [(then, n) for then, n in self.packed if on <= then]
        left = self._left(day)
        there = {then: self._left(then) for then, _ in packed}
        held = [then for then, _ in packed if then > day and eggs * there[then] >= 1.0]
        taken = sum(
            n * left / there[then] if then in held else n * min(1.0, left / max(there[then], _NONE))
            for then, n in packed
        )
        reckoned = eggs * left - taken
        most = eggs - gone - sum(n for _, n in packed)
        free = max(0, math.floor(min(reckoned, most) - self.lot.keep_back + 1e-2))
        if not self.looks_first:
            return free
        share = self._share_eyed(day)
        return max(0, math.floor(free * share - taken * (1.0 - share) + 1e-2))

    @property
    def looks_first(self) -> bool:
        """Has no look shown the stage from which its eggs may go?"""
        usual = self.species.send_from or self.plan.send_from
        return STAGES.index(self.stage) < STAGES.index("fertile" if self.lot.kept_damp else usual)

    def _share_eyed(self, day: date) -> float:
        said = [(look.on, look.stage) for look in self.looks]
        said.append((self.lot.stage_on or self.lot.counted_on, self.lot.stage))
        if any(on == day and stage in ("laid", "fertile") for on, stage in said):
            return 0.0
        return self.whole(day, self.judged_by(day)) / max(self.whole(day, self.seen), _NONE)

    def judged_by(self, day: date) -> _Seen:
        """What was seen of the eggs that are packed on a day: eyes, where they are looked at first."""
        return (*self.seen, (day, "eyed")) if self.looks_first else self.seen


@dataclass(frozen=True, eq=False)
class PlainJourney:
    """A journey's day, arrivals, warmth by day, normal spread of a trip [C], and whether it is stopped."""

    on: date
    arrivals: Arrivals
    trip: TripWarmth
    spread_c: float
    is_stopped: bool
    _degrees: dict[tuple[object, ...], Floats] = field(default_factory=dict)

    @cached_property
    def days(self) -> NDArray[np.int64]:
        """Days on the way to each arrival date (dates,)."""
        return np.array([(day - self.on).days for day in self.arrivals.dates], dtype=np.int64)

    @property
    def hours_to_p95(self) -> float:
        return 24.0 * (self.arrivals.p95 - self.on).days

    @property
    def outcomes(self) -> Floats:
        """The chance of each arrival date at each node of warmth (dates, nodes)."""
        return np.outer(self.arrivals.chances, _nodes()[1] if self.spread_c else np.ones(1))

    def degrees(self, lot: PlainLot, holds: Holding) -> Floats:
        """Degree-days gathered by each arrival date at each node of warmth (dates, nodes) [C-d]."""
        species, kept = lot.species, lot.kept_at(self.on)
        key = (species.zero_c, species.keep_max_c, kept, holds)
        if key not in self._degrees:
            self._degrees[key] = self._gathered(species, kept, holds)
        return self._degrees[key]

    def _gathered(self, species: Species, kept: float, holds: Holding) -> Floats:
        """Hour by hour: days, nodes and hours are axes."""
        hours = np.arange(24) + 0.5 + 24.0 * np.arange(len(self.trip.days))[:, None, None]
        lead = _lead(hours, holds)
        shift = (self.spread_c * _nodes()[0] if self.spread_c else np.zeros(1))[:, None]
        low, high = (
            (out[:, None, None] + shift) * (1.0 - lead) + kept * lead
            for out in (self.trip.low_c, self.trip.high_c)
        )
        by_day = _mean_gain(low, high, species).mean(axis=2)
        sums = np.concatenate((np.zeros((1, by_day.shape[1])), by_day.cumsum(axis=0)))
        return np.asarray(sums[self.days])


@dataclass(frozen=True, eq=False)
class PlainRide:
    """A lot in a packing on a journey; ``holds``: how the box that the packing names holds warmth."""

    lot: PlainLot
    packing: Packing
    journey: PlainJourney
    holds: Holding

    @cached_property
    def hatched(self) -> Floats:
        """The share of eggs that hatches by each arrival date at each node (dates, nodes)."""
        lot, on, medium = self.lot, self.journey.on, self.packing.travels_in(self.lot.lot.medium)
        seen = lot.judged_by(on)
        still = lot.weight(on, self.journey.degrees(lot, self.holds), seen)
        whole = lot.whole(on, seen)
        due = (whole - still) / max(whole, _NONE)
        waits_for_water = lot.species.incubation == "damp" and medium in DAMP_MEDIA
        return np.asarray(due * (0.0 if waits_for_water else 1.0 - self.packing.held))

    @cached_property
    def alive(self) -> Floats:
        """The chance that an egg arrives alive, likewise (dates, nodes)."""
        packing = self.packing
        lost = packing.loss_handling + packing.loss_per_day * self.journey.days[:, None]
        hatched = self.hatched * (1.0 - packing.fry_live)
        return np.asarray(np.exp(-lost) * (1.0 - hatched))

    @property
    def h_per_egg(self) -> float:
        return float((self.hatched * self.journey.outcomes).sum())

    def h_any(self, eggs: int) -> float:
        """The chance that any of so many eggs hatches on the way."""
        return float(((1.0 - (1.0 - self.hatched) ** eggs) * self.journey.outcomes).sum())

    def hours_of_air(self, eggs: int) -> float:
        """Hours for which a sealed unit with so many eggs holds oxygen; endless where nothing is known."""
        packing, species = self.packing, self.lot.species
        known = species.o2_basis in ("published", "learned") and packing.is_a.is_sealed
        if not known or packing.volume_ml is None or packing.water_ml is None:
            return math.inf
        celsius = self.journey.trip.hottest.high_c
        k = celsius + 273.15
        salty = self.lot.lot.salt_g_l * (0.017674 - 10.754 / k + 2140.7 / k**2)
        fresh = -139.34411 + 1.575701e5 / k - 6.642308e7 / k**2 + 1.243800e10 / k**3 - 8.621949e11 / k**4
        water = math.exp(fresh - salty)
        vapour = math.exp(11.8571 - 3840.70 / k - 216961 / k**2)
        air = (1 - vapour) * 0.20946 * 101325 / (8.314462618 * k) * 31.998
        store = packing.water_ml * water + (packing.volume_ml - packing.water_ml) * air
        return store * (1 - 2.5 / water) / (eggs * species.o2_ug_egg_h * 2 ** ((celsius - 25) / 10))


def chance_enough(draws: Sequence[tuple[int, PlainRide]], ordered: int) -> float:
    """The chance that at least so many eggs of some draws arrive alive, which share one journey."""
    chances = draws[0][1].journey.outcomes.ravel()
    some = chances > 1e-8
    alive = [(eggs, ride.alive.ravel()[some], ride.packing.kappa) for eggs, ride in draws]
    chances = chances[some]
    if len(alive) == 1:
        return float(chances @ _of_one(*alive[0])[:, ordered:].sum(axis=1))
    return float(chances @ _of_several(alive)[:, ordered:].sum(axis=1))


def _of_one(eggs: int, v: Floats, kappa: float) -> Floats:
    """Beta-binomial chances of 0, 1 .. eggs alive for each v, by rising products (n, eggs + 1)."""

    def rising(start: Floats) -> Floats:
        steps = np.log(start[:, None] + np.arange(eggs))
        return np.concatenate((np.zeros((start.size, 1)), steps.cumsum(axis=1)), axis=1)

    inner = np.clip(v, 1e-12, 1.0 - 1e-12)
    good, bad, both = rising(inner * kappa), rising((1.0 - inner) * kappa), rising(np.full(1, kappa))
    return np.asarray(np.exp(_log_ways(eggs) + good + bad[:, ::-1] - both[:, -1:]))


def _log_ways(eggs: int) -> Floats:
    each = np.log(np.arange(1, eggs + 1))
    made = np.concatenate(([0.0], each.cumsum()))
    return np.asarray(made[-1] - made - made[::-1])


def _of_several(draws: Sequence[tuple[int, Floats, float]]) -> Floats:
    """The chances of the sum of several draws, whose Betas are taken at one quantile (n, sum + 1)."""
    total = np.ones((draws[0][1].size * _QUANTILES, 1))
    for eggs, v, kappa in draws:
        share = np.clip(_quantiles(v, kappa).reshape(-1, 1), 1e-15, 1.0 - 1e-15)
        k = np.arange(eggs + 1)
        own = np.exp(_log_ways(eggs) + k * np.log(share) + (eggs - k) * np.log1p(-share))
        more = np.zeros((total.shape[0], total.shape[1] + eggs))
        for n in range(eggs + 1):
            more[:, n : n + total.shape[1]] += own[:, n : n + 1] * total
        total = more
    return np.asarray(_parts()[1] @ total.reshape(-1, _QUANTILES, total.shape[1]))


@lru_cache(maxsize=1)
def _parts() -> tuple[Floats, Floats]:
    """Quantiles of 0 to 1 and the weight of each, by Gauss and Legendre."""
    at, weight = np.polynomial.legendre.leggauss(_QUANTILES)
    return (at + 1.0) / 2.0, weight / 2.0


def _quantiles(v: Floats, kappa: float) -> Floats:
    """Quantiles of Beta(v kappa, (1 - v) kappa) (n, quantiles), by its density over the log odds."""
    a = np.clip(v, 1e-12, 1.0 - 1e-12)[:, None] * kappa
    b = kappa - a
    odds = np.linspace(-36.0, 36.0, 1801)
    density = np.exp(-a * np.log1p(np.exp(-odds)) - b * np.log1p(np.exp(odds)))
    logs = [math.lgamma(x) + math.lgamma(kappa - x) - math.lgamma(kappa) for x in a.ravel().tolist()]
    whole = np.array(logs)[:, None]
    below = np.exp(a * odds[0] - np.log(a) - whole)  # nearly all of it, where hardly an egg can live
    upto = below + (density.cumsum(axis=1) - density / 2) * (odds[1] - odds[0]) / np.exp(whole)
    return np.array([1.0 / (1.0 + np.exp(-np.interp(_parts()[0], own, odds))) for own in upto])


@lru_cache(maxsize=1)
def _nodes() -> tuple[Floats, Floats]:
    """Shift of a whole trip's warmth in standard deviations, and its chance."""
    at, weight = np.polynomial.hermite_e.hermegauss(7)
    return at, weight / weight.sum()


def _lead(hours: Floats, holds: Holding) -> Floats:
    """What is left of the lead over the outside so many hours after hand-over."""
    after = np.maximum(hours - holds.heat_pack_h, 0.0)
    return np.exp(-after / holds.warm_h) if holds.warm_h else np.where(after > 0, 0.0, 1.0)


def _mean_gain(low: Floats, high: Floats, species: Species) -> Floats:
    """The mean of the effective degrees over temperatures spread evenly from low to high [C-d]."""
    most = math.inf if species.keep_max_c is None else species.keep_max_c

    def area(celsius: Floats) -> Floats:
        sloping = np.clip(celsius, species.zero_c, most) - species.zero_c
        flat = np.maximum(celsius - most, 0.0)
        return sloping**2 / 2 + (flat * (most - species.zero_c) if math.isfinite(most) else 0.0)

    wide = np.maximum(high - low, 1e-6)
    return np.asarray((area(low + wide) - area(low)) / wide)
