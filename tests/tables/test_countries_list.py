"""The list of countries that ships: complete, unique, ready for the last line of an address."""

from __future__ import annotations

import csv
from pathlib import Path

import pycountry
import pytest

import shipping.tables

LIST = Path(shipping.tables.__file__).parent / "countries.csv"


@pytest.fixture(scope="module")
def countries() -> dict[str, dict[str, str]]:
    lines = [line for line in LIST.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    found = {row["code"]: row for row in rows}
    assert len(found) == len(rows), "a code is listed twice"
    return found


def test_every_iso_country_and_kosovo_is_listed_and_nothing_else(
    countries: dict[str, dict[str, str]],
) -> None:
    # ISO 3166-1 as in the Debian iso-codes project, which pycountry carries.
    assert set(countries) == {country.alpha_2 for country in pycountry.countries} | {"XK"}


def test_namibia_is_read_as_a_country_and_not_as_nothing(countries: dict[str, dict[str, str]]) -> None:
    assert countries["NA"]["name_en"] == "Namibia"


def test_the_list_says_where_its_names_and_places_come_from() -> None:
    first = LIST.read_text(encoding="utf-8").splitlines()[0]
    assert first.startswith("#")
    for source in ("ISO 3166-1", "CLDR", "tz database", "from memory"):
        assert source in first


@pytest.mark.parametrize(
    ("code", "capitals"),
    [
        ("HK", "HONG KONG"),
        ("TR", "TÜRKİYE"),
        ("CI", "CÔTE D'IVOIRE"),
        ("LC", "SAINT LUCIA"),
        ("VI", "UNITED STATES VIRGIN ISLANDS"),
        ("DE", "GERMANY"),
    ],
)
def test_awkward_names_stand_as_mail_wants_them(
    countries: dict[str, dict[str, str]], code: str, capitals: str
) -> None:
    assert countries[code]["on_mail"] == capitals


def test_no_name_is_abbreviated_or_typographic_or_shared(countries: dict[str, dict[str, str]]) -> None:
    for column in ("name_en", "name_fr", "on_mail"):
        names = [row[column] for row in countries.values()]
        assert len(set(names)) == len(names)
        assert not [name for name in names if not name or "." in name or "’" in name or "\u00a0" in name]


def test_every_place_is_on_the_globe(countries: dict[str, dict[str, str]]) -> None:
    for row in countries.values():
        assert -90 <= float(row["latitude"]) <= 90
        assert -180 <= float(row["longitude"]) <= 180


@pytest.mark.parametrize(
    ("code", "south", "north", "west", "east"),
    [  # bounding boxes of the mainland, from an atlas, one degree generous
        ("DK", 54, 58, 8, 13),
        ("GR", 35, 42, 19, 27),
        ("NZ", -48, -34, 166, 179),
        ("US", 24, 50, -125, -66),
        ("SG", 1, 2, 103, 105),
        ("CL", -56, -17, -76, -66),
        ("XK", 41, 44, 20, 22),
    ],
)
def test_a_place_lies_in_its_country(
    countries: dict[str, dict[str, str]], code: str, south: float, north: float, west: float, east: float
) -> None:
    row = countries[code]
    assert south <= float(row["latitude"]) <= north
    assert west <= float(row["longitude"]) <= east
