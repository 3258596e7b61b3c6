"""A week's orders as placed so far: put in and out in microseconds; eggs, room, value and cost at hand; and a
choice made elsewhere as placements.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from random import Random
from typing import NamedTuple, TypeVar

from shipping.assignment.columns import LineColumns, OrderColumns, WeekColumns
from shipping.assignment.instance import MOST_JOINED, Chosen, Departure, Drawn, ParcelColumn, TravelMode
from shipping.words.keys import LineKey, grouped

Thing = TypeVar("Thing")


class RandomSet:
    """Different numbers: put in, taken out and drawn by lot in the same time however many there are."""

    def __init__(self) -> None:
        self._numbers: list[int] = []
        self._at: dict[int, int] = {}

    def __len__(self) -> int:
        return len(self._numbers)

    def __iter__(self) -> Iterator[int]:
        return iter(tuple(self._numbers))

    def add(self, number: int) -> None:
        """Put a number in, if it is not there."""
        if number not in self._at:
            self._at[number] = len(self._numbers)
            self._numbers.append(number)

    def discard(self, number: int) -> None:
        """Take a number out, if it is there."""
        at = self._at.pop(number, None)
        if at is not None:
            last = self._numbers.pop()
            if last != number:
                self._numbers[at], self._at[last] = last, at

    def one(self, chance: Random) -> int:
        """One of the numbers; there must be some."""
        return self._numbers[int(chance.random() * len(self._numbers))]

    def some(self, chance: Random, most: int) -> list[int]:
        """So many of the numbers, or all where there are fewer."""
        return some_of(self._numbers, most, chance)


def some_of(things: Sequence[Thing], most: int, chance: Random) -> list[Thing]:
    """So many of some things in an order drawn by lot, or all where fewer; faster than the library.

    The first steps of a shuffle (Fisher and Yates), which note what they exchange: things may be many.
    """
    picked: list[Thing] = []
    exchanged: dict[int, Thing] = {}
    count, random = len(things), chance.random
    for n in range(min(most, count)):
        other = n + int(random() * (count - n))
        picked.append(exchanged.get(other, things[other]))
        exchanged[other] = exchanged.get(n, things[n])
    return picked


class FilledLine(NamedTuple):
    """A line by its number, as filled; ``draws``: lots on a day with eggs; ``cost`` without the parcel."""

    line: int
    packing: str
    units: int
    draws: tuple[tuple[int, int], ...]
    cost: float


_NONE_DRAWN = 10**9
#: The orders in a parcel that is not yet made.
NOBODY: list[int] = []


@dataclass(frozen=True, slots=True)
class Placement:
    """An order, a place of it, a day, by number; lines, their cost without the parcel, worth, all draws."""

    order: int
    at: int
    day: int
    lines: tuple[FilledLine, ...]
    cost: float
    value: float
    age: float
    draws: tuple[tuple[int, int], ...]


def placement(number: int, order: OrderColumns, at: int, lines: tuple[FilledLine, ...]) -> Placement:
    """An order's lines as filled at one of its places."""
    if len(lines) == 1:  # mostly
        line = lines[0]
        value, age, cost, draws = order.value[line.line], order.age[line.line], line.cost, line.draws
    else:
        value, age, cost, draws = 0.0, 0.0, 0.0, ()
        for line in lines:
            value += order.value[line.line]
            age += order.age[line.line]
            cost += line.cost
            draws += line.draws
    return Placement(number, at, order.departures[at].day, lines, cost, value, age, draws)


@dataclass(eq=False)
class Solution:
    """What is placed. ``left``: eggs to draw by lot on a day; ``room``: parcels that each day still takes."""

    week: WeekColumns
    by_order: dict[int, Placement] = field(default_factory=dict)
    value: float = 0.0
    age: float = 0.0
    cost: float = 0.0
    counts_cost: bool = True

    def __post_init__(self) -> None:
        self.width = len(self.week.days)
        self.left = list(self.week.free)
        self.room = list(self.week.room)
        #: Orders that draw on a lot, and that go on a day.
        self.drawing: list[set[int]] = [set() for _ in self.week.lots]
        self.on_day = [RandomSet() for _ in self.week.days]
        self._drawn = [0] * len(self.left)
        #: Of each lot drawn from since something was begun, by its first number, what was drawn and left.
        self._before: dict[int, tuple[list[int], list[int]]] = {}
        self._parcels: dict[tuple[int, str, int], list[int]] = {}
        #: What the parcel of an order costs that no other may join.
        self._postage: dict[int, float] = {}
        self._is_alone = [mates == 1 for mates in self.week.mates]
        #: Whether the post takes an order alone at a place, by how its lines travel.
        self._is_sent: dict[tuple[object, ...], bool] = {}
        #: How an order alone at a place is packed otherwise, so that the post takes it: numbers of its lines
        #: and of their ways, by all the ways there are.
        self.repacked: dict[tuple[object, ...], list[tuple[int, int]]] = {}

    def put(self, one: Placement) -> None:
        """Place an order, which must fit."""
        self._note_put(one)
        for at, eggs in one.draws:
            self.draw(at, eggs)

    def take(self, number: int) -> Placement:
        """Take an order out again; how it was placed."""
        one = self.by_order.pop(number)
        self._note_taken(one)
        for at, eggs in one.draws:
            self.draw(at, -eggs)
        return one

    def _note_put(self, one: Placement) -> None:
        number, width, drawing = one.order, self.width, self.drawing
        self.by_order[number] = one
        self.value += one.value
        self.age += one.age
        if self.counts_cost:
            self.cost += one.cost
        self._join(one)
        self.on_day[one.day].add(number)
        for at, _ in one.draws:
            drawing[at // width].add(number)

    def _note_taken(self, one: Placement) -> None:
        number, width, drawing = one.order, self.width, self.drawing
        self.value -= one.value
        self.age -= one.age
        if self.counts_cost:
            self.cost -= one.cost
        self._leave(one)
        self.on_day[one.day].discard(number)
        for at, _ in one.draws:
            drawing[at // width].discard(number)

    def count_cost(self, is_counted: bool = True) -> None:
        """From now on keep the cost up to date, or not, where only value is asked for."""
        self.counts_cost, self.cost = is_counted, 0.0
        if not is_counted:
            return
        self._postage = {
            number: self._cost_alone(one) for number, one in self.by_order.items() if self._is_alone[number]
        }
        joined = [numbers for numbers in self._parcels.values() if numbers]
        self.cost = math.fsum(
            itertools.chain(
                (one.cost for one in self.by_order.values()),
                self._postage.values(),
                map(self._joined_cost, joined),
            )
        )

    def begin(self) -> None:
        """Begin something that may be undone."""
        self._before = {}

    def undo(self, put: list[Placement], taken: list[Placement]) -> None:
        """Undo all since it was begun: orders put in and, before that, taken out."""
        drawn, left, width = self._drawn, self.left, self.width
        for one in put:
            self._note_taken(self.by_order.pop(one.order))
        for one in taken:
            self._note_put(one)
        for start, (drawn_before, left_before) in self._before.items():
            drawn[start : start + width], left[start : start + width] = drawn_before, left_before

    def draw(self, at: int, eggs: int) -> None:
        """Draw eggs of a lot on a day, or put some back.

        What is left on a day is what that day and every later day with a draw leave: eggs drawn up to a day
        never exceed what is free that day.
        """
        drawn, left, width = self._drawn, self.left, self.width
        start = at - at % width
        end = start + width
        if start not in self._before:
            self._before[start] = drawn[start:end], left[start:end]
        drawn[at] += eggs
        for n in range(at, end):
            left[n] -= eggs
        if eggs > 0:
            least = left[at]
            for n in range(start, at):
                if left[n] > least:
                    left[n] = least
        elif at > start:
            least = _NONE_DRAWN
            for n in range(at, end):
                if drawn[n]:
                    least = left[n]
                    break
            free, total = self.week.free, sum(drawn[start:at])
            for n in range(at - 1, start - 1, -1):
                own = free[n] - total
                total -= drawn[n]
                left[n] = own if own < least else least
                if drawn[n]:
                    least = left[n]

    def hold(self, orders: Iterable[int]) -> list[int]:
        """Names from now on no other orders that draw on a lot, or go on a day; which others."""
        free = set(orders)
        held = [number for number in range(len(self.week.names)) if number not in free]
        for drawing in self.drawing:
            drawing &= free
        for number in held:
            if number in self.by_order:
                self.on_day[self.by_order[number].day].discard(number)
        return held

    def drawn_by(self, number: int, lot: int) -> int:
        """Eggs that a placed order draws from a lot."""
        width = self.width
        return sum([eggs for at, eggs in self.by_order[number].draws if at // width == lot])

    def has_mates(self, number: int) -> bool:
        """Are there other orders of the same address?"""
        return not self._is_alone[number]

    def joins(self, number: int, at: int) -> list[int] | None:
        """Orders in the parcel that one would join at a place: none where it makes one; None where full."""
        if self._is_alone[number]:
            return NOBODY
        inside = self._parcels.get(self._parcel(number, at), NOBODY)
        return inside if len(inside) < MOST_JOINED else None

    def parcel_cost(
        self, number: int, at: int, travel_modes: tuple[TravelMode, ...], inside: list[int]
    ) -> float:
        """What parcels cost more with an order in one at a place, in these modes; infinite where none can."""
        order = self.week.of(number)
        departure = order.departures[at].departure
        if not inside:
            return self.week.parcel_cost((order.name,), departure, travel_modes)
        others, names = self._inside(inside)
        before = self.week.parcel_cost(names, departure, others)
        return self.week.parcel_cost((*names, order.name), departure, (*others, *travel_modes)) - before

    def postage(self, number: int) -> float:
        """What the parcel of a placed order costs that no other may join."""
        return self._postage[number]

    def is_sent(self, number: int, at: int, lines: tuple[FilledLine, ...], inside: list[int]) -> bool:
        """Does the post take an order's lines at a place, with the orders in the parcel it would join?"""
        if inside:
            modes = travel_modes_of(self.week.of(number), lines)
            return self.parcel_cost(number, at, modes, inside) < math.inf
        key = (number, at, tuple([line[:3] for line in lines]))
        found = self._is_sent.get(key)
        if found is None:
            modes = travel_modes_of(self.week.of(number), lines)
            found = self._is_sent[key] = self.parcel_cost(number, at, modes, NOBODY) < math.inf
        return found

    def _parcel(self, number: int, at: int) -> tuple[int, str, int]:
        departure = self.week.of(number).departures[at]
        return self.week.address[number], departure.departure[1], departure.day

    def _inside(self, numbers: list[int]) -> tuple[tuple[TravelMode, ...], tuple[str, ...]]:
        """The modes of orders placed, and their names."""
        travel_modes = tuple(
            travel_mode
            for number in numbers
            for travel_mode in travel_modes_of(self.week.of(number), self.by_order[number].lines)
        )
        return travel_modes, tuple(self.week.of(number).name for number in numbers)

    def _join(self, one: Placement) -> None:
        """Put an order in its parcel."""
        number = one.order
        if self._is_alone[number]:
            self.room[one.day] -= 1
            if self.counts_cost:
                self._postage[number] = self._cost_alone(one)
                self.cost += self._postage[number]
            return
        inside = self._parcels.setdefault(self._parcel(number, one.at), [])
        if not inside:
            self.room[one.day] -= 1
        if self.counts_cost:
            self.cost += self.parcel_cost(
                number, one.at, travel_modes_of(self.week.of(number), one.lines), inside
            )
        inside.append(number)

    def _leave(self, one: Placement) -> None:
        """Take an order out of its parcel."""
        number = one.order
        if self._is_alone[number]:
            self.room[one.day] += 1
            if self.counts_cost:
                self.cost -= self._postage.pop(number)
            return
        inside = self._parcels[self._parcel(number, one.at)]
        inside.remove(number)
        if not inside:
            self.room[one.day] += 1
        if self.counts_cost:
            self.cost -= self.parcel_cost(
                number, one.at, travel_modes_of(self.week.of(number), one.lines), inside
            )

    def _cost_alone(self, one: Placement) -> float:
        """What the parcel of an order costs that no other may join."""
        modes = travel_modes_of(self.week.of(one.order), one.lines)
        return self.parcel_cost(one.order, one.at, modes, NOBODY)

    def _joined_cost(self, numbers: list[int]) -> float:
        """What the parcel of these orders costs."""
        modes, names = self._inside(numbers)
        return self.week.parcel_cost(names, self._departure(numbers[0]), modes)

    def _departure(self, number: int) -> Departure:
        return self.week.of(number).departures[self.by_order[number].at].departure

    def chosen(self, bound: float) -> Chosen:
        """The choice as it stands, with a bound on any choice's value."""
        drawn: dict[LineKey, Drawn] = {}
        parcels: dict[object, list[int]] = {}
        for number in sorted(self.by_order):
            one, order = self.by_order[number], self.week.of(number)
            for n, packing, _, draws, _ in one.lines:
                eggs = sorted((self.week.lots[at // self.width], count) for at, count in draws)
                drawn[order.lines[n]] = Drawn(
                    order.lines[n], order.departures[one.at].departure, packing, tuple(eggs)
                )
            parcels.setdefault(number if self._is_alone[number] else self._parcel(number, one.at), []).append(
                number
            )
        columns = []
        for inside in parcels.values():
            inside.sort()
            travel_modes, names = self._inside(inside)
            columns.append(
                ParcelColumn(names, self._departure(inside[0]), travel_modes, self._joined_cost(inside))
            )
        value = math.fsum(one.value for one in self.by_order.values())
        lines = math.fsum(one.cost for one in self.by_order.values())
        cost = lines + math.fsum(column.cost for column in columns)
        columns.sort(key=lambda column: (column.departure, column.orders))
        return Chosen(
            tuple(columns), dict(sorted(drawn.items())), value, max(bound, value), cost, cheapest=False
        )


def travel_modes_of(order: OrderColumns, lines: tuple[FilledLine, ...]) -> tuple[TravelMode, ...]:
    """How each line of an order travels."""
    return tuple((order.lines[one.line], one.packing, one.units) for one in lines)


def placements_of(week: WeekColumns, chosen: Chosen) -> dict[int, Placement]:
    """How a choice places its orders; without those that go where the week's ways know no place, or in a
    parcel of their own where the search would join them to one that then is too full.
    """
    units = {mode[0]: mode[2] for column in chosen.columns for mode in column.travel_modes}
    lines = grouped((key[0], chosen.drawn[key]) for key in sorted(chosen.drawn))
    solution = Solution(week)
    for number, name in enumerate(week.names):
        one = _placement_as(week, number, lines[name], units) if name in lines else None
        if one is not None and fits(solution, one):
            solution.put(one)
    return solution.by_order


def _placement_as(
    week: WeekColumns, number: int, lines: list[Drawn], units: dict[LineKey, int]
) -> Placement | None:
    order = week.of(number)
    for at, departure in enumerate(order.departures):
        if departure.departure == lines[0].departure:
            filled = [_filled_as(week, order.lines, departure.lines, one, units[one.line]) for one in lines]
            if None not in filled:
                return placement(number, order, at, tuple(line for line in filled if line is not None))
    return None


def _filled_as(
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


def fits(solution: Solution, one: Placement) -> bool:
    """Are its eggs, its parcel and room for it left?"""
    inside = solution.joins(one.order, one.at)
    is_left = all(solution.left[at] >= eggs for line in one.lines for at, eggs in line.draws)
    if inside is None or not is_left or (solution.room[one.day] <= 0 and not inside):
        return False
    modes = travel_modes_of(solution.week.of(one.order), one.lines)
    return solution.parcel_cost(one.order, one.at, modes, inside) < math.inf
