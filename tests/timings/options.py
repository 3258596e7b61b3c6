"""How many options a second: all of a generated week's, in one process and in two; prints seconds, options a
second and MiB.
"""

from __future__ import annotations

import argparse
import os
import resource
import tempfile
import time
from pathlib import Path

from shipping.options.option_arrays import Wish, candidates_of, of_each_table, tables_for
from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.choices import MANY_ASKED
from shipping.week.objective import dispatch_days, next_week
from tests.timings.weeks import TODAY, generated_week

WEEK = "2026-W49"


def timed(shelf: Shelf, processes: int) -> tuple[int, int, float, float]:
    """Options of all lines (lots by legs by packings), those that pass this week, seconds on the wall and of
    the processors.
    """
    days = dispatch_days(shelf, WEEK)
    wall, used = time.perf_counter(), _processor_s()
    wishes: dict[str, list[Wish]] = {}
    for order in shelf.orders:
        for line in order.lines:
            wishes.setdefault(line.species, []).append((order, line, line.population))
    asked = [(order, line.species) for order in shelf.orders for line in order.lines]
    tables = list(tables_for(OptionFactory(shelf), asked, days + dispatch_days(shelf, next_week(WEEK))))
    made = of_each_table(
        tables,
        lambda table: candidates_of(table, wishes[table.species.species], days),
        MANY_ASKED,
        processes,
    )
    lines = [line for found in made for line in found.wishes]
    options, passed = sum(line.reckoned for line in lines), sum(line.alone.size for line in lines)
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
            mib = (
                max(
                    resource.getrusage(who).ru_maxrss
                    for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
                )
                / 1024
            )
            print(
                f"{wanted.orders} orders, {wanted.lots} lots, {processes} process(es): {options} options"
                f" ({passed} pass), {wall:.2f} s, {used:.2f} s of processor, {options / wall / 1e6:.2f}"
                f" million a second, {mib:.0f} MiB"
            )


if __name__ == "__main__":
    main()
