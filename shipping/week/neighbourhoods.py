"""A large week's choice, made of exact choices of small parts of it: the week as numbers in, a good choice and its bound out.

A part is a few orders that want the same lots, with the eggs and the room for parcels that all other orders leave. Parts
are chosen exactly one after the other: first each order once, then around orders that are not served, or where a part
may be cheaper. Each step keeps what it was given or betters it, so that the choice only grows better.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from shipping.week.crew import Crew
from shipping.week.program import SAME, Budget
from shipping.week.task import Chosen, Drawn, Filling, LineKey, Mode, Split, Task, Way

#: So many orders are chosen together, and so few at first where only the loss is at stake.
TOGETHER, FEW_TOGETHER = 10, 3
#: Around orders not served parts are chosen again so many times, and once more for every four orders.
FEWEST_TRIES = 50
#: Among so many parts one is looked for that may be chosen beside another.
LOOK_AHEAD = 12

#: Some orders.
Part = frozenset[str]


@dataclass(eq=False)
class LargeWeek:
    """A week whose parts are chosen one after the other; ask `improve` to go on."""

    task: Task
    crew: Crew
    ways: dict[str, Way] = field(default_factory=dict)
    drawn: dict[LineKey, Drawn] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._fillings: dict[str, list[Filling]] = {}
        self._splits: dict[str, list[Split]] = {}
        self._ways: dict[str, list[Way]] = {}
        self._lots: dict[str, set[str]] = {}
        self._orders: dict[str, set[str]] = {}
        self._mates: dict[str, set[str]] = {}
        self._eggs: dict[str, dict[date, int]] = {}
        self._loads: dict[date, int] = dict(self.task.parcels_made)
        for filling in self.task.fillings:
            self._fillings.setdefault(filling.line[0], []).append(filling)
            self._lots.setdefault(filling.line[0], set()).add(filling.lot)
        for split in self.task.splits:
            self._splits.setdefault(split.line[0], []).append(split)
            self._lots.setdefault(split.line[0], set()).update(share.lot for share in split.shares)
        for way in self.task.ways:
            self._ways.setdefault(way.orders[0], []).append(way)
            for order in way.orders:
                self._mates.setdefault(order, set()).update(way.orders)
        for order, lots in self._lots.items():
            for lot in lots if order in self._mates else ():
                self._orders.setdefault(lot, set()).add(order)

    @property
    def orders(self) -> list[str]:
        """The orders that some parcel may carry, sorted."""
        return sorted(self._mates)

    @property
    def value(self) -> float:
        return math.fsum(self.task.value[line] for line in self.drawn)

    def chosen(self, bound: float) -> Chosen:
        """The choice as it stands."""
        ways = sorted({way.orders: way for way in self.ways.values()}.values(), key=lambda way: (way.place, way.orders))
        drawn = dict(sorted(self.drawn.items()))
        return Chosen(tuple(ways), drawn, self.value, max(bound, self.value), self._cost(ways, drawn))

    def start(self, ways: Iterable[Way], drawn: Mapping[LineKey, Drawn]) -> None:
        """Begin with parcels and draws found elsewhere."""
        for way in ways:
            own = {mode[0]: drawn[mode[0]] for mode in way.modes}
            self._put_in(Chosen((way,), own, 0.0, 0.0, self._cost((way,), own)))

    def _cost(self, ways: Iterable[Way], drawn: Mapping[LineKey, Drawn]) -> float:
        """What parcels cost, with what is in them."""
        return math.fsum(way.cost + math.fsum(self._cost_of(mode, drawn[mode[0]]) for mode in way.modes) for way in ways)

    def _cost_of(self, mode: Mode, drawn: Drawn) -> float:
        """What it costs to fill a line so, without the parcel."""
        if len(drawn.draws) == 1:
            lot = drawn.draws[0][0]
            return min(f.cost for f in self._fillings[mode[0][0]] if (f.mode, f.place, f.lot) == (mode, drawn.place, lot))
        lots = {lot for lot, _ in drawn.draws}
        alike = (s for s in self._splits[mode[0][0]] if (s.mode, s.place) == (mode, drawn.place))
        split = next(s for s in alike if lots <= {share.lot for share in s.shares})
        egg_costs = {share.lot: share.egg_cost for share in split.shares}
        return split.cost + math.fsum(egg_costs[lot] * eggs for lot, eggs in drawn.draws)

    def improve(self, budget: Budget, bound: float, gap: float, tell: Callable[[float], None]) -> None:
        """Choose parts again, around orders not served, until nothing is gained, the bound is near, or time is up."""
        tried: set[tuple[object, ...]] = set()
        gained, tries = True, FEWEST_TRIES + len(self.orders) // 4
        while gained and tries > 0:
            gained = False
            waiting = [(order, part) for order in self._unserved() for part in self._parts_around(order)]
            while waiting and not budget.is_spent and self.value < bound * (1.0 - gap) - SAME:
                parts = self._next_parts(waiting, tried)
                tries -= len(parts)
                if any(self._choose_again(parts, budget)):
                    gained = True
                    tell(self.value)

    def _next_parts(self, waiting: list[tuple[str, Part]], tried: set[tuple[object, ...]]) -> list[Part]:
        """The next parts worth choosing again that do not want the same lots, as many as there are cores."""
        unserved = self._unserved_set()
        found: list[Part] = []
        left: list[tuple[str, Part]] = []
        while waiting and len(found) < self.crew.size:
            order, part = waiting.pop(0)
            if order not in unserved:
                continue
            if not all(self._are_apart(part, other) for other in found):
                left.append((order, part))
                if len(left) > LOOK_AHEAD:
                    break
                continue
            state = (part, tuple(self.drawn.get(line) for line in self._lines_near(part)))
            if state not in tried:
                tried.add(state)
                found.append(part)
        waiting[:0] = left
        return found

    def _are_apart(self, one: Part, two: Part) -> bool:
        """Do two parts want no order and no lot alike?"""
        lots = set().union(*(self._lots.get(order, set()) for order in one))
        return one.isdisjoint(two) and all(lots.isdisjoint(self._lots.get(order, ())) for order in two)

    def cheapen(self, budget: Budget, tell: Callable[[float], None]) -> None:
        """Choose parts once more, for less loss at the same value: a few orders at a time, then more."""
        for together in (FEW_TOGETHER, TOGETHER):
            left = set(self.orders)
            waiting: list[Part] = []
            for order in self.orders:
                if order in left:
                    waiting.append(frozenset(self._around(order, left, together)))
                    left -= waiting[-1]
            while waiting and not budget.is_spent:
                parts = [waiting.pop(0)]
                for part in waiting[:LOOK_AHEAD]:
                    if len(parts) < self.crew.size and all(self._are_apart(part, other) for other in parts):
                        parts.append(part)
                        waiting.remove(part)
                if any(self._choose_again(parts, budget, frugal=True)):
                    tell(self.value)

    def _unserved_set(self) -> set[str]:
        served = {line[0] for line in self.drawn}
        return {order for order in self._mates if order not in served}

    def _unserved(self) -> list[str]:
        """Orders not served, the most valuable first."""
        worth: dict[str, float] = {}
        for line in self.task.lines:
            worth[line[0]] = worth.get(line[0], 0.0) + self.task.value[line]
        return sorted(self._unserved_set(), key=lambda order: (-worth.get(order, 0.0), order))

    def _parts_around(self, order: str) -> Iterator[Part]:
        """Parts that hold an order: with its nearest neighbours, then with those of one lot each."""
        yield frozenset(self._around(order, set(self.orders)))
        for lot in sorted(self._lots.get(order, ())):
            yield frozenset(self._around(order, self._orders[lot] | self._mates[order]))

    def _around(self, order: str, among: Collection[str], together: int = TOGETHER) -> set[str]:
        """An order, those of its address, and its nearest neighbours of some: those that share the most lots."""
        part = set(self._mates[order])
        lots = self._lots.get(order, set())
        near: dict[str, int] = {}
        for lot in lots:
            for other in self._orders[lot]:
                if other in among and other not in part:
                    near[other] = near.get(other, 0) + 1
        for other in sorted(near, key=lambda name: (-near[name], len(self._lots[name]), name)):
            if len(part) >= together:
                break
            part |= self._mates[other]
        return part

    def _lines_near(self, part: Collection[str]) -> list[LineKey]:
        """The lines of other orders that draw on the part's lots."""
        lots = set().union(*(self._lots.get(order, set()) for order in part))
        orders = set().union(*(self._orders[lot] for lot in lots), part)
        return sorted(line for line in self.drawn if line[0] in orders)

    def _choose_again(self, parts: list[Part], budget: Budget, frugal: bool = False) -> list[bool]:
        """Choose parts that are apart anew, with what the others leave; keep the better of old and new. Which were better?"""
        before = [self._take_out(part) for part in parts]
        tasks = [self._task_of(part, n, before) for n, part in enumerate(parts)]
        found = self.crew.choose([(task, budget, frugal) for task in tasks])
        better = [self._rank(new) > self._rank(old) for new, old in zip(found, before, strict=True)]
        for new, old, is_better in zip(found, before, better, strict=True):
            self._put_in(new if is_better else old)
        return better

    def _rank(self, chosen: Chosen) -> tuple[int, int, int]:
        """More value, then more age, then less cost."""
        value = math.fsum(self.task.value[line] for line in chosen.drawn)
        age = math.fsum(self.task.age[line] for line in chosen.drawn)
        return round(value / SAME), round(age / SAME), -round(self._cost(chosen.ways, chosen.drawn) / SAME)

    def _take_out(self, part: Collection[str]) -> Chosen:
        ways = tuple({self.ways[order].orders: self.ways.pop(order) for order in sorted(part) if order in self.ways}.values())
        lines = [line for line in self.drawn if line[0] in part] if len(part) > len(self.drawn) else self._drawn_of(part)
        drawn = {line: self.drawn.pop(line) for line in lines}
        self._count(ways, drawn.values(), -1)
        return Chosen(ways, drawn, 0.0, 0.0, self._cost(ways, drawn))

    def _drawn_of(self, part: Collection[str]) -> list[LineKey]:
        numbers = {order: {mode[0] for way in self._ways_with(order) for mode in way.modes} for order in sorted(part)}
        return [line for order in sorted(part) for line in sorted(numbers[order]) if line in self.drawn and line[0] == order]

    def _ways_with(self, order: str) -> Iterable[Way]:
        return (way for mate in sorted(self._mates[order]) for way in self._ways.get(mate, ()) if order in way.orders)

    def _put_in(self, chosen: Chosen) -> None:
        for way in chosen.ways:
            self.ways |= dict.fromkeys(way.orders, way)
        self.drawn |= chosen.drawn
        self._count(chosen.ways, chosen.drawn.values(), 1)

    def _count(self, ways: Iterable[Way], drawn: Iterable[Drawn], sign: int) -> None:
        for way in ways:
            self._loads[way.place[0]] = self._loads.get(way.place[0], 0) + sign
        for one in drawn:
            for lot, eggs in one.draws:
                days = self._eggs.setdefault(lot, {})
                days[one.place[0]] = days.get(one.place[0], 0) + sign * eggs

    def _task_of(self, part: Part, number: int, before: list[Chosen]) -> Task:
        """The part as a week of its own; room for parcels beyond what each part had is shared out among the parts."""
        names = sorted(part)
        fillings = tuple(f for order in names for f in self._fillings.get(order, ()))
        splits = tuple(s for order in names for s in self._splits.get(order, ()))
        ways = tuple(way for order in names for way in self._ways.get(order, ()))
        lots = {(f.lot, f.place[0]) for f in fillings} | {(share.lot, s.place[0]) for s in splits for share in s.shares}
        free = {(lot, day): self._left(lot, day) for lot, day in sorted(lots)}
        fitting = tuple(kept for split in splits if (kept := _with_room(split, free)) is not None)
        return replace(
            self.task,
            fillings=tuple(f for f in fillings if f.eggs <= free[(f.lot, f.place[0])]),
            splits=fitting,
            ways=ways,
            free=free,
            parcels_made=self._loads_beside(number, before),
        )

    def _loads_beside(self, number: int, before: list[Chosen]) -> dict[date, int]:
        """Parcels of each day that one of several parts must leave room for."""
        loads = dict(self._loads)
        own = [Counter(way.place[0] for way in one.ways) for one in before]
        for day in {way.place[0] for way in self.task.ways}:
            had = [counts[day] for counts in own]
            spare = max(0, (self.task.parcels_a_day or 0) - loads.get(day, 0) - sum(had))
            mine = had[number] + spare // len(before) + (number < spare % len(before))
            loads[day] = (self.task.parcels_a_day or 0) - mine
        return loads

    def _left(self, lot: str, day: date) -> int:
        """Eggs of a lot that may be drawn on a day, so that every draw of the others keeps its own."""
        drawn = self._eggs.get(lot, {})
        days = [day, *(other for other, eggs in drawn.items() if other > day and eggs)]
        return max(0, min(self.task.free[(lot, d)] - sum(n for on, n in drawn.items() if on <= d) for d in days))


def _with_room(split: Split, free: dict[tuple[str, date], int]) -> Split | None:
    """A split among the lots that still have eggs for a draw; None where they do not do together."""
    shares = tuple(
        replace(share, most=most)
        for share in split.shares
        if (most := min(share.most, free[(share.lot, split.place[0])])) >= split.least_draw
    )
    lots_most = min(split.lots_most, len(shares))
    best = sorted((share.most / share.alone for share in shares), reverse=True)[:lots_most]
    return replace(split, shares=shares, lots_most=lots_most) if len(shares) > 1 and math.fsum(best) >= 1.0 else None
