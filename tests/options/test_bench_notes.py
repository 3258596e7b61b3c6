"""What the bench is told of a draw: what to do, by how much, and on whose word."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date

import pytest

from shipping.papers.wording.catalogue import note_text
from shipping.papers.wording.phrases import Wording
from shipping.post.foam_box import bottled_ml, bridged_hours
from shipping.tables.reader import read_shelf
from shipping.tables.rows.packings import Box
from shipping.week.plan import make_plan
from shipping.week.plan_data import Draw, Parcel
from shipping.words.units import shipped_folder

FOAM = Box(box="foam", length_mm=250, width_mm=180, thick_mm=120, tare_g=180, insulated_h=12)


@pytest.fixture(scope="module")
def parcels() -> Mapping[str, Parcel]:
    shelf = read_shelf(shipped_folder("demo_orders"), date(2026, 11, 30)).shelf
    assert shelf is not None
    return {order: parcel for parcel in make_plan(shelf, "2026-W49").parcels for order in parcel.orders}


def notes(parcel: Parcel) -> str:
    return " ".join(said(draw) for line in parcel.lines for draw in line.draws)


def said(draw: Draw) -> str:
    """What the bench is told of a draw, on one line and with plain spaces."""
    words = " ".join(note_text(note, Wording(None, "en")) for note in draw.cautions)
    return words.replace("\u00a0", " ")


def test_every_tube_is_filled_to_its_table_and_leaves_the_air_room_to_swell(
    parcels: Mapping[str, Parcel],
) -> None:
    for parcel in parcels.values():
        for draw in (draw for line in parcel.lines for draw in line.draws if draw.packing.startswith("tube")):
            assert "5 ml of water and no more in 15 ml" in said(draw)
            # Moist air at 14 to 25 C grows 1.35 to 1.36 times from sea level to 2,438 m.
            assert re.search(r"swells up to 1\.3[56] times", said(draw))


def test_a_cold_parcel_is_told_the_trades_heat_pack_and_that_its_box_is_too_small_for_one(
    parcels: Mapping[str, Parcel],
) -> None:
    told = notes(parcels["D12"])
    assert "a heat pack under the lid" in told
    assert "foam box (25 × 18 × 12 cm) is too small for one" in told
    assert "common practice, no source" in told


def test_a_few_ml_in_foam_hold_minutes_and_a_bottle_bridges_the_hours(parcels: Mapping[str, Parcel]) -> None:
    told = notes(parcels["D12"])
    assert "for about 3 min" in told
    assert "A bottle of 1.5 l" in told
    assert "Aquaculture 1998" in told


def test_a_parcel_within_the_species_range_is_told_of_no_pack(parcels: Mapping[str, Parcel]) -> None:
    assert "pack under the lid" not in notes(parcels["D02"])


def test_the_bottle_is_the_smallest_that_bridges() -> None:
    water = bottled_ml(FOAM, 24, 3, 10, 12)
    assert water is not None
    held = [bridged_hours(FOAM, 24, 3, 10, ml) for ml in (water - 250, water)]
    assert held[0] is not None
    assert held[1] is not None
    assert held[0] < 12 <= held[1]


def test_no_bottle_is_advised_where_half_the_box_would_not_do() -> None:
    assert bottled_ml(FOAM, 24, -30, 20, 24) is None
