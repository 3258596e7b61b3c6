"""What is left of each lot on each day, and which days are full: draws and claims in, eggs and free days
out.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from shipping.options.journey import Ints
from shipping.options.option import LEAST_DRAW, Option
from shipping.options.option_factory import Reckoner
from shipping.week.plan_data import Parcel
from shipping.words.reasons import SCARCE

Draws = tuple[tuple[str, int], ...]


@dataclass(eq=False)
class EggsLeft:
    """The lots of a shelf less what is drawn and claimed; it changes only by `take`."""

    reckoner: Reckoner
    _drawn: dict[str, dict[date, int]] = field(default_factory=dict)
    _orders: dict[date, set[str]] = field(default_factory=dict)
    _ahead: dict[str, tuple[tuple[date, ...], Ints]] = field(default_factory=dict)

    @classmethod
    def after(cls, reckoner: Reckoner, parcels: Iterable[Parcel]) -> EggsLeft:
        """What is left when the parcels of a plan have gone."""
        left = cls(reckoner)
        for parcel in parcels:
            draws = ((draw.lot, draw.pack) for line in parcel.lines for draw in line.draws)
            left.take(draws, parcel.dispatch_on, parcel.orders[0])
        return left

    def take(self, draws: Iterable[tuple[str, int]], day: date, order: str) -> None:
        """Eggs leave their lots on a day, in the parcel of an order."""
        self._orders.setdefault(day, set()).add(order)
        for lot, eggs in draws:
            self._ahead.pop(lot, None)
            days = self._drawn.setdefault(lot, {})
            days[day] = days.get(day, 0) + eggs

    def taken(self, lot: str) -> int:
        """Eggs of a lot that are spoken for."""
        return sum(self._drawn.get(lot, {}).values())

    def on(self, lot: str, day: date) -> int:
        """Eggs of a lot that may still be drawn on a day, so that every draw already made keeps its own."""
        drawn = self._drawn.get(lot, {})
        days = [day, *(other for other in sorted(drawn) if other > day)]
        left = (
            self.reckoner.lot_day(lot, d).free - sum(eggs for on, eggs in drawn.items() if on <= d)
            for d in days
        )
        return max(0, min(left))

    def ahead(self, lot: str, days: tuple[date, ...], free: Ints) -> Ints:
        """`on` of many days in order (D,); ``free``: eggs of the lot that are free on each (D,), drawn or
        not.
        """
        known = self._ahead.get(lot)
        if known is None or known[0] is not days:
            known = (days, self._left_on(lot, days, free))
            self._ahead[lot] = known
        return known[1]

    def _left_on(self, lot: str, days: tuple[date, ...], free: Ints) -> Ints:
        drawn, own = self._drawn.get(lot, {}), dict(zip(days, free.tolist(), strict=True))
        for day in drawn.keys() - own.keys():  # what is left before the first of the days binds none of them
            own[day] = self.reckoner.lot_day(lot, day).free if day > days[0] else 0
        every = sorted(own)
        left = np.array([own[day] for day in every]) - np.cumsum([drawn.get(day, 0) for day in every])
        kept = np.where(
            [day in drawn for day in every], left, np.iinfo(np.int64).max
        )  # what a draw already made leaves
        most = np.maximum(0, np.minimum(left, np.minimum.accumulate(kept[::-1])[::-1]))
        asked = set(days)
        return np.asarray(most[[day in asked for day in every]])

    def is_full(self, day: date, order: str = "") -> bool:
        """Does no further parcel go that day, unless it is that order's, which has its place?"""
        limit = self.reckoner.shelf.settings.plan.parcels_per_day
        orders = self._orders.get(day, set())
        return (
            limit is not None
            and order not in orders
            and self.reckoner.shelf.parcels_made.get(day, 0) + len(orders) >= limit
        )


def draws_for(
    options: Iterable[Option], left: EggsLeft, *, answered: bool = False
) -> tuple[Draws, Option] | None:
    """The draws that fill a line on one day from what is left, and an option they follow; None where none do.

    One lot where one does, with the fewest eggs; else two or more of one population, in one packing by one
    service. With ``answered`` all that a person has to answer first is taken as answered.
    """
    fitting: list[tuple[int, str, str, str, Option]] = []
    shared: dict[tuple[str, str, str], list[tuple[float, str, int, Option]]] = {}
    for option in options:
        if not option.pack or (option.asks and not answered):
            continue
        ride = option.ride
        lot, day, packing = ride.lot_day.forecast.lot, ride.leg.day, ride.packing.packing
        codes = {reason.code for reason in option.blocks}
        eggs = left.on(lot.lot, day)
        if not codes and option.pack <= eggs:
            fitting.append((option.pack, lot.lot, ride.leg.service.service, packing, option))
        most = min(eggs, ride.most_by_any, option.pack)
        if codes <= SCARCE and most >= LEAST_DRAW:
            key = (ride.leg.service.service, packing, lot.population.casefold())
            shared.setdefault(key, []).append((most / option.pack, lot.lot, most, option))
    if fitting:
        pack, name, *_, option = min(fitting, key=lambda found: found[:4])
        return ((name, pack),), option
    most_lots = left.reckoner.shelf.settings.plan.lots_a_line
    for key in sorted(shared):
        members = sorted(shared[key], key=lambda one: (-one[0], one[1]))[:most_lots]
        if len(members) > 1 and math.fsum(share for share, *_ in members) >= 1.0:
            return _split(members), members[0][3]
    return None


def _split(members: list[tuple[float, str, int, Option]]) -> Draws:
    """Whole eggs of each lot until the shares make one, the lot that does most first, no draw below 5."""
    found: list[tuple[str, int]] = []
    missing = 1.0
    for (_, lot, most, option), after in itertools.zip_longest(members, members[1:]):
        eggs = min(most, max(LEAST_DRAW, math.ceil(missing * option.pack - 1e-9)))
        found.append((lot, eggs))
        missing -= eggs / option.pack
        if missing <= 1e-9 or after is None:
            break
    return tuple(sorted(found))
