"""Ways to make up parcels: orders and how their lines may travel in, parcels with postage and box out."""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from shipping.assignment.instance import (
    MOST_JOINED,
    Departure,
    OneLotFill,
    ParcelColumn,
    SharedFill,
    TravelMode,
)
from shipping.options.option import Option
from shipping.options.option_factory import OptionFactory
from shipping.post.quote import box_for, quote
from shipping.tables.rows.orders import Order
from shipping.words.keys import LineKey, grouped

#: Ways to make up one parcel at one place; where there are more, each line keeps its cheapest modes only.
MOST_WAYS = 2000
#: Ways kept from line to line where an order has too many: enough for each box's own to be among them.
BEAM = 100
#: Ways of the cheapest modes alone: thirty lines of an order that may split, each in or out, are 2^30.
MOST_FEW = 10 * MOST_WAYS
#: How many units of each packing, by name.
Counts = tuple[tuple[str, int], ...]


@dataclass(eq=False)
class ParcelColumns:
    """The parcels of one shelf's orders; postage is reckoned once for each number of units.

    ``is_whole``: no parcel was left out for there being more than `MOST_WAYS` of an order.
    """

    factory: OptionFactory
    is_whole: bool = True
    _costs: dict[tuple[tuple[str, str], str, Counts], float | None] = field(default_factory=dict)
    _boxed: dict[Counts, bool] = field(default_factory=dict)

    def columns(
        self, orders: Sequence[Order], fills: Iterable[OneLotFill], shared_fills: Iterable[SharedFill]
    ) -> Iterable[ParcelColumn]:
        """Every parcel that could be made up of these orders."""
        travel_modes: dict[tuple[LineKey, Departure], set[TravelMode]] = {}
        cheapest: dict[tuple[TravelMode, Departure], float] = {}
        for fill in fills:
            travel_modes.setdefault((fill.line, fill.departure), set()).add(fill.travel_mode)
            key = (fill.travel_mode, fill.departure)
            cheapest[key] = min(cheapest.get(key, math.inf), fill.cost)
        for shared_fill in shared_fills:
            travel_modes.setdefault((shared_fill.line, shared_fill.departure), set()).add(
                shared_fill.travel_mode
            )
        at: dict[str, set[Departure]] = {}
        for (order_name, _), departure in travel_modes:
            at.setdefault(order_name, set()).add(departure)
        addresses = grouped((order.address, order) for order in orders)
        for group in addresses.values():
            for departure in sorted(set().union(*(at.get(order.order, set()) for order in group))):
                able = [order for order in group if departure in at.get(order.order, ())]
                for size in range(1, min(len(able), MOST_JOINED) + 1):
                    for joined in itertools.combinations(able, size):
                        yield from self._columns_of(joined, departure, travel_modes, cheapest)

    def _columns_of(
        self,
        joined: tuple[Order, ...],
        departure: Departure,
        travel_modes: Mapping[tuple[LineKey, Departure], set[TravelMode]],
        cheapest: Mapping[tuple[TravelMode, Departure], float],
    ) -> Iterable[ParcelColumn]:
        """Every way to send these orders in one parcel: a mode a line, or for some if it may split."""
        lines = [
            [sorted(travel_modes.get((line.key, departure), ())) for line in order.lines] for order in joined
        ]
        if not all(order.may_split or all(own) for order, own in zip(joined, lines, strict=True)):
            return
        each = [_cheapest_first(own, cheapest, departure) for own in lines]
        picks = self._picks(joined, each, MOST_WAYS)
        if picks is None:
            self.is_whole = False
            few = [_fewest(own, MOST_WAYS ** (1 / len(joined))) for own in each]
            picks = list(
                dict.fromkeys([*(self._picks(joined, few, MOST_FEW) or []), *self._beam(joined, each)])
            )
        names = tuple(order.order for order in joined)
        for chosen in picks:
            cost = self.cost(joined[0].place, departure[1], chosen)
            if cost is not None:
                yield ParcelColumn(names, departure, chosen, cost)

    def _picks(
        self, joined: Sequence[Order], lines: Sequence[list[list[TravelMode]]], most: int
    ) -> list[tuple[TravelMode, ...]] | None:
        """Modes for the lines of these orders that a box takes; None where there are more than ``most``."""
        picks: list[tuple[TravelMode, ...]] = [()]
        for order, own in zip(joined, lines, strict=True):
            for modes in own:
                ways = [(), *((mode,) for mode in modes)] if order.may_split else [(mode,) for mode in modes]
                longer = ((*pick, *way) for pick in picks for way in ways)
                boxed = (pick for pick in longer if self._fits_a_box(pick))
                picks = list(itertools.islice(boxed, most + 1))
                if len(picks) > most:
                    return None
            picks = [pick for pick in picks if pick and pick[-1][0][0] == order.order]
        return picks

    def _beam(
        self, joined: Sequence[Order], lines: Sequence[list[list[TravelMode]]]
    ) -> list[tuple[TravelMode, ...]]:
        """Modes for the lines of these orders that some box takes together, `BEAM` ways at most: those that
        leave out fewest lines of what may split, then those that stand first in their lines (beam search).
        """
        picks: list[tuple[int, int, tuple[TravelMode, ...]]] = [(0, 0, ())]
        for order, own in zip(joined, lines, strict=True):
            for modes in own:
                longer = (
                    (out, rank + n, (*pick, mode))
                    for out, rank, pick in picks
                    for n, mode in enumerate(modes)
                )
                boxed = [way for way in longer if self._fits_a_box(way[2])]
                if order.may_split:
                    boxed += [(out + 1, rank, pick) for out, rank, pick in picks]
                picks = heapq.nsmallest(BEAM, boxed)
            picks = [way for way in picks if way[2] and way[2][-1][0][0] == order.order]
        return [pick for _, _, pick in picks]

    def _fits_a_box(self, travel_modes: tuple[TravelMode, ...]) -> bool:
        """Does a box take these alone? What it does not take, it takes with nothing more."""
        counts = _counts(travel_modes)
        if counts not in self._boxed:
            by_name = self.factory.shelf.packing_by_name
            units = tuple((by_name[name], count) for name, count in counts)
            self._boxed[counts] = not units or box_for(self.factory.shelf, units) is not None
        return self._boxed[counts]

    def goes_together(self, order: Order, lines: Sequence[list[TravelMode]], service: str) -> bool:
        """Is there a parcel of these modes, one a line, that a box and the post take?"""
        return any(
            self.cost(order.place, service, pick) is not None for pick in self._beam((order,), [[*lines]])
        )

    def weighed(self, order: Order, option: Option) -> Option:
        """The option with what the post says of its weight and thickness, where it is otherwise open."""
        if option.blocks:
            return option
        units = ((option.ride.packing, option.units),)
        asked = quote(self.factory.shelf, units, option.ride.leg.service, *order.place)
        return replace(option, blocks=asked.reasons) if asked.reasons else option

    def cost(
        self, place: tuple[str, str], service: str, travel_modes: tuple[TravelMode, ...]
    ) -> float | None:
        """Postage and box of a parcel that holds these; None where no box or no postage takes it."""
        key = (place, service, _counts(travel_modes))
        if key not in self._costs:
            self._costs[key] = self._new_cost(*key)
        return self._costs[key]

    def _new_cost(self, place: tuple[str, str], service: str, counts: Counts) -> float | None:
        shelf = self.factory.shelf
        units = tuple((shelf.packing_by_name[name], count) for name, count in counts)
        by = next(iter(self.factory.services(place, service)), None)
        return quote(shelf, units, by, *place).cost if by is not None else None


def _counts(travel_modes: Sequence[TravelMode]) -> Counts:
    """How many units of each packing, by name."""
    if len(travel_modes) == 1:  # mostly
        ((_, packing, units),) = travel_modes
        return ((packing, units),)
    counts: dict[str, int] = {}
    for _, packing, units in travel_modes:
        counts[packing] = counts.get(packing, 0) + units
    return tuple(sorted(counts.items()))


def _cheapest_first(
    lines: Iterable[Iterable[TravelMode]],
    cheapest: Mapping[tuple[TravelMode, Departure], float],
    departure: Departure,
) -> list[list[TravelMode]]:
    return [
        sorted(modes, key=lambda mode: (cheapest.get((mode, departure), math.inf), mode)) for modes in lines
    ]


def _fewest(lines: list[list[TravelMode]], most: float) -> list[list[TravelMode]]:
    """The first modes of each line, so many that their product does not pass ``most``."""
    keep = max(map(len, lines), default=0)
    while keep > 1 and math.prod(max(1, min(len(modes), keep)) for modes in lines) > most:
        keep -= 1
    return [modes[:keep] for modes in lines]
