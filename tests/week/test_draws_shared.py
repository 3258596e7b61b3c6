"""Lines filled from several lots keep their promise: eggs are added where it falls short, or none go."""

from __future__ import annotations

import pytest

from shipping.options.option import Ride
from shipping.options.option_factory import OptionFactory
from shipping.tables.rows.weather import Weather
from shipping.tables.shelf import Shelf
from shipping.week.draws import Settling, as_ordered, topped_up, trimmed
from shipping.week.plan_data import Plan, PlannedLine
from tests.post.a_shelf import TODAY, a_service
from tests.reference.several_lots import chance_of_several
from tests.week.a_week import BAG, a_lot, a_row, a_week, ago, plan_of

#: Eggs of a parcel that fare so unlike each other that little is left to the journey; fry is let hatch.
UNLIKE = BAG.model_copy(update={"kappa": 100.0, "hatch_ceiling": 1.0})


def shelf_of(good: int, poor: int) -> Shelf:
    """Of a good lot 18 eggs would do for 15, of one about to hatch 90: 10 and 40 suffice by ``n / m``."""
    return a_week(
        a_row("A", eggs=15),
        lots=(
            a_lot("GOOD", eggs=good, laid_from=ago(4), laid_to=ago(4)),
            a_lot("POOR", eggs=poor, laid_from=ago(15), laid_to=ago(15), kept_at_c=26),
        ),
        packings=(UNLIKE,),
        services=(a_service(early_d=3, usual_d=3, late_d=3, live_eggs="yes"),),
        weather=tuple(Weather(to="*", month=month, low_c=20, high_c=26) for month in range(1, 13)),
        settings={"plan": {"dispatch_days": ["Mon"]}, "warmth": {"trip_spread_c": 0}},
    )


def line_of(plan: Plan) -> PlannedLine:
    (line,) = (line for parcel in plan.parcels for line in parcel.lines)
    return line


def test_a_fill_that_falls_short_of_the_promise_and_has_no_more_eggs_is_none() -> None:
    plan = plan_of(shelf_of(10, 40))
    assert not plan.parcels
    assert plan.lines_out[0].order == "A"


@pytest.mark.parametrize(("good", "poor"), [(10, 44), (11, 40), (12, 60)])
def test_eggs_are_added_until_the_promise_holds_and_no_further(good: int, poor: int) -> None:
    line = line_of(plan_of(shelf_of(good, poor)))
    draws = {draw.lot: draw for draw in line.draws}
    assert set(draws) == {"GOOD", "POOR"}
    assert line.p_enough >= 0.95
    for lot in draws:
        fewer = [(draw.pack - (draw.lot == lot), draw.v_per_egg, 100.0) for draw in line.draws]
        assert chance_of_several(fewer, 15) < 0.95


def test_what_is_planned_from_several_lots_keeps_its_promise_by_the_second_model() -> None:
    """Fills at the very edge of ``sum(n / m) >= 1``, reckoned again by other code."""
    shared = 0
    for good in range(6, 16, 2):
        for poor in (90 - 5 * good, 92 - 5 * good):
            for line in (line for parcel in plan_of(shelf_of(good, poor)).parcels for line in parcel.lines):
                drawn = [(draw.pack, draw.v_per_egg, 100.0) for draw in line.draws]
                assert line.p_enough == pytest.approx(chance_of_several(drawn, 15), abs=1e-3)
                assert line.p_enough >= 0.95
                shared += len(drawn) > 1
    assert shared >= 3


def rides_of_both() -> dict[str, Ride]:
    """The rides of the good and the poor lot today."""
    shelf = shelf_of(40, 90)
    factory, (order,) = OptionFactory(shelf), shelf.orders
    leg = factory.leg(factory.services(("DK", ""))[0], factory.destination(order), TODAY)
    return {lot: factory.ride(factory.lot_day(lot, TODAY), UNLIKE, leg) for lot in ("GOOD", "POOR")}


def test_no_egg_is_taken_off_a_draw_of_five() -> None:
    """An egg of the poor lot is missed least, until five of it are left."""
    rides = rides_of_both()
    left = trimmed((("GOOD", 40), ("POOR", 7)), rides, 15, 0.95)
    assert dict(left)["POOR"] == 5
    assert 5 < dict(left)["GOOD"] < 20
    assert as_ordered((("GOOD", 12), ("POOR", 7)), rides, 15) == (("GOOD", 10), ("POOR", 5))
    assert as_ordered((("GOOD", 5), ("POOR", 6)), rides, 10) == (("GOOD", 5), ("POOR", 5))
    assert as_ordered((("GOOD", 5), ("POOR", 5)), rides, 9) is None


def test_an_egg_is_added_where_it_helps_most_and_never_beyond_what_a_lot_may_give() -> None:
    rides, draws = rides_of_both(), (("GOOD", 10), ("POOR", 40))
    assert topped_up(draws, rides, 15, 0.95, lambda lot, eggs: True) == (("GOOD", 11), ("POOR", 40))
    held = topped_up(draws, rides, 15, 0.95, lambda lot, eggs: lot == "POOR")
    assert held is not None
    assert dict(held)["GOOD"] == 10
    assert dict(held)["POOR"] > 40
    assert topped_up(draws, rides, 15, 0.95, lambda lot, eggs: lot == "POOR" and eggs < 41) is None


def test_all_free_eggs_of_a_lot_that_nobody_draws_from_are_left_to_the_egg() -> None:
    factory = OptionFactory(shelf_of(18, 40))
    free = factory.lot_day("GOOD", TODAY).free
    assert Settling(factory, {})._left("GOOD", TODAY) == free > 0


@pytest.mark.parametrize("egg_value", [None, 0])
@pytest.mark.parametrize(("old", "young", "ordered"), [(16, 18, 20), (7, 12, 13)])
def test_a_line_without_extra_is_the_count_ordered_from_several_lots_too(
    egg_value: int | None, old: int, young: int, ordered: int
) -> None:
    """Where eggs are worth nothing, all of one lot was packed and a least draw of the other."""
    lots = (a_lot("OLD", eggs=old, laid_from=ago(9), laid_to=ago(9)), a_lot("YOUNG", eggs=young))
    row = a_row("A", eggs=ordered, overpack="none")
    line = line_of(plan_of(a_week(row, lots=lots, settings={"plan": {"egg_value": egg_value}})))
    assert len(line.draws) == 2
    assert line.pack == sum(draw.pack for draw in line.draws) == ordered


def test_a_line_without_extra_that_least_draws_go_beyond_does_not_go() -> None:
    plan = plan_of(
        a_week(a_row("A", eggs=9, overpack="none"), lots=(a_lot("G1", eggs=8), a_lot("G2", eggs=8)))
    )
    assert not plan.parcels
    assert [reason.code for reason in plan.lines_out[0].reasons] == ["short"]


def test_a_line_without_extra_is_not_shared_where_one_lot_has_all_of_it() -> None:
    """It falls short as often either way; a second tube only costs more."""
    lots = (a_lot("OLD", eggs=40, laid_from=ago(9), laid_to=ago(9)), a_lot("YOUNG", eggs=40))
    line = line_of(plan_of(a_week(a_row("A", eggs=20, overpack="none"), lots=lots)))
    assert [draw.pack for draw in line.draws] == [20]


def test_of_several_lots_only_those_without_eyes_are_named_as_unseen() -> None:
    lots = (a_lot("SEEN", eggs=16), a_lot("UNSEEN", eggs=16, stage="laid", stage_on=ago(7)))
    line = line_of(plan_of(a_week(a_row("A", eggs=20, overpack="none"), lots=lots)))
    (reason,) = (reason for reason in line.reasons if reason.code == "look-first")
    assert {draw.lot for draw in line.draws} == {"SEEN", "UNSEEN"}
    assert reason.text.startswith("Nobody has seen eyes in lot UNSEEN yet")
    assert reason.facts["lots"] == ["UNSEEN"]
