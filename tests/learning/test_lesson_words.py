"""What was learned in a person's words: days as they are said, and what reports leave open."""

from __future__ import annotations

import pytest

from shipping.learning.lesson import Learned, days_said, said_lines
from shipping.learning.silence import fry_question
from shipping.worktop.table_words import label_of
from tests.ledger.invented import outcome


@pytest.mark.parametrize(
    ("days", "said"), [(0.08, "1"), (2.57, "2 to 3"), (2.2, "2"), (2.8, "3"), (11.07, "11"), (0.6, "1")]
)
def test_days_are_said_as_a_person_says_them(days: float, said: str) -> None:
    assert days_said(days) == said


def test_the_three_days_of_a_service_are_one_line() -> None:
    days = {"early_d": (1.0, 0.9), "usual_d": (2.0, 2.57), "late_d": (5.0, 6.9)}
    rates = [
        Learned(what, "letter", before, after, "d", 40, after - 0.3, after + 0.3, "")
        for what, (before, after) in days.items()
    ]
    loss = Learned("loss_per_day", "tube/water", 0.01, 0.02, "1/d", 40, 0.015, 0.025, "")
    assert list(said_lines([loss, *rates], label_of)) == [
        "  Lost each day on the way, tube, water: 1.0 % -> 2.0 % (1.5 % to 2.5 %) on 40",
        "  letter: usually 2 to 3 (2.3 to 2.9), 1 at the earliest, 7 working days at the latest"
        " (was 2, 1, 5) on 40",
    ]


def test_fry_are_asked_for_where_eggs_were_due_to_hatch_and_no_report_tells_of_any() -> None:
    due = [outcome(n, hatch_share=0.9, living=20) for n in range(3)]
    assert fry_question(due).startswith("Lines told of without a word of fry: 3 of 3.")
    assert fry_question([outcome(1, hatch_share=0.9, living=20, hatched_alive=0)]) == ""
    assert fry_question([outcome(1, hatch_share=0.999, living=20)]) == ""
