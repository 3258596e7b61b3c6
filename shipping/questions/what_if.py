"""What a few more eggs, or parcels a day, would have served: a week's plan in, planned again out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from shipping.options.journey import SCARCITY
from shipping.options.option_arrays import tables_for
from shipping.options.option_factory import OptionFactory
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import Line
from shipping.tables.shelf import Shelf
from shipping.week.objective import dispatch_days, worths
from shipping.week.plan import make_plan
from shipping.week.plan_data import Plan
from shipping.words.keys import LineKey, grouped
from shipping.words.reasons import SCARCE, Verdict
from shipping.words.units import told

#: So many more of each are asked about, of so many populations; ours, no source.
MORE_EGGS, MORE_PARCELS, POPULATIONS_MOST = 20, 5, 6
#: Each answer is a plan of its own, so larger weeks are not asked about.
LINES_OUT_MOST, ORDERS_MOST = 60, 120
#: Values closer than this are the same.
ROUNDING = 1e-6
#: A gain under this is written as none.
LEAST_SHOWN = 0.005


@dataclass(frozen=True, slots=True)
class Gain:
    """What one thing more would have served in the week planned.

    ``what``: ``eggs`` (``eggs`` more whole eggs in ``lot``, as old as those in it), ``parcels``
    (``parcels_a_day`` more on each day), or ``not-reckoned``, where ``text`` tells what was not asked about
    and why. ``value`` is gained, as the plan reckons it; ``lines`` are newly served, ``lines_lost`` no longer
    go, and of ``orders`` nothing went before. ``is_certain``: no plan without it reaches that value. ``text``
    says it in a sentence.
    """

    what: str
    text: str = ""
    species: str = ""
    population: str = ""
    lot: str = ""
    eggs: int = 0
    parcels_a_day: int = 0
    value: float = 0.0
    orders: tuple[str, ...] = ()
    lines: tuple[LineKey, ...] = ()
    lines_lost: tuple[LineKey, ...] = ()
    is_certain: bool = True

    def as_json(self) -> dict[str, object]:
        return (
            told(self, "what species population lot eggs parcels_a_day value orders")
            | {
                "lines": [{"order": order, "line": line} for order, line in self.lines],
                "lines_lost": [{"order": order, "line": line} for order, line in self.lines_lost],
                "certain": self.is_certain,
            }
            | told(self, "text")
        )


def gain_lines(found: Iterable[Gain]) -> tuple[str, ...]:
    """A sentence for each, or one that says that nothing waits for them."""
    return tuple(one.text for one in found) or (
        "No line waits for eggs of a lot on hand, nor for room on a day to post.",
    )


def what_more_serves(
    shelf: Shelf, plan: Plan, week: str, *, seconds: float | None = None
) -> tuple[Gain, ...]:
    """What 20 more eggs of each population that is short would have served, and 5 more parcels a day where
    days are full.

    Parameters
    ----------
    shelf, plan, week
        The shelf as it was planned from, its plan, and the ISO week of it.
    seconds
        To spend on choosing at the most, for each plan made again.

    Notes
    -----
    The eggs join the lot of the population with the most options that nothing but a lack of eggs stands
    against, and are whole on every day to post. The populations with most value waiting are asked about; each
    answer stands alone, and they do not add up.
    """
    if (refused := _too_large(shelf, plan)) is not None:
        return (refused,)
    found: list[Gain] = []
    groups = _populations_short(shelf, plan, week)
    for lot in groups[:POPULATIONS_MOST]:
        again = make_plan(with_more_eggs(shelf, lot.lot, MORE_EGGS), week, seconds=seconds)
        asked = Gain("eggs", species=lot.species, population=lot.population, lot=lot.lot, eggs=MORE_EGGS)
        found.append(_gained(asked, plan, again))
    if (over := len(groups) - POPULATIONS_MOST) > 0:
        are = "population is" if over == 1 else "populations are"
        found.append(
            Gain(
                "not-reckoned",
                text=f"{over} more {are} short of eggs, with less value waiting; not reckoned here.",
            )
        )
    if _days_are_full(shelf, plan, week):
        again = make_plan(_with_more_parcels(shelf), week, seconds=seconds)
        found.append(_gained(Gain("parcels", parcels_a_day=MORE_PARCELS), plan, again))
    return tuple(found)


def with_more_eggs(shelf: Shelf, lot: str, eggs: int) -> Shelf:
    """The shelf with so many more whole eggs in a lot from today on: fewer packed today, by as many.

    So no count, look or laying date changes, nor what they say of each other.
    """
    packed = dict(shelf.packed.get(lot, {}))
    packed[shelf.today] = packed.get(shelf.today, 0) - eggs
    return replace(shelf, packed={**shelf.packed, lot: packed})


def _with_more_parcels(shelf: Shelf) -> Shelf:
    """The shelf with `MORE_PARCELS` more a day, where their number is limited at all."""
    settings = shelf.settings
    limit = settings.plan.parcels_per_day
    if limit is None:
        return shelf
    more = settings.plan.model_copy(update={"parcels_per_day": limit + MORE_PARCELS})
    return replace(shelf, settings=settings.model_copy(update={"plan": more}))


def _too_large(shelf: Shelf, plan: Plan) -> Gain | None:
    if len(shelf.orders) > ORDERS_MOST:
        many = f"{len(shelf.orders)} orders (more than {ORDERS_MOST})"
    elif len(plan.lines_out) > LINES_OUT_MOST:
        many = f"{len(plan.lines_out)} lines left out (more than {LINES_OUT_MOST})"
    else:
        return None
    return Gain(
        "not-reckoned",
        text=f"With {many} it would take long to plan again for each thing more: not reckoned.",
    )


def _populations_short(shelf: Shelf, plan: Plan, week: str) -> list[Lot]:
    """For each population that lines wait for, the lot from which most could go; most value waiting first."""
    waiting: dict[tuple[str, str], float] = {}
    could: dict[str, tuple[int, int]] = {}
    worth = worths(shelf)
    for line, lots in _lots_that_could(shelf, plan, week):
        best = min(lots, key=lambda lot: (*(-n for n in lots[lot]), lot))
        chosen = shelf.lot_by_name[best]
        kind = (chosen.species, (line.population or chosen.population).casefold())
        waiting[kind] = waiting.get(kind, 0.0) + worth[line.key].value
        for lot, (options, free) in lots.items():
            before = could.get(lot, (0, 0))
            could[lot] = (before[0] + options, max(before[1], free))
    best_lots = []
    for kind in sorted(waiting, key=lambda kind: (-round(waiting[kind], 6), kind)):
        own = [
            lot for lot in shelf.lots if (lot.species, lot.population.casefold()) == kind and lot.lot in could
        ]
        best_lots.append(min(own, key=lambda lot: (*(-n for n in could[lot.lot]), lot.lot)))
    return best_lots


def _lots_that_could(
    shelf: Shelf, plan: Plan, week: str
) -> Iterator[tuple[Line, Mapping[str, tuple[int, int]]]]:
    """Lines that wait for eggs, with their lots on hand: options only eggs stand against, and eggs."""
    short = [
        (order, order.line(out.line))
        for out in plan.lines_out
        if out.verdict is Verdict.WAIT and out.reasons and out.reasons[0].code in SCARCE
        for order in (shelf.order_by_name[out.order],)
    ]
    days = dispatch_days(shelf, week)
    if not short or not days:
        return
    for table in tables_for(OptionFactory(shelf), [(order, line.species) for order, line in short], days):
        for order, line in (one for one in short if one[1].species == table.species.species):
            options = table.of(order, line, line.population)
            open_to = ((options.codes >= 0) & ((options.codes & ~SCARCITY) == 0)).sum(axis=(1, 2))
            free = np.max(options.free, axis=1, initial=0)
            lots = {
                lot.lot: (int(n), int(eggs))
                for lot, n, eggs in zip(options.lots, open_to, free, strict=True)
                if n
            }
            if lots:
                yield line, lots


def _days_are_full(shelf: Shelf, plan: Plan, week: str) -> bool:
    """Does the limit of parcels a day stand in the way of a line, or is it reached while lines wait?"""
    limit = shelf.settings.plan.parcels_per_day
    if limit is None or not any(out.verdict is Verdict.WAIT for out in plan.lines_out):
        return False
    if any(reason.code == "day-full" for out in plan.lines_out for reason in out.reasons):
        return True
    loads = dict(shelf.parcels_made)
    for parcel in plan.parcels:
        loads[parcel.dispatch_on] = loads.get(parcel.dispatch_on, 0) + 1
    return any(loads[day] >= limit for day in dispatch_days(shelf, week) if day in loads)


def _gained(asked: Gain, plan: Plan, again: Plan) -> Gain:
    """What the new plan serves that the plan does not; nothing where it is worth less."""
    value = again.proof.value - plan.proof.value
    before, after = _going(plan), _going(again)
    if value < -ROUNDING or not after - before:
        return replace(asked, text=f"{_named(asked)} would have served nothing more this week.")
    found = replace(
        asked,
        value=max(0.0, value),
        orders=tuple(sorted({order for order, _ in after} - {order for order, _ in before})),
        lines=tuple(sorted(after - before)),
        lines_lost=tuple(sorted(before - after)),
        is_certain=plan.proof.gap <= ROUNDING or again.proof.value > plan.proof.bound + ROUNDING,
    )
    every = before | {(out.order, out.line) for out in plan.lines_out}
    lost = f"; {_listed(found.lines_lost, every)} would then not go" if found.lines_lost else ""
    worth = f"worth {found.value:.2f} more" if found.value >= LEAST_SHOWN else "worth no more"
    doubt = "" if found.is_certain else " The plan was not proven best: some of that may be had without."
    text = f"{_named(found)} would have served {_listed(found.lines, every)} too ({worth}){lost}.{doubt}"
    return replace(found, text=text)


def _going(plan: Plan) -> frozenset[LineKey]:
    return frozenset((line.order, line.line) for parcel in plan.parcels for line in parcel.lines)


def _named(more: Gain) -> str:
    if more.what == "parcels":
        return f"{more.parcels_a_day} more parcels a day"
    name = " ".join(filter(None, (more.species, more.population)))
    return f"{more.eggs} more eggs of {name} (in lot {more.lot})"


def _listed(lines: tuple[LineKey, ...], every: Iterable[LineKey]) -> str:
    """Orders by name, and which of their lines where it is not all of them."""
    of_order = grouped((order, line) for order, line in sorted(every))
    names = []
    for order in sorted({order for order, _ in lines}):
        own = [line for name, line in lines if name == order]
        names.append(
            order if own == of_order[order] else f"{order} (line {', '.join(str(line) for line in own)})"
        )
    return f"order {names[0]}" if len(names) == 1 else f"orders {', '.join(names[:-1])} and {names[-1]}"
