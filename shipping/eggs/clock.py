"""The development clock of a lot: a species, a lot and its looks in, weights over (laying day, K) before and
after the looks out.

An egg hatches when it has gathered K effective degree-days. What a lot holds, what may be packed and what
happens on the way are asked elsewhere; all those questions are ratios of sums over this grid, and lots laid,
kept and seen alike share them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from shipping.eggs.distributions import phi, phi_falling, phi_steps
from shipping.tables.rows.lots import STAGES, Look, Lot
from shipping.tables.rows.species import Species
from shipping.words.three_point import ThreePoint, normal_cdfs

Floats = NDArray[np.float64]
#: Cells of K on each side of the usual value, even in the log; shares are good to better than 1e-4, mostly
#: 1e-5.
CELLS_A_SIDE = 3000
#: The grid reaches this many spreads to each side: what lies beyond weighs less than 1e-16.
REACH = 8.3
#: Where the embryo fills the egg, as a share of the way to hatching (the model's section 2).
READY_AT = 0.85
#: Two sums of degree-days closer than this are the same.
SAME = 1e-9
#: So many weights are reckoned at once: as many as stay in the processor's cache, three times as fast as all.
AT_ONCE = 16_000


def effective_degrees(temperature_c: float, species: Species) -> float:
    """g(T): effective degree-days gathered in a day at ``temperature_c`` [C-d].

    Notes
    -----
    ``max(0, min(T, keep_max_c) - zero_c)``; without ``keep_max_c`` there is no plateau.

    References
    ----------
    Kamler 2002, Reviews in Fish Biology and Fisheries 12:79-103 (effective degree-days above a biological
    zero).
    """
    most = temperature_c if species.keep_max_c is None else min(temperature_c, species.keep_max_c)
    return max(0.0, most - species.zero_c)


@dataclass(frozen=True, slots=True, eq=False)
class KGrid:
    """K [C-d] as cells and at most one atom.

    ``edges``: log K at the edges of the cells (cells + 1,), rising. ``sides``: of each side, log K in the
    middle of its first cell, the step from cell to cell, and which cells they are. ``usual``: log K where
    the sides meet. ``chances``: prior chance
    of each cell (cells,). ``atom_k``, ``atom_chance``: K and chance of the step.
    """

    edges: Floats
    sides: tuple[tuple[float, float, slice], ...]
    chances: Floats
    usual: float
    atom_k: float
    atom_chance: float

    def edge_of(self, log_k: Floats) -> Floats:
        """Where among the edges each log K stands, in steps from the first: same shape, 0 to cells."""
        below, above = self._cells_a_log
        beside = log_k - self.usual
        found = beside * below
        beside *= above
        # the product of one side below the usual value, of the other above it
        (np.minimum if below > above else np.maximum)(found, beside, out=found)
        found += CELLS_A_SIDE if below else 0.0
        np.maximum(found, 0.0, out=found)
        return np.minimum(found, float(self.chances.size), out=found)

    @property
    def _cells_a_log(self) -> tuple[float, float]:
        """Cells to a step of 1 in the log, below and above the usual value; 0 where it is an atom."""
        below, above = 0.0, 0.0
        for middle, step, _ in self.sides:
            below, above = (1.0 / step, above) if middle < self.usual else (below, 1.0 / step)
        return below, above


@lru_cache(maxsize=1)
def _side() -> tuple[Floats, Floats]:
    """The standard normal below zero: the edges of its cells, and the chance of each."""
    z = np.linspace(-REACH, 0.0, CELLS_A_SIDE + 1)
    return z, np.diff(normal_cdfs(z))


@lru_cache(maxsize=512)
def k_grid(points: ThreePoint, degrees_a_day: float) -> KGrid:
    """The prior of K: days to hatch [d] x degrees a day [C-d/d]; a side of width zero is an atom."""
    usual = math.log(points.usual * degrees_a_day)
    z, mass = _side()
    edges, chances, sides, atom = [np.array([usual])], [], [], 0.0
    if points.spread_below > 0:
        step = points.spread_below * REACH / CELLS_A_SIDE
        sides.append((usual - points.spread_below * REACH + step / 2, step, slice(0, CELLS_A_SIDE)))
        edges.insert(0, usual + points.spread_below * z[:-1])
        chances.append(mass)
    else:
        atom += 0.5
    if points.spread_above > 0:
        step = points.spread_above * REACH / CELLS_A_SIDE
        sides.append(
            (usual + step / 2, step, slice(len(sides) * CELLS_A_SIDE, (len(sides) + 1) * CELLS_A_SIDE))
        )
        edges.append(usual - points.spread_above * z[:-1][::-1])
        chances.append(mass[::-1])
    else:
        atom += 0.5
    return KGrid(
        edges=np.concatenate(edges),
        sides=tuple(sides),
        chances=np.concatenate(chances) if chances else np.zeros(0),
        usual=usual,
        atom_k=math.exp(usual),
        atom_chance=atom,
    )


@lru_cache(maxsize=128)
def _fresh(grid: KGrid, days: int) -> tuple[Floats, Floats]:
    """Before any stage was seen: weights of one day's cells (cells,), from each edge up (1, cells + 1)."""
    cells = grid.chances / days
    return cells, _from_each_edge(cells[None])


def _from_each_edge(cells: Floats) -> Floats:
    """Weight of all cells from each edge upward: (days, cells + 1)."""
    padded = np.zeros((cells.shape[0], cells.shape[1] + 1))
    np.cumsum(cells[:, ::-1], axis=1, out=padded[:, -2::-1])
    return padded


@dataclass(frozen=True, eq=False)
class Clock:
    """Weights over (laying day, K) after looks.

    ``laid_at``: degree-days the shelf had gathered by each laying day (days,), counted from ``laid_from``; an
    egg laid then has gathered ``x - laid_at`` when the shelf stands at ``x``. ``cells``: (days, cells),
    before any stage was seen one row that stands for all days. ``atoms``: (days,). ``alive_at``: the shelf's
    degree-days when live eggs were last seen: K is beyond that. ``damp``: eggs do not hatch before they are
    wetted, so that being whole says nothing of K.
    """

    grid: KGrid
    laid_at: Floats
    cells: Floats
    atoms: Floats
    alive_at: float
    damp: bool

    @cached_property
    def _beyond(self) -> Floats:
        """Weight from each edge upward: (days, cells + 1), one row where all days weigh alike."""
        is_alike = self.cells.strides[0] == 0
        return _fresh(self.grid, self.laid_at.size)[1] if is_alike else _from_each_edge(self.cells)

    @cached_property
    def total(self) -> float:
        alike = self.laid_at.size if self._beyond.shape[0] == 1 else 1
        return float(self._beyond[:, 0].sum() * alike + self.atoms.sum())

    def weight_beyond(self, x: Floats | float) -> Floats:
        """Weight with K > a when the shelf stands at ``x`` [C-d], whatever was seen: shape of ``x``."""
        at = np.atleast_1d(np.asarray(x, dtype=float))
        flat, found = at.ravel(), np.zeros(at.size)
        found[flat <= self._all_beyond] = self.total
        # most days of a long journey are past all hatching, most of a short one before any
        some = np.flatnonzero((flat > self._all_beyond) & (flat < self._none_beyond))
        step = max(1, AT_ONCE // self.laid_at.size)
        for start in range(0, some.size, step):
            here = some[start : start + step]
            found[here] = self._weight_beyond(flat[here])
        return found.reshape(at.shape)

    @cached_property
    def _all_beyond(self) -> float:
        """Until the shelf stands here all the weight is left, whatever the laying day [C-d]."""
        first = math.exp(float(self.grid.edges[0])) * (1.0 - 1e-12)
        return float(self.laid_at.min()) + min(first, self.grid.atom_k if self.grid.atom_chance else first)

    @cached_property
    def _none_beyond(self) -> float:
        """When the shelf stands here no weight is left, whatever the laying day [C-d]."""
        last = math.exp(float(self.grid.edges[-1])) * (1.0 + 1e-12)
        return float(self.laid_at.max()) + max(last, self.grid.atom_k if self.grid.atom_chance else 0.0)

    def _weight_beyond(self, at: Floats) -> Floats:
        """`weight_beyond` of some of its values (n,)."""
        gathered = np.maximum(at - self.laid_at[:, None], 1e-300)
        found = np.zeros(at.size)
        if self.cells.shape[1]:
            edge = self.grid.edge_of(np.log(gathered))
            cell = np.minimum(edge.astype(np.int64), self.cells.shape[1] - 1)
            edge -= cell
            if self._beyond.shape[0] > 1:
                cell += (np.arange(self.laid_at.size) * self._beyond.shape[1])[:, None]
            beyond = self._beyond.ravel()
            low = beyond.take(cell)
            cell += 1
            edge *= beyond.take(cell) - low
            edge += low
            found += edge.sum(axis=0)
        if self.grid.atom_chance:
            found += np.tensordot(self.atoms, self.grid.atom_k > gathered + SAME, axes=1)
        return found

    def whole(self, x: Floats | float) -> Floats:
        """Weight of eggs still whole when the shelf stands at ``x`` [C-d]; all of it for eggs kept damp."""
        at = np.atleast_1d(np.asarray(x, dtype=float))
        if self.damp:
            return np.full(at.shape, self.total)
        return self.weight_beyond(np.maximum(at, self.alive_at))

    def seen(self, stage: str, x: float, species: Species, spread: float, *, of_many: bool = False) -> Clock:
        """The clock after a look that says ``stage`` when the shelf stands at ``x`` [C-d]; ``of_many``: one
        of many looks that are reckoned for the same species, so that a table pays.

        Notes
        -----
        Eyes show at a share f of K within ``spread`` (log scale): ``q(f) = Phi(ln(a / (f K)) / spread)``.
        `eyed` is q(f), `fertile` 1 - q(f), `ready` q(0.85); `laid` says only that the egg is live.
        """
        alive_at = max(self.alive_at, x)
        if stage == "laid":
            return replace(self, alive_at=alive_at)
        share = READY_AT if stage == "ready" else species.eyed_at
        gathered = np.maximum(x - self.laid_at, 0.0)
        with np.errstate(divide="ignore"):
            log_a = np.log(gathered) - math.log(share)
        cells, fill = np.empty(self.cells.shape), phi_falling if of_many else phi_steps
        for row, one in zip(cells, log_a.tolist(), strict=True):
            for first, step, part in self.grid.sides:
                fill((one - first) / spread, step / spread, row[part])
        if stage == "fertile":
            np.subtract(1.0, cells, out=cells)
        cells *= self.cells
        if not self.grid.atom_chance:
            return replace(self, cells=cells, alive_at=alive_at)
        atoms = phi((log_a - math.log(self.grid.atom_k)) / spread)
        atoms = 1.0 - atoms if stage == "fertile" else atoms
        return replace(self, cells=cells, atoms=self.atoms * atoms, alive_at=alive_at)

    def mean_degree_days(self, x: float) -> float:
        """The weighted mean of what an egg has gathered when the shelf stands at ``x`` [C-d]."""
        floor = np.full(1, max(x if not self.damp else -np.inf, self.alive_at))
        weights = np.array([self._one_day(day).weight_beyond(floor)[0] for day in range(self.laid_at.size)])
        if self.damp or weights.sum() <= 0:
            weights = self.cells.sum(axis=1) + self.atoms
        if weights.sum() <= 0:
            weights = np.ones_like(self.laid_at)
        return float(np.dot(np.maximum(x - self.laid_at, 0.0), weights) / weights.sum())

    def _one_day(self, day: int) -> Clock:
        """The eggs of one laying day, of their own weight; a copy, since days may share rows."""
        pick = slice(day, day + 1)
        return replace(
            self, laid_at=self.laid_at[pick], cells=self.cells[pick].copy(), atoms=self.atoms[pick]
        )


@dataclass(frozen=True, slots=True)
class ShelfHeat:
    """Degree-days the shelf gathers, from ``laid_from``: steps of temperature, each from a day on."""

    start: date
    steps: tuple[tuple[date, float], ...]

    def at(self, day: date) -> float:
        """What the shelf has gathered by the morning of ``day`` [C-d], from the start."""
        gathered, number = 0.0, day.toordinal()
        for begin, end, degrees in self._spans():
            gathered += degrees * max(0.0, min(end, number) - begin)
        return gathered

    def on(self, days: Sequence[date]) -> Floats:
        """`at` of each of some days (days,)."""
        number = np.array([day.toordinal() for day in days], dtype=np.float64)
        gathered = np.zeros(number.size)
        for begin, end, degrees in self._spans():
            gathered += degrees * np.maximum(0.0, np.minimum(end, number) - begin)
        return gathered

    def _spans(self) -> Iterator[tuple[int, float, float]]:
        """From which day, to which (the last endless), and what a day gives then."""
        for n, (since, degrees) in enumerate(self.steps):
            begin = (self.start if n == 0 else max(since, self.start)).toordinal()
            end = self.steps[n + 1][0].toordinal() if n + 1 < len(self.steps) else math.inf
            yield begin, end, degrees


def shelf_heat(species: Species, lot: Lot, looks: tuple[Look, ...]) -> ShelfHeat:
    """What the lot's temperature history gives."""
    steps = ((day, effective_degrees(celsius, species)) for day, celsius in kept_temperatures(lot, looks))
    return ShelfHeat(lot.laid_from, tuple(steps))


def kept_temperatures(lot: Lot, looks: tuple[Look, ...]) -> tuple[tuple[date, float], ...]:
    """From which day a lot is kept at what [C]: ``kept_at_c``, replaced from the day a look says so."""
    changes = {look.on: look.kept_at_c for look in looks if look.kept_at_c is not None}
    later = {day: celsius for day, celsius in changes.items() if day > lot.laid_from}
    earlier = [day for day in changes if day <= lot.laid_from]
    first = changes[max(earlier)] if earlier else lot.kept_at_c
    return ((lot.laid_from, first), *((day, later[day]) for day in sorted(later)))


def kept_on(day: date, temperatures: tuple[tuple[date, float], ...]) -> float:
    """What a lot is kept at on a day [C], of its `kept_temperatures`."""
    return next((celsius for since, celsius in reversed(temperatures) if since <= day), temperatures[0][1])


def fresh_clock(species: Species, lot: Lot, heat: ShelfHeat) -> Clock:
    """The clock before any look: uniform over laying days, times the species' three points."""
    grid = k_grid(species.hatch_days, effective_degrees(species.incubation_c, species))
    days = (lot.laid_to - lot.laid_from).days + 1
    laid_at = heat.on([lot.laid_from + timedelta(days=n) for n in range(days)])
    return Clock(
        grid=grid,
        laid_at=laid_at,
        cells=np.broadcast_to(_fresh(grid, days)[0], (days, grid.chances.size)),
        atoms=np.full(days, grid.atom_chance / days),
        alive_at=-math.inf,
        damp=lot.kept_damp,
    )


@dataclass(frozen=True, slots=True)
class Sighting:
    """Live eggs seen on a day; ``stage`` None: only that they live. ``row`` says which row of which table."""

    on: date
    stage: str | None
    row: str


def sightings(lot: Lot, looks: tuple[Look, ...]) -> tuple[Sighting, ...]:
    """Every day on which somebody saw live eggs; a row that only sets a temperature saw none."""
    found = [Sighting(lot.counted_on, None, lot.cited)] if lot.eggs else []
    if lot.stage:
        found.append(Sighting(lot.stage_on or lot.counted_on, lot.stage, lot.cited))
    for look in looks:
        saw = look.stage or look.alive or look.hatched is not None or look.removed is not None
        if saw and look.alive != 0:
            found.append(Sighting(look.on, look.stage, look.cited))
    return tuple(sorted(found, key=lambda s: (s.on, STAGES.index(s.stage) if s.stage else -1, s.row)))


def as_evidence(seen: tuple[Sighting, ...]) -> tuple[Sighting, ...]:
    """The sightings, in their order, each stage speaking once: the first `eyed`, the first `ready`, the last
    `fertile`; looking again at the same thing proves only that the eggs live.
    """
    speaks = {sighting.stage: n for n, sighting in reversed(list(enumerate(seen)))}
    speaks |= {sighting.stage: n for n, sighting in enumerate(seen) if sighting.stage == "fertile"}
    return tuple(
        sighting if speaks[sighting.stage] == n else replace(sighting, stage=None)
        for n, sighting in enumerate(seen)
    )


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
