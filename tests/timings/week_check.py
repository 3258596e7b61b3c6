"""Any choice of a week against the week's own limits: what it breaks in words, and what it costs; no solver
is asked.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date

from shipping.assignment.instance import (
    Chosen,
    Departure,
    Drawn,
    Instance,
    OneLotFill,
    ParcelColumn,
    SharedFill,
    TravelMode,
)

#: Shares of lots make up a line where they miss 1 by no more than this; values that differ by less are the
#: same.
NEAR = 1e-6


@dataclass(eq=False)
class WeekCheck:
    """One week, ready to check choices of it."""

    instance: Instance
    _fills: dict[tuple[TravelMode, Departure], list[OneLotFill]] = field(default_factory=dict)
    _shared_fills: dict[tuple[TravelMode, Departure], list[SharedFill]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for fill in self.instance.fills:
            self._fills.setdefault((fill.travel_mode, fill.departure), []).append(fill)
        for shared_fill in self.instance.shared_fills:
            self._shared_fills.setdefault((shared_fill.travel_mode, shared_fill.departure), []).append(
                shared_fill
            )

    def broken(self, chosen: Chosen) -> list[str]:
        """Every limit that a choice breaks, in words, sorted; and what it says of itself that is not so.

        Each order is in one parcel, which there is; each of that parcel's lines, and no other, is filled at
        its place as its mode says; eggs by lot up to each day on which it is drawn from; parcels by day.
        """
        found = self.parcels_broken(chosen.columns) + self.lines_broken(chosen) + twice_broken(chosen.columns)
        if self.instance.parcels_a_day is not None:
            found += days_broken(chosen.columns, self.instance.room)
        found += lots_broken(chosen.drawn.values(), lambda lot, day: self.instance.free.get((lot, day), 0))
        value = math.fsum(self.instance.value.get(line, 0.0) for line in sorted(chosen.drawn))
        return sorted(found + value_broken(chosen, value))

    def cost(self, chosen: Chosen) -> float:
        """The expected loss of a choice that breaks nothing."""
        lines = [
            self.line_cost(travel_mode, chosen.drawn[travel_mode[0]]) or 0.0
            for column in chosen.columns
            for travel_mode in column.travel_modes
            if travel_mode[0] in chosen.drawn
        ]
        return math.fsum([column.cost for column in chosen.columns] + lines)

    def line_cost(self, travel_mode: TravelMode, drawn: Drawn) -> float | None:
        """What a line costs filled so, beside its parcel; None where no filling or split of the week allows
        it.
        """
        at = (travel_mode, drawn.departure)
        if (drawn.line, drawn.packing) != travel_mode[:2]:
            return None
        costs = [fill.cost for fill in self._fills.get(at, ()) if drawn.draws == ((fill.lot, fill.eggs),)]
        for shared_fill in self._shared_fills.get(at, ()):
            if is_split_so(shared_fill, drawn.draws):
                each = {share.lot: share.egg_cost for share in shared_fill.shares}
                costs.append(shared_fill.cost + math.fsum(each[lot] * eggs for lot, eggs in drawn.draws))
        return min(costs, default=None)

    def parcels_broken(self, columns: Iterable[ParcelColumn]) -> list[str]:
        """The parcels that there are not."""
        known = set(self.instance.columns)
        return [f"no such parcel: {column}" for column in columns if column not in known]

    def lines_broken(self, chosen: Chosen) -> list[str]:
        """The lines that go unfilled, are filled without going, or cannot be filled so."""
        carried = {
            travel_mode[0]: (travel_mode, column.departure)
            for column in chosen.columns
            for travel_mode in column.travel_modes
        }
        found = [f"line {line} goes but is not filled" for line in carried.keys() - chosen.drawn.keys()]
        found += [f"line {line} is filled but does not go" for line in chosen.drawn.keys() - carried.keys()]
        for line in carried.keys() & chosen.drawn.keys():
            (travel_mode, departure), drawn = carried[line], chosen.drawn[line]
            if drawn.departure != departure or self.line_cost(travel_mode, drawn) is None:
                found.append(f"line {line} cannot be filled so: {drawn}")
        return found


def twice_broken(columns: Iterable[ParcelColumn]) -> list[str]:
    """The orders that go more than once."""
    orders = Counter(order for column in columns for order in column.orders)
    return [f"order {order} goes {times} times" for order, times in orders.items() if times > 1]


def days_broken(columns: Iterable[ParcelColumn], room: Callable[[date], int]) -> list[str]:
    """The days that more parcels go than they take."""
    loads = Counter(column.departure[0] for column in columns)
    return [f"{load} parcels on {day}" for day, load in loads.items() if load > room(day)]


def lots_broken(drawn: Iterable[Drawn], free: Callable[[str, date], int]) -> list[str]:
    """The lots of which more eggs are drawn up to a day with a draw than are free on it."""
    by_lot: dict[str, Counter[date]] = {}
    for one in drawn:
        for lot, eggs in one.draws:
            by_lot.setdefault(lot, Counter())[one.departure[0]] += eggs
    found = []
    for lot, days in by_lot.items():
        total = 0
        for day in sorted(days):
            total += days[day]
            if total > free(lot, day):
                found.append(f"{total} eggs of lot {lot} up to {day}")
    return found


def value_broken(chosen: Chosen, value: float) -> list[str]:
    """What a choice says of its value, or bounds it by, that is not so."""
    found = []
    if abs(value - chosen.value) > NEAR * max(1.0, value):
        found.append(f"it serves {value:.6f}, not {chosen.value:.6f}")
    if chosen.bound < value - NEAR * max(1.0, value):
        found.append(f"it serves {value:.6f}, more than its bound {chosen.bound:.6f}")
    return found


def is_split_so(shared_fill: SharedFill, draws: tuple[tuple[str, int], ...]) -> bool:
    """Do these draws keep a split's rules: so many lots, the size of each draw, enough together, units of one
    lot each?
    """
    shares = {share.lot: share for share in shared_fill.shares}
    eggs = dict(draws)
    if (
        len(eggs) != len(draws)
        or not 2 <= len(draws) <= shared_fill.lots_most
        or not eggs.keys() <= shares.keys()
    ):
        return False
    sizes = all(shared_fill.least_draw <= n <= shares[lot].most for lot, n in draws)
    enough = math.fsum(n / shares[lot].alone for lot, n in draws) >= 1.0 - NEAR
    return (
        sizes and enough and sum(math.ceil(n / shared_fill.eggs_max) for _, n in draws) <= shared_fill.units
    )
