"""What stops everything is said first, and each thing once."""

from __future__ import annotations

from shipping.words.problems import Level, Problem, Where, worst_first


def problem(file: str, row: int, level: Level, mend: str = "Mend it.") -> Problem:
    return Problem(Where(file, row), "eggs", "cell", "is wrong.", mend, level)


def test_problems_are_worst_first_and_then_by_file_and_row() -> None:
    only_said = problem("lots.csv", 2, Level.NOTICE, mend="")
    caution = problem("orders.csv", 9, Level.NOTICE)
    one_lot = problem("orders.csv", 8, Level.LOT)
    late, early = problem("orders.csv", 7, Level.ERROR), problem("orders.csv", 3, Level.ERROR)
    other_file = problem("species.csv", 9, Level.ERROR)
    unlisted = problem("a.csv", 1, Level.ERROR)
    given = [only_said, caution, one_lot, late, early, unlisted, other_file, early]
    assert worst_first(given, ["species.csv", "lots.csv", "orders.csv"]) == (
        other_file,
        early,
        late,
        unlisted,
        one_lot,
        caution,
        only_said,
    )
