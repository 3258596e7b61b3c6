"""Addresses as the destination writes them."""

from __future__ import annotations

import pytest

from shipping.post.address import (
    FORMS,
    PRINTS_REGION_CODE,
    address_hints_by_column,
    country_line,
    country_name,
    home_lines,
    label_lines,
)
from shipping.tables.countries import codes_named, is_country
from shipping.tables.rows.orders import Address
from shipping.tables.rows.settings import Home, Sender, Settings


def to(country: str, postcode: str, town: str, region: str = "") -> Address:
    return Address("B. Uyer", ("Main Street 1", "Flat 2"), postcode, town, region, country)


@pytest.mark.parametrize(
    ("address", "lines"),
    [
        (to("DE", "80331", "München", "DE-BY"), ("80331 München", "GERMANY")),
        (to("GB", "OX1 1AA", "Oxford", "GB-ENG"), ("Oxford", "OX1 1AA", "UNITED KINGDOM")),
        (to("US", "96720", "Hilo", "US-HI"), ("Hilo HI 96720", "UNITED STATES OF AMERICA")),
        (to("AU", "2000", "Sydney", "NSW"), ("Sydney NSW 2000", "AUSTRALIA")),
        (to("IT", "00118", "Roma", "RM"), ("00118 Roma RM", "ITALY")),
        (to("JP", "100-0001", "Chiyoda-ku", "Tokyo"), ("Chiyoda-ku, Tokyo 100-0001", "JAPAN")),
        (to("HK", "", "Kowloon"), ("Kowloon", "HONG KONG")),
        (to("BR", "20040-020", "Rio de Janeiro", "RJ"), ("Rio de Janeiro-RJ", "20040-020", "BRAZIL")),
        (to("ES", "38001", "Santa Cruz", "Tenerife"), ("38001 Santa Cruz", "Tenerife", "SPAIN")),
        (to("NA", "", "Windhoek"), ("Windhoek", "NAMIBIA")),
        (to("US", "97201", "Portland"), ("Portland OR 97201", "UNITED STATES OF AMERICA")),
        (to("US", "97201", "Portland OR"), ("Portland OR 97201", "UNITED STATES OF AMERICA")),
        (to("CA", "T5J 0N3", "Edmonton"), ("Edmonton AB T5J 0N3", "CANADA")),
        (to("IT", "00118", "Roma"), ("00118 Roma RM", "ITALY")),
        (to("ES", "46001", "Valencia"), ("46001 Valencia", "SPAIN")),
        (to("PR", "00901", "San Juan"), ("San Juan PR 00901", "PUERTO RICO")),
        (to("PE", "15001", "Lima"), ("Lima 15001", "PERU")),
        (to("LK", "00100", "Colombo"), ("Colombo", "00100", "SRI LANKA")),
    ],
)
def test_town_and_postcode_stand_as_the_destination_writes_them(
    address: Address, lines: tuple[str, ...]
) -> None:
    assert label_lines(address, "DK") == ("B. Uyer", "Main Street 1", "Flat 2", *lines)


@pytest.mark.parametrize(
    ("country", "postcode", "town", "region", "lines"),
    [
        ("JP", "100-0001", "千代田区", "東京都", ("100-0001", "東京都千代田区", "架空町1", "架空様")),
        ("KR", "03187", "종로구", "서울특별시", ("서울특별시 종로구", "架空町1", "架空様", "03187")),
        ("JP", "100-0001", "Chiyoda-ku", "Tokyo", ("架空様", "架空町1", "Chiyoda-ku, Tokyo 100-0001")),
    ],
)
def test_in_east_asian_letters_an_address_goes_from_the_large_to_the_addressee(
    country: str, postcode: str, town: str, region: str, lines: tuple[str, ...]
) -> None:
    address = Address("架空様", ("架空町1",), postcode, town, region, country)
    assert label_lines(address, country) == lines
    assert label_lines(address, "DK")[:-1] == lines


def test_the_country_is_left_out_at_home() -> None:
    assert label_lines(to("DK", "8000", "Aarhus C"), "DK")[-1] == "8000 Aarhus C"


def test_what_is_empty_leaves_no_comma_behind() -> None:
    assert label_lines(to("JP", "", "Chiyoda-ku"), "DK")[-2] == "Chiyoda-ku"
    assert label_lines(to("JP", "100-0001", ""), "DK")[-2] == "100-0001"


def test_the_country_may_stand_in_french() -> None:
    assert label_lines(to("DE", "80331", "München"), "FR", "fr")[-1] == "ALLEMAGNE"
    assert country_line("CI", "fr") == "CÔTE D'IVOIRE"


def test_the_country_stands_in_the_home_language_too_where_that_is_another_word() -> None:
    assert label_lines(to("DE", "80331", "München"), "DK", "da")[-1] == "GERMANY / TYSKLAND"
    assert label_lines(to("NA", "", "Windhoek"), "DK", "da")[-1] == "NAMIBIA"
    assert label_lines(to("DE", "80331", "München"), "DK")[-1] == "GERMANY"


def test_every_form_is_of_a_country_and_uses_every_field_it_may_be_given() -> None:
    for code, forms in FORMS.items():
        assert is_country(code)
        for field in ("town", "region") if code == "HK" else ("town", "region", "postcode"):
            assert sum(form.count(field) for form in forms) == 1
    assert set(FORMS) >= PRINTS_REGION_CODE


def test_a_country_is_named_in_the_buyers_language() -> None:
    assert [country_name("DE", language) for language in ("en", "fr", "da", "xx")] == [
        "Germany",
        "Allemagne",
        "Tyskland",
        "Germany",
    ]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("dk", "DK"),
        ("England", "GB"),
        ("Great Britain", "GB"),
        ("Korea", "KR"),
        ("Hong Kong", "HK"),
        ("Turkey", "TR"),
        ("Türkiye", "TR"),
        ("DEUTSCHLAND", "DE"),
        ("Österreich", "AT"),
        ("na", "NA"),
    ],
)
def test_a_country_is_understood_in_several_languages(text: str, code: str) -> None:
    assert codes_named(text) == (code,)


def test_kongo_is_refused_with_both_choices() -> None:
    assert codes_named("Kongo") == ("CD", "CG")


def test_what_is_no_country_is_said() -> None:
    assert codes_named("Atlantis") == ()


def test_a_hint_points_at_a_missing_town() -> None:
    assert address_hints_by_column(to("DE", "80331", "München")) == ()
    assert "usually have a town" in address_hints_by_column(to("DE", "80331", ""))[0][1]


def test_a_country_nobody_has_rules_for_gives_no_hint() -> None:
    assert address_hints_by_column(to("ZZ", "1", "X")) == ()


@pytest.mark.parametrize(
    ("home", "typed", "printed"),
    [
        ("US-OH", "12 Elm Street|Columbus 43004", "12 Elm Street|Columbus OH 43004"),
        ("US-OH", "12 Elm Street|Columbus, Ohio 43004", "12 Elm Street|Columbus, Ohio 43004"),
        ("US-OH", "12 Elm Street|Portland 97201", "12 Elm Street|Portland 97201"),
        ("AU-QLD", "7 Wattle Street|Brisbane 4000", "7 Wattle Street|Brisbane QLD 4000"),
        ("BR-PR", "Rua das Flores 120|Curitiba|80010-000", "Rua das Flores 120|Curitiba-PR|80010-000"),
        ("DE-BY", "Hofweg 3|80331 München", "Hofweg 3|80331 München"),
    ],
)
def test_the_state_of_home_stands_in_the_senders_address_where_addresses_name_it(
    home: str, typed: str, printed: str
) -> None:
    country, _, part = home.partition("-")
    sender = Sender(name="Ada Example", address=tuple(typed.split("|")))
    settings = Settings(home=Home(country=country, subdivision=part), sender=sender)
    assert "|".join(home_lines(settings)) == printed
