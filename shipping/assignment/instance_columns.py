"""Ways of orders given as numbers, and the week as numbers for some: a task in, ways or a task out."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import partial

from shipping.assignment.columns import (
    UNLIMITED,
    DepartureColumns,
    LineColumns,
    OneLotColumns,
    OrderColumns,
    WeekColumns,
    order_columns,
    several_lots,
    shared_columns,
)
from shipping.assignment.instance import Departure, Instance, OneLotFill, SharedFill, TravelMode
from shipping.words.keys import LineKey, UnionFind, grouped, numbered


def columns_of_instance(instance: Instance) -> WeekColumns:
    """The ways of a week given as numbers."""
    days = tuple(
        sorted({day for _, day in instance.free} | {column.departure[0] for column in instance.columns})
    )
    lots = tuple(sorted({lot for lot, _ in instance.free}))
    names = tuple(sorted({order for column in instance.columns for order in column.orders}))
    costs: dict[tuple[frozenset[str], Departure, frozenset[TravelMode]], float] = {}
    together = UnionFind()
    joins: set[str] = set()
    may_split: dict[str, set[frozenset[LineKey]]] = {}
    for column in instance.columns:
        costs[(frozenset(column.orders), column.departure, frozenset(column.travel_modes))] = column.cost
        for order in column.orders:
            together.link(column.orders[0], order)
        joins |= set(column.orders) if len(column.orders) > 1 else set()
        if len(column.orders) == 1:
            may_split.setdefault(column.orders[0], set()).add(
                frozenset(travel_mode[0] for travel_mode in column.travel_modes)
            )
    fills = grouped((fill.line[0], fill) for fill in instance.fills)
    shared_fills = grouped((shared_fill.line[0], shared_fill) for shared_fill in instance.shared_fills)
    day, lot = {one: n for n, one in enumerate(days)}, {one: n for n, one in enumerate(lots)}

    def cost(orders: tuple[str, ...], departure: Departure, travel_modes: tuple[TravelMode, ...]) -> float:
        return costs.get((frozenset(orders), departure, frozenset(travel_modes)), math.inf)

    def make(number: int) -> OrderColumns:
        name = names[number]
        own = _lines_of_instance(fills.get(name, ()), shared_fills.get(name, ()), lot, day)
        keys = tuple(sorted(own))
        worth = tuple(instance.value[key] for key in keys), tuple(instance.age[key] for key in keys)
        lines = [own[key] for key in keys]
        drawn_on = [
            frozenset(at // len(days) for columns in line.values() for at, _ in _eggs_of(columns))
            for line in lines
        ]
        return order_columns(
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

    return WeekColumns(
        days,
        lots,
        [instance.free.get((one, on), 0) for one in lots for on in days],
        [UNLIMITED if instance.parcels_a_day is None else instance.room(on) for on in days],
        names,
        numbered(together.family(name) for name in names),
        make,
        cost,
        lambda orders: part_of(instance, orders),
    )


def part_of(instance: Instance, orders: Collection[str]) -> Instance:
    """The week as numbers for some of its orders."""
    names = frozenset(orders)
    return Instance(
        tuple(fill for fill in instance.fills if fill.line[0] in names),
        tuple(shared_fill for shared_fill in instance.shared_fills if shared_fill.line[0] in names),
        tuple(column for column in instance.columns if names.issuperset(column.orders)),
        instance.value,
        instance.age,
        instance.free,
        instance.parcels_a_day,
        instance.parcels_made,
        instance.is_whole,
    )


def _lines_of_instance(
    fills: Iterable[OneLotFill],
    shared_fills: Iterable[SharedFill],
    lot: Mapping[str, int],
    day: Mapping[date, int],
) -> dict[LineKey, dict[Departure, LineColumns]]:
    one_lot: dict[tuple[LineKey, Departure], list[tuple[int, int, float, int, str]]] = {}
    width = len(day)
    for one in fills:
        cell = (lot[one.lot] * width + day[one.departure[0]], one.eggs, one.cost, one.units, one.packing)
        one_lot.setdefault((one.line, one.departure), []).append(cell)
    groups: dict[tuple[LineKey, Departure], dict[tuple[object, ...], list[SharedFill]]] = {}
    for shared_fill in shared_fills:
        groups.setdefault((shared_fill.line, shared_fill.departure), {}).setdefault(
            (shared_fill.packing, shared_fill.shares), []
        ).append(shared_fill)
    found: dict[LineKey, dict[Departure, LineColumns]] = {}
    for key in sorted(one_lot.keys() | groups.keys()):
        shared = []
        for alike in groups.get(key, {}).values():
            costs = {shared_fill.units: shared_fill.cost for shared_fill in alike}
            first, on = alike[0], day[key[1][0]]
            parts = tuple((lot[s.lot] * width + on, s.alone, s.most, s.egg_cost) for s in first.shares)
            by_units = tuple(costs.get(units, math.inf) for units in range(max(costs) + 1))
            shared.append(
                shared_columns(
                    first.packing, first.eggs_max, by_units, first.lots_most, first.least_draw, parts
                )
            )
        least = min((shared_fill.least_cost for shared_fill in shared), default=math.inf)
        own = _columns(one_lot.get(key, []))
        columns = LineColumns(*own, 0.0, least, partial(several_lots, shared))
        found.setdefault(key[0], {})[key[1]] = columns
    return found


def _columns(one_lot: list[tuple[int, int, float, int, str]]) -> tuple[OneLotColumns, Sequence[float]]:
    """Lot on a day, eggs, cost, units and packing of each as columns, with the cost by itself."""
    if not one_lot:
        return OneLotColumns(), ()
    at, eggs, cost, units, packing = zip(*sorted(one_lot), strict=True)
    return OneLotColumns(at, eggs, units, packing), cost


def _eggs_of(columns: LineColumns) -> Iterator[tuple[int, int]]:
    """Lots on a day and eggs that would do."""
    yield from zip(columns.one_lot.at, columns.one_lot.eggs, strict=True)
    yield from ((part[0], part[1]) for shared_fill in columns.shared_fills for part in shared_fill.parts)


def _needs(departures: tuple[DepartureColumns, ...]) -> list[dict[int, int]]:
    """Of each line the fewest eggs that would do, by lot on a day."""
    needs: list[dict[int, int]] = [{} for _ in (departures[0].lines if departures else ())]
    for departure in departures:
        for least, columns in zip(needs, departure.lines, strict=True):
            for at, eggs in _eggs_of(columns) if columns is not None else ():
                least[at] = min(least.get(at, eggs), eggs)
    return needs
