"""Arrival, hatching and survival against every outcome counted out on small cases, and against two million
draws.

Neither shares code with the model: dates are walked day by day, K is drawn from its three points, eggs are
drawn one parcel at a time. Draws are seeded.
"""

from __future__ import annotations

import itertools
import math
from datetime import date, timedelta

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import beta, betabinom, binom, norm

from shipping.eggs.clock import effective_degrees, fresh_clock, shelf_heat
from shipping.eggs.hatching import hatch_risk
from shipping.eggs.overpack import alive_shares, chance_enough, overpacks
from shipping.post.transit import arrivals
from shipping.tables.rows.lots import Lot
from tests.eggs.one_trip import hatch_shares
from tests.post.a_shelf import a_service, a_species

pytestmark = pytest.mark.slow

DRAWS = 2_000_000
#: The 95 % point as the model writes it.
Z95 = 1.6449
#: A Monday; no public holiday in Denmark until 24 December.
DISPATCH = date(2026, 11, 30)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def three_points(draw: np.random.Generator, early: float, usual: float, late: float, size: int) -> Floats:
    """Draws of a split log-normal through its 5, 50 and 95 % points."""
    z = draw.standard_normal(size)
    return usual * np.exp(np.where(z < 0, z * np.log(usual / early), z * np.log(late / usual)) / Z95)


def working_days(draw: np.random.Generator, early: float, usual: float, late: float, size: int) -> Ints:
    """The same in whole working days; all below 1.5 is one."""
    return np.maximum(np.floor(three_points(draw, early, usual, late, size) + 0.5), 1).astype(np.int64)


def calendar_days(most: int) -> Ints:
    """Calendar days from the dispatch to the n-th weekday after it, for n = 0 .. ``most``."""
    found, day = [0], DISPATCH
    while len(found) <= most:
        day += timedelta(days=1)
        if day.weekday() < 5:
            found.append((day - DISPATCH).days)
    return np.array(found)


def within(share: float, chance: float, draws: int = DRAWS) -> bool:
    """Is a share of draws within four standard errors of a chance?"""
    return abs(share - chance) <= 4 * math.sqrt(max(chance * (1 - chance), 1 / draws) / draws)


# --- every outcome counted out


def test_dates_with_a_border_are_every_pair_of_counts_added_up() -> None:
    service = a_service(
        early_d=1, usual_d=2, late_d=3, border_share=0.3, border_early_d=1, border_usual_d=1, border_late_d=2
    )

    def chance(n: int, early: float, usual: float, late: float) -> float:
        def under(x: float) -> float:
            side = math.log(usual / early) if x < usual else math.log(late / usual)
            return float(norm.cdf(math.log(x / usual) * Z95 / side)) if side else float(x >= usual)

        return under(1.5) if n == 1 else under(n + 0.5) - under(n - 0.5)

    days = calendar_days(40)
    by_day: dict[int, float] = {}
    for n in range(1, 20):
        by_day[int(days[n])] = by_day.get(int(days[n]), 0) + 0.7 * chance(n, 1, 2, 3)
        for held in range(1, 20):
            both = 0.3 * chance(n, 1, 2, 3) * chance(held, 1, 1, 2)
            by_day[int(days[n + held])] = by_day.get(int(days[n + held]), 0) + both
    found = arrivals(service, DISPATCH, "DK")
    for day, share in zip(found.dates, found.chances, strict=True):
        assert share == pytest.approx(by_day[(day - DISPATCH).days], abs=1e-8)


def test_hatching_of_a_sure_clock_is_laying_days_counted_out() -> None:
    # K is exactly 10 d x 10 C-d. Four laying days at 20 C: on the morning of the dispatch eggs are 9, 8, 7, 6
    # days old.
    species = a_species(hatch_early_d=10, hatch_usual_d=10, hatch_late_d=10, incubation_c=20, zero_c=10)
    lot = a_lot(DISPATCH - timedelta(days=9), DISPATCH - timedelta(days=6))
    heat = shelf_heat(species, lot, ())
    clock = fresh_clock(species, lot, heat)
    # On the way 5 C-d a day: missing are 10, 20, 30, 40 C-d, reached after 2, 4, 6, 8 days.
    found = hatch_shares(clock, heat.at(DISPATCH), 5.0 * np.array([1, 2, 3, 4, 7, 8]))
    assert found == pytest.approx([0, 0.25, 0.25, 0.5, 0.75, 1])
    # Two dates: none of two eggs hatches by the second day with (3/4)^2, by the fourth with (1/2)^2.
    risk = hatch_risk(found[[1, 3]], np.array([0.6, 0.4]), 2)
    assert risk.per_egg == pytest.approx(0.6 * 0.25 + 0.4 * 0.5)
    assert risk.any_egg == pytest.approx(0.6 * (1 - 9 / 16) + 0.4 * (1 - 1 / 4))


def test_the_chance_of_enough_from_two_lots_is_every_pair_of_counts_added_up_on_every_journey() -> None:
    first, second = np.array([0.95, 0.7, 0.4]), np.array([0.9, 0.85, 0.2])
    chances = np.array([0.5, 0.3, 0.2])
    u = (np.arange(4000) + 0.5) / 4000  # how well the journey went, the same for both
    counted = 0.0
    for date_number, one, other in itertools.product(range(3), range(5), range(4)):
        if one + other >= 5:
            v, w = first[date_number], second[date_number]
            here = binom.pmf(one, 4, beta.ppf(u, v * 40, (1 - v) * 40))
            there = binom.pmf(other, 3, beta.ppf(u, w * 12, (1 - w) * 12))
            counted += chances[date_number] * float(np.mean(here * there))
    found = chance_enough(((4, first, 40.0), (3, second, 12.0)), chances, 5)
    assert found == pytest.approx(counted, abs=1e-4)


def test_the_fewest_eggs_are_found_by_trying_every_count() -> None:
    v, chances = np.array([0.9, 0.6, 0.3]), np.array([0.7, 0.2, 0.1])
    for ordered, promise in itertools.product((1, 2, 5, 12), (0.5, 0.8, 0.9)):
        tried = (
            (
                n,
                sum(
                    c * betabinom.sf(ordered - 1, n, a * 25, (1 - a) * 25)
                    for a, c in zip(v, chances, strict=True)
                ),
            )
            for n in itertools.count(ordered)
        )
        eggs, chance = next((n, chance) for n, chance in tried if chance >= promise)
        found = overpacks(
            v[None], chances[None], np.array([ordered]), np.array([10_000]), np.array([25.0]), promise
        )
        assert (found.pack[0], found.p_enough[0]) == (eggs, pytest.approx(chance, abs=1e-10))


# --- two million draws


def a_lot(laid_from: date, laid_to: date) -> Lot:
    return Lot(
        lot="A",
        species="gar",
        laid_from=laid_from,
        laid_to=laid_to,
        medium="water",
        kept_at_c=20,
        eggs=50,
        counted_on=DISPATCH,
    )


class Journey:
    """A lot seen eyed and live on the day it goes, by a post with a border; the model's figures and the drawn
    ones.
    """

    species = a_species(
        hatch_early_d=11, hatch_usual_d=13, hatch_late_d=18, incubation_c=23, zero_c=10, eyed_at=0.5
    )
    service = a_service(
        early_d=2, usual_d=3, late_d=6, border_share=0.25, border_early_d=1, border_usual_d=2, border_late_d=5
    )
    laid_from, laid_to = date(2026, 11, 17), date(2026, 11, 20)
    on_the_way_c = 17.0
    loss_handling, loss_per_day, fry_live, fertile_share, kappa = 0.04, 0.015, 0.4, 1.0, 40.0
    eggs, ordered = 28, 20

    def __init__(self) -> None:
        self._reckon()
        draw = np.random.default_rng(20261130)
        self._draw_days(draw)
        self._draw_eggs(draw)

    def _reckon(self) -> None:
        lot = a_lot(self.laid_from, self.laid_to)
        heat = shelf_heat(self.species, lot, ())
        x = heat.at(DISPATCH)
        clock = fresh_clock(self.species, lot, heat).seen("eyed", x, self.species, 0.10)
        found = arrivals(self.service, DISPATCH, "DK")
        self.chances = found.chances
        self.days = np.array([(day - DISPATCH).days for day in found.dates])
        self.h = hatch_shares(clock, x, effective_degrees(self.on_the_way_c, self.species) * self.days)
        self.v = alive_shares(
            self.days,
            self.h,
            loss_handling=self.loss_handling,
            loss_per_day=self.loss_per_day,
            fry_live=self.fry_live,
            fertile_share=self.fertile_share,
        )
        self.risk = hatch_risk(self.h, self.chances, self.eggs)

    def _draw_days(self, draw: np.random.Generator) -> None:
        counts = working_days(draw, 2, 3, 6, DRAWS)
        counts += np.where(draw.random(DRAWS) < 0.25, working_days(draw, 1, 2, 5, DRAWS), 0)
        self.drawn_days = calendar_days(int(counts.max()))[counts]

    def _draw_eggs(self, draw: np.random.Generator) -> None:
        """(Laying day, K) of eggs of the lot; those that had hatched or would show no eyes are not among
        those packed.
        """
        most = 23.0 - 10.0
        needs = three_points(draw, 11, 13, 18, DRAWS) * most
        had = draw.integers(10, 14, DRAWS) * 10.0  # 10 to 13 days at 20 C, 10 C above the zero
        shows = np.log(had / (0.5 * needs)) / 0.10 > draw.standard_normal(DRAWS)
        packed = (needs > had) & shows
        self.missing = np.sort((needs - had)[packed])

    def drawn_h(self, days: Ints) -> Floats:
        """The share of drawn eggs due within each of these days on the way."""
        return (
            np.searchsorted(self.missing, days * (self.on_the_way_c - 10.0), side="right") / self.missing.size
        )


@pytest.fixture(scope="module")
def journey() -> Journey:
    return Journey()


def test_arrival_days_are_as_often_as_drawn(journey: Journey) -> None:
    shares = np.bincount(journey.drawn_days, minlength=int(journey.days.max()) + 1) / DRAWS
    for day, chance in zip(journey.days, journey.chances, strict=True):
        assert within(float(shares[day]), float(chance)), day


def test_hatching_on_the_way_is_as_drawn_for_every_arrival_date(journey: Journey) -> None:
    drawn = journey.drawn_h(journey.days)
    assert journey.missing.size > DRAWS / 4
    assert 0.001 < journey.h[0] < journey.h[-1]
    for day, h, share in zip(journey.days, journey.h, drawn, strict=True):
        # The grid of K itself is good to 1e-5.
        assert within(float(share), float(h), journey.missing.size) or abs(share - h) < 1e-5, day


def test_parcels_with_any_hatched_are_as_many_as_drawn(journey: Journey) -> None:
    draw = np.random.default_rng(5)
    most = int(journey.drawn_days.max())
    hatched = draw.binomial(journey.eggs, journey.drawn_h(np.arange(most + 1))[journey.drawn_days])
    # The drawn h has an error of its own, common to all parcels: at the most 28 times that of one share.
    own = 4 * journey.eggs * math.sqrt(journey.risk.per_egg / journey.missing.size)
    spread = 4 * math.sqrt(journey.risk.any_egg * (1 - journey.risk.any_egg) / DRAWS)
    assert abs(float(np.mean(hatched > 0)) - journey.risk.any_egg) <= spread + own
    assert abs(float(hatched.mean()) / journey.eggs - journey.risk.per_egg) <= (spread + own) / math.sqrt(
        journey.eggs
    )


def test_parcels_with_enough_alive_are_as_many_as_drawn(journey: Journey) -> None:
    draw = np.random.default_rng(6)
    days = journey.drawn_days
    h = journey.drawn_h(np.arange(int(days.max()) + 1))[days]
    kept = np.exp(-journey.loss_handling - journey.loss_per_day * days) * (1 - h + h * journey.fry_live)
    alive = draw.binomial(journey.eggs, draw.beta(kept * journey.kappa, (1 - kept) * journey.kappa))
    v = float(np.dot(journey.v, journey.chances))
    expected = chance_enough(((journey.eggs, journey.v, journey.kappa),), journey.chances, journey.ordered)
    assert 0.5 < expected < 0.99
    assert abs(float(np.mean(alive >= journey.ordered)) - expected) <= 4 * math.sqrt(
        expected * (1 - expected) / DRAWS
    )
    assert abs(float(alive.mean()) / journey.eggs - v) <= 4 * float(alive.std()) / journey.eggs / math.sqrt(
        DRAWS
    )
