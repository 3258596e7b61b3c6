"""How sure a fitted value is: a cost and where it is least in, intervals that hold with 90 % out."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipping.words.three_point import Z95, ThreePoint

Floats = NDArray[np.float64]
#: No log or logit that was fitted is known worse than so (standard deviation; assumed).
WIDEST = 1.0


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value as learned, the interval that holds it with 90 %, and on how many (lots, looks) it rests."""

    value: float
    low: float
    high: float
    n: int = 0

    @classmethod
    def of_table(cls, value: float) -> Estimate:
        """The table's own, where nothing was learned."""
        return cls(value, value, value)

    def times(self, value: float) -> Estimate:
        """A value by this factor."""
        return Estimate(value * self.value, value * self.low, value * self.high, self.n)


@dataclass(frozen=True, slots=True)
class FittedPoints:
    """Early, usual and late day as fitted, the ends of each one's interval, and the least cost."""

    points: ThreePoint
    low: tuple[float, float, float]
    high: tuple[float, float, float]
    cost: float = 0.0

    @classmethod
    def of(cls, x: Floats, covariance: Floats, cost: float) -> FittedPoints:
        """From logs of usual day and two sides (3,) and covariance (3, 3); ends by the delta method."""
        below, above = math.exp(x[1]), math.exp(x[2])
        logs = (x[0] - Z95 * below, x[0], x[0] + Z95 * above)
        slopes = ((1.0, -Z95 * below, 0.0), (1.0, 0.0, 0.0), (1.0, 0.0, Z95 * above))
        offs = [Z95 * math.sqrt(float(np.array(slope) @ covariance @ np.array(slope))) for slope in slopes]
        early, usual, late = (
            (math.exp(log - off), math.exp(log), math.exp(log + off))
            for log, off in zip(logs, offs, strict=True)
        )
        points = ThreePoint(early[1], usual[1], late[1])
        return cls(points, (early[0], usual[0], late[0]), (early[2], usual[2], late[2]), cost)

    @classmethod
    def of_table(cls, points: ThreePoint) -> FittedPoints:
        """The table's own, where nothing was fitted."""
        days = (points.early, points.usual, points.late)
        return cls(points, days, days)


def covariance(cost: Callable[[Floats], float], best: Floats, step: float) -> Floats:
    """The covariance of fitted values (n, n): the normal approximation where the cost is least (Laplace).

    Notes
    -----
    The inverse of the second differences of the cost, ``step`` apart; no axis wider than `WIDEST`.
    """
    size = best.size
    moves = step * np.eye(size)
    bends = np.empty((size, size))
    for i in range(size):
        for j in range(i, size):
            together, apart = moves[i] + moves[j], moves[i] - moves[j]
            rise = cost(best + together) + cost(best - together) - cost(best + apart) - cost(best - apart)
            bends[i, j] = bends[j, i] = rise / (4.0 * step * step)
    values, axes = np.linalg.eigh(bends)
    return np.asarray((axes / np.maximum(values, 1.0 / WIDEST**2)) @ axes.T)


def half_width(cost: Callable[[float], float], best: float, step: float) -> float:
    """How far the ends of one fitted value's interval lie from it."""
    known = covariance(lambda x: cost(float(x[0])), np.array([best]), step)
    return Z95 * math.sqrt(float(known[0, 0]))


def fitted_share(
    cost: Callable[[float], float], middle: float, reach: float, exact: float
) -> tuple[float, float, float]:
    """The likeliest share and its interval, by a cost of its `logit`, within ``reach`` of ``middle``."""
    from scipy.optimize import minimize_scalar

    bounds = (middle - reach, middle + reach)
    best = float(minimize_scalar(cost, bounds=bounds, method="bounded", options={"xatol": exact}).x)
    off = half_width(cost, best, 0.05)
    return share_of(best), share_of(best - off), share_of(best + off)


def logit(share: float) -> float:
    return math.log(share / (1.0 - share))


def share_of(logit: float) -> float:
    """The share whose logit that is."""
    return 1.0 / (1.0 + math.exp(-logit))
