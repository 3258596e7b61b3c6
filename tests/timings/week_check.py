"""Any choice of a week against the week's own limits: what it breaks in words, and what it costs; no solver is asked."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field
from datetime import date

from shipping.week.task import Chosen, Drawn, Filling, Mode, Place, Split, Task

#: Shares of lots make up a line where they miss 1 by no more than this; values that differ by less are the same.
NEAR = 1e-6


@dataclass(eq=False)
class WeekCheck:
    """One week, ready to check choices of it."""

    task: Task
    _fillings: dict[tuple[Mode, Place], list[Filling]] = field(default_factory=dict)
    _splits: dict[tuple[Mode, Place], list[Split]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for filling in self.task.fillings:
            self._fillings.setdefault((filling.mode, filling.place), []).append(filling)
        for split in self.task.splits:
            self._splits.setdefault((split.mode, split.place), []).append(split)

    def broken(self, chosen: Chosen) -> list[str]:
        """Every limit that a choice breaks, in words, sorted; and what it says of itself that is not so.

        Each order is in one parcel, which there is; each of that parcel's lines, and no other, is filled at its place as
        its mode says; eggs by lot up to each day on which it is drawn from; parcels by day.
        """
        found = self._parcels_broken(chosen) + self._lines_broken(chosen) + self._lots_broken(chosen)
        value = math.fsum(self.task.value.get(line, 0.0) for line in sorted(chosen.drawn))
        if abs(value - chosen.value) > NEAR * max(1.0, value):
            found.append(f"it serves {value:.6f}, not {chosen.value:.6f}")
        if chosen.bound < value - NEAR * max(1.0, value):
            found.append(f"it serves {value:.6f}, more than its bound {chosen.bound:.6f}")
        return sorted(found)

    def cost(self, chosen: Chosen) -> float:
        """The expected loss of a choice that breaks nothing."""
        lines = [
            self.line_cost(mode, chosen.drawn[mode[0]]) or 0.0
            for way in chosen.ways
            for mode in way.modes
            if mode[0] in chosen.drawn
        ]
        return math.fsum([way.cost for way in chosen.ways] + lines)

    def line_cost(self, mode: Mode, drawn: Drawn) -> float | None:
        """What a line costs filled so, beside its parcel; None where no filling or split of the week allows it."""
        at = (mode, drawn.place)
        if (drawn.line, drawn.packing) != mode[:2]:
            return None
        costs = [filling.cost for filling in self._fillings.get(at, ()) if drawn.draws == ((filling.lot, filling.eggs),)]
        for split in self._splits.get(at, ()):
            if is_split_so(split, drawn.draws):
                each = {share.lot: share.egg_cost for share in split.shares}
                costs.append(split.cost + math.fsum(each[lot] * eggs for lot, eggs in drawn.draws))
        return min(costs, default=None)

    def _parcels_broken(self, chosen: Chosen) -> list[str]:
        known = set(self.task.ways)
        found = [f"no such parcel: {way}" for way in chosen.ways if way not in known]
        orders = Counter(order for way in chosen.ways for order in way.orders)
        found += [f"order {order} goes {times} times" for order, times in orders.items() if times > 1]
        if self.task.parcels_a_day is not None:
            loads = Counter(way.place[0] for way in chosen.ways)
            found += [f"{load} parcels on {day}" for day, load in loads.items() if load > self.task.room(day)]
        return found

    def _lines_broken(self, chosen: Chosen) -> list[str]:
        carried = {mode[0]: (mode, way.place) for way in chosen.ways for mode in way.modes}
        found = [f"line {line} goes but is not filled" for line in carried.keys() - chosen.drawn.keys()]
        found += [f"line {line} is filled but does not go" for line in chosen.drawn.keys() - carried.keys()]
        for line in carried.keys() & chosen.drawn.keys():
            (mode, place), drawn = carried[line], chosen.drawn[line]
            if drawn.place != place or self.line_cost(mode, drawn) is None:
                found.append(f"line {line} cannot be filled so: {drawn}")
        return found

    def _lots_broken(self, chosen: Chosen) -> list[str]:
        drawn: dict[str, Counter[date]] = {}
        for one in chosen.drawn.values():
            for lot, eggs in one.draws:
                drawn.setdefault(lot, Counter())[one.place[0]] += eggs
        found = []
        for lot, days in drawn.items():
            total = 0
            for day in sorted(days):
                total += days[day]
                if total > self.task.free.get((lot, day), 0):
                    found.append(f"{total} eggs of lot {lot} up to {day}")
        return found


def is_split_so(split: Split, draws: tuple[tuple[str, int], ...]) -> bool:
    """Do these draws keep a split's rules: so many lots, the size of each draw, enough together, units of one lot each?"""
    shares = {share.lot: share for share in split.shares}
    eggs = dict(draws)
    if len(eggs) != len(draws) or not 2 <= len(draws) <= split.lots_most or not eggs.keys() <= shares.keys():
        return False
    sizes = all(split.least_draw <= n <= shares[lot].most for lot, n in draws)
    enough = math.fsum(n / shares[lot].alone for lot, n in draws) >= 1.0 - NEAR
    return sizes and enough and sum(math.ceil(n / split.eggs_max) for _, n in draws) <= split.units
