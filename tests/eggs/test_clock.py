"""The clock's grid against plain numeric integration, and its edge cases by hand."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from shipping.eggs.clock import Clock, effective_degrees, fresh_clock, k_grid, shelf_heat
from shipping.tables.rows.lots import Look, Lot
from shipping.tables.rows.species import Species
from shipping.words.three_point import ThreePoint
from tests.eggs.by_hand import ByHand
from tests.eggs.one_trip import hatch_shares
from tests.post.a_shelf import a_species

START = date(2026, 11, 10)


def on(n: int) -> date:
    return START + timedelta(days=n)


def a_lot(**cells: Any) -> Lot:
    filled = {
        "lot": "G1",
        "species": "gar",
        "laid_from": START,
        "laid_to": START,
        "medium": "water",
        "kept_at_c": 23,
        "eggs": 100,
        "counted_on": on(10),
    }
    return Lot(**(filled | cells))


#: (species, laid over days, kept at, (day, new temperature), looks (day, stage)); one of each kind of
#: evidence.
CASES: dict[
    str, tuple[dict[str, Any], int, float, tuple[tuple[int, float], ...], tuple[tuple[int, str], ...]]
] = {
    "nothing seen, laid on a day": ({}, 1, 24, (), ()),
    "laid over four days": ({}, 4, 23, (), ((8, "laid"),)),
    "eyed once": ({}, 2, 23, (), ((9, "eyed"),)),
    "fertile, then eyed": ({}, 3, 23, (), ((5, "fertile"), (9, "eyed"))),
    "no eyes yet late": ({"eyed_at": 0.64}, 2, 25, (), ((8, "fertile"),)),
    "ready": ({"hatch_usual_d": 14}, 1, 23.3, (), ((7, "eyed"), (12, "ready"))),
    "alive past its usual day": ({"hatch_usual_d": 14}, 2, 24, (), ((15, "laid"),)),
    "moved to a cooler shelf": ({}, 3, 24, ((4, 19),), ((6, "fertile"), (12, "eyed"))),
    "moved twice, once too warm": ({"keep_max_c": 27}, 2, 22, ((3, 30), (6, 18)), ((9, "eyed"),)),
    "a wide window and a quick species": (
        {"hatch_early_d": 6, "hatch_usual_d": 7.5, "hatch_late_d": 9},
        5,
        24,
        (),
        ((5, "eyed"),),
    ),
}


def both(name: str) -> tuple[Clock, Callable[[date], float], Species, ByHand]:
    """The clock with what the shelf has gathered by a day, and the same by hand."""
    cells, window, kept, moves, looks = CASES[name]
    species = a_species(**cells)
    lot = a_lot(laid_to=on(window - 1), kept_at_c=kept)
    heat = shelf_heat(species, lot, tuple(Look(lot="G1", on=on(n), kept_at_c=c) for n, c in moves))
    clock = fresh_clock(species, lot, heat)
    points = species.hatch_days
    hand = ByHand(
        early=points.early,
        usual=points.usual,
        late=points.late,
        incubation_c=species.incubation_c,
        zero_c=species.zero_c,
        plateau_c=species.keep_max_c or 99.0,
        eyed_at=species.eyed_at,
        laid=[on(n) for n in range(window)],
        warm=[(START, kept), *((on(n), c) for n, c in moves)],
    )
    for n, stage in looks:
        clock = clock.seen(stage, heat.at(on(n)), species, 0.10)
        hand.look(stage, on(n))
    return clock, heat.at, species, hand


@pytest.mark.parametrize("name", CASES)
def test_every_share_agrees_with_plain_integration_to_a_ten_thousandth(name: str) -> None:
    clock, at, species, hand = both(name)
    last = max((n for n, _ in CASES[name][4]), default=0)
    whole, hand_whole = float(clock.whole(at(on(last)))[0]), hand.beyond(on(last))
    assert whole == pytest.approx(hand_whole, abs=1e-4)
    for n in range(last, last + 9):
        share = float(clock.whole(at(on(n)))[0]) / whole
        assert share == pytest.approx(hand.beyond(on(n)) / hand_whole, abs=1e-4)
        for celsius in (12, 16, 20, 26):
            if hand.beyond(on(n)) < 1e-6:
                continue
            degrees = effective_degrees(celsius, species)
            due = hatch_shares(clock, at(on(n)), degrees * np.arange(1, 8))
            found = [hand.due(on(n), degrees, days) for days in range(1, 8)]
            assert due == pytest.approx(found, abs=1e-4)


@pytest.mark.parametrize("name", CASES)
def test_a_look_at_a_later_day_weighs_the_same_by_hand(name: str) -> None:
    clock, at, species, hand = both(name)
    last = max((n for n, _ in CASES[name][4]), default=0) + 2
    before, hand_before = float(clock.whole(at(on(last)))[0]), hand.beyond(on(last))
    looked = clock.seen("eyed", at(on(last)), species, 0.10)
    hand.look("eyed", on(last))
    assert float(looked.whole(at(on(last)))[0]) / before == pytest.approx(hand.total / hand_before, abs=1e-4)


@pytest.mark.parametrize("early", [10, 12])
def test_all_weight_is_counted_the_step_of_a_one_sided_window_too(early: float) -> None:
    """With an early day that is the usual one half of the eggs hatch in one step."""
    species = a_species(hatch_early_d=early, hatch_usual_d=12, hatch_late_d=15)
    lot = a_lot()
    clock = fresh_clock(species, lot, shelf_heat(species, lot, ()))
    assert bool(clock.grid.atom_chance) == (early == 12)
    assert clock.total == pytest.approx(1.0, abs=1e-9)


def test_without_looks_half_of_a_lot_hatches_on_the_usual_day() -> None:
    species = a_species(hatch_usual_d=14)
    lot = a_lot(kept_at_c=24)
    clock = fresh_clock(species, lot, shelf_heat(species, lot, ()))
    days = np.array([12, 14, 21]) * 14.0
    assert clock.weight_beyond(days) == pytest.approx([0.95, 0.5, 0.05], abs=1e-4)


def test_a_point_mass_hatches_to_the_day() -> None:
    species = a_species(hatch_early_d=14, hatch_usual_d=14, hatch_late_d=14)
    lot = a_lot(kept_at_c=24)
    clock = fresh_clock(species, lot, shelf_heat(species, lot, ()))
    assert clock.weight_beyond(np.array([13.99 * 14, 14 * 14])).tolist() == [1, 0]
    due = hatch_shares(clock, 12.0 * 14, 14.0 * np.array([1, 2, 3]))
    assert due.tolist() == [0, 1, 1]


def test_a_step_below_the_usual_day_lets_half_hatch_on_it() -> None:
    species = a_species(hatch_early_d=14, hatch_usual_d=14, hatch_late_d=21)
    lot = a_lot(kept_at_c=24)
    clock = fresh_clock(species, lot, shelf_heat(species, lot, ()))
    assert clock.weight_beyond(np.array([13.99 * 14, 14 * 14, 21 * 14])) == pytest.approx(
        [1, 0.5, 0.05], abs=1e-4
    )


def test_every_prior_weighs_one() -> None:
    for points in (
        ThreePoint(12, 14, 21),
        ThreePoint(14, 14, 21),
        ThreePoint(12, 14, 14),
        ThreePoint(14, 14, 14),
    ):
        grid = k_grid(points, 14.0)
        assert float(grid.chances.sum()) + grid.atom_chance == pytest.approx(1, abs=1e-12)


def test_warmth_past_the_plateau_and_cold_below_the_zero_count_for_nothing_more() -> None:
    species = a_species(zero_c=10, keep_max_c=27)
    assert [effective_degrees(t, species) for t in (4, 10, 18, 27, 35)] == [0, 0, 8, 17, 17]


def test_the_new_temperature_counts_from_the_day_of_the_look() -> None:
    species, lot = a_species(), a_lot(kept_at_c=24)
    heat = shelf_heat(species, lot, (Look(lot="G1", on=on(4), kept_at_c=19),))
    assert [heat.at(on(n)) for n in (0, 4, 5, 7)] == [0, 56, 65, 83]


def test_a_temperature_written_before_laying_is_where_the_lot_starts() -> None:
    species, lot = a_species(), a_lot(kept_at_c=24)
    heat = shelf_heat(species, lot, (Look(lot="G1", on=on(-3), kept_at_c=20),))
    assert heat.at(on(2)) == 20


def test_eggs_kept_damp_stay_whole_whatever_the_clock_says() -> None:
    species = a_species(incubation="damp")
    lot = a_lot(medium="peat")
    clock = fresh_clock(species, lot, shelf_heat(species, lot, ()))
    assert clock.whole(np.array([0.0, 5000.0])).tolist() == pytest.approx([1, 1])
    assert float(clock.weight_beyond(5000.0)[0]) == pytest.approx(0, abs=1e-9)


def test_a_live_egg_past_the_end_of_the_grid_never_divides_by_nothing() -> None:
    species, lot = a_species(), a_lot(kept_at_c=24)
    heat = shelf_heat(species, lot, ())
    clock = fresh_clock(species, lot, heat).seen("laid", heat.at(on(400)), species, 0.10)
    shares = hatch_shares(clock, heat.at(on(400)), 10.0 * np.array([1, 2]))
    assert all(math.isfinite(share) for share in shares)
    assert math.isfinite(clock.mean_degree_days(heat.at(on(400))))


def test_the_order_of_two_looks_on_one_day_does_not_matter() -> None:
    clock, at, species, _ = both("laid over four days")
    one = clock.seen("fertile", at(on(8)), species, 0.1).seen("eyed", at(on(9)), species, 0.1)
    two = clock.seen("eyed", at(on(9)), species, 0.1).seen("fertile", at(on(8)), species, 0.1)
    assert float(one.whole(at(on(11)))[0]) == pytest.approx(float(two.whole(at(on(11)))[0]), rel=1e-12)


def test_eyes_late_in_the_window_say_the_eggs_are_the_older_ones() -> None:
    clock, at, species, _ = both("laid over four days")
    looked = clock.seen("eyed", at(on(8)), species, 0.1)
    assert looked.mean_degree_days(at(on(8))) > clock.mean_degree_days(at(on(8)))


def test_of_eggs_laid_over_days_the_younger_weigh_more_late_since_more_of_them_are_whole() -> None:
    species, days = (
        a_species(hatch_early_d=13, hatch_usual_d=13, hatch_late_d=15, incubation_c=23),
        4,
    )  # half of K at a point
    lot = a_lot(laid_to=on(days - 1))
    heat = shelf_heat(species, lot, ())
    x = heat.at(on(14))
    clock = fresh_clock(species, lot, heat).seen("laid", x, species, 0.1)
    alone = fresh_clock(species, a_lot(), heat)  # laid on one day: whole by what it has gathered alone
    gathered = [x - heat.at(on(n)) for n in range(days)]
    whole = [float(alone.weight_beyond(one)[0]) for one in gathered]
    expected = math.fsum(a * w for a, w in zip(gathered, whole, strict=True)) / math.fsum(whole)
    assert clock.mean_degree_days(x) == pytest.approx(expected, rel=1e-9)
    assert clock.mean_degree_days(x) < math.fsum(gathered) / days
    before = fresh_clock(species, lot, heat).seen(
        "laid", heat.at(on(8)), species, 0.1
    )  # whole on that day too
    assert before.mean_degree_days(x) == pytest.approx(expected, rel=1e-9)
