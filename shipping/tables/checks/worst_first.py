"""Problems in, the same problems out: first what stops all, then a lot, then what wants a look."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shipping.words.problems import Level, Problem


def how_bad(problem: Problem) -> int:
    """0 stops all, 1 a lot or an order; of what stops nothing, 2 has something to mend, 3 is only said."""
    if problem.level is Level.NOTICE:
        return 2 if problem.mend else 3
    return 0 if problem.level is Level.ERROR else 1


def worst_first(problems: Iterable[Problem], files: Sequence[str] = ()) -> tuple[Problem, ...]:
    """Each problem once, worst first; equally bad ones by file (``files`` first, in their order) and row."""
    ranks = {file: rank for rank, file in reversed(list(enumerate(files)))}

    def place(problem: Problem) -> tuple[int, int, str, int]:
        file = problem.where.file
        return (how_bad(problem), ranks.get(file, len(files)), file, problem.where.row)

    return tuple(sorted(dict.fromkeys(problems), key=place))
