"""Each order in turn, oldest first, sent the cheapest way that is left: a week's ways in, that choice out;
nothing is moved.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import date

from shipping.assignment.columns import LineWays, PlaceWays, WeekWays
from shipping.assignment.instance import Chosen
from shipping.assignment.solution import Filled, Placed, Placing, modes_of, placing

#: Lines left behind, and what the order adds to the cost.
_Rank = tuple[int, float]


def oldest_order_first(week: WeekWays, placed_on: Mapping[str, date]) -> Chosen:
    """What is chosen where nobody looks ahead; its bound is infinite.

    Each order goes the cheapest way that is left at its turn and leaves the fewest of its lines behind, each
    line from one lot, in a parcel of its own or in one to its address that already goes. Where there is none,
    it stays.
    """
    placed = Placed(week)
    for number in sorted(range(len(week.names)), key=lambda n: (placed_on[week.names[n]], week.names[n])):
        found = cheapest_left(placed, number)
        if found is not None:
            placed.put(found)
    return placed.chosen(math.inf)


def cheapest_left(placed: Placed, number: int) -> Placing | None:
    """The cheapest placing of an order that leaves the fewest of its lines behind, each from one lot; None if
    none is left.
    """
    order = placed.week.of(number)
    best: _Rank = (len(order.lines), math.inf)
    found: Placing | None = None
    for at, place in enumerate(order.places):
        inside = placed.joins(number, at)
        is_dear = not order.may_split and place.least_cost >= best[1]
        if is_dear or inside is None or (placed.room[place.day] <= 0 and not inside):
            continue
        for lines in _picks(place, placed.left, order.may_split):
            lines_cost = math.fsum(line[4] for line in lines)
            missing = len(order.lines) - len(lines)
            if lines and (missing, lines_cost) < best:  # postage costs something, too
                cost = lines_cost + placed.parcel_cost(number, at, modes_of(order, lines), inside)
                if cost < math.inf and (missing, cost) < best:
                    best, found = (missing, cost), placing(number, order, at, lines)
    return found


def _picks(
    place: PlaceWays, left: list[int], may_split: bool, taken: tuple[Filled, ...] = (), n: int = 0
) -> Iterator[tuple[Filled, ...]]:
    """Every packing and units of each line, with the cheapest lot that has the eggs beside the order's
    earlier lines.
    """
    if n == len(place.lines):
        yield taken
        return
    ways = place.lines[n]
    for line in _of_each_mode(n, ways, left, taken) if ways is not None else ():
        yield from _picks(place, left, may_split, (*taken, line), n + 1)
    if may_split:
        yield from _picks(place, left, may_split, taken, n + 1)


def _of_each_mode(n: int, ways: LineWays, left: list[int], taken: tuple[Filled, ...]) -> list[Filled]:
    own: dict[int, int] = {}
    for *_, draws, _ in taken:
        for at, eggs in draws:
            own[at] = own.get(at, 0) + eggs
    singles = ways.singles
    found: dict[tuple[str, int], Filled] = {}
    columns = zip(singles.at, singles.eggs, singles.cost, singles.units, singles.packing, strict=True)
    for at, eggs, cost, units, packing in columns:
        if (packing, units) not in found and left[at] - own.get(at, 0) >= eggs:
            found[packing, units] = (n, packing, units, ((at, eggs),), cost)
    return list(found.values())
