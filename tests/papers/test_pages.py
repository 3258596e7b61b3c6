"""What stands on the pages: inside the margins, the same counts everywhere, codes that read back, the agreed words."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from pathlib import Path

import pytest

from shipping.papers import layout, pdf
from shipping.papers.contents import code_text
from shipping.papers.writing import write_papers
from tests.papers import sample
from tests.papers.reading import codes_of, placed_texts, text_of, words_of

GOLDEN = Path(__file__).parent / "golden"


def test_everything_printed_lies_inside_the_margins(printed_week: Path) -> None:
    for path in sorted(printed_week.glob("*.pdf")):
        for at in placed_texts(path, pdf.measure):
            small = min(at.width, at.height) < 400
            margin = (layout.LABEL_MARGIN if small else layout.SHEET_MARGIN) - 0.5
            where = f"{path.name} page {at.page + 1}: {at.text!r}"
            assert at.x >= margin, where
            assert at.right <= at.width - margin + 1, where
            assert margin - 1 <= at.y <= at.height - margin, where


def test_no_two_lines_of_a_paper_lie_on_each_other(printed_week: Path) -> None:
    for path in sorted(printed_week.glob("2026-W49-0*.pdf")):
        lines = placed_texts(path, pdf.measure)
        for number, one in enumerate(lines):
            for other in lines[number + 1 :]:
                beside = one.right <= other.x + 0.5 or other.right <= one.x + 0.5
                above = one.y >= other.y + other.size * 0.6 or other.y >= one.y + one.size * 0.6
                assert one.page != other.page or beside or above, f"{path.name}: {one.text!r} on {other.text!r}"


def test_egg_counts_agree_across_plan_pick_list_slips_tags_customs_notices_and_codes(printed_week: Path, tmp_path: Path) -> None:
    pick = words_of(printed_week / "2026-W49-pick-list.pdf")
    assert f"3 parcels, {sum(parcel.pack for parcel in sample.PARCELS)} eggs" in pick
    for parcel in sample.PARCELS:
        stem = printed_week / parcel.parcel
        slip = words_of(Path(f"{stem}-slip.pdf"))
        tags = [at.text.strip() for at in placed_texts(Path(f"{stem}-tags.pdf"), pdf.measure)]
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


def test_the_item_number_reads_back_from_label_and_pile_at_the_width_s10_asks_for(printed_week: Path, tmp_path: Path) -> None:
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


def in_language(language: str, folder: Path) -> None:
    """The sample week with every parcel in one language."""
    parcels = tuple(replace(parcel, language=language) for parcel in sample.PARCELS)
    write_papers(replace(sample.PLAN, parcels=parcels), sample.SHELF, folder, items=sample.ITEMS)


@pytest.mark.parametrize("language", ["en", "de", "fr", "es"])
def test_the_words_of_each_page_are_the_agreed_ones(language: str, tmp_path: Path) -> None:
    """The agreed words stand in golden/; run with SPAWNPOST_GOLDEN=1 to write them anew, then read the difference."""
    in_language(language, tmp_path)
    kinds = {
        "slip-tube": "2026-W49-01-slip.pdf",
        "slip-breathing-bag": "2026-W49-02-slip.pdf",
        "slip-damp-bag": "2026-W49-03-slip.pdf",
        "tags": "2026-W49-02-tags.pdf",
        "care-water": "2026-W49-02-care-mento.pdf",
        "care-damp": "2026-W49-03-care-guentheri.pdf",
        "notice-go": "2026-W49-01-notice.txt",
    }
    if language == "en":
        kinds |= {
            "label": "2026-W49-01-label.pdf",
            "customs": "2026-W49-03-customs.pdf",
            "pick-list": "2026-W49-pick-list.pdf",
            "notice-wait": "2026-W49-order-1004-wait.txt",
            "notice-hold": "2026-W49-order-1005-hold.txt",
        }
    for kind, name in kinds.items():
        path = tmp_path / name
        words = text_of(path) if path.suffix == ".pdf" else path.read_text(encoding="utf-8")
        agreed = GOLDEN / f"{kind}-{language}.txt"
        if os.environ.get("SPAWNPOST_GOLDEN"):
            agreed.write_text(words.rstrip() + "\n", encoding="utf-8")
        assert words.rstrip() + "\n" == agreed.read_text(encoding="utf-8"), kind


def test_a_slip_of_one_or_two_lines_is_one_page_in_english(tmp_path: Path) -> None:
    from pypdf import PdfReader

    in_language("en", tmp_path)
    for path in sorted(tmp_path.glob("*-slip.pdf")):
        assert len(PdfReader(path).pages) == 1, path.name
