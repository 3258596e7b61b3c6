"""Questions at their bounds: the nearest that is asked about, and the nearest that is not."""

from __future__ import annotations

import pytest

from tests.tables.mistakes import told_with


def is_asked(edits: str, words: str) -> bool:
    """Is a question with these words asked of the good shelf with edits?"""
    return any(words in str(problem) for problem in told_with(edits).problems)


def order_row(name: str, eggs: int, price: str) -> str:
    who = f"P{name.lower()} Prøve,Åvej 1{name[1:]},8000,Aarhus,,DK,da"
    return f"orders + {name},2026-11-23,2026-11-24,{who},gardneri,,{eggs},{price},,,,,,"


def wished(*lines: tuple[int, str]) -> str:
    """The second order's count and price, and those of others after it."""
    (eggs, price), *others = lines
    rows = [order_row(f"A{number}", *line) for number, line in enumerate(others, start=6)]
    return " && ".join([f"orders 4 eggs = {eggs}", f"orders 4 price = {price}", *rows])


#: Two thirds of the money an egg.
THIRDS = ((27, "18.00"), (33, "22.00"), (24, "16.00"))


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        (((20, "30"), *THIRDS), True),
        (((20, "30"), *THIRDS[:1]), True),  # with the first order's, three of the fish
        (((20, "30"),), False),  # too few to know what they cost
        (((20, "30.50"), *THIRDS), False),  # cents: no count
        (((20, "80"), *THIRDS), False),  # dear, and not turned round
        (((20, "22"), (20, "20"), (30, "30"), (25, "25")), False),  # near as it stands
    ],
)
def test_a_count_and_a_price_are_asked_about_where_only_turned_round_they_fit(
    lines: tuple[tuple[int, str], ...], expected: bool
) -> None:
    assert is_asked(wished(*lines), "turned round it is not") == expected


@pytest.mark.parametrize(("eggs", "expected"), [(150, True), (149, False)])
def test_five_times_the_eggs_of_a_unit_alike_are_asked_about(eggs: int, expected: bool) -> None:
    unit = f"packings + tube two,tube,water,,50,35,{eggs},0.01,0.1,0.02,0.01,60,18,0.40,mailer"
    assert is_asked(unit, "a unit alike holds 30") == expected


@pytest.mark.parametrize(("wall", "expected"), [("", True), ("15", False)])
def test_hours_of_warmth_are_asked_about_in_a_box_without_walls_only(wall: str, expected: bool) -> None:
    edits = f"packings 3 insulated_h = 12 && boxes 3 wall_mm = {wall}"
    assert is_asked(edits, "whose walls have no thickness") == expected


@pytest.mark.parametrize(("grams", "expected"), [(250, True), (100, False)])
def test_thickness_is_set_beside_a_heavier_step_and_not_beside_one_alike(grams: int, expected: bool) -> None:
    edits = f"postage 2 up_to_mm = 200 && postage + letter,DK,{grams},20,5.50"
    assert is_asked(edits, "takes heavier parcels up to 20 mm") == expected


@pytest.mark.parametrize(("members", "expected"), [("DE SE FR NO", True), ("DE SE NO", False)])
def test_a_country_is_an_outsider_of_a_zone_where_members_are_more_than_twice_as_many(
    members: str, expected: bool
) -> None:
    edits = f"zones 2 countries = {members} && rules + near,*,,open,,a law,2026-11-01,,"
    assert is_asked(edits, "opens NO too") == expected


def test_a_zone_of_members_only_is_opened_without_a_question() -> None:
    edits = "zones 2 countries = DE SE FR && rules + near,*,,open,,a law,2026-11-01,,"
    assert not is_asked(edits, "beside countries of the Union")


def test_papers_that_the_starter_asks_for_are_named_and_those_there_are_not() -> None:
    held = "importer authorisation;health certificate;licence to keep"
    edits = f"rules + GB-ENG,*,,papers,{held},a law,2026-11-01,,"
    assert is_asked(edits, "does not ask for 'import notice',")
    assert not is_asked(edits.replace("licence", "import notice;licence"), "does not ask for")


@pytest.mark.parametrize(("late", "expected"), [(3, False), (2, True)])
def test_two_days_abroad_are_asked_about_where_they_never_differ(late: int, expected: bool) -> None:
    edits = f"services 3 usual_d = 2 && services 3 late_d = {late}"
    assert is_asked(edits, "no parcel would ever be slower") == expected


@pytest.mark.parametrize(
    ("country", "town", "one", "other", "expected"),
    [
        ("DK", "København", "1050", "2500", False),
        ("NO", "Oslo", "0150", "1295", False),
        ("DE", "Berlin", "10115", "14199", False),
        ("DK", "København", "1050", "8000", True),
        ("FR", "Lyon", "69001", "69009", False),
        ("FR", "Lyon", "69001", "75001", True),
        ("DE", "Dresden", "01067", "10115", False),  # too near to tell
    ],
)
def test_a_town_of_many_postcodes_is_asked_about_only_where_they_are_farther_apart_than_a_town(
    country: str, town: str, one: str, other: str, expected: bool
) -> None:
    rows = [
        f"orders + B{n},2026-11-23,,Per Prøve,Åvej {n},{code},{town},,{country},en,gardneri,,20,,,,,,,"
        for n, code in enumerate((one, other))
    ]
    assert is_asked(" && ".join(rows), f"'{town}' has '{other}' here, and '{one}' on row") == expected


@pytest.mark.parametrize(("country", "expected"), [("DK", True), ("IE", False)])
def test_a_town_with_a_number_is_a_street_but_where_districts_are_numbered(
    country: str, expected: bool
) -> None:
    where = f"Heron Cottage,1000,Mosetown 4,,{country}"
    row = f"orders + B1,2026-11-23,,Per Prøve,{where},en,gardneri,,20,,,,,,,"
    assert is_asked(row, "'Mosetown 4' has a number") == expected


@pytest.mark.parametrize(("day", "expected"), [("2027-09-03", False), ("2027-09-04", True)])
def test_wetting_is_asked_about_two_hundred_days_after_the_latest_hatching(day: str, expected: bool) -> None:
    """Laid until 2026-09-18, of a fish that takes 150 days at most."""
    edits = f"lots 4 wet_from = {day} && lots 4 wet_until = 2027-12-01"
    assert is_asked(edits, "days after laying, and 'guentheri' takes 150 at most") == expected
