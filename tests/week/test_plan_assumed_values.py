"""The values that a plan rests on and nobody has measured are counted, once each, and by what they are."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from shipping.cli.print_plan import plan_lines
from shipping.cli.terminal import Window
from shipping.tables.learned_values import applied
from shipping.tables.rows.learned import RateRow
from shipping.tables.rows.packings import Packing
from shipping.tables.shelf import Shelf
from tests.post.a_shelf import TODAY, a_service, a_species
from tests.week.a_week import BAG, TUBE, a_row, a_week, plan_of

SETTINGS = {"look_spread", "shelf_loss_per_day", "settle_d", "trip_spread_c"}
LOSSES = {"loss_handling of bag", "loss_per_day of bag", "kappa of bag"}


def assumed(shelf: Shelf) -> set[str]:
    return set(plan_of(shelf).assumed)


def test_defaults_losses_and_the_zero_are_counted_once_however_many_parcels_rest_on_them() -> None:
    shelf = a_week(a_row("A"), a_row("B"), packings=(BAG,))
    found = assumed(shelf)
    assert {f"{name} (shelf.toml)" for name in SETTINGS} | LOSSES <= found
    assert {"zero_c of gar", "exposed_h of letter", "parcel_lost_share of letter"} <= found
    assert not any(name.startswith(("fertile_share", "what a parcel", "o2")) for name in found)
    plan = plan_of(shelf)
    proof = plan.as_json()["proof"]
    assert isinstance(proof, dict)
    assert proof["assumed"] == len(plan.assumed) == len(found)
    text = " ".join(plan_lines(plan, shelf, Window(200), False, explain=True))
    assert f"of which {len(found)} values are assumed" in text
    assert all(name in text for name in found)


def test_what_was_given_read_or_learned_is_not_assumed() -> None:
    species = a_species(keep_min_c=10, keep_max_c=27, zero_basis="published", source="eyes show at: assumed")
    service = a_service(early_d=1, usual_d=1, late_d=1, live_eggs="yes", exposed_h=10, parcel_lost_share=0.02)
    row = {"for": "bag", "from_day": date(2026, 11, 1), "basis": "learned", "value": 0.02}
    rates = tuple(RateRow(what=name, **row) for name in ("loss_handling", "loss_per_day"))
    shelf = a_week(a_row("A"), species={"gar": species}, services=(service,), packings=(BAG,), rates=rates)
    found = assumed(applied(shelf))
    assert "eyes show at of gar" in found
    assert found & LOSSES == {"kappa of bag"}
    assert not any("zero_c" in name or "of letter" in name for name in found)


@pytest.mark.parametrize(
    ("packing", "basis", "is_counted"),
    [(TUBE, "assumed", True), (TUBE, "published", False), (BAG, "assumed", False)],
)
def test_the_air_that_eggs_need_is_assumed_where_a_unit_is_sealed_and_nobody_measured_it(
    packing: Packing, basis: str, is_counted: bool
) -> None:
    species = {"gar": a_species(keep_min_c=10, keep_max_c=27, o2_basis=basis)}
    found = assumed(a_week(a_row("A"), packings=(packing,), species=species))
    assert "zero_c of gar" in found
    assert ("o2_ug_egg_h of gar" in found) is is_counted


def test_a_climate_normal_is_assumed_with_its_margins() -> None:
    species = {"gar": a_species(keep_max_c=35)}
    found = assumed(a_week(a_row("A"), weather=(), packings=(BAG,), species=species))
    assert {"what a parcel to DK feels", "hot_margin_c (shelf.toml)", "cold_margin_c (shelf.toml)"} <= found


def test_what_is_learned_from_tomorrow_on_is_assumed_today() -> None:
    row = {"what": "loss_handling", "for": "bag", "basis": "learned", "value": 0.02}
    found = [
        assumed(applied(a_week(a_row("A"), packings=(BAG,), rates=(RateRow(from_day=day, **row),))))
        for day in (TODAY, TODAY + timedelta(days=1))
    ]
    assert ["loss_handling of bag" in one for one in found] == [False, True]
