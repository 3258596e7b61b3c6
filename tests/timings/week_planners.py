"""The planners of one week that are compared: a week's choices and seconds in, what each chose out; nothing
is checked here.
"""

from __future__ import annotations

import math
import signal
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from shipping.assignment.columns import WeekColumns
from shipping.assignment.exact import CompactProgram
from shipping.assignment.instance import Chosen, Instance
from shipping.assignment.mip import INFINITE, Floats, Program
from shipping.week.choices import Choices
from tests.timings.oldest_first import oldest_order_first

#: What CP-SAT takes whole: money and value in parts of this, rows with fractions in parts of `ROW_PARTS`.
MONEY_PARTS = 10**5
ROW_PARTS = 10**9
#: So much a row with fractions may be off for rounding; shares of three lots of up to 150 eggs miss 1 by more
#: or not at all.
ROW_SLACK = 200
#: Values that differ by less are the same.
NEAR = 1e-6
#: So many seconds a solver needs at least.
LEAST_S = 0.1
#: So long may a program take where no limit is named.
FOREVER_S = 1e6


@dataclass(frozen=True, slots=True)
class Week:
    """One week to plan: its ways and itself as numbers, each made when a planner asks; and when its orders
    were placed.
    """

    columns: Callable[[], WeekColumns]
    instance: Callable[[], Instance]
    placed_on: Mapping[str, date]

    @classmethod
    def of_choices(cls, choices: Choices) -> Week:
        """A week whose options are reckoned, and nothing else yet."""
        from shipping.week.choices import columns_of_choices

        placed_on = {order.order: order.placed_on for order in choices.shelf.orders}
        return cls(lambda: columns_of_choices(choices), choices.instance, placed_on)

    @classmethod
    def of_instance(cls, instance: Instance, placed_on: Mapping[str, date]) -> Week:
        """A week given as numbers."""
        from shipping.assignment.columns import columns_of_instance

        return cls(lambda: columns_of_instance(instance), lambda: instance, placed_on)


#: A planner: the week, and seconds or None for as long as it takes.
Planner = Callable[[Week, float | None], Chosen]


def ours(week: Week, seconds: float | None) -> Chosen:
    """What `plan` chooses in so many seconds, the ways of its orders made within them."""
    from shipping.assignment.solve import allocate

    start = time.monotonic()
    columns = week.columns()
    return allocate(columns, None if seconds is None else max(LEAST_S, seconds - (time.monotonic() - start)))


def ours_to_the_end(week: Week, seconds: float | None) -> Chosen:
    """What `plan` chooses without a limit of time."""
    return ours(week, None)


def oldest_first(week: Week, seconds: float | None) -> Chosen:
    """Each order in turn, oldest first, to the end."""
    return oldest_order_first(week.columns(), week.placed_on)


#: (values or None, the least bound proven or minus infinity) of a program to make smallest in so many
#: seconds.
Solver = Callable[[Program, Mapping[int, float], float], tuple[Floats | None, float]]


def _whole_program(of_week: Week, seconds: float | None, solve: Solver) -> Chosen:
    """The whole week as one program: the most value, then, in the time left, the least cost at that value.

    No bound is above the value of every line that may go.

    Raises
    ------
    TimeoutError, MemoryError
        If all of the time is used before the solver is asked, or all of the memory.
    """
    end = time.monotonic() + (FOREVER_S if seconds is None else seconds)
    with _building(end):
        instance = of_week.instance()
        week = CompactProgram.of(instance)
        week.make_ready(week.groups)
    value = week.by_line(dict(instance.value))
    try:
        values, least = solve(week.program, value, max(LEAST_S, end - time.monotonic()))
    except MemoryError:
        raise MemoryError("in its solver") from None
    bound = min(-least, math.fsum(instance.value[line] for line in instance.lines))
    if values is None:
        return Chosen((), {}, 0.0, bound, 0.0)
    reached = math.fsum(weight * float(values[column]) for column, weight in value.items())
    if end - time.monotonic() > LEAST_S:
        week.program.row(value, upper=reached + NEAR)
        cheaper, _ = solve(week.program, week.costs(), end - time.monotonic())
        values = values if cheaper is None else cheaper
    drawn = week.drawn(values)
    return Chosen(
        week.columns(values), drawn, math.fsum(instance.value[line] for line in sorted(drawn)), bound, 0.0
    )


@contextmanager
def _building(end: float) -> Iterator[None]:
    """Work before the solver is asked; it is stopped when the time ends."""

    def stop(number: int, frame: object) -> None:
        raise TimeoutError

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, max(LEAST_S, end - time.monotonic()))
    try:
        yield
    except (TimeoutError, MemoryError) as error:
        raise type(error)("building its program") from None
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)


def by_milp(week: Week, seconds: float | None) -> Chosen:
    """The whole program through `scipy.optimize.milp`."""
    return _whole_program(week, seconds, _milp)


def by_cp_sat(week: Week, seconds: float | None) -> Chosen:
    """The same rows in whole numbers through OR-Tools CP-SAT, two workers."""
    return _whole_program(week, seconds, _cp_sat)


def _milp(program: Program, goal: Mapping[int, float], seconds: float) -> tuple[Floats | None, float]:
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    start = time.monotonic()
    costs = np.zeros(len(program.uppers))
    costs[list(goal)] = list(goal.values())
    shape = (len(program.row_lower), len(program.uppers))
    matrix = csr_array(
        (np.array(program.weights), np.array(program.columns), np.array(program.starts)), shape=shape
    )
    rows = LinearConstraint(matrix, np.array(program.row_lower), np.array(program.row_upper))
    limits = {"time_limit": max(LEAST_S, seconds - (time.monotonic() - start)), "mip_rel_gap": 0.0}
    whole = np.where(program.parts, 0, 1)
    found: Any = milp(
        costs,
        integrality=whole,
        bounds=Bounds(0.0, np.array(program.uppers)),
        constraints=rows,
        options=limits,
    )
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
            [variables[column] for column in program.columns[terms]],
            [round(weight * parts) for weight in weights],
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
        # 0 is what it says before it has begun to bound anything.
        return None, bound if status == cp_model.UNKNOWN and bound != 0.0 else -math.inf
    return np.array([float(solver.value(variable)) for variable in variables]), bound


#: Names of rows; the second takes the time it needs.
OURS, OURS_TO_THE_END, OLDEST_FIRST = "spawnpost", "spawnpost, no limit of time", "oldest order first"
PLANNERS: dict[str, Planner] = {
    OURS: ours,
    OURS_TO_THE_END: ours_to_the_end,
    OLDEST_FIRST: oldest_first,
    "scipy milp": by_milp,
    "CP-SAT": by_cp_sat,
}
