"""A week searched in two parts at once keeps every limit, loses nothing, and finds the same alone."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

import pytest

from shipping.assignment.columns import WeekColumns
from shipping.assignment.decomposition import Decomposition
from shipping.assignment.neighbourhood import SAVING_HEAT, SERVING_HEAT, Search
from shipping.assignment.solution import Solution
from shipping.words import long_work
from tests.week.tiny_weeks import generated_task, generated_ways, limits_broken

#: Orders, lots and seed of a week with many left out, and with limited room.
WEEK = 120, 40, 5


def serve(search: Search, steps: int) -> None:
    search.serve(steps, SERVING_HEAT, lambda: True)


def save(search: Search, steps: int) -> None:
    search.save(steps, SAVING_HEAT, lambda: True)


def filled(week: WeekColumns) -> Search:
    search = Search(Solution(week), Random(1))
    search.fill()
    return search


def lots_of(week: WeekColumns, orders: list[int]) -> set[int]:
    return {lot for number in orders for lot in week.of(number).lots}


@pytest.mark.parametrize("seed", range(5))
def test_the_two_parts_share_no_lot_and_no_address_and_neither_is_much_the_larger(seed: int) -> None:
    week = generated_ways(*WEEK)
    one, two = Decomposition.of(week).dealt(Random(seed))
    assert not set(one) & set(two)
    assert not lots_of(week, one) & lots_of(week, two)
    assert not {week.address[n] for n in one} & {week.address[n] for n in two}
    assert min(len(one), len(two)) > len(week.names) / 10


def test_parts_are_dealt_anew_from_turn_to_turn() -> None:
    week = generated_ways(*WEEK)
    dealt = [Decomposition.of(week).dealt(Random(seed)) for seed in range(8)]
    assert len({tuple(sorted(map(tuple, parts))) for parts in dealt}) > 4
    moved = {number for parts in dealt for part in parts for number in part}
    assert len(moved) > 0.9 * sum(bool(week.of(number).lots) for number in range(len(week.names)))


def test_lots_that_one_line_may_draw_on_are_never_parted() -> None:
    week = generated_ways(*WEEK)
    for seed in range(5):
        parts = [lots_of(week, part) for part in Decomposition.of(week).dealt(Random(seed))]
        for number in range(len(week.names)):
            for lots in week.of(number).lots_of_lines:
                assert not all(part & lots for part in parts)


@pytest.mark.parametrize("seed", range(4))
def test_both_answers_hold_together_and_serve_more(seed: int) -> None:
    instance, search = generated_task(*WEEK), filled(generated_ways(*WEEK))
    before, parts = search.solution.value, Decomposition.of(search.solution.week)
    still = set(range(len(search.solution.week.names))).difference(*parts.dealt(Random(seed)))
    stood = {number: search.solution.by_order.get(number) for number in still}
    parts.search(search, 400, Random(seed), serve)
    assert search.solution.value > before
    assert limits_broken(instance, search.solution) == []
    assert {number: search.solution.by_order.get(number) for number in still} == stood


def test_orders_that_a_part_took_out_are_out_and_no_others() -> None:
    search = filled(generated_ways(*WEEK))
    placed, parts = set(search.solution.by_order), Decomposition.of(search.solution.week)
    moved = set().union(*parts.dealt(Random(3)))
    assert placed & moved
    assert placed - moved
    parts.search(search, 1, Random(3), lambda part, steps: part.aim({}))
    assert set(search.solution.by_order) == placed - moved


def test_what_is_served_costs_less_after_both_parts_were_saved_in() -> None:
    instance, search = generated_task(*WEEK), filled(generated_ways(*WEEK))
    served, cost = search.solution.value, search.solution.cost
    Decomposition.of(search.solution.week).search(search, 300, Random(1), save)
    assert search.solution.value == pytest.approx(served)
    assert search.solution.cost < cost
    assert limits_broken(instance, search.solution) == []


@pytest.mark.parametrize("work", [serve, save])
def test_one_process_finds_what_two_do(
    work: Callable[[Search, int], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    found = []
    for can_fork in (True, False):
        monkeypatch.setattr(long_work, "can_fork", lambda can_fork=can_fork: bool(can_fork))
        search = filled(generated_ways(*WEEK))
        Decomposition.of(search.solution.week).search(search, 100, Random(2), work)
        found.append(search.solution.by_order)
    assert found[0] == found[1]


def test_a_day_gives_each_part_half_of_its_room() -> None:
    week = generated_ways(*WEEK)
    search = Search(Solution(week), Random(1))
    room, parts = list(search.solution.room), Decomposition.of(week).dealt(Random(1))
    Decomposition.of(week).search(search, 400, Random(1), serve)
    placed = [[search.solution.by_order[n] for n in part if n in search.solution.by_order] for part in parts]
    for day, all_of_it in enumerate(room):
        one, two = (len({week.address[put.order] for put in part if put.day == day}) for part in placed)
        assert one <= (all_of_it + 1) // 2
        assert two <= all_of_it // 2
