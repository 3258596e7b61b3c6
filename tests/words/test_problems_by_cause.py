"""Thousands of mistakes are read on one screen: one line a cause, with its count and its first rows."""

from __future__ import annotations

from shipping.words.problems import MOST_CAUSES, SHORT_LIST, Level, Problem, Where, lines_by_cause


def a_problem(row: int, value: str, level: Level = Level.ERROR, column: str = "eggs") -> Problem:
    return Problem(
        Where("orders.csv", row), column, "cell", f"'{value}' is not a number.", "Write 20.", level
    )


def test_a_short_list_is_told_line_by_line() -> None:
    problems = [a_problem(row, "x") for row in range(2, 2 + SHORT_LIST)]
    assert list(lines_by_cause(problems)) == [str(problem) for problem in problems]


def test_one_cause_is_one_line_with_its_count_and_first_rows() -> None:
    problems = [a_problem(row, f"v{row}") for row in range(2, 102)]
    assert list(lines_by_cause(problems, "Note: ")) == [
        "Note: 100 problems of 1 cause: orders.csv 100.",
        "Note: orders.csv:2: eggs: 'v2' is not a number. Write 20."
        " (99 more like it, on rows 3, 4, 5, 6, 7 ..)",
    ]


def test_what_stops_everything_comes_first_then_the_more_frequent() -> None:
    problems = [a_problem(row, "x", Level.LOT) for row in range(30)] + [a_problem(90, "y")]
    problems += [a_problem(row, "x", column="price") for row in range(5)]
    total, first, second, third = lines_by_cause(problems)
    assert total == "36 problems of 3 causes: orders.csv 36."
    assert ("price" in first, "'y'" in second, "29 more" in third) == (True, True, True)
    grave = Problem(Where("orders.csv", 7), "eggs", "line-twice", "stands twice.", "Mend it.", Level.LOT)
    assert "stands twice" in list(lines_by_cause([*problems, grave]))[3]


def test_orders_held_stand_among_what_stops_one_thing() -> None:
    """Of more than a short list a held order had no place, and all of `check` failed."""
    kinds = [Level.NOTICE] * SHORT_LIST + [Level.ORDER, Level.ERROR]
    problems = [a_problem(row, "x", level) for row, level in enumerate(kinds)]
    _, *told = lines_by_cause(problems)
    assert [line.partition(": ")[0] for line in told] == ["orders.csv:21", "orders.csv:20", "orders.csv"]
    assert next(lines_by_cause([a_problem(n, "x", Level.ORDER) for n in range(30)])).startswith(
        "30 held orders"
    )


def test_more_causes_than_fit_are_counted() -> None:
    problems = [a_problem(2, "x", column=f"c{n}") for n in range(MOST_CAUSES + 60)]
    lines = list(lines_by_cause(problems))
    assert len(lines) == MOST_CAUSES + 2
    assert lines[-1] == "And 60 more of 60 other causes; all of them stand in check --json."
