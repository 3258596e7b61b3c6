"""Why: every refusal, hold, wait, chosen packing and added egg carries a Reason that all pages read."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
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
    """A code's words in a column, what it means, the thing that is mended, in which facts lines are alike."""

    short: str
    traits: Trait
    mend: str
    alike: tuple[str, ...]


#: Every code, in the order of nearness: what is soonest removed comes first. Code | words in a column | what
#: it means (`Trait`) | the thing that is mended | facts in which lines share a cause | condition. An indented
#: line goes on with the row above.
_CODES = """
chosen | | | | | why this lot, packing, day and service
extra | | | | | why so many eggs
instead | | | | | what goes in place of what was ordered, as the buyer agreed
sooner | goes sooner | | week | week | may still go before the week planned
same-number | number used before | answered | order | |
    the order's number was kept for another day or buyer; say which it is
unpaid | not paid | asked buyer | order | | the order has no paid_on
papers | papers missing | asked buyer | order | to missing | named papers are missing from the order
no-region | no region named | asked buyer | region | to |
    rules differ inside the country, and the order names no region
look-first | look first | clock answered | lot | | packed only after a look
recount | count again | eggs | lot | lot | more eggs were counted than can be there; count again
came-back | look, came back | eggs clock | lot | lot | eggs came back to the lot, unseen since; look
misdated | dates disagree | eggs clock | lot | lot | the looks and the clock disagree; look
overdue | overdue, look | eggs clock | lot | lot | past its late day and still whole; look
past-wetting | past its wetting day | eggs clock | lot | lot | damp eggs not wetted in time; look
too-old | hatched by then | eggs clock | lot | lot | presumed hatched; look
stale-rule | rule too old | asked | rules | to | nobody has looked the rule up lately
no-rule | rule not looked up | asked | rules | to | nobody has looked the rule up
ask-rule | rule says ask | asked | rules | to | the rule says: ask
ask-post | post not asked | asked | service | service | the operator's answer is no, ask or missing
day-full | day full | | limits | | the limit of parcels a day
other-line | other line | | | | waits for another line of its order
not-before | wanted later | blocks | | not_before | the order's own earliest day
closed-day | no hand-over | blocks | | service on | no counter or no hand-over that day
too-young | too few eyes | blocks scarce clock | lot | lot | not enough eggs showing eyes by the day
short | too few eggs | blocks scarce | lot | lot lots | not enough eggs free for the promise
other-population | other population | buyer | order | ordered on_hand | only another population is on hand
no-lot | no eggs | | new lot | species | no lot of that species and population
no-air | too little air | blocks | packings | | the tube's oxygen, on a known rate
would-hatch | would hatch | blocks stops clock | what if | lot packing service | over a packing's ceiling
too-hot | too hot | blocks stops answered | boxes | place limit_c | the parcel's warmth, unbridged
too-cold | too cold | blocks stops answered | boxes | place limit_c | the parcel's cold, unbridged
too-thick | too thick | blocks | boxes | | no postage for the thickness
no-packing | no packing | blocks | new packing | media packing | no packing takes the lot's medium
no-route | no service | blocks | new service | to | no service, or no postage for the weight
not-after | too late | blocks buyer | order | not_after | the order's own latest day
closed | closed by a rule | asks blocks stops | | to taxon | a rule forbids it
"""


def _codes() -> Iterator[tuple[str, ReasonCode]]:
    for row in _CODES.strip().replace("|\n ", "|").splitlines():
        code, short, traits, mend, alike, _ = (cell.strip() for cell in row.split("|"))
        meant = reduce(or_, (Trait[word.upper()] for word in traits.split()), Trait.NONE)
        yield code, ReasonCode(short, meant, mend, tuple(alike.split()))


CODES: Mapping[str, ReasonCode] = MappingProxyType(dict(_codes()))


def with_trait(trait: Trait) -> frozenset[str]:
    """The codes that have a trait."""
    return frozenset(code for code, known in CODES.items() if trait in known.traits)


#: The codes by what they mean; see `Trait`.
ASKS, BLOCKS, SCARCE, STOPS = map(with_trait, (Trait.ASKS, Trait.BLOCKS, Trait.SCARCE, Trait.STOPS))
LOOKS, CLOCK, ANSWERED, BUYERS_MOVE = map(with_trait, (Trait.LOOK, Trait.CLOCK, Trait.ANSWERED, Trait.BUYER))
#: What neither the buyer's answer nor a few days change.
LASTING = BLOCKS - SCARCE - BUYERS_MOVE - {"not-before", "closed-day"}
#: That there are no eggs of what was ordered.
NO_SUCH_EGGS = frozenset({"no-lot", "other-population"})
#: Cold or heat on the way: what helps is the same for many lines.
OF_WARMTH = frozenset({"too-cold", "too-hot"})
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

    @property
    def asks_for_a_look(self) -> bool:
        """Does a look at the lot tell, now? Not of one that will hatch before a day still to come."""
        return self.code in LOOKS and "hatches_until" not in self.facts

    def as_json(self) -> dict[str, object]:
        return {"code": self.code, "text": self.text, "facts": dict(self.facts), "source": self.source}


#: The facts in which a reason has a figure, and its limit.
_FIGURES = (
    ("h_per_egg", "hatch_ceiling"),
    ("h_any", "any_ceiling"),
    ("inside_c", "limit_c"),
    ("free", "needed"),
    ("hours", "needed_h"),
)


def figure_and_limit(reason: Reason) -> tuple[str, float, float] | None:
    """The fact that decides, its figure and limit, in its unit; None: it has none, or no count is enough."""
    facts = reason.facts
    for name, limit in _FIGURES:
        if facts.get(name) is not None and facts.get(limit) is not None:
            return name, float(str(facts[name])), float(str(facts[limit]))
    return None


def over_limit(reason: Reason) -> float:
    """How far its figure is from its limit, to be held against others of the same code: a share by how many
    times, others by so much; 0 where the code has no figure, endless where nothing is enough.
    """
    found = figure_and_limit(reason)
    if found is None:
        return math.inf if reason.facts.get("near") or "needed" in reason.facts else 0.0
    name, figure, limit = found
    if name in ("h_per_egg", "h_any"):
        return math.inf if reason.facts.get("near") else figure / limit if limit else math.inf
    return abs(figure - limit)


@dataclass(frozen=True, slots=True)
class Note:
    """Something to mind at the packing bench: its code and the facts behind it, in words on each page."""

    code: str
    facts: Mapping[str, object] = field(default_factory=dict)

    def as_json(self) -> dict[str, object]:
        return {"code": self.code, "facts": dict(self.facts)}


def in_vain(reasons: Iterable[Reason]) -> list[Reason]:
    """Those that ask the buyer for what alone would not let the line go."""
    return [one for one in reasons if one.facts.get("in_vain")]


#: Fewer than this share of the eggs ordered are far fewer. Ours.
FAR_FEWER = 0.25


def decisive(verdict: Verdict, reasons: Sequence[Reason]) -> Reason:
    """The reason that decides: what a hold asks, what lasts where it stops, else the nearest; where the
    buyer's answer would be in vain, what makes it so.

    Of what lasts the law is first, then far fewer eggs than are ordered, which no packing mends; what a look
    or an answer may remove is last, but before what would hatch of eggs that most likely have.
    """
    has_hatched = any(one.code == "too-old" for one in reasons)
    lasting = sorted(
        (one for one in reasons if one.code in LASTING or _is_past_mending(one, reasons)),
        key=lambda one: (
            one.code != "closed",
            one.code in LASTING,
            has_hatched and one.code == "would-hatch",
            one.asks_for_a_look or one.facts.get("basis") == "assumed",
        ),
    )
    vain = in_vain(reasons)
    if verdict is Verdict.STOP or vain:
        return next(iter(lasting or (one for one in reasons if one not in vain)), reasons[0])
    held = (reason for reason in reasons if verdict is Verdict.HOLD and reason.code in ANSWERED)
    return next(held, reasons[0])


def _is_past_mending(reason: Reason, reasons: Sequence[Reason]) -> bool:
    """Are far fewer eggs free, of all lots short together, than ordered? A few more, a look may find."""
    if reason.code != "short" or "ordered" not in reason.facts:
        return False
    free = {
        one.facts.get("lot"): int(str(one.facts.get("free", 0))) for one in reasons if one.code == "short"
    }
    return sum(free.values()) < FAR_FEWER * int(str(reason.facts["ordered"]))


def nearest_first(reasons: list[Reason]) -> tuple[Reason, ...]:
    """The distinct reasons, the one nearest to being removed first."""
    distinct: dict[tuple[str, str], Reason] = {}
    for reason in reasons:
        distinct.setdefault((reason.code, reason.text), reason)
    return tuple(sorted(distinct.values(), key=lambda reason: (reason.nearness, reason.text)))
