"""A part of a country that only the postcode tells: its rules, weather, delays and customs hold, its holidays
where the order names it.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from shipping.options.option import Destination
from shipping.options.option_factory import OptionFactory
from shipping.papers.documents.customs_sheet import crosses_customs
from shipping.post.calendar import holiday_name
from shipping.questions.can_it_ship import ask
from shipping.questions.why import why
from shipping.tables.rows.orders import OrderRow
from shipping.tables.rows.weather import Disruption, Weather
from shipping.tables.shelf import Shelf
from shipping.worktop.kept_week import is_taken_in
from tests.post.a_shelf import TODAY, a_price, a_service
from tests.week.a_week import WEEK, a_row, a_week, plan_of

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


#: The post's own days and price to the mainland, and to a part of it; by the islands' post alone.
WAYS = {"early_d": 1, "usual_d": 1, "late_d": 1, "live_eggs": "yes"}
SLOW = {"early_d": 2, "usual_d": 2, "late_d": 2, "live_eggs": "yes"}


def week_of_ways(order: OrderRow, *, whole: bool = True) -> Shelf:
    services = (a_service(to="ES-CN", **SLOW), *((a_service(to="ES", **WAYS),) if whole else ()))
    prices = (a_price("ES-CN", 2000, "9"), *((a_price("ES", 2000, "4"),) if whole else ()))
    return a_week(order, services=services, postage=prices)


@pytest.mark.parametrize(
    ("postcode", "region", "days", "price"),
    [("35001", "", 2, 9), ("", "Tenerife, Canarias", 2, 9), ("28001", "", 1, 4), ("", "", 1, 4)],
)
def test_eggs_go_by_the_row_of_services_and_postage_that_names_their_part_of_the_country(
    postcode: str, region: str, days: int, price: int
) -> None:
    shelf = week_of_ways(a_row("A", country="ES", postcode=postcode, region=region, town="Bytown"))
    (parcel,) = plan_of(shelf).parcels
    assert ((parcel.arrive.p95 - parcel.dispatch_on).days, parcel.postage) == (days, price)
    found = {option.ride.leg.service.late_d for _, option in why(shelf, "A", WEEK).options}
    assert found == {days}


@pytest.mark.parametrize(("postcode", "goes"), [("38001", True), ("28001", False), ("", False)])
def test_a_service_of_a_part_alone_goes_nowhere_else_in_the_country(postcode: str, goes: bool) -> None:
    shelf = week_of_ways(a_row("A", country="ES", postcode=postcode, town="Bytown"), whole=False)
    plan = plan_of(shelf)
    assert bool(plan.parcels) is goes
    assert [one.reasons[0].code for one in plan.lines_out] == ([] if goes else ["no-route"])
    there = Destination.of("ES", "CN" if goes else "MD")
    told = {reason.code for reason in ask(shelf, "G1", there).reasons}
    assert ("no-route" in told) is not goes


def test_a_kept_parcel_goes_by_the_service_of_the_part_that_its_order_tells() -> None:
    shelf = week_of_ways(a_row("A", country="ES", postcode="38001", town="Bytown"))
    stop = Disruption(to=("ES-CN",), **{"from": TODAY, "until": TODAY}, stopped=True, source="a storm")
    shelf = replace(shelf, disruptions=(stop,))
    assert shelf.place_of("ES", ["gone", "A"]) == ("ES", "TF")
    assert [shelf.place_of("PT", ["A"]), shelf.place_of("ES", ["gone"])] == [("PT", ""), ("ES", "")]
    taken = [is_taken_in("letter", TODAY, shelf.place_of("ES", names), shelf) for names in (["A"], [])]
    assert taken == [False, True]
