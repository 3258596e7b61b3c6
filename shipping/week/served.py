"""How much value a week can serve at most: the week as numbers in, a bound on any choice's value and the eggs' prices out.

Eggs may be shared out in fractions among any lots, days and packings; only whether a line goes may be whole. Every
choice is one of these, so that none is worth more; and few are worth much less, since a line may draw on several lots.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from shipping.week.program import Budget, NoAnswer, Program
from shipping.week.task import LineKey, Task

#: What a lot's eggs are needed by: (line, lot, day).
_Need = tuple[LineKey, str, date]


@dataclass(frozen=True, slots=True)
class Served:
    """No choice is worth more than ``bound``; ``lines`` are served, each order on one of its ``days``, in fractions.

    ``eggs``: what an egg of a lot drawn on a day is worth; ``places``: what room for a parcel on a day is worth.
    """

    bound: float
    lines: frozenset[LineKey]
    days: Mapping[str, date]
    eggs: Mapping[tuple[str, date], float]
    places: Mapping[date, float]


@dataclass(eq=False)
class _Sharing:
    """The program of sharing eggs out in fractions, and which row and variable means what."""

    task: Task
    program: Program = field(default_factory=Program)
    goes: dict[LineKey, int] = field(default_factory=dict)
    need: dict[_Need, int] = field(default_factory=dict)
    drawn: dict[_Need, int] = field(default_factory=dict)
    #: Rows of the eggs drawn from a day on, and up to a day.
    since_rows: dict[tuple[str, date], int] = field(default_factory=dict)
    until_rows: dict[tuple[str, date], int] = field(default_factory=dict)
    day_rows: dict[date, int] = field(default_factory=dict)
    #: Is an order sent on a day?
    on: dict[tuple[str, date], int] = field(default_factory=dict)

    def build(self) -> None:
        self._add_lines()
        self._add_draws()
        self._limit_lots()
        self._limit_families()
        self._limit_days()

    def _add_lines(self) -> None:
        """A whole variable a line; lines that always go together share one."""
        always: dict[str, set[LineKey]] = {}
        for way in self.task.ways:
            for order in way.orders:
                own = {mode[0] for mode in way.modes if mode[0][0] == order}
                always[order] = always[order] & own if order in always else own
        together = {order: self.program.add() for order in sorted(always)}
        for line in self.task.lines:
            if line in always[line[0]]:
                self.goes[line] = together[line[0]]
            else:
                self.goes[line] = self.program.add()
                self.program.row({self.goes[line]: 1.0, together[line[0]]: -1.0}, upper=0.0)

    def _add_draws(self) -> None:
        """Of each line and lot the fewest eggs that would do on a day, by whatever service and packing."""
        for filling in self.task.fillings:
            key = (filling.line, filling.lot, filling.place[0])
            self.need[key] = min(self.need.get(key, filling.eggs), filling.eggs)
        for split in self.task.splits:
            for share in split.shares:
                key = (split.line, share.lot, split.place[0])
                self.need[key] = min(self.need.get(key, share.alone), share.alone)
        parts: dict[LineKey, dict[int, float]] = {line: {variable: -1.0} for line, variable in self.goes.items()}
        for key in sorted(self.need):
            if key[0] in parts:
                self.drawn[key] = self.program.add(part=True)
                parts[key[0]][self.drawn[key]] = 1.0
        for line in self.goes:
            self.program.row(parts[line], 0.0, 0.0)

    def _limit_lots(self) -> None:
        """Eggs drawn from a day on, and up to a day, never exceed the most that is free on any of those days."""
        lots: dict[str, dict[date, dict[int, float]]] = {}
        for key, variable in self.drawn.items():
            lots.setdefault(key[1], {}).setdefault(key[2], {})[variable] = float(self.need[key])
        for lot in sorted(lots):
            for rows, days in ((self.since_rows, sorted(lots[lot], reverse=True)), (self.until_rows, sorted(lots[lot]))):
                terms: dict[int, float] = {}
                most = 0
                for day in days:
                    terms |= lots[lot][day]
                    most = max(most, self.task.free[(lot, day)])
                    rows[(lot, day)] = len(self.program.row_upper)
                    self.program.row(terms, upper=float(most))

    def _limit_families(self) -> None:
        """Lines that can only draw on certain lots need, together, no more than those hold: the solver cuts by such rows."""
        lots: dict[LineKey, set[str]] = {}
        fewest: dict[LineKey, int] = {}
        for line, lot, day in self.drawn:
            eggs = self.need[(line, lot, day)]
            lots.setdefault(line, set()).add(lot)
            fewest[line] = min(fewest.get(line, eggs), eggs)
        most: dict[str, int] = {}
        for (lot, _), eggs in self.task.free.items():
            most[lot] = max(most.get(lot, 0), eggs)
        families: dict[frozenset[str], list[LineKey]] = {}
        for line in lots:
            families.setdefault(frozenset(lots[line]), []).append(line)
        by_lot: dict[str, list[frozenset[str]]] = {}
        for family in families:
            by_lot.setdefault(min(family), []).append(family)
        for family in sorted(families, key=sorted):
            terms: dict[int, float] = {}
            for other in {one for lot in family for one in by_lot.get(lot, ()) if one <= family}:
                for line in families[other]:
                    terms[self.goes[line]] = terms.get(self.goes[line], 0.0) + float(fewest[line])
            self.program.row(terms, upper=float(sum(most[lot] for lot in family)))

    def _limit_days(self) -> None:
        """An order is on one day at most; the parcels of a day, orders that may join counted by shares, fit the day."""
        joined: dict[str, int] = {}
        for way in self.task.ways:
            for order in way.orders:
                joined[order] = max(joined.get(order, 1), len(way.orders))
        by_day: dict[tuple[str, date], dict[LineKey, dict[int, float]]] = {}
        for (line, _, day), variable in self.drawn.items():
            by_day.setdefault((line[0], day), {}).setdefault(line, {})[variable] = 1.0
        days: dict[date, dict[int, float]] = {}
        for (order, day), lines in sorted(by_day.items()):
            goes = self.on[(order, day)] = self.program.add()
            days.setdefault(day, {})[goes] = 1.0 / joined[order]
            for terms in lines.values():
                self.program.row(terms | {goes: -1.0}, upper=0.0)
        by_order: dict[str, dict[int, float]] = {}
        for (order, _), goes in self.on.items():
            by_order.setdefault(order, {})[goes] = 1.0
        for order in sorted(by_order):
            self.program.row(by_order[order], upper=1.0)
        for day, terms in sorted(days.items()) if self.task.parcels_a_day is not None else ():
            self.day_rows[day] = len(self.program.row_upper)
            self.program.row(terms, upper=float(self.task.room(day)))


def most_served(task: Task, budget: Budget, whole: bool = True, gap: float = 0.0) -> Served:
    """The most value that any choice can serve, and what eggs and parcels are worth at that; ``whole``: lines go or stay."""
    everything = math.fsum(task.value[line] for line in task.lines)
    if not task.lines or budget.is_spent:
        return Served(everything, frozenset(task.lines), {}, {}, {})
    sharing = _Sharing(task)
    sharing.build()
    goal: dict[int, float] = {}
    for line, variable in sharing.goes.items():
        goal[variable] = goal.get(variable, 0.0) - task.value[line]
    relaxed = sharing.program.relaxed(goal, budget.left(0.8))
    if relaxed is None:
        return Served(everything, frozenset(task.lines), {}, {}, {})
    bound = min(everything, -relaxed.objective)
    values = relaxed.values
    if whole:
        try:
            answer = sharing.program.solve(goal, budget.left(), gap)
            values, bound = answer.values, min(bound, -answer.bound)
        except NoAnswer:
            if budget.left() is None:
                raise
    since = {key: max(0.0, float(relaxed.prices[row])) for key, row in sharing.since_rows.items()}
    until = {key: max(0.0, float(relaxed.prices[row])) for key, row in sharing.until_rows.items()}
    places = {day: max(0.0, float(relaxed.prices[row])) for day, row in sharing.day_rows.items()}
    eggs = _added_up(since, sorted(since))
    for key, price in _added_up(until, sorted(until, reverse=True)).items():
        eggs[key] += price
    lines = frozenset(line for line, variable in sharing.goes.items() if values[variable] > 0.5)
    days = {order: day for (order, day), variable in sharing.on.items() if values[variable] > 0.5}
    return Served(bound, lines, days, eggs, places)


def _added_up(rows: Mapping[tuple[str, date], float], keys: list[tuple[str, date]]) -> dict[tuple[str, date], float]:
    """What an egg drawn on a day pays in the rows of its lot that it counts in: its own day's and those met before."""
    found: dict[tuple[str, date], float] = {}
    total, last = 0.0, ""
    for lot, day in keys:
        total = (total if lot == last else 0.0) + rows[(lot, day)]
        found[(lot, day)], last = total, lot
    return found
