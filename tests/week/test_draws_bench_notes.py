"""What the bench is told of a draw: what to do, by how much, and on whose word."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import pytest

from shipping.options.option_factory import OptionFactory
from shipping.papers.wording.phrases import Wording, note_text
from shipping.post.foam_box import Holding
from shipping.tables.reader import read_shelf
from shipping.tables.rows.weather import Weather
from shipping.week.draws import bench_notes, is_within_range
from shipping.week.plan import make_plan
from shipping.week.plan_data import Draw, Parcel
from shipping.words.units import shipped_folder
from tests.post.a_shelf import TODAY, a_service, a_species
from tests.week.a_week import TUBE, a_row, a_week


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


@pytest.mark.parametrize(("low", "high", "is_within"), [(15, 21, True), (15.1, 21, False), (15, 20.9, False)])
def test_a_parcel_that_feels_just_what_a_fish_bears_stays_within_its_range(
    low: float, high: float, is_within: bool
) -> None:
    species = a_species(keep_min_c=low, keep_max_c=high)
    shelf = a_week(a_row("A"), species={"gar": species})  # parcels feel 15 to 21 C
    factory = OptionFactory(shelf)
    leg = factory.leg(factory.services(("DK", ""))[0], factory.destination(shelf.orders[0]), TODAY)
    assert is_within_range(factory.ride(factory.lot_day("G1", TODAY), TUBE, leg)) is is_within


def test_every_tube_is_filled_to_its_table_and_leaves_the_air_room_to_swell(
    parcels: Mapping[str, Parcel],
) -> None:
    for parcel in parcels.values():
        for draw in (draw for line in parcel.lines for draw in line.draws if draw.packing.startswith("tube")):
            assert "5 ml of water and no more in 15 ml" in said(draw)
            # Moist air at 14 to 25 C grows 1.35 to 1.36 times from sea level to 2,438 m.
            swells = [note.facts["times"] for note in draw.cautions if note.code.startswith("swells")]
            assert set(swells) <= {1.35, 1.36}
            assert "the air above swells by a third" in said(draw)


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
        assert "(reckoned, not measured)" in notes(parcel)


@pytest.mark.parametrize(
    ("holds_h", "service", "codes"),
    [
        (0.0, {}, ["warmth", "use-heat-pack"]),
        (0.5, {}, []),
        (0.0, {"early_d": 0, "usual_d": 0, "late_d": 0}, []),
    ],
)
def test_a_heat_pack_is_told_of_where_no_box_holds_any_warmth_and_the_post_carries_it(
    holds_h: float, service: Mapping[str, int], codes: list[str]
) -> None:
    shelf = a_week(a_row("A"), species={"gar": a_species()}, services=(a_service(**service),))
    factory = OptionFactory(shelf)
    (by,) = factory.every_service(("DK", ""))
    leg = factory.leg(by, factory.destination(shelf.orders[0]), TODAY)  # parcels feel 15 to 21 C
    ride = replace(factory.ride(factory.lot_day("G1", TODAY), TUBE, leg), holds=Holding(holds_h))
    told = {note.code for note in bench_notes(ride, 5, None, None)}
    assert [code for code in ("warmth", "use-heat-pack") if code in told] == codes


@pytest.mark.parametrize(
    ("high_c", "hint"), [(4.3, "keep-from-cold"), (4.4, None), (32.2, None), (32.3, "cooled-depot")]
)
def test_a_fish_that_bears_it_is_told_only_of_warmth_for_which_the_trade_keeps_parcels_back(
    high_c: float, hint: str | None
) -> None:
    weather = tuple(Weather(to="*", month=month, low_c=1, high_c=high_c) for month in range(1, 13))
    shelf = a_week(a_row("A"), weather=weather, species={"gar": a_species(keep_min_c=0, keep_max_c=40)})
    factory = OptionFactory(shelf)
    leg = factory.leg(factory.services(("DK", ""))[0], factory.destination(shelf.orders[0]), TODAY)
    ride = factory.ride(factory.lot_day("G1", TODAY), TUBE, leg)
    told = {note.code for note in bench_notes(ride, 5, None, None)}
    assert told & {"warmth", "keep-from-cold", "use-heat-pack", "use-cold-pack", "cooled-depot"} == (
        {"warmth", hint} if hint else set()
    )
    warm = TUBE.model_copy(update={"packing": "warm tube", "heat_pack_h": 72.0})
    heated = factory.ride(factory.lot_day("G1", TODAY), warm, leg)
    told = {note.code for note in bench_notes(heated, 5, None, None)}
    assert ({"heat-pack", "keep-from-cold"} <= told) == (hint == "keep-from-cold")


def test_a_parcel_that_its_bottle_bridges_or_that_is_fetched_is_told_of_no_heat_pack(
    parcels: Mapping[str, Parcel],
) -> None:
    bridged = [one for one in parcels.values() if one.bottle_ml or one.service == "collect"]
    assert any(one.low_c < 10 for one in bridged)
    for parcel in bridged:
        assert "pack under the lid" not in notes(parcel)
