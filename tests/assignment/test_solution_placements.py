"""A choice of the program, placed as the search places orders: the same eggs, places, value and cost."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shipping.assignment.columns import columns_of_instance
from shipping.assignment.exact import best_on_days
from shipping.assignment.mip import Budget
from shipping.assignment.relaxation_bound import RelaxationBound
from shipping.assignment.solution import Solution, placements_of
from tests.week.test_tangled_optima import DAYS, a_tangled_week, best_value

WEEKS = 20


def test_a_choice_on_given_days_keeps_them_and_is_placed_as_it_was_chosen() -> None:
    shared = 0
    for number in range(WEEKS):
        instance = a_tangled_week(number)
        week = columns_of_instance(instance)
        most = RelaxationBound(week).relaxed(Budget(None))
        days = {name: {DAYS[n % 3], DAYS[(n + 1) % 3]} for n, name in enumerate(week.names)}
        chosen = best_on_days(instance, days, 0.0, most, Budget(None))
        assert all(column.departure[0] in days[column.orders[0]] for column in chosen.columns)
        placed, solution = placements_of(week, chosen), Solution(week)
        for one in placed.values():
            solution.put(one)
        found = solution.chosen(most)
        assert found.drawn == dict(sorted(chosen.drawn.items()))
        assert found.value == pytest.approx(chosen.value)
        assert found.cost == pytest.approx(chosen.cost)
        shared += sum(len(one.draws) > 1 for one in found.drawn.values())
    assert shared > 5


def test_on_all_days_the_best_choice_is_found_and_on_none_nothing_goes() -> None:
    for number in range(5):
        instance = a_tangled_week(number)
        names = {key[0] for key in instance.value}
        best = best_value(instance)
        every = {name: set(DAYS) for name in names}
        assert best_on_days(instance, every, 0.0, 10.0 * best, Budget(None)).value == pytest.approx(best)
        later = {name: {DAYS[-1] + timedelta(days=7)} for name in names}
        assert best_on_days(instance, later, 0.0, 10.0 * best, Budget(None)).columns == ()


def test_the_days_of_the_answer_of_whole_lines_are_those_of_a_best_choice_in_most_tiny_weeks() -> None:
    as_good, asked = 0, 0
    for number in range(WEEKS):
        instance = a_tangled_week(number)
        week, best = columns_of_instance(instance), best_value(instance)
        bound = RelaxationBound(week)
        most = bound.whole(0.9 * best, Budget(None))
        if bound.answer:
            asked += 1
            days = bound.answer.days.items()
            on = {week.names[order]: {week.days[day] for day in own} for order, own in days}
            as_good += best_on_days(instance, on, 0.0, most, Budget(None)).value > best - 1e-6
    assert asked > WEEKS / 2
    assert as_good > 0.7 * asked
