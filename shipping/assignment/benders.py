"""Whole lines on days, as a bound's program would have them, packed to the last egg: what cannot be is a cut.

The relaxation is the master, the program of the week held to its answer's lines and days the subproblem (a
logic-based Benders decomposition: Hooker and Ottosson 2003, Math. Program. 96, 33-60). Of lines that cannot
all be packed as few as still cannot are looked for, each on as many days as that still holds of; that they do
not all go then is a row of the master (combinatorial Benders cuts: Codato and Fischetti 2006, Oper. Res. 54,
756-766).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace

from shipping.assignment.columns import WeekColumns
from shipping.assignment.dominance import thinned
from shipping.assignment.exact import CompactProgram
from shipping.assignment.instance import Chosen, Instance, OneLotFill, ParcelColumn, SharedFill
from shipping.assignment.mip import Budget, NoAnswer, WorkLimit
from shipping.assignment.relaxation_bound import (
    MOST_OPEN,
    LinesTogether,
    OnDays,
    RelaxationBound,
    WholeLines,
)
from shipping.words.keys import LineKey

#: So much work goes to an answer.
ANSWER_WORK = WorkLimit(1.2e7, "rins")
#: So many nodes the program of an answer may look into, and the one of some of its lines, with so much work.
ANSWER_NODES, CORE_NODES = 100, 20
CORE_WORK = WorkLimit(1e6, "nothing")
#: Of an answer at most so many lines that find no place are looked at; a cut of more orders would say little.
MOST_CUTS, MOST_IN_CUT = 3, 9
#: Of a week it is asked at most so often whether some of its lines can be packed.
MOST_ASKED = 50


@dataclass(eq=False)
class PackedAnswers:
    """Answers of whole lines of a small week, packed one after another, each without what was cut off."""

    week: WeekColumns
    _relaxation: RelaxationBound = field(init=False)
    _subproblem: Subproblem = field(init=False)
    #: The last answer and what was packed of it.
    _last: tuple[WholeLines, Chosen] | None = None

    def __post_init__(self) -> None:
        self._relaxation = RelaxationBound(self.week, may_mark=False)
        self._subproblem = Subproblem(self.week)

    def next_one(self, reached: float, budget: Budget) -> tuple[float, Chosen | None]:
        """The bound of whole lines now, and the best choice of those that serve lines of its answer; none
        where no answer worth more than what is reached, or no choice, was found.
        """
        bound = self._relaxation.whole(reached, budget, MOST_OPEN, ANSWER_WORK)
        answer = self._relaxation.answer
        packed = self._subproblem.best(answer, budget) if answer is not None else None
        self._last = (answer, packed) if answer is not None and packed is not None else None
        return bound, packed

    def cut_off(self, budget: Budget) -> bool:
        """Cut off what of the last answer could not be packed; was there any?"""
        cuts = list(self._subproblem.cuts(*self._last, budget)) if self._last is not None else []
        for cut in cuts:
            self._relaxation.not_all(cut)
        return bool(cuts)


@dataclass(eq=False)
class Subproblem:
    """A small week, asked which of its lines can be packed on which days."""

    week: WeekColumns
    _instance: Instance = field(init=False)
    _columns: dict[str, list[ParcelColumn]] = field(default_factory=dict)
    _fills: dict[object, list[OneLotFill]] = field(default_factory=dict)
    _shared: dict[object, list[SharedFill]] = field(default_factory=dict)
    _lots: dict[LineKey, set[str]] = field(default_factory=dict)
    _asked: int = 0

    def __post_init__(self) -> None:
        self._instance = thinned(self.week.part(self.week.names))
        for column in self._instance.columns:
            for order in column.orders:
                self._columns.setdefault(order, []).append(column)
        for fill in self._instance.fills:
            self._fills.setdefault((fill.travel_mode, fill.departure), []).append(fill)
            self._lots.setdefault(fill.line, set()).add(fill.lot)
        for shared_fill in self._instance.shared_fills:
            key = shared_fill.travel_mode, shared_fill.departure
            self._shared.setdefault(key, []).append(shared_fill)
            self._lots.setdefault(shared_fill.line, set()).update(one.lot for one in shared_fill.shares)

    def best(self, answer: WholeLines, budget: Budget) -> Chosen | None:
        """The choice found that is worth most of those that serve lines of an answer, on its days."""
        program = self._program(answer.going)
        value = program.by_line(program.instance.value)
        try:
            found = program.program.solve(value, budget.left(), nodes=ANSWER_NODES)
        except NoAnswer:
            return None
        drawn, worth = program.drawn(found.values), program.instance.value
        served = math.fsum(worth[line] for line in drawn)
        return Chosen(program.columns(found.values), drawn, served, math.inf, 0.0, cheapest=False)

    def cuts(self, answer: WholeLines, packed: Chosen, budget: Budget) -> Iterator[OnDays]:
        """Few of an answer's lines that cannot all go on these days, around each that was not packed; none
        where parcels were left out, for lines may go in those.
        """
        if not self._instance.is_whole:
            return
        served = {going: days for going, days in answer.going.items() if self._is_served(going, packed)}
        for going in sorted(answer.going.keys() - served.keys())[:MOST_CUTS]:
            core = self._around(going, {**served, going: answer.going[going]}, budget)
            core = core and self._fewest(going, core, budget)
            if core is not None and len(core) <= MOST_IN_CUT:
                yield self._on_most_days(core, budget)

    def _is_served(self, going: LinesTogether, packed: Chosen) -> bool:
        return all(line in packed.drawn for line in self._lines(going))

    def _lines(self, going: LinesTogether) -> list[LineKey]:
        lines = self.week.of(going.order).lines
        return [lines[n] for n in going.lines]

    def _drawn_on(self, going: LinesTogether) -> set[str]:
        return set().union(*(self._lots.get(line, ()) for line in self._lines(going)))

    def _around(self, going: LinesTogether, every: OnDays, budget: Budget) -> OnDays | None:
        """Those of the lines that share lots with some, or with others that do, as far as it takes until
        they cannot be packed; None where that is not seen.
        """
        core, lots = {going: every[going]}, self._drawn_on(going)
        while not self._cannot_go(core, budget):
            more = {one: every[one] for one in every if one not in core and self._drawn_on(one) & lots}
            if not more:
                return None
            core = {**core, **more}
            lots = set().union(*map(self._drawn_on, core))
        return core

    def _fewest(self, going: LinesTogether, core: OnDays, budget: Budget) -> OnDays:
        """As few of the lines as still cannot be packed together."""
        lots = self._drawn_on(going)
        for one in sorted(core, key=lambda one: (len(self._drawn_on(one) & lots), one)):
            fewer = {other: days for other, days in core.items() if other != one}
            if one != going and self._cannot_go(fewer, budget):
                core = fewer
        return core

    def _on_most_days(self, core: OnDays, budget: Budget) -> OnDays:
        """The same on as many days of each order as they still cannot be packed on."""
        for one in sorted(core):
            every = frozenset(departure.day for departure in self.week.of(one.order).departures)
            for days in (every, *(frozenset({day}) for day in sorted(every - core[one]))):
                wider = {**core, one: core[one] | days}
                if days - core[one] and self._cannot_go(wider, budget):
                    core = wider
        return core

    def _cannot_go(self, core: OnDays, budget: Budget) -> bool:
        """Is it proven that these lines cannot all be packed, each on one of its days?"""
        self._asked += 1
        if budget.is_spent or self._asked > MOST_ASKED:
            return False
        program = self._program(core)
        lines = [line for going in core for line in self._lines(going)]
        count = program.by_line(dict.fromkeys(lines, 1.0))
        bound, values = program.program.bound(
            count, 0.5 - len(lines), budget.left(), CORE_NODES, work=CORE_WORK
        )
        return values is None and bound >= 0.5 - len(lines)

    def _program(self, core: OnDays) -> CompactProgram:
        """The program of these lines on these days; orders that may join theirs go or stay as they like."""
        days = {line: core[going] for going in core for line in self._lines(going)}
        orders = {going.order for going in core}
        mates = {mate for order in orders for mate in self.week.mates_of(order)} - orders
        own, others = ({self.week.names[n] for n in numbers} for numbers in (orders, mates))
        number = {day: n for n, day in enumerate(self.week.days)}

        def is_kept(column: ParcelColumn) -> bool:
            return all(order in own or order in others for order in column.orders) and all(
                number[column.departure[0]] in days.get(mode[0], ())
                for mode in column.travel_modes
                if mode[0][0] in own
            )

        columns = dict.fromkeys(
            column
            for order in sorted(own | others)
            for column in self._columns.get(order, ())
            if is_kept(column)
        )
        program = CompactProgram.of(self._part(columns))
        program.make_ready(program.groups)
        return program

    def _part(self, columns: Collection[ParcelColumn]) -> Instance:
        """The week with these parcels and what fills their lines."""
        kept = dict.fromkeys((mode, column.departure) for column in columns for mode in column.travel_modes)
        return replace(
            self._instance,
            columns=tuple(columns),
            fills=tuple(fill for key in kept for fill in self._fills.get(key, ())),
            shared_fills=tuple(fill for key in kept for fill in self._shared.get(key, ())),
        )
