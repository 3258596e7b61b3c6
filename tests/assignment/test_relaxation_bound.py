"""No choice passes the bound, whatever may be joined, split, shared or limited; and it falls with what is
taken away.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import pytest

from shipping.assignment.columns import WeekColumns, columns_of_instance
from shipping.assignment.decomposition import Decomposition
from shipping.assignment.instance import Instance, ParcelColumn
from shipping.assignment.lagrangian_bound import LagrangianBound
from shipping.assignment.mip import Budget, Floats, Program
from shipping.assignment.neighbourhood import SERVING_HEAT, Search
from shipping.assignment.relaxation_bound import ROUNDS, RelaxationBound, needs
from shipping.assignment.solution import Solution
from shipping.assignment.solve import allocate
from tests.assignment.test_solve import a_task, day, one_line
from tests.every_case import every
from tests.week.tiny_weeks import TINY, a_tiny_week, best_of, generated_ways


def relaxed(week: WeekColumns, rounds: int = ROUNDS) -> float:
    return RelaxationBound(week, rounds).relaxed(Budget(None))


@every("number", TINY)
def test_no_choice_of_a_tiny_week_passes_the_bound(number: int) -> None:
    best = best_of(number)
    week = columns_of_instance(a_tiny_week(number))
    first, most = relaxed(week), week.everything
    assert best <= first + 1e-6
    for reached in (0.0, best / 2, best):
        bound = RelaxationBound(week)
        whole = bound.whole(reached, Budget(None))
        assert best <= whole + 1e-6
        assert whole <= first + 1e-6 <= most + 2e-6


def test_the_best_choice_of_a_tiny_week_keeps_every_cut_and_some_of_them_just() -> None:
    just = 0
    for number in TINY:
        week = columns_of_instance(a_tiny_week(number))
        chosen = allocate(week).drawn
        for weights, limit in RelaxationBound(week).cuts(Budget(None)):
            served = sum(weight for line, weight in weights.items() if line in chosen)
            assert served <= limit + 1e-6, number
            just += served > limit - 1e-6
    assert just > 0


def test_families_of_lots_bring_the_bound_down_and_never_below_the_best_choice() -> None:
    nearer = 0
    for number in TINY:
        week, best = columns_of_instance(a_tiny_week(number)), best_of(number)
        parts = Decomposition.of(week)
        families = {family for own in parts.families for family in own}
        groups = [parts.orders_of(frozenset({family})) for family in sorted(families, key=str)]
        solution = Search(Solution(week), Random(1))
        solution.fill()
        served = {n: one.value for n, one in solution.solution.by_order.items()}
        for reached in ({}, served):
            bound = RelaxationBound(week)
            first, by_families = bound.relaxed(Budget(None)), bound.by_families(groups, reached, Budget(None))
            assert best <= by_families + 1e-6, number
            assert by_families <= first + 1e-9
            nearer += by_families < first - 1e-6
    assert nearer > 10


@pytest.mark.parametrize(("short_of_proof", "searches"), [(0.0, 1), (0.01, 2)])
def test_whole_lines_are_searched_again_unless_their_best_is_proven(
    monkeypatch: pytest.MonkeyPatch, short_of_proof: float, searches: int
) -> None:
    searched = []
    search = Program.bound

    def counted(*given: Any, **named: Any) -> tuple[float, Floats | None]:
        bound, values = search(*given, **named)
        searched.append(values)
        return bound - short_of_proof, values

    monkeypatch.setattr(Program, "bound", counted)
    tried = 0
    for number in TINY[:20]:
        bound, searched[:] = RelaxationBound(columns_of_instance(a_tiny_week(number))), []
        bound.whole(0.0, Budget(None))
        if searched and searched[0] is not None:
            bound.whole(best_of(number) / 2, Budget(None))
            assert len(searched) == searches, number
            tried += 1
    assert tried > 10


def test_whole_lines_prove_the_best_of_most_tiny_weeks() -> None:
    proven = [
        RelaxationBound(columns_of_instance(a_tiny_week(n))).whole(best_of(n), Budget(None))
        <= best_of(n) + 1e-6
        for n in TINY
    ]
    assert sum(proven) > 0.8 * len(proven)


@pytest.mark.parametrize("number", [2, 6])
def test_no_choice_that_a_search_finds_passes_the_bound_of_a_generated_week(number: int) -> None:
    week = generated_ways(number=number)
    search = Search(Solution(week), Random(1))
    search.fill()
    search.serve(1500, SERVING_HEAT, lambda: True)
    reached, bound = search.solution.value, RelaxationBound(week)
    first, whole, most = bound.relaxed(Budget(None)), bound.whole(reached, Budget(None)), week.everything
    assert reached - 1e-6 <= whole <= first < most
    assert reached > 0.95 * first


def test_more_eggs_or_more_room_never_lower_the_bound_and_less_never_raises_it() -> None:
    week = generated_ways()
    bounds = []
    for eggs, parcels in ((-2, -1), (0, 0), (2, 0), (2, 2), (200, 2), (200, 200)):
        free = [max(0, n + eggs) for n in week.free]
        bounds.append(relaxed(replace(week, free=free, room=[max(0, n + parcels) for n in week.room])))
    assert bounds == sorted(bounds)
    assert bounds[0] < bounds[1] < bounds[2]
    most = week.everything
    assert bounds[-1] == pytest.approx(most)


@every("number", TINY)
def test_one_more_egg_or_parcel_never_lowers_the_bound_of_a_tiny_week(number: int) -> None:
    week = columns_of_instance(a_tiny_week(number))
    before = relaxed(week)
    for lot in range(len(week.free)):
        free = [n + (at == lot) for at, n in enumerate(week.free)]
        after = relaxed(replace(week, free=free))
        assert after >= before - 1e-6
    roomier = relaxed(replace(week, room=[n + 1 for n in week.room]))
    assert roomier >= before - 1e-6


def two_of_twenty(free: int) -> Instance:
    return a_task(one_line("A", "L1", 20), one_line("B", "L1", 20), free={("L1", day(0)): free})


def test_eggs_for_one_and_a_quarter_bound_one_and_a_quarter_and_cuts_or_whole_lines_one() -> None:
    week = columns_of_instance(two_of_twenty(25))
    assert week.everything == 20.0
    assert relaxed(week, 0) == pytest.approx(12.5)
    assert relaxed(week) == pytest.approx(10.0)
    assert RelaxationBound(week).whole(10.0, Budget(None)) == pytest.approx(10.0)


def test_eggs_of_one_day_serve_no_two_days() -> None:
    pairs = [one_line("A", "L1", 20), one_line("B", "L1", 20, on=1)]
    week = columns_of_instance(a_task(*pairs, free={("L1", day(0)): 20, ("L1", day(1)): 20}))
    assert relaxed(week) == pytest.approx(10.0)
    gaining = columns_of_instance(a_task(*pairs, free={("L1", day(0)): 20, ("L1", day(1)): 40}))
    assert relaxed(gaining) == pytest.approx(20.0)


def test_what_is_drawn_before_a_lot_loses_eggs_counts_by_what_it_still_holds_then() -> None:
    pairs = [one_line("A", "L1", 10), one_line("B", "L1", 10, on=1)]
    week = columns_of_instance(a_task(*pairs, free={("L1", day(0)): 20, ("L1", day(1)): 10}))
    assert relaxed(week, 0) == pytest.approx(15.0)  # half of Monday's eggs leave half of Tuesday's
    by_prices = LagrangianBound.of(week).bound_within(Budget(None))
    assert by_prices == pytest.approx(15.0, rel=0.005)
    assert RelaxationBound(week).whole(10.0, Budget(None)) == pytest.approx(10.0)


def test_eggs_that_only_the_later_day_has_do_not_serve_the_earlier() -> None:
    pairs = [one_line("A", "L1", 20), one_line("B", "L1", 20)]
    later = one_line("C", "L1", 20, on=1)
    week = columns_of_instance(a_task(*pairs, later, free={("L1", day(0)): 20, ("L1", day(1)): 60}))
    assert relaxed(week) == pytest.approx(20.0)


def test_room_for_one_parcel_bounds_two_strangers_but_not_two_mates() -> None:
    pairs = [one_line(name, "L1", 5) for name in "AB"]
    instance = a_task(*pairs, free={("L1", day(0)): 10}, parcels_a_day=1)
    assert relaxed(columns_of_instance(instance)) == pytest.approx(10.0)
    joined = ParcelColumn(
        ("A", "B"), (day(0), "letter"), (pairs[0][0].travel_mode, pairs[1][0].travel_mode), 2.5
    )
    assert relaxed(
        columns_of_instance(replace(instance, columns=(*instance.columns, joined)))
    ) == pytest.approx(20.0)


def test_lines_that_go_together_are_bound_together_unless_the_order_may_split() -> None:
    # two lines of A, 20 of each lot wanted; lot L2 holds only 10
    first, second = one_line("A", "L1", 20)[0], replace(one_line("A", "L2", 20)[0], line=("A", 2))
    departure = (day(0), "letter")
    both = ParcelColumn(("A",), departure, (first.travel_mode, second.travel_mode), 2.0)
    instance = a_task((first, both), free={("L1", day(0)): 20, ("L2", day(0)): 10})
    value = {("A", 1): 10.0, ("A", 2): 10.0}
    instance = replace(
        instance, fills=(first, second), columns=(both,), value=value, age=dict.fromkeys(value, 0.0)
    )
    assert relaxed(columns_of_instance(instance), 0) == pytest.approx(10.0)
    alone = tuple(ParcelColumn(("A",), departure, (one.travel_mode,), 2.0) for one in (first, second))
    assert relaxed(columns_of_instance(replace(instance, columns=(both, *alone))), 0) == pytest.approx(15.0)


def test_with_no_time_the_bound_is_the_value_of_everything() -> None:
    week = columns_of_instance(two_of_twenty(25))
    assert (
        RelaxationBound(week).relaxed(Budget(0.0)) == RelaxationBound(week).whole(10.0, Budget(0.0)) == 20.0
    )


@every("number", TINY)
def test_what_a_line_needs_of_a_lot_is_the_fewest_eggs_of_any_of_its_ways(number: int) -> None:
    instance = a_tiny_week(number)
    week = columns_of_instance(instance)
    for at in range(len(week.names)):
        order = week.of(at)
        departures = {one.departure for one in order.departures}
        for n, need in needs(order):
            fewest: dict[tuple[str, object], int] = {}
            own = [(f.lot, f.departure, f.eggs) for f in instance.fills if f.line == order.lines[n]]
            own += [
                (share.lot, s.departure, share.alone)
                for s in instance.shared_fills
                if s.line == order.lines[n]
                for share in s.shares
            ]
            for lot, departure, eggs in own:
                if departure in departures:
                    fewest[lot, departure[0]] = min(eggs, fewest.get((lot, departure[0]), eggs))
            width = len(week.days)
            assert {
                (week.lots[one // width], week.days[one % width]): eggs for one, eggs in need.items()
            } == fewest
