"""What eggs are lost in packings and on the shelf: reports and looks in, losses near the tables' own out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shipping.learning.estimate import Estimate, Floats, fitted_share, logit
from shipping.tables.rows.lots import Lot
from shipping.tables.shelf import Shelf
from shipping.words.three_point import Z95

#: Doubt about the table's losses and spread (standard deviation of the log; assumed). 10 parcels move them a
#: little.
LOSS_DOUBT = 0.25
KAPPA_DOUBT = 0.35
#: A loss that the table puts at zero may be anything small: its middle, and the doubt about it (assumed).
ZERO_LOSS, ZERO_DOUBT = 0.002, 1.0
#: Doubt about the fertile share (standard deviation of the logit; assumed).
FERTILE_DOUBT = 0.25
#: A line so bad that by the table not even this share of parcels are may have been frozen, crushed, left in
#: the sun: it is read as the worst that the table does foretell (assumed).
MISHAP_SHARE = 0.0005
#: A line better than all but this share of parcels by what the lines say together is read as the best of them
#: (assumed).
FAR_BETTER = 0.01
#: Mishaps read so: at most this share of all lines, and at least one; more are the packing's doing. What is
#: worse than `BAD_SHARE` of parcels by the table counts, and so far below, as a share of it, as a whole one.
MISHAPS_AT_MOST, BAD_SHARE, WHOLE_MISHAP = 0.02, 0.01, 0.1
#: Chances held at once.
_CELLS = 1_000_000
LOSS_BOUNDS = ((1e-6, 5.0), (1e-6, 2.0), (2.0, 2000.0))


@dataclass(frozen=True, slots=True)
class Losses:
    """What a packing costs: at handling, per day [1/d], and how alike the eggs of a parcel fare."""

    loss_handling: float
    loss_per_day: float
    kappa: float


@dataclass(frozen=True, eq=False)
class Counts:
    """Lines reported, arrays (lines,): packed, living, days on the way, share left by all else, times so."""

    packed: Floats
    living: Floats
    days: Floats
    other_share: Floats
    lines: Floats

    @classmethod
    def of(cls, packed: Floats, living: Floats, days: Floats, other_share: Floats) -> Counts:
        """Counts with equal lines put together."""
        rows = np.column_stack([packed, living, days, np.round(other_share, 4)]).astype(float)
        distinct, times = np.unique(rows, axis=0, return_counts=True)
        sent, found, on_the_way, left = distinct.T
        return cls(sent, found, on_the_way, left, times.astype(float))

    @property
    def total(self) -> int:
        return int(self.lines.sum())


def alive_share(losses: Losses, counts: Counts) -> Floats:
    """v of each line: ``exp(-loss_handling - loss_per_day t) other_share`` (lines,), within (0, 1)."""
    kept = np.exp(-losses.loss_handling - losses.loss_per_day * counts.days) * counts.other_share
    return np.asarray(np.clip(kept, 1e-9, 1.0 - 1e-9))


def forgiven_share(told: Iterable[tuple[Counts, Losses]]) -> float:
    """How much of every mishap is forgiven, 0 to 1: `MISHAPS_AT_MOST` of all lines told of, at least one, are
    shared by all that are as bad as `BAD_SHARE` of parcels or worse.
    """
    lines = needed = 0.0
    for counts, table in told:
        lines += counts.total
        needed += float(counts.lines @ _mishap_parts(counts, table))
    return min(1.0, max(1.0, MISHAPS_AT_MOST * lines) / needed) if needed else 1.0


def as_read(counts: Counts, table: Losses, forgiven: float) -> Counts:
    """The lines as they are held against the packing: mishaps nearer, by what is forgiven, to the worst count
    that the table foretells.

    Notes
    -----
    So no worse count is read as a better one, and none makes another be read as better. (A mixture with any
    count alike forgives more the worse a count is: 15 of 24 alive then asked for more eggs than none.)
    """
    lack = np.maximum(_quantile(counts, table, MISHAP_SHARE) - counts.living, 0.0)
    return replace(counts, living=counts.living + forgiven * lack)


def _mishap_parts(counts: Counts, table: Losses) -> Floats:
    """How much of a mishap each line is, 0 to 1 (lines,)."""
    bad = _quantile(counts, table, BAD_SHARE)
    below = np.maximum(bad - counts.living, 0.0) / np.maximum(bad, 1.0)
    return np.asarray(np.minimum(1.0, below / WHOLE_MISHAP))


def _quantile(counts: Counts, losses: Losses, share: float) -> Floats:
    """The least count of each line that this share of such parcels or more do not exceed (lines,)."""
    found, v = np.zeros(counts.packed.size), alive_share(losses, counts)
    for packed in np.unique(counts.packed):
        of_count = np.flatnonzero(counts.packed == packed)
        distinct, place = np.unique(v[of_count], return_inverse=True)
        living = np.arange(packed + 1.0)
        below = [
            np.exp(_beta_binomial(packed, living, of_v[:, None], losses.kappa)).cumsum(axis=1) < share
            for of_v in np.array_split(distinct, 1 + distinct.size * living.size // _CELLS)
        ]
        found[of_count] = np.concatenate(below).sum(axis=1)[place.ravel()]
    return found


def _beta_binomial(n: Floats | float, k: Floats, v: Floats, kappa: float) -> Floats:
    """log P(k) of each line, ``N ~ BetaBinomial(n, v kappa, (1 - v) kappa)`` (lines,)."""
    from scipy.special import betaln, gammaln

    a, b = v * kappa, (1.0 - v) * kappa
    ways = gammaln(n + 1.0) - gammaln(k + 1.0) - gammaln(n - k + 1.0)
    return np.asarray(ways + betaln(k + a, n - k + b) - betaln(a, b))


def fitted_losses(counts: Counts, table: Losses) -> Losses:
    """The likeliest losses given the lines, held near the table's by a log-normal prior.

    Notes
    -----
    Maximises ``sum log P(living) - sum (log x - log x0)^2 / (2 s^2)`` over the three values, with s
    `LOSS_DOUBT` and `KAPPA_DOUBT`. The prior's middle is the table's value, so without lines the table's
    values come back. P is a beta-binomial of the lines as they are read (`as_read`).
    """
    if not counts.total:
        return table
    from scipy.optimize import minimize

    middle, doubt = loss_prior(table)
    read = as_read(counts, table, forgiven_share([(counts, table)]))

    def cost(x: Floats) -> tuple[float, Floats]:
        value, slope = likelihood(read, Losses(*(float(value) for value in np.exp(x))))
        off = (x - middle) / doubt
        return -value + 0.5 * float(off @ off), -slope + off / doubt

    bounds = [(math.log(low), math.log(high)) for low, high in LOSS_BOUNDS]
    start = np.clip(middle, [low for low, _ in bounds], [high for _, high in bounds])
    best = minimize(cost, start, jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": 200})
    handling, per_day, kappa = (float(value) for value in np.exp(best.x))
    return Losses(handling, per_day, kappa)


def loss_prior(table: Losses) -> tuple[Floats, Floats]:
    """The middle of the logs of the three values, and the doubt about each (3,)."""
    losses = (table.loss_handling, table.loss_per_day)
    middle = [math.log(value if value > 0 else ZERO_LOSS) for value in losses]
    doubt = [LOSS_DOUBT if value > 0 else ZERO_DOUBT for value in losses]
    return np.array([*middle, math.log(table.kappa)]), np.array([*doubt, KAPPA_DOUBT])


def likelihood(counts: Counts, losses: Losses) -> tuple[float, Floats]:
    """The log of the chance of all lines, and its slope by the logs of the three values (3,)."""
    from scipy.special import digamma

    n, k, kappa = counts.packed, counts.living, losses.kappa
    v = alive_share(losses, counts)
    a, b = v * kappa, (1.0 - v) * kappa
    common = digamma(kappa) - digamma(n + kappa)
    by_a = digamma(k + a) - digamma(a) + common
    by_b = digamma(n - k + b) - digamma(b) + common
    by_v = counts.lines * kappa * (by_a - by_b) * v
    by_kappa = counts.lines * (v * by_a + (1.0 - v) * by_b)
    slope = [
        -losses.loss_handling * by_v.sum(),
        -losses.loss_per_day * (by_v * counts.days).sum(),
        kappa * by_kappa.sum(),
    ]
    return float(counts.lines @ _beta_binomial(n, k, v, kappa)), np.array(slope)


def fitted_fertile_share(counts: Counts, losses: Losses, setting: float) -> Estimate:
    """The likeliest fertile share, near the setting, from lines whose eggs nobody had seen to be fertile."""
    if not counts.total or not 0 < setting < 1:
        return Estimate.of_table(setting)
    middle, v = logit(setting), alive_share(losses, counts)
    foretold = replace(counts, other_share=counts.other_share * setting)
    read = as_read(foretold, losses, forgiven_share([(foretold, losses)]))

    def cost(x: float) -> float:
        fertile = np.clip(v / (1.0 + math.exp(-x)), 1e-9, 1.0 - 1e-9)
        return (
            -float(counts.lines @ _beta_binomial(counts.packed, read.living, fertile, losses.kappa))
            + 0.5 * ((x - middle) / FERTILE_DOUBT) ** 2
        )

    return Estimate(*fitted_share(cost, middle, 3.0, 1e-6))


#: Doubt about the parts (standard deviations of the log; assumed): what all parcels share, a packing's kind,
#: its own; for the two losses, and for how alike eggs fare.
_PARTS = np.array([[0.65, 0.1, 0.15], [0.65, 0.1, 0.15], [0.7, 0.12, 0.2]])
#: How alike the two losses are in what all parcels share (correlation; assumed): a season that is hard on
#: eggs is so at handling and by the day. Were they strangers, a bad line of a short way would speak for
#: handling alone, and so for fewer eggs on long ways.
_LOSSES_ALIKE = 0.95
_STEP = 1e-4
#: By how much a variance is widened at most.
_WIDEST = 6.0


@dataclass(frozen=True, eq=False)
class ReportedPacking:
    """A packing in one medium: its kind, its table's losses, and the lines reported of it."""

    key: str
    kind: str
    table: Losses
    counts: Counts


@dataclass(frozen=True, slots=True)
class PooledLosses:
    """A packing's losses as all lines teach them, the interval that holds each with 90 %, and how many of its
    own lines are told as ruined by a mishap: those of which more than half is forgiven.
    """

    losses: Losses
    low: Losses
    high: Losses
    mishaps: int = 0


def pooled_losses(packings: Sequence[ReportedPacking]) -> tuple[PooledLosses, ...]:
    """The likeliest losses of each packing given the lines of all, with intervals; in the order given.

    Notes
    -----
    Maximises ``sum log P(living) - sum of squares of the parts over their variances``, each part normal
    around nothing (partial pooling). The intervals are the normal approximation at the maximum (Laplace).
    """
    taught = [packing for packing in packings if packing.counts.total]
    if not taught:
        return tuple(PooledLosses(packing.table, packing.table, packing.table) for packing in packings)
    model = _Model(taught)
    best = model.best()
    doubt = model.doubt(best)
    return tuple(model.taught_of(packing, best, doubt) for packing in packings)


def _times(table: Losses, factor: float) -> Losses:
    middle, _ = loss_prior(table)
    handling, per_day = (float(np.exp(log) * factor) for log in middle[:2])
    return Losses(handling, per_day, table.kappa)


class _Model:
    """The parts as one vector: for each of three values what is shared, of each kind, of each packing."""

    def __init__(self, taught: list[ReportedPacking]) -> None:
        self.taught = taught
        self.kinds = sorted({packing.kind for packing in taught})
        self.size = 1 + len(self.kinds) + len(taught)
        self.forgiven = forgiven_share((packing.counts, packing.table) for packing in taught)
        self.read = [as_read(packing.counts, packing.table, self.forgiven) for packing in taught]
        self.start = self._factors()
        factors = np.exp([self.start[self._parts_of(packing)].sum() for packing in taught])
        self.read = [self._no_better(*told) for told in zip(taught, self.read, factors, strict=True)]
        variances = np.repeat(_PARTS**2, [1, len(self.kinds), len(taught)], axis=1)
        for n, packing in enumerate(taught):
            variances[:, 1 + len(self.kinds) + n] = self._own_variance(packing)
        doubt = np.diag(variances.ravel())
        doubt[0, self.size] = doubt[self.size, 0] = _LOSSES_ALIKE * math.sqrt(
            variances[0, 0] * variances[1, 0]
        )
        self.precision = np.linalg.inv(doubt)
        low, high = zip(*LOSS_BOUNDS, strict=True)
        self.low, self.high = np.log(low), np.log(high)

    def _own_variance(self, packing: ReportedPacking) -> Floats:
        """The variance of a packing's own part (3,); wide where the table's value is nothing at all."""
        is_nothing = np.array([packing.table.loss_handling <= 0, packing.table.loss_per_day <= 0, False])
        return np.asarray(np.where(is_nothing, ZERO_DOUBT, _PARTS[:, 2]) ** 2)

    def _parts_of(self, packing: ReportedPacking) -> list[int]:
        """Where the parts of a packing stand among those of one value."""
        places = [0]
        if packing.kind in self.kinds:
            places.append(1 + self.kinds.index(packing.kind))
        return places + [1 + len(self.kinds) + n for n, other in enumerate(self.taught) if other is packing]

    def _factors(self) -> Floats:
        """The likeliest parts of the log of one factor on both losses, the table's kappa held (size,).

        Notes
        -----
        One number a packing, parts of it shared: no better count makes any factor larger, as the chances have
        increasing differences in counts and factors, and the prior's precision nothing positive off its
        diagonal (an inverse of tree-like covariances). So what is read by it keeps the order of the counts.
        """
        from scipy.optimize import minimize

        places = [self._parts_of(packing) for packing in self.taught]
        precision = 1.0 / np.repeat(_PARTS[0] ** 2, [1, len(self.kinds), len(self.taught)])

        def cost(x: Floats) -> tuple[float, Floats]:
            value, slope = 0.5 * float(precision @ x**2), precision * x
            for packing, read, parts in zip(self.taught, self.read, places, strict=True):
                chance, by_log = likelihood(read, _times(packing.table, math.exp(x[parts].sum())))
                value -= chance
                slope[parts] -= by_log[0] + by_log[1]
            return value, slope

        return np.asarray(minimize(cost, np.zeros(self.size), jac=True, method="L-BFGS-B").x)

    @staticmethod
    def _no_better(packing: ReportedPacking, read: Counts, factor: float) -> Counts:
        """The lines, those better than all but `FAR_BETTER` as the best of the rest: one perfect parcel
        among bad ones says that eggs fare better, not that they fare so unlike that more of them are packed.
        """
        best = _quantile(read, _times(packing.table, factor), 1.0 - FAR_BETTER)
        return replace(read, living=np.minimum(read.living, best))

    def logs(self, packing: ReportedPacking, x: Floats) -> Floats:
        """The logs of a packing's three values (3,)."""
        middle, _ = loss_prior(packing.table)
        parts = x.reshape(3, self.size)[:, self._parts_of(packing)]
        return np.asarray(np.clip(middle + parts.sum(axis=1), self.low, self.high))

    def cost(self, x: Floats) -> tuple[float, Floats]:
        """What is minimised, and its slope (3 * size,)."""
        pull = self.precision @ x
        value, slope = 0.5 * float(pull @ x), pull.reshape(3, self.size)
        for packing, read in zip(self.taught, self.read, strict=True):
            chance, by_log = likelihood(read, Losses(*np.exp(self.logs(packing, x)).tolist()))
            value -= chance
            slope[:, self._parts_of(packing)] -= by_log[:, None]
        return value, slope.ravel()

    def best(self) -> Floats:
        from scipy.optimize import minimize

        start = np.concatenate([self.start, self.start, np.zeros(self.size)])
        best = minimize(self.cost, start, jac=True, method="L-BFGS-B", options={"maxiter": 500})
        return np.asarray(best.x)

    def doubt(self, x: Floats) -> Floats:
        """The covariance of the parts at their likeliest values.

        Notes
        -----
        From differences of the slope, along each principal axis then as wide as the cost really rises
        `Z95` standard deviations out: a loss near nothing bends the cost less than the maximum tells.
        """
        steps = _STEP * np.eye(x.size)
        columns = [(self.cost(x + step)[1] - self.cost(x - step)[1]) / (2 * _STEP) for step in steps]
        bends = np.array(columns)
        values, vectors = np.linalg.eigh((bends + bends.T) / 2)
        least = float(np.linalg.eigvalsh(self.precision).min()) * 1e-3
        variances = 1.0 / np.maximum(values, least)
        lowest = self.cost(x)[0]
        for n, axis in enumerate(vectors.T):
            ends = [sign * Z95 * math.sqrt(variances[n]) * axis for sign in (-1.0, 1.0)]
            rises = [max(1e-9, self.cost(x + end)[0] - lowest) for end in ends]
            wider = [min(_WIDEST, max(1.0, Z95**2 / 2 / rise)) for rise in rises]
            variances[n] *= sum(wider) / 2
        return np.asarray((vectors * variances) @ vectors.T)

    def taught_of(self, packing: ReportedPacking, x: Floats, doubt: Floats) -> PooledLosses:
        """A packing's losses and their intervals, by its parts and by those that nobody taught."""
        logs, off = self.logs(packing, x), Z95 * np.sqrt(self._variance(packing, doubt))
        taught, low, high = (Losses(*np.exp(ends).tolist()) for ends in (logs, logs - off, logs + off))
        worst = _quantile(packing.counts, packing.table, MISHAP_SHARE)
        ruined = packing.counts.lines @ (packing.counts.living < worst)
        return PooledLosses(taught, low, high, int(ruined) if self.forgiven > 0.5 else 0)

    def _variance(self, packing: ReportedPacking, doubt: Floats) -> Floats:
        variance = np.zeros(3)
        for value in range(3):
            rows = [value * self.size + part for part in self._parts_of(packing)]
            variance[value] = doubt[np.ix_(rows, rows)].sum()
        if packing.kind not in self.kinds:
            variance += _PARTS[:, 1] ** 2
        if not any(other is packing for other in self.taught):
            variance += self._own_variance(packing)
        return variance


#: The setting weighs as much as this many independent deaths (assumed).
PRIOR_DEATHS = 8.0
#: Dead eggs come in clumps: this many found together weigh as one (fungus spreads; assumed).
CLUMP = 5.0


@dataclass(frozen=True, slots=True)
class DeadEggs:
    """Dead eggs taken out, the egg-days they were taken from [eggs d], and the looks that say so."""

    eggs: int
    egg_days: float
    looks: int


def dead_eggs(shelf: Shelf) -> DeadEggs:
    """All looks that counted dead eggs, put together."""
    parts = [_of_lot(shelf, lot) for lot in shelf.lots]
    return DeadEggs(
        sum(part.eggs for part in parts),
        sum(part.egg_days for part in parts),
        sum(part.looks for part in parts),
    )


def _of_lot(shelf: Shelf, lot: Lot) -> DeadEggs:
    """The lot's own looks; one that leaves ``removed`` blank says nothing of the days before it."""
    eggs, seen = float(lot.eggs), lot.counted_on
    dead, egg_days, looks = 0, 0.0, 0
    for look in shelf.looks_by_lot.get(lot.lot, ()):
        if look.on <= lot.counted_on:
            continue
        if look.removed is not None:
            dead += look.removed
            egg_days += eggs * (look.on - seen).days
            looks += 1
        packed = shelf.packed.get(lot.lot, {}).items()
        gone = sum(count for day, count in packed if seen <= day < look.on)
        left = eggs - (look.removed or 0) - (look.hatched or 0) - gone
        eggs = float(look.alive) if look.alive is not None else max(0.0, left)
        seen = look.on
    return DeadEggs(dead, egg_days, looks)


def fitted_shelf_loss(dead: DeadEggs, setting: float) -> Estimate:
    """The daily loss [1/d] given the dead eggs found: a gamma posterior's mean around the setting.

    Notes
    -----
    ``(8 + dead / 5) / (8 / setting + egg_days / 5)``.
    """
    from scipy.special import gammaincinv

    if not dead.egg_days or setting <= 0:
        return Estimate.of_table(setting)
    shape, rate = PRIOR_DEATHS + dead.eggs / CLUMP, PRIOR_DEATHS / setting + dead.egg_days / CLUMP
    low, high = (float(gammaincinv(shape, share)) / rate for share in (0.05, 0.95))
    return Estimate(shape / rate, low, high, dead.looks)
