"""Ways to make up parcels: orders and how their lines may travel in, every parcel with its postage and box
out.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from shipping.assignment.instance import MOST_JOINED, Filling, Mode, Place, Split, Way
from shipping.options.option import Option
from shipping.options.option_factory import Reckoner
from shipping.post.quote import quote
from shipping.tables.rows.orders import Order
from shipping.words.keys import LineKey

#: Ways to make up one parcel at one place; where there are more, each line keeps its cheapest modes only.
MOST_WAYS = 2000


@dataclass(eq=False)
class ParcelWays:
    """The parcels of one shelf's orders; postage is reckoned once for each number of units."""

    reckoner: Reckoner
    _costs: dict[tuple[str, str, tuple[tuple[str, int], ...]], float | None] = field(default_factory=dict)

    def ways(
        self, orders: Sequence[Order], fillings: Iterable[Filling], splits: Iterable[Split]
    ) -> Iterable[Way]:
        """Every parcel that could be made up of these orders."""
        modes: dict[tuple[LineKey, Place], set[Mode]] = {}
        cheapest: dict[tuple[Mode, Place], float] = {}
        for filling in fillings:
            modes.setdefault((filling.line, filling.place), set()).add(filling.mode)
            key = (filling.mode, filling.place)
            cheapest[key] = min(cheapest.get(key, math.inf), filling.cost)
        for split in splits:
            modes.setdefault((split.line, split.place), set()).add(split.mode)
        at: dict[str, set[Place]] = {}
        for (order_name, _), place in modes:
            at.setdefault(order_name, set()).add(place)
        addresses: dict[object, list[Order]] = {}
        for order in orders:
            addresses.setdefault(order.address, []).append(order)
        for group in addresses.values():
            for place in sorted(set().union(*(at.get(order.order, set()) for order in group))):
                able = [order for order in group if place in at.get(order.order, ())]
                for size in range(1, min(len(able), MOST_JOINED) + 1):
                    for joined in itertools.combinations(able, size):
                        yield from self._ways_of(joined, place, modes, cheapest)

    def _ways_of(
        self,
        joined: tuple[Order, ...],
        place: Place,
        modes: Mapping[tuple[LineKey, Place], set[Mode]],
        cheapest: Mapping[tuple[Mode, Place], float],
    ) -> Iterable[Way]:
        """Every way to send these orders in one parcel: a mode for every line (or for some, where it may
        split).
        """
        sets: list[list[tuple[Mode, ...]]] = []
        for order in joined:
            lines = [sorted(modes.get((line.key, place), ())) for line in order.lines]
            if not order.may_split and not all(lines):
                return
            lines = _fewest(lines, cheapest, place, MOST_WAYS ** (1 / len(joined)))
            picks = [
                [(), *((m,) for m in found)] if order.may_split else [(m,) for m in found] for found in lines
            ]
            sets.append(
                [mode for pick in itertools.product(*picks) if (mode := tuple(itertools.chain(*pick)))]
            )
        names = tuple(order.order for order in joined)
        for pick in itertools.product(*sets):
            chosen = tuple(itertools.chain(*pick))
            cost = self.cost(joined[0].country, place[1], chosen)
            if cost is not None:
                yield Way(names, place, chosen, cost)

    def weighed(self, order: Order, option: Option) -> Option:
        """The option with what the post says of its weight and thickness, where it is otherwise open."""
        if option.blocks:
            return option
        units = ((option.ride.packing, option.units),)
        asked = quote(self.reckoner.shelf, units, option.ride.leg.service, order.country)
        return replace(option, blocks=asked.reasons) if asked.reasons else option

    def cost(self, country: str, service: str, modes: tuple[Mode, ...]) -> float | None:
        """Postage and box of a parcel that holds these; None where no box or no postage takes it."""
        counts: dict[str, int] = {}
        for _, packing, units in modes:
            counts[packing] = counts.get(packing, 0) + units
        key = (country, service, tuple(sorted(counts.items())))
        if key not in self._costs:
            self._costs[key] = self._new_cost(*key)
        return self._costs[key]

    def _new_cost(self, country: str, service: str, counts: tuple[tuple[str, int], ...]) -> float | None:
        shelf = self.reckoner.shelf
        units = tuple((shelf.packing_by_name[name], count) for name, count in counts)
        by = next(iter(self.reckoner.services(country, service)), None)
        return quote(shelf, units, by, country).cost if by is not None else None


def _fewest(
    lines: list[list[Mode]], cheapest: Mapping[tuple[Mode, Place], float], place: Place, most: float
) -> list[list[Mode]]:
    """The modes of each line, cut to the cheapest few only where their product would pass ``most``."""
    keep = max((len(found) for found in lines), default=0)
    while keep > 1 and math.prod(max(1, min(len(found), keep)) for found in lines) > most:
        keep -= 1
    return [sorted(found, key=lambda m: (cheapest.get((m, place), math.inf), m))[:keep] for found in lines]
