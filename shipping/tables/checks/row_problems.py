"""What a check says of a row: rows and words in, problems and questions out, each cause once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import chain, islice

from shipping.tables.cells import Row
from shipping.tables.files.settings_reader import SETTINGS_FILE
from shipping.tables.shelf import Draft
from shipping.tables.spelling import did_you_mean, folded, unseen_in
from shipping.words.keys import grouped, repeated
from shipping.words.problems import Answer, Level, Problem, Where
from shipping.words.sentence import Sentence, fields, say


def problem(
    row: Row, column: str, code: str, text: str, mend: str, level: Level = Level.ERROR, /, **values: object
) -> Problem:
    """A problem of one row; the fields in ``text`` and ``mend`` are ``values``, else columns of the row."""
    text, mend = (_worded(row, words, values) for words in (text, mend))
    return Problem(row.at, column.rstrip("_"), code, text, mend, level)


def _worded(row: Row, words: str, values: Mapping[str, object]) -> str:
    """The words with what stands in their fields; those that have it already stay."""
    if isinstance(words, Sentence):
        return words
    return say(words, *(values[name] if name in values else _value(row, name) for name in fields(words)))


def _value(row: Row, column: str) -> object:
    return getattr(row, column if hasattr(row, column) else f"{column}_")


def noted(row: Row, column: str, code: str, text: str, mend: str, /, **values: object) -> Problem:
    """What stops nothing, and is said; as `problem`."""
    return problem(row, column, code, text, mend, Level.NOTICE, **values)


def after_today(draft: Draft, row: Row, column: str, mend: str) -> Iterator[Problem]:
    """A day that has happened, and yet is after today."""
    day = getattr(row, column)
    if day is not None and day > draft.today:
        text = "{day} is after today, {today}."
        yield problem(row, column, "future", text, mend, day=day, today=draft.today)


def before(row: Row, column: str, other: str, mend: str, level: Level = Level.ERROR) -> Iterator[Problem]:
    """A day before that of another column, which it follows."""
    day, first = getattr(row, column), getattr(row, other)
    if day is not None and first is not None and day < first:
        text = "{day} is before {column}, {other}."
        yield problem(row, column, "order", text, mend, level, day=day, column=other.rstrip("_"), other=first)


def first_of(*problems: Iterator[Problem]) -> Iterator[Problem]:
    """Of several problems of a row, of which each would follow from the one before, the first there is."""
    return islice(chain(*problems), 1)


def asked(
    draft: Draft,
    row: Row,
    column: str,
    text: str,
    mend: str,
    level: Level = Level.NOTICE,
    /,
    *,
    code: str = "asked",
    **values: object,
) -> Iterator[Problem]:
    """A question about an unlikely value, as `problem`; none where ``[reading] meant`` has that cell."""
    value = getattr(row, column)
    shown = f"{value:g}" if isinstance(value, float) else value
    shown = " ".join(value) if isinstance(value, tuple) else shown
    cell = " ".join(f"{row.cited_without_file} {column.rstrip('_')} {shown}".split())
    if not _is_meant(draft, cell):
        yield to_confirm(problem(row, column, code, text, mend, level, **values), cell)


def asked_of_setting(draft: Draft, column: str, value: object, text: str, mend: str) -> Iterator[Problem]:
    """The same about a setting, such as ``plan.promise``."""
    cell = f"settings {column} {value}"
    if not _is_meant(draft, cell):
        yield to_confirm(Problem(Where(SETTINGS_FILE), column, "asked", text, mend, Level.NOTICE), cell)


def _is_meant(draft: Draft, cell: str) -> bool:
    return folded(cell) in map(folded, draft.settings.reading.meant if draft.settings else ())


def to_confirm(question: Problem, cell: str) -> Problem:
    """The question, with what confirms the cell."""
    confirm = say(
        "{mend}; if it is right, say so under More on the page, or in shelf.toml below [reading]:"
        ' meant = ["{cell}"].',
        question.mend,
        cell.replace("\\", "\\\\").replace('"', '\\"'),  # as shelf.toml has it
    )
    return replace(question, mend=confirm, answers=(Answer("meant", cell),))


def missing_names(
    draft: Draft, column: str, table: str, wanted: Iterable[tuple[Row, str]]
) -> Iterator[Problem]:
    """One problem for each name that a table lacks, at the first row that names it."""
    there = draft.names.get(table, frozenset())
    missing = ((name, row) for row, name in wanted if table in draft.complete and name not in there)
    known = sorted(there)
    for name, rows in grouped(missing).items():
        mend = "Add it there."  # which fish may be meant is for who asks: another is no example
        if known and table != "species":
            such_as = say("Add it there, or write one of its names, such as '{name}'.", known[0])
            mend = did_you_mean(name, known, such_as)
        text = and_on(say("'{name}' is not in {table}", name, table), len(rows))
        yield problem(rows[0], column, "unknown-name", text, mend)


def and_on(text: str, rows: int) -> str:
    """The text, and on how many of those ``rows`` besides the first the same stands."""
    if rows == 1:
        return say("{text}.", text)
    if rows == 2:
        return say("{text} (and on 1 more row).", text)
    return say("{text} (and on {count} more rows).", text, rows - 1)


def twice(rows: Iterable[tuple[Row, str]], column: str, mend: str) -> Iterator[Problem]:
    """One problem for each row whose name stands on an earlier row."""
    for (earlier, _), (row, name) in repeated((folded(name), (row, name)) for row, name in rows):
        text = say("'{name}' stands on row {row} too.", name, earlier.at.row)
        if unseen := unseen_in(name):
            told = (name, earlier.at.row, unseen)
            text = say("'{name}' stands on row {row} too (it holds a {unseen}).", *told)
        yield problem(row, column, "twice", text, mend)
