"""Days on which the post delivers or takes in, and until which hour: a day and a place in, yes or no out."""

from __future__ import annotations

from bisect import bisect_right
from calendar import monthrange
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from shipping.tables.country_parts import calendar_parts, holiday_calendar, larger_part
from shipping.tables.rows.services import Service
from shipping.tables.rows.settings import Home
from shipping.tables.shelf import Shelf
from shipping.words.sentence import say
from shipping.words.units import weekday

_SATURDAY = 5
_SATURDAY_AND_SUNDAY = frozenset({5, 6})


def has_own_calendar(country: str, subdivision: str) -> bool:
    """Is there a calendar for this subdivision or the larger part it lies in, not only the country's?"""
    parts = calendar_parts(country)
    return subdivision in parts or larger_part(country, subdivision) in parts


@dataclass(frozen=True, slots=True)
class _Year:
    """Public holidays of one place in one year, and its weekend as weekday numbers (Monday is 0)."""

    holidays: Mapping[date, str]
    weekend: frozenset[int]


@lru_cache(maxsize=4096)
def _year(country: str, subdivision: str, year: int) -> _Year:
    calendar = holiday_calendar(country)
    if calendar is None:
        return _Year({}, _SATURDAY_AND_SUNDAY)
    english = sorted((name for name in calendar.supported_languages if name.startswith("en")), reverse=True)
    parts = (subdivision, larger_part(country, subdivision))
    part = next((part for part in parts if part in calendar.subdivisions), None)
    language = english[0] if english else None
    days = calendar(years=year, subdiv=part, language=language)
    midyear = date(year, 7, 1)
    weekend = frozenset(
        n for n in range(7) if days.is_weekend(midyear + timedelta(days=(n - midyear.weekday()) % 7))
    )
    own = {day: str(name) for day, name in days.items() if day.year == year}
    return _Year({**_year(country, "", year).holidays, **own} if part else own, weekend)


@lru_cache(maxsize=512)
def holidays_differ_within(country: str, year: int) -> bool:
    """Has a part of the country holidays of its own that year?"""
    whole = _year(country, "", year).holidays.keys()
    return any(
        _year(country, part, year).holidays.keys() != whole for part in sorted(calendar_parts(country))
    )


def has_calendar(country: str) -> bool:
    """Does the holidays library know the country?"""
    return holiday_calendar(country) is not None


def holidays_of(country: str, year: int) -> Mapping[date, str]:
    """The national public holidays of a year; empty where the holidays library names none."""
    return _year(country, "", year).holidays


def is_weekend(day: date, country: str) -> bool:
    """Is it a day of the country's own weekend?"""
    return day.weekday() in _year(country, "", day.year).weekend


def is_post_weekday(day: date, country: str, saturday: bool) -> bool:
    """Would post be delivered there on such a weekday, were it no holiday?"""
    return not is_weekend(day, country) or (saturday and day.weekday() == _SATURDAY)


def holiday_name(day: date, country: str, subdivision: str = "") -> str | None:
    """The public holiday's name, in English where the library has it, or None on any other day."""
    return _year(country, subdivision, day.year).holidays.get(day)


def cut_off_of(service: str, shelf: Shelf) -> str | None:
    """The hour until which a service takes parcels in, where the table says it."""
    return min(
        (row.cut_off for row in shelf.services if row.service == service and row.cut_off), default=None
    )


def past_cut_off(cut_off: str | None, day: date, today: date | None, hour: str) -> str:
    """What to say where the hour is past on its very day; "" where it is not, or ``hour`` is not known."""
    if not cut_off or day != today or not cut_off <= hour:
        return ""
    return say("{cut_off} is past: plan for the next day, or say that you handed it over earlier.", cut_off)


def is_delivery_day(day: date, country: str, subdivision: str, saturday: bool) -> bool:
    """Is post delivered there that day: no weekend of the country, no public holiday of it or of the
    subdivision?

    With ``saturday`` (the service delivers then) a Saturday of the weekend counts. Where the holidays library
    has no calendar for the country, only Saturday and Sunday are left out.

    References
    ----------
    The holidays library, category "public". Checked against numpy and workalendar in ``tests/reference``.
    """
    return is_post_weekday(day, country, saturday) and holiday_name(day, country, subdivision) is None


def is_hand_over_day(day: date, service: Service, home: Home) -> bool:
    """Can a parcel be handed over that day: a weekday of the service, no holiday, no weekend at home?"""
    at_counter = weekday(day) in service.hand_over
    return at_counter and is_delivery_day(day, home.country, home.subdivision, saturday=False)


@lru_cache(maxsize=65536)
def nth_delivery_days(
    start: date, count: int, country: str, subdivision: str = "", saturday: bool = False
) -> tuple[date, ...]:
    """The 1st .. count-th delivery days strictly after ``start``, in order [count dates]."""
    days: tuple[date, ...] = ()
    year, month = start.year, start.month
    while len(days) < count:
        of_month = _delivery_days(year, month, country, subdivision, saturday)
        days += of_month[bisect_right(of_month, start) :][: count - len(days)]
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)
    return days


@lru_cache(maxsize=16384)
def _delivery_days(year: int, month: int, country: str, subdivision: str, saturday: bool) -> tuple[date, ...]:
    days = (date(year, month, n) for n in range(1, monthrange(year, month)[1] + 1))
    return tuple(day for day in days if is_delivery_day(day, country, subdivision, saturday))
