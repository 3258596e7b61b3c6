"""What all packings cost, learned together: reported lines by packing in, losses of each with their doubt
out.

The log of each loss is the table's own and three parts on top: one that all parcels of the season share, for
they travel alike, one of the packing's kind, and one of the packing itself. A packing of which nothing was
reported yet takes the parts of its like.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipping.learning.losses import (
    LOSS_BOUNDS,
    ZERO_DOUBT,
    Counts,
    Floats,
    Losses,
    forgivable,
    loss_prior,
    weighed_likelihood,
)
from shipping.words.three_point import Z95

#: Doubt about the parts (standard deviations of the log; assumed): what all parcels share, a packing's kind,
#: its own; for the two losses, and for how alike eggs fare.
_PARTS = np.array([[0.9, 0.1, 0.15], [0.9, 0.1, 0.15], [1.0, 0.12, 0.2]])
_STEP = 1e-4
#: By how much a variance is widened at most.
_WIDEST = 6.0


@dataclass(frozen=True, eq=False)
class Packed:
    """A packing in one medium: its kind, its table's losses, and the lines reported of it."""

    key: str
    kind: str
    table: Losses
    counts: Counts


@dataclass(frozen=True, slots=True)
class Taught:
    """A packing's losses as all lines teach them, and the interval that holds each with 90 %."""

    losses: Losses
    low: Losses
    high: Losses


def pooled_losses(packings: Sequence[Packed]) -> tuple[Taught, ...]:
    """The likeliest losses of each packing given the lines of all, with intervals; in the order given.

    Notes
    -----
    Maximises ``sum log P(living) - sum of squares of the parts over their variances``, each part normal
    around nothing (partial pooling). The intervals are the normal approximation at the maximum (Laplace).
    """
    taught = [packing for packing in packings if packing.counts.total]
    if not taught:
        return tuple(Taught(packing.table, packing.table, packing.table) for packing in packings)
    model = _Model(taught)
    best = model.best()
    doubt = model.doubt(best)
    return tuple(model.taught_of(packing, best, doubt) for packing in packings)


class _Model:
    """The parts as one vector: for each of three values what is shared, of each kind, of each packing."""

    def __init__(self, taught: list[Packed]) -> None:
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

    def _own_variance(self, packing: Packed) -> Floats:
        """The variance of a packing's own part (3,); wide where the table's value is nothing at all."""
        is_nothing = np.array([packing.table.loss_handling <= 0, packing.table.loss_per_day <= 0, False])
        return np.asarray(np.where(is_nothing, ZERO_DOUBT, _PARTS[:, 2]) ** 2)

    def _parts_of(self, packing: Packed) -> list[int]:
        """Where the parts of a packing stand among those of one value."""
        places = [0]
        if packing.kind in self.kinds:
            places.append(1 + self.kinds.index(packing.kind))
        return places + [1 + len(self.kinds) + n for n, other in enumerate(self.taught) if other is packing]

    def logs(self, packing: Packed, x: Floats) -> Floats:
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

    def doubt(self, x: Floats) -> NDArray[np.float64]:
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

    def taught_of(self, packing: Packed, x: Floats, doubt: NDArray[np.float64]) -> Taught:
        """A packing's losses and their intervals, by its parts and by those that nobody taught."""
        logs, off = self.logs(packing, x), Z95 * np.sqrt(self._variance(packing, doubt))
        return Taught(*(Losses(*np.exp(ends).tolist()) for ends in (logs, logs - off, logs + off)))

    def _variance(self, packing: Packed, doubt: NDArray[np.float64]) -> Floats:
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
