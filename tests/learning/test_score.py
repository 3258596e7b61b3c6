"""How true the promises were: kept and promised shares, Brier scores, calibration."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shipping.learning.score import Score, scores, share_interval, verdict_of
from tests.ledger.invented import outcome


def test_a_promise_is_kept_when_the_eggs_ordered_arrive_alive() -> None:
    found = [outcome(1, living=20), outcome(2, living=19), outcome(3, living=24), outcome(4, living=20)]
    score = scores(found).all
    assert (score.n, score.kept, score.promised) == (4, 0.75, 0.95)
    assert score.brier == pytest.approx((3 * 0.05**2 + 0.95**2) / 4)


def test_parcels_not_reported_are_left_out_and_counted() -> None:
    silent = replace(outcome(2), living=None, arrived_on=None)
    found = scores([outcome(1), silent])
    assert (found.all.n, found.unreported) == (1, 1)
    assert scores([silent]).all is None


def test_promises_that_are_true_are_found_fair_and_vain_ones_not() -> None:
    rng = np.random.default_rng(7)
    true = [outcome(n, p_enough=0.9, living=20 if rng.random() < 0.9 else 10) for n in range(400)]
    vain = [outcome(n, p_enough=0.97, living=20 if rng.random() < 0.85 else 10) for n in range(400)]
    assert scores(true).all.is_fair
    assert not scores(vain).all.is_fair


def test_scores_are_told_by_service_packing_species_and_promise() -> None:
    found = [
        outcome(1, service="letter", living=5),
        outcome(2, service="parcel", p_enough=0.6, packing="bag"),
        outcome(3, service="parcel", p_enough=1.0, packing="bag"),
    ]
    told = scores(found)
    assert [(one.name, one.kept) for one in told.by["service"]] == [("letter", 0.0), ("parcel", 1.0)]
    assert [one.name for one in told.by["packing"]] == ["bag", "tube"]
    assert [one.name for one in told.by["promise"]] == ["50 to 80 %", "90 to 95 %", "98 to 100 %"]
    assert [one.n for one in told.by["species"]] == [3]


def test_the_interval_of_a_share_is_wilsons() -> None:
    """9 of 10 at 90 %: 0.6529 to 0.9771, by the formula worked apart (Wilson 1927, from memory)."""
    low, high = share_interval(9, 10)
    p, n, z = 0.9, 10, 1.6448536269514722
    root = np.roots([1 + z * z / n, -(2 * p + z * z / n), p * p])
    assert sorted(root) == pytest.approx([low, high])
    assert share_interval(0, 0) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("promised", "is_fair", "words"),
    [
        (0.80, True, "agrees"),
        (0.90, True, "agrees"),
        (0.799, False, "held more often than promised"),
        (0.901, False, "held less often than promised"),
    ],
)
def test_a_promise_at_the_end_of_what_the_counts_allow_agrees(
    promised: float, is_fair: bool, words: str
) -> None:
    for n, few in ((20, ""), (19, " (few lines)")):
        score = Score("all", "", n, promised, 0.85, 0.80, 0.90, 0.1)
        assert (score.is_fair, verdict_of(score)) == (is_fair, f"{words}{few}")


def test_eggs_bought_in_count_in_no_score() -> None:
    found = scores([outcome(1), replace(outcome(2), bought_from="DE")])
    assert (found.all.n, found.unreported) == (1, 0)
