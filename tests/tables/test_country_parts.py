"""Which part of a country an order goes to."""

from __future__ import annotations

import pycountry
import pytest

from shipping.tables.cells import parse_country
from shipping.tables.countries import PARTS, part_named
from shipping.tables.country_parts import (
    LIES_IN,
    is_another_part,
    larger_part,
    may_lie_in,
    region_of,
    region_of_postcode,
    regions_of,
    subdivision_code,
)
from tests.every_case import every
from tests.week.a_week import a_row


@every(
    ("country", "postcode", "part"),
    [
        ("US", "96813", "HI"),
        ("US", "97201-1234", "OR"),
        ("US", "96799", ""),  # American Samoa, which lies in the range of Hawaii's office too
        ("ES", "35001", "GC"),
        ("ES", "28013", "M"),
        ("IT", "40121", "BO"),
        ("AU", "7000", "TAS"),
        ("AU", "2620", ""),  # on both sides of the border of the capital territory
        ("CA", "v6b 1a1", "BC"),
        ("CA", "K1A 0B1", ""),  # offices of Ottawa, on both sides of the river
        ("GB", "LS1 1AA", ""),  # told by being no other nation's only
        ("GB", "BT9 5AB", "NIR"),
        ("GB", "EH1 1AA", "SCT"),
        ("GB", "CF10 1AA", "WLS"),
        ("GB", "LL11 1AA", ""),  # on both sides of the border
        ("PT", "9000-001", "30"),
        ("PT", "9700-001", "20"),
        ("PT", "8000-001", ""),
        ("FR", "20000", "20R"),
        ("FR", "67000", "6AE"),
        ("FR", "57000", "57"),
        ("FR", "66000", ""),
        ("GR", "712 01", "M"),
        ("GR", "751 00", ""),
        ("JP", "900-0001", "47"),
        ("IT", "08020", "88"),  # three provinces, all of Sardinia
        ("US", "99501", "AK"),
        ("DE", "20099", ""),
        ("US", "", ""),
        ("US", "no code", ""),
    ],
)
def test_a_postcode_tells_the_part_where_only_one_fits(country: str, postcode: str, part: str) -> None:
    assert region_of_postcode(country, postcode) == part


def test_every_province_of_spain_is_told_and_lies_in_the_community_of_the_standard() -> None:
    assert region_of_postcode("ES", "5002") == ""  # of 05002, Ávila, and not of Zaragoza's 50
    told = {region_of_postcode("ES", f"{number:02d}001") for number in range(1, 53)}
    parents = {
        part.code.partition("-")[2]: (part.parent_code or part.code).rpartition("-")[2]
        for part in pycountry.subdivisions.get(country_code="ES")
        if part.parent_code
    } | {"CE": "CE", "ML": "ML"}  # cities of their own
    assert told == set(LIES_IN["ES"]) == set(parents)
    assert dict(LIES_IN["ES"]) == parents


@pytest.mark.parametrize(
    ("country", "region", "postcode", "part"),
    [
        ("GB", "England", "YO99 9ZZ", "ENG"),
        ("GB", "", "YO99 9ZZ", ""),
        ("US", "Hawaii", "", "HI"),
        ("US", "", "96813", "HI"),
        ("US", "NY", "96813", ""),  # at odds
        ("ES", "ES-CN", "35001", "CN"),
        ("ES", "ES-MD", "35001", ""),
        ("ES", "Gran Canaria", "35001", "GC"),
    ],
)
def test_what_is_written_and_what_the_postcode_tells_must_agree(
    country: str, region: str, postcode: str, part: str
) -> None:
    assert region_of(country, region, postcode) == part


def test_every_province_of_italy_lies_in_the_region_of_the_standard() -> None:
    parents = {
        part.code.partition("-")[2]: part.parent_code.rpartition("-")[2]
        for part in pycountry.subdivisions.get(country_code="IT")
        if part.parent_code
    }
    lies_in = LIES_IN["IT"]
    assert {part: lies_in.get(part) for part in parents} == parents
    told = {region_of_postcode("IT", f"{number:05d}") for number in range(10, 98_200, 10)}
    of_today = {larger_part("IT", part) for part in told if part}
    assert of_today == set(lies_in.values())


def test_a_part_settles_a_rule_only_where_it_cannot_be_the_same_ground() -> None:
    assert is_another_part("GB", "SCT", ["ENG", "NIR"])
    assert not is_another_part("GB", "LDS", ["ENG"])  # Leeds lies in England, and the code does not say so
    assert is_another_part("US", "OR", ["HI"])
    assert is_another_part("ES", "GC", ["VC"])
    assert not is_another_part("IT", "AO", ["23"])  # the valley of Aosta is that region


@pytest.mark.parametrize(
    ("written", "country", "part"),
    [
        ("Scotland", "GB", "GB-SCT"),
        ("Northern  Ireland", "GB", "GB-NIR"),
        ("England", "GB", "GB-ENG"),
        ("the Canary Islands", "ES", "ES-CN"),
        ("Kanarische Inseln", "ES", "ES-CN"),
        ("Madeira", "PT", "PT-30"),
        ("Açores", "PT", "PT-20"),
        ("Hawaii", "US", "US-HI"),
        ("Åland", "AX", None),  # a code of its own
        ("Jersey", "JE", None),
        ("Denmark", "DK", None),
    ],
)
def test_a_part_written_for_the_country_stays_the_order_s_region(
    written: str, country: str, part: str | None
) -> None:
    assert (parse_country(written), part_named(written)) == (country, part)
    row = a_row("A", country=written)
    assert (row.country, row.region) == (country, part or "")


def test_a_region_that_was_written_stays_beside_the_part() -> None:
    row = a_row("A", country="Scotland", region="Highland")
    assert row.region == "Highland, GB-SCT"
    assert subdivision_code("GB", row.region) == "SCT"


def test_every_part_is_one_of_the_standard() -> None:
    known = {part.code for part in pycountry.subdivisions}
    assert set(PARTS) <= known


def test_regions_are_listed_by_name_without_what_is_none() -> None:
    assert regions_of("GB") == {
        "ENG": "England",
        "NIR": "Northern Ireland",
        "SCT": "Scotland",
        "WLS": "Wales",
    }
    assert regions_of("JP")["13"] == "Tokyo"
    assert regions_of("AU")["WA"] == "Western Australia"
    assert "Zone A" not in regions_of("FR")  # school holidays, no part of the country
    assert "GC" not in regions_of("ES")  # a province: rules name its community
    assert regions_of("IT")["BZ"] == "Bolzano"  # a province too: no list of ours names Italy's regions
    assert len(regions_of("IT")) == 107
    assert regions_of("BE") == regions_of("NL") == {}  # calendars of languages and schools, no parts


@pytest.mark.parametrize(
    ("country", "part", "postcode", "expected"),
    [
        ("DE", "BY", "80331", True),
        ("DE", "BY", "10115", False),
        ("CH", "BE", "1738", True),  # Sangernboden, the one digit for a corner of a canton (from memory)
        ("CH", "TI", "1200", False),
        ("AT", "9", "1010", True),
        ("AT", "9", "8010", False),
        ("FR", "75", "13001", True),  # nothing is known of it here
    ],
)
def test_a_postcode_may_lie_in_a_part_by_its_first_digit(
    country: str, part: str, postcode: str, expected: bool
) -> None:
    assert may_lie_in(country, part, postcode) == expected
