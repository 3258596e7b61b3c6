"""Tiny tangled weeks tried out to the last choice: the value chosen is the best, and no bound is below it.

The best is found here from the week as numbers alone, whole eggs, boxes and days included; nothing that
chooses or proves is asked.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from datetime import date, timedelta
from random import Random

import pytest

from shipping.assignment.columns import columns_of_instance
from shipping.assignment.instance import (
    Departure,
    Instance,
    LotShare,
    OneLotFill,
    ParcelColumn,
    SharedFill,
    TravelMode,
)
from shipping.assignment.lagrangian_bound import LagrangianBound
from shipping.assignment.mip import Budget
from shipping.assignment.relaxation_bound import RelaxationBound
from shipping.assignment.solve import allocate
from shipping.words.keys import LineKey
from tests.timings.week_check import WeekCheck

#: So many weeks, in so many parts; the slow bound by prices is asked of the first few.
WEEKS, BATCHES, PRICED = 500, 10, 10
DAYS = tuple(date(2026, 11, 30) + timedelta(days=n) for n in range(3))
LEAST_DRAW, MOST_LOTS, MOST_LINES = 5, 3, 7
#: Of each packing the most eggs of a unit, and how many units a box holds.
PACKINGS = {"tube": (8, 4), "bag": (20, 3)}
NEAR = 1e-6

#: A day, the eggs of each lot that are drawn then, and what they serve.
Option = tuple[date, dict[str, int], float]


def a_tangled_week(number: int) -> Instance:
    """Three to five orders, most of two or three lines that go together, of three or four lots with eggs for
    some of them; lots lose or gain eggs from day to day, and a parcel holds so many units.
    """
    chance = Random(number)
    lots = [f"L{n}" for n in range(chance.choice((3, 4)))]
    names = [f"W{n}" for n in range(chance.choice((3, 4, 5)))]
    departures = sorted({(chance.choice(DAYS), chance.choice(("letter", "parcel"))) for _ in range(3)})
    lines = [(name, n) for name in names for n in range(1, 1 + chance.choice((1, 2, 2, 3)))][:MOST_LINES]
    fills, shared_fills = [], []
    for line, departure in itertools.product(lines, departures):
        able = chance.sample(lots, chance.randint(1, len(lots)))
        eggs = {lot: chance.randint(6, 13) for lot in able}
        for packing, (eggs_max, _) in PACKINGS.items():
            if chance.random() < 0.2:
                continue
            fills += [
                OneLotFill(line, departure, packing, -(-eggs[lot] // eggs_max), lot, eggs[lot], 1.0)
                for lot in able
                if chance.random() < 0.8
            ]
            shares = tuple(
                LotShare(lot, eggs[lot], min(eggs[lot], chance.randint(5, 13)), 0.1) for lot in sorted(able)
            )
            if len(shares) > 1 and chance.random() < 0.6:
                shared_fills += [
                    SharedFill(
                        line,
                        departure,
                        packing,
                        units,
                        eggs_max,
                        shares,
                        min(MOST_LOTS, len(shares)),
                        LEAST_DRAW,
                        2.0,
                    )
                    for units in (2, 3, 4)
                ]
    may_split = {name: chance.random() < 0.25 for name in names}
    columns = _columns([*fills, *shared_fills], lines, may_split)
    wanted = 10 * len(lines) / len(lots)
    free: dict[tuple[str, date], int] = {}
    for lot in lots:
        eggs_now, step = wanted * chance.uniform(0.5, 1.1), chance.uniform(0.6, 1.3)
        free |= {(lot, day): round(eggs_now * step**n) for n, day in enumerate(DAYS)}
    value = {line: round(chance.uniform(4.0, 20.0), 2) for line in lines}
    room = chance.choice((None, None, 1, 2))
    return Instance(
        tuple(sorted(fills, key=lambda fill: (fill.line, fill.rank))),
        tuple(sorted(shared_fills, key=lambda fill: (fill.line, fill.rank))),
        tuple(columns),
        value,
        dict.fromkeys(value, 0.0),
        free,
        room,
    )


def _columns(
    fills: list[OneLotFill | SharedFill], lines: list[LineKey], may_split: dict[str, bool]
) -> list[ParcelColumn]:
    """Every parcel of an order's lines, or of some where it may split, that a box holds."""
    modes: dict[tuple[LineKey, Departure], set[TravelMode]] = {}
    for fill in fills:
        modes.setdefault((fill.line, fill.departure), set()).add(fill.travel_mode)
    found = []
    for name, departure in sorted({(line[0], departure) for line, departure in modes}):
        own = [sorted(modes.get((line, departure), ())) for line in lines if line[0] == name]
        picks = [[(), *((mode,) for mode in of_line)] for of_line in own]
        for pick in itertools.product(*picks):
            chosen = tuple(itertools.chain(*pick))
            is_carried = bool(chosen) and (may_split[name] or len(chosen) == len(own))
            if is_carried and sum(units / PACKINGS[packing][1] for _, packing, units in chosen) <= 1 + NEAR:
                found.append(ParcelColumn((name,), departure, chosen, 3.0))
    return sorted(found, key=lambda column: (column.orders, column.departure, column.travel_modes))


def fewest_draws(fill: SharedFill) -> Iterator[dict[str, int]]:
    """Whole eggs of two lots or more that just suffice: no lot could give one less."""
    for count in range(2, fill.lots_most + 1):
        for shares in itertools.combinations(fill.shares, count):
            for eggs in itertools.product(*(range(fill.least_draw, one.most + 1) for one in shares)):
                over = math.fsum(n / one.alone for n, one in zip(eggs, shares, strict=True)) - 1.0
                is_least = all(
                    n == fill.least_draw or over < 1 / one.alone - NEAR
                    for n, one in zip(eggs, shares, strict=True)
                )
                units = sum(-(-n // fill.eggs_max) for n in eggs)
                if over >= -NEAR and is_least and units <= fill.units:
                    yield {one.lot: n for n, one in zip(eggs, shares, strict=True)}


def options_of(instance: Instance, name: str) -> list[Option]:
    """Every way an order may go, the most valuable first."""
    found: dict[tuple[date, tuple[tuple[str, int], ...]], float] = {}
    for column in instance.columns:
        if column.orders != (name,):
            continue
        draws: list[list[dict[str, int]]] = []
        for mode in column.travel_modes:
            key = (mode, column.departure)
            draws.append(
                [{f.lot: f.eggs} for f in instance.fills if (f.travel_mode, f.departure) == key]
                + [
                    drawn
                    for f in instance.shared_fills
                    if (f.travel_mode, f.departure) == key
                    for drawn in fewest_draws(f)
                ]
            )
        value = math.fsum(instance.value[mode[0]] for mode in column.travel_modes)
        for pick in itertools.product(*draws):
            eggs: dict[str, int] = {}
            for lot, n in itertools.chain(*(one.items() for one in pick)):
                eggs[lot] = eggs.get(lot, 0) + n
            departure = (column.departure[0], tuple(sorted(eggs.items())))
            found[departure] = max(value, found.get(departure, 0.0))
    return sorted(((day, dict(eggs), value) for (day, eggs), value in found.items()), key=lambda one: -one[2])


def best_value(instance: Instance) -> float:
    """The most that any choice serves, all of them tried that could serve more than the best so far."""
    names = sorted({column.orders[0] for column in instance.columns})
    options = sorted((options_of(instance, name) for name in names), key=len)
    rest = [math.fsum(one[0][2] for one in options[n:]) for n in range(len(options) + 1)]
    drawn: dict[tuple[str, date], int] = {}
    parcels = dict.fromkeys(DAYS, 0)
    best = 0.0

    def fits(day: date, eggs: dict[str, int]) -> bool:
        if instance.parcels_a_day is not None and parcels[day] >= instance.parcels_a_day:
            return False
        for lot, n in eggs.items():
            total = 0
            for on in DAYS:
                own = drawn.get((lot, on), 0) + (n if on == day else 0)
                total += own
                if own and total > instance.free[(lot, on)]:
                    return False
        return True

    def try_from(at: int, value: float) -> None:
        nonlocal best
        best = max(best, value)
        if at == len(options) or value + rest[at] <= best + NEAR:
            return
        for day, eggs, worth in options[at]:
            if value + worth + rest[at + 1] <= best + NEAR:
                break
            if fits(day, eggs):
                _add(drawn, day, eggs, 1)
                parcels[day] += 1
                try_from(at + 1, value + worth)
                parcels[day] -= 1
                _add(drawn, day, eggs, -1)
        try_from(at + 1, value)

    try_from(0, 0.0)
    return best


def _add(drawn: dict[tuple[str, date], int], day: date, eggs: dict[str, int], sign: int) -> None:
    for lot, n in eggs.items():
        drawn[(lot, day)] = drawn.get((lot, day), 0) + sign * n


@pytest.mark.slow
@pytest.mark.parametrize("batch", range(BATCHES))
def test_the_best_of_tiny_tangled_weeks_is_chosen_and_no_bound_is_below_it(batch: int) -> None:
    for number in range(batch, WEEKS, BATCHES):
        instance = a_tangled_week(number)
        best, week = best_value(instance), columns_of_instance(instance)
        chosen = allocate(week)
        assert WeekCheck(instance).broken(chosen) == [], number
        assert chosen.value == pytest.approx(best, abs=NEAR), number
        assert chosen.bound >= best - NEAR, number
        bounds = RelaxationBound(week)
        assert bounds.relaxed(Budget(None)) >= best - NEAR, number
        assert bounds.whole(best, Budget(None)) >= best - NEAR, number
        if number < PRICED:
            assert LagrangianBound.of(week).bound_within(Budget(None)) >= best - NEAR, number


def test_tiny_tangled_weeks_are_short_of_eggs_and_cannot_all_go() -> None:
    """What is tried out above is what hurts: in more than half of the weeks somebody stays."""
    short = [
        best_value(week) < math.fsum(week.value.values()) - NEAR for week in map(a_tangled_week, range(20))
    ]
    assert sum(short) > 10
