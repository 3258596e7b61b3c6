"""The ways of orders of a week given as numbers, and the week as numbers for some of them: a task in, ways or
a task out.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import date
from functools import partial

from shipping.assignment.columns import (
    UNLIMITED,
    LineWays,
    OrderWays,
    PlaceWays,
    Singles,
    WeekWays,
    numbered,
    order_ways,
    split_ways,
)
from shipping.assignment.instance import Filling, Mode, Place, Split, Task
from shipping.assignment.union_find import Linked
from shipping.words.keys import LineKey


def ways_of_task(task: Task) -> WeekWays:
    """The ways of a week given as numbers."""
    days = tuple(sorted({day for _, day in task.free} | {way.place[0] for way in task.ways}))
    lots = tuple(sorted({lot for lot, _ in task.free}))
    names = tuple(sorted({order for way in task.ways for order in way.orders}))
    costs: dict[tuple[frozenset[str], Place, frozenset[Mode]], float] = {}
    together = Linked()
    joins: set[str] = set()
    may_split: dict[str, set[frozenset[LineKey]]] = {}
    for way in task.ways:
        costs[(frozenset(way.orders), way.place, frozenset(way.modes))] = way.cost
        for order in way.orders:
            together.link(way.orders[0], order)
        joins |= set(way.orders) if len(way.orders) > 1 else set()
        if len(way.orders) == 1:
            may_split.setdefault(way.orders[0], set()).add(frozenset(mode[0] for mode in way.modes))
    fillings: dict[str, list[Filling]] = {}
    splits: dict[str, list[Split]] = {}
    for filling in task.fillings:
        fillings.setdefault(filling.line[0], []).append(filling)
    for split in task.splits:
        splits.setdefault(split.line[0], []).append(split)
    day, lot = {one: n for n, one in enumerate(days)}, {one: n for n, one in enumerate(lots)}

    def cost(orders: tuple[str, ...], place: Place, modes: tuple[Mode, ...]) -> float:
        return costs.get((frozenset(orders), place, frozenset(modes)), math.inf)

    def make(number: int) -> OrderWays:
        name = names[number]
        own = _lines_of_task(fillings.get(name, ()), splits.get(name, ()), lot, day)
        keys = tuple(sorted(own))
        worth = tuple(task.value[key] for key in keys), tuple(task.age[key] for key in keys)
        lines = [own[key] for key in keys]
        drawn_on = [
            frozenset(at // len(days) for ways in line.values() for at, _ in _eggs_of(ways)) for line in lines
        ]
        return order_ways(
            name,
            keys,
            worth,
            len(may_split.get(name, ())) > 1,
            lines,
            drawn_on,
            day,
            cost,
            name not in joins,
            _needs,
        )

    return WeekWays(
        days,
        lots,
        [task.free.get((one, on), 0) for one in lots for on in days],
        [UNLIMITED if task.parcels_a_day is None else task.room(on) for on in days],
        names,
        numbered(together.family(name) for name in names),
        make,
        cost,
        lambda orders: part_of(task, orders),
    )


def part_of(task: Task, orders: Collection[str]) -> Task:
    """The week as numbers for some of its orders."""
    names = frozenset(orders)
    return Task(
        tuple(filling for filling in task.fillings if filling.line[0] in names),
        tuple(split for split in task.splits if split.line[0] in names),
        tuple(way for way in task.ways if names.issuperset(way.orders)),
        task.value,
        task.age,
        task.free,
        task.parcels_a_day,
        task.parcels_made,
    )


def _lines_of_task(
    fillings: Iterable[Filling], splits: Iterable[Split], lot: Mapping[str, int], day: Mapping[date, int]
) -> dict[LineKey, dict[Place, LineWays]]:
    singles: dict[tuple[LineKey, Place], list[tuple[float, int, int, int, str]]] = {}
    width = len(day)
    for one in fillings:
        cell = (one.cost, lot[one.lot] * width + day[one.place[0]], one.eggs, one.units, one.packing)
        singles.setdefault((one.line, one.place), []).append(cell)
    groups: dict[tuple[LineKey, Place], dict[tuple[object, ...], list[Split]]] = {}
    for split in splits:
        groups.setdefault((split.line, split.place), {}).setdefault((split.packing, split.shares), []).append(
            split
        )
    found: dict[LineKey, dict[Place, LineWays]] = {}
    for key in sorted(singles.keys() | groups.keys()):
        shared = []
        for alike in groups.get(key, {}).values():
            costs = {split.units: split.cost for split in alike}
            first, on = alike[0], day[key[1][0]]
            parts = tuple((lot[s.lot] * width + on, s.alone, s.most, s.egg_cost) for s in first.shares)
            by_units = tuple(costs.get(units, math.inf) for units in range(max(costs) + 1))
            shared.append(
                split_ways(first.packing, first.eggs_max, by_units, first.lots_most, first.least_draw, parts)
            )
        least = min((split.least_cost for split in shared), default=math.inf)
        ways = LineWays(_columns(singles.get(key, [])), least, partial(tuple, shared))
        found.setdefault(key[0], {})[key[1]] = ways
    return found


def _columns(singles: list[tuple[float, int, int, int, str]]) -> Singles:
    """Cost, lot on a day, eggs, units and packing of each as columns, the cheapest first."""
    if not singles:
        return Singles()
    cost, at, eggs, units, packing = zip(*sorted(singles), strict=True)
    return Singles(at, eggs, cost, units, packing)


def _eggs_of(ways: LineWays) -> Iterator[tuple[int, int]]:
    """Lots on a day and eggs that would do."""
    yield from zip(ways.singles.at, ways.singles.eggs, strict=True)
    yield from ((part[0], part[1]) for split in ways.splits for part in split.parts)


def _needs(places: tuple[PlaceWays, ...]) -> list[dict[int, int]]:
    """Of each line the fewest eggs that would do, by lot on a day."""
    needs: list[dict[int, int]] = [{} for _ in (places[0].lines if places else ())]
    for place in places:
        for least, ways in zip(needs, place.lines, strict=True):
            for at, eggs in _eggs_of(ways) if ways is not None else ():
                least[at] = min(least.get(at, eggs), eggs)
    return needs
