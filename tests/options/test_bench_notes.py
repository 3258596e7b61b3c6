"""What the bench is told of a draw: what to do, by how much, and on whose word."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import pytest

from shipping.papers.wording.catalogue import note_text
from shipping.papers.wording.phrases import Wording
from shipping.tables.reader import read_shelf
from shipping.week.plan import make_plan
from shipping.week.plan_data import Draw, Parcel
from shipping.words.units import shipped_folder


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


def test_a_box_with_a_bottle_says_what_goes_in_and_how_long_it_holds() -> None:
    shelf = read_shelf(shipped_folder("demo_orders"), date(2026, 11, 30)).shelf
    assert shelf is not None
    foam = {"wall_mm": 10.0, "bottle_ml": 250.0}
    boxes = tuple(box.model_copy(update=foam if box.box == "vented box" else {}) for box in shelf.boxes)
    boxed = [one for one in make_plan(replace(shelf, boxes=boxes), "2026-W49").parcels if one.bottle_ml]
    assert boxed
    for parcel in boxed:
        half = f"{parcel.warm_h * math.log(2):.1f}".removesuffix(".0")
        assert f"Bottle: {parcel.bottle_ml:,.0f} ml of water at" in notes(parcel)
        assert f"half of its warmth is gone after {half} h" in notes(parcel)
        assert "Aquaculture 1998" in notes(parcel)


def test_a_parcel_that_its_bottle_bridges_or_that_is_fetched_is_told_of_no_heat_pack(
    parcels: Mapping[str, Parcel],
) -> None:
    bridged = [one for one in parcels.values() if one.bottle_ml or one.service == "collect"]
    assert any(one.low_c < 10 for one in bridged)
    for parcel in bridged:
        assert "pack under the lid" not in notes(parcel)
