"""Care sheets: assembled by incubation and water, with dates counted back and the basis of every figure."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from shipping.papers.documents.care_sheet import (
    care_sheets,
    has_small_fry,
    hatch_span,
    tank_litres,
    water_kind,
)
from shipping.papers.documents.contents import Desk, units_of
from shipping.papers.page.blocks import Heading, Panel, Paragraph, Sheet
from shipping.week.plan_data import Parcel
from tests.papers import sample

WATER, BAG, DAMP = sample.PARCELS


def words(sheet: Sheet) -> str:
    """Everything a sheet says, as running text."""
    said = []
    for block in sheet.blocks:
        for inner in block.blocks if isinstance(block, Panel) else (block,):
            if isinstance(inner, Heading):
                said.append(inner.text)
            elif isinstance(inner, Paragraph):
                said.append("".join(span.text for span in inner.spans))
    return " ".join(said).replace("\u00a0", " ")


def sheet_of(parcel: Parcel, species: str, desk: Desk) -> str:
    return words(dict(care_sheets(replace(parcel, language="en"), desk))[species])


def test_there_is_one_sheet_a_species(desk: Desk) -> None:
    assert [key for key, _ in care_sheets(BAG, desk)] == ["mento", "gardneri"]


def test_shrimp_are_set_two_days_before_the_first_hatch_and_fine_cultures_a_week(desk: Desk) -> None:
    assert "brine-shrimp eggs to hatch on Saturday 5 December" in sheet_of(WATER, "gardneri", desk)
    assert "vinegar eels on Sunday 13 December" in sheet_of(DAMP, "guentheri", desk)


def test_what_should_have_begun_already_is_begun_at_once(desk: Desk) -> None:
    assert "another fine culture at once" in sheet_of(BAG, "mento", desk)


def test_the_parcels_salt_and_treatment_are_stated(desk: Desk) -> None:
    assert "water with 1.5 g of salt a litre" in sheet_of(BAG, "mento", desk)
    assert "without salt, treated with a trace of methylene blue" in sheet_of(WATER, "gardneri", desk)


def test_damp_eggs_are_not_to_be_wetted_before_their_days(desk: Desk) -> None:
    said = sheet_of(DAMP, "guentheri", desk)
    assert "must not be wetted before their days" in said
    assert (
        "Wet from Sunday 20 December, best about Tuesday 12 January, and before Saturday 20 February" in said
    )


def test_assumed_and_remembered_figures_say_so(desk: Desk) -> None:
    said = sheet_of(WATER, "gardneri", desk)
    assert "70 % (assumed) hatch" in said
    assert "about 6.5 cm (from memory)" in said
    assert "sets hatching off. Try" in said
    assert "rest on an assumed figure" in said
    assert "DiMichele & Powers 1984" in said


def test_chances_of_pairs_are_those_of_the_count_packed(desk: Desk) -> None:
    """1 - 2 (1 - s/2)^n + (1 - s)^n with s = 0.7 * 0.7 and n = 15: 0.97."""
    by_hand = 1 - 2 * (1 - 0.245) ** 15 + 0.51**15
    assert f"at least one pair is {by_hand * 100:.0f} %" in sheet_of(BAG, "gardneri", desk)


def test_no_chances_are_given_where_shares_are_not_known(desk: Desk) -> None:
    assert "no chances are given" in sheet_of(BAG, "mento", desk)


def test_every_sheet_warns_of_release_law_remedies_and_is_no_advice(desk: Desk) -> None:
    for parcel in sample.PARCELS:
        for key, _ in care_sheets(parcel, desk):
            said = sheet_of(parcel, key, desk)
            for caution in (
                "Never release fish",
                "law where you live",
                "heat pack",
                "not legal or veterinary advice",
            ):
                assert caution in said


def test_unknown_hatching_days_are_said_not_guessed(desk: Desk) -> None:
    line = WATER.lines[0]
    nothing = replace(line.draws[0].hatch, p05=None, p50=None, p95=None)
    parcel = replace(WATER, lines=(replace(line, draws=(replace(line.draws[0], hatch=nothing),)),))
    assert "No hatching days can be given" in sheet_of(parcel, "gardneri", desk)


def test_the_middle_of_several_lots_is_weighed_by_their_eggs(desk: Desk) -> None:
    units = units_of(BAG, desk.shelf)
    assert hatch_span(units) == (date(2026, 12, 4), date(2026, 12, 6), date(2026, 12, 16))


@pytest.mark.parametrize(
    ("note", "kind"),
    [
        ("soft, slightly acid", "soft"),
        ("Hard", "hard"),
        ("brackish, also fresh", "brackish"),
        ("medium", "any"),
        ("", "any"),
    ],
)
def test_the_water_kind_is_the_first_word_of_the_note(note: str, kind: str) -> None:
    assert water_kind(sample.SPECIES[0].model_copy(update={"water_note": note})) == kind


def test_small_fry_are_told_by_their_first_food_else_by_the_egg() -> None:
    gardneri, mento, guentheri = sample.SPECIES
    assert [has_small_fry(one) for one in (gardneri, mento, guentheri)] == [False, True, True]
    assert has_small_fry(mento.model_copy(update={"first_food": ""}))
    assert not has_small_fry(gardneri.model_copy(update={"first_food": "", "egg_mm": None}))


def test_larger_fish_are_given_more_litres() -> None:
    assert [tank_litres(length) for length in (3.5, 6.0, 12.0, 30.0, None)] == ["12", "25", "100", "200", ""]


def test_a_species_own_care_wording_is_taken_where_there_is_one(
    desk: Desk, tmp_path_factory: pytest.TempPathFactory
) -> None:
    from shipping.papers.wording.phrases import Wording

    shelf_folder = tmp_path_factory.mktemp("shelf")
    path = shelf_folder / "templates" / "wording" / "en" / "care-mine.md"
    path.parent.mkdir(parents=True)
    path.write_text("Only for {{ fish }}.", encoding="utf-8")
    own = sample.SPECIES[0].model_copy(update={"care": "mine"})
    shelf = replace(sample.SHELF, species={**sample.SHELF.species, "gardneri": own})
    other = replace(desk, shelf=shelf, wordings={"en": Wording(shelf_folder, "en")})
    assert "Only for steel-blue killifish." in sheet_of(WATER, "gardneri", other)
