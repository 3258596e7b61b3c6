"""What all packings cost, learned together: the intervals are those of the posterior itself."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shipping.learning.losses import (
    ZERO_DOUBT,
    Counts,
    Losses,
    ReportedPacking,
    _Model,
    likelihood,
    loss_prior,
    pooled_losses,
)
from shipping.words.three_point import Z95

TABLE, TRUTH = Losses(0.03, 0.01, 40.0), Losses(0.08, 0.03, 15.0)
#: Deviations of the logs of what all parcels share, a kind's do and a packing's own, and how the sum of these
#: is doubted: what is shared of the two losses is alike by 0.95.
PARTS = np.array([[0.65, 0.1, 0.15], [0.65, 0.1, 0.15], [0.7, 0.12, 0.2]])
DOUBT = np.diag((PARTS**2).sum(axis=1))
DOUBT[0, 1] = DOUBT[1, 0] = 0.95 * 0.65**2
PRECISION = np.linalg.inv(DOUBT)


def reported(lines: int) -> Counts:
    """Lines of 20 eggs, two, four or nine days on the way, drawn by the truth."""
    rng = np.random.default_rng(3)
    days = rng.choice([2.0, 4.0, 9.0], lines)
    v = np.exp(-TRUTH.loss_handling - TRUTH.loss_per_day * days)
    living = rng.binomial(20, rng.beta(v * TRUTH.kappa, (1 - v) * TRUTH.kappa))
    return Counts.of(np.full(lines, 20.0), living, days, np.ones(lines))


def logs(losses: Losses) -> np.ndarray:
    return np.log([losses.loss_handling, losses.loss_per_day, losses.kappa])


def test_an_interval_is_as_wide_as_the_posterior_summed_up_over_a_grid() -> None:
    """Standard deviations of the three logs, of 2,000 lines: the sum of likelihood times prior over 11 x 11 x
    11 points three and a half of them wide on each side. Stated error 2 %.
    """
    counts = reported(2000)
    packing = ReportedPacking("tube", "tube", TABLE, counts)
    (taught,), (read,) = pooled_losses([packing]), _Model([packing]).read
    told = (logs(taught.high) - logs(taught.low)) / 2 / Z95
    middle = loss_prior(TABLE)[0]
    axes = logs(taught.losses)[:, None] + np.linspace(-3.5, 3.5, 11) * told[:, None]

    def cost(*x: float) -> float:
        chance, _ = likelihood(read, Losses(*map(math.exp, x)))
        off = np.array(x) - middle
        return float(off @ PRECISION @ off) / 2 - chance

    costs = np.array([[[cost(a, b, c) for c in axes[2]] for b in axes[1]] for a in axes[0]])
    weights = np.exp(costs.min() - costs)
    for n, axis in enumerate(axes):
        own = weights.sum(axis=tuple({0, 1, 2} - {n})) / weights.sum()
        spread = math.sqrt(float(own @ (axis - own @ axis) ** 2))
        assert told[n] == pytest.approx(spread, rel=0.02)


NOBODY = Counts(*(np.zeros(0) for _ in range(5)))


def variances(*packings: ReportedPacking) -> list[np.ndarray]:
    """The variance of the logs of each packing's three values, by its interval (3,)."""
    pooled = pooled_losses(packings)
    return [((logs(one.high) - logs(one.low)) / 2 / Z95) ** 2 for one in pooled]


def test_what_nobody_reported_of_is_as_doubtful_as_its_kind_and_itself_are() -> None:
    """Told of one tube by very many lines, where what all share is ``S``, its kind ``K``, itself ``O``: of
    another tube there remain, where ``D = S + K + O``, ``S + K - (S + K) D^-1 (S + K) + O``, of a bag ``S -
    S D^-1 S + K + O``: matrices, as the two losses are alike in what is shared.
    """
    tubes = ReportedPacking("tube", "tube", TABLE, reported(8000))
    other, bag = ReportedPacking("vial", "tube", TABLE, NOBODY), ReportedPacking("bag", "bag", TABLE, NOBODY)
    _, of_tube, of_bag = variances(tubes, other, bag)
    kind, own = (np.diag(part) for part in (PARTS**2).T[1:])
    shared, known = DOUBT - kind - own, PRECISION
    of_kind = shared + kind
    left_of_kind = of_kind - of_kind @ known @ of_kind
    left_of_shared = shared - shared @ known @ shared
    assert of_tube == pytest.approx(np.diag(left_of_kind + own), rel=0.05)
    assert of_bag == pytest.approx(np.diag(left_of_shared + kind + own), rel=0.05)


def test_a_loss_that_the_table_puts_at_nothing_is_in_wide_doubt_and_no_other_is() -> None:
    tubes = ReportedPacking("tube", "tube", TABLE, reported(500))
    known = ReportedPacking("bag", "bag", TABLE, NOBODY)
    for loss in (0, 1):
        table = Losses(*(0.0 if n == loss else value for n, value in enumerate((0.03, 0.01))), 40.0)
        _, usual, wide = variances(tubes, known, ReportedPacking("sack", "bag", table, NOBODY))
        assert wide - usual == pytest.approx([ZERO_DOUBT**2 - 0.15**2 if n == loss else 0 for n in range(3)])


@pytest.mark.parametrize(
    ("rise", "wider"),
    [((1.0, 1.0), 1.0), ((0.5, 2.0), 1.5), ((0.1, 1.0), 3.5), ((2.0, 4.0), 1.0)],
    ids=["as it bends", "half as steep on one side", "hardly rising on one side", "steeper on both"],
)
def test_a_variance_is_widened_by_how_much_less_than_it_bends_the_cost_rises_on_either_side(
    rise: tuple[float, float], wider: float
) -> None:
    """A cost that bends as x**2 / 2 where it is lowest, and at 1.645 rises by a part of 1.645**2 / 2."""

    class Bent(_Model):
        precision = np.eye(1)

        def __init__(self) -> None:
            pass

        def cost(self, x: np.ndarray) -> tuple[float, np.ndarray]:
            part = 1.0 if abs(x[0]) < 1 else rise[int(x[0] > 0)]
            return part * float(x @ x) / 2, x

    assert Bent().doubt(np.zeros(1)) == pytest.approx(np.array([[wider]]), rel=1e-6)
