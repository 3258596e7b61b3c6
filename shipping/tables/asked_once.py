"""Cells in another form than ours in, one question for all of them out, answered by a key of [reading]."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from shipping.words.problems import Answer, Problem, Where
from shipping.words.sentence import either, joined, say


@dataclass(frozen=True, slots=True)
class OtherForm:
    """A cell of another form: ``readings`` are what it may mean, by the answer that reads it so."""

    where: Where
    column: str
    written: str
    readings: Mapping[str, str]


def questions(dates: Sequence[OtherForm], decimals: Sequence[OtherForm]) -> Iterator[Problem]:
    """One question about all days of another form, one about all decimal commas."""
    if dates:
        yield _question("dates", say("a date as year-month-day"), dates)
    if decimals:
        yield _question("decimals", say("a number"), decimals)


def _question(key: str, what: str, cells: Sequence[OtherForm]) -> Problem:
    """Two of the breeder's own cells with every reading, and the answers that fit all of them."""
    first = max(cells, key=lambda cell: len(cell.readings))
    second = next((cell for cell in cells if cell.written != first.written), None)
    text = say("'{cell}' is not {what}", first.written, what)
    if len(cells) > 1:
        text = say("{text}, nor are {count} more", text, len(cells) - 1)
        text = (
            say("{text}, such as '{cell}' ({where})", text, second.written, second.where) if second else text
        )
    readings = list(dict.fromkeys(answer for cell in cells for answer in cell.readings if answer != "named"))
    fits = (reading for reading in readings if all({reading, "named"} & set(cell.readings) for cell in cells))
    answers = list(fits) or readings
    answers = answers or ["day first"]  # months with names are read the same by either answer
    shown = (_shown(key, answer, (first, second) if second else (first,)) for answer in answers)
    mend = say("Write {answer} below [reading] in shelf.toml.", either(shown))
    if len(cells) == 1:
        keys = either(f'{key} = "{answer}"' for answer in answers)
        told = (either(dict.fromkeys(first.readings.values())), keys)
        mend = say("Write {value}. Or, for all: {keys} below [reading] in shelf.toml.", *told)
    answered = tuple(Answer(key, answer) for answer in answers)
    return Problem(first.where, first.column, key, say("{text}.", text), mend, answers=answered)


def _shown(key: str, answer: str, cells: Sequence[OtherForm]) -> str:
    read = (
        say("'{cell}' is {value}", cell.written, cell.readings.get(answer) or cell.readings["named"])
        for cell in cells
        if {answer, "named"} & set(cell.readings)
    )
    return say('{key} = "{answer}" ({read})', key, answer, joined(read, ", "))


def encodings_once(problems: Sequence[Problem]) -> list[Problem]:
    """The problems, with the same question about the encoding of several files asked once."""
    asked: dict[tuple[Answer, ...], list[Problem]] = {}
    for problem in problems:
        if problem.code == "encoding" and problem.answers:
            asked.setdefault(problem.answers, []).append(problem)
    again = {id(problem) for same in asked.values() for problem in same[1:]}
    first = {id(same[0]): same for same in asked.values() if len(same) > 1}
    return [
        _for_all(problem, first[id(problem)][1:]) if id(problem) in first else problem
        for problem in problems
        if id(problem) not in again
    ]


def _for_all(problem: Problem, others: Sequence[Problem]) -> Problem:
    files = ", ".join(str(other.where) for other in others)
    return replace(problem, text=say("{text} So are {files}.", problem.text, files))
