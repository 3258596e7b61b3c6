"""Lines filled from several lots, settled to the promise: draws as chosen in, whole counts out, and the lines
whose promise no count keeps.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from shipping.assignment.instance import Drawn
from shipping.eggs.overpack import ROUNDING, chance_enough
from shipping.options.option import LEAST_DRAW, Ride, units_for
from shipping.options.option_factory import Reckoner
from shipping.tables.rows.orders import Line
from shipping.words.keys import LineKey

#: (lot, eggs) of each draw of a line.
Draws = tuple[tuple[str, int], ...]


def enough(draws: Iterable[tuple[str, int]], rides: Mapping[str, Ride], ordered: int) -> float:
    """The chance that a line's draws give at least the eggs ordered alive."""
    parts = tuple((eggs, rides[lot].v, rides[lot].packing.kappa) for lot, eggs in draws)
    return chance_enough(parts, next(iter(rides.values())).leg.chances, ordered)


def trimmed(draws: Draws, rides: Mapping[str, Ride], ordered: int, promise: float) -> Draws:
    """The draws less as many eggs as the promise allows; an egg goes where it is missed least (of lots alike,
    the one that sorts last), no draw below 5.
    """
    kept = dict(sorted(draws))
    while True:
        fewer = [
            (enough({**kept, lot: eggs - 1}.items(), rides, ordered), lot)
            for lot, eggs in kept.items()
            if eggs > LEAST_DRAW
        ]
        chance, lot = max(fewer, default=(0.0, ""))
        if chance < promise - ROUNDING:
            return tuple(kept.items())
        kept[lot] -= 1


def topped_up(
    draws: Draws,
    rides: Mapping[str, Ride],
    ordered: int,
    promise: float,
    may_have: Callable[[str, int], bool],
) -> Draws | None:
    """The draws with as many eggs more as the promise needs, each where it helps most (of lots alike, the one
    that sorts last); None where no lot may give another egg before it is kept.

    ``may_have``: may so many eggs of a lot go into this line?
    """
    kept = dict(sorted(draws))
    while enough(kept.items(), rides, ordered) < promise - ROUNDING:
        more = [
            (enough({**kept, lot: eggs + 1}.items(), rides, ordered), lot)
            for lot, eggs in kept.items()
            if may_have(lot, eggs + 1)
        ]
        if not more:
            return None
        kept[max(more)[1]] += 1
    return tuple(kept.items())


@dataclass(eq=False)
class Settling:
    """The eggs of a week's choice, while the lines of several lots are settled one after the other."""

    reckoner: Reckoner
    drawn: dict[LineKey, Drawn]

    @property
    def promise(self) -> float:
        return self.reckoner.shelf.settings.plan.promise

    def settle(self, ride: Callable[[LineKey, str], Ride]) -> tuple[LineKey, ...]:
        """Set the counts of each line that has several lots; the lines that no count settles are given back.

        Lines are trimmed first, so that what one leaves is there for another.
        """
        several = []
        for key in sorted(self.drawn):
            if len(self.drawn[key].draws) > 1 and self._line(key).overpack == "usual":
                several.append((key, {lot: ride(key, lot) for lot, _ in self.drawn[key].draws}))
        for key, rides in several:
            self._set(key, trimmed(self.drawn[key].draws, rides, self._line(key).eggs, self.promise))
        unsettled = []
        for key, rides in several:
            found = topped_up(
                self.drawn[key].draws, rides, self._line(key).eggs, self.promise, self._room(key, rides)
            )
            if found is None:
                unsettled.append(key)
            else:
                self._set(key, found)
        return tuple(unsettled)

    def _line(self, key: LineKey) -> Line:
        return self.reckoner.shelf.order_by_name[key[0]].line(key[1])

    def _set(self, key: LineKey, draws: Draws) -> None:
        one = self.drawn[key]
        self.drawn[key] = Drawn(one.line, one.departure, one.packing, draws)

    def _room(self, key: LineKey, rides: Mapping[str, Ride]) -> Callable[[str, int], bool]:
        now = dict(self.drawn[key].draws)
        day = self.drawn[key].departure[0]
        left = {lot: now[lot] + self._left(lot, day) for lot in now}

        def may_have(lot: str, eggs: int) -> bool:
            units = units_for(rides[lot].packing, now[lot])
            fits = units_for(rides[lot].packing, eggs) == units
            return eggs <= left[lot] and fits and self.reckoner.bears(rides[lot], eggs, units)

        return may_have

    def _left(self, lot: str, day: date) -> int:
        """Eggs of a lot that may still be drawn on a day, whatever is drawn on later ones."""
        by_day: dict[date, int] = {day: 0}
        for one in self.drawn.values():
            when = one.departure[0]
            by_day[when] = by_day.get(when, 0) + dict(one.draws).get(lot, 0)
        spare, total = math.inf, 0
        for when in sorted(by_day):
            total += by_day[when]
            if when >= day:
                spare = min(spare, self.reckoner.lot_day(lot, when).free - total)
        return max(0, int(spare))
