"""Delivery days against published calendars and two other day counters."""

from __future__ import annotations

import warnings
from datetime import date, timedelta

import numpy as np
import pytest

from shipping.post.calendar import holiday_name, is_delivery_day, is_weekend, nth_delivery_days
from tests.every_case import every

CHRISTMAS, EASTER = date(2026, 12, 22), date(2026, 4, 1)

#: Third and fifth delivery day after the day of posting (month, day): counted three ways (a plain loop,
#: numpy, and the
#: holidays library 0.109's own counter), which agreed.
AFTER_CHRISTMAS = {
    ("GB", "ENG"): ((12, 29), (12, 31)),
    ("CZ", ""): ((12, 29), (12, 31)),
    ("PL", ""): ((12, 29), (12, 31)),
    ("US", ""): ((12, 28), (12, 30)),
    ("DE", ""): ((12, 28), (12, 30)),
    ("DE", "BY"): ((12, 28), (12, 30)),
    ("JP", ""): ((12, 25), (12, 29)),
    ("IL", ""): ((12, 27), (12, 29)),
    ("SA", ""): ((12, 27), (12, 29)),
}
AFTER_EASTER = {
    ("GB", "ENG"): ((4, 8), (4, 10)),
    ("DE", ""): ((4, 8), (4, 10)),
    ("CZ", ""): ((4, 8), (4, 10)),
    ("PL", ""): ((4, 7), (4, 9)),
    ("US", ""): ((4, 6), (4, 8)),
    ("JP", ""): ((4, 6), (4, 8)),
    ("SA", ""): ((4, 6), (4, 8)),
    ("IL", ""): ((4, 7), (4, 12)),
}
CASES = [
    (start, place, days)
    for start, table in ((CHRISTMAS, AFTER_CHRISTMAS), (EASTER, AFTER_EASTER))
    for place, days in table.items()
]


@pytest.mark.parametrize(("start", "place", "days"), CASES)
def test_the_third_and_fifth_day_after_posting(
    start: date, place: tuple[str, str], days: tuple[tuple[int, int], tuple[int, int]]
) -> None:
    found = nth_delivery_days(start, 5, *place)
    assert [(day.month, day.day) for day in (found[2], found[4])] == list(days)


@pytest.mark.parametrize("place", sorted(AFTER_CHRISTMAS))
def test_numpy_counts_the_same_days(place: tuple[str, str]) -> None:
    import holidays

    country, part = place
    listed = holidays.country_holidays(country, subdiv=part or None, years=(2026, 2027))
    mask = [day not in listed.weekend for day in range(7)]
    for start in (CHRISTMAS, EASTER, date(2026, 7, 1), date(2026, 10, 30)):
        counted = np.busday_offset(
            start, range(1, 31), roll="backward", weekmask=mask, holidays=sorted(listed)
        )
        # A start that is itself no delivery day rolls back to the last one; none of these is before a gap.
        assert nth_delivery_days(start, 30, country, part) == tuple(day.astype(object) for day in counted)


def test_the_bank_holidays_of_england_in_2026() -> None:
    # The official list, 26 December (a Saturday) kept on the 28th: from memory, as the holidays library 0.109
    # has it.
    listed = {(1, 1), (4, 3), (4, 6), (5, 4), (5, 25), (8, 31), (12, 25), (12, 28)}
    year = [date(2026, 1, 1) + timedelta(days=n) for n in range(365)]
    off = {
        (day.month, day.day)
        for day in year
        if day.weekday() < 5 and not is_delivery_day(day, "GB", "ENG", False)
    }
    assert off == listed
    assert holiday_name(date(2026, 12, 26), "GB", "ENG") is not None


def test_independence_day_on_a_saturday_is_kept_on_the_friday_in_the_united_states() -> None:
    # 4 July 2026 is a Saturday: no post on Friday the 3rd, nor on a Saturday service's 4th.
    assert not is_delivery_day(date(2026, 7, 3), "US", "", False)
    assert not is_delivery_day(date(2026, 7, 4), "US", "", True)


def test_czechia_keeps_thirteen_public_holidays_in_2026() -> None:
    year = [date(2026, 1, 1) + timedelta(days=n) for n in range(365)]
    assert sum(holiday_name(day, "CZ") is not None for day in year) == 13


WEEKENDS = {
    "Fri Sat": ("IL", "SA", "EG", "BD", "QA", "JO", "DZ", "KW", "DJ", "MV", "AF"),
    "Fri": ("IR",),
    "Fri Sun": ("BN",),
    "Sun": ("HK",),
    "Sat Sun": ("AE", "US", "DE", "NP", "MY", "UG"),
}


@every(("days", "country"), [(days, code) for days, codes in WEEKENDS.items() for code in codes])
def test_the_weekend_of_each_country(days: str, country: str) -> None:
    monday = date(2026, 6, 1)
    week = [monday + timedelta(days=n) for n in range(7)]
    assert " ".join(f"{day:%a}" for day in week if is_weekend(day, country)) == days


#: Where workalendar 17 and the holidays library agree date for date.
AGREED = ("AT", "CZ", "DE", "EE", "FI", "FR", "HR", "LT", "LU", "MT", "NO", "PT", "SI", "SV")


@pytest.mark.parametrize("country", AGREED)
def test_workalendar_has_the_same_weekdays_off(country: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the unmaintained oracle uses old interfaces
        from workalendar.registry import registry

        calendar = registry.get(country)()
        listed = {day for year in (2024, 2025, 2026) for day, _ in calendar.holidays(year)}
    days = [date(2024, 1, 1) + timedelta(days=n) for n in range(366 + 365 + 365)]
    for day in days:
        if day.weekday() < 5:
            assert is_delivery_day(day, country, "", False) == (day not in listed), day
