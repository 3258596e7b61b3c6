"""Orders of one family of lots, chosen again together: never less is served, nothing else moves, every limit
holds, and of a tiny week it is the most.
"""

from __future__ import annotations

import itertools
from random import Random

import pytest

from shipping.assignment.family_choice import choose_again, families
from shipping.assignment.instance_columns import columns_of_instance
from shipping.assignment.mip import Budget
from shipping.assignment.neighbourhood import Search
from shipping.assignment.relaxation_bound import needs
from shipping.assignment.solution import Solution
from tests.assignment.test_search import assert_keeps_all
from tests.week.test_tangled_optima import a_tangled_week, best_value
from tests.week.tiny_weeks import generated_task, generated_ways


def test_all_orders_of_a_tiny_week_chosen_anew_serve_the_most_that_can_be() -> None:
    found, most = 0.0, 0.0
    for number in range(20):
        instance = a_tangled_week(number)
        week, best = columns_of_instance(instance), best_value(instance)
        solution = Solution(week)
        choose_again(solution, list(range(len(week.names))), Budget(None))
        assert solution.value <= best + 1e-6
        assert_keeps_all(instance, solution.chosen(best))
        found, most = found + solution.value, most + best
    assert found > 0.97 * most


def test_what_is_left_by_others_limits_the_orders_chosen_again() -> None:
    for number in range(20):
        instance = a_tangled_week(number)
        week = columns_of_instance(instance)
        search = Search(Solution(week), Random(number))
        search.fill()
        first = dict(search.solution.by_order)
        for orders in families(week):
            before = search.solution.value
            choose_again(search.solution, orders[::2], Budget(None))
            assert search.solution.value >= before - 1e-6
            assert_keeps_all(instance, search.solution.chosen(before))
        kept = first.keys() & search.solution.by_order.keys()
        assert all(search.solution.by_order[order].day == first[order].day for order in kept)


def test_a_family_chosen_again_serves_more_than_what_fits_at_first_and_moves_no_other() -> None:
    week = generated_ways()
    search = Search(Solution(week), Random(1))
    search.fill()
    solution, gained = search.solution, 0.0
    for orders in families(week):
        before = {n: one for n, one in solution.by_order.items() if n not in orders}
        value = solution.value
        choose_again(solution, orders, Budget(None))
        gained += solution.value - value
        assert {n: one for n, one in solution.by_order.items() if n not in orders} == before
    assert gained > 1.0
    assert_keeps_all(generated_task(), solution.chosen(solution.value))


@pytest.mark.parametrize("number", [2, 3])
def test_families_share_no_lot_but_by_orders_of_several_lines(number: int) -> None:
    week = generated_ways(number=number)
    found = families(week)
    lines = {n: [need for _, need in needs(week.of(n))] for n in range(len(week.names))}
    assert {n for orders in found for n in orders} == {n for n, own in lines.items() if own}
    for one, other in itertools.pairwise(found):
        for number_of in set(one) & set(other):
            assert len(lines[number_of]) > 1 or week.mates[number_of] > 1
