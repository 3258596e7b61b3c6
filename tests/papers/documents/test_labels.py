"""What stands on a label: whose name is bold, and that the country is told apart abroad only."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest

from shipping.papers.documents.contents import PaperInputs
from shipping.papers.documents.labels import _Label, _line_by_line, _Parts, handling_lines
from shipping.papers.page.fonts import OUR_TYPE
from shipping.week.plan_data import Parcel
from tests.papers import sample


@pytest.mark.parametrize("goes_abroad", [True, False])
def test_the_addressee_is_bold_and_abroad_the_country_too_as_the_last_line(
    inputs: PaperInputs, goes_abroad: bool
) -> None:
    home = inputs.shelf.settings.home.country
    parcel = next(one for one in sample.PLAN.parcels if one.address.country != home)
    if not goes_abroad:
        parcel = replace(parcel, address=replace(parcel.address, country=home))
    surface = cast(Any, SimpleNamespace(typeface=inputs.typeface))
    lines, _, is_whole = _Label(surface, parcel, inputs, 400.0, 300.0)._address_lines(8.0)
    assert is_whole
    first, *others, last = lines
    assert first[1:] == (True, False)
    assert {line[1:] for line in others} == {(False, False)}
    assert last[1:] == (goes_abroad, goes_abroad)


def test_in_east_asian_letters_the_addressee_is_bold_where_it_stands_last(inputs: PaperInputs) -> None:
    parcel = sample.PLAN.parcels[0]
    address = replace(parcel.address, town="\u5343\u4ee3\u7530\u533a", country="JP", postcode="100-0001")
    surface = cast(Any, SimpleNamespace(typeface=inputs.typeface))
    lines, _, _ = _Label(surface, replace(parcel, address=address), inputs, 400.0, 300.0)._address_lines(8.0)
    assert [text for text, bold, _ in lines if bold] == [parcel.address.addressee, "JAPAN"]
    assert lines[0][0] == "100-0001"


@pytest.mark.parametrize(
    ("country", "service", "is_told"),
    [("DK", "courier next day", True), ("DK", "letter", False), ("GB", "letter", True)],
)
def test_the_telephone_stands_on_what_couriers_and_customs_handle_and_on_no_other_letter(
    inputs: PaperInputs, country: str, service: str, is_told: bool
) -> None:
    parcel = sample.PLAN.parcels[0]
    parcel = replace(
        parcel, address=replace(parcel.address, country=country), service=service, tel="+00 1 234"
    )
    surface = cast(Any, SimpleNamespace(typeface=inputs.typeface))
    for height, is_large in ((400.0, True), (200.0, False)):
        _, below, _ = _Label(surface, parcel, inputs, 300.0, height)._address_lines(12.0)
        assert ("Tel. +00\u00a01\u00a0234" in below) is (is_told and is_large)
        assert _Label(surface, replace(parcel, tel=""), inputs, 300.0, height)._tel == ()


def test_a_countrys_two_names_on_two_lines_make_no_address_small(inputs: PaperInputs) -> None:
    parcel = replace(sample.PLAN.parcels[0], tel="")
    settings = inputs.shelf.settings
    german = settings.model_copy(update={"papers": settings.papers.model_copy(update={"languages": ("de",)})})
    german_inputs = replace(inputs, shelf=replace(inputs.shelf, settings=german))
    address = replace(parcel.address, addressee="A B", delivery=("Row 1",), region="", country="GB")
    surface = cast(Any, SimpleNamespace(typeface=inputs.typeface))
    label = _Label(surface, replace(parcel, address=address), german_inputs, 240.0, 385.0)
    size = label._address_size(300.0)
    countries = [text for text, _, is_country in label._address_lines(size)[0] if is_country]
    assert (size, countries) == (15.0, ["UNITED\u00a0KINGDOM /", "VEREINIGTES\u00a0KÖNIGREICH"])
    label = _Label(
        surface, replace(parcel, address=replace(address, country="US")), german_inputs, 254.0, 385.0
    )
    size = label._address_size(300.0)
    countries = [text for text, _, is_country in label._address_lines(size)[0] if is_country]
    assert countries == ["UNITED\u00a0STATES\u00a0OF\u00a0AMERICA /", "VEREINIGTE\u00a0STAATEN"], (
        "no name is cut"
    )


@pytest.mark.parametrize(("country", "reads_fahrenheit"), [("US", True), ("PR", True), ("DE", False)])
def test_a_post_that_reads_fahrenheit_is_told_in_it(
    inputs: PaperInputs, country: str, reads_fahrenheit: bool
) -> None:
    parcel = sample.PLAN.parcels[0]
    going = replace(parcel, address=replace(parcel.address, country=country), language="en")
    assert any("°F" in line for line in handling_lines(going, inputs)) is reads_fahrenheit
    assert ("°F" in inputs.wording_for(going).set_off("5 °C")) is reads_fahrenheit


def parts_of(inputs: PaperInputs, parcel: Parcel, width: float, height: float) -> tuple[_Parts, float]:
    """What stands below the address of a label of that size, and how large the address is."""
    label = _Label(cast(Any, SimpleNamespace(typeface=inputs.typeface)), parcel, inputs, width, height)
    parts = label._parts(height - 25)
    return parts, label._address_size(height - 25 - label._foot_height(parts))


def test_a_large_label_says_how_to_handle_it_in_letters_read_from_an_arms_length(inputs: PaperInputs) -> None:
    for parcel in sample.PARCELS:
        parts, address = parts_of(inputs, parcel, 263.0, 385.0)
        assert (len(parts.handling), parts.bars, parts.size >= 11.0, address >= 11.0) == (2, True, True, True)


def test_a_small_label_leaves_out_bars_before_the_word_that_eggs_are_alive(
    inputs: PaperInputs,
) -> None:
    parcel = sample.PARCELS[0]
    long = replace(parcel.address, delivery=("Invented Street 7, third stair at the left, ring twice",) * 4)
    parts, address = parts_of(inputs, replace(parcel, address=long), 283.0, 195.0)
    assert "vivants" in " ".join(parts.handling)
    assert not parts.bars
    assert address >= 9.0


def test_a_line_of_the_sender_s_address_that_finds_room_is_never_parted() -> None:
    lines = ["Hinterhof 3, Aufgang C", "Erfundene Allee 12a", "10999 Berlin", "GERMANY", "+49\u00a030\u00a00"]
    first, second = _line_by_line(lines, 8.4, 255.0, OUR_TYPE)
    assert first.replace("\u00a0", " ") == "Hinterhof 3, Aufgang C · Erfundene Allee 12a"
    assert second.replace("\u00a0", " ") == "10999 Berlin · GERMANY · +49 30 0"
    assert (
        len(
            _line_by_line(
                ["A street whose name fills much more than the room of a line"], 8.4, 150.0, OUR_TYPE
            )
        )
        > 1
    )
