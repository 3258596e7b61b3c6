"""When a species really hatches, from fry counted between looks."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from shipping.learning.hatch_points import best_fit, records
from shipping.tables.rows.lots import Look, Lot
from shipping.words.three_point import ThreePoint
from tests.ledger.invented import GARDNERI, lot, outcome, shelf


def watched(name: str, truth: ThreePoint, eggs: int, seed: int, **cells: object) -> tuple[Lot, list[Look]]:
    """A lot laid in one day at 24 C, looked at every second day, its eggs hatching as the truth says."""
    rng = np.random.default_rng(seed)
    one = lot(
        name,
        eggs=eggs,
        laid_from=date(2026, 10, 1),
        laid_to=date(2026, 10, 1),
        counted_on=date(2026, 10, 3),
        **cells,
    )
    z = rng.standard_normal(eggs)
    spread = np.where(z < 0, truth.spread_below, truth.spread_above)
    days = truth.usual * np.exp(z * spread)
    looks, whole = [], eggs
    for day in range(8, 40, 2):
        hatched = int(((days > day - 2) & (days <= day)).sum()) + (int((days <= 6).sum()) if day == 8 else 0)
        whole -= hatched
        looks.append(Look(lot=name, on=one.laid_from + timedelta(days=day), hatched=hatched, alive=whole))
    return one, looks


def shelf_of(truth: ThreePoint, lots: int, eggs: int = 80):
    found = [watched(f"L{n}", truth, eggs, n) for n in range(lots)]
    return shelf(
        lots=tuple(one for one, _ in found), looks=tuple(look for _, looks in found for look in looks)
    )


def test_known_hatch_days_are_found_again_from_forty_lots() -> None:
    truth = ThreePoint(14, 18, 24)
    found = best_fit(GARDNERI, records(shelf_of(truth, 40), "gardneri", None, ())).points
    assert found.usual == pytest.approx(18, rel=0.03)
    assert found.early == pytest.approx(14, rel=0.06)
    assert found.late == pytest.approx(24, rel=0.06)
    sure = best_fit(GARDNERI, records(shelf_of(truth, 40), "gardneri", None, ()))
    assert sure.low[1] < 18 < sure.high[1]
    assert sure.high[1] - sure.low[1] < 1.5, "40 lots say the usual day within days"


def test_one_lot_moves_the_usual_day_part_of_the_way() -> None:
    found = best_fit(GARDNERI, records(shelf_of(ThreePoint(14, 18, 24), 1), "gardneri", None, ())).points
    assert 15.3 < found.usual < 17.5


def test_looks_that_agree_with_the_table_leave_it_nearly_as_it_is() -> None:
    found = best_fit(GARDNERI, records(shelf_of(GARDNERI.hatch_days, 20), "gardneri", None, ())).points
    assert found.usual == pytest.approx(15, rel=0.02)


def test_without_looks_the_table_comes_back() -> None:
    assert best_fit(GARDNERI, ()).points == GARDNERI.hatch_days
    assert records(shelf(lots=(lot(),)), "gardneri", None, ()) == ()


def test_a_population_is_learned_from_its_own_lots_only() -> None:
    late, late_looks = watched("L1", ThreePoint(16, 20, 26), 80, 1)
    plain, plain_looks = watched("L2", GARDNERI.hatch_days, 80, 2, population="Makurdi")
    both = shelf(lots=(late, plain), looks=(*late_looks, *plain_looks))
    assert len(records(both, "gardneri", None, ())) == 2
    (one,) = records(both, "gardneri", "Akure", ())
    assert (
        best_fit(GARDNERI, [one]).points.usual
        > best_fit(GARDNERI, records(both, "gardneri", "Makurdi", ())).points.usual + 1
    )


def test_lots_kept_damp_say_nothing_of_hatching() -> None:
    one, looks = watched("L1", ThreePoint(14, 18, 24), 80, 1, medium="peat")
    assert records(shelf(lots=(one,), looks=tuple(looks)), "gardneri", None, ()) == ()


def test_fry_in_a_parcel_date_the_species_too() -> None:
    one = lot("L1", laid_from=date(2026, 9, 17), laid_to=date(2026, 9, 17), counted_on=date(2026, 9, 20))
    hatched = outcome(1, lots=(("L1", 24),), living=20, hatched_alive=15, low_c=18.0, high_c=26.0)
    none_hatched = outcome(1, lots=(("L1", 24),), living=20, hatched_alive=0, low_c=18.0, high_c=26.0)
    place = shelf(lots=(one,))
    early = best_fit(GARDNERI, records(place, "gardneri", None, (hatched,))).points
    later = best_fit(GARDNERI, records(place, "gardneri", None, (none_hatched,))).points
    assert early.usual < GARDNERI.hatch_days.usual < later.usual
    told = [records(place, "gardneri", None, (one_parcel,))[0] for one_parcel in (hatched, none_hatched)]
    assert [(one.hatched.tolist(), one.whole) for one in told] == [([15.0], 5.0), ([0.0], 20.0)]
    assert records(place, "gardneri", None, (outcome(1, lots=(("L1", 24),), living=20),)) == ()
