"""What is done on the page and what is done by commands leaves the same ledger and the same tables."""

from __future__ import annotations

import os
import shutil
from datetime import date
from pathlib import Path

import pytest

from shipping.cli.app import main
from shipping.ledger.entries import to_facts
from shipping.ledger.ledger import Ledger
from tests.worktop.conftest import FIRST, TODAY, Desk, plain

SECOND, THIRD, FOURTH = "2026-W49-02", "2026-W49-03", "2026-W49-04"
LATER = "2026-12-10"


def by_commands(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def run(*words: str, on: str = TODAY.isoformat()) -> None:
        monkeypatch.setattr(
            "sys.argv", ["spawnpost", "--quiet", "--shelf", str(folder), "--today", on, *words]
        )
        with pytest.raises(SystemExit) as left:
            main()
        assert left.value.code == 0, words

    run("pack", FIRST)
    run("send", FIRST, "--item", "RR473124829GB")
    for name in (SECOND, THIRD):
        run("pack", name)
        run("send", name)
    run("drop", FOURTH)
    run("arrive", FIRST, "--alive", "D02:1=21", "--dead", "D02:1=2", "--on", LATER, on=LATER)
    run("arrive", SECOND, "--lost", "--on", LATER, on=LATER)
    run("arrive", THIRD, "--returned", "--on", LATER, on=LATER)
    run("undo", on=LATER)
    run("claim", SECOND, "--about", "lost", "--settle", "refund", "--amount", "12.50", on=LATER)


def by_taps(folder: Path) -> None:
    desk, later = Desk(folder), date.fromisoformat(LATER)

    def done(answer_desk: Desk, path: str, **fields: str) -> None:
        answer = answer_desk.post(path, **fields)
        assert answer.status_code in (200, 303), plain(answer.text)[-600:]

    for name in (FIRST, SECOND, THIRD):
        kept = desk.parcel(name)
        marks = desk.marks() | {"plan": str(kept.plan_entry)}
        assert desk.post(f"/packing/{name}/pack", marks).status_code == 200
        done(desk, f"/packing/{name}/send", item="RR473124829GB" if name == FIRST else "")
    done(desk, f"/parcels/{FOURTH}/drop")
    desk.worktop.shelf_state.close()
    desk = Desk(folder, later)
    done(desk, f"/arrivals/{FIRST}", on=LATER, a0="21", d0="2")
    done(desk, f"/arrivals/{SECOND}/end", on=LATER, how="lost")
    done(desk, f"/arrivals/{THIRD}/end", on=LATER, how="returned")
    done(desk, f"/history/{desk.entries()}/undo")
    line = desk.parcel(SECOND).lines[0]
    done(desk, f"/claims/{SECOND}/{line.order}/{line.line}", about="lost", how="refund", amount="12.50")
    desk.worktop.shelf_state.close()


def stands(folder: Path) -> list[tuple[str, date, object]]:
    with Ledger.open(folder, date.fromisoformat(LATER)) as ledger:
        return [(entry.kind, entry.day, to_facts(entry.body)) for entry in ledger.entries()]


def test_page_and_commands_leave_the_same_ledger_and_tables(
    week_kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed, tapped = (
        Path(shutil.copytree(week_kept, tmp_path / "typed")),
        Path(shutil.copytree(week_kept, tmp_path / "tapped")),
    )
    by_commands(typed, monkeypatch)
    by_taps(tapped)
    assert stands(tapped) == stands(typed)
    tables = {name for name in os.listdir(typed) if name.endswith((".csv", ".toml"))}
    assert {name: (tapped / name).read_bytes() for name in sorted(tables)} == {
        name: (typed / name).read_bytes() for name in sorted(tables)
    }
