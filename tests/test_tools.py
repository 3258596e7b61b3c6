"""On a machine without a tool the tests that ask for it are left out by name; our own check leaves none
out.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.every_case import every
from tests.mutants import NO_CHANGE, TESTS
from tests.tools import left_out

ROOT = Path(__file__).resolve().parent.parent
#: A test that asks for a tool nobody has.
ASKS = "from tests.tools import tool\n\ndef test_asks() -> None:\n    tool('zbarimg')\n"


@pytest.mark.parametrize(("every_tool", "code"), [("", 0), ("1", 1)])
def test_a_missing_tool_is_named_and_fails_only_where_every_tool_must_be_there(
    tmp_path: Path, every_tool: str, code: int
) -> None:
    (tmp_path / "test_asks.py").write_text(ASKS, encoding="utf-8")
    (tmp_path / "conftest.py").write_text(
        "from tests.conftest import *  # as the project's own\n", encoding="utf-8"
    )
    env = os.environ | {"PATH": "", "PYTHONPATH": str(ROOT), "SPAWNPOST_EVERY_TOOL": every_tool}
    words = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", str(tmp_path)]
    done = subprocess.run(words, cwd=tmp_path, env=env, capture_output=True, text=True, check=False)
    assert "1 tests left out for want of zbarimg. On Debian: apt-get install zbar-tools" in done.stdout
    assert done.returncode == code


def test_lines_are_broken_in_every_room_and_those_not_run_are_in_files_that_are_there() -> None:
    rooms = {path.parent.name for path in (ROOT / "shipping").glob("*/__init__.py")}
    assert TESTS.keys() == rooms
    assert [name for names in TESTS.values() for name in names if not (ROOT / name).is_dir()] == []
    assert [file for file, _ in NO_CHANGE if not (ROOT / "shipping" / file).is_file()] == []


def test_a_run_that_left_nothing_out_says_nothing() -> None:
    assert left_out([]) == ""
    assert left_out(["Skipped: another cause"]) == ""


def test_cases_of_one_test_are_all_tried_and_each_that_fails_is_named() -> None:
    tried = []

    @every("number,word", [(1, "one"), (2, "two"), (3, "three"), (4, "four")])
    def is_odd_or_two(number: int, word: str) -> None:
        tried.append(word)
        assert number % 2, word
        if number == 3:
            with pytest.raises(ValueError):
                int("3")

    with pytest.raises(BaseExceptionGroup, match="3 of 4 cases") as told:
        is_odd_or_two()
    assert tried == ["one", "two", "three", "four"]
    assert [error.__notes__ for error in told.value.exceptions] == [
        ["with 2, 'two'"],
        ["with 3, 'three'"],
        ["with 4, 'four'"],
    ]


def test_a_test_of_no_case_fails() -> None:
    with pytest.raises(AssertionError, match="no case"):
        every("number", [])(lambda number: None)()
