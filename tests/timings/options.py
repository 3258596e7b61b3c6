"""How many options a second: all of a generated week's, in one process and in two; prints seconds, options a second and MiB."""

from __future__ import annotations

import argparse
import os
import resource
import tempfile
import time
from pathlib import Path

import numpy as np

from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.option_table import OptionTable, tables_for
from shipping.week.options import Reckoner
from shipping.week.side_by_side import of_each
from shipping.week.values import dispatch_days, next_week
from tests.timings.weeks import TODAY, generated_week

WEEK = "2026-W49"
#: What of a table comes back from another process: options, and by line the passing cells, eggs and chances.
Passing = tuple[int, list[tuple[np.ndarray, np.ndarray, np.ndarray]]]


def passing(shelf: Shelf, table: OptionTable) -> Passing:
    """How many options the lines of a table's species have, and those that pass."""
    options, found = 0, []
    for order in shelf.orders:
        for line in order.lines:
            if line.species == table.species.species:
                of_line = table.of(order, line, line.population)
                cells = np.flatnonzero(of_line.codes == 0)
                options += int((of_line.codes >= 0).sum())
                pack = of_line.pack.ravel()[cells].astype(np.int32)
                found.append((cells.astype(np.int32), pack, of_line.p_enough.ravel()[cells]))
    return options, found


def timed(shelf: Shelf, processes: int) -> tuple[int, int, float, float]:
    """Options, passing options, seconds on the wall and of the processors [s], from a shelf just read."""
    days = dispatch_days(shelf, WEEK) + dispatch_days(shelf, next_week(WEEK))
    wishes = [(order, line.species) for order in shelf.orders for line in order.lines]
    wall, used = time.perf_counter(), _processor_s()
    tables = list(tables_for(Reckoner(shelf), wishes, days))
    made = of_each(tables, lambda table: passing(shelf, table), processes)
    options = sum(one for one, _ in made)
    passed = sum(cells.size for _, found in made for cells, _, _ in found)
    return options, passed, time.perf_counter() - wall, _processor_s() - used


def _processor_s() -> float:
    """Seconds of processor that this process and those it waited for have used."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def main() -> None:
    """Read, reckon, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--orders", type=int, default=1000)
    parser.add_argument("--lots", type=int, default=400)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = generated_week(wanted.orders, wanted.lots, 1, Path(name) / "week")
        for processes in (1, 2):
            shelf = read_shelf(folder, TODAY).shelf
            if shelf is None:
                raise SystemExit("the generated week cannot be read")
            options, passed, wall, used = timed(shelf, processes)
            mib = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)) / 1024
            print(
                f"{wanted.orders} orders, {wanted.lots} lots, {processes} process(es): {options} options ({passed} pass), "
                f"{wall:.2f} s, {used:.2f} s of processor, {options / wall / 1e6:.2f} million a second, {mib:.0f} MiB"
            )


if __name__ == "__main__":
    main()
