"""One broken shelf a mistake: its message holds the words, it is the only one, and the mend it suggests is
accepted.

A case is a folder of ``tests/bad_tables``: the files that differ from the good shelf in ``_good``;
``words.txt`` with the level on the first line and then words that one message must hold; ``without.txt`` with
files that are not there; ``mended/`` with the same files as the message says to write them.
"""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from shipping.tables.reader import read_shelf
from shipping.words.problems import Level

TODAY = date(2026, 11, 30)
CASES = Path(__file__).resolve().parent.parent / "bad_tables"
GOOD = CASES / "_good"
#: What a case may say beside its own message: that there are orders nobody has taken yet.
BESIDE = {"new"}
NAMES = sorted(path.name for path in CASES.iterdir() if path.is_dir() and path.name != "_good")


def shelf_of_case(folder: Path, case: Path) -> Path:
    """A copy of the good shelf with the files of a case."""
    shutil.copytree(GOOD, folder, dirs_exist_ok=True)
    without = case / "without.txt"
    for name in without.read_text(encoding="utf-8").split() if without.exists() else ():
        (folder / name).unlink()
    for path in case.iterdir():
        if path.is_file() and path.name not in ("words.txt", "without.txt"):
            shutil.copy(path, folder)
    return folder


def test_the_good_shelf_has_no_problem_at_all() -> None:
    reading = read_shelf(GOOD, TODAY)
    assert reading.problems == ()
    assert reading.shelf is not None


def test_there_are_many_mistakes() -> None:
    assert len(NAMES) >= 70


@pytest.mark.parametrize("name", NAMES)
def test_a_mistake_is_one_message_that_says_where_what_and_how(name: str, tmp_path: Path) -> None:
    level, *words = (CASES / name / "words.txt").read_text(encoding="utf-8").splitlines()
    reading = read_shelf(shelf_of_case(tmp_path, CASES / name), TODAY)
    said = [str(problem) for problem in reading.problems if problem.level == Level(level)]
    assert any(all(word in message for word in words) for message in said), said
    assert (reading.shelf is None) == (level == "error")
    if level == "error":
        assert len(said) == 1, "one cause, one message"


@pytest.mark.parametrize("name", NAMES)
def test_the_mend_is_accepted(name: str, tmp_path: Path) -> None:
    folder = shelf_of_case(tmp_path, CASES / name)
    for path in (CASES / name).iterdir():
        if path.is_file() and path.name in {"order.csv", "weather.txt", "Shelf.xlsx"}:
            (folder / path.name).unlink()
    shutil.copytree(CASES / name / "mended", folder, dirs_exist_ok=True)
    reading = read_shelf(folder, TODAY)
    assert reading.shelf is not None, [str(problem) for problem in reading.problems]
    assert [problem for problem in reading.problems if problem.code not in BESIDE] == []
