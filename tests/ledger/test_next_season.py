"""A season teaches the next one: promises made with learned losses hold as often as they say, the table's did
not.
"""

from __future__ import annotations

import numpy as np
import pytest

from shipping.eggs.overpack import overpacks
from shipping.learning.lesson import counts_of
from shipping.learning.losses import Losses, fitted_losses, likelihood
from shipping.learning.outcomes import Outcome, frame
from shipping.learning.score import Scores, scores
from tests.ledger.invented import drawn, outcome

TABLE = Losses(0.03, 0.01, 40.0)
TRUTH = Losses(0.08, 0.03, 15.0)
DAYS = np.arange(1, 9)
ORDERED = np.array([10, 20, 30, 40])


def season(believed: Losses, count: int, seed: int) -> tuple[Outcome, ...]:
    """Parcels packed for a promise of 95 % by what is believed, and what the truth made of them; 1 to 8 days
    on the way.
    """
    rng = np.random.default_rng(seed)
    v = np.exp(-believed.loss_handling - believed.loss_per_day * DAYS)[None, :].repeat(4, axis=0)
    chances = np.full((4, DAYS.size), 1 / DAYS.size)
    packs = overpacks(v, chances, ORDERED, np.full(4, 400), np.full(4, believed.kappa), 0.95)
    found = []
    for number in range(count):
        one = int(rng.integers(0, 4))
        pack, days = int(packs.pack[one]), int(rng.choice(DAYS))
        kept = float(np.exp(-TRUTH.loss_handling - TRUTH.loss_per_day * days))
        share = rng.beta(kept * TRUTH.kappa, (1 - kept) * TRUTH.kappa)
        cells = {"ordered": int(ORDERED[one]), "packed": pack, "p_enough": float(packs.p_enough[one])}
        found.append(outcome(number, living=int(rng.binomial(pack, share)), **cells))
    return tuple(found)


def learned(parcels: int, seed: int) -> Losses:
    return fitted_losses(counts_of(frame(drawn(parcels, TRUTH, seed, other_share=1.0))), TABLE)


def told(believed: Losses, seed: int) -> Scores:
    return scores(season(believed, 3000, seed))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_promises_made_with_what_2000_parcels_taught_hold_in_the_next_season(seed: int) -> None:
    """Stated error: two points of a hundred."""
    score = told(learned(2000, seed), 100 + seed).all
    assert score is not None
    assert score.promised >= 0.95
    assert score.kept == pytest.approx(score.promised, abs=0.02)


def test_the_tables_own_promises_did_not_hold_and_are_not_found_fair() -> None:
    score = told(TABLE, 101).all
    assert score is not None
    assert score.kept < 0.75
    assert not score.is_fair


def test_a_season_of_fifty_parcels_brings_promises_more_than_half_the_way() -> None:
    before, after = told(TABLE, 101).all, told(learned(50, 4), 101).all
    assert before is not None
    assert after is not None
    assert after.promised - after.kept < (before.promised - before.kept) / 2


@pytest.mark.parametrize("parcels", [10, 100, 2000])
def test_what_was_learned_foretells_the_next_season_better_than_the_table(parcels: int) -> None:
    """Log score on parcels not learned from."""
    held_out = counts_of(frame(drawn(1000, TRUTH, 77, other_share=1.0)))
    assert likelihood(held_out, learned(parcels, 5))[0] > likelihood(held_out, TABLE)[0]
