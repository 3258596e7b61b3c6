"""Values and bounds of generated weeks beside optima that HiGHS proves on the whole program, which knows no
dominance and no search.

Four weeks of each make by default; ``SPAWNPOST_WEEKS=20`` checks sixty.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.timings.week_peers import loaded
from tests.timings.week_planners import Week, by_milp, ours_to_the_end
from tests.timings.weeks import SUPPLIES

WEEKS = int(os.environ.get("SPAWNPOST_WEEKS", "4"))
#: HiGHS is given so long for a week [s]; what it has not proven by then is only a lower bound on the optimum.
PROVEN_WITHIN_S = 20.0
NEAR = 1e-6


@pytest.mark.slow
@pytest.mark.parametrize("make", sorted(SUPPLIES))
def test_no_bound_is_below_a_proven_optimum_and_no_value_above_it(make: str, tmp_path: Path) -> None:
    proven = 0
    for seed in range(1, WEEKS + 1):
        orders = 20 + seed
        choices = loaded(orders, max(10, orders * 3 // 4), seed, tmp_path / str(seed), SUPPLIES[make]).choices
        week = Week.of_choices(choices)
        ours, highs = ours_to_the_end(week, None), by_milp(week, PROVEN_WITHIN_S)
        assert ours.bound >= highs.value - NEAR, (make, seed)
        if highs.bound - highs.value < NEAR:
            proven += 1
            assert ours.value <= highs.value + NEAR, (make, seed)
    assert proven >= WEEKS // 2
