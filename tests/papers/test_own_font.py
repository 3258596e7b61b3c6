"""Letters that our fonts lack are printed with the breeder's own font, and refused with the setting named
where there is none.
"""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from shipping.papers.page import fonts as faces
from shipping.papers.writing import write_papers
from shipping.tables.rows.orders import orders_from_rows
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Plan
from shipping.words.problems import ShelfProblems
from tests.papers import sample
from tests.papers.reading import lying_on_each_other, words_of
from tests.papers.tiny_font import font_of
from tests.tools import tool

LOCAL = ("王小明", "東京都千代田区1-1")


def week(font: Path | None, local: Sequence[str] = LOCAL) -> tuple[Plan, Shelf]:
    """The sample week with a second block on the first parcel's address."""
    cells = {f"local_{number}": line for number, line in enumerate(local, start=1)}
    rows = (sample.ORDER_ROWS[0].model_copy(update=cells), *sample.ORDER_ROWS[1:])
    papers = sample.SHELF.settings.papers.model_copy(update={"font": str(font or "")})
    settings = sample.SHELF.settings.model_copy(update={"papers": papers})
    shelf = replace(sample.SHELF, orders=orders_from_rows(rows, has_paid_on=False), settings=settings)
    address = replace(sample.PARCELS[0].address, local=tuple(local))
    return (
        replace(sample.PLAN, parcels=(replace(sample.PARCELS[0], address=address), *sample.PARCELS[1:])),
        shelf,
    )


@pytest.fixture
def font(tmp_path: Path) -> Path:
    path = tmp_path / "mine.ttf"
    path.write_bytes(font_of("".join(LOCAL)))
    return path


def test_the_buyers_own_script_stands_on_the_label_with_its_letters(font: Path, tmp_path: Path) -> None:
    plan, shelf = week(font)
    write_papers(plan, shelf, tmp_path / "out", only=("label",))
    label = tmp_path / "out" / "print" / "2026-W49-label.pdf"
    words = words_of(label)
    assert all(line in words for line in LOCAL)
    assert words.index("SWITZERLAND") < words.index(LOCAL[0])
    assert lying_on_each_other(label) == []
    subprocess.run([tool("qpdf"), "--check", str(label)], check=True, capture_output=True)


def test_only_the_letters_that_are_printed_are_put_into_the_file(tmp_path: Path) -> None:
    large = tmp_path / "large.ttf"
    large.write_bytes(font_of("".join(map(chr, range(0x4E00, 0x5200))) + "".join(LOCAL)))
    plan, shelf = week(large)
    write_papers(plan, shelf, tmp_path / "out", only=("label",))
    fonts = PdfReader(tmp_path / "out" / "print" / "2026-W49-label.pdf").pages[0]["/Resources"]["/Font"]
    own = [font.get_object() for font in fonts.values()]
    own = [font for font in own if font["/BaseFont"].endswith("+BoxesForTests")]
    assert own
    assert (
        sum(len(font["/FontDescriptor"]["/FontFile2"].get_data()) for font in own) < large.stat().st_size / 2
    )


def test_a_second_block_prints_the_same_bytes_every_time(font: Path, tmp_path: Path) -> None:
    plan, shelf = week(font)
    for name in ("one", "two"):
        write_papers(plan, shelf, tmp_path / name, only=("label",))
        faces._registered.cache_clear()
    one, two = (tmp_path / name / "print" / "2026-W49-label.pdf" for name in ("one", "two"))
    assert one.read_bytes() == two.read_bytes()


def test_papers_without_such_letters_are_the_same_with_and_without_the_font(
    font: Path, tmp_path: Path, printed_week: Path
) -> None:
    plan, shelf = week(font, ())
    write_papers(plan, shelf, tmp_path / "out", items=sample.ITEMS)
    for path in sorted(printed_week.glob("print/*.pdf")):
        assert (tmp_path / "out" / "print" / path.name).read_bytes() == path.read_bytes(), path.name


def problems_of(plan: Plan, shelf: Shelf, folder: Path) -> str:
    with pytest.raises(ShelfProblems) as told:
        write_papers(plan, shelf, folder / "out")
    assert not (folder / "out").exists()
    return str(told.value)


def test_a_second_block_without_a_font_is_refused_and_the_setting_named(tmp_path: Path) -> None:
    assert (
        problems_of(*week(None, LOCAL[:1]), tmp_path)
        == "orders.csv:2: local_1: '王小明' has letters that cannot be printed: 王 (U+738B) 小 (U+5C0F) 明"
        " (U+660E). Leave these lines out, or name a font of yours that has them in shelf.toml: [papers]"
        ' font = "file.ttf".'
    )


def test_letters_that_the_font_lacks_too_are_refused_with_another_font_as_the_mend(
    font: Path, tmp_path: Path
) -> None:
    said = problems_of(*week(font, ("王小明 서울",)), tmp_path)
    assert (
        "cannot be printed: 서 (U+C11C) 울 (U+C6B8). Leave these lines out, or name another font that has"
        " them" in said
    )


@pytest.mark.parametrize("line", ["שלום", "القاهرة", "नमस्ते", "ស្វាគមន៍"])
def test_joined_and_leftward_writing_is_refused_whatever_the_font(line: str, tmp_path: Path) -> None:
    path = tmp_path / "all.ttf"
    path.write_bytes(font_of(line))
    said = problems_of(*week(path, (line,)), tmp_path)
    assert said.endswith(
        "Leave these lines out: writing that is joined, stacked or runs from right to left is not set here."
    )


def test_a_font_that_breaks_when_it_is_used_is_told_without_a_traceback(font: Path, tmp_path: Path) -> None:
    whole = font.read_bytes()
    font.write_bytes(whole.replace(b"\x5f\x0f\x3c\xf5", b"\x00\x00\x00\x00"))
    said = problems_of(*week(font), tmp_path)
    assert said.startswith("shelf.toml: papers.font: mine.ttf cannot be read as a font")
    font.unlink()
    assert "mine.ttf cannot be opened" in problems_of(*week(font), tmp_path)


def test_the_country_stands_in_the_breeders_own_language_too(tmp_path: Path) -> None:
    plan, shelf = week(None, ())
    papers = shelf.settings.papers.model_copy(update={"languages": ("da", "en")})
    shelf = replace(shelf, settings=shelf.settings.model_copy(update={"papers": papers}))
    write_papers(plan, shelf, tmp_path, only=("label",))
    assert "GERMANY / TYSKLAND" in words_of(tmp_path / "print" / "2026-W49-label.pdf")
