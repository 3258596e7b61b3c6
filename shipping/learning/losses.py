"""What packings cost their eggs: reported lines in, the likeliest losses near the tables' own values out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shipping.learning.estimate import Estimate, Floats, fitted_share, logit
from shipping.words.three_point import Z95

#: Doubt about the table's losses and spread (standard deviation of the log; assumed). 10 parcels move them a
#: little.
LOSS_DOUBT = 0.25
KAPPA_DOUBT = 0.35
#: A loss that the table puts at zero may be anything small: its middle, and the doubt about it (assumed).
ZERO_LOSS, ZERO_DOUBT = 0.002, 1.0
#: Doubt about the fertile share (standard deviation of the logit; assumed).
FERTILE_DOUBT = 0.25
#: The share of parcels in which anything can have happened (frozen, crushed, left in the sun; assumed).
MISHAP_SHARE = 0.01
#: At most this share of the lines, and at least one, may be read as mishaps; more of them are the packing's
#: doing.
MISHAPS_AT_MOST = 0.02
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


def log_chances(counts: Counts, v: Floats, kappa: float) -> Floats:
    """log P(living) of each line: a beta-binomial, and with `MISHAP_SHARE` any count alike (lines,)."""
    return _with_mishaps(counts, _beta_binomial(counts, v, kappa))


def _with_mishaps(counts: Counts, plain: Floats) -> Floats:
    any_count = math.log(MISHAP_SHARE) - np.log1p(counts.packed)
    return np.asarray(np.logaddexp(math.log1p(-MISHAP_SHARE) + plain, any_count))


def forgivable(counts: Counts, table: Losses) -> Floats:
    """How many of each row's lines may be read as mishaps: the least likely by the table of those worse than
    it foretells, `MISHAPS_AT_MOST` in all.

    One ruined parcel is then not read as a worse packing; a second of the same few is.
    """
    left = max(1.0, MISHAPS_AT_MOST * counts.total)
    v = alive_share(table, counts)
    worse = counts.living < counts.packed * v
    gap = np.where(worse, _beta_binomial(counts, v, table.kappa) + np.log1p(counts.packed), np.inf)
    forgiven = np.zeros_like(counts.lines)
    for row in np.lexsort((counts.days, counts.living, counts.packed, gap)):
        forgiven[row] = min(left, counts.lines[row]) if worse[row] else 0.0
        left -= forgiven[row]
    return forgiven


def _beta_binomial(counts: Counts, v: Floats, kappa: float) -> Floats:
    """log P(living) of each line, ``N ~ BetaBinomial(n, v kappa, (1 - v) kappa)`` (lines,)."""
    from scipy.special import betaln, gammaln

    n, k = counts.packed, counts.living
    a, b = v * kappa, (1.0 - v) * kappa
    ways = gammaln(n + 1.0) - gammaln(k + 1.0) - gammaln(n - k + 1.0)
    return np.asarray(ways + betaln(k + a, n - k + b) - betaln(a, b))


def fitted_losses(counts: Counts, table: Losses) -> Losses:
    """The likeliest losses given the lines, held near the table's by a log-normal prior.

    Notes
    -----
    Maximises ``sum log P(living) - sum (log x - log x0)^2 / (2 s^2)`` over the three values, with s
    `LOSS_DOUBT` and `KAPPA_DOUBT`. The prior's middle is the table's value, so without lines the table's
    values come back. P is a beta-binomial, for the few least likely lines (`forgivable`) with the chance of a
    mishap.
    """
    if not counts.total:
        return table
    from scipy.optimize import minimize

    middle, doubt = loss_prior(table)
    forgiven = forgivable(counts, table)

    def cost(x: Floats) -> tuple[float, Floats]:
        value, slope = weighed_likelihood(counts, forgiven, Losses(*(float(value) for value in np.exp(x))))
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


def weighed_likelihood(counts: Counts, forgiven: Floats, losses: Losses) -> tuple[float, Floats]:
    """The sum over all lines, and its slope by the logs of the three values (3,)."""
    from scipy.special import digamma

    n, k, kappa = counts.packed, counts.living, losses.kappa
    v = alive_share(losses, counts)
    plain = _beta_binomial(counts, v, kappa)
    mixed = _with_mishaps(counts, plain)
    blamed = counts.lines - forgiven
    weight = blamed + forgiven * np.exp(math.log1p(-MISHAP_SHARE) + plain - mixed)
    a, b = v * kappa, (1.0 - v) * kappa
    common = digamma(kappa) - digamma(n + kappa)
    by_a = digamma(k + a) - digamma(a) + common
    by_b = digamma(n - k + b) - digamma(b) + common
    by_v = weight * kappa * (by_a - by_b) * v
    by_kappa = weight * (v * by_a + (1.0 - v) * by_b)
    slope = [
        -losses.loss_handling * by_v.sum(),
        -losses.loss_per_day * (by_v * counts.days).sum(),
        kappa * by_kappa.sum(),
    ]
    return float(blamed @ plain + forgiven @ mixed), np.array(slope)


def fitted_fertile_share(counts: Counts, losses: Losses, setting: float) -> Estimate:
    """The likeliest fertile share, near the setting, from lines whose eggs nobody had seen to be fertile."""
    if not counts.total or not 0 < setting < 1:
        return Estimate.of_table(setting)
    middle, v = logit(setting), alive_share(losses, counts)

    def cost(x: float) -> float:
        fertile = np.clip(v / (1.0 + math.exp(-x)), 1e-9, 1.0 - 1e-9)
        return (
            -float(counts.lines @ log_chances(counts, fertile, losses.kappa))
            + 0.5 * ((x - middle) / FERTILE_DOUBT) ** 2
        )

    return Estimate(*fitted_share(cost, middle, 3.0, 1e-6))


def mishaps(counts: Counts, table: Losses, fitted: Losses) -> int:
    """Lines that were read as ruined by a mishap rather than by the packing: shown, and hardly weighed."""
    plain = math.log1p(-MISHAP_SHARE) + _beta_binomial(counts, alive_share(fitted, counts), fitted.kappa)
    ruined = plain < math.log(MISHAP_SHARE) - np.log1p(counts.packed)
    return int(forgivable(counts, table)[ruined].sum())


#: Doubt about the parts (standard deviations of the log; assumed): what all parcels share, a packing's kind,
#: its own; for the two losses, and for how alike eggs fare. One line far better than others must not be read
#: as eggs so unlike that more of them are packed: hence the narrower 0.7.
_PARTS = np.array([[0.9, 0.1, 0.15], [0.9, 0.1, 0.15], [0.7, 0.12, 0.2]])
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
    """A packing's losses as all lines teach them, and the interval that holds each with 90 %."""

    losses: Losses
    low: Losses
    high: Losses


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


class _Model:
    """The parts as one vector: for each of three values what is shared, of each kind, of each packing."""

    def __init__(self, taught: list[ReportedPacking]) -> None:
        self.taught = taught
        self.kinds = sorted({packing.kind for packing in taught})
        self.size = 1 + len(self.kinds) + len(taught)
        self.forgiven = [forgivable(packing.counts, packing.table) for packing in taught]
        variances = np.repeat(_PARTS**2, [1, len(self.kinds), len(taught)], axis=1)
        for n, packing in enumerate(taught):
            variances[:, 1 + len(self.kinds) + n] = self._own_variance(packing)
        self.precision = 1.0 / variances.ravel()
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

    def logs(self, packing: ReportedPacking, x: Floats) -> Floats:
        """The logs of a packing's three values (3,)."""
        middle, _ = loss_prior(packing.table)
        parts = x.reshape(3, self.size)[:, self._parts_of(packing)]
        return np.asarray(np.clip(middle + parts.sum(axis=1), self.low, self.high))

    def cost(self, x: Floats) -> tuple[float, Floats]:
        """What is minimised, and its slope (3 * size,)."""
        value, slope = 0.5 * float(self.precision @ x**2), (self.precision * x).reshape(3, self.size)
        for packing, forgiven in zip(self.taught, self.forgiven, strict=True):
            chance, by_log = weighed_likelihood(
                packing.counts, forgiven, Losses(*np.exp(self.logs(packing, x)).tolist())
            )
            value -= chance
            slope[:, self._parts_of(packing)] -= by_log[:, None]
        return value, slope.ravel()

    def best(self) -> Floats:
        from scipy.optimize import minimize

        start = np.zeros(3 * self.size)
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
        least = float(self.precision.min()) * 1e-3
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
        return PooledLosses(*(Losses(*np.exp(ends).tolist()) for ends in (logs, logs - off, logs + off)))

    def _variance(self, packing: ReportedPacking, doubt: Floats) -> Floats:
        """The variance of the logs of a packing's values (3,)."""
        variance = np.zeros(3)
        for value in range(3):
            rows = [value * self.size + part for part in self._parts_of(packing)]
            variance[value] = doubt[np.ix_(rows, rows)].sum()
        if packing.kind not in self.kinds:
            variance += _PARTS[:, 1] ** 2
        if not any(other is packing for other in self.taught):
            variance += self._own_variance(packing)
        return variance
