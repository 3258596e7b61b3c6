"""Three days of something uncertain: the first by which 5, 50 and 95 % of it has come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Dates:
    """The first days by which 5, 50 and 95 % have arrived, hatched or are ready; None: never, as kept."""

    p05: date | None
    p50: date | None
    p95: date | None

    def as_json(self) -> dict[str, str | None]:
        days = {"p05": self.p05, "p50": self.p50, "p95": self.p95}
        return {name: day.isoformat() if day else None for name, day in days.items()}
