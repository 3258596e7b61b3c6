"""A week searched in two parts at once: an order's placing in, a better one out, from this process and a
second.

Lots of which one line may draw on several are a family. Families are dealt into two parts by lot; each
process searches among the orders all of whose lines lie in its own part, while the others stay where they
are. The two share no lot and no parcel, and each has half of what room is left on a day, so that both their
answers hold together; then the families are dealt anew (partial optimisation: Taillard and Voss 2002,
POPMUSIC, in: Essays and Surveys in Metaheuristics, 613-629).
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from random import Random

from shipping.assignment.columns import UNLIMITED, WeekColumns
from shipping.assignment.neighbourhood import SEED, Search
from shipping.assignment.solution import Placement
from shipping.words.keys import UnionFind
from shipping.words.long_work import SecondProcess

#: Done with a search among some orders, so many steps long.
Work = Callable[[Search, int], None]


@dataclass(frozen=True, eq=False)
class Decomposition:
    """``families``: of lots that each order draws on, by its number, those of orders of its address among
    them.
    """

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
        """Do so many steps of some work in each of two parts, the second in another process; what both find
        is kept.
        """
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
