"""Which line is filled how, in which parcel, on which day: ways with values and costs in, the best choice out.

It knows no fish: lines, lots and places are numbers and names. First the most value, then (at equal value) the older
orders, then the least cost, then the choice that sorts first. Groups of orders that share nothing are solved apart.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from shipping.week.program import WHOLE, Budget, Floats, NoAnswer, Program
from shipping.week.task import Chosen, Drawn, Filling, LineKey, Mode, Place, Split, Task, Way

#: A difference of value or cost below this is none.
SAME = 1e-7
#: Ranks are settled for as many lines at once as keep the largest weight below this.
RANK_WEIGHT = 1e6


def allocate(task: Task, seconds: float | None = None, gap: float = 0.0) -> Chosen:
    """The best choice of a week, proven to ``gap`` (a share of the bound), or the best found in ``seconds``."""
    budget = Budget(seconds)
    apart = _each(_parts(task, linked=False), Budget(budget.left(0.3)), gap)
    together = _joined(apart)
    if task.parcels_a_day is not None and _is_too_full(task, together):
        return _joined(_each(_parts(task, linked=True), budget, gap))
    return together


def _each(parts: list[Task], budget: Budget, gap: float) -> list[Chosen]:
    """The best choice of every part, each with its share of the seconds left."""
    return [_best(part, Budget(budget.left(1.0 / (len(parts) - n))), gap) for n, part in enumerate(parts)]


def _joined(parts: list[Chosen]) -> Chosen:
    ways = sorted((way for part in parts for way in part.ways), key=lambda way: (way.place, way.orders))
    drawn = {line: found for part in parts for line, found in part.drawn.items()}
    return Chosen(
        tuple(ways),
        dict(sorted(drawn.items())),
        math.fsum(part.value for part in parts),
        math.fsum(part.bound for part in parts),
        math.fsum(part.cost for part in parts),
    )


def _is_too_full(task: Task, chosen: Chosen) -> bool:
    loads: dict[date, int] = {}
    for way in chosen.ways:
        loads[way.place[0]] = loads.get(way.place[0], 0) + 1
    return any(load > task.room(day) for day, load in loads.items())


def _parts(task: Task, linked: bool) -> list[Task]:
    """The week in parts that share no lot and no order; all in one where the limit of parcels links them."""
    if linked:
        return [task]
    root: dict[object, object] = {}

    def find(name: object) -> object:
        while root.setdefault(name, name) != name:
            root[name] = root[root[name]]
            name = root[name]
        return name

    for way in task.ways:
        for order in way.orders:
            root[find(("order", order))] = find(("order", way.orders[0]))
    for filling in task.fillings:
        root[find(("lot", filling.lot))] = find(("order", filling.line[0]))
    for split in task.splits:
        for share in split.shares:
            root[find(("lot", share.lot))] = find(("order", split.line[0]))
    parts: dict[object, tuple[list[Filling], list[Split], list[Way]]] = {}
    for way in task.ways:
        parts.setdefault(find(("order", way.orders[0])), ([], [], []))[2].append(way)
    for filling in task.fillings:
        parts.setdefault(find(("order", filling.line[0])), ([], [], []))[0].append(filling)
    for split in task.splits:
        parts.setdefault(find(("order", split.line[0])), ([], [], []))[1].append(split)
    return [Task(tuple(f), tuple(s), tuple(w), task.value, task.age, task.free, None) for f, s, w in parts.values() if w]


@dataclass
class _Built:
    """The program of one part, and which variable means what."""

    task: Task
    program: Program = field(default_factory=Program)
    filling: list[int] = field(default_factory=list)
    split: list[int] = field(default_factory=list)
    way: list[int] = field(default_factory=list)
    used: list[list[int]] = field(default_factory=list)
    eggs: list[list[int]] = field(default_factory=list)


def _build(task: Task) -> _Built:
    """Variables and rows of one part."""
    built = _Built(task)
    program = built.program
    built.filling = [program.add() for _ in task.fillings]
    built.split = [program.add() for _ in task.splits]
    built.way = [program.add() for _ in task.ways]
    for split, variable in zip(task.splits, built.split, strict=True):
        _add_split(built, split, variable)
    _link_modes(built)
    by_order: dict[str, dict[int, float]] = {}
    by_day: dict[date, dict[int, float]] = {}
    for way, variable in zip(task.ways, built.way, strict=True):
        for order in way.orders:
            by_order.setdefault(order, {})[variable] = 1.0
        by_day.setdefault(way.place[0], {})[variable] = 1.0
    for order in sorted(by_order):
        program.row(by_order[order], upper=1.0)
    if task.parcels_a_day is not None:
        for day in sorted(by_day):
            program.row(by_day[day], upper=float(task.room(day)))
    _limit_lots(built)
    return built


def _add_split(built: _Built, split: Split, variable: int) -> None:
    """Two or more lots share a line: sum(n / alone) >= 1, at most so many lots, each draw of some size, whole units."""
    program = built.program
    used = [program.add() for _ in split.shares]
    eggs = [program.add(float(share.most)) for share in split.shares]
    units = [program.add(float(split.units)) for _ in split.shares]
    program.row({variable: -1.0} | {n: 1.0 / s.alone for n, s in zip(eggs, split.shares, strict=True)}, lower=0.0)
    program.row({variable: -float(split.lots_most)} | dict.fromkeys(used, 1.0), upper=0.0)
    program.row({variable: -2.0} | dict.fromkeys(used, 1.0), lower=0.0)
    program.row({variable: -float(split.units)} | dict.fromkeys(units, 1.0), lower=0.0, upper=0.0)
    for share, u, n, unit in zip(split.shares, used, eggs, units, strict=True):
        program.row({n: 1.0, u: -float(share.most)}, upper=0.0)
        program.row({n: 1.0, u: -float(split.least_draw)}, lower=0.0)
        program.row({n: 1.0, unit: -float(split.eggs_max)}, upper=0.0)
        program.row({unit: 1.0, u: -1.0}, lower=0.0)
        program.row({unit: 1.0, u: -float(split.units)}, upper=0.0)
        program.row({u: 1.0, variable: -1.0}, upper=0.0)
    built.used.append(used)
    built.eggs.append(eggs)


def _link_modes(built: _Built) -> None:
    """A line is filled in a mode at a place exactly where a parcel carries it so."""
    rows: dict[tuple[Mode, Place], dict[int, float]] = {}
    for filling, variable in zip(built.task.fillings, built.filling, strict=True):
        rows.setdefault((filling.mode, filling.place), {})[variable] = 1.0
    for split, variable in zip(built.task.splits, built.split, strict=True):
        rows.setdefault((split.mode, split.place), {})[variable] = 1.0
    for way, variable in zip(built.task.ways, built.way, strict=True):
        for mode in way.modes:
            rows.setdefault((mode, way.place), {})[variable] = -1.0
    for key in sorted(rows, key=repr):
        built.program.row(rows[key], lower=0.0, upper=0.0)


def _limit_lots(built: _Built) -> None:
    """Eggs drawn up to a day never exceed what the lot holds free that day, where it is drawn from that day.

    A lot mostly loses eggs from day to day; what was drawn on an earlier day, when there were more, does not count
    against a later day on which nothing is drawn.
    """
    draws: dict[str, dict[date, dict[int, float]]] = {}
    marks: dict[tuple[str, date], list[int]] = {}
    for filling, variable in zip(built.task.fillings, built.filling, strict=True):
        day = filling.place[0]
        draws.setdefault(filling.lot, {}).setdefault(day, {})[variable] = float(filling.eggs)
        marks.setdefault((filling.lot, day), []).append(variable)
    for number, split in enumerate(built.task.splits):
        day = split.place[0]
        for share, used, eggs in zip(split.shares, built.used[number], built.eggs[number], strict=True):
            draws.setdefault(share.lot, {}).setdefault(day, {})[eggs] = 1.0
            marks.setdefault((share.lot, day), []).append(used)
    for lot in sorted(draws):
        sums: dict[int, float] = {}
        most_before = 0
        for day in sorted(draws[lot]):
            free = built.task.free[(lot, day)]
            sums |= draws[lot][day]
            terms, limit = dict(sums), float(free)
            if most_before > free:
                drawn_today = built.program.add()
                for mark in marks[(lot, day)]:
                    built.program.row({mark: 1.0, drawn_today: -1.0}, upper=0.0)
                terms[drawn_today] = float(most_before - free)
                limit = float(most_before)
            built.program.row(terms, upper=limit)
            most_before = max(most_before, free)


def _best(task: Task, budget: Budget, gap: float) -> Chosen:
    """The best choice of one part: value, then age, then cost, then the one that sorts first."""
    built = _build(task)
    value = {v: -math.fsum(task.value[m[0]] for m in way.modes) for way, v in zip(task.ways, built.way, strict=True)}
    age = {v: -math.fsum(task.age[m[0]] for m in way.modes) for way, v in zip(task.ways, built.way, strict=True)}
    lines = {mode[0] for way in task.ways for mode in way.modes}
    values, bound = _most_value(built.program, value, budget, gap, math.fsum(task.value[line] for line in lines))
    reached = -_total(value, values)
    built.program.row(value, upper=-reached + _slack(reached))
    if _total(age, values) > -math.fsum(task.age[line] for line in lines) + SAME:
        values = _settle(built.program, age, values, budget)
        best = _total(age, values)
        built.program.row(age, upper=best + _slack(best))
    costs = _costs(built)
    values = _settle(built.program, costs, values, budget)
    best = _total(costs, values)
    built.program.narrow(costs, best)
    built.program.row(costs, upper=best + _slack(best))
    values = _sorts_first(built, values, budget)
    return _read(built, values, value=-_total(value, values), bound=max(bound, reached))


def _most_value(
    program: Program, value: Mapping[int, float], budget: Budget, gap: float, everything: float
) -> tuple[Floats, float]:
    """The choice of most value and the bound on it; nothing at all, below ``everything``, where time runs out first."""
    try:
        answer = program.solve(value, budget.left(0.6), gap)
    except NoAnswer:
        if budget.left() is None:
            raise
        return np.zeros(len(program.uppers)), everything
    return answer.values, min(-answer.bound, everything)


def _settle(program: Program, goal: Mapping[int, float], values: Floats, budget: Budget) -> Floats:
    """The values that make a later goal smallest; those in hand where time runs out before any better are found."""
    if not any(goal.values()) or budget.is_spent:
        return values
    try:
        found = program.solve(goal, budget.left(0.5)).values
    except NoAnswer:
        if budget.left() is None:
            raise
        return values
    return found if _total(goal, found) <= _total(goal, values) else values


def _slack(total: float) -> float:
    return SAME * max(1.0, abs(total))


def _total(goal: Mapping[int, float], values: Floats) -> float:
    return math.fsum(weight * float(values[variable]) for variable, weight in goal.items())


def _costs(built: _Built) -> dict[int, float]:
    """What every variable costs: fillings, splits with their eggs, and parcels."""
    costs = {v: filling.cost for filling, v in zip(built.task.fillings, built.filling, strict=True)}
    costs |= {v: split.cost for split, v in zip(built.task.splits, built.split, strict=True)}
    costs |= {v: way.cost for way, v in zip(built.task.ways, built.way, strict=True)}
    for split, eggs in zip(built.task.splits, built.eggs, strict=True):
        costs |= {v: share.egg_cost for share, v in zip(split.shares, eggs, strict=True)}
    return costs


def _sorts_first(built: _Built, values: Floats, budget: Budget) -> Floats:
    """Of equal choices the one whose list of (order, line, day, service, lots, packing) sorts first.

    Lines are settled in order, a few at a time: each line's open choices have ranks, and earlier lines weigh more.
    Last, of equal ways to make up parcels, the one with fewer.
    """
    open_to = built.program.uppers
    ranked: dict[LineKey, list[tuple[tuple[object, ...], int]]] = {}
    for filling, variable in zip(built.task.fillings, built.filling, strict=True):
        ranked.setdefault(filling.line, []).append((filling.rank, variable))
    for split, variable in zip(built.task.splits, built.split, strict=True):
        ranked.setdefault(split.line, []).append((split.rank, variable))
    batch: list[dict[int, float]] = []
    size = 1.0
    for line in sorted(ranked):
        still_open = [(rank, variable) for rank, variable in ranked[line] if open_to[variable] > 0]
        ranks = sorted({rank for rank, _ in still_open})
        place = {rank: float(n) for n, rank in enumerate(ranks)}
        batch.append({variable: place[rank] - len(ranks) for rank, variable in still_open})
        size *= len(ranks) + 1
        if size > RANK_WEIGHT:
            values = _settle_ranks(built.program, batch, values, budget)
            batch, size = [], 1.0
    values = _settle_ranks(built.program, batch, values, budget)
    joins = any(len(way.orders) > 1 and open_to[v] > 0 for way, v in zip(built.task.ways, built.way, strict=True))
    return _settle(built.program, dict.fromkeys(built.way, 1.0), values, budget) if joins else values


def _settle_ranks(program: Program, batch: list[dict[int, float]], values: Floats, budget: Budget) -> Floats:
    """Settle the ranks of a few lines, the first the heaviest, and keep them settled."""
    if any(_total(ranks, values) > min(ranks.values(), default=0.0) + WHOLE for ranks in batch):
        goal: dict[int, float] = {}
        weight = 1.0
        for ranks in reversed(batch):
            goal |= {variable: weight * rank for variable, rank in ranks.items()}
            weight *= max((-rank for rank in ranks.values()), default=0.0) + 1.0
        values = _settle(program, goal, values, budget)
    for ranks in batch:
        program.row(ranks, upper=_total(ranks, values) + WHOLE)
    return values


def _read(built: _Built, values: Floats, value: float, bound: float) -> Chosen:
    """What the values of the variables mean."""
    drawn: dict[LineKey, Drawn] = {}
    for filling, variable in zip(built.task.fillings, built.filling, strict=True):
        if values[variable] > 0.5:
            drawn[filling.line] = Drawn(filling.line, filling.place, filling.packing, ((filling.lot, filling.eggs),))
    for number, (split, variable) in enumerate(zip(built.task.splits, built.split, strict=True)):
        if values[variable] > 0.5:
            eggs = built.eggs[number]
            draws = tuple((s.lot, round(values[n])) for s, n in zip(split.shares, eggs, strict=True) if values[n] > 0.5)
            drawn[split.line] = Drawn(split.line, split.place, split.packing, draws)
    ways = tuple(way for way, variable in zip(built.task.ways, built.way, strict=True) if values[variable] > 0.5)
    return Chosen(ways, drawn, value, bound, _total(_costs(built), values))
