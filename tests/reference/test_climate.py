"""Monthly normals against a weather service's own: a month's mean is a month's mean within two degrees."""

from __future__ import annotations

from datetime import date

import pytest

from tests.post.a_shelf import a_shelf, day_warmth

#: Chicago O'Hare 1981-2010, mean temperature by month [F]: Illinois State Climatologist.
CHICAGO_F = (23.8, 27.7, 37.9, 48.9, 59.1, 68.9, 74.0, 72.4, 64.6, 52.5, 40.3, 27.7)
#: Tokyo 1991-2020 [C]: Japan Meteorological Agency (from memory).
TOKYO_C = (5.4, 6.1, 9.4, 14.3, 18.8, 21.9, 25.7, 26.9, 23.3, 18.0, 12.5, 7.7)


def outdoors(country: str, town: str, month: int) -> float:
    """The outdoor normal behind a parcel's low in the middle of a month: the model's section 4, turned
    round.
    """
    mean = day_warmth(a_shelf(), country, "", town, date(2027, month, 16)).low_c + 5
    return 2 * mean - 18 if mean < 16 else mean - 2


@pytest.mark.parametrize("month", range(1, 13))
def test_chicago_is_within_two_degrees_of_its_weather_service(month: int) -> None:
    official = (CHICAGO_F[month - 1] - 32) / 1.8
    assert outdoors("US", "Chicago", month) == pytest.approx(official, abs=2)


@pytest.mark.parametrize("month", range(1, 13))
def test_tokyo_is_within_two_degrees_of_its_weather_service(month: int) -> None:
    assert outdoors("JP", "Tokyo", month) == pytest.approx(TOKYO_C[month - 1], abs=2)


@pytest.mark.parametrize(("country", "town"), [("AU", "Sydney"), ("NZ", "Auckland"), ("ZA", "Cape Town")])
def test_january_is_summer_south_of_the_line(country: str, town: str) -> None:
    assert outdoors(country, town, 1) > outdoors(country, town, 7)
