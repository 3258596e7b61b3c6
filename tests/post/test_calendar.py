"""Days on which the post delivers or takes in."""

from __future__ import annotations

import gettext
import importlib
from datetime import date, timedelta

import pycountry
import pytest

from shipping.post.calendar import (
    cut_off_of,
    has_own_calendar,
    holiday_name,
    is_delivery_day,
    is_hand_over_day,
    nth_delivery_days,
    past_cut_off,
)
from shipping.tables.countries import plain_name
from shipping.tables.country_parts import (
    NAMES_OF_PARTS,
    NEEDS_SUBDIVISION,
    PART_BY_NAME,
    holiday_calendar,
    like_parts,
    subdivision_code,
)
from shipping.tables.rows.settings import Home
from tests.post.a_shelf import TODAY, a_service, a_shelf


@pytest.mark.parametrize(
    ("country", "region", "code"),
    [
        ("GB", "GB-ENG", "ENG"),
        ("GB", "eng", "ENG"),
        ("US", "Hawaii", "HI"),
        ("US", "HAWAII", "HI"),
        ("US", "Hilo, Hawaii", "HI"),
        ("CH", "Zurich", "ZH"),
        ("DE", "Bayern", "BY"),
        ("FR", "FR-IDF", "IDF"),
        ("FR", "IDF", "IDF"),
        ("GB", "Kent", ""),
        ("GB", "", ""),
        ("US", "DE-BY", ""),
        ("US", "Texas/Ohio", ""),
    ],
)
def test_a_region_is_a_subdivision_only_where_we_can_be_sure(country: str, region: str, code: str) -> None:
    assert subdivision_code(country, region) == code


def test_easter_monday_is_kept_in_england_but_not_in_scotland() -> None:
    easter_monday = date(2026, 4, 6)
    assert not is_delivery_day(easter_monday, "GB", "ENG", saturday=False)
    assert is_delivery_day(easter_monday, "GB", "SCT", saturday=False)


def test_the_national_calendar_of_great_britain_misses_easter_monday_so_a_subdivision_is_wanted() -> None:
    assert is_delivery_day(date(2026, 4, 6), "GB", "", saturday=False)
    assert "GB" in NEEDS_SUBDIVISION


def test_a_day_of_the_whole_country_closes_the_post_of_a_part_that_does_not_keep_it() -> None:
    columbus_day = date(2027, 10, 11)
    assert [holiday_name(columbus_day, "US", part) for part in ("", "TX")] == ["Columbus Day"] * 2


def test_a_region_without_a_calendar_of_its_own_takes_the_national_one() -> None:
    assert not has_own_calendar("FR", "IDF")
    assert has_own_calendar("US", "HI")
    assert not is_delivery_day(date(2026, 7, 14), "FR", "IDF", saturday=False)


@pytest.mark.parametrize(
    ("country", "region", "code"),
    [
        ("DE", "Bavaria", "BY"),
        ("DE", "Freistaat Bayern, Bavière", "BY"),
        ("DE", "NRW", "NW"),
        ("ES", "Catalonia", "CT"),
        ("ES", "Katalonien", "CT"),
        ("CH", "Genf", "GE"),
        ("AT", "Vienna", "9"),
        ("FR", "Bretagne", "BRE"),
        ("FR", "Brittany", "BRE"),
        ("IT", "Lombardia", "25"),
        ("IT", "Südtirol", "BZ"),
        ("BE", "Flandern", "VLG"),
    ],
)
def test_a_part_is_known_by_its_name_in_the_languages_of_the_page(
    country: str, region: str, code: str
) -> None:
    assert subdivision_code(country, region) == code


def test_no_name_of_ours_is_of_two_parts_or_otherwise_than_the_calendars_have_it() -> None:
    for country, names in PART_BY_NAME.items():
        calendar = holiday_calendar(country)
        theirs = {plain_name(name): code for name, code in calendar.subdivisions_aliases.items()}
        for name, code in names.items():
            assert plain_name(name) == name
            assert theirs.get(name, code) == code, (country, name)
        lines = (line.partition(" ")[2].split("|") for line in NAMES_OF_PARTS[country].strip().splitlines())
        assert sorted(name for names in lines for name in names) == sorted(PART_BY_NAME[country])


#: The tongues of the page and of the countries, as pycountry has translations of the standard in them.
_TONGUES = ("en", "de", "fr", "es", "it", "pt", "nl", "ca", "eu", "cy")


def test_the_standards_translations_give_our_names_of_parts_the_same_code() -> None:
    """ISO 3166-2 and its translations as in the Debian iso-codes project, which pycountry carries: they know
    more than half of our names, and each code by one at least; a larger part may stand for its province.
    """
    spoken = [gettext.translation("iso3166-2", pycountry.LOCALES_DIR, languages=[one]) for one in _TONGUES]
    ours, known = 0, 0
    for country, names in PART_BY_NAME.items():
        theirs: dict[str, set[str]] = {}
        for part in pycountry.subdivisions.get(country_code=country):
            codes = {code.partition("-")[2] for code in (part.code, part.parent_code) if code}
            for name in (part.name, *(tongue.gettext(part.name) for tongue in spoken)):
                for each in _forms(name):
                    theirs.setdefault(each, set()).update(codes)
        told = {name: code for name, code in names.items() if _forms(name)[0] in theirs}
        for name, code in told.items():
            assert code in theirs[_forms(name)[0]], (country, name)
        ours, known = ours + len(names), known + len(told)
        codes_of_standard = {part.code[3:] for part in pycountry.subdivisions.get(country_code=country)}
        assert set(names.values()) <= codes_of_standard
        assert set(names.values()) - set(told.values()) == _NAMED_OTHERWISE.get(country, set())
    assert known > ours / 2


#: Parts that the standard names only with words before the name, in two tongues at once, or by its town.
_NAMED_OTHERWISE = {"BE": {"BRU", "VLG"}, "ES": {"GA", "PV", "RI"}, "IT": {"BZ"}}


def _forms(name: str) -> list[str]:
    """A name as the standard writes it, plain: each of two tongues, its kind before it or left out."""
    found = []
    for one in name.replace("]", "").split("["):
        first, _, kind = one.strip().partition(", ")
        found += [one, first, f"{kind} {first}"]
    return [" ".join(plain_name(one).replace("-", " ").split()) for one in found]


def test_a_name_almost_that_of_a_part_is_told_with_what_could_be_meant() -> None:
    assert like_parts("DE", "Bavarria") == ("DE-BY",)
    assert like_parts("CH", "Genva") == ("CH-GE",)
    assert like_parts("DE", "Fantasia") == ()


def test_the_weekend_is_the_countrys_own() -> None:
    friday, sunday = date(2026, 6, 5), date(2026, 6, 7)
    assert not is_delivery_day(friday, "IL", "", saturday=False)
    assert is_delivery_day(sunday, "IL", "", saturday=False)
    assert not is_delivery_day(sunday, "DK", "", saturday=False)


def test_a_saturday_counts_only_if_the_service_delivers_then_and_it_is_no_holiday() -> None:
    saturday, holiday = date(2026, 6, 6), date(2026, 12, 26)
    assert not is_delivery_day(saturday, "DE", "", saturday=False)
    assert is_delivery_day(saturday, "DE", "", saturday=True)
    assert not is_delivery_day(holiday, "DE", "", saturday=True)


def test_a_country_without_a_calendar_has_saturday_and_sunday_off_and_no_holidays() -> None:
    assert [is_delivery_day(date(2026, 12, day), "ZZ", "", saturday=False) for day in (25, 26, 27)] == [
        True,
        False,
        False,
    ]


def test_a_holiday_is_named_in_english_where_the_calendar_has_it() -> None:
    assert holiday_name(date(2026, 12, 25), "DE", "BY") == "Christmas Day"
    assert holiday_name(date(2026, 12, 23), "DE", "BY") is None


def test_a_parcel_is_handed_over_on_a_named_weekday_that_is_no_holiday_at_home() -> None:
    service = a_service(hand_over="Mon Tue Wed Sat")
    home = Home(country="DK")
    assert is_hand_over_day(date(2026, 12, 2), service, home)
    assert not is_hand_over_day(date(2026, 12, 3), service, home), "Thursday is not named"
    assert not is_hand_over_day(date(2026, 12, 5), service, home), "Saturday is a weekend at home"
    assert not is_hand_over_day(date(2026, 4, 6), service, home), "Easter Monday"


def test_the_day_of_posting_is_not_counted() -> None:
    assert nth_delivery_days(date(2026, 12, 3), 3, "DK") == (
        date(2026, 12, 4),
        date(2026, 12, 7),
        date(2026, 12, 8),
    )


def test_loading_one_country_leaves_the_library_whole() -> None:
    assert holiday_name(date(2026, 12, 26), "DK") is not None
    every = importlib.import_module("holidays.countries")
    assert date(2026, 12, 26) in every.Denmark(years=2026)
    assert date(2026, 10, 10) in every.Fiji(years=2026, observed=False)


@pytest.mark.parametrize(("country", "subdivision"), [("DK", ""), ("DE", "BY"), ("IL", ""), ("ZZ", "")])
@pytest.mark.parametrize("saturday", [False, True])
def test_delivery_days_in_a_row_over_the_new_year_are_the_delivery_days_one_by_one(
    country: str, subdivision: str, saturday: bool
) -> None:
    start = date(2026, 12, 22)
    days = (start + timedelta(days=n) for n in range(1, 400))
    one_by_one = [day for day in days if is_delivery_day(day, country, subdivision, saturday)]
    assert nth_delivery_days(start, 200, country, subdivision, saturday) == tuple(one_by_one[:200])


def test_a_service_that_delivers_on_saturday_does_not_on_sunday() -> None:
    assert not is_delivery_day(date(2026, 6, 7), "DE", "", saturday=True)


def test_a_holiday_of_the_part_of_the_country_that_is_home_takes_nothing_in() -> None:
    service, saint_andrew = a_service(hand_over="Mon Tue"), date(2026, 11, 30)
    assert not is_hand_over_day(saint_andrew, service, Home(country="GB", subdivision="SCT"))
    assert is_hand_over_day(saint_andrew, service, Home(country="GB", subdivision="ENG"))


def test_of_a_services_rows_the_earliest_hour_of_hand_over_counts() -> None:
    hours = {"DK": "16:00", "DE": "14:30", "SE": None}
    rows = [a_service(to=to, cut_off=hour) for to, hour in hours.items()]
    shelf = a_shelf(services=(*rows, a_service(service="courier", cut_off="09:00")))
    assert (cut_off_of("letter", shelf), cut_off_of("pigeon", shelf)) == ("14:30", None)


@pytest.mark.parametrize(
    ("hour", "days", "is_past"), [("14:29", 0, False), ("14:30", 0, True), ("15:00", 1, False)]
)
def test_the_hour_of_hand_over_is_past_from_its_minute_on_and_on_its_own_day_alone(
    hour: str, days: int, is_past: bool
) -> None:
    assert bool(past_cut_off("14:30", TODAY + timedelta(days=days), TODAY, hour)) is is_past
    assert past_cut_off(None, TODAY, TODAY, hour) == ""
