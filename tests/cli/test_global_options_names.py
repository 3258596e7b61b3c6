"""A name typed on the command line is found as a person reads it, and is never taken for another."""

from __future__ import annotations

import pytest

from shipping.cli.global_options import one_of
from shipping.words.problems import ShelfProblems


@pytest.mark.parametrize(
    ("typed", "known", "meant"),
    [
        ("d13", ["D13", "D130"], "D13"),
        ("D 13", ["D13", "D14"], "D13"),
        ("d-13", ["D 13"], "D 13"),
        ("D\u00a002", ["D 02", "D02"], "D 02"),
        ("D02", ["D 02", "D02"], "D02"),
        ("w 11-3", ["W 11-3", "W 113"], "W 11-3"),
    ],
)
def test_a_name_is_found_whatever_its_case_and_spaces(typed: str, known: list[str], meant: str) -> None:
    assert one_of(typed, known, "order") == meant


@pytest.mark.parametrize(("typed", "known"), [("d 13", ["D-13", "D13"]), ("113", ["11-3"]), ("", ["D1"])])
def test_a_name_that_may_be_two_or_none_is_asked_back(typed: str, known: list[str]) -> None:
    with pytest.raises(ShelfProblems):
        one_of(typed, known, "order")
