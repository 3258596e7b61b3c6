"""Cuts of a knapsack: things of some weight and how much holds them in, rows out that every choice of whole
things keeps and values in fractions break.

Exact separation: the row most broken is that of a small linear program over the fullest choices, which are
made as they are asked for by the knapsack's own dynamic program (Boyd 1993, Math. Program. 62, 325-346;
Kaparis and Letchford 2010, Math. Program. 124, 69-91).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from shipping.assignment.mip import INFINITE, Floats, GrowingProgram, Program

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
