"""Papers that name an erased buyer are gone, with the piles that hold them; others stay as they were
printed.
"""

from __future__ import annotations

import json
from pathlib import Path

from shipping.ledger.ledger import Ledger
from shipping.ledger.papers_erased import erase_papers
from tests.ledger.desk import TODAY, ledger_with_two_parcels

FIRST, SECOND = "2026-W49-01", "2026-W49-02"


def printed(folder: Path) -> Path:
    """A week's folder of papers as the papers' own list describes them."""
    week = folder / "papers" / "2026-W49"
    week.mkdir(parents=True)
    files = {
        f"{FIRST}-label.pdf": FIRST,
        f"{FIRST}-slip.pdf": FIRST,
        f"{SECOND}-label.pdf": SECOND,
        "print/2026-W49-2026-11-30.pdf": "2026-W49",
        "mail/S11.eml": "notice-S11",
        "mail/S10.eml": "notice-S10",
    }
    for name in files:
        (week / name).parent.mkdir(exist_ok=True)
        (week / name).write_text(f"Dear {'Ida Holm' if 'S10' in name else 'friend'},\n", encoding="utf-8")
    listed = [{"file": name, "kind": "any", "of": of, "sha256": "0" * 64} for name, of in files.items()]
    (week / "manifest.json").write_text(json.dumps({"week": "2026-W49", "files": listed}), encoding="utf-8")
    return week


def test_erasing_a_buyer_removes_that_buyers_papers_and_the_piles_that_hold_them(tmp_path: Path) -> None:
    week = printed(tmp_path)
    with ledger_with_two_parcels(tmp_path) as ledger:
        erased = ledger.erase("ida  HOLM")
    gone = {f"{FIRST}-label.pdf", f"{FIRST}-slip.pdf", "print/2026-W49-2026-11-30.pdf", "mail/S10.eml"}
    assert set(erased.papers) == {f"papers/2026-W49/{name}" for name in gone}
    assert {path.relative_to(week).as_posix() for path in week.rglob("*") if path.is_file()} == {
        f"{SECOND}-label.pdf",
        "mail/S11.eml",
        "manifest.json",
    }
    listed = json.loads((week / "manifest.json").read_text(encoding="utf-8"))["files"]
    assert {entry["file"] for entry in listed} == {f"{SECOND}-label.pdf", "mail/S11.eml"}


def test_papers_go_even_where_the_ledger_no_longer_knows_the_buyer(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.erase("Ida Holm")
    printed(tmp_path)
    with Ledger.open(tmp_path, TODAY) as ledger:
        assert "papers/2026-W49/mail/S10.eml" in ledger.erase("Ida Holm").papers


def test_papers_of_other_weeks_and_files_nobody_listed_stay(tmp_path: Path) -> None:
    week = printed(tmp_path)
    (week / "own.pdf").write_bytes(b"mine")
    other = tmp_path / "papers" / "2026-W50"
    (other / "print").mkdir(parents=True)
    (other / "print/2026-W50-2026-12-07.pdf").write_bytes(b"x")
    listed = [{"file": "print/2026-W50-2026-12-07.pdf", "kind": "any", "of": "2026-W50", "sha256": "0"}]
    (other / "manifest.json").write_text(json.dumps({"week": "2026-W50", "files": listed}), encoding="utf-8")
    removed, left = erase_papers(tmp_path, {FIRST}, "Ida Holm")
    assert left == ()
    assert not any("W50" in name for name in removed)
    assert (week / "own.pdf").exists()


def test_without_papers_nothing_is_removed(tmp_path: Path) -> None:
    assert erase_papers(tmp_path, {FIRST}, "Ida Holm") == ((), ())
