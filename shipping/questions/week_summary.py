"""A week's plan and its shelf in, a few figures out: what goes, what it costs, what is at risk."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.should_have_hatched import asks_for_a_look
from shipping.post.quote import box_for
from shipping.post.restrictions import closed_at_home
from shipping.tables.shelf import Shelf
from shipping.week.objective import dispatch_days, next_week
from shipping.week.plan_data import LineOut, Parcel, Plan, units_packed
from shipping.words.keys import in_turn
from shipping.words.reasons import CODES, Reason, Verdict, decisive


@dataclass(frozen=True, slots=True)
class Cause:
    """What decides where some lines stand, and the lines; ``more``: do some of them have further reasons?"""

    verdict: Verdict
    reason: Reason
    lines: tuple[LineOut, ...]

    @property
    def more(self) -> int:
        """How many further reasons stand against one of the lines, at the most."""
        return max(len({reason.code for reason in line.reasons}) for line in self.lines) - 1


@dataclass(frozen=True, slots=True)
class Unsold:
    """Eggs of a lot that nobody has ordered and that hatch by a day."""

    lot: str
    eggs: int
    by: date


@dataclass(frozen=True, slots=True)
class WeekSummary:
    """The head of a plan.

    ``stuck``: paid orders of which something stops; ``worth``: what the lines that go are priced at together,
    ``unpriced`` how many of them have no price; ``short``: how many of them are expected to fall short of
    their count; ``look_now``: lots to look at whatever is planned; ``look_first``: others nobody has seen
    eyes in, that go only if they show them; ``count_first``: lots whose count is too old for what is drawn
    of them.
    """

    by_day: tuple[tuple[date, int], ...]
    eggs: int
    lines: int
    all_lines: int
    orders: int
    all_orders: int
    worth: Decimal
    unpriced: int
    postage: Decimal
    packing: Decimal
    stuck: tuple[str, ...]
    causes: tuple[Cause, ...]
    short: float
    look_now: tuple[str, ...]
    look_first: tuple[str, ...]
    count_first: tuple[str, ...]
    unsold: tuple[Unsold, ...]

    def causes_of(self, verdict: Verdict) -> tuple[Cause, ...]:
        return tuple(cause for cause in self.causes if cause.verdict is verdict)


def week_summary(plan: Plan, shelf: Shelf) -> WeekSummary:
    """What a week's plan comes to."""
    going = [line for parcel in plan.parcels for line in parcel.lines]
    by_day = Counter(parcel.dispatch_on for parcel in plan.parcels)
    wanted = {line.order for line in going} | {out.order for out in plan.lines_out}
    now = tuple(lot.lot for lot in shelf.lots if asks_for_a_look(lot_forecast(shelf, lot.lot)))
    return WeekSummary(
        by_day=tuple(sorted(by_day.items())),
        eggs=sum(line.pack for line in going),
        lines=len(going),
        all_lines=len(going) + len(plan.lines_out),
        orders=len({line.order for line in going}),
        all_orders=len(wanted),
        worth=sum((line.price for line in going if line.price is not None), Decimal(0)),
        unpriced=sum(line.price is None for line in going),
        postage=sum((parcel.postage for parcel in plan.parcels), Decimal(0)),
        packing=sum((packing_cost(parcel, shelf) for parcel in plan.parcels), Decimal(0)),
        stuck=tuple(dict.fromkeys(paid_and_stopped(plan, shelf))),
        causes=causes(plan.lines_out),
        short=sum(1.0 - line.p_enough for line in going),
        look_now=now,
        look_first=tuple(sorted({d.lot for line in going for d in line.draws if d.look_first} - {*now})),
        count_first=tuple(sorted({d.lot for line in going for d in line.draws if d.count_first})),
        unsold=unsold(plan, shelf),
    )


def paid_and_stopped(plan: Plan, shelf: Shelf) -> Iterator[str]:
    """The orders whose money is there and of which a line does not go on any day."""
    for out in plan.lines_out:
        order = shelf.order_by_name.get(out.order)
        if out.verdict is Verdict.STOP and order and all(line.paid for line in order.lines):
            yield out.order


def packing_cost(parcel: Parcel, shelf: Shelf) -> Decimal:
    """What the units and the box of a parcel cost."""
    units = units_packed(parcel.lines, shelf)
    box = box_for(shelf, units)
    return sum((packing.cost * n for packing, n in units), Decimal(0)) + (box.cost if box else Decimal(0))


def causes(lines: Iterable[LineOut]) -> tuple[Cause, ...]:
    """The decisive reasons of lines that stay, each once; of a verdict those of most lines first. Of lines
    that need unlike counts of eggs the least and the most is told.
    """
    found: dict[tuple[object, ...], list[LineOut]] = {}
    for line in lines:
        reason = decisive(line.verdict, line.reasons)
        subject = (str(reason.facts.get(name)) for name in CODES[reason.code].alike)
        found.setdefault((line.verdict, reason.code, *subject), []).append(line)
    made = [Cause(own[0].verdict, _of_all(own), tuple(own)) for own in found.values()]
    return tuple(sorted(made, key=lambda cause: (-len(cause.lines), in_turn(cause.lines[0].order))))


def _of_all(lines: list[LineOut]) -> Reason:
    """The decisive reason of lines that share it."""
    first, *others = (decisive(line.verdict, line.reasons) for line in lines)
    needed = [int(str(eggs)) for one in (first, *others) if (eggs := one.facts.get("needed"))]
    if not needed or min(needed) == max(needed):
        return first
    return replace(first, facts={**first.facts, "needed": f"{min(needed)}–{max(needed)}"})


def unsold(plan: Plan, shelf: Shelf) -> tuple[Unsold, ...]:
    """Eggs in water that may be sold, that the plan leaves and that hatch by the last day to post of the week
    after.
    """
    ahead = dispatch_days(shelf, next_week(plan.week))
    found = []
    for use in plan.lots:
        forecast = lot_forecast(shelf, use.lot)
        lot = forecast.lot
        if not ahead or lot.kept_damp or use.left <= 0 or closed_at_home(shelf, forecast.species, lot.medium):
            continue
        whole = forecast.alike.whole_on((shelf.today, ahead[-1]))
        eggs = round(use.left * (1.0 - float(whole[1] / whole[0]))) if whole[0] > 0 else 0
        if eggs:
            found.append(Unsold(use.lot, eggs, ahead[-1]))
    return tuple(sorted(found, key=lambda one: (-one.eggs, one.lot)))
