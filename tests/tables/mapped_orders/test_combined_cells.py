"""The end of an address in one cell: town, postcode, and the letters of a region beside it."""

from __future__ import annotations

import pytest

from shipping.tables.mapped_orders.combined_cells import address_parts, country_of_place, place_in_line


@pytest.mark.parametrize(
    ("parts", "country", "cells"),
    [
        (["1 Main St", "Portland OR 97201"], "US", {"postcode": "97201", "region": "OR", "town": "Portland"}),
        (
            ["1 Main St", "Portland", "OR 97201"],
            "US",
            {"postcode": "97201", "region": "OR", "town": "Portland"},
        ),
        (["1 Main St", "Portland 97201"], "US", {"postcode": "97201", "town": "Portland"}),
        (["1 Main St", "Portland", "97201"], "US", {"postcode": "97201", "town": "Portland"}),
        (["Hof 1", "80331 M"], "DE", {"postcode": "80331", "town": "M"}),
        (["Hof 1", "80331 AB"], "DE", {"postcode": "80331", "town": "AB"}),
        (["Hof 1", "Nirgendwo"], "DE", {"town": "Nirgendwo"}),
        (
            ["1 Main St", "Portland", "Oregon 97201"],
            "US",
            {"postcode": "97201", "region": "Oregon", "town": "Portland"},
        ),
        (
            ["1 Main St", "Portland", "Oregon", "97201"],
            "US",
            {"postcode": "97201", "region": "Oregon", "town": "Portland"},
        ),
        (["1 Main St", "New York 10001"], "US", {"postcode": "10001", "town": "New York"}),
        (["1 Main St", "Portland", "Oregon"], "US", {"region": "Oregon", "town": "Portland"}),
        (
            ["Hof 1", "80331 München", "Bayern"],
            "DE",
            {"postcode": "80331", "region": "Bayern", "town": "München"},
        ),
        (
            ["Rua das Flores 120", "Curitiba - PR", "80010-000"],
            "BR",
            {"postcode": "80010-000", "region": "PR", "town": "Curitiba"},
        ),
        (["Flat 2", "Dublin 2 D02 XX00"], "IE", {"postcode": "D02 XX00", "town": "Dublin 2"}),
    ],
)
def test_a_region_is_told_by_letters_beside_the_postcode_where_addresses_write_it_so(
    parts: list[str], country: str, cells: dict[str, str]
) -> None:
    read = address_parts("\n".join(("Ada Example", *parts)), "Ada Example", country, lambda _: None)
    assert {
        name: text for name, text in (read or {}).items() if name in ("postcode", "region", "town")
    } == cells
    assert read
    assert read["delivery_1"] == parts[0]


@pytest.mark.parametrize(
    ("line", "country", "place"),
    [
        ("Portland OR 97201", "US", ("97201", "Portland", "OR")),
        ("New York NY 10001", "US", ("10001", "New York", "NY")),
        ("OR 97201", "US", ("97201", "OR", "")),
        ("DE-80331 München", "DE", ("80331", "München", "")),
        ("80331 München", "", ("80331", "München", "")),
        ("Edmonton AB T5J 0N3", "", ("T5J 0N3", "Edmonton", "AB")),
        ("Oxford OX1 1AA", "", ("OX1 1AA", "Oxford", "")),
        ("Main Street 12", "DK", None),
        ("12345 Sunset Blvd", "US", None),
        ("1234 Kalani St", "AU", None),
        ("1234 Kalani St", "AE", None),
        ("Guadalajara, Jal., C.P. 44100", "MX", ("44100", "Guadalajara", "Jal.")),
        ("Kelburn, Wellington 6012", "NZ", ("6012", "Kelburn, Wellington", "")),
        ("14440 Villanueva de Córdoba", "ES", ("14440", "Villanueva de Córdoba", "")),
    ],
)
def test_a_line_with_a_postcode_is_parted_as_its_country_writes_it(
    line: str, country: str, place: tuple[str, str, str] | None
) -> None:
    assert place_in_line(line, country) == place


@pytest.mark.parametrize(
    ("line", "country"),
    [
        ("Columbus OH 43004", "US"),
        ("Wilmington, DE 19801", "US"),
        ("Columbus OH 96815", ""),
        ("Columbus 43004", ""),
        ("Brisbane Queensland 4000", "AU"),
        ("00184 Roma RM", "IT"),
        ("20 gardneri", ""),
    ],
)
def test_a_part_beside_a_postcode_of_it_tells_the_country(line: str, country: str) -> None:
    assert country_of_place(line) == country
