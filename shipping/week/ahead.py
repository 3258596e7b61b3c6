"""Days ahead on which a line may be filled: waiting lines and what is left of the lots in, days worth a closer look out.

A day left out is one on which no option can do; one left in is decided by the options themselves.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from shipping.tables.orders import Line, Order
from shipping.week.journeys import Ints, bit
from shipping.week.left import EggsLeft
from shipping.week.option_table import ASKING, LineOptions, tables_for
from shipping.week.rides import LEAST_DRAW
from shipping.week.task import LineKey

_FEW = bit("short") | bit("too-young")


@dataclass(eq=False)
class DaysAhead:
    """The options of waiting lines on all days ahead, reckoned together when the first is asked for."""

    left: EggsLeft
    days: tuple[date, ...]
    waiting: tuple[tuple[Order, Line], ...]
    _options: dict[LineKey, LineOptions] = field(default_factory=dict)

    def days_for(self, order: Order, line: Line, days: Iterable[date], answered: bool) -> Iterator[date]:
        """The days on which the line may be filled; ``answered``: what a person has to answer first is taken as answered."""
        options = self._of(order, line)
        ignored = ASKING if answered else 0
        open_to = (options.codes >= 0) & ((options.codes & ~(_FEW | ignored)) == 0) & (options.pack > 0)
        for day in days:
            legs = np.array([leg.day == day for leg in options.legs], dtype=bool)
            cells = np.argwhere(open_to[:, legs, :])
            if cells.size and self._may_do(options, day, options.pack[:, legs, :], cells):
                yield day

    def _may_do(self, options: LineOptions, day: date, pack: Ints, cells: Ints) -> bool:
        """Is enough left, of one lot or of several by one leg in one packing?"""
        left = {n: self.left.on(options.lots[n].lot, day) for n in np.unique(cells[:, 0]).tolist()}
        together: dict[tuple[int, int], list[float]] = {}
        for lot, leg, packing in cells.tolist():
            needed = int(pack[lot, leg, packing])
            if needed <= left[lot]:
                return True
            if left[lot] >= LEAST_DRAW:
                together.setdefault((leg, packing), []).append(left[lot] / needed)
        most = self.left.reckoner.shelf.settings.plan.lots_a_line
        return any(math.fsum(sorted(shares)[-most:]) >= 1.0 for shares in together.values())

    def _of(self, order: Order, line: Line) -> LineOptions:
        if not self._options:
            self._reckon(self.waiting)
        if line.key not in self._options:
            self._reckon(((order, line),))
        return self._options[line.key]

    def _reckon(self, waiting: tuple[tuple[Order, Line], ...]) -> None:
        for table in tables_for(self.left.reckoner, [(order, line.species) for order, line in waiting], self.days):
            for order, line in waiting:
                if line.species == table.species.species:
                    self._options[line.key] = table.of(order, line, line.population)
