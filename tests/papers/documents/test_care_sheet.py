"""Care sheets: assembled by incubation and water, with dates counted back and the basis of every figure."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest
from scipy.integrate import quad
from scipy.stats import beta

from shipping.papers.documents.care_sheet import (
    care_sheet,
    fish_of,
    has_small_fry,
    hatch_span,
    tank_litres,
    water_kind,
)
from shipping.papers.documents.contents import PaperInputs, units_of
from shipping.papers.documents.labels import tag_lines
from shipping.papers.documents.pick_list import pick_list
from shipping.papers.documents.slip import slip
from shipping.tables.rows.lots import Look
from shipping.week.plan_data import Parcel, Wetting
from shipping.words.three_point import Dates
from tests.papers import sample
from tests.papers.reading import story_words

WATER, BAG, DAMP = sample.PARCELS


def said_of(parcel: Parcel, inputs: PaperInputs) -> str:
    return story_words(care_sheet(replace(parcel, language="en"), inputs).story)


def test_two_fish_share_a_page_and_what_holds_for_both_is_said_once(inputs: PaperInputs) -> None:
    assert [units[0].species.species for units in fish_of(BAG, inputs)] == ["mento", "gardneri"]
    said = said_of(BAG, inputs)
    assert said.index("Aphanius mento") < said.index("Fundulopanchax gardneri")
    assert said.count("Never release fish") == said.count("chloramine:") == 1


def test_shrimp_are_set_two_days_before_the_first_hatch_and_fine_cultures_a_week(inputs: PaperInputs) -> None:
    assert "brine-shrimp eggs to hatch on 5 Dec" in said_of(WATER, inputs)


def test_what_should_have_begun_before_the_parcel_comes_is_begun_on_its_arrival(inputs: PaperInputs) -> None:
    assert "another fine food on the day they arrive" in said_of(BAG, inputs)


def test_annuals_of_the_genus_nothobranchius_are_given_nauplii_from_their_first_day(
    inputs: PaperInputs,
) -> None:
    said = said_of(DAMP, inputs)
    assert "brine-shrimp nauplii from their first day" in said
    assert "two days before you wet, on 18 Dec 2026 at the earliest" in said


def test_the_parcels_salt_and_treatment_are_stated(inputs: PaperInputs) -> None:
    assert "water with 1.5 g of salt a litre" in said_of(BAG, inputs)
    assert "without salt, treated with a trace of methylene blue" in said_of(WATER, inputs)


def test_damp_eggs_of_annuals_are_not_to_be_wetted_before_their_days_which_have_a_year(
    inputs: PaperInputs,
) -> None:
    said = said_of(DAMP, inputs)
    assert "must not be wetted before their days" in said
    assert "From 20 Dec 2026, and before 20 Feb 2027†" in said
    assert "travel in water" not in said


def test_lots_of_one_fish_with_other_days_to_wet_are_told_one_by_one(inputs: PaperInputs) -> None:
    line, shelf = DAMP.lines[0], inputs.shelf
    other = shelf.lot_by_name["GUE-3b"].model_copy(update={"lot": "GUE-4"})
    both = replace(inputs, shelf=replace(shelf, lots=(*shelf.lots, other)))
    later = replace(line.draws[0], lot="GUE-4", wet=Wetting(date(2027, 1, 20), date(2027, 3, 20)))
    said = said_of(replace(DAMP, lines=(replace(line, draws=(line.draws[0], later)),)), both)
    assert "From 20 Dec 2026, and before 20 Feb 2027†" in said
    assert "From 20 Jan 2027, and before 20 Mar 2027†" in said
    assert said.count("Leave them damp.") == said.count("As for Nothobranchius guentheri GUE-3b") == 1


def test_damp_eggs_whose_days_have_begun_are_not_said_to_wait(inputs: PaperInputs) -> None:
    line = DAMP.lines[0]
    wet = line.draws[0].wet
    assert wet is not None
    begun = replace(line.draws[0], wet=replace(wet, begin=date(2026, 10, 31)))
    now = replace(DAMP, lines=(replace(line, draws=(begun,)), *DAMP.lines[1:]))
    said, waits = (story_words(slip(parcel, inputs).story) for parcel in (now, DAMP))
    assert "They may be wetted now." in said
    assert "Do not wet them yet." in waits
    assert "Do not wet them yet." not in said


@pytest.mark.parametrize(
    ("begin", "until", "is_over"),
    [
        (date(2026, 11, 20), date(2026, 12, 3), True),
        (date(2026, 12, 7), date(2026, 12, 15), True),
        (date(2026, 12, 7), date(2026, 12, 16), False),
        (date(2026, 12, 8), date(2026, 12, 15), False),
    ],
)
def test_damp_eggs_whose_days_may_be_over_are_wetted_on_the_day_they_arrive(
    inputs: PaperInputs, begin: date, until: date, is_over: bool
) -> None:
    """There on 3 Dec at the earliest and 15 Dec at the latest: "wet 3 - 8 Dec" named days before it came."""
    line = DAMP.lines[0]
    wet = replace(line.draws[0], wet=Wetting(begin, until))
    late = replace(DAMP, language="en", lines=(replace(line, draws=(wet,)),))
    (unit,) = units_of(late, inputs.shelf)
    assert ("When to wet. On the day they arrive" in said_of(late, inputs)) is is_over
    assert ("wet on the day they arrive" in tag_lines(late, unit, inputs.wording("en"))) is is_over
    assert ("and before" in said_of(late, inputs)) is not is_over


@pytest.mark.parametrize(("packing", "is_said"), [("damp bag", True), ("tube 15 ml", False)])
def test_that_eggs_hatch_after_wetting_is_said_of_those_that_come_damp_and_as_no_remedy(
    inputs: PaperInputs, packing: str, is_said: bool
) -> None:
    cue = "hatches 15-30 minutes after wetting"
    fish = sample.SPECIES[0].model_copy(update={"cue": cue})
    shelf = replace(inputs.shelf, species={**inputs.shelf.species, "gardneri": fish})
    line = WATER.lines[0]
    parcel = replace(WATER, lines=(replace(line, draws=(replace(line.draws[0], packing=packing),)),))
    said = said_of(parcel, replace(inputs, shelf=shelf))
    assert (f"For this species: {cue}" in said) is is_said
    assert "sit past their days" not in said
    assert "Try a few eggs first" not in said


def test_damp_eggs_of_other_fish_go_into_water_and_are_never_dried(inputs: PaperInputs) -> None:
    """Aphyosemion in moss, and water eggs sent damp: their embryos die in the egg when they are kept on."""
    species = sample.SPECIES[2].model_copy(update={"incubation": "water"})
    shelf = replace(inputs.shelf, species={**inputs.shelf.species, "guentheri": species})
    said = said_of(DAMP, replace(inputs, shelf=shelf))
    assert "no annual fish: they travelled damp in peat" in said
    assert "Never dry them" in said
    assert "must not be wetted" not in said
    assert "Wet again" not in said


@pytest.mark.parametrize("language", ["fr", "es"])
def test_the_article_of_a_day_joins_the_word_before_it(inputs: PaperInputs, language: str) -> None:
    """``à partir de le 5`` and ``antes de el 5`` are said in no language."""
    species = sample.SPECIES[2].model_copy(update={"incubation": "water"})
    shelf = replace(inputs.shelf, species={**inputs.shelf.species, "guentheri": species})
    parcels = [(DAMP, replace(inputs, shelf=shelf)), *((parcel, inputs) for parcel in sample.PARCELS)]
    for parcel, of in parcels:
        said = story_words(care_sheet(replace(parcel, language=language), of).story)
        assert not re.search(r"\b(?:de|à|a) (?:le|el) \d", said), said


def test_the_warmth_is_that_of_the_latest_look_on_every_paper(inputs: PaperInputs) -> None:
    cooler = Look(lot="GAR-11a", on=sample.TODAY, kept_at_c=19)
    moved = replace(inputs, shelf=replace(inputs.shelf, looks=(cooler,)))
    assert (
        "Warmth of the eggs, until they hatch. Here the eggs were kept at 19 °C; stay near that"
        in said_of(WATER, moved)
    )
    assert "19 °C, water" in story_words(pick_list(WATER.dispatch_on, (WATER,), moved).story)


def test_a_slip_names_the_warmth_its_days_are_reckoned_with(inputs: PaperInputs) -> None:
    """At the buyer's an egg gathers g(incubation_c) a day, whatever its lot is kept at here; eggs kept damp
    have the days of their lot.
    """
    looks = tuple(Look(lot=lot, on=sample.TODAY, kept_at_c=19) for lot in ("GAR-11a", "GUE-3b"))
    moved = replace(inputs, shelf=replace(inputs.shelf, looks=looks))
    warmth = f"{inputs.shelf.species['gardneri'].incubation_c:g}"
    assert warmth != "19"
    assert f"eggs kept at {warmth} °C" in story_words(slip(replace(WATER, language="en"), moved).story)
    assert "eggs kept damp at 19 °C" in story_words(slip(replace(DAMP, language="en"), moved).story)


def test_eggs_lifted_from_water_onto_moss_travelled_in_moss(inputs: PaperInputs) -> None:
    onto_moss = sample.PACKINGS[1].model_copy(
        update={"packing": "tube 15 ml", "media": ("water",), "medium": "moss"}
    )
    said = said_of(WATER, replace(inputs, shelf=replace(inputs.shelf, packings=(onto_moss,))))
    assert "they travelled damp in moss" in said
    assert "bits of moss" in said


def test_the_breeders_own_wetting_days_are_called_so_and_neither_reckoned_nor_assumed(
    inputs: PaperInputs,
) -> None:
    own = {"wet_from": date(2026, 12, 20), "wet_until": date(2027, 2, 20)}
    lots = (sample.LOTS[0], sample.LOTS[1].model_copy(update=own), sample.LOTS[2])
    said = replace(inputs, shelf=replace(inputs.shelf, lots=lots))
    assert "and before 20 Feb 2027: when" in said_of(DAMP, said)
    leaf = story_words(slip(replace(DAMP, language="en"), said).story)
    assert "The days of Nothobranchius guentheri are the sender's own." in leaf
    assert "reckoned for eggs" not in leaf
    assert "assumed figure and are a guide" not in leaf
    for name, day in own.items():  # with one of the two the other is reckoned
        half = replace(
            inputs.shelf, lots=(sample.LOTS[0], sample.LOTS[1].model_copy(update={name: day}), sample.LOTS[2])
        )
        assert "the sender's own" not in story_words(
            slip(replace(DAMP, language="en"), replace(inputs, shelf=half)).story
        )


def test_the_warmth_eggs_bear_is_a_limit_marked_by_what_stands_behind_each_end(inputs: PaperInputs) -> None:
    """The starter's three ways of saying it: one source, one for hours on the way, one for each end."""
    for source, low, high in (
        ("keep range: assumed for a highland fish", "†", "†"),
        ("keep range: pamphlet no. 5: 15-27 C; 10 C for eggs during the hours on the way: assumed", "†", ""),
        ("keep range: lower: some stood 2-4 C, common practice, no source; upper: assumed", "§", "†"),
        ("keep range: lower: hours at 10 C: assumed from a kin; upper: a study of 2015", "†", ""),
    ):
        gardneri = sample.SPECIES[0].model_copy(update={"source": source})
        shelf = replace(inputs.shelf, species={**inputs.shelf.species, "gardneri": gardneri})
        said = said_of(WATER, replace(inputs, shelf=shelf))
        assert f"never below 15 °C{low} or above 27 °C{high}, not even for hours" in said, source


def test_assumed_and_remembered_figures_are_marked_and_the_key_stands_once(inputs: PaperInputs) -> None:
    said = said_of(WATER, inputs)
    assert "70 %† hatch" in said
    assert "about 6.5 cm‡" in said
    assert "16 Dec†. Colder is later" in said
    assert said.count("† assumed") == 1
    assert "sets hatching off. Try a few eggs first, stay beside them, and stop after a few hours" in said


def test_chances_of_pairs_are_those_of_the_count_packed(inputs: PaperInputs) -> None:
    """1 - 2 E(1 - s f)^n + (1 - s)^n, s = 0.7 * 0.7, n = 15, f ~ Beta(10, 10): scipy's integral."""
    missing = quad(lambda f: (1 - 0.49 * f) ** 15 * beta.pdf(f, 10, 10), 0, 1)[0]
    by_hand = 1 - 2 * missing + 0.51**15
    assert f"at least one pair is {by_hand * 100:.0f} %" in said_of(BAG, inputs)


def test_no_chances_are_given_where_shares_are_not_known(inputs: PaperInputs) -> None:
    assert "no chances are given" in said_of(BAG, inputs)


def test_every_sheet_warns_of_release_law_remedies_and_is_no_advice(inputs: PaperInputs) -> None:
    for parcel in sample.PARCELS:
        said = said_of(parcel, inputs)
        for caution in (
            "Never release fish",
            "Boil or freeze used moss",
            "strain the water",
            "chlorine and chloramine",
            "Dilute dyes",
            "Malachite green",
            "acriflavine",
            "Peroxide",
            "belly-sliders",
            "law where you live",
            "not legal or veterinary advice",
        ):
            assert caution in said, caution
    assert "heat pack" in said_of(WATER, inputs)
    assert "heat pack" not in said_of(BAG, inputs)


def test_unknown_hatching_days_are_said_not_guessed(inputs: PaperInputs) -> None:
    line = WATER.lines[0]
    nothing = Dates(None, None, None)
    parcel = replace(WATER, lines=(replace(line, draws=(replace(line.draws[0], hatch_at_buyer=nothing),)),))
    assert "No hatching days can be given" in said_of(parcel, inputs)


def test_no_day_stands_before_the_first_on_which_the_parcel_may_come(inputs: PaperInputs) -> None:
    line = WATER.lines[0]
    early = Dates(date(2026, 11, 30), date(2026, 12, 1), date(2026, 12, 5))
    parcel = replace(WATER, lines=(replace(line, draws=(replace(line.draws[0], hatch_at_buyer=early),)),))
    assert "about 2 Dec, half by 2 Dec, nearly all by 5 Dec" in said_of(parcel, inputs)


def test_the_middle_of_several_lots_is_weighed_by_their_eggs(inputs: PaperInputs) -> None:
    units = units_of(BAG, inputs.shelf)
    assert hatch_span(units, BAG) == (date(2026, 12, 4), date(2026, 12, 6), date(2026, 12, 16))
    few, many = (replace(unit, eggs=eggs) for unit, eggs in zip(units, (15, 36), strict=True))
    assert hatch_span((few, many), BAG)[1] == date(2026, 12, 10)


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
    assert [has_small_fry(one) for one in (gardneri, mento, guentheri)] == [False, True, False]
    assert has_small_fry(mento.model_copy(update={"first_food": ""}))
    assert not has_small_fry(gardneri.model_copy(update={"first_food": "", "egg_mm": None}))


def test_larger_fish_are_given_more_litres() -> None:
    assert [tank_litres(length) for length in (3.5, 6.0, 12.0, 30.0, None)] == ["12", "25", "100", "200", ""]


def test_a_species_own_care_wording_is_taken_where_there_is_one(
    inputs: PaperInputs, tmp_path_factory: pytest.TempPathFactory
) -> None:
    from shipping.papers.wording.phrases import Wording

    shelf_folder = tmp_path_factory.mktemp("shelf")
    path = shelf_folder / "templates" / "wording" / "en" / "care-mine.md"
    path.parent.mkdir(parents=True)
    path.write_text("Only for {{ fish }}.", encoding="utf-8")
    own = sample.SPECIES[0].model_copy(update={"care": "mine"})
    shelf = replace(sample.SHELF, species={**sample.SHELF.species, "gardneri": own})
    other = replace(inputs, shelf=shelf, wordings={"en": Wording(shelf_folder, "en")})
    assert "Only for steel-blue killifish." in said_of(WATER, other)
