"""How long a service really takes, learned from arrivals around the table's own days."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from shipping.learning.transit_days import (
    PRIOR_PARCELS,
    _posterior,
    day_counts,
    fitted_days,
    without_stragglers,
    working_days,
)
from shipping.post.transit import working_day_chances
from shipping.tables.rows.services import Service
from shipping.words.three_point import ThreePoint, whole_days
from tests.ledger.invented import LETTER

HOME = LETTER.model_copy(update={"border_share": 0.0})


def days_drawn(points: ThreePoint, count: int, seed: int) -> list[int]:
    chances = points.days()
    return [int(day) for day in np.random.default_rng(seed).choice(chances.size, size=count, p=chances)]


def test_a_parcel_over_christmas_took_few_working_days() -> None:
    """Denmark: 24 December is no public holiday in the holidays library, 25 and 26 are; 27 is a Sunday in
    2026.
    """
    assert working_days(date(2026, 12, 23), date(2026, 12, 29), HOME, "DK", "") == 3
    assert working_days(date(2026, 11, 30), date(2026, 12, 2), HOME, "DK", "") == 2
    assert working_days(date(2026, 11, 28), date(2026, 11, 29), HOME, "DK", "") == 1


def test_without_arrivals_the_tables_days_come_back() -> None:
    assert fitted_days(LETTER, [], []).points == LETTER.working_days


def test_each_parcel_counts_once_beside_a_table_that_weighs_twelve() -> None:
    """12 of the table and 4 parcels, 3 of them on day 3: (12 p + 3) / 16, abroad without border too."""
    prior = whole_days(HOME.working_days)
    counts = day_counts([3, 3, 3, 4])
    expected = PRIOR_PARCELS * prior
    expected[3:5] += (3, 1)
    for home, abroad in ((counts, ()), ((), counts), (day_counts([3, 4]), day_counts([3, 3]))):
        assert _posterior(HOME, home, abroad) == pytest.approx(expected / 16)


def test_a_parcel_from_abroad_is_shared_among_the_days_up_to_its_own_and_the_table_keeps_its_weight() -> None:
    prior = whole_days(LETTER.working_days)
    explained = 18 * _posterior(LETTER, (), day_counts([4] * 6)) - PRIOR_PARCELS * prior
    assert explained.sum() == pytest.approx(6)
    assert explained[5:] == pytest.approx(0)
    assert explained.min() > -1e-6
    assert explained[1:5].argmax() + 1 == 4, "four in five are not held"


def test_known_days_are_found_again_from_2000_parcels() -> None:
    truth = ThreePoint(2, 4, 9)
    found = fitted_days(HOME, days_drawn(truth, 2000, 1), []).points
    assert found.usual == pytest.approx(4, rel=0.06)
    assert found.late == pytest.approx(9, rel=0.08)
    expected = truth.days()
    learned = found.days()
    size = max(expected.size, learned.size)
    gap = np.abs(
        np.cumsum(np.pad(expected, (0, size - expected.size)))
        - np.cumsum(np.pad(learned, (0, size - learned.size)))
    )
    assert gap.max() < 0.03


def test_ten_arrivals_move_the_days_less_than_half_way_and_five_hundred_nearly_all_the_way() -> None:
    truth = ThreePoint(2, 4, 9)
    few = fitted_days(HOME, days_drawn(truth, 10, 2), []).points.usual
    many = fitted_days(HOME, days_drawn(truth, 500, 2), []).points.usual
    assert 2.1 < few < 3.3
    assert many == pytest.approx(4, rel=0.08)


def test_a_hold_at_the_border_is_not_blamed_on_the_service() -> None:
    """Parcels abroad follow the table with its border; the days of the service itself must stay what they
    are.
    """
    chances = working_day_chances(LETTER.working_days, LETTER.border_days, LETTER.border_share)
    drawn = [int(day) for day in np.random.default_rng(3).choice(chances.size, size=2000, p=chances)]
    with_border = fitted_days(LETTER, [], drawn).points
    blamed = fitted_days(HOME, drawn, []).points
    assert with_border.late == pytest.approx(LETTER.late_d, rel=0.1)
    assert blamed.late > 1.3 * LETTER.late_d


def test_eggs_fetched_in_person_take_no_days_to_learn() -> None:
    collected = Service(service="collected", to="DK", early_d=0, usual_d=0, late_d=0, hand_over="Mon-Sun")
    assert fitted_days(collected, [0, 0, 0], []).points == ThreePoint(0, 0, 0)


def test_what_is_fetched_on_the_day_it_was_handed_over_took_no_day_and_by_post_at_least_one() -> None:
    collected = Service(service="collected", to="DK", early_d=0, usual_d=0, late_d=0, hand_over="Mon-Sun")
    monday = date(2026, 11, 30)
    assert working_days(monday, monday, collected, "DK", "") == 0
    assert working_days(monday, monday, HOME, "DK", "") == 1


def test_parcels_from_abroad_make_the_days_as_sure_as_parcels_at_home() -> None:
    drawn = days_drawn(ThreePoint(2, 4, 9), 200, 4)
    assert fitted_days(HOME, [], drawn) == fitted_days(HOME, drawn, [])


def test_counts_by_day_start_at_day_zero() -> None:
    assert day_counts([2, 2, 4]) == (0, 0, 2, 0, 1)
    assert day_counts([]) == ()


def test_intervals_of_the_days_hold_the_truth_of_seasons_and_narrow_with_parcels() -> None:
    """25 seasons of 200 parcels; the interval of 90 % of the usual and the late day."""
    truth = ThreePoint(2, 4, 9)
    held = []
    for seed in range(25):
        found = fitted_days(HOME, days_drawn(truth, 200, seed), [])
        held += [found.low[1] < 4 < found.high[1], found.low[2] < 9 < found.high[2]]
    assert 0.8 <= np.mean(held) <= 1.0
    few, many = (fitted_days(HOME, days_drawn(truth, count, 1), []) for count in (20, 2000))
    assert few.high[1] - few.low[1] > 3 * (many.high[1] - many.low[1])


def test_one_parcel_of_a_few_or_one_in_many_is_a_straggler_and_two_of_a_few_are_the_service() -> None:
    days, far = [2, 3, 3, 4], 1000
    assert without_stragglers(LETTER, [*days, far]) == (days, 1)
    assert without_stragglers(LETTER, [*days, far, far]) == ([*days, far, far], 0)


@pytest.mark.parametrize(("service", "last"), [(HOME, 10), (LETTER, 28)])
def test_a_straggler_is_later_than_twice_the_late_day_and_that_of_the_border(
    service: Service, last: int
) -> None:
    """Late days of 5, and of 9 more where parcels are held."""
    assert without_stragglers(service, [2, 3, last]) == ([2, 3, last], 0)
    assert without_stragglers(service, [2, 3, last + 1]) == ([2, 3], 1)
