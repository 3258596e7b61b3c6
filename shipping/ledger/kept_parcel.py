"""A parcel of a kept plan: the plan's JSON in, a frozen parcel out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

from pydantic import BeforeValidator, PlainSerializer, TypeAdapter, ValidationError

from shipping.ledger.entries import ClaimOpened, ClaimSettled, Journey, LineCount, LineReport
from shipping.ledger.errors import LedgerError
from shipping.words.keys import LineKey
from shipping.words.sentence import say

if TYPE_CHECKING:
    from shipping.tables.rows.orders import Line, OrderRow
    from shipping.tables.shelf import Shelf

#: The states of a parcel that is still in the house.
WAITING = ("planned", "packed")
#: What is kept of a parcel of a plan's JSON, by the same names there.
_OF_PLAN, _WARMTH = ("parcel", "to", "service", "dispatch_on", "lines"), ("low_c", "high_c")
Value = TypeVar("Value")


def _of_pairs(values: Any) -> Any:
    return values if isinstance(values, Mapping) else {tuple(key): value for key, value in values}


#: Values by line; pairs in JSON.
ByLine = Annotated[
    Mapping[LineKey, Value], BeforeValidator(_of_pairs), PlainSerializer(lambda by_line: [*by_line.items()])
]

#: How a parcel may end without its buyer having anything, which is a case by itself.
NOT_COME = frozenset({"lost", "returned"})


@dataclass(frozen=True, slots=True)
class PlannedDraw:
    """Eggs the plan takes from one lot, and what it forecast for them."""

    lot: str
    packing: str
    pack: int
    h_per_egg: float
    v_per_egg: float
    stage: str
    look_first: bool


@dataclass(frozen=True, slots=True)
class KeptLine:
    """One line as the plan forecast it."""

    order: str
    line: int
    species: str
    population: str
    ordered: int
    pack: int
    p_enough: float
    draws: tuple[PlannedDraw, ...]

    @property
    def key(self) -> LineKey:
        return (self.order, self.line)

    def is_for(self, wish: Line | OrderRow) -> bool:
        """Is it the fish that a line of the tables asks for, or one that it takes instead?"""
        from shipping.tables.rows.orders import is_met, wish_of  # whoever has a wish has loaded it

        wishes = ((wish.species, wish.population), *map(wish_of, wish.instead))
        return any(is_met(one, self.species, self.population) for one in wishes)


@dataclass(frozen=True, slots=True)
class KeptParcel:
    """A parcel of a kept plan and all that happened to it.

    ``reckoned_on`` is the day its way was reckoned anew from, None while the plan's own holds: then ``p50``,
    ``p95``, its warmth, ``chances`` and the shares of its draws are of that way.

    ``back`` are its live eggs that came back on ``back_on``, by line and lot. ``day_untold``: nobody told the
    day it came.

    ``state`` is planned, packed, sent, arrived, lost or returned. ``chances`` of enough were reckoned with
    the eggs packed; ``to_mark`` marks the address it was kept for, and once packed that of the packing;
    ``kept_on`` is the day its plan was kept; ``settled_on`` what was told of a line when its claim was last
    settled, no egg alive where it had not come. ``plan_entry``, ``packed_entry``, ``sent_entry`` and
    ``claim_entries`` are the numbers of the entries that say so (0: none does
    yet).
    """

    parcel: str
    week: str
    to: str
    service: str
    dispatch_on: date
    p50: date | None
    p95: date | None
    low_c: float | None
    high_c: float | None
    lines: tuple[KeptLine, ...]
    plan_entry: int
    kept_on: date = date.min
    buyer: str = ""
    state: str = "planned"
    counts: tuple[LineCount, ...] = ()
    chances: ByLine[float] = field(default_factory=dict)
    packed_on: date | None = None
    packed_entry: int = 0
    photo_sha256: str | None = None
    to_mark: str = ""
    sent_on: date | None = None
    sent_entry: int = 0
    reckoned_on: date | None = None
    item: str = ""
    reports: ByLine[LineReport] = field(default_factory=dict)
    reported: ByLine[tuple[date, date]] = field(default_factory=dict)
    back: tuple[LineCount, ...] = ()
    back_on: date | None = None
    claims: tuple[ClaimOpened | ClaimSettled, ...] = ()
    claim_entries: tuple[int, ...] = ()
    settled_on: ByLine[LineReport] = field(default_factory=dict)
    day_untold: bool = False

    def place(self, shelf: Shelf) -> tuple[str, str]:
        """The country it goes to, and the part of it that its orders tell now."""
        return shelf.place_of(self.to, (line.order for line in self.lines))

    @property
    def is_handed_over(self) -> bool:
        """Has it left the house? Until then it waits, planned or packed."""
        return self.state not in WAITING

    @property
    def left_on(self) -> date:
        """The day it was handed over; until then the one planned."""
        return self.sent_on or self.dispatch_on

    @property
    def arrived_on(self) -> date | None:
        """The day it came, as was reported; None where nobody told."""
        return min((came_on for came_on, _ in self.reported.values()), default=None)

    @property
    def is_planned(self) -> bool:
        """Is it kept and not packed yet, so that it only holds its eggs?"""
        return self.state == "planned"

    def planned_counts(self) -> tuple[LineCount, ...]:
        """The eggs the plan would pack, a row for each line and lot."""
        return tuple(
            LineCount(order=line.order, line=line.line, lot=draw.lot, eggs=draw.pack)
            for line in self.lines
            for draw in line.draws
        )

    @property
    def eggs(self) -> int:
        """The eggs packed, or those the plan would pack."""
        return sum(count.eggs for count in self.counts or self.planned_counts())

    def packed_from(self, key: LineKey) -> dict[str, int]:
        """Eggs packed for a line, by lot."""
        return {count.lot: count.eggs for count in self.counts if (count.order, count.line) == key}

    def packed_of(self, key: LineKey) -> int:
        """Eggs packed for a line."""
        return sum(count.eggs for count in self.counts if (count.order, count.line) == key)

    def chance_of(self, line: KeptLine) -> float:
        """The chance that at least the eggs ordered arrive alive: with those packed, once any are.

        Where it was not reckoned at the bench, a line packed short has none, and any other the plan's.
        """
        if line.key in self.chances:
            return self.chances[line.key]
        is_short = bool(self.counts) and self.packed_of(line.key) < line.ordered
        return 0.0 if is_short else line.p_enough

    def on_its_way(self, journey: Journey | None) -> KeptParcel:
        """The same parcel with its way as it was reckoned for the day it left; None is the plan's own way."""
        if journey is None:
            return self
        shares = {(draw.order, draw.line, draw.lot): draw for draw in journey.draws}

        def on_that_day(line: KeptLine, draw: PlannedDraw) -> PlannedDraw:
            now = shares.get((*line.key, draw.lot))
            return replace(draw, h_per_egg=now.h_per_egg, v_per_egg=now.v_per_egg) if now else draw

        lines = tuple(
            replace(line, draws=tuple(on_that_day(line, draw) for draw in line.draws)) for line in self.lines
        )
        chances = {(chance.order, chance.line): chance.p_enough for chance in journey.chances}
        return replace(
            self,
            reckoned_on=journey.left_on,
            **{name: getattr(journey, name) for name in ("p50", "p95", "low_c", "high_c")},
            lines=lines,
            chances={**self.chances, **chances},
        )

    @property
    def reckoned_from(self) -> date:
        """The day from which its arrival is reckoned."""
        return self.reckoned_on or self.dispatch_on

    def is_overdue(self, today: date) -> bool:
        """Was it to be handed over before today, and was not?"""
        return not self.is_handed_over and self.dispatch_on < today

    def line(self, key: LineKey) -> KeptLine:
        """The line of that order and number. Raises LedgerError, naming those it has, if there is none."""
        for line in self.lines:
            if line.key == key:
                return line
        names = ", ".join(f"{line.order}:{line.line}" for line in self.lines)
        text = say("parcel {parcel} has no line {order}:{line}.", self.parcel, *key)
        raise LedgerError(text, say("Its lines are {names}.", names))

    @property
    def line_keys(self) -> frozenset[LineKey]:
        return frozenset(line.key for line in self.lines)


@cache
def parcel_adapter() -> TypeAdapter[KeptParcel]:
    """A parcel to and from JSON values."""
    return TypeAdapter(KeptParcel)


def eggs_by_lot(counts: Iterable[LineCount]) -> Counter[str]:
    """Eggs of all counts together, by lot."""
    eggs = Counter[str]()
    for count in counts:
        eggs[count.lot] += count.eggs
    return eggs


def numbers_in(plan: Mapping[str, Any]) -> dict[str, frozenset[LineKey]]:
    """The lines of each parcel of a plan's JSON, by the parcel's number; the plan was kept, so it is one."""
    return {
        str(parcel["parcel"]): frozenset((str(line["order"]), int(line["line"])) for line in parcel["lines"])
        for parcel in plan["parcels"]
    }


def kept_parcels(
    plan: Mapping[str, Any], entry: int, buyers: Mapping[str, str], kept_on: date = date.min
) -> tuple[KeptParcel, ...]:
    """The parcels of a plan's JSON, all planned. Raises LedgerError if it is not a plan."""
    try:
        return tuple(
            _as_planned(parcel, str(plan["week"]), entry, buyers, kept_on) for parcel in plan["parcels"]
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        first = error.errors()[0] if isinstance(error, ValidationError) else None
        cause = f"{first['loc']}: {first['msg']}" if first else error
        text = say("this is not a plan ({error!r}).", cause)
        raise LedgerError(text, "Give the plan as `plan --json` writes it.") from error


def _as_planned(
    parcel: Mapping[str, Any], week: str, entry: int, buyers: Mapping[str, str], kept_on: date
) -> KeptParcel:
    planned = {name: parcel[name] for name in _OF_PLAN} | {name: parcel.get(name) for name in _WARMTH}
    arrive, buyer = parcel["arrive"], buyers.get(parcel["parcel"], "")
    kept = {"week": week, "plan_entry": entry, "kept_on": kept_on, "buyer": buyer}
    return parcel_adapter().validate_python(planned | kept | {"p50": arrive["p50"], "p95": arrive["p95"]})
