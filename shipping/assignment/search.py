"""A good choice of any week, and a bound on all: a week's ways in, a choice near the best out, found by
search.

First who is served is searched for, until the bound is reached or so many steps are done, then what it costs.
Without a limit of time the steps alone end it, so that the choice is the same everywhere.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import partial
from random import Random

from shipping.assignment.benders import PackedAnswers
from shipping.assignment.columns import WeekColumns
from shipping.assignment.decomposition import Decomposition, Placements, Serve, groups_of_waiting, pack_again
from shipping.assignment.exact import best_on_days
from shipping.assignment.instance import Chosen
from shipping.assignment.lagrangian_bound import LagrangianBound, SavingPrices
from shipping.assignment.mip import SAME, Budget, WorkLimit
from shipping.assignment.neighbourhood import (
    COLD,
    SAVING_HEAT,
    SEED,
    SERVING_HEAT,
    SHORT_HEAT,
    STEPS_A_LOOK,
    GoOn,
    Guide,
    Heat,
    Search,
)
from shipping.assignment.relaxation_bound import MOST_OPEN, RelaxationBound, WholeLines
from shipping.assignment.solution import Placement, Solution, placements_of
from shipping.words.long_work import SecondProcess

#: Is told of the value reached and the bound on it.
Tell = Callable[[float, float], None]
#: A search that serves more, or spends less.
Kind = Callable[[Search, int, Heat, GoOn], None]
#: Steps for each order that waits at first, and for each order to serve more.
FIRST_STEPS, SERVING_STEPS = 20, 450
#: Steps for each order to spend less: of few orders, of more, and of a large week.
FEW_SAVING_STEPS, SAVING_STEPS, LARGE_SAVING_STEPS = 36, 18, 14
#: The same where much is left to serve, fewer in weeks of more than so many orders.
SHORT_SAVING_STEPS, SHORT_SAVING_FOR = 72, 150
#: Fewer to serve more in a large week, whose first ones go by its bound's prices and find most of it.
LARGE_STEPS = 120
#: One of at most so many orders is searched in two parts: steps for each order in each, and turns.
MOST_PARTED, PARTED_STEPS, PART_TURNS = 30_000, 240, 6
#: Steps for each order to serve just what an answer of whole lines does, and as many among all after it: for
#: each aim.
AIMED_STEPS = (30, 60)
#: A week of so few orders is made cheaper without prices, which would take longer to find; and a large one of
#: which much is left, which would hold too much memory with them.
UNPRICED = 60
#: A small week is given so many steps to spend less; one of very few orders, so many for each of them.
FEWEST_SAVING_STEPS, STEPS_OF_FEW = 1000, 50
#: Weeks of so few orders are searched from so many starts, with so many steps for each order.
FEW_ORDERS, STARTS, STARTED_STEPS = 120, 4, 80
#: Of few lines that are not proven then, so many steps more for each order from the best, and from a new
#: start.
MORE_STEPS = 240
#: With a gap below this the long search is made in so many short turns: little is left to find, and each may
#: find it.
NEAR, SHORT_TURNS = 0.01, 3
#: With a gap above this the long search begins hotter.
FAR = 0.025
#: With a gap below this a week of many orders is not searched for longer.
CLOSE = 0.001
#: With a gap below this so many steps are made for each order that waits, and families packed anew.
NEARLY, NEAR_STEPS = 0.04, 500
#: Steps for each order of a group placed anew.
BRIEF_STEPS = 200
#: Lines of a family of lots packed anew where little is left to serve, and of a week of few orders.
MOST_PACKED, MOST_SMALL = 40, 60
#: Where much is left and a limit of time allows it, lines of a family, and how often all are packed anew.
FAMILY_LINES, PACKED_TURNS = 90, 4
#: Weeks of so many orders have as many steps for each; of larger ones, the more orders the fewer for each.
FULL_STEPS_FOR, FULL_SEARCH_FOR = 1000, 120
#: The bound of weeks of more lines than this is found by prices; of few lines, with whole lines before the
#: long search.
MOST_SHARED, FEW = 2000, 100
#: Of what eggs are worth at a relaxation's prices so much counts against the order that takes them: of few
#: orders, of more, and at the prices of a large week's bound.
FEW_COUNT, MANY_COUNT, BY_PRICES_COUNT = 0.4, 0.7, 0.8
#: Without a limit of time whole lines are looked for where no more than so many are open.
MOST_WHOLE = 250
#: Of few lines so many answers are packed, those after the first once there were all starts.
PACKED_ANSWERS = 3
#: So much goes to whole lines after the first start, and so much, in a second process, after the last, where
#: the gap is below this.
FIRST_WORK, LAST_WORK, CLOSABLE = WorkLimit(3.5e6, "rens"), WorkLimit(1.2e7, "rins"), 0.03
#: Of a limit of time so much may go to what is searched without a limit too, and to serving more beyond that.
SEARCHING_SHARE, SERVING_SHARE = 0.9, 0.6
#: Of what is left so much may go to what an answer of whole lines serves, and to the best choice on its days.
AIMING_SHARE, ANSWER_SHARE = 0.8, 0.5


def good_choice(week: WeekColumns, budget: Budget, gap: float, tell: Tell) -> Chosen:
    """A choice near the best; its bound holds for all."""
    run = _Run(week, budget, gap, tell)
    run.serve()
    run.search_on()
    run.take_answer()
    run.pack_small()
    run.search.older_first()
    run.save()
    run.end_bound()
    found = run.solution.chosen(run.bound)
    return (
        replace(found, bound=found.value)
        if found.bound - found.value <= SAME * max(1.0, found.bound)
        else found
    )


def _whole(
    bound: RelaxationBound, reached: float, budget: Budget, most_open: int, work: WorkLimit | None = None
) -> tuple[float, WholeLines | None]:
    """The bound of whole lines, and its answer."""
    return bound.whole(reached, budget, most_open, work), bound.answer


def _briefly(turn: int, bound: RelaxationBound, budget: Budget) -> Placements:
    """How to place the orders of a small week, from one start."""
    run = _Run(bound.week, budget, 0.0, tell_nobody, turn, is_part=True, is_brief=True, _sharing=bound)
    run.serve()
    return run.solution.by_order


def _thoroughly(bound: RelaxationBound, budget: Budget) -> Placements:
    """The same, with the answer of whole lines to aim at."""
    run = _Run(bound.week, budget, 0.0, tell_nobody, is_part=True, _sharing=bound)
    run.serve()
    run.take_answer()
    return run.solution.by_order


def tell_nobody(value: float, bound: float) -> None:
    """What is reached is of no use to anybody yet."""


def _some_steps(search: Search, steps: int, kind: Kind, heat: Heat, go_on: GoOn) -> None:
    kind(search, steps, heat, go_on)


def _value_and_age(placements: dict[int, Placement]) -> tuple[float, float]:
    """What is served, and for how long it waited."""
    found = [placements[number] for number in sorted(placements)]
    return math.fsum(one.value for one in found), math.fsum(one.age for one in found)


@dataclass(eq=False)
class _Run:
    week: WeekColumns
    budget: Budget
    gap: float
    tell: Tell
    #: Draws of chance that are passed over first, so that each turn finds something else.
    passed_over: int = 0
    #: Is it a part of a week placed anew, and then, is it searched from one start, and nothing else done?
    is_part: bool = False
    is_brief: bool = False
    _sharing: RelaxationBound | None = None
    _second: SecondProcess[tuple[float, WholeLines | None]] | None = None
    #: What the relaxation tells.
    _guide: Guide = field(default_factory=Guide)
    #: What was found from each start.
    _found: list[dict[int, Placement]] = field(default_factory=list)
    #: The best answer of whole lines.
    _answer: WholeLines | None = None
    _used: WholeLines | None = None
    #: The best answer that was packed.
    _packed: dict[int, Placement] = field(default_factory=dict)
    _packing: PackedAnswers | None = None
    #: Are its lines few enough for whole lines to be looked for before the long search?
    _has_few: bool = False

    def __post_init__(self) -> None:
        self.solution = Solution(self.week)
        self.bound = self.week.everything
        chance = Random(SEED)
        for _ in range(self.passed_over):
            chance.random()
        self.search = Search(self.solution, chance)
        self._lines = sum(len(self.week.of(number).lines) for number in range(len(self.week.names)))

    @property
    def _is_large(self) -> bool:
        """Is its bound found by prices?"""
        return self._lines > MOST_SHARED

    @property
    def _is_parted(self) -> bool:
        """Is it searched in two parts? Of more orders two processes would hold too much memory."""
        return self._is_large and len(self.week.names) <= MOST_PARTED

    @property
    def is_reached(self) -> bool:
        """Is the value as near the bound as was asked?"""
        return self.solution.value >= self._enough

    @property
    def _enough(self) -> float:
        """So much value is as near the bound as was asked."""
        return self.bound * (1.0 - self.gap) - SAME * max(1.0, self.bound)

    @property
    def _is_close(self) -> bool:
        """Is it a week of many orders of which hardly anything is left to serve?"""
        return len(self.week.names) > FEW_ORDERS and self.solution.value > (1.0 - CLOSE) * self.bound

    @property
    def _heat(self) -> Heat:
        return SERVING_HEAT if self.solution.value > (1.0 - FAR) * self.bound else SHORT_HEAT

    def serve(self) -> None:
        """Serve as much value as can be found."""
        extra = self.budget.part(SERVING_SHARE)
        budget = self.budget.part(SEARCHING_SHARE)
        self.search.fill()
        if self._is_large:
            self._begin_bound(extra)
        go_on = self._looks(budget, lambda: not self.is_reached)
        began, steps = time.monotonic(), FIRST_STEPS * self.search.waiting
        self.search.serve(steps, COLD, go_on)
        if self.is_reached:
            return
        a_second = steps / max(time.monotonic() - began, 0.01)
        if not self._is_large:
            self._begin_bound(extra)
        elif not budget.measures and self._second is not None:  # what is close is not searched for longer
            self._know(*self._second.result())
        if self.is_reached:
            return
        if self._is_near:
            self.search.serve(NEAR_STEPS * self.search.waiting, SERVING_HEAT, go_on)
            parts = Decomposition.of(self.week)
            self._bound_families(parts, budget)
            groups = groups_of_waiting(self.search, parts, MOST_PACKED)
            self._pack(groups, partial(_briefly, 0), budget)
            if self.is_reached or self._is_close:
                return
        large = PARTED_STEPS if self._is_parted else LARGE_STEPS
        many = large if self._is_large else SERVING_STEPS
        each = many if len(self.week.names) > FEW_ORDERS else STARTS * STARTED_STEPS
        began, steps = time.monotonic(), self._steps(each, FULL_SEARCH_FOR)
        if budget.measures and (left := budget.left()) is not None and steps > left * a_second:
            steps = max(STEPS_A_LOOK, int(0.5 * left * a_second))
        self._long_search(steps, go_on, budget)
        self._pack_on(budget)
        took = time.monotonic() - began
        if extra.measures:
            self._begin_whole(extra)
        go_on = self._looks(extra, lambda: not self.is_reached and self._answer is None)
        while (
            not (self.is_reached or self._is_close)
            and extra.measures
            and (left := extra.left()) is not None
            and left > 0.1 * took
        ):
            self._use_answer()
            began, steps = time.monotonic(), max(1000, int(steps * min(4.0, 0.9 * left / max(took, 0.01))))
            if self._is_parted:
                self._in_parts(Search.serve, steps, COLD, extra)
            else:
                self.search.serve(steps, SERVING_HEAT, go_on)
            took = time.monotonic() - began

    @property
    def _is_near(self) -> bool:
        """Is little left to serve of a week of many orders that a relaxation bounds?"""
        is_many = len(self.week.names) > FEW_ORDERS and self._sharing is not None and not self.is_part
        return is_many and self.solution.value > (1.0 - NEARLY) * self.bound

    def _bound_families(self, parts: Decomposition, budget: Budget) -> None:
        """Bound what waits by the families of lots that it wants."""
        if self._sharing is not None and not self.is_reached:
            waiting = self.search.waiting_by_worth()
            families = sorted({family for number in waiting for family in parts.families[number]}, key=str)
            orders = [parts.orders_of(frozenset({family})) for family in families]
            served = {number: one.value for number, one in self.solution.by_order.items()}
            self._lower(self._sharing.by_families(orders, served, budget))

    def _pack(self, groups: Iterable[tuple[int, ...]], serve: Serve, budget: Budget) -> None:
        """Place groups of orders anew, while little enough is served."""
        go_on = self._looks(budget, lambda: not (self.is_reached or self._is_close))
        pack_again(self.search, groups, serve, budget, go_on)

    def _pack_on(self, budget: Budget) -> None:
        """Pack families of many orders anew; of a week far from its bound again, up to a limit of time."""
        if len(self.week.names) <= FEW_ORDERS or self._sharing is None or self.is_part:
            return
        families = partial(groups_of_waiting, self.search, Decomposition.of(self.week))
        if self.solution.value > (1.0 - NEAR) * self.bound:
            self._pack(families(MOST_PACKED), _thoroughly, budget)
            return
        for turn in range(PACKED_TURNS if budget.measures else 0):
            self._pack(families(FAMILY_LINES), partial(_briefly, turn), budget)

    def _long_search(self, steps: int, go_on: GoOn, budget: Budget) -> None:
        """As many steps as such a week gets without a limit: of a small one from several starts."""
        if self._is_parted:
            self._in_parts(Search.serve, steps, COLD, budget)
            return
        if self.is_brief:
            self.search.serve(self._steps(BRIEF_STEPS), SHORT_HEAT, go_on)
            return
        if len(self.week.names) > FEW_ORDERS:
            turns = SHORT_TURNS if self.solution.value > (1.0 - NEAR) * self.bound else 1
            other = self._second_search(steps, budget) if turns == 1 and self._second is None else None
            for _ in range(turns):
                before = dict(self.solution.by_order)
                if self._is_close:
                    break
                self.search.serve(steps // turns, self._heat, go_on)
                if self.solution.by_order == before:
                    break
            if other is not None:
                self._take_unless_reached(other, budget)
            return
        for start in range(1 if self.is_part else STARTS):
            if start:
                self.search.start_again()
            self.search.serve(steps // STARTS, SHORT_HEAT, go_on)
            if not start and self._has_few:
                self._look_for_whole(budget)
            self._found.append(dict(self.solution.by_order))
            if self.is_reached or not go_on():
                break
        for placements in self._found:
            self._take_if_better(placements)
        if not self.is_part:
            self._look_further(budget)

    def _in_parts(self, kind: Kind, steps: int, heat: Heat, budget: Budget) -> None:
        """So many steps in each of two processes, turn by turn, in parts dealt anew."""
        parts, cooling = Decomposition.of(self.week), (heat[1] / heat[0]) ** (1.0 / PART_TURNS)
        chance = Random(SEED)
        for turn in range(PART_TURNS):
            if budget.is_spent or (kind is Search.serve and (self.is_reached or self._is_close)):
                break
            own = heat[0] * cooling**turn, heat[0] * cooling ** (turn + 1)
            work = partial(_some_steps, kind=kind, heat=own, go_on=lambda: not budget.is_spent)
            before = dict(self.solution.by_order)
            parts.search(self.search, steps // PART_TURNS, chance, work)
            self.tell(self.solution.value, self.bound)
            if self.solution.by_order == before:
                break

    def _look_for_whole(self, budget: Budget) -> None:
        """Of few lines, bring the bound down by whole lines, and use their answer."""
        if not self.is_part:
            self._packing = PackedAnswers(self.week)
            self._pack_answer(self._packing, budget.part(0.5))
        if self._sharing is not None and not self.is_reached:
            reached = self.solution.value
            self._know(*_whole(self._sharing, reached, budget.part(0.3), MOST_OPEN, FIRST_WORK))
            self._use_answer()

    def _pack_answer(self, packing: PackedAnswers, budget: Budget) -> None:
        """Pack the next answer of whole lines on its days."""
        if self.is_reached:
            return
        reached = max(self.solution.value, _value_and_age(self._packed)[0])
        bound, packed = packing.next_one(reached, budget)
        self._lower(bound)
        if packed is not None:
            self._packed = max(self._packed, placements_of(self.week, packed), key=_value_and_age)
            if _value_and_age(self._packed)[0] >= self._enough:
                self._take_if_better(self._packed)

    def _look_further(self, budget: Budget) -> None:
        """Of few lines, pack more answers, and look for whole lines again, from what is reached, where it may
        be the most.
        """
        cutting, packing = budget.part(0.5), self._packing
        for _ in range(PACKED_ANSWERS - 1):
            if self.is_reached or packing is None or not packing.cut_off(cutting):
                break
            self._pack_answer(packing, cutting)
        is_open = self._sharing is not None and not self._sharing.is_ended
        if self._has_few and is_open and self.solution.value > (1.0 - CLOSABLE) * self.bound:
            self._begin_whole(budget, LAST_WORK)

    def search_on(self) -> None:
        """Of few unproven lines, search on from the best and, in an idle second process, from a new start."""
        if not self._has_few or self.is_reached or self.budget.is_spent or self.budget.measures:
            return
        steps, guide, budget = self._steps(MORE_STEPS), self._guide, self.budget

        def placements() -> dict[int, Placement]:
            search = Search(Solution(self.week), Random(SEED))
            search.be_guided(guide)
            search.fill()
            search.serve(steps, SERVING_HEAT, lambda: not budget.is_spent)
            return search.solution.by_order

        other = SecondProcess(placements) if self._second is None else None
        self.search.serve(steps, SERVING_HEAT, self._looks(budget, lambda: not self.is_reached))
        if other is not None:
            self._take_unless_reached(other, budget)

    def _second_search(self, steps: int, budget: Budget) -> SecondProcess[dict[int, Placement]]:
        """The same search from other lots, in a second process; how it places the orders."""
        placed, guide, heat = dict(self.solution.by_order), self._guide, self._heat

        def placements() -> dict[int, Placement]:
            search = Search(Solution(self.week), Random(SEED))
            search.back_to(placed)
            search.be_guided(guide)
            search.serve(steps, heat, lambda: not budget.is_spent)
            return search.solution.by_order

        return SecondProcess(placements)

    def _take_unless_reached(self, other: SecondProcess[dict[int, Placement]], budget: Budget) -> None:
        """Take what a second process found, if better; wait for it only while the bound is not reached."""
        if self.is_reached or (budget.is_spent and not other.is_done):
            other.stop()
        else:
            self._take_if_better(other.result())

    def _take_if_better(self, placements: dict[int, Placement]) -> None:
        """Place the orders so if that serves more, or as much of older orders."""
        (value, age), own = _value_and_age(placements), self.solution
        if value > own.value + SAME or (value > own.value - SAME and age > own.age + SAME):
            self.search.back_to(placements)

    def save(self) -> None:
        """Spend as little on it as can be found."""
        fewest = min(FEWEST_SAVING_STEPS, STEPS_OF_FEW * len(self.week.names))
        began, steps = time.monotonic(), max(fewest, self._saving_steps())
        go_on = self._looks(self.budget, lambda: True)
        is_far = self.solution.value < (1.0 - NEAR) * self.bound
        if len(self.week.names) > UNPRICED and not (self._is_parted and is_far):
            served = sorted(self.solution.by_order)
            prices = SavingPrices.found(self.week, served, self.budget)
            if self._is_parted:  # before there are two processes
                prices.make(served)
            self.search.spend_at(prices)
        if self._is_parted:
            self._in_parts(Search.save, steps // 2, SAVING_HEAT, self.budget)
        else:
            self.search.save(steps, SAVING_HEAT, go_on)
        took = time.monotonic() - began
        if self.budget.measures and (left := self.budget.left()) is not None and left > took:
            self.search.save(int(steps * min(20.0, 0.9 * left / max(took, 0.01))), SAVING_HEAT, go_on)

    def _saving_steps(self) -> int:
        """Steps to spend less: most where much is left to serve, so that little is free to save with."""
        if len(self.week.names) <= FEW_ORDERS:
            return self._steps(FEW_SAVING_STEPS)
        if self._is_large:
            return self._steps(LARGE_SAVING_STEPS)
        if self.solution.value > (1.0 - NEAR) * self.bound:
            return self._steps(SAVING_STEPS)
        return self._steps(SHORT_SAVING_STEPS, SHORT_SAVING_FOR)

    def _steps(self, each: int, full: int = FULL_STEPS_FOR) -> int:
        """Steps for a week of this size."""
        orders = len(self.week.names)
        return int(each * min(orders, (orders * full) ** 0.5))

    def _begin_bound(self, budget: Budget) -> None:
        """Bring the bound down, or begin to, in a second process while this one searches."""
        if self._is_large:
            bound_by_prices = LagrangianBound.of(self.week)
            prices = bound_by_prices.guiding_prices(budget)
            self._second = SecondProcess(lambda: (bound_by_prices.bound_within(budget, prices), None))
            self._guide = Guide(bound_by_prices.egg_prices(prices).tolist(), eggs_count=BY_PRICES_COUNT)
            self.search.be_guided(self._guide)
            return
        self._sharing = bound = self._sharing or RelaxationBound(self.week)
        self._lower(bound.relaxed(budget.part(0.3)))
        count = MANY_COUNT if len(self.week.names) > FEW_ORDERS else FEW_COUNT
        self._guide = Guide(bound.egg_prices, bound.day_shares, count)
        self.search.be_guided(self._guide)
        self._has_few = self._lines <= FEW
        if not (self._has_few or self.is_brief) and self._lines <= MOST_WHOLE:
            self._begin_whole(budget)

    def _begin_whole(self, budget: Budget, work: WorkLimit | None = None) -> None:
        """Begin to bring the bound down by whole lines, where nothing else is done in a second process."""
        if (bound := self._sharing) is not None and self._second is None and not self.is_reached:
            reached = self.solution.value
            self._second = SecondProcess(lambda: _whole(bound, reached, budget, MOST_WHOLE, work))

    def end_bound(self) -> None:
        """What was begun is waited for, unless the value is reached."""
        if self._second is None:
            if self._is_close:
                return
            is_done = self._has_few and not self.budget.measures
            if not (self.is_reached or is_done) and self._sharing is not None:
                self._know(*_whole(self._sharing, self.solution.value, self.budget, MOST_OPEN))
        elif self.is_reached:
            self._second.stop()
        else:
            self._know(*self._second.result())

    def _know(self, bound: float, answer: WholeLines | None) -> None:
        self._answer = None if answer is self._used else answer
        self._lower(bound)

    def take_answer(self) -> None:
        """Of a week of few orders, wait for the answer of whole lines, and use it."""
        if len(self.week.names) <= FEW_ORDERS and self._second is not None:
            self.end_bound()
        self._use_answer()

    def pack_small(self) -> None:
        """Take the best answer packed; of a week of few orders, but many lines, pack its families anew."""
        self._take_if_better(self._packed)
        if len(self.week.names) <= FEW_ORDERS and self._sharing is not None and not self._has_few:
            groups = groups_of_waiting(self.search, Decomposition.of(self.week), MOST_SMALL)
            self._pack(groups, _thoroughly, self.budget)

    def _use_answer(self) -> None:
        """Keep what is found from an answer of whole lines, once, where it is better than what was found."""
        answer, self._answer = self._answer, None
        self._used = answer or self._used
        if answer is not None and not self.is_reached:
            self._aim(answer)
        if answer is not None and answer.has_marks and not self.is_reached:
            self._take_days(answer)

    def _aim(self, answer: WholeLines) -> None:
        """Search to serve just what an answer does: from the best start here, from the next beside it."""
        starts, budget = self._found or [dict(self.solution.by_order)], self.budget.part(AIMING_SHARE)
        own, *others = sorted(starts, key=_value_and_age, reverse=True)
        other = (
            SecondProcess(partial(self._aimed, answer, others[0], lambda: not budget.is_spent))
            if others
            else None
        )
        self._take_if_better(self._aimed(answer, own, self._looks(budget, lambda: not self.is_reached)))
        if other is not None:
            self._take_unless_reached(other, budget)

    def _aimed(self, answer: WholeLines, best: dict[int, Placement], go_on: GoOn) -> dict[int, Placement]:
        """The best found from a start by serving just what an answer does, on its days, then by serving any
        order again, and so once more from the best of that; each aim draws its own lots, so that it finds the
        same whatever was searched before.
        """
        days = {(number, day): 1.0 for number, own in answer.days.items() for day in own}

        def is_open() -> bool:
            return search.solution.value < self._enough and go_on()

        for steps in map(self._steps, AIMED_STEPS):
            search = Search(Solution(self.week), Random(SEED))
            worth = dict(enumerate(search.worth))
            search.back_to(best)
            search.aim(answer.worth)
            search.be_guided(self._guide._replace(days=days))
            search.fill()
            search.serve(steps, SERVING_HEAT, is_open)
            search.aim(worth)
            search.be_guided(self._guide)
            search.serve(steps, SERVING_HEAT, is_open)
            best = max(best, dict(search.solution.by_order), key=_value_and_age)
            if not is_open():
                break
        return best

    def _take_days(self, answer: WholeLines) -> None:
        """The best choice on the days of an answer and those of what was found (the days are the master's of
        a logic-based Benders decomposition: Hooker and Ottosson 2003, Math. Program. 96, 33-60).
        """
        names, days = self.week.names, self.week.days
        on = {names[number]: {days[day] for day in own} for number, own in answer.days.items()}
        for number, one in self.solution.by_order.items():
            on.setdefault(names[number], set()).add(days[one.day])
        reached, budget = self.solution.value, self.budget.part(ANSWER_SHARE)
        self.take(best_on_days(self.week.part(sorted(on)), on, reached, self.bound, budget))

    def take(self, chosen: Chosen) -> None:
        """Place the orders as they are chosen, if that is better."""
        self._take_if_better(placements_of(self.week, chosen))

    def _lower(self, bound: float) -> None:
        self.bound = min(self.bound, bound)
        self.tell(self.solution.value, self.bound)

    def _looks(self, budget: Budget, is_open: Callable[[], bool]) -> GoOn:
        """Whoever searches asks this now and then whether to go on."""

        def go_on() -> bool:
            # without a limit only the steps may end a search, not when a second process has done its work
            if budget.measures and self._second is not None and self._second.is_done:
                self._know(*self._second.result())
            self.tell(self.solution.value, self.bound)
            return is_open() and not budget.is_spent

        return go_on
