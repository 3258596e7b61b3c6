"""The curve shows what the answer says, and no share that would be made up."""

from __future__ import annotations

from datetime import date

import pytest

from shipping.options.option import Destination
from shipping.questions.can_it_ship import Reply, ask
from shipping.questions.risk_curve import curve_lines, height, risk_curve
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.words.units import percent, shipped_folder

TODAY = date(2026, 11, 30)


@pytest.fixture(scope="module")
def shelf() -> Shelf:
    found = read_shelf(shipped_folder("demo_orders"), TODAY).shelf
    assert found is not None
    return found


@pytest.fixture(scope="module")
def home(shelf: Shelf) -> Reply:
    return ask(shelf, "FL-31", Destination("DK"))


def test_every_point_is_the_share_of_an_option_and_no_hand_over_day_is_missing(home: Reply) -> None:
    answered = {
        (a.option.ride.leg.service.service, kind, a.option.ride.leg.day, round(a.option.ride.h_per_egg, 6))
        for a in home.options
        for kind in [a.option.ride.packing.kind]
        if not {"closed-day", "too-old"} & {reason.code for reason in a.reasons}
    }
    drawn = {
        (line.service, kind, point.day, point.h_per_egg)
        for line in risk_curve(home, TODAY).lines
        for kind in line.kinds
        for point in line.points
    }
    assert drawn == answered


def test_tube_and_bag_of_a_service_share_a_line_with_two_ceilings(home: Reply) -> None:
    lines = risk_curve(home, TODAY).lines
    assert {line.ceilings for line in lines} == {(("tube", 0.01), ("breathing bag", 0.05))}
    # foam boxes with bottles of warm water keep their eggs warmer, so that they have lines of their own
    assert [line.service for line in lines] == ["courier next day"] * 3 + ["quick letter"] * 3
    assert all("breathing bag" in line.packings for line in (lines[0], lines[3]))


def test_a_courier_parcel_on_friday_is_not_drawn_for_nobody_takes_it(home: Reply) -> None:
    courier = risk_curve(home, TODAY).lines[0]
    assert [f"{point.day:%a}" for point in courier.points] == ["Mon", "Tue", "Wed", "Thu"]


def test_on_monday_tube_and_bag_may_go_and_from_tuesday_on_nothing(home: Reply) -> None:
    in_foam = risk_curve(home, TODAY).lines[1]  # without a box it is too cold on every day
    monday, tuesday, wednesday, _ = in_foam.points
    over = in_foam.over
    assert (over(monday.h_per_egg), monday.may_go) == ((), True)
    assert (over(tuesday.h_per_egg), tuesday.may_go) == (("tube", "breathing bag"), False)
    assert (over(wednesday.h_per_egg), wednesday.may_go) == (("tube", "breathing bag"), False)


def test_a_lot_presumed_hatched_has_no_share_from_that_day(home: Reply) -> None:
    curve = risk_curve(home, TODAY)
    assert curve.unsure_from == date(2026, 12, 7)
    assert max(curve.days) < curve.unsure_from


def test_an_overdue_lot_has_no_curve(shelf: Shelf) -> None:
    assert risk_curve(ask(shelf, "CY-09", Destination("DE")), TODAY).lines == ()


def test_the_terminal_shows_the_same_figures_and_says_in_words_what_is_over(home: Reply) -> None:
    curve = risk_curve(home, TODAY, date(2026, 12, 1))
    text = "\n".join(curve_lines(curve))
    for line in curve.lines:
        assert all(f"{percent(point.h_per_egg)}  " in text for point in line.points)
    asked = [line for line in text.splitlines() if line.endswith("<- the day asked for")]
    assert len(asked) == len(curve.lines) == 6
    assert "over the ceiling of tube" in asked[0]


def test_a_quarter_stands_half_as_high_as_the_whole() -> None:
    assert [height(share) for share in (0.0, 0.25, 1.0)] == [0.0, 0.5, 1.0]
