"""Several windows at once: every entry is recorded once, no lot gives more than it holds, no parcel is packed
twice.
"""

from __future__ import annotations

import multiprocessing
from multiprocessing.synchronize import Barrier
from pathlib import Path

import pytest

from shipping.ledger.errors import LedgerError
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import LotCounts
from tests.ledger.desk import TODAY, draw, line, parcel, plan
from tests.ledger.whole import audit

PARCELS = 40
EACH = 5


def pack_all(folder: Path, eggs: int, start: Barrier, said: multiprocessing.Queue) -> None:
    """Try to pack every parcel; say which ones this window packed, and why the others were refused."""
    packed, refused = [], []
    start.wait()
    for n in range(PARCELS):
        name = f"2026-W49-{n:02d}"
        with Ledger.open(folder, TODAY, patience_s=60) as ledger:
            try:
                ledger.pack(name, counted={"L1": LotCounts(eggs, TODAY)})
                packed.append(name)
            except LedgerError as trouble:
                refused.append(trouble.text)
    said.put((packed, refused))


def packed_by(writers: int, folder: Path, eggs: int) -> tuple[list[str], list[str]]:
    with Ledger.open(folder, TODAY, create=True) as ledger:
        ledger.keep_plan(
            plan(
                *(
                    parcel(f"2026-W49-{n:02d}", f"Buyer {n}", line(f"S{n}", 1, 4, draw("L1", EACH)))
                    for n in range(PARCELS)
                )
            )
        )
    fork = multiprocessing.get_context("fork")
    start, said = fork.Barrier(writers), fork.Queue()
    windows = [fork.Process(target=pack_all, args=(folder, eggs, start, said)) for _ in range(writers)]
    for window in windows:
        window.start()
    answers = [said.get(timeout=120) for _ in windows]
    for window in windows:
        window.join(timeout=120)
        assert window.exitcode == 0
    return [name for packed, _ in answers for name in packed], [
        text for _, refused in answers for text in refused
    ]


@pytest.mark.parametrize("writers", [2, 8])
def test_windows_that_pack_at_once_never_pack_a_parcel_twice(tmp_path: Path, writers: int) -> None:
    packed, refused = packed_by(writers, tmp_path, EACH * PARCELS)
    assert sorted(packed) == [f"2026-W49-{n:02d}" for n in range(PARCELS)]
    assert len(refused) == PARCELS * (writers - 1)
    assert all("it is packed already" in text for text in refused)
    assert audit(tmp_path, {"L1": LotCounts(EACH * PARCELS, TODAY)}) == ()


def test_windows_that_pack_at_once_stop_together_when_a_lot_is_empty(tmp_path: Path) -> None:
    packed, refused = packed_by(4, tmp_path, EACH * 7 + 3)
    assert len(packed) == len(set(packed)) == 7
    assert any("lot L1 has 3 eggs left" in text for text in refused)
    with Ledger.open(tmp_path, TODAY) as ledger:
        assert ledger.packed_by_lot() == {"L1": {TODAY: EACH * 7}}
        assert audit(ledger.folder, {"L1": LotCounts(EACH * 7 + 3, TODAY)}) == ()
