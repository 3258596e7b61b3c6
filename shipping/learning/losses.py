"""What a packing costs its eggs: outcomes of lines in, the likeliest losses near the table's own values out.

Everything is vectors; no table is read or written here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipping.learning.doubt import off_of

Floats = NDArray[np.float64]

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
        return cls(distinct[:, 0], distinct[:, 1], distinct[:, 2], distinct[:, 3], times.astype(float))

    @property
    def total(self) -> int:
        return int(self.lines.sum())


def alive_share(losses: Losses, counts: Counts) -> Floats:
    """v of each line: ``exp(-loss_handling - loss_per_day t) other_share`` (lines,), within (0, 1)."""
    kept = np.exp(-losses.loss_handling - losses.loss_per_day * counts.days) * counts.other_share
    return np.asarray(np.clip(kept, 1e-9, 1.0 - 1e-9))


def log_chances(counts: Counts, v: Floats, kappa: float) -> Floats:
    """log P(living) of each line: a beta-binomial, and with `MISHAP_SHARE` any count alike (lines,).

    Notes
    -----
    ``N ~ BetaBinomial(n, v kappa, (1 - v) kappa)``.
    """
    return _with_mishaps(counts, _beta_binomial(counts, v, kappa))


def _with_mishaps(counts: Counts, plain: Floats) -> Floats:
    any_count = math.log(MISHAP_SHARE) - np.log1p(counts.packed)
    return np.asarray(np.logaddexp(math.log1p(-MISHAP_SHARE) + plain, any_count))


def forgivable(counts: Counts, table: Losses) -> Floats:
    """How many of each row's lines may be read as mishaps: the least likely by the table, `MISHAPS_AT_MOST`
    in all.

    One ruined parcel is then not read as a worse packing; a second of the same few is.
    """
    left = max(1.0, math.floor(MISHAPS_AT_MOST * counts.total))
    gap = _beta_binomial(counts, alive_share(table, counts), table.kappa) + np.log1p(counts.packed)
    forgiven = np.zeros_like(counts.lines)
    for row in np.lexsort((counts.days, counts.living, counts.packed, gap)):
        forgiven[row] = min(left, counts.lines[row])
        left -= forgiven[row]
    return forgiven


def _beta_binomial(counts: Counts, v: Floats, kappa: float) -> Floats:
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


def fitted_fertile_share(counts: Counts, losses: Losses, setting: float) -> tuple[float, float, float]:
    """The likeliest fertile share, held near the setting, from lines whose eggs nobody had seen to be
    fertile, and the interval that holds it with 90 %: value, low, high.

    ``counts.other_share`` is here what hatching alone leaves.
    """
    if not counts.total or not 0 < setting < 1:
        return setting, setting, setting
    from scipy.optimize import minimize_scalar

    middle = math.log(setting / (1.0 - setting))
    v = alive_share(losses, counts)

    def cost(x: float) -> float:
        chances = log_chances(counts, np.clip(v / (1.0 + math.exp(-x)), 1e-9, 1.0 - 1e-9), losses.kappa)
        return -float(counts.lines @ chances) + 0.5 * ((x - middle) / FERTILE_DOUBT) ** 2

    best = minimize_scalar(
        cost, bounds=(middle - 3.0, middle + 3.0), method="bounded", options={"xatol": 1e-6}
    )
    logit = float(best.x)
    off = off_of(cost, logit, 0.05)
    value, low, high = (1.0 / (1.0 + math.exp(-end)) for end in (logit, logit - off, logit + off))
    return value, low, high


def mishaps(counts: Counts, table: Losses, fitted: Losses) -> int:
    """Lines that were read as ruined by a mishap rather than by the packing: shown, and hardly weighed."""
    plain = math.log1p(-MISHAP_SHARE) + _beta_binomial(counts, alive_share(fitted, counts), fitted.kappa)
    ruined = plain < math.log(MISHAP_SHARE) - np.log1p(counts.packed)
    return int(forgivable(counts, table)[ruined].sum())
