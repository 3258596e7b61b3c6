"""How fast the worktop page answers: its first page, one tap among 200 parcels, and two clients that tap for
a minute.
"""

from __future__ import annotations

import argparse
import csv
import json
import shutil
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from shipping.ledger.ledger import Ledger
from shipping.tables.reader import read_shelf
from shipping.week.plan import make_plan
from shipping.words.units import shipped_folder
from tests.ledger.whole import audit
from tests.worktop.served import Client, ServedPage

DAY = date(2026, 11, 30)
PARCELS = 200
TAPS_A_SECOND = 10


def many_parcels(folder: Path, count: int) -> list[str]:
    """The demo week's parcels over and over, with orders and lots to match, kept in a ledger; their names."""
    shutil.copytree(shipped_folder("demo_orders"), folder)
    shelf = read_shelf(folder, DAY).shelf
    assert shelf is not None
    plan: dict[str, Any] = json.loads(json.dumps(make_plan(shelf, "2026-W49").as_json()))
    models = [parcel for parcel in plan["parcels"] if not _looks_first(parcel)]
    parcels, orders = [], {}
    for n in range(count):
        parcel = json.loads(json.dumps(models[n % len(models)]))
        for line in parcel["lines"]:
            orders.setdefault(line["order"], set()).add(n)
            line["order"] = f"{line['order']}-{n}"
        parcel["orders"] = [f"{name}-{n}" for name in parcel["orders"]]
        parcels.append({**parcel, "parcel": f"2026-W49-{n + 1:03d}"})
    grow_orders(folder / "orders.csv", orders)
    grow_lots(folder / "lots.csv", 1 + count // len(models))
    with Ledger.open(folder, DAY, create=True) as ledger:
        ledger.keep_plan({**plan, "parcels": parcels, "lines_out": []})
    return [parcel["parcel"] for parcel in parcels]


def _looks_first(parcel: dict[str, Any]) -> bool:
    """Is it packed only after a look? Then a tap alone is refused."""
    return any(draw["look_first"] for line in parcel["lines"] for draw in line["draws"])


def grow_orders(path: Path, numbers: dict[str, set[int]]) -> None:
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    grown = [
        {**row, "order": f"{row['order']}-{n}"} for row in rows for n in sorted(numbers.get(row["order"], ()))
    ]
    write_rows(path, rows + grown)


def grow_lots(path: Path, times: int) -> None:
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    write_rows(path, [{**row, "eggs": str(int(row["eggs"]) * times)} for row in rows])


def write_rows(path: Path, rows: Sequence[dict[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def first_page(shelf: Path) -> tuple[float, int]:
    """Seconds from the start of the process to the whole first page, and the bytes of page, style and
    script.
    """
    start = time.perf_counter()
    with ServedPage(shelf) as page:
        client = Client.__new__(Client)
        client.page, client.cookie = page, ""
        answer = client.get("/")
        elapsed = time.perf_counter() - start
        more = sum(len(client.get(path).text.encode()) for path in ("/worktop.css", "/worktop.js"))
    assert answer.status == 200
    return elapsed, len(answer.text.encode()) + more


class Tapper:
    """One client that packs and takes back its own parcels, at its own pace."""

    def __init__(self, page: ServedPage, names: Sequence[str]) -> None:
        self.client = Client(page)
        self.names = names
        self.marks = self.client.marks()
        self.taken: list[float] = []
        self.failed: list[int] = []

    def tap(self, number: int, again_after: int) -> None:
        """The ``number``-th tap: packs a parcel, or takes back the packing of one."""
        name = self.names[number // 2 % len(self.names)]
        is_undo = number % 2 == 1
        fields = dict(self.marks)
        if is_undo:
            fields["entry"] = str(self.last)
        start = time.perf_counter()
        answer = self.client.post(f"/packing/{name}/{'undo' if is_undo else 'pack'}", fields)
        self.taken.append(time.perf_counter() - start)
        seen = answer.headers.get("X-Seen", "")
        if answer.status != 200:
            self.failed.append(answer.status)
            return
        self.marks["seen"] = seen
        self.last = (
            int(answer.text.partition('name="entry" value="')[2].partition('"')[0])
            if not is_undo
            else again_after
        )

    last = 0

    def run(self, seconds: float, a_second: float) -> None:
        start = time.perf_counter()
        for number in range(round(seconds * a_second)):
            wait = start + number / a_second - time.perf_counter()
            if wait > 0:
                time.sleep(wait)
            self.tap(number, 0)


def two_tap(shelf: Path, names: Sequence[str], seconds: float) -> tuple[list[Tapper], float]:
    """Two clients that tap together, and the seconds it took them."""
    with ServedPage(shelf) as page:
        both = [Tapper(page, names[n::2]) for n in (0, 1)]
        start = time.perf_counter()
        threads = [threading.Thread(target=one.run, args=(seconds, TAPS_A_SECOND / 2)) for one in both]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return both, time.perf_counter() - start


def whole_page(shelf: Path) -> float:
    """Seconds for a whole day of strips anew, as without scripts."""
    with ServedPage(shelf) as page:
        client = Client(page)
        client.get("/packing")
        taken = []
        for _ in range(5):
            start = time.perf_counter()
            client.get("/packing")
            taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--seconds", type=float, default=60.0, help="how long two clients tap")
    given = options.parse_args()
    with tempfile.TemporaryDirectory() as place:
        fresh = Path(shutil.copytree(shipped_folder("demo_orders"), Path(place) / "fresh"))
        shelf = Path(place) / "many"
        names = many_parcels(shelf, PARCELS)
        pages = [first_page(fresh) for _ in range(3)]
        kept = [first_page(shelf) for _ in range(3)]
        day = whole_page(shelf)
        before = entries_of(shelf)
        both, seconds = two_tap(shelf, names, given.seconds)
        taps = sum(len(one.taken) for one in both)
        lost = taps - (entries_of(shelf) - before) + len(audit(shelf))
    taken = sorted(value for one in both for value in one.taken)
    late = taken[int(0.99 * (len(taken) - 1))]
    rows = [
        (
            "first page, demo week, from the start [s]",
            min(one for one, _ in pages),
            "under 0.6",
            min(pages)[0] < 0.6,
        ),
        ("the same with script and style [kB]", pages[0][1] / 1000, "under 60", pages[0][1] < 60_000),
        (f"first page, {PARCELS} parcels kept [s]", min(one for one, _ in kept), "-", True),
        (f"a day's strips anew, {PARCELS} parcels in 3 days [s]", day, "-", True),
        (
            f"a tap among {PARCELS} parcels, median [s]",
            statistics.median(taken),
            "under 0.1",
            statistics.median(taken) < 0.1,
        ),
        ("the same, 99 of 100 taps within [s]", late, "-", True),
        (
            f"taps a second from two clients for {given.seconds:g} s",
            taps / seconds,
            "about 10",
            taps / seconds > 9,
        ),
        (
            "taps refused",
            float(sum(len(one.failed) for one in both)),
            "0",
            not any(one.failed for one in both),
        ),
        ("entries lost", float(lost), "0", lost == 0),
    ]
    print(f"worktop, {date.today()}, Python {sys.version.split()[0]}")
    for name, value, aim, _ in rows:
        print(f"{name:<54} {value:>9.3f}   {aim}")
    return 0 if all(met for *_, met in rows) else 1


def entries_of(shelf: Path) -> int:
    with Ledger.open(shelf, DAY) as ledger:
        return len(ledger.entries())


if __name__ == "__main__":
    sys.exit(main())
