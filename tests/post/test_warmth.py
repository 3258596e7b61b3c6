"""What a parcel feels on the way."""

from __future__ import annotations

import pytest

from shipping.post.warmth import (
    CLIMATE_SOURCE,
    ParcelWarmth,
    pack_hint,
    parcel_warmth,
    warmth_reasons,
)
from shipping.tables.rows.packings import Box
from shipping.tables.rows.weather import Weather
from shipping.words.problems import Where
from tests.post.a_shelf import a_shelf, a_species


def test_the_breeders_row_is_taken_as_the_parcels_own_low_and_high() -> None:
    row = Weather(at=Where("weather.csv", 4), to="DE", month=7, low_c=12, high_c=30)
    found = parcel_warmth(a_shelf(weather=(row,)), "DE", "", "Berlin", 7)
    assert (found.low_c, found.mean_c, found.high_c) == (12, 21, 30)
    assert (found.basis, found.source) == ("weather", "weather.csv (DE, 7)")


def test_the_row_that_names_the_place_most_closely_wins() -> None:
    rows = tuple(
        Weather(to=place, month=1, low_c=low, high_c=20)
        for place, low in (("*", 1), ("west", 2), ("US", 3), ("US-HI", 4))
    )
    shelf = a_shelf(weather=rows, zones={"west": frozenset({"US", "CA"})})
    asked = (("US", "HI"), ("US", "OH"), ("CA", ""), ("DE", ""))
    assert [parcel_warmth(shelf, country, part, "", 1).low_c for country, part in asked] == [4, 3, 2, 1]


def test_a_row_of_another_month_says_nothing() -> None:
    row = Weather(to="DE", month=8, low_c=12, high_c=30)
    assert parcel_warmth(a_shelf(weather=(row,)), "DE", "", "", 7).basis == "assumed"


def test_in_winter_half_the_way_is_heated() -> None:
    # Berlin, January, monthly mean 0.4 C: (0.4 + 18) / 2 = 9.2; margins 5 and 8.
    found = parcel_warmth(a_shelf(), "DE", "", "Berlin", 1)
    assert (found.low_c, found.mean_c, found.high_c) == pytest.approx((4.2, 9.2, 17.2))
    assert found.basis == "assumed"
    assert "Berlin (DE)" in found.source


def test_in_summer_the_way_is_two_degrees_warmer_than_outdoors() -> None:
    # Berlin, July, 19.1 C.
    found = parcel_warmth(a_shelf(), "DE", "", "berlin", 7)
    assert (found.low_c, found.mean_c, found.high_c) == pytest.approx((16.1, 21.1, 29.1))


def test_the_towns_own_normal_is_taken_whatever_its_accents() -> None:
    assert parcel_warmth(a_shelf(), "BR", "", "SAO PAULO", 7).place == "São Paulo (BR)"


def test_a_town_not_listed_takes_the_countrys_first_place_and_says_so() -> None:
    found = parcel_warmth(a_shelf(), "DE", "", "Nirgendwo", 1)
    assert found.place == "Berlin (DE)"
    assert "Berlin" in found.source


@pytest.mark.parametrize(("country", "neighbours"), [("LI", {"CH", "AT"}), ("VA", {"IT"}), ("LS", {"ZA"})])
def test_a_country_not_listed_takes_the_nearest_listed_place(country: str, neighbours: set[str]) -> None:
    place = parcel_warmth(a_shelf(), country, "", "", 1).place
    assert place[-3:-1] in neighbours


def test_the_normals_are_attributed() -> None:
    assert "CC-BY-4.0" in CLIMATE_SOURCE
    assert "CHELSA" in CLIMATE_SOURCE


COLD_AND_HOT = ParcelWarmth(4.0, 18.0, 32.0, "assumed", "a normal", "Berlin (DE)")


def test_too_hot_and_too_cold_are_judged_by_the_species_own_limits() -> None:
    species = a_species(keep_min_c=10, keep_max_c=30)
    found = warmth_reasons(COLD_AND_HOT, species, insulated_h=0, exposed_h=12, heat_pack=False)
    assert [(reason.code, reason.facts["limit_c"]) for reason in found] == [("too-hot", 30), ("too-cold", 10)]
    assert all("at least 12 hours" in reason.text for reason in found)
    assert {"low_c", "high_c", "limit_c", "insulated_h", "exposed_h", "basis"} <= set(found[0].facts)


def test_at_the_limit_itself_nothing_stops() -> None:
    species = a_species(keep_min_c=4, keep_max_c=32)
    assert warmth_reasons(COLD_AND_HOT, species, 0, 12, False) == ()


def test_insulation_as_long_as_the_exposure_bridges_both() -> None:
    species = a_species(keep_min_c=10, keep_max_c=30)
    assert warmth_reasons(COLD_AND_HOT, species, 12, 12, False) == ()
    assert len(warmth_reasons(COLD_AND_HOT, species, 11.9, 12, False)) == 2


def test_a_species_without_limits_is_not_judged() -> None:
    assert warmth_reasons(COLD_AND_HOT, a_species(), 0, 12, False) == ()


def test_a_heat_pack_is_never_used_where_the_parcel_may_be_above_21_degrees() -> None:
    warm = ParcelWarmth(10, 15.5, 21.1, "weather", "weather.csv (DE, 7)", "DE")
    mild = ParcelWarmth(10, 15.5, 21.0, "weather", "weather.csv (DE, 7)", "DE")
    (reason,) = warmth_reasons(warm, a_species(), insulated_h=48, exposed_h=12, heat_pack=True)
    assert reason.code == "too-hot"
    assert "heat pack must not be used" in reason.text
    assert warmth_reasons(mild, a_species(), 48, 12, True) == ()


def test_a_cold_leg_says_how_much_water_would_let_an_insulated_box_bridge_it() -> None:
    box = Box(box="foam", length_mm=400, width_mm=300, thick_mm=250, tare_g=300, insulated_h=4)
    (reason,) = warmth_reasons(
        ParcelWarmth(2, 6, 10, "weather", "weather.csv", "DE"), a_species(keep_min_c=10), 4, 6, False, box
    )
    assert reason.code == "too-cold"
    assert "l of water at 24 C in foam would hold 6 h" in reason.text
    assert "assumed" in reason.text


@pytest.mark.parametrize(
    ("high_c", "code"),
    [
        (4, "keep-from-cold"),
        (10, "use-heat-pack"),
        (21, "use-heat-pack"),
        (29, "use-cold-pack"),
        (34, "cooled-depot"),
        (36, "keep-from-heat"),
    ],
)
def test_the_trades_daytime_bands_give_a_hint(high_c: float, code: str) -> None:
    assert pack_hint(high_c) == code


def test_no_pack_is_needed_on_a_mild_day() -> None:
    assert pack_hint(24) is None
