"""Files on disk: which, where, how safe, and the same bytes every time."""

from __future__ import annotations

import hashlib
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from pypdf import PdfReader

from shipping.papers import writing
from shipping.papers.printed_files import listed_in, safe_name, since_last_printed
from shipping.papers.writing import write_papers
from shipping.tables.reader import read_shelf
from shipping.week.plan import make_plan
from shipping.week.plan_data import Parcel
from shipping.words.problems import ShelfProblems
from shipping.words.units import shipped_folder
from tests.papers import sample
from tests.papers.reading import leaves_of
from tests.tools import tool

ROOT = Path(__file__).resolve().parents[2]


def bytes_in(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_a_week_is_a_file_a_day_to_print_and_a_message_a_buyer(printed_week: Path) -> None:
    assert set(bytes_in(printed_week)) == {
        "print/2026-W49-2026-11-30.pdf",
        "print/2026-W49-2026-12-01.pdf",
        "mail/2026-W49-01.eml",
        "mail/2026-W49-02.eml",
        "mail/2026-W49-03.eml",
        "mail/2026-W49-order-1004.eml",
        "mail/2026-W49-order-1005.eml",
        "manifest.json",
    }


def test_only_parcels_that_leave_the_customs_area_have_a_customs_sheet(each_paper: Path) -> None:
    customs = sorted(path.name for path in each_paper.glob("parcels/*-customs.pdf"))
    assert customs == ["2026-W49-01-customs.pdf", "2026-W49-03-customs.pdf"]


def test_the_manifest_holds_the_digest_of_every_file(printed_week: Path) -> None:
    manifest = json.loads((printed_week / "manifest.json").read_text())
    assert manifest["today"] == "2026-11-28"
    listed = {entry["file"]: entry["sha256"] for entry in manifest["files"]}
    files = {name: content for name, content in bytes_in(printed_week).items() if name != "manifest.json"}
    assert listed == {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}


def test_the_same_plan_prints_the_same_bytes_whatever_the_hash_seed(
    printed_week: Path, tmp_path: Path
) -> None:
    code = (
        "from pathlib import Path; from tests.papers import sample; from shipping.papers.writing import"
        f" write_papers;write_papers(sample.PLAN, sample.SHELF, Path({str(tmp_path)!r}), items=sample.ITEMS)"
    )
    surroundings = os.environ | {
        "PYTHONHASHSEED": "4711",
        "SOURCE_DATE_EPOCH": "1",
        "PYTHONPATH": str(ROOT),
        "TZ": "Asia/Tokyo",
    }
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT, env=surroundings)
    assert bytes_in(tmp_path) == bytes_in(printed_week)


def test_what_was_printed_before_changes_nothing(printed_week: Path, tmp_path: Path) -> None:
    """Paragraphs are shared between papers; a heading kept with its text once is kept with it again."""
    for folder in ("again", "and again"):
        write_papers(sample.PLAN, sample.SHELF, tmp_path / folder, items=sample.ITEMS)
        assert bytes_in(tmp_path / folder) == bytes_in(printed_week)


def test_two_processes_print_the_same_bytes_as_one(
    printed_week: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writing, "MANY_WORK", 1)
    write_papers(sample.PLAN, sample.SHELF, tmp_path, items=sample.ITEMS, processes=2)
    assert bytes_in(tmp_path) == bytes_in(printed_week)


def test_every_pdf_is_sound_and_carries_its_fonts(printed_week: Path) -> None:
    for path in sorted(printed_week.glob("print/*.pdf")):
        done = subprocess.run(
            [tool("qpdf"), "--check", str(path)], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, f"{path.name}: {done.stdout}{done.stderr}"
        for page in PdfReader(path).pages:
            for font in (page["/Resources"].get("/Font") or {}).values():
                assert "/FontFile2" in font.get_object()["/FontDescriptor"]


def test_the_care_of_a_parcel_stands_on_the_back_of_its_slip(printed_week: Path) -> None:
    pages = leaves_of(printed_week / "print" / "2026-W49-2026-12-01.pdf")
    for title, care in (("Packzettel", "Pflegeblatt"), ("Packing slip", "Care sheet")):
        (front,) = (number for number, text in enumerate(pages) if title in text and "2026-W49-0" in text)
        assert front % 2 == 0
        assert care in pages[front + 1]


def test_the_demo_week_of_sixteen_parcels_prints_on_29_leaves(tmp_path: Path) -> None:
    shelf = read_shelf(shipped_folder("demo_orders"), date(2026, 11, 30)).shelf
    assert shelf is not None
    plan = make_plan(shelf, sample.PLAN.week)
    assert len(plan.parcels) == 16
    write_papers(plan, shelf, tmp_path)
    pages = [len(PdfReader(path).pages) for path in tmp_path.glob("print/*.pdf")]
    assert sum(-(-one // 2) for one in pages) <= 29


def test_a_day_printed_on_one_side_has_no_blank_page(printed_week: Path, tmp_path: Path) -> None:
    write_papers(sample.PLAN, sample.SHELF, tmp_path, items=sample.ITEMS, one_sided=True)
    for path in sorted(tmp_path.glob("print/*.pdf")):
        assert all(text.strip() for text in leaves_of(path)), path.name
    assert any(not text.strip() for text in leaves_of(printed_week / "print" / "2026-W49-2026-12-01.pdf"))


def test_a_day_has_its_parcels_in_its_outline_and_a_language_on_every_page(printed_week: Path) -> None:
    reader = PdfReader(printed_week / "print" / "2026-W49-2026-12-01.pdf")
    names = [entry.title for entry in reader.outline if not isinstance(entry, list)]
    assert names == [
        "Pick list",
        "Customs data sheet",
        "2026-W49-02 Ünal Şahin",
        "2026-W49-03 Юлія Ґалаґан / Đặng Thị Ngọc",
        "Labels",
        "Tags",
    ]
    content = [page.get_contents() for page in reader.pages]
    spoken = [re.findall(rb"/Lang \((..)\)", one.get_data()) for one in content if one is not None]
    assert all(len(languages) == 1 for languages in spoken)
    assert {languages[0] for languages in spoken} == {b"en", b"de"}
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/DisplayDocTitle"] is True or str(
        reader.trailer["/Root"]["/ViewerPreferences"]["/DisplayDocTitle"]
    ).lower().endswith("true")


@pytest.mark.parametrize("order", ["../../../etc/passwd", "..", "a/b\\c:d", "\x00evil", "CON", ".hidden"])
def test_nothing_is_written_outside_the_folder(tmp_path: Path, order: str) -> None:
    parcel = replace(sample.PARCELS[0], parcel=order)
    out = tmp_path / "deep" / "out"
    write_papers(replace(sample.PLAN, parcels=(parcel,)), sample.SHELF, out)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["deep"]
    assert sorted(path.name for path in (tmp_path / "deep").iterdir()) == ["out"]
    write_papers(replace(sample.PLAN, parcels=(parcel,)), sample.SHELF, out, parcel=order)
    assert {path.name for path in out.iterdir()} == {"print", "mail", "parcels", "manifest.json"}
    assert not any(path.name.startswith(".") for path in out.rglob("*"))


def test_a_file_name_keeps_plain_letters_only() -> None:
    assert safe_name("GUE 3/b") == "GUE-3-b"
    assert safe_name("../..") == "x"
    assert safe_name("Łucja") == "ucja"


def test_a_name_the_fonts_lack_is_told_with_its_letters_and_nothing_is_written(tmp_path: Path) -> None:
    plan, shelf = sample.with_address("王小明")
    with pytest.raises(ShelfProblems) as told:
        write_papers(plan, shelf, tmp_path / "out")
    assert (
        str(told.value)
        == "orders.csv:2: addressee: '王小明' has letters that cannot be printed: 王 (U+738B) 小 (U+5C0F) 明"
        " (U+660E). Write the name in Latin letters, or name a font of yours that has them in shelf.toml:"
        ' [papers] font = "file.ttf".'
    )
    assert not (tmp_path / "out").exists()


def test_a_name_that_runs_from_right_to_left_is_told_too(tmp_path: Path) -> None:
    plan, shelf = sample.with_address("דוד")
    with pytest.raises(ShelfProblems, match=r"U\+05D3"):
        write_papers(plan, shelf, tmp_path / "out")


def test_the_mend_of_a_name_that_cannot_be_printed_prints(tmp_path: Path) -> None:
    plan, shelf = sample.with_address("Wang Xiaoming")
    assert write_papers(plan, shelf, tmp_path)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (
            {"parcel": "2026-W49-09"},
            "papers: parcel: '2026-W49-09' is not a parcel of the plan. Write one of 2026-W49-01,",
        ),
        ({"only": ("slips",)}, "papers: only: 'slips' is not a kind of paper. Write slip, label,"),
        ({"items": {"2026-W49-01": "RR473124820GB"}}, "wrong digit"),
    ],
)
def test_a_question_that_cannot_be_answered_is_told(
    tmp_path: Path, asked: dict[str, object], words: str
) -> None:
    with pytest.raises(ShelfProblems) as told:
        write_papers(sample.PLAN, sample.SHELF, tmp_path / "out", **asked)
    assert words in str(told.value)
    assert not (tmp_path / "out").exists()


def test_one_kind_of_one_parcel_is_printed_alone(tmp_path: Path) -> None:
    paths = write_papers(sample.PLAN, sample.SHELF, tmp_path, parcel="2026-W49-02", only=("slip",))
    names = [path.relative_to(tmp_path).as_posix() for path in paths]
    assert names == ["parcels/2026-W49-02-slip.pdf", "manifest.json"]


def test_one_parcel_is_printed_whole_in_one_file(tmp_path: Path) -> None:
    write_papers(sample.PLAN, sample.SHELF, tmp_path, parcel="2026-W49-03")
    text = "\n".join(leaves_of(tmp_path / "parcels" / "2026-W49-03.pdf"))
    places = [text.index(title) for title in ("Packing slip", "Care sheet", "Customs data sheet")]
    assert places == sorted(places)
    assert (tmp_path / "mail" / "2026-W49-03.eml").exists()


def test_papers_of_a_parcel_that_no_longer_goes_are_taken_away_but_not_what_somebody_changed(
    tmp_path: Path,
) -> None:
    write_papers(sample.PLAN, sample.SHELF, tmp_path)
    (tmp_path / "mail" / "2026-W49-03.eml").write_text("mine now")
    (tmp_path / "print" / "2026-W49-own.txt").write_text("never ours")
    write_papers(replace(sample.PLAN, parcels=sample.PARCELS[:1]), sample.SHELF, tmp_path)
    left = set(bytes_in(tmp_path))
    assert not {"mail/2026-W49-02.eml", "print/2026-W49-2026-12-01.pdf"} & left
    assert {"mail/2026-W49-03.eml", "print/2026-W49-own.txt", "mail/2026-W49-01.eml"} <= left


def test_sheets_that_changed_are_new_or_are_gone_since_papers_were_last_printed_are_named(
    tmp_path: Path,
) -> None:
    def printed_with(*parcels: Parcel) -> dict[str, list[str]]:
        before = listed_in(tmp_path)
        write_papers(replace(sample.PLAN, parcels=parcels), sample.SHELF, tmp_path)
        return since_last_printed(before, listed_in(tmp_path))

    first, second, third = sample.PARCELS
    assert printed_with(first, second) == {"changed": [], "new": [], "removed": []}
    told = printed_with(replace(first, service="parcel"), third)
    assert {"2026-W49-01", "print/2026-W49-2026-11-30.pdf", "mail/2026-W49-01.eml"} <= set(told["changed"])
    assert {"2026-W49-03", "mail/2026-W49-03.eml"} <= set(told["new"])
    assert set(told["removed"]) == {"2026-W49-02", "mail/2026-W49-02.eml"}


def test_a_plan_without_parcels_still_prints_its_week(tmp_path: Path) -> None:
    paths = write_papers(replace(sample.PLAN, parcels=()), sample.SHELF, tmp_path)
    names = {path.name for path in paths}
    assert {"2026-W49-week.pdf", "2026-W49-order-1004.eml"} <= names


@pytest.mark.parametrize(
    ("label", "width", "height"), [("102x152", 289, 431), ("4x6", 288, 432), ("A6", 612, 792)]
)
def test_labels_go_on_sheets_or_one_to_a_label_printer(
    label: str, width: int, height: int, tmp_path: Path
) -> None:
    papers = sample.SHELF.settings.papers.model_copy(update={"paper": "letter", "label": label})
    shelf = replace(sample.SHELF, settings=sample.SHELF.settings.model_copy(update={"papers": papers}))
    write_papers(sample.PLAN, shelf, tmp_path, only=("label",))
    pages = PdfReader(tmp_path / "print" / "2026-W49-label.pdf").pages
    assert {(round(page.mediabox.width), round(page.mediabox.height)) for page in pages} == {(width, height)}
    assert len(pages) == (1 if label == "A6" else 3)


def test_labels_of_a_label_printer_stand_in_a_file_beside_the_days(tmp_path: Path) -> None:
    papers = sample.SHELF.settings.papers.model_copy(update={"label": "4x6"})
    shelf = replace(sample.SHELF, settings=sample.SHELF.settings.model_copy(update={"papers": papers}))
    write_papers(sample.PLAN, shelf, tmp_path)
    assert len(PdfReader(tmp_path / "print" / "2026-W49-2026-12-01-labels.pdf").pages) == 2
    sizes = {page.mediabox.width for page in PdfReader(tmp_path / "print" / "2026-W49-2026-12-01.pdf").pages}
    assert len(sizes) == 1


def test_a_folder_that_cannot_be_made_is_told_without_a_traceback(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(ShelfProblems, match="cannot be written"):
        write_papers(sample.PLAN, sample.SHELF, tmp_path / "file" / "papers")


def test_a_paper_that_cannot_be_put_in_place_is_told_and_nothing_half_written_is_left(tmp_path: Path) -> None:
    (tmp_path / "parcels" / "2026-W49-01-slip.pdf").mkdir(parents=True)
    with pytest.raises(ShelfProblems, match=r"2026-W49-01-slip\.pdf: It cannot be written"):
        write_papers(sample.PLAN, sample.SHELF, tmp_path, parcel="2026-W49-01", only=("slip",))
    assert [path.name for path in (tmp_path / "parcels").iterdir()] == ["2026-W49-01-slip.pdf"]


def test_papers_of_a_packed_parcel_are_neither_written_again_nor_taken_away(tmp_path: Path) -> None:
    for parcel in ("2026-W49-01", "2026-W49-02"):
        write_papers(sample.PLAN, sample.SHELF, tmp_path, items=sample.ITEMS, parcel=parcel)
    before = {name: content for name, content in bytes_in(tmp_path).items() if "2026-W49-01" in name}
    changed = tuple(
        replace(parcel, weight_g=parcel.weight_g + 7, service="slow boat") for parcel in sample.PARCELS
    )
    write_papers(
        replace(sample.PLAN, parcels=changed), sample.SHELF, tmp_path, packed={"2026-W49-01": sample.MONDAY}
    )
    after = bytes_in(tmp_path)
    assert len(before) == 2
    assert {name: after.get(name) for name in before} == before
    assert b"slow boat" in after["mail/2026-W49-02.eml"]
    listed = {entry["file"] for entry in json.loads(after["manifest.json"])["files"]}
    assert set(before) <= listed


def test_each_parcel_begins_on_a_fresh_leaf_whatever_its_length(tmp_path: Path) -> None:
    from tests.papers import awkward

    plan, shelf = awkward.week("en", {})
    write_papers(plan, shelf, tmp_path)
    fronts = [
        number
        for path in sorted(tmp_path.glob("print/*.pdf"))
        for number, text in enumerate(leaves_of(path), start=1)
        if "Packing slip" in text and "page 1" in text
    ]
    assert len(fronts) == len(plan.parcels)
    assert all(number % 2 == 1 for number in fronts)


def test_a_file_is_no_larger_than_its_letters_need(each_paper: Path) -> None:
    """Only shapes that are printed are embedded; DejaVu Sans alone is 740 kB."""
    for path in sorted(each_paper.glob("parcels/*.pdf")):
        assert path.stat().st_size < 45_000, path.name
