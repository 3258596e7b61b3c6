"""What stands on the pages: inside the margins, the same counts everywhere, codes that read back, the agreed
words.
"""

from __future__ import annotations

import os
import re
from dataclasses import replace
from pathlib import Path

import pytest

from shipping.papers.documents.contents import code_text
from shipping.papers.page import fonts as faces
from shipping.papers.page import layout
from shipping.papers.writing import write_papers
from shipping.week.plan_data import LineOut
from shipping.words.reasons import Reason, Verdict
from tests.papers import sample
from tests.papers.reading import (
    codes_of,
    lying_on_each_other,
    outside_margins,
    placed_texts,
    text_of,
    words_of,
)

GOLDEN = Path(__file__).parent / "golden"


def test_everything_printed_lies_inside_the_margins(printed_week: Path) -> None:
    for path in sorted(printed_week.glob("*.pdf")):
        assert outside_margins(path) == [], path.name


def test_no_two_lines_of_a_paper_lie_on_each_other(printed_week: Path) -> None:
    for path in sorted(printed_week.glob("2026-W49-0*.pdf")):
        assert lying_on_each_other(path) == [], path.name


def test_egg_counts_agree_across_plan_pick_list_slips_tags_customs_notices_and_codes(
    printed_week: Path, tmp_path: Path
) -> None:
    pick = words_of(printed_week / "2026-W49-pick-list.pdf")
    assert f"3 parcels, {sum(parcel.pack for parcel in sample.PARCELS)} eggs" in pick
    for parcel in sample.PARCELS:
        stem = printed_week / parcel.parcel
        slip = words_of(Path(f"{stem}-slip.pdf"))
        tags = [at.text.strip() for at in placed_texts(Path(f"{stem}-tags.pdf"), faces.measure)]
        notice = Path(f"{stem}-notice.txt").read_text()
        eggs_on_tags = [eggs for line in parcel.lines for draw in line.draws for eggs in draw.unit_eggs]
        for line in parcel.lines:
            assert re.search(rf"{line.order}/{line.line} .*?{line.ordered}.*?{line.pack}", slip)
            assert f"{line.pack} " in notice
        counts = [text.removeprefix("about ") for text in tags if re.fullmatch(r"(about )?\d+", text)]
        assert sorted(map(int, counts)) == sorted(eggs_on_tags)
        codes = codes_of(Path(f"{stem}-slip.pdf"), tmp_path)
        assert codes == {f"QR-Code:{code_text(parcel)}"}
        assert sum(int(count) for count in re.findall(r"=(\d+)", code_text(parcel))) == parcel.pack
        customs = Path(f"{stem}-customs.pdf")
        if customs.exists():
            assert f"{parcel.pack} eggs" in words_of(customs)


def test_the_item_number_reads_back_from_label_and_pile_at_the_width_s10_asks_for(
    printed_week: Path, tmp_path: Path
) -> None:
    assert codes_of(printed_week / "2026-W49-01-label.pdf", tmp_path) == {"CODE-128:RR473124829GB"}
    pile = codes_of(printed_week / "2026-W49-print-all.pdf", tmp_path)
    assert "CODE-128:RR473124829GB" in pile
    assert {f"QR-Code:{code_text(parcel)}" for parcel in sample.PARCELS} <= pile
    assert 0.25 <= layout.BAR_MODULE / layout.MM <= 0.51
    assert layout.BAR_HEIGHT / layout.MM >= 12.5


def test_awkward_names_are_printed_as_they_are(printed_week: Path) -> None:
    assert "Łucja Żółć <b>& Söhne" in words_of(printed_week / "2026-W49-01-slip.pdf")
    assert "Ünal Şahin" in words_of(printed_week / "2026-W49-02-label.pdf")
    label = words_of(printed_week / "2026-W49-03-label.pdf")
    assert "Юлія Ґалаґан / Đặng Thị Ngọc" in label
    assert "c/o Γιώργος Παπαδόπουλος" in label
    assert "For the school tank *A*." in words_of(printed_week / "2026-W49-03-slip.pdf")


#: A country whose handling line is in that language.
LAND = {"en": "GB", "de": "DE", "fr": "FR", "es": "ES"}
STOPPED = LineOut("1004", 1, Verdict.STOP, None, (Reason("closed", "FR is closed to Aphanius mento."),))


def in_language(
    language: str, folder: Path, own_language: str = "en", only: tuple[str, ...] = (), paper: str = "A4"
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


@pytest.mark.parametrize("language", ["en", "de", "fr", "es"])
def test_the_words_of_each_page_are_the_agreed_ones(language: str, tmp_path: Path) -> None:
    """The agreed words stand in golden/; run with SPAWNPOST_GOLDEN=1 to write them anew, then read the
    difference.
    """
    in_language(language, tmp_path)
    in_language(language, tmp_path, own_language=language, only=("pick-list",))
    kinds = {
        "slip-tube": "2026-W49-01-slip.pdf",
        "slip-breathing-bag": "2026-W49-02-slip.pdf",
        "slip-damp-bag": "2026-W49-03-slip.pdf",
        "tags": "2026-W49-02-tags.pdf",
        "care-water": "2026-W49-02-care-mento.pdf",
        "care-damp": "2026-W49-03-care-guentheri.pdf",
        "label": "2026-W49-01-label.pdf",
        "pick-list": "2026-W49-pick-list.pdf",
        "notice-go": "2026-W49-01-notice.txt",
        "notice-wait": "2026-W49-order-1004-wait.txt",
        "notice-hold": "2026-W49-order-1005-hold.txt",
        "notice-stop": "2026-W49-order-1004-stop.txt",
        "notice-go-html": "2026-W49-01-notice.html",
        "notice-wait-html": "2026-W49-order-1004-wait.html",
        "notice-hold-html": "2026-W49-order-1005-hold.html",
        "notice-stop-html": "2026-W49-order-1004-stop.html",
    }
    if language == "en":
        kinds |= {"customs": "2026-W49-03-customs.pdf"}
    for kind, name in kinds.items():
        path = tmp_path / name
        words = text_of(path) if path.suffix == ".pdf" else path.read_text(encoding="utf-8")
        agreed = GOLDEN / f"{kind}-{language}.txt"
        if os.environ.get("SPAWNPOST_GOLDEN"):
            agreed.write_text(words.rstrip() + "\n", encoding="utf-8")
        assert words.rstrip() + "\n" == agreed.read_text(encoding="utf-8"), kind


@pytest.mark.parametrize("language", ["en", "de", "fr", "es"])
@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_a_slip_of_one_or_two_lines_is_one_page(language: str, paper: str, tmp_path: Path) -> None:
    from pypdf import PdfReader

    in_language(language, tmp_path, only=("slip",), paper=paper)
    slips = sorted(tmp_path.glob("*-slip.pdf"))
    assert len(slips) == 3
    for path in slips:
        assert len(PdfReader(path).pages) == 1, path.name
