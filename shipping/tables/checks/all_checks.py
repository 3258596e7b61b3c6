"""The checks of a shelf as one tuple: each takes the draft and yields what rows say against each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shipping.tables.checks import (
    home,
    journeys,
    lots,
    names,
    orders,
    plausible,
    post,
    published,
)
from shipping.tables.shelf import Draft
from shipping.words.problems import Level, Problem, Where

Check = Callable[[Draft], Iterator[Problem]]

#: Where checks stand, in the order in which they are asked: every public function there that takes the draft
#: alone and yields problems is one.
_SUBJECTS = (names, lots, orders, post, plausible, published, journeys, home)
_OF_A_CHECK = {"draft": "Draft", "return": "Iterator[Problem]"}
CHECKS: tuple[Check, ...] = tuple(
    check
    for subject in _SUBJECTS
    for name, check in vars(subject).items()
    if not name.startswith("_") and getattr(check, "__annotations__", None) == _OF_A_CHECK
)


def problems_across(draft: Draft) -> tuple[Problem, ...]:
    """Every problem that the checks find, in the order of `CHECKS`; of a cell that something was said of
    already, no second question is asked that would stop nothing.
    """
    told: set[tuple[Where, str]] = set()
    problems = []
    for problem in (problem for check in CHECKS for problem in check(draft)):
        cell = (problem.where, problem.column)
        if not (problem.answers and problem.level is Level.NOTICE and cell in told):
            problems.append(problem)
        told.add(cell)
    return tuple(problems)
