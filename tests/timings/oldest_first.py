"""Each order in turn, oldest first, sent the cheapest way that is left: a week's ways in, that choice out;
nothing is moved.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import date

from shipping.assignment.columns import DepartureColumns, LineColumns, WeekColumns
from shipping.assignment.instance import Chosen
from shipping.assignment.solution import FilledLine, Placement, Solution, placement, travel_modes_of

#: Lines left behind, and what the order adds to the cost.
_Rank = tuple[int, float]


def oldest_order_first(week: WeekColumns, placed_on: Mapping[str, date]) -> Chosen:
    """What is chosen where nobody looks ahead; its bound is infinite.

    Each order goes the cheapest way that is left at its turn and leaves the fewest of its lines behind, each
    line from one lot, in a parcel of its own or in one to its address that already goes. Where there is none,
    it stays.
    """
    solution = Solution(week)
    for number in sorted(range(len(week.names)), key=lambda n: (placed_on[week.names[n]], week.names[n])):
        found = cheapest_left(solution, number)
        if found is not None:
            solution.put(found)
    return solution.chosen(math.inf)


def cheapest_left(solution: Solution, number: int) -> Placement | None:
    """The cheapest placing of an order that leaves the fewest of its lines behind, each from one lot; None if
    none is left.
    """
    order = solution.week.of(number)
    best: _Rank = (len(order.lines), math.inf)
    found: Placement | None = None
    for at, departure in enumerate(order.departures):
        inside = solution.joins(number, at)
        is_dear = not order.may_split and departure.least_cost >= best[1]
        if is_dear or inside is None or (solution.room[departure.day] <= 0 and not inside):
            continue
        for lines in _picks(departure, solution.left, order.may_split):
            lines_cost = math.fsum(line[4] for line in lines)
            missing = len(order.lines) - len(lines)
            if lines and (missing, lines_cost) < best:  # postage costs something, too
                cost = lines_cost + solution.parcel_cost(number, at, travel_modes_of(order, lines), inside)
                if cost < math.inf and (missing, cost) < best:
                    best, found = (missing, cost), placement(number, order, at, lines)
    return found


def _picks(
    departure: DepartureColumns,
    left: list[int],
    may_split: bool,
    taken: tuple[FilledLine, ...] = (),
    n: int = 0,
) -> Iterator[tuple[FilledLine, ...]]:
    """Every packing and units of each line, with the cheapest lot that has the eggs beside the order's
    earlier lines.
    """
    if n == len(departure.lines):
        yield taken
        return
    columns = departure.lines[n]
    for line in _of_each_mode(n, columns, left, taken) if columns is not None else ():
        yield from _picks(departure, left, may_split, (*taken, line), n + 1)
    if may_split:
        yield from _picks(departure, left, may_split, taken, n + 1)


def _of_each_mode(
    n: int, columns: LineColumns, left: list[int], taken: tuple[FilledLine, ...]
) -> list[FilledLine]:
    own: dict[int, int] = {}
    for line in taken:
        for at, eggs in line.draws:
            own[at] = own.get(at, 0) + eggs
    one_lot = columns.one_lot
    found: dict[tuple[str, int], FilledLine] = {}
    for way in columns.by_cost:
        at, eggs, mode = one_lot.at[way], one_lot.eggs[way], (one_lot.packing[way], one_lot.units[way])
        if mode not in found and left[at] - own.get(at, 0) >= eggs:
            found[mode] = FilledLine(n, *mode, ((at, eggs),), columns.cost[way])
    return list(found.values())
