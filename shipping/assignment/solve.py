"""Which line is filled how, in which parcel, on which day: a week's ways in, the best choice out, with a
bound on any.

It knows no fish: lines, lots and places are numbers and names. First the most value, then (at equal value)
the older orders, then the least cost, then the choice that sorts first. A search finds a good choice of any
week; of a small one the best is then proven, in parts that share nothing where the limit of parcels does not
link them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from shipping.assignment.columns import WeekColumns, columns_of_instance
from shipping.assignment.exact import cheapest, most_valuable
from shipping.assignment.instance import Chosen, Instance, OneLotFill, ParcelColumn, SharedFill
from shipping.assignment.mip import SAME, Budget
from shipping.assignment.relaxation_bound import RelaxationBound
from shipping.assignment.search import Tell, good_choice, tell_nobody
from shipping.words.keys import LineKey, UnionFind
from shipping.words.long_work import all_is_kept

#: The best of a week, or of a part of it that shares nothing with others, is proven up to so many lines.
MOST_LINES = 110
#: A week of more lines is not taken apart for it.
MOST_IN_PARTS = 300
#: A limit of time of which less is left is spent.
LEAST_S = 0.1


@all_is_kept()
def allocate(
    week: WeekColumns, seconds: float | None = None, gap: float = 0.0, tell: Tell | None = None
) -> Chosen:
    """The best choice of a week, its value proven to ``gap`` (a share of the bound), or the best found in
    ``seconds``.

    Without ``seconds`` a search ends after so many steps, the same on every machine; of a small week that is
    done first with them, too. ``tell`` is told of value and bound as they come nearer.
    """
    tell = tell or tell_nobody
    lines = sum(len(week.of(number).lines) for number in range(len(week.names)))
    is_limited = any(room < len(week.names) for room in week.room)
    if lines > (MOST_LINES if is_limited else MOST_IN_PARTS):
        return good_choice(week, Budget(seconds), gap, tell)
    budget = Budget(seconds, steady=True)
    best = _small_week(week, is_limited, budget, gap, tell)
    left = budget.left()
    if left is None or left < LEAST_S or best.cheapest or best.bound <= 0:
        return best

    def tell_best(value: float, bound: float) -> None:
        tell(max(value, best.value), min(bound, best.bound))

    longer = _small_week(week, is_limited, Budget(left), gap, tell_best)
    bound = min(best.bound, longer.bound)
    best = max(
        best, longer, key=lambda one: (round(one.value / SAME), round(_age(week, one) / SAME), -one.cost)
    )
    return replace(best, bound=max(bound, best.value))


def _age(week: WeekColumns, chosen: Chosen) -> float:
    """For how long the lines that go have waited."""
    ages = {line: age for n in range(len(week.names)) for line, age in _ages(week, n)}
    return math.fsum(ages[line] for line in sorted(chosen.drawn))


def _ages(week: WeekColumns, number: int) -> Iterator[tuple[LineKey, float]]:
    order = week.of(number)
    return zip(order.lines, order.age, strict=True)


def _small_week(week: WeekColumns, is_limited: bool, budget: Budget, gap: float, tell: Tell) -> Chosen:
    """The best choice found of a small week, and proven where that was possible."""
    found = good_choice(week, budget.part(0.5), gap, tell)
    if found.bound <= 0:
        return found
    instance = week.part(week.names)
    parts = [instance] if is_limited else _parts(instance)
    if any(len(part.lines) > MOST_LINES for part in parts):
        return found
    if len(parts) == 1:
        best = _best(parts[0], replace(found, cost=0.0, cheapest=False), budget, gap)
    else:
        shares = (budget.part(1.0 / (len(parts) - n)) for n in range(len(parts)))
        both = zip(parts, shares, strict=True)
        best = _joined([_best(part, _start(part, found, share), share, gap) for part, share in both])
    if instance.is_whole:
        return best
    return replace(best, bound=max(best.value, found.bound), cheapest=False)


def _start(part: Instance, found: Chosen, budget: Budget) -> Chosen:
    """What was found for a part of the week, with a bound of its own."""
    orders = {order for column in part.columns for order in column.orders}
    drawn = {line: one for line, one in found.drawn.items() if line[0] in orders}
    value = math.fsum(part.value[line] for line in drawn)
    is_open = found.value < found.bound
    bound = RelaxationBound(columns_of_instance(part)).whole(value, budget.part(0.3)) if is_open else value
    return Chosen(
        tuple(column for column in found.columns if orders.issuperset(column.orders)),
        drawn,
        value,
        max(value, bound),
        0.0,
        False,
    )


def _best(part: Instance, start: Chosen, budget: Budget, gap: float) -> Chosen:
    return cheapest(part, most_valuable(part, start, budget.part(0.5), gap), budget)


def _joined(parts: list[Chosen]) -> Chosen:
    columns = sorted(
        (column for part in parts for column in part.columns),
        key=lambda column: (column.departure, column.orders),
    )
    drawn = {line: found for part in parts for line, found in part.drawn.items()}
    return Chosen(
        tuple(columns),
        dict(sorted(drawn.items())),
        math.fsum(part.value for part in parts),
        math.fsum(part.bound for part in parts),
        math.fsum(part.cost for part in parts),
        all(part.cheapest for part in parts),
    )


def _parts(instance: Instance) -> list[Instance]:
    """The week in parts that share no lot and no order, each without the limit of parcels."""
    linked_by = UnionFind()
    for column in instance.columns:
        for order in column.orders:
            linked_by.link(("order", order), ("order", column.orders[0]))
    for fill in instance.fills:
        linked_by.link(("lot", fill.lot), ("order", fill.line[0]))
    for shared_fill in instance.shared_fills:
        for share in shared_fill.shares:
            linked_by.link(("lot", share.lot), ("order", shared_fill.line[0]))
    parts: dict[object, tuple[list[OneLotFill], list[SharedFill], list[ParcelColumn]]] = {}
    for column in instance.columns:
        parts.setdefault(linked_by.family(("order", column.orders[0])), ([], [], []))[2].append(column)
    for fill in instance.fills:
        parts.setdefault(linked_by.family(("order", fill.line[0])), ([], [], []))[0].append(fill)
    for shared_fill in instance.shared_fills:
        parts.setdefault(linked_by.family(("order", shared_fill.line[0])), ([], [], []))[1].append(
            shared_fill
        )
    return [
        Instance(tuple(f), tuple(s), tuple(w), instance.value, instance.age, instance.free, None)
        for f, s, w in parts.values()
        if w
    ]
