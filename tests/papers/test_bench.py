"""The pick list, its advice, labels, stickers, tags, customs data and notices, as data."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from shipping.papers.documents.bench_advice import box_findings, packing_cautions, warmth_advice
from shipping.papers.documents.bundle import free_name
from shipping.papers.documents.contents import Desk, units_of
from shipping.papers.documents.customs_sheet import (
    crosses_customs,
    customs_gaps,
    customs_sheet,
    parcel_declaration,
)
from shipping.papers.documents.label import handling_lines, keep_range
from shipping.papers.documents.notices import notices
from shipping.papers.documents.pick_list import packing_order, pick_list, week_sheet
from shipping.papers.documents.tags import tag_makers
from shipping.papers.page import fonts as faces
from shipping.papers.page import layout
from shipping.papers.page.blocks import Chart, Spans, Table
from shipping.papers.page.stickers import grid_problem, plain_grid, sticker_pages
from shipping.papers.wording.unprintable import letter_problems
from shipping.papers.writing import write_papers
from shipping.tables.rows.settings import Stickers
from shipping.words.problems import ShelfProblems
from tests.papers import awkward, sample
from tests.papers.reading import placed_texts, words_of

FIRST, BAG, DAMP = sample.PARCELS
GRID = Stickers(rows=7, columns=3, top_mm=15, left_mm=7, width_mm=63.5, height_mm=38.1, gap_x_mm=2.5)


def said(spans: Spans) -> str:
    return "".join(span.text for span in spans)


def test_what_must_be_handed_over_first_is_packed_first() -> None:
    assert [parcel.parcel[-2:] for parcel in packing_order(tuple(reversed(sample.PARCELS)))] == [
        "01",
        "02",
        "03",
    ]
    late = replace(BAG, cut_off="17:00")
    assert [parcel.parcel[-2:] for parcel in packing_order((late, DAMP))] == ["03", "02"]


def test_the_pick_list_names_lots_to_look_at_first_and_counts_twice(printed_week: Path) -> None:
    words = words_of(printed_week / "2026-W49-pick-list.pdf")
    assert "Look first" in words
    assert (
        "lot MEN-7 Aphanius mento, last seen: laid. Count the eggs with eyes before packing 2026-W49-02"
        in words
    )
    assert "packed checked" in words
    assert "letter: hand over by 16:00" in words


def test_the_pick_list_says_what_a_breathing_bag_must_not_have(printed_week: Path) -> None:
    words = words_of(printed_week / "2026-W49-pick-list.pdf")
    assert "leave no air inside; never under film, tape or another bag" in words
    assert "rigid, vented box" in words


def test_eggs_to_fetch_from_a_lot_are_the_sum_over_the_days_parcels(desk: Desk) -> None:
    sheet = pick_list(sample.TUESDAY, packing_order((BAG, DAMP)), desk)
    table = next(block for block in sheet.blocks if isinstance(block, Table))
    fetched = {said(row[1][0]): said(row[5][0]) for row in table.rows}
    assert fetched == {"GAR-11a": "15", "GUE-3b": "about 50", "MEN-7": "36"}


def test_a_full_day_is_hatched_and_the_limit_drawn(desk: Desk) -> None:
    chart = next(block for block in week_sheet(sample.PARCELS, desk).blocks if isinstance(block, Chart))
    assert [bar.value for bar in chart.bars] == [1, 2, 0, 0, 0, 0, 0]
    assert [bar.hatched for bar in chart.bars] == [False, True, False, False, False, False, False]
    assert chart.limit == 2


def test_a_cold_parcel_is_kept_warm_and_an_assumed_warmth_says_so(desk: Desk) -> None:
    units = {FIRST.parcel: units_of(FIRST, desk.shelf)}
    advice = [said(spans) for spans in warmth_advice((FIRST,), units, desk.wording("en"))]
    assert len(advice) == 1
    assert "Expects 3 to 19\u00a0°C" in advice[0]
    assert "heat pack" in advice[0]
    assert advice[0].endswith("(assumed)")


def test_a_box_that_does_not_suit_its_bags_is_told(desk: Desk) -> None:
    units = {BAG.parcel: units_of(BAG, desk.shelf)}
    wrong = replace(BAG, box="flat box")
    found = [said(spans) for spans in box_findings((wrong,), units, desk.shelf, desk.wording("en"))]
    assert found == ["2026-W49-02 Has a breathing bag, but flat box is not vented: it would stop breathing."]
    assert box_findings((BAG,), units, desk.shelf, desk.wording("en")) == []


def test_the_plans_own_cautions_are_on_the_list(desk: Desk) -> None:
    units = {FIRST.parcel: units_of(FIRST, desk.shelf)}
    cautions = [said(spans) for spans in packing_cautions(units, desk.wording("en"))]
    assert (
        cautions[0]
        == "2026-W49-01 A bottle of 0.25\u00a0l at 23\u00a0°C would bridge 12\u00a0h; weigh the parcel again."
    )


def test_a_caution_of_several_parcels_is_said_once_with_all_their_names(desk: Desk) -> None:
    again = replace(FIRST, parcel="2026-W49-09")
    units = {parcel.parcel: units_of(parcel, desk.shelf) for parcel in (FIRST, again)}
    cautions = [said(spans) for spans in packing_cautions(units, desk.wording("en"))]
    assert cautions[0].startswith("2026-W49-01, 2026-W49-09 A bottle of")
    assert sum("A bottle of" in caution for caution in cautions) == 1


def test_units_of_a_draw_are_numbered_through_the_parcel_and_filled_evenly(desk: Desk) -> None:
    assert [(unit.number, unit.of, unit.eggs) for unit in units_of(FIRST, desk.shelf)] == [
        (1, 2, 24),
        (2, 2, 23),
    ]


def test_the_handling_line_is_in_the_languages_of_both_ends(desk: Desk) -> None:
    assert handling_lines(FIRST, desk) == (
        "Lebende Fischeier. Zwischen 15 und 27\u00a0°C halten. Nicht einfrieren, nicht erhitzen.",
        "Levende fiskeæg. Opbevares ved 15 til 27\u00a0°C. Må ikke fryses eller opvarmes.",
    )


def test_the_warmth_on_the_label_is_what_all_species_stand(desk: Desk) -> None:
    assert keep_range(BAG, desk.shelf) == (15, 26)


def test_the_label_says_it_is_no_postage_and_puts_the_country_last(printed_week: Path) -> None:
    lines = [at.text for at in placed_texts(printed_week / "2026-W49-01-label.pdf", faces.measure)]
    assert "Address only. This is not paid postage." in lines
    assert lines.index("SWITZERLAND") == lines.index("1205 Genève") + 1


def test_stickers_begin_where_the_sheet_is_still_full(desk: Desk) -> None:
    makers = tag_makers(FIRST, desk, faces.measure)
    (page,) = sticker_pages(makers, GRID, "A4", first=5)
    fifth = page.placed[0]
    assert round((fifth.x - layout.STICKER_MARGIN) / layout.MM, 1) == 7 + 63.5 + 2.5
    assert round((page.height - fifth.y - layout.STICKER_MARGIN) / layout.MM, 1) == round(15 + 38.1, 1)
    assert len(sticker_pages(makers, GRID, "A4", first=21)) == 2


def test_stickers_that_do_not_fit_the_paper_are_told(tmp_path: Path) -> None:
    wide = GRID.model_copy(update={"columns": 4})
    assert grid_problem(GRID, "A4") is None
    assert "the paper has 210.0 x 297.0 mm" in str(grid_problem(wide, "A4"))
    papers = sample.SHELF.settings.papers.model_copy(update={"stickers": wide})
    shelf = replace(sample.SHELF, settings=sample.SHELF.settings.model_copy(update={"papers": papers}))
    with pytest.raises(ShelfProblems, match=r"papers\.stickers: The stickers take"):
        write_papers(sample.PLAN, shelf, tmp_path / "out")


def test_tags_of_the_week_follow_each_other_on_stickers_and_everything_stays_on_its_sticker(
    tmp_path: Path,
) -> None:
    papers = sample.SHELF.settings.papers.model_copy(update={"stickers": GRID})
    shelf = replace(sample.SHELF, settings=sample.SHELF.settings.model_copy(update={"papers": papers}))
    write_papers(sample.PLAN, shelf, tmp_path, first_sticker=3)
    words = words_of(tmp_path / "2026-W49-stickers.pdf")
    for unit in ("1/2", "2/2", "1/1"):
        assert unit in words
    for at in placed_texts(tmp_path / "2026-W49-stickers.pdf", faces.measure):
        from_left = (at.x / layout.MM - 7) % 66
        end = (at.right / layout.MM - 7) % 66
        assert 0 <= from_left < end <= 63.6, at.text
        assert 0 <= ((at.height - at.y) / layout.MM - 15) % 38.1 <= 38.1


def test_plain_tags_fill_the_paper_without_leaving_it() -> None:
    for paper in ("A4", "letter"):
        assert grid_problem(plain_grid(paper), paper) is None


def test_northern_ireland_needs_a_form_and_berlin_does_not(desk: Desk) -> None:
    assert [crosses_customs(parcel, desk.shelf) for parcel in sample.PARCELS] == [True, False, True]


def test_customs_is_told_a_sale_by_purpose_with_the_eggs_packed(desk: Desk, printed_week: Path) -> None:
    made = parcel_declaration(FIRST, desk)
    assert [(line.quantity, line.origin, line.tariff) for line in made.lines] == [(47, "DK", "051191")]
    words = words_of(printed_week / "2026-W49-01-customs.pdf")
    assert "Fertile fish eggs for hatching, not for consumption (Fundulopanchax gardneri)" in words
    assert "☑ sale of goods" in words
    assert "☐ gift" in words
    assert "it is not that form and pays no postage" in words


def test_what_a_form_lacks_is_named_first(desk: Desk) -> None:
    unpriced = replace(FIRST, mail="", lines=(replace(FIRST.lines[0], price=None),))
    gaps = customs_gaps(unpriced, desk)
    assert any("no price" in gap for gap in gaps)
    assert any("neither telephone nor e-mail" in gap for gap in gaps)
    sheet = customs_sheet(unpriced, desk)
    assert sheet is not None
    assert sheet.below.startswith("CN 23")
    assert customs_gaps(BAG, desk) == ()


def test_a_buyer_whose_order_waits_is_told_why_in_his_language(desk: Desk) -> None:
    letters = {letter.name: letter for letter in notices(desk, sample.PARCELS)}
    waiting = letters["2026-W49-order-1004-wait"]
    assert waiting.language == "fr"
    assert "les œufs sont trop jeunes pour voyager" in waiting.text
    assert "le mardi 8 décembre" in waiting.text
    held = letters["2026-W49-order-1005-hold"]
    assert "autoridades de su país" in held.text
    assert '<html lang="es">' in held.html


def test_a_letter_escapes_what_a_buyer_is_called(desk: Desk) -> None:
    letter = notices(desk, (FIRST,), with_lines_out=False)[0]
    assert "Łucja Żółć <b>& Söhne" in letter.text
    assert "Łucja Żółć &lt;b&gt;&amp; Söhne" in letter.html
    assert "<b>" not in letter.html


def test_a_lot_whose_treatment_cannot_be_printed_is_told_with_its_row() -> None:
    lots = (sample.LOTS[0].model_copy(update={"treatment": "甲基蓝"}), *sample.LOTS[1:])
    problems = letter_problems(sample.PARCELS, (), replace(sample.SHELF, lots=lots), faces.letters_lacking)
    assert [(problem.where.file, problem.where.row, problem.column) for problem in problems] == [
        ("lots.csv", 2, "treatment")
    ]


def test_a_name_that_is_taken_is_numbered() -> None:
    taken: set[str] = set()
    assert [free_name(name, taken) for name in ("care-a", "care-A", "care-a")] == [
        "care-a",
        "care-A-2",
        "care-a-3",
    ]


def test_a_parcel_of_many_units_and_long_words_still_prints_within_its_margins(tmp_path: Path) -> None:
    line = FIRST.lines[0]
    many = replace(line, pack=900, draws=(replace(line.draws[0], units=60, pack=900),), message="Wort" * 300)
    address = replace(
        FIRST.address, addressee="Donaudampfschifffahrtsgesellschaft" * 5, delivery=("x" * 150, "y" * 150)
    )
    parcel = replace(
        FIRST, lines=tuple(replace(many, line=number) for number in range(1, 9)), address=address
    )
    write_papers(replace(sample.PLAN, parcels=(parcel,)), sample.SHELF, tmp_path)
    assert len(PdfReader(tmp_path / "2026-W49-01-slip.pdf").pages) > 2
    for path in sorted(tmp_path.glob("*.pdf")):
        for at in placed_texts(path, faces.measure):
            margin = layout.LABEL_MARGIN if at.width < 400 else layout.SHEET_MARGIN
            assert at.x >= margin - 1, (path.name, at.text)
            assert at.right <= at.width - margin + 1, (path.name, at.text)
            assert margin - 2 <= at.y <= at.height - margin + 1, (path.name, at.text)


def test_the_longer_form_asks_for_its_own_fields_and_copies(tmp_path: Path) -> None:
    plan, shelf = awkward.week("en", {})
    parcel = "2026-W49-04"
    write_papers(plan, shelf, tmp_path, parcel=parcel, only=("customs",), items=awkward.ITEMS)
    words = words_of(tmp_path / f"{parcel}-customs.pdf")
    assert "CN 23" in words
    for asked in (
        "Sender's customs reference",
        "Importer's reference",
        "Item number / N° de l'envoi EB000717618HK",
        "9 Postal charges",
        "10 Category",
    ):
        assert asked in words
    for asked in (
        "11 Comments",
        "12, 13 Licence and certificate",
        "14 Invoice",
        "15 Date of posting",
        "Exemplaires as many as",
    ):
        assert asked in words
    assert "☑ sale of goods" in words
    assert "☐ gift" in words
    assert "it is not that form and pays no postage" in words
