"""What spawning groups should give: counted by hand from eggs a day, fertile share and days to eyes."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from shipping.tables.rows.lots import Group
from shipping.tables.shelf import Shelf
from shipping.week.left_out.stock import HORIZON_D, ExpectedEggs
from tests.post.a_shelf import TODAY, a_shelf, a_species


def shelf_of(*groups: Group) -> Shelf:
    """Eyes after half of exactly 14 days; 85 of 100 eggs are fertile."""
    species = a_species(hatch_early_d=14, hatch_usual_d=14, hatch_late_d=14)
    return a_shelf(species={"gar": species}, groups=groups)


def a_group(**cells: Any) -> Group:
    return Group(**({"group": "trio", "species": "gar", "eggs_a_day": 10} | cells))


def test_a_week_of_laying_shows_eyes_two_weeks_from_now() -> None:
    first, second, *_ = ExpectedEggs(shelf_of(a_group())).batches("gar", "")
    assert (first.on, first.eggs, first.group) == (TODAY + timedelta(days=14), 59, "trio")
    assert (second.on, second.eggs) == (TODAY + timedelta(days=21), 59)


def test_eyes_that_show_at_noon_are_there_the_next_day_and_weeks_of_laying_stay_weeks_apart() -> None:
    species = a_species(hatch_early_d=15, hatch_usual_d=15, hatch_late_d=15)
    batches = ExpectedEggs(a_shelf(species={"gar": species}, groups=(a_group(),))).batches("gar", "")
    assert [batch.on for batch in batches] == [TODAY + timedelta(days=n) for n in (15, 22, 29, 36)]


def test_nothing_is_expected_beyond_the_horizon_or_after_the_group_s_last_day() -> None:
    batches = ExpectedEggs(shelf_of(a_group())).batches("gar", "")
    assert [batch.on for batch in batches] == [TODAY + timedelta(days=n) for n in (14, 21, 28, 35, 42)]
    assert batches[-1].on <= TODAY + timedelta(days=HORIZON_D)
    ending = a_group(until_day=TODAY + timedelta(days=10))
    assert len(ExpectedEggs(shelf_of(ending)).batches("gar", "")) == 1


def test_a_group_that_begins_later_gives_later() -> None:
    later = a_group(from_day=TODAY + timedelta(days=5))
    assert ExpectedEggs(shelf_of(later)).batches("gar", "")[0].on == TODAY + timedelta(days=19)


def test_eggs_that_a_line_is_to_have_are_not_expected_again() -> None:
    expected = ExpectedEggs(shelf_of(a_group()))
    # 34 ordered take 51 fertile eggs: six days of laying
    assert expected.ready_for("gar", "", 34) == (TODAY + timedelta(days=13), "trio")
    expected.take("trio", 34)
    assert expected.batches("gar", "")[0].on == TODAY + timedelta(days=20)
    assert expected.ready_for("gar", "", 34) == (TODAY + timedelta(days=19), "trio")


def test_a_population_is_expected_of_its_own_groups_only() -> None:
    expected = ExpectedEggs(
        shelf_of(a_group(population="Akure"), a_group(group="zwei", population="Nsukka", eggs_a_day=20))
    )
    assert {batch.group for batch in expected.batches("gar", "akure")} == {"trio"}
    assert expected.ready_for("gar", "Jos Plateau", 5) is None
    assert expected.ready_for("gar", "", 34) == (TODAY + timedelta(days=10), "zwei")


def test_a_group_that_hardly_lays_is_waited_for_by_nobody() -> None:
    assert ExpectedEggs(shelf_of(a_group(eggs_a_day=1e-6))).ready_for("gar", "", 1000) is None
