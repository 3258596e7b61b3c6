"""What a week's plan is made of: parcels, lines, draws, lines left out, lots, and the proof. Data only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from shipping.options.option import Leg
from shipping.post.transit import Holiday
from shipping.tables.rows.orders import Address, Order
from shipping.tables.rows.packings import Packing
from shipping.tables.shelf import Shelf
from shipping.words.problems import Problem
from shipping.words.reasons import Note, Reason, Verdict
from shipping.words.three_point import Dates
from shipping.words.units import told


@dataclass(frozen=True, slots=True)
class Wetting:
    """From when to when eggs sent damp should be wetted; None: never ready, as kept."""

    begin: date | None
    until: date | None

    def is_on_arrival(self, arrive: Dates) -> bool:
        """Are they wetted the day they arrive, since these days have begun by then, and may be over?"""
        usual, late = arrive.p50, arrive.p95
        if not (self.begin and self.until and usual and late):
            return False
        return self.begin <= usual and self.until <= late

    def as_json(self) -> dict[str, str | None]:
        days = {"from": self.begin, "until": self.until}
        return {name: day.isoformat() if day else None for name, day in days.items()}


@dataclass(frozen=True, slots=True)
class Draw:
    """Eggs taken from one lot for one line, in one or more units of one packing.

    ``h_per_egg``: mean share hatched on the way. ``h_any``: chance that any of ``pack`` hatches on the way.
    ``v_per_egg``: mean share alive on arrival. ``stage`` is the furthest stage a look has shown; on a
    ``look_first`` draw the plan counts on eyes that nobody has seen yet. ``hatch_at_buyer`` are the days by
    which 5, 50 and 95 % of the eggs hatch with the buyer; for eggs kept damp it is None and ``wet`` says when
    to wet them. ``h_at_p95``: share hatched by the 95 % arrival on the warmest trip. ``eyed_on_arrival`` is
    the reckoned share with eyes on the 50 % arrival day. ``count_first``: a recount may leave the lot short
    of what the plan draws. ``cautions`` are notes for the bench.
    """

    lot: str
    packing: str
    units: int
    pack: int
    h_per_egg: float
    h_any: float
    v_per_egg: float
    stage: str
    look_first: bool
    hatch_at_buyer: Dates | None
    wet: Wetting | None
    eyed_on_arrival: float
    h_at_p95: float
    air_hours: float | None = None
    unfit_chance: float | None = None
    count_first: bool = False
    cautions: tuple[Note, ...] = ()

    @property
    def hatch(self) -> Dates:
        """The days that papers tell the buyer: of hatching, or from when to when to wet."""
        if self.wet:
            return Dates(self.wet.begin, None, self.wet.until)
        return self.hatch_at_buyer or Dates(None, None, None)

    @property
    def unit_eggs(self) -> tuple[int, ...]:
        """Eggs in each unit, filled evenly, fuller ones first."""
        each, over = divmod(self.pack, self.units)
        return tuple(each + (1 if unit < over else 0) for unit in range(self.units))

    def as_json(self) -> dict[str, object]:
        return told(
            self,
            "lot packing units pack h_per_egg h_any v_per_egg stage look_first count_first h_at_p95 "
            "unfit_chance hatch_at_buyer wet",
        )


@dataclass(frozen=True, slots=True)
class PlannedLine:
    """A line that goes: what was ordered, what is packed, from which lots, and why.

    ``species`` and ``population`` are what is packed; ``instead_of`` names what was ordered where that
    differs. ``message`` is printed for the buyer.
    """

    order: str
    line: int
    species: str
    population: str
    ordered: int
    pack: int
    p_enough: float
    expected_alive: float
    draws: tuple[Draw, ...]
    reasons: tuple[Reason, ...]
    price: Decimal | None = None
    instead_of: str = ""
    message: str = ""

    @property
    def extra(self) -> int:
        return self.pack - self.ordered

    def as_json(self) -> dict[str, object]:
        return told(self, "order line species population ordered pack p_enough expected_alive draws reasons")


def units_packed(lines: Iterable[PlannedLine], shelf: Shelf) -> tuple[tuple[Packing, int], ...]:
    """The packings of some lines, each with its units, draw by draw."""
    return tuple((shelf.packing_by_name[draw.packing], draw.units) for line in lines for draw in line.draws)


@dataclass(frozen=True, slots=True)
class Parcel:
    """One parcel on one day by one service to one address, for one or more orders.

    ``low_c`` and ``high_c`` are what the parcel is expected to feel; ``warmth_basis`` says whose figure that
    is (``weather`` or ``assumed``). ``this_week`` are the rows of disruptions and of weather for just these
    days that decided it. ``bottle_ml`` of warm water go into the box, which holds its warmth with the time
    constant ``warm_h`` [h]. ``parcel_lost_share``: the chance that it never arrives; all others are "if it
    arrives". ``holidays`` are those that moved the dates.
    """

    parcel: str
    orders: tuple[str, ...]
    address: Address
    service: str
    dispatch_on: date
    arrive: Dates
    box: str
    weight_g: float
    postage: Decimal
    lines: tuple[PlannedLine, ...]
    low_c: float
    high_c: float
    warmth_basis: str
    language: str | None = None
    tel: str = ""
    mail: str = ""
    importer_ref: str = ""
    thick_mm: float | None = None
    holidays: tuple[Holiday, ...] = ()
    bottle_ml: float = 0.0
    warm_h: float = 0.0
    parcel_lost_share: float = 0.0
    this_week: tuple[Note, ...] = ()
    cut_off: str | None = None

    @property
    def pack(self) -> int:
        return sum(line.pack for line in self.lines)

    def as_json(self) -> dict[str, object]:
        return (
            told(self, "parcel orders")
            | {"addressee": self.address.addressee, "to": self.address.country}
            | told(
                self,
                "service dispatch_on arrive box bottle_ml warm_h weight_g postage parcel_lost_share "
                "low_c high_c this_week lines",
            )
        )


def of_leg(leg: Leg, orders: Sequence[Order]) -> dict[str, Any]:
    """What a leg and one buyer's orders say of their `Parcel`, by field; of blanks the first that is said."""
    return {
        "orders": tuple(order.order for order in orders),
        "address": orders[0].address,
        "service": leg.service.service,
        "low_c": leg.warmth.low_c,
        "high_c": leg.warmth.high_c,
        "warmth_basis": leg.warmth.basis,
        "language": next((order.language for order in orders if order.language), None),
        "tel": next((order.tel for order in orders if order.tel), ""),
        "mail": next((order.mail for order in orders if order.mail), ""),
        "importer_ref": next((order.importer_ref for order in orders if order.importer_ref), ""),
        "this_week": leg.this_week,
        "cut_off": leg.service.cut_off,
    }


@dataclass(frozen=True, slots=True)
class LineOut:
    """A line that does not go this week: where it stands, until when that may change, and all reasons."""

    order: str
    line: int
    verdict: Verdict
    until: date | None
    reasons: tuple[Reason, ...]

    def as_json(self) -> dict[str, object]:
        return told(self, "order line verdict until reasons")


@dataclass(frozen=True, slots=True)
class LotUse:
    """What the plan draws from a lot; ``eggs`` and ``free`` are the forecast's of the day it was made."""

    lot: str
    eggs: int
    keep_back: int
    free: int
    drawn: int

    @property
    def left(self) -> int:
        return self.free - self.drawn

    def as_json(self) -> dict[str, object]:
        return told(self, "lot eggs keep_back free drawn left")


@dataclass(frozen=True, slots=True)
class Proof:
    """Value served, the bound on any plan's within these tables and this model, the gap between them as a
    share, and the expected loss.

    ``least``: no plan of that value has less, and that was proven; else it is the least that was found.
    """

    value: float
    bound: float
    gap: float
    loss: float
    least: bool = True

    def as_json(self) -> dict[str, object]:
        return told(self, "value bound gap loss") | {"least_loss": self.least}


@dataclass(frozen=True, slots=True)
class Plan:
    """A week's plan, verified. ``notices`` are the shelf's problems that stop one lot or nothing; ``assumed``
    names the values it rests on that nobody has measured or read.
    """

    week: str
    today: date
    parcels: tuple[Parcel, ...]
    lines_out: tuple[LineOut, ...]
    lots: tuple[LotUse, ...]
    proof: Proof
    notices: tuple[Problem, ...] = field(default=())
    assumed: tuple[str, ...] = ()

    def as_json(self) -> dict[str, object]:
        return told(self, "week today parcels lines_out lots") | {
            "proof": {**self.proof.as_json(), "assumed": len(self.assumed)}
        }
