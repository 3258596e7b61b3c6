"""A mistake in the breeder's tables, as a value: where it is, what is wrong, how to mend it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Level(StrEnum):
    """How far a problem reaches.

    ``error``: nothing can be reckoned until it is mended. ``lot``: one lot is left out, ``order``: one order
    is held, and all else goes on.
    ``notice``: nothing stops; it is said because the breeder would want to know.
    """

    ERROR = "error"
    LOT = "lot"
    ORDER = "order"
    NOTICE = "notice"


@dataclass(frozen=True, slots=True)
class Where:
    """The file and the row as the spreadsheet shows it (row 1 is the header; 0 is the file as a whole)."""

    file: str
    row: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.row}" if self.row else self.file


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer to a question of the tables, ready to be written as key and value of ``[reading]``."""

    key: str
    value: str

    def as_toml(self) -> str:
        """The line as it stands below ``[reading]``; ``meant`` is a list."""
        text = '"' + self.value.replace("\\", "\\\\").replace('"', '\\"') + '"'
        return f"{self.key} = [{text}]" if self.key == "meant" else f"{self.key} = {text}"


@dataclass(frozen=True, slots=True)
class Problem:
    """One cause, one message: what is wrong (``text``), what to write (``mend``), what a question takes."""

    where: Where
    column: str
    code: str
    text: str
    mend: str
    level: Level = Level.ERROR
    answers: tuple[Answer, ...] = ()

    def __str__(self) -> str:
        column = f"{self.column}: " if self.column else ""
        return f"{self.where}: {column}{self.text} {self.mend}".rstrip()

    def as_json(self) -> dict[str, object]:
        """The six keys of the contract, the level, and the answers that a question takes."""
        answers = {"answers": [answer.as_toml() for answer in self.answers]} if self.answers else {}
        return {
            "file": self.where.file,
            "row": self.where.row or None,
            "column": self.column or None,
            "code": self.code,
            "text": self.text,
            "mend": self.mend,
            "level": self.level.value,
            **answers,
        }


class ShelfProblems(Exception):
    """The tables or the question have problems; the edge prints them all and leaves with 1."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems
