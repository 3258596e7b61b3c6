"""Where an order fits in a week as placed: any place, the most, or the cheapest; nothing is moved for it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from random import Random

from shipping.assignment.columns import (
    DepartureColumns,
    LineColumns,
    LotAlone,
    OrderColumns,
    SeveralLotsColumns,
    SharedColumns,
)
from shipping.assignment.lagrangian_bound import SavingPrices
from shipping.assignment.mip import SAME
from shipping.assignment.solution import (
    NOBODY,
    FilledLine,
    Placement,
    Solution,
    placement,
    some_of,
    travel_modes_of,
)

#: A place is passed over so often by chance, so that not always the same is found.
PASSED_OVER = 0.04
#: So often a lot is taken that is left with least, and one of which least is needed.
BEST_FIT, FEWEST = 0.4, 0.4
#: So often a line is filled from a lot in any packing, else in the cheapest of those that take fewest eggs.
ANY_PACKING = 0.2
#: Other packings are tried where there are so many ways at most.
MOST_REPACKED = 64
#: So often a line is shared among lots drawn by lot, of which each gives any number of eggs.
LOOSELY = 0.5
#: The place where an order is worth most beyond its eggs is passed over so often at first.
POSTPONED = 0.25
#: So often lots share a line that one of them could fill.
SHARED_ANYWAY = 0.1
#: Shares that miss one by less make up one: sums of fractions are off by less, and those of whole eggs miss
#: it by more.
SHARES_SLACK = 1e-12

#: Cost, lot on a day, eggs that alone would do, eggs there are, cost of an egg.
_Able = tuple[float, int, int, int, float]
#: Units, lots on a day with their eggs, and cost.
_Shared = tuple[int, tuple[tuple[int, int], ...], float]


def any_placement(
    solution: Solution, number: int, chance: Random, places: Sequence[int] | None = None
) -> Placement | None:
    """The first of these places where an order fits, some of them drawn by lot put off to the end, or of all
    its places from one drawn by lot on; its lots drawn by lot, too.
    """
    order = solution.week.of(number)
    is_alone, room = not solution.has_mates(number), solution.room
    for at in _all_places(order, chance) if places is None else _mostly_first(places, chance):
        departure = order.departures[at]
        inside = NOBODY if is_alone else solution.joins(number, at)
        if inside is None or (room[departure.day] <= 0 and not inside):
            continue
        lines = _lines(solution, order, at, chance)
        if lines and not solution.is_sent(number, at, lines, inside):
            lines = _repacked(solution, number, at, lines, inside)
        if lines:
            return placement(number, order, at, lines)
    return None


def _repacked(
    solution: Solution, number: int, at: int, lines: tuple[FilledLine, ...], inside: list[int]
) -> tuple[FilledLine, ...]:
    """The same lines and lots in packings that the post takes, or none; of very many ways, some lines."""
    order, left = solution.week.of(number), solution.left
    if order.is_crossed:
        return ()
    each = []
    for line in lines:
        columns, (lot, _) = order.departures[at].lines[line.line], line.draws[0]
        assert columns is not None
        own = columns.one_lot
        ways = (n for n, at in enumerate(own.at) if at == lot) if len(line.draws) == 1 else ()
        packed = [_of_one_lot(line.line, columns, n) for n in ways if own.eggs[n] <= left[lot]]
        each.append(packed or [line])
    if inside:
        return _first_sent(solution, number, at, each, inside)
    key = (number, at, tuple([tuple([way[:3] for way in ways]) for ways in each]))
    known = solution.repacked.get(key)
    if known is None:
        taken = {line.line: line for line in _first_sent(solution, number, at, each, inside)}
        known = solution.repacked[key] = [
            (n, ways.index(taken[ways[0].line])) for n, ways in enumerate(each) if ways[0].line in taken
        ]
    return tuple([each[n][way] for n, way in known])


def _first_sent(
    solution: Solution, number: int, at: int, each: list[list[FilledLine]], inside: list[int]
) -> tuple[FilledLine, ...]:
    """The first of all ways that the post takes, or none; of very many, what is built up line by line."""
    if math.prod(map(len, each)) > MOST_REPACKED:
        return _built_up(solution, number, at, each, inside)
    return next((made for made in itertools.product(*each) if solution.is_sent(number, at, made, inside)), ())


def _built_up(
    solution: Solution, number: int, at: int, each: list[list[FilledLine]], inside: list[int]
) -> tuple[FilledLine, ...]:
    """What the post takes of these lines, packed one after the other, each like the one before it where that
    is taken, from every packing on; the most valuable of it, and all of an order that may not split, or none.
    """
    order, most = solution.week.of(number), 0.0
    best: tuple[FilledLine, ...] = ()
    for first in dict.fromkeys(way.packing for ways in each for way in ways):
        made: tuple[FilledLine, ...] = ()
        for ways in each:
            alike = sorted(ways, key=lambda way: way.packing != first)
            longer = ((*made, way) for way in alike)
            made = next((way for way in longer if solution.is_sent(number, at, way, inside)), made)
            if not (made and made[-1].line == ways[0].line) and not order.may_split:
                break
        worth = sum(order.value[line.line] for line in made)
        if worth > most and (order.may_split or len(made) == len(each)):
            best, most = made, worth
    return best


def _all_places(order: OrderColumns, chance: Random) -> Iterable[int]:
    count = len(order.departures)
    start = int(chance.random() * count)
    return (*range(start, count), *range(start))


def _mostly_first(places: Sequence[int], chance: Random) -> Iterator[int]:
    """These places, of which some drawn by lot come last."""
    random, postponed = chance.random, []
    for at in places:
        if random() < POSTPONED:
            postponed.append(at)
        else:
            yield at
    yield from postponed


def places_by_profit(order: OrderColumns, prices: Sequence[float]) -> tuple[int, ...]:
    """Numbers of an order's places, those first where its lines are worth most beyond their eggs.

    ``prices``: of an egg of each lot on each day, by its number. What an order is worth beyond the prices of
    a relaxation is its pseudo-utility (Pirkul 1987, Naval Res. Logist. 34, 161-172).
    """
    profit = [
        math.fsum(
            order.value[n] - _least_price(line, prices)
            for n, line in enumerate(departure.lines)
            if line is not None
        )
        for departure in order.departures
    ]
    return tuple(sorted(range(len(profit)), key=lambda at: (-profit[at], at)))


def places_enough(order: OrderColumns) -> frozenset[int]:
    """Numbers of an order's places without those that ask for as much or more than another of the day.

    A parcel of several lines may still fit only one that is left out.
    """
    kept: list[int] = []
    for at in sorted(
        order.by_cost,
        key=lambda at: sum(len(one.one_lot.at) for one in order.departures[at].lines if one),
        reverse=True,
    ):
        place = order.departures[at]
        if not any(_asks_no_more(order.departures[other], place) for other in kept):
            kept = [other for other in kept if not _asks_no_more(place, order.departures[other])] + [at]
    return frozenset(kept)


def _asks_no_more(one: DepartureColumns, other: DepartureColumns) -> bool:
    return one.day == other.day and all(
        line is None or (own is not None and own.asks_no_more(line))
        for own, line in zip(one.lines, other.lines, strict=True)
    )


def _least_price(line: LineColumns, prices: Sequence[float]) -> float:
    """What the eggs of one lot that would do are worth at the least."""
    if line.one_lot.at:
        return min(prices[at] * eggs for at, eggs, _, _ in line.one_lot.by_lot)
    return min((prices[at] * eggs for shares in line.several.shares for at, eggs, _ in shares), default=0.0)


def cheapest_placement(
    solution: Solution, number: int, chance: Random | None = None, prices: SavingPrices | None = None
) -> Placement | None:
    """The place where most of an order goes and costs least, with ``prices`` on top of what eggs and room are
    worth to others; ``chance`` passes over one now and then.
    """
    order = solution.week.of(number) if prices is None else prices.of(number)
    best: tuple[tuple[float, float], Placement] | None = None
    is_alone = not solution.has_mates(number)
    for at in order.by_cost:
        departure = order.departures[at]
        if (
            best is not None
            and not order.may_split
            and best[0][1] <= (departure.with_parcel if is_alone else departure.least_cost)
        ):
            if is_alone:
                break
            continue
        inside = solution.joins(number, at)
        if inside is None or (solution.room[departure.day] <= 0 and not inside):
            continue
        if chance is not None and chance.random() < PASSED_OVER:
            continue
        lines, parcel = _cheapest_lines(solution, order, number, at, inside)
        if not lines:
            continue
        found = placement(number, order, at, lines)
        room = 0.0 if prices is None or inside else prices.of_day[departure.day]
        rank = (-found.value, found.cost + parcel + room)
        if parcel < math.inf and (best is None or rank < best[0]):
            best = rank, found
    if best is None:
        return None
    return best[1] if prices is None else prices.without(best[1])


def _cheapest_lines(
    solution: Solution, order: OrderColumns, number: int, at: int, inside: list[int]
) -> tuple[tuple[FilledLine, ...], float]:
    """An order's lines filled at a place so that they cost least with their parcel, and what that costs.

    Each line is first filled the cheapest way for itself, then changed to another packing where the parcel
    gains by more.
    """
    if order.is_crossed:
        lines = _lines(solution, order, at, None)
        return lines, solution.parcel_cost(
            number, at, travel_modes_of(order, lines), inside
        ) if lines else math.inf
    able = []
    for n, one in enumerate(order.departures[at].lines):
        if travel_modes := _cheapest_modes(n, one, solution.left) if one else []:
            able.append(travel_modes)
        elif not order.may_split:
            return (), math.inf
    picked = [min(travel_modes, key=_cost) for travel_modes in able]
    parcel = (
        solution.parcel_cost(number, at, travel_modes_of(order, tuple(picked)), inside)
        if picked
        else math.inf
    )
    for n, travel_modes in enumerate(able):
        for travel_mode in travel_modes:
            if travel_mode is picked[n]:
                continue
            tried = (*picked[:n], travel_mode, *picked[n + 1 :])
            other = solution.parcel_cost(number, at, travel_modes_of(order, tried), inside)
            if travel_mode.cost + other < picked[n].cost + parcel - SAME or (parcel == math.inf > other):
                picked[n], parcel = travel_mode, other
    return tuple(picked), parcel


def _cost(filled: FilledLine) -> float:
    return filled.cost


def _lines(solution: Solution, order: OrderColumns, at: int, chance: Random | None) -> tuple[FilledLine, ...]:
    """An order's lines filled at a place, cheaply or by ``chance``; none where one that must cannot."""
    left, columns = solution.left, order.departures[at].lines
    if chance is not None and not (order.may_split or order.is_crossed):  # mostly
        return _together(columns, left, chance)
    lines: list[FilledLine] = []
    for n, one in enumerate(columns):
        found = _filled(n, one, left, chance) if one else None
        if found is None:
            if order.may_split:
                continue
            _put_back(solution, order, lines)
            return ()
        lines.append(found)
        if order.is_crossed:
            for lot, eggs in found.draws:
                solution.draw(lot, eggs)
    _put_back(solution, order, lines)
    return tuple(lines)


def _together(
    columns: Sequence[LineColumns | None], left: list[int], chance: Random
) -> tuple[FilledLine, ...]:
    """Lines that go together and want no lot twice, filled any way, or none; who cannot is found early."""
    each: list[tuple[LineColumns, list[LotAlone]]] = []
    for one in columns:
        able = _able(one, left) if one else None
        if one is None or able is None:
            return ()
        each.append((one, able))
    lines = []
    for n, (line, able) in enumerate(each):
        filled = _any_filled(n, line, able, left, chance)
        if filled is None:
            return ()
        lines.append(filled)
    return tuple(lines)


def _put_back(solution: Solution, order: OrderColumns, lines: list[FilledLine]) -> None:
    """Undo what was drawn to keep lines of one order from counting the same eggs."""
    if order.is_crossed:
        for line in lines:
            for lot, eggs in line.draws:
                solution.draw(lot, -eggs)


def _filled(line: int, columns: LineColumns, left: list[int], chance: Random | None) -> FilledLine | None:
    """One line filled from what is left: cheaply, or any way, from one lot where one does."""
    if chance is None:
        return min(_cheapest_modes(line, columns, left), key=_cost, default=None)
    able = _able(columns, left)
    return None if able is None else _any_filled(line, columns, able, left, chance)


def _able(columns: LineColumns, left: list[int]) -> list[LotAlone] | None:
    """The lots of which one does, none where several together may; None where a line cannot be filled."""
    able = [one for one in columns.one_lot.by_lot if left[one[0]] >= one[1]]
    return able if able or (columns.least_shared < math.inf and _is_enough(columns.several, left)) else None


def _any_filled(
    line: int, columns: LineColumns, able: list[LotAlone], left: list[int], chance: Random
) -> FilledLine | None:
    """A line filled any way: from one lot that can, now and then from several, as that leaves other rests."""
    if columns.least_shared < math.inf and (not able or chance.random() < SHARED_ANYWAY):
        for shared_fill in columns.shared_fills:
            found = shared_out(shared_fill, left, chance if able or chance.random() < LOOSELY else None)
            if found is not None:
                return _of_several(line, columns, shared_fill, found)
    if not able:
        return None
    at, _, start, end = able[0] if len(able) == 1 else _one_lot(able, left, chance)
    n = start
    if end > start + 1 and chance.random() < ANY_PACKING:
        n += int(chance.random() * (end - start))
        if columns.one_lot.eggs[n] > left[at]:
            n = start
    return _of_one_lot(line, columns, n)


def _of_one_lot(line: int, columns: LineColumns, n: int) -> FilledLine:
    """A line filled from one lot, by the number of the way."""
    own = columns.one_lot
    return FilledLine(line, own.packing[n], own.units[n], ((own.at[n], own.eggs[n]),), columns.cost[n])


def _of_several(line: int, columns: LineColumns, shared_fill: SharedColumns, shared: _Shared) -> FilledLine:
    units, draws, cost = shared
    return FilledLine(line, shared_fill.packing, units, draws, columns.shared_cost + cost)


def _is_enough(several: SeveralLotsColumns, left: list[int]) -> bool:
    """May what is left of several lots that go together make up a line, however packed?"""
    least = several.least_draw
    for shares in several.shares:
        together = 0.0
        for at, alone, most in shares:
            eggs = left[at] if left[at] < most else most
            if eggs >= least:
                together += eggs / alone
        if together >= 1.0 - SHARES_SLACK:
            return True
    return False


def _one_lot(able: list[LotAlone], left: list[int], chance: Random) -> LotAlone:
    """One of the lots that do: the one left with least, the one of which least is needed, or any; as it
    falls.

    Notes
    -----
    Best fit (Johnson et al. 1974, SIAM J. Comput. 3, 299-325): rests too small for anybody are few so.
    """
    how = chance.random()
    if how < BEST_FIT:
        return min(able, key=lambda one: (left[one[0]] - one[1], one[:2]))
    if how < BEST_FIT + FEWEST:
        return min(able, key=lambda one: (one[1], left[one[0]], one[0]))
    return able[int(chance.random() * len(able))]


def _cheapest_modes(line: int, columns: LineColumns, left: list[int]) -> list[FilledLine]:
    """A line filled from what is left, the cheapest way by packing and units, shared where that is it."""
    own, best = columns.one_lot, math.inf
    found: dict[tuple[str, int], FilledLine] = {}
    for n in columns.by_cost:
        if left[own.at[n]] >= own.eggs[n]:
            travel_mode = own.packing[n], own.units[n]
            if travel_mode not in found:
                found[travel_mode] = _of_one_lot(line, columns, n)
                best = min(best, columns.cost[n])
                if len(found) == own.travel_modes:
                    break
    may_be_shared = columns.least_shared < best and _is_enough(columns.several, left)
    for shared_fill in columns.shared_fills if may_be_shared else ():
        if columns.shared_cost + shared_fill.least_cost >= best:
            break
        shared = shared_out(shared_fill, left)
        if shared is not None and columns.shared_cost + shared[2] < best:
            filled = _of_several(line, columns, shared_fill, shared)
            best, found[filled.packing, filled.units] = filled.cost, filled
    return list(found.values())


def shared_out(shared_fill: SharedColumns, left: list[int], chance: Random | None = None) -> _Shared | None:
    """A line shared among lots: units, draws and cost; None where what is left does not do.

    The lots whose eggs cost least for the line come first, as many eggs of each as can be; where those do not
    do, the ones that have most of it. With ``chance``, lots and eggs are drawn by lot at first, so that rests
    of all sizes come about.
    """
    least = shared_fill.least_draw
    able = []
    together = 0.0
    for at, alone, most, egg_cost in shared_fill.parts:
        eggs = left[at] if left[at] < most else most
        if eggs >= least:
            able.append((egg_cost * alone, at, alone, eggs, egg_cost))
            together += eggs / alone
    if len(able) < 2 or together < 1.0 - SHARES_SLACK:
        return None
    most_lots, found = shared_fill.lots_most, None
    if chance is not None:
        found = _packed(shared_fill, some_of(able, most_lots, chance), chance)
    if found is None:
        able.sort()
        found = _packed(shared_fill, able[:most_lots])
    if found is None and len(able) > most_lots:
        able.sort(key=lambda one: (-one[3] / one[2], one[0]))
        found = _packed(shared_fill, sorted(able[:most_lots]))
    return found


def _packed(shared_fill: SharedColumns, able: list[_Able], chance: Random | None = None) -> _Shared | None:
    """A line shared among these lots; where units would be more, each lot gives full ones if cheaper."""
    eggs_max = shared_fill.eggs_max
    draws = _draws(able, shared_fill.least_draw, chance)
    if draws is None:
        return None
    found = _priced(shared_fill, draws)
    if found[0] > -(-sum([one[1] for one in draws]) // eggs_max):
        full = [
            (*one[:3], one[3] - one[3] % eggs_max if one[3] > eggs_max else one[3], one[4]) for one in able
        ]
        draws = _draws(full, shared_fill.least_draw)
        if draws is not None:
            found = min(found, _priced(shared_fill, draws), key=lambda one: one[2])
    return found if found[2] < math.inf else None


def _priced(shared_fill: SharedColumns, draws: list[tuple[int, int, float]]) -> _Shared:
    units, eggs_cost = 0, 0.0
    for _, eggs, egg_cost in draws:
        units += -(-eggs // shared_fill.eggs_max)
        eggs_cost += egg_cost * eggs
    cost = (shared_fill.costs[units] if units < len(shared_fill.costs) else math.inf) + eggs_cost
    return units, tuple([(at, eggs) for at, eggs, _ in draws]), cost


def _draws(
    able: list[_Able], least: int, chance: Random | None = None
) -> list[tuple[int, int, float]] | None:
    """Whole eggs of two lots or more whose shares make up one, or None: as many as can be, or any."""
    need = 1.0
    draws: list[list[float]] = []
    for _, at, alone, most, egg_cost in able:
        eggs = min(most, max(least, math.ceil(need * alone - SHARES_SLACK)))
        if chance is not None and not draws:
            eggs -= int(chance.random() * (eggs - least + 1))
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
