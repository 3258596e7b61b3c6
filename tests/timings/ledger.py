"""How fast the ledger records and learns. Run `python -m tests.timings.ledger`; prints figures beside their
aims.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

from shipping.learning.lesson import learn
from shipping.learning.losses import Losses
from shipping.learning.outcomes import outcomes
from shipping.learning.score import scores
from shipping.ledger.entries import LineReport
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import LotCounts
from tests.ledger.desk import TODAY, draw, line, parcel, plan
from tests.ledger.invented import drawn, lot, shelf
from tests.ledger.whole import audit

PARCELS = 2000
BLOCK = 50
ARRIVALS = 100_000


def bare_table(folder: Path) -> sqlite3.Connection:
    """A bare table, journal and synchronous as the ledger's."""
    connection = sqlite3.connect(folder / "bare.sqlite", isolation_level=None)
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("CREATE TABLE entry (seq INTEGER PRIMARY KEY, day TEXT, facts TEXT) STRICT")
    return connection


def recording(folder: Path) -> tuple[float, float]:
    """Parcels packed a second, and bare rows a second, one a transaction; in turns, for the disk may be
    shared.
    """
    counted = {"L1": LotCounts(24 * PARCELS, TODAY)}
    names = [f"2026-W49-{n:04d}" for n in range(PARCELS)]
    bare = bare_table(folder)
    spent = [0.0, 0.0]
    with Ledger.open(folder, TODAY, create=True) as ledger:
        ledger.keep_plan(
            plan(
                *(
                    parcel(name, f"Buyer {n}", line(f"S{n}", 1, 20, draw("L1", 24)))
                    for n, name in enumerate(names)
                )
            )
        )
        for block in range(0, PARCELS, BLOCK):
            start = time.perf_counter()
            for name in names[block : block + BLOCK]:
                ledger.pack(name, counted=counted)
            middle = time.perf_counter()
            for _ in range(BLOCK):
                bare.execute("BEGIN IMMEDIATE")
                bare.execute("INSERT INTO entry (day, facts) VALUES (?, ?)", ("2026-11-30", "x" * 300))
                bare.execute("COMMIT")
            spent = [spent[0] + middle - start, spent[1] + time.perf_counter() - middle]
        for name in names:
            ledger.send(name)
            ledger.arrive(name, [LineReport(order=f"S{int(name[-4:])}", line=1, alive=22)])
    bare.close()
    return PARCELS / spent[0], PARCELS / spent[1]


def reading(folder: Path) -> tuple[float, float]:
    """Seconds to open the ledger again, and to check it."""
    start = time.perf_counter()
    with Ledger.open(folder, TODAY) as ledger:
        opened = time.perf_counter() - start
        assert len(outcomes(ledger.parcels(), shelf(lots=(lot("L1"),)))) == PARCELS
    start = time.perf_counter()
    assert audit(folder) == ()
    return opened, time.perf_counter() - start


def learning() -> tuple[float, float]:
    """Seconds to learn from, and to score, so many arrivals."""
    found = drawn(ARRIVALS, Losses(0.06, 0.02, 20.0), 1)
    start = time.perf_counter()
    learn(shelf(), found)
    learned = time.perf_counter() - start
    start = time.perf_counter()
    scores(found)
    return learned, time.perf_counter() - start


def main() -> int:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        packed, bare = recording(folder)
        opened, checked = reading(folder)
    learned, scored = learning()
    rows = [
        ("parcels recorded a second, forced to the disk", packed, "above 400", packed > 400),
        ("bare sqlite3 rows a second in the same run", bare, "-", True),
        ("parcels as a share of bare rows", packed / bare, "above 0.25", packed / bare > 0.25),
        (f"seconds to open {3 * PARCELS} entries", opened, "-", True),
        (f"seconds to check {3 * PARCELS} entries", checked, "-", True),
        (f"seconds to learn from {ARRIVALS} arrivals", learned, "under 10", learned < 10),
        (f"seconds to score {ARRIVALS} arrivals", scored, "-", True),
    ]
    print(f"ledger, {date.today()}, Python {sys.version.split()[0]}, SQLite {sqlite3.sqlite_version}")
    for name, value, aim, _ in rows:
        print(f"{name:<50} {value:>10.3f}   {aim}")
    return 0 if all(met for *_, met in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
