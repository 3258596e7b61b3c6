"""A part of a country that only the postcode tells: its rules, weather, delays and customs hold, its holidays
where the order names it.
"""

from __future__ import annotations

from datetime import date

import pytest

from shipping.options.option_factory import OptionFactory
from shipping.papers.documents.customs_sheet import crosses_customs
from shipping.post.calendar import holiday_name
from shipping.tables.rows.weather import Disruption, Weather
from shipping.tables.shelf import Shelf
from tests.post.a_shelf import TODAY
from tests.week.a_week import a_row, a_week, plan_of

PLACES = [
    ("ES", "35001", "ES-CN"),
    ("ES", "38001", "ES-CN"),
    ("GB", "BT1 1AA", "GB-NIR"),
    ("US", "96813", "US-HI"),
    ("PT", "9000-001", "PT-30"),
    ("GR", "712 01", "GR-M"),
    ("IT", "90100", "IT-82"),
]


def week_to(country: str, postcode: str, part: str, region: str = "") -> Shelf:
    """One order, a row of weather for all, a hotter one for the part, and the post stopped there."""
    row = a_row("A", country=country, postcode=postcode, region=region, town="Bytown")
    weather = (
        Weather(to="*", month=11, low_c=15, high_c=20),
        Weather(to="*", month=12, low_c=15, high_c=20),
        Weather(to=part, month=11, low_c=21, high_c=33),
        Weather(to=part, month=12, low_c=21, high_c=33),
    )
    stop = Disruption(to=(part,), **{"from": TODAY, "until": TODAY}, stopped=True, source="a storm")
    return a_week(row, weather=weather, disruptions=(stop,))


@pytest.mark.parametrize(("country", "postcode", "part"), PLACES)
@pytest.mark.parametrize("is_named", [True, False])
def test_weather_and_delays_of_a_part_are_felt_where_the_postcode_alone_tells_it(
    country: str, postcode: str, part: str, is_named: bool
) -> None:
    shelf = week_to(country, postcode, part, region=part if is_named else "")
    factory = OptionFactory(shelf)
    leg = factory.leg(shelf.services[0], factory.destination(shelf.orders[0]), TODAY)
    assert (leg.warmth.low_c, leg.warmth.high_c) == (21, 33)
    assert [row.source for row in leg.disruptions] == ["a storm"]


@pytest.mark.parametrize(("country", "postcode", "part"), PLACES)
def test_elsewhere_in_the_country_they_are_not(country: str, postcode: str, part: str) -> None:
    shelf = week_to(country, {"GB": "YO1 7HH", "US": "97201", "IT": "40121"}.get(country, "4000"), part)
    factory = OptionFactory(shelf)
    leg = factory.leg(shelf.services[0], factory.destination(shelf.orders[0]), TODAY)
    assert (leg.warmth.low_c, leg.warmth.high_c, leg.disruptions) == (15, 20, ())


@pytest.mark.parametrize(
    ("region", "calendar_part"), [("", ""), ("somewhere", ""), ("CN", "CN"), ("ES-CN", "CN")]
)
def test_holidays_of_a_part_hold_where_the_order_names_it_and_else_the_national_ones(
    region: str, calendar_part: str
) -> None:
    shelf = a_week(a_row("A", **_to("ES", "35001"), region=region))
    to = OptionFactory(shelf).destination(shelf.orders[0])
    assert to.subdivision in ("CN", "GC")
    assert to.calendar_part == calendar_part


def test_holidays_of_the_community_hold_in_its_province() -> None:
    day_of_the_islands = date(2026, 5, 30)
    assert holiday_name(day_of_the_islands, "ES", "GC") is not None
    assert holiday_name(day_of_the_islands, "ES", "M") is None


@pytest.mark.parametrize(("postcode", "crosses"), [("35001", True), ("51001", True), ("28001", False)])
def test_customs_ask_for_a_form_to_the_islands_that_the_postcode_tells(postcode: str, crosses: bool) -> None:
    shelf = a_week(a_row("A", **_to("ES", postcode)), country="ES")
    (parcel,) = plan_of(shelf).parcels
    assert crosses_customs(parcel, shelf) == crosses


def _to(country: str, postcode: str) -> dict[str, str]:
    return {"country": country, "postcode": postcode}
