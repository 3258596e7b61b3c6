"""The search never gives up what it has, keeps every limit, and finds the same wherever and whenever it
runs.
"""

from __future__ import annotations

import math
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from shipping.assignment import neighbourhood as searching
from shipping.assignment.columns import WeekColumns, columns_of_instance
from shipping.assignment.insertion import any_placement
from shipping.assignment.neighbourhood import COLD, SAVING_HEAT, SERVING_HEAT, Guide, Search
from shipping.assignment.solution import Solution
from tests.assignment.test_solve import a_task, day, one_line
from tests.every_case import every
from tests.week.tiny_weeks import TINY, a_tiny_week, best_of, generated_task, generated_ways, limits_broken

#: So hot that nearly anything is accepted.
HOT = (50.0, 20.0)


def always() -> bool:
    return True


def filled(week: WeekColumns, number: int = 1) -> Search:
    search = Search(Solution(week), Random(number))
    search.fill()
    return search


def waiting_by_counting(search: Search) -> int:
    """Orders of which not all goes that could."""
    solution, week = search.solution, search.solution.week
    found = 0
    for number in range(len(week.names)):
        order = week.of(number)
        able = [
            n for n in range(len(order.lines)) if any(departure.lines[n] for departure in order.departures)
        ]
        gone = {line[0] for line in solution.by_order[number].lines} if number in solution.by_order else set()
        found += math.fsum(order.value[n] for n in set(able) - gone) > 0
    return found


@pytest.mark.parametrize("heat", [HOT, SERVING_HEAT])
def test_serving_ends_with_the_most_that_was_ever_served(
    heat: tuple[float, float], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(searching, "STEPS_A_LOOK", 1)
    search = filled(generated_ways())
    before, seen = search.solution.value, []

    def look() -> bool:
        seen.append(search.solution.value)
        return True

    search.serve(600, heat, look)
    value = search.solution.value
    assert value >= max(seen) - 1e-6
    assert value > before + 1e-6
    assert min(seen) < max(seen) - 1e-6
    broken = limits_broken(generated_task(), search.solution)
    assert broken == []
    waiting, counted = search.waiting, waiting_by_counting(search)
    assert waiting == counted


@pytest.mark.parametrize("heat", [HOT, SAVING_HEAT])
def test_saving_keeps_value_and_age_and_ends_with_the_least_ever_spent(
    heat: tuple[float, float], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(searching, "STEPS_A_LOOK", 1)
    search = filled(generated_ways())
    search.serve(300, SERVING_HEAT, always)
    solution = search.solution
    value, age, cost, seen = solution.value, solution.age, solution.cost, []

    def look() -> bool:
        seen.append(solution.cost)
        return True

    search.save(600, heat, look)
    after = solution.value, solution.age, solution.cost
    assert after[0] >= value - 1e-6
    assert after[1] >= age - 1e-6
    assert after[2] <= min(seen) + 1e-6
    assert after[2] < cost - 1e-6
    broken = limits_broken(generated_task(), solution)
    assert broken == []


@every("number", TINY)
def test_no_search_of_a_tiny_week_loses_value_or_breaks_a_limit(number: int) -> None:
    instance = a_tiny_week(number)
    search = filled(columns_of_instance(instance), number)
    value = search.solution.value
    for heat in (HOT, SERVING_HEAT):
        search.serve(40, heat, always)
        assert value - 1e-6 <= search.solution.value <= best_of(number) + 1e-6
        broken = limits_broken(instance, search.solution)
        assert broken == []
        value, age, cost = search.solution.value, search.solution.age, search.solution.cost
        search.save(40, heat, always)
        broken = limits_broken(instance, search.solution)
        assert broken == []
        assert search.solution.value >= value - 1e-6
        assert search.solution.age >= age - 1e-6
        assert search.solution.cost <= cost + 1e-6
        value = search.solution.value
        waiting = waiting_by_counting(search)
        assert search.waiting == waiting


@every("number", TINY[:40])
def test_a_new_start_keeps_every_limit_and_what_was_before_can_be_put_back(number: int) -> None:
    instance = a_tiny_week(number)
    search = filled(columns_of_instance(instance), number)
    before, value, age = dict(search.solution.by_order), search.solution.value, search.solution.age
    search.start_again()
    assert limits_broken(instance, search.solution) == []
    assert search.waiting == waiting_by_counting(search)
    search.back_to(before)
    assert search.solution.by_order == before
    assert (search.solution.value, search.solution.age) == (pytest.approx(value), pytest.approx(age))
    assert search.waiting == waiting_by_counting(search)


def test_those_in_the_way_leave_an_order_its_eggs() -> None:
    search = filled(generated_ways())
    solution = search.solution
    forced = 0
    for number in sorted(n for n in range(len(solution.week.names)) if n not in solution.by_order):
        near = search._in_the_way(number)
        out = [solution.take(other) for other in near]
        forced += bool(out) and any_placement(solution, number, Random(1)) is not None
        for one in out:
            solution.put(one)
    assert forced > 0


def test_two_searches_from_the_same_number_find_the_same_and_another_looks_elsewhere() -> None:
    def found(number: int) -> dict[int, object]:
        search = filled(generated_ways(), number)
        search.serve(200, SERVING_HEAT, always)
        search.save(200, SAVING_HEAT, always)
        return dict(search.solution.by_order)

    one, again, other = found(1), found(1), found(2)
    assert one == again
    assert one != other


#: Searches a generated week and a tiny one and prints what it found, in a new interpreter.
PROGRAM = """
from random import Random
from shipping.assignment.solution import Solution
from shipping.assignment.neighbourhood import COLD, SAVING_HEAT, SERVING_HEAT, Search
from shipping.assignment.columns import columns_of_instance
from tests.week.tiny_weeks import a_tiny_week, generated_task, generated_ways
for week in (generated_ways(), columns_of_instance(generated_task()), columns_of_instance(a_tiny_week(9))):
    search = Search(Solution(week), Random(1))
    search.fill()
    search.serve(300, SERVING_HEAT, lambda: True)
    search.save(300, SAVING_HEAT, lambda: True)
    print(search.solution.chosen(0.0))
"""


@pytest.mark.slow
def test_what_is_found_does_not_depend_on_how_python_orders_sets() -> None:
    root = Path(__file__).resolve().parents[2]
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", PROGRAM],
            cwd=root,
            env={**os.environ, "PYTHONHASHSEED": hash_number, "PYTHONPATH": str(root)},
            stdout=subprocess.PIPE,
        )
        for hash_number in ("1", "2")
    ]
    one, two = [run.communicate()[0] for run in runs]
    assert one == two
    assert len(one) > 1000


def test_whoever_is_told_to_stop_at_once_changes_nothing() -> None:
    search = filled(generated_ways())
    before = dict(search.solution.by_order)
    search.serve(1000, SERVING_HEAT, lambda: False)
    search.save(1000, SAVING_HEAT, lambda: False)
    after = search.solution.by_order
    assert after == before


def test_an_order_in_the_way_is_moved_to_where_it_fits_too() -> None:
    # B fits on Monday only, where A, worth more, went first; A may go on Tuesday too
    pairs = [one_line("A", "L1", 20), one_line("A", "L1", 20, cost=9.0, on=1), one_line("B", "L2", 20)]
    instance = a_task(
        *pairs, free={("L1", day(0)): 20, ("L1", day(1)): 20, ("L2", day(0)): 20}, parcels_a_day=1
    )
    week = columns_of_instance(replace(instance, value={("A", 1): 12.0, ("B", 1): 10.0}))
    found = set()
    for number in range(10):
        search = filled(week, number)
        before = search.solution.value
        search.serve(200, SERVING_HEAT, always)
        found.add((before, search.solution.value))
    assert (12.0, 22.0) in found
    assert {after for _, after in found} == {22.0}


def test_of_two_orders_of_equal_value_the_one_that_waited_longer_ends_up_served() -> None:
    instance = a_task(one_line("A", "L1", 20), one_line("B", "L1", 20), free={("L1", day(0)): 25})
    search = filled(columns_of_instance(replace(instance, age={("A", 1): 1.0, ("B", 1): 3.0})))
    assert search.solution.age == 1.0
    search.older_first()
    assert (search.solution.value, search.solution.age) == (10.0, 3.0)


@every("number", TINY)
def test_older_orders_first_loses_neither_value_nor_age_and_keeps_every_limit(number: int) -> None:
    instance = a_tiny_week(number)
    search = filled(columns_of_instance(instance), number)
    value, age = search.solution.value, search.solution.age
    search.older_first()
    broken = limits_broken(instance, search.solution)
    assert broken == []
    assert search.solution.value == pytest.approx(value, abs=1e-6)
    assert search.solution.age >= age - 1e-6
    waiting, counted = search.waiting, waiting_by_counting(search)
    assert waiting == counted


def test_an_older_order_that_the_younger_ones_eggs_do_not_fill_leaves_them_to_it() -> None:
    instance = a_task(one_line("A", "L1", 20), one_line("B", "L1", 30), free={("L1", day(0)): 25})
    search = filled(columns_of_instance(replace(instance, age={("A", 1): 1.0, ("B", 1): 3.0})))
    search.older_first()
    assert (search.solution.value, search.solution.age) == (10.0, 1.0)


def test_a_full_day_is_given_up_for_more_value() -> None:
    pairs = [one_line(name, f"L{n}", 20) for n, name in enumerate("ABC")]
    instance = a_task(*pairs, free={(f"L{n}", day(0)): 20 for n in range(3)}, parcels_a_day=1)
    week = columns_of_instance(replace(instance, value={("A", 1): 5.0, ("B", 1): 10.0, ("C", 1): 6.0}))
    search = Search(Solution(week), Random(1))
    from shipping.assignment.insertion import any_placement

    first = any_placement(search.solution, 0, Random(1))
    assert first is not None
    search.solution.put(first)
    search.serve(200, SERVING_HEAT, always)
    assert search.solution.value == 10.0


def test_what_gave_way_may_make_others_give_way_in_turn() -> None:
    """A fits only where B is, B only where C is, which has another lot: no two of them alone make room."""
    lots = {"A": ["L1"], "B": ["L1", "L2"], "C": ["L2", "L3"]}
    pairs = [one_line(order, lot, 10) for order, own in lots.items() for lot in own]
    task = a_task(*pairs, free={(lot, day(0)): 10 for lot in ("L1", "L2", "L3")})
    week = columns_of_instance(replace(task, value={("A", 1): 1.0, ("B", 1): 10.0, ("C", 1): 10.0}))
    found = []
    for seed in range(5):
        search = Search(Solution(week), Random(seed))
        for order in ("B", "C"):
            ways = (any_placement(search.solution, week.names.index(order), Random(n)) for n in range(20))
            first = (one for one in ways if one and week.lots[one.draws[0][0]] == lots[order][0])
            search.solution.put(next(first))
        search.back_to(dict(search.solution.by_order))
        search.serve(60, COLD, always)
        found.append(search.solution.value)
    assert found == [21.0] * 5


def test_aimed_at_some_orders_it_serves_no_others_until_it_is_aimed_at_all_again() -> None:
    task = a_task(one_line("A", "L1", 20), one_line("B", "L1", 20), free={("L1", day(0)): 20})
    week = columns_of_instance(replace(task, value={("A", 1): 10.0, ("B", 1): 5.0}))
    search = filled(week)
    assert set(search.solution.by_order) == {0}
    search.aim({1: 5.0})
    assert not search.solution.by_order
    assert search.waiting == 1
    search.fill()
    search.serve(20, SERVING_HEAT, always)
    assert set(search.solution.by_order) == {1}
    search.aim({0: 10.0, 1: 5.0})
    search.serve(50, COLD, always)
    assert set(search.solution.by_order) == {0}


@pytest.mark.parametrize("likely", [0, 1])
def test_a_day_that_the_relaxation_gives_an_order_is_looked_at_first(likely: int) -> None:
    pairs = [one_line("A", "L1", 20, on=n) for n in range(2)]
    week = columns_of_instance(a_task(*pairs, free={("L1", day(n)): 20 for n in range(2)}))
    chosen = []
    for seed in range(60):
        search = Search(Solution(week), Random(seed))
        search.be_guided(Guide([0.0] * len(week.free), {(0, likely): 1.0}))
        search.fill()
        chosen.append(search.solution.by_order[0].day)
    assert chosen.count(likely) > 40


def test_eggs_count_against_an_order_at_the_share_of_their_price_that_the_guide_says() -> None:
    week = columns_of_instance(a_task(one_line("A", "L1", 20), free={("L1", day(0)): 20}))
    search = filled(week)
    placed = list(search.solution.by_order.values())
    unguided = search._merit(placed)
    search.be_guided(Guide([0.1] * len(week.free), {}, 0.4))
    assert unguided - search._merit(placed) == pytest.approx(0.4 * 0.1 * 20)
