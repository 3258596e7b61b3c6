"""What a packing costs: known truths are found again, a few parcels move a figure little, many much, a mishap
not.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from shipping.eggs.overpack import overpacks
from shipping.learning.estimate import Estimate
from shipping.learning.lesson import counts_of
from shipping.learning.losses import (
    FERTILE_DOUBT,
    KAPPA_DOUBT,
    LOSS_DOUBT,
    ZERO_DOUBT,
    ZERO_LOSS,
    Counts,
    Losses,
    ReportedPacking,
    alive_share,
    as_read,
    fitted_fertile_share,
    fitted_losses,
    forgiven_share,
    likelihood,
    loss_prior,
    pooled_losses,
)
from shipping.learning.outcomes import Outcome, frame
from tests.ledger.invented import drawn, outcome

TABLE = Losses(0.03, 0.01, 40.0)
TRUTH = Losses(0.08, 0.03, 15.0)


def counted(found: tuple[Outcome, ...]) -> Counts:
    return counts_of(frame(found))


def four_day_loss(losses: Losses) -> float:
    return losses.loss_handling + 4 * losses.loss_per_day


def test_chances_are_those_of_a_beta_binomial() -> None:
    """Against scipy.stats.betabinom."""
    counts = Counts.of(np.full(21, 20.0), np.arange(21.0), np.full(21, 3.0), np.ones(21))
    v = alive_share(TABLE, counts)
    expected = stats.betabinom.logpmf(np.arange(21), 20, v * 40, (1 - v) * 40).sum()
    assert likelihood(counts, TABLE)[0] == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5])
def test_known_losses_are_found_again_from_2000_parcels(seed: int) -> None:
    """Stated error: loss at handling 0.02, a day 0.004, over four days 0.008, kappa 15 %."""
    found = fitted_losses(counted(drawn(2000, TRUTH, seed)), TABLE)
    assert found.loss_handling == pytest.approx(TRUTH.loss_handling, abs=0.02)
    assert found.loss_per_day == pytest.approx(TRUTH.loss_per_day, abs=0.004)
    assert four_day_loss(found) == pytest.approx(four_day_loss(TRUTH), abs=0.008)
    assert found.kappa == pytest.approx(TRUTH.kappa, rel=0.15)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_ten_parcels_move_a_loss_a_little_and_five_hundred_a_lot(seed: int) -> None:
    way = math.log(four_day_loss(TRUTH) / four_day_loss(TABLE))
    few = (
        math.log(four_day_loss(fitted_losses(counted(drawn(10, TRUTH, seed)), TABLE)) / four_day_loss(TABLE))
        / way
    )
    many = (
        math.log(four_day_loss(fitted_losses(counted(drawn(500, TRUTH, seed)), TABLE)) / four_day_loss(TABLE))
        / way
    )
    assert 0.05 < few < 0.65
    assert many > 0.85


def test_ten_parcels_move_the_spread_a_little_too() -> None:
    wild = Losses(TABLE.loss_handling, TABLE.loss_per_day, 4.0)
    for seed in (1, 2, 3):
        assert 20.0 < fitted_losses(counted(drawn(10, wild, seed)), TABLE).kappa < 35.0


def test_without_parcels_the_tables_values_come_back() -> None:
    empty = Counts(*(np.zeros(0) for _ in range(5)))
    assert fitted_losses(empty, TABLE) == TABLE


def extra_eggs(losses: Losses, ordered: int) -> int:
    v = np.array([[math.exp(-four_day_loss(losses))]])
    found = overpacks(
        v, np.ones((1, 1)), np.array([ordered]), np.array([400]), np.array([losses.kappa]), 0.95
    )
    return int(found.pack[0]) - ordered


@pytest.mark.parametrize("parcels", [0, 10, 30])
def test_one_ruined_parcel_does_not_double_the_margin(parcels: int) -> None:
    good = drawn(parcels, TABLE, 5)
    ruined = outcome(99_999, living=0)
    before = extra_eggs(fitted_losses(counted(good), TABLE) if good else TABLE, 20)
    after_losses = fitted_losses(counted((*good, ruined)), TABLE)
    assert extra_eggs(after_losses, 20) <= before + 2


def read(*living: int, lines: int = 1) -> list[float]:
    """How lines of 24 eggs, two days on the way, are read, in turn; ``lines`` good ones besides."""
    n = lines + len(living)
    ones, counts = np.ones(n), np.array([*living, *[22] * lines], dtype=float)
    found = Counts(24 * ones, counts, 2 * ones, ones, ones)
    return as_read(found, TABLE, forgiven_share([(found, TABLE)])).living[: len(living)].tolist()


def test_a_mishap_is_read_as_the_worst_that_the_table_foretells_of_all_but_one_in_2000() -> None:
    v = math.exp(-0.05)
    worst = float(stats.betabinom.ppf(0.0005, 24, v * 40, (1 - v) * 40))
    assert worst == 16
    for living in (0, 10, 15):
        assert read(living) == [worst]
    assert read(16) + read(24) == [16, 24]


def test_mishaps_among_few_share_what_is_forgiven_of_one_and_three_in_150_are_forgiven_whole() -> None:
    assert read(0, 0) == [8, 8]
    assert read(0, 0, 0, 0) == [4, 4, 4, 4]
    assert read(0, 0, 0, lines=147) == [16] * 3
    assert read(0, 0, 0, lines=96) == pytest.approx([16 * 1.98 / 3] * 3)


def test_a_line_a_little_below_what_one_in_a_hundred_are_needs_a_part_of_a_mishap() -> None:
    """18 is one below 19, of the 1.9 that are a tenth: 10/19 of one."""
    assert read(0, 18) == pytest.approx([16 / (1 + 10 / 19), 18])


def test_what_may_be_forgiven_is_counted_over_all_packings() -> None:
    ruined = counted((outcome(1, living=0),))
    assert forgiven_share([(ruined, TABLE)]) == 1
    assert forgiven_share([(ruined, TABLE), (ruined, TABLE)]) == 0.5


@pytest.mark.parametrize(("living", "told"), [((16,), 0), ((15,), 1), ((0,), 1), ((0, 0), 0), ((0, 18), 1)])
def test_lines_below_the_worst_foretold_are_told_as_mishaps_if_mostly_forgiven(
    living: tuple[int, ...], told: int
) -> None:
    counts = counted(tuple(outcome(n, living=alive) for n, alive in enumerate(living)))
    (taught,) = pooled_losses([ReportedPacking("tube", "tube", TABLE, counts)])
    assert taught.mishaps == told


def test_the_middle_of_a_loss_is_the_tables_however_small_and_doubt_is_wide_only_where_it_says_none() -> None:
    middle, doubt = loss_prior(Losses(0.0005, 0.0, 40.0))
    assert middle == pytest.approx(np.log([0.0005, ZERO_LOSS, 40.0]))
    assert doubt.tolist() == [LOSS_DOUBT, ZERO_DOUBT, KAPPA_DOUBT]


def test_lines_are_put_together_that_agree_to_a_ten_thousandth() -> None:
    shares = np.array([0.9981, 0.9979, 0.99806])
    counts = Counts.of(np.full(3, 20.0), np.full(3, 18.0), np.full(3, 3.0), shares)
    assert counts.other_share == pytest.approx([0.9979, 0.9981])
    assert counts.lines.tolist() == [1, 2]


def test_many_ruined_parcels_do_widen_the_margin() -> None:
    good = drawn(30, TABLE, 5)
    ruined = tuple(outcome(90_000 + n, living=2) for n in range(12))
    before, after = (fitted_losses(counted(some), TABLE) for some in (good, (*good, *ruined)))
    assert extra_eggs(after, 20) > 2 * extra_eggs(before, 20)


def test_the_slope_of_the_likelihood_is_that_of_its_values() -> None:
    """Against differences of the values themselves: a wrong slope stops the search early and teaches the
    wrong loss.
    """
    from scipy.optimize import approx_fprime

    counts = counted((*drawn(40, TRUTH, 6), outcome(99_999, living=1)))

    def value(x: np.ndarray) -> float:
        return likelihood(counts, Losses(*np.exp(x)))[0]

    at = np.log([0.05, 0.02, 20.0])
    slope = likelihood(counts, Losses(0.05, 0.02, 20.0))[1]
    assert slope == pytest.approx(approx_fprime(at, value, 1e-6), rel=1e-3, abs=1e-2)


def test_learned_losses_foretell_held_out_parcels_better_than_the_table() -> None:
    learned = fitted_losses(counted(drawn(300, TRUTH, 11)), TABLE)
    held_out = counted(drawn(700, TRUTH, 12))

    of_learned, of_table, of_truth = (likelihood(held_out, losses)[0] for losses in (learned, TABLE, TRUTH))
    assert of_learned > of_table + 100
    assert of_learned > of_truth - 10


def test_a_table_that_is_right_is_left_nearly_as_it_is() -> None:
    found = fitted_losses(counted(drawn(500, TABLE, 3)), TABLE)
    assert four_day_loss(found) == pytest.approx(four_day_loss(TABLE), rel=0.12)


def test_a_loss_of_zero_in_the_table_can_be_learned_away_from_zero() -> None:
    found = fitted_losses(counted(drawn(500, TRUTH, 4)), Losses(0.08, 0.0, 40.0))
    assert found.loss_per_day == pytest.approx(TRUTH.loss_per_day, abs=0.008)


def test_equal_lines_weigh_the_same_put_together_or_apart() -> None:
    one = counted(tuple(outcome(n, living=20) for n in range(50)))
    assert (one.packed.size, one.total) == (1, 50)
    apart = Counts(
        *(np.repeat(values, 50) for values in (one.packed, one.living, one.days, one.other_share)),
        np.ones(50),
    )
    together, separate = fitted_losses(one, TABLE), fitted_losses(apart, TABLE)
    assert together.loss_handling == pytest.approx(separate.loss_handling, rel=1e-4)


def test_the_fertile_share_is_found_again_from_eggs_nobody_had_seen() -> None:
    counts = counted(drawn(1500, TABLE, 8, other_share=0.70))
    plain = Counts(counts.packed, counts.living, counts.days, np.ones_like(counts.days), counts.lines)
    share = fitted_fertile_share(plain, TABLE, 0.85)
    value, low, high = share.value, share.low, share.high
    assert value == pytest.approx(0.70, abs=0.015)
    assert value - 0.03 < low < value < high < value + 0.03


def test_a_fertile_share_is_learned_no_further_than_three_logits_from_the_setting() -> None:
    """2,000 lines of which one egg in twenty lived: from 0.85 the odds fall by e^3 and no more."""
    lines = 2000.0
    found = Counts(np.array([20.0]), np.array([1.0]), np.array([3.0]), np.ones(1), np.array([lines]))
    value = fitted_fertile_share(found, TABLE, 0.85).value
    assert value / (1 - value) == pytest.approx(0.85 / 0.15 * math.exp(-3), rel=0.01)


def test_the_fertile_share_is_the_likeliest_by_the_lines_and_a_normal_logit_around_the_setting() -> None:
    """By a grid; the logit's standard deviation is `FERTILE_DOUBT`."""
    rng, setting, losses = np.random.default_rng(6), 0.85, Losses(0.03, 0.01, 30.0)
    packed, days = np.full(12, 24.0), np.full(12, 3.0)
    living = rng.binomial(24, 0.72, 12).astype(float)
    counts = Counts.of(packed, living, days, np.ones(12))
    logits = np.linspace(-1.0, 3.0, 4001)
    shares = 1.0 / (1.0 + np.exp(-logits))
    v = alive_share(losses, counts)
    a, b = losses.kappa * np.outer(shares, v), losses.kappa * (1 - np.outer(shares, v))
    likely = stats.betabinom.logpmf(counts.living, counts.packed, a, b) @ counts.lines
    prior = stats.norm.logpdf(logits, np.log(setting / (1 - setting)), FERTILE_DOUBT)
    best = float(shares[np.argmax(likely + prior)])
    assert fitted_fertile_share(counts, losses, setting).value == pytest.approx(best, abs=5e-4)
    assert 0.6 < best < 0.85


@pytest.mark.parametrize("setting", [0.0, 1.0])
def test_a_fertile_share_set_to_none_or_all_is_not_learned(setting: float) -> None:
    counts = Counts.of(np.array([24.0]), np.array([12.0]), np.array([3.0]), np.ones(1))
    assert fitted_fertile_share(counts, Losses(0.03, 0.01, 30.0), setting) == Estimate.of_table(setting)
