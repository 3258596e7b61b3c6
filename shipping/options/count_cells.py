"""A count ordered of one population by buyers at some destinations: rides in, cells that pass and that may be
shared out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shipping.options.journey import Ints, bit
from shipping.options.line_choices import PASSING, SHARED, Records
from shipping.options.option import LEAST_DRAW, Destination
from shipping.options.population_rides import PopulationRides
from shipping.options.ride_arrays import Counted
from shipping.options.shared_factors import WeekFactors

#: What several lots together may mend.
_FEW = bit("short") | bit("too-young")
#: Destinations and the papers that a buyer there has.
Asked = Sequence[tuple[Destination, frozenset[str]]]


@dataclass(frozen=True, eq=False)
class CountCells:
    """Rides of a count by destination N, each row of them cut at its ``_ends`` (N + 1,).

    ``passing``: legs of rides that pass this week; ``later_lot`` and ``later_leg``: of those that pass next
    week. ``cells``, ``cell_leg``: what is left of the passing ones without those that others outclass, as
    `PASSING` records; ``shared``, ``shared_leg``: the shareable ones, as `SHARED` records.
    """

    passing: Ints
    passing_ends: Ints
    later_lot: Ints
    later_leg: Ints
    later_ends: Ints
    cells: Records
    cell_leg: Ints
    cell_ends: Ints
    shared: Records
    shared_leg: Ints
    shared_ends: Ints


@dataclass(frozen=True, eq=False)
class SharePlan:
    """How lines may be shared: among so many lots of one population at the most; ``group`` numbers
    populations (L,).
    """

    lots_a_line: int
    group: Ints


def cells_of(
    rides: PopulationRides,
    found: Counted,
    units: Ints,
    asked: Asked,
    factors: WeekFactors,
    sharing: SharePlan,
    eggs_cost: bool,
) -> CountCells:
    """The cells of rides counted, which are all those to the destinations asked, in their order.

    ``units``: that each ride's eggs fill (n,). ``eggs_cost``: an egg is worth something, so that fewer are
    better.
    """
    table, at = rides.table, found.at
    ends = np.cumsum(
        [0, *(int(rides.ends[n + 1] - rides.ends[n]) for n in (rides.to[to] for to, _ in asked))]
    )
    is_open = np.concatenate([np.zeros(0, dtype=bool), *(rides.open_to(to, papers) for to, papers in asked)])
    passes = np.flatnonzero(is_open & (found.codes == 0))
    rows = at[passes]
    passes = passes[factors.post(table.packing[rows], units[passes], table.leg[rows], table.journeys) == 0]
    now = rides.is_this_week[at]
    passing, later = passes[now[passes]], passes[~now[passes]]
    kept = _not_outclassed(rides, found, units, asked, ends, passing, eggs_cost)
    few = np.flatnonzero(is_open & now & (found.codes != 0) & ((found.codes & ~_FEW) == 0))
    shared = _shareable(rides, found, np.concatenate((passing, few)), sharing)
    cells = np.empty(kept.size, dtype=PASSING)
    rows, of_shared = at[kept], at[shared]
    cell_leg, shared_leg = table.leg[rows], table.leg[of_shared]
    cells["lot"], cells["place"], cells["packing"] = (
        table.lot[rows],
        rides.place[cell_leg],
        table.packing[rows],
    )
    cells["pack"], cells["units"], cells["p_enough"] = found.pack[kept], units[kept], found.p_enough[kept]
    shares = np.empty(shared.size, dtype=SHARED)
    shares["lot"], shares["place"], shares["packing"] = (
        table.lot[of_shared],
        rides.place[shared_leg],
        table.packing[of_shared],
    )
    shares["alone"], shares["most"] = (
        found.pack[shared],
        np.minimum(table.free_eggs[of_shared], found.pack[shared]),
    )
    return CountCells(
        passing=table.leg[at[passing]],
        passing_ends=np.searchsorted(passing, ends),
        later_lot=table.lot[at[later]],
        later_leg=table.leg[at[later]],
        later_ends=np.searchsorted(later, ends),
        cells=cells,
        cell_leg=cell_leg,
        cell_ends=np.searchsorted(kept, ends),
        shared=shares,
        shared_leg=shared_leg,
        shared_ends=np.searchsorted(shared, ends),
    )


def _not_outclassed(
    rides: PopulationRides,
    found: Counted,
    units: Ints,
    asked: Asked,
    ends: Ints,
    passing: Ints,
    eggs_cost: bool,
) -> Ints:
    """The passing rides without those of which another in the same lot and leg matches or beats eggs, units
    and chance.
    """
    rivals, ok = rides.rivals, np.zeros(found.at.size, dtype=bool)
    ok[passing] = True
    numbers = [rides.to[to] for to, _ in asked]
    pairs = ranges(rivals.ends[numbers], rivals.ends[[n + 1 for n in numbers]])
    shift = np.repeat(
        ends[:-1] - rides.ends[numbers], rivals.ends[[n + 1 for n in numbers]] - rivals.ends[numbers]
    )
    better, worse = rivals.better[pairs] + shift, rivals.worse[pairs] + shift
    both = np.flatnonzero(ok[better] & ok[worse])
    better, worse = better[both], worse[both]
    pack, p_enough = found.pack, found.p_enough
    loses = (
        (pack[better] <= pack[worse])
        & (units[better] <= units[worse])
        & (p_enough[better] >= p_enough[worse])
    )
    loses &= (
        rivals.first[pairs[both]] | (pack[better] < pack[worse]) if eggs_cost else rivals.first[pairs[both]]
    )
    ok[worse[loses]] = False
    return np.flatnonzero(ok)


def _shareable(rides: PopulationRides, found: Counted, open_to: Ints, sharing: SharePlan) -> Ints:
    """Rides that may be one of several lots for a line: of each leg and packing at least two, enough
    together.
    """
    table = rides.table
    if sharing.lots_a_line < 2 or sharing.group.size < 2:
        return np.zeros(0, dtype=np.int64)
    pack = found.pack[open_to]
    most = np.minimum(table.free_eggs[found.at[open_to]], pack)
    able = np.flatnonzero(most >= LEAST_DRAW)
    open_to, share = open_to[able], most[able] / np.maximum(pack[able], 1)
    if not open_to.size:
        return open_to
    rows = found.at[open_to]
    groups = 1 + int(sharing.group.max(initial=0))
    together = (table.leg[rows] * len(table.packings) + table.packing[rows]) * groups + sharing.group[
        table.lot[rows]
    ]
    order = np.lexsort((-share, together))
    together, share = together[order], share[order]
    starts = np.flatnonzero(np.concatenate(([True], together[1:] != together[:-1])))
    sizes = np.diff(np.concatenate((starts, [together.size])))
    total = share[starts]
    for rank in range(1, min(sharing.lots_a_line, int(sizes.max()))):
        has = np.flatnonzero(sizes > rank)
        total[has] += share[starts[has] + rank]
    enough = np.repeat((total >= 1.0) & (sizes >= 2), sizes)
    return np.sort(open_to[order[enough]])


def ranges(starts: Ints, stops: Ints) -> Ints:
    """All whole numbers from each start to its stop, one range after the other."""
    sizes = stops - starts
    return np.repeat(stops - np.cumsum(sizes), sizes) + np.arange(int(sizes.sum()))
