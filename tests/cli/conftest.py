"""The demo week with its plan kept, and the command on a copy of it."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from shipping.cli.app import main
from shipping.ledger.ledger import Ledger
from shipping.words.units import shipped_folder
from tests.reckoned_once import reckoned_once as reckoned_once

DEMO = shipped_folder("demo_orders")
TODAY = date.fromisoformat((DEMO / "today.txt").read_text(encoding="utf-8").strip())
FIRST = "2026-W49-01"
SECOND = "2026-W49-02"
START = "import sys; from shipping.cli.app import main; sys.argv[0] = 'spawnpost'; sys.exit(main())"


@dataclass(frozen=True)
class Ran:
    """The exit code and what was said."""

    code: int
    out: str
    err: str

    @property
    def facts(self) -> dict[str, Any]:
        """Standard output as one JSON object; anything else there fails."""
        found = json.loads(self.out)
        assert isinstance(found, dict)
        return found


Spawnpost = Callable[..., Ran]


def ran(
    shelf: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    *words: str,
    today: str = str(TODAY),
) -> Ran:
    """The command on a shelf, within this process."""
    monkeypatch.setattr(sys, "argv", ["spawnpost", "--shelf", str(shelf), "--today", today, *words])
    with pytest.raises(SystemExit) as end:
        main()
    said = capsys.readouterr()
    return Ran(int(end.value.code or 0), said.out, said.err)


@pytest.fixture(scope="session")
def kept_week(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo week with its plan kept; not to be changed."""
    folder = tmp_path_factory.mktemp("kept") / "shelf"
    shutil.copytree(DEMO, folder)
    words = [sys.executable, "-c", START, "--shelf", str(folder), "--today", str(TODAY), "plan", "--keep"]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert "Kept as entry 1" in done.stdout
    return folder


@pytest.fixture
def shelf(kept_week: Path, tmp_path: Path) -> Path:
    """A copy of the week with its plan kept."""
    folder = tmp_path / "shelf"
    shutil.copytree(kept_week, folder)
    return folder


@pytest.fixture
def spawnpost(shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Spawnpost:
    """Runs the command on the copy, on the demo's day unless another is named."""

    def run(*words: object, today: str = str(TODAY)) -> Ran:
        return ran(shelf, capsys, monkeypatch, *map(str, words), today=today)

    return run


def done(ran: Ran) -> Ran:
    """The same, if it went well."""
    assert (ran.code, ran.err) == (0, "")
    return ran


def partly_done(ran: Ran) -> Ran:
    """The same, if what could be done was done, and the rest is told beside it."""
    assert (ran.code, ran.err) == (1, "")
    return ran


def refused(ran: Ran, said: str) -> None:
    """It leaves with 1 and one line that says so, and nothing else."""
    assert (ran.code, ran.out) == (1, "")
    assert said in ran.err
    assert len(ran.err.splitlines()) == 1


def entries(spawnpost: Spawnpost) -> list[dict[str, Any]]:
    found = done(spawnpost("history", "--json")).facts["entries"]
    assert isinstance(found, list)
    return found


def edit(folder: Path, table: str, where: dict[str, str], **cells: str) -> None:
    """Change cells of the rows of a table that say so."""
    path = folder / f"{table}.csv"
    with path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.DictReader(file)
        header, rows = list(reader.fieldnames or ()), list(reader)
    header += [name for name in cells if name not in header]
    found = [row for row in rows if all(row[name] == value for name, value in where.items())]
    assert found, where
    for row in found:
        row.update(cells)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, header)
        writer.writeheader()
        writer.writerows(rows)


def parcel_of(folder: Path, order: str) -> str:
    """The kept parcel that an order goes in."""
    with Ledger.open(folder, TODAY) as ledger:
        return next(k.parcel for k in ledger.parcels() if any(line.order == order for line in k.lines))
