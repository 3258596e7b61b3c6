"""The end of an address in one cell: town, postcode, and the letters of a region beside it."""

from __future__ import annotations

import pytest

from shipping.tables.mapped_orders.combined_cells import _town_of


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
        ([], "DE", {}),
    ],
)
def test_a_region_is_told_by_letters_beside_the_postcode_where_addresses_write_it_so(
    parts: list[str], country: str, cells: dict[str, str]
) -> None:
    assert _town_of(parts, country) == cells
    assert parts[1:] == []
