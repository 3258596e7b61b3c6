"""The planner beside its peers on generated weeks: sizes and seconds in, a table of what each served, proved
and took out.

Each week is read and its options reckoned in a process of its own; from there each planner runs in a forked
child, alone, with the same seconds (building its ways or its program included), and is killed after three
times as many; in a row more the planner takes the time it needs. What each chose is checked against the
week's limits by `choices_check`, which knows no solver and no search. Run `python -m tests.timings.week_peers
--help`.
"""

from __future__ import annotations

import argparse
import itertools
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

from shipping.assignment.instance import Chosen, Departure
from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.week.choices import Choices
from shipping.week.objective import default_week
from tests.timings.choices_check import checked
from tests.timings.forked import PATIENCE_S, Ended, forked
from tests.timings.week_check import NEAR
from tests.timings.week_planners import OLDEST_FIRST, OURS_TO_THE_END, PLANNERS, Week
from tests.timings.weeks import SUPPLIES, TODAY, USUAL, WEEKS, Supply, generated_week

LIMITS_S = (15.0, 20.0, 40.0, 60.0, 120.0, 600.0)
#: A planner is killed after so many times its seconds.
KILL_TIMES = 3
#: Reading and reckoning a week may take so long [s].
LOAD_S = 3600.0
HEAD = (
    "week",
    "planner",
    "value",
    "bound",
    "gap",
    "orders",
    "left",
    "to oldest first",
    "eggs past",
    "loss",
    "s",
    "MiB",
)


@dataclass(frozen=True, slots=True)
class Loaded:
    """A week ready for planners, and what it took. ``able``: orders that could be filled, were each alone;
    ``last_safe``: eggs of a lot that pass their last safe day this week."""

    choices: Choices
    able: int
    last_safe: dict[str, int]
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
        return len({order for column in self.chosen.columns for order in column.orders}) if self.chosen else 0


def loaded(orders: int, lots: int, seed: int, folder: Path, supply: Supply = USUAL) -> Loaded:
    """A generated week, read, its options reckoned."""
    generated_week(orders, lots, seed, folder, supply)
    times = [time.perf_counter()]
    shelf = read_shelf(folder, TODAY).shelf
    assert shelf is not None
    times.append(time.perf_counter())
    week = default_week(shelf)
    choices = Choices.of_week(OptionFactory(shelf), week)
    choices.reckon()
    times.append(time.perf_counter())
    seconds = {what: b - a for what, a, b in zip(("read", "options"), times, times[1:], strict=False)}
    return Loaded(choices, orders_able(choices), last_safe_eggs(choices), seconds)


def orders_able(choices: Choices) -> int:
    """How many orders have a place where all their lines can be filled, or one of them where the order may be
    split.
    """
    able = 0
    for order in choices.shelf.orders:
        departures = []
        for line in order.lines:
            found = choices.candidates(line.key)
            own = (
                {n for cells in (found.alone, found.shared) for n in cells["departure"].tolist()}
                if found
                else set()
            )
            departures.append({found.departures[n] for n in own} if found else set())
        able += bool(
            set[Departure]().union(*departures) if order.may_split else set.intersection(*departures)
        )
    return able


def last_safe_eggs(choices: Choices) -> dict[str, int]:
    """Of each lot that fills some line this week and none next week: the most eggs that are free on a day of
    this week.
    """
    days: dict[str, set[date]] = {}
    later: set[str] = set()
    for order in choices.shelf.orders:
        for line in order.lines:
            found = choices.candidates(line.key)
            if found is None:
                continue
            later.update(found.lots[n] for n in found.later.nonzero()[0].tolist())
            for cells in (found.alone, found.shared):
                for lot, departure in set(
                    zip(cells["lot"].tolist(), cells["departure"].tolist(), strict=True)
                ):
                    days.setdefault(found.lots[lot], set()).add(found.departures[departure][0])
    return {
        lot: max(choices.free(lot, day) for day in on) for lot, on in sorted(days.items()) if lot not in later
    }


def eggs_past(last_safe: dict[str, int], chosen: Chosen) -> int:
    """Eggs that pass their last safe day unused."""
    drawn: dict[str, int] = {}
    for one in chosen.drawn.values():
        for lot, eggs in one.draws:
            drawn[lot] = drawn.get(lot, 0) + eggs
    return sum(max(0, eggs - drawn.get(lot, 0)) for lot, eggs in last_safe.items())


def compared(
    size: tuple[int, int], seed: int, supply: Supply, seconds: float, most_gib: float, planners: Sequence[str]
) -> tuple[int, float] | None:
    """One week: every planner in a child of its own; prints what was loaded and a row each.

    Options, and the seconds that ours took without a limit of time; None where it was not asked or failed.
    """
    with tempfile.TemporaryDirectory() as name:
        loaded_week = loaded(*size, seed, Path(name), supply)
    print(loading_line(*size, loaded_week), flush=True)
    week = Week.of_choices(loaded_week.choices)
    rows = []
    for planner in planners:
        stop_after = LOAD_S if planner == OURS_TO_THE_END else seconds * KILL_TIMES
        ended = forked(partial(_planned, planner, week, seconds), stop_after, most_gib)
        rows.append(judged(planner, ended, loaded_week, most_gib))
        print(
            f"  {planner}: {rows[-1].failed or 'done'} after {rows[-1].seconds:.1f} s",
            file=sys.stderr,
            flush=True,
        )
    print(table(f"{size[0]:,} / {size[1]:,}", rows, loaded_week.able), flush=True)
    for line in bounds_refuted(rows):
        print(line, flush=True)
    full = next((row.seconds for row in rows if row.planner == OURS_TO_THE_END and not row.failed), None)
    return None if full is None else (loaded_week.choices.options_reckoned, full)


def _planned(planner: str, week: Week, seconds: float) -> Chosen:
    """What a planner chooses; what its solver prints is no part of the table."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    return PLANNERS[planner](week, seconds)


def judged(planner: str, ended: Ended, week: Loaded, most_gib: float) -> Row:
    """The row of what a planner chose, checked in a process of its own; one that breaks a limit has
    failed.
    """
    chosen = ended.found
    if ended.failed or not isinstance(chosen, Chosen):
        return Row(planner, ended.failed or "it returned no choice", ended.seconds, ended.peak_mib)
    check = forked(partial(checked, week.choices, chosen), LOAD_S, most_gib)
    if check.failed:
        return Row(planner, f"not checked: {check.failed}", ended.seconds, ended.peak_mib)
    if broken := check.found.broken:
        return Row(planner, f"{len(broken)} limits broken, first: {broken[0]}", ended.seconds, ended.peak_mib)
    return Row(
        planner,
        "",
        ended.seconds,
        ended.peak_mib,
        chosen,
        eggs_past(week.last_safe, chosen),
        check.found.cost,
    )


def bounds_refuted(rows: Sequence[Row]) -> list[str]:
    """Every planner whose bound is below what another serves, in words."""
    best = max(
        (row for row in rows if row.chosen),
        key=lambda row: row.chosen.value if row.chosen else 0.0,
        default=None,
    )
    value = best.chosen.value if best and best.chosen else 0.0
    return [
        f"The bound of {row.planner} is wrong: {best.planner if best else ''} serves {value:,.6f}."
        for row in rows
        if row.chosen and row.chosen.bound < value - NEAR * max(1.0, value)
    ]


def loading_line(orders: int, lots: int, week: Loaded) -> str:
    """What was loaded, and how fast."""
    took, options = week.seconds, week.choices.options_reckoned
    return "\n".join(
        (
            f"\n{orders:,} orders, {lots:,} lots, read in {took['read']:.2f} s.",
            (
                f"{options:,} options reckoned in {took['options']:.2f} s, {options / took['options']:,.0f} a"
                " second."
            ),
            (
                f"{week.able:,} orders could be filled at some place, were each alone; "
                f"{100 * (1 - week.able / orders):.1f} in 100 nobody can serve."
            ),
            (
                f"{sum(week.last_safe.values()):,} eggs of {len(week.last_safe):,} lots have their last safe"
                " day this week.\n"
            ),
        )
    )


def growth(sizes: Sequence[tuple[int, float]]) -> str:
    """Between each two sizes, by (options, seconds) of each: the exponent e of seconds that grow as options
    to the e.
    """
    found = [
        f"{math.log(t / s) / math.log(m / n):.2f} from {n:,} to {m:,}"
        for (n, s), (m, t) in itertools.pairwise(sizes)
    ]
    return (
        f"Seconds without a limit of time grow as the options to the power {', '.join(found)}."
        if found
        else ""
    )


def table(week: str, rows: Iterable[Row], able: int) -> str:
    """The rows as a table in Markdown. The gap is to a planner's own bound; of one that proves none, to the
    least proven.

    ``able``: orders that could go; of them so many in a hundred are left.
    """
    made = list(rows)
    bounds = [row.chosen.bound for row in made if row.chosen and math.isfinite(row.chosen.bound)]
    oldest = next((row.orders for row in made if row.planner == OLDEST_FIRST), 0)
    lines = [HEAD, ("---", "---") + ("---:",) * (len(HEAD) - 2)]
    cells = [_cells(week if n == 0 else "", row, bounds, oldest, able) for n, row in enumerate(made)]
    return "\n".join("| " + " | ".join(one) + " |" for one in [*lines, *cells])


def _cells(week: str, row: Row, bounds: Sequence[float], oldest: int, able: int) -> tuple[str, ...]:
    cost = (f"{row.seconds:.1f}", f"{row.peak_mib:,.0f}")
    if row.chosen is None:
        return (week, row.planner, row.failed, *[""] * (len(HEAD) - 5), *cost)
    value, bound = row.chosen.value, row.chosen.bound
    has_own = math.isfinite(bound)
    least = bound if has_own else min(bounds, default=math.inf)
    gap = f"{100 * max(0.0, least - value) / least:.2f} %" if 0 < least < math.inf else ""
    more = f"{100 * (row.orders / oldest - 1):+.1f} %" if oldest and row.planner != OLDEST_FIRST else ""
    return (
        week,
        row.planner,
        f"{value:,.2f}" if row.chosen.columns else "none found in time",
        f"{bound:,.2f}" if has_own else "none",
        "" if not row.chosen.columns else gap if has_own or not gap else f"({gap})",
        f"{row.orders:,}",
        f"{100 * (1 - row.orders / able):.1f} %" if able else "",
        more if row.chosen.columns else "",
        f"{row.eggs_past:,}",
        f"{row.loss:,.2f}",
        *cost,
    )


def machine() -> str:
    """Processor, cores, memory, system and versions, in a line."""
    cpu = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [
            line.partition(":")[2].strip()
            for line in info.read_text(encoding="utf-8").splitlines()
            if "model name" in line
        ]
        cpu = names[0] if names else cpu
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    load = "/".join(f"{one:.1f}" for one in os.getloadavg())
    packages = ", ".join(
        f"{name} {version(name)}" for name in ("spawnpost", "numpy", "scipy", "highspy", "ortools")
    )
    return (
        f"{cpu}, {os.cpu_count()} cores, {memory:.0f} GiB, load {load} at the start, {platform.system()}"
        f" {platform.machine()}, Python {platform.python_version()}, {packages}"
    )


def main() -> None:
    """Each week in a process of its own, so that no week's memory is in another's peak."""
    sizes = [orders for orders, _ in WEEKS]
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--orders", type=int, nargs="+", default=sizes[:4], choices=sizes, help="sizes of week"
    )
    parser.add_argument(
        "--supply", default="usual", choices=list(SUPPLIES), help="how short eggs and places are"
    )
    parser.add_argument(
        "--seconds", type=float, nargs="+", help=f"for each size; by default {LIMITS_S} for {sizes}"
    )
    unlimited = f'by default all, "{OURS_TO_THE_END}" of usual weeks only'
    parser.add_argument("--planners", nargs="+", choices=list(PLANNERS), help=unlimited)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--gib", type=float, default=8.0, help="memory a planner may map")
    asked = parser.parse_args()
    limits = asked.seconds or [LIMITS_S[sizes.index(orders)] for orders in asked.orders]
    if len(limits) != len(asked.orders):
        parser.error(f"--seconds names {len(limits)} for {len(asked.orders)} sizes")
    planners = asked.planners or [
        one for one in PLANNERS if one != OURS_TO_THE_END or asked.supply == "usual"
    ]
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    print(machine())
    named = ", ".join(f"{one:g}" for one in limits)
    print(
        f"Supply {asked.supply}, seed {asked.seed}, {TODAY}; seconds for each planner: {named}.", flush=True
    )
    taken = []
    for orders, seconds in zip(asked.orders, limits, strict=True):
        size = (orders, dict(WEEKS)[orders])
        work = partial(compared, size, asked.seed, SUPPLIES[asked.supply], seconds, asked.gib, planners)
        ended = forked(work, len(planners) * LOAD_S, asked.gib, patience=4 * PATIENCE_S)
        if ended.failed:
            print(f"{orders:,} orders: {ended.failed}", flush=True)
        if ended.found:
            taken.append(ended.found)
    if len(taken) > 1:
        print(f"\n{growth(sorted(taken))}", flush=True)


if __name__ == "__main__":
    try:
        main()
    except KeyboardInterrupt:
        sys.exit(130)
