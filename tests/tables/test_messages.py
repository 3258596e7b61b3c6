"""Every message of ``check`` stands on the page of messages, by its code, with an example and how to mend
it.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.tables.message_page import BESIDE, TABLES, examples, page

ROOT = Path(__file__).resolve().parent.parent.parent
#: Where the code stands among the arguments of what makes a problem.
PLACES = {"Problem": 2, "problem": 2, "notice": 3, "noted": 2, "unreadable": 2, "_refused": 2}
#: Codes that no example can be kept of: they are said by commands that write, of a question, or only beside
#: the mistake of another row.
NO_EXAMPLE = {"cannot-write", "no-row", "question", "new", "waits"}


def codes_said(*modules: Path) -> Iterator[str]:
    """The codes of every problem that the modules make."""
    for path in modules:
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(call, ast.Call):
                continue
            name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
            place = PLACES.get(name, -1)
            codes = [word.value for word in call.keywords if word.arg == "code"]
            codes += call.args[place : place + 1] if place >= 0 else []
            yield from (str(code.value) for code in codes if isinstance(code, ast.Constant))


def test_every_code_of_the_tables_is_documented_and_none_beside() -> None:
    modules = [path for path in (ROOT / "shipping" / "tables").rglob("*.py") if path.stem != "learned_values"]
    assert set(codes_said(*sorted(modules))) == set(TABLES)


def test_every_code_that_check_says_beside_the_tables_is_documented() -> None:
    modules = (
        "questions/reckoned_checks",
        "papers/wording/phrases",
        "papers/page/fonts",
        "ledger/journal/audit",
        "tables/learned_values",
        "ledger/whole_shelf",
    )
    said = set(codes_said(*(ROOT / "shipping" / f"{module}.py" for module in modules)))
    assert said - set(TABLES) <= set(BESIDE)


def test_every_code_of_the_tables_has_an_example() -> None:
    assert set(TABLES) - set(examples()) <= NO_EXAMPLE


def test_every_example_that_stops_something_says_how_to_mend_it() -> None:
    for code, messages in examples().items():
        for message in messages:
            assert message.rstrip().endswith((".", "?")), (code, message)


def test_the_page_is_current() -> None:
    current = (ROOT / "docs" / "messages.md").read_text(encoding="utf-8")
    if current != page():
        pytest.fail(
            "docs/messages.md is stale; write it again: python -m tests.tables.message_page >"
            " docs/messages.md"
        )
