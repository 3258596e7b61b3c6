"""What an offer is made of: eggs free, what can be promised of them, days, reasons, and lines that wait. Data
only.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from shipping.week.left_out.stock import Expected
from shipping.words.reasons import Reason, Verdict

#: Said with every offer: eggs are counted once, places are not.
ALTERNATIVES = (
    "Every place is offered the same eggs: what one buyer takes is gone for all, so the eggs of several rows"
    " of a population do not add up."
)


def _text(day: date | None) -> str | None:
    return day.isoformat() if day else None


@dataclass(frozen=True, slots=True)
class PromiseDay:
    """A day to post: free eggs of the lots that can go then, and the largest order of one line they keep the
    promise for.
    """

    on: date
    eggs_free: int
    can_promise: int

    def as_json(self) -> dict[str, object]:
        return {"on": self.on.isoformat(), "eggs_free": self.eggs_free, "can_promise": self.can_promise}


@dataclass(frozen=True, slots=True)
class Way:
    """From and until when a service will do; an order is in time the day before it is handed over, which is
    by ``cut_off``.
    """

    service: str
    from_: date
    until: date | None
    no_last_day: bool
    cut_off: str | None

    @property
    def order_by(self) -> date | None:
        return self.until - timedelta(days=1) if self.until else None

    def as_json(self) -> dict[str, object]:
        return {
            "service": self.service,
            "from": self.from_.isoformat(),
            "until": _text(self.until),
            "no_last_day": self.no_last_day,
            "order_by": _text(self.order_by),
            "cut_off": self.cut_off,
        }


@dataclass(frozen=True, slots=True)
class Offer:
    """What of a population can be promised to some countries of a place.

    ``can_promise`` is the largest order of one line, on ``best_on``, the first day it is largest; ``days``
    has it for each day to post. ``until`` None with ``no_last_day``: nothing ends it within the days asked
    about.
    """

    species: str
    scientific_name: str
    population: str
    to: str
    countries: tuple[str, ...]
    eggs_free: int
    can_promise: int
    best_on: date | None
    from_: date | None
    until: date | None
    no_last_day: bool
    order_by: date | None
    ways: tuple[Way, ...]
    days: tuple[PromiseDay, ...]
    expected: tuple[Expected, ...]
    verdict: Verdict
    reasons: tuple[Reason, ...]
    regions: tuple[str, ...]

    @property
    def is_offered(self) -> bool:
        """Can something be promised, now or later, once what a person must answer is answered?"""
        return bool(self.days) and self.verdict is not Verdict.STOP

    def as_json(self) -> dict[str, object]:
        return {
            "species": self.species,
            "population": self.population,
            "to": self.to,
            "countries": list(self.countries),
            "eggs_free": self.eggs_free,
            "can_promise": self.can_promise,
            "best_on": _text(self.best_on),
            "from": _text(self.from_),
            "until": _text(self.until),
            "no_last_day": self.no_last_day,
            "order_by": _text(self.order_by),
            "ways": [way.as_json() for way in self.ways],
            "days": [day.as_json() for day in self.days],
            "expected": [one.as_json() for one in self.expected],
            "verdict": self.verdict.value,
            "reasons": [reason.as_json() for reason in self.reasons],
            "regions": list(self.regions),
        }


@dataclass(frozen=True, slots=True)
class Taken:
    """Eggs of a population that orders in hand take: in kept parcels not yet packed, in parcels of the plan,
    by lines that wait, and by lines on hold.
    """

    species: str
    population: str
    kept: int
    planned: int
    waiting: int
    held: int

    @property
    def all(self) -> int:
        return self.kept + self.planned + self.waiting + self.held

    def as_json(self) -> dict[str, object]:
        return {
            "species": self.species,
            "population": self.population,
            "kept": self.kept,
            "planned": self.planned,
            "waiting": self.waiting,
            "held": self.held,
        }


@dataclass(frozen=True, slots=True)
class Waiting:
    """A line in hand that waits, and until when (None: nobody knows)."""

    order: str
    line: int
    species: str
    population: str
    eggs: int
    until: date | None
    reasons: tuple[Reason, ...]

    @property
    def reason(self) -> str:
        """The nearest reason, in words."""
        return self.reasons[0].text if self.reasons else ""

    def as_json(self) -> dict[str, object]:
        return {
            "order": self.order,
            "line": self.line,
            "species": self.species,
            "population": self.population,
            "eggs": self.eggs,
            "until": _text(self.until),
            "reason": self.reason,
            "reasons": [reason.as_json() for reason in self.reasons],
        }


@dataclass(frozen=True, slots=True)
class Offers:
    """Everything on offer on a day, what orders in hand take first, and the lines that wait.

    ``count_first``: lots on offer whose count is so old that what is left of it is a guess.
    """

    today: date
    week: str
    offers: tuple[Offer, ...]
    waiting: tuple[Waiting, ...]
    taken: tuple[Taken, ...]
    count_first: tuple[str, ...] = ()

    def as_json(self) -> dict[str, object]:
        return {
            "today": self.today.isoformat(),
            "week": self.week,
            "note": ALTERNATIVES,
            "offers": [one.as_json() for one in self.offers],
            "taken": [one.as_json() for one in self.taken],
            "waiting": [one.as_json() for one in self.waiting],
            "count_first": list(self.count_first),
        }
