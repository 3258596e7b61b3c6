"""The integer program of a week: the week as numbers in; variables, rows and goals out; what was chosen read
back.

Splits come in groups: a line at a place in one packing, shared among lots. A group's exact rules (whole
units, draws of some size, so many lots) are added only for groups that are made ready; the others stay shut,
but count in the relaxation, whose bound holds for all.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from shipping.assignment.instance import Chosen, Drawn, Mode, Place, Split, Task, Way
from shipping.assignment.mip import Floats, Program
from shipping.words.keys import LineKey

#: A line at a place in a packing, shared among these lots.
GroupKey = tuple[LineKey, Place, str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Group:
    """The splits of one line at one place in one packing: a variable for each number of units, and eggs of
    each lot.
    """

    splits: tuple[Split, ...]
    chosen: tuple[int, ...]
    eggs: tuple[int, ...]


@dataclass(eq=False)
class WeekProgram:
    """The program of one week, and which variable means what; ask `of` for one."""

    task: Task
    program: Program = field(default_factory=Program)
    filling: list[int] = field(default_factory=list)
    way: list[int | None] = field(default_factory=list)
    groups: dict[GroupKey, Group] = field(default_factory=dict)
    ready: set[GroupKey] = field(default_factory=set)
    #: Of a folded way: the variables that carry it.
    carriers: dict[int, list[int]] = field(default_factory=dict)
    marks: dict[GroupKey, list[int]] = field(default_factory=dict)

    @classmethod
    def of(cls, task: Task) -> WeekProgram:
        made = cls(task)
        made.filling = [made.program.add() for _ in task.fillings]
        made._add_groups()
        made._add_ways()
        made._limit_parcels()
        made._limit_lots()
        return made

    def _add_groups(self) -> None:
        found: dict[GroupKey, list[Split]] = {}
        for split in self.task.splits:
            lots = tuple(share.lot for share in split.shares)
            found.setdefault((split.line, split.place, split.packing, lots), []).append(split)
        for key, splits in found.items():
            chosen = tuple(self.program.add() for _ in splits)
            eggs = tuple(self.program.add(float(share.most)) for share in splits[0].shares)
            self.groups[key] = Group(tuple(splits), chosen, eggs)
            enough = {n: 1.0 / share.alone for n, share in zip(eggs, splits[0].shares, strict=True)}
            self.program.row(enough | dict.fromkeys(chosen, -1.0), lower=0.0)
            for n, share in zip(eggs, splits[0].shares, strict=True):
                self.program.row({n: 1.0} | dict.fromkeys(chosen, -float(share.most)), upper=0.0)

    def _add_ways(self) -> None:
        """A line is filled in a mode at a place exactly where a parcel carries it so; alone in it, it is the
        parcel.
        """
        filled: dict[tuple[Mode, Place], list[int]] = {}
        for filling, variable in zip(self.task.fillings, self.filling, strict=True):
            filled.setdefault((filling.mode, filling.place), []).append(variable)
        for group in self.groups.values():
            for split, variable in zip(group.splits, group.chosen, strict=True):
                filled.setdefault((split.mode, split.place), []).append(variable)
        carried: dict[tuple[Mode, Place], list[int]] = {}
        for number, way in enumerate(self.task.ways):
            for mode in way.modes:
                carried.setdefault((mode, way.place), []).append(number)
        for number, way in enumerate(self.task.ways):
            only = len(way.modes) == 1 and carried[(way.modes[0], way.place)] == [number]
            if only:
                self.carriers[number] = filled.get((way.modes[0], way.place), [])
                self.way.append(None)
            else:
                self.way.append(self.program.add())
        for key in sorted(filled.keys() | carried.keys(), key=repr):
            numbers = carried.get(key, [])
            if len(numbers) == 1 and self.way[numbers[0]] is None:
                continue
            ways = {v: -1.0 for number in numbers if (v := self.way[number]) is not None}
            self.program.row(dict.fromkeys(filled.get(key, []), 1.0) | ways, lower=0.0, upper=0.0)

    def of_way(self, number: int) -> list[int]:
        """The variables of which one is 1 exactly where this way is taken."""
        variable = self.way[number]
        return self.carriers[number] if variable is None else [variable]

    def _limit_parcels(self) -> None:
        orders: dict[str, dict[int, float]] = {}
        days: dict[date, dict[int, float]] = {}
        for number, way in enumerate(self.task.ways):
            terms = dict.fromkeys(self.of_way(number), 1.0)
            for order in way.orders:
                orders.setdefault(order, {}).update(terms)
            days.setdefault(way.place[0], {}).update(terms)
        for order in sorted(orders):
            self.program.row(orders[order], upper=1.0)
        if self.task.parcels_a_day is not None:
            for day in sorted(days):
                self.program.row(days[day], upper=float(self.task.room(day)))

    def _limit_lots(self) -> None:
        """Eggs drawn up to a day never exceed what the lot holds free that day, where it is drawn from that
        day.

        A lot mostly loses eggs from day to day; what was drawn on an earlier day, when there were more, does
        not count against a later day on which nothing is drawn.
        """
        draws: dict[str, dict[date, dict[int, float]]] = {}
        marks: dict[tuple[str, date], list[tuple[int, float]]] = {}
        for filling, variable in zip(self.task.fillings, self.filling, strict=True):
            day = filling.place[0]
            draws.setdefault(filling.lot, {}).setdefault(day, {})[variable] = float(filling.eggs)
            marks.setdefault((filling.lot, day), []).append((variable, 1.0))
        for group in self.groups.values():
            day = group.splits[0].place[0]
            for share, eggs in zip(group.splits[0].shares, group.eggs, strict=True):
                draws.setdefault(share.lot, {}).setdefault(day, {})[eggs] = 1.0
                marks.setdefault((share.lot, day), []).append((eggs, 1.0 / share.most))
        for lot in sorted(draws):
            sums: dict[int, float] = {}
            most_before = 0
            for day in sorted(draws[lot]):
                free = self.task.free[(lot, day)]
                sums |= draws[lot][day]
                terms, limit = dict(sums), float(free)
                if most_before > free:
                    drawn_today = self.program.add()
                    for mark, weight in marks[(lot, day)]:
                        self.program.row({mark: weight, drawn_today: -1.0}, upper=0.0)
                    terms[drawn_today] = float(most_before - free)
                    limit = float(most_before)
                self.program.row(terms, upper=limit)
                most_before = max(most_before, free)

    def make_ready(self, keys: Iterable[GroupKey]) -> None:
        """Add the exact rules of some groups: two lots or more, at most so many, each draw of some size,
        whole units.
        """
        for key in sorted(set(keys) - self.ready):
            self._make_ready(key)
            self.ready.add(key)

    def _make_ready(self, key: GroupKey) -> None:
        program, group = self.program, self.groups[key]
        first = group.splits[0]
        used = [program.add() for _ in first.shares]
        self.marks[key] = used
        for u, n, share in zip(used, group.eggs, first.shares, strict=True):
            program.row({n: 1.0, u: -float(share.most)}, upper=0.0)
            program.row({n: 1.0, u: -float(first.least_draw)}, lower=0.0)
            program.row({u: 1.0} | dict.fromkeys(group.chosen, -1.0), upper=0.0)
        units_chosen = {y: -float(split.units) for y, split in zip(group.chosen, group.splits, strict=True)}
        if all(share.most <= first.eggs_max for share in first.shares):
            few = {
                y: -float(min(split.units, split.lots_most))
                for y, split in zip(group.chosen, group.splits, strict=True)
            }
            program.row(dict.fromkeys(used, 1.0) | few, upper=0.0)
            program.row(dict.fromkeys(used, 1.0) | dict.fromkeys(group.chosen, -2.0), lower=0.0)
            return
        program.row(
            dict.fromkeys(used, 1.0) | dict.fromkeys(group.chosen, -float(first.lots_most)), upper=0.0
        )
        program.row(dict.fromkeys(used, 1.0) | dict.fromkeys(group.chosen, -2.0), lower=0.0)
        most_units = max(split.units for split in group.splits)
        units = [program.add(float(most_units)) for _ in first.shares]
        program.row(dict.fromkeys(units, 1.0) | units_chosen, upper=0.0)
        for u, n, unit in zip(used, group.eggs, units, strict=True):
            program.row({n: 1.0, unit: -float(first.eggs_max)}, upper=0.0)
            program.row({unit: 1.0, u: -1.0}, lower=0.0)
            program.row({unit: 1.0, u: -float(most_units)}, upper=0.0)

    def shut_all_but_ready(self) -> list[float]:
        """Close the groups that are not ready; what was open before, to be put back."""
        before = list(self.program.uppers)
        for key, group in self.groups.items():
            if key not in self.ready:
                for variable in (*group.chosen, *group.eggs):
                    self.program.uppers[variable] = 0.0
        return before

    def by_line(self, weights: dict[LineKey, float]) -> dict[int, float]:
        """The goal that serves the most weight: minus the weight of every line a way carries."""
        goal: dict[int, float] = {}
        for number, way in enumerate(self.task.ways):
            total = -math.fsum(weights[mode[0]] for mode in way.modes)
            goal |= dict.fromkeys(self.of_way(number), total)
        return goal

    def costs(self) -> dict[int, float]:
        """What every variable costs: fillings, splits with their eggs, and parcels."""
        costs = {v: filling.cost for filling, v in zip(self.task.fillings, self.filling, strict=True)}
        for group in self.groups.values():
            costs |= {v: split.cost for split, v in zip(group.splits, group.chosen, strict=True)}
            costs |= {v: share.egg_cost for share, v in zip(group.splits[0].shares, group.eggs, strict=True)}
        for number, way in enumerate(self.task.ways):
            for variable in self.of_way(number):
                costs[variable] = costs.get(variable, 0.0) + way.cost
        return costs

    def values_of(self, chosen: Chosen) -> Floats:
        """The variables' values of a choice made elsewhere; its groups of splits are made ready."""
        modes = {mode[0]: mode for way in chosen.ways for mode in way.modes}
        shared: dict[GroupKey, dict[str, int]] = {}
        for key in self.groups:
            drawn = chosen.drawn.get(key[0])
            if drawn is None or len(drawn.draws) < 2 or (drawn.place, drawn.packing) != key[1:3]:
                continue
            if {lot for lot, _ in drawn.draws} <= set(key[3]):
                shared[key] = dict(drawn.draws)
        self.make_ready(shared)
        values = np.zeros(len(self.program.uppers))
        for filling, variable in zip(self.task.fillings, self.filling, strict=True):
            drawn = chosen.drawn.get(filling.line)
            if drawn and (drawn.place, drawn.draws) == (filling.place, ((filling.lot, filling.eggs),)):
                values[variable] = filling.mode == modes[filling.line]
        for key, draws in shared.items():
            group = self.groups[key]
            for split, variable in zip(group.splits, group.chosen, strict=True):
                values[variable] = split.mode == modes[key[0]]
            for share, variable in zip(group.splits[0].shares, group.eggs, strict=True):
                values[variable] = draws.get(share.lot, 0)
        taken = {(frozenset(way.orders), way.place, frozenset(way.modes)) for way in chosen.ways}
        for way, own in zip(self.task.ways, self.way, strict=True):
            if own is not None and (frozenset(way.orders), way.place, frozenset(way.modes)) in taken:
                values[own] = 1.0
        return values

    def drawn(self, values: Floats) -> dict[LineKey, Drawn]:
        """How each line is filled."""
        found: dict[LineKey, Drawn] = {}
        for filling, variable in zip(self.task.fillings, self.filling, strict=True):
            if values[variable] > 0.5:
                found[filling.line] = Drawn(
                    filling.line, filling.place, filling.packing, ((filling.lot, filling.eggs),)
                )
        for group in self.groups.values():
            if any(values[variable] > 0.5 for variable in group.chosen):
                first = group.splits[0]
                eggs = [
                    (share.lot, round(values[n])) for share, n in zip(first.shares, group.eggs, strict=True)
                ]
                draws = tuple((lot, n) for lot, n in eggs if n)
                found[first.line] = Drawn(first.line, first.place, first.packing, draws)
        return found

    def ways(self, values: Floats) -> tuple[Way, ...]:
        """The parcels made up."""
        return tuple(
            way
            for number, way in enumerate(self.task.ways)
            if any(values[variable] > 0.5 for variable in self.of_way(number))
        )
