"""A choice made elsewhere as the search places orders: a week's ways and the choice in, placements out."""

from __future__ import annotations

import math

from shipping.assignment.columns import LineColumns, WeekColumns
from shipping.assignment.instance import Chosen, Drawn
from shipping.assignment.solution import FilledLine, Placement, Solution, placement, travel_modes_of
from shipping.words.keys import LineKey, grouped


def placements_of(week: WeekColumns, chosen: Chosen) -> dict[int, Placement]:
    """How a choice places its orders; without those that go where the week's ways know no place, or in a
    parcel of their own where the search would join them to one that then is too full.
    """
    units = {mode[0]: mode[2] for column in chosen.columns for mode in column.travel_modes}
    lines = grouped((key[0], chosen.drawn[key]) for key in sorted(chosen.drawn))
    solution = Solution(week)
    for number, name in enumerate(week.names):
        one = _placement(week, number, lines[name], units) if name in lines else None
        if one is not None and _fits(solution, one):
            solution.put(one)
    return solution.by_order


def _placement(
    week: WeekColumns, number: int, lines: list[Drawn], units: dict[LineKey, int]
) -> Placement | None:
    order = week.of(number)
    for at, departure in enumerate(order.departures):
        if departure.departure == lines[0].departure:
            filled = [_filled(week, order.lines, departure.lines, one, units[one.line]) for one in lines]
            if None not in filled:
                return placement(number, order, at, tuple(line for line in filled if line is not None))
    return None


def _filled(
    week: WeekColumns,
    keys: tuple[LineKey, ...],
    lines: tuple[LineColumns | None, ...],
    drawn: Drawn,
    units: int,
) -> FilledLine | None:
    """A line as it was filled, with its cost; None where it is no way of this place."""
    n, day = keys.index(drawn.line), week.days.index(drawn.departure[0])
    draws = tuple((week.lots.index(lot) * len(week.days) + day, eggs) for lot, eggs in drawn.draws)
    columns = lines[n]
    if columns is None:
        return None
    one_lot = columns.one_lot
    ways = zip(one_lot.at, one_lot.eggs, one_lot.units, one_lot.packing, columns.cost, strict=True)
    for at, eggs, alone_units, packing, cost in ways:
        if (((at, eggs),), alone_units, packing) == (draws, units, drawn.packing):
            return FilledLine(n, packing, units, draws, cost)
    for shared in columns.shared_fills:
        egg_cost = {at: cost for at, _, _, cost in shared.parts}
        is_it = shared.packing == drawn.packing and all(at in egg_cost for at, _ in draws)
        if is_it and len(draws) > 1 and units < len(shared.costs) and shared.costs[units] < math.inf:
            eggs_cost = sum(egg_cost[at] * eggs for at, eggs in draws)
            cost = columns.shared_cost + (shared.costs[units] + eggs_cost)
            return FilledLine(n, shared.packing, units, draws, cost)
    return None


def _fits(solution: Solution, one: Placement) -> bool:
    inside = solution.joins(one.order, one.at)
    is_left = all(solution.left[at] >= eggs for line in one.lines for at, eggs in line.draws)
    if inside is None or not is_left or (solution.room[one.day] <= 0 and not inside):
        return False
    modes = travel_modes_of(solution.week.of(one.order), one.lines)
    return solution.parcel_cost(one.order, one.at, modes, inside) < math.inf
