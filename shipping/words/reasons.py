"""Why: every refusal, hold, wait, chosen packing and added egg carries a Reason that all pages read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Flag, StrEnum, auto
from functools import reduce
from operator import or_
from types import MappingProxyType
from typing import NamedTuple


class Verdict(StrEnum):
    """Where a line stands."""

    GO = "go"
    WAIT = "wait"
    HOLD = "hold"
    STOP = "stop"


class Trait(Flag):
    """What a code means for an option, a line or a parcel."""

    NONE = 0
    #: A person's answer is lacking; the eggs, the journey and the packing are as they are.
    ASKS = auto()
    #: The lot, the journey, the packing or the order's own days are in an option's way.
    BLOCKS = auto()
    #: Other lots together may mend it.
    SCARCE = auto()
    #: A ride with it is stopped whatever the count.
    STOPS = auto()
    #: A look at the lot tells.
    LOOK = auto()
    #: The clock says it against packing; a breeder who has looked may pack anyway.
    CLOCK = auto()
    #: It holds a line until a person has answered.
    ANSWERED = auto()
    #: Only the buyer can do something about it; else it is the breeder's move, or nobody's.
    BUYER = auto()

    ASKED = ASKS | ANSWERED
    EGGS = LOOK | BLOCKS | STOPS | ANSWERED


class ReasonCode(NamedTuple):
    """A code's condition, words of a column, meaning, what is mended, and in which facts lines are alike."""

    condition: str
    short: str = ""
    traits: Trait = Trait.NONE
    mend: str = ""
    alike: tuple[str, ...] = ()


def _code(condition: str, short: str = "", traits: str = "", mend: str = "", alike: str = "") -> ReasonCode:
    """A row of `CODES`; ``traits`` and ``alike`` are words with spaces between."""
    meant = (Trait[word.upper()] for word in traits.split())
    return ReasonCode(condition, short, reduce(or_, meant, Trait.NONE), mend, tuple(alike.split()))


#: Every code. The order is the order of nearness: what is soonest removed comes first.
CODES: Mapping[str, ReasonCode] = MappingProxyType(
    {
        "chosen": _code("why this lot, packing, day and service"),
        "extra": _code("why so many eggs"),
        "instead": _code("what goes in place of what was ordered, as the buyer agreed"),
        "same-number": _code(
            "the order's number was kept for another day or buyer; say which it is",
            "number used before",
            "answered",
            "order",
        ),
        "unpaid": _code("the order has no paid_on", "not paid", "asked buyer", "order"),
        "papers": _code(
            "named papers are missing from the order", "papers missing", "asked buyer", "order", "to missing"
        ),
        "no-region": _code(
            "rules differ inside the country, and the order names no region",
            "no region named",
            "asked buyer",
            "region",
            "to",
        ),
        "look-first": _code("packed only after a look", "look first", "clock answered", "lot"),
        "recount": _code(
            "more eggs were counted than can be there; count again", "count again", "eggs", "lot", "lot"
        ),
        "misdated": _code(
            "the looks and the clock disagree; look", "dates disagree", "eggs clock", "lot", "lot"
        ),
        "overdue": _code(
            "past its late day and still whole; look", "overdue, look", "eggs clock", "lot", "lot"
        ),
        "past-wetting": _code(
            "damp eggs not wetted in time; look", "past its wetting day", "eggs clock", "lot", "lot"
        ),
        "too-old": _code("presumed hatched; look", "hatched by then", "eggs clock", "lot", "lot"),
        "stale-rule": _code("nobody has looked the rule up lately", "rule too old", "asked", "rules", "to"),
        "no-rule": _code("nobody has looked the rule up", "rule not looked up", "asked", "rules", "to"),
        "ask-rule": _code("the rule says: ask", "rule says ask", "asked", "rules", "to"),
        "ask-post": _code(
            "the operator's answer is no, ask or missing", "post not asked", "asked", "service", "service"
        ),
        "day-full": _code("the limit of parcels a day", "day full", "", "limits"),
        "other-line": _code("waits for another line of its order", "other line"),
        "not-before": _code("the order's own earliest day", "wanted later", "blocks", "", "not_before"),
        "closed-day": _code(
            "no counter or no hand-over that day", "no hand-over", "blocks", "", "service on"
        ),
        "too-young": _code(
            "not enough eggs showing eyes by the day", "too few eyes", "blocks scarce clock", "lot", "lot"
        ),
        "short": _code(
            "not enough eggs free for the promise", "too few eggs", "blocks scarce", "lot", "lot lots"
        ),
        "other-population": _code(
            "only another population is on hand", "other population", "buyer", "order", "ordered on_hand"
        ),
        "no-lot": _code("no lot of that species and population", "no eggs", "", "new lot", "species"),
        "no-air": _code("the tube's oxygen, on a known rate", "too little air", "blocks", "packings"),
        "would-hatch": _code(
            "over a packing's ceiling", "would hatch", "blocks stops clock", "what if", "lot packing service"
        ),
        "too-hot": _code(
            "the parcel's warmth, unbridged", "too hot", "blocks stops answered", "boxes", "place limit_c"
        ),
        "too-cold": _code(
            "the parcel's cold, unbridged", "too cold", "blocks stops answered", "boxes", "place limit_c"
        ),
        "too-thick": _code("no postage for the thickness", "too thick", "blocks", "boxes"),
        "no-packing": _code(
            "no packing takes the lot's medium", "no packing", "blocks", "new packing", "media packing"
        ),
        "no-route": _code(
            "no service, or no postage for the weight", "no service", "blocks", "new service", "to"
        ),
        "not-after": _code("the order's own latest day", "too late", "blocks buyer", "order", "not_after"),
        "closed": _code("a rule forbids it", "closed by a rule", "asks blocks stops", "", "to taxon"),
    }
)


def with_trait(trait: Trait) -> frozenset[str]:
    """The codes that have a trait."""
    return frozenset(code for code, known in CODES.items() if trait in known.traits)


#: The codes by what they mean; see `Trait`.
ASKS, BLOCKS, SCARCE, STOPS = map(with_trait, (Trait.ASKS, Trait.BLOCKS, Trait.SCARCE, Trait.STOPS))
LOOKS, CLOCK, ANSWERED, BUYERS_MOVE = map(with_trait, (Trait.LOOK, Trait.CLOCK, Trait.ANSWERED, Trait.BUYER))

#: What neither the buyer's answer nor a few days change.
LASTING = BLOCKS - SCARCE - BUYERS_MOVE - {"not-before", "closed-day"}

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

    def __str__(self) -> str:
        return self.text

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
    """The reason that decides: what forbids it where law stops it, what a hold asks, else the nearest; where
    the buyer's answer would be in vain, what makes it so.
    """
    if any(reason.facts.get("in_vain") for reason in reasons):
        return next(reason for reason in reasons if reason.code in LASTING)
    deciding = {Verdict.STOP: frozenset({"closed"}), Verdict.HOLD: ANSWERED}.get(verdict, frozenset())
    return next((reason for reason in reasons if reason.code in deciding), reasons[0])


def nearest_first(reasons: list[Reason]) -> tuple[Reason, ...]:
    """The distinct reasons, the one nearest to being removed first."""
    distinct: dict[tuple[str, str], Reason] = {}
    for reason in reasons:
        distinct.setdefault((reason.code, reason.text), reason)
    return tuple(sorted(distinct.values(), key=lambda reason: (reason.nearness, reason.text)))
