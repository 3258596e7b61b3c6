"""What cannot be packed is cut off, and nothing else: tiny tangled weeks, every choice of which is tried."""

from __future__ import annotations

from dataclasses import replace

from shipping.assignment.benders import PackedAnswers, Subproblem
from shipping.assignment.columns import columns_of_instance
from shipping.assignment.instance import Chosen
from shipping.assignment.mip import Budget
from shipping.assignment.relaxation_bound import LinesTogether, RelaxationBound, WholeLines
from shipping.assignment.solve import allocate
from tests.assignment.test_solve import a_task, day, one_line
from tests.week.test_tangled_optima import a_tangled_week, best_value

WEEKS, TURNS, NEAR = 40, 6, 1e-6
NO_LIMIT = Budget(None)


def test_cuts_of_what_cannot_be_packed_keep_the_best_choice_and_lead_to_it() -> None:
    cut, nearer, reached = 0, 0, 0
    for number in range(WEEKS):
        instance = a_tangled_week(number)
        week, best = columns_of_instance(instance), best_value(instance)
        bound, packing = RelaxationBound(week, may_mark=False), Subproblem(week)
        first = most = bound.whole(0.0, NO_LIMIT)
        for _ in range(TURNS):
            assert most >= best - NEAR, number
            if (answer := bound.answer) is None:
                break
            packed = packing.best(answer, NO_LIMIT)
            assert packed is not None
            assert packed.value <= best + NEAR, number
            lines = {week.of(going.order).lines[n] for going in answer.going for n in going.lines}
            assert packed.drawn.keys() <= lines, number
            if packed.value >= most - NEAR:
                reached += 1
                break
            cuts = list(packing.cuts(answer, packed, NO_LIMIT))
            for one in cuts:
                assert all(days >= answer.going[going] for going, days in one.items()), number
                bound.not_all(one)
            cut += len(cuts)
            most = min(most, bound.whole(0.0, NO_LIMIT))
        nearer += most < first - NEAR
    assert (cut >= 5, nearer >= 2, reached >= WEEKS // 2) == (True, True, True), (cut, nearer, reached)


def test_the_bound_of_the_next_answer_knows_what_was_cut_off() -> None:
    for number in (10, 12, 14, 17, 35, 37):
        packing = PackedAnswers(columns_of_instance(a_tangled_week(number)))
        first, packed = packing.next_one(0.0, NO_LIMIT)
        assert packed is not None
        assert packed.value < first - NEAR
        assert packing.cut_off(NO_LIMIT)
        assert packing.next_one(0.0, NO_LIMIT)[0] < first - NEAR, number


def test_a_row_forbids_nothing_but_the_days_it_names() -> None:
    """The best choice keeps a row against its lines on all days but their own; also lines that may split."""
    split = 0
    for number in range(WEEKS):
        week = columns_of_instance(a_tangled_week(number))
        best, bound = allocate(week), RelaxationBound(week, may_mark=False)
        bound.relaxed(NO_LIMIT)
        for n in range(len(week.names)):
            order = week.of(n)
            going = [at for at, key in enumerate(order.lines) if key in best.drawn]
            if not going:
                continue
            on = week.days.index(best.drawn[order.lines[going[0]]].departure[0])
            others = frozenset(departure.day for departure in order.departures) - {on}
            for lines in [(at,) for at in going] if order.may_split else [tuple(going)]:
                bound.not_all({LinesTogether(n, lines): others})
                split += order.may_split
        assert bound.whole(0.0, NO_LIMIT) >= best.value - NEAR, number
    assert split > 10


def test_an_order_that_goes_only_with_one_of_its_address_is_not_cut_off() -> None:
    (first, _), (second, alone) = one_line("A", "L", 5), one_line("B", "L", 5)
    joined = replace(alone, orders=("A", "B"), travel_modes=(first.travel_mode, second.travel_mode))
    instance = a_task((first, joined), (second, alone), free={("L", day(0)): 20})
    week = columns_of_instance(instance)
    going = {LinesTogether(week.names.index("A"), (0,)): frozenset({0})}
    answer = WholeLines({}, {}, going, has_marks=False)
    nothing = Chosen((), {}, 0.0, 0.0, 0.0)
    assert list(Subproblem(week).cuts(answer, nothing, NO_LIMIT)) == []
    without_eggs = columns_of_instance(replace(instance, free={("L", day(0)): 4}))
    assert list(Subproblem(without_eggs).cuts(answer, nothing, NO_LIMIT)) == [going]
