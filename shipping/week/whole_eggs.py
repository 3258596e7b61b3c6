"""From eggs shared out in fractions to whole ones: who is served on which day in, lots and parcels for most of them out.

With the day of every order known, and its service taken to be the one that asks for fewest eggs, lines share nothing but
lots: each family of lines that want the same lots is chosen exactly, by itself. An order of which a line finds no whole
eggs is left for later.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from shipping.week.crew import Crew
from shipping.week.linked import Linked
from shipping.week.program import Budget
from shipping.week.served import Served
from shipping.week.task import Drawn, Filling, LineKey, Mode, Place, Split, Task, Way


def in_whole_eggs(task: Task, served: Served, crew: Crew, budget: Budget) -> tuple[tuple[Way, ...], dict[LineKey, Drawn]]:
    """Parcels and draws of the orders served for which whole eggs are found."""
    places = _places(task, served)
    drawn: dict[LineKey, Drawn] = {}
    modes: dict[LineKey, Mode] = {}
    families = [(family, budget, False) for family in _families(task, served, places)]
    for found in crew.choose(families):
        drawn |= {_of_its_order(line): replace(one, line=_of_its_order(line)) for line, one in found.drawn.items()}
        for way in found.ways:
            line, packing, units = way.modes[0]
            modes[_of_its_order(line)] = (_of_its_order(line), packing, units)
    ways: list[Way] = []
    cheapest: dict[tuple[str, Place, frozenset[Mode]], Way] = {}
    for way in task.ways:
        if len(way.orders) == 1:
            cheapest.setdefault((way.orders[0], way.place, frozenset(way.modes)), way)
    loads: dict[date, int] = dict(task.parcels_made)
    for order in sorted(places):
        own = frozenset(modes[line] for line in served.lines if line[0] == order and line in modes)
        found_way = cheapest.get((order, places[order], own))
        day = places[order][0]
        full = task.parcels_a_day is not None and loads.get(day, 0) >= task.parcels_a_day
        if found_way is not None and not full:
            ways.append(found_way)
            loads[day] = loads.get(day, 0) + 1
    going = {mode[0] for way in ways for mode in way.modes}
    return tuple(ways), {line: found for line, found in sorted(drawn.items()) if line in going}


def _places(task: Task, served: Served) -> dict[str, Place]:
    """For each order the place, on its day, at which its lines ask for the fewest eggs."""
    fewest: dict[tuple[Mode, Place], int] = {}
    for filling in task.fillings:
        at = (filling.mode, filling.place)
        fewest[at] = min(fewest.get(at, filling.eggs), filling.eggs)
    for split in task.splits:
        at, alone = (split.mode, split.place), min(share.alone for share in split.shares)
        fewest[at] = min(fewest.get(at, alone), alone)
    best: dict[str, tuple[tuple[float, ...], Place]] = {}
    wanted: dict[str, set[LineKey]] = {}
    for line in served.lines:
        wanted.setdefault(line[0], set()).add(line)
    for way in task.ways:
        order = way.orders[0]
        goes = len(way.orders) == 1 and served.days.get(order) == way.place[0]
        if not goes or {mode[0] for mode in way.modes} != wanted.get(order):
            continue
        eggs = math.fsum(fewest.get((mode, way.place), math.inf) for mode in way.modes)
        rank = ((eggs, way.cost), way.place)
        if order not in best or rank < best[order]:
            best[order] = rank
    return {order: place for order, (_, place) in best.items()}


def _families(task: Task, served: Served, places: Mapping[str, Place]) -> Iterable[Task]:
    """Lines that want the same lots, each as if it were an order of its own at its place."""
    lines = {line for line in served.lines if line[0] in places}
    fillings = [f for f in task.fillings if f.line in lines and f.place == places[f.line[0]]]
    splits = [s for s in task.splits if s.line in lines and s.place == places[s.line[0]]]
    linked = Linked()
    for line, lot in [(f.line, f.lot) for f in fillings] + [(s.line, share.lot) for s in splits for share in s.shares]:
        linked.link(lot, line)
    carried = {(mode, way.place) for way in task.ways for mode in way.modes if len(way.orders) == 1}
    families: dict[object, list[LineKey]] = {}
    for line in sorted(lines):
        families.setdefault(linked.family(line), []).append(line)
    family_of = {line: number for number, members in enumerate(families.values()) for line in members}
    kept: dict[int, list[Filling]] = {}
    shared: dict[int, list[Split]] = {}
    for filling in fillings:
        if (filling.mode, filling.place) in carried:
            kept.setdefault(family_of[filling.line], []).append(filling)
    for split in splits:
        if (split.mode, split.place) in carried:
            shared.setdefault(family_of[split.line], []).append(split)
    for number in range(len(families)):
        own, parts = kept.get(number, []), shared.get(number, [])
        modes = sorted({(one.mode, one.place) for one in own} | {(one.mode, one.place) for one in parts})
        own_lines = sorted({mode[0] for mode, _ in modes})
        yield replace(
            task,
            fillings=tuple(replace(one, line=_alone(one.line)) for one in own),
            splits=tuple(replace(one, line=_alone(one.line)) for one in parts),
            ways=tuple(Way(_alone(mode[0])[:1], place, ((_alone(mode[0]), *mode[1:]),), 0.0) for mode, place in modes),
            value={_alone(line): task.value[line] for line in own_lines},
            age={_alone(line): task.age[line] for line in own_lines},
            parcels_a_day=None,
        )


def _alone(line: LineKey) -> LineKey:
    """The line as the only one of an order of its own."""
    return (f"{line[0]}\0{line[1]}", line[1])


def _of_its_order(line: LineKey) -> LineKey:
    return (line[0].partition("\0")[0], line[1])
