"""What is done on the page and what is done by commands leaves the same ledger and the same tables."""

from __future__ import annotations

import html
import os
import re
import shutil
from datetime import date
from pathlib import Path

import pytest

from shipping.cli.app import main
from shipping.ledger.entries import to_facts
from shipping.ledger.ledger import Ledger
from shipping.words.units import ABOUT_SO_MANY, shipped_folder
from tests.worktop.conftest import FIRST, TODAY, Desk, plain

SECOND, THIRD, FOURTH = "2026-W49-02", "2026-W49-03", "2026-W49-04"
LATER = "2026-12-10"


def run(folder: Path, monkeypatch: pytest.MonkeyPatch, *words: str, on: str = TODAY.isoformat()) -> None:
    monkeypatch.setattr("sys.argv", ["spawnpost", "--quiet", "--shelf", str(folder), "--today", on, *words])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 0, words


def done(desk: Desk, path: str, **fields: str) -> None:
    answer = desk.post(path, **fields)
    assert answer.status_code in (200, 303), plain(answer.text)[-600:]


def by_commands(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run(folder, monkeypatch, "pack", FIRST)
    run(folder, monkeypatch, "send", FIRST, "--item", "RR473124829GB")
    for name in (SECOND, THIRD):
        run(folder, monkeypatch, "pack", name)
        run(folder, monkeypatch, "send", name)
    run(folder, monkeypatch, "drop", FOURTH)
    run(
        folder,
        monkeypatch,
        "arrive",
        FIRST,
        "--alive",
        "D02:1=21",
        "--dead",
        "D02:1=2",
        "--on",
        LATER,
        on=LATER,
    )
    run(folder, monkeypatch, "arrive", SECOND, "--lost", "--on", LATER, on=LATER)
    run(folder, monkeypatch, "arrive", THIRD, "--returned", "--on", LATER, on=LATER)
    run(folder, monkeypatch, "undo", on=LATER)
    run(
        folder,
        monkeypatch,
        "claim",
        SECOND,
        "--about",
        "lost",
        "--settle",
        "refund",
        "--amount",
        "12.50",
        on=LATER,
    )


def by_taps(folder: Path) -> None:
    desk, later = Desk(folder), date.fromisoformat(LATER)

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


def assert_same(tapped: Path, typed: Path) -> None:
    assert stands(tapped) == stands(typed)
    tables = {name for name in os.listdir(typed) if name.endswith((".csv", ".toml"))}
    assert tables == {name for name in os.listdir(tapped) if name.endswith((".csv", ".toml"))}
    assert {name: (tapped / name).read_bytes() for name in sorted(tables)} == {
        name: (typed / name).read_bytes() for name in sorted(tables)
    }


@pytest.fixture
def both(week_kept: Path, tmp_path: Path) -> tuple[Path, Path]:
    """The same kept week twice: for taps and for commands."""
    return (
        Path(shutil.copytree(week_kept, tmp_path / "tapped")),
        Path(shutil.copytree(week_kept, tmp_path / "typed")),
    )


def test_page_and_commands_leave_the_same_ledger_and_tables(
    both: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    tapped, typed = both
    by_commands(typed, monkeypatch)
    by_taps(tapped)
    run(typed, monkeypatch, "learn", "--keep", on=LATER)
    desk = Desk(tapped, date.fromisoformat(LATER))
    done(desk, "/taught/keep")
    desk.worktop.shelf_state.close()
    assert "learned.csv" in os.listdir(typed)
    assert_same(tapped, typed)


def test_a_plan_kept_by_a_command_is_the_one_that_the_page_keeps(
    week_kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed = Path(shutil.copytree(shipped_folder("demo_orders"), tmp_path / "typed"))
    run(typed, monkeypatch, "plan", "--keep")
    assert_same(week_kept, typed)


def test_eggs_bought_in_are_the_same_by_page_and_command(
    both: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    tapped, typed = both
    words = {
        "species": "gardneri",
        "population": "Akure",
        "sent": "30",
        "alive": "26",
        "dead": "3",
        "hatched": "1",
        "laid_from": "2026-11-18",
        "laid_to": "2026-11-20",
        "medium": "water",
        "stage": "fertile",
        "origin": "DE",
        "keep_back": "4",
        "note": "for the spare tank",
    }
    flags = [part for name, value in words.items() for part in (f"--{name.replace('_', '-')}", value)]
    whom = "Petra Erfunden"
    run(typed, monkeypatch, "buy", "B-01", *flags, "--kept-at", "21.5", "--from", whom)
    desk = Desk(tapped)
    done(desk, "/buy", lot="B-01", kept_at_c="21.5", from_whom=whom, **words)
    desk.worktop.shelf_state.close()
    assert stands(typed)[-1][0] == "bought"
    assert_same(tapped, typed)


def test_a_rule_looked_up_again_is_the_same_row_by_page_and_command(
    both: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    tapped, typed = both
    source = "the department of agriculture of Northern Ireland, by letter"
    run(typed, monkeypatch, "rules", "--to", "GB-NIR", "--checked", source, "--verdict", "open")
    desk = Desk(tapped)
    lines = (tapped / "rules.csv").read_text(encoding="utf-8-sig").splitlines()
    row = next(number for number, line in enumerate(lines, 1) if line.startswith("GB-NIR,"))
    cells = {"verdict": "open", "source": source, "checked_on": TODAY.isoformat()}
    form = desk.get(f"/tables/rules/{row}").text
    was = {
        name: html.unescape(value) for name, value in re.findall(r'name="(was-[^"]+)" value="([^"]*)"', form)
    }
    done(desk, f"/tables/rules/{row}", **was, **cells)
    assert source in (typed / "rules.csv").read_text(encoding="utf-8")
    assert_same(tapped, typed)


def test_a_buyer_is_erased_alike_by_page_and_command(
    both: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    tapped, typed = both
    name = "Søren Eksempel"
    ledgers = [folder / "ledger.sqlite" for folder in both]
    assert all(name.encode() in ledger.read_bytes() for ledger in ledgers)
    run(typed, monkeypatch, "erase", name)
    done(Desk(tapped), "/erase", buyer=name)
    assert not any(name.encode() in ledger.read_bytes() for ledger in ledgers)
    assert_same(tapped, typed)


def test_wherever_eggs_are_told_one_sentence_says_that_they_are_about_so_many(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for path in ("/lots", "/ask?lot=FL-31&to=DE", "/offer"):
        assert desk.text(path).count(ABOUT_SO_MANY) == 1, path
    words = ["spawnpost", "--shelf", str(desk.folder), "--today", TODAY.isoformat(), "forecast"]
    monkeypatch.setattr("sys.argv", words)
    with pytest.raises(SystemExit):
        main()
    assert " ".join(capsys.readouterr().out.split()).count(ABOUT_SO_MANY) == 1
