"""The clock again, by plain numeric integration over a fine even grid of K: for tests, sharing no code with
it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from scipy.stats import norm

#: Points of K on each laying day.
POINTS = 60_000
#: The 95 % point as the model writes it.
Z95 = 1.6449


@dataclass
class ByHand:
    """Weights over (laying day, K) of a lot described by plain numbers; temperatures by day [C]."""

    early: float
    usual: float
    late: float
    incubation_c: float
    zero_c: float
    plateau_c: float
    eyed_at: float
    laid: list[date]
    warm: list[tuple[date, float]]
    spread: float = 0.10

    def __post_init__(self) -> None:
        most = self.gain(self.incubation_c)
        low, high = (
            self.early * (self.early / self.usual) ** 4 * most,
            self.late * (self.late / self.usual) ** 4 * most,
        )
        self.edges = edges = np.linspace(low, high, POINTS + 1)
        self.alive = [0.0] * len(self.laid)
        self.k = (edges[1:] + edges[:-1]) / 2
        mass = np.diff(self.share_under(edges / most))
        self.weights = np.tile(mass / len(self.laid), (len(self.laid), 1))

    def share_under(self, days: np.ndarray) -> np.ndarray:
        below = np.log(self.usual / self.early) / Z95
        above = np.log(self.late / self.usual) / Z95
        z = np.log(days / self.usual)
        return norm.cdf(np.where(z < 0, z / below, z / above))

    def gain(self, celsius: float) -> float:
        return max(0.0, min(celsius, self.plateau_c) - self.zero_c)

    def temperature(self, day: date) -> float:
        return [celsius for since, celsius in self.warm if since <= day][-1]

    def gathered(self, laid: date, until: date) -> float:
        """Day by day, from the laying day up to the day before."""
        return sum(self.gain(self.temperature(laid + timedelta(days=n))) for n in range((until - laid).days))

    def above(self, n: int, a: float) -> float:
        """Weight of laying day ``n`` with K > a: whole cells above, and the part of the cell in which ``a``
        lies.
        """
        floor = max(a, self.alive[n])
        cell = int(np.searchsorted(self.edges, floor, side="right")) - 1
        if cell < 0:
            return float(self.weights[n].sum())
        if cell >= POINTS:
            return 0.0
        part = (self.edges[cell + 1] - floor) / (self.edges[cell + 1] - self.edges[cell])
        return float(part * self.weights[n, cell] + self.weights[n, cell + 1 :].sum())

    def beyond(self, day: date, extra: float = 0.0) -> float:
        return sum(self.above(n, self.gathered(laid, day) + extra) for n, laid in enumerate(self.laid))

    def look(self, stage: str, day: date) -> None:
        for n, laid in enumerate(self.laid):
            a = self.gathered(laid, day)
            if stage != "laid":
                share = 0.85 if stage == "ready" else self.eyed_at
                shown = norm.cdf(np.log(a / (share * self.k)) / self.spread) if a > 0 else np.zeros(POINTS)
                self.weights[n] = self.weights[n] * ((1 - shown) if stage == "fertile" else shown)
            self.alive[n] = max(self.alive[n], a)

    @property
    def total(self) -> float:
        return sum(self.above(n, 0.0) for n in range(len(self.laid)))

    def due(self, day: date, degrees_a_day: float, days: int) -> float:
        """The share of eggs whole on ``day`` due within so many days on the way."""
        return 1 - self.beyond(day, degrees_a_day * days) / self.beyond(day)
