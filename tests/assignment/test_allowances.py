"""What boxes let lines draw on, beside all parcels of tiny tangled weeks; and what it does to a bound."""

from __future__ import annotations

from shipping.assignment.allowances import allowances, eggs_drawn
from shipping.assignment.columns import columns_of_instance
from shipping.assignment.instance import Instance, LotShare, OneLotFill, ParcelColumn, SharedFill
from shipping.assignment.mip import Budget
from shipping.assignment.relaxation_bound import RelaxationBound
from shipping.words.keys import LineKey
from tests.week.test_tangled_optima import DAYS, a_tangled_week, best_value

WEEKS = 30
NEAR = 1e-6
#: Of the tiny weeks so many at least are proven.
PROVEN = 43


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


def test_a_line_draws_no_fewer_and_no_more_eggs_than_its_least_and_greatest_draw_of_a_lot() -> None:
    instance = a_tangled_week(3)
    week = columns_of_instance(instance)
    order, width = week.of(0), len(week.days)
    for n, key in enumerate(order.lines):
        for day, on in enumerate(week.days):
            known = eggs_drawn(order, n, day)
            departures = {one.departure for one in order.departures}
            for lot in week.lots:
                drawn = [
                    (fill.eggs, fill.eggs)
                    for fill in instance.fills
                    if (fill.line, fill.lot, fill.departure[0]) == (key, lot, on)
                    and fill.departure in departures
                ] + [
                    (fill.least_draw, share.most)
                    for fill in instance.shared_fills
                    for share in fill.shares
                    if (fill.line, share.lot, fill.departure[0]) == (key, lot, on)
                    and fill.departure in departures
                ]
                least, most = known.get(week.lots.index(lot) * width + day, (0, 0))
                assert least == min((one for one, _ in drawn), default=0)
                assert most == max((one for _, one in drawn), default=0)


def test_an_order_of_an_address_is_allowed_what_a_parcel_with_the_other_order_takes() -> None:
    """One order may be shared between lots only where the other is in its parcel; no parcel takes three
    lots.
    """
    day, at = DAYS[0], (DAYS[0], "letter")
    own, other = ("A", 1), ("B", 1)
    shares = (LotShare("L0", 8, 8, 0.0), LotShare("L1", 8, 8, 0.0), LotShare("L2", 8, 8, 0.0))
    instance = Instance(
        (OneLotFill(own, at, "tube", 1, "L0", 8, 1.0), OneLotFill(other, at, "tube", 1, "L0", 8, 1.0)),
        tuple(SharedFill(own, at, "tube", units, 8, shares, 3, 5, 1.0) for units in (2, 3)),
        (
            ParcelColumn(("A",), at, ((own, "tube", 1),), 1.0),
            ParcelColumn(("B",), at, ((other, "tube", 1),), 1.0),
            ParcelColumn(("A", "B"), at, ((own, "tube", 2), (other, "tube", 1)), 1.0),
        ),
        {own: 1.0, other: 1.0},
        {own: 0.0, other: 0.0},
        {(lot, day): 8 for lot in ("L0", "L1", "L2")},
        None,
    )
    week = columns_of_instance(instance)
    assert allowances(week, 0) == {0: [(2,)]}
    assert allowances(week, 1) == {0: [(1,)]}


def test_with_boxes_the_bound_of_most_tiny_tangled_weeks_is_the_best_choice() -> None:
    proven = 0
    for number in range(2 * WEEKS):
        instance = a_tangled_week(number)
        best = best_value(instance)
        whole = RelaxationBound(columns_of_instance(instance)).whole(best, Budget(None))
        assert whole >= best - NEAR
        proven += whole <= best + NEAR
    assert proven > PROVEN, proven
