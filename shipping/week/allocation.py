"""Which line is filled how, in which parcel, on which day: ways with values and costs in, the best choice out.

It knows no fish: lines, lots and places are numbers and names. First the most value, then (at equal value) the older
orders, then the least cost, then the choice that sorts first. Groups of orders that share nothing are solved apart.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import date

from shipping.week.best_choice import best, quick
from shipping.week.crew import Crew
from shipping.week.linked import Linked
from shipping.week.neighbourhoods import LargeWeek
from shipping.week.program import Budget
from shipping.week.served import most_served
from shipping.week.task import Chosen, Filling, Split, Task, Way
from shipping.week.whole_eggs import in_whole_eggs

#: Parts of more lines than this are not chosen as a whole; of more than `MOST_WHOLE`, the bound lets lines go in fractions.
MOST_LINES, MOST_WHOLE = 60, 600
#: How near a large part's bound is brought, as a share of it.
LARGE_GAP = 0.004

#: Is told of the value reached and the bound on it.
Tell = Callable[[float, float], None]


def allocate(task: Task, seconds: float | None = None, gap: float = 0.0, tell: Tell | None = None) -> Chosen:
    """The best choice of a week, proven to ``gap`` (a share of the bound), or the best found in ``seconds``.

    Parts of the week of more than `MOST_LINES` lines are made of exact choices of smaller parts: near the best, with a
    bound that says how near. ``tell`` is told of value and bound as they come nearer.
    """
    budget = Budget(seconds)
    told = _Told(tell)
    apart = _parts(task, linked=False)
    if task.parcels_a_day is None:
        return _joined(_each(apart, budget, gap, told))
    if all(len(part.lines) <= MOST_LINES for part in apart):
        together = _joined(_each(apart, budget.part(0.3), gap, _Told(None)))
        if not _is_too_full(task, together):
            return together
    return _joined(_each(_parts(task, linked=True), budget, gap, told))


class _Told:
    """Value and bound of the parts done, for whoever watches."""

    def __init__(self, tell: Tell | None) -> None:
        self.tell = tell
        self.value, self.bound = 0.0, 0.0

    def now(self, value: float, bound: float) -> None:
        if self.tell is not None:
            self.tell(self.value + value, self.bound + bound)

    def done(self, chosen: Chosen) -> None:
        self.value, self.bound = self.value + chosen.value, self.bound + chosen.bound
        self.now(0.0, 0.0)


def _each(parts: list[Task], budget: Budget, gap: float, told: _Told) -> list[Chosen]:
    """The best choice of every part, each with its share of the seconds left."""
    found = []
    for n, part in enumerate(parts):
        own = budget.part(1.0 / (len(parts) - n))
        found.append(best(part, own, gap) if len(part.lines) <= MOST_LINES else _large(part, own, gap, told))
        told.done(found[-1])
    return found


def _large(task: Task, budget: Budget, gap: float, told: _Told) -> Chosen:
    """A good choice of a part with many lines: from fractions to whole eggs, then around what is not served."""
    served = most_served(task, budget.part(0.4), whole=len(task.lines) <= MOST_WHOLE, gap=max(gap, LARGE_GAP))
    with Crew(quick) as crew:
        week = LargeWeek(task, crew)
        week.start(*in_whole_eggs(task, served, crew, budget.part(0.5)))
        told.now(week.value, served.bound)
        week.improve(budget.part(0.6), served.bound, gap, lambda value: told.now(value, served.bound))
        week.cheapen(budget, lambda value: told.now(value, served.bound))
    return replace(week.chosen(served.bound), cheapest=False)


def _joined(parts: list[Chosen]) -> Chosen:
    ways = sorted((way for part in parts for way in part.ways), key=lambda way: (way.place, way.orders))
    drawn = {line: found for part in parts for line, found in part.drawn.items()}
    return Chosen(
        tuple(ways),
        dict(sorted(drawn.items())),
        math.fsum(part.value for part in parts),
        math.fsum(part.bound for part in parts),
        math.fsum(part.cost for part in parts),
        all(part.cheapest for part in parts),
    )


def _is_too_full(task: Task, chosen: Chosen) -> bool:
    loads: dict[date, int] = {}
    for way in chosen.ways:
        loads[way.place[0]] = loads.get(way.place[0], 0) + 1
    return any(load > task.room(day) for day, load in loads.items())


def _parts(task: Task, linked: bool) -> list[Task]:
    """The week in parts that share no lot and no order; all in one where the limit of parcels links them."""
    if linked:
        return [task]
    linked_by = Linked()
    for way in task.ways:
        for order in way.orders:
            linked_by.link(("order", order), ("order", way.orders[0]))
    for filling in task.fillings:
        linked_by.link(("lot", filling.lot), ("order", filling.line[0]))
    for split in task.splits:
        for share in split.shares:
            linked_by.link(("lot", share.lot), ("order", split.line[0]))
    parts: dict[object, tuple[list[Filling], list[Split], list[Way]]] = {}
    for way in task.ways:
        parts.setdefault(linked_by.family(("order", way.orders[0])), ([], [], []))[2].append(way)
    for filling in task.fillings:
        parts.setdefault(linked_by.family(("order", filling.line[0])), ([], [], []))[0].append(filling)
    for split in task.splits:
        parts.setdefault(linked_by.family(("order", split.line[0])), ([], [], []))[1].append(split)
    return [Task(tuple(f), tuple(s), tuple(w), task.value, task.age, task.free, None) for f, s, w in parts.values() if w]
