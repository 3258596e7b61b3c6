"""What an entry can say: one frozen dataclass a kind, to and from the facts that are stored, and in words.

Fields named in `PERSONAL` are kept apart from the other facts, so that they can be erased while the entry
stays.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields, replace
from datetime import date
from functools import lru_cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from shipping.ledger.errors import LedgerError
from shipping.words.sentence import fitted, say

#: Fields that may name or describe a person.
PERSONAL = frozenset({"item", "note", "from_whom", "anyway", "addressee"})


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanKept:
    """A week's plan as it stood, whole; names of buyers are kept apart. Its parcels hold their eggs.

    ``placed`` is the day each order was placed: with the buyer's name it says which order a number meant.
    ``to_marks`` are the marks of the orders' addresses (`disagreements.address_mark`).
    """

    week: str
    plan: dict[str, Any]
    placed: dict[str, date] = field(default_factory=dict)
    to_marks: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineCount:
    """Eggs packed for one line from one lot."""

    order: str
    line: int
    lot: str
    eggs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChance:
    """The chance that at least the eggs ordered arrive alive, with the eggs that were packed.

    ``ordered`` are the eggs that the order asked for by then, 0 where those of the plan.
    """

    order: str
    line: int
    p_enough: float
    ordered: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """A parcel was packed; ``photo_sha256`` is the digest of a photo taken of it, where there is one.

    ``counted_on`` is, by lot, the day of the count that its eggs were taken from, ``counts_of_day`` how many
    counts of that day were known; ``chances`` are reckoned with the eggs packed. ``anyway`` is why it was
    packed against the clock, ``answered`` the codes that spoke against it. ``to_mark`` is the mark of the
    address it was packed for (`disagreements.address_mark`), "" where it is not known.
    """

    parcel: str
    on: date
    counts: tuple[LineCount, ...]
    photo_sha256: str | None = None
    counted_on: dict[str, date] = field(default_factory=dict)
    counts_of_day: dict[str, int] = field(default_factory=dict)
    chances: tuple[LineChance, ...] = ()
    anyway: str = ""
    answered: tuple[str, ...] = ()
    to_mark: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawOnTheWay:
    """The shares of one lot's eggs that hatch on the way, and that live on arrival."""

    order: str
    line: int
    lot: str
    h_per_egg: float
    v_per_egg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Journey:
    """A parcel's way reckoned for the day and service by which it really left, where the plan's are others.

    ``left_on`` is the day it is reckoned from; half arrive by ``p50``, 95 in 100 by ``p95``.
    """

    left_on: date
    p50: date
    p95: date
    low_c: float
    high_c: float
    chances: tuple[LineChance, ...] = ()
    draws: tuple[DrawOnTheWay, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """A parcel was handed over; ``item`` is the post's number; ``anyway`` and ``answered`` as of `Packed`.

    ``journey`` is None where it left as planned, or where its way could not be reckoned any more.
    """

    parcel: str
    on: date
    service: str
    item: str = ""
    anyway: str = ""
    answered: tuple[str, ...] = ()
    journey: Journey | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LineReport:
    """What was found of one line; None is not told, never zero.

    ``alive`` counts live eggs, ``hatched_alive`` live fry: no egg is in two counts.
    """

    order: str
    line: int
    alive: int | None = None
    hatched_alive: int | None = None
    dead: int | None = None
    missing: int | None = None

    @property
    def told(self) -> dict[str, int]:
        """The counts that were told."""
        counts = {name: getattr(self, name) for name in ("alive", "hatched_alive", "dead", "missing")}
        return {name: count for name, count in counts.items() if count is not None}

    @property
    def living(self) -> int | None:
        """Live eggs and live fry together, or None where the live eggs were not told."""
        return None if self.alive is None else self.alive + (self.hatched_alive or 0)

    def with_more(self, later: LineReport) -> LineReport:
        """This report with what a later one adds."""
        told: dict[str, Any] = dict(later.told)
        return replace(self, **told)


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """What a buyer reported of a parcel, or of some of its lines; ``on`` is the day it arrived.

    ``how`` is arrived, lost (given up on that day) or returned (back with us on that day). ``back`` are the
    live eggs of a returned one by line and lot: they count for their lots again. ``counted_on`` and
    ``counts_of_day`` say which count of each lot was known then, as of `Packed`. ``day_untold``: nobody told
    the day, and that of the report was taken.
    """

    parcel: str
    on: date
    lines: tuple[LineReport, ...]
    how: str = "arrived"
    note: str = ""
    back: tuple[LineCount, ...] = ()
    counted_on: dict[str, date] = field(default_factory=dict)
    counts_of_day: dict[str, int] = field(default_factory=dict)
    day_untold: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LetGo:
    """A kept parcel that was not packed no longer holds its eggs."""

    parcel: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bought:
    """Eggs bought in: how many were sent, how long they took, how many arrived alive; they become a lot.

    ``origin`` is the country they came from, "" where it was home or not told; ``keep_back`` of them are not
    for sale.
    """

    lot: str
    arrived_on: date
    sent: int
    alive: int
    species: str
    population: str = ""
    laid_from: date
    laid_to: date
    medium: str
    kept_at_c: float
    stage: str = ""
    keep_back: int = 0
    posted_on: date | None = None
    hatched_alive: int | None = None
    dead: int | None = None
    origin: str = ""
    service: str = ""
    packing: str = ""
    from_whom: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimOpened:
    """A buyer says a line came short, hatched, late or not at all."""

    parcel: str
    order: str
    line: int
    about: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimSettled:
    """How a claim ended: eggs sent again, money given back (text, home currency), or neither."""

    parcel: str
    order: str
    line: int
    how: str
    eggs: int = 0
    amount: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCorrected:
    """The breeder said that an order's changed day or buyer corrects the same order."""

    order: str
    placed_on: date
    addressee: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerAccepted:
    """The breeder said that the ledger as it stood was right, though ``entries`` entries were known."""

    entries: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """The entry of that number is taken back; it stays in the list."""

    entry: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Erased:
    """Personal data was erased from these entries' parts; the counts stay."""

    parts: tuple[tuple[int, str], ...]


Body = (
    PlanKept
    | Packed
    | Sent
    | Arrived
    | LetGo
    | Bought
    | ClaimOpened
    | ClaimSettled
    | OrderCorrected
    | LedgerAccepted
    | Undone
    | Erased
)
#: The word each kind is stored under.
KINDS: Mapping[str, type[Body]] = {
    "plan kept": PlanKept,
    "packed": Packed,
    "sent": Sent,
    "arrived": Arrived,
    "let go": LetGo,
    "bought": Bought,
    "claim opened": ClaimOpened,
    "claim settled": ClaimSettled,
    "order corrected": OrderCorrected,
    "ledger accepted": LedgerAccepted,
    "undone": Undone,
    "erased": Erased,
}
_WORDS: Mapping[type[Body], str] = {body: word for word, body in KINDS.items()}


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: its number, the day it was recorded, what it says, and whose it is by part (``buyers``)."""

    seq: int
    day: date
    body: Body
    buyers: Mapping[str, str] = field(default_factory=dict)

    @property
    def kind(self) -> str:
        return _WORDS[type(self.body)]

    @property
    def parcel(self) -> str:
        return parcel_of(self.body)


def undone_entries(entries: Iterable[Entry]) -> frozenset[int]:
    """The numbers of the entries that were taken back."""
    return frozenset(entry.body.entry for entry in entries if isinstance(entry.body, Undone))


def kind_of(body: Body) -> str:
    """The word an entry's kind is stored under."""
    return _WORDS[type(body)]


def parcel_of(body: Body) -> str:
    """The parcel an entry is about, or "" where it is about none or several."""
    return str(getattr(body, "parcel", ""))


@lru_cache(maxsize=32)
def _adapter(kind: str) -> TypeAdapter[Any]:
    return TypeAdapter(KINDS[kind])


@lru_cache(maxsize=32)
def _names_of(kind: str) -> frozenset[str]:
    return frozenset(part.name for part in fields(KINDS[kind]))


def to_facts(body: Body) -> tuple[dict[str, Any], dict[str, Any]]:
    """An entry as JSON values: what is nobody's, and what is personal (only where it is not blank)."""
    values: dict[str, Any] = _adapter(kind_of(body)).dump_python(body, mode="json")
    personal = {name: value for name, value in values.items() if name in PERSONAL and value}
    return {name: value for name, value in values.items() if name not in PERSONAL}, personal


def from_facts(kind: str, facts: Mapping[str, Any], personal: Mapping[str, Any]) -> Body:
    """The entry's body again. Raises LedgerError where the kind is unknown or the facts are not its own."""
    try:
        if unknown := (facts.keys() | personal.keys()) - _names_of(kind):
            raise KeyError(sorted(unknown)[0])
        body: Body = _adapter(kind).validate_python({**facts, **personal})
    except (KeyError, ValidationError) as error:
        raise LedgerError(
            say("an entry of kind '{kind}' cannot be read.", kind), "Update the program, or check the ledger."
        ) from error
    return body


_ONE_SPELLING = json.JSONEncoder(sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def canonical(value: object) -> str:
    """JSON with one spelling: sorted keys, no spaces, letters as they are."""
    return _ONE_SPELLING.encode(value)


def chain_digest(before: str, seq: int, day: str, kind: str, parcel: str, facts: str, personal: str) -> str:
    """The SHA-256 that ties an entry to all before it [64 hex digits]."""
    return hashlib.sha256(canonical([before, seq, day, kind, parcel, facts, personal]).encode()).hexdigest()


def person_digest(salt: str, buyer: str, facts: str) -> str:
    """The salted SHA-256 of personal data [64 hex digits]; once the salt is erased it tells nothing."""
    return hashlib.sha256(canonical([salt, buyer, facts]).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class EntryInWords:
    """One entry in words; ``undone`` entries were taken back and count for nothing."""

    entry: int
    day: date
    kind: str
    parcel: str
    text: str
    undone: bool

    def as_json(self) -> dict[str, object]:
        return asdict(self) | {"day": self.day.isoformat(), "parcel": self.parcel or None}


def _in_english(text: str, **values: object) -> str:
    return fitted(text, values).format_map(values)


def entries_in_words(
    entries: Iterable[Entry], say: Callable[..., str] = _in_english
) -> tuple[EntryInWords, ...]:
    """Each entry in words, in its order; ``say`` puts the fields into a sentence, in whichever language."""
    entries = tuple(entries)
    gone, known = undone_entries(entries), {entry.seq: entry for entry in entries}

    def words(entry: Entry) -> str:
        if not isinstance(entry.body, Undone):
            return _words(entry.body, say)
        back = known[entry.body.entry]
        what = f"{back.parcel} {_words(back.body, say)}".strip()
        return say("took back entry {entry}: {what}", entry=back.seq, what=what)

    return tuple(
        EntryInWords(entry.seq, entry.day, entry.kind, entry.parcel, words(entry), entry.seq in gone)
        for entry in entries
    )


def _words(body: Body, say: Callable[..., str]) -> str:
    if isinstance(body, PlanKept):
        count = len(body.plan.get("parcels", ()))
        parcels = say("1 parcel") if count == 1 else say("{count} parcels", count=count)
        return say("kept the plan of {week}: {parcels}", week=body.week, parcels=parcels)
    if isinstance(body, Packed):
        lines = ((f"{count.order}:{count.line}", count) for count in body.counts)
        counts = ", ".join(
            say("{line} {eggs} from {lot}", line=line, eggs=count.eggs, lot=count.lot)
            for line, count in lines
        )
        photo = " " + say("(with a photo)") if body.photo_sha256 else ""
        told = say("packed on {day}: {counts}", day=body.on, counts=counts)
        return told + photo + _anyway(body.answered, say)
    if isinstance(body, Sent):
        item = say(", item {item}", item=body.item) if body.item else ""
        told = say("sent on {day} by {service}", day=body.on, service=body.service)
        return told + item + _anyway(body.answered, say) + _expected(body.journey, say)
    if isinstance(body, Arrived):
        how = say("{how} on {day}", how=say(body.how), day=body.on)
        back = (say("{eggs} live eggs back into {lot}", eggs=one.eggs, lot=one.lot) for one in body.back)
        told = ", ".join(back) or (_found(body, say) if body.lines else "")
        return how + (f": {told}" if told else "")
    if isinstance(body, LetGo):
        return say("let go")
    return _other_words(body, say)


def _anyway(answered: Sequence[str], say: Callable[..., str]) -> str:
    return say("; anyway, against {codes}", codes=", ".join(answered)) if answered else ""


def _expected(journey: Journey | None, say: Callable[..., str]) -> str:
    if journey is None:
        return ""
    return say("; expected {usual}, by {late} at the latest", usual=journey.p50, late=journey.p95)


def _other_words(body: Body, say: Callable[..., str]) -> str:
    if isinstance(body, Bought):
        return say(
            "bought in lot {lot} on {day}: {alive} of {sent} alive",
            lot=body.lot,
            day=body.arrived_on,
            alive=body.alive,
            sent=body.sent,
        )
    if isinstance(body, ClaimOpened):
        return say("claim for {line}: {about}", line=f"{body.order}:{body.line}", about=say(body.about))
    if isinstance(body, ClaimSettled):
        count = say("1 egg") if body.eggs == 1 else say("{count} eggs", count=body.eggs)
        eggs = f", {count}" if body.eggs else ""
        amount = say(", {amount} back", amount=body.amount) if body.amount else ""
        how = say("claim for {line} settled: {how}", line=f"{body.order}:{body.line}", how=say(body.how))
        return how + eggs + amount
    if isinstance(body, OrderCorrected):
        order, day = body.order, body.placed_on
        return say("order {order} is the same order, placed on {day}, corrected", order=order, day=day)
    if isinstance(body, LedgerAccepted):
        known = _entries(body.entries, say)
        return say("this ledger was said to be right, though others knew {entries}", entries=known)
    if isinstance(body, Erased):
        count = _entries(len({seq for seq, _ in body.parts}), say)
        return say("erased a buyer's data in {entries}", entries=count)
    raise TypeError(f"{body!r} has no words")


def _found(body: Arrived, say: Callable[..., str]) -> str:
    reports = []
    for report in body.lines:
        counts = ", ".join(f"{count} {say(name.replace('_', ' '))}" for name, count in report.told.items())
        reports.append(f"{report.order}:{report.line} {counts}")
    return "; ".join(reports)


def _entries(count: int, say: Callable[..., str]) -> str:
    return say("1 entry") if count == 1 else say("{count} entries", count=count)
