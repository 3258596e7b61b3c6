"""Files on disk: which, where, how safe, and the same bytes every time."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from shipping.papers import writing
from shipping.papers.documents.bundle import safe_name
from shipping.papers.folder import listed_in, since_last_printed
from shipping.papers.writing import write_papers
from shipping.week.plan_data import Parcel
from shipping.words.problems import ShelfProblems
from tests.papers import sample
from tests.tools import tool

ROOT = Path(__file__).resolve().parents[2]


def bytes_in(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_every_parcel_has_its_papers_and_the_week_its_own(printed_week: Path) -> None:
    names = {path.name for path in printed_week.iterdir()}
    for parcel in ("2026-W49-01", "2026-W49-02", "2026-W49-03"):
        assert {
            f"{parcel}-{end}" for end in ("slip.pdf", "label.pdf", "tags.pdf", "notice.txt", "notice.html")
        } <= names
    assert {
        "2026-W49-02-care-mento.pdf",
        "2026-W49-02-care-gardneri.pdf",
        "2026-W49-03-care-guentheri.pdf",
    } <= names
    assert {"2026-W49-pick-list.pdf", "2026-W49-print-all.pdf", "manifest.json"} <= names


def test_only_parcels_that_leave_the_customs_area_have_a_customs_sheet(printed_week: Path) -> None:
    customs = sorted(path.name for path in printed_week.glob("*-customs.pdf"))
    assert customs == ["2026-W49-01-customs.pdf", "2026-W49-03-customs.pdf"]


def test_the_manifest_holds_the_digest_of_every_file(printed_week: Path) -> None:
    manifest = json.loads((printed_week / "manifest.json").read_text())
    assert manifest["today"] == "2026-11-28"
    listed = {entry["file"]: entry["sha256"] for entry in manifest["files"]}
    files = {path.name: path for path in printed_week.iterdir() if path.name != "manifest.json"}
    assert listed == {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in files.items()}


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


def test_two_processes_print_the_same_bytes_as_one(
    printed_week: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writing, "MANY_PARCELS", 1)
    write_papers(sample.PLAN, sample.SHELF, tmp_path, items=sample.ITEMS, processes=2)
    assert bytes_in(tmp_path) == bytes_in(printed_week)


def test_every_pdf_is_sound_and_carries_its_fonts(printed_week: Path) -> None:
    for path in sorted(printed_week.glob("*.pdf")):
        done = subprocess.run(
            [tool("qpdf"), "--check", str(path)], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, f"{path.name}: {done.stdout}{done.stderr}"
        for page in PdfReader(path).pages:
            for font in (page["/Resources"].get("/Font") or {}).values():
                assert "/FontFile2" in font.get_object()["/FontDescriptor"]


def test_the_pile_to_print_begins_every_paper_on_a_fresh_leaf(printed_week: Path) -> None:
    pages = [page.extract_text() for page in PdfReader(printed_week / "2026-W49-print-all.pdf").pages]
    assert len(pages) % 2 == 0
    fronts = [
        number for number, text in enumerate(pages) if "1 of 1" in text or "1 of 2" in text or "1 sur" in text
    ]
    assert fronts
    assert all(number % 2 == 0 for number in fronts)


def test_the_pile_follows_the_days_and_the_packing_order(printed_week: Path) -> None:
    text = "\n".join(page.extract_text() for page in PdfReader(printed_week / "2026-W49-print-all.pdf").pages)
    marks = ["The week", "Mon 30 Nov 2026", "Bordereau", "Tue 1 Dec 2026", "Packzettel", "Packing slip"]
    places = [text.index(mark) for mark in marks]
    assert places == sorted(places)


@pytest.mark.parametrize("order", ["../../../etc/passwd", "..", "a/b\\c:d", "\x00evil", "CON", ".hidden"])
def test_nothing_is_written_outside_the_folder(tmp_path: Path, order: str) -> None:
    parcel = replace(sample.PARCELS[0], parcel=order)
    out = tmp_path / "deep" / "out"
    write_papers(replace(sample.PLAN, parcels=(parcel,)), sample.SHELF, out)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["deep"]
    assert sorted(path.name for path in (tmp_path / "deep").iterdir()) == ["out"]
    assert all(path.is_file() and not path.name.startswith(".") for path in out.iterdir())


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
        ({"week": "2026-W50"}, "papers: week: '2026-W50' is not the plan's week. Write 2026-W49."),
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
    assert [path.name for path in paths] == ["2026-W49-02-slip.pdf", "manifest.json"]


def test_papers_of_a_parcel_that_no_longer_goes_are_taken_away_but_not_what_somebody_changed(
    tmp_path: Path,
) -> None:
    write_papers(sample.PLAN, sample.SHELF, tmp_path)
    (tmp_path / "2026-W49-03-notice.txt").write_text("mine now")
    (tmp_path / "2026-W49-own.txt").write_text("never ours")
    write_papers(replace(sample.PLAN, parcels=sample.PARCELS[:2]), sample.SHELF, tmp_path)
    left = {path.name for path in tmp_path.iterdir()}
    assert "2026-W49-03-slip.pdf" not in left
    assert {"2026-W49-03-notice.txt", "2026-W49-own.txt", "2026-W49-01-slip.pdf"} <= left


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
    assert "2026-W49-01-slip.pdf" in told["changed"]
    assert "2026-W49-01-tags.pdf" not in told["changed"]
    assert "2026-W49-03-slip.pdf" in told["new"]
    assert "2026-W49-02-slip.pdf" in told["removed"]
    assert all(name.startswith("2026-W49-02") for name in told["removed"])


def test_a_plan_without_parcels_still_prints_its_week(tmp_path: Path) -> None:
    paths = write_papers(replace(sample.PLAN, parcels=()), sample.SHELF, tmp_path)
    names = {path.name for path in paths}
    assert {"2026-W49-pick-list.pdf", "2026-W49-order-1004-wait.txt"} <= names


def test_papers_fit_letter_paper_and_the_larger_label(tmp_path: Path) -> None:
    papers = sample.SHELF.settings.papers.model_copy(update={"paper": "letter", "label": "102x152"})
    shelf = replace(sample.SHELF, settings=sample.SHELF.settings.model_copy(update={"papers": papers}))
    write_papers(sample.PLAN, shelf, tmp_path)
    slip = PdfReader(tmp_path / "2026-W49-01-slip.pdf").pages[0].mediabox
    label = PdfReader(tmp_path / "2026-W49-01-label.pdf").pages[0].mediabox
    assert (round(slip.width), round(slip.height)) == (612, 792)
    assert (round(label.width), round(label.height)) == (289, 431)


def test_a_folder_that_cannot_be_made_is_told_without_a_traceback(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(ShelfProblems, match="cannot be written"):
        write_papers(sample.PLAN, sample.SHELF, tmp_path / "file" / "papers")


def test_a_paper_that_cannot_be_put_in_place_is_told_and_nothing_half_written_is_left(tmp_path: Path) -> None:
    (tmp_path / "2026-W49-01-slip.pdf").mkdir()
    with pytest.raises(ShelfProblems, match=r"2026-W49-01-slip\.pdf: It cannot be written"):
        write_papers(sample.PLAN, sample.SHELF, tmp_path, parcel="2026-W49-01", only=("slip",))
    assert [path.name for path in tmp_path.iterdir()] == ["2026-W49-01-slip.pdf"]


def test_papers_of_a_packed_parcel_are_neither_written_again_nor_taken_away(tmp_path: Path) -> None:
    write_papers(sample.PLAN, sample.SHELF, tmp_path, items=sample.ITEMS)
    before = {
        name: content for name, content in bytes_in(tmp_path).items() if name.startswith("2026-W49-01-")
    }
    changed = tuple(
        replace(parcel, weight_g=parcel.weight_g + 7, service="slow boat") for parcel in sample.PARCELS
    )
    write_papers(replace(sample.PLAN, parcels=changed), sample.SHELF, tmp_path, packed=("2026-W49-01",))
    after = bytes_in(tmp_path)
    assert {name: after.get(name) for name in before} == before
    assert b"slow boat" in after["2026-W49-02-notice.txt"]
    listed = {entry["file"] for entry in json.loads(after["manifest.json"])["files"]}
    assert set(before) <= listed


def test_a_packed_parcel_asked_for_by_name_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ShelfProblems, match="'2026-W49-01' is packed: its papers are in the box"):
        write_papers(
            sample.PLAN, sample.SHELF, tmp_path / "out", parcel="2026-W49-01", packed=("2026-W49-01",)
        )
    assert not (tmp_path / "out").exists()


def test_each_parcels_set_in_the_pile_begins_on_an_odd_page_whatever_its_length(tmp_path: Path) -> None:
    from tests.papers import awkward

    plan, shelf = awkward.week("en", {})
    write_papers(
        plan, shelf, tmp_path, only=("print-all", "slip", "label", "tags", "care", "customs", "pick-list")
    )
    pages = [page.extract_text() for page in PdfReader(tmp_path / "2026-W49-print-all.pdf").pages]
    slips = [
        number for number, text in enumerate(pages, start=1) if "Packing slip" in text and "page 1 of" in text
    ]
    assert len(slips) == len(plan.parcels)
    assert all(number % 2 == 1 for number in slips)


def test_a_file_is_no_larger_than_its_letters_need(printed_week: Path) -> None:
    """Only shapes that are printed are embedded; a whole code page of both weights would take 23 kB."""
    for path in sorted(printed_week.glob("2026-W49-0*-tags.pdf")):
        assert path.stat().st_size < 20_000, path.name
    shapes = {
        sum(
            len(font.get_object()["/FontDescriptor"]["/FontFile2"].get_data())
            for font in page["/Resources"]["/Font"].values()
        )
        for name in ("2026-W49-01-tags.pdf", "2026-W49-01-slip.pdf")
        for page in PdfReader(printed_week / name).pages[:1]
    }
    assert len(shapes) == 2
