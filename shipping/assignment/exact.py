"""The best choice of a small week, proven by its integer program: the week as numbers and a good choice in,
the best choice out.

First the most value, then (at equal value) the older orders, then the least cost, then the choice that sorts
first. Splits come in groups: a line at a place in one packing, shared among lots. A group's exact rules
(whole units, draws of some size, so many lots) are added only for groups that are made ready; the others stay
shut, but count in the relaxation, whose bound holds for all.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from shipping.assignment.columns import columns_of_instance
from shipping.assignment.dominance import carried_by, thinned
from shipping.assignment.instance import (
    Chosen,
    Departure,
    Drawn,
    Instance,
    ParcelColumn,
    SharedFill,
    TravelMode,
)
from shipping.assignment.mip import SAME, WHOLE, Budget, Floats, NoAnswer, Program, Relaxed, WorkLimit
from shipping.assignment.relaxation_bound import RelaxationBound
from shipping.words.keys import LineKey

#: A line at a place in a packing, shared among these lots.
GroupKey = tuple[LineKey, Departure, str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class SplitGroup:
    """The splits of a line at a place in a packing: a variable a number of units, and eggs of each lot."""

    shared_fills: tuple[SharedFill, ...]
    chosen: tuple[int, ...]
    eggs: tuple[int, ...]


@dataclass(eq=False)
class CompactProgram:
    """The program of one week, and which variable means what; ask `of` for one."""

    instance: Instance
    program: Program = field(default_factory=Program)
    fill: list[int] = field(default_factory=list)
    column: list[int | None] = field(default_factory=list)
    groups: dict[GroupKey, SplitGroup] = field(default_factory=dict)
    ready: set[GroupKey] = field(default_factory=set)
    #: Of a folded way: the variables that carry it.
    carriers: dict[int, list[int]] = field(default_factory=dict)
    marks: dict[GroupKey, list[int]] = field(default_factory=dict)

    @classmethod
    def of(cls, instance: Instance) -> CompactProgram:
        made = cls(instance)
        made.fill = [made.program.add() for _ in instance.fills]
        made._add_groups()
        made._add_columns()
        made._limit_parcels()
        made._limit_lots()
        return made

    def _add_groups(self) -> None:
        found: dict[GroupKey, list[SharedFill]] = {}
        for shared_fill in self.instance.shared_fills:
            lots = tuple(share.lot for share in shared_fill.shares)
            found.setdefault((shared_fill.line, shared_fill.departure, shared_fill.packing, lots), []).append(
                shared_fill
            )
        for key, shared_fills in found.items():
            chosen = tuple(self.program.add() for _ in shared_fills)
            eggs = tuple(self.program.add(float(share.most)) for share in shared_fills[0].shares)
            self.groups[key] = SplitGroup(tuple(shared_fills), chosen, eggs)
            enough = {n: 1.0 / share.alone for n, share in zip(eggs, shared_fills[0].shares, strict=True)}
            self.program.row(enough | dict.fromkeys(chosen, -1.0), lower=0.0)
            for n, share in zip(eggs, shared_fills[0].shares, strict=True):
                self.program.row({n: 1.0} | dict.fromkeys(chosen, -float(share.most)), upper=0.0)

    def _add_columns(self) -> None:
        """A line is filled so at a place exactly where a parcel carries it; alone in it, it is the parcel."""
        filled: dict[tuple[TravelMode, Departure], list[int]] = {}
        for fill, variable in zip(self.instance.fills, self.fill, strict=True):
            filled.setdefault((fill.travel_mode, fill.departure), []).append(variable)
        for group in self.groups.values():
            for shared_fill, variable in zip(group.shared_fills, group.chosen, strict=True):
                filled.setdefault((shared_fill.travel_mode, shared_fill.departure), []).append(variable)
        carried: dict[tuple[TravelMode, Departure], list[int]] = {}
        for number, column in enumerate(self.instance.columns):
            for travel_mode in column.travel_modes:
                carried.setdefault((travel_mode, column.departure), []).append(number)
        for number, column in enumerate(self.instance.columns):
            only = len(column.travel_modes) == 1 and carried[(column.travel_modes[0], column.departure)] == [
                number
            ]
            if only:
                self.carriers[number] = filled.get((column.travel_modes[0], column.departure), [])
                self.column.append(None)
            else:
                self.column.append(self.program.add())
        for key in sorted(filled.keys() | carried.keys(), key=repr):
            numbers = carried.get(key, [])
            if len(numbers) == 1 and self.column[numbers[0]] is None:
                continue
            columns = {v: -1.0 for number in numbers if (v := self.column[number]) is not None}
            self.program.row(dict.fromkeys(filled.get(key, []), 1.0) | columns, lower=0.0, upper=0.0)

    def of_column(self, number: int) -> list[int]:
        """The variables of which one is 1 exactly where this way is taken."""
        variable = self.column[number]
        return self.carriers[number] if variable is None else [variable]

    def _limit_parcels(self) -> None:
        orders: dict[str, dict[int, float]] = {}
        days: dict[date, dict[int, float]] = {}
        for number, column in enumerate(self.instance.columns):
            terms = dict.fromkeys(self.of_column(number), 1.0)
            for order in column.orders:
                orders.setdefault(order, {}).update(terms)
            days.setdefault(column.departure[0], {}).update(terms)
        for order in sorted(orders):
            self.program.row(orders[order], upper=1.0)
        if self.instance.parcels_a_day is not None:
            for day in sorted(days):
                self.program.row(days[day], upper=float(self.instance.room(day)))

    def _limit_lots(self) -> None:
        """Eggs drawn up to a day on which a lot is drawn from never exceed what it holds free that day."""
        draws: dict[str, dict[date, dict[int, float]]] = {}
        marks: dict[tuple[str, date], list[tuple[int, float]]] = {}
        for fill, variable in zip(self.instance.fills, self.fill, strict=True):
            day = fill.departure[0]
            draws.setdefault(fill.lot, {}).setdefault(day, {})[variable] = float(fill.eggs)
            marks.setdefault((fill.lot, day), []).append((variable, 1.0))
        for group in self.groups.values():
            day = group.shared_fills[0].departure[0]
            for share, eggs in zip(group.shared_fills[0].shares, group.eggs, strict=True):
                draws.setdefault(share.lot, {}).setdefault(day, {})[eggs] = 1.0
                marks.setdefault((share.lot, day), []).append((eggs, 1.0 / share.most))
        for lot in sorted(draws):
            sums: dict[int, float] = {}
            most_before = 0
            for day in sorted(draws[lot]):
                free = self.instance.free[(lot, day)]
                sums |= draws[lot][day]
                terms, limit = dict(sums), float(free)
                if most_before > free:
                    drawn_today = self.program.add()
                    for mark, weight in marks[(lot, day)]:
                        self.program.row({mark: weight, drawn_today: -1.0}, upper=0.0)
                    terms[drawn_today] = float(most_before - free)
                    limit = float(most_before)
                self.program.row(terms, upper=limit)
                most_before = max(most_before, free)

    def make_ready(self, keys: Iterable[GroupKey]) -> None:
        """Add the exact rules of groups: two lots or more, at most so many, draws of a size, whole units."""
        for key in sorted(set(keys) - self.ready):
            self._make_ready(key)
            self.ready.add(key)

    def _make_ready(self, key: GroupKey) -> None:
        program, group = self.program, self.groups[key]
        first = group.shared_fills[0]
        used = [program.add() for _ in first.shares]
        self.marks[key] = used
        for u, n, share in zip(used, group.eggs, first.shares, strict=True):
            program.row({n: 1.0, u: -float(share.most)}, upper=0.0)
            program.row({n: 1.0, u: -float(first.least_draw)}, lower=0.0)
            program.row({u: 1.0} | dict.fromkeys(group.chosen, -1.0), upper=0.0)
        units_chosen = {
            y: -float(shared_fill.units)
            for y, shared_fill in zip(group.chosen, group.shared_fills, strict=True)
        }
        if all(share.most <= first.eggs_max for share in first.shares):
            few = {
                y: -float(min(shared_fill.units, shared_fill.lots_most))
                for y, shared_fill in zip(group.chosen, group.shared_fills, strict=True)
            }
            program.row(dict.fromkeys(used, 1.0) | few, upper=0.0)
            program.row(dict.fromkeys(used, 1.0) | dict.fromkeys(group.chosen, -2.0), lower=0.0)
            return
        program.row(
            dict.fromkeys(used, 1.0) | dict.fromkeys(group.chosen, -float(first.lots_most)), upper=0.0
        )
        program.row(dict.fromkeys(used, 1.0) | dict.fromkeys(group.chosen, -2.0), lower=0.0)
        most_units = max(shared_fill.units for shared_fill in group.shared_fills)
        units = [program.add(float(most_units)) for _ in first.shares]
        program.row(dict.fromkeys(units, 1.0) | units_chosen, upper=0.0)
        for u, n, unit in zip(used, group.eggs, units, strict=True):
            program.row({n: 1.0, unit: -float(first.eggs_max)}, upper=0.0)
            program.row({unit: 1.0, u: -1.0}, lower=0.0)
            program.row({unit: 1.0, u: -float(most_units)}, upper=0.0)

    def shut_all_but_ready(self) -> list[float]:
        """Close the groups that are not ready; what was open before, to be put back."""
        before = list(self.program.uppers)
        for key, group in self.groups.items():
            if key not in self.ready:
                for variable in (*group.chosen, *group.eggs):
                    self.program.uppers[variable] = 0.0
        return before

    def by_line(self, weights: Mapping[LineKey, float]) -> dict[int, float]:
        """The goal that serves the most weight: minus the weight of every line a way carries."""
        return {variable: -weight for variable, weight in self._carried(weights).items()}

    def cut(self, weights: Mapping[LineKey, float], limit: float) -> None:
        """The weights of the lines that go make up no more than the limit."""
        self.program.row(self._carried(weights), upper=limit)

    def _carried(self, weights: Mapping[LineKey, float]) -> dict[int, float]:
        """The weight of every line a way carries, by the variables of the way."""
        carried: dict[int, float] = {}
        for number, column in enumerate(self.instance.columns):
            total = math.fsum(weights.get(travel_mode[0], 0.0) for travel_mode in column.travel_modes)
            carried |= dict.fromkeys(self.of_column(number), total)
        return carried

    def costs(self) -> dict[int, float]:
        """What every variable costs: fillings, splits with their eggs, and parcels."""
        costs = {v: fill.cost for fill, v in zip(self.instance.fills, self.fill, strict=True)}
        for group in self.groups.values():
            costs |= {
                v: shared_fill.cost for shared_fill, v in zip(group.shared_fills, group.chosen, strict=True)
            }
            costs |= {
                v: share.egg_cost for share, v in zip(group.shared_fills[0].shares, group.eggs, strict=True)
            }
        for number, column in enumerate(self.instance.columns):
            for variable in self.of_column(number):
                costs[variable] = costs.get(variable, 0.0) + column.cost
        return costs

    def values_of(self, chosen: Chosen) -> Floats:
        """The variables' values of a choice made elsewhere; its groups of splits are made ready."""
        travel_modes = {
            travel_mode[0]: travel_mode for column in chosen.columns for travel_mode in column.travel_modes
        }
        shared: dict[GroupKey, dict[str, int]] = {}
        for key in self.groups:
            drawn = chosen.drawn.get(key[0])
            if drawn is None or len(drawn.draws) < 2 or (drawn.departure, drawn.packing) != key[1:3]:
                continue
            if {lot for lot, _ in drawn.draws} <= set(key[3]):
                shared[key] = dict(drawn.draws)
        self.make_ready(shared)
        values = np.zeros(len(self.program.uppers))
        for fill, variable in zip(self.instance.fills, self.fill, strict=True):
            drawn = chosen.drawn.get(fill.line)
            if drawn and (drawn.departure, drawn.draws) == (fill.departure, ((fill.lot, fill.eggs),)):
                values[variable] = fill.travel_mode == travel_modes[fill.line]
        for key, draws in shared.items():
            group = self.groups[key]
            for shared_fill, variable in zip(group.shared_fills, group.chosen, strict=True):
                values[variable] = shared_fill.travel_mode == travel_modes[key[0]]
            for share, variable in zip(group.shared_fills[0].shares, group.eggs, strict=True):
                values[variable] = draws.get(share.lot, 0)
        taken = {
            (frozenset(column.orders), column.departure, frozenset(column.travel_modes))
            for column in chosen.columns
        }
        for column, own in zip(self.instance.columns, self.column, strict=True):
            if (
                own is not None
                and (frozenset(column.orders), column.departure, frozenset(column.travel_modes)) in taken
            ):
                values[own] = 1.0
        return values

    def drawn(self, values: Floats) -> dict[LineKey, Drawn]:
        """How each line is filled."""
        found: dict[LineKey, Drawn] = {}
        for fill, variable in zip(self.instance.fills, self.fill, strict=True):
            if values[variable] > 0.5:
                found[fill.line] = Drawn(fill.line, fill.departure, fill.packing, ((fill.lot, fill.eggs),))
        for group in self.groups.values():
            if any(values[variable] > 0.5 for variable in group.chosen):
                first = group.shared_fills[0]
                eggs = [
                    (share.lot, round(values[n])) for share, n in zip(first.shares, group.eggs, strict=True)
                ]
                draws = tuple((lot, n) for lot, n in eggs if n)
                found[first.line] = Drawn(first.line, first.departure, first.packing, draws)
        return found

    def columns(self, values: Floats) -> tuple[ParcelColumn, ...]:
        """The parcels made up."""
        return tuple(
            column
            for number, column in enumerate(self.instance.columns)
            if any(values[variable] > 0.5 for variable in self.of_column(number))
        )


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
