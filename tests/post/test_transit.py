"""The journey: chances of arrival dates."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from shipping.post.transit import (
    Arrivals,
    Holiday,
    arrivals,
    disruptions_of,
    moved_by,
    services_to,
    working_day_chances,
)
from shipping.tables.country_parts import nearness, serves
from shipping.tables.rows.weather import Disruption
from tests.post.a_shelf import TODAY, a_service, a_shelf

ZONES = {"north": frozenset({"DK", "SE"})}
#: Every parcel takes exactly this many working days.
TWO_DAYS = {"early_d": 2, "usual_d": 2, "late_d": 2}


@pytest.mark.parametrize(
    ("to", "rank"),
    [
        (("ES", "es-gc"), 5),
        (("ES-CN", "*"), 4),
        (("DE", "ES"), 3),
        (("south", "*"), 2),
        (("*",), 1),
        (("DE", "ES-TF"), 0),
    ],
)
def test_a_place_is_named_by_part_before_code_before_zone_before_star(to: tuple[str, ...], rank: int) -> None:
    assert serves(to, nearness("ES", "GC", ("south",))) == rank


def test_each_service_goes_by_its_row_that_names_the_country_most_closely() -> None:
    rows = (a_service(to="*", late_d=9), a_service(to="north", late_d=7), a_service(to="DK", late_d=5))
    other = a_service(service="express", to="DE")
    for order in (rows, rows[::-1]):
        shelf = a_shelf(services=(*order, other), zones=ZONES)
        assert [(row.service, row.late_d) for row in services_to(shelf, "DK")] == [("letter", 5)]
        assert [(row.service, row.late_d) for row in services_to(shelf, "SE")] == [("letter", 7)]
        assert [row.service for row in services_to(shelf, "DE")] == ["express", "letter"]


def test_a_parcel_posted_before_easter_arrives_after_it() -> None:
    service = a_service(**TWO_DAYS)
    assert arrivals(service, date(2026, 4, 1), "GB", "ENG").dates == (date(2026, 4, 7),)


def test_what_is_collected_in_person_arrives_the_same_day_even_on_a_sunday() -> None:
    service = a_service(early_d=0, usual_d=0, late_d=0)
    found = arrivals(service, date(2026, 12, 6), "DK")
    assert (found.dates, found.chances.tolist()) == ((date(2026, 12, 6),), [1.0])


def test_the_chances_sum_to_one_and_the_dates_run_forward() -> None:
    found = arrivals(a_service(), date(2026, 12, 1), "DE", "BY")
    assert found.chances.sum() == pytest.approx(1, abs=1e-12)
    assert list(found.dates) == sorted(set(found.dates))
    assert found.p05 <= found.p50 <= found.p95


def test_the_median_working_day_is_the_usual_one() -> None:
    # usual_d = 3: Tuesday 1 December + 3 delivery days in Denmark = Friday 4 December.
    assert arrivals(a_service(), date(2026, 12, 1), "DK").p50 == date(2026, 12, 4)


def test_a_share_reached_but_for_rounding_is_reached() -> None:
    days = (date(2026, 12, 1), date(2026, 12, 2), date(2026, 12, 3))
    found = Arrivals(days, np.array([0.1 + 0.2, 0.65, 0.05]))
    assert found.quantile(0.95) == date(2026, 12, 2)
    assert found.quantile(0.3) == date(2026, 12, 1)
    assert found.quantile(0.96) == date(2026, 12, 3)


def test_of_a_hundred_days_as_likely_as_each_other_the_5th_50th_and_95th_are_named() -> None:
    days = tuple(TODAY + timedelta(days=n) for n in range(1, 101))
    found = Arrivals(days, np.full(100, 0.01))
    named = [TODAY + timedelta(days=n) for n in (5, 50, 95)]
    assert [found.p05, found.p50, found.p95] == named
    assert [found.spread.p05, found.spread.p50, found.spread.p95] == named


def test_a_hold_at_the_border_adds_its_days_to_its_share_of_parcels() -> None:
    held = a_service(**TWO_DAYS, border_share=0.25, border_early_d=3, border_usual_d=3, border_late_d=3)
    chances = working_day_chances(held.working_days, held.border_days, held.border_share)
    assert chances[2] == pytest.approx(0.75)
    assert chances[5] == pytest.approx(0.25)


def test_a_saturday_service_arrives_on_a_saturday() -> None:
    friday = date(2026, 12, 4)
    one_day = {"early_d": 1, "usual_d": 1, "late_d": 1}
    assert arrivals(a_service(**one_day, saturday="yes"), friday, "DE").dates == (date(2026, 12, 5),)
    assert arrivals(a_service(**one_day), friday, "DE").dates == (date(2026, 12, 7),)


def test_the_holidays_that_moved_an_arrival_are_named() -> None:
    moved = moved_by(a_service(**TWO_DAYS), date(2026, 4, 1), "GB", "ENG")
    assert moved == (
        Holiday(date(2026, 4, 3), "Good Friday", "GB"),
        Holiday(date(2026, 4, 6), "Easter Monday", "GB"),
    )


def test_a_holiday_on_a_weekend_moves_nothing() -> None:
    # 26 December 2026 is a Saturday.
    moved = moved_by(a_service(**TWO_DAYS), date(2026, 12, 24), "DE", "BY")
    assert [holiday.on for holiday in moved] == [date(2026, 12, 25)]


@pytest.mark.parametrize(
    ("first", "last", "is_met"), [(-2, -1, False), (-2, 0, True), (3, 9, True), (4, 9, False)]
)
def test_a_strike_is_met_from_the_day_of_posting_to_the_latest_likely_arrival_and_not_beside(
    first: int, last: int, is_met: bool
) -> None:
    # posted on a Monday, there on Tuesday at best and by Thursday in 95 of 100
    letter = a_service(early_d=1, usual_d=2, late_d=3)
    row = Disruption.model_validate(
        {
            "to": "DK",
            "from": TODAY + timedelta(days=first),
            "until": TODAY + timedelta(days=last),
            "source": "news",
        }
    )
    shelf = a_shelf(services=(letter,), disruptions=(row,))
    assert arrivals(letter, TODAY, "DK").p95 == TODAY + timedelta(days=3)
    assert bool(disruptions_of(shelf, letter, TODAY, "DK")) is is_met


def test_what_makes_journeys_longer_adds_as_many_working_days() -> None:
    # posted on a Tuesday: two working days and three more, the weekend between
    found = arrivals(a_service(**TWO_DAYS), date(2026, 12, 1), "DK", longer_d=3)
    assert found.dates == (date(2026, 12, 8),)


def test_a_holiday_on_the_day_of_posting_moves_nothing() -> None:
    assert moved_by(a_service(**TWO_DAYS), date(2026, 12, 25), "DK") == ()


def test_what_is_collected_in_person_meets_only_what_names_its_service() -> None:
    day = date(2026, 12, 1)
    service = a_service(service="at the door", early_d=0, usual_d=0, late_d=0)
    rows = [
        Disruption.model_validate(
            {"from": day, "until": day, "to": ("*",), "service": name, "stopped": True, "source": "a note"}
        )
        for name in (None, "at the door")
    ]
    met = disruptions_of(a_shelf(services=(service,), disruptions=tuple(rows)), service, day, "DK")
    assert [row.service for row in met] == ["at the door"]


def test_of_two_rows_that_name_a_country_alike_the_slower_one_is_promised_by() -> None:
    rows = (a_service(to="DK", late_d=9), a_service(to="DK SE", late_d=5))
    for order in (rows, rows[::-1]):
        assert [row.late_d for row in services_to(a_shelf(services=order), "DK")] == [9]


@pytest.mark.parametrize(("part", "is_met"), [("BY", True), ("BE", False), ("", False)])
def test_a_delay_of_a_part_of_the_country_is_met_by_what_goes_there(part: str, is_met: bool) -> None:
    row = Disruption(to="DE-BY", days=2, source="a storm", **{"from": TODAY, "until": TODAY})
    service = a_service()
    shelf = a_shelf(services=(service,), disruptions=(row,))
    assert bool(disruptions_of(shelf, service, TODAY, "DE", part)) is is_met
