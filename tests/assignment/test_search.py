"""A good choice is near the best, keeps every limit whenever it is ended, and its bound holds."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from random import Random

import pytest

from shipping.assignment import mip as program
from shipping.assignment import search as choosing
from shipping.assignment.columns import WeekColumns, columns_of_instance
from shipping.assignment.decomposition import Decomposition
from shipping.assignment.instance import Chosen, Instance
from shipping.assignment.lagrangian_bound import SavingPrices
from shipping.assignment.mip import Budget
from shipping.assignment.neighbourhood import SERVING_HEAT, Guide, Search
from shipping.assignment.relaxation_bound import RelaxationBound, WholeLines
from shipping.assignment.search import good_choice
from shipping.assignment.solution import Placement, Solution
from shipping.words import long_work
from shipping.words.long_work import SecondProcess
from tests.assignment.test_solve import a_task, day, one_line
from tests.timings.week_check import WeekCheck
from tests.week.tiny_weeks import TINY, a_tiny_week, best_of, generated_task, generated_ways


@pytest.fixture(autouse=True)
def nobody_asked_to_stop() -> Iterator[None]:
    program._asked_to_stop.get().clear()
    yield
    program._asked_to_stop.get().clear()


def chosen_of(week: WeekColumns, seconds: float | None = None, gap: float = 0.0) -> Chosen:
    return good_choice(week, Budget(seconds), gap, lambda value, bound: None)


#: Orders, lots and number of a generated week that is soon searched to its end, on the way nearer its bound.
SOON = (70, 50, 2)


@cache
def searched_to_its_end() -> tuple[Chosen, tuple[tuple[float, float], ...]]:
    """The choice of that week, and what was told on the way."""
    told: list[tuple[float, float]] = []
    chosen = good_choice(generated_ways(*SOON), Budget(None), 0.0, lambda *both: told.append(both))
    return chosen, tuple(told)


def assert_keeps_all(instance: Instance, chosen: Chosen) -> None:
    check = WeekCheck(instance)
    broken, cost = check.broken(chosen), check.cost(chosen)
    assert broken == []
    assert cost == pytest.approx(chosen.cost, abs=1e-6)


def test_a_good_choice_of_a_tiny_week_is_nearly_always_the_best_and_never_passes_its_bound() -> None:
    best = 0
    for number in TINY:
        chosen = chosen_of(columns_of_instance(a_tiny_week(number)))
        assert_keeps_all(a_tiny_week(number), chosen)
        assert chosen.value <= best_of(number) + 1e-6 <= chosen.bound + 2e-6, number
        best += chosen.value >= best_of(number) - 1e-6
    assert best >= 0.95 * len(TINY)


@pytest.mark.parametrize(
    ("orders", "lots", "number"),
    [(70, 50, 6), SOON, (70, 30, 2), pytest.param(70, 30, 3, marks=pytest.mark.slow)],
)
def test_a_good_choice_of_a_generated_week_keeps_every_limit_and_is_near_its_bound(
    orders: int, lots: int, number: int
) -> None:
    week = orders, lots, number
    chosen = searched_to_its_end()[0] if week == SOON else chosen_of(generated_ways(*week))
    assert_keeps_all(generated_task(orders, lots, number), chosen)
    assert 0.97 * chosen.bound <= chosen.value <= chosen.bound


def test_weeks_bounded_by_prices_keep_every_limit_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(choosing, "MOST_SHARED", 10)
    week = generated_ways()
    chosen = chosen_of(week)
    assert_keeps_all(generated_task(), chosen)
    most = week.everything
    assert 0.95 * chosen.bound <= chosen.value <= chosen.bound < most - 1e-6


def test_a_week_bounded_by_prices_is_searched_at_them(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("MOST_SHARED", "SERVING_STEPS", "STARTED_STEPS", "FEW_SAVING_STEPS"):
        monkeypatch.setattr(choosing, name, 0)
    guides: list[Guide] = []
    monkeypatch.setattr(Search, "be_guided", lambda search, guide: guides.append(guide))
    good_choice(generated_ways(70, 30, 2), Budget(None), 0.0, lambda value, bound: None)
    assert [max(guide.prices) > 0 < guide.eggs_count for guide in guides] == [True]


@pytest.mark.parametrize(("close", "turns"), [(1.0, 0), (0.0, 2)])
def test_a_large_week_knows_its_bound_before_it_is_searched_on_until_a_turn_brings_nothing(
    close: float, turns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, number in (("MOST_SHARED", 0), ("FEW_ORDERS", 0), ("CLOSE", close), ("LARGE_SAVING_STEPS", 0)):
        monkeypatch.setattr(choosing, name, number)
    monkeypatch.setattr(choosing, "FEWEST_SAVING_STEPS", 0)
    bounds: list[float] = []

    def one_more(parts: Decomposition, search: Search, steps: int, chance: Random, work: object) -> None:
        bounds.append(run.bound)
        if len(bounds) == 1:
            search.solution.take(min(search.solution.by_order))

    monkeypatch.setattr(Decomposition, "search", one_more)
    run = choosing._Run(generated_ways(), Budget(None), 0.0, lambda value, bound: None)
    run.serve()
    assert len(bounds) == turns
    assert all(bound < run.week.everything - 1e-6 for bound in bounds)


def test_a_week_of_more_than_very_few_orders_is_made_cheaper_at_prices(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    given: list[SavingPrices] = []
    monkeypatch.setattr(Search, "spend_at", lambda search, prices: given.append(prices))
    for few, count in ((1000, 0), (0, 1)):
        monkeypatch.setattr(choosing, "UNPRICED", few)
        good_choice(generated_ways(30, 12, 4), Budget(None), 0.0, lambda value, bound: None)
        assert len(given) == count


@pytest.mark.parametrize(
    ("few", "shared", "bound", "each"),
    [(1000, 0, 1.0, 36), (0, 0, 1.0, 14), (0, 1000, 1.0, 18), (0, 1000, 1.1, 72)],
)
def test_a_week_with_much_left_to_serve_has_most_steps_to_spend_less(
    few: int, shared: int, bound: float, each: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(choosing, "FEW_ORDERS", few)
    monkeypatch.setattr(choosing, "MOST_SHARED", shared)
    run = choosing._Run(generated_ways(), Budget(None), 0.0, lambda value, bound: None)
    run.search.fill()
    run.bound = run.solution.value * bound
    assert run._saving_steps() == each * len(run.week.names)


def test_a_week_near_its_bound_is_searched_in_turns_until_one_brings_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for name, number in (("FEW_ORDERS", 0), ("FIRST_STEPS", 0), ("NEAR", 1.0)):
        monkeypatch.setattr(choosing, name, number)
    turns: list[int] = []

    def takes_one_out_at_first(search: Search, steps: int, heat: object, go_on: object) -> None:
        turns.append(steps)
        if len(turns) == 2:  # the first that is no turn is of no steps
            search.solution.take(min(search.solution.by_order))

    monkeypatch.setattr(Search, "serve", takes_one_out_at_first)
    choosing._Run(generated_ways(70, 30, 2), Budget(None), 0.0, lambda value, bound: None).serve()
    assert [bool(steps) for steps in turns] == [False, True, True]


@pytest.mark.parametrize("most_shared", [10, 700])
def test_when_time_is_up_at_once_there_is_still_a_choice_that_keeps_every_limit(
    most_shared: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(choosing, "MOST_SHARED", most_shared)
    week = generated_ways()
    chosen = chosen_of(week, seconds=0.0)
    assert_keeps_all(generated_task(), chosen)
    relaxed = RelaxationBound(week).relaxed(Budget(None))
    assert chosen.bound >= relaxed - 1e-6
    assert chosen.value > 0.6 * chosen.bound


@pytest.mark.parametrize("seconds", [0.05, 0.6])
def test_a_choice_in_little_time_keeps_every_limit(seconds: float) -> None:
    chosen = chosen_of(generated_ways(), seconds)
    assert_keeps_all(generated_task(), chosen)
    assert chosen.value <= chosen.bound


@pytest.mark.parametrize("told", [0, 1, 8, 40])
@pytest.mark.parametrize("most_shared", [10, 700])
def test_whoever_asks_to_stop_has_the_best_so_far(
    told: int, most_shared: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(choosing, "MOST_SHARED", most_shared)
    reached: list[float] = []

    def tell(value: float, bound: float) -> None:
        reached.append(value)
        if len(reached) > told:
            program._asked_to_stop.get().set()

    if not told:
        program._asked_to_stop.get().set()
    chosen = good_choice(generated_ways(), Budget(None), 0.0, tell)
    assert_keeps_all(generated_task(), chosen)
    assert chosen.value >= max(reached) - 1e-6
    assert len(reached) < told + 12
    most = generated_ways().everything
    assert most + 1e-6 >= chosen.bound >= chosen.value


def test_the_bound_that_is_told_only_comes_nearer_and_no_value_passes_it() -> None:
    chosen, told = searched_to_its_end()
    assert all(two[1] <= one[1] for one, two in pairwise(told))
    assert all(value <= bound + 1e-6 for value, bound in told)
    assert told[-1][1] < told[0][1]
    assert (chosen.value, chosen.bound) == pytest.approx(told[-1])


def test_a_gap_ends_the_search_as_soon_as_it_is_reached() -> None:
    few: list[float] = []
    loose = good_choice(generated_ways(*SOON), Budget(None), 0.2, lambda value, bound: few.append(value))
    exact, many = searched_to_its_end()
    assert len(few) < len(many)
    assert loose.value >= 0.8 * loose.bound
    assert exact.value >= loose.value


def test_the_same_week_gives_the_same_choice_again() -> None:
    one, two = searched_to_its_end()[0], chosen_of(generated_ways(*SOON))
    assert (one.columns, one.drawn, one.value, one.bound, one.cost) == (
        two.columns,
        two.drawn,
        two.value,
        two.bound,
        two.cost,
    )


def test_the_better_of_two_searches_is_kept_whether_the_second_ran_in_a_second_process_or_in_this_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for name in (
        "FEW",
        "FEW_ORDERS",
        "NEAR",
        "NEARLY",
        "MOST_WHOLE",
    ):  # as in a large week of which much is left
        monkeypatch.setattr(choosing, name, 0)
    monkeypatch.setattr(choosing._Run, "_pack_on", lambda run, budget: None)
    monkeypatch.setattr(choosing, "SERVING_STEPS", 0)  # the first search is not to find the best
    monkeypatch.setattr(choosing._Run, "take_answer", lambda run: None)  # which would find it
    week = generated_ways(30, 12, 4)
    forked = chosen_of(week)
    with monkeypatch.context() as alone:
        alone.setattr(long_work, "can_fork", lambda: False)
        here = chosen_of(week)
    assert (here.columns, here.drawn, here.value) == (forked.columns, forked.drawn, forked.value)
    found = Search(Solution(week), Random(1))
    found.fill()
    found.serve(1500, SERVING_HEAT, lambda: True)
    better = dict(found.solution.by_order)
    monkeypatch.setattr(choosing._Run, "_second_search", lambda *asked: SecondProcess(lambda: better))
    assert chosen_of(week).value == pytest.approx(found.solution.value)
    assert found.solution.value > forked.value
    monkeypatch.setattr(choosing._Run, "_second_search", lambda *asked: SecondProcess(dict))
    assert 0.0 < chosen_of(week).value <= forked.value


def test_of_places_that_serve_the_same_the_cheaper_is_chosen() -> None:
    pairs = [one_line("A", "L1", 20, cost=7.0), one_line("A", "L1", 20, cost=3.0, on=1)]
    chosen = chosen_of(columns_of_instance(a_task(*pairs, free={("L1", day(0)): 20, ("L1", day(1)): 20})))
    assert (chosen.value, chosen.cost) == (10.0, 3.0 + 2.0)


def test_a_week_of_nothing_is_an_empty_choice() -> None:
    chosen = chosen_of(columns_of_instance(Instance((), (), (), {}, {}, {}, None)))
    assert (chosen.columns, chosen.value, chosen.bound) == ((), 0.0, 0.0)


@pytest.fixture
def aiming() -> tuple[choosing._Run, WholeLines]:
    """A week as it was filled first, and an answer that serves just that."""
    run = choosing._Run(generated_ways(30, 12, 4), Budget(None), 0.0, lambda value, bound: None)
    run.search.fill()
    days = {number: {one.day} for number, one in run.solution.by_order.items()}
    worth = {number: run.search.worth[number] for number in days}
    return run, WholeLines(worth, days, {}, has_marks=False)


def test_what_is_found_from_an_answer_does_not_depend_on_what_was_searched_before(
    aiming: tuple[choosing._Run, WholeLines],
) -> None:
    run, answer = aiming
    start = dict(run.solution.by_order)
    found = run._aimed(answer, start, lambda: True)
    run.search.serve(100, SERVING_HEAT, lambda: True)
    assert run._aimed(answer, start, lambda: True) == found
    assert value_of(found) >= value_of(start)


def test_the_second_aim_begins_with_what_the_first_one_found(
    aiming: tuple[choosing._Run, WholeLines], monkeypatch: pytest.MonkeyPatch
) -> None:
    run, answer = aiming
    begun: list[float] = []
    back_to = Search.back_to

    def noting(search: Search, placements: dict[int, Placement]) -> None:
        begun.append(value_of(placements))
        back_to(search, placements)

    monkeypatch.setattr(Search, "back_to", noting)
    found = run._aimed(answer, dict(run.solution.by_order), lambda: True)
    assert begun[0] < begun[1] <= value_of(found)


def test_an_answer_is_aimed_at_from_the_two_best_starts(
    aiming: tuple[choosing._Run, WholeLines], monkeypatch: pytest.MonkeyPatch
) -> None:
    run, answer = aiming
    whole = dict(run.solution.by_order)
    fewer = [dict(list(whole.items())[:count]) for count in (3, len(whole), 8)]
    run._found = fewer
    aimed: list[int] = []

    def noted(answer: WholeLines, best: dict[int, Placement], go_on: object) -> dict[int, Placement]:
        aimed.append(len(best))
        return best

    monkeypatch.setattr(run, "_aimed", noted)
    monkeypatch.setattr(long_work, "can_fork", lambda: False)
    run._aim(answer)
    assert sorted(aimed) == [8, len(whole)]


def value_of(placements: dict[int, Placement]) -> float:
    return sum(one.value for one in placements.values())
