"""Cuts of small knapsacks, beside all choices tried out: none is broken by a choice, and with enough of them
the best in fractions is the best choice.
"""

from __future__ import annotations

import itertools
import math
from random import Random

import numpy as np
import pytest

from shipping.assignment.mip import GrowingProgram, Knapsack, Program, fullest
from tests.every_case import every


def a_knapsack(number: int) -> Knapsack:
    chance = Random(number)
    weights = [chance.randint(3, 30) for _ in range(chance.randint(3, 9))]
    return Knapsack(tuple(range(len(weights))), tuple(weights), chance.randint(10, max(11, sum(weights) - 1)))


def choices(knapsack: Knapsack) -> list[tuple[int, ...]]:
    """Every choice that fits."""
    return [
        taken
        for taken in itertools.product((0, 1), repeat=len(knapsack.weights))
        if sum(itertools.compress(knapsack.weights, taken)) <= knapsack.capacity
    ]


@every("number", range(40))
def test_the_things_worth_most_are_those_that_trying_all_finds(number: int) -> None:
    knapsack, chance = a_knapsack(number), Random(-number)
    worth = np.array([chance.choice((0.0, chance.uniform(-1, 5), 2.0)) for _ in knapsack.weights])
    most, found = fullest(worth, knapsack.weights, knapsack.capacity)
    assert most == pytest.approx(max(math.fsum(itertools.compress(worth, one)) for one in choices(knapsack)))
    assert sum(worth[thing] for thing in found) == pytest.approx(most)
    assert sum(knapsack.weights[thing] for thing in found) <= knapsack.capacity


@every("number", range(40))
def test_cuts_are_kept_by_every_choice_and_bring_the_best_in_fractions_down_to_the_best_choice(
    number: int,
) -> None:
    knapsack, chance = a_knapsack(number), Random(1000 + number)
    value = {thing: -chance.uniform(1, 9) for thing in knapsack.variables}
    program = Program()
    for _ in knapsack.variables:
        program.add(part=True)
    program.row(dict(enumerate(map(float, knapsack.weights))), upper=float(knapsack.capacity))
    growing = GrowingProgram(program, value)
    found, able = growing.relaxed(), choices(knapsack)
    while found is not None and (cut := knapsack.cut(found.values)) is not None:
        terms, limit = cut
        assert sum(weight * found.values[thing] for thing, weight in terms.items()) > limit
        assert all(sum(weight * one[thing] for thing, weight in terms.items()) <= limit for one in able)
        growing.row(terms, limit)
        found = growing.relaxed()
    best = max(math.fsum(-value[thing] * taken for thing, taken in enumerate(one)) for one in able)
    assert found is not None
    assert -found.objective == pytest.approx(best, abs=1e-3)


def test_a_choice_that_fits_breaks_nothing_and_one_that_does_not_is_cut_off() -> None:
    knapsack = Knapsack((4, 2), (20, 20), 25)
    assert knapsack.cut(np.array([9.0, 9.0, 1.0, 9.0, 0.0])) is None
    assert knapsack.cut(np.array([9.0, 9.0, 1.0, 9.0, 1.0])) == ({4: 1.0, 2: 1.0}, 1.0)
