"""Where development stops and when eyes show, found again from looks of lots."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from shipping.learning.hatch_points import fitted_eyed_at, fitted_zero, seen_both_ways
from shipping.learning.lesson import learn
from shipping.tables.rows.lots import Look, Lot
from shipping.tables.shelf import Shelf
from tests.ledger.invented import GARDNERI, lot, shelf

LAID = date(2026, 10, 1)


def hatched_at(name: str, warmth: float, zero: float, seed: int, eggs: int = 60) -> tuple[Lot, list[Look]]:
    """A lot at that warmth, looked at daily; eggs need 15 days at 24 C, reckoned from that zero."""
    rng = np.random.default_rng(seed)
    one = lot(
        name, eggs=eggs, laid_from=LAID, laid_to=LAID, counted_on=LAID + timedelta(days=2), kept_at_c=warmth
    )
    days = 15 * np.exp(0.08 * rng.standard_normal(eggs)) * (24 - zero) / (warmth - zero)
    looks, whole = [], eggs
    for day in range(4, 60):
        hatched = int(((days > day - 1) & (days <= day)).sum())
        whole -= hatched
        looks.append(Look(lot=name, on=LAID + timedelta(days=day), hatched=hatched, alive=whole))
    return one, looks


def watched(zero: float, warmths: tuple[float, ...], each: int) -> Shelf:
    found = [hatched_at(f"L{n}-{warmth}", warmth, zero, n) for n in range(each) for warmth in warmths]
    return shelf(
        lots=tuple(one for one, _ in found), looks=tuple(look for _, looks in found for look in looks)
    )


def test_a_known_zero_is_found_again_from_lots_at_three_warmths() -> None:
    """The table says 10 C (assumed); the truth is 12.5 C. Stated error 0.5 C."""
    found = fitted_zero(watched(12.5, (19.0, 24.0, 27.0), 8), GARDNERI, None)
    assert found is not None
    assert found.value == pytest.approx(12.5, abs=0.5)
    assert found.n == 24
    assert found.low < 12.5 < found.high


def test_a_zero_that_is_right_is_left_as_it_is() -> None:
    found = fitted_zero(watched(10.0, (20.0, 26.0), 8), GARDNERI, None)
    assert found is not None
    assert found.value == pytest.approx(10.0, abs=0.5)


def test_a_zero_is_not_learned_further_from_the_tables_than_is_looked() -> None:
    """The table says 10 C, and 4.5 C around it are searched: of a truth of 16 C the nearest end is told."""
    found = fitted_zero(watched(16.0, (19.0, 24.0, 27.0), 8), GARDNERI, None)
    assert found is not None
    assert found.value == pytest.approx(14.5, abs=0.1)


def test_lots_of_one_warmth_say_nothing_of_the_zero() -> None:
    assert fitted_zero(watched(12.5, (24.0,), 8), GARDNERI, None) is None
    assert fitted_zero(watched(12.5, (24.0, 25.0), 4), GARDNERI, None) is None


def test_two_lots_move_the_zero_part_of_the_way() -> None:
    found = fitted_zero(watched(13.0, (20.0, 26.0), 1), GARDNERI, None)
    assert found is not None
    assert 10.6 < found.value < 12.9
    assert found.high - found.low > 4.0


def eyes_at(share: float, lots: int, every: int = 2) -> Shelf:
    """Lots at 24 C looked at every other day until eyes show at that share of 15 days, give or take the
    spread of looks.
    """
    rng = np.random.default_rng(8)
    kept, looks = [], []
    for n in range(lots):
        name = f"L{n}"
        kept.append(lot(name, laid_from=LAID, laid_to=LAID, counted_on=LAID))
        shows = 15 * share * np.exp(0.10 * rng.standard_normal())
        first = 2 + n % every
        for day in range(first, 20, every):
            stage = "eyed" if day >= shows else "fertile"
            looks.append(Look(lot=name, on=LAID + timedelta(days=day), stage=stage))
            if stage == "eyed":
                break
    return shelf(lots=tuple(kept), looks=tuple(looks))


def test_a_known_eyed_share_is_found_again_from_sixty_lots() -> None:
    """The table says 0.5; the truth is 0.65. Stated error 0.03."""
    place = eyes_at(0.65, 60)
    found = fitted_eyed_at(place, GARDNERI, seen_both_ways(place, GARDNERI, None))
    assert found.value == pytest.approx(0.65, abs=0.03)
    assert found.low < 0.65 < found.high


def test_two_lots_move_the_eyed_share_a_little() -> None:
    place = eyes_at(0.65, 2)
    assert 0.5 < fitted_eyed_at(place, GARDNERI, seen_both_ways(place, GARDNERI, None)).value < 0.62


def test_a_lot_seen_only_with_eyes_dates_nothing() -> None:
    place = shelf(lots=(lot("L1", stage="eyed", stage_on=date(2026, 11, 20)),))
    assert seen_both_ways(place, GARDNERI, None) == ()
    assert learn(place, ()).rates == ()


@pytest.mark.parametrize(("stage_on", "day"), [(6, 6), (None, 4)])
def test_the_stage_of_the_table_is_a_look_of_its_day_or_else_of_the_count(
    stage_on: int | None, day: int
) -> None:
    on = {n: LAID + timedelta(days=n) for n in (4, 6, 9)}
    cells = {"stage": "fertile", "stage_on": on.get(stage_on or 0), "counted_on": on[4]}
    place = shelf(lots=(lot("L1", **cells),), looks=(Look(lot="L1", on=on[9], stage="eyed"),))
    (found,) = seen_both_ways(place, GARDNERI, None)
    assert (found.without, found.with_eyes) == (on[day], on[9])


def test_zero_hatch_days_and_eyes_are_told_together_for_species_and_population() -> None:
    place = watched(12.5, (19.0, 27.0), 4)
    rates = learn(place, ()).rates
    assert {rate.mishaps for rate in rates} == {0}
    told = {(rate.for_, rate.what) for rate in rates if rate.for_.startswith("gardneri")}
    whats = ("hatch_early_d", "hatch_late_d", "hatch_usual_d", "zero_c")
    assert told == {(key, what) for key in ("gardneri", "gardneri/Akure") for what in whats}
