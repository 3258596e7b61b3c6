"""What is put in fits, the cheapest placing is the cheapest, and shares of lots make up a line exactly."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from shipping.assignment import insertion
from shipping.assignment.columns import SharedColumns, columns_of_instance, shared_columns
from shipping.assignment.insertion import any_placement, cheapest_placement, places_enough, shared_out
from shipping.assignment.instance import Instance, LotShare, OneLotFill, ParcelColumn, SharedFill
from shipping.assignment.solution import Solution
from tests.assignment.test_solve import a_random_task, a_task, day, one_line
from tests.every_case import every
from tests.week.tiny_weeks import (
    TINY,
    a_tiny_week,
    filled_at_random,
    generated_task,
    generated_ways,
    limits_broken,
    singles_of,
)


@every("number", TINY)
def test_what_was_put_in_keeps_every_limit(number: int) -> None:
    instance, chance = a_tiny_week(number), Random(number)
    for _ in range(3):
        solution = Solution(columns_of_instance(instance))
        filled_at_random(solution, chance, 0.5)
        for order in range(len(solution.week.names)):
            if order not in solution.by_order and (one := cheapest_placement(solution, order)) is not None:
                solution.put(one)
            broken = limits_broken(instance, solution)
            assert broken == []


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_what_was_put_in_a_generated_week_keeps_every_limit(share: float) -> None:
    solution, chance = Solution(generated_ways()), Random(2)
    filled_at_random(solution, chance, share)
    for order in range(len(solution.week.names)):
        if order not in solution.by_order and (one := cheapest_placement(solution, order)) is not None:
            solution.put(one)
    count = len(solution.by_order)
    assert count > 30
    broken = limits_broken(generated_task(), solution)
    assert broken == []


def with_one_price_a_place(instance: Instance, chance: Random) -> Instance:
    """The week with postage by place alone, and one more for each order that joins."""
    price = {
        departure: float(chance.randint(1, 6))
        for departure in sorted({column.departure for column in instance.columns})
    }
    return replace(
        instance,
        columns=tuple(
            replace(column, cost=price[column.departure] + len(column.orders) - 1)
            for column in instance.columns
        ),
    )


def least_by_trying(solution: Solution, number: int) -> float:
    """The least that an order costs: every place, every lot of every line; infinite where nothing fits."""
    week, order = solution.week, solution.week.of(number)
    least = math.inf
    for departure in order.departures:
        mates = [
            other
            for other, one in solution.by_order.items()
            if week.address[other] == week.address[number]
            and week.of(other).departures[one.at].departure == departure.departure
        ]
        if solution.room[departure.day] <= 0 and not mates:
            continue
        columns = [singles_of(one) for one in departure.lines]
        for picks in itertools.product(*columns):
            drawn: dict[int, int] = {}
            for at, eggs, *_ in picks:
                drawn[at] = drawn.get(at, 0) + eggs
            travel_modes = tuple((line, one[4], one[3]) for line, one in zip(order.lines, picks, strict=True))
            if all(solution.left[at] >= eggs for at, eggs in drawn.items()):
                parcel = solution.parcel_cost(number, order.departures.index(departure), travel_modes, mates)
                least = min(least, math.fsum(one[2] for one in picks) + parcel)
    return least


@pytest.mark.parametrize("batch", range(8))
def test_the_cheapest_placing_is_the_cheapest_of_all_where_postage_goes_by_place(batch: int) -> None:
    found_some = 0
    for number in range(2000 + 25 * batch, 2025 + 25 * batch):
        chance = Random(number)
        solution = Solution(columns_of_instance(with_one_price_a_place(a_random_task(number), chance)))
        filled_at_random(solution, chance, 0.5)
        for order in range(len(solution.week.names)):
            if order in solution.by_order or solution.week.of(order).is_crossed:
                continue
            found, before, least = (
                cheapest_placement(solution, order),
                solution.cost,
                least_by_trying(solution, order),
            )
            if found is None:
                assert least == math.inf
                continue
            solution.put(found)
            assert solution.cost - before == pytest.approx(least)
            solution.take(order)
            found_some += 1
    assert found_some > 5


@pytest.mark.parametrize("batch", range(4))
def test_an_order_of_one_line_is_placed_cheapest_where_postage_goes_by_packing_and_units_too(
    batch: int,
) -> None:
    found_some = 0
    for number in range(3000 + 25 * batch, 3025 + 25 * batch):
        solution = Solution(columns_of_instance(a_random_task(number)))
        filled_at_random(solution, Random(number), 0.3)
        for order in range(len(solution.week.names)):
            if (
                order in solution.by_order
                or solution.has_mates(order)
                or len(solution.week.of(order).lines) != 1
            ):
                continue
            found, before, least = (
                cheapest_placement(solution, order),
                solution.cost,
                least_by_trying(solution, order),
            )
            assert (found is None) == (least == math.inf)
            if found is not None:
                solution.put(found)
                assert solution.cost - before == pytest.approx(least)
                solution.take(order)
                found_some += 1
    assert found_some > 5


@every("number", TINY)
def test_any_placing_finds_a_place_wherever_the_cheapest_does(number: int) -> None:
    chance = Random(number)
    solution = Solution(columns_of_instance(a_tiny_week(number)))
    filled_at_random(solution, chance, 0.5)
    for order in range(len(solution.week.names)):
        if order not in solution.by_order and not solution.week.of(order).is_crossed:
            any_one, cheapest = any_placement(solution, order, chance), cheapest_placement(solution, order)
            assert (any_one is None) == (cheapest is None)


def two_lines(eggs: int, free: int, may_split: bool) -> Solution:
    """An order of two lines that both want lot L1, on Monday."""
    pairs = [one_line("A", "L1", eggs), one_line("A", "L1", eggs)]
    lines = [replace(pair[0], line=("A", n)) for n, pair in enumerate(pairs, start=1)]
    column = replace(pairs[0][1], travel_modes=tuple(line.travel_mode for line in lines))
    parts = [replace(column, travel_modes=(line.travel_mode,)) for line in lines] if may_split else []
    instance = a_task((lines[0], column), free={("L1", day(0)): free})
    value = {line.line: 10.0 for line in lines}
    return Solution(
        columns_of_instance(
            replace(
                instance,
                fills=tuple(lines),
                columns=(column, *parts),
                value=value,
                age=dict.fromkeys(value, 0.0),
            )
        )
    )


def test_two_lines_of_an_order_never_count_the_same_eggs() -> None:
    for free, fits in ((29, False), (30, True)):
        solution = two_lines(15, free, may_split=False)
        assert (any_placement(solution, 0, Random(1)) is not None) is fits
        assert (cheapest_placement(solution, 0) is not None) is fits
        assert solution.left == [free]


def test_an_order_that_may_split_goes_with_the_line_that_fits() -> None:
    solution = two_lines(15, 29, may_split=True)
    found = cheapest_placement(solution, 0)
    assert found is not None
    assert (len(found.lines), found.value) == (1, 10.0)
    assert solution.left == [29]


# -- shares of lots -----------------------------------------------------------------------------


def a_random_split(chance: Random, lots: int) -> tuple[SharedColumns, list[int]]:
    """A line that lots share, with as many units as such a line may have, and what is left of the lots."""
    like = chance.randint(8, 60)
    parts = tuple(
        (
            at,
            alone := max(6, like + chance.randint(-4, 8)),
            chance.randint(5, max(5, alone - 1)),
            chance.choice((0.5, 0.75)),
        )
        for at in range(lots)
    )
    eggs_max, lots_most = chance.choice((10, 25, 30, 60)), chance.randint(2, lots)
    units = math.ceil(max(part[1] for part in parts) / eggs_max) + lots_most - 1
    costs = (math.inf, math.inf, *(1.0 + 0.4 * n for n in range(2, units + 1)))
    return shared_columns("bag", eggs_max, costs, lots_most, 5, parts), [
        chance.randint(0, like) for _ in range(lots)
    ]


def feasible(shared_fill: SharedColumns, left: list[int]) -> list[tuple[int, ...]]:
    """Every way to draw on two of a split's lots, by trying all; exactly."""
    found = []
    for one, two in itertools.combinations(shared_fill.parts, 2):
        for eggs in itertools.product(
            *(range(shared_fill.least_draw, min(part[2], left[part[0]]) + 1) for part in (one, two))
        ):
            units = sum(-(-n // shared_fill.eggs_max) for n in eggs)
            enough = Fraction(eggs[0], one[1]) + Fraction(eggs[1], two[1]) >= 1
            if enough and units < len(shared_fill.costs):
                found.append((one[0], two[0], *eggs))
    return found


@pytest.mark.parametrize("batch", range(5))
def test_shares_of_lots_make_up_a_line_exactly_in_whole_eggs(batch: int) -> None:
    chance, found_some = Random(batch), 0
    for _ in range(400):
        shared_fill, left = a_random_split(chance, chance.randint(2, 5))
        found = shared_out(shared_fill, left)
        if found is None:
            continue
        units, draws, cost = found
        parts = {part[0]: part for part in shared_fill.parts}
        found_some += 1
        assert all(isinstance(eggs, int) and isinstance(at, int) for at, eggs in draws)
        assert sum(Fraction(eggs, parts[at][1]) for at, eggs in draws) >= 1
        assert all(shared_fill.least_draw <= eggs <= min(left[at], parts[at][2]) for at, eggs in draws)
        assert 2 <= len({at for at, _ in draws}) == len(draws) <= shared_fill.lots_most
        assert units == sum(math.ceil(eggs / shared_fill.eggs_max) for _, eggs in draws)
        assert cost == pytest.approx(
            shared_fill.costs[units] + math.fsum(parts[at][3] * eggs for at, eggs in draws)
        )
    assert found_some > 60


@pytest.mark.parametrize("batch", range(4))
def test_two_lots_are_shared_wherever_they_can_be(batch: int) -> None:
    chance, none = Random(100 + batch), 0
    for _ in range(150):
        shared_fill, left = a_random_split(chance, 2)
        found = shared_out(shared_fill, left)
        assert (found is None) == (feasible(shared_fill, left) == []), (shared_fill, left)
        none += found is None
    assert 20 < none < 140


@pytest.mark.parametrize("lots", [3, 4])
def test_of_more_lots_two_are_shared_wherever_two_can_be(lots: int) -> None:
    chance = Random(lots)
    for _ in range(150):
        shared_fill, left = a_random_split(chance, lots)
        shared_fill = replace(shared_fill, lots_most=2)
        if feasible(shared_fill, left):
            assert shared_out(shared_fill, left) is not None, (shared_fill, left)


def test_no_egg_is_drawn_that_the_shares_do_without() -> None:
    shared_fill = shared_columns(
        "bag", 60, (math.inf, math.inf, 1.0), 2, 5, ((0, 20, 19, 0.5), (1, 20, 19, 0.5))
    )
    found = shared_out(shared_fill, [18, 30])
    assert found is not None
    assert found[1] == ((0, 15), (1, 5))


def test_nineteen_of_twenty_and_four_of_eighty_are_not_one_line_but_a_fifth_egg_makes_it() -> None:
    # 19/20 + 3/80 < 1, and 19/20 + 4/80 = 1 exactly
    parts = ((0, 20, 19, 0.1), (1, 80, 79, 0.5))
    shared_fill = shared_columns("bag", 100, (math.inf, math.inf, 1.0), 2, 3, parts)
    assert shared_out(shared_fill, [19, 3]) is None
    found = shared_out(shared_fill, [19, 4])
    assert found is not None
    assert found[1] == ((0, 19), (1, 4))


@pytest.mark.parametrize("three", [2.0, math.inf])
def test_lots_that_share_a_line_give_full_units_where_that_takes_fewer(three: float) -> None:
    # 37 and 14 eggs take two units of 30 and one, 30 and 21 one each
    parts = ((0, 51, 50, 0.1), (1, 51, 50, 0.2))
    shared_fill = shared_columns("tube", 30, (math.inf, math.inf, 1.0, three), 2, 5, parts)
    found = shared_out(shared_fill, [37, 40])
    assert found is not None
    assert found[:2] == (2, ((0, 30), (1, 21)))


@pytest.mark.parametrize("seed", range(10))
def test_lines_are_packed_otherwise_where_the_parcel_is_not_taken_as_they_are(seed: int) -> None:
    at = (day(0), "letter")
    fills = [
        OneLotFill(("A", n), at, packing, 1, f"L{n}", 10, cost)
        for n in (1, 2)
        for packing, cost in (("bag", 1.0), ("tin", 1.5), ("tube", 2.0))
    ]
    taken = ParcelColumn(("A",), at, ((("A", 1), "tin", 1), (("A", 2), "tube", 1)), 2.0)
    free = {("L1", day(0)): 10, ("L2", day(0)): 10}
    value = {("A", 1): 1.0, ("A", 2): 1.0}
    instance = Instance(tuple(fills), (), (taken,), value, dict.fromkeys(value, 0.0), free, None)
    found = any_placement(Solution(columns_of_instance(instance)), 0, Random(seed))
    assert found is not None
    assert [line.packing for line in found.lines] == ["tin", "tube"]


@pytest.mark.parametrize(("may_split", "asked"), [(False, 3), (True, 6)])
def test_what_the_post_takes_of_an_order_is_asked_once_and_no_further_than_a_line_that_is_needed(
    monkeypatch: pytest.MonkeyPatch, may_split: bool, asked: int
) -> None:
    """Two lines that are packed in one of three ways each; the post takes none of them."""
    at, tried, lines = (day(0), "letter"), list[object](), (("A", 1), ("A", 2))
    fills = [OneLotFill(one, at, "bag", units, f"L{one[1]}", 10, 1.0) for one in lines for units in (1, 2, 3)]
    both = ParcelColumn(("A",), at, tuple((one, "bag", 1) for one in lines), 2.0)
    parts = [ParcelColumn(("A",), at, ((one, "bag", 1),), 2.0) for one in lines] if may_split else []
    free, value = {("L1", day(0)): 10, ("L2", day(0)): 10}, dict.fromkeys(lines, 1.0)
    instance = Instance(tuple(fills), (), (both, *parts), value, dict.fromkeys(value, 0.0), free, None)
    solution = Solution(columns_of_instance(instance))
    assert solution.week.of(0).may_split == may_split

    def is_sent(_: Solution, number: int, at: int, made: object, inside: list[int]) -> bool:
        tried.append(made)
        return False

    monkeypatch.setattr(insertion, "MOST_REPACKED", 2)
    monkeypatch.setattr(Solution, "is_sent", is_sent)
    for _ in range(3):
        assert any_placement(solution, 0, Random(1)) is None
    assert len(tried) == 3 + asked


@pytest.mark.parametrize(("left", "goes"), [((5, 5), True), ((5, 4), False), ((6, 4), False)])
def test_two_lots_share_a_line_with_the_least_draw_of_each_and_no_egg_less(
    left: tuple[int, int], goes: bool
) -> None:
    line, at = ("A", 1), (day(0), "letter")
    shares = LotShare("L1", 10, 8, 1.0), LotShare("L2", 10, 8, 1.0)
    shared = SharedFill(line, at, "tube", 2, 30, shares, 2, 5, 0.0)
    column = ParcelColumn(("A",), at, (shared.travel_mode,), 2.0)
    free = {(lot, day(0)): eggs for lot, eggs in zip(("L1", "L2"), left, strict=True)}
    instance = Instance((), (shared,), (column,), {line: 1.0}, {line: 0.0}, free, None)
    found = any_placement(Solution(columns_of_instance(instance)), 0, Random(1))
    assert (found is not None) == goes


def eggs_asked(solution: Solution, order: int, at: int) -> dict[tuple[int, int], int]:
    """Of each line, by lot on a day, the fewest eggs that fill it alone at a place."""
    return {
        (n, lot): min(eggs for other, eggs in zip(own.at, own.eggs, strict=True) if other == lot)
        for n, line in enumerate(solution.week.of(order).departures[at].lines)
        if line is not None
        for own in (line.one_lot,)
        for lot in own.at
    }


def test_a_place_is_left_out_only_where_another_of_the_day_asks_for_no_more() -> None:
    solution, left_out = Solution(generated_ways()), 0
    for number in range(len(solution.week.names)):
        order = solution.week.of(number)
        kept = places_enough(order)
        for at in range(len(order.departures)):
            asked = eggs_asked(solution, number, at)
            others = [
                eggs_asked(solution, number, other)
                for other in kept
                if order.departures[other].day == order.departures[at].day
            ]
            left_out += at not in kept
            assert any(all(one.get(key, math.inf) <= eggs for key, eggs in asked.items()) for one in others)
    assert left_out > 30


def test_of_each_lot_the_fewest_eggs_come_first_and_no_way_is_lost() -> None:
    week, several = generated_ways(), 0
    for number in range(len(week.names)):
        for line in (one for place in week.of(number).departures for one in place.lines if one is not None):
            own = line.one_lot
            assert [n for _, _, *ends in own.by_lot for n in range(*ends)] == list(range(len(own.at)))
            assert len({at for at, *_ in own.by_lot}) == len(own.by_lot)
            for at, fewest, start, end in own.by_lot:
                assert set(own.at[start:end]) == {at}
                assert own.eggs[start] == fewest == min(own.eggs[start:end])
                several += end > start + 1
    assert several > 30
