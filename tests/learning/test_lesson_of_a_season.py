"""Whole invented seasons: what is learned of one packing serves the others, and its intervals hold the
truth.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shipping.learning.lesson import counts_of, learn
from shipping.learning.losses import Counts, Losses, ReportedPacking, pooled_losses
from shipping.learning.outcomes import frame
from shipping.questions.margin import margin_of_route
from shipping.tables.learned_values import applied
from tests.learning.season import PACKINGS, season, true_chance
from tests.ledger.invented import TODAY, drawn

#: Seeds of the seasons: with the quick tests, and all.
SOME, SEEDS = range(5), range(25)
TABLE = Losses(0.03, 0.01, 40.0)
NOTHING = Counts(*(np.zeros(0) for _ in range(5)))


@pytest.mark.parametrize("seeds", [SOME, pytest.param(SEEDS, marks=pytest.mark.slow)])
def test_no_packing_that_the_plan_may_turn_to_keeps_its_promise_much_less_often_than_promised(
    seeds: range,
) -> None:
    """Seasons of 15 weeks; the chances are the simulator's own."""
    untaught, taught_chances = [], []
    for seed in seeds:
        one = season(seed)
        taught = applied(replace(one.shelf, rates=learn(one.shelf, one.found).rows(TODAY)))
        for packing in PACKINGS:
            for place, chances in ((one.shelf, untaught), (taught, taught_chances)):
                pack = margin_of_route(place, 20, packing.packing, "letter", "DK", TODAY, True).pack
                assert pack is not None
                chances.append(true_chance(one.truth[packing.packing], pack))
    assert min(untaught) < 0.75, "the season must be one in which the tables are wrong"
    assert min(taught_chances) >= 0.90


@pytest.mark.slow
def test_intervals_of_90_percent_hold_the_truth_about_as_often() -> None:
    """Truths drawn as the parts are believed to be: three kinds of two packings, one of each kind
    untaught.
    """
    rng = np.random.default_rng(18)
    held = []
    for n in range(60):
        doubt = np.diag([0.65, 0.65, 0.7])
        alike = np.array([[1.0, 0.95, 0.0], [0.95, 1.0, 0.0], [0.0, 0.0, 1.0]])
        shared = rng.multivariate_normal(np.zeros(3), doubt @ alike @ doubt)
        packings, truths = [], []
        for kind in "abc":
            of_kind = rng.normal(0, [0.1, 0.1, 0.12])
            for told in (60, 0):
                off = shared + of_kind + rng.normal(0, [0.15, 0.15, 0.2])
                truth = Losses(*(np.array([0.03, 0.01, 40.0]) * np.exp(off)).tolist())
                counts = counts_of(frame(drawn(told, truth, 100 * n + ord(kind)))) if told else NOTHING
                packings.append(ReportedPacking(f"{kind}{told}", kind, TABLE, counts))
                truths.append(truth)
        for taught, truth in zip(pooled_losses(packings), truths, strict=True):
            held += [
                getattr(taught.low, what) <= getattr(truth, what) <= getattr(taught.high, what)
                for what in ("loss_handling", "loss_per_day", "kappa")
            ]
    assert 0.86 <= float(np.mean(held)) <= 0.94


def test_the_truths_of_several_packings_are_found_again_from_2000_parcels() -> None:
    """Three packings as alike as packings are believed to be, 2,000 lines, 6 seasons: each loss within its
    interval at least as often as stated, and none far from it.
    """
    truths = (Losses(0.06, 0.03, 15.0), Losses(0.052, 0.027, 18.0), Losses(0.065, 0.032, 20.0))
    held, off = [], []
    for seed in range(6):
        packed = [
            ReportedPacking(f"p{n}", kind, TABLE, counts_of(frame(drawn(2000 // 3, truth, 1000 * seed + n))))
            for n, (kind, truth) in enumerate(zip(("tube", "tube", "damp bag"), truths, strict=True))
        ]
        for taught, truth in zip(pooled_losses(packed), truths, strict=True):
            for what in ("loss_handling", "loss_per_day", "kappa"):
                known = getattr(truth, what)
                held.append(getattr(taught.low, what) <= known <= getattr(taught.high, what))
                off.append(abs(np.log(getattr(taught.losses, what) / known)))
    assert float(np.mean(held)) >= 0.9
    assert max(off) < 0.3
