"""What stops an option, each limit met exactly and passed by the least, in a small week."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.overpack import chance_enough
from shipping.eggs.oxygen import air_hours
from shipping.options.option import Destination, Option, Ride, held_share
from shipping.options.option_arrays import tables_for
from shipping.options.option_factory import OptionFactory
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.weather import Disruption, Weather
from shipping.tables.shelf import Shelf
from tests.post.a_shelf import TODAY, a_rule, a_service, a_species
from tests.week.a_week import BAG, TUBE, a_lot, a_row, a_week, ago, orders

TOMORROW = TODAY + timedelta(days=1)
#: A tube of which the hours of air are known, in which eggs that are nearly due travel for two days.
FILLED = TUBE.model_copy(
    update={"volume_ml": 15.0, "water_ml": 5.0, "hatch_ceiling": 1.0, "any_ceiling": 1.0, "hatch_held": 0.5}
)
POST = a_service(early_d=1, usual_d=1, late_d=2, live_eggs="yes")


def shelf_of(row: dict[str, Any] | None = None, packing: Packing = FILLED, **tables: Any) -> Shelf:
    filled: dict[str, Any] = {
        "lots": (a_lot(laid_from=ago(12), laid_to=ago(12), kept_at_c=25),),
        "packings": (packing,),
        "services": (POST,),
        "weather": tuple(Weather(to="*", month=month, low_c=20, high_c=24) for month in range(1, 13)),
    }
    return a_week(a_row("A", **(row or {})), **(filled | tables))


def ride_of(shelf: Shelf, days: int = 0) -> Ride:
    factory, (order,) = OptionFactory(shelf), shelf.orders
    day = TODAY + timedelta(days=days)
    leg = factory.leg(factory.services(("DK", ""))[0], factory.destination(order), day)
    return factory.ride(factory.lot_day("G1", day), shelf.packings[0], leg)


def option_of(shelf: Shelf, days: int = 0) -> Option:
    (order,) = shelf.orders
    (line,) = order.lines
    return OptionFactory(shelf).option(ride_of(shelf, days), order, line, line.eggs)


def codes(shelf: Shelf, days: int = 0) -> set[str]:
    """What stops the option; the arrays of a week let it go where nothing does."""
    option = option_of(shelf, days)
    (order,) = shelf.orders
    (line,) = order.lines
    (table,) = tables_for(OptionFactory(shelf), [(order, line.species)], (option.ride.leg.day,))
    assert (table.of(order, line, line.population).codes.item() == 0) == option.passes
    return {reason.code for reason in option.reasons}


def with_cells(**cells: Any) -> Packing:
    return FILLED.model_copy(update=cells)


def test_a_packing_bears_just_its_ceilings() -> None:
    option = option_of(shelf_of())
    share, any_egg = option.ride.h_per_egg, option.h_any
    assert 0.001 < share < any_egg < 1
    for cells, stops in (
        ({"hatch_ceiling": share}, set()),
        ({"hatch_ceiling": share * 0.999}, {"would-hatch"}),
        ({"any_ceiling": any_egg}, set()),
        ({"any_ceiling": any_egg * 0.999}, {"would-hatch"}),
    ):
        assert codes(shelf_of(packing=with_cells(**cells))) == stops


def test_of_the_eggs_due_a_packing_holds_back_its_share() -> None:
    all_of_them, half, none = (
        ride_of(shelf_of(packing=with_cells(hatch_held=held))).h_per_egg for held in (0.0, 0.5, 1.0)
    )
    assert (half, none) == (pytest.approx(all_of_them / 2), 0)


def test_all_free_eggs_may_be_packed_and_no_more_and_those_kept_back_are_not_free() -> None:
    pack = option_of(shelf_of()).pack
    lot = a_lot(laid_from=ago(12), laid_to=ago(12), kept_at_c=25)
    for eggs, keep_back, stops in (
        (pack, 0, set()),
        (pack - 1, 0, {"short"}),
        (pack + 7, 7, set()),
        (pack + 7, 8, {"short"}),
    ):
        cells = {"eggs": eggs, "keep_back": keep_back}
        assert codes(shelf_of(lots=(lot.model_copy(update=cells),))) == stops


def test_a_tube_that_is_full_is_one_and_with_an_egg_more_two() -> None:
    pack = option_of(shelf_of()).pack
    units = [option_of(shelf_of(packing=with_cells(eggs_max=most))).units for most in (pack, pack - 1)]
    assert units == [1, 2]


def test_air_lasts_until_the_95_percent_arrival_of_the_fullest_tube() -> None:
    """The rate at which the air just lasts is known once that of one rate is: hours fall as it rises."""
    packing = with_cells(eggs_max=option_of(shelf_of()).pack - 1)  # two tubes, the fuller of half of them
    option = option_of(shelf_of(packing=packing))
    each = -(-option.pack // 2)
    hours = option.ride.hours_of_air(each, 0.0)
    assert hours
    assert option.ride.hours_to_p95 == 48
    rate = option.ride.lot_day.forecast.species.o2_ug_egg_h * hours / 48
    for basis, factor, stops in (
        ("published", 0.999, set()),
        ("published", 1.001, {"no-air"}),
        ("learned", 1.001, {"no-air"}),
        ("assumed", 1.001, set()),
    ):
        fish = a_species(keep_min_c=10, keep_max_c=27, o2_basis=basis, o2_ug_egg_h=rate * factor)
        assert codes(shelf_of(packing=packing, species={"gar": fish})) == stops


def test_air_is_reckoned_at_the_warmest_that_the_parcel_feels() -> None:
    """It feels 20 to 24 degrees."""
    ride = ride_of(shelf_of())
    rate = ride.lot_day.forecast.species.o2_ug_egg_h
    assert ride.hours_of_air(9, 4.0) == air_hours(15.0, 5.0, 9, 24.0, rate, 4.0)


@pytest.mark.parametrize(("hours", "stops"), [(48.0, set()), (47.99, {"no-air"})])
def test_air_for_just_the_hours_on_the_way_will_do(
    hours: float, stops: set[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Ride, "hours_of_air", lambda *told: hours)
    fish = a_species(keep_min_c=10, keep_max_c=27, o2_basis="published")
    assert {reason.code for reason in option_of(shelf_of(species={"gar": fish})).reasons} == stops


def test_salt_in_the_water_takes_air_from_it() -> None:
    """At a rate at which the air of fresh water just lasts, that of salt water does not."""
    option = option_of(shelf_of())
    hours = option.ride.hours_of_air(option.pack, 0.0)
    assert hours
    rate = option.ride.lot_day.forecast.species.o2_ug_egg_h * hours / 48 * 0.9999
    fish = a_species(keep_min_c=10, keep_max_c=27, o2_basis="published", o2_ug_egg_h=rate)
    for salt_g_l, stops in ((0, set()), (30, {"no-air"})):
        lot = a_lot(laid_from=ago(12), laid_to=ago(12), kept_at_c=25, salt_g_l=salt_g_l)
        assert codes(shelf_of(lots=(lot,), species={"gar": fish})) == stops


@pytest.mark.parametrize(("incubation", "travels", "held"), [("damp", "moss", 1.0), ("water", "moss", 0.4)])
def test_eggs_of_annuals_sent_damp_wait_for_water_whatever_their_bag_holds_back(
    incubation: str, travels: str, held: float
) -> None:
    bag = BAG.model_copy(update={"kind": "damp bag", "media": (travels,), "hatch_held": 0.4})
    shelf = shelf_of(species={"gar": a_species(incubation=incubation)}, lots=(a_lot(medium=travels),))
    assert held_share(bag, lot_forecast(shelf, "G1")) == held


def test_as_many_eggs_are_borne_as_have_just_the_ceilings_chance_that_any_hatches() -> None:
    ride = ride_of(shelf_of())
    ceilings = [ride.risk(10).any_egg * factor for factor in (1, 0.999)]
    most = [replace(ride, packing=with_cells(any_ceiling=ceiling)).most_by_any for ceiling in ceilings]
    assert most == [10, 9]


@pytest.mark.parametrize(
    ("cells", "stops"),
    [
        ({"not_before": TODAY}, set()),
        ({"not_before": TOMORROW}, {"not-before"}),
        ({"not_after": TODAY + timedelta(days=2)}, set()),
        ({"not_after": TOMORROW}, {"not-after"}),
    ],
)
def test_an_orders_own_days_are_met_to_the_day(cells: dict[str, Any], stops: set[str]) -> None:
    assert codes(shelf_of(cells)) == stops


@pytest.mark.parametrize(("keeps_d", "stops"), [(2, set()), (1, {"past-wetting"})])
def test_damp_eggs_are_there_on_their_last_wetting_day_at_the_latest(keeps_d: int, stops: set[str]) -> None:
    """The 95 % arrival is on the second day."""
    fish = a_species(incubation="damp", ready_keeps_d=keeps_d, keep_min_c=10, keep_max_c=27)
    lot = a_lot(laid_from=ago(60), laid_to=ago(60), medium="peat", wet_from=ago(1), wet_until=TODAY)
    bag = BAG.model_copy(update={"kind": "damp bag", "media": ("peat",)})
    assert codes(shelf_of(packing=bag, lots=(lot,), species={"gar": fish})) == stops


def test_a_rule_is_asked_of_the_day_of_dispatch() -> None:
    shelf = shelf_of(rules=(a_rule(2, **{"from": TOMORROW, "until": TOMORROW}),))
    assert [codes(shelf, days) & {"no-rule"} for days in (0, 1, 2)] == [{"no-rule"}, set(), {"no-rule"}]


@pytest.mark.parametrize(("named", "arrives"), [("BY", 7), ("", 6)])
def test_a_holiday_of_the_part_that_the_order_names_is_no_day_of_delivery(named: str, arrives: int) -> None:
    """6 January is one of Bavaria, and not of all Germany nor of Denmark, where it is posted."""
    factory = OptionFactory(a_week(services=(POST.model_copy(update={"late_d": 1.0}),)))
    to = Destination("DE", "BY", calendar_part=named)
    leg = factory.leg(factory.services(("DE", ""))[0], to, date(2027, 1, 5))
    assert leg.arrivals.dates == (date(2027, 1, arrives),)


def test_two_delays_on_one_way_add_up() -> None:
    """A day's way from a Monday on is one of four days where one takes a day more, the other two."""
    delays = tuple(
        Disruption(to="DK", days=days, source="a storm", **{"from": TODAY, "until": TODAY}) for days in (1, 2)
    )
    shelf = a_week(services=(POST.model_copy(update={"late_d": 1.0}),), disruptions=delays)
    factory = OptionFactory(shelf)
    leg = factory.leg(factory.services(("DK", ""))[0], Destination("DK"), TODAY)
    assert leg.arrivals.dates == (TODAY + timedelta(days=4),)


@pytest.mark.parametrize(("asks", "stops"), [("water", set()), ("moss", {"ask-rule"})])
def test_a_rule_is_asked_of_what_the_eggs_travel_in_whatever_they_are_kept_in(
    asks: str, stops: set[str]
) -> None:
    bag = BAG.model_copy(update={"kind": "damp bag", "medium": "moss"})
    rules = (a_rule(2), a_rule(3, medium=asks, verdict="ask"))
    assert codes(shelf_of(packing=bag, rules=rules)) & {"ask-rule"} == stops


def test_what_is_not_paid_waits_for_its_money() -> None:
    assert codes(replace(shelf_of(), orders=orders(a_row("A"), has_paid_on=True))) == {"unpaid"}


@pytest.mark.parametrize("promise", [0.9, 0.95, 0.99])
def test_an_egg_fewer_would_break_the_promise_and_a_line_without_extra_is_the_count_ordered(
    promise: float,
) -> None:
    settings = {"plan": {"promise": promise}}
    option = option_of(shelf_of(settings=settings))
    ride = option.ride
    fewer = chance_enough(((option.pack - 1, ride.v, ride.packing.kappa),), ride.leg.chances, 20)
    assert fewer < promise <= option.p_enough
    assert option_of(shelf_of({"overpack": "none"}, settings=settings)).pack == 20
