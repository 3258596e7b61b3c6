"""What cannot be packed is cut off, and nothing else: tiny tangled weeks, every choice of which is tried."""

from __future__ import annotations

from shipping.assignment.benders import Subproblem
from shipping.assignment.columns import columns_of_instance
from shipping.assignment.mip import Budget
from shipping.assignment.relaxation_bound import RelaxationBound
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
