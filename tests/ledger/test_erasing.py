"""A buyer is taken out of papers, copies and ledgers, wherever they lie and whenever it was cut short."""

from __future__ import annotations

import json
import os
import shutil
import signal
import unicodedata
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from shipping.ledger.erasing import erase_buyer
from shipping.ledger.errors import LedgerError
from shipping.ledger.ledger import Ledger
from shipping.papers.printed_files import name_digest, write_index
from tests.ledger.desk import COUNTED, TODAY, draw, ledger_with_two_parcels, line, parcel, plan
from tests.ledger.whole import audit

FIRST, SECOND = "2026-W49-01", "2026-W49-02"
NAME = "Jørn Bøgh-Åkesson"
LATER = TODAY + timedelta(days=9)


def printed(folder: Path, listed: bool = True) -> Path:
    """A week's papers with the index of for whom they were printed; S12 is Nora Lund's and does not go."""
    week = folder / "papers" / "2026-W49"
    (week / "print").mkdir(parents=True)
    of = {
        f"{FIRST}-label.pdf": FIRST,
        f"{SECOND}-label.pdf": SECOND,
        f"{SECOND}-slip.pdf": SECOND,
        "print/2026-W49-2026-11-30.pdf": "2026-W49",
        "2026-W49-order-S13-hold.txt": "S13",
        "2026-W49-order-S12-wait.txt": "S12",
    }
    names = {FIRST: ["Ida Holm"], SECOND: [NAME], "S12": ["Nora Lund"], "S13": ["Per Dam"]}
    names["2026-W49"] = [name for who in names.values() for name in who]
    for file, stem in of.items():
        (week / file).write_text(f"Dear {' and '.join(names[stem])}, here are e eggs\n", encoding="utf-8")
    write_index(folder, {"papers/2026-W49": {s: [name_digest(n) for n in who] for s, who in names.items()}})
    if listed:
        files = [{"file": file, "kind": "any", "of": stem, "sha256": "0" * 64} for file, stem in of.items()]
        (week / "manifest.json").write_text(
            json.dumps({"week": "2026-W49", "files": files}), encoding="utf-8"
        )
    return week


def a_desk(folder: Path) -> None:
    """A ledger of three days with copies, papers, a copy in the shelf, and half a file of a dead process."""
    with ledger_with_two_parcels(folder) as ledger:
        ledger.pack(SECOND)
        ledger.copy(folder / "backup.sqlite")
    with Ledger.open(folder, TODAY + timedelta(days=1)) as ledger:
        ledger.send(SECOND)
        ledger.pack(FIRST)
    with Ledger.open(folder, TODAY + timedelta(days=2)) as ledger:
        ledger.open_claim(SECOND, ("S11", 1), "late", note=f"{NAME} rang")
    printed(folder)
    (folder / f".{SECOND}-label.pdf.999999999.part").write_text(NAME, encoding="utf-8")
    (folder / "orders.csv").write_text(f"order,addressee\nS11,{NAME}\n", encoding="utf-8")


def holding(folder: Path, name: str = NAME) -> list[str]:
    """The files under a folder that hold a name in either form of its letters."""
    forms = [unicodedata.normalize(form, name).encode() for form in ("NFC", "NFD")]
    import gzip

    def content(path: Path) -> bytes:
        return gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()

    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return [path.name for path in files if any(form in content(path) for form in forms)]


def test_nothing_under_the_shelf_holds_the_name_but_the_breeders_own_tables(tmp_path: Path) -> None:
    a_desk(tmp_path)
    assert len(holding(tmp_path)) > 6
    done = erase_buyer(tmp_path, LATER, NAME)
    assert holding(tmp_path) == ["orders.csv"]
    assert (done.tables, done.left, done.papers_left, done.copies_left) == (["orders.csv"], [], [], [])
    assert "backup.sqlite" in done.copies
    assert audit(tmp_path) == ()
    assert holding(tmp_path, "Ida Holm")
    with Ledger.open(tmp_path, LATER) as ledger:
        assert sum(count.eggs for count in ledger.parcel(SECOND).counts) == 59


@pytest.mark.parametrize("form", ["NFC", "NFD"])
@pytest.mark.parametrize("typed", ["NFC", "NFD"])
def test_a_name_is_found_in_either_form_of_its_letters(tmp_path: Path, form: str, typed: str) -> None:
    week = printed(tmp_path)
    (week / "2026-W49-order-S11-wait.txt").write_text(unicodedata.normalize(form, NAME), encoding="utf-8")
    files = json.loads((week / "manifest.json").read_text(encoding="utf-8"))
    files["files"].append(
        {"file": "2026-W49-order-S11-wait.txt", "kind": "notice", "of": "S11", "sha256": "0"}
    )
    (week / "manifest.json").write_text(json.dumps(files), encoding="utf-8")
    erase_buyer(tmp_path, TODAY, unicodedata.normalize(typed, NAME).upper())
    assert holding(tmp_path) == []


@pytest.mark.parametrize("listed", [True, False])
def test_papers_of_a_plan_that_was_never_kept_are_erased_by_the_index(tmp_path: Path, listed: bool) -> None:
    week = printed(tmp_path, listed)
    done = erase_buyer(tmp_path, TODAY, "nora  LUND")
    assert set(done.papers) == {
        "papers/2026-W49/print/2026-W49-2026-11-30.pdf",
        "papers/2026-W49/2026-W49-order-S12-wait.txt",
    }
    assert {path.name for path in week.glob("2026*")} == {
        "2026-W49-order-S13-hold.txt",
        f"{FIRST}-label.pdf",
        f"{SECOND}-label.pdf",
        f"{SECOND}-slip.pdf",
    }
    with pytest.raises(LedgerError, match="nothing is held about 'Nora Lund'"):
        erase_buyer(tmp_path, TODAY, "Nora Lund")


def test_a_paper_held_open_by_another_program_is_erased_the_next_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    printed(tmp_path, listed=False)
    free = Path.unlink

    def unless_a_pdf(path: Path, missing_ok: bool = False) -> None:
        if path.suffix == ".pdf":
            raise PermissionError(13, "in use")
        free(path, missing_ok)

    with monkeypatch.context() as held:
        held.setattr(Path, "unlink", unless_a_pdf)
        left = erase_buyer(tmp_path, TODAY, NAME).papers_left
    assert len(left) == 3
    assert erase_buyer(tmp_path, TODAY, NAME).papers == left
    assert holding(tmp_path) == []


@pytest.mark.parametrize("name", ["e", "eggs", "Holm", "Dear", "gardneri", "Bøgh-Åkesson"])
def test_a_part_of_a_name_or_a_word_erases_nothing(tmp_path: Path, name: str) -> None:
    a_desk(tmp_path)
    (tmp_path / f".{SECOND}-label.pdf.999999999.part").unlink()
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    with pytest.raises(LedgerError, match=r"nothing is held about|only a part of a buyer's name"):
        erase_buyer(tmp_path, LATER, name)
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_one_buyer_is_erased_and_another_of_a_longer_name_stays(tmp_path: Path) -> None:
    hers = parcel(FIRST, "Ida Holm", line("S10", 1, 20, draw("L1", 24)))
    another = parcel(SECOND, "Ida Holm Lund", line("S11", 1, 20, draw("L2", 24)))
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        ledger.keep_plan(plan(hers, another), COUNTED)
    done = erase_buyer(tmp_path, LATER, "Ida Holm")
    assert (done.parts, done.left, done.is_nothing) == (1, [], False)
    assert "ledger.sqlite" in done.counted
    with Ledger.open(tmp_path, LATER) as ledger:
        assert [parcel.buyer for parcel in ledger.parcels()] == ["", "Ida Holm Lund"]


def test_what_cannot_be_cleaned_is_named(tmp_path: Path) -> None:
    a_desk(tmp_path)
    (tmp_path / "broken.sqlite").write_bytes((tmp_path / "ledger.sqlite").read_bytes()[:6000])
    (tmp_path / "letter.odt").write_text(NAME, encoding="utf-8")
    done = erase_buyer(tmp_path, LATER, NAME)
    assert done.copies_left == ["broken.sqlite"]
    assert done.left == ["letter.odt"]
    (tmp_path / "broken.sqlite").unlink()
    again = erase_buyer(tmp_path, LATER, unicodedata.normalize("NFD", NAME))
    assert (again.parts, again.left) == (0, ["letter.odt"])


def erased_until_killed(folder: Path, steps: int) -> bool:
    """Erase in a process that dies after so many changes of files; was it cut short?"""
    child = os.fork()
    if child == 0:
        left = iter(range(steps))

        def one_step() -> None:
            if next(left, None) is None:
                os.kill(os.getpid(), signal.SIGKILL)

        def stepping(real: Callable[..., Any]) -> Callable[..., Any]:
            def step(*words: Any, **more: Any) -> Any:
                one_step()
                return real(*words, **more)

            return step

        from shipping.ledger.journal.store import Store

        for name in ("unlink", "replace"):
            setattr(os, name, stepping(getattr(os, name)))
        for name in ("blank", "add", "sweep", "image"):
            setattr(Store, name, stepping(getattr(Store, name)))
        try:
            erase_buyer(folder, LATER, NAME)
        finally:
            os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


@pytest.mark.parametrize("apart", [7, pytest.param(1, marks=pytest.mark.slow)])
def test_erasing_that_was_cut_short_at_any_step_is_finished_by_erasing_again(
    tmp_path: Path, apart: int
) -> None:
    fresh = tmp_path / "fresh"
    fresh.mkdir()
    a_desk(fresh)
    steps = 0
    while True:
        folder = Path(shutil.copytree(fresh, tmp_path / f"desk{steps}"))
        if not erased_until_killed(folder, steps):
            break
        steps += apart
        if holding(folder) != ["orders.csv"]:
            erase_buyer(folder, LATER, NAME)
        assert holding(folder) == ["orders.csv"], f"killed after {steps - apart} steps"
        assert audit(folder) == ()
        shutil.rmtree(folder)
    assert steps > 12
