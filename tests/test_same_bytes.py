"""The same tables and the same day give the same plan and the same papers, to the byte, however the rows are
sorted.
"""

from __future__ import annotations

import csv
import hashlib
import os
import random
import shutil
import subprocess
import sys
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest

from shipping.tables.reader import read_shelf
from shipping.week.plan import make_plan
from shipping.words.units import shipped_folder

DEMO = shipped_folder("demo_orders")
TODAY = (DEMO / "today.txt").read_text(encoding="utf-8").strip()
#: Both commands in one new interpreter: a plan on standard output, papers in a folder.
PROGRAM = """
import sys
from shipping.cli.app import main
shelf, today, out = sys.argv[1:]
for words in (["--json", "plan"], ["--quiet", "papers", "--to", out]):
    sys.argv = ["spawnpost", "--shelf", shelf, "--today", today, *words]
    try:
        main()
    except SystemExit as end:
        assert not end.code, end.code
"""


@dataclass(frozen=True)
class Made:
    """What one run made: the plan's bytes, and a digest of each paper by its name."""

    plan: bytes
    papers: dict[str, str]


def made(shelf: Path, out: Path, hash_seed: int) -> Made:
    if shelf == DEMO:  # a shelf remembers what was printed of it: the demo is not written to
        shelf = shutil.copytree(DEMO, out.parent / "demo")
    run = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(shelf), TODAY, str(out)],
        env={**os.environ, "PYTHONHASHSEED": str(hash_seed)},
        capture_output=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr.decode()
    plan, end, _ = run.stdout.rpartition(b"Wrote ")
    assert end
    files = [path for path in sorted(out.rglob("*")) if path.is_file()]
    return Made(
        plan,
        {path.relative_to(out).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files},
    )


def shuffle_rows(shelf: Path) -> None:
    """Shuffles the rows of every table; rows of one order stay in their order, but no longer stand
    together.
    """
    shuffled = random.Random(20261130)
    for path in sorted(shelf.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            header, *rows = csv.reader(file)
        if path.stem == "orders":
            by_order: dict[str, list[list[str]]] = {}
            for row in rows:
                by_order.setdefault(row[0], []).append(row)
            places = [row[0] for row in rows]
            shuffled.shuffle(places)
            rows = [by_order[order].pop(0) for order in places]
        else:
            shuffled.shuffle(rows)
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([header, *rows])


def test_a_plan_is_the_same_whatever_the_order_of_the_rows(tmp_path: Path) -> None:
    shelf = tmp_path / "shuffled"
    shutil.copytree(DEMO, shelf)
    shuffle_rows(shelf)
    assert (shelf / "orders.csv").read_bytes() != (DEMO / "orders.csv").read_bytes()
    first, shuffled = (
        make_plan(read_shelf(folder, date.fromisoformat(TODAY)).shelf, "2026-W49") for folder in (DEMO, shelf)
    )
    assert len(first.parcels) > 10
    assert shuffled.as_json() == first.as_json()


@pytest.mark.slow
def test_no_byte_of_plan_and_papers_depends_on_the_order_of_hashes_or_of_rows(tmp_path: Path) -> None:
    """One test, since its three runs are half a minute that workers would each spend anew."""
    shelf = tmp_path / "shuffled" / "shelf"
    shutil.copytree(DEMO, shelf)
    shuffle_rows(shelf)
    assert (shelf / "orders.csv").read_bytes() != (DEMO / "orders.csv").read_bytes()
    first, again = (made(DEMO, tmp_path / str(seed) / "papers", seed) for seed in (1, 4_000_000_007))
    shuffled = made(shelf, tmp_path / "shuffled" / "papers", 2)
    assert first.plan.startswith(b'{\n "week": "2026-W49"')
    parcels = first.plan.count(b'"parcel":')
    assert sum(name.startswith("mail/2026-W49-") for name in first.papers) >= parcels > 10
    assert sum(name.startswith("print/2026-W49-") for name in first.papers) == 3
    assert again.plan == first.plan, "hashes"
    assert again.papers == first.papers, "hashes"
    assert shuffled.plan == first.plan, "rows"
    assert shuffled.papers == first.papers, "rows"
