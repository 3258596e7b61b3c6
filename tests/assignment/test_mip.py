"""What a solver is allowed ends it at the same place everywhere, and what it says until then holds."""

from __future__ import annotations

import time
from random import Random

import pytest

from shipping.assignment.mip import Budget, Program, WorkLimit


def a_hard_program(things: int = 40, rows: int = 10) -> tuple[Program, dict[int, float]]:
    """Things of some worth and several weights each: how much worth fits in."""
    chance, program = Random(3), Program()
    worth = {program.add(): -chance.uniform(10.0, 30.0) for _ in range(things)}
    for _ in range(rows):
        weights = {thing: float(chance.randint(5, 40)) for thing in worth}
        program.row(weights, upper=sum(weights.values()) / 3)
    return program, worth


def test_less_work_proves_less_and_never_what_is_not_so() -> None:
    program, goal = a_hard_program()
    best, values = program.bound(goal, 0.0, None, None)
    assert values is not None
    bounds = [
        program.bound(goal, 0.0, None, None, work=WorkLimit(work, "rins"))[0] for work in (1.0, 2e5, 6e5)
    ]
    assert bounds[0] < best - 1.0
    assert bounds[0] < bounds[2] < best - 1e-6
    assert bounds == sorted(bounds)


@pytest.mark.parametrize("answers_by", ["rens", "rins"])
def test_work_ends_where_it_ended_before_however_long_it_takes(
    answers_by: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    program, goal = a_hard_program()
    work = WorkLimit(6e5, answers_by)
    first, values = program.bound(goal, 0.0, None, None, work=work)
    asked = 0

    def slow() -> bool:
        nonlocal asked
        asked += 1
        time.sleep(0.002)
        return False

    from shipping.assignment import mip

    monkeypatch.setattr(mip._asked_of_all, "is_set", slow)
    again, others = program.bound(goal, 0.0, None, None, work=work)
    assert (again, others is None) == (first, values is None)
    assert values is None or others is None or values.tolist() == others.tolist()
    assert asked > 1


def test_a_steady_budget_shares_out_nothing_and_measures_nothing() -> None:
    steady, other, none = Budget(10.0, steady=True), Budget(10.0), Budget(None)
    assert steady.part(0.1) is steady
    assert (steady.left(0.1) or 0.0) > 5.0 > (other.left(0.1) or 0.0)
    assert [one.measures for one in (steady, other, none)] == [False, True, False]
    assert Budget(0.0, steady=True).is_spent
