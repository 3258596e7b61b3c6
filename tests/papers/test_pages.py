"""What stands on the pages: inside the margins, the same counts everywhere, codes that read back, the agreed
words.
"""

from __future__ import annotations

import os
import re
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from shipping.papers.documents.contents import code_text
from shipping.papers.page import fonts as faces
from shipping.papers.page import layout
from shipping.papers.writing import KINDS, write_papers
from shipping.week.plan_data import LineOut
from shipping.words.reasons import Reason, Verdict
from tests.papers import sample
from tests.papers.reading import (
    codes_of,
    lying_on_each_other,
    mail_text,
    outside_margins,
    placed_texts,
    text_of,
    words_of,
)

GOLDEN = Path(__file__).parent / "golden"


def test_everything_printed_lies_inside_the_margins(each_paper: Path) -> None:
    for path in sorted(each_paper.glob("*/*.pdf")):
        is_cut = path.stem.endswith(("-tags", "-label"))
        assert outside_margins(path, layout.LABEL_MARGIN if is_cut else layout.SHEET_MARGIN) == [], path.name


def test_codes_and_the_chart_are_read_aloud_and_the_egg_is_passed_over(printed_week: Path) -> None:
    day = PdfReader(sorted(printed_week.glob("print/*.pdf"))[0])
    pages = [page.get_contents().get_data() for page in day.pages]
    alternatives = [
        bytes.fromhex(told.decode()).decode("utf-16") for page in pages for told in _ALTERNATIVE.findall(page)
    ]
    first = [parcel for parcel in sample.PARCELS if parcel.dispatch_on == sample.PLAN.parcels[0].dispatch_on]
    for parcel in first:
        assert code_text(parcel) in alternatives
    assert any("30 Nov: " in told for told in alternatives), alternatives
    assert b"/Artifact BMC" in pages[0]


_ALTERNATIVE = re.compile(rb"/Span <</Alt <(\w+)>>> BDC")


def test_no_two_lines_of_a_paper_lie_on_each_other(printed_week: Path) -> None:
    for path in sorted(printed_week.glob("print/*.pdf")):
        assert lying_on_each_other(path) == [], path.name


def test_egg_counts_agree_across_plan_pick_list_slips_tags_customs_notices_and_codes(
    each_paper: Path, tmp_path: Path
) -> None:
    pick = words_of(each_paper / "print" / "2026-W49-pick-list.pdf")
    assert f"3 parcels, about {sum(parcel.pack for parcel in sample.PARCELS)} eggs" in pick
    tags = [at.text.strip() for at in placed_texts(each_paper / "print" / "2026-W49-tags.pdf", faces.measure)]
    counts = [text.removeprefix("about ").removeprefix("env. ") for text in tags]
    on_tags = [int(text.removeprefix("etwa ")) for text in counts if re.fullmatch(r"(etwa )?\d+", text)]
    draws = [draw for parcel in sample.PARCELS for line in parcel.lines for draw in line.draws]
    assert sorted(on_tags) == sorted(eggs for draw in draws for eggs in draw.unit_eggs)
    for parcel in sample.PARCELS:
        slip = words_of(each_paper / "parcels" / f"{parcel.parcel}-slip.pdf")
        notice = mail_text(each_paper / "mail" / f"{parcel.parcel}.eml")
        for line in parcel.lines:
            assert re.search(rf"{line.order}/{line.line} .*?{line.ordered}.*?{line.pack}", slip)
            assert f"{line.pack} " in notice
        codes = codes_of(each_paper / "parcels" / f"{parcel.parcel}-slip.pdf", tmp_path)
        assert codes == {f"QR-Code:{code_text(parcel)}"}
        assert sum(int(count) for count in re.findall(r"=(\d+)", code_text(parcel))) == parcel.pack
        customs = each_paper / "parcels" / f"{parcel.parcel}-customs.pdf"
        if customs.exists():
            assert f"{parcel.pack} eggs" in words_of(customs)


def test_the_item_number_reads_back_from_the_day_at_the_width_s10_asks_for(
    printed_week: Path, tmp_path: Path
) -> None:
    codes = codes_of(printed_week / "print" / "2026-W49-2026-11-30.pdf", tmp_path)
    assert codes == {"CODE-128:RR473124829GB", f"QR-Code:{code_text(sample.PARCELS[0])}"}
    assert 0.25 <= layout.BAR_MODULE / layout.MM <= 0.51
    assert layout.BAR_HEIGHT / layout.MM >= 12.5


def test_awkward_names_are_printed_as_they_are(each_paper: Path) -> None:
    assert "Łucja Żółć <b>& Söhne" in words_of(each_paper / "parcels" / "2026-W49-01-slip.pdf")
    labels = words_of(each_paper / "print" / "2026-W49-label.pdf")
    assert "Ünal Şahin" in labels
    assert "Юлія Ґалаґан / Đặng Thị Ngọc" in labels
    assert "c/o Γιώργος Παπαδόπουλος" in labels
    assert "For the school tank *A*." in words_of(each_paper / "parcels" / "2026-W49-03-slip.pdf")


#: A country whose handling line is in that language.
LAND = {"en": "GB", "de": "DE", "fr": "FR", "es": "ES"}
CLOSED = Reason("closed", "FR is closed to Aphanius mento.", {"to": "FR", "taxon": "Aphanius mento"})
STOPPED = LineOut("1004", 1, Verdict.STOP, None, (CLOSED,))


def in_language(
    language: str,
    folder: Path,
    own_language: str = "en",
    only: tuple[str, ...] = KINDS,
    paper: str = "A4",
) -> None:
    """The sample week with every parcel and every order in one language; the breeder writes in his own."""
    parcels = tuple(replace(parcel, language=language) for parcel in sample.PARCELS)
    parcels = (replace(parcels[0], address=replace(parcels[0].address, country=LAND[language])), *parcels[1:])
    plan = replace(sample.PLAN, parcels=parcels, lines_out=(*sample.PLAN.lines_out, STOPPED))
    papers = sample.SHELF.settings.papers.model_copy(update={"languages": (own_language,), "paper": paper})
    shelf = replace(
        sample.SHELF,
        settings=sample.SHELF.settings.model_copy(update={"papers": papers}),
        orders=tuple(replace(order, language=language) for order in sample.SHELF.orders),
    )
    write_papers(plan, shelf, folder, items=sample.ITEMS, only=only)


#: Each kind of page, and the file of the sample week it stands in.
KINDS_OF_PAGE = {
    "slip-tube": "parcels/2026-W49-01-slip.pdf",
    "slip-breathing-bag": "parcels/2026-W49-02-slip.pdf",
    "slip-damp-bag": "parcels/2026-W49-03-slip.pdf",
    "care-water": "parcels/2026-W49-02-care.pdf",
    "care-damp": "parcels/2026-W49-03-care.pdf",
    "customs": "parcels/2026-W49-03-customs.pdf",
    "tags": "print/2026-W49-tags.pdf",
    "label": "print/2026-W49-label.pdf",
    "pick-list": "print/2026-W49-pick-list.pdf",
    "notice-go": "mail/2026-W49-01.eml",
    "notice-wait-stop": "mail/2026-W49-order-1004.eml",
    "notice-hold": "mail/2026-W49-order-1005.eml",
}


@pytest.fixture(scope="module")
def week_in_each_language(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folders = {language: tmp_path_factory.mktemp(language) for language in LAND}
    for language, folder in folders.items():
        in_language(language, folder, own_language=language)
    return folders


@pytest.mark.parametrize("kind", KINDS_OF_PAGE)
def test_the_words_of_each_page_are_the_agreed_ones(
    kind: str, week_in_each_language: dict[str, Path]
) -> None:
    """The agreed words stand in golden/; run with SPAWNPOST_GOLDEN=1 to write them anew, then read the
    difference.
    """
    printed = ""
    for language, folder in week_in_each_language.items():
        path = folder / KINDS_OF_PAGE[kind]
        words = text_of(path) if path.suffix == ".pdf" else path.read_text(encoding="utf-8")
        printed += f"===== {language} =====\n{words.rstrip()}\n"
    agreed = GOLDEN / f"{kind}.txt"
    if os.environ.get("SPAWNPOST_GOLDEN"):
        agreed.write_text(printed, encoding="utf-8")
    told = f"{kind}: if it is meant, write it again with SPAWNPOST_GOLDEN=1 and read the difference"
    assert printed == agreed.read_text(encoding="utf-8"), told


@pytest.mark.parametrize("language", ["en", "de", "fr", "es"])
@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_a_parcel_of_one_or_two_fish_is_one_leaf(language: str, paper: str, tmp_path: Path) -> None:
    in_language(language, tmp_path, only=("slip", "care"), paper=paper)
    sheets = sorted(tmp_path.glob("parcels/*.pdf"))
    assert len(sheets) == 6
    for path in sheets:
        assert len(PdfReader(path).pages) == 1, path.name
