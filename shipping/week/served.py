"""How much value a week can serve at most: the week as numbers in, a bound on any choice's value and who is served, out.

Eggs may be shared out in fractions among any lots, days and packings; only whether a line goes is whole. Every choice
is one of these, so that none is worth more; and few are worth much less, since a line may draw on several lots.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from shipping.week.program import Budget, NoAnswer, Program
from shipping.week.task import LineKey, Task

#: What a lot's eggs are needed by: (line, lot, day).
_Need = tuple[LineKey, str, date]


@dataclass(frozen=True, slots=True)
class Served:
    """No choice is worth more than ``bound``; ``lines`` are those that the fractions would serve."""

    bound: float
    lines: frozenset[LineKey]


def most_served(task: Task, weight: Mapping[LineKey, float], budget: Budget) -> Served:
    """The most ``weight`` (such as value) that any choice can serve."""
    lines = sorted({mode[0] for way in task.ways for mode in way.modes})
    everything = math.fsum(weight[line] for line in lines)
    if not lines or budget.is_spent:
        return Served(everything, frozenset(lines))
    program = Program()
    goes = _who_goes(program, task, lines)
    need = _eggs_needed(task)
    drawn = {key: program.add(part=True) for key in sorted(need) if key[0] in goes}
    parts: dict[LineKey, dict[int, float]] = {line: {variable: -1.0} for line, variable in goes.items()}
    for key, variable in drawn.items():
        parts[key[0]][variable] = 1.0
    for line in lines:
        program.row(parts[line], 0.0, 0.0)
    _limit_lots(program, task, need, drawn)
    _limit_families(program, task, need, goes)
    _limit_days(program, task, drawn)
    goal: dict[int, float] = {}
    for line, variable in goes.items():
        goal[variable] = goal.get(variable, 0.0) - weight[line]
    try:
        answer = program.solve(goal, budget.left())
    except NoAnswer:
        if budget.left() is None:
            raise
        relaxed = program.relaxed(goal)
        return Served(everything if relaxed is None else min(everything, -relaxed.objective), frozenset(lines))
    served = frozenset(line for line, variable in goes.items() if answer.values[variable] > 0.5)
    return Served(min(everything, -answer.bound), served)


def _who_goes(program: Program, task: Task, lines: list[LineKey]) -> dict[LineKey, int]:
    """A whole variable a line; lines that always go together share one."""
    always: dict[str, set[LineKey]] = {}
    for way in task.ways:
        for order in way.orders:
            own = {mode[0] for mode in way.modes if mode[0][0] == order}
            always[order] = always[order] & own if order in always else own
    together = {order: program.add() for order in sorted(always)}
    goes = {}
    for line in lines:
        if line in always[line[0]]:
            goes[line] = together[line[0]]
        else:
            goes[line] = program.add()
            program.row({goes[line]: 1.0, together[line[0]]: -1.0}, upper=0.0)
    return goes


def _eggs_needed(task: Task) -> dict[_Need, int]:
    """The fewest eggs of a lot that would do for a line on a day, by whatever service and packing."""
    need: dict[_Need, int] = {}
    for filling in task.fillings:
        key = (filling.line, filling.lot, filling.place[0])
        need[key] = min(need.get(key, filling.eggs), filling.eggs)
    for split in task.splits:
        for share in split.shares:
            key = (split.line, share.lot, split.place[0])
            need[key] = min(need.get(key, share.alone), share.alone)
    return need


def _limit_lots(program: Program, task: Task, need: Mapping[_Need, int], drawn: Mapping[_Need, int]) -> None:
    """Eggs drawn from a day on never exceed the most that is free on that day or a later one."""
    lots: dict[str, dict[date, dict[int, float]]] = {}
    for key, variable in drawn.items():
        lots.setdefault(key[1], {}).setdefault(key[2], {})[variable] = float(need[key])
    for lot in sorted(lots):
        terms: dict[int, float] = {}
        most = 0
        for day in sorted(lots[lot], reverse=True):
            terms |= lots[lot][day]
            most = max(most, task.free[(lot, day)])
            program.row(terms, upper=float(most))


def _limit_families(program: Program, task: Task, need: Mapping[_Need, int], goes: Mapping[LineKey, int]) -> None:
    """Lines that can only draw on certain lots need, together, no more than those hold: the solver cuts by such rows."""
    lots: dict[LineKey, set[str]] = {}
    fewest: dict[LineKey, int] = {}
    for (line, lot, _), eggs in need.items():
        lots.setdefault(line, set()).add(lot)
        fewest[line] = min(fewest.get(line, eggs), eggs)
    most: dict[str, int] = {}
    for (lot, _), eggs in task.free.items():
        most[lot] = max(most.get(lot, 0), eggs)
    families: dict[frozenset[str], list[LineKey]] = {}
    for line in goes:
        families.setdefault(frozenset(lots.get(line, ())), []).append(line)
    for family in sorted(families, key=sorted):
        terms: dict[int, float] = {}
        for line in (line for other, members in families.items() if other <= family for line in members):
            if line in fewest:
                terms[goes[line]] = terms.get(goes[line], 0.0) + float(fewest[line])
        program.row(terms, upper=float(sum(most[lot] for lot in family)))


def _limit_days(program: Program, task: Task, drawn: Mapping[_Need, int]) -> None:
    """An order is on one day at most; the parcels of a day, orders that may join counted by shares, fit the day."""
    if task.parcels_a_day is None:
        return
    joined: dict[str, int] = {}
    for way in task.ways:
        for order in way.orders:
            joined[order] = max(joined.get(order, 1), len(way.orders))
    by_day: dict[tuple[str, date], dict[LineKey, dict[int, float]]] = {}
    for (line, _, day), variable in drawn.items():
        by_day.setdefault((line[0], day), {}).setdefault(line, {})[variable] = 1.0
    days: dict[date, dict[int, float]] = {}
    for (order, day), lines in sorted(by_day.items()):
        goes = program.add()
        days.setdefault(day, {})[goes] = 1.0 / joined[order]
        for terms in lines.values():
            program.row(terms | {goes: -1.0}, upper=0.0)
    for day, terms in sorted(days.items()):
        program.row(terms, upper=float(task.room(day)))
