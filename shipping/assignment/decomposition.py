"""Parts of a week searched by themselves: an order's placing in, a better one out, from this process and a
second.

Lots of which one line may draw on several are a family. Families are dealt into two parts by lot; each
process searches among the orders all of whose lines lie in its own part, while the others stay where they
are. The two share no lot and no parcel, and each has half of what room is left on a day, so that both their
answers hold together; then the families are dealt anew (partial optimisation: Taillard and Voss 2002,
POPMUSIC, in: Essays and Surveys in Metaheuristics, 613-629).

What is left where much goes is rests of many lots, and a line may draw on rests of several only where the
lines beside it leave them so; steps among all orders seldom come to that. So the orders that draw on the same
lots are also a small week of their own, served anew from the start while all others stay.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Callable, Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from random import Random
from typing import NamedTuple

from shipping.assignment.columns import UNLIMITED, WeekColumns
from shipping.assignment.instance import Instance
from shipping.assignment.mip import SAME, Budget
from shipping.assignment.neighbourhood import SEED, GoOn, Search
from shipping.assignment.relaxation_bound import RelaxationBound
from shipping.assignment.solution import Placement, Solution, fits
from shipping.words.keys import UnionFind
from shipping.words.long_work import SecondProcess

#: Done with a search among some orders, so many steps long.
Work = Callable[[Search, int], None]


@dataclass(frozen=True, eq=False)
class Decomposition:
    """``families``: of lots that each order draws on, by its number; orders of its address are with it."""

    families: tuple[frozenset[Hashable], ...]

    @classmethod
    def of(cls, week: WeekColumns) -> Decomposition:
        linked, numbers = UnionFind(), range(len(week.names))
        for lots in {id(own): own for number in numbers for own in week.of(number).lots_of_lines}.values():
            for lot in sorted(lots):
                linked.link(lot, min(lots))
        of_address: dict[int, set[Hashable]] = {}
        for number in numbers:
            own = (linked.family(min(lots)) for lots in week.of(number).lots_of_lines if lots)
            of_address.setdefault(week.address[number], set()).update(own)
        at_address = {address: frozenset(own) for address, own in of_address.items()}
        return cls(tuple(at_address[week.address[number]] for number in numbers))

    def orders_of(self, families: frozenset[Hashable]) -> tuple[int, ...]:
        """Orders by number that draw on any of these families, or are of one address with some that does."""
        return tuple(number for number, own in enumerate(self.families) if own & families)

    def dealt(self, chance: Random) -> tuple[list[int], list[int]]:
        """Orders by number that lie in the one part, and in the other, about as many in each."""
        orders = Counter(family for own in self.families for family in own)
        families = sorted(orders, key=str)
        chance.shuffle(families)
        parts: tuple[set[Hashable], set[Hashable]] = set(), set()
        for family in families:
            min(parts, key=lambda part: sum(orders[one] for one in part)).add(family)
        one, two = ([n for n, own in enumerate(self.families) if own and own <= part] for part in parts)
        return one, two

    def search(self, search: Search, steps: int, chance: Random, work: Work) -> None:
        """Do so many steps of some work in two parts, one in a second process; what both find is kept."""
        parts = self.dealt(chance)
        orders = sum(map(len, parts))
        here, there = (
            _Part(
                search, part, _room(search, n), min(4 * steps // 3, 2 * steps * len(part) // max(1, orders))
            )
            for n, part in enumerate(parts)
        )
        other = SecondProcess(lambda: there.placements(work))
        found = here.placements(work)
        moved = set(itertools.chain(*parts))
        others = {n: one for n, one in search.solution.by_order.items() if n not in moved}
        search.back_to(others | found | other.result())


def _room(search: Search, n: int) -> list[int]:
    """What each day takes of the first part, or of the second: half of what is left."""
    return [room if room >= UNLIMITED // 2 else (max(0, room) + 1 - n) // 2 for room in search.solution.room]


@dataclass(frozen=True, eq=False)
class _Part:
    """Orders among which is searched, with the room there is for them."""

    whole: Search
    orders: list[int]
    room: list[int]
    steps: int

    def placements(self, work: Work) -> dict[int, Placement]:
        """How these orders are placed when it is done."""
        search = self.whole.among(self.orders, Random(SEED))
        search.solution.room = list(self.room)
        work(search, self.steps)
        placed = search.solution.by_order
        return {number: placed[number] for number in self.orders if number in placed}


#: How orders are placed, by number.
Placements = Mapping[int, Placement]


#: Finds how to place the orders of a small week that a relaxation bounds.
Serve = Callable[[RelaxationBound, Budget], Placements]


def groups_of_waiting(search: Search, parts: Decomposition, most_lines: int) -> Iterator[tuple[int, ...]]:
    """Orders to place anew so that one that waits may go, the most valuable first: those of each family of
    lots that it wants, and of all of them, where they have no more than so many lines.
    """
    for number in search.waiting_by_worth():
        own = parts.families[number]
        for families in (*(frozenset({one}) for one in sorted(own, key=str)), own):
            orders = parts.orders_of(families)
            if sum(len(search.solution.week.of(one).lines) for one in orders) <= most_lines:
                yield orders


def pack_again(
    search: Search, groups: Iterable[tuple[int, ...]], serve: Serve, budget: Budget, go_on: GoOn
) -> None:
    """Place groups of orders anew where that serves more of them, two groups at a time, one in a second
    process: with each the one that has fewest of its orders, without those.
    """
    waiting = list(dict.fromkeys(groups))
    while waiting and go_on():
        here = _anew(search.solution, waiting.pop(0))
        beside = min(waiting, key=lambda orders: len({*here.orders} & {*orders}), default=())
        waiting = [orders for orders in waiting if orders != beside]
        rest = tuple(number for number in beside if number not in here.orders)
        there = _anew(search.solution, rest) if rest else None
        other = SecondProcess(partial(_served, there, serve, budget)) if there else None
        _take(search, here, _served(here, serve, budget))
        if there and other:
            _take(search, there, other.result())


class _Anew(NamedTuple):
    """Orders, the week that they are among what all others leave them, and what of them is served."""

    orders: tuple[int, ...]
    part: WeekColumns
    reached: float


def _served(group: _Anew, serve: Serve, budget: Budget) -> Placements:
    """How its orders are placed anew, by their numbers among themselves; none where no more of them goes."""
    own, bound = Budget(budget.left(), steady=True), RelaxationBound(group.part)
    most = bound.relaxed(own)
    return {} if most <= group.reached + SAME * max(1.0, most) else serve(bound, own)


def _take(search: Search, group: _Anew, served: Placements) -> None:
    """Place the orders of a group so, where that serves more and all of it fits."""
    if math.fsum(one.value for one in served.values()) <= group.reached + SAME:
        return
    before = dict(search.solution.by_order)
    search.back_to({number: one for number, one in before.items() if number not in group.orders})
    for n in sorted(served):
        one = replace(served[n], order=group.orders[n])
        if not fits(search.solution, one):
            search.back_to(before)
            return
        search.put(one)


def _anew(solution: Solution, orders: tuple[int, ...]) -> _Anew:
    placed = [solution.take(number) for number in orders if number in solution.by_order]
    part = _part(solution, orders)
    for one in placed:
        solution.put(one)
    return _Anew(orders, part, math.fsum(one.value for one in placed))


def _part(solution: Solution, orders: Sequence[int]) -> WeekColumns:
    """Orders that are not placed as a week of their own, with what is left of eggs and room."""
    free, room = [max(0, eggs) for eggs in solution.left], [max(0, room) for room in solution.room]
    part = solution.week.only(orders)

    def instance(names: Collection[str]) -> Instance:
        whole = part.part(names)
        lot, day = ({name: n for n, name in enumerate(each)} for each in (part.lots, part.days))
        left = {at: free[lot[at[0]] * len(day) + day[at[1]]] for at in whole.free}
        most = max(room)
        return replace(
            whole,
            fills=tuple(fill for fill in whole.fills if fill.eggs <= left[fill.lot, fill.departure[0]]),
            free=left,
            parcels_a_day=None if min(room) >= UNLIMITED // 2 else most,
            parcels_made={on: most - each for on, each in zip(part.days, room, strict=True)},
        )

    return replace(part, free=free, room=room, part=instance)
