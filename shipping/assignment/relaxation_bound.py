"""How much value a week can serve at most: its orders' ways in, a bound on any choice's value out.

Eggs may be shared out in fractions among any lots, services and packings; an order goes on one day, and its
lines go or stay. Every choice is one of these, so that none is worth more. What lots that belong together
hold is a knapsack for the lines that draw on no others; its cuts bring the relaxation near to whole lines.
Asked for whole lines, it also knows how many lots an order's box lets each line draw on; of a small week also
how few eggs a draw is, and the last day on which a lot is drawn from.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import NamedTuple

from shipping.assignment.allowances import allowances, eggs_drawn
from shipping.assignment.columns import (
    UNLIMITED,
    OrderColumns,
    WeekColumns,
)
from shipping.assignment.instance import MOST_JOINED
from shipping.assignment.mip import (
    SAME,
    WHOLE,
    Budget,
    Floats,
    GrowingProgram,
    Knapsack,
    Program,
    Relaxed,
    WorkLimit,
)
from shipping.words.keys import LineKey, UnionFind, grouped
from shipping.words.long_work import of_each

#: A line: its order's number and its own.
Line = tuple[int, int]
#: So many lines may be open for whole lines to be searched for; into so many nodes of that search it looks,
#: and into more where the program's variables, squared, times nodes are fewer than this.
MOST_OPEN, NODES, NODES_IN_ALL = 120, 20, 1_000_000_000
#: Every draw has a mark where there are no more than so many.
MOST_MARKED = 700
#: So many rounds of cuts the relaxation is given at most, and none where it shares out more draws than this.
ROUNDS, MANY_DRAWS = 30, 20_000
#: So much work goes to what the orders of one family of lots serve at most.
FAMILY_WORK = WorkLimit(2e6, "rins")
#: Families are dealt to two processes where the squares of their lines add up to so much.
MANY_WORK = 400
#: A lot without eggs is taken to hold so much of one, to divide by.
_NEXT_TO_NOTHING = 1e-3


def needs(order: OrderColumns) -> Iterator[tuple[int, dict[int, int]]]:
    """Of each line of an order that can go, its number and the fewest eggs that do, by lot on a day."""
    yield from ((n, need) for n, need in enumerate(order.needs()) if need)


def lot_rows(free: Sequence[int], days: Sequence[int]) -> Iterator[tuple[float, dict[int, float]]]:
    """The rows that limit one lot: the limit of each, and by lot on a day as how many an egg drawn then
    counts in it. ``days``: those on which it may be drawn from, in order.

    Notes
    -----
    What is drawn up to a day on which the lot is drawn from is no more than is free that day. With R(d) the
    most that is free on any day from d on, the draws n(d) keep sum(n(d) / R(d)) <= 1, since R of the last
    day of draws is the least of them; of a lot that only loses eggs no linear rows say more (the convex hull
    of a disjunction: Balas 1979, Ann. Discrete Math. 5, 3-51). The same holds of the days up to any one, and
    is said of those after which the lot holds more than before.
    """
    held = [max(float(free[at]), _NEXT_TO_NOTHING) for at in days]
    for count in range(1, len(days) + 1):
        peak = max(held[:count])
        if count == len(days) or held[count] > peak:
            after, counts = 0.0, {}
            for at, eggs in zip(reversed(days[:count]), reversed(held[:count]), strict=True):
                after = max(after, eggs)
                counts[at] = peak / after
            yield peak, counts


def _together(sets: Collection[frozenset[int]]) -> list[frozenset[int]]:
    """These sets, the unions of two that overlap, and of all that hang together, sorted."""
    linked = UnionFind()
    for one in sets:
        for lot in one:
            linked.link(min(one), lot)
    families: dict[object, set[int]] = {}
    for one in sets:
        families.setdefault(linked.family(min(one)), set()).update(one)
    pairs = {a | b for a, b in itertools.combinations(sets, 2) if a & b}
    return sorted({*sets, *pairs, *map(frozenset, families.values())}, key=sorted)


class LinesTogether(NamedTuple):
    """Lines of an order that go together, by number: all of it, or one where it may split."""

    order: int
    lines: tuple[int, ...]


#: Lines, and the days on which they go.
OnDays = Mapping[LinesTogether, frozenset[int]]


class WholeLines(NamedTuple):
    """Of an answer of whole lines what each order that goes is worth, and the days on which it goes, by
    number, and the same of the lines; ``has_marks``: it knows how few eggs a draw is.
    """

    worth: dict[int, float]
    days: dict[int, set[int]]
    going: OnDays
    has_marks: bool


@dataclass(eq=False)
class _Sharing:
    """The program of sharing eggs out in fractions, and which variable means what."""

    week: WeekColumns
    may_mark: bool
    program: Program = field(default_factory=Program)
    goal: dict[int, float] = field(default_factory=dict)
    goes: dict[Line, int] = field(default_factory=dict)
    drawn: dict[tuple[Line, int], int] = field(default_factory=dict)
    need: dict[Line, dict[int, int]] = field(default_factory=dict)
    #: Of each row that limits a lot: its number and, by lot on a day, as how many an egg drawn counts in it.
    of_lots: list[tuple[int, dict[int, float]]] = field(default_factory=list)
    #: Limit and counts of the last of these rows of each lot, in which all its days count.
    holds: dict[int, tuple[float, dict[int, float]]] = field(default_factory=dict)
    #: Of a draw with a mark the eggs that are drawn beyond the share it gives.
    spare: dict[tuple[Line, int], int] = field(default_factory=dict)
    #: The rows of knapsacks: by whether a line goes, and the limit.
    cuts: list[tuple[dict[int, float], float]] = field(default_factory=list)
    #: Of an order and a day whether it goes then.
    on: dict[tuple[int, int], int] = field(default_factory=dict)

    @property
    def is_small(self) -> bool:
        """Are draws few enough for marks, and for the last day of each lot?"""
        return len(self.drawn) <= MOST_MARKED

    @property
    def has_marks(self) -> bool:
        """Does every draw that may be shared get a mark?"""
        return self.may_mark and self.is_small

    def build(self) -> None:
        for number in range(len(self.week.names)):
            self._add_order(number, self.week.of(number))
        self._limit_lots()
        self._limit_days()

    def _add_order(self, number: int, order: OrderColumns) -> None:
        """A whole variable for lines that go together, and how much of each is drawn from a lot on a day."""
        together = self.program.add()
        for n, need in needs(order):
            line = (number, n)
            goes = self.goes[line] = self.program.add() if order.may_split else together
            self.goal[goes] = self.goal.get(goes, 0.0) - order.value[n]
            self.need[line] = need
            parts = {goes: -1.0}
            for at in sorted(need):
                parts[self.program.add(part=True)] = 1.0
                self.drawn[(line, at)] = len(self.program.uppers) - 1
            self.program.row(parts, 0.0, 0.0)

    def _draws(self) -> Iterator[tuple[int, dict[int, dict[int, float]]]]:
        """Of each lot, in order, and each day it may be drawn on: the eggs that each variable stands for."""
        width = len(self.week.days)
        found: dict[int, dict[int, dict[int, float]]] = {}
        for (line, at), share in self.drawn.items():
            eggs = found.setdefault(at // width, {}).setdefault(at, {})
            eggs[share] = float(self.need[line][at])
            if (spare := self.spare.get((line, at))) is not None:
                eggs[spare] = 1.0
        for lot in sorted(found):
            yield lot, dict(sorted(found[lot].items()))

    def _limit_lots(self) -> None:
        """The shares drawn of what a lot holds from each day on make up one at most; see `lot_rows`."""
        for lot, draws in self._draws():
            for limit, counts in lot_rows(self.week.free, list(draws)):
                terms = {
                    variable: eggs * count
                    for at, count in counts.items()
                    for variable, eggs in draws[at].items()
                }
                self.of_lots.append((len(self.program.row_upper), counts))
                self.holds[lot] = limit, counts
                self.program.row(terms, upper=limit)

    def _limit_last_days(self) -> None:
        """Where a lot holds less on a day than before, its eggs limit all draws up to it, if any is on it."""
        shares = set(self.drawn.values())
        for _, draws in self._draws():
            most, up_to = 0.0, dict[int, float]()
            for at, eggs in draws.items():
                up_to |= eggs
                held = float(self.week.free[at])
                if held < most:
                    is_last = self.program.add()
                    for share in sorted(shares & eggs.keys()):
                        self.program.row({share: 1.0, is_last: -1.0}, upper=0.0)
                    self.program.row(up_to | {is_last: most - held}, upper=most)
                most = max(most, held)

    def knapsacks(self) -> list[Knapsack]:
        """Of lots that belong together, the lines that can draw on no others, each with the fewest eggs that
        would do, in all no more than those lots hold.

        Lots belong together that some line may draw on, or two lines that share a lot, or any chain of such
        lines. What a line draws counts as in the last row of each lot; see `lot_rows`.
        """
        width = len(self.week.days)
        lots = {line: frozenset(at // width for at in need) for line, need in self.need.items()}
        fewest = {
            line: min(eggs * self.holds[at // width][1][at] for at, eggs in need.items())
            for line, need in self.need.items()
        }
        found = []
        for together in _together(set(lots.values())):
            weights: dict[int, float] = {}
            for line in sorted(line for line, own in lots.items() if own <= together):
                weights[self.goes[line]] = weights.get(self.goes[line], 0.0) + fewest[line]
            capacity = math.floor(math.fsum(self.holds[lot][0] for lot in together) + WHOLE)
            # parts of eggs are rounded to the side on which more fits
            whole = tuple(math.floor(weight + WHOLE) for weight in weights.values())
            if sum(whole) > capacity:
                found.append(Knapsack(tuple(weights), whole, capacity))
        return found

    def _limit_days(self) -> None:
        """An order is on one day at most; a day's parcels, orders that may join by shares, fit the day."""
        width, room = len(self.week.days), self.week.room
        by_day: dict[tuple[int, int], dict[int, dict[int, float]]] = {}
        for ((number, n), at), variable in self.drawn.items():
            by_day.setdefault((number, at % width), {}).setdefault(n, {})[variable] = 1.0
        days: dict[int, dict[int, float]] = {}
        orders: dict[int, dict[int, float]] = {}
        for (number, day), lines in sorted(by_day.items()):
            on = self.on[number, day] = self.program.add()
            days.setdefault(day, {})[on] = 1.0 / min(MOST_JOINED, self.week.mates[number])
            orders.setdefault(number, {})[on] = 1.0
            for terms in lines.values():
                self.program.row(terms | {on: -1.0}, upper=0.0)
        for terms in orders.values():
            self.program.row(terms, upper=1.0)
        for day, terms in sorted(days.items()):
            if room[day] < UNLIMITED:
                self.program.row(terms, upper=float(room[day]))

    def relaxed(
        self, growing: GrowingProgram, budget: Budget, rounds: int
    ) -> tuple[Relaxed | None, Relaxed | None]:
        """The relaxation as it is, and after so many rounds of cuts of its knapsacks, fewer where none is
        broken any more or the time is up; None where there was no time. The cuts stay in the program.
        """
        first = found = growing.relaxed(budget.left())
        knapsacks = self.knapsacks()
        for one in knapsacks:  # the solver cuts by such rows, too
            terms = dict(zip(one.variables, map(float, one.weights), strict=True))
            self.cut(terms, float(one.capacity))
        for _ in range(rounds if len(self.drawn) <= MANY_DRAWS else 0):
            cuts = [one.cut(found.values) for one in knapsacks] if found is not None else []
            for terms, limit in filter(None, cuts):
                growing.row(terms, limit)
                self.cut(terms, limit)
            nearer = growing.relaxed(budget.left()) if any(cuts) else None
            if nearer is None:
                break
            found = nearer
        return first, found

    def cut(self, terms: dict[int, float], limit: float) -> None:
        """One more row that every choice keeps."""
        self.program.row(terms, upper=limit)
        self.cuts.append((terms, limit))

    def limit_draws(self) -> None:
        """Lines draw on no more lots than some parcel of their order holds; where that is one, it is one
        whole. In a small week every draw has a mark, and days after which a lot holds less count.

        A lot that gives a line less than all of it takes as much of what may be drawn as one that gives all.
        """
        program, width = self.program, len(self.week.days)
        drawn: dict[tuple[int, int], dict[int, dict[int, int]]] = {}
        for ((number, n), at), part in self.drawn.items():
            drawn.setdefault((number, at % width), {}).setdefault(n, {})[at] = part
        known = {
            number: allowances(self.week, number) for number in sorted({number for number, _ in self.on})
        }
        for (number, day), on in self.on.items():
            draws = known[number].get(day, [])
            ways = {on: draws[0]} if len(draws) == 1 else {program.add(): one for one in draws}
            if len(draws) != 1:
                program.row(dict.fromkeys(ways, 1.0) | {on: -1.0}, 0.0, 0.0)
            for n, parts in drawn[number, day].items():
                counts = {way: -float(one[n]) for way, one in ways.items()}
                eggs, need = eggs_drawn(self.week.of(number), n, day), self.need[number, n]
                is_whole = all(one[n] <= 1 for one in draws)
                if self.has_marks and not is_whole:
                    marks = {self._mark((number, n), at, eggs[at]): 1.0 for at in parts}
                    program.row(marks | counts, upper=0.0)
                    continue
                terms = {part: max(1.0, need[at] / eggs[at][1]) for at, part in parts.items()}
                program.row(terms | counts, upper=0.0)
                for part in parts.values() if is_whole else ():
                    program.parts[part] = False
        if self.has_marks:
            self._limit_lots()
        if self.is_small:
            self._limit_last_days()

    def _mark(self, line: Line, at: int, eggs: tuple[int, int]) -> int:
        """Whether a line draws on a lot on a day, and then the fewest at least and the most at most."""
        program, part, need = self.program, self.drawn[line, at], float(self.need[line][at])
        fewest, most = eggs
        mark, self.spare[line, at] = program.add(), program.add(float(fewest), part=True)
        program.row({part: 1.0, mark: -min(1.0, most / need)}, upper=0.0)
        program.row({self.spare[line, at]: 1.0, part: need, mark: -float(fewest)}, lower=0.0)
        return mark

    def answer(self, values: Floats) -> WholeLines:
        """What goes in an answer of whole lines, and when."""
        days: dict[int, set[int]] = {}
        for (number, day), on in self.on.items():
            if values[on] > 0.5:
                days.setdefault(number, set()).add(day)
        worth, going = dict.fromkeys(sorted(days), 0.0), dict[LinesTogether, frozenset[int]]()
        lines = grouped((number, n) for (number, n), goes in self.goes.items() if values[goes] > 0.5)
        for number in worth:
            order, own = self.week.of(number), lines.get(number, [])
            worth[number] += sum(order.value[n] for n in own)
            for some in [[n] for n in own] if order.may_split else [own] if own else []:
                going[LinesTogether(number, tuple(some))] = frozenset(days[number])
        return WholeLines(worth, days, going, self.has_marks)

    def not_all(self, going: OnDays) -> None:
        """Lines do not all go, each on one of these days."""
        terms, limit = dict[int, float](), len(going) - 1.0
        for (number, lines), days in going.items():
            every = {day: on for (other, day), on in self.on.items() if other == number}
            variables = [on for day, on in sorted(every.items()) if day in days]
            if len(variables) == len(every):  # on whatever day
                variables = [self.goes[number, lines[0]]]
            elif self.week.of(number).may_split:  # the line goes, and its order on one of them: two of two
                variables, limit = [*variables, self.goes[number, lines[0]]], limit + 1.0
            for variable in variables:
                terms[variable] = terms.get(variable, 0.0) + 1.0
        self.program.row(terms, upper=limit)


class _Family(NamedTuple):
    """Orders that draw on lots of one family: their lines' worth, relaxed and served."""

    orders: Sequence[int]
    worth: dict[int, float]
    relaxed: float
    reached: float


@dataclass(eq=False)
class RelaxationBound:
    """The bound of a week, brought nearer each time it is asked for, by so many rounds of cuts at most."""

    week: WeekColumns
    rounds: int = ROUNDS
    may_mark: bool = True
    _sharing: _Sharing | None = None
    _growing: GrowingProgram | None = None
    _uncut: Relaxed | None = None
    _relaxed: Relaxed | None = None
    _knows_boxes: bool = False
    #: The value of whole lines, once an answer is proven to be the best: no search brings it nearer.
    _most_whole: float | None = None
    #: The best answer of whole lines beyond what was reached.
    answer: WholeLines | None = None

    def relaxed(self, budget: Budget) -> float:
        """No choice is worth more than this; lines may go in fractions."""
        most = self.week.everything
        if self._sharing is None and not budget.is_spent:
            self._sharing = _Sharing(self.week, self.may_mark)
            self._sharing.build()
            self._growing = GrowingProgram(self._sharing.program, self._sharing.goal)
            self._uncut, self._relaxed = self._sharing.relaxed(self._growing, budget, self.rounds)
        return most if self._relaxed is None else min(most, -self._relaxed.objective)

    @property
    def egg_prices(self) -> list[float]:
        """What one egg more of each lot on each day would add to the relaxation, by its number; none before
        it.

        Cuts speak of lines, not of eggs, and take from what eggs are worth: the prices are those before them.
        """
        prices = [0.0] * len(self.week.free)
        if self._sharing is not None and self._uncut is not None:
            for row, counts in self._sharing.of_lots:
                for at, count in counts.items():
                    prices[at] += count * max(0.0, float(self._uncut.prices[row]))
        return prices

    @property
    def day_shares(self) -> dict[tuple[int, int], float]:
        """How much of an order goes on a day in the relaxation, by their numbers, where any does."""
        if self._sharing is None or self._relaxed is None:
            return {}
        shares = {key: float(self._relaxed.values[on]) for key, on in self._sharing.on.items()}
        return {key: share for key, share in shares.items() if share > WHOLE}

    def cuts(self, budget: Budget) -> Iterator[tuple[dict[LineKey, float], float]]:
        """Rows by line (of lines that go together the first) that every choice keeps, and their limits."""
        self.relaxed(budget)
        if self._sharing is not None:
            line = {
                goes: self.week.of(at[0]).lines[at[1]] for at, goes in reversed(self._sharing.goes.items())
            }
            for terms, limit in self._sharing.cuts:
                yield {line[variable]: weight for variable, weight in terms.items()}, limit

    def by_families(
        self, families: Iterable[Sequence[int]], served: Mapping[int, float], budget: Budget
    ) -> float:
        """The same with whole lines among the orders, by number, that draw on lots of one family.

        Where the relaxation gives them more than is ``served`` of them, a row says what they serve at most.

        Notes
        -----
        Cuts that a program of a part of the week proves (Boyd 1994, Oper. Res. 42, 53-64), each weighed as
        the orders are worth.
        """
        most = self.relaxed(budget)
        if self._sharing is None or self._relaxed is None or self._growing is None:
            return most
        wide = [
            family
            for family in self._families(families, served)
            if family.relaxed > family.reached + WHOLE * max(1.0, family.reached)
        ]
        limits = of_each(
            wide, partial(self._most_of, budget=budget), lambda one: len(one.worth) ** 2, MANY_WORK
        )
        narrower = [(one, limit) for one, limit in zip(wide, limits, strict=True) if limit < one.relaxed]
        for family, limit in narrower:
            self._growing.row(family.worth, limit)
            self._sharing.cut(family.worth, limit)
        nearer = self._growing.relaxed(budget.left()) if narrower else None
        self._relaxed = nearer or self._relaxed
        return self.relaxed(budget)

    def _families(self, families: Iterable[Sequence[int]], served: Mapping[int, float]) -> Iterator[_Family]:
        if self._sharing is None or self._relaxed is None:
            return
        for orders in families:
            own = set(orders)
            worth = {
                goes: -self._sharing.goal[goes] for (n, _), goes in self._sharing.goes.items() if n in own
            }
            relaxed = math.fsum(each * self._relaxed.values[goes] for goes, each in worth.items())
            reached = math.fsum(served.get(number, 0.0) for number in orders)
            yield _Family(orders, worth, relaxed, reached)

    def _most_of(self, family: _Family, budget: Budget) -> float:
        """What the orders of a family serve at most, its lines whole; no limit where no time is left."""
        if budget.is_spent:
            return math.inf
        own, steady = RelaxationBound(self.week.only(family.orders)), Budget(budget.left(), steady=True)
        limit = own.whole(family.reached, steady, len(family.worth), FAMILY_WORK)
        return limit + WHOLE * max(1.0, limit)

    def not_all(self, going: OnDays) -> None:
        """From now on lines do not all go, each on one of these days, since no choice does that."""
        if self._sharing is not None:
            self._sharing.not_all(going)
            self._most_whole = None

    @property
    def is_ended(self) -> bool:
        """Is an answer of whole lines proven to be the best?"""
        return self._most_whole is not None

    def whole(
        self, reached: float, budget: Budget, most_open: int = MOST_OPEN, work: WorkLimit | None = None
    ) -> float:
        """The same with lines that go or stay and boxes that hold draws on so many lots, where few enough
        lines are open between what is reached and what may be.

        ``reached``: what some choice is worth. With a limit of time many may be open, and work
        is not limited.
        """
        most = self.relaxed(budget)
        if self._sharing is None or self._relaxed is None:
            return most
        if self._most_whole is not None:
            return min(most, self._most_whole)
        spare = most - reached + SAME * max(1.0, most)
        if spare <= 2 * SAME * max(1.0, most):
            return most
        reduced = self._relaxed.reduced[sorted(set(self._sharing.goes.values()))]
        if (abs(reduced) <= spare).sum() > most_open and not budget.measures:
            return most
        program = self._sharing.program
        if not self._knows_boxes:
            self._sharing.limit_draws()
            self._knows_boxes = True
        nodes, goal = max(NODES, NODES_IN_ALL // len(program.uppers) ** 2), self._sharing.goal
        bound, values = program.bound(
            goal, -reached, budget.left(), nodes, work=None if budget.measures else work
        )
        self.answer = None if values is None else self._sharing.answer(values)
        if values is not None:
            served = -math.fsum(worth * values[variable] for variable, worth in goal.items())
            if served >= -bound - SAME * max(1.0, -bound):
                self._most_whole = -bound
        return min(most, -bound)
