"""A ledger whose writer is killed at any moment is whole, and holds everything that was said to be
recorded.
"""

from __future__ import annotations

import os
import random
import select
import shutil
import signal
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipping.ledger.entries import Packed
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import LotCounts
from tests.ledger.desk import TODAY, draw, line, parcel, plan
from tests.ledger.whole import audit

#: How often to kill; `make crash` sets 10000.
CRASHES = int(os.environ.get("SPAWNPOST_CRASHES", "240"))
#: A killed process loses nothing the system already took: memory does as well as a disk, and is not slowed by
#: forcing.
MEMORY = Path("/dev/shm")
PARCELS = 12
EGGS = 100


def a_desk(folder: Path) -> None:
    parcels = [
        parcel(f"2026-W49-{n:02d}", f"Buyer {n}", line(f"S{n}", 1, 8, draw("L1", 6), draw("L2", 5)))
        for n in range(PARCELS)
    ]
    with Ledger.open(folder, TODAY, create=True) as ledger:
        ledger.keep_plan(plan(*parcels))


def work_until_killed(folder: Path, pipe: int, operations: int) -> None:
    """Pack and take back for ever; say each entry's number once it is recorded. Dies by its own hand after so
    many steps of the database, if ``operations`` is not zero.
    """
    counted = {"L1": LotCounts(EGGS, TODAY), "L2": LotCounts(EGGS, TODAY)}
    with Ledger.open(folder, TODAY) as ledger:
        if operations:
            left = iter(range(operations))

            def step() -> int:
                if next(left, None) is None:
                    os.kill(os.getpid(), signal.SIGKILL)
                return 0

            ledger.store._connection.set_progress_handler(step, 1)
        while True:
            for name in [f"2026-W49-{n:02d}" for n in range(PARCELS)]:
                os.write(pipe, bytes([ledger.pack(name, counted=counted).seq % 251]))
            for _ in range(PARCELS):
                os.write(pipe, bytes([ledger.undo().seq % 251]))


def killed_at(folder: Path, chance: random.Random, by_itself: bool) -> int:
    """How many entries the writer said it had recorded before it was killed."""
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read_end)
        try:
            work_until_killed(folder, write_end, chance.randrange(1, 4000) if by_itself else 0)
        finally:
            os._exit(1)
    os.close(write_end)
    told = 0
    with os.fdopen(read_end, "rb", buffering=0) as pipe:
        if not by_itself:
            for _ in range(chance.randrange(0, 20)):
                told += len(pipe.read(1))
            select.select([], [], [], chance.random() * 0.002)
            os.kill(child, signal.SIGKILL)
        while more := pipe.read(4096):
            told += len(more)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), "the writer ended otherwise than by being killed"
    return told


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Path]:
    """A folder in memory where there is one, else on the disk."""
    if not os.access(MEMORY, os.W_OK):
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(dir=MEMORY) as folder:
        yield Path(folder)


@pytest.mark.slow
def test_a_ledger_survives_its_writer_being_killed_at_any_moment(place: Path) -> None:
    chance = random.Random(49)
    fresh = place / "fresh"
    fresh.mkdir()
    a_desk(fresh)
    folder = fresh
    known = 1
    for crash in range(CRASHES):
        if crash % 20 == 0:
            folder = place / f"desk{crash}"
            shutil.copytree(fresh, folder)
            known = 1
        told = killed_at(folder, chance, by_itself=crash % 2 == 0)
        counted = {lot: LotCounts(EGGS, TODAY) for lot in ("L1", "L2")}
        assert audit(folder, counted) == (), f"after crash {crash}"
        with Ledger.open(folder, TODAY) as ledger:
            now = len(ledger.entries())
            assert known + told <= now <= known + told + 1, (
                f"crash {crash}: {told} told, {now - known} recorded"
            )
            eggs = sum(count.eggs for kept in ledger.parcels() for count in kept.counts)
            assert sum(sum(days.values()) for days in ledger.packed_by_lot().values()) == eggs
            for kept in ledger.parcels():
                if kept.state == "packed":
                    ledger.undo(max(one.seq for one in ledger.entries() if is_packing(one.body, kept.parcel)))
            known = len(ledger.entries())
        if crash % 20 == 19:
            shutil.rmtree(folder)


def is_packing(body: object, name: str) -> bool:
    return isinstance(body, Packed) and body.parcel == name
