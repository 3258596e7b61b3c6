"""What a parcel feels on the way."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from shipping.papers.wording.phrases import Wording, cause, english, next_step
from shipping.post.foam_box import Holding, holding
from shipping.post.warmth import (
    ParcelWarmth,
    TripWarmth,
    _months_around,
    climate_town,
    felt_by,
    forecast_to_look_at,
    pack_hint,
    trip_warmth,
    unbridged,
    warmth_reasons,
    weather_place,
)
from shipping.tables.climate import place_of_part
from shipping.tables.country_parts import calendar_parts
from shipping.tables.rows.packings import Box
from shipping.tables.rows.weather import Weather
from shipping.words.problems import Where
from shipping.words.reasons import Verdict
from tests.post.a_shelf import a_packing, a_shelf, a_species, day_warmth

#: The days in whose middle, at noon, a month of 31 days stands: its values are those of the month alone.
JANUARY, JULY = date(2027, 1, 16), date(2027, 7, 16)


def test_the_breeders_row_is_taken_as_the_parcels_own_low_and_high() -> None:
    row = Weather(at=Where("weather.csv", 4), to="DE", month=7, low_c=12, high_c=30)
    found = day_warmth(a_shelf(weather=(row,)), "DE", "", "Berlin", JULY)
    assert (found.low_c, found.mean_c, found.high_c) == (12, 21, 30)
    assert (found.basis, found.source) == ("weather", "weather.csv (DE, 7)")


def test_the_row_that_names_the_place_most_closely_wins() -> None:
    rows = tuple(
        Weather(to=place, month=1, low_c=low, high_c=20)
        for place, low in (("*", 1), ("west", 2), ("US", 3), ("US-HI", 4))
    )
    shelf = a_shelf(weather=rows, zones={"west": frozenset({"US", "CA"})})
    asked = (("US", "HI"), ("US", "OH"), ("CA", ""), ("DE", ""))
    assert [day_warmth(shelf, country, part, "", JANUARY).low_c for country, part in asked] == [4, 3, 2, 1]


def test_months_are_joined_by_straight_lines_and_no_night_jumps() -> None:
    rows = tuple(
        Weather(to="DE", month=month, low_c=low, high_c=20) for month, low in ((1, 2), (2, 8), (3, 8))
    )
    shelf = a_shelf(weather=rows)
    lows = [day_warmth(shelf, "DE", "", "", JANUARY + timedelta(days=n)).low_c for n in range(60)]
    # from the middle of January to that of February there are 15.5 + 14 = 29.5 days
    assert lows[0] == 2
    assert lows[10] == pytest.approx(2 + 6 * 10 / 29.5)
    assert lows[30] == pytest.approx(8)
    assert max(abs(b - a) for a, b in pairwise(lows)) <= 6 / 29.5 + 1e-9


def test_on_its_middle_day_a_month_counts_alone_and_is_named_with_the_next() -> None:
    assert _months_around(date(2026, 1, 16)) == (1, 2, 0.0)


def test_a_month_without_a_row_takes_its_neighbours_and_one_further_away_is_assumed() -> None:
    shelf = a_shelf(weather=(Weather(to="DE", month=1, low_c=3, high_c=9),))
    assert day_warmth(shelf, "DE", "", "", date(2026, 12, 20)).low_c == 3
    assert day_warmth(shelf, "DE", "", "", date(2027, 2, 10)).basis == "weather"
    assert day_warmth(shelf, "DE", "", "", date(2027, 2, 20)).basis == "assumed"
    assert day_warmth(shelf, "DE", "", "", JULY).basis == "assumed"


def test_a_month_mixed_with_a_normal_names_the_row_that_is_lacking_and_the_one_that_is_there() -> None:
    """Who has said January would else read that all of it is assumed, and not know which row to add."""
    january = Weather(to="DE", month=1, low_c=3, high_c=9)
    shelf, on = a_shelf(weather=(january,)), date(2027, 2, 20)
    mixed, alone = day_warmth(shelf, "DE", "", "", on), day_warmth(shelf, "DE", "", "", JULY)
    assert mixed.month_facts == {"month": 2, "row_month": 1}
    assert alone.month_facts == {"month": 7}
    (reason,) = warmth_reasons(TripWarmth((mixed,), 1), a_species(keep_min_c=20.0), 24, BARE, 2)
    assert "(partly assumed: weather has January, not February)" in cause(reason, english())
    assert next_step(reason, english()).endswith(
        "look at the forecast and write those days in weather, or February as you measured it"
    )
    assert next_step(reason, Wording(None, "de")).endswith(
        "in die Vorhersage sehen und diese Tage in der Tabelle „Wetter“ eintragen, oder den Februar, wie Sie"
        " ihn gemessen haben"
    )
    answered = a_shelf(weather=(january, Weather(to="DE", month=2, low_c=3, high_c=9)))
    assert day_warmth(answered, "DE", "", "", on).month_facts == {}


def test_a_row_for_days_wins_over_every_months_and_is_said() -> None:
    snap = {"from": date(2027, 1, 14), "until": date(2027, 1, 16)}
    rows = (
        Weather(to="DE", month=1, low_c=3, high_c=9),
        Weather(at=Where("weather.csv", 3), to="*", low_c=-18, high_c=-4, **snap),
    )
    shelf = a_shelf(weather=rows)
    lows = [day_warmth(shelf, "DE", "", "", date(2027, 1, day)).low_c for day in (13, 14, 16, 17)]
    assert lows[1:3] == [-18, -18]
    assert min(lows[0], lows[3]) >= 3
    found = day_warmth(shelf, "DE", "", "", date(2027, 1, 15))
    assert found.row
    assert found.source == "weather.csv (*, 2027-01-14, 2027-01-16)"


def test_in_winter_half_the_way_is_heated() -> None:
    # Berlin, January, monthly mean 0.4 C: (0.4 + 18) / 2 = 9.2; margins 5 and 8.
    found = day_warmth(a_shelf(), "DE", "", "Berlin", JANUARY)
    assert (found.low_c, found.high_c) == pytest.approx((4.2, 17.2))
    assert found.mean_c == pytest.approx((4.2 + 17.2) / 2)
    assert found.basis == "assumed"
    assert "Berlin (DE)" in found.source


def test_in_summer_the_way_is_two_degrees_warmer_than_outdoors() -> None:
    # Berlin, July, 19.1 C.
    found = day_warmth(a_shelf(), "DE", "", "berlin", JULY)
    assert (found.low_c, found.high_c) == pytest.approx((16.1, 29.1))


def test_between_two_months_the_mean_outdoors_that_is_named_lies_on_the_line_too() -> None:
    # Berlin, 18.6 C in August and 14.4 in September, whose middles are 30.5 days apart
    found = day_warmth(a_shelf(), "DE", "", "Berlin", date(2027, 8, 26))
    outdoors = 18.6 + (14.4 - 18.6) * 10 / 30.5
    assert f"({outdoors:.1f} °C outdoors)" in found.source
    assert found.high_c == pytest.approx(outdoors + 2 + 8)


def test_a_town_has_a_climate_of_its_own_where_it_is_listed_in_that_country() -> None:
    asked = (("DE", "BERLIN"), ("DE", "Nirgendwo"), ("FR", "Berlin"), ("LI", "Vaduz"))
    assert [climate_town(*place) for place in asked] == ["berlin", "", "", ""]


def test_the_towns_own_normal_is_taken_whatever_its_accents() -> None:
    assert day_warmth(a_shelf(), "BR", "", "SAO PAULO", JULY).place == "São Paulo (BR)"


def test_a_town_not_listed_takes_the_countrys_first_place_and_says_so() -> None:
    found = day_warmth(a_shelf(), "DE", "", "Nirgendwo", JANUARY)
    assert found.place == "Berlin (DE)"
    assert "Berlin" in found.source


def test_in_a_wide_country_a_part_has_the_climate_of_the_place_named_for_it() -> None:
    asked = (
        ("CA", "MB", ""),
        ("US", "AZ", "Phoenix"),
        ("US", "", ""),
        ("AU", "WA", "Sydney"),
    )
    places = [day_warmth(a_shelf(), *place, JANUARY).place for place in asked]
    assert places == ["Ulaanbaatar (MN)", "Austin (US)", "New York City (US)", "Sydney (AU)"]
    asked_of = [weather_place(country, part) for country, part, _ in asked]
    assert weather_place("DE", "BY") == "DE"
    assert asked_of == ["CA-MB", "US-AZ", "US", "AU-WA"]


@pytest.mark.parametrize("country", ["AU", "BR", "CA", "US"])
def test_every_part_of_a_wide_country_has_one_place_that_is_listed(country: str) -> None:
    territories = {"AS", "FM", "GU", "MH", "MP", "PR", "PW", "UM", "VI"}
    for part in {code for code in calendar_parts(country) if len(code) <= 3} - territories:
        assert place_of_part(country, part) is not None, part


def test_a_state_colder_than_all_listed_places_of_its_country_is_not_taken_for_milder() -> None:
    """January means of the National Weather Service, from memory: Fairbanks -22, Bismarck -11, Saint Paul -9,
    Columbus -2 °C.
    """
    means = {
        part: place.means_c[0] for part in ("AK", "ND", "MN", "OH") if (place := place_of_part("US", part))
    }
    assert means["AK"] < -20 < means["ND"] <= means["MN"] < -9 < means["OH"] < -2


@pytest.mark.parametrize(("country", "neighbours"), [("LI", {"CH", "AT"}), ("VA", {"IT"}), ("LS", {"ZA"})])
def test_a_country_not_listed_takes_the_nearest_listed_place(country: str, neighbours: set[str]) -> None:
    place = day_warmth(a_shelf(), country, "", "", JANUARY).place
    assert place[-3:-1] in neighbours


def test_the_normals_are_attributed() -> None:
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
    assert "GeoRank.place (georank.place), CC-BY-4.0" in readme
    assert "CHELSA" in readme


def a_trip(*spans: tuple[float, float], to_p95: int | None = None, basis: str = "weather") -> TripWarmth:
    """A trip that feels such a low and high on each day."""
    days = tuple(
        ParcelWarmth(
            low, (low + high) / 2, high, basis, "weather.csv (DE, 1)", "DE", JANUARY + timedelta(days=n)
        )
        for n, (low, high) in enumerate(spans)
    )
    return TripWarmth(days, len(days) if to_p95 is None else to_p95)


FOAM = Box(box="foam", length_mm=250, width_mm=180, thick_mm=120, tare_g=180, wall_mm=25, bottle_ml=1000)
BARE = Holding()


def codes(trip: TripWarmth, holds: Holding = BARE, exposed_h: float = 12, **limits: float) -> list[str]:
    """The codes in words, which arrays agree with."""
    species = a_species(**limits)
    found = [one.code for one in warmth_reasons(trip, species, 24, holds, exposed_h, FOAM)]
    hot, cold = unbridged(felt_by([(trip, exposed_h)]), species, 24, holds, FOAM)
    assert (bool(hot), bool(cold)) == ("too-hot" in found, "too-cold" in found)
    return found


def test_too_hot_and_too_cold_are_judged_by_the_species_own_limits() -> None:
    both = a_trip((4, 32))
    assert codes(both, keep_min_c=10, keep_max_c=30) == ["too-hot", "too-cold"]
    assert codes(both, keep_min_c=4, keep_max_c=32) == []
    assert codes(both) == []
    (reason,) = warmth_reasons(both, a_species(keep_min_c=10), 24, BARE, 12)
    assert {"low_c", "high_c", "limit_c", "warm_h", "exposed_h", "basis", "on"} <= set(reason.facts)


def test_a_box_bridges_one_cold_night_on_a_mild_trip_but_not_days_too_cold_on_the_mean() -> None:
    # a day of 2 to 22 C, then 12 h at 2 C: with warm_h 20 the inside stands at 12 + 12 exp(-24 / 20) = 15.6
    # and comes to 2 + 13.6 exp(-12 / 20) = 9.5; with 24 it stands at 16.4 and comes to 10.7
    mild = a_trip((2, 22))
    assert codes(mild, Holding(20.0), keep_min_c=10) == ["too-cold"]
    assert codes(mild, Holding(24.0), keep_min_c=10) == []
    # a cold mean: the longer the trip, the less of the start is left
    short, long = a_trip((2, 8)), a_trip(*[(2.0, 8.0)] * 8)
    assert codes(short, Holding(60.0), keep_min_c=10) == []
    assert codes(long, Holding(60.0), keep_min_c=10) == ["too-cold"]


@pytest.mark.parametrize(("keep_max_c", "stops"), [(32.5, []), (32.4, ["too-hot"])])
def test_a_cool_box_is_judged_where_it_has_warmed_by_the_arrival_and_not_at_hand_over_alone(
    keep_max_c: float, stops: list[str]
) -> None:
    """After two days at 30 C on the mean the inside stands at 30 - 6 exp(-48 / 20) = 29.5, and twelve hours
    at 36 C bring it to 36 - 6.5 exp(-12 / 20) = 32.4; from 24 C they bring it to 29.4.
    """
    trip = a_trip((24, 36), (24, 36), to_p95=2)
    assert codes(trip, Holding(20.0), keep_max_c=keep_max_c) == stops


def test_the_reason_says_what_would_bridge_it() -> None:
    species = a_species(keep_min_c=10)
    (night,) = warmth_reasons(a_trip((9, 30)), species, 24, BARE, 2, FOAM)
    assert "A bottle of 0.25 l of water" in night.text
    (mean,) = warmth_reasons(a_trip((2, 6)), species, 24, BARE, 2, FOAM)
    assert "nothing without a heat pack bridges it" in mean.text
    (assumed,) = warmth_reasons(a_trip((2, 6), basis="assumed"), species, 24, BARE, 2, FOAM)
    assert "one row of weather" in assumed.text
    assert assumed.facts["basis"] == "assumed"


def test_only_days_to_the_95_percent_arrival_are_judged() -> None:
    assert codes(a_trip((12, 20), (2, 20), to_p95=1), keep_min_c=10) == []
    assert codes(a_trip((12, 20), (2, 20), to_p95=2), keep_min_c=10) == ["too-cold"]


def test_of_several_days_the_coldest_and_the_hottest_are_told_and_of_two_as_hot_the_milder() -> None:
    trip = a_trip((4, 20), (9, 30), (1, 12), (3, 30), (-5, 40), to_p95=4)
    assert (trip.coldest, trip.hottest) == (trip.days[2], trip.days[1])
    whole = trip.whole
    assert (whole.low_c, whole.mean_c, whole.high_c) == (1, pytest.approx((12 + 19.5 + 6.5 + 16.5) / 4), 30)


@pytest.mark.parametrize(("rows", "is_asked"), [((True, True, False), False), ((True, False, True), True)])
def test_a_forecast_is_to_be_looked_at_unless_every_day_that_is_judged_has_its_row(
    rows: tuple[bool, ...], is_asked: bool
) -> None:
    row = Weather(to="DE", low_c=3, high_c=9, **{"from": JANUARY, "until": JANUARY})
    trip = a_trip((3, 9), (4, 8), (-5, 40))
    days = tuple(replace(day, row=row if has else None) for day, has in zip(trip.days, rows, strict=True))
    notes = forecast_to_look_at(TripWarmth(days, 2), "DE", JANUARY)
    assert [note.code for note in notes] == ["no-forecast"] * is_asked


@pytest.mark.parametrize(("high_c", "is_too_hot"), [(21.0, False), (21.1, True)])
def test_many_trips_at_once_take_a_heat_pack_up_to_21_degrees_too(high_c: float, is_too_hot: bool) -> None:
    hot, cold = unbridged(felt_by([(a_trip((2, high_c)), 12)]), a_species(), 24, Holding(5.0, 40.0), None)
    assert (hot.tolist(), cold.tolist()) == ([is_too_hot], [False])


def test_what_is_collected_in_person_never_stands_outside() -> None:
    assert codes(a_trip((-9, 2), to_p95=0), exposed_h=0, keep_min_c=10) == []


def test_a_heat_pack_bridges_the_cold_and_is_never_used_above_21_degrees() -> None:
    big = FOAM.model_copy(update={"length_mm": 320.0, "width_mm": 250.0, "thick_mm": 170.0, "vented": True})
    packed, species = Holding(5.0, 40.0), a_species(keep_min_c=10)
    assert warmth_reasons(a_trip((2, 6)), species, 24, packed, 12, big) == ()
    assert warmth_reasons(a_trip((2, 21)), species, 24, packed, 12, big) == ()
    (warm,) = warmth_reasons(a_trip((2, 21.1)), species, 24, packed, 12, big)
    assert warm.code == "too-hot"
    assert "heat pack must not be used" in warm.text
    (small,) = warmth_reasons(a_trip((2, 6)), species, 24, packed, 12, FOAM)
    assert "needs a vented box" in small.text
    assert cause(small, english()).startswith(
        "a heat pack needs a vented box of at least 30 x 23 x 15\xa0cm, and foam"
    )


def test_a_packing_without_a_heat_pack_is_advised_only_where_it_would_not_be_stopped_for_warmth_itself() -> (
    None
):
    big = FOAM.model_copy(update={"length_mm": 320.0, "width_mm": 250.0, "thick_mm": 170.0, "vented": True})
    packed, mild, warm = Holding(1.0, 40.0), a_trip((12, 24)), a_trip((12, 30))

    def told(trip: TripWarmth, box: Box, **limits: float) -> tuple[str, str]:
        (one,) = warmth_reasons(trip, a_species(**limits), 20, packed, 12, box)
        return one.text, next_step(one, english(), Verdict.STOP)

    assert all("without" in one for one in told(mild, big, keep_min_c=10, keep_max_c=28))
    assert not any("without" in one for one in told(mild, big, keep_min_c=15, keep_max_c=28))
    assert "without" not in told(mild, FOAM, keep_min_c=15)[1]
    hot = told(warm, big, keep_min_c=10, keep_max_c=28)
    assert "should not be above 28" in hot[0]
    assert not any("heat pack" in one for one in hot)


@pytest.mark.parametrize(
    ("grams", "hours", "lift_c", "just_c"),
    [
        (None, 72.0, 35.4, -26.1),  # of unknown weight: 10 W through 0.282 W a degree
        (100.0, 40.0, 18.1, -8.4),  # 100 g of iron give 205 Wh: 5.1 W
        (100.0, 72.0, 10.1, -0.2),
    ],
)
def test_no_heat_pack_lifts_a_box_by_more_than_its_iron_gives_and_its_walls_let_pass(
    grams: float | None, hours: float, lift_c: float, just_c: float
) -> None:
    """Inner faces of 2,208 cm2, 0.11 ml of water an hour and cm2; after 12 h 5 % of a lead is left."""
    sizes = {"length_mm": 320.0, "width_mm": 250.0, "thick_mm": 170.0, "wall_mm": 25.0, "bottle_ml": 1000.0}
    big = FOAM.model_copy(update={**sizes, "vented": True, "insulated_h": None})
    packed = holding(a_packing(heat_pack_h=hours, heat_pack_g=grams), big)
    assert packed.lift_c == pytest.approx(lift_c, abs=0.05)
    trips, species = (
        [a_trip(span) for span in ((just_c, 4.3), (just_c - 0.6, 4.3), (just_c - 0.6, 4.5))],
        a_species(keep_min_c=10),
    )
    told = [
        [one for one in warmth_reasons(trip, species, 24, packed, 12, big) if one.code == "too-cold"]
        for trip in trips
    ]
    seen = [
        False,
        True,
        False,
    ]  # in weather in which the trade posts with a heat pack, one keeps all cold out
    assert [bool(one) for one in told] == seen
    assert unbridged(felt_by([(trip, 12.0) for trip in trips]), species, 24, packed, big)[1].tolist() == seen
    (cold,) = told[1]
    assert f"Its heat pack lifts the inside of its box by no more than {packed.lift_c:.3g}" in cold.text
    assert next_step(cold, english()) == "no heat pack keeps so much cold out: a warmer month"


def test_a_heat_pack_lifts_a_box_of_unknown_wall_or_size_no_more_than_the_least_foam_box() -> None:
    packing = a_packing(heat_pack_h=72.0, heat_pack_g=100.0)
    least = FOAM.model_copy(
        update={"length_mm": 300.0, "width_mm": 230.0, "thick_mm": 150.0, "wall_mm": 25.0}
    )
    lifts = {holding(packing, box).lift_c for box in (least, FOAM.model_copy(update={"wall_mm": None}), None)}
    assert len(lifts) == 1
    assert lifts.pop() == pytest.approx(12.64, abs=0.05)


def test_a_heat_pack_that_ends_on_the_way_is_told_with_its_hours_and_those_of_the_way() -> None:
    """Three days and a stretch of 12 h: with 84 h all of it is bridged."""
    big = FOAM.model_copy(update={"length_mm": 320.0, "width_mm": 250.0, "thick_mm": 170.0, "vented": True})
    way, species = a_trip(*[(2.0, 6.0)] * 3), a_species(keep_min_c=10)
    (cold,) = warmth_reasons(way, species, 24, Holding(5.0, 40.0), 12, big)
    assert "Its heat pack lasts 40 h, and the way may take 84 h" in cold.text
    told = cause(cold, english()).replace("\xa0", " ")
    assert told.endswith("at least 10 °C; the heat pack lasts 40 h and the way up to 84 h")
    assert next_step(cold, english()).startswith("a faster service, a heat pack that lasts longer, ")
    assert warmth_reasons(way, species, 24, Holding(5.0, 84.0), 12, big) == ()
    (kept_cold,) = warmth_reasons(way, species, 8, Holding(5.0, 84.0), 12, big)
    assert "heat_pack_h" not in kept_cold.facts, "it lasts, and the eggs are kept colder than they bear"


def test_the_cold_that_decides_is_the_one_inside_and_it_is_told_with_the_cold_outside() -> None:
    species = a_species(keep_min_c=10)
    (bare,) = warmth_reasons(a_trip((4, 8)), species, 24, BARE, 12, FOAM)
    assert "down to 4\xa0°C, the eggs need at least 10\xa0°C" in cause(bare, english())
    (foam,) = warmth_reasons(a_trip((4, 8)), species, 24, Holding(9.0), 12, FOAM)
    assert foam.facts["inside_c"] == 4.9  # 6 + 18 exp(-24 / 9) = 7.3 at the end, and 4 + 3.3 exp(-12 / 9)
    assert "down to 4\xa0°C, 4.9\xa0°C inside the box, the eggs need at least 10\xa0°C" in cause(
        foam, english()
    )
    (near,) = warmth_reasons(a_trip((9.6, 12)), species, 24, BARE, 12, FOAM)
    assert "down to 9.6\xa0°C, the eggs need at least 10\xa0°C" in cause(near, english())


def test_a_trip_has_a_span_for_each_day_up_to_the_last_arrival() -> None:
    trip = trip_warmth(a_shelf(), "DE", "", "", JANUARY, 3, 9)
    assert (len(trip.days), len(trip.judged)) == (9, 3)
    assert trip.whole.low_c == min(day.low_c for day in trip.judged)


@pytest.mark.parametrize(
    ("high_c", "code"),
    [
        (4, "keep-from-cold"),
        (4.4, "use-heat-pack"),
        (21, "use-heat-pack"),
        (21.1, None),
        (26.7, None),
        (29, "use-cold-pack"),
        (32.2, "use-cold-pack"),
        (34, "cooled-depot"),
        (35, "cooled-depot"),
        (36, "keep-from-heat"),
    ],
)
def test_the_trades_daytime_bands_give_a_hint(high_c: float, code: str | None) -> None:
    assert pack_hint(high_c) == code


def test_what_to_do_against_heat_does_not_lead_back_to_what_to_do_against_cold() -> None:
    species = a_species(keep_min_c=15, keep_max_c=23)
    hot, cold = warmth_reasons(a_trip((6, 23.5)), species, 21, BARE, 12, FOAM)
    assert "cooler month" not in next_step(hot, english())
    assert next_step(cold, english()).startswith("by day it is too warm there for a heat pack: a box that")
    (cold,) = warmth_reasons(a_trip((6, 20)), species, 21, BARE, 12, FOAM)
    assert "heat pack" in next_step(cold, english()), "where days are cool enough for one"


@pytest.mark.parametrize(
    ("kept_c", "said", "mend"),
    [(23.5, "packed at 23.5\xa0°C, and the eggs bear at most 23", "let them cool"), (14.5, "", "warm up")],
)
def test_eggs_kept_warmer_or_colder_than_they_bear_are_not_sent_for_another_box(
    kept_c: float, said: str, mend: str
) -> None:
    """The way is mild, the box holds: no other box, pack or month mends the room they lie in."""
    species = a_species(keep_min_c=15, keep_max_c=23)
    (found,) = warmth_reasons(a_trip((17, 20)), species, kept_c, Holding(900.0), 12, FOAM)
    assert cause(found, english()).startswith(said)
    step = next_step(found, english())
    assert mend in step
    assert not any(word in step for word in ("box", "month", "heat pack"))
