"""The search for a good week: orders placed so far in, a better placing out, by taking a few out and putting
them in again.

A large neighbourhood search (Shaw 1998, CP-98, 417-431) with annealing as acceptance (Kirkpatrick et al.
1983, Science 220, 671-680). What it finds depends on the orders, the steps and the seed alone, never on the
clock, unless time ends it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from random import Random
from typing import NamedTuple

from shipping.assignment.columns import LineColumns
from shipping.assignment.insertion import (
    SHARES_SLACK,
    any_placement,
    cheapest_placement,
    places_by_profit,
    places_enough,
)
from shipping.assignment.lagrangian_bound import SavingPrices
from shipping.assignment.mip import SAME
from shipping.assignment.solution import Placement, RandomSet, Solution, some_of

#: A search draws its lots from this number on.
SEED = 1
#: At most so many orders are taken out in a step that serves more, and in one that makes cheaper.
TAKEN_TO_SERVE, TAKEN_TO_SAVE = 5, 3
#: So often others give way to an order that waits, at most so many.
FORCED, MOST_FORCED = 0.5, 10
#: So often others give way, in turn, to the one that gave way.
CHAINED = 0.3
#: Of a full day at most so many orders are among those taken out.
OF_A_DAY = 4
#: Heat at the start and the end, as a share of what an order is worth on average, and of what it costs.
SERVING_HEAT, COLD, SAVING_HEAT = (0.1, 0.003), (0.004, 0.002), (0.05, 0.001)
#: The same to serve more where much is left to find.
SHORT_HEAT = (0.2, 0.004)
#: So often an order is put in where no place of the day asks for less; else at any place.
ENOUGH = 0.9
#: So often an order is put in where it is cheapest at the prices, else just where it is; of so many orders
#: the one is taken out that costs most more than it might.
PRICED, COMPARED = 0.7, 2
#: A day of which the relaxation gives an order at least so much is looked at first.
LIKELY = 0.2
#: An order that waits is tried instead of at most so many younger ones worth the same.
MOST_RIVALS = 50
#: After so many steps the caller is asked whether to go on.
STEPS_A_LOOK = 64
#: Is asked now and then whether to go on.
GoOn = Callable[[], bool]
#: Heat at the start and at the end.
Heat = tuple[float, float]


class Guide(NamedTuple):
    """What a relaxation tells a search: prices of eggs by lot on a day, by its number, how much of an order
    goes on a day, by both numbers, and what share of its eggs' prices counts against an order that takes
    them.
    """

    prices: Sequence[float] = ()
    days: Mapping[tuple[int, int], float] = {}
    eggs_count: float = 0.0


@dataclass(eq=False)
class Search:
    """A search among the orders of a week."""

    solution: Solution
    chance: Random
    #: How orders stood when the best was found, where that has changed since.
    _best: dict[int, Placement | None] = field(default_factory=dict)
    #: What a relaxation tells, and what follows of each order's places.
    _guide: Guide = field(default_factory=Guide)
    _ranked: dict[int, tuple[tuple[int, ...], tuple[int, ...]]] = field(default_factory=dict)
    #: Orders that stay where they are.
    _held: frozenset[int] = frozenset()
    #: What eggs and room are worth to orders that would spend less.
    _prices: SavingPrices | None = None

    def __post_init__(self) -> None:
        week = self.solution.week
        self.worth = [week.of(number).worth for number in range(len(week.names))]
        self._waiting = RandomSet()
        for number in range(len(week.names)):
            self._note(number)

    @property
    def waiting(self) -> int:
        """How many orders are not, or not all, placed."""
        return len(self._waiting)

    def waiting_by_worth(self) -> list[int]:
        """Orders that are not, or not all, placed and could go, the most valuable first."""
        return sorted((n for n in self._waiting if self.worth[n] > 0), key=lambda n: (-self.worth[n], n))

    def _note(self, number: int) -> None:
        """Keep up to date which orders wait that could go."""
        one = self.solution.by_order.get(number)
        if (one.value if one else 0.0) < self.worth[number] - SAME:
            self._waiting.add(number)
        else:
            self._waiting.discard(number)

    def put(self, one: Placement) -> None:
        """Place an order, which must fit."""
        self.solution.put(one)
        self._note(one.order)

    # -- the two searches -------------------------------------------------------------------

    def fill(self) -> None:
        """Put in what fits as it is, the most valuable orders first."""
        for number in sorted(range(len(self.worth)), key=lambda n: (-self.worth[n], n)):
            if (number not in self.solution.by_order and self.worth[number] > 0) and (
                one := any_placement(self.solution, number, self.chance, self._places(number))
            ):
                self.solution.put(one)
                self._note(number)

    def start_again(self) -> None:
        """Take everything out and fill the week anew: another start where one sticks."""
        for number in sorted(self.solution.by_order):
            self.solution.take(number)
            self._note(number)
        self.fill()

    def back_to(self, placements: Mapping[int, Placement]) -> None:
        """Place every order as it was placed then."""
        placed = self.solution.by_order
        other = [n for n in sorted(placed.keys() | placements) if placed.get(n) != placements.get(n)]
        for number in other:
            if number in placed:
                self.solution.take(number)
        for number in other:
            if number in placements:
                self.solution.put(placements[number])
            self._note(number)

    def among(self, orders: Iterable[int], chance: Random) -> Search:
        """A search of the same week among some orders only, from where all stand; the others stay there."""
        search = Search(Solution(self.solution.week), chance)
        search.back_to(self.solution.by_order)
        search._guide, search._ranked, search._prices = self._guide, self._ranked, self._prices
        search._held = frozenset(search.solution.hold(orders))
        for number in search._held:
            search._waiting.discard(number)
        return search

    def aim(self, worth: Mapping[int, float]) -> None:
        """From now on serve so much of each order, by number, and of others nothing."""
        self.worth = [worth.get(number, 0.0) for number in range(len(self.worth))]
        for number, each in enumerate(self.worth):
            if each <= 0 and number in self.solution.by_order:
                self.solution.take(number)
            self._note(number)

    def serve(self, steps: int, heat: Heat, go_on: GoOn) -> None:
        """Serve more value, whatever it costs: around a waiting order a few are taken out and put in anew."""
        solution = self.solution
        solution.count_cost(False)
        best, self._best = (solution.value, solution.age), {}
        mean = math.fsum(self.worth) / max(1, len(self.worth))
        for step in range(steps):
            if not len(self._waiting) or (step % STEPS_A_LOOK == 0 and not go_on()):
                break
            solution.begin()
            order = self._waiting.one(self.chance)
            is_forced = self.chance.random() < FORCED
            near = self._in_the_way(order) if is_forced else self._around(order, TAKEN_TO_SERVE)
            out = [solution.take(n) for n in near]
            put = self._put_again(list(dict.fromkeys((*(one.order for one in out), order))), order, is_forced)
            if is_forced and self.chance.random() < CHAINED:
                self._chain(order, out, put)
            warm = mean * heat[0] * (heat[1] / heat[0]) ** (step / steps)
            gain = self._merit(put) - self._merit(out)
            if gain < warm * math.log(1.0 - self.chance.random()) - SAME:
                solution.undo(put, out)
            else:
                self._keep(out, put)
                is_older = solution.value > best[0] - SAME and solution.age > best[1] + SAME
                if is_older or solution.value > best[0] + SAME:
                    best, self._best = (solution.value, solution.age), {}
        self._back_to_best()
        solution.count_cost()

    def _chain(self, first: int, out: list[Placement], put: list[Placement]) -> None:
        """Where one order alone finds no other place after it gave way, others give way to it in turn, but
        not the first; ``out`` and ``put`` become those of both.
        """
        solution = self.solution
        missing = [one.order for one in out if one.order not in solution.by_order]
        if first not in solution.by_order or len(missing) != 1:
            return
        again = []
        for number in self._in_the_way(missing[0]):
            if number != first:
                one = solution.take(number)
                again.append(number)
                if one in put:
                    put.remove(one)
                else:
                    out.append(one)
        put += self._put_again([missing[0], *again], missing[0], True)

    def _merit(self, placed: list[Placement]) -> float:
        """What orders are worth, less a part of what their eggs are worth to others if prices are known."""
        worth, eggs_worth, prices = 0.0, 0.0, self._guide.prices
        for one in placed:
            worth += one.value
            if prices:
                for at, eggs in one.draws:
                    eggs_worth += prices[at] * eggs
        return worth - self._guide.eggs_count * eggs_worth

    def older_first(self) -> None:
        """A waiting order takes room and eggs of a younger one that goes and is worth as much, if they do."""
        solution, week = self.solution, self.solution.week
        alike: dict[int, list[int]] = {}
        for number in sorted(solution.by_order, key=lambda n: (solution.by_order[n].age, n)):
            alike.setdefault(round(solution.by_order[number].value / SAME), []).append(number)
        for number in sorted(self._waiting, key=lambda n: (-math.fsum(week.of(n).age), n)):
            if number not in solution.by_order and self.worth[number] > 0:
                rivals = alike.get(round(self.worth[number] / SAME), [])
                self._take_over(number, [n for n in rivals if n in solution.by_order][:MOST_RIVALS])

    def _take_over(self, number: int, rivals: list[int]) -> None:
        """Put an order in instead of the first of younger ones whose room and eggs do."""
        solution = self.solution
        for rival in rivals:
            if solution.by_order[rival].age >= math.fsum(solution.week.of(number).age) - SAME:
                return
            out = solution.take(rival)
            one = cheapest_placement(solution, number)
            if one is not None and one.value >= out.value - SAME:
                solution.put(one)
                self._note(number)
                self._note(rival)
                return
            solution.put(out)

    def save(self, steps: int, heat: Heat, go_on: GoOn) -> None:
        """Spend less on what is served: a few orders are taken out and put in where they are cheapest."""
        solution = self.solution
        served = sorted(solution.by_order.keys() - self._held)
        if not served:
            return
        best, self._best = solution.cost, {}
        mean = solution.cost / max(1, len(solution.by_order))
        for step in range(steps):
            if step % STEPS_A_LOOK == 0 and not go_on():
                break
            order = self._spender(served)
            solution.begin()
            value, age, cost = solution.value, solution.age, solution.cost
            out = [solution.take(n) for n in self._around(order, TAKEN_TO_SAVE)]
            put = self._put_again_cheaply([one.order for one in out])
            warm = mean * heat[0] * (heat[1] / heat[0]) ** (step / steps)
            is_served = solution.value >= value - SAME and solution.age >= age - SAME
            if not is_served or solution.cost > cost - warm * math.log(1.0 - self.chance.random()) + SAME:
                solution.undo(put, out)
            else:
                self._keep(out, put)
                if solution.cost < best - SAME:
                    best, self._best = solution.cost, {}
        self._back_to_best()

    def be_guided(self, guide: Guide) -> None:
        """From now on look first where an order is worth most beyond its eggs, at the guide's prices, on days
        of which it gives the order some.

        Notes
        -----
        What a relaxation and good choices have in common guides a search (Danna, Rothberg and Le Pape 2005,
        Math. Program. 102, 71-90).
        """
        self._guide, self._ranked = guide, {}

    def spend_at(self, prices: SavingPrices) -> None:
        """From now on spend less with an eye on what eggs and room are worth to other orders."""
        self._prices = prices

    def _spender(self, served: Sequence[int]) -> int:
        """One of these orders, by lot; at prices the one of a few that costs most more than it might."""
        if self._prices is None:
            return served[int(self.chance.random() * len(served))]
        few = [served[int(self.chance.random() * len(served))] for _ in range(COMPARED)]
        return max(few, key=partial(self._prices.excess, self.solution))

    # -- one step -----------------------------------------------------------------------------

    def _around(self, order: int, most: int) -> list[int]:
        """An order, if placed, with some that draw on lots it wants, or go on a full day open to it."""
        random, solution = self.chance.random, self.solution
        columns = solution.week.of(order)
        if not columns.departures:
            return []
        near: set[int] = set(solution.drawing[columns.lots[int(random() * len(columns.lots))]])
        if random() < 0.7:
            for lot in columns.lots:
                near |= solution.drawing[lot]
        day = columns.departures[int(random() * len(columns.departures))].day
        if solution.room[day] <= 0:
            near.update(solution.on_day[day].some(self.chance, OF_A_DAY))
        near.discard(order)
        some = some_of(sorted(near), 1 + int(random() * most), self.chance)
        return [order, *some] if order in solution.by_order else some

    def _in_the_way(self, order: int) -> list[int]:
        """Orders that give way to one that waits, at a departure drawn by lot, with the order itself if
        placed.

        Of a lot drawn by lot for each line that nothing left fills, or of the lots that would share it, as
        many drawers as leave its eggs (an ejection chain: Glover 1996, Discrete Appl. Math. 65, 223-253).
        """
        random, solution = self.chance.random, self.solution
        departures = solution.week.of(order).departures
        if not departures:
            return []
        departure = departures[int(random() * len(departures))]
        out = {order: None} if order in solution.by_order else {}
        for line in departure.lines:
            for at, eggs in self._wanted(line) if line is not None else ():
                lot, missing = at // solution.width, eggs - max(0, solution.left[at])
                drawers = sorted(solution.drawing[lot] - out.keys()) if missing > 0 else []
                while missing > 0 and drawers and len(out) < MOST_FORCED:
                    n = int(random() * len(drawers))
                    drawers[n], drawers[-1] = drawers[-1], drawers[n]
                    out[drawers[-1]] = None
                    missing -= solution.drawn_by(drawers.pop(), lot)
        if solution.room[departure.day] <= 0:
            out |= dict.fromkeys(solution.on_day[departure.day].some(self.chance, 1))
        return list(out)

    def _wanted(self, line: LineColumns) -> Iterator[tuple[int, int]]:
        """Lots on a day and eggs to fill a line, drawn by lot; nothing where something left fills it."""
        one_lot = line.one_lot
        if one_lot.at:
            if not one_lot.is_left(self.solution.left):
                n = int(self.chance.random() * len(one_lot.at))
                yield one_lot.at[n], one_lot.eggs[n]
        elif line.shared_fills:
            shared = line.shared_fills[int(self.chance.random() * len(line.shared_fills))]
            need = 1.0
            for at, alone, most, _ in some_of(shared.parts, shared.lots_most, self.chance):
                eggs = min(most, max(shared.least_draw, math.ceil(need * alone - SHARES_SLACK)))
                yield at, eggs
                need -= eggs / alone
                if need <= SHARES_SLACK:
                    return

    def _places(self, number: int) -> Sequence[int] | None:
        """Where prices guide, an order's places, the most profitable first."""
        if not self._guide.prices:
            return None
        found = self._ranked.get(number)
        if found is None:
            order = self.solution.week.of(number)
            is_unlikely = [self._guide.days.get((number, one.day), 0.0) < LIKELY for one in order.departures]
            by_profit, enough = places_by_profit(order, self._guide.prices), places_enough(order)
            every = tuple(sorted(by_profit, key=is_unlikely.__getitem__))
            found = self._ranked[number] = every, tuple(at for at in every if at in enough)
        return found[self.chance.random() < ENOUGH]

    def _put_again(self, orders: list[int], first: int, is_forced: bool = False) -> list[Placement]:
        """Orders put in again, by lot or more or less by worth, the one given way to first; which went in."""
        random, worth = self.chance.random, self.worth
        how = 1.0 if is_forced else random()
        if how < 0.4:
            orders = sorted(orders, key=lambda n: -worth[n] * (0.7 + 0.6 * random()))
        elif how < 0.7:
            self.chance.shuffle(orders)
        else:
            rest = sorted((n for n in orders if n != first), key=lambda n: -worth[n] * (0.7 + 0.6 * random()))
            orders = [first, *rest]
        put = []
        for number in orders:
            if (one := any_placement(self.solution, number, self.chance, self._places(number))) is not None:
                self.solution.put(one)
                put.append(one)
        return put

    def _put_again_cheaply(self, orders: list[int]) -> list[Placement]:
        """Orders put in again, as it falls, each where it is cheapest; ends with one that does not fit."""
        self.chance.shuffle(orders)
        put = []
        for number in orders:
            prices = self._prices if self._prices is not None and self.chance.random() < PRICED else None
            one = cheapest_placement(self.solution, number, self.chance, prices)
            if one is None:
                break
            self.solution.put(one)
            put.append(one)
        return put

    def _keep(self, out: list[Placement], put: list[Placement]) -> None:
        """Note what a step changed."""
        for one in out:
            self._best.setdefault(one.order, one)
            self._note(one.order)
        for one in put:
            self._best.setdefault(one.order, None)
            self._note(one.order)

    def _back_to_best(self) -> None:
        """Put every order back where it was when the best was found."""
        for number in self._best:
            if number in self.solution.by_order:
                self.solution.take(number)
        for one in self._best.values():
            if one is not None:
                self.solution.put(one)
        for number in self._best:
            self._note(number)
        self._best = {}
