"""Where an order fits in a week as placed so far: any place, to serve the most, or the cheapest; nothing is
moved for it.
"""

from __future__ import annotations

import math
from random import Random

from shipping.assignment.columns import LineWays, OrderWays, SplitWays
from shipping.assignment.mip import SAME
from shipping.assignment.solution import Filled, Placed, Placing, modes_of, placing

#: A place is passed over so often by chance, so that not always the same is found.
PASSED_OVER = 0.04
#: Shares that miss one by less make up one: sums of fractions are off by less, and those of whole eggs miss
#: it by more.
SHARES_SLACK = 1e-12


def any_placing(placed: Placed, number: int, chance: Random) -> Placing | None:
    """A place where an order fits, looked for from one of its places drawn by lot; its lots drawn by lot,
    too.
    """
    order = placed.week.of(number)
    count = len(order.places)
    start = int(chance.random() * count)
    for n in range(start, start + count):
        at = n if n < count else n - count
        place = order.places[at]
        inside = placed.joins(number, at)
        if inside is None or (placed.room[place.day] <= 0 and not inside):
            continue
        lines = _lines(placed, order, at, chance)
        if lines and placed.parcel_cost(number, at, modes_of(order, lines), inside) < math.inf:
            return placing(number, order, at, lines)
    return None


def cheapest_placing(placed: Placed, number: int, chance: Random | None = None) -> Placing | None:
    """The place where an order costs least and all of it goes that could; ``chance`` passes over a place now
    and then.
    """
    order = placed.week.of(number)
    best: tuple[tuple[float, float], Placing] | None = None
    is_alone = not placed.has_mates(number)
    for at in order.by_cost:
        place = order.places[at]
        if (
            best is not None
            and not order.may_split
            and best[0][1] <= (place.with_parcel if is_alone else place.least_cost)
        ):
            if is_alone:
                break
            continue
        inside = placed.joins(number, at)
        if inside is None or (placed.room[place.day] <= 0 and not inside):
            continue
        if chance is not None and chance.random() < PASSED_OVER:
            continue
        lines, parcel = _cheapest_lines(placed, number, at, inside)
        if not lines:
            continue
        found = placing(number, order, at, lines)
        rank = (-found.value, found.cost + parcel)
        if parcel < math.inf and (best is None or rank < best[0]):
            best = rank, found
    return best[1] if best else None


def _cheapest_lines(
    placed: Placed, number: int, at: int, inside: list[int]
) -> tuple[tuple[Filled, ...], float]:
    """An order's lines filled at a place so that they cost least with their parcel, and what that costs.

    Each line is first filled the cheapest way for itself, then changed to another packing where the parcel
    gains by more.
    """
    order = placed.week.of(number)
    if order.is_crossed:
        lines = _lines(placed, order, at, None)
        return lines, placed.parcel_cost(number, at, modes_of(order, lines), inside) if lines else math.inf
    able = [
        _cheapest_modes(n, one, placed.left) if one else [] for n, one in enumerate(order.places[at].lines)
    ]
    if not order.may_split and not all(able):
        return (), math.inf
    able = [modes for modes in able if modes]
    picked = [min(modes, key=_cost) for modes in able]
    parcel = placed.parcel_cost(number, at, modes_of(order, tuple(picked)), inside) if picked else math.inf
    for n, modes in enumerate(able):
        for mode in modes if len(modes) > 1 else ():
            tried = (*picked[:n], mode, *picked[n + 1 :])
            other = placed.parcel_cost(number, at, modes_of(order, tried), inside)
            if mode[4] + other < picked[n][4] + parcel - SAME or (parcel == math.inf > other):
                picked[n], parcel = mode, other
    return tuple(picked), parcel


def _cost(filled: Filled) -> float:
    return filled[4]


def _lines(placed: Placed, order: OrderWays, at: int, chance: Random | None) -> tuple[Filled, ...]:
    """An order's lines filled at a place, cheaply or, with ``chance``, any way; none where one cannot that
    must go too.
    """
    left = placed.left
    ways = order.places[at].lines
    if len(ways) == 1:  # mostly
        one = ways[0]
        found = _filled(0, one, left, chance) if one else None
        return (found,) if found else ()
    lines: list[Filled] = []
    for n, one in enumerate(ways):
        found = _filled(n, one, left, chance) if one else None
        if found is None:
            if order.may_split:
                continue
            _put_back(placed, order, lines)
            return ()
        lines.append(found)
        if order.is_crossed:
            for lot, eggs in found[3]:
                placed.draw(lot, eggs)
    _put_back(placed, order, lines)
    return tuple(lines)


def _put_back(placed: Placed, order: OrderWays, lines: list[Filled]) -> None:
    """Undo what was drawn to keep lines of one order from counting the same eggs."""
    if order.is_crossed:
        for line in lines:
            for lot, eggs in line[3]:
                placed.draw(lot, -eggs)


def _filled(line: int, ways: LineWays, left: list[int], chance: Random | None) -> Filled | None:
    """One line filled from what is left: cheaply, or any way, from one lot where one does."""
    return _cheapest_filled(line, ways, left) if chance is None else _any_filled(line, ways, left, chance)


def _any_filled(line: int, ways: LineWays, left: list[int], chance: Random) -> Filled | None:
    singles = ways.singles
    able = [n for n, (at, eggs) in enumerate(zip(singles.at, singles.eggs, strict=False)) if left[at] >= eggs]
    if able:
        n = able[int(chance.random() * len(able))]
        return (
            line,
            singles.packing[n],
            singles.units[n],
            ((singles.at[n], singles.eggs[n]),),
            singles.cost[n],
        )
    for split in ways.splits:
        found = shared_out(split, left)
        if found is not None:
            return line, split.packing, *found
    return None


def _cheapest_filled(line: int, ways: LineWays, left: list[int]) -> Filled | None:
    return min(_cheapest_modes(line, ways, left), key=_cost, default=None)


def _cheapest_modes(line: int, ways: LineWays, left: list[int]) -> list[Filled]:
    """A line filled from what is left, the cheapest way in each packing and number of units; shared where
    that is cheaper.
    """
    singles = ways.singles
    found: dict[tuple[str, int], Filled] = {}
    best: float = math.inf
    for n, (at, eggs) in enumerate(zip(singles.at, singles.eggs, strict=False)):
        if left[at] >= eggs:
            mode = singles.packing[n], singles.units[n]
            if mode not in found:
                found[mode] = (line, *mode, ((at, eggs),), singles.cost[n])
                best = min(best, singles.cost[n])
    for split in ways.splits if ways.least_split < best else ():
        if split.least_cost >= best:
            break
        shared = shared_out(split, left)
        if shared is not None and shared[2] < best:
            best = shared[2]
            found[(split.packing, shared[0])] = (line, split.packing, *shared)
    return list(found.values())


def shared_out(split: SplitWays, left: list[int]) -> tuple[int, tuple[tuple[int, int], ...], float] | None:
    """A line shared among lots: units, draws and cost; None where what is left does not do.

    The lots whose eggs cost least for the line come first, as many eggs of each as can be; where those do not
    do, the ones that have most of it.
    """
    least = split.least_draw
    able = []
    for at, alone, most, egg_cost in split.parts:
        eggs = left[at] if left[at] < most else most
        if eggs >= least:
            able.append((egg_cost * alone, at, alone, eggs, egg_cost))
    if len(able) < 2:
        return None
    most_lots = split.lots_most
    able.sort()
    cheapest = able[:most_lots]
    draws = _draws(cheapest, least)
    if draws is None and len(able) > most_lots:
        able.sort(key=lambda one: (-one[3] / one[2], one[0]))
        draws = _draws(sorted(able[:most_lots]), least)
    if draws is None:
        return None
    units, eggs_cost = 0, 0.0
    for _, eggs, egg_cost in draws:
        units += -(-eggs // split.eggs_max)
        eggs_cost += egg_cost * eggs
    cost = (split.costs[units] if units < len(split.costs) else math.inf) + eggs_cost
    return (units, tuple((at, eggs) for at, eggs, _ in draws), cost) if cost < math.inf else None


#: Cost, lot on a day, eggs that alone would do, eggs there are, cost of an egg.
_Able = tuple[float, int, int, int, float]


def _draws(able: list[_Able], least: int) -> list[tuple[int, int, float]] | None:
    """Whole eggs of two or more of these lots whose shares make up one, or None."""
    need = 1.0
    draws: list[list[float]] = []
    for _, at, alone, most, egg_cost in able:
        eggs = min(most, max(least, math.ceil(need * alone - SHARES_SLACK)))
        draws.append([at, eggs, egg_cost, alone])
        need -= eggs / alone
        if need <= SHARES_SLACK and len(draws) > 1:
            break
    if need > SHARES_SLACK or len(draws) < 2:
        return None
    for one in reversed(draws):  # what the least draws gave too much
        fewer = min(one[1] - least, math.floor(-need * one[3] + SHARES_SLACK))
        if fewer > 0:
            one[1] -= fewer
            need += fewer / one[3]
    return [(int(at), int(eggs), egg_cost) for at, eggs, egg_cost, _ in draws]
