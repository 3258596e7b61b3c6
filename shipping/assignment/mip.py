"""A small integer program, built by rows, solved by HiGHS to a proven gap, and cuts of its knapsacks; it
knows no parcel and no fish.

A cut is a row that every choice of whole things keeps and values in fractions break. Exact separation: the
row most broken is that of a small linear program over the fullest choices, which are made as they are asked
for by the knapsack's own dynamic program (Boyd 1993, Math. Program. 62, 325-346; Kaparis and Letchford 2010,
Math. Program. 124, 69-91).
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
INFINITE = float("inf")
#: A sum this close to a whole number is that number.
WHOLE = 1e-6
#: A difference of value or cost below this is none.
SAME = 1e-7
#: How far a row or a whole number may be off.
_TOLERANCE = 1e-9
#: A relaxation of more variables than this is first solved by the interior point method.
_MANY = 5000
#: Between two looks at whether to go on the solver works about so many times longer before it first branches.
_FIRST_LOOKS = 16
#: The smaller programs that the solver makes to find answers.
_LOOKS_FOR_ANSWERS = ("rens", "rins", "root_reduced_cost")


class NoAnswer(RuntimeError):
    """The solver found no plan where one exists: our own mistake, never the breeder's."""


_asked_of_all = threading.Event()
#: What ends the searches of this thread; of threads that name none it is one and the same.
_asked_to_stop = ContextVar("asked_to_stop", default=_asked_of_all)


@contextmanager
def keeping_the_best_so_far() -> Iterator[threading.Event]:
    """Within it the first Ctrl-C ends every search, and what was found is kept; another one ends the program.

    The event says, then and afterwards, whether that happened. Outside the main thread Ctrl-C stays what it
    was.
    """
    told, asked = threading.Event(), _asked_to_stop.get()
    if threading.current_thread() is not threading.main_thread():
        yield told
        return
    before = signal.getsignal(signal.SIGINT)

    def stop(number: int, frame: object) -> None:
        asked.set()
        told.set()
        signal.signal(signal.SIGINT, before)

    signal.signal(signal.SIGINT, stop)
    try:
        yield told
    finally:
        signal.signal(signal.SIGINT, before)
        asked.clear()


@contextmanager
def ended_by(asked: threading.Event) -> Iterator[None]:
    """Within it the searches of this thread, and no other, end with what they found once the event is set."""
    token = _asked_to_stop.set(asked)
    try:
        yield
    finally:
        _asked_to_stop.reset(token)


class Budget:
    """Seconds that may still be spent; None is as many as it takes. None are left once someone asked to
    stop.

    ``steady``: all is done that is done without a limit, and as much of it; the seconds are shared out to
    nobody and only end it.
    """

    def __init__(self, seconds: float | None, *, steady: bool = False) -> None:
        self._end = None if seconds is None else time.monotonic() + seconds
        self._steady = steady

    @property
    def measures(self) -> bool:
        """Do the seconds say how much is done? Else it is the same on every machine."""
        return self.left() is not None and not self._steady

    def left(self, share: float = 1.0) -> float | None:
        """A share of the seconds left, never below zero; None where there is no limit."""
        if _asked_to_stop.get().is_set():
            return 0.0
        if self._end is None:
            return None
        return max(0.0, (self._end - time.monotonic()) * (1.0 if self._steady else share))

    def part(self, share: float) -> Budget:
        """A share of the seconds left as a budget of its own."""
        return self if self._steady else Budget(self.left(share))

    @property
    def is_spent(self) -> bool:
        left = self.left()
        return left is not None and left < 0.01


@dataclass(frozen=True, slots=True)
class ProgramSolution:
    """``values`` of the variables (variables,), the objective reached, and the bound no answer can pass.

    ``proven``: the search ended by itself, so that no answer is better by more than the gap asked.
    """

    values: Floats
    objective: float
    bound: float
    proven: bool = True


@dataclass(frozen=True, slots=True)
class Relaxed:
    """The relaxation's objective; of each variable its value and what raising it costs beyond that
    (variables,); of each row what one more at its limit would save (rows,).
    """

    objective: float
    values: Floats
    reduced: Floats
    prices: Floats


class WorkLimit(NamedTuple):
    """How long a solver may work, the same on every machine: looks at whether to go on, which it takes at
    fixed places of its search, times the weights in the rows, ``most`` at the most.

    ``answers_by``: of the smaller programs that it makes to find answers, which take about as long as all
    else, only these are made: `rens` or `rins`, as the solver calls them.
    """

    most: float
    answers_by: str


@dataclass
class Program:
    """Variables from 0 to their uppers, whole unless said otherwise, and rows between limits."""

    uppers: list[float] = field(default_factory=list)
    parts: list[bool] = field(default_factory=list)
    row_lower: list[float] = field(default_factory=list)
    row_upper: list[float] = field(default_factory=list)
    starts: list[int] = field(default_factory=lambda: [0])
    columns: list[int] = field(default_factory=list)
    weights: list[float] = field(default_factory=list)

    def add(self, upper: float = 1.0, *, part: bool = False) -> int:
        """A new variable from 0 to ``upper``, whole or, with ``part``, any number; its own number."""
        self.uppers.append(upper)
        self.parts.append(part)
        return len(self.uppers) - 1

    def row(self, terms: Mapping[int, float], lower: float = -INFINITE, upper: float = INFINITE) -> None:
        """``lower <= sum of weight * variable <= upper``."""
        for column in sorted(terms):
            self.columns.append(column)
            self.weights.append(terms[column])
        self.starts.append(len(self.columns))
        self.row_lower.append(lower)
        self.row_upper.append(upper)

    def solve(
        self,
        objective: Mapping[int, float],
        seconds: float | None = None,
        gap: float = 0.0,
        target: float | None = None,
        nodes: int | None = None,
    ) -> ProgramSolution:
        """The variables that make the objective smallest, and the bound proven.

        It need look no further than ``target``, nor into more than so many nodes of the search.

        Raises
        ------
        NoAnswer
            If there is none, or none was found in the time allowed.
        """
        if not self.uppers:
            return ProgramSolution(np.zeros(0), 0.0, 0.0)
        import highspy

        solver = self._searching(objective, seconds, nodes)
        solver.setOptionValue("mip_rel_gap", gap)
        if target is not None:
            solver.setOptionValue("objective_target", target)
        solver.run()
        status, info = solver.getModelStatus(), solver.getInfo()
        kinds = highspy.HighsModelStatus
        ended = (
            kinds.kOptimal,
            kinds.kTimeLimit,
            kinds.kObjectiveTarget,
            kinds.kSolutionLimit,
            kinds.kInterrupt,
        )
        if status not in ended or info.primal_solution_status != 2:
            raise NoAnswer(f"the solver ended with {solver.modelStatusToString(status)}")
        values, whole = self._values(solver), ~np.array(self.parts)
        reached = float(info.objective_function_value)
        if abs(sum(cost * values[column] for column, cost in objective.items()) - reached) > WHOLE * max(
            1.0, abs(reached)
        ):
            raise NoAnswer("the solver's answer is not in whole numbers")
        bound = float(info.mip_dual_bound) if whole.any() else reached
        return ProgramSolution(values, reached, bound, status == kinds.kOptimal)

    def bound(
        self,
        objective: Mapping[int, float],
        most: float,
        seconds: float | None,
        nodes: int | None,
        gap: float = 0.0,
        work: WorkLimit | None = None,
    ) -> tuple[float, Floats | None]:
        """No answer makes the objective smaller than this, which is ``most`` at the most: what lies above
        that is not looked at; and the variables of the best answer found below it, or None.
        """
        import highspy

        solver = self._searching(objective, seconds, nodes, work)
        if work is not None:
            for option in _LOOKS_FOR_ANSWERS:
                solver.setOptionValue(f"mip_heuristic_run_{option}", option == work.answers_by)
        solver.setOptionValue("mip_rel_gap", gap)
        solver.setOptionValue("objective_bound", most)
        solver.run()
        if solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
            return most, None
        info = solver.getInfo()
        is_found = info.primal_solution_status == 2 and info.objective_function_value < most
        return min(most, float(info.mip_dual_bound)), self._values(solver) if is_found else None

    def _values(self, solver: Any) -> Floats:
        """The variables of the solver's answer, whole ones rounded (variables,)."""
        values = np.array(solver.getSolution().col_value)
        whole = ~np.array(self.parts)
        values[whole] = np.round(values[whole])
        return values

    def _searching(
        self,
        objective: Mapping[int, float],
        seconds: float | None,
        nodes: int | None,
        work: WorkLimit | None = None,
    ) -> Any:
        """A solver given this program, and when to end."""
        import highspy

        solver = quiet_solver()
        solver.setOptionValue("mip_abs_gap", 1e-9)
        solver.setOptionValue("mip_feasibility_tolerance", _TOLERANCE)
        solver.setOptionValue("primal_feasibility_tolerance", _TOLERANCE)
        if nodes is not None:
            solver.setOptionValue("mip_max_nodes", nodes)
        if seconds is not None:
            solver.setOptionValue("time_limit", float(seconds))
        solver.passModel(self._model(highspy, objective))
        asked, looks = _asked_to_stop.get(), 0
        most = INFINITE if work is None else work.most / max(1, len(self.columns))

        def look(event: Any) -> None:
            nonlocal looks
            looks += 1 if event.data_out.mip_node_count > 0 else _FIRST_LOOKS
            if looks > most or asked.is_set():
                event.interrupt()

        solver.cbMipInterrupt.subscribe(look)
        return solver

    def relaxed(self, objective: Mapping[int, float], seconds: float | None = None) -> Relaxed | None:
        """The same with any number for each variable; None where no answer is, or none in time."""
        return GrowingProgram(self, objective).relaxed(seconds)

    def narrow(self, relaxed: Relaxed | None, best: float) -> int:
        """Shut every variable that no answer at or below ``best`` can use, by the reduced costs; how many are
        left.

        Nothing is lost: with the relaxation's objective z and a variable's reduced cost d > 0 at zero, any
        answer that uses it costs at least z + d.
        """
        if relaxed is not None:
            spare = best - relaxed.objective + WHOLE * max(1.0, abs(best))
            for column in np.flatnonzero((relaxed.values < WHOLE) & (relaxed.reduced > spare)).tolist():
                self.uppers[column] = 0.0
        return sum(upper > 0 for upper in self.uppers)

    def _model(self, highspy: Any, objective: Mapping[int, float]) -> Any:
        columns, rows = len(self.uppers), len(self.row_lower)
        costs = np.zeros(columns)
        for column, cost in objective.items():
            costs[column] = cost
        model = highspy.HighsLp()
        model.num_col_, model.num_row_ = columns, rows
        model.col_cost_ = costs
        model.col_lower_, model.col_upper_ = np.zeros(columns), np.array(self.uppers)
        model.row_lower_, model.row_upper_ = np.array(self.row_lower), np.array(self.row_upper)
        any_number, whole = highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger
        model.integrality_ = [any_number if part else whole for part in self.parts]
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        model.a_matrix_.num_col_, model.a_matrix_.num_row_ = columns, rows
        model.a_matrix_.start_ = np.array(self.starts)
        model.a_matrix_.index_ = np.array(self.columns, dtype=np.int32)
        model.a_matrix_.value_ = np.array(self.weights)
        return model


class GrowingProgram:
    """A program of which every variable may be any number, solved again from where it stood as rows and
    variables are added (the dual and the primal simplex method; a large one at first by the interior point
    method, which ends at a vertex, too).
    """

    def __init__(self, program: Program, objective: Mapping[int, float]) -> None:
        import highspy

        self._solver = quiet_solver()
        model = program._model(highspy, objective)
        model.integrality_ = [highspy.HighsVarType.kContinuous] * len(program.uppers)
        self._solver.passModel(model)
        self._solver.setOptionValue("solver", "ipm" if len(program.uppers) > _MANY else "simplex")
        self._is_optimal = highspy.HighsModelStatus.kOptimal

    def relaxed(self, seconds: float | None = None) -> Relaxed | None:
        """What makes the objective smallest, or None where there is none, or none in the time allowed."""
        solver = self._solver
        if seconds is not None:
            solver.setOptionValue("time_limit", solver.getRunTime() + seconds)
        solver.run()
        solver.setOptionValue("solver", "simplex")
        if solver.getModelStatus() != self._is_optimal:
            return None
        solution = solver.getSolution()
        objective_reached = float(solver.getInfo().objective_function_value)
        prices = -np.array(solution.row_dual)
        return Relaxed(objective_reached, np.array(solution.col_value), np.array(solution.col_dual), prices)

    def row(self, terms: Mapping[int, float], upper: float) -> None:
        """One more row: ``sum of weight * variable <= upper``."""
        columns = sorted(terms)
        weights = np.array([terms[column] for column in columns])
        self._solver.addRow(-INFINITE, upper, len(columns), np.array(columns, dtype=np.int32), weights)

    def add(self, terms: Mapping[int, float]) -> None:
        """One more variable, from 0 on, that costs nothing, by its weight in each row."""
        rows = sorted(terms)
        weights = np.array([terms[row] for row in rows])
        self._solver.addCol(0.0, 0.0, INFINITE, len(rows), np.array(rows, dtype=np.int32), weights)

    def raise_to(self, lower: Floats) -> None:
        """The first rows are now at least so much (rows,)."""
        for row, least in enumerate(lower.tolist()):
            self._solver.changeRowBounds(row, least, INFINITE)


def quiet_solver() -> Any:
    """A HiGHS solver on one thread with a fixed seed; its banner must not reach standard output."""
    import highspy

    with _silenced_stdout():
        new_solver: Any = highspy.Highs
        solver = new_solver()
        solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("random_seed", 0)
    return solver


@contextmanager
def _silenced_stdout() -> Iterator[None]:
    """File descriptor 1 goes nowhere for a moment: the library writes its banner past Python."""
    sys.stdout.flush()
    saved = os.dup(1)
    try:
        with open(os.devnull, "wb") as nowhere:
            os.dup2(nowhere.fileno(), 1)
        yield
    finally:
        os.dup2(saved, 1)
        os.close(saved)


#: A row that is broken by less than this is kept.
LEAST_BROKEN = 1e-5


#: Weights in a row are whole multiples of this: sums of them are exact.
GRAIN = 2.0**-20


def fullest(worth: Floats, weights: Sequence[int], capacity: int) -> tuple[float, list[int]]:
    """The things worth most of those that fit together, and what they are worth (things,).

    Notes
    -----
    Dynamic program over the weight (Bellman 1957): its time grows as things times capacity.
    """
    best = np.zeros(capacity + 1)
    taken: list[tuple[int, np.ndarray[tuple[int], np.dtype[np.bool_]]]] = []
    for thing, weight in enumerate(weights):
        if worth[thing] > 0 and weight <= capacity:
            with_it = best[: capacity + 1 - weight] + worth[thing]
            is_better = with_it > best[weight:]
            taken.append((thing, is_better))
            best[weight:] = np.where(is_better, with_it, best[weight:])
    found, left = [], capacity
    for thing, is_better in reversed(taken):
        weight = weights[thing]
        if left >= weight and is_better[left - weight]:
            found.append(thing)
            left -= weight
    return float(best[capacity]), found


@dataclass(eq=False)
class Knapsack:
    """Things by the number of the variable that says whether each is taken, what each weighs, and the most
    that all weigh; ``cut`` keeps the choices it has seen for the next time.
    """

    variables: tuple[int, ...]
    weights: tuple[int, ...]
    capacity: int
    _choices: GrowingProgram | None = field(default=None, repr=False)

    def cut(self, values: Floats) -> tuple[dict[int, float], float] | None:
        """A row, by variable, and its limit, that every choice keeps and these values (variables,) break
        most; None where they break none.
        """
        wanted = values[list(self.variables)]
        is_whole = (wanted < LEAST_BROKEN) | (wanted > 1.0 - LEAST_BROKEN)
        if is_whole.all() and np.dot(wanted, self.weights) <= self.capacity + LEAST_BROKEN:
            return None
        if self._choices is None:
            self._choices = self._program()
        things = len(self.variables)
        self._choices.raise_to(wanted)
        while (answer := self._choices.relaxed()) is not None and answer.objective > LEAST_BROKEN:
            prices = np.maximum(-answer.prices[:things], 0.0)
            most, found = fullest(prices, self.weights, self.capacity)
            if prices @ wanted - most > 0.9 * answer.objective:
                return self._row(prices, wanted)
            self._choices.add(dict.fromkeys([*found, things], 1.0))
        return None

    def _row(self, prices: Floats, wanted: Floats) -> tuple[dict[int, float], float] | None:
        """The row with these weights, rounded down, and the limit that the knapsack itself proves of it."""
        worth = np.floor(prices / GRAIN) * GRAIN
        limit, _ = fullest(worth, self.weights, self.capacity)
        if worth @ wanted <= limit + LEAST_BROKEN:
            return None
        return {self.variables[thing]: float(worth[thing]) for thing in np.flatnonzero(worth).tolist()}, limit

    def _program(self) -> GrowingProgram:
        """What is wanted and no mixture of choices gives: a variable for each lack, one mixture at most."""
        program = Program()
        for _ in self.variables:
            program.row({program.add(INFINITE, part=True): 1.0}, lower=0.0)
        program.row({}, upper=1.0)
        return GrowingProgram(program, dict.fromkeys(range(len(self.variables)), 1.0))
