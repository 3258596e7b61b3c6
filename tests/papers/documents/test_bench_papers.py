"""The pick list, its warnings, labels, stickers, tags, customs data and notices, as data."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from shipping.papers.charts.pictures import Bar, week_bars
from shipping.papers.documents.care_sheet import fish_markdown
from shipping.papers.documents.contents import PaperInputs, Unit, is_collected, units_of
from shipping.papers.documents.customs_sheet import (
    crosses_customs,
    customs_gaps,
    customs_sheet,
    parcel_declaration,
)
from shipping.papers.documents.labels import (
    handling_lines,
    is_unread_at_home,
    keep_range,
    label_sheets,
    label_wording,
    tag_lines,
    tag_sheets,
)
from shipping.papers.documents.notices import notices
from shipping.papers.documents.pick_list import (
    packing_order,
    physics,
    pick_list,
    this_week,
    warnings,
    week_sheet,
)
from shipping.papers.documents.slip import _ticks, count_words, slip
from shipping.papers.page import fonts as faces
from shipping.papers.page import layout
from shipping.papers.page.fonts import UNPRINTED, letter_problems
from shipping.papers.page.pdf_file import Grid, bound, grid_problem
from shipping.papers.page.typesetter import Lane, Typesetter
from shipping.papers.wording.language import post_language
from shipping.papers.wording.phrases import Wording
from shipping.papers.writing import write_papers
from shipping.tables.rows.settings import Stickers
from shipping.words.problems import ShelfProblems
from shipping.words.reasons import Note
from shipping.words.three_point import Dates
from tests.papers import awkward, sample
from tests.papers.reading import placed_texts, rows_of, story_words, tables_in, words_of

FIRST, BAG, DAMP = sample.PARCELS
GRID = Stickers(rows=7, columns=3, top_mm=15, left_mm=7, width_mm=63.5, height_mm=38.1, gap_x_mm=2.5)


def test_what_must_be_handed_over_first_is_packed_first() -> None:
    assert [parcel.parcel[-2:] for parcel in packing_order(tuple(reversed(sample.PARCELS)))] == [
        "01",
        "02",
        "03",
    ]
    late = replace(BAG, cut_off="17:00")
    assert [parcel.parcel[-2:] for parcel in packing_order((late, DAMP))] == ["03", "02"]


def test_the_pick_list_names_lots_to_look_at_first_and_counts_twice(each_paper: Path) -> None:
    words = words_of(each_paper / "print" / "2026-W49-pick-list.pdf")
    assert "Look first" in words
    assert (
        "lot MEN-7 Aphanius mento, last seen: laid. Before packing 2026-W49-02 (36), count as many eggs with"
        in words
    )
    assert "packed checked" in words
    assert "letter: hand over by 16:00" in words


def test_the_pick_list_says_what_a_breathing_bag_must_not_have(each_paper: Path) -> None:
    words = words_of(each_paper / "print" / "2026-W49-pick-list.pdf")
    assert "leave no air inside; never under film, tape or another bag" in words
    assert "rigid, vented box" in words


def test_eggs_to_fetch_from_a_lot_are_the_sum_over_the_days_parcels(inputs: PaperInputs) -> None:
    sheet = pick_list(sample.TUESDAY, packing_order((BAG, DAMP)), inputs)
    fetched = {row[1]: row[5] for row in rows_of(tables_in(sheet)[0])}
    assert fetched == {"GAR-11a": "15", "GUE-3b": "about 50", "MEN-7": "36"}


def test_a_full_day_is_hatched_and_the_limit_drawn() -> None:
    bars = [Bar("Mon", 1, False), Bar("Tue", 2, True), Bar("Wed", 0, False)]
    chart = week_bars(bars, 2, "limit 2 a day", "Parcels a day", (500.0, 130.0))
    assert chart.about == "Parcels a day: Mon: 1, Tue: 2, Wed: 0"
    kinds = [type(shape).__name__ for shape in chart.drawing.contents]
    assert (
        sum(
            kind == "Rect" and bool(shape.strokeColor)
            for kind, shape in zip(kinds, chart.drawing.contents, strict=True)
        )
        == 2
    )
    assert kinds.count("PolyLine") > 5


def test_the_line_of_the_limit_does_not_cross_the_figure_of_a_day_that_is_nearly_full() -> None:
    shapes = week_bars(
        [Bar("Mon", 11, False)], 12, "limit 12", "Parcels a day", (500.0, 130.0)
    ).drawing.contents
    line = next(n for n, shape in enumerate(shapes) if getattr(shape, "strokeDashArray", None))
    y = shapes[line].points[1]
    above = [s for s in shapes[line:] if type(s).__name__ == "Rect" and s.y <= y <= s.y + s.height]
    assert [shape.strokeColor for shape in above] == [None]


def warned(parcel: object, inputs: PaperInputs) -> str:
    assert isinstance(parcel, type(FIRST))
    return " ".join(warnings(parcel, units_of(parcel, inputs.shelf), inputs.shelf, inputs.wording("en")))


def test_a_cold_parcel_is_kept_warm_and_an_assumed_warmth_is_marked(inputs: PaperInputs) -> None:
    said = warned(FIRST, inputs)
    assert "Expects 3 to 19\u00a0°C: keep it warm until you hand it over, never in a cold car.†" in said
    assert "Goes with a heat pack" in said
    assert "†" not in warned(BAG, inputs)


def test_the_bottle_of_the_plan_stands_beside_its_parcel(inputs: PaperInputs) -> None:
    said = warned(replace(FIRST, bottle_ml=500.0, warm_h=20.0), inputs)
    assert "a bottle of 500\u00a0ml of water at 23\u00a0°C into the box, no warmer" in said
    assert "bottle" not in warned(FIRST, inputs)


def test_a_box_that_does_not_suit_its_bags_is_told(inputs: PaperInputs) -> None:
    wrong = "Has a breathing bag, but flat box is not vented: it would stop breathing."
    assert wrong in warned(replace(BAG, box="flat box"), inputs)
    assert wrong not in warned(BAG, inputs)
    assert "Names no box of the boxes table" in warned(replace(BAG, box="shoe box"), inputs)


def test_warnings_stand_in_the_row_of_their_parcel(inputs: PaperInputs) -> None:
    table = tables_in(pick_list(sample.MONDAY, (FIRST,), inputs))[1]
    assert ["cold car.†" in row[1] for row in rows_of(table)] == [False, True]


def test_what_was_reckoned_stands_once_with_the_names_of_its_parcels(inputs: PaperInputs) -> None:
    again = replace(FIRST, parcel="2026-W49-09")
    parcels = (FIRST, again)
    units = {parcel.parcel: units_of(parcel, inputs.shelf) for parcel in parcels}
    ((names, said),) = physics(parcels, units, inputs.wording("en"))
    assert names == "01, 09"
    assert said == (
        "Bottle: 250\u00a0ml of water at 23\u00a0°C into flat box; half of its warmth is gone after"
        " 12\u00a0h."
    )


def test_a_parcel_fetched_in_person_has_no_label_and_no_advice_on_its_way(inputs: PaperInputs) -> None:
    fetched = replace(FIRST, arrive=replace(FIRST.arrive, p05=sample.MONDAY, p95=sample.MONDAY))
    assert is_collected(fetched)
    assert label_sheets((fetched,), inputs).shared == ()
    assert "cold car" not in warned(fetched, inputs)
    swells = Note("swells-damp-bag", {"times": 1.36, "high": 20.0})
    noted = {fetched.parcel: tuple(_noted(unit, swells) for unit in units_of(fetched, inputs.shelf))}
    assert "aeroplane" not in str(physics((fetched,), noted, inputs.wording("en")))
    assert "aeroplane" in str(physics((FIRST,), noted, inputs.wording("en")))


def test_the_bench_is_asked_once_to_look_at_the_forecast_of_all_places(inputs: PaperInputs) -> None:
    places = (("DK", "2026-12-01", 12.0, 19.0), ("NL", "2026-12-09", 11.0, 21.0))
    parcels = (FIRST, BAG)
    noted = {
        parcel.parcel: tuple(
            _noted(
                unit,
                Note("no-forecast", {"place": place, "until": until, "low_c": low, "high_c": high}),
            )
            for unit in units_of(parcel, inputs.shelf)
        )
        for parcel, (place, until, low, high) in zip(parcels, places, strict=True)
    }
    ((names, said),) = this_week(parcels, noted, inputs.wording("en"))
    assert names == "01, 02"
    assert (
        "here and in Denmark, the Netherlands up to Wed 9 Dec: 11\u00a0°C to 21\u00a0°C was reckoned" in said
    )


def _noted(unit: Unit, note: Note) -> Unit:
    return replace(unit, draw=replace(unit.draw, cautions=(note,)))


def test_the_slip_of_a_parcel_fetched_in_person_speaks_of_no_journey(inputs: PaperInputs) -> None:
    arrive = Dates(sample.MONDAY, sample.MONDAY, sample.MONDAY)
    fetched = replace(FIRST, language="en", arrive=arrive, dispatch_on=sample.MONDAY, parcel_lost_share=0.01)
    said = story_words(slip(fetched, inputs).story)
    assert "To be fetched on" in said
    assert "on the day you fetch them" in said
    for word in ("Posted", "Expected", "torn", "if the parcel arrives", "never arrive"):
        assert word not in said, word


def test_the_share_of_parcels_that_never_arrive_stands_beside_the_promise(inputs: PaperInputs) -> None:
    said = story_words(slip(replace(FIRST, language="en", parcel_lost_share=0.01), inputs).story)
    assert "1 %† of parcels by this service never arrive." in said
    assert "the share of lost parcels" in said
    counted = story_words(slip(replace(FIRST, language="en", parcel_lost_share=0.03), inputs).story)
    assert "3 % of parcels by this service never arrive." in counted
    assert "the share of lost parcels" not in counted


def test_a_second_fish_points_to_what_the_first_said_but_has_its_own_days_and_figures(
    inputs: PaperInputs,
) -> None:
    told: dict[str, str] = {}
    own = units_of(FIRST, inputs.shelf)
    cue = "still water low in oxygen"
    first, second = (
        tuple(
            replace(unit, species=unit.species.model_copy(update={"cue": cue, "scientific_name": name}))
            for unit in own
        )
        for name in ("Epiplatys dageti", "Epiplatys chaperi")
    )
    said = [fish_markdown(units, FIRST, inputs, inputs.wording("en"), told) for units in (first, second)]
    assert cue in said[0]
    assert "Try a few eggs first" in said[0]
    assert cue not in said[1]
    assert said[1].startswith("- **As for Epiplatys dageti:** Into a dish · Every day · If eggs with clear")
    assert "Try a few eggs first" not in said[1]
    assert "shallow dish" not in said[1]
    for own in (
        "Expect the first fry about **7 Dec**",
        "kept at 23\u00a0°C",
        "reach about 6\\.5\u00a0cm",
        "Pairs",
    ):
        assert own in said[0], own
        assert own in said[1], own


def test_an_address_without_a_line_the_home_post_reads_is_told_beside_the_parcel(inputs: PaperInputs) -> None:
    address = replace(
        FIRST.address, delivery=("вул. Вигадана 12",), town="Київ", postcode="01001", country="UA"
    )
    unread = replace(FIRST, address=address)
    assert is_unread_at_home(unread)
    assert not is_unread_at_home(FIRST)
    assert "no line of the address is in letters that the post here reads" in warned(unread, inputs)


def test_a_blank_language_is_the_breeders_own_at_home_and_the_one_of_the_country_abroad(
    inputs: PaperInputs,
) -> None:
    settings = inputs.shelf.settings
    german = settings.model_copy(
        update={
            "home": settings.home.model_copy(update={"country": "DE"}),
            "papers": settings.papers.model_copy(update={"languages": ("de",)}),
        }
    )
    own = replace(inputs, shelf=replace(inputs.shelf, settings=german))
    spoken = [own.language_of(None, country) for country in ("DE", "FR", "AR", "CH", "PL", "GB")]
    assert spoken == ["de", "fr", "es", "de", "en", "en"]
    assert own.language_of("nl", "DE") == "en"
    munich = replace(BAG, language=None)
    assert slip(munich, own).title == "Packzettel"


@pytest.mark.parametrize(
    ("country", "postcode", "paper", "post"),
    [
        ("RE", "97400", "fr", "fr"),
        ("NC", "98800", "fr", "fr"),
        ("BE", "5000", "fr", "fr"),
        ("BE", "B-4780", "de", "de"),
        ("BE", "1300", "fr", "fr"),
        ("BE", "9000", "en", "nl"),
        ("BE", "1500", "en", "nl"),
        ("BE", "1000", "fr", "fr"),
        ("CH", "8002", "de", "de"),
        ("CH", "1201", "fr", "fr"),
        ("CH", "2502", "de", "de"),
        ("CA", "G1R 4P5", "fr", "fr"),
        ("CA", "M5V 2T6", "en", "en"),
        ("BO", "", "es", "es"),
        ("FI", "00100", "en", "en"),
    ],
)
def test_a_buyer_who_named_no_language_reads_what_is_spoken_where_the_parcel_goes(
    inputs: PaperInputs, country: str, postcode: str, paper: str, post: str
) -> None:
    """Postcode areas of Belgium, Canada and Switzerland; elsewhere what most speak."""
    address = replace(BAG.address, country=country, postcode=postcode, region="", town="Town")
    parcel = replace(BAG, language=None, address=address)
    assert (inputs.wording_for(parcel).language, post_language(country, None, postcode)) == (paper, post)
    assert inputs.wording_for(replace(parcel, language="es")).language == "es"


def test_the_slip_of_a_torn_parcel_says_where_it_goes_and_where_it_came_from(inputs: PaperInputs) -> None:
    said = story_words(slip(DAMP, inputs).story)
    for line in ("Harbour Lane 4", "CF10 1AA", "Tel. +44 00 0000 0000", "return it to", "Strandstien 12"):
        assert line in said
    for line in ("8000 Aarhus C", "DENMARK", "Tel. +45 00 00 00 00", "eggs@example.org"):
        assert line in said


def test_a_slip_at_home_names_no_country(inputs: PaperInputs) -> None:
    at_home = replace(DAMP, address=replace(DAMP.address, country="DK"))
    assert "DENMARK" not in story_words(slip(at_home, inputs).story)


def test_a_new_year_is_named_on_the_days_of_a_chart_which_eggs_that_rest_do_not_stretch() -> None:
    monday, wording = sample.MONDAY, Wording(None, "en")
    soon = Lane("parcel", monday, None, monday + timedelta(days=9), "")
    rest = Lane("wet", monday + timedelta(days=60), None, monday + timedelta(days=400), "")
    shown = [said for _, said in _ticks(monday, [soon, rest], wording)]
    assert shown == ["30 Nov", "24 Dec", "17 Jan 2027", "10 Feb", "6 Mar", "30 Mar"]
    late = rest._replace(begin=monday + timedelta(days=300))
    assert _ticks(monday, [soon, late], wording)[-1][0] == monday + timedelta(days=330)
    assert [said for _, said in _ticks(monday, [soon], wording)][-1] == "10 Dec"


def test_a_promise_that_rests_on_assumed_figures_is_marked(inputs: PaperInputs) -> None:
    said = story_words(slip(replace(FIRST, language="en"), inputs).story)
    assert "47 eggs packed so that at least 40 arrive alive" in said
    assert "chance as reckoned, if the parcel arrives: 96 %†" in said
    assert "† rests on assumed figures (the warmth on the way, the warmth at which development stops)" in said
    known = inputs.shelf.species["gardneri"].model_copy(update={"zero_basis": "published"})
    shelf = replace(inputs.shelf, species={**inputs.shelf.species, "gardneri": known})
    sure = replace(FIRST, language="en", warmth_basis="weather")
    assert "†" not in story_words(slip(sure, replace(inputs, shelf=shelf)).story)


def test_eggs_without_extra_ones_are_expected_with_the_mark_of_what_is_assumed(inputs: PaperInputs) -> None:
    assert "about 44† are expected to arrive alive" in story_words(
        slip(replace(DAMP, language="en", lines=(replace(DAMP.lines[0], expected_alive=44.2),)), inputs).story
    )


def test_estimated_counts_are_about_so_many_wherever_they_stand(inputs: PaperInputs) -> None:
    said = story_words(slip(DAMP, inputs).story)
    assert "packed about 50" in said
    assert "about 50 eggs packed" in said
    tags = [tag_lines(DAMP, unit, inputs.wording("en"))[0] for unit in units_of(DAMP, inputs.shelf)]
    assert tags == ["about\u00a050"]
    form = customs_sheet(DAMP, inputs)
    assert form is not None
    assert "about 50 eggs" in story_words(form.story)


def test_a_tag_says_when_the_eggs_were_laid_with_the_year_and_the_parcel(inputs: PaperInputs) -> None:
    (unit,) = units_of(DAMP, inputs.shelf)
    lines = tag_lines(DAMP, unit, inputs.wording("en"))
    assert "laid 1 Sep – 20 Sep 2026" in lines
    assert "wet 20 Dec – 20 Feb 2027" in lines
    assert "2026-W49-03 · damp\u00a0bag\u00a01/1" in lines


def test_units_of_a_draw_are_numbered_through_the_parcel_and_filled_evenly(inputs: PaperInputs) -> None:
    assert [(unit.number, unit.of, unit.eggs) for unit in units_of(FIRST, inputs.shelf)] == [
        (1, 2, 24),
        (2, 2, 23),
    ]


@pytest.mark.parametrize(
    ("country", "language", "first"),
    [
        ("CH", "fr", "Œufs de poisson vivants."),
        ("CH", "it", "Uova di pesce vive."),
        ("CH", "", "Lebende Fischeier."),
        ("BE", "nl", "Levende viseitjes."),
        ("CA", "fr", "Œufs de poisson vivants."),
        ("AT", "fr", "Lebende Fischeier."),
    ],
)
def test_the_post_of_a_country_of_several_languages_is_told_in_the_buyers(
    inputs: PaperInputs, country: str, language: str, first: str
) -> None:
    address = replace(DAMP.address, country=country)
    lines = handling_lines(replace(DAMP, address=address, language=language), inputs)
    assert lines[0].startswith(first)


def test_what_to_do_first_stands_before_the_days(inputs: PaperInputs) -> None:
    """Who opens the box reads what to do now before what comes in weeks."""
    said = story_words(slip(DAMP, inputs).story)
    assert said.index("Do not wet them yet.") < said.index("nine times in ten")


def test_parcels_packed_and_still_to_be_handed_over_stay_on_the_sheet_of_their_day(
    inputs: PaperInputs,
) -> None:
    inputs = replace(inputs, to_send={"2026-W49-07": sample.MONDAY, "2026-W49-09": sample.MONDAY})
    said = "Packed already, to be handed over on Mon 30 Nov: 07, 09"
    assert said in story_words(pick_list(sample.MONDAY, [FIRST], inputs).story)
    assert said in story_words(week_sheet([FIRST], inputs).story)
    assert "Packed already" not in story_words(pick_list(DAMP.dispatch_on, [DAMP], inputs).story)


def test_a_day_of_which_parcels_are_packed_already_shows_them_in_the_week(inputs: PaperInputs) -> None:
    """Its bar showed none, as if the day were free."""
    gone = {"2026-W49-07": sample.MONDAY, "2026-W49-09": sample.MONDAY}
    told = [
        next(block.about for block in week_sheet([FIRST], one).story if hasattr(block, "about"))
        for one in (inputs, replace(inputs, packed=gone))
    ]
    assert ["Mon 30 Nov: 1" in told[0], "Mon 30 Nov: 3" in told[1]] == [True, True]


@pytest.mark.parametrize(
    ("country", "language", "lacks"),
    [
        *(("PL", None, True), ("PT", None, True), ("DE", None, False), ("GB", None, False)),
        *(
            ("PL", "pl", True),
            ("PL", "en", False),
            ("PL", "de", False),
            ("CH", None, False),
            ("NL", None, True),
            ("DK", None, False),
        ),
    ],
)
def test_papers_are_in_english_for_want_of_a_language_only_where_nobody_chose_it(
    inputs: PaperInputs, country: str, language: str | None, lacks: bool
) -> None:
    """Papers have no Dutch; the breeder is in Denmark."""
    there = replace(FIRST, address=replace(FIRST.address, country=country), language=language)
    assert inputs.lacks_language(there) is lacks


def test_about_and_its_count_stay_on_a_line_of_the_pick_list(inputs: PaperInputs) -> None:
    sheet = pick_list(DAMP.dispatch_on, [DAMP], inputs)
    tables = [table for table in tables_in(sheet) if len(table._colWidths) > 4]
    setter = Typesetter(inputs.typeface, 500)
    assert len(tables) == 2
    for table in tables:
        count = setter.words(count_words(999, True, inputs.wording("en")), layout.LARGE, bold=True)
        eggs = next(at for at, cell in enumerate(table._cellvalues[0]) if story_words(cell) == "Eggs")
        assert count.wrap(table._colWidths[eggs] - 7, 900)[1] < 2 * layout.LARGE


def test_the_handling_line_is_in_the_languages_of_both_ends(inputs: PaperInputs) -> None:
    assert handling_lines(FIRST, inputs) == (
        "Œufs de poisson vivants. Garder entre 15 et 27\u00a0°C. Ne pas congeler ni chauffer.",
        "Levende fiskeæg. Opbevares ved 15 til 27\u00a0°C. Må ikke fryses eller opvarmes.",
    )


def test_the_warmth_on_the_label_is_what_all_species_stand(inputs: PaperInputs) -> None:
    assert keep_range(BAG, inputs.shelf) == (15, 26)


def test_the_label_says_it_is_no_postage_and_puts_the_country_last(each_paper: Path) -> None:
    lines = [at.text for at in placed_texts(each_paper / "print" / "2026-W49-label.pdf", faces.measure)]
    assert "Address only. This is not paid postage." in lines
    assert lines.index("SWITZERLAND") == lines.index("1205 Genève") + 1


def test_a_label_at_home_is_worded_in_the_breeders_language(inputs: PaperInputs, tmp_path: Path) -> None:
    settings = inputs.shelf.settings
    home = settings.home.model_copy(update={"country": "DE"})
    papers = settings.papers.model_copy(update={"languages": ("de",)})
    shelf = replace(sample.SHELF, settings=settings.model_copy(update={"home": home, "papers": papers}))
    write_papers(sample.PLAN, shelf, tmp_path, only=("label",), parcel=BAG.parcel)
    words = words_of(tmp_path / "parcels" / f"{BAG.parcel}-label.pdf")
    assert "Von: Mosegård" in words
    assert "Nur Anschrift" in words


def test_papers_of_a_parcel_at_home_are_in_one_language_whatever_the_breeder_reads(
    inputs: PaperInputs,
) -> None:
    """A German buyer got an English slip and a German label, of a breeder who had named no language."""
    settings = inputs.shelf.settings
    home = settings.home.model_copy(update={"country": "DE"})
    shelf = replace(inputs.shelf, settings=settings.model_copy(update={"home": home}))
    english = replace(inputs, shelf=shelf)
    assert english.own_language == "en"
    parcel = replace(BAG, language=None)
    assert slip(parcel, english).title == "Packzettel"
    assert label_wording(parcel, english).language == "de"


def test_stickers_begin_where_the_sheet_is_still_full() -> None:
    grid = Grid.of_stickers(GRID, "A4")
    left, top = grid.corner(4)
    assert round(left / layout.MM, 1) == 7 + 63.5 + 2.5
    assert round(297 - top / layout.MM, 1) == round(15 + 38.1, 1)


def test_slim_tags_wrap_a_tube_and_usual_ones_are_twelve_to_a_sheet(inputs: PaperInputs) -> None:
    line = FIRST.lines[0]
    many = replace(line, pack=65, draws=(replace(line.draws[0], units=13, pack=65),))
    parcel = replace(FIRST, lines=(many,))
    assert len(tag_sheets((parcel,), inputs)) == 2
    papers = inputs.shelf.settings.papers.model_copy(update={"tags": "slim"})
    slim = replace(inputs.shelf, settings=inputs.shelf.settings.model_copy(update={"papers": papers}))
    assert len(tag_sheets((parcel,), replace(inputs, shelf=slim))) == 1


def test_a_slim_tag_of_long_names_keeps_the_code_of_its_parcel(tmp_path: Path) -> None:
    plan, shelf = awkward.week("de", {"tags": "slim"})
    longer = tuple(lot.model_copy(update={"population": lot.population * 3}) for lot in shelf.lots)
    write_papers(plan, replace(shelf, lots=longer), tmp_path, only=("tags",), parcel="2026-W49-05")
    words = words_of(tmp_path / "parcels" / "2026-W49-05-tags.pdf")
    assert words.count("Fundulopanchax gardneri") == words.count("LOT-OF-A-VERY") == 3
    assert words.count("2026-W49-05 · Röhrchen") == 3


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
    write_papers(sample.PLAN, shelf, tmp_path, first_sticker=3, only=("tags",))
    tags = tmp_path / "print" / "2026-W49-tags.pdf"
    words = words_of(tags)
    for unit in ("1/2", "2/2", "1/1"):
        assert unit in words
    for at in placed_texts(tags, faces.measure):
        from_left = (at.x / layout.MM - 7) % 66
        end = (at.right / layout.MM - 7) % 66
        assert 0 <= from_left < end <= 63.6, at.text
        assert 0 <= ((at.height - at.y) / layout.MM - 15) % 38.1 <= 38.1


def test_northern_ireland_needs_a_form_and_berlin_does_not(inputs: PaperInputs) -> None:
    assert [crosses_customs(parcel, inputs.shelf) for parcel in sample.PARCELS] == [True, False, True]


def test_customs_is_told_a_sale_by_purpose_with_the_eggs_packed(
    inputs: PaperInputs, each_paper: Path
) -> None:
    made = parcel_declaration(FIRST, inputs)
    assert [(goods.eggs, goods.origin) for goods in made.goods] == [(47, "DK")]
    assert made.tariff == "051191"
    words = words_of(each_paper / "parcels" / "2026-W49-01-customs.pdf")
    assert "Fertile fish eggs for hatching, not for consumption (Fundulopanchax gardneri)" in words
    assert "☑ sale of goods" in words
    assert "☐ gift" in words
    assert "it is not that form and pays no postage" in words


def test_what_a_form_lacks_is_named_first(inputs: PaperInputs) -> None:
    unpriced = replace(FIRST, mail="", lines=(replace(FIRST.lines[0], price=None),))
    gaps = customs_gaps(unpriced, inputs)
    assert any("no price" in gap for gap in gaps)
    assert any("neither telephone nor e-mail" in gap for gap in gaps)
    sheet = customs_sheet(unpriced, inputs)
    assert sheet is not None
    assert sheet.below.startswith("CN 23")
    assert customs_gaps(BAG, inputs) == ()


def test_a_buyer_whose_order_waits_is_told_why_in_his_language(inputs: PaperInputs) -> None:
    letters = {letter.of: letter for letter in notices(inputs, sample.PARCELS)}
    waiting = letters["1004"]
    assert waiting.language == "fr"
    assert "les œufs sont trop jeunes pour voyager" in waiting.text
    assert "le 8 décembre" in waiting.text
    held = letters["1005"]
    assert "autoridades de su país" in held.text
    assert '<html lang="es">' in held.html


def test_a_buyer_of_several_parcels_and_orders_gets_one_message_greeted_and_signed_once(
    inputs: PaperInputs,
) -> None:
    again = replace(FIRST, parcel="2026-W49-09")
    (letter,) = notices(inputs, (FIRST, again), with_lines_out=False)
    assert letter.text.count("Bonjour") == letter.text.count("eggs@example.org") == 1
    assert "2026-W49-01" in letter.subject
    assert "en route\u00a0: 2026-W49-09" in letter.text


def test_a_letter_keeps_annual_eggs_dry_and_asks_for_a_dish_only_for_the_others(inputs: PaperInputs) -> None:
    """A dish of water held ready for eggs of an annual in peat would kill them."""
    (damp,) = notices(inputs, (sample.PARCELS[2],), with_lines_out=False)
    assert "Do not wet Nothobranchius guentheri:" in damp.text
    assert "dish" not in damp.text
    (water,) = notices(inputs, (replace(FIRST, language="en"),), with_lines_out=False)
    assert "Do not wet" not in water.text
    assert "Have ready: a shallow dish" in water.text


def test_a_letter_of_a_parcel_fetched_in_person_speaks_of_no_journey(inputs: PaperInputs) -> None:
    here = Dates(*3 * (FIRST.dispatch_on,))
    (letter,) = notices(inputs, (replace(FIRST, arrive=here, language="en"),), with_lines_out=False)
    assert letter.subject == "Your fish eggs are ready to fetch: 2026-W49-01"
    assert "ready to fetch on 30 Nov." in letter.text
    assert "reach you" not in letter.text
    tomorrow = Dates(*3 * (FIRST.dispatch_on + timedelta(days=1),))
    (letter,) = notices(inputs, (replace(FIRST, arrive=tomorrow, language="en"),), with_lines_out=False)
    assert "It should reach you on 1 Dec. Please" in letter.text


def test_french_says_d_before_a_vowel(inputs: PaperInputs) -> None:
    line = replace(FIRST.lines[0], species="mento", population="")
    (letter,) = notices(inputs, (replace(FIRST, lines=(line,)),), with_lines_out=False)
    assert "47 œufs d'Aphanius mento" in letter.text


def test_a_letter_escapes_what_a_buyer_is_called(inputs: PaperInputs) -> None:
    letter = notices(inputs, (FIRST,), with_lines_out=False)[0]
    assert "Łucja Żółć <b>& Söhne" in letter.text
    assert "Łucja Żółć &lt;b&gt;&amp; Söhne" in letter.html
    assert "<b>" not in letter.html


def test_a_lot_whose_treatment_cannot_be_printed_is_told_with_its_row() -> None:
    lots = (sample.LOTS[0].model_copy(update={"treatment": "甲基蓝"}), *sample.LOTS[1:])
    problems = letter_problems(sample.PARCELS, (), replace(sample.SHELF, lots=lots), faces.letters_lacking)
    assert [(problem.where.file, problem.where.row, problem.column) for problem in problems] == [
        ("lots.csv", 2, "treatment")
    ]


def test_a_new_column_is_looked_at_without_being_named_and_a_private_one_is_not() -> None:
    def columns(**cells: str) -> list[str]:
        lots = (sample.LOTS[0].model_copy(update=cells), *sample.LOTS[1:])
        shelf = replace(sample.SHELF, lots=lots)
        return [one.column for one in letter_problems(sample.PARCELS, (), shelf, faces.letters_lacking)]

    assert columns(note="甲", origin="甲") == []
    assert {"note", "origin"} <= UNPRINTED
    text = [name for name, value in sample.LOTS[0] if isinstance(value, str)]
    text = [name for name in text if name not in UNPRINTED and name not in ("lot", "species")]
    assert {name for name in text if columns(**{name: "甲"}) == [name]} >= {"population", "treatment"}


def test_a_parcel_of_many_units_and_long_words_still_prints_within_its_margins(tmp_path: Path) -> None:
    line = FIRST.lines[0]
    many = replace(line, pack=900, draws=(replace(line.draws[0], units=60, pack=900),), message="Wort" * 300)
    address = replace(
        FIRST.address, addressee="Donaudampfschifffahrtsgesellschaft" * 5, delivery=("x" * 150, "y" * 150)
    )
    parcel = replace(
        FIRST, lines=tuple(replace(many, line=number) for number in range(1, 4)), address=address
    )
    write_papers(replace(sample.PLAN, parcels=(parcel,)), sample.SHELF, tmp_path)
    (day,) = tmp_path.glob("print/*.pdf")
    assert len(PdfReader(day).pages) > 20
    for at in placed_texts(day, faces.measure):
        margin = layout.LABEL_MARGIN
        assert at.x >= margin - 1, at.text
        assert at.right <= at.width - margin + 1, at.text
        assert margin - 2 <= at.y <= at.height - margin + 1, at.text


def test_the_longer_form_asks_for_its_own_fields_and_copies(tmp_path: Path) -> None:
    plan, shelf = awkward.week("en", {})
    parcel = "2026-W49-04"
    write_papers(plan, shelf, tmp_path, parcel=parcel, only=("customs",), items=awkward.ITEMS)
    words = words_of(tmp_path / "parcels" / f"{parcel}-customs.pdf")
    assert "CN 23" in words
    for asked in (
        "Sender's customs reference",
        "Importer's reference",
        "Item number N° de l'envoi EB000717618HK",
        "9 Postal charges",
        "10 Category",
    ):
        assert asked in words
    for asked in (
        "11 Comments",
        "12 Licence",
        "13 Certificate",
        "14 Invoice",
        "(15) Date and sender's signature",
        "Exemplaires as many as",
    ):
        assert asked in words
    assert "☑ sale of goods" in words
    assert "☐ gift" in words
    assert "it is not that form and pays no postage" in words


def test_a_lot_to_look_at_for_more_parcels_than_a_page_holds_is_printed(inputs: PaperInputs) -> None:
    many = tuple(replace(BAG, parcel=f"2026-W49-{number:03d}") for number in range(290))
    plan = replace(inputs.plan, parcels=many)
    sheet = pick_list(sample.TUESDAY, many, replace(inputs, plan=plan))
    about = {"title": "Pick list", "author": "", "subject": ""}
    pages = PdfReader(BytesIO(bound([sheet], inputs.typeface, **about, today=sample.TODAY))).pages
    words = " ".join(" ".join(page.extract_text().split()) for page in pages)
    assert all(f"{parcel.parcel} (36)" in words for parcel in many)


def test_a_message_is_signed_once_by_a_sender_without_mail_and_telephone(inputs: PaperInputs) -> None:
    settings = inputs.shelf.settings
    sender = settings.sender.model_copy(update={"mail": "", "tel": ""})
    shelf = replace(inputs.shelf, settings=settings.model_copy(update={"sender": sender}))
    for notice in notices(replace(inputs, shelf=shelf), sample.PARCELS):
        assert notice.text.count(sender.name) == 1
        assert notice.text == notice.text.strip() + "\n" or notice.text == notice.text.strip()
