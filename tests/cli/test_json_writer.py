"""What is written with an indent is, letter by letter, what the standard library writes."""

from __future__ import annotations

import json
from typing import Any

import pytest

from shipping.cli.json_writer import indented
from shipping.words.reasons import Verdict

FACTS: list[Any] = [
    {},
    [],
    {
        "none": None,
        "yes": True,
        "whole": -3,
        "part": 0.1,
        "many": 1e300,
        "little": 5e-324,
        "never": float("inf"),
    },
    {
        "text": 'a "quoted" \\ line\n\ttab \x00 \u2028 é ß 卵 🐟',
        "": [[], {}, [[1, [2.5, {"x": ()}]]]],
        "word": Verdict.WAIT,
    },
    [float("nan"), float("-inf"), ("a", "b"), {"ключ": ["значение"]}],
    "alone",
    7,
]


@pytest.mark.parametrize("ascii_only", [True, False])
def test_the_text_is_the_standard_librarys(ascii_only: bool) -> None:
    for facts in FACTS:
        assert indented(facts, ascii_only=ascii_only) == json.dumps(facts, ensure_ascii=ascii_only, indent=1)


def test_what_is_no_json_is_refused() -> None:
    with pytest.raises(TypeError):
        indented({"day": {1, 2}}, ascii_only=True)
