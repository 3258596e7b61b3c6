"""Groups of orders placed anew serve more, keep every limit, and leave all others where they are."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from random import Random

import pytest

from shipping.assignment import search as choosing
from shipping.assignment.columns import WeekColumns, columns_of_instance
from shipping.assignment.decomposition import Decomposition, Serve, groups_of_waiting, pack_again
from shipping.assignment.insertion import any_placement
from shipping.assignment.mip import Budget
from shipping.assignment.neighbourhood import Search
from shipping.assignment.relaxation_bound import RelaxationBound
from shipping.assignment.solution import Placement, Solution
from shipping.words import long_work
from tests.assignment.test_solve import a_task, day, one_line
from tests.week.tiny_weeks import TINY, a_tiny_week, best_of, filled_at_random, generated_ways, limits_broken

BRIEFLY = partial(choosing._briefly, 0)


def go_on() -> bool:
    return True


def half_filled(week: WeekColumns, seed: int) -> Search:
    solution = Solution(week)
    filled_at_random(solution, Random(seed), 0.5)
    return Search(solution, Random(seed))


@pytest.mark.parametrize("serve", [BRIEFLY, choosing._thoroughly])
def test_all_orders_of_a_tiny_week_placed_anew_serve_more_and_often_the_most(serve: Serve) -> None:
    more = most = 0
    for number in TINY[::2]:
        instance = a_tiny_week(number)
        search = half_filled(columns_of_instance(instance), number)
        before = search.solution.value
        every = tuple(range(len(search.solution.week.names)))
        pack_again(search, [every], serve, Budget(None), go_on)
        assert not limits_broken(instance, search.solution)
        assert before - 1e-9 <= search.solution.value <= best_of(number) + 1e-6
        more += search.solution.value > before + 1e-6
        most += search.solution.value > best_of(number) - 1e-6
    assert more > 15
    assert most > 25


def test_orders_of_no_group_stay_where_they_are() -> None:
    search = half_filled(generated_ways(), 1)
    before = dict(search.solution.by_order)
    groups = [tuple(range(20)), tuple(range(10, 40))]
    pack_again(search, groups, BRIEFLY, Budget(None), go_on)
    after = search.solution.by_order
    assert {n: one for n, one in after.items() if n >= 40} == {n: one for n, one in before.items() if n >= 40}
    assert search.solution.value > sum(one.value for one in before.values()) + 1e-6
    waiting = {n for n in range(len(search.worth)) if n not in after and search.worth[n] > 0}
    assert waiting <= set(search.waiting_by_worth())


def two_that_want_the_last_eggs() -> Search:
    tasks = [one_line(order, lot, 20) for order, lot in (("A", "L1"), ("B", "L1"), ("C", "L2"))]
    free = {(lot, day(0)): 20 for lot in ("L1", "L2")}
    return Search(Solution(columns_of_instance(a_task(*tasks, free=free))), Random(1))


def test_of_two_groups_that_draw_the_same_eggs_the_first_has_them_and_the_other_stays_as_it_was() -> None:
    search = two_that_want_the_last_eggs()
    third = any_placement(search.solution, 2, Random(1))
    assert third is not None
    search.put(third)
    pack_again(search, [(0,), (1, 2)], BRIEFLY, Budget(None), go_on)
    assert sorted(search.solution.by_order) == [0, 2]
    assert min(search.solution.left) == 0


def test_a_group_of_which_no_more_goes_is_not_served_anew() -> None:
    search, asked = two_that_want_the_last_eggs(), []
    search.fill()

    def serve(bound: RelaxationBound, budget: Budget) -> Mapping[int, Placement]:
        asked.append(bound.week.names)
        return {}

    pack_again(search, [(0, 1)], serve, Budget(None), go_on)
    assert asked == []
    search.back_to({})
    pack_again(search, [(0, 1)], serve, Budget(None), go_on)
    assert asked == [("A", "B")]


def test_two_processes_place_as_one_does(monkeypatch: pytest.MonkeyPatch) -> None:
    placed = []
    for can_fork in (True, False):
        if not can_fork:
            monkeypatch.setattr(long_work, "can_fork", lambda: False)
        search = half_filled(generated_ways(), 2)
        groups = groups_of_waiting(search, Decomposition.of(search.solution.week), 60)
        pack_again(search, groups, BRIEFLY, Budget(None), go_on)
        placed.append(search.solution.by_order)
    assert placed[0] == placed[1]


def test_groups_have_few_lines_and_are_of_families_that_some_order_wants_that_waits() -> None:
    search = half_filled(generated_ways(), 3)
    week, parts = search.solution.week, Decomposition.of(search.solution.week)
    families = set(groups_of_waiting(search, parts, 40))
    assert families
    for group in families:
        assert sum(len(week.of(number).lines) for number in group) <= 40
        assert set(group) & set(search.waiting_by_worth())
        own = {family for number in group for family in parts.families[number]}
        assert any(parts.orders_of(frozenset({family})) == group for family in own) or any(
            parts.orders_of(parts.families[number]) == group for number in group
        )


@pytest.mark.parametrize(
    ("near", "seconds", "packs"), [(0.0, None, False), (0.0, 60.0, True), (1.0, None, True)]
)
def test_a_week_of_many_orders_is_packed_on_near_its_bound_or_in_a_limit_of_time_and_a_part_of_one_never_is(
    near: float, seconds: float | None, packs: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, number in (("FEW_ORDERS", 0), ("NEAR", near), ("CLOSE", 0.0), ("BRIEF_STEPS", 40)):
        monkeypatch.setattr(choosing, name, number)
    for is_part in (True, False):
        run = choosing._Run(
            generated_ways(30, 12, 4), Budget(None), 0.0, lambda value, bound: None, is_part=is_part
        )
        run.search.fill()
        run._begin_bound(Budget(None))
        before = run.solution.value
        run._pack_on(Budget(seconds))
        assert (run.solution.value > before + 1e-6) == (packs and not is_part)
        assert run.solution.value <= run.bound + 1e-6


def test_families_bound_a_week_before_they_are_packed(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, number in (("FEW_ORDERS", 0), ("NEARLY", 1.0), ("FIRST_STEPS", 0), ("NEAR_STEPS", 0)):
        monkeypatch.setattr(choosing, name, number)
    done: list[str] = []

    def bounds(bound: RelaxationBound, *given: object) -> float:
        done.append("bounds")
        return 1e9

    monkeypatch.setattr(RelaxationBound, "by_families", bounds)
    monkeypatch.setattr(choosing, "pack_again", lambda *given: done.append("packs"))
    monkeypatch.setattr(choosing._Run, "_long_search", lambda run, steps, go_on, budget: done.append("long"))
    choosing._Run(generated_ways(30, 12, 4), Budget(None), 0.0, lambda value, bound: None).serve()
    assert done[:3] == ["bounds", "packs", "long"]
