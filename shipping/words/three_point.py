"""The one distribution: early, usual, late. Everything uncertain that a breeder can name is one of these."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

#: The standard normal's 95 % point, as the model writes it.
Z95 = 1.6449
#: The tail of a count of whole days is cut where less than this is left.
TAIL = 1e-9
#: And where it is longer than this, some four years of working days: days of 2 to 40 would reach 400 years.
MOST_DAYS = 1000


def normal_cdf(z: float) -> float:
    """Phi(z)."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def normal_cdfs(z: Floats) -> Floats:
    """Phi of each value, the same to the last bit."""
    import numpy as np

    return np.asarray(0.5 * np.array([math.erfc(value) for value in (-z / math.sqrt(2.0)).tolist()]))


@dataclass(frozen=True, slots=True)
class ThreePoint:
    """A split log-normal through its 5 %, 50 % and 95 % points.

    ``early <= usual <= late``, all in one unit, all positive; or all three zero, the point mass at zero.
    A side of width zero is a step. Use `three_point` to build one where ``usual`` may be missing.
    """

    early: float
    usual: float
    late: float

    def __post_init__(self) -> None:
        if self.early == self.usual == self.late == 0:
            return
        if not (0 < self.early <= self.usual <= self.late < math.inf):
            raise ValueError("early, usual and late must be above zero and in that order, or all three zero")

    @property
    def spread_below(self) -> float:
        """s below the usual value (log scale); 0 is a step."""
        return math.log(self.usual / self.early) / Z95 if self.early else 0.0

    @property
    def spread_above(self) -> float:
        """s above the usual value (log scale); 0 is a step."""
        return math.log(self.late / self.usual) / Z95 if self.early else 0.0

    def cdf(self, x: float) -> float:
        """The chance of a value at or below ``x``."""
        if x < self.usual:
            spread, at_side = self.spread_below, 0.0
        else:
            spread, at_side = self.spread_above, 1.0
        if x <= 0:
            return at_side if self.usual == 0 else 0.0
        if spread == 0 or self.usual == 0:
            return at_side
        return normal_cdf(math.log(x / self.usual) / spread)

    def days(self) -> Floats:
        """Chances of 0, 1, 2 .. whole days: array (n,), summing to one. See `whole_days`."""
        return whole_days(self)


def three_point(early: float, usual: float | None, late: float) -> ThreePoint:
    """A `ThreePoint`; a missing ``usual`` is the geometric mean of the other two."""
    return ThreePoint(early, math.sqrt(early * late) if usual is None else usual, late)


@lru_cache(maxsize=4096)
def whole_days(points: ThreePoint) -> Floats:
    """P(N = n) = F(n + 1/2) - F(n - 1/2) for n = 0, 1, ..; all below 1.5 counted as 1; the tail cut and
    renormalised.

    Three zeros are the point mass at 0: collected in person. The array is shared and not writable.
    """
    import numpy as np

    if points.usual == 0:
        chances = [1.0]
    else:
        chances = [0.0, points.cdf(1.5)]
        while 1.0 - points.cdf(len(chances) - 0.5) >= TAIL and len(chances) <= MOST_DAYS:
            n = len(chances)
            chances.append(points.cdf(n + 0.5) - points.cdf(n - 0.5))
    days = np.array(chances)
    days /= days.sum()
    days.setflags(write=False)
    return days


@dataclass(frozen=True, slots=True)
class Dates:
    """The first days by which 5, 50 and 95 % have arrived, hatched or are ready; None: never, as kept."""

    p05: date | None
    p50: date | None
    p95: date | None

    def as_json(self) -> dict[str, str | None]:
        days = {"p05": self.p05, "p50": self.p50, "p95": self.p95}
        return {name: day.isoformat() if day else None for name, day in days.items()}
