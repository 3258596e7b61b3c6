"""The integer program of a week: the week as numbers in; variables, rows and goals out; what was chosen read
back.

Splits come in groups: a line at a place in one packing, shared among lots. A group's exact rules (whole
units, draws of some size, so many lots) are added only for groups that are made ready; the others stay shut,
but count in the relaxation, whose bound holds for all.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from shipping.assignment.instance import (
    Chosen,
    Departure,
    Drawn,
    Instance,
    ParcelColumn,
    SharedFill,
    TravelMode,
)
from shipping.assignment.mip import Floats, Program
from shipping.words.keys import LineKey

#: A line at a place in a packing, shared among these lots.
GroupKey = tuple[LineKey, Departure, str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class SplitGroup:
    """The splits of a line at a place in a packing: a variable a number of units, and eggs of each lot."""

    shared_fills: tuple[SharedFill, ...]
    chosen: tuple[int, ...]
    eggs: tuple[int, ...]


@dataclass(eq=False)
class CompactProgram:
    """The program of one week, and which variable means what; ask `of` for one."""

    instance: Instance
    program: Program = field(default_factory=Program)
    fill: list[int] = field(default_factory=list)
    column: list[int | None] = field(default_factory=list)
    groups: dict[GroupKey, SplitGroup] = field(default_factory=dict)
    ready: set[GroupKey] = field(default_factory=set)
    #: Of a folded way: the variables that carry it.
    carriers: dict[int, list[int]] = field(default_factory=dict)
    marks: dict[GroupKey, list[int]] = field(default_factory=dict)

    @classmethod
    def of(cls, instance: Instance) -> CompactProgram:
        made = cls(instance)
        made.fill = [made.program.add() for _ in instance.fills]
        made._add_groups()
        made._add_columns()
        made._limit_parcels()
        made._limit_lots()
        return made

    def _add_groups(self) -> None:
        found: dict[GroupKey, list[SharedFill]] = {}
        for shared_fill in self.instance.shared_fills:
            lots = tuple(share.lot for share in shared_fill.shares)
            found.setdefault((shared_fill.line, shared_fill.departure, shared_fill.packing, lots), []).append(
                shared_fill
            )
        for key, shared_fills in found.items():
            chosen = tuple(self.program.add() for _ in shared_fills)
            eggs = tuple(self.program.add(float(share.most)) for share in shared_fills[0].shares)
            self.groups[key] = SplitGroup(tuple(shared_fills), chosen, eggs)
            enough = {n: 1.0 / share.alone for n, share in zip(eggs, shared_fills[0].shares, strict=True)}
            self.program.row(enough | dict.fromkeys(chosen, -1.0), lower=0.0)
            for n, share in zip(eggs, shared_fills[0].shares, strict=True):
                self.program.row({n: 1.0} | dict.fromkeys(chosen, -float(share.most)), upper=0.0)

    def _add_columns(self) -> None:
        """A line is filled so at a place exactly where a parcel carries it; alone in it, it is the parcel."""
        filled: dict[tuple[TravelMode, Departure], list[int]] = {}
        for fill, variable in zip(self.instance.fills, self.fill, strict=True):
            filled.setdefault((fill.travel_mode, fill.departure), []).append(variable)
        for group in self.groups.values():
            for shared_fill, variable in zip(group.shared_fills, group.chosen, strict=True):
                filled.setdefault((shared_fill.travel_mode, shared_fill.departure), []).append(variable)
        carried: dict[tuple[TravelMode, Departure], list[int]] = {}
        for number, column in enumerate(self.instance.columns):
            for travel_mode in column.travel_modes:
                carried.setdefault((travel_mode, column.departure), []).append(number)
        for number, column in enumerate(self.instance.columns):
            only = len(column.travel_modes) == 1 and carried[(column.travel_modes[0], column.departure)] == [
                number
            ]
            if only:
                self.carriers[number] = filled.get((column.travel_modes[0], column.departure), [])
                self.column.append(None)
            else:
                self.column.append(self.program.add())
        for key in sorted(filled.keys() | carried.keys(), key=repr):
            numbers = carried.get(key, [])
            if len(numbers) == 1 and self.column[numbers[0]] is None:
                continue
            columns = {v: -1.0 for number in numbers if (v := self.column[number]) is not None}
            self.program.row(dict.fromkeys(filled.get(key, []), 1.0) | columns, lower=0.0, upper=0.0)

    def of_column(self, number: int) -> list[int]:
        """The variables of which one is 1 exactly where this way is taken."""
        variable = self.column[number]
        return self.carriers[number] if variable is None else [variable]

    def _limit_parcels(self) -> None:
        orders: dict[str, dict[int, float]] = {}
        days: dict[date, dict[int, float]] = {}
        for number, column in enumerate(self.instance.columns):
            terms = dict.fromkeys(self.of_column(number), 1.0)
            for order in column.orders:
                orders.setdefault(order, {}).update(terms)
            days.setdefault(column.departure[0], {}).update(terms)
        for order in sorted(orders):
            self.program.row(orders[order], upper=1.0)
        if self.instance.parcels_a_day is not None:
            for day in sorted(days):
                self.program.row(days[day], upper=float(self.instance.room(day)))

    def _limit_lots(self) -> None:
        """Eggs drawn up to a day on which a lot is drawn from never exceed what it holds free that day."""
        draws: dict[str, dict[date, dict[int, float]]] = {}
        marks: dict[tuple[str, date], list[tuple[int, float]]] = {}
        for fill, variable in zip(self.instance.fills, self.fill, strict=True):
            day = fill.departure[0]
            draws.setdefault(fill.lot, {}).setdefault(day, {})[variable] = float(fill.eggs)
            marks.setdefault((fill.lot, day), []).append((variable, 1.0))
        for group in self.groups.values():
            day = group.shared_fills[0].departure[0]
            for share, eggs in zip(group.shared_fills[0].shares, group.eggs, strict=True):
                draws.setdefault(share.lot, {}).setdefault(day, {})[eggs] = 1.0
                marks.setdefault((share.lot, day), []).append((eggs, 1.0 / share.most))
        for lot in sorted(draws):
            sums: dict[int, float] = {}
            most_before = 0
            for day in sorted(draws[lot]):
                free = self.instance.free[(lot, day)]
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
        """Add the exact rules of groups: two lots or more, at most so many, draws of a size, whole units."""
        for key in sorted(set(keys) - self.ready):
            self._make_ready(key)
            self.ready.add(key)

    def _make_ready(self, key: GroupKey) -> None:
        program, group = self.program, self.groups[key]
        first = group.shared_fills[0]
        used = [program.add() for _ in first.shares]
        self.marks[key] = used
        for u, n, share in zip(used, group.eggs, first.shares, strict=True):
            program.row({n: 1.0, u: -float(share.most)}, upper=0.0)
            program.row({n: 1.0, u: -float(first.least_draw)}, lower=0.0)
            program.row({u: 1.0} | dict.fromkeys(group.chosen, -1.0), upper=0.0)
        units_chosen = {
            y: -float(shared_fill.units)
            for y, shared_fill in zip(group.chosen, group.shared_fills, strict=True)
        }
        if all(share.most <= first.eggs_max for share in first.shares):
            few = {
                y: -float(min(shared_fill.units, shared_fill.lots_most))
                for y, shared_fill in zip(group.chosen, group.shared_fills, strict=True)
            }
            program.row(dict.fromkeys(used, 1.0) | few, upper=0.0)
            program.row(dict.fromkeys(used, 1.0) | dict.fromkeys(group.chosen, -2.0), lower=0.0)
            return
        program.row(
            dict.fromkeys(used, 1.0) | dict.fromkeys(group.chosen, -float(first.lots_most)), upper=0.0
        )
        program.row(dict.fromkeys(used, 1.0) | dict.fromkeys(group.chosen, -2.0), lower=0.0)
        most_units = max(shared_fill.units for shared_fill in group.shared_fills)
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

    def by_line(self, weights: Mapping[LineKey, float]) -> dict[int, float]:
        """The goal that serves the most weight: minus the weight of every line a way carries."""
        return {variable: -weight for variable, weight in self._carried(weights).items()}

    def cut(self, weights: Mapping[LineKey, float], limit: float) -> None:
        """The weights of the lines that go make up no more than the limit."""
        self.program.row(self._carried(weights), upper=limit)

    def _carried(self, weights: Mapping[LineKey, float]) -> dict[int, float]:
        """The weight of every line a way carries, by the variables of the way."""
        carried: dict[int, float] = {}
        for number, column in enumerate(self.instance.columns):
            total = math.fsum(weights.get(travel_mode[0], 0.0) for travel_mode in column.travel_modes)
            carried |= dict.fromkeys(self.of_column(number), total)
        return carried

    def costs(self) -> dict[int, float]:
        """What every variable costs: fillings, splits with their eggs, and parcels."""
        costs = {v: fill.cost for fill, v in zip(self.instance.fills, self.fill, strict=True)}
        for group in self.groups.values():
            costs |= {
                v: shared_fill.cost for shared_fill, v in zip(group.shared_fills, group.chosen, strict=True)
            }
            costs |= {
                v: share.egg_cost for share, v in zip(group.shared_fills[0].shares, group.eggs, strict=True)
            }
        for number, column in enumerate(self.instance.columns):
            for variable in self.of_column(number):
                costs[variable] = costs.get(variable, 0.0) + column.cost
        return costs

    def values_of(self, chosen: Chosen) -> Floats:
        """The variables' values of a choice made elsewhere; its groups of splits are made ready."""
        travel_modes = {
            travel_mode[0]: travel_mode for column in chosen.columns for travel_mode in column.travel_modes
        }
        shared: dict[GroupKey, dict[str, int]] = {}
        for key in self.groups:
            drawn = chosen.drawn.get(key[0])
            if drawn is None or len(drawn.draws) < 2 or (drawn.departure, drawn.packing) != key[1:3]:
                continue
            if {lot for lot, _ in drawn.draws} <= set(key[3]):
                shared[key] = dict(drawn.draws)
        self.make_ready(shared)
        values = np.zeros(len(self.program.uppers))
        for fill, variable in zip(self.instance.fills, self.fill, strict=True):
            drawn = chosen.drawn.get(fill.line)
            if drawn and (drawn.departure, drawn.draws) == (fill.departure, ((fill.lot, fill.eggs),)):
                values[variable] = fill.travel_mode == travel_modes[fill.line]
        for key, draws in shared.items():
            group = self.groups[key]
            for shared_fill, variable in zip(group.shared_fills, group.chosen, strict=True):
                values[variable] = shared_fill.travel_mode == travel_modes[key[0]]
            for share, variable in zip(group.shared_fills[0].shares, group.eggs, strict=True):
                values[variable] = draws.get(share.lot, 0)
        taken = {
            (frozenset(column.orders), column.departure, frozenset(column.travel_modes))
            for column in chosen.columns
        }
        for column, own in zip(self.instance.columns, self.column, strict=True):
            if (
                own is not None
                and (frozenset(column.orders), column.departure, frozenset(column.travel_modes)) in taken
            ):
                values[own] = 1.0
        return values

    def drawn(self, values: Floats) -> dict[LineKey, Drawn]:
        """How each line is filled."""
        found: dict[LineKey, Drawn] = {}
        for fill, variable in zip(self.instance.fills, self.fill, strict=True):
            if values[variable] > 0.5:
                found[fill.line] = Drawn(fill.line, fill.departure, fill.packing, ((fill.lot, fill.eggs),))
        for group in self.groups.values():
            if any(values[variable] > 0.5 for variable in group.chosen):
                first = group.shared_fills[0]
                eggs = [
                    (share.lot, round(values[n])) for share, n in zip(first.shares, group.eggs, strict=True)
                ]
                draws = tuple((lot, n) for lot, n in eggs if n)
                found[first.line] = Drawn(first.line, first.departure, first.packing, draws)
        return found

    def columns(self, values: Floats) -> tuple[ParcelColumn, ...]:
        """The parcels made up."""
        return tuple(
            column
            for number, column in enumerate(self.instance.columns)
            if any(values[variable] > 0.5 for variable in self.of_column(number))
        )
