"""How promises held, as bars: what the counts allow to say is said, and no more."""

from __future__ import annotations

from shipping.learning.score import BAR_WIDTH, Score, bar, calibration_lines, scores, verdict_of
from tests.ledger.invented import outcome


def of(promised: float, kept: int, n: int, low: float, high: float) -> Score:
    return Score("service", "letter", n, promised, kept / n, low, high, 0.1)


def test_a_bar_is_filled_to_the_share_held_and_struck_at_the_share_promised() -> None:
    drawn = bar(of(0.9, 15, 20, 0.6, 0.8))
    assert len(drawn) == BAR_WIDTH
    assert drawn.index("|") == 36
    assert drawn[:24] == "#" * 24
    assert drawn[24:32] == "=" * 6 + "-" * 2
    assert set(drawn[32:36]) == {"."}


def test_a_promise_of_all_stands_within_the_bar() -> None:
    assert bar(of(1.0, 20, 20, 0.9, 1.0)).index("|") == BAR_WIDTH - 1


def test_few_lines_are_said_to_be_few_whichever_way_they_point() -> None:
    assert verdict_of(of(0.95, 1, 2, 0.1, 0.9)) == "held less often than promised (few lines)"
    assert verdict_of(of(0.6, 200, 200, 0.98, 1.0)) == "held more often than promised"
    assert verdict_of(of(0.9, 180, 200, 0.86, 0.93)) == "agrees"


def test_every_service_packing_and_species_has_its_row_with_counts() -> None:
    found = [
        outcome(n, service=("letter", "parcel")[n % 2], packing=("tube", "bag")[n % 2], living=20)
        for n in range(40)
    ]
    said = "\n".join(calibration_lines(scores(found)))
    for name in ("letter", "parcel", "tube", "bag", "gardneri", "90 to 95 %"):
        assert any(name in line and " of " in line for line in said.splitlines()), name
    assert "of 20" in said


def test_without_a_report_nothing_is_claimed() -> None:
    assert list(calibration_lines(scores(()))) == [
        "No line was reported yet: nothing can be said of the promises."
    ]
