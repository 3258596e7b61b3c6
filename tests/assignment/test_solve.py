"""The week's choice against trying everything, on many tiny weeks."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from datetime import date, timedelta
from random import Random

import numpy as np
import pytest

from shipping.assignment import solve as allocation
from shipping.assignment.columns import WeekColumns, columns_of_instance, part_of
from shipping.assignment.instance import (
    Chosen,
    Departure,
    Drawn,
    Instance,
    LotShare,
    OneLotFill,
    ParcelColumn,
    SharedFill,
)
from shipping.assignment.mip import Budget
from shipping.assignment.search import Tell
from shipping.words.keys import LineKey
from tests.every_case import every

MONDAY = date(2026, 11, 30)


def day(n: int) -> date:
    return MONDAY + timedelta(days=n)


def allocate(instance: Instance) -> Chosen:
    return allocation.allocate(columns_of_instance(instance))


#: One choice: how each line is filled (or not) and the ways that carry them.
Draws = tuple[tuple[str, int], ...]


def draws_of(shared_fill: SharedFill) -> list[Draws]:
    """Every whole-egg way to draw a split."""
    ranges = [[0, *range(shared_fill.least_draw, share.most + 1)] for share in shared_fill.shares]
    found = []
    for counts in itertools.product(*ranges):
        used = [n for n in counts if n]
        enough = (
            math.fsum(n / share.alone for n, share in zip(counts, shared_fill.shares, strict=True))
            >= 1 - 1e-9
        )
        units = sum(math.ceil(n / shared_fill.eggs_max) for n in used)
        if 2 <= len(used) <= shared_fill.lots_most and enough and units <= shared_fill.units:
            found.append(
                tuple((share.lot, n) for n, share in zip(counts, shared_fill.shares, strict=True) if n)
            )
    return found


def every_filling(
    instance: Instance,
) -> dict[LineKey, list[tuple[tuple[object, ...], Departure, tuple[LineKey, str, int], Draws, float]]]:
    """Of each line: rank, place, mode, draws and cost of every way to fill it."""
    found: dict[
        LineKey, list[tuple[tuple[object, ...], Departure, tuple[LineKey, str, int], Draws, float]]
    ] = {}
    for f in instance.fills:
        found.setdefault(f.line, []).append((f.rank, f.departure, f.travel_mode, ((f.lot, f.eggs),), f.cost))
    for s in instance.shared_fills:
        eggs = {share.lot: share.egg_cost for share in s.shares}
        for draws in draws_of(s):
            cost = s.cost + math.fsum(eggs[lot] * n for lot, n in draws)
            found.setdefault(s.line, []).append((s.rank, s.departure, s.travel_mode, draws, cost))
    return found


def keeps_lots(instance: Instance, picks: list[tuple[Departure, Draws]]) -> bool:
    """Up to each day on which a lot is drawn from, no more than is free that day."""
    drawn: dict[str, dict[date, int]] = {}
    for departure, draws in picks:
        for lot, n in draws:
            days = drawn.setdefault(lot, {})
            days[departure[0]] = days.get(departure[0], 0) + n
    return all(
        sum(n for before, n in days.items() if before <= on) <= instance.free[(lot, on)]
        for lot, days in drawn.items()
        for on in days
    )


def ways_to_carry(
    instance: Instance, carried: set[tuple[tuple[LineKey, str, int], Departure]]
) -> list[tuple[ParcelColumn, ...]]:
    """Every set of parcels that carries just these lines so, no order in two parcels."""
    fitting = [
        column
        for column in instance.columns
        if all((travel_mode, column.departure) in carried for travel_mode in column.travel_modes)
    ]
    found = []

    def extend(left: frozenset[object], chosen: tuple[ParcelColumn, ...], start: int) -> None:
        if not left:
            found.append(chosen)
            return
        for n in range(start, len(fitting)):
            column = fitting[n]
            taken = {(travel_mode, column.departure) for travel_mode in column.travel_modes}
            orders = {order for other in chosen for order in other.orders}
            if taken <= left and not orders & set(column.orders):
                extend(left - taken, (*chosen, column), n + 1)

    extend(frozenset(carried), (), 0)
    return found


def keeps_days(instance: Instance, columns: tuple[ParcelColumn, ...]) -> bool:
    if instance.parcels_a_day is None:
        return True
    loads: dict[date, int] = {}
    for column in columns:
        loads[column.departure[0]] = loads.get(column.departure[0], 0) + 1
    return all(load <= instance.room(on) for on, load in loads.items())


def best_by_trying(instance: Instance) -> tuple[float, float, float, tuple[object, ...]]:
    """Value, age, cost and the ranks of the lines that go, of the best of all choices."""
    fills = every_filling(instance)
    lines = sorted(fills)
    best = (0.0, 0.0, 0.0, tuple((1,) for _ in lines))
    for picks in itertools.product(*[[None, *fills[line]] for line in lines]):
        chosen = [pick for pick in picks if pick]
        value = math.fsum(instance.value[pick[2][0]] for pick in chosen)
        if (
            not chosen
            or value < best[0] - 1e-9
            or not keeps_lots(instance, [(pick[1], pick[3]) for pick in chosen])
        ):
            continue
        age = math.fsum(instance.age[pick[2][0]] for pick in chosen)
        ranks = tuple((0, pick[0]) if pick else (1,) for pick in picks)
        for columns in ways_to_carry(instance, {(pick[2], pick[1]) for pick in chosen}):
            if keeps_days(instance, columns):
                cost = math.fsum(pick[4] for pick in chosen) + math.fsum(column.cost for column in columns)
                found = (value, age, cost, ranks)
                if is_better(found, best):
                    best = found
    return best


def is_better(
    one: tuple[float, float, float, tuple[object, ...]], two: tuple[float, float, float, tuple[object, ...]]
) -> bool:
    """More value, then more age, then less cost, then sorting first."""
    for a, b, sign in zip(one[:3], two[:3], (1, 1, -1), strict=True):
        if abs(a - b) > 1e-6:
            return (a - b) * sign > 0
    return one[3] < two[3]


def a_random_task(seed: int, with_splits: bool = False) -> Instance:
    """Two to four orders, some of two lines, some sharing an address; whole-number values so that ties
    occur.
    """
    random = np.random.default_rng(seed)
    lots = ["L1", "L2", "L3"][: int(random.integers(1, 4))]
    departures: list[Departure] = [(day(0), "letter"), (day(1), "letter"), (day(1), "parcel")][
        : int(random.integers(1, 4))
    ]
    names = ["A", "B", "C", "D"][: int(random.integers(2, 4 if with_splits else 5))]
    lines = [(name, n) for name in names for n in range(1, 1 + (2 if random.random() < 0.3 else 1))][:4]
    fills, shared_fills = [], []
    for line in lines:
        for departure in departures:
            for lot in lots:
                if random.random() < (0.35 if with_splits else 0.6):
                    eggs, units = int(random.integers(5, 16)), int(random.integers(1, 3))
                    fills.append(
                        OneLotFill(line, departure, "tube", units, lot, eggs, float(random.integers(0, 5)))
                    )
            if with_splits and len(lots) > 1 and random.random() < 0.6:
                alone = int(random.integers(8, 13))
                shares = tuple(
                    LotShare(lot, alone, int(random.integers(5, 8)), float(random.integers(0, 3)))
                    for lot in lots
                )
                shared_fills += [
                    SharedFill(
                        line,
                        departure,
                        "tube",
                        u,
                        30,
                        shares,
                        min(3, len(lots)),
                        5,
                        float(random.integers(0, 5)),
                    )
                    for u in (2, 3)
                ]
    travel_modes: dict[tuple[LineKey, Departure], set[tuple[LineKey, str, int]]] = {}
    for one in (*fills, *shared_fills):
        travel_modes.setdefault((one.line, one.departure), set()).add(one.travel_mode)
    joined = [(name,) for name in names] + ([tuple(names[:2])] if random.random() < 0.5 else [])
    columns = []
    for orders in joined:
        for departure in departures:
            own = [line for line in lines if line[0] in orders]
            for modes_picked in itertools.product(
                *[sorted(travel_modes.get((line, departure), ())) for line in own]
            ):
                columns.append(ParcelColumn(orders, departure, modes_picked, float(random.integers(1, 6))))
    return Instance(
        fills=tuple(sorted(fills, key=lambda f: (f.line, f.rank))),
        shared_fills=tuple(sorted(shared_fills, key=lambda s: (s.line, s.rank))),
        columns=tuple(sorted(columns, key=lambda w: (w.orders, w.departure, w.travel_modes))),
        value={line: float(random.integers(1, 5)) for line in lines},
        age={line: float(random.integers(0, 4)) for line in lines},
        free={
            (lot, on): free - 2 * n
            for lot in lots
            for free in [int(random.integers(6, 30))]
            for n, on in enumerate((day(0), day(1)))
        },
        parcels_a_day=int(random.integers(1, 3)) if random.random() < 0.4 else None,
    )


def ranks_of(instance: Instance, chosen: Chosen) -> tuple[object, ...]:
    fills = every_filling(instance)
    found: list[object] = []
    for line in sorted(fills):
        drawn = chosen.drawn.get(line)
        if drawn is None:
            found.append((1,))
            continue
        carried = [
            (travel_mode, column.departure)
            for column in chosen.columns
            for travel_mode in column.travel_modes
            if travel_mode[0] == line
        ]
        assert len(carried) == 1
        found.append(
            (
                0,
                next(
                    rank
                    for rank, departure, travel_mode, draws, _ in fills[line]
                    if matches(drawn, carried, departure, travel_mode, draws)
                ),
            )
        )
    return tuple(found)


def matches(
    drawn: Drawn, carried: list[object], departure: Departure, travel_mode: object, draws: Draws
) -> bool:
    return drawn.draws == draws and drawn.departure == departure and (travel_mode, departure) == carried[0]


def check(instance: Instance) -> None:
    value, age, cost, ranks = best_by_trying(instance)
    chosen = allocate(instance)
    assert chosen.value == pytest.approx(value, abs=1e-6)
    assert chosen.bound == pytest.approx(value, abs=1e-6)
    assert math.fsum(instance.age[line] for line in chosen.drawn) == pytest.approx(age, abs=1e-6)
    assert chosen.cost == pytest.approx(cost, abs=1e-5)
    assert ranks_of(instance, chosen) == ranks
    assert keeps_days(instance, chosen.columns)
    assert keeps_lots(instance, [(drawn.departure, drawn.draws) for drawn in chosen.drawn.values()])


@pytest.mark.parametrize("batch", range(12))
def test_the_choice_is_the_best_of_all_choices(batch: int) -> None:
    for seed in range(batch * 10, batch * 10 + 10):
        check(a_random_task(seed))


@pytest.mark.parametrize("batch", [2, 3, *(pytest.param(n, marks=pytest.mark.slow) for n in (0, 1))])
def test_the_choice_is_the_best_of_all_choices_with_lots_shared(batch: int) -> None:
    used = 0
    for seed in range(1000 + batch * 6, 1006 + batch * 6):
        instance = a_random_task(seed, with_splits=True)
        check(instance)
        used += sum(len(drawn.draws) > 1 for drawn in allocate(instance).drawn.values())
    assert used


def one_line(
    order: str, lot: str, eggs: int, cost: float = 1.0, on: int = 0
) -> tuple[OneLotFill, ParcelColumn]:
    line, departure = (order, 1), (day(on), "letter")
    fill = OneLotFill(line, departure, "tube", 1, lot, eggs, cost)
    return fill, ParcelColumn((order,), departure, (fill.travel_mode,), 2.0)


def a_task(
    *pairs: tuple[OneLotFill, ParcelColumn], free: dict[tuple[str, date], int], **changes: object
) -> Instance:
    fills, columns = zip(*pairs, strict=True)
    lines = sorted({f.line for f in fills})
    made = Instance(
        tuple(fills), (), tuple(columns), dict.fromkeys(lines, 10.0), dict.fromkeys(lines, 0.0), free, None
    )
    return replace(made, **changes)


def test_a_lot_that_one_order_shares_with_other_lots_is_not_given_to_another_too() -> None:
    fill, column = one_line("B", "L2", 10)
    shares = (LotShare("L1", 12, 8, 1.0), LotShare("L2", 12, 8, 0.0))
    shared = SharedFill(("A", 1), fill.departure, "tube", 2, 30, shares, 2, 4, 0.0)
    columns = (column, ParcelColumn(("A",), fill.departure, (shared.travel_mode,), 2.0))
    value, age = {("A", 1): 10.0, ("B", 1): 10.0}, {("A", 1): 0.0, ("B", 1): 0.0}
    free = {("L1", day(0)): 8, ("L2", day(0)): 15}
    instance = Instance((fill,), (shared,), columns, value, age, free, None)
    assert allocate(instance).drawn[("A", 1)].draws == (("L1", 7), ("L2", 5)), "alone it would draw 8 of L2"
    check(instance)


def test_of_two_orders_of_equal_value_the_older_goes() -> None:
    instance = a_task(one_line("A", "L1", 20), one_line("B", "L1", 20, cost=99), free={("L1", day(0)): 25})
    aged = replace(instance, age={("A", 1): 1.0, ("B", 1): 3.0})
    assert set(allocate(aged).drawn) == {("B", 1)}


def test_of_two_orders_alike_in_all_the_name_that_sorts_first_goes() -> None:
    instance = a_task(one_line("B", "L1", 20), one_line("A", "L1", 20), free={("L1", day(0)): 25})
    assert set(allocate(instance).drawn) == {("A", 1)}


def test_value_comes_before_cost() -> None:
    instance = a_task(one_line("A", "L1", 20), one_line("B", "L1", 20, cost=500), free={("L1", day(0)): 25})
    richer = replace(instance, value={("A", 1): 10.0, ("B", 1): 10.5})
    assert set(allocate(richer).drawn) == {("B", 1)}


def test_parcels_a_day_are_limited_and_a_limit_of_none_stops_all() -> None:
    pairs = [one_line(name, "L1", 5) for name in "ABC"]
    free = {("L1", day(0)): 100}
    assert len(allocate(a_task(*pairs, free=free)).columns) == 3
    assert len(allocate(a_task(*pairs, free=free, parcels_a_day=2)).columns) == 2
    assert allocate(a_task(*pairs, free=free, parcels_a_day=0)).columns == ()


def test_eggs_drawn_early_in_the_week_count_against_a_later_day() -> None:
    free = {("L1", day(0)): 30, ("L1", day(1)): 28}
    both = allocate(a_task(one_line("A", "L1", 15), one_line("B", "L1", 15, on=1), free=free))
    assert len(both.drawn) == 1
    enough = allocate(a_task(one_line("A", "L1", 14), one_line("B", "L1", 14, on=1), free=free))
    assert len(enough.drawn) == 2


def test_eggs_that_hatch_by_the_later_day_may_still_go_on_the_earlier() -> None:
    # 30 free on Monday, 2 on Tuesday: a draw of 30 on Monday does not break Tuesday's limit where Tuesday
    # draws nothing
    free = {("L1", day(0)): 30, ("L1", day(1)): 2}
    found = allocate(a_task(one_line("A", "L1", 30), one_line("B", "L1", 5, on=1), free=free))
    assert set(found.drawn) == {("A", 1)}


def test_a_joined_parcel_counts_once_and_pays_once() -> None:
    a, b = one_line("A", "L1", 5), one_line("B", "L1", 5)
    joined = ParcelColumn(("A", "B"), (day(0), "letter"), (a[0].travel_mode, b[0].travel_mode), 2.5)
    instance = a_task(a, b, free={("L1", day(0)): 10})
    instance = replace(instance, columns=(*instance.columns, joined), parcels_a_day=1)
    found = allocate(instance)
    assert found.columns == (joined,)
    assert found.cost == pytest.approx(1 + 1 + 2.5)


def test_a_week_without_orders_is_an_empty_choice() -> None:
    found = allocate(Instance((), (), (), {}, {}, {}, None))
    assert (found.columns, found.value, found.bound, found.cost) == ((), 0.0, 0.0, 0.0)


@pytest.mark.parametrize("seed", range(10))
def test_one_more_egg_or_parcel_never_lowers_the_value(seed: int) -> None:
    instance = a_random_task(seed)
    more = replace(instance, free={key: n + 1 for key, n in instance.free.items()})
    assert allocate(more).value >= allocate(instance).value - 1e-9
    assert allocate(replace(instance, parcels_a_day=None)).value >= allocate(instance).value - 1e-9


@pytest.mark.parametrize("seed", range(10))
def test_the_order_of_the_ways_does_not_matter(seed: int) -> None:
    instance = a_random_task(seed)
    turned = replace(instance, fills=instance.fills[::-1], columns=instance.columns[::-1])
    one, two = allocate(instance), allocate(turned)
    assert (one.columns, one.drawn) == (two.columns, two.drawn)


# -- what is given or taken away ------------------------------------------------------------------


def without_lot(instance: Instance, lot: str) -> Instance:
    """The week without a lot; lines shared among two lots of which it was one have that way no more."""
    shared_fills = [
        replace(s, shares=tuple(share for share in s.shares if share.lot != lot))
        for s in instance.shared_fills
    ]
    shared_fills = [
        replace(s, lots_most=min(s.lots_most, len(s.shares))) for s in shared_fills if len(s.shares) > 1
    ]
    fills = tuple(f for f in instance.fills if f.lot != lot)
    travel_modes = {(f.travel_mode, f.departure) for f in fills} | {
        (shared_fill.travel_mode, shared_fill.departure) for shared_fill in shared_fills
    }
    columns = tuple(
        column
        for column in instance.columns
        if all((travel_mode, column.departure) in travel_modes for travel_mode in column.travel_modes)
    )
    free = {at: eggs for at, eggs in instance.free.items() if at[0] != lot}
    return replace(instance, fills=fills, shared_fills=tuple(shared_fills), columns=columns, free=free)


@pytest.mark.parametrize("seed", [*range(200, 212), *range(1000, 1006)])
def test_a_lot_more_never_lowers_the_value(seed: int) -> None:
    instance = a_random_task(seed, with_splits=seed >= 1000)
    whole = allocate(instance).value
    parts = [allocate(without_lot(instance, lot)).value for lot in sorted({lot for lot, _ in instance.free})]
    assert all(part <= whole + 1e-6 for part in parts)


@pytest.mark.parametrize("seed", [*range(200, 212), *range(1000, 1006)])
def test_an_order_more_never_lowers_the_value_and_adds_no_more_than_its_own(seed: int) -> None:
    instance = a_random_task(seed, with_splits=seed >= 1000)
    names = sorted({line[0] for line in instance.value})
    whole = allocate(instance).value
    for name in names:
        rest = allocate(part_of(instance, [other for other in names if other != name])).value
        own = math.fsum(value for line, value in instance.value.items() if line[0] == name)
        assert rest - 1e-6 <= whole <= rest + own + 1e-6


@pytest.mark.parametrize("seed", [*range(300, 310), *range(1010, 1014)])
def test_shuffled_numbers_of_a_week_give_the_same_choice(seed: int) -> None:
    instance, random = a_random_task(seed, with_splits=seed >= 1000), Random(seed)
    fills, shared_fills, columns = list(instance.fills), list(instance.shared_fills), list(instance.columns)
    value, age, free = list(instance.value.items()), list(instance.age.items()), list(instance.free.items())
    for table in (fills, shared_fills, columns, value, age, free):
        random.shuffle(table)
    mixed = replace(
        instance,
        fills=tuple(fills),
        shared_fills=tuple(shared_fills),
        columns=tuple(columns),
        value=dict(value),
        age=dict(age),
        free=dict(free),
    )
    one, two = allocate(instance), allocate(mixed)
    assert (one.columns, one.drawn) == (two.columns, two.drawn)
    assert (one.value, one.bound, one.cost) == pytest.approx((two.value, two.bound, two.cost))


@every("seed", range(400, 420))
def test_the_choice_is_the_best_where_lots_gain_eggs_from_day_to_day(seed: int) -> None:
    instance = a_random_task(seed)
    days = sorted({on for _, on in instance.free})
    turned = dict(zip(days, reversed(days), strict=True))
    check(replace(instance, free={(lot, on): instance.free[lot, turned[on]] for lot, on in instance.free}))


@every("seed", range(500, 520))
def test_the_choice_is_the_best_where_parcels_of_a_day_are_made_already(seed: int) -> None:
    check(replace(a_random_task(seed), parcels_a_day=2, parcels_made={day(seed % 2): 1 + seed % 3 // 2}))


def test_a_limit_gives_no_less_than_none_where_all_that_is_done_without_one_fits(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    week = columns_of_instance(a_random_task(1, with_splits=True))
    best = allocation.allocate(week)
    asked: list[bool] = []

    def poor(week: WeekColumns, is_limited: bool, budget: Budget, gap: float, tell: Tell) -> Chosen:
        asked.append(budget.measures)
        if not budget.measures:
            return replace(best, cheapest=False)
        tell(0.0, 2.0 * best.bound)
        return replace(best, columns=(), drawn={}, value=0.0, cost=0.0)

    told: list[tuple[float, float]] = []
    monkeypatch.setattr(allocation, "_small_week", poor)
    found = allocation.allocate(week, 5.0, tell=lambda *both: told.append(both))
    assert asked == [False, True]
    assert (found.value, found.drawn, found.columns) == (best.value, best.drawn, best.columns)
    assert told == [(best.value, best.bound)]
