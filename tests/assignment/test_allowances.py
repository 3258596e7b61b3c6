"""What boxes let lines draw on, beside all parcels of tiny tangled weeks; and what it does to a bound."""

from __future__ import annotations

from shipping.assignment.allowances import allowances, most_drawn
from shipping.assignment.instance import Instance
from shipping.assignment.instance_columns import columns_of_instance
from shipping.assignment.mip import Budget
from shipping.assignment.relaxation_bound import RelaxationBound
from shipping.words.keys import LineKey
from tests.week.test_tangled_optima import DAYS, a_tangled_week, best_value

WEEKS = 30
NEAR = 1e-6


def draws_tried(instance: Instance, name: str, lines: tuple[LineKey, ...]) -> dict[int, set[tuple[int, ...]]]:
    """How many lots the lines of an order may draw on, of every parcel that there is, by day."""
    found: dict[int, set[tuple[int, ...]]] = {}
    for column in instance.columns:
        if column.orders == (name,):
            draws = dict.fromkeys(lines, 0)
            for mode in column.travel_modes:
                at = mode, column.departure
                alone = [1 for fill in instance.fills if (fill.travel_mode, fill.departure) == at]
                shared = [
                    min(fill.units, fill.lots_most)
                    for fill in instance.shared_fills
                    if (fill.travel_mode, fill.departure) == at
                ]
                draws[mode[0]] = max(alone + shared)
            found.setdefault(DAYS.index(column.departure[0]), set()).add(tuple(draws.values()))
    return found


def test_no_parcel_draws_on_more_than_is_allowed_and_what_is_allowed_some_parcel_draws_on() -> None:
    several = 0
    for week_number in range(WEEKS):
        instance = a_tangled_week(week_number)
        week = columns_of_instance(instance)
        on_day = [DAYS.index(day) for day in week.days]
        for number, name in enumerate(week.names):
            tried = draws_tried(instance, name, week.of(number).lines)
            allowed = {on_day[day]: known for day, known in allowances(week, number).items()}
            for day, known in allowed.items():
                assert set(known) <= tried[day]
                several += len(known) > 1
            for day, parcels in tried.items():
                for draws in parcels:
                    assert any(
                        all(a >= b for a, b in zip(most, draws, strict=True)) for most in allowed[day]
                    ), (week_number, name, day, draws)
    assert several > 5


def test_a_line_draws_at_most_what_its_greatest_draw_of_a_lot_takes() -> None:
    instance = a_tangled_week(3)
    week = columns_of_instance(instance)
    order, width = week.of(0), len(week.days)
    for n, key in enumerate(order.lines):
        for day, on in enumerate(week.days):
            most = most_drawn(order, n, day)
            departures = {one.departure for one in order.departures}
            for lot in week.lots:
                drawn = [
                    fill.eggs
                    for fill in instance.fills
                    if (fill.line, fill.lot, fill.departure[0]) == (key, lot, on)
                    and fill.departure in departures
                ] + [
                    share.most
                    for fill in instance.shared_fills
                    for share in fill.shares
                    if (fill.line, share.lot, fill.departure[0]) == (key, lot, on)
                    and fill.departure in departures
                ]
                assert most.get(week.lots.index(lot) * width + day, 0) == max(drawn, default=0)


def test_with_boxes_the_bound_of_most_tiny_tangled_weeks_is_the_best_choice() -> None:
    proven = 0
    for number in range(2 * WEEKS):
        instance = a_tangled_week(number)
        best = best_value(instance)
        whole = RelaxationBound(columns_of_instance(instance)).whole(best, Budget(None))
        assert whole >= best - NEAR
        proven += whole <= best + NEAR
    assert proven > 43, proven
