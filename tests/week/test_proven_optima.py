"""Values and bounds of generated weeks beside optima that HiGHS proves on the whole program, which knows no
dominance and no search.

Four weeks of each make by default; ``SPAWNPOST_WEEKS=20`` checks sixty.
"""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from tests.timings.week_peers import loaded
from tests.timings.week_planners import Week, by_milp, ours_to_the_end
from tests.timings.weeks import SUPPLIES, TANGLED

WEEKS = int(os.environ.get("SPAWNPOST_WEEKS", "4"))
#: HiGHS is given so long for a week [s], and so long again where it has proven too few of them by then, for a
#: machine may be slow; what it has not proven is only a lower bound on the optimum.
PROVEN_WITHIN_S, PROVEN_AT_LAST_S = 5.0, 300.0
NEAR = 1e-6


@pytest.mark.slow
@pytest.mark.parametrize("make", sorted(SUPPLIES))
def test_no_bound_is_below_a_proven_optimum_and_no_value_above_it(make: str, tmp_path: Path) -> None:
    weeks = []
    for seed in range(1, WEEKS + 1):
        orders = 20 + seed
        choices = loaded(orders, max(10, orders * 3 // 4), seed, tmp_path / str(seed), SUPPLIES[make]).choices
        week = Week.of_choices(choices)
        weeks.append((seed, week, ours_to_the_end(week, None)))
    proven: set[int] = set()
    for within_s in (PROVEN_WITHIN_S, PROVEN_AT_LAST_S):
        for seed, week, ours in weeks:
            if seed in proven or (within_s > PROVEN_WITHIN_S and len(proven) >= WEEKS // 2):
                continue
            highs = by_milp(week, within_s)
            assert ours.bound >= highs.value - NEAR, (make, seed)
            if highs.bound - highs.value < NEAR:
                proven.add(seed)
                assert ours.value <= highs.value + NEAR, (make, seed)
    assert len(proven) >= WEEKS // 2


@pytest.mark.slow
@pytest.mark.parametrize(("eggs_for_one", "room"), [(0.6, 1.2), (1.5, 0.6)])
def test_a_week_with_far_fewer_eggs_or_days_than_are_wanted_is_proven(
    eggs_for_one: float, room: float, tmp_path: Path
) -> None:
    """Whole lines alone leave 1 to 2 % open here: the program of the week needs what families of lots hold,
    and every parcel of orders that may join.
    """
    supply = replace(TANGLED, eggs_for_one=eggs_for_one, room=room)
    week = Week.of_choices(loaded(40, 30, 1, tmp_path / "shelf", supply).choices)
    ours = ours_to_the_end(week, None)
    assert ours.value >= ours.bound - NEAR
