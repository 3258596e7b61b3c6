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
from shipping.assignment.instance import Chosen, Drawn, Filling, Place, Share, Split, Task, Way
from shipping.assignment.instance_columns import part_of, ways_of_task
from shipping.words.keys import LineKey

MONDAY = date(2026, 11, 30)


def day(n: int) -> date:
    return MONDAY + timedelta(days=n)


def allocate(task: Task) -> Chosen:
    return allocation.allocate(ways_of_task(task))


#: One choice: how each line is filled (or not) and the ways that carry them.
Draws = tuple[tuple[str, int], ...]


def draws_of(split: Split) -> list[Draws]:
    """Every whole-egg way to draw a split."""
    ranges = [[0, *range(split.least_draw, share.most + 1)] for share in split.shares]
    found = []
    for counts in itertools.product(*ranges):
        used = [n for n in counts if n]
        enough = math.fsum(n / share.alone for n, share in zip(counts, split.shares, strict=True)) >= 1 - 1e-9
        units = sum(math.ceil(n / split.eggs_max) for n in used)
        if 2 <= len(used) <= split.lots_most and enough and units <= split.units:
            found.append(tuple((share.lot, n) for n, share in zip(counts, split.shares, strict=True) if n))
    return found


def every_filling(
    task: Task,
) -> dict[LineKey, list[tuple[tuple[object, ...], Place, tuple[LineKey, str, int], Draws, float]]]:
    """Of each line: rank, place, mode, draws and cost of every way to fill it."""
    found: dict[LineKey, list[tuple[tuple[object, ...], Place, tuple[LineKey, str, int], Draws, float]]] = {}
    for f in task.fillings:
        found.setdefault(f.line, []).append((f.rank, f.place, f.mode, ((f.lot, f.eggs),), f.cost))
    for s in task.splits:
        eggs = {share.lot: share.egg_cost for share in s.shares}
        for draws in draws_of(s):
            cost = s.cost + math.fsum(eggs[lot] * n for lot, n in draws)
            found.setdefault(s.line, []).append((s.rank, s.place, s.mode, draws, cost))
    return found


def keeps_lots(task: Task, picks: list[tuple[Place, Draws]]) -> bool:
    """Up to each day on which a lot is drawn from, no more than is free that day."""
    drawn: dict[str, dict[date, int]] = {}
    for place, draws in picks:
        for lot, n in draws:
            days = drawn.setdefault(lot, {})
            days[place[0]] = days.get(place[0], 0) + n
    return all(
        sum(n for before, n in days.items() if before <= on) <= task.free[(lot, on)]
        for lot, days in drawn.items()
        for on in days
    )


def ways_to_carry(task: Task, carried: set[tuple[tuple[LineKey, str, int], Place]]) -> list[tuple[Way, ...]]:
    """Every set of parcels that carries just these lines so, no order in two parcels."""
    fitting = [way for way in task.ways if all((mode, way.place) in carried for mode in way.modes)]
    found = []

    def extend(left: frozenset[object], chosen: tuple[Way, ...], start: int) -> None:
        if not left:
            found.append(chosen)
            return
        for n in range(start, len(fitting)):
            way = fitting[n]
            taken = {(mode, way.place) for mode in way.modes}
            orders = {order for other in chosen for order in other.orders}
            if taken <= left and not orders & set(way.orders):
                extend(left - taken, (*chosen, way), n + 1)

    extend(frozenset(carried), (), 0)
    return found


def keeps_days(task: Task, ways: tuple[Way, ...]) -> bool:
    if task.parcels_a_day is None:
        return True
    loads: dict[date, int] = {}
    for way in ways:
        loads[way.place[0]] = loads.get(way.place[0], 0) + 1
    return all(load <= task.room(on) for on, load in loads.items())


def best_by_trying(task: Task) -> tuple[float, float, float, tuple[object, ...]]:
    """Value, age, cost and the ranks of the lines that go, of the best of all choices."""
    fillings = every_filling(task)
    lines = sorted(fillings)
    best = (0.0, 0.0, 0.0, tuple((1,) for _ in lines))
    for picks in itertools.product(*[[None, *fillings[line]] for line in lines]):
        chosen = [pick for pick in picks if pick]
        value = math.fsum(task.value[pick[2][0]] for pick in chosen)
        if (
            not chosen
            or value < best[0] - 1e-9
            or not keeps_lots(task, [(pick[1], pick[3]) for pick in chosen])
        ):
            continue
        age = math.fsum(task.age[pick[2][0]] for pick in chosen)
        ranks = tuple((0, pick[0]) if pick else (1,) for pick in picks)
        for ways in ways_to_carry(task, {(pick[2], pick[1]) for pick in chosen}):
            if keeps_days(task, ways):
                cost = math.fsum(pick[4] for pick in chosen) + math.fsum(way.cost for way in ways)
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


def a_random_task(seed: int, with_splits: bool = False) -> Task:
    """Two to four orders, some of two lines, some sharing an address; whole-number values so that ties
    occur.
    """
    random = np.random.default_rng(seed)
    lots = ["L1", "L2", "L3"][: int(random.integers(1, 4))]
    places: list[Place] = [(day(0), "letter"), (day(1), "letter"), (day(1), "parcel")][
        : int(random.integers(1, 4))
    ]
    names = ["A", "B", "C", "D"][: int(random.integers(2, 4 if with_splits else 5))]
    lines = [(name, n) for name in names for n in range(1, 1 + (2 if random.random() < 0.3 else 1))][:4]
    fillings, splits = [], []
    for line in lines:
        for place in places:
            for lot in lots:
                if random.random() < (0.35 if with_splits else 0.6):
                    eggs, units = int(random.integers(5, 16)), int(random.integers(1, 3))
                    fillings.append(
                        Filling(line, place, "tube", units, lot, eggs, float(random.integers(0, 5)))
                    )
            if with_splits and len(lots) > 1 and random.random() < 0.6:
                alone = int(random.integers(8, 13))
                shares = tuple(
                    Share(lot, alone, int(random.integers(5, 8)), float(random.integers(0, 3)))
                    for lot in lots
                )
                splits += [
                    Split(
                        line, place, "tube", u, 30, shares, min(3, len(lots)), 5, float(random.integers(0, 5))
                    )
                    for u in (2, 3)
                ]
    modes: dict[tuple[LineKey, Place], set[tuple[LineKey, str, int]]] = {}
    for one in (*fillings, *splits):
        modes.setdefault((one.line, one.place), set()).add(one.mode)
    joined = [(name,) for name in names] + ([tuple(names[:2])] if random.random() < 0.5 else [])
    ways = []
    for orders in joined:
        for place in places:
            own = [line for line in lines if line[0] in orders]
            for modes_picked in itertools.product(*[sorted(modes.get((line, place), ())) for line in own]):
                ways.append(Way(orders, place, modes_picked, float(random.integers(1, 6))))
    return Task(
        fillings=tuple(sorted(fillings, key=lambda f: (f.line, f.rank))),
        splits=tuple(sorted(splits, key=lambda s: (s.line, s.rank))),
        ways=tuple(sorted(ways, key=lambda w: (w.orders, w.place, w.modes))),
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


def ranks_of(task: Task, chosen: Chosen) -> tuple[object, ...]:
    fillings = every_filling(task)
    found: list[object] = []
    for line in sorted(fillings):
        drawn = chosen.drawn.get(line)
        if drawn is None:
            found.append((1,))
            continue
        carried = [(mode, way.place) for way in chosen.ways for mode in way.modes if mode[0] == line]
        assert len(carried) == 1
        found.append(
            (
                0,
                next(
                    rank
                    for rank, place, mode, draws, _ in fillings[line]
                    if matches(drawn, carried, place, mode, draws)
                ),
            )
        )
    return tuple(found)


def matches(drawn: Drawn, carried: list[object], place: Place, mode: object, draws: Draws) -> bool:
    return drawn.draws == draws and drawn.place == place and (mode, place) == carried[0]


def check(task: Task) -> None:
    value, age, cost, ranks = best_by_trying(task)
    chosen = allocate(task)
    assert chosen.value == pytest.approx(value, abs=1e-6)
    assert chosen.bound == pytest.approx(value, abs=1e-6)
    assert math.fsum(task.age[line] for line in chosen.drawn) == pytest.approx(age, abs=1e-6)
    assert chosen.cost == pytest.approx(cost, abs=1e-5)
    assert ranks_of(task, chosen) == ranks
    assert keeps_days(task, chosen.ways)
    assert keeps_lots(task, [(drawn.place, drawn.draws) for drawn in chosen.drawn.values()])


@pytest.mark.parametrize("batch", range(12))
def test_the_choice_is_the_best_of_all_choices(batch: int) -> None:
    for seed in range(batch * 10, batch * 10 + 10):
        check(a_random_task(seed))


@pytest.mark.parametrize("batch", range(4))
def test_the_choice_is_the_best_of_all_choices_with_lots_shared(batch: int) -> None:
    used = 0
    for seed in range(1000 + batch * 6, 1006 + batch * 6):
        task = a_random_task(seed, with_splits=True)
        check(task)
        used += sum(len(drawn.draws) > 1 for drawn in allocate(task).drawn.values())
    assert used


def one_line(order: str, lot: str, eggs: int, cost: float = 1.0, on: int = 0) -> tuple[Filling, Way]:
    line, place = (order, 1), (day(on), "letter")
    filling = Filling(line, place, "tube", 1, lot, eggs, cost)
    return filling, Way((order,), place, (filling.mode,), 2.0)


def a_task(*pairs: tuple[Filling, Way], free: dict[tuple[str, date], int], **changes: object) -> Task:
    fillings, ways = zip(*pairs, strict=True)
    lines = sorted({f.line for f in fillings})
    made = Task(
        tuple(fillings), (), tuple(ways), dict.fromkeys(lines, 10.0), dict.fromkeys(lines, 0.0), free, None
    )
    return replace(made, **changes)


def test_of_two_orders_of_equal_value_the_older_goes() -> None:
    task = a_task(one_line("A", "L1", 20), one_line("B", "L1", 20, cost=99), free={("L1", day(0)): 25})
    aged = replace(task, age={("A", 1): 1.0, ("B", 1): 3.0})
    assert set(allocate(aged).drawn) == {("B", 1)}


def test_of_two_orders_alike_in_all_the_name_that_sorts_first_goes() -> None:
    task = a_task(one_line("B", "L1", 20), one_line("A", "L1", 20), free={("L1", day(0)): 25})
    assert set(allocate(task).drawn) == {("A", 1)}


def test_value_comes_before_cost() -> None:
    task = a_task(one_line("A", "L1", 20), one_line("B", "L1", 20, cost=500), free={("L1", day(0)): 25})
    richer = replace(task, value={("A", 1): 10.0, ("B", 1): 10.5})
    assert set(allocate(richer).drawn) == {("B", 1)}


def test_parcels_a_day_are_limited_and_a_limit_of_none_stops_all() -> None:
    pairs = [one_line(name, "L1", 5) for name in "ABC"]
    free = {("L1", day(0)): 100}
    assert len(allocate(a_task(*pairs, free=free)).ways) == 3
    assert len(allocate(a_task(*pairs, free=free, parcels_a_day=2)).ways) == 2
    assert allocate(a_task(*pairs, free=free, parcels_a_day=0)).ways == ()


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
    joined = Way(("A", "B"), (day(0), "letter"), (a[0].mode, b[0].mode), 2.5)
    task = a_task(a, b, free={("L1", day(0)): 10})
    task = replace(task, ways=(*task.ways, joined), parcels_a_day=1)
    found = allocate(task)
    assert found.ways == (joined,)
    assert found.cost == pytest.approx(1 + 1 + 2.5)


def test_a_week_without_orders_is_an_empty_choice() -> None:
    found = allocate(Task((), (), (), {}, {}, {}, None))
    assert (found.ways, found.value, found.bound, found.cost) == ((), 0.0, 0.0, 0.0)


@pytest.mark.parametrize("seed", range(10))
def test_one_more_egg_or_parcel_never_lowers_the_value(seed: int) -> None:
    task = a_random_task(seed)
    more = replace(task, free={key: n + 1 for key, n in task.free.items()})
    assert allocate(more).value >= allocate(task).value - 1e-9
    assert allocate(replace(task, parcels_a_day=None)).value >= allocate(task).value - 1e-9


@pytest.mark.parametrize("seed", range(10))
def test_the_order_of_the_ways_does_not_matter(seed: int) -> None:
    task = a_random_task(seed)
    turned = replace(task, fillings=task.fillings[::-1], ways=task.ways[::-1])
    one, two = allocate(task), allocate(turned)
    assert (one.ways, one.drawn) == (two.ways, two.drawn)


# -- what is given or taken away ------------------------------------------------------------------


def without_lot(task: Task, lot: str) -> Task:
    """The week without a lot; lines shared among two lots of which it was one have that way no more."""
    splits = [replace(s, shares=tuple(share for share in s.shares if share.lot != lot)) for s in task.splits]
    splits = [replace(s, lots_most=min(s.lots_most, len(s.shares))) for s in splits if len(s.shares) > 1]
    fillings = tuple(f for f in task.fillings if f.lot != lot)
    modes = {(f.mode, f.place) for f in fillings} | {(split.mode, split.place) for split in splits}
    ways = tuple(way for way in task.ways if all((mode, way.place) in modes for mode in way.modes))
    free = {at: eggs for at, eggs in task.free.items() if at[0] != lot}
    return replace(task, fillings=fillings, splits=tuple(splits), ways=ways, free=free)


@pytest.mark.parametrize("seed", [*range(200, 212), *range(1000, 1006)])
def test_a_lot_more_never_lowers_the_value(seed: int) -> None:
    task = a_random_task(seed, with_splits=seed >= 1000)
    whole = allocate(task).value
    parts = [allocate(without_lot(task, lot)).value for lot in sorted({lot for lot, _ in task.free})]
    assert all(part <= whole + 1e-6 for part in parts)


@pytest.mark.parametrize("seed", [*range(200, 212), *range(1000, 1006)])
def test_an_order_more_never_lowers_the_value_and_adds_no_more_than_its_own(seed: int) -> None:
    task = a_random_task(seed, with_splits=seed >= 1000)
    names = sorted({line[0] for line in task.value})
    whole = allocate(task).value
    for name in names:
        rest = allocate(part_of(task, [other for other in names if other != name])).value
        own = math.fsum(value for line, value in task.value.items() if line[0] == name)
        assert rest - 1e-6 <= whole <= rest + own + 1e-6


@pytest.mark.parametrize("seed", [*range(300, 310), *range(1010, 1014)])
def test_shuffled_numbers_of_a_week_give_the_same_choice(seed: int) -> None:
    task, random = a_random_task(seed, with_splits=seed >= 1000), Random(seed)
    fillings, splits, ways = list(task.fillings), list(task.splits), list(task.ways)
    value, age, free = list(task.value.items()), list(task.age.items()), list(task.free.items())
    for table in (fillings, splits, ways, value, age, free):
        random.shuffle(table)
    mixed = replace(
        task,
        fillings=tuple(fillings),
        splits=tuple(splits),
        ways=tuple(ways),
        value=dict(value),
        age=dict(age),
        free=dict(free),
    )
    one, two = allocate(task), allocate(mixed)
    assert (one.ways, one.drawn) == (two.ways, two.drawn)
    assert (one.value, one.bound, one.cost) == pytest.approx((two.value, two.bound, two.cost))


@pytest.mark.parametrize("seed", range(400, 420))
def test_the_choice_is_the_best_where_lots_gain_eggs_from_day_to_day(seed: int) -> None:
    task = a_random_task(seed)
    days = sorted({on for _, on in task.free})
    turned = dict(zip(days, reversed(days), strict=True))
    check(replace(task, free={(lot, on): task.free[lot, turned[on]] for lot, on in task.free}))


@pytest.mark.parametrize("seed", range(500, 520))
def test_the_choice_is_the_best_where_parcels_of_a_day_are_made_already(seed: int) -> None:
    check(replace(a_random_task(seed), parcels_a_day=2, parcels_made={day(seed % 2): 1 + seed % 3 // 2}))
