"""One broken shelf a mistake: its message holds the words, it is the only one, and the mend it suggests is
accepted.
"""

from __future__ import annotations

from shipping.tables.reader import read_shelf
from tests.every_case import every
from tests.tables.mistakes import Mistake, mistakes, told_mended, told_with
from tests.tables.shelves import GOOD, TODAY

#: What a shelf may say beside its own mistake: that there are orders nobody has taken yet.
BESIDE = {"new"}
every_mistake = every("mistake", mistakes())


def test_the_good_shelf_has_no_problem_at_all() -> None:
    reading = read_shelf(GOOD, TODAY)
    assert reading.problems == ()
    assert reading.shelf is not None


def test_no_two_mistakes_have_one_name() -> None:
    names = [mistake.name for mistake in mistakes()]
    assert len(names) == len(set(names)) >= 400


@every_mistake
def test_a_mistake_is_one_message_that_says_where_what_and_how(mistake: Mistake) -> None:
    told = told_with(mistake.edit)
    said = [problem for problem in told.problems if problem.level is mistake.level]
    assert any(mistake.is_said_by(problem) for problem in said), list(map(str, said))
    assert told.is_shelf == (mistake.level != "error")
    if mistake.level == "error":
        assert len(said) == 1, ("one cause, one message", list(map(str, said)))


@every_mistake
def test_the_mend_is_accepted(mistake: Mistake) -> None:
    told = told_mended(mistake)
    assert told.is_shelf, list(map(str, told.problems))
    assert [str(problem) for problem in told.problems if problem.code not in BESIDE] == []
