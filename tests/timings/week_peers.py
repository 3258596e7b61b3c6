"""The planner beside its peers on generated weeks: sizes and seconds in, a table of what each served, proved and took out.

Each week is read and its options reckoned in a process of its own; from there each planner runs in a forked child, alone,
with the same seconds (building its program included), and is killed after three times as many. What it chose is checked
against the week's limits by `week_check`, which knows no solver. Run `python -m tests.timings.week_peers --help`.
"""

from __future__ import annotations

import argparse
import math
import os
import platform
import signal
import sys
import tempfile
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from importlib.metadata import version
from pathlib import Path

from shipping.tables.lots import Lot
from shipping.tables.reader import read_shelf
from shipping.week.choices import Choices
from shipping.week.options import Reckoner
from shipping.week.task import Chosen, Task
from shipping.week.values import default_week, dispatch_days, next_week
from tests.timings.forked import PATIENCE_S, Ended, forked
from tests.timings.week_check import NEAR, WeekCheck
from tests.timings.week_planners import PLANNERS
from tests.timings.weeks import TODAY, WEEKS, generated_week

LIMITS_S = (15.0, 40.0, 60.0, 120.0, 600.0)
#: A planner is killed after so many times its seconds.
KILL_TIMES = 3
#: Reading and reckoning a week may take so long [s].
LOAD_S = 3600.0
HEAD = ("week", "planner", "value", "bound", "gap", "orders", "to oldest first", "eggs past", "loss", "s", "MiB")


@dataclass(frozen=True, slots=True)
class Loaded:
    """A week ready for planners, and what it took. ``free``: eggs of a lot that pass their last safe day this week."""

    task: Task
    placed_on: dict[str, date]
    last_safe: dict[str, int]
    cells: int
    seconds: dict[str, float]


@dataclass(frozen=True, slots=True)
class Row:
    """What one planner did with a week; numbers are None where it failed."""

    planner: str
    failed: str
    seconds: float
    peak_mib: float
    chosen: Chosen | None = None
    eggs_past: int = 0
    loss: float = 0.0

    @property
    def orders(self) -> int:
        return len({order for way in self.chosen.ways for order in way.orders}) if self.chosen else 0


def loaded(orders: int, lots: int, seed: int, folder: Path) -> Loaded:
    """A generated week, read, its options reckoned, as numbers."""
    generated_week(orders, lots, seed, folder)
    times = [time.perf_counter()]
    shelf = read_shelf(folder, TODAY).shelf
    assert shelf is not None
    times.append(time.perf_counter())
    week = default_week(shelf)
    choices = Choices(Reckoner(shelf), dispatch_days(shelf, week), dispatch_days(shelf, next_week(week)))
    choices.reckon()
    times.append(time.perf_counter())
    task = choices.task()
    times.append(time.perf_counter())
    seconds = {what: b - a for what, a, b in zip(("read", "options", "numbers"), times, times[1:], strict=False)}
    placed_on = {order.order: order.placed_on for order in shelf.orders}
    return Loaded(task, placed_on, last_safe_eggs(choices, task), choices.options_reckoned, seconds)


def last_safe_eggs(choices: Choices, task: Task) -> dict[str, int]:
    """Of each lot that fills some line this week and none next week: the most eggs that are free on a day of this week."""
    shelf = choices.shelf
    by_name: dict[tuple[str, str], list[Lot]] = {}
    for lot in shelf.lots:
        by_name.setdefault((lot.species, lot.population.casefold()), []).append(lot)
        by_name.setdefault((lot.species, ""), []).append(lot)
    wishes = [
        (line, *choices.instead.get(line.key, (line.species, line.population))) for order in shelf.orders for line in order.lines
    ]
    later = {
        lot.lot
        for line, species, population in wishes
        for lot in by_name.get((species, population.casefold()), ())
        if choices.later_cost(line, lot.lot) > 0
    }
    free: dict[str, int] = {}
    for (lot_name, _), eggs in task.free.items():
        if lot_name not in later:
            free[lot_name] = max(eggs, free.get(lot_name, 0))
    return free


def eggs_past(last_safe: dict[str, int], chosen: Chosen) -> int:
    """Eggs that pass their last safe day unused."""
    drawn: dict[str, int] = {}
    for one in chosen.drawn.values():
        for lot, eggs in one.draws:
            drawn[lot] = drawn.get(lot, 0) + eggs
    return sum(max(0, eggs - drawn.get(lot, 0)) for lot, eggs in last_safe.items())


def compared(orders: int, lots: int, seed: int, seconds: float, most_gib: float, planners: Sequence[str]) -> None:
    """One week: every planner in a child of its own; prints what was loaded and a row each."""
    with tempfile.TemporaryDirectory() as name:
        week = loaded(orders, lots, seed, Path(name))
    check = WeekCheck(week.task)
    print(loading_line(orders, lots, week), flush=True)
    rows = []
    for planner in planners:
        work = partial(PLANNERS[planner], week.task, week.placed_on, seconds)
        ended = forked(work, seconds * KILL_TIMES, most_gib)
        rows.append(judged(planner, ended, week, check))
        print(f"  {planner}: {rows[-1].failed or 'done'} after {rows[-1].seconds:.1f} s", file=sys.stderr, flush=True)
    print(table(f"{orders:,} / {lots:,}", rows), flush=True)
    for line in bounds_refuted(rows):
        print(line, flush=True)


def judged(planner: str, ended: Ended, week: Loaded, check: WeekCheck) -> Row:
    """The row of what a planner chose; one that breaks a limit has failed."""
    chosen = ended.found
    if ended.failed or not isinstance(chosen, Chosen):
        return Row(planner, ended.failed or "it returned no choice", ended.seconds, ended.peak_mib)
    if broken := check.broken(chosen):
        return Row(planner, f"{len(broken)} limits broken, first: {broken[0]}", ended.seconds, ended.peak_mib)
    return Row(planner, "", ended.seconds, ended.peak_mib, chosen, eggs_past(week.last_safe, chosen), check.cost(chosen))


def bounds_refuted(rows: Sequence[Row]) -> list[str]:
    """Every planner whose bound is below what another serves, in words."""
    best = max((row for row in rows if row.chosen), key=lambda row: row.chosen.value if row.chosen else 0.0, default=None)
    value = best.chosen.value if best and best.chosen else 0.0
    return [
        f"The bound of {row.planner} is wrong: {best.planner if best else ''} serves {value:,.6f}."
        for row in rows
        if row.chosen and row.chosen.bound < value - NEAR * max(1.0, value)
    ]


def loading_line(orders: int, lots: int, week: Loaded) -> str:
    """What was loaded, and how fast."""
    task, took = week.task, week.seconds
    return "\n".join(
        (
            f"\n{orders:,} orders, {lots:,} lots, read in {took['read']:.2f} s.",
            f"{week.cells:,} options reckoned in {took['options']:.2f} s, {week.cells / took['options']:,.0f} a second.",
            f"{len(task.fillings):,} fillings, {len(task.splits):,} splits, {len(task.ways):,} ways in {took['numbers']:.2f} s.",
            f"{sum(week.last_safe.values()):,} eggs of {len(week.last_safe):,} lots have their last safe day this week.\n",
        )
    )


def table(week: str, rows: Iterable[Row]) -> str:
    """The rows as a table in Markdown. The gap is to a planner's own bound; of one that proves none, to the least proven."""
    made = list(rows)
    bounds = [row.chosen.bound for row in made if row.chosen and math.isfinite(row.chosen.bound)]
    oldest = next((row.orders for row in made if row.planner == "oldest order first"), 0)
    lines = [HEAD, ("---", "---") + ("---:",) * (len(HEAD) - 2)]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in [*lines, *(_cells(week, row, bounds, oldest) for row in made)])


def _cells(week: str, row: Row, bounds: Sequence[float], oldest: int) -> tuple[str, ...]:
    cost = (f"{row.seconds:.1f}", f"{row.peak_mib:.0f}")
    if row.chosen is None:
        return (week, row.planner, row.failed, *[""] * 6, *cost)
    value, bound = row.chosen.value, row.chosen.bound
    has_own = math.isfinite(bound)
    least = bound if has_own else min(bounds, default=math.inf)
    gap = f"{100 * max(0.0, least - value) / least:.2f} %" if 0 < least < math.inf else ""
    more = f"{100 * (row.orders / oldest - 1):+.1f} %" if oldest and row.planner != "oldest order first" else ""
    return (
        week,
        row.planner,
        f"{value:,.2f}" if row.chosen.ways else "none found in time",
        f"{bound:,.2f}" if has_own else "none",
        gap if has_own or not gap else f"({gap})",
        f"{row.orders:,}",
        more,
        f"{row.eggs_past:,}",
        f"{row.loss:,.2f}",
        *cost,
    )


def machine() -> str:
    """Processor, cores, memory, system and versions, in a line."""
    cpu = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [line.partition(":")[2].strip() for line in info.read_text(encoding="utf-8").splitlines() if "model name" in line]
        cpu = names[0] if names else cpu
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    load = "/".join(f"{one:.1f}" for one in os.getloadavg())
    packages = ", ".join(f"{name} {version(name)}" for name in ("spawnpost", "numpy", "scipy", "highspy", "ortools"))
    return (
        f"{cpu}, {os.cpu_count()} cores, {memory:.0f} GiB, load {load} at the start, {platform.system()} {platform.machine()}, "
        f"Python {platform.python_version()}, {packages}"
    )


def main() -> None:
    """Each week in a process of its own, so that no week's memory is in another's peak."""
    sizes = [orders for orders, _ in WEEKS]
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--orders", type=int, nargs="+", default=sizes[:3], choices=sizes, help="sizes of week")
    parser.add_argument("--seconds", type=float, nargs="+", help=f"for each size; by default {LIMITS_S} for {sizes}")
    parser.add_argument("--planners", nargs="+", default=list(PLANNERS), choices=list(PLANNERS))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--gib", type=float, default=8.0, help="memory a planner may map")
    asked = parser.parse_args()
    limits = asked.seconds or [LIMITS_S[sizes.index(orders)] for orders in asked.orders]
    if len(limits) != len(asked.orders):
        parser.error(f"--seconds names {len(limits)} for {len(asked.orders)} sizes")
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    print(machine())
    print(f"Seed {asked.seed} for every week, {TODAY}; seconds for each planner: {', '.join(f'{one:g}' for one in limits)}.")
    sys.stdout.flush()
    for orders, seconds in zip(asked.orders, limits, strict=True):
        work = partial(compared, orders, dict(WEEKS)[orders], asked.seed, seconds, asked.gib, asked.planners)
        ended = forked(work, LOAD_S, asked.gib, patience=4 * PATIENCE_S)
        if ended.failed:
            print(f"{orders:,} orders: {ended.failed}", flush=True)


if __name__ == "__main__":
    try:
        main()
    except KeyboardInterrupt:
        sys.exit(130)
