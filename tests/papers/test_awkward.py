"""Long names, many lines and other scripts on every paper: nothing is cut, nothing meets, no page is nearly
empty.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from shipping.papers.documents.care_sheet import care_sheet
from shipping.papers.documents.contents import PaperInputs, code_text
from shipping.papers.documents.labels import address_blocks
from shipping.papers.page import fonts as faces
from shipping.papers.page import layout
from shipping.papers.page.drawing import wrapped
from shipping.papers.page.fonts import OUR_TYPE
from shipping.papers.page.pdf_file import Grid, grid_sheets
from shipping.papers.page.typesetter import PrintedColumn, Typesetter
from shipping.papers.wording.markdown import Span
from shipping.papers.wording.phrases import Wording
from shipping.papers.writing import KINDS, write_papers
from tests.papers import awkward, sample
from tests.papers.reading import codes_of, lying_on_each_other, outside_margins, placed_texts, words_of

SIZES = {"en": ("A4", "A6"), "de": ("letter", "4x6"), "fr": ("A4", "102x152"), "es": ("letter", "A6")}


@pytest.fixture(scope="module", params=list(SIZES))
def awkward_week(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp(f"awkward-{request.param}")
    paper, label = SIZES[request.param]
    plan, shelf = awkward.week(request.param, {"paper": paper, "label": label})
    write_papers(plan, shelf, folder, items=awkward.ITEMS, only=KINDS)
    return folder


def test_nothing_leaves_its_margins_and_no_two_lines_meet(awkward_week: Path) -> None:
    for path in sorted(awkward_week.glob("parcels/2026-W49-0[1456]-*.pdf")):
        assert outside_margins(path) == [], path.name
        assert lying_on_each_other(path) == [], path.name
    for kind in ("pick-list", "label", "tags"):
        path = awkward_week / "print" / f"2026-W49-{kind}.pdf"
        assert outside_margins(path, layout.TAG_MARGIN) == [], path.name
        assert lying_on_each_other(path) == [], path.name


def test_no_paper_ends_on_a_page_of_a_few_lines(awkward_week: Path) -> None:
    assert ending_on_few_lines(awkward_week) == []


@pytest.mark.parametrize(("language", "paper"), [("de", "A4"), ("en", "letter")])
def test_what_to_mind_at_a_slips_end_does_not_stand_on_a_page_alone(
    language: str, paper: str, tmp_path: Path
) -> None:
    plan, shelf = awkward.week(language, {"paper": paper})
    write_papers(plan, shelf, tmp_path, items=awkward.ITEMS, parcel="2026-W49-04", only=("slip",))
    assert ending_on_few_lines(tmp_path) == []
    assert len(PdfReader(tmp_path / "parcels" / "2026-W49-04-slip.pdf").pages) == 3


def test_that_a_heat_pack_gets_hot_is_said_once_on_a_slip(tmp_path: Path) -> None:
    plan, shelf = awkward.week("en", {})
    packs = [one.model_copy(update={"heat_pack_h": 40}) for one in shelf.packings]
    warm = replace(shelf, packings=tuple(packs))
    write_papers(plan, warm, tmp_path, parcel="2026-W49-04", only=("slip",))
    assert words_of(tmp_path / "parcels" / "2026-W49-04-slip.pdf").count("heat pack gets hot") == 1


def ending_on_few_lines(folder: Path) -> list[str]:
    """Papers of parcels whose last page, not the first, holds fewer than four lines; and these."""
    found = []
    for path in sorted(folder.glob("parcels/*.pdf")):
        pages = len(PdfReader(path).pages)
        lines = [at for at in placed_texts(path, faces.measure) if at.page == pages - 1]
        body = [at for at in lines if 70 < at.y < at.height - 95]
        if pages > 1 and len(body) < 4:
            found.append(f"{path.name}: {[at.text for at in body]}")
    assert pages
    return found


def test_nothing_on_a_sheet_is_set_too_small_to_be_read(awkward_week: Path) -> None:
    for path in sorted(awkward_week.glob("parcels/*.pdf")):
        if not path.stem.endswith(("label", "tags")):
            small = [at for at in placed_texts(path, faces.measure) if at.size < layout.SMALLEST - 0.01]
            assert small == [], path.name


def test_a_long_table_begins_below_what_stands_before_it(awkward_week: Path) -> None:
    """A slip of many lines and its customs data leave no page half empty but the last."""
    for kind in ("slip", "customs"):
        path = awkward_week / "parcels" / f"2026-W49-04-{kind}.pdf"
        pages = len(PdfReader(path).pages)
        body = [at for at in placed_texts(path, faces.measure) if at.y > 70]
        lowest = [min(at.y / at.height for at in body if at.page == page) for page in range(pages - 1)]
        assert lowest, path.name
        assert max(lowest) < 0.35, f"{path.name}: {lowest}"


def test_no_heading_stands_last_in_its_column(awkward_week: Path) -> None:
    """On care sheets headings alone are larger than the text and begin at the left of a column."""
    for path in sorted(awkward_week.glob("parcels/*-care.pdf")):
        lines = [at for at in placed_texts(path, faces.measure) if 62 < at.y < at.height - 95]
        for is_right in (False, True):
            for page in range(len(PdfReader(path).pages)):
                column = [at for at in lines if at.page == page and (at.x > at.width / 2) == is_right]
                if column:
                    sizes = sorted({at.size for at in column})
                    last = min(column, key=lambda at: at.y)
                    assert last.size < max(sizes) or len(sizes) == 1, (path.name, last.text)


@pytest.mark.parametrize("scale", [1.0, 0.83])
def test_a_lots_name_is_set_smaller_in_a_narrow_column_and_not_parted(scale: float) -> None:
    setter = Typesetter(faces.OUR_TYPE, 500.0, scale)
    columns = (PrintedColumn("Lot", 0.15), PrintedColumn("Fish", 0.85))

    def lines(name: str) -> int:
        table = setter.table(columns, [([(Span(name, True),)], [(Span("fish"),)])])
        table.wrap(500.0, 900.0)
        return len(table._cellvalues[1][0][0].blPara.lines)

    assert lines("GA-12") == 1
    assert lines("GARD-NSU-26b") == 1
    assert lines("gardneri-nsukka-2026-clutch-7") > 1, "smaller than can be read is no help"


def test_steps_on_opening_and_what_stands_under_a_fishs_name_are_not_parted() -> None:
    """A panel that does not fit stands on the next page whole; so does a name with the line below it."""
    setter = Typesetter(faces.OUR_TYPE, 500.0)
    panel = setter.panel(lambda inner: [inner.words(f"step {n}") for n in range(4)])
    panel.wrap(500.0, 40.0)
    assert panel.split(500.0, 40.0) == []
    long = setter.panel(lambda inner: [inner.words(f"step {n}") for n in range(40)])
    long.wrap(500.0, 200.0)
    assert len(long.split(500.0, 200.0)) == 2
    plan, shelf = awkward.week("en", {})
    wordings = {"en": Wording(None, "en"), "de": Wording(None, "de")}
    story = care_sheet(plan.parcels[1], PaperInputs(plan, shelf, wordings, {})).story
    below = [block for block in story if " · lot\u00a0" in block.getPlainText(identify=True)]
    assert len(below) == 2
    assert all(block.keepWithNext for block in below)


def test_a_parcel_of_more_draws_than_a_page_holds_stands_whole_on_the_pick_list(tmp_path: Path) -> None:
    """Its rows go on over the page, each naming the parcel, and its sum never stands alone."""
    plan, shelf = awkward.week("en", {})
    line = plan.parcels[0].lines[0]
    for draws in range(30, 34):  # one of them ends where a page does
        lines = tuple(replace(line, line=number) for number in range(1, draws + 1))
        long = replace(plan.parcels[0], lines=lines)
        write_papers(replace(plan, parcels=(long,)), shelf, tmp_path, only=("pick-list",))
        reader = PdfReader(tmp_path / "print" / "2026-W49-pick-list.pdf")
        pages = [page.extract_text() for page in reader.pages]
        rows = [page.count("24 + 23") for page in pages]
        assert sum(rows) == draws
        sums = ("letter · flat box" in page for page in pages)
        assert [count > 0 for count, is_there in zip(rows, sums, strict=True) if is_there] == [True]
        assert all("2026-W49-01" in page for page, count in zip(pages, rows, strict=True) if count)


@pytest.mark.parametrize(
    "awkward_week",
    [*("en", "de"), *(pytest.param(language, marks=pytest.mark.slow) for language in ("fr", "es"))],
    indirect=True,
)
def test_codes_read_back_from_the_fullest_papers(awkward_week: Path, tmp_path: Path) -> None:
    labels = codes_of(awkward_week / "print" / "2026-W49-label.pdf", tmp_path)
    assert labels == {f"CODE-128:{item}" for item in awkward.ITEMS.values()}
    slip = codes_of(awkward_week / "parcels" / "2026-W49-04-slip.pdf", tmp_path)
    assert slip == {f"QR-Code:{code_text(awkward.PARCELS[3])}"}
    assert f"D77-ΩЖ/14={awkward.PARCELS[3].lines[13].pack}" in slip.pop() or "14 lines=" in code_text(
        awkward.PARCELS[3]
    )


def test_every_lot_of_a_line_stands_on_its_slip(awkward_week: Path) -> None:
    words = words_of(awkward_week / "parcels" / "2026-W49-05-slip.pdf").replace(" ", "")
    assert all(lot.lot in words for lot in awkward.LOTS)


def desk_of(language: str = "en") -> PaperInputs:
    plan, shelf = awkward.week(language, {})
    return PaperInputs(plan, shelf, {}, {})


def test_delivery_lines_in_local_letters_stand_apart_below_the_latin_address() -> None:
    latin, local = address_blocks(awkward.PARCELS[4], desk_of())
    assert latin == ["Олена Ґалаґан", "vul. Vyhadana 12, kv. 3", "Kyiv", "01001", "UKRAINE"]
    assert local == ["вул. Вигадана 12, кв. 3", "м. Київ"]


def test_a_town_longer_than_its_line_is_parted_behind_a_hyphen_and_stays_beside_its_postcode() -> None:
    town = "26409 Musterstadt-Beispielhausen-Probeort"
    assert wrapped(town, 12, 200, OUR_TYPE) == ["26409 Musterstadt-", "Beispielhausen-Probeort"]
    assert "".join(wrapped("Beispielwegstraße", 12, 70, OUR_TYPE)) == "Beispielwegstraße"


def test_an_address_in_local_letters_alone_stays_whole() -> None:
    parcel = awkward.PARCELS[4]
    only = replace(parcel, address=replace(parcel.address, delivery=("вул. Вигадана 12",)))
    latin, local = address_blocks(only, desk_of())
    assert "вул. Вигадана 12" in latin
    assert local == []


@pytest.mark.parametrize(
    ("grid", "kinds"),
    [(awkward.SMALL_STICKERS, ("tags",)), (awkward.LARGE_STICKERS, ("tags", "label"))],
    ids=["small", "large"],
)
def test_stickers_begin_at_the_first_free_one_and_nothing_on_them_meets(
    grid: object, kinds: tuple[str, ...], tmp_path: Path
) -> None:
    plan, shelf = awkward.week("de", {"stickers": grid})
    write_papers(plan, shelf, tmp_path, items=awkward.ITEMS, first_sticker=5, only=kinds)
    for path in sorted(tmp_path.glob("print/*.pdf")):
        assert lying_on_each_other(path) == [], path.name
        first = [at for at in placed_texts(path, faces.measure) if at.page == 0]
        rows = 5 // shelf.settings.papers.stickers.columns if shelf.settings.papers.stickers else 0
        height = shelf.settings.papers.stickers.height_mm if shelf.settings.papers.stickers else 0
        top = max(at.y for at in first)
        assert top < first[0].height - rows * height * 72 / 25.4


def test_a_small_label_that_holds_not_all_keeps_the_address_and_the_number(tmp_path: Path) -> None:
    plan, shelf = awkward.week("en", {"stickers": awkward.LARGE_STICKERS})
    write_papers(plan, shelf, tmp_path, items=awkward.ITEMS, only=("label",), parcel="2026-W49-05")
    label = tmp_path / "parcels" / "2026-W49-05-label.pdf"
    words = words_of(label)
    assert "UKRAINE" in words
    assert "RB 167 995 284 IT" in words
    assert codes_of(label, tmp_path) == set()


def test_the_first_free_sticker_counts_row_by_row() -> None:
    grid = Grid.of_stickers(awkward.SMALL_STICKERS, "A4")
    drawn: list[tuple[float, float]] = []
    cells = [lambda surface, left, top, wide, tall: drawn.append((left, top))] * 3
    sheets = grid_sheets(cells, grid, "A4", "en", first=23, cut=False)
    for sheet in sheets:
        assert sheet.draw is not None
        sheet.draw(None)  # what draws a cell here looks at no surface
    assert len(sheets) == 2
    assert drawn == [grid.corner(22), grid.corner(23), grid.corner(0)]


def test_one_egg_is_one_egg_on_slip_and_customs_sheet(tmp_path: Path) -> None:
    plan, shelf = awkward.week("en", {})
    write_papers(plan, shelf, tmp_path, only=("slip", "customs"), parcel="2026-W49-06")
    assert "1 egg packed so that at least 1 arrives alive" in words_of(
        tmp_path / "parcels" / "2026-W49-06-slip.pdf"
    )
    assert "1 egg 0.0" in words_of(tmp_path / "parcels" / "2026-W49-06-customs.pdf")


def test_a_slip_of_many_lines_states_each_promise_beside_its_line(tmp_path: Path) -> None:
    plan, shelf = awkward.week("en", {})
    write_papers(plan, shelf, tmp_path, only=("slip",), parcel="2026-W49-04")
    words = words_of(tmp_path / "parcels" / "2026-W49-04-slip.pdf")
    assert words.count("alive on arrival: chance") == 14
    assert len(re.findall(r"(?:hatch|wet) \d+ \w+ (?:\d{4} )?– ", words)) == 19, "tubes and bags"
    assert "dark line" not in words
    assert sample.SETTINGS["claims"]["short_policy"] in words


def test_a_slip_of_twelve_lines_is_one_leaf_in_letters_read_with_ease(tmp_path: Path) -> None:
    plan, shelf = awkward.week("de", {})
    long = next(parcel for parcel in plan.parcels if len(parcel.lines) > 12)
    twelve = replace(long, lines=long.lines[:12], address=sample.PARCELS[1].address, holidays=())
    write_papers(replace(plan, parcels=(twelve,)), shelf, tmp_path, only=("slip",))
    path = tmp_path / "parcels" / f"{long.parcel}-slip.pdf"
    assert len(PdfReader(path).pages) == 2
    assert max(at.size for at in placed_texts(path, faces.measure) if "mindestens" in at.text) >= 7.0


def test_no_word_of_an_address_is_parted_on_a_slip(tmp_path: Path) -> None:
    plan, shelf = awkward.week("de", {})
    long = "Maximilian-Alexander von Beispielhausen-Musterbergheimerhof"
    parcel = replace(sample.PARCELS[1], address=replace(sample.PARCELS[1].address, addressee=long))
    write_papers(replace(plan, parcels=(parcel,)), shelf, tmp_path, only=("slip",))
    path = tmp_path / "parcels" / f"{parcel.parcel}-slip.pdf"
    assert any("Beispielhausen-Musterbergheimerhof" in at.text for at in placed_texts(path, faces.measure))


@pytest.mark.parametrize("language", ["en", "de"])
def test_twelve_fish_have_their_care_on_two_leaves_in_letters_read_with_ease(
    language: str, tmp_path: Path
) -> None:
    """Of three fish that are cared for in three ways, four times over: a fish four times as long said all."""
    plan, shelf = awkward.week(language, {})
    names = [f"{fish.species}-{n}" for n in range(4) for fish in sample.SPECIES]
    fish = {
        f"{one.species}-{n}": one.model_copy(
            update={"species": f"{one.species}-{n}", "scientific_name": f"{one.scientific_name} {'abcd'[n]}"}
        )
        for n in range(4)
        for one in sample.SPECIES
    }
    lots, lines = [], []
    for number, name in enumerate(names, start=1):
        line = sample.PARCELS[(0, 1, 2)[(number - 1) % 3]].lines[0]
        model = next(lot for lot in sample.LOTS if lot.lot == line.draws[0].lot)
        lots.append(model.model_copy(update={"lot": name, "species": name}))
        draw = replace(line.draws[0], lot=name)
        lines.append(replace(line, line=number, species=name, draws=(draw,), message=""))
    parcel = replace(sample.PARCELS[1], language=language, lines=tuple(lines))
    many = replace(shelf, lots=tuple(lots), species={**shelf.species, **fish})
    write_papers(replace(plan, parcels=(parcel,)), many, tmp_path, only=("care",))
    path = tmp_path / "parcels" / f"{parcel.parcel}-care.pdf"
    assert len(PdfReader(path).pages) <= 4
    words = placed_texts(path, faces.measure)
    assert min(at.size for at in words if at.text.startswith("Artemia") or "brine" in at.text) >= 7.4
