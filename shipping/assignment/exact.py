"""The best choice of a small week, proven: the week as numbers and a good choice in, the best choice out.

First the most value, then (at equal value) the older orders, then the least cost, then the choice that sorts
first.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Mapping
from dataclasses import replace
from datetime import date

import numpy as np

from shipping.assignment.compact_program import CompactProgram, GroupKey
from shipping.assignment.dominance import carried_by, thinned
from shipping.assignment.instance import Chosen, Instance
from shipping.assignment.instance_columns import columns_of_instance
from shipping.assignment.mip import SAME, WHOLE, Budget, Floats, NoAnswer, Program, Relaxed, WorkLimit
from shipping.assignment.relaxation_bound import RelaxationBound
from shipping.words.keys import LineKey

#: Ranks are settled for as many lines at once as keep the largest weight below this.
RANK_WEIGHT = 1e6
#: So many groups of splits are made ready at first; more where the bound does not rule them out.
FIRST_GROUPS = 40
#: So many nodes a search for the most value, the least cost and the first to sort may look into.
VALUE_NODES, COST_NODES, RANK_NODES = 200, 100, 60
#: Of a week of more lines than this, older orders are not looked for, nor more value in a program of more
#: variables.
FEW_LINES, MOST_VARIABLES = 50, 2500
#: Without a limit of time, nor in one of more weights: the work allowed would end in its first looks.
MOST_WEIGHTS = 19_000
#: The same where the days on which orders go are given; and the work of each.
DAYS_NODES = 200
VALUE_WORK, DAYS_WORK = WorkLimit(6e6, "rins"), WorkLimit(2e7, "rens")
#: Without a limit of time the least cost is proven where at most so many variables are open.
MOST_OPEN = 250


def most_valuable(instance: Instance, start: Chosen, budget: Budget, gap: float) -> Chosen:
    """A choice of the most value, of those of the oldest orders; ``start`` is one with a bound on any."""
    is_most = start.value >= start.bound - max(_slack(start.bound), gap * start.bound)
    is_large = len(instance.lines) > FEW_LINES
    if is_most and (is_large or not _may_be_exchanged(instance, set(start.drawn))):
        return start
    found = _most(instance, start.value, start.bound, budget, gap, VALUE_NODES, VALUE_WORK)
    best = max(start, found, key=lambda one: (round(one.value / SAME), round(_age(instance, one) / SAME)))
    return replace(best, bound=max(found.bound, best.value))


def best_on_days(
    instance: Instance, days: Mapping[str, Collection[date]], reached: float, most: float, budget: Budget
) -> Chosen:
    """The best choice found of those in which orders go on these days, by name, others not at all, and that
    are worth what is reached; no choice is worth more than ``most``.
    """
    columns = [
        column
        for column in instance.columns
        if all(column.departure[0] in days.get(order, ()) for order in column.orders)
    ]
    return _most(carried_by(instance, columns), reached, most, budget, 0.0, DAYS_NODES, DAYS_WORK)


def cheapest(instance: Instance, start: Chosen, budget: Budget) -> Chosen:
    """The cheapest choice worth as much as ``start``, of those the first to sort; or the best found."""
    if not _may_be_exchanged(instance, set(start.drawn)):
        instance = _only(instance, set(start.drawn))
    week, values, costs = _held_to(instance, start)
    values, proven = _cheapest(week, costs, values, budget.part(0.95))
    if proven:
        best = _total(costs, values)
        week.program.row(costs, upper=best + _slack(best))
        values = _sorts_first(week, costs, values, budget)
    columns = tuple(sorted(week.columns(values), key=lambda column: (column.departure, column.orders)))
    drawn = week.drawn(values)
    if (
        drawn.keys() < start.drawn.keys()
    ):  # a line worth less than the others' rounding was let go for its cost
        return replace(start, cheapest=False)
    return replace(start, columns=columns, drawn=drawn, cost=_total(costs, values), cheapest=proven)


def _held_to(instance: Instance, chosen: Chosen) -> tuple[CompactProgram, Floats, dict[int, float]]:
    """The program of a task held to the value and age of a choice, that choice's values, and the costs."""
    week = CompactProgram.of(instance)
    values = week.values_of(chosen)
    for goal in (week.by_line(instance.value), week.by_line(instance.age)):
        week.program.row(goal, upper=_total(goal, values) + _slack(_total(goal, values)))
    return week, values, week.costs()


def _most(
    instance: Instance,
    reached: float,
    most: float,
    budget: Budget,
    gap: float,
    nodes: int,
    work: WorkLimit | None,
) -> Chosen:
    """A choice of the most value, which is ``most`` at most, and, of those, of the oldest orders; it may cost
    anything. Nothing goes in it where no choice worth what is reached was found.
    """
    instance = thinned(instance)
    week = CompactProgram.of(instance)
    program, is_large = week.program, len(instance.lines) > FEW_LINES
    week.make_ready(week.groups)
    value, age = week.by_line(instance.value), week.by_line(instance.age)
    nothing = Chosen((), {}, 0.0, most, 0.0)
    is_heavy = len(program.columns) > MOST_WEIGHTS and not budget.measures
    if is_large and (is_heavy or len(program.uppers) > MOST_VARIABLES):
        return nothing
    if reached >= most - _slack(most):
        try:
            answer = program.solve(value, budget.left(0.7), gap, -most + _slack(most), nodes)
        except NoAnswer:
            return nothing
        values, bound = answer.values, answer.bound
    else:
        program.row(value, lower=-most - _slack(most))
        for weights, limit in RelaxationBound(columns_of_instance(instance)).cuts(budget.part(0.3)):
            week.cut(weights, limit)
        if budget.measures:
            work = None
        bound, better = program.bound(value, -reached + _slack(reached), budget.left(0.7), nodes, gap, work)
        if better is None:
            return replace(nothing, bound=min(-bound, most))
        values = better
    served = -_total(value, values)
    if not is_large and _may_be_exchanged(instance, set(week.drawn(values))):
        program.row(value, upper=-served + _slack(served))
        values, _ = _settle(program, age, values, budget, nodes)
    return Chosen(
        week.columns(values),
        week.drawn(values),
        served,
        max(min(-bound, most), served),
        _total(week.costs(), values),
    )


def _age(instance: Instance, chosen: Chosen) -> float:
    """For how long the lines that go have waited."""
    return math.fsum(instance.age[line] for line in sorted(chosen.drawn))


def _may_be_exchanged(instance: Instance, served: Collection[LineKey]) -> bool:
    """May other lines than those served be worth the same?

    Asked of exchanges of up to two lines for up to two. Where there is none, lines worth different amounts of
    money, waited for different times, do not add up to the same by larger exchanges either, but for chance.
    """
    sums = np.sort(_sums([instance.value[line] for line in served]))
    for value in _sums([instance.value[line] for line in instance.lines if line not in served]):
        near = int(np.searchsorted(sums, value))
        if any(abs(sums[n] - value) <= _slack(value) for n in (near - 1, near) if 0 <= n < sums.size):
            return True
    return False


def _sums(values: list[float]) -> list[float]:
    """The values and what any two of them add up to."""
    return values + [a + b for a, b in itertools.combinations(values, 2)]


def _only(instance: Instance, lines: Collection[LineKey]) -> Instance:
    """The task of some lines alone."""
    return replace(
        instance,
        fills=tuple(f for f in instance.fills if f.line in lines),
        shared_fills=tuple(s for s in instance.shared_fills if s.line in lines),
        columns=tuple(
            column
            for column in instance.columns
            if all(travel_mode[0] in lines for travel_mode in column.travel_modes)
        ),
    )


def _cheapest(
    week: CompactProgram, costs: dict[int, float], values: Floats, budget: Budget
) -> tuple[Floats, bool]:
    """The cheapest choice of those that keep the rows so far, and whether that is proven.

    The relaxation's reduced costs say which variables no better choice can use. Groups of splits are made
    ready cheapest first; what they give lowers the best known, which rules out more; when every group left
    open is ready, the choice is the cheapest of all.
    """
    program = week.program
    relaxed = program.relaxed(costs, budget.left(0.5))
    most = FIRST_GROUPS
    while True:
        still_open = program.narrow(relaxed, _total(costs, values))
        if not budget.measures and still_open > MOST_OPEN:
            return values, False
        waiting = _by_cost(week, relaxed)
        if budget.is_spent:
            return values, False
        week.make_ready(waiting[:most])
        values = _padded(values, program)
        open_to = week.shut_all_but_ready()
        last = budget if len(waiting) <= most else budget.part(0.6)
        values, proven = _settle(program, costs, values, last, COST_NODES)
        program.uppers = open_to
        if len(waiting) <= most or not proven:
            return values, proven
        relaxed, most = program.relaxed(costs, budget.left(0.5)), 4 * most


def _by_cost(week: CompactProgram, relaxed: Relaxed | None) -> list[GroupKey]:
    """The groups still open and not ready, by what using them costs beyond the relaxation."""
    uppers = week.program.uppers
    found = []
    for key, group in week.groups.items():
        still = [y for y in group.chosen if uppers[y] > 0]
        if still and key not in week.ready:
            found.append((min(float(relaxed.reduced[y]) for y in still) if relaxed is not None else 0.0, key))
    return [key for _, key in sorted(found)]


def _padded(values: Floats, program: Program) -> Floats:
    """The values with zeros for variables added since."""
    return np.concatenate((values, np.zeros(len(program.uppers) - values.size)))


def _settle(
    program: Program, goal: Mapping[int, float], values: Floats, budget: Budget, nodes: int
) -> tuple[Floats, bool]:
    """The values that make a later goal smallest, and whether proven; those in hand where none are better."""
    if not any(goal.values()):
        return values, True
    if budget.is_spent:
        return values, False
    try:
        found = program.solve(goal, budget.left(), nodes=nodes)
    except NoAnswer:
        return values, False
    return (found.values if _total(goal, found.values) <= _total(goal, values) else values), found.proven


def _slack(total: float) -> float:
    return SAME * max(1.0, abs(total)) if math.isfinite(total) else 0.0


def _total(goal: Mapping[int, float], values: Floats) -> float:
    return math.fsum(weight * float(values[variable]) for variable, weight in goal.items())


def _sorts_first(week: CompactProgram, costs: dict[int, float], values: Floats, budget: Budget) -> Floats:
    """Of equal choices the one whose list of (order, line, day, service, lots, packing) sorts first.

    Lines are settled in order, a few at a time: each line's open choices have ranks, and earlier lines weigh
    more. Last, of equal ways to make up parcels, the one with fewer.
    """
    program = week.program
    relaxed = program.relaxed(costs, budget.left(0.3))
    program.narrow(relaxed, _total(costs, values))
    week.make_ready(_by_cost(week, relaxed))
    values = _padded(values, program)
    open_to = program.uppers
    ranked: dict[LineKey, list[tuple[tuple[object, ...], int]]] = {}
    for fill, variable in zip(week.instance.fills, week.fill, strict=True):
        ranked.setdefault(fill.line, []).append((fill.rank, variable))
    for group in week.groups.values():
        for shared_fill, variable in zip(group.shared_fills, group.chosen, strict=True):
            ranked.setdefault(shared_fill.line, []).append((shared_fill.rank, variable))
    batch: list[dict[int, float]] = []
    size = 1.0
    for line in sorted(ranked):
        still_open = [(rank, variable) for rank, variable in ranked[line] if open_to[variable] > 0]
        ranks = sorted({rank for rank, _ in still_open})
        departure = {rank: float(n) for n, rank in enumerate(ranks)}
        batch.append({variable: departure[rank] - len(ranks) for rank, variable in still_open})
        size *= len(ranks) + 1
        if size > RANK_WEIGHT:
            values = _settle_ranks(program, batch, values, budget)
            batch, size = [], 1.0
    values = _settle_ranks(program, batch, values, budget)
    columns = {
        variable: 1.0 for number in range(len(week.instance.columns)) for variable in week.of_column(number)
    }
    joins = any(len(column.orders) > 1 for column in week.instance.columns)
    return _settle(program, columns, values, budget, RANK_NODES)[0] if joins else values


def _settle_ranks(program: Program, batch: list[dict[int, float]], values: Floats, budget: Budget) -> Floats:
    """Settle the ranks of a few lines, the first the heaviest, and keep them settled."""
    if any(_total(ranks, values) > min(ranks.values(), default=0.0) + WHOLE for ranks in batch):
        goal: dict[int, float] = {}
        weight = 1.0
        for ranks in reversed(batch):
            goal |= {variable: weight * rank for variable, rank in ranks.items()}
            weight *= max((-rank for rank in ranks.values()), default=0.0) + 1.0
        values, _ = _settle(program, goal, values, budget, RANK_NODES)
    for ranks in batch:
        program.row(ranks, upper=_total(ranks, values) + WHOLE)
    return values
