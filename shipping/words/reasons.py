"""Why: every refusal, hold, wait, chosen packing and added egg carries a Reason that all pages read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Flag, StrEnum, auto
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
    """What is known of a code: its one condition, the few words of a column, what it means, the thing that is
    mended, and the facts in which lines share one cause and one mend.
    """

    condition: str
    short: str = ""
    traits: Trait = Trait.NONE
    mend: str = ""
    alike: tuple[str, ...] = ()


#: Every code. The order is the order of nearness: what is soonest removed comes first.
CODES: Mapping[str, ReasonCode] = MappingProxyType(
    {
        "chosen": ReasonCode("why this lot, packing, day and service"),
        "extra": ReasonCode("why so many eggs"),
        "instead": ReasonCode("what goes in place of what was ordered, as the buyer agreed"),
        "same-number": ReasonCode(
            "the order's number was kept for another day or buyer; say which it is",
            "number used before",
            Trait.ANSWERED,
            mend="order",
        ),
        "unpaid": ReasonCode("the order has no paid_on", "not paid", Trait.ASKED | Trait.BUYER, mend="order"),
        "papers": ReasonCode(
            "named papers are missing from the order",
            "papers missing",
            Trait.ASKED | Trait.BUYER,
            mend="order",
            alike=("to", "missing"),
        ),
        "no-region": ReasonCode(
            "rules differ inside the country, and the order names no region",
            "no region named",
            Trait.ASKED | Trait.BUYER,
            mend="region",
            alike=("to",),
        ),
        "look-first": ReasonCode(
            "packed only after a look", "look first", Trait.CLOCK | Trait.ANSWERED, mend="lot"
        ),
        "recount": ReasonCode(
            "more eggs were counted than can be there; count again",
            "count again",
            Trait.EGGS,
            mend="lot",
            alike=("lot",),
        ),
        "misdated": ReasonCode(
            "the looks and the clock disagree; look",
            "dates disagree",
            Trait.EGGS | Trait.CLOCK,
            mend="lot",
            alike=("lot",),
        ),
        "overdue": ReasonCode(
            "past its late day and still whole; look",
            "overdue, look",
            Trait.EGGS | Trait.CLOCK,
            mend="lot",
            alike=("lot",),
        ),
        "past-wetting": ReasonCode(
            "damp eggs not wetted in time; look",
            "past its wetting day",
            Trait.EGGS | Trait.CLOCK,
            mend="lot",
            alike=("lot",),
        ),
        "too-old": ReasonCode(
            "presumed hatched; look", "hatched by then", Trait.EGGS | Trait.CLOCK, mend="lot", alike=("lot",)
        ),
        "stale-rule": ReasonCode(
            "nobody has looked the rule up lately", "rule too old", Trait.ASKED, mend="rules", alike=("to",)
        ),
        "no-rule": ReasonCode(
            "nobody has looked the rule up", "rule not looked up", Trait.ASKED, mend="rules", alike=("to",)
        ),
        "ask-rule": ReasonCode(
            "the rule says: ask", "rule says ask", Trait.ASKED, mend="rules", alike=("to",)
        ),
        "ask-post": ReasonCode(
            "the operator's answer is no, ask or missing",
            "post not asked",
            Trait.ASKED,
            mend="service",
            alike=("service",),
        ),
        "day-full": ReasonCode("the limit of parcels a day", "day full", Trait.NONE, mend="limits"),
        "other-line": ReasonCode("waits for another line of its order", "other line", Trait.NONE),
        "not-before": ReasonCode(
            "the order's own earliest day", "wanted later", Trait.BLOCKS, alike=("not_before",)
        ),
        "closed-day": ReasonCode(
            "no counter or no hand-over that day",
            "no hand-over",
            Trait.BLOCKS,
            alike=("service", "on"),
        ),
        "too-young": ReasonCode(
            "not enough eggs showing eyes by the day",
            "too few eyes",
            Trait.BLOCKS | Trait.SCARCE | Trait.CLOCK,
            mend="lot",
            alike=("lot",),
        ),
        "short": ReasonCode(
            "not enough eggs free for the promise",
            "too few eggs",
            Trait.BLOCKS | Trait.SCARCE,
            mend="lot",
            alike=("lot", "lots"),
        ),
        "other-population": ReasonCode(
            "only another population is on hand",
            "other population",
            Trait.BUYER,
            mend="order",
            alike=("ordered", "on_hand"),
        ),
        "no-lot": ReasonCode(
            "no lot of that species and population", "no eggs", Trait.NONE, mend="new lot", alike=("species",)
        ),
        "no-air": ReasonCode(
            "the tube's oxygen, on a known rate", "too little air", Trait.BLOCKS, mend="packings"
        ),
        "would-hatch": ReasonCode(
            "over a packing's ceiling",
            "would hatch",
            Trait.BLOCKS | Trait.STOPS | Trait.CLOCK,
            mend="what if",
            alike=("lot", "packing", "service"),
        ),
        "too-hot": ReasonCode(
            "the parcel's warmth, unbridged",
            "too hot",
            Trait.BLOCKS | Trait.STOPS | Trait.ANSWERED,
            mend="boxes",
            alike=("place", "limit_c"),
        ),
        "too-cold": ReasonCode(
            "the parcel's cold, unbridged",
            "too cold",
            Trait.BLOCKS | Trait.STOPS | Trait.ANSWERED,
            mend="boxes",
            alike=("place", "limit_c"),
        ),
        "too-thick": ReasonCode("no postage for the thickness", "too thick", Trait.BLOCKS, mend="boxes"),
        "no-packing": ReasonCode(
            "no packing takes the lot's medium",
            "no packing",
            Trait.BLOCKS,
            mend="new packing",
            alike=("media", "packing"),
        ),
        "no-route": ReasonCode(
            "no service, or no postage for the weight",
            "no service",
            Trait.BLOCKS,
            mend="new service",
            alike=("to",),
        ),
        "not-after": ReasonCode(
            "the order's own latest day",
            "too late",
            Trait.BLOCKS | Trait.BUYER,
            mend="order",
            alike=("not_after",),
        ),
        "closed": ReasonCode(
            "a rule forbids it",
            "closed by a rule",
            Trait.ASKS | Trait.BLOCKS | Trait.STOPS,
            alike=("to", "taxon"),
        ),
    }
)


def with_trait(trait: Trait) -> frozenset[str]:
    """The codes that have a trait."""
    return frozenset(code for code, known in CODES.items() if trait in known.traits)


#: The codes by what they mean; see `Trait`.
ASKS, BLOCKS, SCARCE, STOPS = map(with_trait, (Trait.ASKS, Trait.BLOCKS, Trait.SCARCE, Trait.STOPS))
LOOKS, CLOCK, ANSWERED, BUYERS_MOVE = map(with_trait, (Trait.LOOK, Trait.CLOCK, Trait.ANSWERED, Trait.BUYER))

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
