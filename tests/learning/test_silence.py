"""What silence may mean: from how few reports, and how bad ones, only bad news is read."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shipping.learning.losses import LOSS_DOUBT
from shipping.learning.silence import Silence, _log_told, fry_question, scale_of_promises
from tests.ledger.invented import outcome, shelf


@pytest.mark.parametrize(
    ("told", "broken", "silent", "weight", "is_one_sided"),
    [
        (10, 10, 10, 0.0, False),
        (10, 10, 11, 1 / 21, True),
        (10, 6, 90, 0.8, False),
        (10, 7, 90, 0.8, True),
        (0, 0, 5, 1.0, False),
        (0, 0, 0, 0.0, False),
    ],
)
def test_the_fewer_tell_the_more_their_silence_is_read_as_a_promise_kept(
    told: int, broken: int, silent: int, weight: float, is_one_sided: bool
) -> None:
    """Only bad news seems to be told where fewer than half tell, and six in ten of that of broken ones."""
    found = Silence(told, broken, silent)
    assert found.weight == pytest.approx(weight)
    assert found.is_one_sided is is_one_sided


@pytest.mark.parametrize(("left", "is_asked"), [(0.98, False), (0.9799, True)])
def test_fry_are_asked_after_where_more_than_two_in_a_hundred_were_due(left: float, is_asked: bool) -> None:
    assert bool(fry_question([outcome(1, hatch_share=left, hatched_alive=None)])) is is_asked


def test_the_chance_of_a_promise_kept_is_that_of_at_least_the_eggs_ordered() -> None:
    """Of one egg packed for one the chance that it lives; of two for one that not both die."""
    v = math.exp(-2 * 0.1) * 0.9
    for packed, kept in ((1, v), (2, 1 - (1 - v) * (1 - v + (1 / 40) * 1) / (1 + 1 / 40))):
        rows = np.array([[packed, 1, 0.1, 0.9, 40.0, broken] for broken in (0, 1)])
        assert np.exp(_log_told(rows, 2.0)) == pytest.approx([kept, 1 - kept])


def test_promises_that_any_loss_would_keep_teach_nothing_and_leave_the_tables_own_doubt() -> None:
    """Five in a hundred each way of a normal whose spread that is."""
    easy = outcome(1, packed=100, ordered=1, living=50, dead=None, missing=None)
    found = scale_of_promises(shelf(), (easy,))
    assert found.value == pytest.approx(1, abs=1e-3)
    assert math.log(found.high) == pytest.approx(1.645 * LOSS_DOUBT, rel=1e-3)
    assert found.low == pytest.approx(1 / found.high, rel=1e-3)
