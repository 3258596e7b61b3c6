"""A country written by its name is the country; one name of two countries is refused with both."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest

from shipping.tables.cells import BadCell, parse_country
from shipping.tables.countries import ALIASES, codes_named, in_text, is_country, money_of, with_the
from shipping.tables.reader import read_shelf
from tests.tables.shelves import TODAY, good_shelf, order


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("Deutschland", "DE"),
        ("TYSKLAND", "DE"),
        ("Oesterreich", "AT"),
        ("EEUU", "US"),
        ("EE. UU.", "US"),
        ("osterreich", "AT"),
        ("the Netherlands", "NL"),
        ("Holland", "NL"),
        ("England", "GB"),
        ("日本", "JP"),
        ("Island", "IS"),
        ("Niger", "NE"),
        ("Nigeria", "NG"),
        ("na", "NA"),
        ("Bosnia and Herzegovina", "BA"),
        ("Bosnia-Herzegovina", "BA"),
        ("Saint Vincent and the Grenadines", "VC"),
        ("St Lucia", "LC"),
        ("Guinea-Bissau", "GW"),
        ("Guinea", "GN"),
    ],
)
def test_a_name_in_one_of_many_languages_is_its_country(written: str, code: str) -> None:
    assert parse_country(written) == code


@pytest.mark.parametrize(
    ("written", "first", "second"), [("Kongo", "CD", "CG"), ("Virgin Islands", "VG", "VI")]
)
def test_a_name_of_two_countries_is_refused_with_both(written: str, first: str, second: str) -> None:
    with pytest.raises(BadCell) as refused:
        parse_country(written)
    assert f"Write {first} (" in refused.value.mend
    assert f"or {second} (" in refused.value.mend


def test_two_letters_are_a_code_and_never_a_name(tmp_path: Path) -> None:
    assert parse_country("UK") == "UK"
    assert not is_country("UK")


def test_every_alias_stands_for_countries() -> None:
    for name, codes in ALIASES.items():
        assert all(is_country(code) for code in codes), name
        assert codes_named(name) == tuple(sorted(codes)) or len(codes) == 2


def test_what_was_written_is_shown_beside_what_was_read(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    with (shelf / "orders.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    rows[1][rows[0].index("country")] = "Deutschland"
    with (shelf / "orders.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    reading = read_shelf(shelf, TODAY)
    assert reading.shelf is not None
    assert order(reading.shelf, "A1").country == "DE"
    assert [str(one) for one in reading.read_as] == ["orders.csv:2: country: 'Deutschland' was read as 'DE'."]


@pytest.mark.parametrize(
    ("code", "name"),
    [
        *(("NL", "the Netherlands"), ("US", "the United States"), ("FO", "the Faroe Islands")),
        *(("DO", "the Dominican Republic"), ("IM", "the Isle of Man"), ("CX", "Christmas Island")),
        *(("DE", "Germany"), ("DM", "Dominica"), ("GB", "the United Kingdom"), ("XX", "XX")),
    ],
)
def test_running_text_names_a_country_with_its_article(code: str, name: str) -> None:
    assert in_text(code) == name


def test_bulgaria_has_the_euro_from_2026_on() -> None:
    last, first = date(2025, 12, 31), date(2026, 1, 1)
    assert money_of("BG", last, last) == ["BGN"]
    assert money_of("BG", first, first) == ["EUR"]
    assert {"BGN", "EUR"} <= {*money_of("BG", date.min, first)}


def test_the_stands_once_before_a_name_that_has_it_and_never_before_another_one_s() -> None:
    names = ("Netherlands", "the Netherlands", "Denmark, the Netherlands", "Faroe Islands", "Denmark")
    said = ("the Netherlands", "the Netherlands", "Denmark, the Netherlands", "the Faroe Islands", "Denmark")
    assert tuple(map(with_the, names)) == said
