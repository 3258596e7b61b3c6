"""Four planners of the same week: the week as numbers and seconds in, what each chose out; nothing is checked here."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np

from shipping.week.program import INFINITE, Floats, Program
from shipping.week.task import Chosen, Drawn, Filling, LineKey, Mode, Place, Task, Way
from shipping.week.week_program import WeekProgram

#: What CP-SAT takes whole: money and value in parts of this, rows with fractions in parts of `ROW_PARTS`.
MONEY_PARTS = 10**5
ROW_PARTS = 10**9
#: So much a row with fractions may be off for rounding; shares of three lots of up to 150 eggs miss 1 by more or not at all.
ROW_SLACK = 200
#: Values that differ by less are the same.
NEAR = 1e-6
#: So many seconds a solver needs at least.
LEAST_S = 0.1

#: A planner: the week, the place of each order by age, and seconds.
Planner = Callable[[Task, Mapping[str, date], float], Chosen]


def ours(task: Task, placed_on: Mapping[str, date], seconds: float) -> Chosen:
    """What `plan` chooses."""
    from shipping.week.allocation import allocate
    from shipping.week.task_ways import ways_of_task

    return allocate(ways_of_task(task), seconds)


def oldest_first(task: Task, placed_on: Mapping[str, date], seconds: float) -> Chosen:
    """Each order in turn, oldest first: the cheapest parcel that holds all it can, each line from one lot, of what is left.

    Orders of one address go together where that is cheaper an order. There is no bound: it is infinite.
    """
    left = Left(task)
    ways: dict[str, list[Way]] = {}
    filled: dict[tuple[Mode, Place], list[Filling]] = {}
    lines: dict[str, set[LineKey]] = {}
    for way in task.ways:
        for order in way.orders:
            ways.setdefault(order, []).append(way)
        for mode in way.modes:
            lines.setdefault(mode[0][0], set()).add(mode[0])
    for filling in sorted(task.fillings, key=lambda one: (one.cost, one.rank)):
        filled.setdefault((filling.mode, filling.place), []).append(filling)
    going: set[str] = set()
    for order in sorted(ways, key=lambda name: (placed_on[name], name)):
        if order not in going:
            able = (_filled(way, filled, left) for way in ways[order] if going.isdisjoint(way.orders))
            found = [
                (_missing(way, lines), cost / len(way.orders), n, way, picks)
                for n, (way, cost, picks) in enumerate(able)
                if picks
            ]
            if found:
                *_, way, picks = min(found, key=lambda one: one[:3])
                going.update(way.orders)
                left.take(way, [Drawn(one.line, one.place, one.packing, ((one.lot, one.eggs),)) for one in picks])
    return left.chosen(math.inf)


def _missing(way: Way, lines: Mapping[str, Collection[LineKey]]) -> int:
    """Lines of its orders that a parcel leaves behind."""
    return sum(len(lines[order]) for order in way.orders) - len(way.modes)


def _filled(way: Way, filled: Mapping[tuple[Mode, Place], list[Filling]], left: Left) -> tuple[Way, float, list[Filling]]:
    """A parcel, what it costs, and the cheapest filling of each of its lines; none where one line has none left."""
    picks: list[Filling] = []
    if left.room(way.place[0]) < 1:
        return way, 0.0, []
    for mode in way.modes:
        for one in filled.get((mode, way.place), ()):
            same = sum(pick.eggs for pick in picks if pick.lot == one.lot)
            if one.eggs + same <= left.eggs(one.lot, way.place[0]):
                picks.append(one)
                break
        else:
            return way, 0.0, []
    return way, way.cost + math.fsum(pick.cost for pick in picks), picks


@dataclass(eq=False)
class Left:
    """What a week has left as parcels are taken one by one."""

    task: Task
    ways: list[Way] = field(default_factory=list)
    drawn: dict[LineKey, Drawn] = field(default_factory=dict)
    _eggs: dict[str, dict[date, int]] = field(default_factory=dict)
    _loads: dict[date, int] = field(default_factory=dict)

    def room(self, day: date) -> float:
        """Parcels the day still takes."""
        return math.inf if self.task.parcels_a_day is None else self.task.room(day) - self._loads.get(day, 0)

    def eggs(self, lot: str, day: date) -> int:
        """Eggs of a lot that may be drawn on a day, so that every later draw keeps its own."""
        drawn = self._eggs.get(lot, {})
        days = [day, *(other for other in drawn if other > day)]
        return min(self.task.free[(lot, on)] - sum(n for then, n in drawn.items() if then <= on) for on in days)

    def take(self, way: Way, draws: Collection[Drawn]) -> None:
        """The parcel goes."""
        self.ways.append(way)
        self._loads[way.place[0]] = self._loads.get(way.place[0], 0) + 1
        for one in draws:
            self.drawn[one.line] = one
            for lot, eggs in one.draws:
                days = self._eggs.setdefault(lot, {})
                days[way.place[0]] = days.get(way.place[0], 0) + eggs

    def chosen(self, bound: float) -> Chosen:
        """The parcels taken so far."""
        value = math.fsum(self.task.value[line] for line in sorted(self.drawn))
        return Chosen(tuple(self.ways), dict(sorted(self.drawn.items())), value, bound, 0.0)


#: (values or None, the least bound proven or minus infinity) of a program to make smallest in so many seconds.
Solver = Callable[[Program, Mapping[int, float], float], tuple[Floats | None, float]]


def _whole_program(task: Task, seconds: float, solve: Solver) -> Chosen:
    """The whole week as one program: the most value, then, in the time left, the least cost at that value.

    No bound is above the value of every line that may go.
    """
    end = time.monotonic() + seconds
    week = WeekProgram.of(task)
    week.make_ready(week.groups)
    value = week.by_line(dict(task.value))
    values, least = solve(week.program, value, max(LEAST_S, end - time.monotonic()))
    bound = min(-least, math.fsum(task.value[line] for line in task.lines))
    if values is None:
        return Chosen((), {}, 0.0, bound, 0.0)
    reached = math.fsum(weight * float(values[column]) for column, weight in value.items())
    if end - time.monotonic() > LEAST_S:
        week.program.row(value, upper=reached + NEAR)
        cheaper, _ = solve(week.program, week.costs(), end - time.monotonic())
        values = values if cheaper is None else cheaper
    drawn = week.drawn(values)
    return Chosen(week.ways(values), drawn, math.fsum(task.value[line] for line in sorted(drawn)), bound, 0.0)


def by_milp(task: Task, placed_on: Mapping[str, date], seconds: float) -> Chosen:
    """The whole program through `scipy.optimize.milp`."""
    return _whole_program(task, seconds, _milp)


def by_cp_sat(task: Task, placed_on: Mapping[str, date], seconds: float) -> Chosen:
    """The same rows in whole numbers through OR-Tools CP-SAT, two workers."""
    return _whole_program(task, seconds, _cp_sat)


def _milp(program: Program, goal: Mapping[int, float], seconds: float) -> tuple[Floats | None, float]:
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    start = time.monotonic()
    costs = np.zeros(len(program.uppers))
    costs[list(goal)] = list(goal.values())
    shape = (len(program.row_lower), len(program.uppers))
    matrix = csr_array((np.array(program.weights), np.array(program.columns), np.array(program.starts)), shape=shape)
    rows = LinearConstraint(matrix, np.array(program.row_lower), np.array(program.row_upper))
    limits = {"time_limit": max(LEAST_S, seconds - (time.monotonic() - start)), "mip_rel_gap": 0.0}
    whole = np.where(program.parts, 0, 1)
    found: Any = milp(costs, integrality=whole, bounds=Bounds(0.0, np.array(program.uppers)), constraints=rows, options=limits)
    bound = getattr(found, "mip_dual_bound", None)
    values = None if found.x is None else np.where(whole == 1, np.round(found.x), found.x)
    return values, -math.inf if bound is None else float(bound)


def _cp_sat(program: Program, goal: Mapping[int, float], seconds: float) -> tuple[Floats | None, float]:
    from ortools.sat.python import cp_model

    start = time.monotonic()
    model = cp_model.CpModel()
    variables = [model.new_int_var(0, math.floor(upper), "") for upper in program.uppers]
    for n, (lower, upper) in enumerate(zip(program.row_lower, program.row_upper, strict=True)):
        terms = slice(program.starts[n], program.starts[n + 1])
        weights = program.weights[terms]
        parts, slack = (1, 0) if all(weight.is_integer() for weight in weights) else (ROW_PARTS, ROW_SLACK)
        total = cp_model.LinearExpr.weighted_sum(
            [variables[column] for column in program.columns[terms]], [round(weight * parts) for weight in weights]
        )
        least = cp_model.INT_MIN if lower == -INFINITE else math.ceil(lower * parts - NEAR) - slack
        most = cp_model.INT_MAX if upper == INFINITE else math.floor(upper * parts + NEAR) + slack
        model.add_linear_constraint(total, least, most)
    # Rounded down, the goal is below the true one everywhere, and so is its bound.
    whole = [math.floor(weight * MONEY_PARTS) for weight in goal.values()]
    model.minimize(cp_model.LinearExpr.weighted_sum([variables[column] for column in goal], whole))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.random_seed = 0
    solver.parameters.max_time_in_seconds = max(LEAST_S, seconds - (time.monotonic() - start))
    status = solver.solve(model)
    if status == cp_model.MODEL_INVALID:
        raise ValueError(model.validate())
    bound = solver.best_objective_bound / MONEY_PARTS
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, bound if status == cp_model.UNKNOWN else -math.inf
    return np.array([float(solver.value(variable)) for variable in variables]), bound


PLANNERS: dict[str, Planner] = {
    "spawnpost": ours,
    "oldest order first": oldest_first,
    "scipy milp": by_milp,
    "CP-SAT": by_cp_sat,
}
