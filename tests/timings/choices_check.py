"""A choice of a week of any size against the week's choices, parcels in batches: what it breaks in words, and
what it costs.

No solver and no search is asked, nor the ways that the search goes through: fillings and splits are those of
the week as numbers, made for a batch of orders at a time; box and postage are looked up in the tables. Weeks
with collection in person are not checked.
"""

from __future__ import annotations

import gc
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from shipping.assignment.instance import MOST_JOINED, Chosen, Departure, OneLotFill, ParcelColumn, SharedFill
from shipping.options.option_arrays import LineCandidates
from shipping.post.quote import box_for, parcel_weight, postage
from shipping.tables.rows.orders import Order
from shipping.tables.shelf import Shelf
from shipping.week.choices import Choices
from shipping.week.parcel_columns import ParcelColumns
from shipping.words.keys import LineKey
from shipping.words.long_work import of_two_halves
from tests.timings.week_check import NEAR, WeekCheck, days_broken, lots_broken, twice_broken, value_broken

#: Parcels in a batch.
BATCH = 500


@dataclass(frozen=True, slots=True)
class Checked:
    """What a choice breaks, sorted, and its expected loss, which says nothing where something is broken."""

    broken: tuple[str, ...]
    cost: float


@dataclass(frozen=True, slots=True)
class _Batches:
    """What some parcels break by themselves, the value of each of their lines that goes, and what each batch
    costs.
    """

    broken: list[str]
    values: list[float]
    costs: list[float]


def checked(choices: Choices, chosen: Chosen, processes: int = 2) -> Checked:
    """Every limit that a choice breaks, and its cost; in two processes where there are many parcels.

    Each order is in one parcel, that the post takes at that price; each of its lines, and no other, is filled
    at its place as its mode says; eggs by lot up to each day on which it is drawn from, and parcels by day,
    over all parcels together.
    """
    shelf = choices.shelf
    going = {order for column in chosen.columns for order in column.orders}
    broken = [f"line {line} is filled but does not go" for line in chosen.drawn if line[0] not in going]
    broken += twice_broken(chosen.columns) + lots_broken(chosen.drawn.values(), choices.free)
    limit = shelf.settings.plan.parcels_per_day
    if limit is not None:
        broken += days_broken(chosen.columns, lambda day: max(0, limit - shelf.parcels_made.get(day, 0)))
    outside = {column.departure[0] for column in chosen.columns}.difference(choices.days)
    broken += [f"parcels on {day}, not a day of the week" for day in sorted(outside)]
    lines: dict[str, list[LineKey]] = {}
    for line in chosen.drawn:
        lines.setdefault(line[0], []).append(line)
    parts = of_two_halves(
        chosen.columns, lambda columns: _in_batches(choices, chosen, lines, columns), processes
    )
    value = math.fsum(one for part in parts for one in part.values)
    broken += [one for part in parts for one in part.broken] + value_broken(chosen, value)
    return Checked(tuple(sorted(broken)), math.fsum(one for part in parts for one in part.costs))


class _NoWays(ParcelColumns):
    """Parcels are judged one by one by `is_parcel`; the thousands that could be need not be made."""

    def columns(
        self, orders: Sequence[Order], fills: Iterable[OneLotFill], shared_fills: Iterable[SharedFill]
    ) -> Iterable[ParcelColumn]:
        return ()


class _AtPlaces(Choices):
    """A week's choices as seen at the place that each line goes from: of others no numbers need be made."""

    def __init__(self, choices: Choices, departures: Mapping[LineKey, Departure]) -> None:
        vars(self).update(vars(choices))
        self.departures, self.parcels = departures, _NoWays(choices.factory)

    def candidates(self, key: LineKey) -> LineCandidates | None:
        """What fills a line at its place; None where nothing does, or it has none."""
        found, departure = super().candidates(key), self.departures.get(key)
        if found is None or departure not in found.departures:
            return None
        n = found.departures.index(departure)
        return replace(
            found,
            alone=found.alone[found.alone["departure"] == n],
            shared=found.shared[found.shared["departure"] == n],
        )


def _in_batches(
    choices: Choices, chosen: Chosen, lines: dict[str, list[LineKey]], columns: Sequence[ParcelColumn]
) -> _Batches:
    found = _Batches([], [], [])
    numbers = _AtPlaces(
        choices,
        {travel_mode[0]: column.departure for column in columns for travel_mode in column.travel_modes},
    )
    gc.freeze()  # what there is stays, and need not be looked through
    for start in range(0, len(columns), BATCH):
        batch = tuple(columns[start : start + BATCH])
        found.broken.extend(
            f"no such parcel: {column}" for column in batch if not is_parcel(choices.shelf, column)
        )
        orders = {order for column in batch for order in column.orders}
        instance = numbers.instance(orders)
        drawn = {line: chosen.drawn[line] for order in sorted(orders) for line in lines.get(order, ())}
        part, check = Chosen(batch, drawn, 0.0, math.inf, 0.0), WeekCheck(instance)
        found.broken.extend(check.lines_broken(part))
        found.values.extend(instance.value.get(line, 0.0) for line in drawn)
        found.costs.append(check.cost(part))
    gc.unfreeze()
    return found


def is_parcel(shelf: Shelf, column: ParcelColumn) -> bool:
    """May these orders go together, with these lines, at this price by the tables of boxes and postage?"""
    orders = [shelf.order_by_name.get(name) for name in column.orders]
    known = [order for order in orders if order is not None]
    if (
        not known
        or len(known) < len(orders)
        or len(known) > MOST_JOINED
        or len({order.address for order in known}) > 1
    ):
        return False
    carried = [travel_mode[0] for travel_mode in column.travel_modes]
    for order in known:
        own = {line.key for line in order.lines}
        if not own.intersection(carried) or not (order.may_split or own.issubset(carried)):
            return False
    every = {line.key for order in known for line in order.lines}
    if len(set(carried)) < len(carried) or not every.issuperset(carried):
        return False
    packed = tuple((shelf.packing_by_name[packing], units) for _, packing, units in column.travel_modes)
    box = box_for(shelf, packed)
    band = (
        postage(shelf, column.departure[1], known[0].country, parcel_weight(packed, box), box.thick_mm)
        if box
        else None
    )
    return box is not None and band is not None and abs(float(band.price + box.cost) - column.cost) < NEAR
