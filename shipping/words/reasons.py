"""Why: every refusal, hold, wait, chosen packing and added egg carries a Reason, and all pages read the same
ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType


class Verdict(StrEnum):
    """Where a line stands."""

    GO = "go"
    WAIT = "wait"
    HOLD = "hold"
    STOP = "stop"


#: Every code, with its one condition. The order is the order of nearness: what is soonest removed comes
#: first.
CODES: Mapping[str, str] = MappingProxyType(
    {
        "chosen": "why this lot, packing, day and service",
        "extra": "why so many eggs",
        "instead": "what goes in place of what was ordered, as the buyer agreed",
        "same-number": "the order's number was kept for another day or buyer; say which it is",
        "unpaid": "the order has no paid_on",
        "papers": "named papers are missing from the order",
        "no-region": "rules differ inside the country, and the order names no region",
        "look-first": "packed only after a look",
        "recount": "more eggs were counted than can be there; count again",
        "misdated": "the looks and the clock disagree; look",
        "overdue": "past its late day and still whole; look",
        "past-wetting": "damp eggs not wetted in time; look",
        "too-old": "presumed hatched; look",
        "stale-rule": "nobody has looked the rule up lately",
        "no-rule": "nobody has looked the rule up",
        "ask-rule": "the rule says: ask",
        "ask-post": "the operator's answer is no, ask or missing",
        "day-full": "the limit of parcels a day",
        "other-line": "waits for another line of its order",
        "not-before": "the order's own earliest day",
        "closed-day": "no counter or no hand-over that day",
        "too-young": "not enough eggs showing eyes by the day",
        "short": "not enough eggs free for the promise",
        "other-population": "only another population is on hand",
        "no-lot": "no lot of that species and population",
        "no-air": "the tube's oxygen, on a known rate",
        "would-hatch": "over a packing's ceiling",
        "too-hot": "the parcel's warmth, unbridged",
        "too-cold": "the parcel's cold, unbridged",
        "too-thick": "no postage for the thickness",
        "no-packing": "no packing takes the lot's medium",
        "no-route": "no service, or no postage for the weight",
        "not-after": "the order's own latest day",
        "closed": "a rule forbids it",
    }
)

#: Codes that only the buyer can do something about; of all others it is the breeder's move, or nobody's.
BUYERS_MOVE = frozenset({"unpaid", "papers", "no-region", "not-after", "other-population"})

#: Codes that hold a line until a person has answered; a day of the order's own or a full day holds nothing.
ANSWERED = frozenset(
    {
        *("same-number", "unpaid", "papers", "no-region", "look-first", "recount", "misdated", "overdue"),
        *("past-wetting", "too-old", "stale-rule", "no-rule", "ask-rule", "ask-post", "too-hot", "too-cold"),
    }
)

NEARNESS: Mapping[str, int] = MappingProxyType({code: rank for rank, code in enumerate(CODES)})


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason: a code of `CODES`, the sentence a person reads, the facts behind it, and where they come
    from.

    ``facts`` holds only JSON values (text, numbers, booleans, None, lists of them). ``source`` names a table
    (``rules.csv (DE, *)``), a model (``hatching``) or a publication.
    """

    code: str
    text: str
    facts: Mapping[str, object] = field(default_factory=dict)
    source: str = ""

    def __post_init__(self) -> None:
        if self.code not in CODES:
            raise ValueError(f"{self.code!r} is not one of the reason codes")

    @property
    def nearness(self) -> int:
        """Lower is nearer to being removed."""
        return NEARNESS[self.code]

    def as_json(self) -> dict[str, object]:
        return {"code": self.code, "text": self.text, "facts": dict(self.facts), "source": self.source}


@dataclass(frozen=True, slots=True)
class Note:
    """Something to mind at the packing bench: its code and the facts behind it, in words on each page."""

    code: str
    facts: Mapping[str, object] = field(default_factory=dict)

    def as_json(self) -> dict[str, object]:
        return {"code": self.code, "facts": dict(self.facts)}


def decisive(verdict: Verdict, reasons: Sequence[Reason]) -> Reason:
    """The reason that decides where a line stands: what forbids it where it stops by law, what a person must
    answer where it is held, else the nearest one.
    """
    deciding = {Verdict.STOP: frozenset({"closed"}), Verdict.HOLD: ANSWERED}.get(verdict, frozenset())
    return next((reason for reason in reasons if reason.code in deciding), reasons[0])


def nearest_first(reasons: list[Reason]) -> tuple[Reason, ...]:
    """The distinct reasons, the one nearest to being removed first."""
    distinct: dict[tuple[str, str], Reason] = {}
    for reason in reasons:
        distinct.setdefault((reason.code, reason.text), reason)
    return tuple(sorted(distinct.values(), key=lambda reason: (reason.nearness, reason.text)))
