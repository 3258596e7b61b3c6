"""Eggs for a count by polynomials against the recurrence, which is itself held against scipy's
beta-binomial.
"""

from __future__ import annotations

import numpy as np
import pytest

from shipping.eggs.overpack import most_eggs, overpacks
from shipping.eggs.survival import Survival


def some_journeys(kappa: float, count: int = 400, dates: int = 12) -> Survival:
    """Invented journeys: survival falls from date to date, on some to nothing; chances are anything."""
    random = np.random.default_rng(11)
    v = np.sort(random.beta(8, 2, (count, dates)), axis=1)[:, ::-1] * random.uniform(0.4, 1.0, (count, 1))
    v[::7, -3:] = 0.0
    v[0], v[1] = 1.0, 0.0
    chances = random.dirichlet(np.full(dates, 0.5), count)
    return Survival(v, chances, np.full(count, kappa))


@pytest.mark.parametrize("kappa", [3.0, 40.0, 250.0])
@pytest.mark.parametrize("ordered", [1, 7, 20, 90])
def test_polynomials_pack_what_the_recurrence_packs(kappa: float, ordered: int) -> None:
    journeys = some_journeys(kappa)
    rows = np.arange(journeys.kappa.size)
    pack, p_enough = journeys.packs(rows, ordered, most_eggs(ordered), 0.95)
    counts, caps = np.full(rows.size, ordered), np.full(rows.size, most_eggs(ordered))
    exact = overpacks(journeys.v, journeys.chances, counts, caps, journeys.kappa, 0.95)
    assert np.array_equal(pack, exact.pack)
    assert np.abs(p_enough - exact.p_enough).max() < 1e-10


def test_journeys_are_asked_one_by_one_or_together_with_the_same_answer() -> None:
    journeys = some_journeys(40.0)
    together, _ = journeys.packs(np.arange(400), 15, most_eggs(15), 0.95)
    assert [int(journeys.packs(np.array([n]), 15, most_eggs(15), 0.95)[0][0]) for n in range(0, 400, 29)] == [
        int(together[n]) for n in range(0, 400, 29)
    ]


def test_asking_changes_no_journey_however_its_arrays_lie_in_memory() -> None:
    journeys = some_journeys(40.0)
    for lie in (np.asfortranarray, np.ascontiguousarray):
        v, chances = lie(journeys.v[:1].repeat(3, axis=0)), lie(journeys.chances[5:8])
        asked = Survival(v, chances, np.full(3, 40.0))
        before = v.copy(), chances.copy()
        first = asked.packs(np.arange(3), 20, most_eggs(20), 0.95)
        assert np.array_equal(first[0], asked.packs(np.arange(3), 20, most_eggs(20), 0.95)[0])
        assert np.array_equal(v, before[0])
        assert np.array_equal(chances, before[1])


def test_no_more_than_the_cap_is_packed() -> None:
    journeys = some_journeys(40.0)
    free, _ = journeys.packs(np.arange(400), 15, most_eggs(15), 0.95)
    capped, _ = journeys.packs(np.arange(400), 15, 20, 0.95)
    assert np.array_equal(capped, np.where(free > 20, 0, free))


def test_an_impossible_promise_is_never_kept() -> None:
    journeys = Survival(np.zeros((1, 2)), np.array([[0.5, 0.5]]), np.array([40.0]))
    pack, p_enough = journeys.packs(np.array([0]), 10, most_eggs(10), 0.95)
    assert (pack[0], p_enough[0]) == (0, 0.0)
