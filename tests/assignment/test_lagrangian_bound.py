"""The bound by prices holds for every choice and is nearly that of the solver's relaxation."""

from __future__ import annotations

import pytest

from shipping.assignment.columns import columns_of_instance
from shipping.assignment.instance import Instance
from shipping.assignment.lagrangian_bound import LagrangianBound
from shipping.assignment.mip import Budget
from shipping.assignment.relaxation_bound import RelaxationBound
from tests.assignment.test_solve import a_task, day, one_line
from tests.week.tiny_weeks import TINY, a_tiny_week, best_of, generated_ways


@pytest.mark.parametrize("batch", range(4))
def test_no_choice_of_a_tiny_week_passes_the_bound_by_prices(batch: int) -> None:
    for number in TINY[batch::4]:
        week = columns_of_instance(a_tiny_week(number))
        bound = LagrangianBound.of(week).bound_within(Budget(None))
        most = week.everything
        assert best_of(number) <= bound + 1e-6, number
        assert bound <= most + 1e-6


@pytest.mark.parametrize(("orders", "lots", "number"), [(70, 50, 6), (70, 30, 2)])
def test_prices_prove_what_the_relaxation_does_within_half_a_percent(
    orders: int, lots: int, number: int
) -> None:
    week = generated_ways(orders, lots, number)
    relaxed = RelaxationBound(week, rounds=0).relaxed(Budget(None))
    bound = LagrangianBound.of(week).bound_within(Budget(None))
    assert relaxed * (1 - 1e-6) <= bound <= relaxed * 1.005


def test_a_lot_that_serves_one_order_and_a_quarter_is_priced_so() -> None:
    instance = a_task(one_line("A", "L1", 20), one_line("B", "L1", 20), free={("L1", day(0)): 25})
    assert LagrangianBound.of(columns_of_instance(instance)).bound_within(Budget(None)) == pytest.approx(
        12.5, rel=0.005
    )


def test_eggs_that_only_the_later_day_has_do_not_serve_the_earlier() -> None:
    pairs = [one_line("A", "L1", 20), one_line("B", "L1", 20), one_line("C", "L1", 20, on=1)]
    week = columns_of_instance(a_task(*pairs, free={("L1", day(0)): 20, ("L1", day(1)): 60}))
    assert LagrangianBound.of(week).bound_within(Budget(None)) == pytest.approx(20.0, rel=0.005)


def test_room_for_one_of_three_parcels_is_priced_so() -> None:
    pairs = [one_line(name, "L1", 5) for name in "ABC"]
    week = columns_of_instance(a_task(*pairs, free={("L1", day(0)): 100}, parcels_a_day=1))
    assert LagrangianBound.of(week).bound_within(Budget(None)) == pytest.approx(10.0, rel=0.005)


def test_a_day_that_takes_nothing_serves_nothing() -> None:
    week = columns_of_instance(a_task(one_line("A", "L1", 5), free={("L1", day(0)): 100}, parcels_a_day=0))
    assert LagrangianBound.of(week).bound_within(Budget(None)) == pytest.approx(0.0, abs=0.05)


def test_guiding_prices_ask_for_eggs_that_are_short_and_not_for_others() -> None:
    pairs = [one_line("A", "L1", 20), one_line("B", "L1", 20), one_line("C", "L2", 20)]
    week = columns_of_instance(a_task(*pairs, free={("L1", day(0)): 25, ("L2", day(0)): 60}))
    bound = LagrangianBound.of(week)
    prices = dict(zip(week.lots, bound.egg_prices(bound.guiding_prices(Budget(None))), strict=True))
    assert prices["L1"] == pytest.approx(0.5, rel=0.1)
    assert prices["L2"] == pytest.approx(0.0, abs=0.01)


def test_with_no_time_the_bound_is_the_value_of_everything() -> None:
    week = generated_ways()
    bound, most = LagrangianBound.of(week).bound_within(Budget(0.0)), week.everything
    assert bound == pytest.approx(most)


def test_a_week_of_nothing_is_worth_nothing() -> None:
    assert (
        LagrangianBound.of(columns_of_instance(Instance((), (), (), {}, {}, {}, None))).bound_within(
            Budget(None)
        )
        == 0.0
    )
